package scraps

import (
	"math"

	"greige/analyze/photo"
)

// mask is a set of pixels of a w x h picture.
type mask struct {
	w, h int
	in   []bool
}

func newMask(w, h int) *mask { return &mask{w, h, make([]bool, w*h)} }

// shrunk is m without the pixels that have one outside m within r pixels
// across or down (a square of 2r+1). Beyond the picture's border counts as
// inside, so that what the border cuts is not eaten from there.
func (m *mask) shrunk(r int) *mask { return m.turned(r, false) }

// grown is m with all pixels within r across or down of it.
func (m *mask) grown(r int) *mask { return m.turned(r, true) }

// opened is m without what a square of 2r+1 does not fit into.
func (m *mask) opened(r int) *mask { return m.shrunk(r).grown(r) }

// closed is m with what a square of 2r+1 does not fit into outside it.
func (m *mask) closed(r int) *mask { return m.grown(r).shrunk(r) }

// turned sets every pixel within r of one whose value is to, to it; all else
// keeps its value.
func (m *mask) turned(r int, to bool) *mask {
	rows := m.packed(r, to)
	n := len(rows) / max(m.h, 1)
	out := newMask(m.w, m.h)
	photo.Bands(m.h, 16, func(y0, y1 int) {
		row := make([]uint64, n)
		for y := y0; y < y1; y++ {
			clear(row)
			for v := max(y-r, 0); v <= min(y+r, m.h-1); v++ {
				for i, word := range rows[v*n : (v+1)*n] {
					row[i] |= word
				}
			}
			dst := out.in[y*m.w : (y+1)*m.w]
			for i, word := range row {
				if !to {
					word = ^word
				}
				unpack(dst[min(64*i, len(dst)):min(64*i+64, len(dst))], word)
			}
		}
	})
	return out
}

// packed is m's rows as bits, 64 pixels to a word, a bit set where a pixel
// within r across has the value.
func (m *mask) packed(r int, value bool) []uint64 {
	n := (m.w+63)/64 + (2*r+63)/64 // what is spread to the right needs room
	rows := make([]uint64, m.h*n)
	photo.Bands(m.h, 16, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			src, row := m.in[y*m.w:(y+1)*m.w], rows[y*n:(y+1)*n]
			for i := 0; 64*i < m.w; i++ {
				row[i] = pack(src[64*i:min(64*i+64, m.w)], value)
			}
			// Each bit over itself and the 2r behind it, doubling what is
			// covered; then back by r.
			for covered := 1; covered < 2*r+1; {
				by := min(covered, 2*r+1-covered)
				for i := n - 1; i >= 0; i-- {
					row[i] |= behind(row, i, by)
				}
				covered += by
			}
			for i := range row {
				row[i] = ahead(row, i, r)
			}
		}
	})
	return rows
}

// behind and ahead are the 64 bits that stand by bits before, or after, those
// of word i of row.
func behind(row []uint64, i, by int) (word uint64) {
	i -= by / 64
	if i >= 0 {
		word = row[i] << (by % 64)
	}
	if i >= 1 {
		word |= row[i-1] >> (64 - by%64) // none when by%64 is 0
	}
	return word
}

func ahead(row []uint64, i, by int) (word uint64) {
	i += by / 64
	if i < len(row) {
		word = row[i] >> (by % 64)
	}
	if i+1 < len(row) {
		word |= row[i+1] << (64 - by%64)
	}
	return word
}

// pack is at most 64 pixels as the bits of a word, the first the lowest, set
// where a pixel has the value.
func pack(in []bool, value bool) (word uint64) {
	k := 0
	for ; k+8 <= len(in); k += 8 {
		v := in[k : k+8 : k+8]
		word |= (bit(v[0]) | bit(v[1])<<1 | bit(v[2])<<2 | bit(v[3])<<3 |
			bit(v[4])<<4 | bit(v[5])<<5 | bit(v[6])<<6 | bit(v[7])<<7) << k
	}
	for ; k < len(in); k++ {
		word |= bit(in[k]) << k
	}
	if !value {
		word = ^word & (^uint64(0) >> (64 - len(in)))
	}
	return word
}

func unpack(in []bool, word uint64) {
	for k := range in {
		in[k] = word&1 != 0
		word >>= 1
	}
}

// bit is 1 for true and 0 for false, without a branch.
func bit(v bool) (b uint64) {
	if v {
		b = 1
	}
	return b
}

// part is a connected set of pixels (8 neighbours), with its pixels by number,
// in reading order.
type part struct {
	px             []int32
	x0, y0, x1, y1 int // bounds, x1 and y1 just beyond
}

