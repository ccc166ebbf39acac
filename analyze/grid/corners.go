package grid

import (
	"fmt"
	"math"
)

var cornerNames = [4]string{"first (top left)", "second (top right)", "third (bottom right)", "fourth (bottom left)"}

const cornersHint = `give --corners "X,Y X,Y X,Y X,Y" in pixels of the upright photo, clockwise from the top left`

func checkSetting(s Setting) error {
	switch s {
	case "", Straight, OnPoint:
		return nil
	}
	return &Error{fmt.Sprintf("%q is no setting", string(s)), "give --setting straight or --setting on-point"}
}

// checkCorners returns four corners that make a convex quadrilateral inside a
// picture of w x h pixels, and whether their first is another than the top
// left one; or what is wrong with them.
func checkCorners(w, h int, corners []Point) (quad [4]Point, turned bool, err error) {
	if len(corners) != 4 {
		return quad, false, &Error{fmt.Sprintf("a grid has four corners, %d were given", len(corners)), cornersHint}
	}
	copy(quad[:], corners)
	// One pixel of grace, for corners that were read off a rounded scale.
	const grace = 1
	for i, c := range quad {
		if !(c[0] >= -grace && c[1] >= -grace && c[0] <= float64(w)+grace && c[1] <= float64(h)+grace) {
			return quad, false, &Error{fmt.Sprintf("the %s corner lies outside the photo", cornerNames[i]), cornersHint}
		}
	}
	left, right := 0, 0
	for i := range 4 {
		switch s := turn(quad[i], quad[(i+1)%4], quad[(i+2)%4]); {
		case math.Abs(s) < 1e-3: // sine of the angle: on a line, or the same point twice
			return quad, false, &Error{fmt.Sprintf("the %s corner and its two neighbours lie on one line", cornerNames[(i+1)%4]), cornersHint}
		case s > 0:
			right++
		default:
			left++
		}
	}
	switch {
	case left == 4:
		return quad, false, &Error{"the corners run anticlockwise", cornersHint}
	case left == 2:
		return quad, false, &Error{"the lines between the corners cross each other", cornersHint}
	case right != 4:
		return quad, false, &Error{"the four corners do not make a four-sided shape: one of them lies inside the others", cornersHint}
	}
	top := Point{quad[1][0] - quad[0][0] + quad[2][0] - quad[3][0], quad[1][1] - quad[0][1] + quad[2][1] - quad[3][1]}
	return quad, top[0] <= math.Abs(top[1]), nil
}

// turn is the sine of the turn at b on the way from a to c, positive to the
// right (clockwise on the screen); 0 where two of the points are the same.
func turn(a, b, c Point) float64 {
	ux, uy, vx, vy := b[0]-a[0], b[1]-a[1], c[0]-b[0], c[1]-b[1]
	l := math.Hypot(ux, uy) * math.Hypot(vx, vy)
	if l == 0 {
		return 0
	}
	return (ux*vy - uy*vx) / l
}

// smallestCell is the side in pixels below which a cell cannot be measured.
const smallestCell = 3

// checkCounts looks whether rows x cols patches can lie between the corners.
func checkCounts(q [4]Point, rows, cols int, setting Setting) error {
	if setting == OnPoint {
		if rows != cols {
			return unequalOnPoint(rows, cols)
		}
		if rows < 3 {
			return &Error{fmt.Sprintf("on point a top has at least 3 rows with the corner triangles, not %d", rows), "count the diagonals, corner triangles included; or give --setting straight"}
		}
	}
	side := func(i, j int) float64 { return math.Hypot(q[i][0]-q[j][0], q[i][1]-q[j][1]) }
	width, height := min(side(0, 1), side(3, 2)), min(side(1, 2), side(0, 3))
	if setting == OnPoint {
		if (width+height)/float64(rows) < 2*smallestCell {
			return &Error{fmt.Sprintf("%d rows do not fit between these corners: the patches would be smaller than %d pixels", rows, smallestCell), "check --rows, --cols and --corners, or take the photo from nearer"}
		}
		return nil
	}
	if height/float64(rows) < smallestCell || width/float64(cols) < smallestCell {
		return &Error{fmt.Sprintf("%d rows and %d columns do not fit between these corners: the patches would be smaller than %d pixels", rows, cols, smallestCell), "check --rows, --cols and --corners, or take the photo from nearer"}
	}
	return nil
}

func unequalOnPoint(rows, cols int) error {
	return &Error{fmt.Sprintf("on point a top has as many rows as columns, both counted along the diagonals, but %d rows and %d columns were given", rows, cols),
		"count the diagonals, corner triangles included, and give that number as --rows and as --cols; or give --setting straight"}
}
