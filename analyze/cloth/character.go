package cloth

import (
	"math"

	"greige/colorspace"
)

// The bounds between characters follow from the seams' own: see layout.
const (
	// Inks closer than this are one to the eye at arm's length (about the
	// just noticeable difference in print, Mahy and others 1994: 2.3 in
	// CIELAB 1976, nearer 3 in CIEDE2000 for pieces that do not touch).
	sameInk = 3.0
	// A seam under 8 L* is lost; half and half of two such inks deviate by 4.
	// Figures that are lost in their own cloth make it read as a solid.
	lostFigure = 4.0
	// Inks of one family of colour: "light blue" and "blue" (no source).
	oneFamily = 14.0
	// Two cloths 20 L* apart have clarity 2 as long as their spread is under
	// sqrt((20/2)^2 - 2^2): a busier cloth drowns a seam that should be clear.
	drownsSeams = 9.8
	// An ink that covers less does not change how a cloth behaves.
	telling = 0.03
)

// characterOf tells how a cloth behaves from its inks (shares adding up to 1)
// and from its spread at the viewing distance.
func characterOf(inks []Colour, spread float64) Character {
	if spread >= drownsSeams {
		return HighContrastPrint
	}
	var mean, sum float64
	for _, k := range inks {
		if k.Share >= telling {
			mean += k.Share * k.Lab.L
			sum += k.Share
		}
	}
	if sum == 0 {
		return Solid
	}
	mean /= sum
	var deviation, farthest float64
	for i, k := range inks {
		if k.Share < telling {
			continue
		}
		deviation += k.Share / sum * sq(k.Lab.L-mean)
		for _, m := range inks[:i] {
			if m.Share >= telling {
				farthest = max(farthest, colorspace.CIEDE2000(k.Lab, m.Lab))
			}
		}
	}
	switch deviation = math.Sqrt(deviation); {
	case farthest < sameInk:
		return Solid
	case deviation < lostFigure && farthest < oneFamily:
		return ToneOnTone
	default:
		return Print
	}
}
