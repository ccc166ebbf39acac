package scraps

import (
	"bytes"
	"cmp"
	"math"
	"slices"

	"greige/analyze/photo"
)

// A print with parts of the ground's colour falls into fragments in the small
// picture, and a piece of it has bites out of its edge. What belongs together
// is told from two pieces that lie close by what lies between: at the edge of
// a piece the ground is in its shadow, within a cloth there is none.

const (
	// narrowGap is a gap, as a share of the longer side, that is narrower than
	// pieces laid apart leave: a stripe of the ground's colour, as the
	// ground or as the ground in a shadow, and no table.
	narrowGap = .0054
	// narrowRun of the side of a square as large as the smaller of two
	// fragments lies along such a gap. Two pieces whose corners nearly touch
	// come so near in a place only.
	narrowRun = .3
	// darkGap is the narrowest gap, in pixels, that has a middle where no colour
	// of what lies beside it rubs off, and deepShare how much of the open ground is
	// lighter than the deepest shadows.
	darkGap   = 6
	deepShare = .95
	// mergeGap is the widest gap between two fragments of one piece, as a
	// share of the longer side.
	mergeGap = .03
	// biteDepth is how far bites and gaps are closed over, in pixels.
	biteDepth = 4
	// unshaded is how much of the usual shadow there may be between the
	// fragments of a piece.
	unshaded = .4
	// leastShade is the usual shadow at the edges of the pieces, in L*, from
	// which on anything can be told by it.
	leastShade = 1.2
	// A gap is narrow beside what it divides: at most this share of the side
	// of a square as large as the smaller fragment.
	gapShare = .5
	// Together the fragments have the shape of a piece: so much of their
	// convex hull.
	wholeShape = .7
	// alikeShare of the smaller fragment's pixels have a colour that the
	// larger one has too, to within alikeColour.
	alikeShare  = .6
	alikeColour = 8
)

// shades is the usual depth of the shadow, in L* (0 and up), on the ground
// just outside the parts: so deep a shadow at least has half of all that they
// cover. The fragments of one print are many, but small.
func (s *search) shades(ps []part, label []int32) float64 {
	now := make([]byte, len(label))
	for i, l := range label {
		now[i] = byte(bit(l > 0))
	}
	shades := make([]shade, len(ps))
	photo.Bands(len(ps), 1, func(k0, k1 int) {
		for k := k0; k < k1; k++ {
			d, known := s.shadesOf.of[ps[k].px[0]]
			if !known || d.pixels != len(ps[k].px) || !s.sameAround(&ps[k], s.shadesOf.in, now) {
				d.l, d.told = s.shadeOf(&ps[k], label)
				d.pixels = len(ps[k].px)
			}
			shades[k] = d
		}
	})
	s.shadesOf = shadesOf{now, make(map[int32]shade, len(ps))}
	for k, d := range shades {
		s.shadesOf.of[ps[k].px[0]] = d
	}
	shades = slices.DeleteFunc(shades, func(d shade) bool { return !d.told })
	slices.SortFunc(shades, func(a, b shade) int { return cmp.Compare(a.l, b.l) })
	all, sum := 0, 0
	for _, d := range shades {
		all += d.pixels
	}
	for _, d := range shades {
		if sum += d.pixels; 2*sum >= all {
			return max(-d.l, 0)
		}
	}
	return 0
}

// shade is the depth of a part's shadow.
type shade struct {
	l      float64 // L*, below 0 is darker
	pixels int     // of the part
	told   bool
}

// shadesOf are the shadows of parts by their first pixels, and all that lay on
// the ground then. Most parts are the same when they are asked about again.
type shadesOf struct {
	in []byte // 1 where something lay
	of map[int32]shade
}

// shadeReach is how far from a part the ground counts for the depth of its
// shadow.
const shadeReach = 10

