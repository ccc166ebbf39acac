package analyze

import (
	"math"

	"greige/analyze/cloth"
	"greige/analyze/grid"
	"greige/analyze/photo"
	"greige/colorspace"
)

// How much of a patch is left out on every side when it is measured. Where its
// seams were followed that is the lens's blur and the seam's own shadow; where
// they were not, or where something lies along them (a gap, a frame, a
// neighbour's turned edge), the tenth of a patch by which seams wander as well.
// More would cost: of a large figured print the rest of the patch shows other
// figures than the whole.
const (
	seamInset   = 0.06
	besideInset = 0.10 // what lies between it and seamInset lies beside the seam
	wanderInset = 0.16
)

// strange is how far, as a share of its light, what lies beside a patch's
// seams may differ from the rest of the patch beyond the patch's own spread.
const strange = 0.03

// innerOutlines are the patches drawn in on all sides, ready to be measured, in
// pixels of the picture p.
func innerOutlines(g *grid.Grid, p *photo.Picture) [][][2]float64 {
	out := make([][][2]float64, len(g.Patches))
	photo.Bands(len(out), 8, func(from, to int) {
		for i := from; i < to; i++ {
			out[i] = innerOutline(g, g.Patches[i], p)
		}
	})
	return out
}

func innerOutline(g *grid.Grid, q grid.Patch, p *photo.Picture) [][2]float64 {
	deep := g.Inner(q, wanderInset)
	if !g.Found {
		return deep
	}
	near := g.Inner(q, seamInset)
	within := lightIn(p, cloth.Polygon(deep, p.W, p.H))
	beside := lightIn(p, cloth.Polygon(near, p.W, p.H)).less(lightIn(p, cloth.Polygon(g.Inner(q, besideInset), p.W, p.H)))
	if beside.n <= 0 || within.n <= 0 {
		return near
	}
	if math.Abs(beside.mean()-within.mean()) > strange*within.mean()+within.spread() {
		return deep
	}
	return near
}

// lightSums are a region's sums of luminance and of its square.
type lightSums struct{ n, sum, squares float64 }

// lightIn are the sums over a region with weights.
func lightIn(p *photo.Picture, r cloth.Region) (s lightSums) {
	wide, lum := r.Bounds.Dx(), colorspace.LuminanceWeights()
	for y := range r.Bounds.Dy() {
		row := p.Pix[3*((r.Bounds.Min.Y+y)*p.W+r.Bounds.Min.X):]
		for x, weight := range r.Weight[y*wide : (y+1)*wide] {
			if weight == 0 {
				continue
			}
			c := row[3*x : 3*x+3]
			a, v := float64(weight), lum[0]*float64(c[0])+lum[1]*float64(c[1])+lum[2]*float64(c[2])
			s.n, s.sum, s.squares = s.n+a, s.sum+a*v, s.squares+a*v*v
		}
	}
	return s
}

// eachIn calls do for the pixels of a region with their weights.
func eachIn(r cloth.Region, do func(x, y int, weight float64)) {
	for y := r.Bounds.Min.Y; y < r.Bounds.Max.Y; y++ {
		for x := r.Bounds.Min.X; x < r.Bounds.Max.X; x++ {
			do(x, y, weightAt(r, x, y))
		}
	}
}

// weightAt is the weight of a pixel within a region's bounds.
func weightAt(r cloth.Region, x, y int) float64 {
	if r.Weight == nil {
		return 1
	}
	return float64(r.Weight[(y-r.Bounds.Min.Y)*r.Bounds.Dx()+x-r.Bounds.Min.X])
}

// less is the part of s that lies outside of t, which lies within it.
func (s lightSums) less(t lightSums) lightSums {
	return lightSums{s.n - t.n, s.sum - t.sum, s.squares - t.squares}
}

func (s lightSums) mean() float64 { return s.sum / s.n }

func (s lightSums) spread() float64 {
	return math.Sqrt(max(s.squares/s.n-s.mean()*s.mean(), 0))
}
