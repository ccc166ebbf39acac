package grid

import (
	"math"
	"slices"

	"greige/analyze/photo"
)

// Three ways lead to a grid, and each only proposes. Where the top's outline is
// plain on what lies behind it (outline.go), what is inside is divided (inside.go):
// borders are rings in it (rings.go), and what is left has the rows and columns
// that its seams speak for (divide.go). In there, too, lines of one pitch are strung
// along the seams and rows and columns looked for together (strings.go,
// rectangle.go). And the same is done in the view in which two pencils of segments
// run upright (segments.go, pencils.go), which needs no outline. Tops on
// point are read along their diagonals (diagonal.go).
//
// All that is proposed has one score, the likelihood of its seams
// (likelihood.go); what another way leads to as well is sure (decide.go). The
// crossings are then moved to the seams themselves (meshfit.go). Where the corners
// are given only the lines between them are looked for (given.go).

// Find is where the patches lie in p, which is a picture in linear light of
// about 1 to 4 megapixels, its light evened or not. What hints give is taken,
// and what they leave out is found. A grid that is not sure, or that does not
// agree with the hints, has Found false and says so in Messages. Wrong hints
// are an *Error, and so is a picture in which no patches are seen.
func Find(p *photo.Picture, hints Hints) (*Grid, error) {
	if hints.Corners != nil {
		return findBetween(p, hints)
	}
	if err := checkSetting(hints.Setting); err != nil {
		return nil, err
	}
	if hints.Setting == OnPoint {
		if hints.Rows > 0 && hints.Cols > 0 && hints.Rows != hints.Cols {
			return nil, unequalOnPoint(hints.Rows, hints.Cols)
		}
		hints.Rows = max(hints.Rows, hints.Cols)
		hints.Cols = hints.Rows
	}
	// Counts that are given say where to look, but what is seen without them
	// and agrees with them is the surer reading.
	g := searched(p, Hints{Setting: hints.Setting, Look: hints.Look, off: hints.off})
	if g == nil || !g.agrees(hints) {
		if hints.Rows == 0 && hints.Cols == 0 {
			return nil, &Error{"no patches were found", "give --rows, --cols and --corners"}
		}
		if g = searched(p, hints); g == nil {
			return nil, &Error{"no patches were found in rows and columns of that number", "check --rows and --cols, and give --corners too"}
		}
	}
	g.Found = g.Confidence >= surely
	if !g.Found {
		g.Messages = append(g.Messages, g.doubt(hints))
	}
	return g, nil
}

// agrees is whether the grid has the rows and columns that are given.
func (g *Grid) agrees(hints Hints) bool {
	return (hints.Rows == 0 || g.Rows == hints.Rows) && (hints.Cols == 0 || g.Cols == hints.Cols)
}

// guess is one reading of the picture.
type guess struct {
	small      float64 // pixels of the tones to one of the picture
	score      float64
	f          *flattened
	xs, ys     []float64 // the lines of a straight set, in pixels of f
	cols, rows []float64 // the same, with one for either side of a gap between patches
	worth      float64
	plain      float64   // mean likelihood of an observation
	onward     float64   // how plainly its seams go on beyond it at most, see goesOn
	point      *diagonal // of a top on point
	given      bool      // the corners are known, and held
	hints      Hints
	doubts     []string // what does not agree with what was given, in whole sentences
}

// workingPixels is the size that the search works at.
const workingPixels = 7e5

// unlikely is how unlikely a setting has to be not to be looked at.
const unlikely = 0.2

// working is p at the size that the search works at, and its pixels to one
// of p.
func working(p *photo.Picture) (q *photo.Picture, small float64) {
	f := math.Sqrt(workingPixels / float64(max(p.W*p.H, 1)))
	if f >= 1 {
		return p, 1
	}
	q = p.Resample(max(1, int(float64(p.W)*f)), max(1, int(float64(p.H)*f)))
	return q, float64(q.W) / float64(p.W)
}

// counts are the reading's rows and columns.
func (r *guess) counts() (rows, cols int) {
	if d := r.point; d != nil {
		return d.rows(), d.rows()
	}
	return len(r.rows) - 1, len(r.cols) - 1
}

// agrees is whether a reading has the rows and columns that were given.
func (r *guess) agrees() bool {
	rows, cols := r.counts()
	return (r.hints.Rows == 0 || rows == r.hints.Rows) && (r.hints.Cols == 0 || cols == r.hints.Cols)
}

// grid is the reading as a grid in pixels of p, its crossings moved to the seams,
// and how plainly those are seen: their mean worth.
func (r *guess) grid(p *photo.Picture) (g *Grid, seen float64) {
	if r.cols != nil {
		r.xs, r.ys = r.cols, r.rows
	}
	n := r.mesh()
	if r.point == nil || r.given {
		n.hold()
	}
	if !r.hints.off.curvature {
		b := n.curvature(.25) // a quarter: half way to where the next line's own would be nearer
		for k := range n.node {
			n.node[k] = b.moved(n.node[k])
		}
	}
	n.fit(.2, .3) // wide first, to be safe of prints, then exact: see fit
	n.fit(.12, .2)
	n.fit(.08, .12)
	at := func(q Point) Point {
		q = r.f.at(q)
		return Point{q[0] / r.small, q[1] / r.small}
	}
	g = &Grid{Setting: Straight}
	g.Corners = n.corners(at)
	g.warp.plane = quadFromSquare(g.Corners)
	if d := r.point; d != nil {
		g.Setting = OnPoint
		g.half = d.half
		g.Rows = d.rows()
		g.Cols = g.Rows
		g.Aspect = float64(d.m) / float64(d.n)
		g.warp.xs, g.warp.ys = evenLines(2*d.m), evenLines(2*d.n)
		g.Patches = latticePatches(d.m, d.n, d.half)
	} else {
		g.Rows, g.Cols = len(r.ys)-1, len(r.xs)-1
		g.Aspect = squareCells(aspectOf(p.W, p.H, g.Corners), patchesAlong(r.xs), patchesAlong(r.ys))
		g.RowLines, g.ColLines = unitLines(r.ys), unitLines(r.xs)
		g.warp.xs, g.warp.ys = g.ColLines, g.RowLines
		g.Patches = cellPatches(g.RowLines, g.ColLines)
	}
	g.warp.bendTo(n, at)
	g.place()
	return g, n.evidence()
}

// patchesAlong is how many patches long the way from the first line to the
// last is, sashing between them counted as what it is of a patch.
func patchesAlong(lines []float64) float64 {
	var widths []float64
	for i := 1; i < len(lines); i++ {
		widths = append(widths, lines[i]-lines[i-1])
	}
	slices.Sort(widths)
	// Strips may be the more numerous.
	patch := widths[len(widths)-1-(len(widths)-1)/4]
	return (lines[len(lines)-1] - lines[0]) / patch
}

// mesh is the reading's lines ready to be moved to the seams.
func (r *guess) mesh() *mesh {
	if r.point != nil {
		return r.point.mesh(r.f)
	}
	return straightMesh(r.f, r.xs, r.ys)
}

// unitLines are the lines brought to 0..1.
func unitLines(lines []float64) []float64 {
	out := make([]float64, len(lines))
	first, last := lines[0], lines[len(lines)-1]
	for i, x := range lines {
		out[i] = (x - first) / (last - first)
	}
	return out
}
