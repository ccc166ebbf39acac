package scraps

import (
	"math"
	"math/bits"
	"slices"

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
func (m *mask) shrunk(r int) *mask { return m.bits().shrunk(r).mask() }

// grown is m with all pixels within r across or down of it.
func (m *mask) grown(r int) *mask { return m.bits().grown(r).mask() }

// opened is m without what a square of 2r+1 does not fit into.
func (m *mask) opened(r int) *mask { return m.bits().shrunk(r).grown(r).mask() }

// closed is m with what a square of 2r+1 does not fit into outside it.
func (m *mask) closed(r int) *mask { return m.bits().grown(r).shrunk(r).mask() }

// bitmap is a mask with 64 pixels to a word, the first the lowest bit; beyond
// the last pixel of a row it is 0.
type bitmap struct {
	w, h, n int // n words to a row
	words   []uint64
}

func newBitmap(w, h int) *bitmap {
	n := (w + 63) / 64
	return &bitmap{w, h, n, make([]uint64, n*h)}
}

func (b *bitmap) has(x, y int) bool { return b.words[y*b.n+x/64]>>(x%64)&1 == 1 }

func (b *bitmap) set(x, y int) { b.words[y*b.n+x/64] |= 1 << (x % 64) }

func (b *bitmap) row(y int) []uint64 { return b.words[y*b.n : (y+1)*b.n] }

// bits is m as a bitmap.
func (m *mask) bits() *bitmap {
	b := newBitmap(m.w, m.h)
	inBands(m.w, m.h, func(y int) {
		row := b.row(y)
		for i := range row {
			row[i] = pack(m.in[y*m.w+64*i : y*m.w+min(64*i+64, m.w)])
		}
	})
	return b
}

// mask is b as a mask.
func (b *bitmap) mask() *mask {
	m := newMask(b.w, b.h)
	inBands(m.w, m.h, func(y int) {
		for i, word := range b.row(y) {
			if word != 0 {
				unpack(m.in[y*m.w+64*i:y*m.w+min(64*i+64, m.w)], word)
			}
		}
	})
	return m
}

// inBands does the rows of a picture, on all processors if it is large.
func inBands(w, h int, row func(y int)) {
	band := 32
	if w*h < 1<<15 {
		band = max(h, 1)
	}
	photo.Bands(h, band, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			row(y)
		}
	})
}

func (b *bitmap) shrunk(r int) *bitmap {
	out := b.inverse().grown(r)
	out.invert()
	return out
}

func (b *bitmap) inverse() *bitmap {
	out := &bitmap{b.w, b.h, b.n, slices.Clone(b.words)}
	out.invert()
	return out
}

func (b *bitmap) invert() {
	if b.n == 0 {
		return
	}
	last := ^uint64(0) >> (64*b.n - b.w)
	for y := range b.h {
		row := b.row(y)
		for i := range row {
			row[i] = ^row[i]
		}
		row[b.n-1] &= last
	}
}

func (b *bitmap) grown(r int) *bitmap {
	n := b.n
	if n == 0 || b.h == 0 {
		return newBitmap(b.w, b.h)
	}
	last := ^uint64(0) >> (64*n - b.w)
	wide := make([]uint64, n+(2*r+63)/64)  // what is spread to the right needs room
	out := &bitmap{b.w, b.h + 2*r, n, nil} // and so does what is spread down
	out.words = make([]uint64, n*out.h)
	for y := range b.h {
		clear(wide[copy(wide, b.row(y)):])
		// Each bit over itself and the 2r behind it, then back by r.
		doubling(2*r+1, func(by int) { spread(wide, by) })
		row := out.row(y)
		for i := range row {
			row[i] = ahead(wide, i, r)
		}
		row[n-1] &= last
	}
	// Each row over itself and the 2r below it, then back by r.
	doubling(2*r+1, func(by int) {
		for k := len(out.words) - 1; k >= by*n; k-- {
			out.words[k] |= out.words[k-by*n]
		}
	})
	out.words, out.h = out.words[r*n:(r+b.h)*n], b.h
	return out
}

// doubling calls step with the distances by which to lay what is spread over
// itself until it covers width, each time as far as it is covered already.
func doubling(width int, step func(by int)) {
	for covered := 1; covered < width; {
		by := min(covered, width-covered)
		step(by)
		covered += by
	}
}

