package scraps

import (
	"maps"
	"math"
	"slices"
)

// The lines of a cutting mat end at the edge of what lies on it. A cloth of the
// mat's own colour, or a print with much of it, shows as a place without lines
// that is larger than any between them.

const (
	// lineSigmas is how much more of the ruling's ink a line has than what lies
	// beside it, in standard deviations.
	lineSigmas = 3.5
	lineBeside = 3 // pixels from a line's middle to what lies beside it
	lineMean   = 2 // pixels to both sides along a line that are averaged
	// mostPitch is the widest ruling that is made use of, in pixels.
	mostPitch = 60
	// gapless lines are no farther apart by the farthest of the ground than by
	// most of it, but for the little that lies bare.
	gapless = 1.1
	// bareLined is how much of the mat's usual lines lies round such a place.
	bareLined = .5
	// bareShape is how much of their hull it fills with the things that it would
	// join: offcuts and all that is simpler.
	bareShape = .75
	// manySquares is how many squares of the ruling a cloth hides where lines of
	// which pieces are lost leave gaps of one or two, or some in a row.
	manySquares = 9
	third       = 3 // a pixel, in the units of distances
)

// distances are about how far each pixel is from the nearest in m, in thirds of
// a pixel (the chamfer of 3 and 4 of G. Borgefors 1986, Computer Vision, Graphics,
// and Image Processing 34:344; from memory).
func (m *mask) distances() []int32 {
	const far = math.MaxInt32 / 2
	d := make([]int32, len(m.in))
	for i, in := range m.in {
		if !in {
			d[i] = far
		}
	}
	w := m.w
	for i := range d {
		x := i % w
		if i >= w {
			d[i] = min(d[i], d[i-w]+3)
			if x > 0 {
				d[i] = min(d[i], d[i-w-1]+4)
			}
			if x+1 < w {
				d[i] = min(d[i], d[i-w+1]+4)
			}
		}
		if x > 0 {
			d[i] = min(d[i], d[i-1]+3)
		}
	}
	for i := len(d) - 1; i >= 0; i-- {
		x := i % w
		if i+w < len(d) {
			d[i] = min(d[i], d[i+w]+3)
			if x > 0 {
				d[i] = min(d[i], d[i+w-1]+4)
			}
			if x+1 < w {
				d[i] = min(d[i], d[i+w+1]+4)
			}
		}
		if x+1 < w {
			d[i] = min(d[i], d[i+1]+3)
		}
	}
	return d
}

// lines are the pixels of the ruling, also where its lines are so faint that no
// pixel of them tells by itself: they have more of the ink than what lies to both
// sides of them.
func (s *search) lines(things *mask) *mask {
	const reach = lineBeside + lineMean
	share := make([]float32, s.w*s.h)
	for i := range share {
		if !things.in[i] {
			share[i] = float32(min(max(s.ink.share(s.dl[i], s.da[i], s.db[i]), -.5), 1.5))
		}
	}
	// The sums along a line that leads down, and along one that leads across.
	down, across := make([]float32, len(share)), make([]float32, len(share))
	inBands(s.w, s.h, func(y int) {
		if y < lineMean || y+lineMean >= s.h {
			return
		}
		for i := y*s.w + lineMean; i < (y+1)*s.w-lineMean; i++ {
			for k := -lineMean; k <= lineMean; k++ {
				down[i] += share[i+k*s.w]
				across[i] += share[i+k]
			}
		}
	})
	// more is how much more of the ink than what lies to both sides there is along
	// a line, whose sums are given.
	more := func(sums []float32, i, side int) float32 {
		return sums[i] - max(sums[i-lineBeside*side], sums[i+lineBeside*side])
	}
	out := newMask(s.w, s.h)
	most := make([]float32, s.w*s.h)
	inBands(s.w, s.h, func(y int) {
		if y < reach || y+reach >= s.h {
			return
		}
		for i := y*s.w + reach; i < (y+1)*s.w-reach; i++ {
			if !things.in[i] {
				most[i] = max(more(down, i, 1), more(across, i, s.w))
			}
		}
	})
	var noise []float64
	for i := reach * s.w; i < (s.h-reach)*s.w; i += 7 {
		if x := i % s.w; x >= reach && x+reach < s.w && !things.in[i] {
			noise = append(noise, math.Abs(float64(more(down, i, 1)))) // of either sign
		}
	}
	if len(noise) == 0 {
		return out
	}
	// Many may lie on lines: a fourth of a normal distribution lies within .319
	// of its standard deviation.
	limit := float32(lineSigmas * quantile(noise, .25) / .319)
	for i, v := range most {
		out.in[i] = v > limit && !things.in[i]
	}
	s.clean(out, 2*lineMean+1)
	return out
}

// pitch is about how far apart the lines are, in pixels, from how far the pixels
// outside hidden are from them; 0 where they are too few. regular: there are no
// gaps among them. Of a square between lines, four fifths lie within .276 of its
// side from one, and nineteen twentieths within .388.
func pitch(from []int32, hidden *mask) (p float64, regular bool) {
	var near []float64
	for i := 0; i < len(from); i += 5 {
		if !hidden.in[i] {
			near = append(near, float64(from[i])/third)
		}
	}
	if len(near) == 0 {
		return 0, false
	}
	if p = quantile(near, .8) / .276; p < 2*lineBeside || p > mostPitch {
		return 0, false
	}
	return p, quantile(near, .95)/.388 <= gapless*p
}

// bare finds what hides the lines of a ruled ground, and paints it into things.
// It tells whether there was any.
func (s *search) bare(things *mask) bool {
	if s.ink == nil || !s.runs() {
		return false
	}
	b := s.newMatLines(s.lines(things), things)
	found := b.hiding()
	for _, f := range found {
		s.paintBare(things, f.m, f.x0, f.y0, b.parts, b.label)
	}
	return len(found) > 0
}

