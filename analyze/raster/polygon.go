package raster

import (
	"cmp"
	"image"
	"math"
	"slices"
)

// Point is x and y.
type Point = [2]float64

// Contour is the outer boundary of the mask's first component, clockwise on a
// picture, through the middles of the outer sides of its pixels; nil for an empty
// mask. Pixels that touch by a corner are one component.
func (m *Mask) Contour() []Point {
	start := slices.Index(m.In, true)
	if start < 0 {
		return nil
	}
	// Walk along the cracks between pixels with the inside on the right hand.
	// Directions: 0 right, 1 down, 2 left, 3 up; the start is the upper left
	// corner of the first pixel, going right.
	dx, dy := [4]int{1, 0, -1, 0}, [4]int{0, 1, 0, -1}
	rightX, rightY := [4]int{0, -1, -1, 0}, [4]int{0, 0, -1, -1} // the pixels beside a step from a corner
	leftX, leftY := [4]int{0, 0, -1, -1}, [4]int{-1, 0, 0, -1}
	x0, y0 := m.Bounds.Min.X+start%m.Bounds.Dx(), m.Bounds.Min.Y+start/m.Bounds.Dx()
	x, y, d := x0, y0, 0
	var out []Point
	for {
		out = append(out, Point{float64(x) + float64(dx[d])/2, float64(y) + float64(dy[d])/2})
		x, y = x+dx[d], y+dy[d]
		if x == x0 && y == y0 {
			return out
		}
		// Left where that keeps the inside on the right, straight on, or right.
		for _, turn := range [3]int{3, 0, 1} {
			e := (d + turn) % 4
			if m.Has(x+rightX[e], y+rightY[e]) && !m.Has(x+leftX[e], y+leftY[e]) {
				d = e
				break
			}
		}
	}
}

// Hull is the convex hull of the squares of the mask's pixels, clockwise on a
// picture.
func (m *Mask) Hull() []Point {
	// The outermost corners of pixels on each line between two rows, down first,
	// as (y, x), so that they are sorted.
	b := m.Bounds
	corners := make([]Point, 0, 2*b.Dy()+2)
	left, right := b.Max.X, b.Min.X // of the row above
	for y := b.Min.Y; y <= b.Max.Y; y++ {
		first, last := b.Max.X, b.Min.X
		if y < b.Max.Y {
			row := m.Row(y)
			if k := slices.Index(row, true); k >= 0 {
				for last = b.Max.X; !row[last-1-b.Min.X]; last-- {
				}
				first = b.Min.X + k
			}
		}
		if l, r := min(left, first), max(right, last); l < r {
			corners = append(corners, Point{float64(y), float64(l)}, Point{float64(y), float64(r)})
		}
		left, right = first, last
	}
	line := hullOfSorted(corners)
	for i, p := range line {
		line[i] = Point{p[1], p[0]}
	}
	slices.Reverse(line) // what was swapped turns the other way
	return line
}

// Solidity is the share of its convex hull that the mask covers, 0 to 1; 0 for an
// empty mask.
func (m *Mask) Solidity() float64 {
	hull := math.Abs(Area(m.Hull()))
	if hull == 0 {
		return 0
	}
	return float64(m.Count()) / hull
}

// ConvexHull is the convex hull of points, clockwise where y points down, without
// points on its sides
// (Andrew 1979, Inf. Process. Lett. 9:216).
func ConvexHull(ps []Point) []Point {
	sorted := slices.Clone(ps)
	slices.SortFunc(sorted, func(a, b Point) int { return cmp.Or(cmp.Compare(a[0], b[0]), cmp.Compare(a[1], b[1])) })
	return hullOfSorted(sorted)
}

// hullOfSorted is the convex hull of points sorted by their first and then their
// second coordinates.
func hullOfSorted(sorted []Point) []Point {
	add := func(chain []Point, p Point, least int) []Point {
		for len(chain) >= least+2 {
			a, b := chain[len(chain)-2], chain[len(chain)-1]
			if Turn(a, b, p) > 0 {
				break
			}
			chain = chain[:len(chain)-1]
		}
		return append(chain, p)
	}
	var hull []Point
	for _, p := range sorted {
		hull = add(hull, p, 0)
	}
	first := len(hull) - 1
	for _, p := range slices.Backward(sorted) {
		hull = add(hull, p, max(first, 0))
	}
	if len(hull) > 1 {
		hull = hull[:len(hull)-1]
	}
	return hull
}

// Turn is twice the area of the triangle a, b, c: above 0 where the way from a by b
// to c turns right on a picture, where y points down.
func Turn(a, b, c Point) float64 { return (b[0]-a[0])*(c[1]-a[1]) - (b[1]-a[1])*(c[0]-a[0]) }

