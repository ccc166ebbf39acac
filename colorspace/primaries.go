package colorspace

// White points as CIE 1931 (2 degree) chromaticities x, y.
// Source: IEC 61966-2-1:1999 for D65, ICC.1:2022 for the D50 of the profile
// connection space (its XYZ 0.9642 1 0.8249).
var (
	whiteD65 = XYZ{X: 0.3127 / 0.3290, Y: 1, Z: (1 - 0.3127 - 0.3290) / 0.3290}
	whiteD50 = XYZ{X: 0.9642, Y: 1, Z: 0.8249}
)

// WhiteD65 is the white that L* 100 stands for everywhere in this program:
// the D65 of the sRGB primaries, so that r = g = b gives a* = b* = 0 exactly.
// XYZ with Y = 1.
func WhiteD65() XYZ { return whiteD65 }

// WhiteD50 is the white of the ICC profile connection space, XYZ with Y = 1.
func WhiteD50() XYZ { return whiteD50 }

// Primaries are the chromaticities of an RGB space's three lights and white.
type Primaries struct {
	Red, Green, Blue, White [2]float64 // CIE x, y
}

// Space is an RGB space that a photo is met in. Its numbers are constants, so
// no caller can change them.
type Space uint8

// The RGB spaces, all with the white D65.
const (
	SRGB      Space = iota // IEC 61966-2-1:1999, table 1
	DisplayP3              // the lights of SMPTE RP 431-2 with the white D65
	AdobeRGB               // Adobe RGB (1998) Color Image Encoding, 4.3.1
)

// Primaries gives the space's chromaticities. Anything but the constants
// above is taken as sRGB.
func (s Space) Primaries() Primaries {
	p := Primaries{Red: [2]float64{.64, .33}, Green: [2]float64{.30, .60}, Blue: [2]float64{.15, .06}, White: [2]float64{.3127, .3290}}
	switch s {
	case DisplayP3:
		p.Red, p.Green = [2]float64{.68, .32}, [2]float64{.265, .69}
	case AdobeRGB:
		p.Green = [2]float64{.21, .71}
	}
	return p
}

// ToXYZ derives the matrix from the space's linear RGB (1 = full) to XYZ.
func (s Space) ToXYZ() Matrix { return s.Primaries().ToXYZ() }

// ToLinearSRGB derives the matrix from the space's linear RGB to linear RGB
// of the sRGB primaries, unclipped.
func (s Space) ToLinearSRGB() Matrix { return s.Primaries().ToLinearSRGB() }

// Matrix is a 3x3 matrix that acts on column vectors.
type Matrix [3][3]float64

// Apply returns m v.
func (m Matrix) Apply(v [3]float64) [3]float64 {
	return [3]float64{
		m[0][0]*v[0] + m[0][1]*v[1] + m[0][2]*v[2],
		m[1][0]*v[0] + m[1][1]*v[1] + m[1][2]*v[2],
		m[2][0]*v[0] + m[2][1]*v[1] + m[2][2]*v[2],
	}
}

// Mul returns the matrix that applies n first and m after it.
func (m Matrix) Mul(n Matrix) Matrix {
	var p Matrix
	for i := range 3 {
		for j := range 3 {
			for k := range 3 {
				p[i][j] += m[i][k] * n[k][j]
			}
		}
	}
	return p
}

// Inverse returns the inverse of m by the adjugate. m must not be singular.
func (m Matrix) Inverse() Matrix {
	c := func(r0, c0, r1, c1 int) float64 { return m[r0][c0]*m[r1][c1] - m[r0][c1]*m[r1][c0] }
	adj := Matrix{
		{c(1, 1, 2, 2), -c(0, 1, 2, 2), c(0, 1, 1, 2)},
		{-c(1, 0, 2, 2), c(0, 0, 2, 2), -c(0, 0, 1, 2)},
		{c(1, 0, 2, 1), -c(0, 0, 2, 1), c(0, 0, 1, 1)},
	}
	det := m[0][0]*adj[0][0] + m[0][1]*adj[1][0] + m[0][2]*adj[2][0]
	for i := range 3 {
		for j := range 3 {
			adj[i][j] /= det
		}
	}
	return adj
}

// ToXYZ derives the matrix from linear RGB (1 = full) to XYZ (white Y = 1).
// Source: SMPTE RP 177-1993, derivation from chromaticities.
func (p Primaries) ToXYZ() Matrix {
	col := func(c [2]float64) [3]float64 { return [3]float64{c[0] / c[1], 1, (1 - c[0] - c[1]) / c[1]} }
	r, g, b, w := col(p.Red), col(p.Green), col(p.Blue), col(p.White)
	m := Matrix{{r[0], g[0], b[0]}, {r[1], g[1], b[1]}, {r[2], g[2], b[2]}}
	s := m.Inverse().Apply(w)
	for i := range 3 {
		for j := range 3 {
			m[i][j] *= s[j]
		}
	}
	return m
}

var (
	linearToXYZ = SRGB.ToXYZ()
	xyzToLinear = linearToXYZ.Inverse()
)

// LinearToXYZ is the matrix from linear light of the sRGB primaries to XYZ.
func LinearToXYZ() Matrix { return linearToXYZ }

// ToLinearSRGB derives the matrix from this space's linear RGB to linear RGB
// of the sRGB primaries. Both whites must be D65; the result may lie outside
// 0..1 for colours that sRGB cannot hold, and is not clipped.
func (p Primaries) ToLinearSRGB() Matrix { return xyzToLinear.Mul(p.ToXYZ()) }
