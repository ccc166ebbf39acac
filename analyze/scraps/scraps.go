// Package scraps finds where loose pieces of cloth lie in a photo. An evened
// photo of scraps spread apart from each other on a plain ground comes in; the
// pieces come out in reading order, each with its outline and the region well
// inside its edge that may be measured.
package scraps

import (
	"image"
	"math"
	"slices"

	"greige/analyze/cloth"
	"greige/analyze/light"
	"greige/analyze/photo"
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
	// Small: the pieces are so small that a closer look tells more of them.
	Small bool
}

// How is how to look for pieces.
type How struct {
	Known   bool // the photo is known to show some
	Closely bool // in more pixels, if the working picture has them
}

// Look is what the photo shows of a ground and of what is none, before anybody
// knows what its light was.
type Look struct {
	picture *photo.Picture
	sm      *small
	c       *cells
	g       *ground // nil when there is none
	s       *search // nil when there is no ground
}

// LookAt takes a first look at a photo, as it was taken: where its light is
// evened out wrongly, a piece may be made to look like the ground.
func LookAt(p *photo.Photo, how How) *Look { return lookAround(p, how, nil) }

// lookAround is LookAt without what is known to be no cloth, in working pixels.
func lookAround(p *photo.Photo, how How, ignore []image.Rectangle) *Look {
	side := float64(searchSide)
	if how.Closely {
		side = closeSide
	}
	l := &Look{picture: p.Picture, sm: reduce(p.Picture, ignore, side)}
	if lossy(p.Format) {
		l.sm.blocks.side = l.sm.r * max(p.Reduction, 1)
		if p.Width%colourBlock != 0 || p.Height%colourBlock != 0 || p.Format == "HEIC" { // whose blocks differ in size
			l.sm.blocks.off = colourBlock - 1
		}
	}
	l.c = l.sm.cells()
	if l.g = l.c.findGround(nil); l.g != nil {
		l.s = newSearch(l.sm, l.c, l.g)
	}
	return l
}

// Find finds the loose pieces in a photo. Unless it is known to show some, it
// first decides whether there are any: a photo of one cloth, edge to edge, has
// none. look is a first look at the photo, taken in the same way, which serves
// once; nil: none was taken. Notes say what was decided and why, and where a
// piece may have been missed, in whole sentences that begin with the photo's
// name where it has one.
func Find(e *light.Even, look *Look, how How) Found {
	if look == nil || len(e.Ignore) > 0 {
		look = lookAround(e.Photo, how, e.Ignore)
	}
	f := look.find(how.Known)
	if e.Photo.Name != "" {
		for i, n := range f.Notes {
			f.Notes[i] = e.Photo.Name + ": " + n
		}
	}
	return f
}

func (l *Look) find(known bool) Found {
	picture, sm, c, g, s := l.picture, l.sm, l.c, l.g, l.s
	if g == nil {
		return oneCloth("no plain ground lies behind it")
	}
	things := s.things()
	s.bare(things)
	ps, label := things.parts(s.least)
	ps, label = s.merge(things, ps, label)
	if len(ps) == 0 {
		return oneCloth("nothing lies on it")
	}
	proof := s.weigh(sm, g, ps, label)
	printedOn := func() bool { return !known && proof.scraps() <= -1 && len(ps) > mostCards }
	if printedOn() {
		return oneCloth(printed)
	}
	more := false
	if proof.shade >= leastShade/2 {
		// What is pent in is told meanwhile, as if alike found nothing.
		before := &mask{things.w, things.h, slices.Clone(things.in)}
		var pent []float32
		photo.Both(func() { more = s.alike(things, ps, label, proof.shade) }, func() { pent = s.pent(before) })
		if !slices.Equal(before.in, things.in) {
			pent = s.pent(things)
		}
		more = s.enclosed(things, pent) || more
	}
	if more {
		ps, label = things.parts(s.least)
		proof = s.weigh(sm, g, ps, label)
	}
	if s.complete(things, ps, label) {
		ps, label = things.parts(s.least)
		proof = s.weigh(sm, g, ps, label)
	}
	score := proof.scraps()
	if known {
		score = math.Inf(1)
	}
	if printedOn() {
		return oneCloth(printed)
	}
	ed := newEdges(picture, sm, c, g)
	ed.ink = s.ink
	pieces := s.pieces(sm, ed, ps, label)
	sure, covered := 0, 0.0
	for i := range pieces {
		if !pieces[i].Doubtful {
			sure++
			covered += pieces[i].Region.Area()
		}
	}
	switch {
	case known:
	case sure == 0 && len(ps) <= mostCards:
		return oneCloth("what lies on it is a card or a tool")
	case sure == 0:
		return oneCloth("what lies on it seems to be no cloth")
	case sure < fewParts && covered < specks*float64(picture.W*picture.H):
		return oneCloth("nothing but specks lies on it")
	case score <= -1:
		return oneCloth(printed)
	case score <= 0:
		return oneCloth(printed + ". This is not certain: if the photo shows scraps, say so with --scraps many")
	}
	notes := []string{scrapsNote(sure, len(pieces)-sure, score)}
	if w := s.missed(things); w != "" {
		notes = append(notes, w)
	}
	return Found{Pieces: pieces, Notes: notes, Small: smallAmong(pieces, sm.r)}
}

