package grid_test

import (
	"encoding/json"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"greige/analyze/grid"
)

// The matrices are those of OpenCV 4.6.0's getPerspectiveTransform, the
// mapped points those of its perspectiveTransform; the file says so too.
func TestThroughAgreesWithOpenCV(t *testing.T) {
	data, err := os.ReadFile("testdata/opencv_perspective.json")
	require.NoError(t, err)
	var file struct {
		Cases []struct {
			Name           string
			From, To       [4]grid.Point
			Matrix         [3][3]float64
			Points, Mapped []grid.Point
		}
	}
	require.NoError(t, json.Unmarshal(data, &file))
	require.Len(t, file.Cases, 6)
	for _, c := range file.Cases {
		h, ok := grid.Through(c.From, c.To)
		require.True(t, ok, c.Name)
		for r := range 3 {
			for k := range 3 {
				// OpenCV solves an 8 x 8 system with elements up to 1e6 by LU
				// in double precision: nine digits are left.
				assert.InDelta(t, c.Matrix[r][k], h[3*r+k], 1e-9*(1+abs(c.Matrix[r][k])), "%s %d,%d", c.Name, r, k)
			}
		}
		back, ok := h.Inverse()
		require.True(t, ok)
		for i, p := range c.Points {
			q := h.Map(p)
			assert.InDelta(t, c.Mapped[i][0], q[0], 1e-6, c.Name)
			assert.InDelta(t, c.Mapped[i][1], q[1], 1e-6, c.Name)
			b := back.Map(q)
			assert.InDelta(t, p[0], b[0], 1e-9*(1+abs(p[0])), c.Name)
			assert.InDelta(t, p[1], b[1], 1e-9*(1+abs(p[1])), c.Name)
		}
	}
}

func TestThroughRefusesPointsOnALine(t *testing.T) {
	square := [4]grid.Point{{0, 0}, {1, 0}, {1, 1}, {0, 1}}
	for _, bad := range [][4]grid.Point{
		{{0, 0}, {5, 5}, {10, 10}, {0, 10}},
		{{3, 3}, {3, 3}, {3, 3}, {3, 3}},
		{{0, 0}, {0, 0}, {10, 10}, {0, 10}},
	} {
		_, ok := grid.Through(square, bad)
		assert.False(t, ok, "to %v", bad)
		_, ok = grid.Through(bad, square)
		assert.False(t, ok, "from %v", bad)
	}
}

func abs(x float64) float64 {
	if x < 0 {
		return -x
	}
	return x
}
