package camera

import (
	"math"
	"slices"

	"greige/colorspace"
)

// Curve is what a belief makes of greys: a rising function of the luminance.
// It is what can be done to every pixel of a picture; the rendering of colours
// is left to Render.
type Curve struct {
	file, true [steps + 1]float64 // L* of the file and of the scene, rising
	table      []float32          // factor of the luminance, by the leading bits of it
}

// steps is how many parts L* 0 to 100 of the file has in the table of a curve:
// half an L* each, over which a curve is as good as straight.
const steps = 200

// faintest is the file's L* under which a curve is a plain factor: 8 bits tell
// nothing there, and black stays black.
const faintest = 4.

// Curve is that of b for greys.
func (b *Belief) Curve() *Curve {
	return newCurve(func(l float64) float64 {
		t, _ := b.Lightness(colorspace.Lab{L: l})
		return t
	})
}

// Flat is a curve that changes nothing but all luminances by one factor.
func Flat(factor float64) *Curve {
	return newCurve(func(l float64) float64 { return colorspace.Lightness(factor * colorspace.LuminanceOf(l)) })
}

// newCurve is the curve that makes of(L*) of the file's L*; where of falls, the
// curve stays level.
func newCurve(of func(float64) float64) *Curve {
	c := &Curve{}
	least := max(of(faintest), .01)
	factor := colorspace.LuminanceOf(least) / colorspace.LuminanceOf(faintest)
	last := 0.
	for i := range c.file {
		l := float64(i) * 100 / steps
		c.file[i] = l
		v := of(l)
		if l <= faintest {
			v = colorspace.Lightness(factor * colorspace.LuminanceOf(l))
		}
		// A hundredth of the file's own slope is left, so that the curve has an
		// inverse.
		if i > 0 {
			v = max(v, last+.01*(l-c.file[i-1]))
		}
		c.true[i], last = v, v
	}
	c.fill()
	return c
}

func (c *Curve) fill() {
	c.table = make([]float32, tableSize)
	for i := range c.table {
		y := float64(math.Float32frombits(uint32(i)<<tableShift + tableFrom + 1<<(tableShift-1)))
		c.table[i] = float32(c.Scene(y) / y)
	}
}

// The table's index is the leading bits of a luminance from 2^-12 to 4: the
// exponent and seven bits of the fraction, so that a step is under a hundredth and
// the factor, which changes with a small power of it, under a thousandth.
const (
	tableShift = 23 - 7
	tableFrom  = (127 - 12) << 23
	tableSize  = 14 << 7
)

// factor is that of a luminance of the file.
func (c *Curve) factor(y float32) float32 {
	bits := int32(math.Float32bits(y)) - tableFrom
	return c.table[min(max(bits>>tableShift, 0), tableSize-1)]
}

// Plain tells that the curve changes nothing.
func (c *Curve) Plain() bool {
	for i, l := range c.file {
		if math.Abs(c.true[i]-l) > 1e-6 {
			return false
		}
	}
	return true
}

// Scene is the luminance, 0 and up, that the curve makes of a file's.
func (c *Curve) Scene(y float64) float64 {
	if y <= 0 {
		return y
	}
	return translate(y, c.file[:], c.true[:])
}

// File is the inverse of Scene.
func (c *Curve) File(y float64) float64 {
	if y <= 0 {
		return y
	}
	return translate(y, c.true[:], c.file[:])
}

// translate is the luminance whose L* stands in to where that of y stands in
// from; beyond the ends the factor there.
func translate(y float64, from, to []float64) float64 {
	l := colorspace.Lightness(y)
	n := len(from) - 1
	edge := func(i int) float64 { return y * colorspace.LuminanceOf(to[i]) / colorspace.LuminanceOf(from[i]) }
	switch {
	case l >= from[n]:
		return edge(n)
	case l <= from[1]:
		return edge(1)
	}
	hi, _ := slices.BinarySearch(from[2:], l)
	hi += 2 // the first that is l or more
	lo := hi - 1
	return colorspace.LuminanceOf(to[lo] + (to[hi]-to[lo])*(l-from[lo])/(from[hi]-from[lo]))
}

// Apply multiplies each pixel of rgb, linear light of the file, by the curve's
// factor of its luminance, from src to dst, which may be the same.
func (c *Curve) Apply(dst, src []float32) {
	w := colorspace.LuminanceWeights()
	r, g, b := float32(w[0]), float32(w[1]), float32(w[2])
	for i := 0; i+2 < len(src); i += 3 {
		f := c.factor(r*src[i] + g*src[i+1] + b*src[i+2])
		dst[i], dst[i+1], dst[i+2] = f*src[i], f*src[i+1], f*src[i+2]
	}
}

// After is c for luminances that first has been applied to.
func (c *Curve) After(first *Curve) *Curve {
	o := &Curve{file: first.true, true: c.true}
	o.fill()
	return o
}
