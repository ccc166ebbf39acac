package scraps

import (
	"math"

	"greige/analyze/photo"
)

// cellSide is the side, in pixels of the small picture, of the cells in which
// the ground is looked for.
const cellSide = 4

// cells is the small picture in blocks. A cell's colour is that of most of
// it: what differs by far from its mean (a ruled line, a thread) is left out.
type cells struct {
	w, h    int
	l, a, b []float32 // CIELAB
	rough   []float32 // standard deviation of L* within the cell
	use     []bool
	lossy   bool // of a file that keeps colour in steps
}

func (s *small) cells() *cells {
	c := &cells{w: (s.w + cellSide - 1) / cellSide, h: (s.h + cellSide - 1) / cellSide, lossy: s.blocks.side > 0}
	n := c.w * c.h
	c.l, c.a, c.b, c.rough = make([]float32, n), make([]float32, n), make([]float32, n), make([]float32, n)
	c.use = make([]bool, n)
	photo.Bands(c.h, 16, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			for x := range c.w {
				c.fill(s, x, y)
			}
		}
	})
	return c
}

func (c *cells) fill(s *small, x, y int) {
	x0, x1 := x*cellSide, min((x+1)*cellSide, s.w)
	y0, y1 := y*cellSide, min((y+1)*cellSide, s.h)
	i := y*c.w + x
	// Taken from the first pixel, so that rounding leaves the variance of two
	// nearly equal colours what it is.
	first := s.l[y0*s.w+x0]
	var n, sum, square float32
	for yy := y0; yy < y1; yy++ {
		for j := yy*s.w + x0; j < yy*s.w+x1; j++ {
			if s.gone != nil && s.gone[j] {
				return
			}
			n++
			d := s.l[j] - first
			sum += d
			square += d * d
		}
	}
	sd := float32(math.Sqrt(float64(max(square/n-sq32(sum/n), 0))))
	mean := first + sum/n
	lo, hi := mean-1.3*sd-.01, mean+1.3*sd+.01
	n = 0
	for yy := y0; yy < y1; yy++ {
		for j := yy*s.w + x0; j < yy*s.w+x1; j++ {
			if s.l[j] >= lo && s.l[j] <= hi {
				n++
				c.l[i] += s.l[j]
				c.a[i] += s.a[j]
				c.b[i] += s.b[j]
			}
		}
	}
	c.l[i] /= n
	c.a[i] /= n
	c.b[i] /= n
	c.rough[i] = sd
	c.use[i] = true
}

// apart is how much the colours of two cells differ.
func (c *cells) apart(i, j int) float32 {
	l, a, b := c.l[i]-c.l[j], c.a[i]-c.a[j], c.b[i]-c.b[j]
	return float32(math.Sqrt(float64(l*l + a*a + b*b)))
}

// small parts may join at a step of seedStep/cells more than is usual inside.
const seedStep = 6

// segments joins cells of one colour by the graph method of Felzenszwalb and
// Huttenlocher (2004, Int. J. Computer Vision 59:167), which lets a slow
// slope of the light pass. It gives each cell the number of its segment, -1
// where it is not used, and the segments' sizes.
func (c *cells) segments() (label []int32, size []int32) {
	const fine, steps = 20, 60 * 20
	n := c.w * c.h
	// Edges in order of their step, by counting.
	var start [steps + 2]int32
	step := func(i, j int) int { return min(int(c.apart(i, j)*fine), steps) }
	each := func(do func(i, j int)) {
		for y := range c.h {
			for x := range c.w {
				i := y*c.w + x
				if !c.use[i] {
					continue
				}
				if x+1 < c.w && c.use[i+1] {
					do(i, i+1)
				}
				if y+1 < c.h && c.use[i+c.w] {
					do(i, i+c.w)
				}
			}
		}
	}
	each(func(i, j int) { start[step(i, j)+1]++ })
	for k := 1; k < len(start); k++ {
		start[k] += start[k-1]
	}
	edges := make([][2]int32, start[steps+1])
	at := start
	each(func(i, j int) {
		k := step(i, j)
		edges[at[k]] = [2]int32{int32(i), int32(j)}
		at[k]++
	})
	u := newUnion(n)
	inner := make([]float32, n)
	count := make([]int32, n)
	for i := range count {
		count[i] = 1
	}
	for k := range steps + 1 {
		d := float32(k) / fine
		for _, e := range edges[start[k]:start[k+1]] {
			p, q := u.find(e[0]), u.find(e[1])
			if p == q || d > min(inner[p]+seedStep/float32(count[p]), inner[q]+seedStep/float32(count[q])) {
				continue
			}
			r := u.join(p, q)
			count[r] = count[p] + count[q]
			inner[r] = d
		}
	}
	label = make([]int32, n)
	number := make([]int32, n)
	for i := range label {
		label[i] = -1
		if !c.use[i] {
			continue
		}
		r := u.find(int32(i))
		if number[r] == 0 {
			size = append(size, 0)
			number[r] = int32(len(size))
		}
		label[i] = number[r] - 1
		size[label[i]]++
	}
	return label, size
}

// union is sets of numbers that can be joined (Tarjan).
type union []int32

func newUnion(n int) union {
	u := make(union, n)
	for i := range u {
		u[i] = int32(i)
	}
	return u
}

func (u union) find(i int32) int32 {
	for u[i] != i {
		u[i] = u[u[i]]
		i = u[i]
	}
	return i
}

// join makes one set of two, given by their first members, and returns its
// first member: always the smaller number.
func (u union) join(p, q int32) int32 {
	if q < p {
		p, q = q, p
	}
	u[q] = p
	return p
}
