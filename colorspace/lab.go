// Package colorspace is colour arithmetic on numbers: transfer curves,
// matrices, CIELAB, adaptation, colour difference, Munsell value, names,
// contrast sensitivity and colour-vision simulation. Numbers come in and
// numbers go out; it knows no image and no file. Everything is relative to
// D65 and the CIE 1931 2 degree observer unless a name says otherwise.
// L* is always 0..100, linear light is 1 at white. Methods: CIE 15:2018,
// IEC 61966-2-1:1999, and those named at each function.
package colorspace

import (
	"encoding/json"
	"fmt"
	"math"

	"github.com/lucasb-eyer/go-colorful"
)

// XYZ are CIE 1931 tristimulus values, Y = 1 at white.
type XYZ struct{ X, Y, Z float64 }

// Linear is linear light in the sRGB primaries, 1 = white. It is not clipped:
// colours that sRGB cannot hold have components below 0 or above 1.
type Linear [3]float64

// Lab is CIELAB under D65, 2 degree observer: L 0..100, a and b about
// -128..128. In JSON it is an array [L, a, b], rounded to 1e-4.
type Lab struct{ L, A, B float64 }

// XYZ converts linear light to tristimulus values.
func (c Linear) XYZ() XYZ {
	v := linearToXYZ.Apply(c)
	return XYZ{v[0], v[1], v[2]}
}

// Y is the CIE luminance of c relative to white, 0..1 within the gamut.
func (c Linear) Y() float64 {
	m := &linearToXYZ[1]
	return m[0]*c[0] + m[1]*c[1] + m[2]*c[2]
}

// Luminance weights of linear red, green and blue; they add up to 1.
func LuminanceWeights() [3]float64 { return linearToXYZ[1] }

// Linear converts tristimulus values to linear light, unclipped.
func (x XYZ) Linear() Linear { return xyzToLinear.Apply([3]float64{x.X, x.Y, x.Z}) }

// Lab converts tristimulus values under D65 to CIELAB (ISO/CIE 11664-4).
func (x XYZ) Lab() Lab {
	// go-colorful's scale is L 0..1, and its own default white is not that
	// of the sRGB primaries: hand it ours so that grey has a* = b* = 0.
	l, a, b := colorful.XyzToLabWhiteRef(x.X, x.Y, x.Z, [3]float64{whiteD65.X, whiteD65.Y, whiteD65.Z})
	return Lab{l * 100, a * 100, b * 100}
}

// Lab converts linear light to CIELAB.
func (c Linear) Lab() Lab { return c.XYZ().Lab() }

// XYZ converts CIELAB to tristimulus values under D65.
func (l Lab) XYZ() XYZ {
	x, y, z := colorful.LabToXyzWhiteRef(l.L/100, l.A/100, l.B/100, [3]float64{whiteD65.X, whiteD65.Y, whiteD65.Z})
	return XYZ{x, y, z}
}

// Linear converts CIELAB to linear light, unclipped.
func (l Lab) Linear() Linear { return l.XYZ().Linear() }

// Chroma is C*ab, 0 for a grey.
func (l Lab) Chroma() float64 { return math.Hypot(l.A, l.B) }

// Hue is the hue angle h_ab in degrees, 0 to under 360; 0 for an exact grey.
func (l Lab) Hue() float64 { return hueDegrees(l.A, l.B) }

// MarshalJSON writes [L, a, b].
func (l Lab) MarshalJSON() ([]byte, error) {
	r := func(v float64) float64 {
		v = math.Round(v*1e4) / 1e4
		if v == 0 {
			return 0 // not -0
		}
		return v
	}
	return json.Marshal([3]float64{r(l.L), r(l.A), r(l.B)})
}

// UnmarshalJSON reads [L, a, b]. Anything but three finite numbers is an error.
func (l *Lab) UnmarshalJSON(data []byte) error {
	var v []float64
	if err := json.Unmarshal(data, &v); err != nil {
		return fmt.Errorf("lab: %w", err)
	}
	if len(v) != 3 {
		return fmt.Errorf("lab: want 3 numbers, have %d", len(v))
	}
	*l = Lab{v[0], v[1], v[2]}
	return nil
}

// Lightness is CIE L*, 0..100, of a relative luminance Y, 0..1. Negative
// luminance (noise below black) gives 0.
func Lightness(y float64) float64 {
	if y <= 0 {
		return 0
	}
	if y <= 216.0/24389 {
		return y * 24389 / 27
	}
	return 116*math.Cbrt(y) - 16
}

// LuminanceOf is the relative luminance Y, 0..1, of a CIE L*, 0..100.
func LuminanceOf(lightness float64) float64 {
	if lightness <= 8 {
		return max(lightness, 0) * 27 / 24389
	}
	t := (lightness + 16) / 116
	return t * t * t
}

// Times is c with all of its components multiplied by k: the same colour under k
// times the light.
func (c Linear) Times(k float64) Linear { return Linear{c[0] * k, c[1] * k, c[2] * k} }
