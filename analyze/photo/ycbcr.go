package photo

import "image"

// The codes that luma and chroma make lie in -289..548 whatever the coding;
// the tables begin at -below and need no clipping.
const (
	below     = 384
	codeSlots = 1024
)

// A slot of the tables holds a code's light in its lower bits and, above it,
// whether the code stands at the bottom or the top of the scale: one look-up
// gives both. Slots are added as they are for the light of a box (no box has
// so many pixels that its light reaches the upper bits) and or-ed over the
// channels for its ends.
const (
	slotDark   = 1 << 40
	slotBright = 1 << 52
	slotLight  = slotDark - 1
	slotEnds   = ^uint64(slotLight)
)

// ycbcrAdder reads the planes of luma and chroma as the decoder left them.
type ycbcrAdder struct {
	m              *image.YCbCr
	shiftX, shiftY int // chroma samples are 1<<shift pixels wide and high
	steps
	base  int32 // what luma 0 without chroma gives, in 1/65536, from -below on
	of4   int   // so many of every four squares of 2 x 2 pixels may stand for all
	slots slotTable
}

// slots are those of one channel; behind the last code there is room for a
// luma more, so that no look-up needs a check.
type slots [codeSlots + 256]uint64

// slotTable has the slots of R, G and B.
type slotTable [3]slots

// newYCbCrAdder is nil for planes that it cannot read.
func newYCbCrAdder(m *image.YCbCr, c coding, sp *space, of4 int) *ycbcrAdder {
	a := &ycbcrAdder{m: m, steps: c.steps(), of4: of4}
	switch m.SubsampleRatio {
	case image.YCbCrSubsampleRatio444:
	case image.YCbCrSubsampleRatio422:
		a.shiftX = 1
	case image.YCbCrSubsampleRatio420:
		a.shiftX, a.shiftY = 1, 1
	case image.YCbCrSubsampleRatio440:
		a.shiftY = 1
	case image.YCbCrSubsampleRatio411:
		a.shiftX = 2
	case image.YCbCrSubsampleRatio410:
		a.shiftX, a.shiftY = 2, 1
	default:
		return nil
	}
	// A picture cut out so that its first chroma sample is a part of one.
	if c.direct || m.Rect.Min.X&(1<<a.shiftX-1) != 0 || m.Rect.Min.Y&(1<<a.shiftY-1) != 0 {
		return nil
	}
	a.base = int32(below<<16+1<<15) - a.black*a.steps.luma
	t := tables8(sp)
	for c := range a.slots {
		for i := range codeSlots {
			v := min(max(i-below, 0), 255)
			a.slots[c][i] = uint64(max(t[c][v], 0))
			switch v {
			case 0:
				a.slots[c][i] |= slotDark
			case 255:
				a.slots[c][i] |= slotBright
			}
		}
	}
	return a
}

// light adds the light of some slots to a box.
func (s *sum) light(r, g, b uint64) {
	s.r += int64(r & slotLight)
	s.g += int64(g & slotLight)
	s.b += int64(b & slotLight)
}

func (a *ycbcrAdder) add(y0, y1 int, xs []int, sums []sum) {
	halved := a.shiftX == 1 && a.shiftY == 1 && a.steps.luma == 1<<16 // the usual photo: 2 x 2 pixels are one sample of chroma
	if halved && a.of4 < 4 && y0&1 == 0 && (y1-y0)&3 == 0 {
		if n, squares := evenBoxes(xs); n > 0 && squares&1 == 0 {
			for y := y0; y < y1; y += 4 {
				a.addSome(xs[0], y, squares, sums[:n])
			}
			xs, sums = xs[n:], sums[n:]
		}
	}
	if len(sums) == 0 {
		return
	}
	for y := y0; y < y1; y++ {
		if halved && y&1 == 0 && y+1 < y1 {
			a.addTwoRows(y, xs, sums)
			y++
		} else {
			a.addRow(y, xs, sums)
		}
	}
}

