package scraps

import (
	"greige/analyze/cloth"
)

// overlapShare of the smaller of two outlines lies within the other as well
// when they are parts of one cloth: pieces lie beside each other, apart.
const overlapShare = .1

// joinOverlapping makes one part of those whose outlines, followed each by
// itself, overlap: fragments of a print with the ground's colour between them,
// whose edges were found beyond it. It renumbers label.
func (s *search) joinOverlapping(sm *small, ed *edges, ps []part, label []int32, outlines [][]point) ([]part, [][]point) {
	n := len(ps)
	boxes, areas := make([][2]point, n), make([]float64, n)
	regions := make([]cloth.Region, n)
	for i, o := range outlines {
		boxes[i] = boundsOf(o)
	}
	region := func(i int) *cloth.Region {
		if regions[i].Weight == nil {
			regions[i] = cloth.Polygon(outlines[i], ed.p.W, ed.p.H)
			areas[i] = regions[i].Area()
		}
		return &regions[i]
	}
	u := newUnion(n)
	found := false
	for i := range n {
		for j := range i {
			a, b := boxes[i], boxes[j]
			if a[0][0] > b[1][0] || a[1][0] < b[0][0] || a[0][1] > b[1][1] || a[1][1] < b[0][1] {
				continue
			}
			if both := shared(region(i), region(j)); both <= overlapShare*min(areas[i], areas[j]) || s.parted(&ps[i], &ps[j], label) {
				continue
			}
			if p, q := u.find(int32(i)), u.find(int32(j)); p != q {
				u.join(p, q)
				found = true
			}
		}
	}
	if !found {
		return ps, outlines
	}
	number := make([]int32, n)
	var joint []part
	var edge [][]point
	for i := range n {
		r := int(u.find(int32(i)))
		if r != i { // its first part came before
			k := number[r]
			joint[k] = joined(&joint[k], &ps[i])
			number[i], edge[k] = k, nil
			continue
		}
		number[i] = int32(len(joint))
		joint, edge = append(joint, ps[i]), append(edge, outlines[i])
	}
	for i, l := range label {
		if l > 0 {
			label[i] = number[l-1] + 1
		}
	}
	for k := range joint {
		if edge[k] != nil {
			continue
		}
		m := newMask(s.w, s.h)
		for i := range n {
			if int(number[i]) == k {
				s.cover(m, region(i), sm.r)
			}
		}
		for i := range n { // one looks through the handles of scissors as before
			if int(number[i]) == k {
				s.uncover(m, &ps[i])
			}
		}
		for _, i := range joint[k].px {
			m.in[i] = true
		}
		all := m.closed(1).list(1)
		for _, p := range all {
			if len(p.px) > len(joint[k].px)/2 {
				joint[k] = p
			}
		}
		edge[k] = s.outline(sm, ed, &joint[k])
	}
	return joint, edge
}

// uncover takes the holes of a part out of m.
func (s *search) uncover(m *mask, p *part) {
	filled, x0, y0 := p.fill(s.w, 1)
	for i, in := range filled.in {
		if x, y := i%filled.w+x0, i/filled.w+y0; in && x >= 0 && y >= 0 && x < s.w && y < s.h {
			m.in[y*s.w+x] = false
		}
	}
}

// parted: what lies between two parts is ground in the shadows of their edges,
// which gets lighter away from them.
func (s *search) parted(a, b *part, label []int32) bool {
	both := joined(a, b)
	r := int(mergeGap * float64(max(s.w, s.h)) / 2)
	m, x0, y0 := both.fill(s.w, r+1)
	gap := part{x0: both.x0, y0: both.y0, x1: both.x1, y1: both.y1}
	for i, in := range m.closed(r).in {
		if x, y := i%m.w+x0, i/m.w+y0; in && !m.in[i] && x >= both.x0 && y >= both.y0 && x < both.x1 && y < both.y1 {
			if j := y*s.w + x; label[j] == 0 && s.class[j] != other {
				gap.px = append(gap.px, int32(j))
			}
		}
	}
	return s.fading(&gap, label)
}

// shared is the area that two regions have in common.
func shared(a, b *cloth.Region) float64 {
	in := a.Bounds.Intersect(b.Bounds)
	sum := 0.0
	for y := in.Min.Y; y < in.Max.Y; y++ {
		p := a.Weight[(y-a.Bounds.Min.Y)*a.Bounds.Dx()+in.Min.X-a.Bounds.Min.X:]
		q := b.Weight[(y-b.Bounds.Min.Y)*b.Bounds.Dx()+in.Min.X-b.Bounds.Min.X:]
		for x := range in.Dx() {
			sum += float64(min(p[x], q[x]))
		}
	}
	return sum
}

// cover sets the pixels of m, each r pixels of the working picture a side,
// whose middles lie in a region.
func (s *search) cover(m *mask, in *cloth.Region, r int) {
	b := in.Bounds
	for y := (b.Min.Y + r - 1) / r; y*r+r/2 < b.Max.Y && y < s.h; y++ {
		for x := (b.Min.X + r - 1) / r; x*r+r/2 < b.Max.X && x < s.w; x++ {
			if in.Weight[(y*r+r/2-b.Min.Y)*b.Dx()+x*r+r/2-b.Min.X] > .5 {
				m.in[y*s.w+x] = true
			}
		}
	}
}
