package analyze

import (
	"math"
	"slices"

	"greige/analyze/photo"
	"greige/colorspace"
)

// What kind of photo it is when it is not the kind that can be measured well.
const (
	// darkest is the L* that nineteen in twenty pixels of a photo stay under
	// when it is too dark: white paper would be as dark as a dark cloth.
	darkest = 27
	// greyRange is the range of L* from which a picture shows more than one
	// thing, so that all of it being without colour is the camera's doing.
	greyRange = 30
	// screenShape is the length of a screen's long side to its short one from
	// which on no camera takes photos of that shape: 16 to 9 is 1.78.
	screenShape = 1.75
)

// nature says what is wrong with a photo as a photo, each with what helps: it
// is too dark, without colour, or a picture of a screen. carded: a card of known
// lightness is in it, so that dark cloth may fill it.
func nature(p *photo.Photo, carded bool) []string {
	var light []float64
	coloured := false
	pic := p.Picture
	every := max(int(math.Sqrt(float64(pic.W*pic.H)/20000)), 1) // some 20,000 pixels tell enough
	for y := 0; y < pic.H; y += every {
		for x := 0; x < pic.W; x += every {
			c := pic.At(x, y)
			coloured = coloured || math.Abs(c[0]-c[1]) > 1e-4 || math.Abs(c[1]-c[2]) > 1e-4
			light = append(light, colorspace.Lightness(c.Y()))
		}
	}
	if len(light) == 0 {
		return nil
	}
	slices.Sort(light)
	low, high := light[len(light)/20], light[len(light)*19/20]
	var out []string
	if high < darkest && !carded {
		out = append(out, "the photo is very dark, so that dark cloths cannot be told apart: take it again by a window, or touch the cloth on the phone's screen so that it is made lighter")
	}
	if !coloured && high-low > greyRange {
		out = append(out, "the photo is black and white: lightness can be told from it, but no colours and no colour of the light. Send the one in colour if there is one")
	}
	long, short := max(p.Width, p.Height), min(p.Width, p.Height)
	if p.Format == "PNG" && p.Record.Camera == "" && float64(long) >= screenShape*float64(short) {
		out = append(out, "this looks like a picture of a screen, not a photo: use the photo itself, for a screenshot is smaller and may have been made brighter")
	}
	return out
}
