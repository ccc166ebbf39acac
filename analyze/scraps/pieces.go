package scraps

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
	for i, c := range s.class {
		dim.in[i] = c == shaded && s.dl[i] < -slight*s.gl[i] || differ.in[i]
	}
	dim = dim.closed(1).opened(2)
	for i := range dim.in {
		dim.in[i] = dim.in[i] && !sure.in[i]
	}
	ps, _ := dim.parts(12)
	for _, p := range ps {
		if s.sharp(&p, sure) {
			for _, i := range p.px {
				sure.in[i] = true
			}
		}
	}
	return sure
}

// slight is how deep a contact shadow can be, as a share of L*+16, that is
// not narrow.
const slight = .07

// clean takes parts of fewer than least pixels out of m.
func (s *search) clean(m *mask, least int) {
	_, label := m.parts(least)
	for i, l := range label {
		m.in[i] = l > 0
	}
}

// sharp tells a thing of the ground's colour but darker from a shadow that
// lies on the ground: the shadow fades, the thing has an edge.
func (s *search) sharp(p *part, sure *mask) bool {
	// How dark it is in its middle half.
	depth := make([]float64, 0, len(p.px))
	for _, i := range p.px {
		depth = append(depth, float64(-s.dl[i]))
	}
	mid := quantile(depth, .5)
	// The steepest fall across its outline, place by place.
	m, x0, y0 := p.fill(s.w, 1)
	var steep []float64
	for _, q := range m.trace() {
		x, y := x0+int(q[0]), y0+int(q[1])
		if s.beside(sure, x, y) {
			continue // the fall from a thing that is there anyhow tells nothing
		}
		most := float32(0)
		for dy := -3; dy <= 3; dy++ {
			for dx := -3; dx <= 3; dx++ {
				xx, yy := x+dx, y+dy
				if xx < 1 || yy < 1 || xx+1 >= s.w || yy+1 >= s.h {
					continue
				}
				i := yy*s.w + xx
				gx, gy := s.dl[i+1]-s.dl[i-1], s.dl[i+s.w]-s.dl[i-s.w]
				most = max(most, gx*gx+gy*gy)
			}
		}
		steep = append(steep, float64(most)/4)
	}
	if len(steep) < 4 { // all round it is what is there: a figure of a print
		return true
	}
	return quantile(steep, .35) > sq(.22*mid)
}

// beside: a pixel of m lies within two of (x, y).
func (s *search) beside(m *mask, x, y int) bool {
	for yy := max(y-2, 0); yy <= min(y+2, s.h-1); yy++ {
		for xx := max(x-2, 0); xx <= min(x+2, s.w-1); xx++ {
			if m.in[yy*s.w+xx] {
				return true
			}
		}
	}
	return false
}
