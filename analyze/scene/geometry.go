package scene

import "math"

// point is a place: centimetres in the plane of the cloth, or pixels.
type point struct{ x, y float64 }

// homography maps a plane to a plane (perspective); it acts on x, y, 1.
type homography [3][3]float64

func (h *homography) apply(p point) point {
	w := h[2][0]*p.x + h[2][1]*p.y + h[2][2]
	return point{(h[0][0]*p.x + h[0][1]*p.y + h[0][2]) / w, (h[1][0]*p.x + h[1][1]*p.y + h[1][2]) / w}
}

// inverse is the homography the other way, up to scale.
func (h *homography) inverse() homography {
	c := func(r0, c0, r1, c1 int) float64 { return h[r0][c0]*h[r1][c1] - h[r0][c1]*h[r1][c0] }
	return homography{
		{c(1, 1, 2, 2), -c(0, 1, 2, 2), c(0, 1, 1, 2)},
		{-c(1, 0, 2, 2), c(0, 0, 2, 2), -c(0, 0, 1, 2)},
		{c(1, 0, 2, 1), -c(0, 0, 2, 1), c(0, 0, 1, 1)},
	}
}

// scaled appends a scaling by s and a shift after the homography.
func (h *homography) scaled(s, dx, dy float64) homography {
	g := *h
	for k := range 3 {
		g[0][k] = s*h[0][k] + dx*h[2][k]
		g[1][k] = s*h[1][k] + dy*h[2][k]
	}
	return g
}

// View is how the camera stands to the plane of the cloth, in degrees.
type View struct {
	Tilt float64 // held from below (+) or above (-): the top looks narrower or wider
	Side float64 // held from the right (+) or the left (-)
	Roll float64 // the camera itself turned
}

// pinhole is the perspective of a camera that looks at the origin of a plane
// whose size is about reach cm: plane cm to picture units. A phone's main
// lens covers as much as about 1.2 times its distance.
func (v View) pinhole(reach float64) homography {
	rad := math.Pi / 180
	st, ct := math.Sincos(v.Tilt * rad)
	ss, cs := math.Sincos(v.Side * rad)
	sr, cr := math.Sincos(v.Roll * rad)
	// First two columns of Roll * Side * Tilt: the plane has no third axis.
	col := func(x, y, z float64) (float64, float64, float64) {
		y, z = ct*y-st*z, st*y+ct*z
		x, z = cs*x+ss*z, -ss*x+cs*z
		return cr*x - sr*y, sr*x + cr*y, z
	}
	ax, ay, az := col(1, 0, 0)
	bx, by, bz := col(0, 1, 0)
	d := reach / 1.2
	return homography{{ax, bx, 0}, {ay, by, 0}, {az / d, bz / d, 1}}
}

// bounds of some points.
func bounds(ps []point) (lo, hi point) {
	lo, hi = point{math.Inf(1), math.Inf(1)}, point{math.Inf(-1), math.Inf(-1)}
	for _, p := range ps {
		lo = point{min(lo.x, p.x), min(lo.y, p.y)}
		hi = point{max(hi.x, p.x), max(hi.y, p.y)}
	}
	return lo, hi
}

// rectangle is the outline, clockwise from the top left, of a rectangle
// about c, turned by angle (radians).
func rectangle(c point, w, h, angle float64) []point {
	return turned([]point{{-w / 2, -h / 2}, {w / 2, -h / 2}, {w / 2, h / 2}, {-w / 2, h / 2}}, c, angle)
}

// turned is a copy of ps, turned about the origin and moved to c.
func turned(ps []point, c point, angle float64) []point {
	s, k := math.Sincos(angle)
	out := make([]point, len(ps))
	for i, p := range ps {
		out[i] = point{c.x + k*p.x - s*p.y, c.y + s*p.x + k*p.y}
	}
	return out
}

// mapped is a copy of ps after f.
func mapped(ps []point, f func(point) point) []point {
	out := make([]point, len(ps))
	for i, p := range ps {
		out[i] = f(p)
	}
	return out
}

// pairs are ps as the plain numbers of an outline.
func pairs(ps []point) [][2]float64 {
	out := make([][2]float64, len(ps))
	for i, p := range ps {
		out[i] = [2]float64{p.x, p.y}
	}
	return out
}
