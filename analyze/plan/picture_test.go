package plan

import (
	"image"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"greige/analyze/photo"
	"greige/colorspace"
)

// The texture leaves out what is no cloth, and its mean is the cloth's measured colour.
func TestTextureIsClearOfCards(t *testing.T) {
	p := photo.New(400, 300)
	card := image.Rect(330, 100, 385, 190)
	for y := range 300 {
		for x := range 400 {
			c := [3]float32{.42, .36, .22}
			if image.Pt(x, y).In(card) {
				c = [3]float32{.85, .85, .85}
			}
			copy(p.Pix[3*(y*400+x):], c[:])
		}
	}
	lab := colorspace.Lab{L: 70, A: 4, B: 20}
	tex := CutTexture(p, [][2]float64{{0, 0}, {400, 0}, {400, 300}, {0, 300}}, []image.Rectangle{card}, lab, .1)
	require.NotNil(t, tex)
	require.Greater(t, tex.W*tex.H, 400*300/3)
	for i := range tex.W * tex.H {
		got := tex.At(i%tex.W, i/tex.W).Lab()
		if math.Abs(got.L-lab.L)+math.Abs(got.A-lab.A)+math.Abs(got.B-lab.B) > .1 {
			require.Equal(t, lab, got)
		}
	}
	require.Nil(t, CutTexture(photo.New(50, 50), [][2]float64{{1, 1}, {3, 1}, {3, 3}}, nil, colorspace.Lab{L: 50}, .1))
	require.Nil(t, CutTexture(photo.New(50, 50), nil, nil, colorspace.Lab{L: 50}, .1))
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
