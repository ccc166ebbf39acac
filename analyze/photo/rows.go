package photo

import (
	"image"
	"sync/atomic"
)

// rowReader reads rows of any kind of picture as codes, four a pixel: R, G
// and B (the three alike for a grey), or the four inks. Alpha is 0..top; a
// picture without it leaves alpha alone. Rows count from 0.
type rowReader struct {
	top  uint16 // the highest code: 255 or 65535
	inks bool
	read func(y int, codes, alpha []uint16)
}

// rowsOf makes the reader of a decoded picture.
func rowsOf(img image.Image, h *header) rowReader {
	switch m := img.(type) {
	case *image.YCbCr:
		return rowReader{top: 255, read: ycbcrRows(m, h.coding)}
	case *image.NYCbCrA:
		read := ycbcrRows(&m.YCbCr, h.coding)
		return rowReader{top: 255, read: func(y int, codes, alpha []uint16) {
			read(y, codes, alpha)
			for x := range alpha {
				alpha[x] = uint16(m.A[y*m.AStride+x])
			}
		}}
	case *image.CMYK:
		return rowReader{top: 255, inks: true, read: func(y int, codes, _ []uint16) {
			for i, v := range m.Pix[y*m.Stride:][:len(codes)] {
				codes[i] = uint16(v)
			}
		}}
	}
	// The rarer kinds, all of which give their colours in 16 bits too.
	wide, ok := img.(image.RGBA64Image)
	if !ok {
		panic("photo: a kind of picture that no decoder gives")
	}
	min := img.Bounds().Min
	return rowReader{top: 65535, read: func(y int, codes, alpha []uint16) {
		for x := range alpha {
			c := wide.RGBA64At(min.X+x, min.Y+y)
			codes[4*x], codes[4*x+1], codes[4*x+2], alpha[x] = undo(c.R, c.A), undo(c.G, c.A), undo(c.B, c.A), c.A
		}
	}}
}

// undo takes alpha out of a code that was multiplied with it.
func undo(code, alpha uint16) uint16 {
	if alpha == 65535 || alpha == 0 {
		return code
	}
	return uint16(min((uint32(code)*65535+uint32(alpha)/2)/uint32(alpha), 65535))
}

// ycbcrRows is the plain way through luma and chroma, for what the fast way
// does not take. It rounds as that does.
func ycbcrRows(m *image.YCbCr, c coding) func(y int, codes, alpha []uint16) {
	s := c.steps()
	x0, y0 := m.Rect.Min.X, m.Rect.Min.Y
	return func(y int, codes, alpha []uint16) {
		for x := range alpha {
			o := m.COffset(x0+x, y0+y)
			l, u, v := m.Y[m.YOffset(x0+x, y0+y)], m.Cb[o], m.Cr[o]
			if c.direct {
				codes[4*x], codes[4*x+1], codes[4*x+2] = uint16(v), uint16(l), uint16(u)
				continue
			}
			yy := (int32(l)-s.black)*s.luma + 1<<15
			cu, cv := int32(u)-128, int32(v)-128
			codes[4*x] = clip8((yy + s.redCr*cv) >> 16)
			codes[4*x+1] = clip8((yy + s.greenCb*cu + s.greenCr*cv) >> 16)
			codes[4*x+2] = clip8((yy + s.blueC*cu) >> 16)
		}
	}
}

// codesAdder reads any picture by way of rows of codes.
type codesAdder struct {
	rows         rowReader
	lin          [3][]int32 // nil in a space that is converted as a whole
	convert      func(*[4]float64) [3]float64
	hasAlpha     bool
	white        [3]int32 // what clear pixels are laid on
	sawClear     *atomic.Bool
	low, high    uint16 // codes up to and from these stand at an end
	codes, alpha []uint16
	// The last code and its light: neighbours are often alike.
	last  [4]uint16
	light [3]int32
	known bool
}

