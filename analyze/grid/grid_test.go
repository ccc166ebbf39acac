package grid_test

import (
	"errors"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"greige/analyze/grid"
	"greige/analyze/photo"
)

func TestFromCornersRefusesWrongHints(t *testing.T) {
	good := []grid.Point{{100, 100}, {900, 110}, {910, 700}, {90, 690}}
	nan := math.NaN()
	for _, c := range []struct {
		name       string
		corners    []grid.Point
		rows, cols int
		setting    grid.Setting
		reason     string
	}{
		{"three", good[:3], 4, 4, "", "3 were given"},
		{"none", nil, 4, 4, "", "0 were given"},
		{"crossed", []grid.Point{good[0], good[1], good[3], good[2]}, 4, 4, "", "cross"},
		{"anticlockwise", []grid.Point{good[0], good[3], good[2], good[1]}, 4, 4, "", "anticlockwise"},
		{"outside", []grid.Point{good[0], {1900, 110}, good[2], good[3]}, 4, 4, "", "second (top right) corner lies outside"},
		{"no number", []grid.Point{good[0], good[1], good[2], {nan, 3}}, 4, 4, "", "fourth (bottom left) corner lies outside"},
		{"dented", []grid.Point{{100, 100}, {900, 100}, {300, 300}, {100, 700}}, 4, 4, "", "inside the others"},
		{"on a line", []grid.Point{{100, 100}, {500, 100}, {900, 100}, {100, 700}}, 4, 4, "", "one line"},
		{"the same twice", []grid.Point{good[0], good[0], good[2], good[3]}, 4, 4, "", "one line"},
		{"no counts", good, 0, 4, "", "missing"},
		{"too many", good, 400, 4, "", "do not fit"},
		{"on point, unequal", good, 9, 7, grid.OnPoint, "as many rows as columns"},
		{"on point, too few", good, 2, 2, grid.OnPoint, "at least 3"},
		{"no such setting", good, 4, 4, "diagonal", `"diagonal"`},
	} {
		g, err := grid.FromCorners(1000, 800, c.corners, c.rows, c.cols, c.setting)
		assert.Nil(t, g, c.name)
		var e *grid.Error
		if assert.True(t, errors.As(err, &e), c.name) {
			assert.Contains(t, e.Reason, c.reason, c.name)
			assert.Contains(t, e.Hint, "--", c.name)
		}
	}
}

func TestFromCornersTurnedIsTakenWithAWord(t *testing.T) {
	g, err := grid.FromCorners(1000, 800, []grid.Point{{900, 110}, {910, 700}, {90, 690}, {100, 100}}, 4, 5, "")
	require.NoError(t, err)
	require.Len(t, g.Messages, 1)
	assert.Contains(t, g.Messages[0], "--corners")
}

// The centre of a perspective square is where its diagonals cross, and lines
// stay lines: both hold for any homography, so they check the map without it.
func TestFromCornersStraight(t *testing.T) {
	corners := []grid.Point{{180, 90}, {1020, 96}, {1130, 870}, {60, 860}}
	g, err := grid.FromCorners(1200, 900, corners, 4, 6, "")
	require.NoError(t, err)
	assert.Equal(t, grid.Straight, g.Setting)
	assert.True(t, g.Found)
	assert.Empty(t, g.Messages)
	require.Len(t, g.Patches, 24)
	for i, p := range g.Patches {
		assert.Equal(t, i/6+1, p.Row)
		assert.Equal(t, i%6+1, p.Col)
		require.Len(t, p.Outline, 4)
	}
	first, _ := g.At(1, 1)
	last, ok := g.At(4, 6)
	require.True(t, ok)
	near(t, corners[0], first.Outline[0], 1e-9)
	near(t, corners[2], last.Outline[2], 1e-9)
	mid, _ := g.At(2, 3)
	near(t, crossing(corners[0], corners[2], corners[1], corners[3]), mid.Outline[2], 1e-9)
	_, ok = g.At(5, 1)
	assert.False(t, ok)
}

