package analyze

import (
	"context"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"greige/analyze/scene"
	"greige/colorspace"
)

// A photo that is known to show one cloth is reduced by more than one in which
// pieces may lie, and tells the same: less apart than the eye can see, and the
// same inks.
func TestOneClothIsTheSameReducedByMore(t *testing.T) {
	dir := t.TempDir()
	s, err := scene.Closeup{
		Take:  scene.Take{Name: "one.jpg", Seed: 5, Width: 2800, Light: scene.Light{Lamp: scene.Window, Ratio: 1.4}, Camera: scene.Phone()},
		Cloth: scene.NewCloth("sprigs", scene.Sprigs, colorspace.Lab{L: 40, A: 10, B: -24}, scene.Ink{Lab: colorspace.Lab{L: 84, A: 2, B: 12}, Share: .2}),
	}.Shoot()
	require.NoError(t, err)
	require.NoError(t, scene.Write(dir, s))
	sort := func(kind ScrapsMode) *Result {
		opt := SortOptions{Settings: Settings{Distance: 2.5}, Piles: 2, Scraps: kind}
		r, err := Sort(context.Background(), []string{filepath.Join(dir, s.Name)}, opt)
		require.NoError(t, err)
		require.Len(t, r.Sort.Fabrics, 1)
		return r
	}
	one, full := sort(ScrapsOne).Sort.Fabrics[0], sort(ScrapsAuto).Sort.Fabrics[0]
	require.InDelta(t, full.Lightness, one.Lightness, .2)
	require.InDelta(t, full.Spread, one.Spread, .5)
	require.InDelta(t, full.Uncertainty, one.Uncertainty, .5)
	require.Equal(t, full.Character, one.Character)
	require.Equal(t, full.Outline, one.Outline)
	require.Len(t, one.Colours, len(full.Colours))
	for i := range full.Colours {
		require.Less(t, colorspace.CIEDE2000(full.Colours[i].Lab, one.Colours[i].Lab), 1.)
	}
}
