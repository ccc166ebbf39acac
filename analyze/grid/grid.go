// Package grid finds where the patches of a block, a design wall or a top lie
// in a photo. A photo.Picture in linear light comes in, with whatever the user
// has given by hand (Hints); a Grid comes out: rows, columns, setting, corners
// and every patch's outline, with how sure that is and, in plain words, what
// could not be found. The plane of the top is mapped to the photo by a
// homography (Hartley and Zisserman 2004, section 2.3) and a small bend of its
// nodes for cloth that sags and seams that wobble. find.go tells how the seams
// are found. It knows nothing of cloth.
package grid

import "greige/analyze/raster"

// Point is a place, x to the right and y down. In a picture it is in pixels,
// the first pixel's corner at 0,0; in the flat top both run from 0 to 1.
type Point = [2]float64

// Setting is how the patches lie in the top.
type Setting string

const (
	Straight Setting = "straight"
	OnPoint  Setting = "on-point" // turned 45 degrees; triangles fill the edges
)

// Hints are what the user has given. What is zero or nil is to be found.
type Hints struct {
	Rows, Cols int
	Corners    []Point // pixels of the picture, clockwise from the top left
	Setting    Setting
	// Look is shown the stages of the search: "outline", "segments", "candidates" (the
	// best of each way, with their scores) and "grid"; nil: nothing is drawn.
	Look raster.Look

	off passes
}

// passes are the passes that can be left out, to see what each is worth
// (BenchmarkAblation); the zero value leaves out none.
type passes struct {
	outline, divide, rings, squares, strings, pencils, early, again bool
	gaps, bend, trim, extend, lead, curvature, further              bool
}

// Grid is where the patches of a top lie in a picture.
type Grid struct {
	Rows, Cols int
	Setting    Setting
	// Corners are the outer corners in pixels of the picture, clockwise from
	// the top left: of the patches in a straight set, of the whole top on point.
	Corners [4]Point
	// Aspect is the top's width divided by its height, as it hangs.
	Aspect float64
	// RowLines and ColLines are the Rows+1 and Cols+1 seam lines of a straight
	// set in the flat top, each from 0 to 1; nil on point.
	RowLines, ColLines []float64
	Patches            []Patch // by rows, then by columns

	// Found is true where the grid is given by hand or sure. Where it is
	// false the grid is a best guess, to be shown and asked about.
	Found      bool
	Confidence float64 // 0..1, how likely rows, columns and corners are right
	// Messages say in plain words what could not be found, or does not agree
	// with what was given, and which flag helps. Whole sentences.
	Messages []string

	half bool // on point: the top's corners are corners of patches
	warp warp
}

// Patch is one patch of the top. Rows and columns count from 1. In a straight
// set row 1 is the top one and column 1 the left one. On point a row is a
// diagonal that runs up to the right, row 1 in the top left corner, and a
// column a diagonal that runs down to the right, column 1 in the bottom left.
type Patch struct {
	Row, Col int
	Triangle bool // at the edge of a top on point
	// Outline is in pixels of the picture, clockwise from the top left (on
	// point from the top): four points, or three for a triangle.
	Outline []Point
	flat    []Point // the same in the flat top, 0..1
}

// Error is what is wrong with the hints: the reason as one clause in plain
// words, and what to do about it.
type Error struct{ Reason, Hint string }

func (e *Error) Error() string { return e.Reason }

// FromCorners is the grid that is given by hand in a picture of w x h pixels:
// rows x cols equal cells between four outer corners (pixels of the picture,
// clockwise from the top left). On point rows and cols are the numbers of
// diagonals, which must be the same; how many squares fit along either edge
// then follows from the corners' shape. An empty setting means Straight. The
// error is an *Error.
func FromCorners(w, h int, corners []Point, rows, cols int, setting Setting) (*Grid, error) {
	if err := checkSetting(setting); err != nil {
		return nil, err
	}
	if setting == "" {
		setting = Straight
	}
	if rows < 1 || cols < 1 {
		return nil, &Error{"the number of rows and of columns is missing", "give both --rows and --cols"}
	}
	quad, turned, err := checkCorners(w, h, corners)
	if err != nil {
		return nil, err
	}
	if err := checkCounts(quad, rows, cols, setting); err != nil {
		return nil, err
	}
	g := &Grid{
		Rows: rows, Cols: cols, Setting: setting,
		Corners: quad,
		Found:   true, Confidence: 1,
	}
	g.warp.plane = quadFromSquare(quad)
	g.Aspect = aspectOf(w, h, quad)
	if turned {
		g.Messages = append(g.Messages, turnedWarning)
	}
	if setting == OnPoint {
		m, n := squaresAlong(rows-1, g.Aspect)
		g.Aspect = float64(m) / float64(n)
		g.Patches = latticePatches(m, n, false)
	} else {
		g.RowLines, g.ColLines = evenLines(rows), evenLines(cols)
		g.Aspect = squareCells(g.Aspect, float64(cols), float64(rows))
		g.Patches = cellPatches(g.RowLines, g.ColLines)
	}
	g.place()
	return g, nil
}

const turnedWarning = "The first of the four corners is not the top left one in the photo: rows are counted from the side between the first and the second corner. Give --corners clockwise from the top left if that is not meant."

// evenLines are the n+1 lines of n equal cells from 0 to 1.
func evenLines(n int) []float64 {
	lines := make([]float64, n+1)
	for i := range lines {
		lines[i] = float64(i) / float64(n)
	}
	return lines
}

// squareCells is the aspect that makes the patches, so many across and down,
// square where they nearly are, since the aspect measured under perspective is good to a few per cent.
func squareCells(aspect, across, down float64) float64 {
	square := across / down
	if r := aspect / square; r > 0.92 && r < 1/0.92 { // 8 in 100: see aspectOf
		return square
	}
	return aspect
}

// cellPatches are the patches of a straight set, without their place in the
// picture.
func cellPatches(rowLines, colLines []float64) []Patch {
	rows, cols := len(rowLines)-1, len(colLines)-1
	patches := make([]Patch, 0, rows*cols)
	for r := range rows {
		for c := range cols {
			x0, x1, y0, y1 := colLines[c], colLines[c+1], rowLines[r], rowLines[r+1]
			patches = append(patches, Patch{Row: r + 1, Col: c + 1,
				flat: []Point{{x0, y0}, {x1, y0}, {x1, y1}, {x0, y1}}})
		}
	}
	return patches
}

// place maps all patches into the picture.
func (g *Grid) place() {
	for i := range g.Patches {
		p := &g.Patches[i]
		p.Outline = g.warp.all(p.flat)
	}
}

// At is the patch at row and col, counted from 1, and whether there is one.
func (g *Grid) At(row, col int) (Patch, bool) {
	for _, p := range g.Patches {
		if p.Row == row && p.Col == col {
			return p, true
		}
	}
	return Patch{}, false
}

// Inner is patch p drawn in on all sides, in pixels of the picture, so that a
// measurement keeps clear of the seams: of their shadow, and of their wobble,
// which comes to a tenth of a patch. inset is the share of the patch's
// narrower side (on point: of the side of a square) that is left out along
// each edge, 0..0.45.
func (g *Grid) Inner(p Patch, inset float64) []Point {
	return g.warp.all(g.shrink(p, inset))
}

// Flat is the outline of patch p in the picture that Straighten makes, as
// shares of its width and height, 0..1.
func (g *Grid) Flat(p Patch) []Point { return append([]Point(nil), p.flat...) }
