package analyze

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"greige/analyze/photo"
	"greige/colorspace"
)

// drawnPhoto is a photo of stripes of these colours.
func drawnPhoto(w, h int, colours ...colorspace.Lab) *photo.Photo {
	p := &photo.Photo{Width: w, Height: h, Format: "JPEG", Picture: photo.New(w, h)}
	for y := range h {
		for x := range w {
			c := colours[x*len(colours)/w].Linear()
			f := 1 + .02*math.Sin(float64(x*3+y*5))
			for k := range c {
				p.Picture.Pix[3*(y*w+x)+k] = float32(c[k] * f)
			}
		}
	}
	return p
}

// Each photo that is not of the kind that can be measured gets the sentence
// that helps, and an ordinary one gets none.
func TestNatureOfAPhoto(t *testing.T) {
	grey := func(l float64) colorspace.Lab { return colorspace.Lab{L: l} }
	red := colorspace.Lab{L: 45, A: 50, B: 25}
	require.Empty(t, nature(drawnPhoto(160, 120, grey(90), red, grey(20)), false))
	require.Empty(t, nature(drawnPhoto(160, 120, red), false), "one cloth")
	bw := drawnPhoto(160, 120, grey(90), grey(50), grey(20))
	for i := 0; i < len(bw.Picture.Pix); i += 3 { // exactly grey, as a grey file is
		bw.Picture.Pix[i+1], bw.Picture.Pix[i+2] = bw.Picture.Pix[i], bw.Picture.Pix[i]
	}
	for says, p := range map[string]*photo.Photo{
		"black and white":     bw,
		"very dark":           drawnPhoto(160, 120, colorspace.Lab{L: 15, A: 8}, colorspace.Lab{L: 8}, colorspace.Lab{L: 20, B: 9}),
		"picture of a screen": func() *photo.Photo { p := drawnPhoto(90, 195, grey(90), red); p.Format = "PNG"; return p }(),
	} {
		n := nature(p, false)
		require.Len(t, n, 1, says)
		require.True(t, strings.Contains(n[0], says), n[0])
	}
	require.Empty(t, nature(drawnPhoto(160, 120, colorspace.Lab{L: 15, A: 8}), true), "with a card a dark cloth may fill the photo")
}
