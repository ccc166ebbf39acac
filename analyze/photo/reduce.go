package photo

import (
	"errors"
	"image"
	"math"
	"sync/atomic"
)

// one is light 1 in the whole numbers that are summed: fine enough that
// rounding stays under a ten-thousandth of the darkest code's light, and the
// sum of a box does not depend on the order, so not on the goroutines either.
const one = 1 << 24

// fixed is light as such a number. What no light can be becomes 0.
func fixed(v float64) int32 {
	if !(math.Abs(v) < 100) {
		return 0
	}
	return int32(math.Round(v * one))
}

// sum adds up the light of the pixels of one box, and how many of them stood
// at the bottom (the low 32 bits of ends) or the top (the high) of the scale.
type sum struct {
	r, g, b int64
	ends    uint64
}

const (
	dark   = 1
	bright = 1 << 32
)

// adder adds the rows y0 to y1 of a picture to the sums of the boxes that they
// lie in: box i spans the columns xs[i] to xs[i+1]. Each goroutine has one of
// its own.
type adder interface {
	add(y0, y1 int, xs []int, sums []sum)
}

// byRow is an adder that adds one row at a time.
type byRow func(y int, xs []int, sums []sum)

func (f byRow) add(y0, y1 int, xs []int, sums []sum) {
	for y := y0; y < y1; y++ {
		f(y, xs, sums)
	}
}

// reduce averages the linear light of boxes of k x k pixels of the upright
// picture. An error means that the space failed on a colour of the picture.
func reduce(img image.Image, h *header, sp *space, k int) (p *Picture, err error) {
	flipX, flipY := h.orientation.reversed()
	xs, ys := cuts(h.width, k, flipX), cuts(h.height, k, flipY)
	nx, ny := len(xs)-1, len(ys)-1
	p = &Picture{Pix: h.spare.components(3 * nx * ny)}
	p.W, p.H = h.orientation.size(nx, ny)
	p.Dark, p.Bright = make([]uint8, nx*ny), make([]uint8, nx*ny)
	first, across, down := h.orientation.path(nx, ny)
	newAdder := adderFor(img, h, sp)
	var anyEnds atomic.Uint64
	defer func() {
		if recover() != nil { // of another's code for profiles
			err = errors.New("a colour could not be converted")
		}
	}()
	Bands(ny, 16, func(from, to int) {
		a := newAdder()
		sums := make([]sum, nx)
		var ends uint64
		for j := from; j < to && !h.stopped(); j++ {
			clear(sums)
			a.add(ys[j], ys[j+1], xs, sums)
			ends |= p.set(first+j*down, across, sums, xs, ys[j+1]-ys[j], sp)
		}
		anyEnds.Or(ends)
	})
	if anyEnds.Load()&(bright-1) == 0 {
		p.Dark = nil
	}
	if anyEnds.Load()/bright == 0 {
		p.Bright = nil
	}
	return p, nil
}

// stopped tells whether nobody wants the picture any more.
func (h *header) stopped() bool {
	select {
	case <-h.done:
		return true
	default:
		return false
	}
}

// set makes pixels of the sums of a row of boxes, rows high: the first at o,
// each further one across behind the last. It gives all ends, or-ed together.
func (p *Picture) set(o, across int, sums []sum, xs []int, rows int, sp *space) (ends uint64) {
	m, off := &sp.matrix, &sp.offset
	plain := *m == identity && *off == [3]float64{}
	n, scale := 0, 0.0
	for i := range sums {
		s := &sums[i]
		if size := (xs[i+1] - xs[i]) * rows; size != n {
			n, scale = size, 1/(float64(size)*one)
		}
		pix := (*[3]float32)(p.Pix[3*o:])
		if plain {
			f := float32(scale)
			pix[0], pix[1], pix[2] = float32(s.r)*f, float32(s.g)*f, float32(s.b)*f
		} else {
			r, g, b := float64(s.r)*scale, float64(s.g)*scale, float64(s.b)*scale
			pix[0] = float32(m[0][0]*r + m[0][1]*g + m[0][2]*b + off[0])
			pix[1] = float32(m[1][0]*r + m[1][1]*g + m[1][2]*b + off[1])
			pix[2] = float32(m[2][0]*r + m[2][1]*g + m[2][2]*b + off[2])
		}
		if s.ends != 0 {
			p.Dark[o], p.Bright[o] = share(uint32(s.ends), n), share(uint32(s.ends>>32), n)
			ends |= s.ends
		}
		o += across
	}
	return ends
}

// share is m of n in 0..255; 0 only for none at all.
func share(m uint32, n int) uint8 {
	if m == 0 {
		return 0
	}
	return uint8(max(1, (510*int(m)+n)/(2*n)))
}

// cuts are the edges of boxes of k pixels along a side of n. The box that is
// left over stands at the end, or at the start of a side that will be
// reversed, so that it is the last one of the upright picture.
func cuts(n, k int, reversed bool) []int {
	list := []int{0}
	if rest := n % k; reversed && rest > 0 {
		list = append(list, rest)
	}
	for x := list[len(list)-1] + k; x <= n; x += k {
		list = append(list, x)
	}
	if list[len(list)-1] < n {
		list = append(list, n)
	}
	return list
}

// adderFor picks the way to read the picture. The ways for the usual kinds
// read the decoder's own bytes; all give the same result.
func adderFor(img image.Image, h *header, sp *space) func() adder {
	if sp.curve[0] != nil {
		switch m := img.(type) {
		case *image.YCbCr:
			if a := newYCbCrAdder(m, h.coding, sp, h.detail.of4()); a != nil {
				return func() adder { return a }
			}
		case *image.RGBA:
			if !h.alpha {
				a := &rgbAdder{m, tables8(sp), ends8()}
				return func() adder { return byRow(a.addRow) }
			}
		}
	}
	rows := rowsOf(img, h)
	return codesAdderFor(rows, sp, h)
}

// tables8 are the lights of the 256 codes in each channel.
func tables8(sp *space) *[3][256]int32 {
	var t [3][256]int32
	for c := range t {
		if c > 0 && sp.alike {
			t[c] = t[0]
			continue
		}
		for v := range t[c] {
			t[c][v] = fixed(sp.curve[c](float64(v) / 255))
		}
	}
	return &t
}

// ends8 tells which codes stand at an end of the scale.
func ends8() *[256]uint64 { return &[256]uint64{0: dark, 255: bright} }

// rgbAdder reads opaque pictures of 8 bits.
type rgbAdder struct {
	m    *image.RGBA
	lin  *[3][256]int32
	ends *[256]uint64
}

func (a *rgbAdder) addRow(y int, xs []int, sums []sum) {
	pix := a.m.Pix[y*a.m.Stride:]
	lr, lg, lb, ends := &a.lin[0], &a.lin[1], &a.lin[2], a.ends
	for i := range sums {
		box := pix[4*xs[i] : 4*xs[i+1]]
		s := sums[i]
		for ; len(box) >= 4; box = box[4:] {
			r, g, b := box[0], box[1], box[2]
			s.r += int64(lr[r])
			s.g += int64(lg[g])
			s.b += int64(lb[b])
			s.ends += ends[r] | ends[g] | ends[b]
		}
		sums[i] = s
	}
}
