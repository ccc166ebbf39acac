package piles

import (
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"greige/analyze/cloth"
)

// Two cloths of which one is plainly lighter are no tie for a level that is not
// known, as long as it is one and the same for both: in one photo, or in photos
// of one camera that stand on one footing.
func TestTiesLeaveOutWhatIsShared(t *testing.T) {
	of := func(photo string, group int, l float64) Fabric {
		return Fabric{Photo: photo, Group: group, Cloth: cloth.Cloth{Lightness: l, Uncertainty: 20, Apart: 1}}
	}
	for _, c := range []struct {
		name string
		a, b Fabric
		tied bool
	}{
		{"one photo", of("a.jpg", 1, 60), of("a.jpg", 1, 55), false},
		{"one photo, nearly alike", of("a.jpg", 1, 60), of("a.jpg", 1, 59.5), true},
		{"photos on one footing", of("a.jpg", 1, 60), of("b.jpg", 1, 55), false},
		{"photos on two footings", of("a.jpg", 1, 60), of("b.jpg", 2, 55), true},
		{"photos with a card each", of("a.jpg", 0, 60), of("b.jpg", 0, 55), true},
	} {
		require.Equal(t, c.tied, tied(&c.a, &c.b), c.name)
		require.Equal(t, c.tied, tied(&c.b, &c.a), c.name)
	}
}

// Piles that could as well be others are told with how many cloths would move.
func TestOtherPiles(t *testing.T) {
	var fabrics []Fabric
	for i, l := range []float64{10, 11, 12, 30, 31, 32, 50, 51, 52.2, 70, 71, 72} {
		fabrics = append(fabrics, Fabric{ID: strconv.Itoa(i + 1), Photo: "a", Cloth: cloth.Cloth{Lightness: l, Apart: 1}})
	}
	fabrics = append(fabrics, Fabric{ID: "13", Photo: "a", Cloth: cloth.Cloth{Lightness: 40, Apart: 1}, Doubtful: true})
	s := Sort(fabrics, 3)
	assert.Equal(t, []float64{41, 21}, s.Cuts)
	assert.Equal(t, []float64{61.1, 41}, s.OtherCuts)
	assert.Len(t, s.Otherwise(), 6)
	// Of cloths that cannot be compared nothing is told.
	fabrics[4].Group = 7
	assert.Nil(t, Sort(fabrics, 3).OtherCuts)
	fabrics[4].Group = 0
	for i := range fabrics {
		fabrics[i].Apart = .001
	}
	s = Sort(fabrics, 3)
	assert.Nil(t, s.OtherCuts)
	assert.Empty(t, s.Otherwise())
	// In several photos, each with a level of its own, that is in doubt as well.
	for i := range fabrics {
		fabrics[i].Photo, fabrics[i].Uncertainty = strconv.Itoa(i), 1
	}
	assert.Equal(t, []float64{61.1, 41}, Sort(fabrics, 3).OtherCuts)
}

// Cloths of which no two stand on one footing, and a single one, have neither order
// nor piles, whatever they had before.
func TestWhatCannotBeComparedHasNoPiles(t *testing.T) {
	fabrics := []Fabric{{ID: "1", Group: 1, Cloth: cloth.Cloth{Lightness: 80, Uncertainty: 1}}, {ID: "2", Group: 2, Cloth: cloth.Cloth{Lightness: 20, Uncertainty: 1}},
		{ID: "3", Group: 2, Doubtful: true, Cloth: cloth.Cloth{Lightness: 90}}}
	require.False(t, Comparable(fabrics))
	s := Sort(fabrics, 3)
	assert.Equal(t, fabrics, s.Fabrics)
	assert.Zero(t, s.Piles)
	assert.Nil(t, s.Cuts)
	fabrics[1].Group = 1
	s = Sort(fabrics, 3)
	assert.Equal(t, []string{"1"}, s.Piles.Light)
	require.NotNil(t, s.Fabrics[0].Swing)
	s.Fabrics[1].Group = 2
	assert.Equal(t, "", string(Sort(s.Fabrics, 3).Fabrics[0].Pile))
	assert.False(t, Comparable(fabrics[:1]))
}