// smallAmong tells whether half of the pieces are less than smallSide pixels
// wide and high, of those that they were looked for in, each of r x r.
func smallAmong(pieces []Piece, r int) bool {
	areas := make([]float64, len(pieces))
	for i, p := range pieces {
		areas[i] = area(p.Outline)
	}
	side := float64(smallSide * r)
	return median(areas) < side*side
}

// smallSide is how large pieces should be: of one of 20 pixels a fifth lies at
// its edge, where the pixels have the ground in them, and gaps between such
// pieces are a pixel or two.
const smallSide = 20

// within tells whether most of outline i lies in another, larger outline.
// boxes are the bounds of all.
func within(i int, outlines [][]point, boxes [][2]point, areas []float64) bool {
	a := boxes[i]
	for j, o := range outlines {
		b := boxes[j]
		if j == i || areas[j] <= areas[i] || a[0][0] > b[1][0] || a[1][0] < b[0][0] || a[0][1] > b[1][1] || a[1][1] < b[0][1] {
			continue
		}
		in := 0
		for _, p := range outlines[i] {
			if holds(o, p) {
				in++
			}
		}
		if 5*in > 3*len(outlines[i]) {
			return true
		}
	}
	return false
}

// usualArea is the area that half of all that the pieces cover is covered by
// larger ones: so many small marks do not make a mark usual.
func usualArea(areas []float64) float64 {
	sorted := slices.Sorted(slices.Values(areas))
	total := 0.0
	for _, a := range sorted {
		total += a
	}
	sum := 0.0
	for _, a := range sorted {
		if sum += a; 2*sum >= total {
			return a
		}
	}
	return 0
}

const (
	// mostCards is how many cards and tools may lie on one cloth.
	mostCards = 3
	// specks cover less of the photo than this, all together.
	specks  = .002
	printed = "its figures go on beyond the photo and have no shadow at their edges"
)

// pieces follows the edge of each part, judges it and puts all in the order
// of reading. label numbers the parts' pixels from 1.
func (s *search) pieces(sm *small, ed *edges, ps []part, label []int32) []Piece {
	w, h := ed.p.W, ed.p.H
	outlines := make([][]point, len(ps))
	photo.Bands(len(ps), 1, func(i0, i1 int) {
		for i := i0; i < i1; i++ {
			outlines[i] = s.outline(sm, ed, &ps[i])
		}
	})
	ps, outlines = s.joinOverlapping(sm, ed, ps, label, outlines)
	looks := make([]look, len(ps))
	regions := make([]cloth.Region, len(ps))
	photo.Bands(len(ps), 1, func(i0, i1 int) {
		for i := i0; i < i1; i++ {
			looks[i] = s.lookAt(sm, &ps[i], outlines[i], ed.p)
			regions[i] = inside(outlines[i], w, h)
		}
	})
	areas, places, heights := make([]float64, len(ps)), make([]point, len(ps)), make([]float64, len(ps))
	boxes := make([][2]point, len(ps))
	for i := range ps {
		areas[i], boxes[i] = looks[i].area, boundsOf(outlines[i])
		places[i], heights[i] = middle(outlines[i])
	}
	big := usualArea(areas)
	usual := median(slices.Clone(areas))
	notes := make([]string, len(ps))
	for i := range looks {
		notes[i] = looks[i].doubt(float64(max(w, h)), usual, big)
		if notes[i] == "" && s.written(&ps[i]) {
			notes[i] = "it has the thin strokes and the colour of a number printed on a cutting mat"
		}
		if notes[i] == "" && s.edgeless(&ps[i]) {
			notes[i] = "it fades into the ground: it may be a patch of light or a shadow"
		}
		if notes[i] == "" && areas[i] < fragment*big && s.faint(&ps[i]) {
			notes[i] = "it can hardly be told from the ground: it may be a part of a cloth of nearly its colour"
		}
	}
	for _, n := range s.neighbours(ps, label, int(narrowGap*float64(max(s.w, s.h)))) {
		for _, k := range [2][2]int{{n.a, n.b}, {n.b, n.a}} {
			if notes[k[0]] == "" && looks[k[1]].tool() {
				notes[k[0]] = "it touches what may be a tool: it may be a part of it"
			}
		}
	}
	out := make([]Piece, 0, len(ps))
	for _, i := range readingOrder(places, heights) {
		if regions[i].Area() < 1 {
			continue
		}
		if within(i, outlines, boxes, areas) {
			continue // a figure of the piece that it lies in
		}
		out = append(out, Piece{Outline: outlines[i], Region: regions[i], Doubtful: notes[i] != "", Note: notes[i]})
	}
	return out
}

// outline follows the edge of a part, in pixels of the working picture.
func (s *search) outline(sm *small, ed *edges, p *part) []point {
	m, x0, y0 := p.fill(s.w, 1)
	rough := m.trace()
	for k, q := range rough {
		rough[k] = point{(q[0] + float64(x0)) * float64(sm.r), (q[1] + float64(y0)) * float64(sm.r)}
	}
	inks := sm.paletteOf(m, x0, y0)
	if len(inks.seen) == 0 {
		for _, i := range p.px {
			inks.add(sm.l[i], sm.a[i], sm.b[i])
		}
	}
	inks.settle(ed.sd)
	// Across a narrow piece its other edge lies.
	half := 1
	for core := m.bits().shrunk(1); half*sm.r < mostIn && core.count() > 0; half++ {
		core = core.shrunk(1)
	}
	return simplified(ed.refine(rough, inks, (half+1)*sm.r), .8)
}
