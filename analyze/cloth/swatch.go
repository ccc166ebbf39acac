package cloth

import (
	"bytes"
	"image"
	"image/jpeg"

	"greige/analyze/photo"
)

// swatchSide is the longest side of a swatch, in pixels: twice what the page
// shows, for fine screens.
const swatchSide = 176

// beside is what of a piece's bounds its swatch shows: the largest part beside
// each card that lies on it.
func beside(b image.Rectangle, cards []image.Rectangle) image.Rectangle {
	for _, card := range cards {
		card = card.Intersect(b)
		if card.Empty() {
			continue
		}
		best := image.Rectangle{}
		for _, part := range []image.Rectangle{
			{b.Min, image.Pt(card.Min.X, b.Max.Y)}, {image.Pt(card.Max.X, b.Min.Y), b.Max},
			{b.Min, image.Pt(b.Max.X, card.Min.Y)}, {image.Pt(b.Min.X, card.Max.Y), b.Max},
		} {
			if part.Dx()*part.Dy() > best.Dx()*best.Dy() {
				best = part
			}
		}
		if !best.Empty() {
			b = best
		}
	}
	return b
}

// NewSwatch is a small picture of a piece, in colour and in grey by CIE Y, at
// most maxSide pixels long. weight is as in eye.Shrink.
func NewSwatch(p *photo.Picture, weight []float32, maxSide int) *Swatch {
	p, _ = shrinkWithin(p, weight, maxSide)
	return &Swatch{W: p.W, H: p.H, Colour: jpegOf(p.RGBA()), Grey: jpegOf(p.Grey())}
}

func jpegOf(img image.Image) []byte {
	var b bytes.Buffer
	// Encoding into memory fails only for pictures over 65,535 pixels a side.
	_ = jpeg.Encode(&b, img, &jpeg.Options{Quality: 86})
	return bytes.Clone(b.Bytes()) // a thousand swatches are kept: without the room that the buffer has to spare
}

// CutOut is a small picture of what an outline, in pixels of p, holds, with its
// shape; nil where that is nothing.
func CutOut(p *photo.Picture, outline [][2]float64) *Swatch {
	r := Polygon(outline, p.W, p.H)
	if r.Bounds.Empty() {
		return nil
	}
	s := NewSwatch(p.Crop(r.Bounds), nil, swatchSide)
	s.Shape = r.Shape(outline, nil)
	return s
}
