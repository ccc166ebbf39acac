package photo

import (
	"image"
	"slices"

	"greige/colorspace"
)

// RGBA is p as an 8-bit sRGB image for the screen: clipped to the gamut, so
// for showing only, never for a figure.
func (p *Picture) RGBA() *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, p.W, p.H))
	eachRow(p.H, func(y int) {
		src, dst := p.row(y), img.Pix[y*img.Stride:]
		for ; len(src) >= 3; src, dst = src[3:], dst[4:] {
			dst[0] = colorspace.Encode8(src[0])
			dst[1] = colorspace.Encode8(src[1])
			dst[2] = colorspace.Encode8(src[2])
			dst[3] = 255
		}
	})
	return img
}

// Grey is p as an honest 8-bit grey image: the grey that has the CIE Y of
// each pixel, never an average of its R, G and B.
func (p *Picture) Grey() *image.Gray {
	w := colorspace.LuminanceWeights()
	wr, wg, wb := float32(w[0]), float32(w[1]), float32(w[2])
	img := image.NewGray(image.Rect(0, 0, p.W, p.H))
	eachRow(p.H, func(y int) {
		src, dst := p.row(y), img.Pix[y*img.Stride:]
		for ; len(src) >= 3; src, dst = src[3:], dst[1:] {
			dst[0] = colorspace.Encode8(wr*src[0] + wg*src[1] + wb*src[2])
		}
	})
	return img
}

// row is the components of row y.
func (p *Picture) row(y int) []float32 { return p.Pix[3*y*p.W : 3*(y+1)*p.W] }

// Crop is a copy of the part of p inside r, which is cut to the picture. The
// clipping shares come along.
func (p *Picture) Crop(r image.Rectangle) *Picture { return p.CropInto(&Picture{}, r) }

// CropInto is Crop that takes q's memory, where it has enough, and returns q.
func (p *Picture) CropInto(q *Picture, r image.Rectangle) *Picture {
	r = r.Intersect(image.Rect(0, 0, p.W, p.H))
	q.W, q.H = r.Dx(), r.Dy()
	q.Pix = slices.Grow(q.Pix[:0], 3*q.W*q.H)[:3*q.W*q.H]
	shares := func(of []uint8) []uint8 {
		if of == nil {
			return nil
		}
		out := make([]uint8, q.W*q.H)
		for y := range q.H {
			copy(out[y*q.W:(y+1)*q.W], of[(r.Min.Y+y)*p.W+r.Min.X:])
		}
		return out
	}
	for y := range q.H {
		copy(q.row(y), p.Pix[3*((r.Min.Y+y)*p.W+r.Min.X):])
	}
	q.Dark, q.Bright = shares(p.Dark), shares(p.Bright)
	return q
}

// Within is p averaged in linear light down to at most maxSide pixels along
// its longer side, by areas (each new pixel is the mean of what it covers).
// A picture that is small enough already is returned as it is.
func (p *Picture) Within(maxSide int) *Picture {
	long := max(p.W, p.H)
	if long <= maxSide || maxSide < 1 {
		return p
	}
	f := float64(maxSide) / float64(long)
	return p.Resample(max(1, int(float64(p.W)*f+.5)), max(1, int(float64(p.H)*f+.5)))
}

// Resample is p averaged by areas, in linear light, to w x h pixels, neither
// of which may be larger than p's own. The clipping shares are not carried.
func (p *Picture) Resample(w, h int) *Picture {
	// Columns first, then rows: the two one-dimensional means of the areas.
	across, down := areas(p.W, w), areas(p.H, h)
	out := New(w, h)
	Bands(h, 32, func(from, to int) {
		narrow, held := make([]float32, 3*w), -1 // the row of p that was narrowed last
		for y := from; y < to; y++ {
			dst := out.row(y)
			for k, a := range down[y].weight {
				if row := down[y].first + k; row != held {
					narrowed(narrow, p.row(row), across)
					held = row
				}
				for i, v := range narrow {
					dst[i] += a * v
				}
			}
		}
	})
	return out
}

// narrowed sets dst to the means of the spans of a row. The pixels between the
// ends of a span weigh the same, so only their sum is weighed.
func narrowed(dst, src []float32, spans []span) {
	for x := range spans {
		s := &spans[x]
		last := len(s.weight) - 1
		from := src[3*s.first:][:3*last+3]
		a := s.weight[0]
		r, g, b := a*from[0], a*from[1], a*from[2]
		if last > 0 {
			a := s.weight[last]
			r, g, b = r+a*from[3*last], g+a*from[3*last+1], b+a*from[3*last+2]
			var mr, mg, mb float32
			for in := from[3 : 3*last]; len(in) >= 3; in = in[3:] {
				mr, mg, mb = mr+in[0], mg+in[1], mb+in[2]
			}
			if last > 1 {
				a := s.weight[1]
				r, g, b = r+a*mr, g+a*mg, b+a*mb
			}
		}
		out := dst[3*x:][:3]
		out[0], out[1], out[2] = r, g, b
	}
}

// span is the run of source pixels that one target pixel covers, with the
// share of the target that each has: the same for all but the ends.
type span struct {
	first  int
	weight []float32
}

// areas divides n source pixels among m <= n targets of equal width.
func areas(n, m int) []span {
	spans := make([]span, m)
	weights := make([]float32, 0, n+2*m) // of all spans, one behind the other
	step := float64(n) / float64(m)
	for i := range spans {
		lo, hi := float64(i)*step, float64(i+1)*step
		first := int(lo)
		last := min(int(hi), n-1)
		from := len(weights)
		for k := first; k <= last; k++ {
			a := min(hi, float64(k+1)) - max(lo, float64(k))
			if a <= 1e-9 && len(weights) > from {
				break
			}
			weights = append(weights, float32(a/step))
		}
		spans[i] = span{first, weights[from:len(weights):len(weights)]}
	}
	return spans
}
