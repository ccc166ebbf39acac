package light

import (
	"image"
	"testing"

	"github.com/stretchr/testify/require"

	"greige/analyze/photo"
	"greige/colorspace"
)

// plain is a picture of w x h pixels that at fills.
func plain(w, h int, at func(x, y int) colorspace.Linear) *photo.Photo {
	pic := photo.New(w, h)
	for y := range h {
		for x := range w {
			for k, v := range at(x, y) {
				pic.Pix[3*(y*w+x)+k] = float32(v)
			}
		}
	}
	return &photo.Photo{Name: "test.png", Width: 2 * w, Height: 2 * h, Picture: pic, Reduction: 2}
}

// L* of the 24-patch chart's grey number 22 (2005 values, published.md) seen
// beside a white card under illuminant A (CIE 15:2018) and half the exposure.
func TestCardGivesLevelAndCast(t *testing.T) {
	warm := colorspace.XYZ{X: 1.0985, Y: 1, Z: .35585}.Linear()
	p := plain(60, 40, func(x, y int) colorspace.Linear {
		y0 := colorspace.LuminanceOf(50.87)
		if x < 15 && y < 15 {
			y0 = colorspace.LuminanceOf(95)
		}
		return colorspace.Linear{y0 * warm[0] / 2, y0 * warm[1] / 2, y0 * warm[2] / 2}
	})
	e, err := New(p, Options{Camera: Straight, Cards: []Card{{Place: image.Rect(0, 0, 30, 30)}}}, Unknown)
	require.NoError(t, err)
	lab := e.Picture.At(40, 20).Lab()
	require.InDelta(t, 50.87, lab.L, .01)
	require.InDelta(t, 0, lab.Chroma(), .01)
	require.True(t, e.LevelKnown)
	require.Contains(t, e.Record.Method, "card")
	require.InDelta(t, 1, colorspace.Linear(e.Record.Cast).Y(), 1e-9)
	require.True(t, image.Rect(0, 0, 16, 16).In(e.Ignore[0]))
}

func TestCardOutsideThePhotoIsAnError(t *testing.T) {
	p := plain(10, 10, func(x, y int) colorspace.Linear { return colorspace.Linear{.5, .5, .5} })
	for _, card := range []image.Rectangle{image.Rect(30, 0, 40, 10), image.Rect(-8, -8, 4, 4), image.Rect(0, 19, 5, 30)} {
		_, err := New(p, Options{Camera: Straight, Cards: []Card{{Place: card}}}, Unknown)
		require.ErrorContains(t, err, "outside the photo")
	}
	for _, l := range []float64{-1, 101} {
		_, err := New(p, Options{Camera: Straight, CardLightness: l}, Unknown)
		require.ErrorContains(t, err, "lightness")
	}
	_, err := New(nil, Options{}, Unknown)
	require.Error(t, err)
}

func TestClippedCardIsSaid(t *testing.T) {
	p := plain(20, 20, func(x, y int) colorspace.Linear { return colorspace.Linear{1, 1, 1} })
	p.Picture.Bright = make([]uint8, 400)
	for i := range p.Picture.Bright {
		p.Picture.Bright[i] = 255
	}
	e, err := New(p, Options{Camera: Straight, Cards: []Card{{Place: image.Rect(0, 0, 20, 20)}}}, Unknown)
	require.NoError(t, err)
	require.False(t, e.LevelKnown)
	require.Same(t, p.Picture, e.Picture)
	require.Contains(t, e.Record.Note, "too bright")
	require.Equal(t, 1.0, e.Record.Clipped)
}

func TestNoneLeavesThePhotoAlone(t *testing.T) {
	p := plain(20, 20, func(x, y int) colorspace.Linear { return colorspace.Linear{.5, .4, .3} })
	e, err := New(p, Options{Camera: Straight, Mode: None, Cards: []Card{{Place: image.Rect(0, 0, 10, 10)}}}, Unknown)
	require.NoError(t, err)
	require.Same(t, p.Picture, e.Picture)
	require.Equal(t, "none", e.Record.Method)
	require.Len(t, e.Ignore, 1)
}
