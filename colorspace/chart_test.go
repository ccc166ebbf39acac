package colorspace

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestChartPatchesAreThePublishedOnes(t *testing.T) {
	rows := table(t, published(t, "04_colour_rendition_chart.csv"))
	patches := ChartPatches()
	require.Len(t, rows, len(patches))
	for i, r := range rows {
		assert.Equal(t, r.lab(t, "L_D50_2005", "a_D50_2005", "b_D50_2005"), patches[i], "patch %d", i+1)
	}
	for i, p := range patches {
		assert.LessOrEqual(t, p.L, patches[ChartWhite].L, "patch %d", i+1)
	}
}
