package analyze

import (
	"math"
	"slices"

	"greige/analyze/raster"
)

func clockwise(outline [][2]float64) [][2]float64 {
	out := slices.Clone(outline)
	if raster.Area(out) < 0 {
		slices.Reverse(out)
	}
	return out
}

// divided is an outline with its places divided by w across and by h down.
func divided(outline [][2]float64, w, h float64) [][2]float64 {
	out := make([][2]float64, len(outline))
	for i, q := range outline {
		out[i] = [2]float64{q[0] / w, q[1] / h}
	}
	return out
}

// enlarged is an outline k times as large, to a hundredth: in pixels of the photo.
func enlarged(outline [][2]float64, k float64) [][2]float64 {
	out := make([][2]float64, len(outline))
	for i, q := range outline {
		out[i] = [2]float64{round2(q[0] * k), round2(q[1] * k)}
	}
	return out
}

// Joined is the outline of one piece of cloth that shows as two: both outlines
// and what lies between them, up to the two lines that touch both; bays on the
// far sides stay bays. Outlines that reach into each other's hulls give the
// hull of both.
func Joined(a, b [][2]float64) [][2]float64 {
	a, b = clockwise(a), clockwise(b)
	hull := raster.ConvexHull(slices.Concat(a, b))
	index := func(of [][2]float64, p [2]float64) int { return slices.Index(of, p) }
	// Where the hull leaves a for b, and where it comes back.
	var leave, arrive, leaveB, arriveA = -1, -1, -1, -1
	crossings := 0
	for i, p := range hull {
		q := hull[(i+1)%len(hull)]
		switch {
		case index(a, p) >= 0 && index(a, q) < 0:
			leave, arrive = index(a, p), index(b, q)
			crossings++
		case index(a, p) < 0 && index(a, q) >= 0:
			leaveB, arriveA = index(b, p), index(a, q)
			crossings++
		}
	}
	if crossings != 2 {
		return hull
	}
	walk := func(of [][2]float64, from, to int) (out [][2]float64) {
		for i := from; ; i = (i + 1) % len(of) {
			out = append(out, of[i])
			if i == to {
				return out
			}
		}
	}
	return append(walk(a, arriveA, leave), walk(b, arrive, leaveB)...)
}

// Split cuts an outline along the line through from and to and gives what lies
// on either side, clockwise; one of them is nil where the line misses the
// outline (Sutherland and Hodgman 1974, CACM 17:32, for one edge).
func Split(outline [][2]float64, from, to [2]float64) (left, right [][2]float64) {
	outline = clockwise(outline)
	side := func(keep float64) (out [][2]float64) {
		for i, p := range outline {
			q := outline[(i+1)%len(outline)]
			dp, dq := keep*raster.Turn(from, to, p), keep*raster.Turn(from, to, q)
			if dp >= 0 {
				out = append(out, p)
			}
			if dp*dq < 0 {
				t := dp / (dp - dq)
				out = append(out, [2]float64{round2(p[0] + t*(q[0]-p[0])), round2(p[1] + t*(q[1]-p[1]))})
			}
		}
		if len(out) < 3 || math.Abs(area(out)) < 1 {
			return nil
		}
		return out
	}
	return side(-1), side(1)
}
