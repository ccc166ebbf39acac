package grid

import (
	"math"

	"greige/analyze/fit"
	"greige/analyze/photo"
	"greige/analyze/raster"
	"greige/colorspace"
)

// tones is a picture in CIELAB, row by row: seams are looked for where cloth
// differs to the eye, in value or in colour.
type tones struct {
	w, h int
	lab  [][3]float32
}

func newTones(w, h int) *tones { return &tones{w, h, make([][3]float32, w*h)} }

// tonesOf converts a picture. Light is held between black and half as much again as
// white: no cloth shines more, and what is no number is black.
func tonesOf(p *photo.Picture) *tones {
	t := newTones(p.W, p.H)
	raster.Bands(p.H, 32, func(y0, y1 int) {
		row := make([]float32, 3*p.W)
		for y := y0; y < y1; y++ {
			for i, v := range p.Pix[3*y*p.W : 3*(y+1)*p.W] {
				if row[i] = min(v, 1.5); !(v > 0) {
					row[i] = 0
				}
			}
			colorspace.LabRow(row, row)
			for x := range p.W {
				t.lab[y*p.W+x] = [3]float32(row[3*x:])
			}
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

// tensorBlur is the standard deviation, in pixels, of the structure tensor's blur: about
// the camera's own. (The mean over a square has a plateau, whose highest place is noise.)
const tensorBlur = 1.2

// edgesOf are the edges of a picture, thinned to one pixel: the structure
// tensor over all three planes (Di Zenzo 1986), blurred, its greatest changes across
// the line.
func edgesOf(t *tones) []edge {
	const rim = 3 // pixels, in which there are none
	n := t.w * t.h
	if min(t.w, t.h) <= 2*rim {
		return nil
	}
	xx, xy, yy := make([]float32, n), make([]float32, n), make([]float32, n)
	photo.Bands(t.h-2, 32, func(y0, y1 int) {
		for y := y0 + 1; y < y1+1; y++ {
			up, at, down := t.lab[(y-1)*t.w:], t.lab[y*t.w:], t.lab[(y+1)*t.w:]
			for x := 1; x < t.w-1; x++ {
				i := y*t.w + x
				for k, weight := range weights {
					gx := (3*(up[x+1][k]-up[x-1][k]) + 10*(at[x+1][k]-at[x-1][k]) + 3*(down[x+1][k]-down[x-1][k])) / 32
					gy := (3*(down[x-1][k]-up[x-1][k]) + 10*(down[x][k]-up[x][k]) + 3*(down[x+1][k]-up[x+1][k])) / 32
					weight *= weight
					xx[i] += weight * gx * gx
					xy[i] += weight * gx * gy
					yy[i] += weight * gy * gy
				}
			}
		}
	})
	for _, p := range []*[]float32{&xx, &xy, &yy} {
		*p = raster.Blur(*p, t.w, t.h, tensorBlur)
	}
	// At most about an eighth of the pixels, and nothing fainter than half a
	// unit of CIELAB a pixel.
	energy := make([]float32, 0, n/16+1)
	for i := 0; i < n; i += 16 { // enough to tell a quantile by
		energy = append(energy, xx[i]+yy[i])
	}
	threshold := max(fit.Quantile(energy, .88), .25) // see above
	var out []edge
	for y := rim; y < t.h-rim; y++ {
		for x := rim; x < t.w-rim; x++ {
			i := y*t.w + x
			sum := xx[i] + yy[i]
			if sum < threshold {
				continue
			}
			diff := xx[i] - yy[i]
			coherence2 := (diff*diff + 4*xy[i]*xy[i]) / (sum * sum)
			if coherence2 < 0.25 { // half as much along the line as across it
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

// weights are what a difference in L*, in a* and in b* counts: the camera's noise
// is larger in colour, which is coded more coarsely too.
var weights = [3]float32{1, .7, .7}

func abs[T int | int32 | float32 | float64](v T) T {
	if v < 0 {
		return -v
	}
	return v
}