// evenBoxes is how many boxes, from the first on, begin at an even column and
// are equally wide, and how many squares of 2 x 2 pixels they are wide.
func evenBoxes(xs []int) (n, squares int) {
	n = len(xs) - 1
	if n < 1 || xs[0]&1 != 0 || (xs[1]-xs[0])&1 != 0 {
		return 0, 0
	}
	wide := xs[1] - xs[0]
	if xs[n]-xs[n-1] != wide { // the last box is narrower
		n--
	}
	if xs[n] != xs[0]+n*wide { // or the first one is
		return 0, 0
	}
	return n, wide / 2
}

// addTwoRows adds two rows of pixels, which share their chroma, to boxes of any
// width. Where a box begins or ends within a sample of chroma, it has the half
// of its pixels.
func (a *ycbcrAdder) addTwoRows(y int, xs []int, sums []sum) {
	m := a.m
	above, under := m.Y[y*m.YStride:], m.Y[(y+1)*m.YStride:]
	co := y / 2 * m.CStride
	cb, cr := m.Cb[co:], m.Cr[co:]
	t, base := &a.slots, a.base
	redCr, greenCb, greenCr, blueC := a.redCr, a.greenCb, a.greenCr, a.blueC
	for i := range sums {
		x, end := xs[i], xs[i+1]
		above, under := above[:end], under[:end]
		var sr, sg, sb uint64
		for x < end {
			c := x >> 1
			u, v := int32(cb[c])-128, int32(cr[c])-128
			r := t[0].from(base + redCr*v)
			g := t[1].from(base + greenCb*u + greenCr*v)
			b := t[2].from(base + blueC*u)
			l0, l2 := above[x], under[x]
			sr += r[l0] + r[l2]
			sg += g[l0] + g[l2]
			sb += b[l0] + b[l2]
			x++
			if x&1 == 1 && x < end {
				l1, l3 := above[x], under[x]
				sr += r[l1] + r[l3]
				sg += g[l1] + g[l3]
				sb += b[l1] + b[l3]
				x++
			}
		}
		sums[i].light(sr, sg, sb)
		if (sr|sg|sb)&slotEnds != 0 {
			sums[i].ends += a.endsOfRow(y, xs[i], end) + a.endsOfRow(y+1, xs[i], end)
		}
	}
}

// endsOfRow is how many of the pixels from x to before end of row y stand at
// each end of the scale.
func (a *ycbcrAdder) endsOfRow(y, x, end int) (ends uint64) {
	m := a.m
	luma := m.Y[y*m.YStride:]
	co := y / 2 * m.CStride
	for ; x < end; x++ {
		u, v := int32(m.Cb[co+x>>1])-128, int32(m.Cr[co+x>>1])-128
		r := a.slots[0].from(a.base + a.redCr*v)
		g := a.slots[1].from(a.base + a.greenCb*u + a.greenCr*v)
		b := a.slots[2].from(a.base + a.blueC*u)
		l := luma[x]
		ends += spreadEnds(r[l] | g[l] | b[l])
	}
	return ends
}

