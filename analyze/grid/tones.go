package grid

import (
	"image"
	"math"

	"greige/analyze/photo"
	"greige/analyze/raster"
	"greige/colorspace"
)

// tones is a picture in CIELAB, one plane each for L*, a* and b*: seams are
// looked for where cloth differs to the eye, in value or in colour.
type tones struct {
	w, h  int
	plane [3][]float32
}

func newTones(w, h int) *tones {
	t := &tones{w: w, h: h}
	for k := range t.plane {
		t.plane[k] = make([]float32, w*h)
	}
	return t
}

// The cube root of CIELAB from a table: far finer than the noise of a photo,
// and some ten times as fast. Light above tableTop is taken for tableTop.
const (
	tableTop   = 1.5
	tableSteps = 1 << 13
)

var cubeRoot = func() *[tableSteps + 2]float32 {
	var t [tableSteps + 2]float32
	for i := range t {
		v := float64(i) * tableTop / tableSteps
		t[i] = float32((colorspace.Lightness(v) + 16) / 116)
	}
	return &t
}()

func labRoot(v float32) float32 {
	v *= tableSteps / tableTop
	if !(v > 0) { // also NaN
		return cubeRoot[0]
	}
	if v >= tableSteps {
		return cubeRoot[tableSteps]
	}
	i := int(v)
	return cubeRoot[i] + (v-float32(i))*(cubeRoot[i+1]-cubeRoot[i])
}

// tonesOf converts a picture.
func tonesOf(p *photo.Picture) *tones {
	t := newTones(p.W, p.H)
	// Linear light to X, Y, Z relative to white, from the one matrix there is.
	var m [3][3]float32
	white := colorspace.WhiteD65()
	for k := range 3 {
		var unit colorspace.Linear
		unit[k] = 1
		x := unit.XYZ()
		m[0][k], m[1][k], m[2][k] = float32(x.X/white.X), float32(x.Y/white.Y), float32(x.Z/white.Z)
	}
	photo.Bands(p.H, 32, func(y0, y1 int) {
		for i := y0 * p.W; i < y1*p.W; i++ {
			r, g, b := p.Pix[3*i], p.Pix[3*i+1], p.Pix[3*i+2]
			fx := labRoot(m[0][0]*r + m[0][1]*g + m[0][2]*b)
			fy := labRoot(m[1][0]*r + m[1][1]*g + m[1][2]*b)
			fz := labRoot(m[2][0]*r + m[2][1]*g + m[2][2]*b)
			t.plane[0][i] = 116*fy - 16
			t.plane[1][i] = 500 * (fx - fy)
			t.plane[2][i] = 200 * (fy - fz)
		}
	})
	return t
}

// edge is a pixel where the picture changes sharply, the direction of its line
// in radians, 0..pi from the x axis towards the y axis, and its weight, 0..1.
type edge struct {
	x, y        int32
	dir, weight float32
}

// edgesOf are the edges of a picture, thinned to one pixel: the structure
// tensor over all three planes (Di Zenzo 1986), averaged over 5 x 5 pixels,
// its greatest changes across the line.
func edgesOf(t *tones) []edge {
	n := t.w * t.h
	xx, xy, yy := make([]float32, n), make([]float32, n), make([]float32, n)
	photo.Bands(t.h-2, 32, func(y0, y1 int) {
		for y := y0 + 1; y < y1+1; y++ {
			for k := range 3 {
				weight := float32(1)
				if k > 0 {
					weight = chromaWeight * chromaWeight
				}
				up, at, down := t.plane[k][(y-1)*t.w:], t.plane[k][y*t.w:], t.plane[k][(y+1)*t.w:]
				for x := 1; x < t.w-1; x++ {
					gx := (3*(up[x+1]-up[x-1]) + 10*(at[x+1]-at[x-1]) + 3*(down[x+1]-down[x-1])) / 32
					gy := (3*(down[x-1]-up[x-1]) + 10*(down[x]-up[x]) + 3*(down[x+1]-up[x+1])) / 32
					i := y*t.w + x
					xx[i] += weight * gx * gx
					xy[i] += weight * gx * gy
					yy[i] += weight * gy * gy
				}
			}
		}
	})
	for _, p := range []*[]float32{&xx, &xy, &yy} {
		*p = meanAround(*p, t.w, t.h, 2)
	}
	// At most about an eighth of the pixels, and nothing fainter than half a
	// unit of CIELAB a pixel.
	threshold := max(quantile(xx, yy, .88), .25)
	var out []edge
	const rim = 3
	for y := rim; y < t.h-rim; y++ {
		for x := rim; x < t.w-rim; x++ {
			i := y*t.w + x
			sum := xx[i] + yy[i]
			if sum < threshold {
				continue
			}
			diff := xx[i] - yy[i]
			coherence2 := (diff*diff + 4*xy[i]*xy[i]) / (sum * sum)
			if coherence2 < 0.25 {
				continue
			}
			// Thinned across the line, by its nearest of four directions.
			step := 1
			switch {
			case diff < 0 && -diff > 2*abs(xy[i]):
				step = t.w
			case diff > 0 && diff > 2*abs(xy[i]):
				step = 1
			case xy[i] > 0:
				step = t.w + 1
			default:
				step = t.w - 1
			}
			if before, after := xx[i-step]+yy[i-step], xx[i+step]+yy[i+step]; before > sum || after >= sum {
				continue
			}
			normal := 0.5 * math.Atan2(float64(2*xy[i]), float64(diff))
			dir := normal + math.Pi/2
			if dir >= math.Pi {
				dir -= math.Pi
			}
			weight := math.Sqrt(float64(coherence2)) * min(1, math.Sqrt(float64(sum))/4)
			out = append(out, edge{int32(x), int32(y), float32(dir), float32(weight)})
		}
	}
	return out
}

// chromaWeight is what a difference in a* or b* counts beside one in L*: the
// camera's noise is larger there, and its colour is coded more coarsely.
const chromaWeight = 0.7

func abs[T int | float32 | float64](v T) T {
	if v < 0 {
		return -v
	}
	return v
}

// meanAround is the mean over (2r+1) x (2r+1) pixels.
func meanAround(v []float32, w, h, r int) []float32 {
	sums := raster.NewSums(v, w, h)
	out := make([]float32, len(v))
	raster.Bands(h, 32, func(y0, y1 int) {
		for i := y0 * w; i < y1*w; i++ {
			x, y := i%w, i/w
			out[i] = float32(sums.Mean(image.Rect(x-r, y-r, x+r+1, y+r+1)))
		}
	})
	return out
}

// quantile is about the q-quantile of a[i] + b[i], from every 16th pixel.
func quantile(a, b []float32, q float64) float32 {
	// Counted on a logarithmic scale from 1e-4 to 1e4, forty steps a decade.
	const steps, decades = 320, 8
	var count [steps]int
	total := 0
	for i := 0; i < len(a); i += 16 {
		k := int((math.Log10(float64(a[i]+b[i])+1e-9) + 4) * steps / decades)
		count[min(max(k, 0), steps-1)]++
		total++
	}
	need := int(q * float64(total))
	for k, c := range count {
		if need -= c; need < 0 {
			return float32(math.Pow(10, float64(k+1)*decades/steps-4))
		}
	}
	return 1e4
}
