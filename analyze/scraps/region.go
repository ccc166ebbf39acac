package scraps

import (
	"math"

	"greige/analyze/cloth"
)

// inside is the region well inside an outline: no pixel of it has ground,
// shadow or the lens's blur in it. A large piece can spare more than a
// narrow one.
func inside(outline []point, w, h int) cloth.Region {
	r := cloth.Polygon(outline, w, h)
	all := r.Area()
	if all == 0 {
		return r
	}
	b := r.Bounds
	m := newMask(b.Dx()+2, b.Dy()+2) // with a rim outside
	for y := range b.Dy() {
		for x := range b.Dx() {
			m.in[(y+1)*m.w+x+1] = r.Weight[y*b.Dx()+x] > .99
		}
	}
	most := min(max(int(math.Sqrt(all)/25), 2), 6)
	for spare := most; spare > 0; spare-- {
		core := m.eaten(spare)
		left := 0
		for _, in := range core.in {
			if in {
				left++
			}
		}
		if float64(left) < .45*all && spare > 1 || left == 0 {
			continue
		}
		for y := range b.Dy() {
			for x := range b.Dx() {
				r.Weight[y*b.Dx()+x] = 0
				if core.in[(y+1)*m.w+x+1] {
					r.Weight[y*b.Dx()+x] = 1
				}
			}
		}
		return r
	}
	return r
}

// eaten is m without the pixels that have one outside m within n steps,
// across or down and all round by turns: about a circle.
func (m *mask) eaten(n int) *mask {
	for i := range n {
		if i%2 == 0 {
			m = m.shrunk(1)
			continue
		}
		next := newMask(m.w, m.h)
		for y := range m.h {
			for x := range m.w {
				k := y*m.w + x
				next.in[k] = m.in[k] &&
					(x == 0 || m.in[k-1]) && (x+1 == m.w || m.in[k+1]) &&
					(y == 0 || m.in[k-m.w]) && (y+1 == m.h || m.in[k+m.w])
			}
		}
		m = next
	}
	return m
}
