package scraps

import (
	"slices"

	"greige/analyze/cloth"
)

// enough of an outline's pixels are left inside its rim. Where fewer are, as in
// a strip of four pixels, those next to the ones that the edge cuts are taken as
// well, and in a thread all.
const enough = .45

// inside is the region inside an outline but for its rim: the pixels that the
// edge cuts and those next to them, which the lens's blur mixes with the ground.
// Further in there is little of that (a fourteenth, behind one pixel and a half
// of a blur of one), while the figures of a print that lie by its edge would be
// missing from its mean.
func inside(outline []point, w, h int) cloth.Region {
	r := cloth.Polygon(outline, w, h)
	all := r.Area()
	if all == 0 {
		return r
	}
	const uncut = .99
	if slices.Max(r.Weight) <= uncut {
		return r
	}
	bw, bh := r.Bounds.Dx(), r.Bounds.Dy()
	whole, core := r.Weight, make([]float32, bw*bh)
	for i, v := range whole {
		whole[i] = 0
		if v > uncut {
			whole[i] = 1
		}
	}
	for y := 1; y+1 < bh; y++ {
		for x := 1; x+1 < bw; x++ {
			i := y*bw + x
			core[i] = whole[i] * whole[i-1] * whole[i+1] * whole[i-bw] * whole[i+bw]
		}
	}
	if in := (cloth.Region{Bounds: r.Bounds, Weight: core}); in.Area() > enough*all {
		return in
	}
	return r
}
