package colorspace

import "math"

// The functions here are the fast path for the many pixels of a picture, in
// float32 and with a cube root of their own. They agree with the exact path,
// Lightness and Linear.Lab, to 0.001, outside 0..1 too.

// Lightness32 is Lightness for one float32.
func Lightness32(y float32) float32 {
	if !(y > 0) {
		return 0
	}
	return 116*labCurve(y) - 16
}

// LabRow sets dst to CIELAB, L, a, b a pixel, of rgb, linear light of the
// sRGB primaries, three numbers a pixel. L* goes on below 0 for light below
// 0, as Linear.Lab does. dst must be as long as rgb and may be rgb.
func LabRow(dst, rgb []float32) {
	var m [3][3]float32 // to X, Y and Z relative to white
	for i, w := range [3]float64{whiteD65.X, whiteD65.Y, whiteD65.Z} {
		for j := range 3 {
			m[i][j] = float32(linearToXYZ[i][j] / w)
		}
	}
	dst = dst[:len(rgb)]
	for i := 0; i+3 <= len(rgb); i += 3 {
		r, g, b := rgb[i], rgb[i+1], rgb[i+2]
		fx := labCurve(m[0][0]*r + m[0][1]*g + m[0][2]*b)
		fy := labCurve(m[1][0]*r + m[1][1]*g + m[1][2]*b)
		fz := labCurve(m[2][0]*r + m[2][1]*g + m[2][2]*b)
		dst[i], dst[i+1], dst[i+2] = 116*fy-16, 500*(fx-fy), 200*(fy-fz)
	}
}

// labCurve is f of CIELAB (ISO/CIE 11664-4): the cube root, below 216/24389
// the straight line that touches it.
func labCurve(t float32) float32 {
	if t <= 216./24389 {
		return (24389./27*t + 16) / 116
	}
	return cbrt32(t)
}

// cbrt32 is the cube root of a positive number. A float's bits read as an
// integer are about its logarithm, so a third of them, plus two thirds of the
// bits of 1 (less a little, which halves the worst error), are a root good to
// 4 in 100; each of two steps of Halley's method cubes that error.
func cbrt32(x float32) float32 {
	t := math.Float32frombits(math.Float32bits(x)/3 + 0x2a512ce3)
	c := t * t * t
	t *= (c + x + x) / (c + c + x)
	c = t * t * t
	return t * (c + x + x) / (c + c + x)
}
