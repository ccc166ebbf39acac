package colorspace

import (
	"encoding/json"
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestSRGBToXYZAndLabOfPublishedTriples(t *testing.T) {
	for _, r := range table(t, published(t, "01_srgb_xyz_lab.csv")) {
		c := Linear{DecodeSRGB(r.num(t, "R8") / 255), DecodeSRGB(r.num(t, "G8") / 255), DecodeSRGB(r.num(t, "B8") / 255)}
		x := c.XYZ()
		for _, lib := range []string{"colorjs", "culori"} {
			want := []float64{r.num(t, "X_"+lib), r.num(t, "Y_"+lib), r.num(t, "Z_"+lib)} // white Y = 100
			require.InDeltaSlice(t, want, []float64{100 * x.X, 100 * x.Y, 100 * x.Z}, 5.1e-5)
			requireLab(t, r.lab(t, "L_"+lib, "a_"+lib, "b_"+lib), c.Lab(), 5.1e-5)
		}
	}
}

// 200 colours by culori and colorjs.io, to the tenth digit.
func TestAgainstTwoLibraries(t *testing.T) {
	const lastDigit = 6e-11
	rows := table(t, published(t, "library_colours.csv"))
	require.Len(t, rows, 200)
	code := func(r row) [3]float64 {
		return [3]float64{r.num(t, "R8") / 255, r.num(t, "G8") / 255, r.num(t, "B8") / 255}
	}
	labOf := func(r row) Lab { return Linear(decodeAs(SRGB, code(r))).Lab() }
	toD50 := AdaptationBradford(WhiteD65(), XYZOf(.3457, .3585))
	for i, r := range rows {
		c := Linear(decodeAs(SRGB, code(r)))
		require.InDelta(t, r.num(t, "Y"), c.Y(), lastDigit)
		x, l := c.XYZ(), c.Lab()
		require.InDeltaSlice(t, []float64{r.num(t, "X"), r.num(t, "Y"), r.num(t, "Z")}, []float64{x.X, x.Y, x.Z}, lastDigit)
		requireLab(t, r.lab(t, "L", "a", "b"), l, 1e-10) // a* and b* pile up some rounding
		require.InDelta(t, r.num(t, "C"), l.Chroma(), 1e-10)
		if l.Chroma() > 1e-6 { // a grey has no hue
			require.InDelta(t, r.num(t, "h"), l.Hue(), 1e-10)
		}
		for _, s := range []struct {
			space Space
			name  string
		}{{DisplayP3, "p3_"}, {AdobeRGB, "a98_"}} {
			have := s.space.ToLinearSRGB().Apply(decodeAs(s.space, code(r)))
			require.InDeltaSlice(t, []float64{r.num(t, s.name+"r"), r.num(t, s.name+"g"), r.num(t, s.name+"b")}, have[:], lastDigit)
		}
		d := x.Adapt(toD50)
		require.InDeltaSlice(t, []float64{r.num(t, "X_D50"), r.num(t, "Y_D50"), r.num(t, "Z_D50")}, []float64{d.X, d.Y, d.Z}, lastDigit)
		require.InDelta(t, r.num(t, "dE00"), CIEDE2000(l, labOf(rows[(i+1)%len(rows)])), 1e-10)
	}
}

func TestGreyHasNoColour(t *testing.T) {
	for i := range 1001 {
		g := DecodeSRGB(float64(i) / 1000)
		l := Linear{g, g, g}.Lab()
		require.InDelta(t, 0, l.A, 1e-12)
		require.InDelta(t, 0, l.B, 1e-12)
		require.InDelta(t, Lightness(g), l.L, 1e-12)
	}
}

func TestLabThereAndBack(t *testing.T) {
	cube(9, func(c Linear) {
		for i := range c {
			c[i] = 1.4*c[i] - .2 // outside the gamut too
		}
		back := c.Lab().Linear()
		require.InDeltaSlice(t, c[:], back[:], 1e-12)
	})
}

func TestLightnessAndItsInverse(t *testing.T) {
	require.Equal(t, 0., Lightness(-.1))
	require.Equal(t, 0., LuminanceOf(-3))
	require.InDelta(t, 100, Lightness(1), 1e-12)
	require.InDelta(t, 49.5, Lightness(.18), .05) // an 18 % grey card
	for i := range 1051 {
		l := float64(i) / 10
		require.InDelta(t, l, Lightness(LuminanceOf(l)), 1e-12)
	}
}

// The L* of the 24-patch chart's published luminances.
func TestLightnessOfTheColourRenditionChart(t *testing.T) {
	rows := table(t, published(t, "04_colour_rendition_chart.csv"))
	require.Len(t, rows, 24)
	for _, r := range rows {
		require.InDelta(t, r.num(t, "L_of_Y_1976"), Lightness(r.num(t, "Y_C_1976")), 5.1e-4)
		// Y has four decimals here; .00005 is .02 L* at the darkest patch.
		require.InDelta(t, r.num(t, "L_D50_2005"), Lightness(r.num(t, "Y_D50_2005")), .02)
		require.InDelta(t, r.num(t, "L_D50_avg30_derived"), Lightness(r.num(t, "Y_D50_avg30")), 5.1e-3)
	}
}

// Value is light: the mean of a print is the mean of its light (Murray 1936).
func TestMeanOfATwoInkPrint(t *testing.T) {
	for _, r := range table(t, published(t, "06_murray_davies.csv")) {
		a, paper, ink := r.num(t, "ink_area_a"), r.num(t, "R_paper"), r.num(t, "R_ink")
		mean := a*ink + (1-a)*paper
		require.InDelta(t, r.num(t, "R_mean"), mean, 5.1e-7)
		require.InDelta(t, r.num(t, "L_mean"), Lightness(mean), 5.1e-5)
		require.InDelta(t, r.num(t, "L_paper"), Lightness(paper), 5.1e-5)
		require.InDelta(t, r.num(t, "L_ink"), Lightness(ink), 5.1e-5)
	}
}

// The light reflectance value is CIE Y in points of 0..100.
func TestLuminanceOfALightReflectanceValue(t *testing.T) {
	for _, r := range table(t, published(t, "10_lrv.csv")) {
		l := r.num(t, "L_star")
		require.InDelta(t, r.num(t, "LRV=100*((L+16)/116)^3"), 100*LuminanceOf(l), 5.1e-5)
		if r["published_LRV"] != "" {
			require.InDelta(t, r.num(t, "published_LRV"), 100*LuminanceOf(l), 5.1e-3)
		}
	}
}

func TestHueIsNeverNegativeNorFullCircle(t *testing.T) {
	minus := math.Copysign(0, -1)
	require.Equal(t, 0., Lab{50, 0, 0}.Hue())
	require.Equal(t, 0., Lab{50, minus, minus}.Hue())
	require.Equal(t, 0., Lab{50, 1, -1e-300}.Hue())
	require.InDelta(t, 270, Lab{50, 0, -1}.Hue(), 1e-12)
}

func TestLabAsJSON(t *testing.T) {
	text, err := json.Marshal(Lab{50.12345678, -1e-9, 3})
	require.NoError(t, err)
	require.Equal(t, "[50.1235,0,3]", string(text))
	var l Lab
	require.NoError(t, json.Unmarshal([]byte("[1, -2.5, 3]"), &l))
	require.Equal(t, Lab{1, -2.5, 3}, l)
	for _, bad := range []string{"null", "[]", "[1,2]", "[1,2,3,4]", `"x"`, "{}", "[1,2,null,4]", "[1e999,2,3]"} {
		require.Error(t, json.Unmarshal([]byte(bad), &l), bad)
	}
}

func TestXYZOfAndChromaticity(t *testing.T) {
	x, y := XYZOf(.3127, .3290).Chromaticity()
	require.InDelta(t, .3127, x, 1e-15)
	require.InDelta(t, .3290, y, 1e-15)
	x, y = XYZ{}.Chromaticity()
	require.Equal(t, 0., x)
	require.Equal(t, 0., y)
}
