package grid

import "math"

// homography maps one plane to another as a camera does: (x, y) goes to
// (m0 x + m1 y + m2, m3 x + m4 y + m5) / (m6 x + m7 y + m8).
type homography [9]float64

// identity maps every point to itself.
var identity = homography{1, 0, 0, 0, 1, 0, 0, 0, 1}

// quadFromSquare takes the corners of the unit square, clockwise from 0,0, to
// those of q (Heckbert 1989, Fundamentals of Texture Mapping and Image Warping, section
// 2.2.3). For a degenerate q it has no inverse.
func quadFromSquare(q [4]Point) homography {
	sx := q[0][0] - q[1][0] + q[2][0] - q[3][0]
	sy := q[0][1] - q[1][1] + q[2][1] - q[3][1]
	dx1, dy1 := q[1][0]-q[2][0], q[1][1]-q[2][1]
	dx2, dy2 := q[3][0]-q[2][0], q[3][1]-q[2][1]
	det := dx1*dy2 - dx2*dy1
	if det == 0 {
		return homography{}
	}
	g := (sx*dy2 - dx2*sy) / det
	h := (dx1*sy - sx*dy1) / det
	return homography{
		q[1][0] - q[0][0] + g*q[1][0], q[3][0] - q[0][0] + h*q[3][0], q[0][0],
		q[1][1] - q[0][1] + g*q[1][1], q[3][1] - q[0][1] + h*q[3][1], q[0][1],
		g, h, 1,
	}
}

// Map is where p goes. A point on the horizon goes to infinity.
func (h homography) Map(p Point) Point {
	w := h[6]*p[0] + h[7]*p[1] + h[8]
	return Point{(h[0]*p[0] + h[1]*p[1] + h[2]) / w, (h[3]*p[0] + h[4]*p[1] + h[5]) / w}
}

// Inverse undoes h. It is false where h is singular.
func (h homography) Inverse() (homography, bool) {
	inv := homography{
		h[4]*h[8] - h[5]*h[7], h[2]*h[7] - h[1]*h[8], h[1]*h[5] - h[2]*h[4],
		h[5]*h[6] - h[3]*h[8], h[0]*h[8] - h[2]*h[6], h[2]*h[3] - h[0]*h[5],
		h[3]*h[7] - h[4]*h[6], h[1]*h[6] - h[0]*h[7], h[0]*h[4] - h[1]*h[3],
	}
	det := h[0]*inv[0] + h[1]*inv[3] + h[2]*inv[6]
	size := 0.0
	for _, v := range h {
		size = max(size, math.Abs(v))
	}
	if math.IsNaN(det) || math.Abs(det) <= 1e-14*size*size*size {
		return identity, false
	}
	for i := range inv {
		inv[i] /= det
	}
	return inv, true
}

// After is the homography that applies g first and h after it.
func (h homography) After(g homography) homography {
	var p homography
	for r := range 3 {
		for c := range 3 {
			for k := range 3 {
				p[3*r+c] += h[3*r+k] * g[3*k+c]
			}
		}
	}
	return p
}

// aspectOf is width divided by height of the flat rectangle whose corners are
// seen at q in a picture of w x h pixels. The two edge directions of the
// homography, seen through the camera, have lengths in that proportion (Zhang
// 2000, section 2.3). The camera's focal length cannot be told from a nearly
// level view, so it is taken to be that of a phone's main camera, 24 to 28 mm
// for a 43.3 mm diagonal; within 20 degrees of tilt being wrong by a quarter
// moves the result by some 2 per cent.
func aspectOf(w, h int, q [4]Point) float64 { return aspectBy(w, h, q, 26/43.27) }

// aspectBy is aspectOf by a focal length in diagonals of the picture.
func aspectBy(w, h int, q [4]Point, focal float64) float64 {
	f := focal * math.Hypot(float64(w), float64(h))
	m := quadFromSquare(q)
	length := func(c int) float64 {
		z := m[6+c]
		x := (m[c] - float64(w)/2*z) / f
		y := (m[3+c] - float64(h)/2*z) / f
		return math.Sqrt(x*x + y*y + z*z)
	}
	return length(0) / length(1)
}
