package light

import (
	"image"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"greige/colorspace"
)

func rectOf(s square, k int) image.Rectangle { return image.Rect(k*s.x0, k*s.y0, k*s.x1, k*s.y1) }

// shaded is a light with a shadow of a depth, at the place that inside gives:
// 0 in the light, 1 in the shadow, between at its edge.
func shaded(light func(u, v float64) colorspace.Linear, depth float64, inside func(u, v float64) float64) func(u, v float64) colorspace.Linear {
	return func(u, v float64) colorspace.Linear {
		e := light(u, v)
		f := 1 - depth*inside(u, v)
		return colorspace.Linear{e[0] * f, e[1] * f, e[2] * f}
	}
}

func step(x, soft float64) float64 {
	t := min(max(x/soft+.5, 0), 1)
	return t * t * (3 - 2*t)
}

// The soft shadow of a hand is taken out where the ground shows it, and the
// pieces in it are less sure; a grey scrap of the same size is no shadow.
func TestSoftShadow(t *testing.T) {
	pieces := table()
	hand := func(u, v float64) float64 { return step(1-math.Hypot((u-.55)/.5, (v-.6)/.5), .5) }
	var e *Even
	for _, depth := range []float64{.2, .6, .4} {
		p := shot(lay(pieces, on(colorspace.Lab{L: 95})), shaded(bulb(1.4, colorspace.Linear{.6, .6, .6}), depth, hand))
		e = evened(t, p, Options{}, ScrapsOnGround)
		require.True(t, e.LevelKnown)
		require.Contains(t, e.Record.Note, "shadow lies over a part")
		for i, s := range pieces {
			miss := s.mean(e.Picture).Lab().L - s.lab.L
			common, apart := e.SigmaOver(image.Rect(s.x0, s.y0, s.x1, s.y1))
			y := colorspace.LuminanceOf(s.lab.L)
			sigma := 116. / 3 * math.Cbrt(y) * math.Hypot(common, apart)
			require.Less(t, math.Abs(miss), max(2.2*sigma, .6), "depth %v, piece %d", depth, i)
			require.Less(t, math.Abs(miss), -6.8*math.Log(1-depth), "depth %v, piece %d", depth, i)
		}
	}
	in := pieces[11] // under the hand
	_, apart := e.SigmaOver(image.Rect(in.x0, in.y0, in.x1, in.y1))
	out := pieces[0]
	_, far := e.SigmaOver(image.Rect(out.x0, out.y0, out.x1, out.y1))
	require.Greater(t, apart, 2*far)

	grey := append(table()[:10], square{260, 240, 460, 350, colorspace.Lab{L: 70}})
	p := shot(lay(grey, on(colorspace.Lab{L: 95})), bulb(1.4, colorspace.Linear{.6, .6, .6}))
	e = evened(t, p, Options{}, ScrapsOnGround)
	require.Less(t, worst(misses(e.Picture, grey)), .5)
	require.NotContains(t, e.Record.Note, "shadow")
}

// A grey scrap that stands off the table lies in a soft shadow of its own, and
// at one corner, where it lies flat and its cloth is thin, runs out into it.
// It is no part of the shadow, and is not made as light as the sheet.
func TestGreyScrapInItsOwnShadow(t *testing.T) {
	grey := square{250, 120, 400, 290, colorspace.Lab{L: 76}}
	pieces := append(table()[:6], grey)
	sheet := colorspace.Lab{L: 95}.Linear()
	away := func(x, y int) float64 { // pixels from the scrap
		dx := max(float64(grey.x0-x), float64(x-grey.x1+1), 0)
		dy := max(float64(grey.y0-y), float64(y-grey.y1+1), 0)
		return math.Hypot(dx, dy)
	}
	surface := lay(pieces, func(x, y int) colorspace.Linear {
		f := 1 - .25*(1-step(away(x, y)-12, 24))
		return colorspace.Linear{f * sheet[0], f * sheet[1], f * sheet[2]}
	})
	thin := func(x, y int) colorspace.Linear {
		c, out := surface(x, y), surface(grey.x0-1, grey.y0-1)
		d := math.Hypot(float64(x-grey.x0), float64(y-grey.y0))
		if d < 18 && x >= grey.x0 && y >= grey.y0 {
			for k := range c {
				c[k] += (out[k] - c[k]) * (1 - d/18)
			}
		}
		return c
	}
	e := evened(t, shot(thin, bulb(1.4, colorspace.Linear{.6, .6, .6})), Options{}, ScrapsOnGround)
	require.True(t, e.LevelKnown)
	require.InDelta(t, grey.lab.L, grey.mean(e.Picture).Lab().L, 1)
}

