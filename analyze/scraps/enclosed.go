package scraps

import (
	"maps"
	"math"
	"slices"
)

// A cloth, or a part of a print, of the ground's own colour shows by the
// shadow all round it: what lies there is as light as the open ground, but
// there is no way to it from the open ground that does not lead through a
// shadow. How deep a shadow the lightest way leads through is found by
// flooding from the photo's border, lowest pixels first (the ordered queues of
// F. Meyer's watersheds, 1991; the level that a pixel is flooded at is the
// grey-scale hole filling of P. Soille, Morphological Image Analysis, 1999.
// Both from memory).

// floodSteps are the steps of L* in which shadows are flooded.
const (
	floodSteps = 8 // per L*
	floodMost  = 40 * floodSteps
)

// depths is how much darker than the open ground each pixel is, in L*: the
// mean over squares of three pixels, which the ground's grain and the blocks of
// a lossy file hardly reach, without the things in them.
func (s *search) depths(things *mask) []float32 {
	depth := make([]pair, s.w*s.h) // with how many pixels
	for i, v := range s.dl {
		if !things.in[i] {
			depth[i] = pairOf(-v, 1)
		}
	}
	out := make([]float32, len(depth))
	overSquares([][]pair{depth}, s.w, s.h, 1, func() func(y int, sums [][]pair) {
		return func(y int, sums [][]pair) {
			for x, sum := range sums[0] {
				if v, n := sum.parts(); n > 0 {
					out[y*s.w+x] = v / n
				}
			}
		}
	})
	return out
}

// pent is how much deeper than itself, in L*, the shadow is that parts each
// pixel from the open ground; 0 in things. The grain of some grounds would
// drown it: nil there.
func (s *search) pent(things *mask) []float32 {
	if s.sd[0] > hides {
		return nil
	}
	n := s.w * s.h
	depth := make([]int16, n)
	for i, v := range s.depths(things) {
		depth[i] = int16(min(max(v*floodSteps, 0), floodMost-1))
	}
	level := make([]int16, n)
	for i := range level {
		level[i] = -1
	}
	// Those of one level wait in a row, each with the place of the one behind it.
	const none = -1
	behind := make([]int32, n)
	var first, last [floodMost]int32
	for l := range first {
		first[l] = none
	}
	push := func(i int32, from int16) {
		if level[i] >= 0 || things.in[i] {
			return
		}
		l := max(depth[i], from)
		level[i], behind[i] = l, none
		if first[l] == none {
			first[l] = i
		} else {
			behind[last[l]] = i
		}
		last[l] = i
	}
	for x := range s.w {
		push(int32(x), 0)
		push(int32((s.h-1)*s.w+x), 0)
	}
	for y := range s.h {
		push(int32(y*s.w), 0)
		push(int32(y*s.w+s.w-1), 0)
	}
	for l := range first {
		for i := first[l]; i != none; i = behind[i] { // the row grows
			x, y := int(i)%s.w, int(i)/s.w
			if x > 0 {
				push(i-1, int16(l))
			}
			if x+1 < s.w {
				push(i+1, int16(l))
			}
			if y > 0 {
				push(i-int32(s.w), int16(l))
			}
			if y+1 < s.h {
				push(i+int32(s.w), int16(l))
			}
		}
	}
	out := make([]float32, n)
	for i, l := range level {
		switch {
		case things.in[i]:
		case l < 0: // things all round
			out[i] = float32(math.Inf(1))
		default:
			out[i] = float32(l-depth[i]) / floodSteps
		}
	}
	return out
}

