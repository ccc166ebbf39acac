package light

import (
	"image"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"greige/colorspace"
)

// quilt is a top of 12 x 9 patches of cloths, edge to edge.
func quilt(cloth func(col, row int) colorspace.Lab) (surface func(x, y int) colorspace.Linear, outlines [][][2]float64) {
	const cols, rows = 12, 9
	const side = testW / cols
	for row := range rows {
		for col := range cols {
			x, y := float64(col*side), float64(row*side)
			outlines = append(outlines, [][2]float64{{x, y}, {x + side, y}, {x + side, y + side}, {x, y + side}})
		}
	}
	return func(x, y int) colorspace.Linear { return cloth(x/side, y/side).Linear() }, outlines
}

// A hand's soft shadow on a top of six cloths is said, and the figures of the
// patches in it are within their intervals; those far from it are as sure as
// without it. Without a shadow, and where the top itself is darker at one end,
// nothing is said.
func TestSoftShadowOnATop(t *testing.T) {
	cloths := []colorspace.Lab{{L: 80, A: 20}, {L: 75, B: 30}, {L: 50, A: -25}, {L: 45, B: -30}, {L: 30, A: 25, B: 10}, {L: 35, A: 10, B: -25}}
	mixed := func(col, row int) colorspace.Lab { return cloths[(5*col+7*row+col*row)%len(cloths)] }
	hand := func(u, v float64) colorspace.Linear {
		d := math.Hypot(u-.6, v-.8) / .4 // a smooth edge
		k := 1 - .2*math.Exp(-d*d*d*d)
		return colorspace.Linear{k, k, k}
	}
	planned := func(col, row int) colorspace.Lab {
		l := cloths[(5*col+7*row)%len(cloths)]
		l.L += 2 * float64(col-6)
		return l
	}
	const said = "soft shadow"
	for _, c := range []struct {
		name  string
		cloth func(col, row int) colorspace.Lab
		light func(u, v float64) colorspace.Linear
		said  bool
	}{{"shadow", mixed, hand, true}, {"even", mixed, even, false}, {"bulb", mixed, bulb(1.8, colorspace.Linear{1, 1, 1}), false}, {"planned", planned, even, false}} {
		surface, outlines := quilt(c.cloth)
		e := evened(t, shot(surface, c.light), Options{}, Top)
		e.LevelTop(outlines)
		if !c.said {
			require.NotContains(t, e.Record.Note, said, c.name)
			require.Nil(t, e.dark, c.name)
			continue
		}
		require.Contains(t, e.Record.Note, said)
		require.NotEmpty(t, e.Record.Advice)
		var off, half []float64
		for i, o := range outlines {
			s := square{x0: int(o[0][0]), y0: int(o[0][1]), x1: int(o[2][0]), y1: int(o[2][1])}
			_, apart := e.SigmaOver(image.Rect(s.x0, s.y0, s.x1, s.y1))
			off = append(off, math.Log(s.mean(e.Picture).Y()/c.cloth(i%12, i/12).Linear().Y()))
			half = append(half, 1.96*apart)
		}
		mid := quantiles(append([]float64(nil), off...), 1)[0]
		inside, deepest := 0, 0.0
		for i, v := range off {
			deepest = min(deepest, v-mid)
			if math.Abs(v-mid) < half[i] {
				inside++
			}
		}
		require.Less(t, deepest, -.12) // it is not taken out
		require.Greater(t, float64(inside), .95*float64(len(off)))
		require.Less(t, half[0], .05)
		require.Greater(t, half[7*12+9], .1)
	}
}