// A highlight on a glossy board pulls neither field nor level, and the piece
// that it lies over is less sure.
func TestGloss(t *testing.T) {
	pieces := table()
	surface := lay(pieces, on(colorspace.Lab{L: 95}))
	light := bulb(1.5, colorspace.Linear{.5, .5, .5})
	p := plain(testW, testH, func(x, y int) colorspace.Linear {
		c := surface(x, y)
		e := light(2*(float64(x)+.5)/testW-1, 2*(float64(y)+.5)/testH-1)
		d := math.Hypot(float64(x-130), float64(y-130)) / 60
		shine := .35 * math.Exp(-d*d)
		for k := range c {
			c[k] = (c[k]*e[k] + shine) * (1 + .03*grain(k, x, y))
		}
		return c
	})
	e := evened(t, p, Options{}, ScrapsOnGround)
	require.True(t, e.LevelKnown)
	for i, s := range pieces {
		if s.x0 > 250 || s.y0 > 250 { // out of the shine
			require.InDelta(t, s.lab.L, s.mean(e.Picture).Lab().L, .6, "piece %d", i)
		}
	}
	require.Contains(t, e.Record.Note, "shines in one place")
	require.NotEmpty(t, e.Record.Advice)
	near, far := pieces[0], pieces[11]
	_, doubt := e.SigmaOver(image.Rect(near.x0, near.y0, near.x1, near.y1))
	_, sure := e.SigmaOver(image.Rect(far.x0, far.y0, far.x1, far.y1))
	require.Greater(t, doubt, 2*sure)
}

// A sheet that is too bright for the camera in one corner still gives the
// field.
func TestBlownCorner(t *testing.T) {
	pieces := table()
	p := shot(lay(pieces, on(colorspace.Lab{L: 95})), bulb(2.2, colorspace.Linear{.95, .95, .95}))
	p.Picture.Bright = make([]uint8, testW*testH)
	for i := range p.Picture.Bright {
		for k := range 3 {
			if p.Picture.Pix[3*i+k] >= 1 {
				p.Picture.Pix[3*i+k] = 1
				p.Picture.Bright[i] = 255
			}
		}
	}
	e := evened(t, p, Options{}, ScrapsOnGround)
	require.True(t, e.LevelKnown)
	require.Greater(t, e.Record.Clipped, .02)
	for i, s := range pieces {
		if s.mean(p.Picture).Y() < .8 {
			require.InDelta(t, s.lab.L, s.mean(e.Picture).Lab().L, 1.5, "piece %d", i)
		}
	}
}

// overMat is a photo of pieces on a rough grey mat under a bulb, in part of
// which something keeps the light away, at most by depth.
func overMat(t *testing.T, pieces []square, depth float64) *Even {
	t.Helper()
	lamp := bulb(1.3, colorspace.Linear{.6, .6, .6})
	return evened(t, shot(lay(pieces, napped(45, .12)), func(u, v float64) colorspace.Linear {
		e := lamp(u, v)
		r := math.Hypot((u+.4)/.5, (v-.2)/.6)
		s := min(max((1.2-r)/.7, 0), 1) // soft
		for k := range e {
			e[k] *= 1 - depth*s*s*(3-2*s)
		}
		return e
	}), Options{}, ScrapsOnGround)
}

// astray is how far the ln of the luminances of pieces lie from truth, their
// common level taken out, and how many of them 1.96 sigma hold.
func astray(e *Even, pieces []square) (worst float64, held int) {
	ln, level := make([]float64, len(pieces)), 0.0
	for i, s := range pieces {
		ln[i] = math.Log(s.mean(e.Picture).Y() / s.lab.Linear().Y())
		level += ln[i] / float64(len(pieces))
	}
	for i, s := range pieces {
		_, apart := e.SigmaOver(image.Rect(s.x0, s.y0, s.x1, s.y1))
		worst = max(worst, math.Abs(ln[i]-level))
		if math.Abs(ln[i]-level) < 1.96*apart {
			held++
		}
	}
	return worst, held
}

// A soft shadow that is no deeper than a mat's own light and dark places is
// seen all the same, taken out and said.
func TestSoftShadowOnARoughMat(t *testing.T) {
	pieces := table()
	e := overMat(t, pieces, .22)
	require.Greater(t, e.fit.backing.tol[0], leastDepth, "no cell by itself shows it")
	require.Contains(t, e.Record.Note, "A shadow lies over a part of the photo.")
	worst, held := astray(e, pieces)
	require.Less(t, worst, .09) // .17 when it is not taken out
	require.GreaterOrEqual(t, held, len(pieces)-1)
	e = overMat(t, pieces, 0)
	require.NotContains(t, e.Record.Note, "A shadow lies")
}