// sameAround tells whether nothing has changed in and round a part as far as
// its shadow's depth goes by.
func (s *search) sameAround(p *part, before, now []byte) bool {
	x0, x1 := max(p.x0-shadeReach, 0), min(p.x1+shadeReach, s.w)
	for y := max(p.y0-shadeReach, 0); y < min(p.y1+shadeReach, s.h); y++ {
		if !bytes.Equal(before[y*s.w+x0:y*s.w+x1], now[y*s.w+x0:y*s.w+x1]) {
			return false
		}
	}
	return true
}

// shadeOf is how much darker the ground is two and three pixels from a part
// than eight to ten pixels from it, in L*; below 0 is darker.
func (s *search) shadeOf(p *part, label []int32) (float64, bool) {
	m, x0, y0 := p.fill(s.w, shadeReach+1)
	in := m.bits()
	near, far := thinned(s.ring(in, x0, y0, label, 2, 3)), thinned(s.ring(in, x0, y0, label, 8, shadeReach))
	if len(near) < 8 || len(far) < 8 {
		return 0, false
	}
	return median(near) - median(far), true
}

// thinned are some two hundred of v, from all over it; their median is that of
// all as nearly as it is asked for.
func thinned(v []float64) []float64 {
	const enough = 200
	if len(v) < 2*enough {
		return v
	}
	step := len(v) / enough
	n := 0
	for i := 0; i < len(v); i += step {
		v[n] = v[i]
		n++
	}
	return v[:n]
}

// ring is how the pixels from..to steps outside of m, whose first pixel is at
// (x0, y0), stand off the ground in L*, other parts and what touches them
// left out.
func (s *search) ring(m *bitmap, x0, y0 int, label []int32, from, to int) []float64 {
	return s.ringBut(m, newBitmap(m.w, m.h), x0, y0, label, from, to)
}

// ringBut is ring without the pixels of but, which lies as m does.
func (s *search) ringBut(m, but *bitmap, x0, y0 int, label []int32, from, to int) []float64 {
	ring := m.ring(from, to)
	ring.remove(but)
	dl := make([]float64, 0, ring.count())
	s.eachOpen(ring, x0, y0, label, func(i int) { dl = append(dl, float64(s.dl[i])) })
	return dl
}

// eachOpen does the pixels of m, whose first lies at (x0, y0), that are open
// ground: other parts, which label numbers, and what touches them left out.
func (s *search) eachOpen(m *bitmap, x0, y0 int, label []int32, do func(i int)) {
	m.each(func(x, y int) {
		x, y = x+x0, y+y0
		if x < 0 || y < 0 || x >= s.w || y >= s.h {
			return
		}
		if i := y*s.w + x; label[i] == 0 && s.class[i] != other {
			do(i)
		}
	})
}

// merge joins the fragments of one print and fills the bites out of its edge.
// It returns the parts anew.
func (s *search) merge(things *mask, ps []part, label []int32) ([]part, []int32) {
	ps, label = s.mergeNarrow(things, ps, label)
	shade := s.shades(ps, label)
	if shade < leastShade {
		return ps, label
	}
	changed := false
	for k := range ps {
		r := min(biteDepth, max(1, int(math.Sqrt(float64(len(ps[k].px)))/4)))
		m, x0, y0 := ps[k].fill(s.w, r+1)
		changed = s.close(things, m, x0, y0, r, shade) || changed
	}
	inks := make([][]ink, len(ps))
	for k := range ps {
		inks[k] = s.inksOf(&ps[k])
	}
	u := newUnion(len(ps))
	most := int(mergeGap*float64(max(s.w, s.h)) + .5)
	deep := shadows{search: s, things: things, most: most}
	for _, n := range s.neighbours(ps, label, most) {
		a, b := n.a, n.b
		if float64(n.gap) > 2+gapShare*math.Sqrt(float64(min(len(ps[a].px), len(ps[b].px)))) || alike(inks[a], inks[b]) < alikeShare {
			continue
		}
		if p, q := u.find(int32(a)), u.find(int32(b)); p != q && (s.bridged(&ps[a], &ps[b], n.gap, shade) || deep.tooDark(&ps[a], &ps[b], n)) {
			u.join(p, q)
		}
	}
	members := map[int32][]int{}
	for k := range ps {
		r := u.find(int32(k))
		members[r] = append(members[r], k)
	}
	for k := range ps {
		if list := members[int32(k)]; len(list) > 1 {
			changed = true
			all := part{x0: s.w, y0: s.h}
			for _, j := range list {
				all.px = append(all.px, ps[j].px...)
				all.x0, all.y0 = min(all.x0, ps[j].x0), min(all.y0, ps[j].y0)
				all.x1, all.y1 = max(all.x1, ps[j].x1), max(all.y1, ps[j].y1)
			}
			r := int(mergeGap*float64(max(s.w, s.h)))/2 + 2
			m, x0, y0 := all.fill(s.w, r+1)
			m = m.closed(r)
			if m.count() > wholeShape*m.hull() {
				for _, j := range list {
					s.keepHoles(m, x0, y0, &ps[j])
				}
				s.paint(things, m, x0, y0)
			}
		}
	}
	if !changed {
		return ps, label
	}
	return things.parts(s.least)
}

