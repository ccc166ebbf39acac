package teach

import (
	"math"

	"greige/analyze/grid"
	"greige/analyze/photo"
	"greige/colorspace"
)

func sq(v float64) float64   { return v * v }
func root(v float64) float64 { return math.Sqrt(v) }

// region is the mean light of some pixels.
type region struct {
	light   colorspace.Linear
	clipped float64 // share of the source pixels at either end of the scale
	n       int     // pixels
	spread  float64 // relative standard deviation of the luminance
	sum2    float64 // of the squares of the luminances
}

func (r *region) add(p *photo.Picture, x, y int) {
	i := y*p.W + x
	for k := range r.light {
		r.light[k] += float64(p.Pix[3*i+k])
	}
	r.sum2 += sq(p.At(x, y).Y())
	if p.Dark != nil {
		r.clipped += float64(p.Dark[i]) / 255
	}
	if p.Bright != nil {
		r.clipped += float64(p.Bright[i]) / 255
	}
	r.n++
}

func (r *region) finish() {
	if r.n > 0 {
		r.light = r.light.Times(1 / float64(r.n))
		if y := r.light.Y(); y > 0 {
			r.spread = root(max(r.sum2/float64(r.n)/(y*y)-1, 0))
		}
		r.clipped = min(1, r.clipped/float64(r.n))
	}
}

// measure is the mean over the pixels whose middles lie in a convex outline, clockwise
// as grid gives them.
func measure(p *photo.Picture, outline []grid.Point) (r region) {
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, q := range outline {
		x0, x1 = min(x0, q[0]), max(x1, q[0])
		y0, y1 = min(y0, q[1]), max(y1, q[1])
	}
	for y := max(int(y0), 0); y <= min(int(y1), p.H-1); y++ {
		for x := max(int(x0), 0); x <= min(int(x1), p.W-1); x++ {
			if inside(outline, float64(x)+.5, float64(y)+.5) {
				r.add(p, x, y)
			}
		}
	}
	r.finish()
	return r
}

func inside(outline []grid.Point, x, y float64) bool {
	for i, a := range outline {
		b := outline[(i+1)%len(outline)]
		if (b[0]-a[0])*(y-a[1])-(b[1]-a[1])*(x-a[0]) < 0 {
			return false
		}
	}
	return true
}
