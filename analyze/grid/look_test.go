package grid

import (
	"image"
	"image/color"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Every stage of a search is shown, in order, as large as the picture worked on, and
// with something drawn on it; and who looks changes nothing.
func TestLook(t *testing.T) {
	p := pictureOf(checked())
	blind, err := Find(p, Hints{})
	require.NoError(t, err)
	seen := map[string]image.Image{}
	var order []string
	looked, err := Find(p, Hints{Look: func(stage string, picture image.Image) {
		seen[stage] = picture
		order = append(order, stage)
	}})
	require.NoError(t, err)
	assert.Equal(t, blind.Corners, looked.Corners)
	assert.Equal(t, "outline", order[0])
	assert.Equal(t, "grid", order[len(order)-1])
	for stage, picture := range seen {
		assert.Equal(t, image.Rect(0, 0, p.W, p.H), picture.Bounds(), stage)
		coloured := 0
		for y := range p.H {
			for x := range p.W {
				if c := color.RGBAModel.Convert(picture.At(x, y)).(color.RGBA); c.R != c.G || c.G != c.B {
					coloured++
				}
			}
		}
		assert.Greater(t, coloured, p.W/4, stage)
	}
}
