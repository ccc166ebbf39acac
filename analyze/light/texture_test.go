package light

import (
	"image"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"greige/colorspace"
)

// napped is a ground of lightness l whose own light varies by share from one
// tuft of some 1/60 of the photo's width to the next.
func napped(l, share float64) func(x, y int) colorspace.Linear {
	at := func(i, j int) float64 { return grain(5, i, j) }
	return func(x, y int) colorspace.Linear {
		const tuft = 8
		i, j, u, v := x/tuft, y/tuft, float64(x%tuft)/tuft, float64(y%tuft)/tuft
		f := (1-u)*(1-v)*at(i, j) + u*(1-v)*at(i+1, j) + (1-u)*v*at(i, j+1) + u*v*at(i+1, j+1)
		c := gray(l)
		for k := range c {
			c[k] *= 1 + share*f
		}
		return c
	}
}

// Smooth paper is the white sheet, whatever the noise. Napped cloth may be as
// white or be a flannel of L* 90: either is held by the figures' interval, and
// it is said.
func TestFlannelIsNoPaper(t *testing.T) {
	pieces := table()
	for _, c := range []struct{ l, nap, noise float64 }{{95, .002, 0}, {95, .002, .15}, {95, .04, 0}, {90, .04, 0}, {86, .04, 0}} {
		p := plain(testW, testH, func(x, y int) colorspace.Linear {
			out := lay(pieces, napped(c.l, c.nap))(x, y)
			e := bulb(1.5, colorspace.Linear{.6, .6, .6})(2*float64(x)/testW-1, 2*float64(y)/testH-1)
			for k := range out {
				out[k] *= e[k] * (1 + c.noise*grain(k, x, y))
			}
			return out
		})
		e := evened(t, p, Options{}, ScrapsOnGround)
		require.True(t, e.LevelKnown)
		if c.nap < .01 {
			require.Equal(t, "sheet", e.Record.Method, c)
			require.Less(t, e.LevelSigma, .03)
			require.Less(t, worst(misses(e.Picture, pieces)), .8, c)
			continue
		}
		require.Equal(t, "ground", e.Record.Method, c)
		require.Contains(t, e.Record.Note, "Whether it is as white as paper")
		require.Contains(t, e.Record.Advice, "--card-lightness")
		for _, s := range pieces {
			common, apart := e.SigmaOver(image.Rect(s.x0, s.y0, s.x1, s.y1))
			off := math.Log(s.mean(e.Picture).Y() / s.lab.Linear().Y())
			require.Less(t, math.Abs(off), 1.96*math.Hypot(common, apart), c)
			require.Less(t, 1.96*common, .33, "nearly white is not nothing")
			require.Less(t, apart, .03)
		}
	}
}

// A sheet of paper that lies on the flannel tells its level.
func TestPaperOnFlannelSetsTheLevel(t *testing.T) {
	pieces := table()[:11]
	paper := square{370, 255, 460, 318, colorspace.Lab{L: 95}}
	p := shot(lay(append(pieces, paper), napped(90, .04)), bulb(1.5, colorspace.Linear{.6, .6, .6}))
	e := evened(t, p, Options{}, ScrapsOnGround)
	require.Equal(t, "ground + paper", e.Record.Method)
	require.Less(t, worst(misses(e.Picture, pieces)), 1.)
	require.Less(t, e.LevelSigma, .03)
}

// What a cloth has more of than white paper in red alone does not outshine it.
func TestOrangeDoesNotOutshinePaper(t *testing.T) {
	orange := colorspace.Lab{L: 75, A: 45, B: 75}
	require.Greater(t, orange.Linear()[0], gray(95)[0])
	pieces := table()
	for i := range 4 {
		pieces[i].lab = orange
		pieces[i].lab.L += float64(i)
	}
	e := evened(t, shot(lay(pieces, on(colorspace.Lab{L: 95})), bulb(1.5, colorspace.Linear{.6, .6, .6})), Options{}, ScrapsOnGround)
	require.Equal(t, "sheet", e.Record.Method)
	require.Less(t, worst(misses(e.Picture, pieces)), .5)
}

// A pale scrap of the shape of a card is no paper: its weave shows. To take it
// for white would make all pieces lighter than they are, and sure.
func TestPaleScrapIsNoPaper(t *testing.T) {
	pieces := table()[:11]
	for i := range pieces {
		pieces[i].lab.L = min(pieces[i].lab.L, 70)
	}
	for nap, method := range map[float64]string{.003: "ground + paper", .03: "ground"} {
		cloth, mat := napped(95, nap), on(colorspace.Lab{L: 45})
		p := shot(lay(pieces, func(x, y int) colorspace.Linear {
			if x >= 370 && x < 460 && y >= 255 && y < 318 {
				return cloth(x, y)
			}
			return mat(x, y)
		}), bulb(1.5, colorspace.Linear{.6, .6, .6}))
		e := evened(t, p, Options{}, ScrapsOnGround)
		require.Equal(t, method, e.Record.Method, nap)
		require.Equal(t, method != "ground", e.LevelKnown)
	}
}
