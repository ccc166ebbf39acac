package colorspace

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestDaylightChromaticity(t *testing.T) {
	rows := table(t, past(t, published(t, "13_cct.csv"), "\n\n"))
	require.Len(t, rows, 11)
	for _, r := range rows {
		x, y := DaylightChromaticity(r.num(t, "T"))
		require.InDelta(t, r.num(t, "x_D"), x, 5.1e-9)
		require.InDelta(t, r.num(t, "y_D (CIE daylight locus)"), y, 5.1e-9)
	}
	x, _ := DaylightChromaticity(1000)
	require.InDelta(t, .38234362, x, 5.1e-9) // clamped to 4000 K
	x, _ = DaylightChromaticity(1e6)
	require.InDelta(t, .24985367, x, 5.1e-9) // clamped to 25000 K
}

func TestALampOf2856KelvinIsIlluminantA(t *testing.T) {
	// The standard's spectrum is that of 2848 K with the c2 of 1931, .01435.
	x, y := PlanckianChromaticity(2848 * 1.438776877 / 1.435)
	require.InDelta(t, .44758, x, 1e-5) // five digits
	require.InDelta(t, .40745, y, 1e-5)
}

// Kim and others 2002 fitted cubics to the locus (US patent 7024034; the
// coefficients are from memory).
func TestPlanckianChromaticityAgainstKimsCubics(t *testing.T) {
	for k := 1667.; k <= 25000; k += 100 {
		t1, t2, t3 := 1e3/k, 1e6/k/k, 1e9/k/k/k
		x := -3.0258469*t3 + 2.1070379*t2 + .2226347*t1 + .240390
		if k <= 4000 {
			x = -.2661239*t3 - .2343589*t2 + .8776956*t1 + .179910
		}
		y := 3.0817580*x*x*x - 5.87338670*x*x + 3.75112997*x - .37001483
		if k <= 2222 {
			y = -1.1063814*x*x*x - 1.34811020*x*x + 2.18555832*x - .20219683
		} else if k <= 4000 {
			y = -.9549476*x*x*x - 1.37418593*x*x + 2.09137015*x - .16748867
		}
		hx, hy := PlanckianChromaticity(k)
		require.InDelta(t, x, hx, 1e-3, "%v K", k) // what the cubics are good for
		require.InDelta(t, y, hy, 1e-3, "%v K", k)
	}
}
