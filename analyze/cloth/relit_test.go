package cloth

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"greige/analyze/photo"
)

// To multiply the light after measuring is the same as to multiply every pixel
// before it: means of linear light are linear.
func TestRelit(t *testing.T) {
	gain := [3]float64{.6, 1.1, 2.4}
	p := painted(96, 64, func(x, y int) float64 { return .2 + .3*float64((x/8+y/8)%2) })
	q := p.Crop(Whole(p.W, p.H).Bounds)
	for i := range q.Pix {
		q.Pix[i] *= float32(gain[i%3])
	}
	// What is not known of the light's colour is another matter, and left out.
	of := func(p *photo.Picture) Cloth {
		e, ok := evenOf(t, p).WithoutCast()
		require.True(t, ok)
		c, measured := Measure(e, Whole(p.W, p.H), View{PixelsPerDegree: 300})
		require.True(t, measured)
		return c
	}
	before := of(p)
	want, got := of(q), before.Relit(gain, 0)
	assert.InDelta(t, want.Lab.L, got.Lab.L, 1e-3)
	assert.InDelta(t, want.Lab.A, got.Lab.A, 1e-3)
	assert.InDelta(t, want.Lab.B, got.Lab.B, 1e-3)
	assert.Equal(t, got.Lab.L, got.Lightness)
	assert.InDelta(t, want.MunsellValue, got.MunsellValue, 1e-3)
	assert.InDelta(t, want.LooksLike, got.LooksLike, 1e-3)
	assert.Equal(t, want.Name, got.Name)
	assert.Equal(t, want.Temperature, got.Temperature)
	assert.InDelta(t, want.Spread, got.Spread, .05*want.Spread+.05)
	assert.InDelta(t, want.Apart, got.Apart, .02)
	require.Len(t, got.Colours, len(want.Colours))
	for i := range want.Colours {
		assert.InDelta(t, want.Colours[i].Lab.L, got.Colours[i].Lab.L, .5)
		assert.Equal(t, want.Colours[i].Share, got.Colours[i].Share)
	}
	require.NotNil(t, got.Swatch)
	assert.NotEqual(t, before.Swatch.Colour, got.Swatch.Colour)
	assert.Equal(t, want.Swatch.W, got.Swatch.W)

	// A doubt of the light is added to the cloth's own, as independent of it.
	doubted := before.Relit([3]float64{1, 1, 1}, .03)
	assert.Equal(t, before.Lab, doubted.Lab)
	assert.Equal(t, before.Swatch, doubted.Swatch)
	y := before.Lab.Linear().Y()
	assert.InDelta(t, sq(before.Apart)+sq(1.96*.03*lightnessPerShare(y)), sq(doubted.Apart), 1e-9)
	assert.Greater(t, doubted.Uncertainty, before.Uncertainty)
}
