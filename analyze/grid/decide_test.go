package grid

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"greige/analyze/photo"
)

// checked is a board of 5 x 7 cells, light and dark by turns, on a grey ground,
// its upper left corner at 60, 50 and its cells 40 pixels wide.
func checked() *tones {
	return drawn(480, 360, func(x, y float64) [3]float64 {
		i, j := int((x-60)/40), int((y-50)/40)
		if x < 60 || y < 50 || i >= 7 || j >= 5 {
			return [3]float64{50 + speckle(x, y), 0, 0}
		}
		return [3]float64{30 + 45*float64((i+j)%2) + speckle(x, y), 5, 5}
	})
}

// A rank that is as good as any says for a seam, one in the middle against it,
// and a line that shows for half its length is likelier than one that does not.
func TestLikelihood(t *testing.T) {
	best, middle := standing{28, 28}, standing{14, 28}
	assert.Greater(t, best.llr(usually), 2.)
	assert.InDelta(t, -1.6, middle.llr(usually), .1) // log(1 - .8)
	half := []stretch{{best, 2}, {middle, 2}, {best, 2}, {middle, 2}}
	none := []stretch{{middle, 2}, {middle, 2}, {middle, 2}, {middle, 2}}
	assert.Greater(t, lineLikelihood(half), 1.)
	assert.Less(t, lineLikelihood(none), -placeCost*1.)
}

// Each side of a board's 35 cells is one segment, and none leans: over 36 pixels, by
// less than two at an end, and half of them by less than half a pixel.
func TestSegmentsLieOnTheirEdges(t *testing.T) {
	p := checked()
	var leans []float64
	for _, s := range segmentsOf(p, edgesOf(p)) {
		x, y := math.Abs(s.b[0]-s.a[0]), math.Abs(s.b[1]-s.a[1])
		leans = append(leans, math.Atan2(min(x, y), max(x, y))*180/math.Pi)
	}
	slices.Sort(leans)
	require.Len(t, leans, 5*8+6*7)
	assert.Less(t, leans[len(leans)/2], 1.)
	assert.Less(t, leans[len(leans)-1], 3.)
}

// The seams of a board are found in the view of its own pencils: every line of
// the likeliest reading lies on one of the board's, and no two leave one out. (A
// column at the side may be missed: long segments vote where their middles lie.)
func TestByPencils(t *testing.T) {
	s := &search{t: checked(), small: 1}
	s.add(byPencils(s.t, Hints{}))
	require.Len(t, s.ways, 1)
	g := s.ways[0]
	require.GreaterOrEqual(t, len(g.xs), 7)
	require.Len(t, g.ys, 6)
	for i, x := range g.xs {
		at := g.f.at(Point{x, (g.ys[2] + g.ys[3]) / 2})[0]
		assert.InDelta(t, 340-40*float64(len(g.xs)-1-i), at, 3, "column line %d", i)
	}
	for j, y := range g.ys {
		assert.InDelta(t, 50+40*float64(j), g.f.at(Point{(g.xs[2] + g.xs[3]) / 2, y})[1], 3, "row line %d", j)
	}
}

// Readings are the same where counts and corners agree to half a patch, whatever
// view they were seen in; a rival that is as likely leaves both in doubt.
func TestAgreement(t *testing.T) {
	p := checked()
	f := resample(p, p.w, p.h, func(q Point) Point { return q })
	of := func(cols int, x0, pitch, worth float64) *guess {
		g := &guess{f: f, worth: worth}
		for i := range cols + 1 {
			g.xs = append(g.xs, x0+float64(i)*pitch)
		}
		for j := range 6 {
			g.ys = append(g.ys, 50+40*float64(j))
		}
		g.cols, g.rows = g.xs, g.ys
		return g
	}
	a, near, far, other := of(7, 60, 40, 100), of(7, 72, 40, 80), of(7, 100, 40, 80), of(8, 60, 35, 95)
	assert.True(t, a.same(near))
	assert.False(t, a.same(far))
	assert.False(t, a.same(other))
	s := &search{p: photo.New(p.w, p.h), t: p, small: 1, ways: []*guess{a, near}}
	assert.False(t, s.agreed(a), "two ways alone, and no seams that are plain")
	near.plain = plainSeams
	assert.True(t, s.agreed(a))
	s.ways = append(s.ways, other)
	assert.False(t, s.agreed(a), "another answer is nearly as likely")
	a.worth, other.worth = 600, 10
	again := &search{p: s.p, t: p, small: 1, ways: []*guess{a, other}, found: []*guess{a}}
	assert.True(t, again.agreed(a), "the division inside it leads back to it")
	a.onward = impossible
	assert.False(t, again.agreed(a), "nobody knows whether it goes on")
	a.onward, again.found = 0, nil
	assert.False(t, again.agreed(a), "it is a division itself")
}

// Inside the outline a reading holds its own by the top's edge, unless two other ways
// know of another.
func TestTwoOthersOverrule(t *testing.T) {
	p := checked()
	f := resample(p, p.w, p.h, func(q Point) Point { return q })
	lines := []float64{60, 100, 140, 180}
	of := func(by, worth float64) *guess {
		g := &guess{f: f, worth: worth, xs: lines}
		for _, y := range lines {
			g.ys = append(g.ys, y+by)
		}
		g.cols, g.rows = g.xs, g.ys
		return g
	}
	inside, one, two := of(30, 100), of(0, 110), of(0, 120)
	s := &search{t: p, ways: []*guess{inside, one}}
	assert.Equal(t, insideFirst, s.lead(inside, inside, one))
	s.ways = append(s.ways, two)
	assert.Equal(t, rival, s.lead(inside, inside, one))
	inside.onward = plainSeams
	s.ways = s.ways[:2]
	assert.Equal(t, 1., s.lead(inside, inside, one), "there is no edge where the seams go on")
}

// One line stands for both sides of a gap in which the ground shows; sashing of
// another colour stays a row of its own.
func TestWithoutGaps(t *testing.T) {
	xs := []float64{60, 100, 112, 152, 164, 204}
	for _, c := range []struct {
		between float64 // L* of what lies between the patches; the ground has 50
		lines   int
	}{{50, 4}, {90, 6}} {
		p := drawn(280, 280, func(x, y float64) [3]float64 {
			in := func(v float64) int {
				if v < 60 || v >= 204 {
					return 0
				}
				if int(v-60)%52 < 40 {
					return 2
				}
				return 1
			}
			switch i, j := in(x), in(y); {
			case i == 0 || j == 0:
				return [3]float64{50, 0, 0}
			case i == 2 && j == 2:
				return [3]float64{20, 10 * speckle(x/52, y/52), 10}
			}
			return [3]float64{c.between, 0, 0}
		})
		f := resample(p, p.w, p.h, func(q Point) Point { return q })
		cols, rows := withoutGaps(f, xs, xs)
		assert.Len(t, cols, c.lines, "L* %.0f between", c.between)
		assert.Len(t, rows, c.lines)
	}
}
