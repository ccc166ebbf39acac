package plan

import (
	"image"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"greige/analyze/photo"
	"greige/colorspace"
)

// A photo of one cloth under a lamp from the side, with a card on it: the
// texture has neither, and its mean is the cloth's measured colour.
func TestTextureIsClearOfCardAndLamp(t *testing.T) {
	for name, print := range map[string]float64{"plain": 0, "dots": .5} {
		p := photo.New(400, 300)
		card := image.Rect(330, 100, 385, 190)
		for y := range 300 {
			for x := range 400 {
				c := [3]float64{.42, .36, .22}
				if print > 0 && math.Hypot(float64(x%12)-6, float64(y%12)-6) < 3 {
					c = [3]float64{c[0] * print, c[1] * print, c[2] * print}
				}
				if image.Pt(x, y).In(card) {
					c = [3]float64{.85, .85, .85}
				}
				lamp := .5 + .5*float64(x)/400 + .2*float64(y)/300
				for k := range 3 {
					p.Pix[3*(y*400+x)+k] = float32(c[k] * lamp)
				}
			}
		}
		lab := colorspace.Lab{L: 70, A: 4, B: 20}
		tex := CutTexture(p, [][2]float64{{0, 0}, {400, 0}, {400, 300}, {0, 300}}, lab, .1)
		require.NotNil(t, tex, name)
		require.Greater(t, tex.W*tex.H, 400*300/3, name)
		// Quarter by quarter it is alike, and of the cloth's colour.
		for q := range 4 {
			var mean colorspace.Linear
			n := 0.
			for y := q / 2 * tex.H / 2; y < (q/2+1)*tex.H/2; y++ {
				for x := q % 2 * tex.W / 2; x < (q%2+1)*tex.W/2; x++ {
					for k := range 3 {
						mean[k] += float64(tex.Pix[3*(y*tex.W+x)+k])
					}
					n++
				}
			}
			for k := range mean {
				mean[k] /= n
			}
			got := mean.Lab()
			require.InDelta(t, lab.L, got.L, 1, "%s, quarter %d", name, q)
			require.InDelta(t, lab.A, got.A, 1, "%s, quarter %d", name, q)
			require.InDelta(t, lab.B, got.B, 1, "%s, quarter %d", name, q)
		}
	}
	require.Nil(t, CutTexture(photo.New(50, 50), [][2]float64{{1, 1}, {3, 1}, {3, 3}}, colorspace.Lab{L: 50}, .1))
	require.Nil(t, CutTexture(photo.New(50, 50), nil, colorspace.Lab{L: 50}, .1))
}

func TestLargestRectangleInAMask(t *testing.T) {
	mask := []float32{
		0, 1, 1, 0, 0,
		1, 1, 1, 1, 1,
		1, 1, 1, 1, 1,
		0, 1, 1, 0, 0,
	}
	require.Equal(t, image.Rect(0, 1, 5, 3), largest(mask, 5, 4))
	require.Equal(t, image.Rect(0, 0, 7, 2), largest(nil, 7, 2))
	require.True(t, largest(make([]float32, 6), 3, 2).Empty())
}
