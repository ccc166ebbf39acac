package light

import (
	"image"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"greige/colorspace"
)

// A light that has been taken out leaves greys in no doubt, and saturated
// cloth in as much as the two descriptions of it are apart: that multiplies
// the components, this the cones' signals (Bradford, worked out here from the
// cone matrix of ICC.1 annex E).
func TestMixed(t *testing.T) {
	bulb := colorspace.XYZOf(colorspace.PlanckianChromaticity(2856)).Linear()
	for _, y := range []float64{.02, .3, .9} {
		require.InDelta(t, 0, mixed(bulb, colorspace.Linear{y, y, y}), 1e-9)
	}
	for _, lab := range []colorspace.Lab{{L: 40, A: 5, B: -40}, {L: 45, A: 50, B: 25}, {L: 60, A: -35, B: 25}} {
		c := lab.Linear()
		require.InDelta(t, 0, mixed(colorspace.Linear{1, 1, 1}, c), 1e-12)
		cone := colorspace.Matrix{{.8951, .2664, -.1614}, {-.7502, 1.7135, .0367}, {.0389, -.0685, 1.0296}}
		cones := func(l colorspace.Linear) [3]float64 {
			x := l.XYZ()
			return cone.Apply([3]float64{x.X, x.Y, x.Z})
		}
		from, to := cones(bulb), cones(colorspace.Linear{1, 1, 1})
		v := cones(colorspace.Linear{c[0] * bulb[0], c[1] * bulb[1], c[2] * bulb[2]})
		for k := range v {
			v[k] *= to[k] / from[k]
		}
		want := math.Log(cone.Inverse().Apply(v)[1] / c.Y())
		require.InDelta(t, want, mixed(bulb, c), 1e-6, "%v", lab)
		require.Greater(t, math.Abs(want), .02, "%v", lab)
		mild := colorspace.Linear{math.Sqrt(bulb[0]), math.Sqrt(bulb[1]), math.Sqrt(bulb[2])}
		require.Less(t, math.Abs(mixed(mild, c)), math.Abs(want), "%v", lab)
	}
	for _, c := range []colorspace.Linear{{}, {-.1, .2, -.3}, {math.Inf(1), 1, 1}, {math.NaN(), 1, 1}} {
		require.False(t, math.IsNaN(mixed(bulb, c)) || math.IsInf(mixed(bulb, c), 0), "%v", c)
	}
}

// Under a bulb that the camera has not balanced, what a white sheet tells is
// the colour of white. The intervals hold the lightness of cloths that the
// bulb coloured through the cones, and greys are as sure as under daylight.
func TestIntervalHoldsBothWaysToColour(t *testing.T) {
	pieces := table()
	for i := range pieces {
		h := 1.1 * float64(i)
		pieces[i].lab = colorspace.Lab{L: 35 + 6*float64(i%5), A: 38 * math.Cos(h), B: 38 * math.Sin(h)}
	}
	pieces[0].lab = colorspace.Lab{L: 50}
	cast := illuminantA()
	bend := colorspace.AdaptationBradford(colorspace.WhiteD65(), cast.XYZ())
	for _, byCones := range []bool{false, true} {
		surface := lay(pieces, on(colorspace.Lab{L: 95}))
		p := shot(func(x, y int) colorspace.Linear {
			c := surface(x, y)
			if !byCones {
				return colorspace.Linear{c[0] * cast[0], c[1] * cast[1], c[2] * cast[2]}
			}
			v := c.XYZ()
			w := bend.Apply([3]float64{v.X, v.Y, v.Z})
			return colorspace.XYZ{X: w[0], Y: w[1], Z: w[2]}.Linear()
		}, even)
		e := evened(t, p, Options{}, ScrapsOnGround)
		require.True(t, e.LevelKnown)
		for i, m := range misses(e.Picture, pieces) {
			s := pieces[i]
			common, apart := e.SigmaOver(image.Rect(s.x0, s.y0, s.x1, s.y1))
			y := s.mean(e.Picture).Y()
			half := 1.96 * 116 / 3 * math.Cbrt(y) * math.Hypot(common, apart)
			require.Less(t, m, half, "%v, by the cones: %v", s.lab, byCones)
			if i == 0 { // the sheet's own lightness aside
				require.Less(t, 1.96*116/3*math.Cbrt(y)*apart, .8)
			}
		}
	}
}

// A basket of one colour is rare and not as rare as a normal distribution has
// it: three standard deviations off grey it bears out another lamp by less, one
// off by about as much.
func TestLikesHasTails(t *testing.T) {
	w := greyWorld{0, 0, 9}
	sd := math.Sqrt(clothR*clothR/w.n + basketR*basketR)
	ratio := func(off float64) float64 {
		away := w.likes(colorspace.Linear{math.Exp(off * sd), 1, 1}) / w.likes(colorspace.Linear{1, 1, 1})
		return away / math.Exp(-off*off/2)
	}
	require.InDelta(t, 1, ratio(1), .1)
	require.Greater(t, ratio(3), 2.)
	require.Greater(t, ratio(4), 2*ratio(3))
}
