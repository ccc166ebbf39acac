package light

import (
	"encoding/csv"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"greige/analyze/photo"
	"greige/colorspace"
)

// surfaceColours are the centres of the ISCC-NBS colour names within sRGB
// (Kelly 1958, NBS RP 2911): colours of surfaces to all sides, chosen by
// others.
func surfaceColours(t *testing.T) []colorspace.Lab {
	t.Helper()
	f, err := os.Open("../../colorspace/tables/iscc_nbs_267.csv")
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	var out []colorspace.Lab
	for _, r := range rows[1:] {
		if r[7] != "yes" {
			continue
		}
		var v [3]float64
		for k := range v {
			v[k], err = strconv.ParseFloat(r[4+k], 64)
			require.NoError(t, err)
		}
		out = append(out, colorspace.Lab{L: v[0], A: v[1], B: v[2]})
	}
	require.Greater(t, len(out), 150)
	return out
}

// Fourteen cloths under one lamp, whatever their colours: together they tell a
// bulb from a basket of warm colours, and do not turn daylight into a lamp.
func TestLightOfSet(t *testing.T) {
	colours := surfaceColours(t)
	type basket struct {
		name string
		in   func(l colorspace.Lab) bool
	}
	greyish := func(l colorspace.Lab) bool { return math.Hypot(l.A, l.B) < 12 }
	for _, of := range []basket{
		{"all", func(colorspace.Lab) bool { return true }},
		{"warm", func(l colorspace.Lab) bool { return greyish(l) || l.B > 0 && l.A > -5 }},
	} {
		dice := rand.New(rand.NewPCG(7, 11))
		// The colour of the lamp; the most that may be left of what it does to
		// L*; and how often it has to be found.
		for _, lamp := range []struct{ kelvin, left, often float64 }{{2856, .25, .99}, {3400, .45, .85}, {4000, .75, .75}} {
			before, after, found, inside := runSets(dice, colours, of.in, lamp.kelvin, false)
			require.Less(t, after, lamp.left*before, "%s %v", of.name, lamp.kelvin)
			require.GreaterOrEqual(t, found, lamp.often, "%s %v", of.name, lamp.kelvin)
			require.Greater(t, inside, .85, "%s %v", of.name, lamp.kelvin)
		}
		before, after, found, inside := runSets(dice, colours, of.in, 6504, false)
		require.Less(t, before, .02)
		require.Less(t, after, 1.1, of.name)
		require.Less(t, found, .2, of.name)
		require.Greater(t, inside, .95, of.name)
	}
}

// A basket of oranges, from pale to deep, looks much like cloths of all colours
// under a bulb. Which of the two it is cannot always be told: the figures'
// interval holds the one and the other, and daylight is not turned into a lamp
// more often than it has to be.
func TestOrangesInDaylight(t *testing.T) {
	orange := func(l colorspace.Lab) bool {
		return l.Chroma() > 15 && math.Atan2(l.B, l.A) > 20*math.Pi/180 && math.Atan2(l.B, l.A) < 90*math.Pi/180
	}
	dice := rand.New(rand.NewPCG(3, 5))
	for _, kelvin := range []float64{2856, 3400, 4000, 5000, 6504} {
		_, after, found, inside := runSets(dice, surfaceColours(t), orange, kelvin, true)
		require.Greater(t, inside, .9, kelvin)
		require.Less(t, after, 2.5, kelvin)
		if kelvin > 6000 {
			require.Less(t, found, .9, kelvin)
		}
	}
}

// runSets is the rms error of L* without and with LightOfSet, how often a
// colour was found, and the share of errors inside 95 %. Where only how the
// cloths stand to each other counts, what they all have in common is taken out.
func runSets(dice *rand.Rand, colours []colorspace.Lab, in func(colorspace.Lab) bool, kelvin float64, apart bool) (before, after, found, inside float64) {
	const sets, cloths = 40, 14
	at := colorspace.PlanckianChromaticity
	if kelvin >= 4000 {
		at = colorspace.DaylightChromaticity
	}
	lamp := colorspace.XYZOf(at(kelvin)).Linear()
	for range sets {
		var truth []float64
		var seen []colorspace.Linear
		for len(truth) < cloths {
			lab := colours[dice.IntN(len(colours))]
			if !in(lab) {
				continue
			}
			c := lab.Linear()
			for k := range c {
				c[k] *= lamp[k]
			}
			truth, seen = append(truth, lab.L), append(seen, c)
		}
		s := LightOfSet(seen)
		if s.Found {
			found += 1. / sets
		}
		gain := s.Gain()
		relit := slices.Clone(seen)
		var level []float64
		for i := range relit {
			for k := range gain {
				relit[i][k] *= gain[k]
			}
			level = append(level, relit[i].Y()/colorspace.LuminanceOf(truth[i]))
		}
		common := 1.
		if slices.Sort(level); apart {
			common = level[len(level)/2]
		}
		for i, c := range seen {
			d := c.Lab().L - truth[i]
			before += d * d / sets / cloths
			d = colorspace.Lightness(relit[i].Y()/common) - truth[i]
			after += d * d / sets / cloths
			// Beside a hundredth for all else.
			if math.Abs(d) < 1.96*116/3*math.Cbrt(relit[i].Y())*math.Hypot(.01, s.Doubt(relit[i])) {
				inside += 1. / sets / cloths
			}
		}
	}
	return math.Sqrt(before), math.Sqrt(after), found, inside
}

// What no set is, or says nothing, is left as it is, with the doubt that one
// cloth leaves.
func TestLightOfNoSet(t *testing.T) {
	red := colorspace.Lab{L: 40, A: 50, B: 30}.Linear()
	for _, cloths := range [][]colorspace.Linear{nil, {red}, {red, red, red, red, red, red}, {{}, {math.NaN(), 1, 1}, {math.Inf(1), 0, 0}}} {
		s := LightOfSet(cloths)
		require.False(t, s.Found, "%v", cloths)
		require.Equal(t, [3]float64{1, 1, 1}, s.Gain())
		require.Greater(t, s.Doubt(red), .03)
		var r Record
		s.Tell(&r)
		require.Empty(t, r)
	}
}

// A held white balance is shared only where all photos of the group held it.
func TestOneWhite(t *testing.T) {
	r := photo.Record{Camera: "one", ExposureTime: .01, Sensitivity: 100, FNumber: 2}
	held := r
	held.FixedWhite = true
	for _, f := range Exposures([]photo.Record{held, held}) {
		require.True(t, f.OneWhite)
	}
	require.False(t, Exposures([]photo.Record{held})[0].OneWhite)
	later := held
	held.Taken, later.Taken = "2024:05:01 10:00:00", "2024:05:02 10:00:00"
	for _, f := range Exposures([]photo.Record{held, later}) {
		require.False(t, f.OneWhite)
	}
	later.Taken = "2024:05:01 18:00:00"
	for _, f := range Exposures([]photo.Record{held, later}) {
		require.True(t, f.OneWhite)
	}
	for _, f := range Exposures([]photo.Record{held, r}) {
		require.False(t, f.OneWhite)
	}
}
