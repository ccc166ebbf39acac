package scraps

import (
	"cmp"
	"math"
	"slices"
)

type point = [2]float64

// trace is the outer boundary of a mask's first part, clockwise (y down),
// through the middles of the pixels' sides, in the mask's own pixels. The
// mask must be one part without holes, away from the mask's border.
func (m *mask) trace() []point {
	start := -1
	for i, in := range m.in {
		if in {
			start = i
			break
		}
	}
	if start < 0 {
		return nil
	}
	// Walk along the cracks with the inside on the right hand. Directions:
	// 0 right, 1 down, 2 left, 3 up; the start is the upper left corner of the
	// first pixel, going right.
	dx, dy := [4]int{1, 0, -1, 0}, [4]int{0, 1, 0, -1}
	inside := func(x, y int) bool { return x >= 0 && y >= 0 && x < m.w && y < m.h && m.in[y*m.w+x] }
	// The pixels to the right and to the left of a step from a corner.
	right := func(x, y, d int) (int, int) {
		return x + [4]int{0, -1, -1, 0}[d], y + [4]int{0, 0, -1, -1}[d]
	}
	left := func(x, y, d int) (int, int) {
		return x + [4]int{0, 0, -1, -1}[d], y + [4]int{-1, 0, 0, -1}[d]
	}
	x, y, d := start%m.w, start/m.w, 0
	x0, y0 := x, y
	var out []point
	for {
		out = append(out, point{float64(x) + float64(dx[d])/2, float64(y) + float64(dy[d])/2})
		x, y = x+dx[d], y+dy[d]
		if x == x0 && y == y0 {
			break
		}
		// Left where that keeps the inside on the right (pixels that touch by a
		// corner are one part), straight on, or right.
		for _, turn := range [3]int{3, 0, 1} {
			e := (d + turn) % 4
			rx, ry := right(x, y, e)
			lx, ly := left(x, y, e)
			if inside(rx, ry) && !inside(lx, ly) {
				d = e
				break
			}
		}
	}
	return out
}

// resample walks round a closed outline in n equal steps.
func resample(ps []point, n int) []point {
	total := 0.0
	for i, p := range ps {
		q := ps[(i+1)%len(ps)]
		total += math.Hypot(q[0]-p[0], q[1]-p[1])
	}
	out := make([]point, 0, n)
	step := total / float64(n)
	next, done := 0.0, 0.0
	for i, p := range ps {
		q := ps[(i+1)%len(ps)]
		d := math.Hypot(q[0]-p[0], q[1]-p[1])
		for next < done+d && len(out) < n {
			t := (next - done) / d
			out = append(out, point{p[0] + t*(q[0]-p[0]), p[1] + t*(q[1]-p[1])})
			next += step
		}
		done += d
	}
	return out
}

// length of a closed outline.
func length(ps []point) float64 {
	total := 0.0
	for i, p := range ps {
		q := ps[(i+1)%len(ps)]
		total += math.Hypot(q[0]-p[0], q[1]-p[1])
	}
	return total
}

// area of a closed outline; clockwise (y down) is positive.
func area(ps []point) float64 {
	sum := 0.0
	for i, p := range ps {
		q := ps[(i+1)%len(ps)]
		sum += p[0]*q[1] - q[0]*p[1]
	}
	return sum / 2
}

// simplified leaves out the points that lie within tolerance of the line
// between their neighbours (Douglas and Peucker 1973, Cartographica 10:112).
// The outline is closed.
func simplified(ps []point, tolerance float64) []point {
	if len(ps) < 4 {
		return ps
	}
	// Cut it where it is farthest from its first point.
	far, best := 0, 0.0
	for i, p := range ps {
		if d := math.Hypot(p[0]-ps[0][0], p[1]-ps[0][1]); d > best {
			far, best = i, d
		}
	}
	keep := make([]bool, len(ps)+1)
	keep[0], keep[far] = true, true
	closed := append(ps[:len(ps):len(ps)], ps[0])
	var halve func(i, j int)
	halve = func(i, j int) {
		a, b := closed[i], closed[j]
		ux, uy := b[0]-a[0], b[1]-a[1]
		n := math.Hypot(ux, uy)
		k, most := 0, tolerance
		for m := i + 1; m < j; m++ {
			p := closed[m]
			d := math.Hypot(p[0]-a[0], p[1]-a[1])
			if n > 0 {
				d = math.Abs((p[0]-a[0])*uy-(p[1]-a[1])*ux) / n
			}
			if d > most {
				k, most = m, d
			}
		}
		if k > 0 {
			keep[k] = true
			halve(i, k)
			halve(k, j)
		}
	}
	halve(0, far)
	halve(far, len(ps))
	var out []point
	for i, p := range ps {
		if keep[i] {
			out = append(out, p)
		}
	}
	return out
}

// boundsOf is the least and the greatest x and y of points.
func boundsOf(ps []point) (b [2]point) {
	b = [2]point{{math.Inf(1), math.Inf(1)}, {math.Inf(-1), math.Inf(-1)}}
	for _, p := range ps {
		for k := range p {
			b[0][k], b[1][k] = min(b[0][k], p[k]), max(b[1][k], p[k])
		}
	}
	return b
}

// holds tells whether a closed outline holds p (even-odd).
func holds(ps []point, p point) bool {
	in := false
	for i, a := range ps {
		b := ps[(i+1)%len(ps)]
		if (a[1] > p[1]) != (b[1] > p[1]) && p[0] < a[0]+(p[1]-a[1])/(b[1]-a[1])*(b[0]-a[0]) {
			in = !in
		}
	}
	return in
}

// middle is the centre of an outline's area, and how high it is.
func middle(ps []point) (c point, height float64) {
	lo, hi, sum := math.Inf(1), math.Inf(-1), 0.0
	for i, p := range ps {
		q := ps[(i+1)%len(ps)]
		lo, hi = min(lo, p[1]), max(hi, p[1])
		k := p[0]*q[1] - q[0]*p[1]
		sum += k
		c[0] += k * (p[0] + q[0])
		c[1] += k * (p[1] + q[1])
	}
	if sum == 0 {
		return ps[0], hi - lo
	}
	return point{c[0] / 3 / sum, c[1] / 3 / sum}, hi - lo
}

// convex is the convex hull of points, in order (Andrew's monotone chain).
func convex(ps []point) []point {
	sorted := slices.Clone(ps)
	slices.SortFunc(sorted, func(a, b point) int {
		if c := cmp.Compare(a[0], b[0]); c != 0 {
			return c
		}
		return cmp.Compare(a[1], b[1])
	})
	return convexOf(sorted)
}

// convexOf is the convex hull of points that are sorted by their first
// coordinates, and those that share one by their second.
func convexOf(sorted []point) []point {
	half := func(chain []point, p point, least int) []point {
		for len(chain) >= least+2 {
			a, b := chain[len(chain)-2], chain[len(chain)-1]
			if (b[0]-a[0])*(p[1]-a[1])-(b[1]-a[1])*(p[0]-a[0]) > 0 {
				break
			}
			chain = chain[:len(chain)-1]
		}
		return append(chain, p)
	}
	var hull []point
	for _, p := range sorted {
		hull = half(hull, p, 0)
	}
	first := len(hull) - 1
	for _, p := range slices.Backward(sorted) {
		hull = half(hull, p, max(first, 0))
	}
	if len(hull) > 1 {
		hull = hull[:len(hull)-1]
	}
	return hull
}
