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
	for i, weights := range observer() {
		nm := observerFrom + observerStep*float64(i)
		power := math.Pow(nm/560, -5) / math.Expm1(c2/(nm*kelvin))
		for k, w := range weights {
			sum[k] += w * power
		}
	}
	return XYZ{sum[0], sum[1], sum[2]}.Chromaticity()
}