// codesAdderFor prepares what the adders of one picture share.
func codesAdderFor(rows rowReader, sp *space, h *header) func() adder {
	shared := codesAdder{rows: rows, hasAlpha: h.alpha, low: 0, high: 255}
	if rows.top == 65535 {
		// What rounds to 0 or 255 in 8 bits.
		shared.low, shared.high = 128, 65535-128
	}
	if sp.curve[0] != nil {
		for c := range shared.lin {
			if c > 0 && sp.alike {
				shared.lin[c] = shared.lin[0]
				continue
			}
			t := make([]int32, int(rows.top)+1)
			for v := range t {
				t[v] = fixed(sp.curve[c](float64(v) / float64(rows.top)))
			}
			shared.lin[c] = t
		}
	}
	if h.alpha {
		shared.white, shared.sawClear = sp.white(), &h.sawClear
	}
	return func() adder {
		a := shared
		if sp.converter != nil {
			a.convert = sp.converter()
		}
		a.codes, a.alpha = make([]uint16, 4*h.width), make([]uint16, h.width)
		for x := range a.alpha {
			a.alpha[x] = rows.top
		}
		return byRow(a.addRow)
	}
}

func (a *codesAdder) addRow(y int, xs []int, sums []sum) {
	a.rows.read(y, a.codes, a.alpha)
	for i := range sums {
		s := sums[i]
		for x := xs[i]; x < xs[i+1]; x++ {
			code := (*[4]uint16)(a.codes[4*x:])
			if !a.hasAlpha {
				l := a.lightOf(code)
				s.r, s.g, s.b = s.r+int64(l[0]), s.g+int64(l[1]), s.b+int64(l[2])
				s.ends += a.endsOf(code)
				continue
			}
			l, ends := a.laidOnWhite(code, a.alpha[x])
			s.r, s.g, s.b = s.r+int64(l[0]), s.g+int64(l[1]), s.b+int64(l[2])
			s.ends += ends
		}
		sums[i] = s
	}
}

// laidOnWhite is the light of a pixel that may be clear: what shows through it
// is white, as on the screen of a phone and on the page. A pixel that is more
// than half clear counts as being at the top of the scale, because the white
// is made up and no figure may rest on it.
func (a *codesAdder) laidOnWhite(code *[4]uint16, alpha uint16) (l [3]int32, ends uint64) {
	top := int64(a.rows.top)
	if alpha == a.rows.top {
		return a.lightOf(code), a.endsOf(code)
	}
	a.sawClear.Store(true)
	l = a.white
	if alpha > 0 {
		own := a.lightOf(code)
		for c := range l {
			l[c] = int32((int64(own[c])*int64(alpha) + int64(l[c])*(top-int64(alpha))) / top)
		}
	}
	if 2*int64(alpha) < top {
		return l, bright
	}
	return l, a.endsOf(code)
}

// lightOf is the light of a code.
func (a *codesAdder) lightOf(code *[4]uint16) [3]int32 {
	if a.convert == nil {
		return [3]int32{a.lin[0][code[0]], a.lin[1][code[1]], a.lin[2][code[2]]}
	}
	if a.known && *code == a.last {
		return a.light
	}
	var v [4]float64
	for c := range v {
		v[c] = float64(code[c]) / float64(a.rows.top)
	}
	l := a.convert(&v)
	a.last, a.known = *code, true
	a.light = [3]int32{fixed(l[0]), fixed(l[1]), fixed(l[2])}
	return a.light
}

// endsOf tells whether a code stands at an end of the scale. Of R, G and B
// one is enough. Inks lie otherwise: one that is missing is usual, so the top
// is bare paper, and the bottom is full black or the three colours full.
func (a *codesAdder) endsOf(code *[4]uint16) uint64 {
	if a.rows.inks {
		switch {
		case *code == [4]uint16{}:
			return bright
		case code[3] == a.rows.top, min(code[0], code[1], code[2]) == a.rows.top:
			return dark
		}
		return 0
	}
	var e uint64
	if min(code[0], code[1], code[2]) <= a.low {
		e = dark
	}
	if max(code[0], code[1], code[2]) >= a.high {
		e |= bright
	}
	return e
}
