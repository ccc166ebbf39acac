package scraps

import (
	"math"

	"greige/analyze/photo"
)

// Sizes in shares of the photo: a scrap smaller than leastArea, or thinner
// than a pixel or two of the small picture, is not worth a number.
const (
	leastArea = .00003
	// A contact shadow reaches this far, as a share of the longer side.
	shadowReach = .013
)

// search finds the parts of the small picture that are no ground.
type search struct {
	*stand
	class []uint8
	rung  []uint8 // class, where strong colours may ring into the ground; nil where they do not
	ink   *ruling // of the lines on the ground; nil where it is not ruled
	gone  *mask   // known to be no cloth, with what lies beside it; nil when nothing is
	reach int     // of contact shadows, in pixels
	least int     // pixels of a piece

	shadesOf shadesOf   // as they were told last
	label    []int32    // what unlabelled gives
	fronts   [2][]int32 // room for the pixels from which neighbours looks on
}

// unlabelled is a 0 for each pixel, to number parts in, until the next call.
func (s *search) unlabelled() []int32 {
	if s.label == nil {
		s.label = make([]int32, s.w*s.h)
	} else {
		clear(s.label)
	}
	return s.label
}

func newSearch(sm *small, c *cells, g *ground) *search {
	o := sm.stand(c, g)
	s := &search{
		stand: o,
		class: o.classify(c, g, nil),
		reach: max(2, int(shadowReach*float64(max(o.w, o.h))+.5)),
		least: max(12, int(leastArea*float64(o.w*o.h))),
	}
	s.ink = s.findRuling()
	if o.blocks.side > 0 {
		s.rung = o.classify(c, g, s.class)
		// Between broad lines that ring, too little plain ground may be left to
		// tell a ruling.
		if s.ink == nil {
			raw := s.class
			s.class = s.rung
			if s.ink = s.findRuling(); s.ink == nil || !s.runs() {
				s.class, s.ink = raw, nil
			}
		}
	}
	if sm.gone != nil {
		gone := &mask{sm.w, sm.h, sm.gone}
		s.gone = gone.grown(2 * s.reach)
	}
	return s
}

// known to be no cloth, or beside such a thing.
func (s *search) known(i int) bool { return s.gone != nil && s.gone.in[i] }

// things is the mask of all that lies on the ground, without its shadows.
func (s *search) things() *mask {
	differ := newMask(s.w, s.h)
	for i, c := range s.class {
		differ.in[i] = c == other
	}
	// Lines of a mat, threads and single pixels are too thin.
	s.unruled(differ)
	s.unring(differ)
	sure := differ.closed(1).crossed()
	s.clean(sure, 9)
	for range 2 { // but a piece may end in a point
		s.extend(sure, differ)
	}
	// What is as dark as a shadow may be one; but contact shadows are either
	// slight or narrow.
	dim := newMask(s.w, s.h)
	grain := float32(shadedSigmas * s.sd[0])
	for i, c := range s.class {
		dim.in[i] = c == shaded && s.dl[i] < -max(slight*s.gl[i], grain) || differ.in[i]
	}
	dim = dim.closed(1).opened(2)
	for i := range dim.in {
		dim.in[i] = dim.in[i] && !sure.in[i]
	}
	things, label := sure.parts(1)
	usual := s.shades(things, label)
	ps := dim.list(12)
	solid := make([]bool, len(ps))
	photo.Bands(len(ps), 1, func(k0, k1 int) {
		for k := k0; k < k1; k++ {
			solid[k] = s.solid(&ps[k], things, label, usual)
		}
	})
	for k, p := range ps {
		if solid[k] {
			level := s.edgeLevel(&p, label)
			for _, i := range p.px {
				sure.in[i] = level == 0 || differ.in[i] || -s.dl[i] >= level
			}
		}
	}
	s.cleanKnown(sure)
	return sure
}

