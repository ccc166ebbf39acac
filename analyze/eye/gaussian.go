package eye

import (
	"math"
	"slices"
)

// coarse is the standard deviation, in cells, at which a wide Gaussian is
// computed: on cells of several pixels, since nothing finer is left of it.
const coarse = 1.5

// plane is one channel of a picture, w x h values: of its pixels, or the means
// of cells of side x side of them.
type plane struct {
	v          []float32
	w, h, side int
}

// workspace is memory that convolutions use one after the other: a picture of a
// piece is blurred fourteen times.
type workspace struct {
	cells, across, out, wide     []float32
	line, share, nothing, scaled []float32
	near                         [][2][]float32
}

// room is n values of b, which is made anew where it has fewer; what they are is
// left open.
func room(b *[]float32, n int) []float32 {
	*b = slices.Grow((*b)[:0], n)[:n]
	return *b
}

// gaussian convolves a picture's channel with exp(-r^2 / 2 sigma^2), normalised.
// At the edge it divides by the part of the kernel that lies inside, so that a
// constant stays a constant. A wide one is computed on cells of several pixels,
// so its cost does not grow with its width; stretched brings it back. The result
// lies in ws until the next call.
func (ws *workspace) gaussian(p plane, sigma float64) plane {
	m := int(sigma / coarse)
	if m < 2 {
		return ws.convolved(p, taps(sigma))
	}
	// The mean over a cell is a blur of its own, of variance m^2/12, and so is
	// the way back by straight lines between cells, of m^2/6.
	s := sigma / float64(m)
	return ws.convolved(ws.averaged(p, m), taps(math.Sqrt(s*s-1./4)))
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
func (ws *workspace) convolved(p plane, k []float32) plane {
	w, h, reach := p.w, p.h, len(k)-1
	across, out := room(&ws.across, len(p.v)), room(&ws.out, len(p.v))
	if reach == 0 { // narrower than a pixel
		copy(out, p.v)
		return plane{out, w, h, p.side}
	}
	share := inside(room(&ws.share, w), k)
	line := room(&ws.line, w+2*reach) // a row with nothing on either side
	clear(line)
	ws.near = slices.Grow(ws.near[:0], len(k))[:len(k)]
	near := ws.near
	for d := range k {
		near[d] = [2][]float32{line[reach-d:][:w], line[reach+d:][:w]}
	}
	for y := range h {
		row := across[y*w : (y+1)*w]
		copy(line[reach:], p.v[y*w:(y+1)*w])
		weigh(row, k, near)
		for x := range row {
			row[x] *= share[x]
		}
	}
	share = inside(room(&ws.share, h), k)
	nothing := room(&ws.nothing, w)
	clear(nothing)
	rowAt := func(y int) []float32 {
		if y < 0 || y >= h {
			return nothing
		}
		return across[y*w : (y+1)*w]
	}
	scaled := room(&ws.scaled, len(k))
	for y := range h {
		for d := range k {
			near[d] = [2][]float32{rowAt(y - d), rowAt(y + d)}
			scaled[d] = k[d] * share[y]
		}
		weigh(out[y*w:(y+1)*w], scaled, near)
	}
	return plane{out, w, h, p.side}
}

// weigh sets dst to the sum of the two rows at each distance by k, of those at
// distance 0, which are the same, once.
func weigh(dst, k []float32, near [][2][]float32) {
	a, middle := k[0], near[0][0][:len(dst)]
	switch len(k) {
	case 1:
		for x := range dst {
			dst[x] = a * middle[x]
		}
		return
	case 2:
		b, u, v := k[1], near[1][0][:len(dst)], near[1][1][:len(dst)]
		for x := range dst {
			dst[x] = a*middle[x] + b*(u[x]+v[x])
		}
		return
	}
	b, u, v := k[1], near[1][0][:len(dst)], near[1][1][:len(dst)]
	c, s, t := k[2], near[2][0][:len(dst)], near[2][1][:len(dst)]
	d := 3
	switch {
	case len(k) == 4:
		e, p, q := k[3], near[3][0][:len(dst)], near[3][1][:len(dst)]
		for x := range dst {
			dst[x] = a*middle[x] + b*(u[x]+v[x]) + c*(s[x]+t[x]) + e*(p[x]+q[x])
		}
		return
	case len(k) > 4:
		e, p, q := k[3], near[3][0][:len(dst)], near[3][1][:len(dst)]
		f, y, z := k[4], near[4][0][:len(dst)], near[4][1][:len(dst)]
		for x := range dst {
			dst[x] = a*middle[x] + b*(u[x]+v[x]) + c*(s[x]+t[x]) + e*(p[x]+q[x]) + f*(y[x]+z[x])
		}
		d = 5
	default:
		for x := range dst {
			dst[x] = a*middle[x] + b*(u[x]+v[x]) + c*(s[x]+t[x])
		}
	}
	for ; d+1 < len(k); d += 2 {
		b, u, v := k[d], near[d][0][:len(dst)], near[d][1][:len(dst)]
		c, s, t := k[d+1], near[d+1][0][:len(dst)], near[d+1][1][:len(dst)]
		for x := range dst {
			dst[x] += b*(u[x]+v[x]) + c*(s[x]+t[x])
		}
	}
	if d < len(k) {
		b, u, v := k[d], near[d][0][:len(dst)], near[d][1][:len(dst)]
		for x := range dst {
			dst[x] += b * (u[x] + v[x])
		}
	}
}

// inside sets out to 1 / the part of k within a line of as many pixels, for each
// of them.
func inside(out, k []float32) []float32 {
	n := len(out)
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

// averaged is p in cells of m x m pixels; the last of a row or a column may be
// smaller.
func (ws *workspace) averaged(p plane, m int) plane {
	src, w, h := p.v, p.w, p.h
	cw, ch := (w+m-1)/m, (h+m-1)/m
	cells := room(&ws.cells, cw*ch)
	clear(cells)
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
	return plane{cells, cw, ch, m}
}

// stretched brings cells back to w x h pixels, by straight lines between the
// cells' middles. The result lies in ws until the next call.
func (ws *workspace) stretched(p plane, w, h int) plane {
	if p.side == 1 {
		return p
	}
	cells, cw, ch, m := p.v, p.w, p.h, p.side
	out := room(&ws.wide, w*h)
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
	return plane{out, w, h, 1}
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
