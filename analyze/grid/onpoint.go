package grid

import (
	"math"

	"greige/analyze/raster"
)

// A top on point with m squares along its upper and n along its left edge has
// square cells whose diagonal is d = width / m. With x and y in units of d
// from the top left corner, u = x + y grows from the top left to the bottom
// right and v = x - y + n from the bottom left to the top right; the cells'
// centres lie where both are whole numbers, 0 to m + n, and row = u + 1,
// column = v + 1. Cells centred on an edge are cut to a half there, and those
// on a corner to a quarter: the setting and the corner triangles.
//
// In a half set, as blocks of an even number of patches make it, the corners
// of the top are corners of patches: u and v of the centres lie at the halves,
// 1/2 to m + n - 1/2, and there are no corner triangles.

// squaresAlong divides m + n = sum, in the proportion nearest to aspect.
func squaresAlong(sum int, aspect float64) (m, n int) {
	m = int(math.Round(float64(sum) * aspect / (1 + aspect)))
	m = min(max(m, 1), sum-1)
	return m, sum - m
}

// latticePatches are the patches of a top on point, by rows and columns,
// without their place in the picture.
func latticePatches(m, n int, half bool) []Patch {
	var patches []Patch
	fm, fn := float64(m), float64(n)
	rows, off := m+n+1, 0.0
	if half {
		rows, off = m+n, .5
	}
	for row := range rows {
		for col := range rows {
			u, v := float64(row)+off, float64(col)+off
			x, y := (u+v-fn)/2, (u-v+fn)/2
			if x < 0 || y < 0 || x > fm || y > fn {
				continue
			}
			outline := halfPlanes([]Point{{x, y - .5}, {x + .5, y}, {x, y + .5}, {x - .5, y}}, fm, fn)
			for i := range outline {
				outline[i][0] /= fm
				outline[i][1] /= fn
			}
			patches = append(patches, Patch{Row: row + 1, Col: col + 1, Triangle: len(outline) == 3, flat: outline})
		}
	}
	return patches
}

// halfPlanes cuts a lattice square to 0 <= x <= m, 0 <= y <= n. Its centre lies inside
// or on the border, so what is left is the hull of its corners inside and the centre:
// the square, half of it or a quarter. All coordinates are multiples of a half: the
// comparisons are exact.
func halfPlanes(square []Point, m, n float64) []Point {
	kept := []Point{{square[0][0], square[1][1]}}
	for _, p := range square {
		if inside(p, m, n) {
			kept = append(kept, p)
		}
	}
	return fromTop(raster.ConvexHull(kept))
}

// inside is whether p lies in the top or on its edge.
func inside(p Point, m, n float64) bool {
	return p[0] >= 0 && p[1] >= 0 && p[0] <= m && p[1] <= n
}

// fromTop turns the order of the points round until the uppermost is first,
// of two the left one.
func fromTop(points []Point) []Point {
	first := 0
	for i, p := range points {
		if p[1] < points[first][1] || p[1] == points[first][1] && p[0] < points[first][0] {
			first = i
		}
	}
	return append(append([]Point(nil), points[first:]...), points[:first]...)
}