// edgeLevel is the least depth, in L*, whose level line in and round a part is
// an edge, and no line that a fading shadow has as well; 0 where there is none.
func (s *search) edgeLevel(p *part, label []int32) float32 {
	const (
		most  = 40 // L*
		few   = 12 // pixels
		clear = .4 // of its depth, a pixel: steeper than any shadow fades
	)
	if s.sd[0] > hides || s.neighboured(p, label) < 2 {
		return 0
	}
	var steps [most][]float64
	for _, i := range p.px {
		x, y := int(i)%s.w, int(i)/s.w
		if x < 2 || y < 2 || x >= s.w-2 || y >= s.h-2 || s.beside(label, x, y) > 0 {
			continue
		}
		for _, j := range [4]int{int(i) - 1, int(i) + 1, int(i) - s.w, int(i) + s.w} {
			lo, hi := -s.dl[j], -s.dl[i]
			if lo >= hi || s.beside(label, j%s.w, j/s.w) > 0 {
				continue
			}
			step := math.Max(s.slope(int(i)), s.slope(j))
			for t := max(int(lo)+1, 1); t <= min(int(hi), most-1); t++ {
				steps[t] = append(steps[t], step)
			}
		}
	}
	steepness := func(t int) float64 {
		if len(steps[t]) < few {
			return 0
		}
		return quantile(steps[t], .35)
	}
	before := 0.0
	for t := int(slight*float64(s.gl[p.px[0]])) + 1; t < most; t++ {
		now := steepness(t)
		switch {
		case now > clear*float64(t):
			return float32(t)
		case now < before && before > edgeSteep/2*float64(t-1):
			return float32(t - 1)
		}
		before = now
	}
	return 0
}

// neighboured is how many of the parts that label numbers lie beside p.
func (s *search) neighboured(p *part, label []int32) int {
	met := map[int32]bool{}
	for _, i := range s.rim(p) {
		if n := s.beside(label, int(i)%s.w, int(i)/s.w); n > 0 {
			met[n] = true
		}
	}
	return len(met)
}

// slope is the change of L*, a pixel, at pixel i, which is not on the border.
func (s *search) slope(i int) float64 {
	return math.Sqrt(float64(sq32(s.dl[i+1]-s.dl[i-1])+sq32(s.dl[i+s.w]-s.dl[i-s.w]))) / 2
}

// edgeless: a part has the ground's colour in slightly more light or less, and
// no edge, as cloth has: most of the way round it changes as slowly as a shadow
// fades.
func (s *search) edgeless(p *part) bool {
	const border = 3 // the photo's border is no edge
	var l, a, b float32
	for _, i := range p.px {
		l, a, b = l+s.dl[i], a+s.da[i], b+s.db[i]
	}
	n := float32(len(p.px))
	l, a, b = l/n, a/n, b/n
	if max(l, -l) > 2*slight*s.gl[p.px[0]] || classOf(0, a, b, s.gl[p.px[0]], &s.sd) == other {
		return false
	}
	var steep []float64
	for _, i := range s.rim(p) {
		x, y := int(i)%s.w, int(i)/s.w
		if x < border || y < border || x >= s.w-border || y >= s.h-border {
			continue
		}
		most := 0.0
		for yy := y - 1; yy <= y+1; yy++ {
			for xx := x - 1; xx <= x+1; xx++ {
				most = max(most, s.slope(yy*s.w+xx))
			}
		}
		steep = append(steep, most)
	}
	return len(steep) >= 12 && quantile(steep, .5) < edgeSteep*math.Abs(float64(l))
}

// edgeSteep is how much of its depth a thing gains within a pixel at its edge,
// at least; a shadow fades more slowly.
const edgeSteep = .27

// mostRising is the correlation of a shadow's depth with the distance from
// what casts it: at most this.
const mostRising = -.5

// crossed is m without what a cross of five pixels does not fit into. A strip
// that lies aslant is not cut by it for being narrower across than a square's
// diagonal.
func (m *mask) crossed() *mask { return m.beside(false).beside(true) }

