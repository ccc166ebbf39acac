package scraps

import "math"

// Sizes in shares of the photo: a scrap smaller than leastArea, or thinner
// than a pixel or two of the small picture, is not worth a number.
const (
	leastArea = .00008
	// A contact shadow reaches this far, as a share of the longer side.
	shadowReach = .013
)

// search finds the parts of the small picture that are no ground.
type search struct {
	*stand
	class []uint8
	reach int // of contact shadows, in pixels
	least int // pixels of a piece
}

func newSearch(o *stand, c *cells, g *ground) *search {
	return &search{
		stand: o,
		class: o.classify(c, g),
		reach: max(2, int(shadowReach*float64(max(o.w, o.h))+.5)),
		least: max(12, int(leastArea*float64(o.w*o.h))),
	}
}

// things is the mask of all that lies on the ground, without its shadows.
func (s *search) things() *mask {
	differ := newMask(s.w, s.h)
	for i, c := range s.class {
		differ.in[i] = c == other
	}
	// Lines of a mat, threads and single pixels are too thin.
	s.unruled(differ)
	sure := differ.closed(1).opened(1)
	s.clean(sure, 9)
	for range 2 { // but a piece may end in a point
		wide := sure.grown(1)
		for i, in := range differ.in {
			sure.in[i] = sure.in[i] || wide.in[i] && in
		}
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
	_, label := sure.parts(1)
	ps, _ := dim.parts(12)
	for _, p := range ps {
		if s.solid(&p, label) {
			for _, i := range p.px {
				sure.in[i] = true
			}
		}
	}
	return sure
}

// slight is how deep a contact shadow can be, as a share of L*+16, that is
// not narrow.
const slight = .05

// clean takes parts of fewer than least pixels out of m.
func (s *search) clean(m *mask, least int) {
	_, label := m.parts(least)
	for i, l := range label {
		m.in[i] = l > 0
	}
}

// solid tells a thing of the ground's colour, but darker, from a shadow that
// lies on the ground. label numbers the sure things. Where the part borders
// on open ground, a shadow fades and a thing has an edge. Where it lies
// between sure things, the shadow gets lighter from one to the next, and the
// ground of a print is the same all over.
func (s *search) solid(p *part, label []int32) bool {
	depth := make([]float64, 0, len(p.px))
	for _, i := range p.px {
		depth = append(depth, float64(-s.dl[i]))
	}
	mid := quantile(depth, .5)
	m, x0, y0 := p.fill(s.w, 1)
	var steep []float64
	outline := m.trace()
	first, others := int32(0), 0
	for _, q := range outline {
		x, y := x0+int(q[0]), y0+int(q[1])
		switch n := s.beside(label, x, y); {
		case n == 0:
			steep = append(steep, s.steepest(x, y))
		case first == 0:
			first = n
		case n != first:
			others++
		}
	}
	switch {
	case len(steep) >= 12 || 4*len(steep) > len(outline):
		return quantile(steep, .35) > .22*mid
	case 10*others < len(outline): // in a hole or a bay of one thing
		return true
	}
	return quantile(depth, .8)-quantile(depth, .2) < .3*mid
}

// steepest is the steepest fall of L*, a pixel, within three pixels of (x, y).
func (s *search) steepest(x, y int) float64 {
	most := float32(0)
	for yy := max(y-3, 1); yy <= min(y+3, s.h-2); yy++ {
		for xx := max(x-3, 1); xx <= min(x+3, s.w-2); xx++ {
			i := yy*s.w + xx
			most = max(most, sq32(s.dl[i+1]-s.dl[i-1])+sq32(s.dl[i+s.w]-s.dl[i-s.w]))
		}
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
