package light

import (
	"image"
	"testing"

	"github.com/stretchr/testify/require"

	"greige/analyze/camera"
	"greige/colorspace"
)

// Beside a card the doubt of the camera's curve is small, and it grows with the
// distance from the card's lightness; a second card takes most of it away.
func TestDoubtGrowsAwayFromTheCard(t *testing.T) {
	pieces := table()
	pieces[0].lab, pieces[1].lab = colorspace.Lab{L: 95}, colorspace.Lab{L: 50}
	place := func(s square) Card {
		return Card{Place: rectOf(s, 2), Lightness: s.lab.L}
	}
	p := shot(lay(pieces, on(colorspace.Lab{L: 60, A: 20, B: 30})), bulb(1.5, colorspace.Linear{.6, .6, .6}))
	scale := func(e *Even, l float64) float64 {
		y := colorspace.LuminanceOf(l)
		d, _ := e.Doubt(image.Rect(40, 30, 110, 100), colorspace.Linear{y, y, y}, 0, 0)
		return d.Scale()
	}
	usual := camera.Usual(UnknownLevel)
	white := evened(t, p, Options{Camera: usual, Cards: []Card{place(pieces[0])}}, ScrapsOnGround)
	both := evened(t, p, Options{Camera: usual, Cards: []Card{place(pieces[1]), place(pieces[0])}}, ScrapsOnGround)
	require.Equal(t, 1, white.References())
	require.Equal(t, 2, both.References())
	require.Less(t, scale(white, 93), scale(white, 75))
	require.Less(t, scale(white, 75), scale(white, 50))
	require.Less(t, scale(both, 50), .6*scale(white, 50))
	for _, e := range []*Even{white, both} {
		got := e.glance(image.Rect(pieces[0].x0, pieces[0].y0, pieces[0].x1, pieces[0].y1))
		require.InDelta(t, 95, got.Lab().L, 1)
	}
	dark := both.glance(image.Rect(pieces[1].x0, pieces[1].y0, pieces[1].x1, pieces[1].y1))
	require.InDelta(t, 50, dark.Lab().L, 1.5) // the second card is believed as far as its own noise goes
	nothing := evened(t, p, Options{Camera: usual}, ScrapsOnGround)
	require.Greater(t, scale(nothing, 50), 1.5*scale(white, 50))
}

// Cards that contradict each other, or lie where the photo is not plain, are
// refused with what to do.
func TestCardsThatCannotBeAreRefused(t *testing.T) {
	pieces := table()
	pieces[0].lab, pieces[1].lab = colorspace.Lab{L: 95}, colorspace.Lab{L: 50}
	p := shot(lay(pieces, on(colorspace.Lab{L: 60, A: 20, B: 30})), bulb(1.2, colorspace.Linear{.6, .6, .6}))
	_, err := New(p, Options{Cards: []Card{{Place: rectOf(pieces[1], 2), Lightness: 95}, {Place: rectOf(pieces[0], 2), Lightness: 50}}}, Unknown)
	require.ErrorContains(t, err, "contradict")
	both := rectOf(pieces[0], 2).Union(rectOf(pieces[1], 2))
	_, err = New(p, Options{Cards: []Card{{Place: both}}}, Unknown)
	require.ErrorContains(t, err, "not plain")
}
