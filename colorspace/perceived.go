package colorspace

import "math"

// PerceivedLightness is L** of Fairchild and Pirrotta: how light a colour
// looks, counting that strong colours look lighter than a grey of the same L*
// (the Helmholtz-Kohlrausch effect). A grey keeps its L*; a vivid red, pink
// or blue of middle lightness gains 10 or more; the gain ends at L* 100. It
// can pass 100 only for colours that no cloth has. Value, by which cloth is
// sorted, remains L*.
//
// Source: Fairchild and Pirrotta 1991, Color Res. Appl. 16(6):385:
// L** = L* + (2.5 - 0.025 L*) (0.116 |sin((h - 90)/2)| + 0.085) C*.
// The sine is 0 at yellow, h 90 degrees, whose gain is the least.
func PerceivedLightness(c Lab) float64 {
	h := (c.Hue() - 90) / 2 * math.Pi / 180
	return c.L + (2.5-.025*c.L)*(.116*math.Abs(math.Sin(h))+.085)*c.Chroma()
}
