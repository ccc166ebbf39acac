package analyze

import (
	"context"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"greige/analyze/layout"
	"greige/analyze/scene"
)

// A bar is one piece: of a top of five rows of fourteen bars, each three times as
// high as wide, no lost seam lies inside a bar and no swap cuts one, and the other
// reading is told. Whoever counts patches in it is taken at her word.
func TestBarsAreOnePiece(t *testing.T) {
	cloths := scene.AnyCloths(9, 16)
	lights, darks := []int{0, 9, 15}, []int{2, 3, 11, 12, 13}
	cells, chart, sizes := make([][]int, 5), make([]string, 5), []float64{3, 3, 3, 3, 3}
	for r := range cells {
		for c := range 14 {
			of, letter := lights, "L"
			if (r+c)%2 == 0 {
				of, letter = darks, "D"
			}
			cells[r] = append(cells[r], of[(r*5+c)%len(of)])
			chart[r] += letter
		}
	}
	s, err := scene.Top{Take: scene.Take{Seed: 10, Width: 1400, Camera: scene.Phone()}, Cloths: cloths, Margin: .06, Ground: scene.Backdrop{Ground: scene.Wall},
		Plan: scene.Plan{Pattern: "bars", Cells: cells, Chart: chart, RowSizes: sizes}}.Shoot()
	require.NoError(t, err)
	dir := t.TempDir()
	s.Name = "bars.jpg"
	require.NoError(t, scene.Write(dir, s))
	look := func(rows int) *Result {
		r, err := Layout(context.Background(), filepath.Join(dir, s.Name), LayoutOptions{Settings: Settings{Distance: 2.5}, Rows: rows})
		require.NoError(t, err)
		return r
	}
	r := look(0)
	assert.Equal(t, []int{5, 14}, []int{r.Layout.Rows, r.Layout.Cols})
	for _, m := range r.Layout.Seams {
		assert.NotEqual(t, layout.Lost, m.Verdict, "%v", m.Between)
	}
	if !r.Layout.GridFound {
		assert.Contains(t, strings.Join(r.Notes, " "), "Or it is 15 rows and 14 columns", "both readings are told")
	}
	assert.Equal(t, 15, look(15).Layout.Rows)
}
