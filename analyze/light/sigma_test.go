package light

import (
	"image"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"greige/colorspace"
)

// Two curves that files are written with: that of IEC 61966-2-1, and the power
// of 563/256 of Adobe RGB (1998), 4.3.4.2. To read the one as the other is as
// far off as CurveSigma says, as a root mean square from L* 40 to 90, in the
// exposure where they agree best, and further in every other.
func TestCurveSigmaIsTheLeastThatPublishedCurvesDiffer(t *testing.T) {
	white := colorspace.LuminanceOf(95)
	least := math.Inf(1)
	for signal := .4; signal <= 1; signal += .05 { // of the paper, in the file
		read := func(y float64) float64 {
			return colorspace.DecodeSRGB(math.Pow(y/white*signal, 256./563)) * white / signal
		}
		sq, n := 0.0, 0.0
		for l := 40.0; l <= 90; l++ {
			y := colorspace.LuminanceOf(l)
			off := math.Log(read(y) / read(white) * white / y)
			sq, n = sq+math.Pow(off/CurveSigma(y, white), 2), n+1
		}
		least = min(least, math.Sqrt(sq/n))
	}
	require.InDelta(t, 1, least, .25)
}

// In the shadows the two curves part, and the interval holds both; it is not
// wider than twice what they are apart.
func TestCurveSigmaHoldsBothCurvesInTheShadows(t *testing.T) {
	white := colorspace.LuminanceOf(95)
	for l := 5.0; l <= 35; l++ {
		y := colorspace.LuminanceOf(l)
		off := math.Log(math.Pow(colorspace.EncodeSRGB(y), 563./256) / math.Pow(colorspace.EncodeSRGB(white), 563./256) * white / y)
		require.Less(t, math.Abs(off), 1.96*CurveSigma(y, white), "L* %v", l)
		if l < 25 {
			require.Greater(t, 2*math.Abs(off), 1.96*CurveSigma(y, white), "L* %v", l)
		}
	}
}

func TestCurveSigma(t *testing.T) {
	require.Zero(t, CurveSigma(.3, .3))
	require.InDelta(t, CurveSigma(.1, .9), CurveSigma(.9, .1), 1e-15)
	// An exponent that is wrong is so over each step alike.
	require.InDelta(t, CurveSigma(.16, .64), 2*CurveSigma(.32, .64), 1e-12)
	for _, y := range []float64{0, -1, 1e-9} {
		require.False(t, math.IsInf(CurveSigma(y, .9), 0) || math.IsNaN(CurveSigma(.9, y)))
	}
}

// The doubt is none at the lightness of what the level stands on, whatever
// that is, and where the level stands on nothing its own doubt says enough.
func TestCurveStandsOnTheLevel(t *testing.T) {
	pieces := table()
	for _, l := range []float64{95, 49.5} {
		card := image.Rect(pieces[0].x0, pieces[0].y0, pieces[0].x1, pieces[0].y1)
		pieces[0].lab = colorspace.Lab{L: l}
		p := shot(lay(pieces, on(colorspace.Lab{L: 60, A: 20, B: 30})), bulb(1.5, illuminantA()))
		e := evened(t, p, Options{Card: card, CardLightness: l}, ScrapsOnGround)
		require.True(t, e.LevelKnown)
		require.Zero(t, e.CurveSigma(colorspace.LuminanceOf(l)))
		dark, middle := e.CurveSigma(colorspace.LuminanceOf(20)), e.CurveSigma(colorspace.LuminanceOf(40))
		require.Greater(t, dark, middle)
		require.Greater(t, middle, 0.0)
	}
	e := evened(t, shot(lay(table(), on(colorspace.Lab{L: 60, A: 20, B: 30})), bulb(1.5, illuminantA())), Options{}, ScrapsOnGround)
	require.False(t, e.LevelKnown)
	require.Zero(t, e.CurveSigma(.02))
}
