package analyze

import (
	"context"
	"math"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"greige/analyze/camera"
	"greige/analyze/light"
	"greige/analyze/photo"
	"greige/analyze/scene"
	"greige/colorspace"
)

// Single cloths under a bulb, by one camera whose white balance was held at
// daylight: together they tell the bulb's colour, so that strong colours do
// not come out lighter or darker than they are. What remains in common is the
// level, which no record tells.
func TestSetUnderOneBulb(t *testing.T) {
	colours := []colorspace.Lab{
		{L: 62, A: 30, B: 22}, {L: 45, A: -22, B: 14}, {L: 38, A: 6, B: -34}, {L: 76, A: 2, B: 36}, {L: 88, A: 0, B: 4},
		{L: 30, A: 28, B: -8}, {L: 58, A: -20, B: -14}, {L: 24, A: 1, B: -2},
	}
	sort := func(held bool) ([]float64, *Result) {
		dir := t.TempDir()
		for i, lab := range colours {
			phone := scene.Phone()
			phone.Tone, phone.FixedWhite = 0, held
			s, err := scene.Closeup{
				Take:  scene.Take{Name: string(rune('a'+i)) + ".jpg", Seed: uint64(i + 1), Width: 320, Light: scene.Light{Lamp: scene.Bulb, Ratio: 1.3, Kelvin: 2856}, Camera: phone},
				Cloth: scene.NewCloth("plain", scene.Solid, lab), WidthCM: 20,
			}.Shoot()
			require.NoError(t, err)
			require.NoError(t, scene.Write(dir, s))
		}
		r, err := Sort(context.Background(), []string{filepath.Clean(dir)}, SortOptions{Settings: exactly(), Piles: 3, Scraps: ScrapsOne})
		require.NoError(t, err)
		require.Len(t, r.Sort.Fabrics, len(colours))
		level := 0.0
		for i, f := range r.Sort.Fabrics {
			level += math.Log(colorspace.LuminanceOf(f.Lightness)/colorspace.LuminanceOf(colours[i].L)) / float64(len(colours))
		}
		var miss []float64
		for i, f := range r.Sort.Fabrics {
			miss = append(miss, math.Abs(colorspace.Lightness(colorspace.LuminanceOf(f.Lightness)*math.Exp(-level))-colours[i].L))
		}
		return miss, r
	}
	worst := func(v []float64) (w float64) {
		for _, x := range v {
			w = max(w, x)
		}
		return w
	}
	without, auto := sort(false)
	require.Greater(t, worst(without), 2.5) // or there would be nothing to show
	require.NotContains(t, auto.Light[0].Note, "under a lamp of another colour")
	with, r := sort(true)
	require.Less(t, worst(with), .4*worst(without))
	for i, f := range r.Sort.Fabrics {
		require.LessOrEqual(t, with[i], f.Apart, "cloth %d", i)
		// The blue is the least sure: what white shows of a bulb does not say how
		// it mixes strong colours.
		require.Less(t, f.Apart, 1.96*2.6)
		require.Contains(t, r.Light[i].Note, "all eight cloths together look as under a lamp of another colour")
		require.Greater(t, r.Light[i].Cast[0], 1.3)
		require.Less(t, r.Light[i].Cast[2], .5)
		require.InDelta(t, f.Lab.L, f.Lightness, 1e-9)
		// The colour comes right with the lightness.
		require.Less(t, math.Hypot(f.Lab.A-colours[i].A, f.Lab.B-colours[i].B), 12.)
	}
}

// A few large scraps whose shadows meet look like one thing, and what they lie
// on might be the ground of a print. Once the pieces are found it is the sheet
// that they lie on, and tells the level.
func TestFoundPiecesMakeTheGroundASheet(t *testing.T) {
	table := scene.AnyTable(334)
	table.Width = 800
	s, err := table.Shoot()
	require.NoError(t, err)
	dir := t.TempDir()
	require.NoError(t, scene.Write(dir, s))
	paths, opt := []string{filepath.Join(dir, s.Name)}, SortOptions{Settings: exactly(), Piles: 3, Scraps: ScrapsAuto}
	r, err := Sort(context.Background(), paths, opt)
	require.NoError(t, err)
	require.Equal(t, "sheet", r.Light[0].Method)
	require.Len(t, r.Sort.Fabrics, len(s.Truth.Pieces))
	for i, f := range r.Sort.Fabrics {
		require.Less(t, f.Uncertainty, 5., i)
		require.Nil(t, f.Swatch, "the page shows it in its photo")
	}
	require.NotEmpty(t, r.Sights[0].Colour)
	// A top's page does not show the stash's photos.
	stash, err := opt.stash(context.Background(), paths, "", &Result{})
	require.NoError(t, err)
	for _, f := range stash {
		require.NotNil(t, f.Swatch)
		require.NotEmpty(t, f.Swatch.Shape)
	}
}

// Among many photos each is shown too coarsely to cut cloths out of.
func TestPhotosThatShowCloths(t *testing.T) {
	p := photo.New(1000, 750)
	require.True(t, fineAt(p, sideAmong(1)))
	require.False(t, fineAt(p, sideAmong(50)))
}

func TestOtherPilesInWords(t *testing.T) {
	require.Equal(t, "Other piles would be about as natural: lights down to a lightness of 61 and darks from 41 down; then numbers 3, 9, 12, 4, 8 and two more would lie in another pile. Look at them and go by your eye.",
		otherPiles([]float64{61.1, 41}, []string{"3", "9", "12", "4", "8", "7", "1"}))
	require.Equal(t, "Other piles would be about as natural: lights down to a lightness of 50; then numbers 3, 9, 12 and 4 would lie in another pile. Look at them and go by your eye.",
		otherPiles([]float64{50.4}, []string{"3", "9", "12", "4"}))
}

// exactly are settings for scenes whose camera bends nothing: what these tests are
// about is not to be hidden by what cameras do.
func exactly() Settings {
	return Settings{Distance: 2.5, Light: light.Options{Camera: camera.Exact(.46)}}
}
