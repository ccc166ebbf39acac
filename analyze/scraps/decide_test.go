package scraps

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"greige/colorspace"
)

// A JPEG of quality 75 rounds colour to steps of 17/2/8 codes of Cb and Cr (ITU-T
// T.81, table K.2, halved; 1.772 and 1.402 codes of B and R to one, JFIF): plain
// ground all the same. In no steps, as much is another colour.
func TestGroundInStepsOfColour(t *testing.T) {
	ycc := func(cb, cr float64) colorspace.Lab {
		const y = 200
		linear := func(code float64) float64 { return math.Pow((code/255+.055)/1.055, 2.4) } // IEC 61966-2-1
		return colorspace.Linear{linear(y + 1.402*cr), linear(y - .344136*cb - .714136*cr), linear(y + 1.772*cb)}.Lab()
	}
	const step = 17. / 2 / 8
	a, b := ycc(-8, 4), ycc(-8+2*step, 4-2*step) // one up and one down
	g := ground{sd: [3]float64{.2, .05, .1}}
	lossy, exact := g.tolerance(true), g.tolerance(false)
	assert.Less(t, math.Abs(a.A-b.A), lossy[1])
	assert.Less(t, math.Abs(a.B-b.B), lossy[2])
	assert.Greater(t, math.Hypot(a.A-b.A, a.B-b.B), exact[2])
	assert.Equal(t, exact[0], lossy[0])
}

// The lines of a mat run over the photo's border, and no piece does.
func TestOpenBorder(t *testing.T) {
	s := &search{stand: &stand{w: 100, h: 60}}
	label := make([]int32, s.w*s.h)
	for y := 20; y < 40; y++ {
		for x := 30; x < 60; x++ {
			label[y*s.w+x] = 1
		}
	}
	assert.EqualValues(t, 1, s.openBorder(label))
	for y := range s.h { // a piece that the left border cuts
		for x := range 2 * cellSide {
			label[y*s.w+x] = 2
		}
	}
	all := s.w*s.h - (s.w-4*cellSide)*(s.h-4*cellSide)
	assert.InDelta(t, 1-float64(2*cellSide*s.h)/float64(all), s.openBorder(label), 1e-9)
}