// Area is the area of a closed polygon (the shoelace formula); clockwise on a
// picture, where y points down, is positive.
func Area(ps []Point) float64 {
	sum := 0.0
	for i, p := range ps {
		q := ps[(i+1)%len(ps)]
		sum += p[0]*q[1] - q[0]*p[1]
	}
	return sum / 2
}

// Perimeter is the length of a closed polygon's outline.
func Perimeter(ps []Point) float64 {
	total := 0.0
	for i, p := range ps {
		total += distance(p, ps[(i+1)%len(ps)])
	}
	return total
}

// Centroid is the centre of a closed polygon's area; its first point where it has
// none.
func Centroid(ps []Point) (c Point) {
	sum := 0.0
	for i, p := range ps {
		q := ps[(i+1)%len(ps)]
		k := p[0]*q[1] - q[0]*p[1]
		sum += k
		c[0] += k * (p[0] + q[0])
		c[1] += k * (p[1] + q[1])
	}
	if sum == 0 {
		return ps[0]
	}
	return Point{c[0] / 3 / sum, c[1] / 3 / sum}
}

// Extremes are the least and the greatest x and y of points.
func Extremes(ps []Point) (least, greatest Point) {
	least, greatest = Point{math.Inf(1), math.Inf(1)}, Point{math.Inf(-1), math.Inf(-1)}
	for _, p := range ps {
		for k, v := range p {
			least[k], greatest[k] = min(least[k], v), max(greatest[k], v)
		}
	}
	return least, greatest
}

// Contains tells whether a closed polygon holds p (the even-odd rule).
func Contains(ps []Point, p Point) bool {
	in := false
	for i, a := range ps {
		b := ps[(i+1)%len(ps)]
		if (a[1] > p[1]) != (b[1] > p[1]) && p[0] < a[0]+(p[1]-a[1])/(b[1]-a[1])*(b[0]-a[0]) {
			in = !in
		}
	}
	return in
}

// Fill is the set of pixels of r whose middles lie in a closed polygon (the
// even-odd rule).
func Fill(ps []Point, r image.Rectangle) *Mask {
	m := NewMask(r)
	var cuts []float64
	for y := r.Min.Y; y < r.Max.Y; y++ {
		cuts = cuts[:0]
		at := float64(y) + .5
		for i, a := range ps {
			if b := ps[(i+1)%len(ps)]; (a[1] > at) != (b[1] > at) {
				cuts = append(cuts, a[0]+(at-a[1])/(b[1]-a[1])*(b[0]-a[0]))
			}
		}
		slices.Sort(cuts)
		row := m.Row(y)
		for k := 0; k+1 < len(cuts); k += 2 {
			from, to := int(math.Ceil(cuts[k]-.5))-r.Min.X, int(math.Ceil(cuts[k+1]-.5))-r.Min.X
			for x := max(from, 0); x < min(to, len(row)); x++ {
				row[x] = true
			}
		}
	}
	return m
}

// Resample walks round a closed polygon in n equal steps.
func Resample(ps []Point, n int) []Point {
	step := Perimeter(ps) / float64(n)
	out := make([]Point, 0, n)
	next, done := 0.0, 0.0
	for i, p := range ps {
		q := ps[(i+1)%len(ps)]
		d := distance(p, q)
		for next < done+d && len(out) < n {
			t := (next - done) / d
			out = append(out, Point{p[0] + t*(q[0]-p[0]), p[1] + t*(q[1]-p[1])})
			next += step
		}
		done += d
	}
	return out
}

// Simplify leaves out the points of a closed polygon that lie within tolerance of
// the line between those that stay (Douglas and Peucker 1973, Cartographica
// 10:112).
func Simplify(ps []Point, tolerance float64) []Point {
	if len(ps) < 4 {
		return ps
	}
	// Cut it where it is farthest from its first point.
	far, best := 0, 0.0
	for i, p := range ps {
		if d := distance(p, ps[0]); d > best {
			far, best = i, d
		}
	}
	keep := make([]bool, len(ps)+1)
	keep[0], keep[far] = true, true
	closed := append(ps[:len(ps):len(ps)], ps[0])
	var halve func(i, j int)
	halve = func(i, j int) {
		k, most := 0, tolerance
		for m := i + 1; m < j; m++ {
			if d := offLine(closed[m], closed[i], closed[j]); d > most {
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
	var out []Point
	for i, p := range ps {
		if keep[i] {
			out = append(out, p)
		}
	}
	return out
}

// offLine is the distance of p from the line through a and b; from a where they
// are one point.
func offLine(p, a, b Point) float64 {
	n := distance(a, b)
	if n == 0 {
		return distance(p, a)
	}
	return math.Abs((p[0]-a[0])*(b[1]-a[1])-(p[1]-a[1])*(b[0]-a[0])) / n
}

func distance(a, b Point) float64 { return math.Hypot(a[0]-b[0], a[1]-b[1]) }
