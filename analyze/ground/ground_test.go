package ground

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// table is a picture of a sheet under a lamp that fades from left to right, with
// a dark square on it, in a shadow of its own below.
func table(w, h int) (linear []float32, square, shadow func(x, y int) bool) {
	square = func(x, y int) bool { return x > w/3 && x < w/2 && y > h/3 && y < h/2 }
	shadow = func(x, y int) bool { return x > w/3 && x < w/2 && y >= h/2 && y < h/2+h/20 }
	for y := range h {
		for x := range w {
			lamp := float32(1 - .4*float64(x)/float64(w))
			grain := 1 + .01*float32((x*7+y*13)%5-2)
			c := [3]float32{.8, .8, .8}
			switch {
			case square(x, y):
				c = [3]float32{.2, .1, .05}
			case shadow(x, y):
				c = [3]float32{.4, .4, .42}
			}
			for _, v := range c {
				linear = append(linear, v*lamp*grain)
			}
		}
	}
	return linear, square, shadow
}

func TestGroundUnderALamp(t *testing.T) {
	const w, h = 240, 180
	linear, square, shadow := table(w, h)
	g := Find(NewPicture(linear, w, h), nil)
	require.NotNil(t, g)
	missed, taken, shaded, dark := 0, 0, 0, 0
	for i := range w * h {
		x, y := i%w, i/w
		switch {
		case square(x-3, y-3) && square(x+3, y+3): // well within
			if g.Distance[i] < Seen || g.Shaded(i) {
				taken++
			}
		case shadow(x, y-3) && shadow(x, y+3) && shadow(x-3, y) && shadow(x+3, y):
			dark++
			if g.Shaded(i) && g.Distance[i] > Seen {
				shaded++
			}
		case !square(x-5, y-5) && !square(x+5, y+5) && !shadow(x-5, y-5) && !shadow(x+5, y+5) && !square(x+5, y-5) && !square(x-5, y+5):
			if !g.Member.Has(x, y) {
				missed++
			}
		}
	}
	require.Zero(t, taken, "a dark cloth is no ground and no shadow")
	require.Positive(t, dark)
	require.Equal(t, dark, shaded, "ground in a shadow is far from the ground, but may be it")
	require.Less(t, missed, w*h/100)
}

// The field of planes of one's own, over the ground: under the square it is
// carried on from beside it.
func TestFieldIsCarriedOn(t *testing.T) {
	const w, h = 240, 180
	linear, _, _ := table(w, h)
	g := Find(NewPicture(linear, w, h), nil)
	ramp := make([]float32, w*h)
	for i := range ramp {
		ramp[i] = float32(i % w)
	}
	f := g.Field([3][]float32{ramp, ramp, ramp})
	for _, x := range []float64{60, 100, 180} {
		require.InDelta(t, x, f.At(x, 75)[1], 6, "at %v: within half of the field's reach", x)
	}
}

func TestLogarithm(t *testing.T) {
	for _, v := range []float32{0, .001, .02, .18, .5, 1, 1.7} {
		require.InDelta(t, 25*math.Log(float64(v)+black), log(v), .002)
	}
	require.Equal(t, log(0), log(-3))
}

// A picture without anything flat has no ground, and none is too small.
func TestOddPictures(t *testing.T) {
	for _, size := range [][2]int{{1, 1}, {2, 3}, {1, 200}, {40, 30}} {
		linear := make([]float32, 3*size[0]*size[1])
		for i := range linear {
			linear[i] = float32((i*7919)%97) / 97
		}
		require.NotPanics(t, func() { Find(NewPicture(linear, size[0], size[1]), nil) })
		gone := make([]bool, size[0]*size[1])
		for i := range gone {
			gone[i] = true
		}
		require.Nil(t, Find(NewPicture(linear, size[0], size[1]), gone))
	}
}
