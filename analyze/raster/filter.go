package raster

import "math"

// Blur convolves a plane of w x h values with a Gaussian of standard deviation
// sigma, in pixels, cut off at 3 sigma. At the border it divides by the part of
// the kernel that lies inside, so that a constant stays one.
func Blur(v []float32, w, h int, sigma float64) []float32 {
	taps := gaussian(sigma)
	out := make([]float32, len(v))
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
		none, line := make([]float32, w), make([]float32, w+2*r) // beyond the border nothing counts
		before, after := make([][]float32, r), make([][]float32, r)
		row := func(y int) []float32 {
			if y < 0 || y >= h {
				return none
			}
			return v[y*w : (y+1)*w]
		}
		for y := y0; y < y1; y++ {
			for d := range r {
				before[d], after[d] = row(y-1-d), row(y+1+d)
			}
			mid := line[r : r+w]
			weigh(mid, row(y), before, after, taps)
			for x := range mid {
				mid[x] *= down[y]
			}
			for d := range r {
				before[d], after[d] = line[r-1-d:][:w], line[r+1+d:][:w]
			}
			dst := out[y*w : (y+1)*w]
			weigh(dst, mid, before, after, taps)
			for x := range dst {
				dst[x] *= across[x]
			}
		}
	})
	return out
}

// weigh sets dst to taps[0] times mid and each further tap times one row before and
// one behind.
func weigh(dst, mid []float32, before, after [][]float32, taps []float32) {
	k := taps[0]
	mid = mid[:len(dst)]
	for x, m := range mid {
		dst[x] = k * m
	}
	d := 0
	for ; d+1 < len(before); d += 2 { // two pairs at a time: half as often through dst
		k, l := taps[d+1], taps[d+2]
		a, b, c, e := before[d][:len(dst)], after[d][:len(dst)], before[d+1][:len(dst)], after[d+1][:len(dst)]
		for x := range dst {
			dst[x] += k*(a[x]+b[x]) + l*(c[x]+e[x])
		}
	}
	if d < len(before) {
		k, a, b := taps[d+1], before[d][:len(dst)], after[d][:len(dst)]
		for x := range dst {
			dst[x] += k * (a[x] + b[x])
		}
	}
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
				line := v[y*w : (y+1)*w]
				for x := range row {
					sum := float32(0)
					for _, s := range line[x*k : min((x+1)*k, w)] {
						sum += s
					}
					row[x] += sum
				}
			}
			for x := range row {
				row[x] /= float32((y1 - c*k) * (min((x+1)*k, w) - x*k))
			}
		}
	})
	return out, across, down
}

// Max is, at each pixel of a plane of w x h, the greatest value within r pixels
// across and down: dilation by a square.
func Max(v []float32, w, h, r int) []float32 {
	mid, out := make([]float32, len(v)), make([]float32, len(v))
	Bands(h, 16, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			src, dst := v[y*w:(y+1)*w], mid[y*w:(y+1)*w]
			copy(dst, src)
			for d := 1; d <= min(r, w-1); d++ {
				for x, s := range src[d:] {
					dst[x] = max(dst[x], s)
				}
				for x, s := range src[:w-d] {
					dst[x+d] = max(dst[x+d], s)
				}
			}
		}
	})
	Bands(h, 16, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			dst := out[y*w : (y+1)*w]
			copy(dst, mid[y*w:(y+1)*w])
			for v := max(y-r, 0); v <= min(y+r, h-1); v++ {
				for x, s := range mid[v*w : (v+1)*w] {
					dst[x] = max(dst[x], s)
				}
			}
		}
	})
	return out
}

// Median is, at each pixel of a plane of w x h, the median down of the medians
// across over 2r+1 pixels, the outermost repeated beyond the border: nearly the
// median over a square, in a fraction of the time (Narendra 1981, IEEE Trans.
// PAMI 3:20).
func Median(v []float32, w, h, r int) []float32 {
	mid, out := make([]float32, len(v)), make([]float32, len(v))
	Bands(h, 16, func(y0, y1 int) {
		line := make([]float32, w+2*r)
		for y := y0; y < y1; y++ {
			row := v[y*w : (y+1)*w]
			copy(line[r:], row)
			for k := range r {
				line[k], line[w+r+k] = row[0], row[w-1]
			}
			rows := make([][]float32, 2*r+1)
			for k := range rows {
				rows[k] = line[k : k+w]
			}
			medians(mid[y*w:(y+1)*w], rows)
		}
	})
	Bands(h, 16, func(y0, y1 int) {
		rows := make([][]float32, 2*r+1)
		for y := y0; y < y1; y++ {
			for k := range rows {
				at := min(max(y+k-r, 0), h-1)
				rows[k] = mid[at*w : (at+1)*w]
			}
			medians(out[y*w:(y+1)*w], rows)
		}
	})
	return out
}

func medians(dst []float32, rows [][]float32) {
	switch len(rows) {
	case 3:
		a, b, c := rows[0][:len(dst)], rows[1][:len(dst)], rows[2][:len(dst)]
		for x := range dst {
			dst[x] = max(min(a[x], b[x]), min(max(a[x], b[x]), c[x]))
		}
		return
	case 5:
		a, b, c, d, e := rows[0][:len(dst)], rows[1][:len(dst)], rows[2][:len(dst)], rows[3][:len(dst)], rows[4][:len(dst)]
		for x := range dst {
			// Neither the least nor the greatest of four is the median of five.
			p, q := max(min(a[x], b[x]), min(c[x], d[x])), min(max(a[x], b[x]), max(c[x], d[x]))
			dst[x] = max(min(p, q), min(max(p, q), e[x]))
		}
		return
	}
	sorted := make([]float32, len(rows))
	for x := range dst {
		for k, row := range rows {
			v := row[x]
			i := k
			for i > 0 && sorted[i-1] > v {
				sorted[i] = sorted[i-1]
				i--
			}
			sorted[i] = v
		}
		dst[x] = sorted[len(rows)/2]
	}
}

// Gradient is the length of the gradient, per pixel, of the planes of a picture
// together: the root of the sum of the squares of Sobel's two differences in each,
// an eighth of each (Sobel and Feldman 1968). Beyond the border the outermost
// pixels are repeated.
func Gradient(planes [3][]float32, w, h int) []float32 {
	out := make([]float32, w*h)
	Bands(h, 16, func(y0, y1 int) {
		across, down := make([]float32, w+2), make([]float32, w+2)
		for y := y0; y < y1; y++ {
			dst := out[y*w : (y+1)*w]
			for _, v := range planes {
				above, here, below := v[max(y-1, 0)*w:][:w], v[y*w:][:w], v[min(y+1, h-1)*w:][:w]
				for x := range w {
					across[x+1] = above[x] + 2*here[x] + below[x]
					down[x+1] = below[x] - above[x]
				}
				across[0], across[w+1], down[0], down[w+1] = across[1], across[w], down[1], down[w]
				for x := range dst {
					gx, gy := across[x+2]-across[x], down[x]+2*down[x+1]+down[x+2]
					dst[x] += gx*gx + gy*gy
				}
			}
			for x, s := range dst {
				dst[x] = float32(math.Sqrt(float64(s))) / 8
			}
		}
	})
	return out
}
