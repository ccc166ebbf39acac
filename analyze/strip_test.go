package analyze

import (
	"bytes"
	"image"
	_ "image/jpeg"
	_ "image/png"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"greige/analyze/photo"
)

// The print of the mock-up is whole and straight: of a print that lies aslant,
// with a card on it, the stripe along its middle comes out level, from edge to
// edge, and the card does not show.
func TestPrintOfTheMockUpIsWholeAndStraight(t *testing.T) {
	const w, h, tilt = 400, 300, .09
	p := photo.New(w, h)
	inside := make([]bool, w*h)
	sin, cos := math.Sincos(tilt)
	for y := range h {
		for x := range w {
			dx, dy := float64(x-w/2), float64(y-h/2)
			u, v := dx*cos+dy*sin, dy*cos-dx*sin
			if math.Abs(u) > 180 || math.Abs(v) > 50 {
				continue
			}
			card := u > 90 && u < 130 && v > -50 && v < 0
			inside[y*w+x] = !card
			c := float32(.1)
			switch {
			case card:
				c = 1
			case math.Abs(v) < 6:
				c = .6
			}
			for k := range 3 {
				p.Pix[3*(y*w+x)+k] = c
			}
		}
	}
	s := printStrip(p, inside)
	require.NotNil(t, s)
	require.InDelta(t, 360*.75/100., float64(s.W)/float64(s.H), .25, "what lies left of the card, in its full height")
	img, _, err := image.Decode(bytes.NewReader(s.Colour))
	require.NoError(t, err)
	middle := func(x int) (sum float64) {
		n := 0.
		for y := range s.H {
			r, _, _, _ := img.At(x, y).RGBA()
			require.Less(t, r>>8, uint32(235), "no card")
			if r>>8 > 150 {
				sum, n = sum+float64(y), n+1
			}
		}
		require.Positive(t, n)
		return sum / n
	}
	require.InDelta(t, middle(s.W/10), middle(s.W*9/10), 2.5, "level")
	require.InDelta(t, float64(s.H)/2, middle(s.W/2), .06*float64(s.H), "as much above as below")
}
