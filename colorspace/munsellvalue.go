package colorspace

// MunsellLuminance is the luminance Y, 0..1, of a Munsell value, 0..10, on
// the scale on which a perfect white has 1. Values outside are clamped.
// Source: ASTM D1535-08 eq. 2. The older scale of 1943, on which magnesium
// oxide has 1, is lighter by 1/0.975.
func MunsellLuminance(value float64) float64 {
	y, _ := munsellQuintic(min(max(value, 0), 10))
	return y
}

// munsellQuintic is ASTM D1535-08 eq. 2 for Y 0..1, and its slope.
func munsellQuintic(v float64) (y, slope float64) {
	y = v * (1.1914 + v*(-.22533+v*(.23352+v*(-.020484+v*.00081939))))
	slope = 1.1914 + v*(-2*.22533+v*(3*.23352+v*(-4*.020484+v*5*.00081939)))
	return y / 100, slope / 100
}

// MunsellValue is the Munsell value, 0..10, of a luminance Y, 0..1, to better
// than 1e-6: the inverse of MunsellLuminance by Newton's method. Luminance
// outside 0..1 is clamped.
func MunsellValue(y float64) float64 {
	if !(y > 0) { // also NaN
		return 0
	}
	if y >= 1 {
		return 10
	}
	// L*/10 is within .2 of the answer, and the curve rises and bends
	// gently, so four steps reach the last digits.
	v := Lightness(y) / 10
	for range 4 {
		f, slope := munsellQuintic(v)
		v -= (f - y) / slope
	}
	return v
}
