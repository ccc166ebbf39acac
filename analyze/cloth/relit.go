package cloth

import (
	"bytes"
	"image/jpeg"
	"math"

	"greige/analyze/photo"
	"greige/colorspace"
)

// Relit is c as it looks once each linear component of its light has been
// multiplied by gain, greater than 0: a mean of linear light is linear, so
// that what becomes known of the light after c was measured can still be taken
// out. doubt is the relative standard uncertainty of the luminance that the
// gain leaves on such a cloth; it is added to c's own.
func (c Cloth) Relit(gain [3]float64, doubt float64) Cloth {
	before := lightnessPerShare(max(c.Lab.Linear().Y(), 1e-4))
	if gain != [3]float64{1, 1, 1} {
		c.Lab = relit(c.Lab, gain)
		c.Lightness = c.Lab.L
		c.MunsellValue = colorspace.MunsellValue(c.Lab.Linear().Y())
		c.Temperature = colorspace.TemperatureOf(c.Lab)
		c.Name = colorspace.Name(c.Lab)
		c.LooksLike = colorspace.PerceivedLightness(c.Lab)
		colours := make([]Colour, len(c.Colours))
		for i, k := range c.Colours {
			lab := relit(k.Lab, gain)
			colours[i] = Colour{Lab: lab, Hex: lab.Linear().Hex(), Share: k.Share, Name: colorspace.Name(lab)}
		}
		c.Colours = colours
		c.Swatch = c.Swatch.relit(gain)
	}
	slope := lightnessPerShare(max(c.Lab.Linear().Y(), 1e-4))
	share := slope / before
	c.Spread *= share
	if c.PatchSpread != nil {
		s := *c.PatchSpread * share
		c.PatchSpread = &s
	}
	c.Apart = math.Hypot(c.Apart*share, 1.96*slope*doubt)
	before = c.Doubt.Scale()
	c.Doubt = c.Doubt.Times(share).Plus(slope * doubt)
	if before > 0 {
		c.Uncertainty *= c.Doubt.Scale() / before // the same quantile
	}
	return c
}

// relit is one colour under such a light.
func relit(lab colorspace.Lab, gain [3]float64) colorspace.Lab {
	l := lab.Linear()
	for k := range l {
		l[k] *= gain[k]
	}
	return l.Lab()
}

// relit is a swatch under such a light; itself where it cannot be read.
func (s *Swatch) relit(gain [3]float64) *Swatch {
	if s == nil {
		return nil
	}
	img, err := jpeg.Decode(bytes.NewReader(s.Colour))
	if err != nil {
		return s
	}
	var light [256]float64
	for i := range light {
		light[i] = colorspace.DecodeSRGB(float64(i) / 255)
	}
	p := photo.New(s.W, s.H)
	for y := range s.H {
		for x := range s.W {
			r, g, b, _ := img.At(x, y).RGBA()
			for k, v := range [3]uint32{r, g, b} {
				p.Pix[3*(y*s.W+x)+k] = float32(light[v>>8] * gain[k])
			}
		}
	}
	return &Swatch{W: s.W, H: s.H, Colour: jpegOf(p.RGBA()), Grey: jpegOf(p.Grey()), Shape: s.Shape}
}
