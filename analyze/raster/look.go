package raster

import "image"

// Look is shown the picture of each stage of a search as it is reached, for whoever
// wants to see where a wrong answer comes from. A nil Look is blind: nothing is drawn.
type Look func(stage string, picture image.Image)

// At shows what draw draws, if anyone looks.
func (l Look) At(stage string, draw func() image.Image) {
	if l != nil {
		l(stage, draw())
	}
}

// Heat draws values of a w x h field, row by row, as grey: least is black, most white.
// It panics where there are not w*h values.
func Heat[T float32 | float64](values []T, w, h int, least, most T) *image.Gray {
	if len(values) != w*h {
		panic("raster: Heat: the values are not those of a field of this size")
	}
	g := image.NewGray(image.Rect(0, 0, w, h))
	for i, v := range values {
		g.Pix[i] = uint8(255 * min(max(float64(v-least)/float64(most-least), 0), 1))
	}
	return g
}
