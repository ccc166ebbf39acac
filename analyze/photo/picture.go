package photo

import "greige/colorspace"

// Picture is a picture in linear light: sRGB primaries, D65, not clipped to
// the sRGB gamut. Pixel (x, y) has its components R, G, B at
// Pix[3*(y*W+x):], 1 = the white of the file.
type Picture struct {
	W, H int
	Pix  []float32 // 3*W*H
	// Dark and Bright say, pixel by pixel, which share of the source pixels
	// under it stood at the bottom or the top of the file's scale in at least
	// one component, 0..255 for 0..1. Nil when none did. The top also has what
	// was more than half clear and so laid on a white that is made up.
	Dark, Bright []uint8 // W*H or nil
}

// New returns a black picture of w x h pixels.
func New(w, h int) *Picture {
	return &Picture{W: w, H: h, Pix: make([]float32, 3*w*h)}
}

// At is the light of pixel (x, y), which must lie inside the picture.
func (p *Picture) At(x, y int) colorspace.Linear {
	i := 3 * (y*p.W + x)
	return colorspace.Linear{float64(p.Pix[i]), float64(p.Pix[i+1]), float64(p.Pix[i+2])}
}
