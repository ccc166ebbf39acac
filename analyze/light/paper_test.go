package light

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"greige/analyze/raster"
	"greige/colorspace"
)

// block is a top of 6 x 4 plain patches with a dark frame, between x 150 and
// 330 and y 80 and 300; one of its patches is white.
func block() []square {
	top := []square{}
	for r := range 6 {
		for c := range 4 {
			x, y := 154+44*c, 84+36*r
			l := 20 + 11*float64((r*5+c*3)%7)
			lab := colorspace.Lab{L: l, A: 25 * grain(1, r, c), B: 25 * grain(2, r, c)}
			if r == 5 && c == 0 {
				lab = colorspace.Lab{L: 95}
			}
			top = append(top, square{x, y, x + 40, y + 32, lab})
		}
	}
	return append(top, square{150, 80, 330, 300, colorspace.Lab{L: 14}})
}

// A top lies on a sheet of white paper, which is askew, creased and cut by the
// photo; beyond it is a table. The sheet is known without being told.
func TestPaperUnderATop(t *testing.T) {
	in := func(x, y int) bool { // its left, its top and its right side
		s, c := math.Sincos(4 * math.Pi / 180)
		u, v := c*float64(x-240)+s*float64(y-200), c*float64(y-200)-s*float64(x-240)
		return math.Abs(u) < 135 && v > -150
	}
	sheet := func(table colorspace.Lab) func(x, y int) colorspace.Linear {
		return lay(block(), func(x, y int) colorspace.Linear {
			if !in(x, y) {
				return table.Linear()
			}
			w := gray(95)
			if y > 190 { // its other half faces the lamp a little less
				for k := range w {
					w[k] *= .9
				}
			}
			return w
		})
	}
	for _, table := range []colorspace.Lab{{L: 62, A: 8, B: 20}, {L: 30}, {L: 45, B: -30}} {
		p := shot(sheet(table), bulb(1.5, colorspace.Linear{.6, .6, .6}))
		e := evened(t, p, Options{}, Top)
		require.Equal(t, "ground + paper", e.Record.Method, "table %v", table)
		require.Contains(t, e.Record.Note, "Took the white paper that things lie on for the reference")
		require.True(t, raster.Contains(e.Record.Paper, raster.Point{260, 400}), "left of the top: %v", e.Record.Paper)
		require.False(t, raster.Contains(e.Record.Paper, raster.Point{120, 400}), "on the table")
		require.True(t, e.LevelKnown)
		require.False(t, ignored(e, 200, 200), "the top lies on it and stays cloth")
		for i, q := range block()[:24] {
			require.InDelta(t, q.lab.L, q.mean(e.Picture).Lab().L, 3.5, "patch %d", i)
		}
	}
}

// A sheet that shows one corner may be a white table: it is taken, with more
// doubt, and that is said.
func TestPaperOrTable(t *testing.T) {
	doubt := func(in func(x, y int) bool) (*Even, bool) {
		e := evened(t, shot(lay(block(), func(x, y int) colorspace.Linear {
			if in(x, y) {
				return gray(95)
			}
			return gray(40)
		}), bulb(1.3, colorspace.Linear{.6, .6, .6})), Options{}, Top)
		return e, e.fit.paper != nil
	}
	whole, ok := doubt(func(x, y int) bool { return x > 60 && x < 420 && y > 30 && y < 340 })
	require.True(t, ok)
	one, ok := doubt(func(x, y int) bool { return x > 60 && y > 30 })
	require.True(t, ok)
	require.Greater(t, one.LevelSigma, 2*whole.LevelSigma)
	require.Contains(t, one.Record.Note, "white board or table")
	require.NotContains(t, whole.Record.Note, "white board or table")
}

// What is no sheet of paper is not taken for one: a white wall that fills the
// photo, a top's own white patches, white cards on a dark table, a grey sheet
// beside something lighter, napped cloth with straight sides.
func TestNoPaper(t *testing.T) {
	cards := []square{}
	for r := range 3 {
		for c := range 4 {
			cards = append(cards, square{60 + 90*c, 40 + 100*r, 138 + 90*c, 128 + 100*r, colorspace.Lab{L: 94}})
		}
	}
	framed := func(l float64, nap float64) func(x, y int) colorspace.Linear {
		return lay(block(), func(x, y int) colorspace.Linear {
			if x < 60 || x > 420 || y < 30 || y > 340 {
				return gray(35)
			}
			w := gray(l)
			for k := range w {
				w[k] *= 1 + nap*grain(9, x/6, y/6)
			}
			return w
		})
	}
	beside := framed(75, 0)
	for name, surface := range map[string]func(x, y int) colorspace.Linear{
		"wall":         lay(block(), on(colorspace.Lab{L: 95})),
		"patches":      lay(block(), on(colorspace.Lab{L: 50, B: 20})),
		"cards":        lay(cards, on(colorspace.Lab{L: 25})),
		"napped cloth": framed(95, .12),
		"grey sheet": func(x, y int) colorspace.Linear {
			if math.Hypot(float64(x-20), float64(y-180)) < 60 {
				return gray(95)
			}
			return beside(x, y)
		},
	} {
		for _, hint := range []Hint{Top, Unknown} {
			e := evened(t, shot(surface, bulb(1.4, colorspace.Linear{.6, .6, .6})), Options{}, hint)
			if name == "patches" && hint != Top {
				continue // with nothing known, one white piece of paper's shape may be paper
			}
			require.Nil(t, e.Record.Paper, "%s, %q", name, hint)
		}
	}
}

// She says that a white sheet lies behind the cloths. Where it lies on a darker
// table, the sheet is what is taken; where there is none, so that cloth would
// be lighter than white, that is refused, with what to do.
func TestSheetMode(t *testing.T) {
	behind := func(l float64, pieces []square) *Even {
		p := shot(lay(pieces, func(x, y int) colorspace.Linear {
			if x < 50 || x > 430 || y < 25 || y > 345 {
				return gray(35)
			}
			return gray(l)
		}), bulb(1.6, colorspace.Linear{.6, .6, .6}))
		return evened(t, p, Options{Mode: Sheet}, Top)
	}
	lightest := func(e *Even, pieces []square) float64 {
		most := 0.
		for _, q := range pieces {
			most = max(most, q.mean(e.Picture).Lab().L)
		}
		return most
	}
	e := behind(95, block())
	require.Equal(t, "sheet", e.Record.Method)
	for i, q := range block()[:24] {
		require.InDelta(t, q.lab.L, q.mean(e.Picture).Lab().L, 1.5, "patch %d", i)
	}
	light := block()
	light[3].lab, light[9].lab = colorspace.Lab{L: 94}, colorspace.Lab{L: 90}
	e = behind(55, light)
	require.NotContains(t, e.Record.Method, "sheet")
	require.Contains(t, e.Record.Note, "clearly lighter than what lies behind the cloths")
	require.Contains(t, e.Record.Advice, "--card")
	require.Less(t, lightest(e, light), 100.)
	// Cream and called white: what lies on it is lighter, but no cloth exceeds white.
	for i := range light {
		light[i].lab.L *= .8
	}
	light[3].lab.L = 95
	e = behind(89, light)
	require.Equal(t, "sheet", e.Record.Method)
	require.Less(t, lightest(e, light), 99.)
	require.Greater(t, e.LevelSigma, 1.5*paperSigma)
}
