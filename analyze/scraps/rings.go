package scraps

import (
	"slices"

	"greige/analyze/photo"
)

// A lossy file keeps colour at half the resolution, in blocks of 16 pixels of
// the photo (8 x 8 of its halved planes, ITU-T T.81 with 4:2:0), and spends
// little on what is fine in them: a strong colour's edge rings all over the
// blocks that it crosses. The overshoot of a series cut off (Gibbs) is a tenth
// of the step, on top of what rounding its terms leaves.
const (
	colourBlock = 16
	colourRings = .12
)

// lossy tells whether a file of this format keeps colour so.
func lossy(format string) bool { return format == "JPEG" || format == "WebP" || format == "HEIC" }

// blocks are the squares that a file keeps its colour in, each colourBlock
// pixels of the photo a side, the first in its upper left corner. That is so in
// a photo turned upright too, when its sides are whole blocks, as cameras make
// them; in any other the blocks may lie up to a block off.
type blocks struct {
	side int // pixels of the photo to one of the small picture; 0: it has no blocks
	off  int // how far off they may lie, in pixels of the photo
}

func (b blocks) count(pixels int) int { return (pixels*b.side + colourBlock - 1) / colourBlock }

// reach is how far a colour rings at most, in pixels of the small picture.
func (b blocks) reach() int { return b.count(1) + (colourBlock-1)/max(b.side, 1) }

// span is the first and the last of n blocks that may reach into what lies
// within r pixels of pixel x.
func (b blocks) span(x, r, n int) (first, last int) {
	first, last = max((x-r)*b.side-b.off, 0)/colourBlock, ((x+r+1)*b.side-1+b.off)/colourBlock
	return first, min(last, n-1)
}

// strongest is, by pixel, the greatest size of v in all the blocks that reach
// into the square of 2r+1 pixels about it.
func (o *stand) strongest(v []float32, r int) []float32 {
	w, h := o.blocks.count(o.w), o.blocks.count(o.h)
	most := make([]float32, w*h)
	photo.Bands(h, 4, func(j0, j1 int) {
		in := blocks{side: o.blocks.side}
		for y := range o.h {
			top, low := in.span(y, 0, h)
			for j := max(top, j0); j <= min(low, j1-1); j++ {
				row := most[j*w : (j+1)*w]
				for x, c := range v[y*o.w : (y+1)*o.w] {
					first, last := in.span(x, 0, w)
					c = max(c, -c)
					row[first], row[last] = max(row[first], c), max(row[last], c)
				}
			}
		}
	})
	out := make([]float32, len(v))
	photo.Bands(o.h, 16, func(y0, y1 int) {
		beside := make([]float32, w)
		for y := y0; y < y1; y++ {
			clear(beside)
			top, low := o.blocks.span(y, r, h)
			for j := top; j <= low; j++ {
				for i, c := range most[j*w : (j+1)*w] {
					beside[i] = max(beside[i], c)
				}
			}
			for x := range o.w {
				first, last := o.blocks.span(x, r, w)
				out[y*o.w+x] = slices.Max(beside[first : last+1])
			}
		}
	})
	return out
}

// unrung is v without what strong colours near pixel i may have rung into it.
func (o *stand) unrung(strong []float32, i int, v float32) float32 {
	if strong == nil {
		return v
	}
	return v - min(max(v, -colourRings*strong[i]), colourRings*strong[i])
}

// openGround is how much of the photo open ground covers in one place, at
// least: what of a print looks like the ground is smaller.
const openGround = .01

// unring takes out of differ what strong colours have rung into the ground
// beside them: no further from the open ground than they ring, and reached from
// there through nothing else. What lies within a piece may be of a colour as
// weak.
func (s *search) unring(differ *mask) {
	if s.rung == nil {
		return
	}
	ground := newMask(s.w, s.h)
	for i, in := range differ.in {
		ground.in[i] = !in
	}
	_, label := ground.parts(int(openGround * float64(s.w*s.h)))
	var front []int32
	for i, l := range label {
		if l > 0 {
			front = append(front, int32(i))
		}
	}
	for range s.blocks.reach() {
		var next []int32
		reach := func(j int32) {
			if differ.in[j] && s.rung[j] != other {
				differ.in[j] = false
				s.class[j] = s.rung[j]
				next = append(next, j)
			}
		}
		w := int32(s.w)
		for _, i := range front {
			x := int(i) % s.w
			if x > 0 {
				reach(i - 1)
			}
			if x+1 < s.w {
				reach(i + 1)
			}
			if i >= w {
				reach(i - w)
			}
			if int(i)+s.w < s.w*s.h {
				reach(i + w)
			}
		}
		front = next
	}
}
