package piles

import (
	"testing"

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
		{"one photo, nearly alike", of("a.jpg", 1, 60), of("a.jpg", 1, 59), true},
		{"photos on one footing", of("a.jpg", 1, 60), of("b.jpg", 1, 55), false},
		{"photos on two footings", of("a.jpg", 1, 60), of("b.jpg", 2, 55), true},
		{"photos with a card each", of("a.jpg", 0, 60), of("b.jpg", 0, 55), true},
	} {
		require.Equal(t, c.tied, tied(&c.a, &c.b), c.name)
		require.Equal(t, c.tied, tied(&c.b, &c.a), c.name)
	}
}
