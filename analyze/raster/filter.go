package raster

import "math"

// Blur convolves a plane of w x h values with a Gaussian of standard deviation
// sigma, in pixels, cut off at 3 sigma. At the border it divides by the part of
// the kernel that lies inside, so that a constant stays one.
func Blur(v []float32, w, h int, sigma float64) []float32 {
	taps := gaussian(sigma)
	out := make([]float32, len(v))
	mid := make([]float32, len(v))
	r := len(taps) - 1
	share := func(k, n int) float32 { // of the kernel, about pixel k of n
		sum := float32(0)
		for d := -r; d <= r; d++ {
			if k+d >= 0 && k+d < n {
				sum += taps[max(d, -d)]
			}
		}
		return 1 / sum
	}
	down, across := make([]float32, h), make([]float32, w)
	for y := range down {
		down[y] = share(y, h)
	}
	for x := range across {
		across[x] = share(x, w)
	}
	Bands(h, 16, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			dst := mid[y*w : (y+1)*w]
			for d := max(-r, -y); d <= min(r, h-1-y); d++ {
				k, src := taps[max(d, -d)]*down[y], v[(y+d)*w:(y+d+1)*w]
				for x, s := range src {
					dst[x] += k * s
				}
			}
			row := out[y*w : (y+1)*w]
			for d := -r; d <= r; d++ {
				k := taps[max(d, -d)]
				from, to := max(0, -d), min(w, w-d)
				if from >= to {
					continue
				}
				src := dst[from+d : to+d]
				for i, s := range src {
					row[from+i] += k * s
				}
			}
			for x := range row {
				row[x] *= across[x]
			}
		}
	})
	return out
}

// gaussian are one side of a Gaussian from its middle out to 3 sigma.
func gaussian(sigma float64) []float32 {
	k := []float32{1}
	for i := 1; float64(i) <= 3*sigma; i++ {
		k = append(k, float32(math.Exp(-float64(i*i)/(2*sigma*sigma))))
	}
	return k
}

// Shrink is the mean over cells of k x k values of a plane of w x h; cells at the
// right and lower border may be smaller. It returns the cells across and down.
func Shrink(v []float32, w, h, k int) (out []float32, across, down int) {
	across, down = (w+k-1)/k, (h+k-1)/k
	out = make([]float32, across*down)
	Bands(down, 8, func(c0, c1 int) {
		for c := c0; c < c1; c++ {
			y1 := min((c+1)*k, h)
			row := out[c*across : (c+1)*across]
			for y := c * k; y < y1; y++ {
				for x, s := range v[y*w : (y+1)*w] {
					row[x/k] += s
				}
			}
			for x := range row {
				row[x] /= float32((y1 - c*k) * (min((x+1)*k, w) - x*k))
			}
		}
	})
	return out, across, down
}

// Stretch is the way back from cells of k x k pixels to a plane of w x h: straight
// lines between the middles of the cells, level beyond the outermost.
func Stretch(cells []float32, across, down, k, w, h int) []float32 {
	out := make([]float32, w*h)
	type step struct {
		i, j int
		t    float32
	}
	steps := func(n, cells int) []step {
		s := make([]step, n)
		for x := range s {
			at := min(max((float64(x)+.5)/float64(k)-.5, 0), float64(cells-1))
			i := int(at)
			s[x] = step{i, min(i+1, cells-1), float32(at - float64(i))}
		}
		return s
	}
	xs, ys := steps(w, across), steps(h, down)
	Bands(h, 16, func(y0, y1 int) {
		line := make([]float32, across)
		for y := y0; y < y1; y++ {
			s := ys[y]
			top, low := cells[s.i*across:(s.i+1)*across], cells[s.j*across:(s.j+1)*across]
			for x := range line {
				line[x] = top[x] + s.t*(low[x]-top[x])
			}
			row := out[y*w : (y+1)*w]
			for x, s := range xs {
				row[x] = line[s.i] + s.t*(line[s.j]-line[s.i])
			}
		}
	})
	return out
}
