package scraps

import (
	"image"
	"math"

	"greige/analyze/raster"
)

// snap moves the outline of each piece to the strongest edge nearby: a watershed
// of the slope in a narrow band about it. A piece that vanishes is nil.
func (s *search) snap(pieces []*raster.Mask) []*raster.Mask {
	if s.off.snap {
		return pieces
	}
	band := max(2, math.Round(near*s.long))
	label := make([]int32, s.w*s.h)
	all := raster.NewMask(s.bounds())
	for i, m := range pieces {
		all.Add(m)
		m.Eroded(band).Each(func(x, y int) { label[y*s.w+x] = int32(i + 2) })
	}
	within := all.Dilated(band).Within(s.bounds())
	for i, in := range within.In {
		if !in {
			label[i] = 1
		}
	}
	open := within.Dilated(1).Within(s.bounds())
	raster.Watershed(s.slope, s.w, s.h, label, open.In)
	out := make([]*raster.Mask, len(pieces))
	raster.Bands(len(pieces), 1, func(from, to int) {
		for i := from; i < to; i++ {
			out[i] = s.labelled(label, int32(i+2), pieces[i].Bounds.Inset(-int(band)-1))
		}
	})
	return out
}

// labelled is the largest part of what has a label within r, without spurs two
// pixels wide, filled; nil where it is too small.
func (s *search) labelled(label []int32, l int32, r image.Rectangle) *raster.Mask {
	m := raster.Where(r.Intersect(s.bounds()), func(x, y int) bool { return label[y*s.w+x] == l })
	c, ok := m.Opened(2).Largest(raster.Corners)
	if !ok {
		return nil
	}
	m = c.Mask().Filled()
	if m.Count() < s.leastPixels() {
		return nil
	}
	return m
}

// follow follows the edge of a piece in the working picture, in its pixels.
func (s *search) follow(ed *edges, m *raster.Mask) []point {
	rough := m.Contour()
	for k, q := range rough {
		rough[k] = point{q[0] * s.sm.r, q[1] * s.sm.r}
	}
	if s.off.edge {
		return raster.Simplify(rough, simpler)
	}
	inks := s.sm.paletteOf(m)
	inks.settle(ed.sd)
	// Across a narrow piece its other edge lies.
	far := min(int(math.Ceil(radiusOf(m)+1)), int(math.Ceil(near*s.long))+1)
	return raster.Simplify(ed.refine(rough, inks, int(math.Ceil(float64(far)*s.sm.r))), simpler)
}

// simpler is how far, in working pixels, an outline may lie from its points: what
// its sub-pixel edge is known to.
const simpler = .8
