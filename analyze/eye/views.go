package eye

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"

	"greige/analyze/photo"
	"greige/colorspace"
)

// pageQuality is the JPEG quality of the page's pictures.
const pageQuality = 84

// NewViews makes the views of p but for Values. p should be no larger than
// the page shows it; pixelsPerDegree is p's at the run's distance.
func NewViews(p *photo.Picture, pixelsPerDegree float64) Views {
	var plain, squinted Views
	photo.Both(func() { plain = PlainViews(p) }, func() { squinted.AddSquint(p, pixelsPerDegree) })
	plain.PixelsPerDegree, plain.Squint = squinted.PixelsPerDegree, squinted.Squint
	return plain
}

// PlainViews makes the views of p for which nobody has to know how large it
// is to the eye: Colour and Grey. AddSquint makes up the rest of NewViews.
func PlainViews(p *photo.Picture) Views {
	v := Views{W: p.W, H: p.H}
	photo.Both(func() { v.Colour = Colour(p) }, func() { v.Grey = Grey(p) })
	return v
}

// Colour is p as a JPEG in sRGB.
func Colour(p *photo.Picture) []byte { return encode(p.RGBA()) }

// Grey is p as a JPEG in the grey of each pixel's CIE Y.
func Grey(p *photo.Picture) []byte { return encode(p.Grey()) }

// AddSquint sets v.Squint and v.PixelsPerDegree; the arguments are those of
// NewViews.
func (v *Views) AddSquint(p *photo.Picture, pixelsPerDegree float64) {
	v.PixelsPerDegree = pixelsPerDegree
	v.Squint = encode(Squint(p, pixelsPerDegree).Grey())
}

// The lightest and the darkest grey of a picture in few values, L*.
const lightestValue, darkestValue = 92, 18

// ValueGreys are the lightnesses, L*, of the greys of a picture in n values,
// from light to dark: evenly spaced from 92 to 18. n is 1 or more.
func ValueGreys(n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = lightestValue
		if n > 1 {
			out[i] -= float64(i) * (lightestValue - darkestValue) / float64(n-1)
		}
	}
	return out
}

// FewValues sets v.Values to what is left by squinting in len(cuts)+1 greys,
// those of ValueGreys. cuts are the lightnesses, L* from the lighter to the
// darker, at which the grey changes. The picture has the whole W x H, so that
// its edges are sharp. It does nothing without cuts or without v.Squint.
func (v *Views) FewValues(cuts []float64) error {
	if len(cuts) == 0 || len(v.Squint) == 0 {
		return nil
	}
	img, err := jpeg.Decode(bytes.NewReader(v.Squint))
	if err != nil {
		return fmt.Errorf("the squinted picture cannot be read: %w", err)
	}
	grey, ok := img.(*image.Gray)
	if !ok {
		return fmt.Errorf("the squinted picture is not grey")
	}
	var palette color.Palette
	for _, l := range ValueGreys(len(cuts) + 1) {
		y := float32(colorspace.LuminanceOf(l))
		palette = append(palette, color.Gray{Y: colorspace.Encode8(y)})
	}
	// A palette of more than sixteen is written a byte a pixel, which takes less
	// time than packing two bits, and twice the room of very little.
	for len(palette) <= 16 {
		palette = append(palette, color.Gray{})
	}
	limit := make([]float32, len(cuts))
	for i, l := range cuts {
		limit[i] = float32(colorspace.LuminanceOf(l))
	}
	few := image.NewPaletted(image.Rect(0, 0, v.W, v.H), palette)
	light := luminances(grey)
	b := grey.Bounds()
	columns, rows := between(v.W, b.Dx()), between(v.H, b.Dy())
	photo.Bands(v.H, 64, func(y0, y1 int) {
		line := make([]float32, b.Dx())
		for y := y0; y < y1; y++ {
			row := rows[y]
			upper, lower := light[row.at*b.Dx():][:b.Dx()], light[row.next*b.Dx():][:b.Dx()]
			for x, a := range upper {
				line[x] = a + (lower[x]-a)*row.share
			}
			out := few.Pix[y*few.Stride:][:len(columns)]
			for x, c := range columns {
				l, step := line[c.at]+(line[c.next]-line[c.at])*c.share, uint8(0)
				for _, cut := range limit {
					if l < cut {
						step++
					}
				}
				out[x] = step
			}
		}
	})
	var out bytes.Buffer
	enc := png.Encoder{CompressionLevel: png.BestSpeed}
	if err := enc.Encode(&out, few); err != nil {
		return err
	}
	v.Values = out.Bytes()
	return nil
}

// luminances are the linear light of each pixel.
func luminances(g *image.Gray) []float32 {
	table := colorspace.DecodeTable8()
	b := g.Bounds()
	out := make([]float32, 0, b.Dx()*b.Dy())
	for y := range b.Dy() {
		for _, v := range g.Pix[y*g.Stride:][:b.Dx()] {
			out = append(out, table[v])
		}
	}
	return out
}

// place is where a pixel of a larger picture lies in a smaller one: between
// the pixels at and next, by a share of the way.
type place struct {
	at, next int
	share    float32
}

// between places n pixels among m of the same length together.
func between(n, m int) []place {
	out := make([]place, n)
	for i := range out {
		x := (float64(i)+.5)*float64(m)/float64(n) - .5
		x = min(max(x, 0), float64(m-1))
		at := int(x)
		out[i] = place{at, min(at+1, m-1), float32(x - float64(at))}
	}
	return out
}

func encode(img image.Image) []byte {
	var b bytes.Buffer
	// Encoding into memory fails only for pictures over 65,535 pixels a side.
	_ = jpeg.Encode(&b, img, &jpeg.Options{Quality: pageQuality})
	return b.Bytes()
}
