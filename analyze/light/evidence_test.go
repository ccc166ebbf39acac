package light

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"greige/colorspace"
)

// lying are things of these L* on a ground of lightness l.
func lying(l float64, lightness ...float64) []thing {
	var out []thing
	for _, x := range lightness {
		y := math.Log(colorspace.LuminanceOf(x) / colorspace.LuminanceOf(l))
		out = append(out, thing{y: y, top: y, cells: 100})
	}
	return out
}

// A ground that is lighter than everything on it is more likely to be without
// colour, because dyed and painted ones seldom are that light; one that half
// the cloths outshine is not a white sheet.
func TestPaleness(t *testing.T) {
	basket := []float64{22, 31, 40, 48, 57, 66, 74, 85}
	require.Greater(t, paleness(lying(95, basket...), false), .7)
	require.Less(t, paleness(lying(50, basket...), false), -.7)
	require.Less(t, paleness(lying(95, basket...), true), paleness(lying(95, basket...), false), "the lines of a mat")
	require.Greater(t, groundsWith(lying(95, basket...), false, -1).from(whiteFrom), .8)
	require.Less(t, groundsWith(lying(50, basket...), false, -1).from(whiteFrom), .01)
}

// Where the level is not known, only how the cloths stand to each other can be
// wrong: an orange among oranges is in no doubt for the light's colour, and
// among greys in as much as the two are shifted apart.
func TestDoubtOfTheLightIsAgainstTheOtherCloths(t *testing.T) {
	d := castDoubt{{colorspace.Linear{1, 1, 1}, .5}, {colorspace.XYZOf(colorspace.PlanckianChromaticity(3400)).Linear(), .5}}
	orange, grey := greyWorld{.4, -.9, 4}.light(), colorspace.Linear{1, 1, 1}
	require.InDelta(t, 1, orange.Y(), 1e-9)
	require.InDelta(t, 0, d.effectBeside(orange, orange), 1e-12)
	apart := math.Abs(d[1].off(orange) - d[1].off(grey))
	require.Greater(t, apart, .03)
	require.InDelta(t, apart/1.96, d.effectBeside(orange, grey), .3*apart)
	require.Equal(t, d.effectBeside(orange, grey), d.effectBeside(grey, orange))
}
