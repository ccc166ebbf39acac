package scraps

import (
	"maps"
	"math"
	"slices"

	"greige/analyze/photo"
)

// A cloth nearly of the ground's colour is taken for ground, and following the
// ground from place to place makes what is left of the difference vanish. But
// a woven cloth has another grain than a sheet, a mat, a plank or a carpet,
// and it lies in its own shadow.
const (
	grainFine   = 2 // pixels: what varies within this is grain
	grainWindow = 4 // pixels: over this it is averaged
	// grainSigmas and grainLeast are how far the logarithm of the grain must
	// be from the ground's: standard deviations, and at least this.
	grainSigmas = 4
	grainLeast  = .45
	// alikeShape is how much of its convex hull such a piece fills, and
	// alikeArea how much of a usual piece's area it has.
	alikeShape = .75
	alikeArea  = .2
	// alikeShade is how much of the usual shadow lies round it.
	alikeShade = .3
	// alikeOpen is how much of what lies beside it is open ground.
	alikeOpen = .6
	// What has more than alikeNook of its edge nearer to others than pieces are
	// laid is the ground between them.
	alikeNook = .5
	// Open ground among pieces has their shadows round it. A piece that is told
	// by nothing but its ring has at least alikeFree of it where no other's
	// shadow reaches, and it is dark there too.
	alikeFree = .25
)

// alike finds pieces of nearly the ground's colour by their grain and their
// shadow, and paints them into things. It tells whether there were any. shade
// is the usual depth of the shadow at the edges of the parts.
func (s *search) alike(things *mask, ps []part, label []int32, shade float64) bool {
	sizes := make([]float64, len(ps))
	for i := range ps {
		sizes[i] = float64(len(ps[i].px))
	}
	least := alikeArea * median(sizes)
	thick := things.opened(grainWindow - 1) // thin ones may be its own shadow
	grain := s.grain(thick)
	mid, spread := s.grainOfGround(grain, things)
	limit := max(grainSigmas*spread, grainLeast)
	finest, coarsest := float32(math.Exp(mid-limit)), float32(math.Exp(mid+limit))
	beside := thick.grown(s.reach / 2)
	smooth, rough, ringed := newMask(s.w, s.h), newMask(s.w, s.h), newMask(s.w, s.h)
	for i, g := range grain {
		smooth.in[i] = !thick.in[i] && !(g >= finest) // also where nothing is like the ground
		rough.in[i] = !beside.in[i] && g > coarsest
		// The ring of a piece's edge and shadow has more grain than the ground,
		// whatever is within.
		ringed.in[i] = !thick.in[i] && !(g > coarsest)
	}
	found := false
	try := func(m *mask, grow int, others *mask) {
		tried := m.list(max(int(least), 60))
		for _, p := range tried {
			if p.x0 == 0 || p.y0 == 0 || p.x1 == s.w || p.y1 == s.h {
				continue
			}
			f, x0, y0 := p.fill(s.w, 4*grainWindow)
			// Windows across the edge have the grain of both sides, and that of
			// the edge and its shadow.
			if grow > 0 {
				f = f.grown(grow)
			} else {
				f = f.shrunk(-grow)
			}
			f = f.closed(2 * grainWindow)
			if f.count() > alikeShape*f.hull() && !s.nook(f, x0, y0, ps, label) && !s.joins(f, x0, y0, ps, label) && s.inShadow(f, x0, y0, label, alikeShade*shade, others) {
				s.paint(things, f, x0, y0)
				found = true
			}
		}
	}
	try(smooth.closed(1).opened(3), grainWindow-1, nil)
	try(rough.closed(1).opened(3), 1-grainWindow, nil)
	try(ringed.opened(grainWindow), grainWindow, things)
	s.cleanKnown(things)
	return found
}

// nook: most of the edge of m, whose first pixel is at (x0, y0), follows those
// of pieces, the parts that label numbers: what is half as large as m at least,
// and no figure on it.
func (s *search) nook(m *mask, x0, y0 int, ps []part, label []int32) bool {
	area := m.count()
	pieces := newMask(m.w, m.h)
	for i := range m.in {
		if x, y := i%m.w+x0, i/m.w+y0; x >= 0 && y >= 0 && x < s.w && y < s.h {
			l := label[y*s.w+x]
			pieces.in[i] = l > 0 && 2*float64(len(ps[l-1].px)) > area
		}
	}
	near, core := pieces.grown(int(narrowGap*float64(max(s.w, s.h)))), m.shrunk(1)
	n, all := 0, 0
	for i, in := range m.in {
		if in && !core.in[i] {
			all++
			if near.in[i] {
				n++
			}
		}
	}
	return float64(n) > alikeNook*float64(all)
}

// joins: m, whose first pixel is at (x0, y0), touches two pieces or more, the
// parts that label numbers: what is a quarter as large as m at least, and no small
// figure on it; and all together have no piece's shape.
func (s *search) joins(m *mask, x0, y0 int, ps []part, label []int32) bool {
	const touching = 2 // pixels
	area := m.count()
	met := map[int32]bool{}
	m.bits().grown(touching).each(func(x, y int) {
		if x, y = x+x0, y+y0; x >= 0 && y >= 0 && x < s.w && y < s.h {
			if l := label[y*s.w+x]; l > 0 && 4*float64(len(ps[l-1].px)) > area {
				met[l] = true
			}
		}
	})
	if len(met) < 2 {
		return false
	}
	all := part{x0: s.w, y0: s.h}
	for i, in := range m.in {
		if x, y := i%m.w+x0, i/m.w+y0; in && x >= 0 && y >= 0 && x < s.w && y < s.h {
			all.px = append(all.px, int32(y*s.w+x))
			all.x0, all.y0, all.x1, all.y1 = min(all.x0, x), min(all.y0, y), max(all.x1, x+1), max(all.y1, y+1)
		}
	}
	for _, l := range slices.Sorted(maps.Keys(met)) {
		all = joined(&all, &ps[l-1])
	}
	whole, _, _ := all.fill(s.w, touching)
	whole = whole.closed(touching)
	return whole.count() < joinedShape*whole.hull()
}

