package analyze

import (
	"context"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"greige/analyze/scene"
	"greige/colorspace"
)

// A small picture of a large top is never read for sure: it is said that smaller
// patches may be in it.
func TestThumbnailOfALargeTop(t *testing.T) {
	dir := t.TempDir()
	cloths := []scene.Cloth{scene.NewCloth("light", scene.Solid, colorspace.Lab{L: 86, B: 10}), scene.NewCloth("dark", scene.Solid, colorspace.Lab{L: 28, B: -20})}
	s, err := scene.Top{
		Take:   scene.Take{Name: "thumb.jpg", Seed: 29, Width: 200, Height: 200, Light: scene.Light{Lamp: scene.Window, Ratio: 1.3}, Camera: scene.Phone()},
		Plan:   scene.Design{Seed: 6, Repeat: scene.NinePatch, Rows: 15, Cols: 15, Lights: []int{0}, Darks: []int{1}}.Plan(),
		Cloths: cloths, Margin: .06, Ground: scene.Backdrop{Ground: scene.Flannel}, Wobble: .04,
	}.Shoot()
	require.NoError(t, err)
	require.NoError(t, scene.Write(dir, s))
	r, err := Layout(context.Background(), filepath.Join(dir, s.Name), LayoutOptions{})
	if err != nil { // no patches were found, which is as good
		return
	}
	require.False(t, r.Layout.GridFound)
	require.True(t, slices.ContainsFunc(r.Notes, func(n string) bool { return strings.Contains(n, "only 200 by 200 pixels") }), r.Notes)
}
