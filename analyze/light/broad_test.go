package light

import (
	"image"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"greige/colorspace"
)

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
	require.Greater(t, e.ground.tolY, leastDeep)
	require.Contains(t, e.Record.Note, "A shadow lies over a part of the photo.")
	worst, held := astray(e, pieces)
	require.Less(t, worst, .09) // .17 when it is not taken out
	require.GreaterOrEqual(t, held, len(pieces)-1)
	e = overMat(t, pieces, 0)
	require.NotContains(t, e.Record.Note, "A shadow lies")
}

// A scrap of nearly the mat's own colour is no shadow: it ends at once.
func TestScrapOfTheMatsColourIsNoShadow(t *testing.T) {
	pieces := append(table(), square{120, 150, 145, 335, colorspace.Lab{L: 42}}, square{210, 130, 260, 155, colorspace.Lab{L: 42}})
	for i := range pieces[:12] {
		pieces[i].x1 -= 15
	}
	pieces[4].x1, pieces[8].x1 = 70, 70
	e := overMat(t, pieces, 0)
	require.NotContains(t, e.Record.Note, "A shadow lies")
}
