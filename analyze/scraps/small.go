package scraps

import (
	"image"
	"math"

	"greige/analyze/ground"
	"greige/analyze/photo"
	"greige/colorspace"
)

// searchSide is about how many pixels the longer side of the picture has in
// which pieces are looked for. A gap of 1 % of it is still six pixels wide.
const searchSide = 900

// closeSide is the same where pieces were found to be small.
const closeSide = 1000

// small is a photo reduced for the search: the means of blocks of r x r
// working pixels, in CIELAB with the brightest places brought to about L* 95,
// so that a dark exposure is searched as finely as a bright one.
type small struct {
	w, h, r int
	gain    float32 // that the linear light was multiplied by
	l, a, b []float32
	log     *ground.Picture // the same in log luminance and chromaticities
	gone    []bool          // known to be no cloth and no ground; nil when nothing is
}

// reduce makes the small picture, of some side pixels. ignore is in working
// pixels.
func reduce(p *photo.Picture, ignore []image.Rectangle, side float64) *small {
	r := max(1, int(math.Round(float64(max(p.W, p.H))/side)))
	s := &small{w: (p.W + r - 1) / r, h: (p.H + r - 1) / r, r: r}
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
		for y := g.Min.Y / r; y <= (g.Max.Y-1)/r; y++ {
			for x := g.Min.X / r; x <= (g.Max.X-1)/r; x++ {
				s.gone[y*s.w+x] = true
			}
		}
	}
	return s
}

// shrinkRow averages linear light into one row of the small picture.
func (s *small) shrinkRow(p *photo.Picture, y int, dst []float32) {
	r := s.r
	y0, y1 := y*r, min((y+1)*r, p.H)
	whole := 0 // blocks of two by two, the usual ones
	if r == 2 && y1 == y0+2 {
		whole = p.W / 2
		a, b := p.Pix[3*y0*p.W:][:6*whole], p.Pix[3*(y0+1)*p.W:][:6*whole]
		out := dst[:3*whole]
		for len(out) >= 3 && len(a) >= 6 && len(b) >= 6 {
			out[0] = a[0] + a[3] + b[0] + b[3]
			out[1] = a[1] + a[4] + b[1] + b[4]
			out[2] = a[2] + a[5] + b[2] + b[5]
			out, a, b = out[3:], a[6:], b[6:]
		}
	}
	for yy := y0; yy < y1; yy++ {
		row := p.Pix[3*yy*p.W : 3*(yy+1)*p.W]
		for x := whole; x < s.w; x++ {
			block := row[3*x*r : 3*min((x+1)*r, p.W)]
			var c0, c1, c2 float32
			for i := 0; i+2 < len(block); i += 3 {
				c0 += block[i]
				c1 += block[i+1]
				c2 += block[i+2]
			}
			d := dst[3*x : 3*x+3]
			d[0] += c0
			d[1] += c1
			d[2] += c2
		}
	}
	for x := range s.w {
		n := float32((y1 - y0) * (min((x+1)*r, p.W) - x*r))
		for i := 3 * x; i < 3*x+3; i++ {
			dst[i] /= n
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
