package colorspace

import "math"

// CIEDE2000 is the colour difference between a and b, 0 and up, with the
// parametric factors kL = kC = kH = 1; about 1 is just seen side by side. It
// is the same in both orders and allocates nothing.
//
// Source: CIE 142-2001 and ISO/CIE 11664-6, as spelled out with test data in
// Sharma, Wu and Dalal 2005, Color Res. Appl. 30(1):21-30, whose equation
// numbers stand below. Where the paper works with hue angles, this works with
// the hues' vectors as long as they are not opposite, which gives the same
// numbers for a third of the trigonometry.
func CIEDE2000(a, b Lab) float64 {
	// Stretch a* for colours near grey, where CIELAB makes blue-yellow
	// differences too large beside red-green ones (eqs. 2 to 5).
	g := .5 * (1 - chromaGate((math.Sqrt(a.A*a.A+a.B*a.B)+math.Sqrt(b.A*b.A+b.B*b.B))/2))
	a1, b1 := (1+g)*a.A, a.B
	a2, b2 := (1+g)*b.A, b.B
	c1, c2 := math.Sqrt(a1*a1+b1*b1), math.Sqrt(a2*a2+b2*b2)

	l, c := (a.L+b.L)/2-50, (c1+c2)/2
	// Lightness differences count less away from the middle grey on which
	// the test data lay, chroma differences less the stronger the colours
	// (eqs. 18 and 19).
	dl := (b.L - a.L) / (1 + .015*l*l/math.Sqrt(20+l*l))
	dc := (c2 - c1) / (1 + .045*c)
	if c1 == 0 || c2 == 0 { // no hue, so no difference of hue (eq. 10)
		return math.Sqrt(dl*dl + dc*dc)
	}

	dh, cos, sin := hueDifference(a1, b1, c1, a2, b2, c2)
	// T and eqs. 15 and 20: equal differences of hue do not look equal all round the
	// circle. The cosines of multiples of the mean hue h come from those of
	// h itself.
	cos2, sin2 := cos*cos-sin*sin, 2*sin*cos
	cos3, sin3 := cos2*cos-sin2*sin, sin2*cos+cos2*sin
	cos4, sin4 := cos2*cos2-sin2*sin2, 2*sin2*cos2
	t := 1 - .17*(cos*cos30+sin*sin30) + .24*cos2 + .32*(cos3*cos6-sin3*sin6) - .20*(cos4*cos63+sin4*sin63)
	dh /= 1 + .015*c*t

	// In blue the ellipses of equal difference are tilted: there a change of
	// chroma and one of hue are partly the same (eqs. 16, 17 and 21). The tilt
	// is a bell of 25 degrees round 275. As in the paper, which does not wrap
	// it round 0, it ends at 360; down to 120 (cosine -0.5) it has fallen
	// to 1e-16, and below that it need not be computed.
	var rotation float64
	if sin < 0 || cos < -.5 {
		away := math.Atan2(sin*cos275-cos*sin275, cos*cos275+sin*sin275) * (180 / math.Pi) / 25
		rotation = -math.Sin(math.Pi/3*math.Exp(-away*away)) * 2 * chromaGate(c)
	}
	// Rounding can leave a negative of the size 1e-17 for equal colours.
	return math.Sqrt(max(dl*dl+dc*dc+dh*dh+rotation*dc*dh, 0))
}

// Cosines and sines of the fixed angles of CIEDE2000, in degrees.
const (
	cos6, sin6     = .994521895368273336922691944980570, .104528463267653471399834154802498
	cos30, sin30   = .866025403784438646763723170752936, .5
	cos63, sin63   = .453990499739546791560408366357871, .891006524188367862359709571413626
	cos275, sin275 = .087155742747658173558064270837473, -.996194698091745532295010402473888
)

// chromaGate is sqrt(C^7 / (C^7 + 25^7)) of eqs. 4 and 17: 0 at grey, 1 for
// strong colours, with its middle near C = 25.
func chromaGate(c float64) float64 {
	const pow25to7 = 6103515625
	c7 := c * c * c
	c7 *= c7 * c
	return math.Sqrt(c7 / (c7 + pow25to7))
}

// hueDifference is the difference of hue dH' of eq. 11 between two colours
// (a1, b1) of chroma c1 and (a2, b2) of c2, neither 0, and the cosine and
// sine of their mean hue h of eq. 14.
func hueDifference(a1, b1, c1, a2, b2, c2 float64) (dh, cos, sin float64) {
	// The vectors' dot and cross products are c1 c2 times the cosine and the
	// sine of the angle between them, from which follows 2 sin of half of it.
	// The mean hue is the direction of the sum of the two unit vectors, and
	// square to their difference. Of each pair of forms the one is taken in
	// which nothing cancels.
	n := c1 * c2
	dot, cross := a1*a2+b1*b2, a1*b2-b1*a2
	if dot >= 0 {
		m := 1 / math.Sqrt(2*n*(n+dot))
		return cross * math.Sqrt(2/(n+dot)), (a1*c2 + a2*c1) * m, (b1*c2 + b2*c1) * m
	}
	if math.Abs(cross) > 1e-6*n {
		dh = math.Copysign(math.Sqrt(2*(n-dot)), cross)
		m := 1 / (dh * math.Sqrt(n)) // of dh's sign
		return dh, (b2*c1 - b1*c2) * m, (a1*c2 - a2*c1) * m
	}
	// Opposite hues have two half ways, and the last digits decide between
	// them. So that rounding does not, differences that are 180 degrees to
	// within 1e-9 are taken as 180 (eqs. 7, 10 and 14).
	const half = 180
	h1, h2 := hueDegrees(a1, b1), hueDegrees(a2, b2)
	d, h := h2-h1, (h1+h2)/2
	if math.Abs(d) > half+1e-9 {
		h += half
		d -= math.Copysign(2*half, d)
	}
	sin, cos = math.Sincos(h * math.Pi / 180)
	return 2 * math.Sqrt(n) * math.Sin(d/2*math.Pi/180), cos, sin
}

// hueDegrees is the hue angle, 0 to under 360 degrees, of (a, b).
func hueDegrees(a, b float64) float64 {
	if a == 0 && b == 0 { // whatever the signs of the zeros
		return 0
	}
	h := math.Atan2(b, a) * (180 / math.Pi)
	if h < 0 {
		h += 360
	}
	if h >= 360 { // a rounding of -1e-15 + 360
		return 0
	}
	return h
}

// largestSL is the most by which CIEDE2000 divides a difference of L*: its S_L at a
// mean L* of 0 or 100, 1 + .015*50^2/sqrt(20+50^2), is 1.747.
const largestSL = 1.748

// Beyond tells from their L* alone, both within 0..100, that the CIEDE2000 of two
// colours is larger than d: the terms of chroma and hue together only add to it. Where
// it is false, it may be so all the same.
func Beyond(a, b Lab, d float64) bool { return math.Abs(a.L-b.L) > largestSL*d }