// By hand: 3 x 2 squares along the edges of a level 600 x 400 top (d = 200).
func TestFromCornersOnPoint(t *testing.T) {
	g, err := grid.FromCorners(800, 600, []grid.Point{{100, 100}, {700, 100}, {700, 500}, {100, 500}}, 6, 6, grid.OnPoint)
	require.NoError(t, err)
	// 3 x 2 squares standing free, 2 x 1 between them, 2 (2 + 1) edge and 4
	// corner triangles.
	require.Len(t, g.Patches, 6+2+6+4)
	want := map[[2]int][]grid.Point{
		{1, 3}: {{100, 100}, {200, 100}, {100, 200}}, // corners of the top
		{4, 6}: {{600, 100}, {700, 100}, {700, 200}},
		{6, 4}: {{700, 400}, {700, 500}, {600, 500}},
		{3, 1}: {{100, 400}, {200, 500}, {100, 500}},
		{2, 3}: {{200, 100}, {300, 200}, {200, 300}, {100, 200}}, // the first square of the top row
		{2, 4}: {{200, 100}, {400, 100}, {300, 200}},             // a triangle at the upper edge
		{2, 2}: {{100, 200}, {200, 300}, {100, 400}},             // and one at the left
		{3, 3}: {{300, 200}, {400, 300}, {300, 400}, {200, 300}}, // between the squares
	}
	area := 0.0
	for _, p := range g.Patches {
		assert.Equal(t, len(p.Outline) == 3, p.Triangle)
		a := signedArea(p.Outline)
		assert.Positive(t, a, "%d,%d runs clockwise", p.Row, p.Col)
		area += a
		if w, ok := want[[2]int{p.Row, p.Col}]; ok {
			delete(want, [2]int{p.Row, p.Col})
			require.Len(t, p.Outline, len(w))
			for i := range w {
				near(t, w[i], p.Outline[i], 1e-9)
			}
		}
	}
	assert.Empty(t, want)
	assert.InDelta(t, 600*400, area, 1e-6, "the patches cover the top once")
}

func TestOnPointFollowsTheCornersShape(t *testing.T) {
	for _, c := range []struct{ w, h, m, n int }{{400, 600, 4, 6}, {600, 400, 6, 4}, {500, 500, 5, 5}, {700, 100, 7, 1}, {700, 800, 7, 8}} {
		x, y := float64(c.w), float64(c.h)
		g, err := grid.FromCorners(900, 900, []grid.Point{{50, 50}, {50 + x, 50}, {50 + x, 50 + y}, {50, 50 + y}}, c.m+c.n+1, c.m+c.n+1, grid.OnPoint)
		require.NoError(t, err)
		topLeft, ok := g.At(1, c.n+1)
		require.True(t, ok, "%v", c)
		near(t, grid.Point{50, 50}, topLeft.Outline[0], 1e-9)
		assert.InDelta(t, float64(c.m)/float64(c.n), g.Aspect, 1e-9)
	}
}

func TestInnerKeepsClearOfTheEdges(t *testing.T) {
	straight, err := grid.FromCorners(900, 900, []grid.Point{{100, 100}, {500, 100}, {500, 500}, {100, 500}}, 4, 4, "")
	require.NoError(t, err)
	p, _ := straight.At(2, 3)
	want := []grid.Point{{320, 220}, {380, 220}, {380, 280}, {320, 280}}
	for i, q := range straight.Inner(p, 0.2) {
		near(t, want[i], q, 1e-9)
	}

	point, err := grid.FromCorners(900, 900, []grid.Point{{100, 100}, {500, 100}, {500, 500}, {100, 500}}, 5, 5, grid.OnPoint)
	require.NoError(t, err)
	const side = 200 / math.Sqrt2 // two squares along each edge, diagonal 200
	for _, p := range point.Patches {
		for _, inset := range []float64{0.1, 0.15} {
			in := point.Inner(p, inset)
			require.Len(t, in, len(p.Outline))
			for i := range in {
				for k := range p.Outline {
					d := distance(in[i], p.Outline[k], p.Outline[(k+1)%len(p.Outline)])
					assert.Greater(t, d, inset*side-1e-9, "%d,%d", p.Row, p.Col)
				}
			}
		}
	}
}