const (
	// pentSigmas and pentLeast are how much deeper the shadow must be, in
	// standard deviations of the ground and in L*.
	pentSigmas = 1
	pentLeast  = .5
	// pentGap is half of what may part two places of one cloth, where its own
	// figures or folds are as dark as the shadow.
	pentGap = 3
	// evenTo is how much of the depth of the shadow round it the cloth may
	// darken towards its own edge. Ground in the middle of several pieces lies
	// in their shadows as in a bowl.
	evenTo = .3
	// fadesTo is how much of it is left some pixels away from the cloth.
	fadesTo = 1
	// joinedShape is how much of their hull parts that are joined must fill.
	joinedShape = .85
	// alone is how much of what lies a little further out may be pent in as
	// well: the squares that dark lines rule a table into lie side by side.
	alone = .1
	// bordersOpen is how much of what lies beside it is open ground where it is
	// no part of a print that has figures all over it.
	bordersOpen = .75
)

// enclosed finds the cloth that is parted from the open ground by its shadow,
// and paints it into things. It tells whether there was any. pent is that of
// things.
func (s *search) enclosed(things *mask, pent []float32) bool {
	least := float32(max(pentSigmas*s.sd[0], pentLeast))
	m := newMask(s.w, s.h)
	n := 0
	for i, v := range pent {
		if m.in[i] = v > least && !math.IsInf(float64(v), 1); m.in[i] {
			n++
		}
	}
	if n < s.least {
		return false
	}
	m = m.opened(1).closed(pentGap)
	for i, in := range things.in {
		m.in[i] = m.in[i] && !in
	}
	s.cleanKnown(m)
	ps := m.list(s.least)
	type filled struct {
		m      *mask
		x0, y0 int
	}
	var fs []filled
	with := newMask(s.w, s.h)
	copy(with.in, things.in)
	for k := range ps {
		if f, x0, y0, ok := s.isEnclosed(&ps[k], things, m, pent); ok {
			fs = append(fs, filled{f, x0, y0})
			s.paint(with, f, x0, y0)
		}
	}
	if len(fs) == 0 {
		return false
	}
	// Two pieces that it would join are left apart.
	parts, label := things.parts(s.least)
	joined, number := with.parts(1)
	found := false
	for _, f := range fs {
		if beside := s.touched(f.m, f.x0, f.y0, label); len(beside) >= 2 {
			if neck(beside, parts) {
				continue
			}
			whole, _, _ := joined[number[s.first(f.m, f.x0, f.y0)]-1].fill(s.w, 1)
			if whole.count() < joinedShape*whole.hull() {
				continue
			}
		}
		s.paint(things, f.m, f.x0, f.y0)
		found = true
	}
	return found
}

// first is the first pixel of m, whose own first pixel is at (x0, y0).
func (s *search) first(m *mask, x0, y0 int) int {
	i := slices.Index(m.in, true)
	return (i/m.w+y0)*s.w + i%m.w + x0
}

// touched are the parts that label numbers beside m, by their numbers: about how
// many pixels of m's edge lie along each.
func (s *search) touched(m *mask, x0, y0 int, label []int32) map[int32]float64 {
	const wide = 2 // pixels
	along := map[int32]float64{}
	for i, in := range m.grown(wide).in {
		x, y := i%m.w+x0, i/m.w+y0
		if in && x >= 0 && y >= 0 && x < s.w && y < s.h && label[y*s.w+x] > 0 {
			along[label[y*s.w+x]] += 1. / wide
		}
	}
	return along
}

// neck: what lies along parts for so many pixels joins the two largest of them by
// less of their sides than fragments of one piece have in common: two pieces lie
// side by side there, and make a piece's shape with the gap between them.
func neck(along map[int32]float64, parts []part) bool {
	var first, second int32 // the largest
	for _, l := range slices.Sorted(maps.Keys(along)) {
		switch n := len(parts[l-1].px); {
		case first == 0 || n > len(parts[first-1].px):
			first, second = l, first
		case second == 0 || n > len(parts[second-1].px):
			second = l
		}
	}
	side := math.Sqrt(float64(len(parts[second-1].px)))
	return min(along[first], along[second]) < narrowRun*side
}

