package grid

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// board is 7 x 7 cells of 40 pixels from 60, 60 on, dark where i+j is odd and else as
// light as the ground that it lies on, or, with rim, with a strip of one cloth all round
// in place of its outer cells.
func board(rim bool) *tones {
	return drawn(400, 400, func(x, y float64) [3]float64 {
		i, j := int((x-60)/40), int((y-60)/40)
		switch {
		case x < 60 || y < 60 || i >= 7 || j >= 7:
			return [3]float64{85 + speckle(x, y), 0, 0}
		case rim && (min(i, j) == 0 || max(i, j) == 6):
			return [3]float64{50 + 6*speckle(x/3, y/3), 10, 5}
		}
		return [3]float64{85 - 60*float64((i+j)%2) + speckle(x, y), 0, 0}
	})
}

// linesAt is a reading by lines 40 pixels apart, so many cells from the board's sides.
func linesAt(p *tones, left, right, up, down int) *guess {
	g := &guess{f: resample(p, p.w, p.h, func(q Point) Point { return q })}
	for i := left; i <= 7-right; i++ {
		g.xs = append(g.xs, 60+40*float64(i))
	}
	for j := up; j <= 7-down; j++ {
		g.ys = append(g.ys, 60+40*float64(j))
	}
	return g
}

// A reading that stops a row or a column short goes on to where the board ends, and none
// goes on beyond it or across a border.
func TestFurther(t *testing.T) {
	for name, c := range map[string]struct {
		rim    bool
		short  [4]int // left, right, up, down
		across [4]int
	}{
		"the whole":                    {},
		"a row short":                  {short: [4]int{0, 0, 0, 1}},
		"a column and a row short":     {short: [4]int{1, 0, 1, 0}},
		"two rows and a column short":  {short: [4]int{0, 1, 2, 0}},
		"what lies inside of a border": {rim: true, short: [4]int{1, 1, 1, 1}, across: [4]int{1, 1, 1, 1}},
	} {
		p := board(c.rim)
		g := linesAt(p, c.short[0], c.short[1], c.short[2], c.short[3])
		got, want := g.further(p), linesAt(p, c.across[0], c.across[1], c.across[2], c.across[3])
		got.cols, got.rows, want.cols, want.rows = got.xs, got.ys, want.xs, want.ys
		require.Len(t, got.xs, len(want.xs), name)
		require.Len(t, got.ys, len(want.ys), name)
		assert.True(t, got.same(want), name)
		assert.Less(t, got.onward, float64(plainSeams), name)
	}
}

// Where patches lie apart the next is a gap further on; and of one seam that goes on, or
// two, it is not known whether that is chance.
func TestFurtherOverGaps(t *testing.T) {
	p := drawn(400, 400, func(x, y float64) [3]float64 {
		i, j := math.Floor((x-60)/52), math.Floor((y-60)/52)
		if i < 0 || j < 0 || i > 4 || j > 4 || x-60-52*i > 40 || y-60-52*j > 40 {
			return [3]float64{20 + speckle(x, y), 0, 0}
		}
		return [3]float64{75 + 20*speckle(i, j), 20 * speckle(j, i), 10}
	})
	lines := func(n int) (out []float64) {
		for k := range n {
			out = append(out, 60+52*float64(k), 100+52*float64(k))
		}
		return out
	}
	g := &guess{f: resample(p, p.w, p.h, func(q Point) Point { return q }), xs: lines(3), ys: lines(5)}
	got := g.further(p) // two columns on
	assert.Len(t, got.xs, 10)
	assert.Len(t, got.ys, 10)
	few := linesAt(board(false), 0, 4, 0, 0) // three columns: two seams across a row
	assert.Equal(t, few.ys, withMore(few.ys, [2]float64{2.5, 2.5}, 3), "2.5: no seam is plainer")
}

// Two ways that agree need no third only where nothing says that the top goes on.
func TestEndsWith(t *testing.T) {
	p := board(false)
	whole, short := linesAt(p, 0, 0, 0, 0), linesAt(p, 0, 0, 0, 1)
	for _, g := range []*guess{whole, short} {
		g.cols, g.rows, g.plain = g.xs, g.ys, 2
	}
	whole.further(p)
	short.further(p)
	assert.True(t, whole.endsWith(whole))
	assert.False(t, short.endsWith(short))
	assert.False(t, whole.endsWith(short))
}

// Of the last row more than half melts into the paper below a board, so that the outline
// leaves it out, and all that is divided in there: the board is found with it.
func TestFindBeyondTheOutline(t *testing.T) {
	p := drawn(520, 620, func(x, y float64) [3]float64 {
		i, j := int((x-80)/50), int((y-80)/50)
		switch {
		case x < 80 || y < 80 || i >= 7 || j >= 9 || j == 8 && i%2 == 0:
			return [3]float64{90 + .5*speckle(x, y), 0, 0}
		case (i+j)%2 == 1:
			return [3]float64{25 + speckle(x, y), 0, 0}
		}
		return [3]float64{70 + speckle(x, y), 0, 0}
	})
	without, err := Find(pictureOf(p), Hints{off: passes{further: true}})
	require.NoError(t, err)
	require.Equal(t, 8, without.Rows, "else this tests nothing")
	g, err := Find(pictureOf(p), Hints{})
	require.NoError(t, err)
	assert.Equal(t, [2]int{9, 7}, [2]int{g.Rows, g.Cols})
	assert.True(t, g.Found)
	for k, c := range [4]Point{{80, 80}, {430, 80}, {430, 530}, {80, 530}} {
		assert.InDelta(t, c[0], g.Corners[k][0], 8, "corner %d", k) // a sixth of a cell
		assert.InDelta(t, c[1], g.Corners[k][1], 8, "corner %d", k)
	}
}