// addSome adds four rows of pixels, but of every four squares of 2 x 2 only of4,
// counted for their neighbours too: two that touch at a corner, or one. Which is
// scrambled, so that no weave keeps time with them.
func (a *ycbcrAdder) addSome(x, y, squares int, sums []sum) {
	m := a.m
	luma, cb, cr := m.Y[y*m.YStride+x:], m.Cb[y/2*m.CStride+x/2:], m.Cr[y/2*m.CStride+x/2:]
	t, base := &a.slots, a.base
	times := 4 / a.of4
	which, word := scrambled(uint64(y)), -1
	c := 0
	for i := range sums {
		if a.of4 == 2 && c/64 != word {
			word = c / 64
			which = scrambled(uint64(y)<<32 + uint64(word))
		}
		var sr, sg, sb, ends uint64
		for end := c + squares; c < end; c += 2 {
			pick := int(which >> (c & 63))
			for k := range a.of4 {
				one, down := c+(pick^k)&1, k
				if a.of4 == 1 {
					down = pick >> 1 & 1
				}
				co := one + down*m.CStride
				u, v := int32(cb[co])-128, int32(cr[co])-128
				// Luma counts whole codes here, so what chroma adds can be rounded
				// to whole ones first: it says where in each table luma 0 lies.
				r := t[0].from(base + a.redCr*v)
				g := t[1].from(base + a.greenCb*u + a.greenCr*v)
				b := t[2].from(base + a.blueC*u)
				above := luma[2*(one+down*m.YStride):]
				under := above[m.YStride:]
				l1, l0 := above[1], above[0]
				l3, l2 := under[1], under[0]
				r4, g4, b4 := r[l0]+r[l1]+r[l2]+r[l3], g[l0]+g[l1]+g[l2]+g[l3], b[l0]+b[l1]+b[l2]+b[l3]
				sr, sg, sb = sr+r4&slotLight, sg+g4&slotLight, sb+b4&slotLight
				if (r4|g4|b4)&slotEnds != 0 {
					ends += spreadEnds(r[l0]|g[l0]|b[l0]) + spreadEnds(r[l1]|g[l1]|b[l1]) +
						spreadEnds(r[l2]|g[l2]|b[l2]) + spreadEnds(r[l3]|g[l3]|b[l3])
				}
			}
		}
		s := &sums[i]
		s.r += int64(times) * int64(sr)
		s.g += int64(times) * int64(sg)
		s.b += int64(times) * int64(sb)
		s.ends += uint64(times) * ends
	}
}

// scrambled is 64 bits that have no pattern from one n to the next (the
// finaliser of SplitMix64; Steele, Lea and Flood 2014, OOPSLA).
func scrambled(n uint64) uint64 {
	n *= 0x9e3779b97f4a7c15
	n = (n ^ n>>30) * 0xbf58476d1ce4e5b9
	n = (n ^ n>>27) * 0x94d049bb133111eb
	return n ^ n>>31
}

// from is the part of the table for all lumas beside a chroma that adds c, in
// 1/65536 of a code.
func (t *slots) from(c int32) *[256]uint64 {
	return (*[256]uint64)(t[uint32(c)>>16&(codeSlots-1):])
}

// spreadEnds is the ends of some pixels' slots as a sum holds them.
func spreadEnds(slots uint64) uint64 { return slots>>40&0xfff | slots>>52<<32 }

// light is the slots of a pixel: what its luma gives, and what its chroma adds
// to each of R, G and B, in 1/65536 of a code.
func (t *slotTable) light(luma, toR, toG, toB int32) (r, g, b uint64) {
	return t[0][uint32(luma+toR)>>16&(codeSlots-1)],
		t[1][uint32(luma+toG)>>16&(codeSlots-1)],
		t[2][uint32(luma+toB)>>16&(codeSlots-1)]
}

// addRow adds one row of pixels to boxes of any width.
func (a *ycbcrAdder) addRow(y int, xs []int, sums []sum) {
	m := a.m
	luma := m.Y[y*m.YStride:]
	co := y >> a.shiftY * m.CStride
	cb, cr := m.Cb[co:], m.Cr[co:]
	t, k, base := &a.slots, a.steps, a.base
	shift := uint(a.shiftX) & 3
	for i := range sums {
		x := xs[i]
		var r, g, b, ends uint64
		for _, l := range luma[x:xs[i+1]] {
			c := x >> shift
			u, v := int32(cb[c])-128, int32(cr[c])-128
			sr, sg, sb := t.light(int32(l)*k.luma, base+k.redCr*v, base+k.greenCb*u+k.greenCr*v, base+k.blueC*u)
			r, g, b = r+sr, g+sg, b+sb
			ends += (sr | sg | sb) & slotEnds
			x++
		}
		sums[i].light(r, g, b)
		sums[i].ends += spreadEnds(ends)
	}
}
