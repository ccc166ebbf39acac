package analyze

import (
	"cmp"
	"context"
	"math"
	"path/filepath"
	"slices"
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
		opt := SortOptions{Settings: exactly(), Piles: 2, Scraps: kind}
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

// Pieces so small that hardly anything is left of them in the picture that
// pieces are looked for in are looked at closer: none is missed, and each has
// its own lightness.
func TestSmallPiecesAreLookedAtCloser(t *testing.T) {
	const cols, rows = 12, 9
	table := scene.Table{
		Take:   scene.Take{Name: "small.jpg", Seed: 7, Width: 2000, Light: scene.Light{Lamp: scene.Window, Ratio: 1.3}, Camera: scene.Phone().Exact()},
		Cloths: scene.AnyCloths(8, cols*rows),
	}
	for i := range table.Cloths {
		table.Scraps = append(table.Scraps, scene.Scrap{
			Cloth: i, Cut: scene.Square, W: 1.3, H: 1.1, Angle: float64(i * 37 % 180),
			X: (float64(i%cols) + .5) / cols * .96, Y: (float64(i/cols) + .5) / rows * .96,
		})
	}
	s, err := table.Shoot()
	require.NoError(t, err)
	dir := t.TempDir()
	require.NoError(t, scene.Write(dir, s))
	r, err := Sort(context.Background(), []string{filepath.Join(dir, s.Name)}, SortOptions{Settings: exactly(), Piles: 3})
	require.NoError(t, err)
	near, off := 0, 0.
	for _, p := range s.Truth.Pieces {
		for _, f := range r.Sort.Fabrics {
			if a, b := middle(p.Outline), middle(f.Outline); math.Hypot(a[0]-b[0], a[1]-b[1]) < 5 {
				near++
				off += math.Abs(f.Lightness - colorspace.Lightness(p.Reflectance.Y()))
			}
		}
	}
	require.GreaterOrEqual(t, near, cols*rows-1)
	require.Less(t, off/float64(near), .9, "1.15 where they are looked at once; the camera is exact, as this is about what is left of small pieces")
}

// middle is that of the box round an outline.
func middle(outline [][2]float64) (m [2]float64) {
	for k := range m {
		by := func(a, b [2]float64) int { return cmp.Compare(a[k], b[k]) }
		m[k] = (slices.MinFunc(outline, by)[k] + slices.MaxFunc(outline, by)[k]) / 2
	}
	return m
}
