package scene

import (
	"image"
	"math"
	"math/rand/v2"

	"greige/colorspace"
)

// develop takes the light through lens, sensor, rendering and encoding. mean
// is that of the light's components, exposure 1.
func (s *stage) develop(light []float32, mean [3]float64, e exposure) image.Image {
	t := s.take
	w, h := t.Width, t.Height
	kernel := sharpened(gaussian(t.Camera.Blur), t.Camera.Sharpen)
	r := len(kernel) / 2
	if r > 0 {
		bands(h, t.Workers, func() []float32 { return make([]float32, 3*w) }, func(line []float32, lo, hi int) {
			for y := lo; y < hi; y++ {
				blurRow(light[3*w*y:3*w*(y+1)], line, kernel)
			}
		})
	}
	deep := t.Camera.Format == PNG16
	top := 255
	if deep {
		top = 65535
	}
	curve := t.Camera.curve(top)
	var small *image.RGBA
	var large *image.RGBA64
	if deep {
		large = image.NewRGBA64(image.Rect(0, 0, w, h))
	} else {
		small = image.NewRGBA(image.Rect(0, 0, w, h))
	}
	noise := t.Camera.noise(e.iso)
	for i := range mean {
		mean[i] *= e.gain
	}
	render := t.Camera.Rendering.renderer(mean)
	toFile := t.Camera.Space.ToLinearSRGB().Inverse()
	bands(h, t.Workers, func() []float32 { return make([]float32, 3*w) }, func(row []float32, lo, hi int) {
		for y := lo; y < hi; y++ {
			clear(row)
			for k, weight := range kernel {
				from := min(max(y+k-r, 0), h-1)
				weight *= float32(e.gain)
				for i, v := range light[3*w*from : 3*w*(from+1)] {
					row[i] += weight * v
				}
			}
			noise.add(row, rand.New(rand.NewPCG(t.Seed^0x5eed, uint64(y))))
			for x := range w {
				px := render.at([3]float32(row[3*x:]))
				if t.Camera.Space != colorspace.SRGB {
					v := toFile.Apply([3]float64{float64(px[0]), float64(px[1]), float64(px[2])})
					px = [3]float32{float32(v[0]), float32(v[1]), float32(v[2])}
				}
				if deep {
					p := large.Pix[8*(w*y+x):]
					for j, v := range px {
						c := curve.at(v)
						p[2*j], p[2*j+1] = uint8(c>>8), uint8(c)
					}
					p[6], p[7] = 255, 255
					continue
				}
				p := small.Pix[4*(w*y+x):][:4]
				p[0], p[1], p[2], p[3] = uint8(curve.at(px[0])), uint8(curve.at(px[1])), uint8(curve.at(px[2])), 255
			}
		}
	})
	if deep {
		return large
	}
	return small
}

// gaussian is a kernel of the given standard deviation that adds up to 1.
func gaussian(sigma float64) []float32 {
	if sigma <= 0 {
		return []float32{1}
	}
	r := int(math.Ceil(3 * sigma))
	k := make([]float32, 2*r+1)
	var sum float64
	for i := range k {
		x := float64(i - r)
		// The light on a pixel is what falls on all of it: integrate.
		g := math.Erf((x+.5)/sigma/math.Sqrt2) - math.Erf((x-.5)/sigma/math.Sqrt2)
		k[i] = float32(g)
		sum += g
	}
	for i := range k {
		k[i] /= float32(sum)
	}
	return k
}

// sharpened is a kernel with an unsharp mask: what a further blur of 1.2
// pixels takes away is added, which leaves flat areas as they are and puts
// a light and a dark line along edges.
func sharpened(k []float32, amount float64) []float32 {
	if amount <= 0 {
		return k
	}
	wide := gaussian(1.2)
	n, r := len(k), len(wide)/2
	out := make([]float32, n+2*r)
	for i, v := range k {
		out[i+r] += float32(1+amount) * v
		for j, w := range wide {
			out[i+j] -= float32(amount) * v * w
		}
	}
	return out
}

// blurRow blurs one row in place; line is room for its old values.
func blurRow(row, line, kernel []float32) {
	copy(line, row)
	r, n := len(kernel)/2, len(row)/3
	for x := range n {
		var a, b, c float32
		for k, g := range kernel {
			i := 3 * min(max(x+k-r, 0), n-1)
			a += g * line[i]
			b += g * line[i+1]
			c += g * line[i+2]
		}
		row[3*x], row[3*x+1], row[3*x+2] = a, b, c
	}
}