// spread adds to the bits of row those that stand by bits before them.
func spread(row []uint64, by int) {
	skip, bits := by/64, by%64
	for i := len(row) - 1; i > skip; i-- {
		row[i] |= row[i-skip]<<bits | row[i-skip-1]>>(64-bits) // none when bits is 0
	}
	if skip < len(row) {
		row[skip] |= row[0] << bits
	}
}

// remove takes the pixels of other out of b.
func (b *bitmap) remove(other *bitmap) {
	for i, word := range other.words {
		b.words[i] &^= word
	}
}

// add puts the pixels of other into b.
func (b *bitmap) add(other *bitmap) {
	for i, word := range other.words {
		b.words[i] |= word
	}
}

// count is the number of pixels in b.
func (b *bitmap) count() (n int) {
	for _, word := range b.words {
		n += bits.OnesCount64(word)
	}
	return n
}

// each calls do for the pixels of b in reading order.
func (b *bitmap) each(do func(x, y int)) {
	for y := range b.h {
		for i, word := range b.row(y) {
			for ; word != 0; word &= word - 1 {
				do(64*i+bits.TrailingZeros64(word), y)
			}
		}
	}
}

// ring are the pixels outside b that lie from..to steps from it, across or down.
func (b *bitmap) ring(from, to int) *bitmap {
	out := b.grown(to)
	out.remove(b.grown(from - 1))
	return out
}

// ahead is the 64 bits that stand by bits after those of word i of row.
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

// pack is at most 64 pixels as the bits of a word, the first the lowest.
func pack(in []bool) (word uint64) {
	k := 0
	for ; k+8 <= len(in); k += 8 {
		v := in[k : k+8 : k+8]
		word |= (bit(v[0]) | bit(v[1])<<1 | bit(v[2])<<2 | bit(v[3])<<3 |
			bit(v[4])<<4 | bit(v[5])<<5 | bit(v[6])<<6 | bit(v[7])<<7) << k
	}
	for ; k < len(in); k++ {
		word |= bit(in[k]) << k
	}
	return word
}