// mergeNarrow joins fragments of like colours along gaps that are too narrow
// for a gap between two pieces. It returns the parts anew.
func (s *search) mergeNarrow(things *mask, ps []part, label []int32) ([]part, []int32) {
	most := int(narrowGap * float64(max(s.w, s.h)))
	changed := false
	for _, n := range s.neighbours(ps, label, most) {
		a, b := &ps[n.a], &ps[n.b]
		if float64(n.run) < narrowRun*math.Sqrt(float64(min(len(a.px), len(b.px)))) || alike(s.inksOf(a), s.inksOf(b)) < alikeShare {
			continue
		}
		both := joined(a, b)
		r := n.gap/2 + 1
		m, x0, y0 := both.fill(s.w, r+1)
		m = m.closed(r)
		s.keepHoles(m, x0, y0, a)
		s.keepHoles(m, x0, y0, b)
		s.paint(things, m, x0, y0)
		changed = true
	}
	if !changed {
		return ps, label
	}
	return things.parts(s.least)
}

// keepHoles takes the holes of a part out of m, whose first pixel is at
// (x0, y0): one looks through the handles of scissors as before.
func (s *search) keepHoles(m *mask, x0, y0 int, p *part) {
	filled, u, v := p.fill(s.w, 1)
	own, _, _ := p.in(s.w, 1)
	for i, in := range filled.in {
		if in && !own.in[i] {
			m.in[(i/filled.w+v-y0)*m.w+i%filled.w+u-x0] = false
		}
	}
}

// joined is two parts as one.
func joined(a, b *part) part {
	return part{
		x0: min(a.x0, b.x0), y0: min(a.y0, b.y0), x1: max(a.x1, b.x1), y1: max(a.y1, b.y1),
		px: append(a.px[:len(a.px):len(a.px)], b.px...),
	}
}

// close paints the bites out of m that are not in the shadow of its edge.
func (s *search) close(things *mask, m *mask, x0, y0, r int, shade float64) bool {
	closed := m.closed(r)
	for i, in := range m.in {
		closed.in[i] = closed.in[i] && !in
	}
	bites := closed.list(4)
	painted := false
	for _, b := range bites {
		var dl []float64
		for _, i := range b.px {
			if x, y := int(i)%m.w+x0, int(i)/m.w+y0; x >= 0 && y >= 0 && x < s.w && y < s.h {
				if j := y*s.w + x; s.class[j] != other {
					dl = append(dl, float64(s.dl[j]))
				}
			}
		}
		if s.lit(dl, shade) {
			for _, i := range b.px {
				if x, y := int(i)%m.w+x0, int(i)/m.w+y0; x >= 0 && y >= 0 && x < s.w && y < s.h {
					things.in[y*s.w+x] = true
					painted = true
				}
			}
		}
	}
	return painted
}

