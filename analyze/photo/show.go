package photo

import (
	"image"

	"greige/colorspace"
)

// RGBA is p as an 8-bit sRGB image for the screen: clipped to the gamut, so
// for showing only, never for a figure.
func (p *Picture) RGBA() *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, p.W, p.H))
	for i, o := 0, 0; i < len(p.Pix); i, o = i+3, o+4 {
		img.Pix[o] = colorspace.Encode8(p.Pix[i])
		img.Pix[o+1] = colorspace.Encode8(p.Pix[i+1])
		img.Pix[o+2] = colorspace.Encode8(p.Pix[i+2])
		img.Pix[o+3] = 255
	}
	return img
}

// Grey is p as an honest 8-bit grey image: the grey that has the CIE Y of
// each pixel, never an average of its R, G and B.
func (p *Picture) Grey() *image.Gray {
	w := colorspace.LuminanceWeights()
	wr, wg, wb := float32(w[0]), float32(w[1]), float32(w[2])
	img := image.NewGray(image.Rect(0, 0, p.W, p.H))
	for i, o := 0, 0; i < len(p.Pix); i, o = i+3, o+1 {
		img.Pix[o] = colorspace.Encode8(wr*p.Pix[i] + wg*p.Pix[i+1] + wb*p.Pix[i+2])
	}
	return img
}

// Crop is a copy of the part of p inside r, which is cut to the picture.
func (p *Picture) Crop(r image.Rectangle) *Picture {
	r = r.Intersect(image.Rect(0, 0, p.W, p.H))
	q := New(r.Dx(), r.Dy())
	for y := range q.H {
		copy(q.Pix[3*y*q.W:3*(y+1)*q.W], p.Pix[3*((r.Min.Y+y)*p.W+r.Min.X):])
	}
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
	// Rows first, then columns: the two one-dimensional means of the areas.
	rows := New(w, p.H)
	spans := areas(p.W, w)
	for y := range p.H {
		src, dst := p.Pix[3*y*p.W:3*(y+1)*p.W], rows.Pix[3*y*w:]
		for x, s := range spans {
			var r, g, b float32
			for k, a := range s.weight {
				i := 3 * (s.first + k)
				r, g, b = r+a*src[i], g+a*src[i+1], b+a*src[i+2]
			}
			dst[3*x], dst[3*x+1], dst[3*x+2] = r, g, b
		}
	}
	out := New(w, h)
	for y, s := range areas(p.H, h) {
		dst := out.Pix[3*y*w : 3*(y+1)*w]
		for k, a := range s.weight {
			src := rows.Pix[3*(s.first+k)*w:]
			for i := range dst {
				dst[i] += a * src[i]
			}
		}
	}
	return out
}

// span is the run of source pixels that one target pixel covers, with the
// share of the target that each has.
type span struct {
	first  int
	weight []float32
}

// areas divides n source pixels among m <= n targets of equal width.
func areas(n, m int) []span {
	spans := make([]span, m)
	step := float64(n) / float64(m)
	for i := range spans {
		lo, hi := float64(i)*step, float64(i+1)*step
		first := int(lo)
		last := min(int(hi), n-1)
		s := span{first: first}
		for k := first; k <= last; k++ {
			a := min(hi, float64(k+1)) - max(lo, float64(k))
			if a <= 1e-9 && len(s.weight) > 0 {
				break
			}
			s.weight = append(s.weight, float32(a/step))
		}
		spans[i] = s
	}
	return spans
}
