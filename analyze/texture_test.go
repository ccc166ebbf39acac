package analyze

import (
	"testing"

	"github.com/stretchr/testify/require"

	"greige/analyze/light"
	"greige/analyze/photo"
	"greige/analyze/scene"
)

// A photo of one cloth under a lamp from the side, with a sheet of paper on it that
// nobody told of: the texture that a plan shows has neither, and its mean is the
// cloth's measured colour.
func TestTextureIsClearOfPaperAndLamp(t *testing.T) {
	for seed := range uint64(4) {
		c := scene.AnyCloseups(seed+1, 1, true)[0]
		c.Light.Lamp, c.Light.Ratio = scene.Bulb, 1.6
		s, err := c.Shoot()
		require.NoError(t, err)
		p, err := photo.Read(t.Context(), photo.SourceOf("cloth.jpg", s.Data), photo.Limits{})
		require.NoError(t, err)
		w, h := float64(p.Width), float64(p.Height)
		cloths := []PlanCloth{{Path: "cloth.jpg", WidthCM: c.WidthCM}}
		cloths[0].Outline = [][2]float64{{0, 0}, {w, 0}, {w, h}, {0, h}}
		cloths[0].Fabric.Cloth.Lab = s.Truth.Pieces[0].Lab
		opt := PlanOptions{}
		require.Equal(t, light.OneCloth, opt.shown(cloths, "cloth.jpg"))
		even, err := light.New(p, light.Options{}, light.OneCloth)
		require.NoError(t, err)
		tex := opt.lookAtCloth(even, cloths, 0).texture
		require.NotNil(t, tex)
		require.Greater(t, tex.W*tex.H, p.Width*p.Height/3/p.Reduction/p.Reduction)
		want := cloths[0].Lab
		require.InDelta(t, want.L, tex.Resample(1, 1).At(0, 0).Lab().L, .1)
		sides := tex.Resample(2, 1)
		require.InDelta(t, sides.At(0, 0).Lab().L, sides.At(1, 0).Lab().L, 3, "%s, seed %d: half by half it is alike", c.Cloth.Pattern, seed)
	}
}
