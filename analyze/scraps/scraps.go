// Package scraps finds where loose pieces of cloth lie in a photo. An evened
// photo of scraps spread apart from each other on a plain ground comes in; the
// pieces come out in reading order, each with its outline and the region well
// inside its edge that may be measured.
package scraps

import (
	"greige/analyze/cloth"
	"greige/analyze/light"
)

// Piece is one loose piece.
type Piece struct {
	// Outline is its edge, in pixels of the working picture, clockwise.
	Outline [][2]float64
	// Region is what of it may be measured: inside its edge, without the
	// pixels that its neighbours or its shadow mix into.
	Region   cloth.Region
	Doubtful bool   // may be no cloth
	Note     string // why
}

// Found is what was found in a photo.
type Found struct {
	Pieces []Piece // none: the photo is one cloth, or nothing could be told
	Notes  []string
}

// Find finds the loose pieces in a photo.
func Find(e *light.Even) Found {
	// The photo as it was taken: where its light was evened out wrongly, a
	// piece may have been made to look like the ground.
	picture := e.Picture
	if e.Photo != nil && e.Photo.Picture != nil {
		picture = e.Photo.Picture
	}
	s := reduce(picture, e.Ignore)
	c := s.cells()
	g := c.findGround(nil)
	if g == nil {
		return Found{}
	}
	se := newSearch(s.stand(c, g), c, g)
	things := se.things()
	ps, label := things.parts(se.least)
	ps, _ = se.merge(things, ps, label)
	ed := newEdges(picture, s, c, g)
	pieces := make([]Piece, len(ps))
	bands(len(ps), func(y0, y1 int) {
		for i := y0; i < y1; i++ {
			m, x0, y0 := ps[i].fill(s.w, 1)
			rough := m.trace()
			for k, q := range rough {
				rough[k] = point{(q[0] + float64(x0)) * float64(s.r), (q[1] + float64(y0)) * float64(s.r)}
			}
			pieces[i].Outline = simplified(ed.refine(rough, s.paletteOf(m, x0, y0)), .8)
			pieces[i].Region = inside(pieces[i].Outline, picture.W, picture.H)
		}
	})
	places, heights := make([]point, len(pieces)), make([]float64, len(pieces))
	for i := range pieces {
		places[i], heights[i] = middle(pieces[i].Outline)
	}
	ordered := make([]Piece, 0, len(pieces))
	for _, i := range readingOrder(places, heights) {
		ordered = append(ordered, pieces[i])
	}
	return Found{Pieces: ordered}
}
