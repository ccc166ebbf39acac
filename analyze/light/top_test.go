package light

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"greige/analyze/photo"
	"greige/colorspace"
)

// sewn is a top of 8 x 6 patches without a margin, each a small print of the
// cloth that which names.
func sewn(which func(r, c int) colorspace.Lab) ([]square, func(x, y int) colorspace.Linear) {
	var patches []square
	for r := range 6 {
		for c := range 8 {
			patches = append(patches, square{60 * c, 60 * r, 60*c + 60, 60*r + 60, which(r, c)})
		}
	}
	return patches, func(x, y int) colorspace.Linear {
		l := patches[y/60*8+x/60].lab.Linear()
		f := 1 + .15*grain(9, x/5, y/5) // its print, the same light on average
		for k := range l {
			l[k] *= f
		}
		return l
	}
}

func outlines(patches []square) [][][2]float64 {
	var out [][][2]float64
	for _, s := range patches {
		x0, y0, x1, y1 := float64(s.x0), float64(s.y0), float64(s.x1), float64(s.y1)
		out = append(out, [][2]float64{{x0, y0}, {x1, y0}, {x1, y1}, {x0, y1}})
	}
	return out
}

// spread is the standard deviation of ln luminance within cloths.
func spread(p *photo.Picture, patches []square) float64 {
	by := map[colorspace.Lab][]float64{}
	for _, s := range patches {
		by[s.lab] = append(by[s.lab], math.Log(s.mean(p).Y()))
	}
	sq, n := 0.0, 0.0
	for _, v := range by {
		m := 0.0
		for _, x := range v {
			m += x / float64(len(v))
		}
		for _, x := range v {
			sq += (x - m) * (x - m)
			n++
		}
	}
	return math.Sqrt(sq / n)
}

var fiveCloths = []colorspace.Lab{{L: 82, A: 2, B: 12}, {L: 74, A: 15, B: -5}, {L: 50, A: -12, B: 14}, {L: 33, A: 20, B: 8}, {L: 26, A: 4, B: -18}}

// A top repeats its cloths: patches of one cloth in different corners come
// out alike, with nothing else to go by.
func TestRepeatedClothsEvenATop(t *testing.T) {
	patches, surface := sewn(func(r, c int) colorspace.Lab { return fiveCloths[(2*r+c)%5] })
	p := shot(surface, bulb(2, colorspace.Linear{.6, .6, .6}))
	e := evened(t, p, Options{}, Top)
	require.Same(t, p.Picture, e.Picture)
	e = e.LevelTop(outlines(patches))
	require.Equal(t, "repeated cloths", e.Record.Method)
	require.Less(t, spread(e.Picture, patches), .2*spread(p.Picture, patches))
	require.InDelta(t, 2, e.Record.Unevenness, .2)
	require.False(t, e.LevelKnown)
	require.Less(t, e.SlopeSigma, .06)
	require.Contains(t, e.Record.Note, "Patches of one cloth in different places")
	require.NotContains(t, e.Record.Note, "Nothing in the photo")
	require.NotContains(t, e.Record.Note, "its own and was left in")
	// The mean of the photo stays: nothing tells its level.
	all := func(x, y int) bool { return true }
	require.InDelta(t, meanOver(p.Picture.At, all).Y(), meanOver(e.Picture.At, all).Y(), .003)
}

// A top that was planned to run from light to dark is left alone, under even
// light, and under a lamp only the lamp's part is taken out; and it is said.
func TestPlannedGradationStays(t *testing.T) {
	for name, which := range map[string]func(r, c int) colorspace.Lab{
		"gentle":     func(r, c int) colorspace.Lab { return colorspace.Lab{L: 70 - 1.5*float64(c), A: 5, B: -8} },
		"one colour": func(r, c int) colorspace.Lab { return colorspace.Lab{L: 85 - 7.5*float64(c), A: 5, B: -8} },
		"with a second cloth between": func(r, c int) colorspace.Lab {
			if (r+c)%2 == 0 {
				return colorspace.Lab{L: 85 - 7.5*float64(c), A: 5, B: -8}
			}
			return colorspace.Lab{L: 80 - 7*float64(c), A: 20, B: 12}
		},
	} {
		patches, surface := sewn(which)
		for _, ratio := range []float64{1.001, 1.6} {
			p := shot(surface, bulb(ratio, colorspace.Linear{.6, .6, .6}))
			e := evened(t, p, Options{}, Top)
			e = e.LevelTop(outlines(patches))
			// What is left is what the insides of the patches cannot tell of
			// the lamp, and not the gradation, which is many times as much.
			for i, r := range ratios(e.Picture, patches) {
				_, apart := e.SigmaOver(rectOf(patches[i], 1))
				require.Less(t, math.Abs(r), 3*apart, "%s, %.1f, patch %d", name, ratio, i)
				require.Less(t, math.Abs(r), .1, "%s, %.1f, patch %d", name, ratio, i)
			}
			require.Contains(t, e.Record.Note, "its own and was left in", name)
		}
	}
}

// With a card as well the level is right all over.
func TestTopWithACard(t *testing.T) {
	patches, surface := sewn(func(r, c int) colorspace.Lab { return fiveCloths[(2*r+c)%5] })
	card := patches[0]
	card.lab = colorspace.Lab{L: 95}
	p := shot(lay([]square{card}, surface), bulb(2, illuminantA()))
	e := evened(t, p, Options{Cards: []Card{{Place: rectOf(card, 2)}}}, Top)
	e = e.LevelTop(outlines(patches[1:]))
	require.Equal(t, "card + repeated cloths", e.Record.Method)
	require.True(t, e.LevelKnown)
	require.Less(t, worst(misses(e.Picture, patches[1:])), 1.5)
}

// A top whose ground has told all is not touched again.
func TestLevelTopLeavesAGoodGround(t *testing.T) {
	var patches []square
	for r := range 6 {
		for c := range 8 {
			x, y := 48+48*c, 36+48*r
			patches = append(patches, square{x, y, x + 48, y + 48, fiveCloths[(2*r+c)%5]})
		}
	}
	p := shot(lay(patches, on(colorspace.Lab{L: 82})), bulb(2, colorspace.Linear{.6, .6, .6}))
	e := evened(t, p, Options{}, Top)
	require.Equal(t, "ground", e.Record.Method)
	require.Same(t, e, e.LevelTop(outlines(patches)))
	require.Less(t, worst(ratios(e.Picture, patches)), .03)
}
