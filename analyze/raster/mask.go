package raster

import (
	"image"
	"slices"
)

// Mask is a set of pixels within a rectangle. In has one entry for each pixel of
// Bounds, row by row; what lies outside Bounds is not in the set.
type Mask struct {
	Bounds image.Rectangle
	In     []bool
}

// NewMask is an empty set within r.
func NewMask(r image.Rectangle) *Mask { return &Mask{r, make([]bool, r.Dx()*r.Dy())} }

// Where is the set of the pixels of r for which is holds.
func Where(r image.Rectangle, is func(x, y int) bool) *Mask {
	m := NewMask(r)
	for y := r.Min.Y; y < r.Max.Y; y++ {
		row := m.Row(y)
		for i := range row {
			row[i] = is(r.Min.X+i, y)
		}
	}
	return m
}

// Row is row y of the set, from the left end of its bounds. y must lie within
// the bounds.
func (m *Mask) Row(y int) []bool {
	w := m.Bounds.Dx()
	i := (y - m.Bounds.Min.Y) * w
	return m.In[i : i+w : i+w]
}

// Has tells whether the pixel is in the set; false outside its bounds.
func (m *Mask) Has(x, y int) bool {
	return image.Pt(x, y).In(m.Bounds) && m.In[(y-m.Bounds.Min.Y)*m.Bounds.Dx()+x-m.Bounds.Min.X]
}

// Set puts the pixel in or takes it out. It must lie within the bounds.
func (m *Mask) Set(x, y int, in bool) {
	m.In[(y-m.Bounds.Min.Y)*m.Bounds.Dx()+x-m.Bounds.Min.X] = in
}

// Clone is a copy of the set.
func (m *Mask) Clone() *Mask { return &Mask{m.Bounds, slices.Clone(m.In)} }

// Within is a copy of the set with other bounds: pixels outside r are left out,
// and where r reaches beyond the set's bounds nothing is in it.
func (m *Mask) Within(r image.Rectangle) *Mask {
	out := NewMask(r)
	if both := r.Intersect(m.Bounds); !both.Empty() {
		for y := both.Min.Y; y < both.Max.Y; y++ {
			copy(out.Row(y)[both.Min.X-r.Min.X:both.Max.X-r.Min.X], m.Row(y)[both.Min.X-m.Bounds.Min.X:])
		}
	}
	return out
}

// Count is the number of pixels in the set.
func (m *Mask) Count() (n int) {
	for _, in := range m.In {
		if in {
			n++
		}
	}
	return n
}

// Extent is the least rectangle that holds the set; empty for an empty set.
func (m *Mask) Extent() (r image.Rectangle) {
	for y := m.Bounds.Min.Y; y < m.Bounds.Max.Y; y++ {
		row := m.Row(y)
		first := slices.Index(row, true)
		if first < 0 {
			continue
		}
		last := len(row) - 1
		for !row[last] {
			last--
		}
		r = r.Union(image.Rect(m.Bounds.Min.X+first, y, m.Bounds.Min.X+last+1, y+1))
	}
	return r
}

// Add puts those pixels of o into m that lie within m's bounds.
func (m *Mask) Add(o *Mask) {
	m.combine(o, func(mine, theirs []bool) {
		for i, in := range theirs {
			mine[i] = mine[i] || in
		}
	})
}

// Remove takes the pixels of o out of m.
func (m *Mask) Remove(o *Mask) {
	m.combine(o, func(mine, theirs []bool) {
		for i, in := range theirs {
			mine[i] = mine[i] && !in
		}
	})
}

// combine calls do for the rows that the bounds of both share.
func (m *Mask) combine(o *Mask, do func(mine, theirs []bool)) {
	both := m.Bounds.Intersect(o.Bounds)
	for y := both.Min.Y; y < both.Max.Y; y++ {
		a, b := both.Min.X, both.Max.X
		do(m.Row(y)[a-m.Bounds.Min.X:b-m.Bounds.Min.X], o.Row(y)[a-o.Bounds.Min.X:b-o.Bounds.Min.X])
	}
}

// Keep takes out of m what is not in o.
func (m *Mask) Keep(o *Mask) {
	in := o.Within(m.Bounds)
	for i, is := range in.In {
		m.In[i] = m.In[i] && is
	}
}

// Shared is the number of pixels that are in both sets.
func (m *Mask) Shared(o *Mask) (n int) {
	m.combine(o, func(mine, theirs []bool) {
		for i, in := range theirs {
			if in && mine[i] {
				n++
			}
		}
	})
	return n
}

// Each calls do for the set's pixels in reading order.
func (m *Mask) Each(do func(x, y int)) {
	for y := m.Bounds.Min.Y; y < m.Bounds.Max.Y; y++ {
		for i, in := range m.Row(y) {
			if in {
				do(m.Bounds.Min.X+i, y)
			}
		}
	}
}

// Border is the set of m's pixels that have one of their 8 neighbours outside m.
func (m *Mask) Border() *Mask {
	out := NewMask(m.Bounds)
	w, h := m.Bounds.Dx(), m.Bounds.Dy()
	for y := range h {
		for x := range w {
			i := y*w + x
			if !m.In[i] {
				continue
			}
			if x == 0 || y == 0 || x == w-1 || y == h-1 {
				out.In[i] = true
				continue
			}
			out.In[i] = !(m.In[i-1] && m.In[i+1] && m.In[i-w] && m.In[i+w] &&
				m.In[i-w-1] && m.In[i-w+1] && m.In[i+w-1] && m.In[i+w+1])
		}
	}
	return out
}
