package raster

import (
	"math"
	"slices"
)

// Segments joins neighbouring pixels of a w x h picture by the graph method of
// Felzenszwalb and Huttenlocher (2004, Int. J. Computer Vision 59:167): two parts
// become one when the step between them is no larger than the steps inside both, with
// an allowance of scale/pixels for small parts. step is the step, 0 or more, between
// two neighbours, and whether they may be joined at all. It returns the number of each
// pixel's part, from 0 in reading order, and the pixels of each part.
func Segments(w, h int, scale float32, step func(i, j int) (float32, bool)) (label, size []int32) {
	f := &forest{parent: make([]int32, w*h), size: make([]int32, w*h), inner: make([]float32, w*h)}
	var edges [][2]int32
	var order []uint64
	add := func(a, b int) {
		if v, ok := step(a, b); ok {
			// Small steps first, and of equal ones the first in reading order. A step
			// is never negative, so that its bits are in order as it is.
			order = append(order, uint64(math.Float32bits(v))<<32|uint64(len(edges)))
			edges = append(edges, [2]int32{int32(a), int32(b)})
		}
	}
	for i := range w * h {
		f.parent[i], f.size[i] = int32(i), 1
		if (i+1)%w > 0 {
			add(i, i+1)
		}
		if i+w < w*h {
			add(i, i+w)
		}
	}
	slices.Sort(order)
	for _, o := range order {
		e := edges[o&math.MaxUint32]
		f.join(f.root(e[0]), f.root(e[1]), math.Float32frombits(uint32(o>>32)), scale)
	}
	label = make([]int32, w*h)
	number := slices.Repeat([]int32{-1}, w*h)
	for i := range label {
		r := f.root(int32(i))
		if number[r] < 0 {
			number[r] = int32(len(size))
			size = append(size, f.size[r])
		}
		label[i] = number[r]
	}
	return label, size
}

// forest is parts of a picture as trees: union-find (Tarjan 1975, J. ACM 22:215), with
// the largest step inside each.
type forest struct {
	parent, size []int32
	inner        []float32
}

func (f *forest) root(i int32) int32 {
	for f.parent[i] != i {
		f.parent[i] = f.parent[f.parent[i]]
		i = f.parent[i]
	}
	return i
}

// join makes the parts of roots a and b one, where a step between them is no larger
// than inside both.
func (f *forest) join(a, b int32, step, scale float32) {
	if a == b || step > min(f.inner[a]+scale/float32(f.size[a]), f.inner[b]+scale/float32(f.size[b])) {
		return
	}
	if f.size[a] < f.size[b] {
		a, b = b, a
	}
	f.parent[b] = a
	f.size[a] += f.size[b]
	f.inner[a] = step
}
