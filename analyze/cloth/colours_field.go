package cloth

import (
	"math"
	"slices"

	"greige/analyze/photo"
	"greige/colorspace"
)

// inkField is a piece of a picture with what is known of each pixel.
type inkField struct {
	w, h   int
	lin    []float32 // 3 a pixel
	lab    []int16   // L*, a*, b* a pixel, in steps of 1/labSteps
	inside []bool    // nil: all
	// core are the pixels whose eight neighbours all belong to the piece, in
	// reading order: those on the rim are mixed with what lies beside it.
	core []int32

	lightNoise, chromaNoise [noiseBins]float64 // standard deviations in CIELAB, by lightness

	kind []uint8 // of each pixel: mixed, flat or narrow
	cell []int32 // of each flat or narrow pixel: its place in grid
	grid *labGrid
	tag  []uint8 // of each flat or narrow pixel: its ink + 1, 0 for none
	step int     // every step-th pixel that is not flat was looked at
}

const (
	labSteps = 64
	// Noise is measured by tenths of the scale of lightness.
	noiseBins = 11
)

// Kinds of pixel.
const (
	mixed  = iota
	flat   // its surroundings differ no more than noise and weave do
	narrow // in its own direction no neighbour goes further
)

func newInkField(p *photo.Picture, inside []bool) *inkField {
	n := p.W * p.H
	if n == 0 || len(p.Pix) < 3*n || inside != nil && len(inside) < n {
		return nil
	}
	f := &inkField{w: p.W, h: p.H, lin: p.Pix[:3*n], inside: inside, lab: make([]int16, 3*n)}
	if inside != nil && !slices.Contains(inside[:n], true) {
		return nil
	}
	f.cleanLight()
	row := make([]float32, 3*f.w)
	for y := range f.h {
		colorspace.LabRow(row, f.lin[3*y*f.w:3*(y+1)*f.w])
		lab := f.lab[3*y*f.w : 3*(y+1)*f.w]
		for i, v := range row {
			lab[i] = int16(math.Floor(float64(min(max(v, -200), 200))*labSteps + .5))
		}
	}
	f.core = make([]int32, 0, n)
	for y := 1; y < f.h-1; y++ {
		for x := 1; x < f.w-1; x++ {
			if i := y*f.w + x; inside == nil || f.surrounded(i) {
				f.core = append(f.core, int32(i))
			}
		}
	}
	return f
}

// cleanLight takes out what is no light (not a number, or beyond all bounds).
func (f *inkField) cleanLight() {
	const lowest, highest = -.05, 2
	ok := func(v float32) bool { return v >= lowest && v <= highest }
	bad := slices.IndexFunc(f.lin, func(v float32) bool { return !ok(v) })
	if bad < 0 {
		return
	}
	f.lin = slices.Clone(f.lin)
	for i := bad; i < len(f.lin); i++ {
		if v := f.lin[i]; v != v {
			f.lin[i] = 0
		} else if !ok(v) {
			f.lin[i] = min(max(v, lowest), highest)
		}
	}
}

func (f *inkField) in(i int) bool { return f.inside == nil || f.inside[i] }

func (f *inkField) surrounded(i int) bool {
	for j := i - f.w; j <= i+f.w; j += f.w {
		if !f.inside[j-1] || !f.inside[j] || !f.inside[j+1] {
			return false
		}
	}
	return true
}

// around is the mean of CIELAB over 3 x 3 pixels, in steps, and the variances
// of lightness and of a* and b* together, in CIELAB units squared.
type around struct {
	mean          [3]int32
	light, chroma float32
}

// row gathers around for the pixels 1 .. w-2 of row y into out.
func (f *inkField) row(y int, out []around) {
	a := f.lab[3*(y-1)*f.w : 3*y*f.w]
	b := f.lab[3*y*f.w : 3*(y+1)*f.w]
	c := f.lab[3*(y+1)*f.w : 3*(y+2)*f.w]
	var s, q [3][3]int32 // sums and squares of the last three columns, by channel
	const scale = 1 / (72.0 * labSteps * labSteps)
	for x := range f.w {
		k := x % 3
		var mean [3]int32
		var spread [3]int64
		for ch := range 3 {
			o := 3*x + ch
			u, v, w := int32(a[o]), int32(b[o]), int32(c[o])
			s[ch][k], q[ch][k] = u+v+w, u*u+v*v+w*w
			sum := s[ch][0] + s[ch][1] + s[ch][2]
			mean[ch] = sum
			spread[ch] = 9*(int64(q[ch][0])+int64(q[ch][1])+int64(q[ch][2])) - int64(sum)*int64(sum)
		}
		if x >= 2 {
			for ch := range mean {
				mean[ch] = (mean[ch]+9*256*labSteps)/9 - 256*labSteps // rounds down below 0 too
			}
			out[x-1] = around{mean, float32(spread[0]) * scale, float32(spread[1]+spread[2]) * scale}
		}
	}
}

// measureNoise finds what noise and weave make of a colour: the spread of 3 x
// 3 pixels where the cloth is plain. No more than a part of a print is, so
// that the tenth of all places that spread least is looked at, and the rest
// follows from how the spread of nine values scatters (its lower tenth is 0.66
// of the standard deviation when all places are plain, less when few are).
func (f *inkField) measureNoise() {
	const (
		steps   = 20 // per unit of CIELAB
		tenth   = .1
		toSigma = 1.4
		// Bounds: a file has 8 bits, and what spreads more than the coarsest
		// weave does is a print.
		least, most = .3, 3.
	)
	type counts [20*steps + 1]int
	var light, chroma [noiseBins]counts
	var n [noiseBins]int
	out := make([]around, f.w)
	skip := 1 + len(f.core)/60000
	last := -1
	for i := 0; i < len(f.core); i += skip {
		at := int(f.core[i])
		if y := at / f.w; y != last {
			f.row(y, out)
			last = y
		}
		r := &out[at%f.w]
		b := noiseBin(r.mean[0])
		light[b][min(int(math.Sqrt(float64(r.light))*steps), len(counts{})-1)]++
		chroma[b][min(int(math.Sqrt(float64(r.chroma))*steps), len(counts{})-1)]++
		n[b]++
	}
	lowest := func(c *counts, n int) float64 {
		left := int(tenth * float64(n))
		for i, k := range c {
			if left -= k; left < 0 {
				return min(max(toSigma*(float64(i)+.5)/steps, least), most)
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
		f.lightNoise[b], f.chromaNoise[b] = lowest(l, m), lowest(c, m)
	}
}

// noiseBin is the bin of a lightness in steps.
func noiseBin(light int32) int {
	return int(min(max(light/(10*labSteps), 0), noiseBins-1))
}

// noiseLinear is the standard deviation of linear light v, 0..1, that belongs
// to a standard deviation of lightness: dY = 3 Y^(2/3) dL / 116, and the noise
// of a file near black.
var noiseLinear = func() (t [1025]float32) {
	for i := range t {
		t[i] = float32(3 * math.Pow(max(float64(i)/1024, 1e-3), 2.0/3) / 116)
	}
	return t
}()

func linearNoise(v float32, lightNoise float64) float32 {
	i := int(min(max(v, 0), 1) * 1024)
	return noiseLinear[i]*float32(lightNoise) + .001
}
