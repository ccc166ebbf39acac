package teach

import (
	"image"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"greige/analyze/grid"
	"greige/analyze/light"
	"greige/colorspace"
)

// The corners may begin at any of the four: the colours say which way round the chart
// lies. A grid that lies half a patch off is refused.
func TestChartIsReadEitherWayRound(t *testing.T) {
	s, err := chartOf(phone(3), 3)
	p := open(t, s, err)
	want, err := Chart(p, s.Truth.Grid.Corners, false)
	require.NoError(t, err)
	require.Len(t, want, 24)
	assert.Equal(t, colorspace.ChartPatches()[colorspace.ChartWhite].L, want[0].Lightness)
	for turn := 1; turn < 4; turn++ {
		var corners []grid.Point
		for i := range 4 {
			corners = append(corners, s.Truth.Grid.Corners[(i+turn)%4])
		}
		got, err := Chart(p, corners, false)
		require.NoError(t, err)
		for i := range want {
			assert.Equal(t, want[i].Lightness, got[i].Lightness)
			assert.InDelta(t, want[i].L, got[i].L, .7, "turned %d, patch %d", turn, i)
		}
	}
	var off []grid.Point
	pitch := (s.Truth.Grid.Corners[1][0] - s.Truth.Grid.Corners[0][0]) / 6
	for _, c := range s.Truth.Grid.Corners {
		off = append(off, grid.Point{c[0], c[1] - pitch/2})
	}
	_, err = Chart(p, off, false)
	assert.Error(t, err)
}

func TestCardsThatTeachNothing(t *testing.T) {
	s, err := cardsOn(phone(3), 3)
	p := open(t, s, err)
	white, grey := s.Truth.Cards[0].Inside, s.Truth.Cards[1].Inside
	refs, err := Cards(p, []light.Card{{Place: white, Lightness: 95}, {Place: grey, Lightness: 49.5}})
	require.NoError(t, err)
	assert.Len(t, refs, 2)
	_, err = Cards(p, []light.Card{{Place: white, Lightness: 95}, {Place: white, Lightness: 94}})
	assert.ErrorContains(t, err, "all of one lightness")
	_, err = Cards(p, []light.Card{{Place: white, Lightness: 20}, {Place: grey, Lightness: 95}})
	assert.ErrorContains(t, err, "contradict")
	_, err = Cards(p, []light.Card{{Place: white, Lightness: 95}, {Place: image.Rect(9000, 0, 9100, 90), Lightness: 49.5}})
	assert.ErrorContains(t, err, "outside the photo")
}
