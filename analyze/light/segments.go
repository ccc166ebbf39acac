package light

import (
	"math"
	"slices"
)

// segments are the flat parts of a photo: connected cells of one colour.
type segments struct {
	label []int32 // by cell; -1 where the cell is not used
	size  []int32 // by label
}

// spread gives the labels of a halved picture to the cells of c it came from.
func (s *segments) spread(half, c *cells) segments {
	o := segments{label: make([]int32, c.w*c.h), size: make([]int32, len(s.size))}
	for i := range o.label {
		o.label[i] = -1
		if l := s.label[i/c.w/2*half.w+i%c.w/2]; l >= 0 && c.use[i] {
			o.label[i] = l
			o.size[l]++
		}
	}
	return o
}

// divide joins neighbouring cells by the graph method of Felzenszwalb and
// Huttenlocher (2004, Int. J. Computer Vision 59:167): two parts become one
// when the step between them is no larger than the steps inside both, with an
// allowance of scale/cells for small parts. A slow slope of the light is a
// row of steps that are taken off, and divides nothing.
func (c *cells) divide(scale float32) segments {
	type edge struct {
		a, b int32
		step float32
	}
	n := c.w * c.h
	// A lamp twice as bright at one end of the photo makes steps like that,
	// which on smooth paper are larger than all others.
	lamp := float32(math.Ln2) / float32(max(c.w, c.h))
	edges := make([]edge, 0, 2*n)
	add := func(a, b int) {
		if c.use[a] && c.use[b] {
			edges = append(edges, edge{int32(a), int32(b), max(c.apart(a, b)-lamp, 0)})
		}
	}
	for y := range c.h {
		for x := range c.w {
			i := y*c.w + x
			if x+1 < c.w {
				add(i, i+1)
			}
			if y+1 < c.h {
				add(i, i+c.w)
			}
		}
	}
	// Small steps first, and of equal ones the first in reading order. A step
	// is never negative, so that its bits are in order as it is.
	order := make([]uint64, len(edges))
	for i, e := range edges {
		order[i] = uint64(math.Float32bits(e.step))<<32 | uint64(i)
	}
	slices.Sort(order)
	parent, size, inner := make([]int32, n), make([]int32, n), make([]float32, n)
	for i := range parent {
		parent[i], size[i] = int32(i), 1
	}
	find := func(i int32) int32 {
		for parent[i] != i {
			parent[i] = parent[parent[i]]
			i = parent[i]
		}
		return i
	}
	for _, o := range order {
		e := edges[o&math.MaxUint32]
		a, b := find(e.a), find(e.b)
		if a == b || e.step > min(inner[a]+scale/float32(size[a]), inner[b]+scale/float32(size[b])) {
			continue
		}
		if size[a] < size[b] {
			a, b = b, a
		}
		parent[b] = a
		size[a] += size[b]
		inner[a] = e.step
	}
	s := segments{label: make([]int32, n)}
	number := make([]int32, n)
	for i := range number {
		number[i] = -1
	}
	for i := range n {
		s.label[i] = -1
		if !c.use[i] {
			continue
		}
		r := find(int32(i))
		if number[r] < 0 {
			number[r] = int32(len(s.size))
			s.size = append(s.size, size[r])
		}
		s.label[i] = number[r]
	}
	return s
}