// paint adds m, whose first pixel is at (x0, y0), to things.
func (s *search) paint(things, m *mask, x0, y0 int) {
	for i, in := range m.in {
		if x, y := i%m.w+x0, i/m.w+y0; in && x >= 0 && y >= 0 && x < s.w && y < s.h {
			things.in[y*s.w+x] = true
		}
	}
}

// bridged: what lies between two parts is ground colour without a shadow by
// either. The lamp's side of a piece has hardly any, but its other side has.
func (s *search) bridged(a, b *part, gap int, shade float64) bool {
	both := joined(a, b)
	r := gap/2 + 2
	m, x0, y0 := both.fill(s.w, r+1)
	first, u, v := a.fill(s.w, 2)
	first = first.grown(2)
	closed := m.closed(r)
	near := m.grown(2)
	var byA, byB []float64
	strange := 0
	for i, in := range closed.in {
		if x, y := i%m.w+x0, i/m.w+y0; in && !m.in[i] && x >= 0 && y >= 0 && x < s.w && y < s.h {
			j := y*s.w + x
			switch {
			case s.class[j] == other:
				strange++
			case !near.in[i]:
			case x >= u && y >= v && x < u+first.w && y < v+first.h && first.in[(y-v)*first.w+x-u]:
				byA = append(byA, float64(s.dl[j]))
			default:
				byB = append(byB, float64(s.dl[j]))
			}
		}
	}
	if strange >= len(byA)+len(byB) || !s.lit(slices.Concat(byA, byB), shade) {
		return false
	}
	for _, side := range [][]float64{byA, byB} {
		if len(side) >= 4 && median(side) < -unshaded*shade {
			return false
		}
	}
	return true
}

// shadows tells how deep the shadows of things are on open ground.
type shadows struct {
	*search
	things *mask
	most   int // pixels, the widest gap
	open   *bitmap
	depth  map[int]float64 // what is known of depthAt
}

// depthAt is how deep nearly all of the open ground is in shadow, in L*, so many
// pixels, from 1, from the nearest thing: deepShare of it is lighter. Between two
// things so close by that they may be one it does not count.
func (d *shadows) depthAt(pixels int) float64 {
	if deep, known := d.depth[pixels]; known {
		return deep
	}
	in := d.things.bits()
	if d.open == nil {
		d.open = in.grown(d.most/2 + 1).shrunk(d.most/2 + 1).inverse()
		d.depth = map[int]float64{}
	}
	var v []float64
	in.ring(pixels, pixels).each(func(x, y int) {
		if i := y*d.w + x; d.open.has(x, y) && d.class[i] != other {
			v = append(v, float64(-d.dl[i]))
		}
	})
	deep := math.Inf(1)
	if len(v) > 0 {
		deep = quantile(v, deepShare)
	}
	d.depth[pixels] = deep
	return deep
}

// tooDark: what lies between two parts is darker than shadows can make it. Both
// parts' shadows meet in the gap, and take away no more than the sum of what
// each does; in its middle that is twice the depth of an open shadow as far from
// what casts it. What is darker all along is a stripe of the parts' own cloth.
func (d *shadows) tooDark(a, b *part, n neighbour) bool {
	const few = 12 // pixels
	side := math.Sqrt(float64(min(len(a.px), len(b.px))))
	if n.gap < darkGap || float64(n.run) < narrowRun*side {
		return false
	}
	both := joined(a, b)
	r := n.gap/2 + 2
	m, x0, y0 := both.fill(d.w, r+1)
	beside := n.gap/2 - 1
	middle := m.closed(r).bits()
	middle.remove(m.bits().grown(beside))
	var depth []float64
	wide := 0.0
	middle.each(func(x, y int) {
		if x, y = x+x0, y+y0; x >= 0 && y >= 0 && x < d.w && y < d.h && d.class[y*d.w+x] != other {
			depth = append(depth, float64(-d.dl[y*d.w+x]))
			wide += float64(d.gl[y*d.w+x])
		}
	})
	if len(depth) < few {
		return false
	}
	least := quantile(depth, .25)
	return least > 2*slight*wide/float64(len(depth)) && least > 2*d.depthAt(beside+1)
}