// matLines are the lines that were found on a ruled ground.
type matLines struct {
	*search
	lines  *mask
	things *mask
	hidden *mask // where no line can be seen
	parts  []part
	label  []int32 // numbers the parts of things
}

func (s *search) newMatLines(lines, things *mask) *matLines {
	b := &matLines{search: s, lines: lines, things: things, hidden: newMask(s.w, s.h)}
	b.parts, b.label = things.parts(s.least)
	for i, in := range things.in {
		b.hidden.in[i] = in || s.known(i)
	}
	return b
}

// hiding is a place that hides lines; the first pixel of m lies at (x0, y0).
type hiding struct {
	m      *mask
	x0, y0 int
}

// hiding are the places that hide lines; none where the lines have gaps of
// themselves.
func (b *matLines) hiding() []hiding {
	from := b.lines.distances()
	p, regular := pitch(from, b.hidden)
	if p == 0 {
		return nil
	}
	if !regular {
		// A large cloth of the mat's colour is a gap itself: without what hides
		// many squares and has a scrap's shape, there are none.
		for _, f := range b.places(p) {
			if n := f.m.count(); n < manySquares*p*p || n < bareShape*f.m.hull() {
				continue
			}
			f.m.bits().grown(lineBeside).each(func(x, y int) {
				if x, y = x+f.x0, y+f.y0; x >= 0 && y >= 0 && x < b.w && y < b.h {
					b.hidden.in[y*b.w+x] = true
				}
			})
		}
		if p, regular = pitch(from, b.hidden); !regular {
			return nil
		}
	}
	return b.places(p)
}

// places are where lines pitch apart should be and are not, with the usual lines
// round them.
func (b *matLines) places(pitch float64) (found []hiding) {
	s := b.search
	// A disc of so many pixels fits into no square; it may hold small parts of
	// a print, but no other piece.
	disc := int32(third * (pitch/2 + max(1.5, .1*pitch)))
	taken := newMask(s.w, s.h)
	for i, l := range b.label {
		taken.in[i] = b.lines.in[i] || s.known(i) || l > 0 && float64(len(b.parts[l-1].px)) > pitch*pitch
	}
	free := newMask(s.w, s.h)
	none := true
	for i, d := range taken.distances() {
		free.in[i] = d > disc
		none = none && d <= disc
	}
	if none {
		return nil
	}
	beside := b.things.grown(1)
	m := newMask(s.w, s.h)
	for i, d := range free.distances() {
		m.in[i] = d <= disc && !beside.in[i]
	}
	s.cleanKnown(m)
	usual, all := 0, 0
	for i, in := range b.lines.in {
		if !b.things.in[i] && !m.in[i] && !s.known(i) {
			all++
			if in {
				usual++
			}
		}
	}
	ps, number := m.parts(int(pitch * pitch))
	for k := range ps {
		p := &ps[k]
		if p.x0 <= 1 || p.y0 <= 1 || p.x1 >= s.w-1 || p.y1 >= s.h-1 {
			continue
		}
		f, x0, y0 := p.fill(s.w, int(pitch)+2)
		on, ring := 0, 0
		f.bits().ring(3, int(pitch)+1).each(func(x, y int) {
			x, y = x+x0, y+y0
			if x < 0 || y < 0 || x >= s.w || y >= s.h {
				return
			}
			if i := y*s.w + x; !beside.in[i] && number[i] == 0 && !s.known(i) {
				ring++
				if b.lines.in[i] {
					on++
				}
			}
		})
		if ring > 0 && float64(on)*float64(all) >= bareLined*float64(usual)*float64(ring) {
			found = append(found, hiding{f, x0, y0})
		}
	}
	return found
}

// paintBare adds f, whose first pixel is at (x0, y0), to things, together with
// the seams between it and those of the parts beside it that make one figure of
// a scrap's shape with it.
func (s *search) paintBare(things, f *mask, x0, y0 int, parts []part, label []int32) {
	const seam = 3 // pixels
	near := f.grown(seam)
	met := map[int32]bool{}
	for i, in := range near.in {
		if x, y := i%f.w+x0, i/f.w+y0; in && x >= 0 && y >= 0 && x < s.w && y < s.h {
			if l := label[y*s.w+x]; l > 0 {
				met[l] = true
			}
		}
	}
	joint := part{x0: s.w, y0: s.h}
	for i, in := range f.in {
		if x, y := i%f.w+x0, i/f.w+y0; in {
			joint.px = append(joint.px, int32(y*s.w+x))
			joint.x0, joint.y0, joint.x1, joint.y1 = min(joint.x0, x), min(joint.y0, y), max(joint.x1, x+1), max(joint.y1, y+1)
		}
	}
	own := joint
	for _, l := range slices.Sorted(maps.Keys(met)) {
		both := joined(&joint, &parts[l-1])
		m, _, _ := both.fill(s.w, seam+1)
		if m = m.closed(seam); m.count() > bareShape*m.hull() {
			joint = both
		}
	}
	s.paint(things, f, x0, y0)
	if len(joint.px) == len(own.px) {
		return
	}
	m, x1, y1 := joint.fill(s.w, seam+1)
	for i, in := range m.closed(seam).in {
		x, y := i%m.w+x1, i/m.w+y1
		if u, v := x-x0, y-y0; in && u >= 0 && v >= 0 && u < f.w && v < f.h && near.in[v*f.w+u] && x >= 0 && y >= 0 && x < s.w && y < s.h {
			things.in[y*s.w+x] = true
		}
	}
}
