package grid

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// Of two readings of which neither is sure, the one inside the outline counts,
// unless the seams speak for far more, outside of it: cloth like the wall was
// taken for the wall.
func TestBetter(t *testing.T) {
	of := func(side, worth, confidence float64, rows int) *reading {
		return &reading{worth: worth, Grid: &Grid{Rows: rows, Cols: rows, Setting: Straight, Confidence: confidence,
			Corners: [4]Point{{0, 0}, {side, 0}, {side, side}, {0, side}}}}
	}
	for _, c := range []struct {
		inside, seams *reading
		rows          int
	}{
		{nil, of(100, 10, .2, 3), 3},
		{of(100, 10, .2, 4), of(200, 14, .2, 3), 4},
		{of(100, 10, .2, 4), of(200, 16, .2, 3), 3},
		{of(100, 10, .2, 4), of(90, 16, .2, 3), 4},
		{of(100, 10, .97, 4), of(200, 16, .2, 3), 4},
		{of(100, 10, .2, 4), of(200, 9, .97, 3), 3},
		{of(100, 10, .97, 4), of(200, 11, .97, 3), 4},
		{of(100, 10, .97, 4), of(200, 12, .97, 3), 3},
		{of(100, 10, .2, 3), of(100, 9, .3, 3), 3},
	} {
		got := better(c.inside, c.seams)
		assert.Equal(t, c.rows, got.Rows)
		if c.inside != nil && c.inside.Rows != c.seams.Rows {
			assert.Less(t, got.Confidence, surely) // where two ways disagree neither is sure
		}
	}
	agree := better(of(100, 10, .2, 3), of(100, 9, .3, 3))
	assert.GreaterOrEqual(t, agree.Confidence, surely)
}
