package colorspace

import "math"

// XYZOf is the light of chromaticity x, y with Y = 1. y must not be 0.
func XYZOf(x, y float64) XYZ { return XYZ{x / y, 1, (1 - x - y) / y} }

// Chromaticity is the CIE x, y of tristimulus values, 0, 0 for black.
func (x XYZ) Chromaticity() (cx, cy float64) {
	sum := x.X + x.Y + x.Z
	if sum == 0 {
		return 0, 0
	}
	return x.X / sum, x.Y / sum
}

// CCT is the correlated colour temperature in kelvin of a light of CIE 1931
// chromaticity x, y: about 2856 for a bulb, 5000 to 6500 for daylight. It is
// within 10 K of the definition from 2850 to 6500 K on the Planckian locus,
// less good towards the blue of a northern sky (CCTHernandezAndres is better
// there), and means little for lights that are clearly green or pink.
//
// Source: McCamy 1992, Color Res. Appl. 17(2):142. The lines of equal CCT
// nearly meet in the point (.3320, .1858), so the slope n from there tells
// them apart and a cubic in it gives the temperature.
func CCT(x, y float64) float64 {
	n := (x - .3320) / (y - .1858)
	return ((-449*n+3525)*n-6823.3)*n + 5520.33
}

// CCTHernandezAndres is CCT by a formula fitted to daylight, 3000 to 50000 K.
// Source: Hernandez-Andres, Lee and Romero 1999, Applied Optics 38(27):5703,
// the coefficients for 3000 to 50000 K.
func CCTHernandezAndres(x, y float64) float64 {
	n := (x - .3366) / (y - .1735)
	return -949.86315 + 6253.80338*math.Exp(-n/.92159) + 28.70599*math.Exp(-n/.20039) + .00004*math.Exp(-n/.07125)
}

// DaylightChromaticity is CIE x, y of a phase of daylight with the given
// correlated colour temperature, which is clamped to 4000..25000 K.
// Source: CIE 15:2018 (Judd, MacAdam and Wyszecki 1964). D65 is at 6504 K here, since c2 of Planck's law was revised.
func DaylightChromaticity(kelvin float64) (x, y float64) {
	t := 1e3 / min(max(kelvin, 4000), 25000)
	if kelvin <= 7000 {
		x = .244063 + t*(.09911+t*(2.9678-4.6070*t))
	} else {
		x = .237040 + t*(.24748+t*(1.9018-2.0064*t))
	}
	return x, -3*x*x + 2.870*x - .275
}

// PlanckianChromaticity is CIE x, y of a glowing body of the given
// temperature, as an incandescent lamp nearly is, from 1000 K up to
// 25000 K (clamped). CIE illuminant A, usually called 2856 K, is 2855.5 K with
// the constants of today.
// Source: Planck's law with c2 = 1.438776877e-2 m K (CODATA 2018), summed with the CIE 1931 observer in steps of 5 nm.
func PlanckianChromaticity(kelvin float64) (x, y float64) {
	const c2 = 1.438776877e7 // nm K
	kelvin = min(max(kelvin, 1000), 25000)
	var sum [3]float64
	for i, weights := range observer {
		nm := observerFrom + observerStep*float64(i)
		power := math.Pow(nm/560, -5) / math.Expm1(c2/(nm*kelvin))
		for k, w := range weights {
			sum[k] += w * power
		}
	}
	return XYZ{sum[0], sum[1], sum[2]}.Chromaticity()
}
