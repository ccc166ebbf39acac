package scraps

import (
	"image"
	"math"

	"greige/analyze/ground"
	"greige/analyze/photo"
	"greige/colorspace"
)

// searchSide is how many pixels the longer side of the picture has in which pieces are
// looked for, at most. A gap of 1 % of it is still six pixels wide; more find no more
// on real photos, and take longer.
const searchSide = 600

// closeSide is the same where pieces were found to be small.
const closeSide = 1000

// small is a photo reduced for the search: the means of squares of r x r
// working pixels, which may be parts of pixels, in CIELAB with the brightest places brought to about L* 95,
// so that a dark exposure is searched as finely as a bright one.
type small struct {
	w, h    int
	r       float64 // working pixels to one of the search, each way
	gain    float32 // that the linear light was multiplied by
	l, a, b []float32
	log     *ground.Picture // the same in log luminance and chromaticities
	gone    []bool          // known to be no cloth and no ground; nil when nothing is
}

// reduce makes the small picture, of some side pixels. ignore is in working
// pixels.
func reduce(p *photo.Picture, ignore []image.Rectangle, side float64) *small {
	r := max(1, float64(max(p.W, p.H))/side)
	s := &small{w: int(math.Ceil(float64(p.W)/r - 1e-6)), h: int(math.Ceil(float64(p.H)/r - 1e-6)), r: r}
	n := s.w * s.h
	light := make([]float32, 3*n)
	photo.Bands(s.h, 16, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			s.shrinkRow(p, y, light[3*y*s.w:3*(y+1)*s.w])
		}
	})
	gain := float32(1 / max(bright(light), 1e-4))
	s.gain = gain
	s.l, s.a, s.b = make([]float32, n), make([]float32, n), make([]float32, n)
	for i := range light {
		light[i] *= gain
	}
	s.log = ground.NewPicture(light, s.w, s.h)
	photo.Bands(s.h, 16, func(y0, y1 int) {
		rows := light[3*y0*s.w : 3*y1*s.w]
		colorspace.LabRow(rows, rows)
		for i := range (y1 - y0) * s.w {
			s.l[y0*s.w+i], s.a[y0*s.w+i], s.b[y0*s.w+i] = rows[3*i], rows[3*i+1], rows[3*i+2]
		}
	})
	for _, g := range ignore {
		g = g.Intersect(image.Rect(0, 0, p.W, p.H))
		if g.Empty() {
			continue
		}
		if s.gone == nil {
			s.gone = make([]bool, n)
		}
		for y := int(float64(g.Min.Y) / r); y <= min(int(float64(g.Max.Y-1)/r), s.h-1); y++ {
			for x := int(float64(g.Min.X) / r); x <= min(int(float64(g.Max.X-1)/r), s.w-1); x++ {
				s.gone[y*s.w+x] = true
			}
		}
	}
	return s
}

// shrinkRow averages linear light into one row of the small picture.
func (s *small) shrinkRow(p *photo.Picture, y int, dst []float32) {
	if s.r == 1 {
		copy(dst, p.Pix[3*y*p.W:3*(y+1)*p.W])
		return
	}
	from, to := float64(y)*s.r, min(float64(y+1)*s.r, float64(p.H))
	line := make([]float32, 3*p.W)
	for yy := int(from); yy < p.H && float64(yy) < to; yy++ {
		k := float32((min(float64(yy+1), to) - max(float64(yy), from)) / (to - from))
		for i, v := range p.Pix[3*yy*p.W : 3*(yy+1)*p.W] {
			line[i] += k * v
		}
	}
	for x := range s.w {
		from, to := float64(x)*s.r, min(float64(x+1)*s.r, float64(p.W))
		d := dst[3*x : 3*x+3]
		for xx := int(from); xx < p.W && float64(xx) < to; xx++ {
			k := float32((min(float64(xx+1), to) - max(float64(xx), from)) / (to - from))
			d[0] += k * line[3*xx]
			d[1] += k * line[3*xx+1]
			d[2] += k * line[3*xx+2]
		}
	}
}

// bright is the luminance that one pixel in fifty exceeds, brought to what a
// sheet of white paper sends back (0.88, L* 95).
func bright(light []float32) float64 {
	const steps = 2048
	var count [steps]int
	w := colorspace.LuminanceWeights()
	n := 0
	for i := 0; i+2 < len(light); i += 3 * 7 {
		y := w[0]*float64(light[i]) + w[1]*float64(light[i+1]) + w[2]*float64(light[i+2])
		count[min(max(int(math.Sqrt(max(y, 0))*steps/2), 0), steps-1)]++
		n++
	}
	left := n / 50
	for k := steps - 1; k > 0; k-- {
		if left -= count[k]; left < 0 {
			return sq(float64(k+1)*2/steps) / .88
		}
	}
	return 1
}

func sq(v float64) float64 { return v * v }

func sq32(v float32) float32 { return v * v }
