package raster

import (
	"image"
	"slices"
)

// Run is a stretch of pixels of row Y from X0 to before X1.
type Run struct{ Y, X0, X1 int }

// Component is a connected component of a mask.
type Component struct {
	Bounds image.Rectangle // the least that holds it
	Pixels int
	Runs   []Run // in reading order
}

// How many neighbours of a pixel are connected to it.
const (
	Sides   = 4 // across and down
	Corners = 8 // over the corners as well
)

// run is a run whose component's first run is root, or leads there.
type run struct {
	Run
	root int
}

// Components are the mask's connected components of at least least pixels, in
// reading order of their first pixels. neighbours is Sides or Corners. Runs
// that touch are joined (Rosenfeld and Pfaltz 1966, J. ACM 13:471) with
// union-find (Tarjan 1975, J. ACM 22:215).
func (m *Mask) Components(neighbours, least int) []Component {
	runs := m.runs(true, neighbours)
	pixels, count := make([]int, len(runs)), make([]int, len(runs))
	for _, r := range runs {
		pixels[r.root] += r.X1 - r.X0
		count[r.root]++
	}
	number := make([]int, len(runs))
	var out []Component
	for i, r := range runs {
		n := pixels[r.root]
		if n < least {
			continue
		}
		if r.root == i {
			out = append(out, Component{Pixels: n, Runs: make([]Run, 0, count[i])})
			number[i] = len(out) - 1
		}
		c := &out[number[r.root]]
		c.Runs = append(c.Runs, r.Run)
		c.Bounds = c.Bounds.Union(image.Rect(r.X0, r.Y, r.X1, r.Y+1))
	}
	return out
}

// Largest is the component with the most pixels; the first among equals. ok is
// false for an empty mask.
func (m *Mask) Largest(neighbours int) (c Component, ok bool) {
	for _, k := range m.Components(neighbours, 1) {
		if k.Pixels > c.Pixels {
			c, ok = k, true
		}
	}
	return c, ok
}

// Mask is the component as a mask of its own bounds.
func (c *Component) Mask() *Mask {
	m := NewMask(c.Bounds)
	c.AddTo(m)
	return m
}

// AddTo puts the component into m, whose bounds must hold it.
func (c *Component) AddTo(m *Mask) {
	for _, r := range c.Runs {
		row := m.Row(r.Y)[r.X0-m.Bounds.Min.X : r.X1-m.Bounds.Min.X]
		for i := range row {
			row[i] = true
		}
	}
}

// Labels numbers the pixels of r: 1 + the number of the component that a pixel
// belongs to, 0 for none. r must hold all components.
func Labels(r image.Rectangle, cs []Component) []int32 {
	label := make([]int32, r.Dx()*r.Dy())
	for k, c := range cs {
		for _, q := range c.Runs {
			at := (q.Y-r.Min.Y)*r.Dx() - r.Min.X
			for i := at + q.X0; i < at+q.X1; i++ {
				label[i] = int32(k + 1)
			}
		}
	}
	return label
}

// runs are the runs of pixels that are in m, or with in false of those of its
// bounds that are not, in reading order, root resolved.
func (m *Mask) runs(in bool, neighbours int) []run {
	corner := 0
	if neighbours == Corners {
		corner = 1
	}
	runs := make([]run, 0, 4*m.Bounds.Dy())
	above, upto := 0, 0 // the runs of the row above
	for y := m.Bounds.Min.Y; y < m.Bounds.Max.Y; y++ {
		first, row := len(runs), m.Row(y)
		for x := 0; x < len(row); {
			from := slices.Index(row[x:], in)
			if from < 0 {
				break
			}
			from += x
			if x = slices.Index(row[from:], !in); x < 0 {
				x = len(row)
			} else {
				x += from
			}
			r := run{Run{y, m.Bounds.Min.X + from, m.Bounds.Min.X + x}, len(runs)}
			runs = append(runs, r)
			for above < upto && runs[above].X1+corner <= r.X0 {
				above++
			}
			for k := above; k < upto && runs[k].X0 < r.X1+corner; k++ {
				join(runs, k, len(runs)-1)
			}
		}
		above, upto = first, len(runs)
	}
	for i := range runs { // a root stands before the rest of its component
		runs[i].root = runs[runs[i].root].root
	}
	return runs
}

func join(runs []run, i, j int) {
	root := func(i int) int {
		for runs[i].root != i {
			runs[i].root = runs[runs[i].root].root
			i = runs[i].root
		}
		return i
	}
	a, b := root(i), root(j)
	runs[max(a, b)].root = min(a, b)
}

// Filled is m with its holes: all pixels that cannot be reached from beyond its
// bounds by steps across or down over pixels outside m.
func (m *Mask) Filled() *Mask {
	out := m.Clone()
	runs := m.runs(false, Sides)
	open := make([]bool, len(runs))
	for _, r := range runs {
		b := m.Bounds
		if r.Y == b.Min.Y || r.Y == b.Max.Y-1 || r.X0 == b.Min.X || r.X1 == b.Max.X {
			open[r.root] = true
		}
	}
	for _, r := range runs {
		if !open[r.root] {
			row := out.Row(r.Y)
			for x := r.X0; x < r.X1; x++ {
				row[x-m.Bounds.Min.X] = true
			}
		}
	}
	return out
}
