package colorspace

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestSpatialKernels(t *testing.T) {
	rows := table(t, published(t, "09_scielab.csv"))
	require.Len(t, rows, 7)
	i := 0
	for c, channel := range SpatialKernels() {
		var sum float64
		for _, k := range channel {
			require.Equal(t, rows[i].num(t, "spread_deg_1996"), k.SpreadDegrees)
			w := rows[i].num(t, "weight_1996") / []float64{.918, .861, .859}[c] // their sums
			require.InDelta(t, w, k.Weight, 1e-15)
			// The authors' later code has weights of its own last digits.
			require.InDelta(t, rows[i].num(t, "weight_code_normalised"), k.Weight, 3e-4)
			sum += k.Weight
			i++
		}
		require.InDelta(t, 1, sum, 1e-15)
	}
	require.Equal(t, 7, i)
	kernels := SpatialKernels()
	kernels[0][0].Weight = 9 // a copy of the caller's own
	require.NotEqual(t, 9., SpatialKernels()[0][0].Weight)
}

// Of the opponent channels the first is light and dark: a grey shows in it,
// and hardly in the others.
func TestOpponentChannels(t *testing.T) {
	w := WhiteD65()
	grey := XYZToOpponent().Apply([3]float64{w.X, w.Y, w.Z})
	require.Greater(t, grey[0], .8)
	require.Less(t, math.Abs(grey[1]), .1)
	require.Less(t, math.Abs(grey[2]), .1)
	require.Equal(t, Matrix{{.2787336, .7218031, -.106552}, {-.4487736, .2898056, .0771569}, {.0859513, -.5899859, .5011089}}, XYZToOpponent())
}

func TestSimulateIsMachadosMatrices(t *testing.T) {
	rows := table(t, published(t, "08_machado.csv"))
	require.Len(t, rows, 9)
	for i, d := range []Deficiency{Protan, Deutan, Tritan} {
		for k := range 3 { // each primary shows one column
			var c Linear
			c[k] = 1
			have := Simulate(c, d)
			for j, out := range []string{"R", "G", "B"} {
				r := rows[3*i+j]
				require.Equal(t, []string{"protan", "deutan", "tritan"}[i], r["type"])
				require.Equal(t, out, r["row"])
				require.Equal(t, r.num(t, []string{"R", "G", "B"}[k]), have[j])
			}
		}
		// Greys stay, to the sixth digit that the matrices have.
		grey := Simulate(Linear{.4, .4, .4}, d)
		require.InDeltaSlice(t, []float64{.4, .4, .4}, grey[:], 1e-6)
	}
	require.Equal(t, Linear{.1, .2, .3}, Simulate(Linear{.1, .2, .3}, Deficiency(9)))
}

// A red and a green of one lightness, which a deutan viewer confuses, come
// nearer to each other than they were by far.
func TestSimulateBringsRedAndGreenTogether(t *testing.T) {
	red, green := Lab{50, 40, 20}.Linear(), Lab{50, -30, 20}.Linear()
	before := CIEDE2000(red.Lab(), green.Lab())
	require.Less(t, CIEDE2000(Simulate(red, Deutan).Lab(), Simulate(green, Deutan).Lab()), before/2)
	require.Less(t, CIEDE2000(Simulate(red, Protan).Lab(), Simulate(green, Protan).Lab()), before/2)
}

func TestPerceivedLightness(t *testing.T) {
	rows := table(t, published(t, "07_hk_check_values.csv"))
	require.Len(t, rows, 13)
	for _, r := range rows {
		c, h := r.num(t, "C"), r.num(t, "h_deg")*math.Pi/180
		lab := Lab{r.num(t, "L"), c * math.Cos(h), c * math.Sin(h)}
		require.InDelta(t, r.num(t, "L_FairchildPirrotta1991"), PerceivedLightness(lab), 1e-4) // L and C of two rows are rounded in the table
	}
	require.Equal(t, 37., PerceivedLightness(Lab{L: 37}))
}
