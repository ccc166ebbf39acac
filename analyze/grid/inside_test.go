package grid_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"greige/analyze/grid"
	"greige/analyze/scene"
)

// What the seams alone do not tell: borders of two strips whose print has lines of
// its own, and bars that only show one way. The outline tells it.
func TestFindInsideTheOutline(t *testing.T) {
	for seed, what := range map[uint64]string{
		3016: "a gradation in two borders",
		3023: "bars",
	} {
		top := scene.AnyTop(seed)
		top.Width = 1100
		shot, err := top.Shoot()
		require.NoError(t, err)
		truth := shot.Truth.Grid
		g, err := grid.Find(decode(t, shot.Data), grid.Hints{})
		require.NoError(t, err, what)
		assert.Equal(t, [2]int{truth.Rows, truth.Cols}, [2]int{g.Rows, g.Cols}, what)
		assert.Equal(t, truth.OnPoint, g.Setting == grid.OnPoint, what)
		assert.Less(t, furthest(truth.Corners, g.Corners[:]), .01*float64(shot.Truth.Width), what)
	}
}
