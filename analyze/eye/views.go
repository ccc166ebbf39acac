package eye

import (
	"bytes"
	"image"
	"image/jpeg"

	"greige/analyze/photo"
	"greige/colorspace"
)

// squinting is how many times farther away a top seems through half closed
// eyes: fine detail goes first, as with an acuity of a fifth (common practice,
// no source).
const squinting = 5

// pageQuality is the JPEG quality of the page's pictures.
const pageQuality = 84

// NewViews makes the views of p, which should be no larger than the page
// shows it. pixelsPerDegree is p's at the run's distance. cuts are the
// lightnesses, L* from the lighter to the darker, at which the few-value view
// changes grey; with none that view is not made.
func NewViews(p *photo.Picture, pixelsPerDegree float64, cuts []float64) Views {
	squinted := Blur(p, nil, pixelsPerDegree/squinting)
	v := Views{
		W: p.W, H: p.H,
		Colour: encode(p.RGBA()),
		Grey:   encode(p.Grey()),
		Squint: encode(squinted.Grey()),
	}
	if len(cuts) > 0 {
		v.Values = encode(fewValues(squinted, cuts))
	}
	return v
}

// fewValues is p in len(cuts)+1 greys, evenly spaced from L* 92 to 18.
func fewValues(p *photo.Picture, cuts []float64) *image.Gray {
	w := colorspace.LuminanceWeights()
	luminance := make([]float32, len(cuts))
	for i, l := range cuts {
		luminance[i] = float32(colorspace.LuminanceOf(l))
	}
	grey := make([]uint8, len(cuts)+1)
	for i := range grey {
		l := 92 - float64(i)*(92-18)/float64(len(cuts))
		grey[i] = colorspace.Encode8(float32(colorspace.LuminanceOf(l)))
	}
	img := image.NewGray(image.Rect(0, 0, p.W, p.H))
	for i := range img.Pix {
		y := float32(w[0])*p.Pix[3*i] + float32(w[1])*p.Pix[3*i+1] + float32(w[2])*p.Pix[3*i+2]
		step := 0
		for step < len(luminance) && y < luminance[step] {
			step++
		}
		img.Pix[i] = grey[step]
	}
	return img
}

func encode(img image.Image) []byte {
	var b bytes.Buffer
	// Encoding into memory fails only for pictures over 65,535 pixels a side.
	_ = jpeg.Encode(&b, img, &jpeg.Options{Quality: pageQuality})
	return b.Bytes()
}
