package eye

import "math"

// coarse is the standard deviation, in cells, at which a wide Gaussian is
// computed: on cells of several pixels, since nothing finer is left of it.
const coarse = 1.5

// gaussian convolves a plane of w x h pixels with exp(-r^2 / 2 sigma^2),
// normalised. At the plane's edge it divides by the part of the kernel that
// lies inside, so that a constant stays a constant. A wide one is computed on
// cells of several pixels, so its cost does not grow with its width.
func gaussian(src []float32, w, h int, sigma float64) []float32 {
	m := int(sigma / coarse)
	if m < 2 {
		return convolved(src, w, h, taps(sigma))
	}
	cells, cw, ch := averaged(src, w, h, m)
	// The mean over a cell is a blur of its own, of variance m^2/12, and so is
	// the way back by straight lines between cells, of m^2/6.
	s := sigma / float64(m)
	return stretched(convolved(cells, cw, ch, taps(math.Sqrt(s*s-1./4))), cw, ch, w, h, m)
}

// taps are one side of a Gaussian from its centre out to 3 sigma, unnormalised.
func taps(sigma float64) []float32 {
	k := []float32{1}
	for i := 1; float64(i) <= 3*sigma; i++ {
		k = append(k, float32(math.Exp(-float64(i*i)/(2*sigma*sigma))))
	}
	return k
}

// convolved runs the symmetric kernel k along the rows and then the columns.
func convolved(src []float32, w, h int, k []float32) []float32 {
	across, out := make([]float32, len(src)), make([]float32, len(src))
	share := inside(k, w)
	line := make([]float32, w+2*(len(k)-1)) // a row with nothing on either side
	middle := line[len(k)-1:]
	for y := range h {
		row := across[y*w : (y+1)*w]
		copy(middle, src[y*w:(y+1)*w])
		for d, a := range k {
			left, right := line[len(k)-1-d:][:w], line[len(k)-1+d:][:w]
			if d == 0 {
				for x, v := range left {
					row[x] = a * v
				}
				continue
			}
			for x, v := range left {
				row[x] += a * (v + right[x])
			}
		}
		for x := range row {
			row[x] *= share[x]
		}
	}
	share = inside(k, h)
	for y := range h {
		row := out[y*w : (y+1)*w]
		for d := 1 - len(k); d < len(k); d++ {
			if y+d < 0 || y+d >= h {
				continue
			}
			a := k[max(d, -d)] * share[y]
			for x, v := range across[(y+d)*w : (y+d+1)*w] {
				row[x] += a * v
			}
		}
	}
	return out
}

// inside is, for each of n pixels in a line, 1 / the part of k within it.
func inside(k []float32, n int) []float32 {
	out := make([]float32, n)
	for i := range out {
		var sum float32
		for d := 1 - len(k); d < len(k); d++ {
			if i+d >= 0 && i+d < n {
				sum += k[max(d, -d)]
			}
		}
		out[i] = 1 / sum
	}
	return out
}

// averaged is src in cells of m x m pixels; the last of a row or a column may
// be smaller.
func averaged(src []float32, w, h, m int) (cells []float32, cw, ch int) {
	cw, ch = (w+m-1)/m, (h+m-1)/m
	cells = make([]float32, cw*ch)
	for y := range h {
		row := cells[y/m*cw : (y/m+1)*cw]
		for j := range row {
			var sum float32
			for _, v := range src[y*w+j*m : y*w+min((j+1)*m, w)] {
				sum += v
			}
			row[j] += sum
		}
	}
	for i := range ch {
		for j := range cw {
			cells[i*cw+j] /= float32((min((i+1)*m, h) - i*m) * (min((j+1)*m, w) - j*m))
		}
	}
	return cells, cw, ch
}

// stretched brings cells of m x m pixels back to w x h pixels, by straight
// lines between the cells' middles.
func stretched(cells []float32, cw, ch, w, h, m int) []float32 {
	out := make([]float32, w*h)
	columns := amongCells(w, cw, m)
	line := make([]float32, cw)
	for y, r := range amongCells(h, ch, m) {
		upper, lower := cells[r.at*cw:][:cw], cells[r.next*cw:][:cw]
		for j, v := range upper {
			line[j] = v + r.share*(lower[j]-v)
		}
		row := out[y*w : (y+1)*w]
		for x, c := range columns {
			v := line[c.at]
			row[x] = v + c.share*(line[c.next]-v)
		}
	}
	return out
}

// amongCells places n pixels in a line among the middles of c cells of m.
func amongCells(n, c, m int) []place {
	out := make([]place, n)
	for i := range out {
		x := min(max((float64(i)+.5)/float64(m)-.5, 0), float64(c-1))
		at := int(x)
		out[i] = place{at, min(at+1, c-1), float32(x - float64(at))}
	}
	return out
}
