package analyze

import (
	"slices"
	"strings"

	"greige/analyze/cloth"
	"greige/analyze/photo"
	"greige/analyze/scraps"
	"greige/colorspace"
)

// paperNote is how the finder's note on what may be paper or a card begins.
const paperNote = "a plain rectangle"

// lighterThan is the share of the cloths in a photo that something has to be
// lighter than to be taken for paper: paper is light. Common practice, no source.
const lighterThan = .75

// keepPlainCloths takes plain rectangles for cloth again unless they are lighter
// than most cloth in the photo p: a solid that was cut straight looks like a
// card in all but that. Pieces are not changed in place.
func keepPlainCloths(pieces []scraps.Piece, p *photo.Picture) []scraps.Piece {
	isPaper := func(s scraps.Piece) bool { return s.Doubtful && strings.HasPrefix(s.Note, paperNote) }
	if !slices.ContainsFunc(pieces, isPaper) {
		return pieces
	}
	var cloths []float64
	for _, s := range pieces {
		if !s.Doubtful {
			cloths = append(cloths, lightnessOf(s.Region, p))
		}
	}
	out := slices.Clone(pieces)
	for i := range out {
		s := &out[i]
		if !isPaper(*s) {
			continue
		}
		own, under := lightnessOf(s.Region, p), 0
		for _, l := range cloths {
			if l < own {
				under++
			}
		}
		if float64(under) < lighterThan*float64(len(cloths)) || len(cloths) == 0 && own < lightestCard {
			s.Doubtful, s.Note = false, ""
		}
	}
	return out
}

// lightestCard is the L* from which a rectangle that lies alone may be paper:
// an 18 % grey card's, which is the darkest that is sold as one.
const lightestCard = 49.5

// lightnessOf is the L* of a region's mean light; 0 of none.
func lightnessOf(r cloth.Region, p *photo.Picture) float64 {
	l := lightIn(p, r)
	return colorspace.Lightness(l.sum / max(l.n, 1e-9))
}