// beside is m with every pixel set to value that has one of it beside it,
// across or down.
func (m *mask) beside(value bool) *mask {
	out := newMask(m.w, m.h)
	inBands(m.w, m.h, func(y int) {
		row, dst := m.in[y*m.w:(y+1)*m.w], out.in[y*m.w:(y+1)*m.w]
		up, down := row, row
		if y > 0 {
			up = m.in[(y-1)*m.w : y*m.w]
		}
		if y+1 < m.h {
			down = m.in[(y+1)*m.w : (y+2)*m.w]
		}
		for x, in := range row {
			if row[max(x-1, 0)] == value || row[min(x+1, m.w-1)] == value || up[x] == value || down[x] == value {
				in = value
			}
			dst[x] = in
		}
	})
	return out
}

// extend adds to m the pixels of differ beside it, but for those that would
// join two parts.
func (s *search) extend(m, differ *mask) {
	label := s.unlabelled()
	m.number(1, label)
	m.bits().ring(1, 1).each(func(x, y int) {
		i := y*s.w + x
		if !differ.in[i] || x == 0 || y == 0 || x+1 == s.w || y+1 == s.h {
			return
		}
		one, two := int32(0), false
		for _, j := range [8]int{i - s.w - 1, i - s.w, i - s.w + 1, i - 1, i + 1, i + s.w - 1, i + s.w, i + s.w + 1} {
			if l := label[j]; l > 0 {
				two = two || one > 0 && l != one
				one = l
			}
		}
		if one > 0 && !two {
			m.in[i] = true
		}
	})
}

// usualTimes is how much deeper than the usual shadow of a thing's edge one can be
// where two things' shadows meet.
const usualTimes = 5

// slight is how deep a contact shadow can be, as a share of L*+16, that is
// not narrow.
const slight = .05

// clean takes parts of fewer than least pixels out of m.
func (s *search) clean(m *mask, least int) {
	runs := m.sized()
	for _, r := range runs {
		if int(runs[r.root].pixels) < least {
			clear(m.in[r.x0:r.x1])
		}
	}
}

// cleanKnown takes out of m the parts that are known to be no cloth.
func (s *search) cleanKnown(m *mask) {
	if s.gone == nil {
		return
	}
	ps := m.list(1)
	for _, p := range ps {
		n := 0
		for _, i := range p.px {
			if s.known(int(i)) {
				n++
			}
		}
		if 10*n > 9*len(p.px) {
			for _, i := range p.px {
				m.in[i] = false
			}
		}
	}
}

// solid tells a thing of the ground's colour, but darker, from a shadow that
// lies on the ground. label numbers the sure things (from 1). Where the part borders
// on open ground, a shadow fades and a thing has an edge. Where it lies
// between sure things, it may be the shadow that two pieces cast into the gap
// between them, which is no wider than shadows reach; the ground of a print is
// wider and the same all over.
// usual is the usual depth of the shadow at the edges of things.
func (s *search) solid(p *part, things []part, label []int32, usual float64) bool {
	depth := make([]float64, 0, len(p.px))
	var off []float64 // of it, away from things
	for _, i := range p.px {
		if s.beside(label, int(i)%s.w, int(i)/s.w) == 0 {
			off = append(off, float64(-s.dl[i]))
		}
	}
	if len(off) >= 12 && quantile(off, .5) > max(usualTimes*usual, 2*slight*float64(s.gl[p.px[0]])) {
		return true
	}
	for _, i := range p.px {
		depth = append(depth, float64(-s.dl[i]))
	}
	mid := quantile(depth, .5)
	var steep []float64
	outline := s.rim(p)
	first, others, largest, all := int32(0), 0, 0, 0
	met := map[int32]bool{}
	for _, i := range outline {
		x, y := int(i)%s.w, int(i)/s.w
		n := s.beside(label, x, y)
		if n > 0 {
			largest = max(largest, len(things[n-1].px))
			if !met[n] {
				met[n] = true
				all += len(things[n-1].px)
			}
		}
		switch {
		case n == 0:
			if d := s.steepest(label, x, y); d >= 0 {
				steep = append(steep, d)
			}
		case first == 0:
			first = n
		case n != first:
			others++
		}
	}
	wide := !s.thin(p)
	switch {
	case wide && mid > 2*slight*float64(s.gl[p.px[0]]): // too deep to be so wide
		return true
	case (len(p.px) < largest || 2*len(p.px) < all) && (10*others >= len(outline) && !wide || s.fading(p, label)): // figures cover less than what they are printed on
		return false
	case len(steep) >= 12 || 4*len(steep) > len(outline):
		return quantile(steep, .35) > edgeSteep*mid
	case 10*others < len(outline): // in a hole or a bay of one thing
		return true
	}
	return wide && quantile(depth, .8)-quantile(depth, .2) < .3*mid
}