// lit: pixels of the ground's colour, which stand off the ground by dl, are
// for sure not in the usual shadow of a piece's edge.
func (s *search) lit(dl []float64, shade float64) bool {
	if len(dl) < 4 {
		return false
	}
	// Neighbours share the grain of the ground: a fourth of them count.
	error := 1.25 * max(s.sd[0], .3) / math.Sqrt(float64(len(dl))/4)
	mid := median(dl)
	return mid > -unshaded*shade && mid-2*error > -shade
}

// neighbour is two parts with so many pixels between them. run is how many
// pixels along the line where the ground nearer to the one meets that nearer
// to the other.
type neighbour struct{ a, b, gap, run int }

// neighbours are the pairs of parts that lie within most pixels of each
// other, nearest first.
func (s *search) neighbours(ps []part, label []int32, most int) []neighbour {
	near := s.unlabelled()
	copy(near, label)
	front, next := s.fronts[0][:0], s.fronts[1]
	for i, l := range label { // what lies within a part is beside nothing else
		if l > 0 && (i == 0 || label[i-1] != l || i+1 == len(label) || label[i+1] != l || i < s.w || label[i-s.w] != l || i+s.w >= len(label) || label[i+s.w] != l) {
			front = append(front, int32(i))
		}
	}
	type meeting struct{ gap, run int }
	met := map[[2]int32]*meeting{}
	var now *meeting // that of pair, the last one
	var pair [2]int32
	for step := 1; step <= most/2+1; step++ {
		next = next[:0]
		for _, i := range front {
			x, y := int(i)%s.w, int(i)/s.w
			for k, j := range [4]int{int(i) - 1, int(i) + 1, int(i) - s.w, int(i) + s.w} {
				if k == 0 && x == 0 || k == 1 && x+1 == s.w || k == 2 && y == 0 || k == 3 && y+1 == s.h {
					continue
				}
				switch {
				case near[j] == 0:
					near[j] = near[i]
					next = append(next, int32(j))
				case near[j] != near[i]:
					if p := [2]int32{min(near[i], near[j]), max(near[i], near[j])}; p != pair {
						if pair, now = p, met[p]; now == nil {
							now = &meeting{gap: 2 * (step - 1)}
							met[p] = now
						}
					}
					now.run++
				}
			}
		}
		front, next = next, front
	}
	s.fronts = [2][]int32{front, next}
	out := make([]neighbour, 0, len(met))
	for pair, m := range met {
		if m.gap <= most {
			out = append(out, neighbour{int(pair[0]) - 1, int(pair[1]) - 1, m.gap, m.run})
		}
	}
	slices.SortFunc(out, func(p, q neighbour) int {
		if d := p.gap - q.gap; d != 0 {
			return d
		}
		if d := p.a - q.a; d != 0 {
			return d
		}
		return p.b - q.b
	})
	return out
}

// ink is a colour that was seen in a part.
type ink struct{ l, a, b float32 }

// inksOf are some colours of a part, from all over it.
func (s *search) inksOf(p *part) []ink {
	const count = 60
	step := max(1, len(p.px)/count)
	var out []ink
	for i := step / 2; i < len(p.px); i += step {
		j := p.px[i]
		out = append(out, ink{s.dl[j], s.da[j], s.db[j]})
	}
	return out
}

// alike is the share of the colours of one part that the other has too,
// whichever way round it is larger.
func alike(p, q []ink) float64 {
	share := func(p, q []ink) float64 {
		n := 0
		for _, a := range p {
			for _, b := range q {
				if sq32(a.l-b.l)+sq32(a.a-b.a)+sq32(a.b-b.b) < alikeColour*alikeColour {
					n++
					break
				}
			}
		}
		return float64(n) / float64(max(len(p), 1))
	}
	return max(share(p, q), share(q, p))
}