// unpack sets the pixels whose bits are set.
func unpack(in []bool, word uint64) {
	if word == ^uint64(0) {
		for k := range in {
			in[k] = true
		}
		return
	}
	for ; word != 0; word &= word - 1 {
		in[bits.TrailingZeros64(word)] = true
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
	label = make([]int32, m.w*m.h)
	return m.divided(least, label), label
}

// list is parts without the labels.
func (m *mask) list(least int) []part { return m.divided(least, nil) }

// number writes the numbers that parts gives the parts into label, which is 0
// all over before.
func (m *mask) number(least int, label []int32) {
	for _, r := range m.numbered(least) {
		if r.part > 0 {
			for i := r.x0; i < r.x1; i++ {
				label[i] = r.part
			}
		}
	}
}

// numbered are the runs of the parts of at least least pixels, part set in all
// of them: 1 + the number of their part, 0 in those of smaller parts.
func (m *mask) numbered(least int) []run {
	runs := m.sized()
	parts := int32(0)
	for i := range runs {
		r := &runs[i]
		if int(r.root) == i && int(r.pixels) >= least {
			parts++
			r.part = parts
		}
		r.part = runs[r.root].part
	}
	return runs
}

// divided are the parts, whose numbers are written into label if it is given.
func (m *mask) divided(least int, label []int32) (ps []part) {
	runs := m.numbered(least)
	for _, r := range runs {
		if r.part == 0 {
			continue
		}
		if int(r.part) > len(ps) {
			ps = append(ps, part{x0: m.w, y0: m.h, px: make([]int32, 0, runs[r.root].pixels)})
		}
		p := &ps[r.part-1]
		for k := r.x0; k < r.x1; k++ {
			p.px = append(p.px, k)
		}
		if label != nil {
			for k := r.x0; k < r.x1; k++ {
				label[k] = r.part
			}
		}
		y := int(r.x0) / m.w
		p.x0, p.x1 = min(p.x0, int(r.x0)-y*m.w), max(p.x1, int(r.x1)-y*m.w)
		p.y0, p.y1 = min(p.y0, y), y+1
	}
	return ps
}

// run is a run of pixels in a row, from x0 to before x1 by their numbers. root
// is the first run of its part, or leads there.
type run struct {
	x0, x1, root int32
	pixels, part int32 // of a root: how many there are, and 1 + the part's number; see numbered
}

// runs are the runs of pixels that are in m, or that are not, in reading order.
// Those that touch one in the row above are of one part (Rosenfeld and Pfaltz
// 1966, J. ACM 13:471): over the corner as well where corner is 1, not where it
// is 0.
func (m *mask) runs(in bool, corner int32) []run {
	b := m.bits()
	if !in {
		b.invert()
	}
	runs := make([]run, 0, 4*m.h)
	above, upto := 0, 0 // the runs of the row above
	w := int32(m.w)
	for y := range m.h {
		first, row := len(runs), b.row(y)
		for x := 0; ; {
			if x = next(row, x, 0); x >= m.w {
				break
			}
			r := run{x0: int32(y*m.w + x), root: int32(len(runs))}
			x = min(next(row, x, ^uint64(0)), m.w)
			r.x1 = int32(y*m.w + x)
			runs = append(runs, r)
			for above < upto && runs[above].x1+w+corner <= r.x0 {
				above++
			}
			for k := above; k < upto && runs[k].x0+w < r.x1+corner; k++ {
				join(runs, k, len(runs)-1)
			}
		}
		above, upto = first, len(runs)
	}
	for i := range runs { // a root stands before the rest of its part
		runs[i].root = runs[runs[i].root].root
	}
	return runs
}

// next is the place of the first bit of row from x on that is set, or with all
// bits in flip that is not; 64 to each word where there is none.
func next(row []uint64, x int, flip uint64) int {
	i := x / 64
	if i >= len(row) {
		return 64 * len(row)
	}
	word := (row[i] ^ flip) >> (x % 64) << (x % 64)
	for word == 0 {
		if i++; i == len(row) {
			return 64 * i
		}
		word = row[i] ^ flip
	}
	return 64*i + bits.TrailingZeros64(word)
}

// sized are the runs of the connected parts of m, with the size of each part.
func (m *mask) sized() []run {
	runs := m.runs(true, 1)
	for _, r := range runs {
		runs[r.root].pixels += r.x1 - r.x0
	}
	return runs
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
	runs := m.runs(false, 0)
	for _, r := range runs {
		y := int(r.x0) / m.w
		if y == 0 || y == m.h-1 || int(r.x0) == y*m.w || int(r.x1) == (y+1)*m.w {
			runs[r.root].part = outside
		}
	}
	for _, r := range runs {
		if runs[r.root].part != outside {
			for i := r.x0; i < r.x1; i++ {
				m.in[i] = true
			}
		}
	}
}

// outside marks a part that reaches the border.
const outside = -1

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
func (m *mask) hull() float64 { return math.Abs(area(m.hullLine())) }

// hullLine is the convex hull of m's pixels.
func (m *mask) hullLine() []point {
	// The outermost corners of pixels on each line between two rows, down first.
	corners := make([]point, 0, 2*m.h+2)
	left, right := m.w, 0 // of the row above
	for y := range m.h + 1 {
		first, last := m.w, 0
		if y < m.h {
			row := m.in[y*m.w : (y+1)*m.w]
			if first = slices.Index(row, true); first < 0 {
				first = m.w
			} else {
				for last = m.w; !row[last-1]; last-- {
				}
			}
		}
		if l, r := min(left, first), max(right, last); l < r {
			corners = append(corners, point{float64(y), float64(l)}, point{float64(y), float64(r)})
		}
		left, right = first, last
	}
	line := convexOf(corners)
	for i, p := range line {
		line[i] = point{p[1], p[0]}
	}
	return line
}

// hullMask are the pixels whose middles lie in the convex hull of m's.
func (m *mask) hullMask() *mask {
	line := m.hullLine()
	out := newMask(m.w, m.h)
	for y := range m.h {
		from, to, at := math.Inf(1), math.Inf(-1), float64(y)+.5
		for i, p := range line {
			if q := line[(i+1)%len(line)]; (p[1] <= at) != (q[1] <= at) {
				x := p[0] + (at-p[1])/(q[1]-p[1])*(q[0]-p[0])
				from, to = min(from, x), max(to, x)
			}
		}
		for x := range m.w {
			out.in[y*m.w+x] = from < float64(x)+.5 && float64(x)+.5 < to
		}
	}
	return out
}
