package cloth

import (
	"math"
	"slices"
	"sync/atomic"

	"greige/analyze/photo"
	"greige/colorspace"
)

// inkField is a piece of a picture with what is known of each pixel.
type inkField struct {
	*inkRoom
	w, h   int
	lin    []float32 // 3 a pixel
	inside []bool    // nil: all

	coreSize int // pixels of core

	lightNoise, chromaNoise [noiseBins]float64 // standard deviations in CIELAB, by lightness

	grid *labGrid
	step int // every step-th pixel that is not flat was looked at
}

const (
	labSteps = 64
	labMost  = 200 // no component of CIELAB is larger
	// Noise is measured by tenths of the scale of lightness.
	noiseBins = 11
)

// span is a run of a row's pixels, x1 just beyond; x0 and x1 are 0 for none.
type span struct{ x0, x1 int }

// Kinds of pixel.
const (
	mixed  = iota
	flat   // its surroundings differ no more than noise and weave do
	narrow // in its own direction no neighbour goes further
)

// inkRoom is the memory of one inkField after the other, with what each keeps in
// it until the next one begins or, where a function says so, until that is
// called again.
type inkRoom struct {
	lab []int16 // L*, a*, b* a pixel, in steps of 1/labSteps
	// core are the pixels whose eight neighbours all belong to the piece:
	// those on the rim are mixed with what lies beside it.
	core  []bool
	spans []span  // of each row: from the first pixel of the piece to behind the last
	kind  []uint8 // of each pixel: mixed, flat or narrow
	cell  []int32 // of each flat or narrow pixel: its place in grid
	tag   []uint8 // of each flat or narrow pixel: its ink + 1, 0 for none

	votes, peak  []int32
	inkTag       []uint8
	across, near []uint32
	of           []uint8
	pair         [][2]uint8
	row          []float32
	around       []around
}

// room is n values of b, which is made anew where it has fewer; what they are is
// left open.
func room[T any](b *[]T, n int) []T {
	*b = slices.Grow((*b)[:0], n)[:n]
	return *b
}

// cleared is room of nothing but zeros.
func cleared[T any](b *[]T, n int) []T {
	v := room(b, n)
	clear(v)
	return v
}

// field is nil when there is nothing to look at.
func (ro *inkRoom) field(p *photo.Picture, inside []bool) *inkField {
	n := p.W * p.H
	if n == 0 || len(p.Pix) < 3*n || inside != nil && (len(inside) < n || !slices.Contains(inside[:n], true)) {
		return nil
	}
	f := &inkField{inkRoom: ro, w: p.W, h: p.H, lin: p.Pix[:3*n], inside: inside}
	cleared(&f.lab, 3*n)
	cleared(&f.core, n)
	f.cleanLight()
	f.findSpans()
	var core atomic.Int64
	f.bands(0, f.h, func(from, to int) {
		f.toLab(from, to)
		core.Add(f.findCore(max(from, 1), min(to, f.h-1)))
	})
	f.coreSize = int(core.Load())
	return f
}

const (
	// wideField is from how many pixels on a piece is looked at on all processors:
	// smaller pieces are many, and measured side by side already.
	wideField = 1 << 19
	wideBand  = 64 // rows of such a piece that a processor takes at a time
)

func (f *inkField) wide() bool { return f.w*f.h >= wideField }

// bands does the work on the rows from, to behind the last; in a wide field on all
// processors.
func (f *inkField) bands(from, to int, work func(from, to int)) {
	if !f.wide() {
		work(from, to)
		return
	}
	photo.Bands(to-from, wideBand, func(a, b int) { work(from+a, from+b) })
}

// own is n values for one band: of b, where there is only one.
func own[T any](f *inkField, b *[]T, n int) []T {
	if f.wide() {
		return make([]T, n)
	}
	return room(b, n)
}

// findCore sets core in the rows from, to behind the last, and counts it.
func (f *inkField) findCore(from, to int) (size int64) {
	for y := from; y < to; y++ {
		s := f.middle(y)
		for i := y*f.w + s.x0; i < y*f.w+s.x1; i++ {
			if f.inside == nil || f.surrounded(i) {
				f.core[i] = true
				size++
			}
		}
	}
	return size
}

// toLab sets lab in the rows from, to behind the last.
func (f *inkField) toLab(from, to int) {
	row := own(f, &f.inkRoom.row, 3*f.w)
	for y := from; y < to; y++ {
		first, last := 3*(y*f.w+f.spans[y].x0), 3*(y*f.w+f.spans[y].x1)
		colorspace.LabRow(row[:last-first], f.lin[first:last])
		lab := f.lab[first:last]
		for i, v := range row[:last-first] {
			v = min(max(v, -labMost), labMost)
			lab[i] = int16(int32(v*labSteps+(labMost*labSteps+.5)) - labMost*labSteps) // rounded
		}
	}
}

// findSpans sets spans.
func (f *inkField) findSpans() {
	cleared(&f.spans, f.h)
	for y := range f.spans {
		s := &f.spans[y]
		if f.inside == nil {
			s.x1 = f.w
			continue
		}
		in := f.inside[y*f.w : (y+1)*f.w]
		if s.x0 = slices.Index(in, true); s.x0 < 0 {
			s.x0 = 0
			continue
		}
		for s.x1 = f.w; !in[s.x1-1]; s.x1-- {
		}
	}
}

// middle is the span of row y without its ends, between which its core lies.
func (f *inkField) middle(y int) span {
	s := f.spans[y]
	return span{s.x0 + 1, max(s.x1-1, s.x0+1)}
}

