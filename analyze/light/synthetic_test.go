package light

import (
	"math"

	"greige/analyze/photo"
	"greige/colorspace"
)

// A small photo of our own, in linear light: reflectance x illumination, with
// grain and noise that are the same on every run.

const (
	testW = 480
	testH = 360
)

// grain is an even random number, -1..1, that depends on its place alone
// (the finaliser of SplitMix64, Steele, Lea and Flood 2014).
func grain(seed, x, y int) float64 {
	z := uint64(seed)*0x9e3779b97f4a7c15 + uint64(x)*0xd1b54a32d192ed03 + uint64(y)*0x8cb92ba72f3d8dd7
	z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
	z = (z ^ z>>27) * 0x94d049bb133111eb
	return float64(int64(z^z>>31)) / (1 << 63)
}

// shot lights and photographs a surface; u and v run from -1 to 1.
func shot(surface func(x, y int) colorspace.Linear, light func(u, v float64) colorspace.Linear) *photo.Photo {
	return plain(testW, testH, func(x, y int) colorspace.Linear {
		c := surface(x, y)
		e := light(2*(float64(x)+.5)/testW-1, 2*(float64(y)+.5)/testH-1)
		for k := range c {
			c[k] *= e[k] * (1 + .03*grain(k, x, y))
		}
		return c
	})
}

func even(u, v float64) colorspace.Linear { return colorspace.Linear{1, 1, 1} }

// bulb is a bare bulb beside and above the scene: the irradiance of a point
// source, cosine over distance squared, which is no polynomial. ratio is
// about how much brighter the near end is.
func bulb(ratio float64, cast colorspace.Linear) func(u, v float64) colorspace.Linear {
	at := func(h, u, v float64) float64 {
		d := (u+1)*(u+1) + .56*(v+.5)*(v+.5) + h*h
		return h / (d * math.Sqrt(d))
	}
	lo, hi := .3, 30.0
	for range 60 { // a higher bulb is more even
		h := math.Sqrt(lo * hi)
		if at(h, -1, -.5)/at(h, 1, 1) > ratio {
			lo = h
		} else {
			hi = h
		}
	}
	h := math.Sqrt(lo * hi)
	mid := at(h, 0, 0)
	return func(u, v float64) colorspace.Linear {
		e := at(h, u, v) / mid
		return colorspace.Linear{e * cast[0], e * cast[1], e * cast[2]}
	}
}

// illuminantA is the cast of a bulb that the camera has not balanced, by the
// white point of CIE 15:2018.
func illuminantA() colorspace.Linear {
	return colorspace.XYZ{X: 1.0985, Y: 1, Z: .35585}.Linear()
}

func gray(l float64) colorspace.Linear { return colorspace.Lab{L: l}.Linear() }

// square is one piece of cloth lying in the photo.
type square struct {
	x0, y0, x1, y1 int
	lab            colorspace.Lab
}

// table has 12 pieces, of all lightnesses and hues, on a ground.
func table() []square {
	var out []square
	for i := range 12 {
		x, y := 40+110*(i%4), 30+115*(i/4)
		h := float64(i) * 2.4
		c := float64(i%3) * 9
		out = append(out, square{x, y, x + 70, y + 70, colorspace.Lab{L: 18 + 6.2*float64((i*5)%12), A: c * math.Cos(h), B: c * math.Sin(h)}})
	}
	return out
}

func lay(pieces []square, ground func(x, y int) colorspace.Linear) func(x, y int) colorspace.Linear {
	return func(x, y int) colorspace.Linear {
		for _, p := range pieces {
			if x >= p.x0 && x < p.x1 && y >= p.y0 && y < p.y1 {
				return p.lab.Linear()
			}
		}
		return ground(x, y)
	}
}

func on(l colorspace.Lab) func(x, y int) colorspace.Linear {
	return func(x, y int) colorspace.Linear { return l.Linear() }
}

// mean is the mean light of p well inside a piece.
func (s square) mean(p *photo.Picture) colorspace.Linear {
	var m colorspace.Linear
	n := 0.0
	for y := s.y0 + 4; y < s.y1-4; y++ {
		for x := s.x0 + 4; x < s.x1-4; x++ {
			c := p.At(x, y)
			for k := range m {
				m[k] += c[k]
			}
			n++
		}
	}
	for k := range m {
		m[k] /= n
	}
	return m
}

// meanOver is the mean of what at gives where in is true.
func meanOver(at func(x, y int) colorspace.Linear, in func(x, y int) bool) colorspace.Linear {
	var m colorspace.Linear
	n := 0.0
	for y := range testH {
		for x := range testW {
			if in(x, y) {
				c := at(x, y)
				for k := range m {
					m[k] += c[k]
				}
				n++
			}
		}
	}
	for k := range m {
		m[k] /= n
	}
	return m
}

// misses are measured minus true L* of each piece.
func misses(p *photo.Picture, pieces []square) []float64 {
	var out []float64
	for _, s := range pieces {
		out = append(out, s.mean(p).Lab().L-s.lab.L)
	}
	return out
}

func worst(v []float64) float64 {
	w := 0.0
	for _, x := range v {
		w = max(w, math.Abs(x))
	}
	return w
}

// ratios are ln of measured over true luminance, less their mean: what is
// wrong between the pieces when the level is not known.
func ratios(p *photo.Picture, pieces []square) []float64 {
	var out []float64
	mean := 0.0
	for _, s := range pieces {
		l := s.lab.Linear()
		r := math.Log(s.mean(p).Y() / l.Y())
		out = append(out, r)
		mean += r / float64(len(pieces))
	}
	for i := range out {
		out[i] -= mean
	}
	return out
}
