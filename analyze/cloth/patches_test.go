package cloth

import (
	"image"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"greige/analyze/light"
	"greige/analyze/photo"
	"greige/colorspace"
)

// blocks is a print of squares of side px, each light (reflectance hi) with
// the probability share, else lo.
func blocks(w, h, px int, share, lo, hi float64) *light.Even {
	p := photo.New(w, h)
	r := rand.New(rand.NewPCG(5, 6))
	across := (w + px - 1) / px
	ink := make([]float32, across*((h+px-1)/px))
	for i := range ink {
		ink[i] = float32(lo)
		if r.Float64() < share {
			ink[i] = float32(hi)
		}
	}
	for i := range w * h {
		for k := range 3 {
			p.Pix[3*i+k] = ink[i/w/px*across+i%w/px]
		}
	}
	return &light.Even{Picture: p}
}

// Squares of the print itself: half of them L* 38.1 (reflectance 0.1), half of
// them L* 76.1 (0.5), whose standard deviation is half of the difference. A
// patch that is a square, at any place over four of them, is the mean of
// four with the weights of a bilinear mixture, whose variance is
// (integral of (1-t)^2 + t^2)^2 = (2/3)^2 of the squares' own.
func TestPatchSpreadOfKnownPrint(t *testing.T) {
	e := blocks(1200, 900, 20, .5, .2, .3)
	dY := .05 // half of the difference of reflectance; small, so that L* is nearly straight over it
	slope := 116. / 3 * math.Pow(.25, -2./3)
	got, ok := PatchSpread(e, Whole(1200, 900), 20)
	require.True(t, ok)
	assert.InEpsilon(t, slope*dY*2/3, got, .1)
	// Ten times as wide: a hundred squares in each patch, a tenth of the
	// deviation; where the patch cuts squares, little less.
	got, ok = PatchSpread(e, Whole(1200, 900), 200)
	require.True(t, ok)
	assert.InEpsilon(t, slope*dY/10, got, .35)
}

// Linear light is averaged, not L*: every patch of a fine check has the L* of
// half the light (Murray 1936).
func TestPatchesOfAFineCheckAreAlike(t *testing.T) {
	p := photo.New(200, 200)
	for i := range 200 * 200 {
		if (i%200+i/200)%2 == 0 {
			p.Pix[3*i], p.Pix[3*i+1], p.Pix[3*i+2] = 1, 1, 1
		}
	}
	got, ok := PatchSpread(&light.Even{Picture: p}, Whole(200, 200), 40)
	require.True(t, ok)
	assert.InDelta(t, 0, got, 1e-3)
	assert.InDelta(t, 76.07, colorspace.Lightness(.5), .01)
}

func TestPatchSpreadTellsWhereItCannot(t *testing.T) {
	e := blocks(300, 200, 10, .5, .1, .5)
	for name, c := range map[string]struct {
		r    Region
		side float64
	}{
		"piece too small":   {Whole(300, 200), 120},
		"patch too small":   {Whole(300, 200), 2},
		"patch wider":       {Region{Bounds: image.Rect(0, 0, 300, 30)}, 35},
		"no scale":          {Whole(300, 200), math.NaN()},
		"nothing":           {Region{}, 20},
		"a strip too thin":  {Polygon([][2]float64{{0, 0}, {300, 170}, {300, 195}, {0, 25}}, 300, 200), 25},
		"negative patch":    {Whole(300, 200), -4},
		"infinitely large":  {Whole(300, 200), math.Inf(1)},
		"all of the rim":    {Region{Bounds: image.Rect(0, 0, 30, 30), Weight: make([]float32, 900)}, 3},
		"as large as piece": {Whole(300, 200), 200},
	} {
		_, ok := PatchSpread(e, c.r, c.side)
		assert.False(t, ok, name)
	}
	_, ok := PatchSpread(e, Whole(300, 200), 40)
	assert.True(t, ok)
}

// 2 1/2 in patches finish at 2 in (common practice, no source).
func TestFinished(t *testing.T) {
	assert.InDelta(t, 2*2.54, Finished(2.5*2.54), 1e-9)
	assert.Equal(t, 1., Finished(1))
}
