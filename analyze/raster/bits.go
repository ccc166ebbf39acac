package raster

import (
	"image"
	"math"
	"math/bits"
)

// bitmap is a mask with a bit for each pixel, of whole words a row: a disc of a
// few pixels is moved over 64 of them at a time.
type bitmap struct {
	bounds image.Rectangle
	words  int // a row
	bits   []uint64
}

func (m *Mask) packed(r image.Rectangle, complement bool) *bitmap {
	b := &bitmap{bounds: r, words: (r.Dx() + 63) / 64}
	b.bits = make([]uint64, b.words*r.Dy())
	if complement {
		for y := range r.Dy() {
			row := b.row(y)
			for i := range row {
				row[i] = ^uint64(0)
			}
		}
	}
	for y := m.Bounds.Min.Y; y < m.Bounds.Max.Y; y++ {
		row, at := b.row(y-r.Min.Y), m.Bounds.Min.X-r.Min.X
		in := m.Row(y)
		for len(in) > 0 { // up to the end of a word at a time
			n := min(64-at%64, len(in))
			word := uint64(0)
			for k, is := range in[:n] {
				word |= bit(is) << k
			}
			row[at/64] ^= word << (at % 64)
			in, at = in[n:], at+n
		}
	}
	return b
}

// bit is 1 for true and 0 for false, without a branch.
func bit(v bool) (b uint64) {
	if v {
		b = 1
	}
	return b
}

func (b *bitmap) row(y int) []uint64 { return b.bits[y*b.words : (y+1)*b.words] }

func (b *bitmap) dilated(r float64) *bitmap {
	h := b.bounds.Dy()
	out := &bitmap{b.bounds, b.words, make([]uint64, len(b.bits))}
	k := int(r)
	wide := make([]uint64, b.words)
	for y := range h {
		copy(wide, b.row(y))
		have := 0
		for dy := k; dy >= 0; dy-- { // the disc's rows from its narrowest to its widest
			half := int(math.Sqrt(r*r - float64(dy*dy)))
			for have < half { // what is spread over d can be spread over 2d+1 at once
				step := min(half-have, have+1)
				spreadBoth(wide, step)
				have += step
			}
			if y+dy < h {
				or(out.row(y+dy), wide)
			}
			if dy > 0 && y-dy >= 0 {
				or(out.row(y-dy), wide)
			}
		}
	}
	return out
}

// spreadBoth adds to the bits of row those that stand by bits before and after
// them.
func spreadBoth(row []uint64, by int) {
	n := len(row)
	skip, shift := by/64, by%64
	src := append([]uint64(nil), row...)
	at := func(i int) uint64 {
		if i < 0 || i >= n {
			return 0
		}
		return src[i]
	}
	for i := range row {
		row[i] |= at(i-skip)<<shift | at(i+skip)>>shift
		if shift > 0 {
			row[i] |= at(i-skip-1)>>(64-shift) | at(i+skip+1)<<(64-shift)
		}
	}
}

func or(dst, src []uint64) {
	for i, v := range src {
		dst[i] |= v
	}
}

// each calls do for each pixel that is set, by its place in the bounds.
func (b *bitmap) each(do func(x, y int)) {
	for y := range b.bounds.Dy() {
		for i, word := range b.row(y) {
			for ; word != 0; word &= word - 1 {
				do(64*i+bits.TrailingZeros64(word), y)
			}
		}
	}
}

func (m *Mask) erodedByBits(r float64) *Mask {
	k := int(r)
	out := m.Clone()
	w, h := m.Bounds.Dx(), m.Bounds.Dy()
	m.packed(m.Bounds.Inset(-k), true).dilated(r).each(func(x, y int) {
		if x, y = x-k, y-k; x >= 0 && y >= 0 && x < w && y < h {
			out.In[y*w+x] = false
		}
	})
	return out
}

func (m *Mask) dilatedByBits(r float64) *Mask {
	out := NewMask(m.Bounds.Inset(-int(r)))
	w := out.Bounds.Dx()
	m.packed(out.Bounds, false).dilated(r).each(func(x, y int) {
		if x < w {
			out.In[y*w+x] = true
		}
	})
	return out
}
