package light

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"greige/colorspace"
)

// A top on a grained floor, under even light, keeps light from the floor
// beside it: a tenth at its edge, nothing four cells off. The light does not
// bend for that.
func TestShadeOfATopIsNoBend(t *testing.T) {
	const margin = 24 // pixels
	lee := func(x, y int) float64 {
		d := min(x, y, testW-1-x, testH-1-y)
		return 1 - .12*math.Max(0, 1-float64(margin-d)/16)
	}
	p := plain(testW, testH, func(x, y int) colorspace.Linear {
		v := .3 * (1 + .12*grain(1, x/2, y/2))
		if d := min(x, y, testW-1-x, testH-1-y); d >= margin {
			v = .6 + .1*grain(2, x/40, y/40)
		} else {
			v *= lee(x, y)
		}
		return colorspace.Linear{v, v, v}
	})
	c := reduce(p.Picture)
	ground := make([]bool, c.w*c.h)
	for i := range ground {
		x, y := i%c.w*c.k+c.k/2, i/c.w*c.k+c.k/2
		ground[i] = min(x, y, testW-1-x, testH-1-y) < margin
	}
	samples := c.samples(func(i int) bool { return ground[i] }, fineSamples)
	with := fitField(samples, 1, c.w)
	require.NotNil(t, with)
	c.lift(samples, ground)
	without := fitField(samples, 1, c.w)
	require.NotNil(t, without)
	t.Log(with.rms(), without.rms())
	require.Less(t, without.rms(), .01)
	require.Less(t, without.rms(), with.rms()/2)
}