// isEnclosed tells whether a part of the mask of all that is pent in is cloth,
// and gives it with its holes filled.
func (s *search) isEnclosed(p *part, things, all *mask, pent []float32) (f *mask, x0, y0 int, ok bool) {
	const (
		beyond = 8 // pixels outside the part that are looked at
		wall   = 3 // the shadow is deepest within so many pixels of the edge
		faded  = 5 // and has become slighter beyond so many
		mixed  = 1 // at an edge, colours of both sides
		edge   = 3 // what lies further in than this is its middle
	)
	f, x0, y0 = p.fill(s.w, beyond)
	thing, cloth := newMask(f.w, f.h), newMask(f.w, f.h)
	other := newMask(f.w, f.h) // pent in, but another part
	for i := range f.in {
		if x, y := i%f.w+x0, i/f.w+y0; x >= 0 && y >= 0 && x < s.w && y < s.h {
			thing.in[i] = things.in[y*s.w+x]
			other.in[i] = all.in[y*s.w+x] && !f.in[i]
		}
		cloth.in[i] = f.in[i] || thing.in[i]
	}
	inner, core := cloth.shrunk(mixed), cloth.shrunk(edge)
	touched, near := thing.grown(mixed), thing.grown(edge)
	around, fades, out := f.grown(wall), f.grown(faded), f.grown(beyond)
	var middle, every, rim, beside, shadow, further, levels []float64
	taken := 0
	for i := range f.in {
		x, y := i%f.w+x0, i/f.w+y0
		if x < 0 || y < 0 || x >= s.w || y >= s.h || thing.in[i] {
			continue
		}
		j := y*s.w + x
		depth := float64(-s.dl[j])
		if !f.in[i] {
			switch {
			case around.in[i]:
				shadow = append(shadow, depth)
			case !out.in[i] || fades.in[i]:
			case other.in[i]:
				taken++
			default:
				further = append(further, depth)
			}
			continue
		}
		every = append(every, depth)
		levels = append(levels, float64(pent[j]))
		switch {
		case near.in[i]:
			if !touched.in[i] {
				beside = append(beside, depth)
			}
		case core.in[i]:
			middle = append(middle, depth)
		case inner.in[i]:
			rim = append(rim, depth)
		}
	}
	if len(middle) < 8 {
		middle = every
	}
	mid := median(middle)
	if len(shadow) > 0 {
		deep := quantile(shadow, .75) - mid
		if deep < median(levels) || len(rim) >= 6 && median(rim)-mid > evenTo*deep || len(beside) >= 6 && median(beside)-mid > evenTo*deep ||
			len(further) >= 6 && median(further)-mid > fadesTo*deep {
			return nil, 0, 0, false
		}
	}
	if float64(taken) > alone*float64(taken+len(further)) && thing.count() == 0 {
		return nil, 0, 0, false
	}
	if s.amongShadows(f, x0, y0, things) {
		return nil, 0, 0, false
	}
	return f, x0, y0, true
}

// amongShadows: m, whose first pixel is at (x0, y0), borders on open ground, and
// that lies nearly all the way in the shadow of things, as round a place of the
// ground that several pieces surround.
func (s *search) amongShadows(m *mask, x0, y0 int, things *mask) bool {
	const wall = 3 // pixels
	pad := wall + s.reach
	in, theirs := newBitmap(m.w+2*pad, m.h+2*pad), newBitmap(m.w+2*pad, m.h+2*pad)
	for y := range in.h {
		for x := range in.w {
			if u, v := x-pad, y-pad; u >= 0 && v >= 0 && u < m.w && v < m.h && m.in[v*m.w+u] {
				in.set(x, y)
			}
			if u, v := x-pad+x0, y-pad+y0; u >= 0 && v >= 0 && u < s.w && v < s.h && things.in[v*s.w+u] {
				theirs.set(x, y)
			}
		}
	}
	ring := in.ring(1, wall)
	around := float64(ring.count())
	ring.remove(theirs)
	open := float64(ring.count())
	ring.remove(theirs.grown(s.reach))
	return open > bordersOpen*around && float64(ring.count()) < alikeFree*open
}