// A picture drawn from the grid's own homography, coarsely: what Straighten
// gives must be the flat chequers, each patch its own colour, at the place
// that Flat says.
func TestStraightenUndoesThePerspective(t *testing.T) {
	corners := []grid.Point{{130, 60}, {560, 90}, {610, 470}, {40, 420}}
	g, err := grid.FromCorners(640, 480, corners, 3, 4, "")
	require.NoError(t, err)
	h, ok := grid.Through([4]grid.Point{{0, 0}, {4, 0}, {4, 3}, {0, 3}}, [4]grid.Point(corners))
	require.True(t, ok)
	back, _ := h.Inverse()
	p := photo.New(640, 480)
	light := func(c, r int) float32 { return float32(1+c+4*r) / 12 }
	for y := range p.H {
		for x := range p.W {
			q := back.Map(grid.Point{float64(x) + .5, float64(y) + .5})
			if q[0] >= 0 && q[1] >= 0 && q[0] < 4 && q[1] < 3 {
				for k := range 3 {
					p.Pix[3*(y*p.W+x)+k] = light(int(q[0]), int(q[1])) * float32(k+1) / 3
				}
			}
		}
	}
	s := g.Straighten(p, 400)
	assert.Equal(t, 400, max(s.W, s.H))
	for _, patch := range g.Patches {
		flat := g.Flat(patch)
		for y := range s.H {
			for x := range s.W {
				fx, fy := (float64(x)+.5)/float64(s.W), (float64(y)+.5)/float64(s.H)
				// Two per cent off the seams, where pixels mix.
				if fx > flat[0][0]+.02 && fx < flat[2][0]-.02 && fy > flat[0][1]+.02 && fy < flat[2][1]-.02 {
					want := light(patch.Col-1, patch.Row-1)
					require.InDelta(t, want, s.At(x, y)[2], 1e-5)
					require.InDelta(t, want/3, s.At(x, y)[0], 1e-5)
				}
			}
		}
	}
}

// A fine black and white check reflects half the light, however small the
// straightened picture is made.
func TestStraightenAveragesLight(t *testing.T) {
	p := photo.New(600, 600)
	for y := range p.H {
		for x := range p.W {
			if (x/2+y/2)%2 == 0 {
				for k := range 3 {
					p.Pix[3*(y*p.W+x)+k] = 1
				}
			}
		}
	}
	g, err := grid.FromCorners(600, 600, []grid.Point{{30, 20}, {570, 40}, {580, 560}, {20, 580}}, 2, 2, "")
	require.NoError(t, err)
	s := g.Straighten(p, 50)
	for y := range s.H {
		for x := range s.W {
			// A new pixel covers some 11 x 11, not a whole number of checks.
			require.InDelta(t, 0.5, s.At(x, y)[1], 0.05)
		}
	}
	assert.NotPanics(t, func() { g.Straighten(photo.New(0, 0), 50); g.Straighten(p, 0) })
}

func near(t *testing.T, want, have grid.Point, tolerance float64) {
	t.Helper()
	assert.InDelta(t, want[0], have[0], tolerance)
	assert.InDelta(t, want[1], have[1], tolerance)
}

// crossing is where the lines a-b and c-d meet.
func crossing(a, b, c, d grid.Point) grid.Point {
	den := (a[0]-b[0])*(c[1]-d[1]) - (a[1]-b[1])*(c[0]-d[0])
	e, f := a[0]*b[1]-a[1]*b[0], c[0]*d[1]-c[1]*d[0]
	return grid.Point{(e*(c[0]-d[0]) - (a[0]-b[0])*f) / den, (e*(c[1]-d[1]) - (a[1]-b[1])*f) / den}
}

func signedArea(p []grid.Point) float64 {
	sum := 0.0
	for i := range p {
		q := p[(i+1)%len(p)]
		sum += p[i][0]*q[1] - q[0]*p[i][1]
	}
	return sum / 2
}

// distance is how far p lies to the right of the line from a to b.
func distance(p, a, b grid.Point) float64 {
	return ((b[0]-a[0])*(p[1]-a[1]) - (b[1]-a[1])*(p[0]-a[0])) / math.Hypot(b[0]-a[0], b[1]-a[1])
}