// A grained ground hides a cloth of its own colour: from this standard
// deviation of its pixels on, in L*, one may be missed.
const hides = 1.2

// missed warns of cloth that the ground may hide; "" where it would show. Each
// warning is a whole sentence.
func (s *search) missed(things *mask) string {
	if s.sd[0] > hides {
		return "The ground is so grained that a cloth of nearly its colour could be missed: look whether every piece has a number."
	}
	// A shadow where nothing was found.
	beside := things.grown(2 * s.reach)
	m := newMask(s.w, s.h)
	for i, c := range s.class {
		m.in[i] = c == shaded && !beside.in[i] && !s.known(i)
	}
	parts := m.closed(2).list(3 * s.reach)
	for _, p := range parts {
		if p.x0 > s.reach && p.y0 > s.reach && p.x1 < s.w-s.reach && p.y1 < s.h-s.reach {
			across, down := [3]string{"left", "middle", "right"}, [3]string{"top", "middle", "bottom"}
			x, y := across[(p.x0+p.x1)*3/2/s.w], down[(p.y0+p.y1)*3/2/s.h]
			place := y + " " + x
			switch {
			case x == y:
				place = "middle"
			case x == "middle":
				place = y
			case y == "middle":
				place = x
			}
			return "There is a shadow in the photo's " + place + " with no piece to it. If that is no sheet of paper, a cloth of nearly the ground's colour was missed there."
		}
	}
	return ""
}

// inShadow: the ground lies open round m, whose first pixel is at (x0, y0),
// and is darker by least beside it; if others are given, also where
// no shadow of theirs reaches.
func (s *search) inShadow(m *mask, x0, y0 int, label []int32, least float64, others *mask) bool {
	in := m.bits()
	near, far := s.ring(in, x0, y0, label, 2, 3), s.ring(in, x0, y0, label, 8, 10)
	around := in.grown(3).count() - in.grown(1).count()
	if float64(len(near)) <= alikeOpen*float64(around) || len(far) < 8 {
		return false
	}
	ground := median(far)
	depth := ground - median(near)
	if depth <= least {
		return false
	}
	if others == nil {
		return true
	}
	theirs := newBitmap(m.w, m.h)
	for y := max(0, -y0); y < min(m.h, s.h-y0); y++ {
		for x := max(0, -x0); x < min(m.w, s.w-x0); x++ {
			if others.in[(y+y0)*s.w+x+x0] {
				theirs.set(x, y)
			}
		}
	}
	free := s.ringBut(in, theirs.grown(s.reach), x0, y0, label, 2, 3)
	alone := ground - median(free)
	// What is much darker there than the rest of the ring is no shadow of its own.
	return float64(len(free)) >= alikeFree*float64(len(near)) && alone > least && alone < 2*depth
}

// grain is the mean deviation of L* from its mean close by, and a little more,
// where things and lines do not count; NaN where nothing is left.
func (s *search) grain(things *mask) []float32 {
	n := s.w * s.h
	off := limitsOf(&s.sd)
	light, grain := make([]pair, n), make([]pair, n) // with how many pixels
	photo.Bands(s.h, 16, func(y0, y1 int) {
		for i := y0 * s.w; i < y1*s.w; i++ {
			if !things.in[i] && off.classOf(s.dl[i], s.da[i], s.db[i], s.gl[i]) != other {
				light[i] = pairOf(s.dl[i], 1)
			}
		}
	})
	mean := func(p pair, r int, least float32) (v float32, ok bool) {
		v, n := p.parts()
		return v / n, n > least*float32((2*r+1)*(2*r+1))
	}
	overSquares([][]pair{light}, s.w, s.h, grainFine, func() func(y int, sums [][]pair) {
		return func(y int, sums [][]pair) {
			for x, sum := range sums[0] {
				i := y*s.w + x
				if m, ok := mean(sum, grainFine, .5); ok && light[i] != 0 {
					d := s.dl[i] - m
					grain[i] = pairOf(max(d, -d), 1)
				}
			}
		}
	})
	out := make([]float32, n)
	overSquares([][]pair{grain}, s.w, s.h, grainWindow, func() func(y int, sums [][]pair) {
		return func(y int, sums [][]pair) {
			for x, sum := range sums[0] {
				out[y*s.w+x] = float32(math.NaN())
				if m, ok := mean(sum, grainWindow, .3); ok {
					out[y*s.w+x] = m + .02
				}
			}
		}
	})
	return out
}

// grainOfGround is the median of the logarithm of the ground's grain and its
// standard deviation, away from things.
func (s *search) grainOfGround(grain []float32, things *mask) (mid, spread float64) {
	beside := things.grown(s.reach)
	var v []float64
	for i := 0; i < len(grain); i += 7 {
		if g := float64(grain[i]); !beside.in[i] && g == g {
			v = append(v, math.Log(g))
		}
	}
	if len(v) == 0 {
		return 0, math.Inf(1)
	}
	m := median(v)
	for i := range v {
		v[i] = math.Abs(v[i] - m)
	}
	return m, 1.4826 * median(v)
}
