package colorspace

import (
	"fmt"
	"math"

	"github.com/lucasb-eyer/go-colorful"
)

// DecodeSRGB turns an encoded component, 0..1, into linear light, 0..1. The
// curve goes on above 1, and below 0 as its mirror image, so that colours
// outside the gamut come through. Source: IEC 61966-2-1:1999; the mirror as
// in CSS Color 4.
func DecodeSRGB(encoded float64) float64 {
	r, _, _ := colorful.Color{R: math.Abs(encoded)}.LinearRgb()
	return math.Copysign(r, encoded)
}

// EncodeSRGB turns linear light into an encoded component. Light outside 0..1
// is not clipped, as in DecodeSRGB. Source: IEC 61966-2-1:1999.
func EncodeSRGB(linear float64) float64 {
	return math.Copysign(colorful.LinearRgb(math.Abs(linear), 0, 0).R, linear)
}

// SRGB8 is c as 8-bit sRGB, each component clipped to 0..255: for display
// only, never for a figure. What is not a number is shown black.
func (c Linear) SRGB8() [3]uint8 {
	var out [3]uint8
	for i, v := range c {
		if v > 0 { // false for NaN too
			out[i] = uint8(math.Round(EncodeSRGB(min(v, 1)) * 255))
		}
	}
	return out
}

// Hex is c as "#rrggbb", clipped to the sRGB gamut: for display only.
func (c Linear) Hex() string {
	e := c.SRGB8()
	return fmt.Sprintf("#%02x%02x%02x", e[0], e[1], e[2])
}

// OfHex is the light of "#rrggbb", a colour of a screen; not ok where s is none.
func OfHex(s string) (c Linear, ok bool) {
	of, err := colorful.Hex(s)
	if err != nil || len(s) != len("#rrggbb") {
		return c, false
	}
	r, g, b := of.LinearRgb()
	return Linear{r, g, b}, true
}

// encodeSteps is fine enough that the table below is never more than one
// step of 8 bits away from the curve, and exact where it matters: it is used
// for pictures on a screen, not for figures.
const encodeSteps = 1 << 14

var encodeTable = func() *[encodeSteps + 1]uint8 {
	var t [encodeSteps + 1]uint8
	for i := range t {
		t[i] = uint8(math.Round(EncodeSRGB(float64(i)/encodeSteps) * 255))
	}
	return &t
}()

// Encode8 is one linear component as 8-bit sRGB, clipped, from a table: the
// fast path for pictures on a screen.
func Encode8(linear float32) uint8 {
	if !(linear > 0) { // also NaN
		return 0
	}
	if linear >= 1 {
		return 255
	}
	return encodeTable[int(linear*encodeSteps+.5)]
}
