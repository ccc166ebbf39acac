package teach

import (
	"image"
	"math"

	"greige/analyze/grid"
	"greige/analyze/photo"
	"greige/analyze/raster"
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

// measure is the mean over the pixels whose middles lie in an outline.
func measure(p *photo.Picture, outline []grid.Point) (r region) {
	raster.Fill(outline, image.Rect(0, 0, p.W, p.H)).Each(func(x, y int) { r.add(p, x, y) })
	r.finish()
	return r
}