// cleanLight takes out what is no light (not a number, or beyond all bounds).
func (f *inkField) cleanLight() {
	const lowest, highest = -.05, 2
	sound := true
	for _, v := range f.lin {
		sound = sound && v >= lowest && v <= highest
	}
	if sound {
		return
	}
	f.lin = slices.Clone(f.lin)
	for i, v := range f.lin {
		if v != v {
			v = 0
		}
		f.lin[i] = min(max(v, lowest), highest)
	}
}

// surrounded tells whether pixel i and its eight neighbours are inside.
func (f *inkField) surrounded(i int) bool {
	for j := i - f.w; j <= i+f.w; j += f.w {
		if !f.inside[j-1] || !f.inside[j] || !f.inside[j+1] {
			return false
		}
	}
	return true
}

// labAt is the colour of pixel i.
func (f *inkField) labAt(i int) colorspace.Lab {
	v := f.lab[3*i : 3*i+3]
	return colorspace.Lab{L: float64(v[0]) / labSteps, A: float64(v[1]) / labSteps, B: float64(v[2]) / labSteps}
}

// around is what 3 x 3 pixels look like.
type around struct {
	mean          [3]int32 // of CIELAB, in steps
	light, chroma float32  // variances of lightness, and of a* and b* together, in CIELAB units squared
}

// row sets out[x] for the pixels in the middle of row y, which is neither the
// first nor the last.
func (f *inkField) row(y int, out []around) {
	const scale = 1 / (72.0 * labSteps * labSteps)
	s := f.spans[y]
	for ch := range 3 {
		a := f.lab[3*(y-1)*f.w+ch : 3*y*f.w]
		b := f.lab[3*y*f.w+ch : 3*(y+1)*f.w]
		c := f.lab[3*(y+1)*f.w+ch : 3*(y+2)*f.w]
		var s0, s1, q0, q1 int32 // sums and squares of the last two columns
		for x, o := s.x0, 3*s.x0; x < s.x1; x, o = x+1, o+3 {
			u, v, w := int32(a[o]), int32(b[o]), int32(c[o])
			s2, q2 := u+v+w, u*u+v*v+w*w
			if x >= s.x0+2 {
				s := s0 + s1 + s2
				r := &out[x-1]
				r.mean[ch] = (s+9*labMost*labSteps)/9 - labMost*labSteps // rounds down below 0 too
				v := float32(9*(int64(q0)+int64(q1)+int64(q2))-int64(s)*int64(s)) * scale
				switch ch {
				case 0:
					r.light = v
				case 1:
					r.chroma = v
				default:
					r.chroma += v
				}
			}
			s0, s1, q0, q1 = s1, s2, q1, q2
		}
	}
}

// measureNoise finds what noise and weave make of a colour: the spread of 3 x
// 3 pixels where the cloth is plain. No more than a part of a print is, so
// that the tenth of all places that spread least is looked at, and the rest
// follows from how the spread of nine values scatters (its lower tenth is 0.66
// of the standard deviation when all places are plain, less when few are).
// About enough places are looked at.
func (f *inkField) measureNoise(enough int) {
	const (
		steps   = 20 // per unit of CIELAB
		tenth   = .1
		toSigma = 1.4
		// Bounds. A file has 8 bits; a JPEG file has no noise of colour at all
		// in plain blocks, but plenty in blocks that touch a figure. And what
		// spreads more than the coarsest weave does is a print.
		leastLight, leastChroma, most = .3, 1.4, 3
	)
	type counts [20*steps + 1]int
	var light, chroma [noiseBins]counts
	var n [noiseBins]int
	out := room(&f.around, f.w)
	skip := 1 + f.coreSize/enough
	for y := 1 + skip/2; y < f.h-1; y += skip {
		f.row(y, out)
		s := f.middle(y)
		for x := s.x0; x < s.x1; x++ {
			if !f.core[y*f.w+x] {
				continue
			}
			r := &out[x]
			b := noiseBin(r.mean[0])
			light[b][min(int(math.Sqrt(float64(r.light))*steps), len(counts{})-1)]++
			chroma[b][min(int(math.Sqrt(float64(r.chroma))*steps), len(counts{})-1)]++
			n[b]++
		}
	}
	lowest := func(c *counts, n int) float64 {
		left := int(tenth * float64(n))
		for i, k := range c {
			if left -= k; left < 0 {
				return min(toSigma*(float64(i)+.5)/steps, most)
			}
		}
		return most
	}
	var allLight, allChroma counts
	total := 0
	for b := range n {
		for i := range allLight {
			allLight[i] += light[b][i]
			allChroma[i] += chroma[b][i]
		}
		total += n[b]
	}
	for b := range n {
		l, c, m := &light[b], &chroma[b], n[b]
		if m < 200 || m*50 < total { // too few to tell
			l, c, m = &allLight, &allChroma, total
		}
		f.lightNoise[b], f.chromaNoise[b] = max(lowest(l, m), leastLight), max(lowest(c, m), leastChroma)
	}
}

// noiseBin is the bin of a lightness in steps.
func noiseBin(light int32) int {
	return int(min(max(light/(10*labSteps), 0), noiseBins-1))
}

// linearNoise is the standard deviation of linear light v, 0..1, that belongs
// to a standard deviation of lightness: dY = 3 Y^(2/3) dL / 116, and what the
// steps of an 8-bit file add near black.
func linearNoise(v float32, lightNoise float64) float32 {
	return linearPerLight[int(min(max(v, 0), 1)*linearSteps)]*float32(lightNoise) + .001
}

const linearSteps = 1024

var linearPerLight = func() (t [linearSteps + 1]float32) {
	for i := range t {
		t[i] = float32(3 * math.Pow(max(float64(i)/linearSteps, 1e-3), 2.0/3) / 116)
	}
	return t
}()
