package raster

import (
	"image"
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestLookDrawsOnlyForWhoLooks(t *testing.T) {
	var seen []string
	Look(nil).At("ground", func() image.Image { t.Error("drawn for nobody"); return nil })
	Look(func(stage string, p image.Image) { seen = append(seen, stage) }).At("ground", func() image.Image { return image.NewGray(image.Rect(0, 0, 1, 1)) })
	assert.Equal(t, []string{"ground"}, seen)
}

func TestHeatRunsFromBlackToWhite(t *testing.T) {
	g := Heat([]float64{-1, 0, 5, 10, 20, 2.5}, 3, 2, 0, 10)
	assert.Equal(t, []uint8{0, 0, 127, 255, 255, 63}, g.Pix)
	assert.Panics(t, func() { Heat([]float64{1}, 2, 2, 0, 1) })
}