// rim are the pixels of a part that have one outside it beside them.
func (s *search) rim(p *part) (px []int32) {
	m, x0, y0 := p.in(s.w, 1)
	for _, i := range p.px {
		k := (int(i)/s.w-y0)*m.w + int(i)%s.w - x0
		if !m.in[k-1] || !m.in[k+1] || !m.in[k-m.w] || !m.in[k+m.w] {
			px = append(px, i)
		}
	}
	return px
}

// thin: shadows reach all over the part from both its sides.
func (s *search) thin(p *part) bool {
	m, _, _ := p.in(s.w, 1)
	return m.bits().shrunk(s.reach).count() == 0
}

// fading: the part lies round sure things, within the reach of their shadows,
// and gets lighter away from them.
func (s *search) fading(p *part, label []int32) bool {
	m, x0, y0 := p.fill(s.w, s.reach)
	things := newMask(m.w, m.h)
	for i := range things.in {
		x, y := i%m.w+x0, i/m.w+y0
		things.in[i] = x >= 0 && y >= 0 && x < s.w && y < s.h && label[y*s.w+x] > 0
	}
	const mixed = 1 // pixels beside a thing that its own colour rubs off on
	var n, sum, square, depth, depths, both float64
	part, _, _ := p.in(s.w, s.reach)
	in, seen := part.bits(), things.bits().grown(mixed)
	for d := mixed + 1; d <= s.reach; d++ {
		fringe := seen.ring(1, 1)
		fringe.each(func(px, py int) {
			if !in.has(px, py) {
				return
			}
			x, y := float64(d), float64(-s.dl[(py+y0)*s.w+px+x0])
			n++
			sum += x
			square += x * x
			depth += y
			depths += y * y
			both += x * y
		})
		seen.add(fringe)
	}
	if n < 12 || n < .3*float64(len(p.px)) {
		return false
	}
	across, down := square-sum*sum/n, depths-depth*depth/n
	return across > 0 && down > 0 && (both-sum*depth/n)/math.Sqrt(across*down) < mostRising
}

// steepest is the steepest change of L*, a pixel, within six pixels of
// (x, y), the edges of the things that label numbers left out; below 0 where
// nothing else is near.
func (s *search) steepest(label []int32, x, y int) float64 {
	most := float32(-1)
	for yy := max(y-6, 2); yy <= min(y+6, s.h-3); yy++ {
		for xx := max(x-6, 2); xx <= min(x+6, s.w-3); xx++ {
			i := yy*s.w + xx
			if label[i]|label[i-1]|label[i+1]|label[i-2]|label[i+2]|label[i-s.w]|label[i+s.w]|label[i-2*s.w]|label[i+2*s.w] == 0 {
				most = max(most, sq32(s.dl[i+1]-s.dl[i-1])+sq32(s.dl[i+s.w]-s.dl[i-s.w]))
			}
		}
	}
	if most < 0 {
		return -1
	}
	return math.Sqrt(float64(most)) / 2
}

// beside is the label of a pixel within two of (x, y); 0 where there is none.
func (s *search) beside(label []int32, x, y int) int32 {
	for yy := max(y-2, 0); yy <= min(y+2, s.h-1); yy++ {
		for xx := max(x-2, 0); xx <= min(x+2, s.w-1); xx++ {
			if l := label[yy*s.w+xx]; l != 0 {
				return l
			}
		}
	}
	return 0
}