// parts are the connected parts of m of at least least pixels, in reading
// order of their first pixels, and for each pixel 1 + the number of its part,
// 0 for none.
func (m *mask) parts(least int) (ps []part, label []int32) {
	// Row by row, runs of pixels that touch one above join it (Rosenfeld and
	// Pfaltz 1966, J. ACM 13:471).
	var runs []run
	above, upto := 0, 0 // the runs of the row above
	for y := range m.h {
		first, row := len(runs), m.in[y*m.w:(y+1)*m.w]
		for x := 0; x < m.w; x++ {
			if !row[x] {
				continue
			}
			r := run{x0: int32(y*m.w + x), root: int32(len(runs))}
			for x++; x < m.w && row[x]; x++ {
			}
			r.x1 = int32(y*m.w + x)
			runs = append(runs, r)
			w := int32(m.w)
			for above < upto && runs[above].x1+w < r.x0 {
				above++
			}
			for k := above; k < upto && runs[k].x0+w <= r.x1; k++ {
				join(runs, k, len(runs)-1)
			}
		}
		above, upto = first, len(runs)
	}
	for i := range runs { // a root stands before the rest of its part
		r := &runs[i]
		r.root = runs[r.root].root
		runs[r.root].pixels += r.x1 - r.x0
	}
	label = make([]int32, m.w*m.h)
	for i := range runs {
		r := &runs[i]
		root := &runs[r.root]
		if int(root.pixels) < least {
			continue
		}
		if root == r {
			ps = append(ps, part{x0: m.w, y0: m.h, px: make([]int32, 0, r.pixels)})
			r.part = int32(len(ps))
		}
		p := &ps[root.part-1]
		for k := r.x0; k < r.x1; k++ {
			p.px = append(p.px, k)
			label[k] = root.part
		}
		y := int(r.x0) / m.w
		p.x0, p.x1 = min(p.x0, int(r.x0)-y*m.w), max(p.x1, int(r.x1)-y*m.w)
		p.y0, p.y1 = min(p.y0, y), y+1
	}
	return ps, label
}

// run is a run of pixels in a row, from x0 to before x1 by their numbers. root
// is the first run of its part, or leads there.
type run struct {
	x0, x1, root int32
	pixels, part int32 // of a root: how many there are, and 1 + the part's number
}

// join makes runs i and j one part.
func join(runs []run, i, j int) {
	root := func(i int32) int32 {
		for runs[i].root != i {
			runs[i].root = runs[runs[i].root].root
			i = runs[i].root
		}
		return i
	}
	a, b := root(int32(i)), root(int32(j))
	runs[max(a, b)].root = min(a, b)
}

// fill is the part with its holes filled, as a mask of its bounds grown by
// pad, and where that mask begins.
func (p *part) fill(w, pad int) (m *mask, x0, y0 int) {
	m, x0, y0 = p.in(w, pad)
	m.fillHoles()
	return m, x0, y0
}

// in is the part as a mask of its bounds grown by pad, and where that begins.
func (p *part) in(w, pad int) (m *mask, x0, y0 int) {
	x0, y0 = p.x0-pad, p.y0-pad
	m = newMask(p.x1-p.x0+2*pad, p.y1-p.y0+2*pad)
	for _, i := range p.px {
		m.in[(int(i)/w-y0)*m.w+int(i)%w-x0] = true
	}
	return m, x0, y0
}

// fillHoles sets all pixels that cannot be reached from m's border by steps
// across or down over pixels outside m.
func (m *mask) fillHoles() {
	outside := make([]bool, len(m.in))
	var stack []int
	push := func(x, y int) {
		if i := y*m.w + x; !m.in[i] && !outside[i] {
			outside[i] = true
			stack = append(stack, i)
		}
	}
	for x := range m.w {
		push(x, 0)
		push(x, m.h-1)
	}
	for y := range m.h {
		push(0, y)
		push(m.w-1, y)
	}
	for len(stack) > 0 {
		i := stack[len(stack)-1]
		stack = stack[:len(stack)-1]
		x, y := i%m.w, i/m.w
		if x > 0 {
			push(x-1, y)
		}
		if y > 0 {
			push(x, y-1)
		}
		if x+1 < m.w {
			push(x+1, y)
		}
		if y+1 < m.h {
			push(x, y+1)
		}
	}
	for i, o := range outside {
		m.in[i] = !o
	}
}

// count is the number of pixels in m.
func (m *mask) count() float64 {
	n := 0
	for _, in := range m.in {
		if in {
			n++
		}
	}
	return float64(n)
}

// hull is the area of the convex hull of m's pixels.
func (m *mask) hull() float64 {
	var corners []point
	for y := range m.h {
		first, last := -1, -1
		for x := range m.w {
			if m.in[y*m.w+x] {
				if first < 0 {
					first = x
				}
				last = x + 1
			}
		}
		if first >= 0 {
			t, l, r := float64(y), float64(first), float64(last)
			corners = append(corners, point{l, t}, point{r, t}, point{l, t + 1}, point{r, t + 1})
		}
	}
	return math.Abs(area(convex(corners)))
}
