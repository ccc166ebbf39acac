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
	"greige/analyze/fit"
	"greige/analyze/ground"
	"greige/analyze/light"
	"greige/analyze/photo"
	"greige/analyze/raster"
)

// Piece is one loose piece.
type Piece struct {
	// Outline is its edge, in pixels of the working picture, clockwise.
	Outline [][2]float64
	// Holes are the outlines of its holes, in the same pixels: where the ground
	// shows through. Region has them in it.
	Holes [][][2]float64
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
	// Score is the logarithm of the odds that the photo shows scraps: +Inf where that
	// was known, -Inf where there is nothing that could be one.
	Score float64

	photo string // its name, with which notes begin
	left  int    // marks that were left out
}

// With is what was found with its pieces decided about anew: which of them may be
// no cloth, and the note that counts them.
func (f Found) With(pieces []Piece) Found {
	if len(f.Pieces) > 0 {
		f.Notes = slices.Clone(f.Notes)
		f.Notes[0] = named(f.photo, scrapsNote(pieces, f.left, f.Score))
	}
	f.Pieces = pieces
	return f
}

// named is a note that begins with the photo's name where it has one.
func named(photo, note string) string {
	if photo == "" {
		return note
	}
	return photo + ": " + note
}

// How is how to look for pieces.
type How struct {
	Known   bool // the photo is known to show some
	Closely bool // in more pixels, if the working picture has them
	Look    raster.Look
}

// Look is what the photo shows of a ground and of what lies on it, before anybody
// knows what its light was.
type Look struct {
	photo     *photo.Photo
	how       How
	s         *search // nil when there is no ground
	proposals []*raster.Mask
	evidence  evidence
}

// LookAt takes a first look at a photo, as it was taken: where its light is
// evened out wrongly, a piece may be made to look like the ground.
func LookAt(p *photo.Photo, how How) *Look { return lookAround(p, how, nil) }

// OneCloth tells whether the photo shows one cloth, so that Find finds nothing in it.
func (l *Look) OneCloth() bool { return l.s == nil || !l.how.Known && l.evidence.score() <= 0 }

// lookAround is LookAt without what is known to be no cloth, in working pixels.
func lookAround(p *photo.Photo, how How, ignore []image.Rectangle) *Look {
	side := float64(searchSide)
	if how.Closely {
		side = closeSide
	}
	l := &Look{photo: p, how: how}
	sm := reduce(p.Picture, ignore, side)
	if g := ground.Find(sm.log, sm.gone); g != nil {
		l.s = newSearch(sm, g)
		l.s.showGround(how.Look)
		l.propose()
	}
	return l
}

// propose finds what may be pieces, and weighs whether they are.
func (l *Look) propose() {
	roots := l.s.roots()
	l.s.sharpen(roots)
	parts := roots.Components(raster.Sides, l.s.leastPixels())
	every := 1
	if !l.how.Known {
		every = max(len(parts)/enoughParts, 1)
	}
	l.proposals = l.s.propose(parts, every)
	l.evidence = l.s.weigh(l.proposals, float64(every))
	if every > 1 && !l.OneCloth() {
		l.proposals = l.s.propose(parts, 1)
	}
	l.how.Look.At("scraps: proposals", func() image.Image { return l.s.drawn(roots, l.proposals) })
}

// enoughParts is how many of the parts of what is no ground tell whether they are
// figures: a print has thousands.
const enoughParts = 100

// Find finds the loose pieces in a photo. Unless it is known to show some, it
// first decides whether there are any: a photo of one cloth, edge to edge, has
// none. Notes say what was decided and why, and where a piece may have been missed,
// in whole sentences that begin with the photo's name where it has one.
func Find(e *light.Even, how How) Found { return lookAround(e.Photo, how, e.Ignore).Find() }

// Find is the function Find after a first look at a photo in which nothing is known to
// be no cloth. It serves once.
func (l *Look) Find() Found {
	f := l.find()
	f.photo = l.photo.Name
	for i, n := range f.Notes {
		f.Notes[i] = named(f.photo, n)
	}
	return f
}

func (l *Look) find() Found {
	s, known, score := l.s, l.how.Known, l.evidence.score()
	switch {
	case s == nil:
		return oneCloth("no plain ground lies behind it", math.Inf(-1))
	case len(l.proposals) == 0:
		return oneCloth("nothing lies on it", math.Inf(-1))
	case known:
		score = math.Inf(1)
	case score <= -unsure:
		return oneCloth(printed, score)
	case score <= 0:
		return oneCloth(printed+". This is not certain: if the photo shows scraps, say so with --scraps many", score)
	}
	found := s.trace(l.photo.Picture, lossy(l.photo.Format), s.snap(l.proposals))
	s.showPieces(l.how.Look, found)
	counted := 0
	for _, p := range found {
		if p.note == "" {
			counted++
		}
	}
	switch {
	case len(found) == 0:
		return oneCloth("nothing lies on it", math.Inf(-1))
	case known:
	case counted == 0 && len(found) <= mostCards:
		return oneCloth("what lies on it is a card or a tool", math.Inf(-1))
	case counted == 0 || score < unsure && counted*marksToOne < len(found):
		return oneCloth("what lies on it seems to be no cloth", score)
	}
	missed := s.missed(found)
	found, left := likeliest(found)
	pieces := make([]Piece, len(found))
	for i, p := range found {
		pieces[i] = Piece{Outline: p.outline, Holes: s.holes(p.mask), Region: p.region, Doubtful: p.note != "", Note: p.note}
	}
	notes := []string{scrapsNote(pieces, left, score)}
	if missed || s.grain > hides {
		notes = append(notes, hidden)
	}
	return Found{Pieces: pieces, Notes: notes, Small: smallAmong(pieces, s.sm.r), Score: score, left: left}
}

// smallAmong tells whether half of the pieces are less than smallSide pixels
// wide and high, of those that they were looked for in, each of r x r.
func smallAmong(pieces []Piece, r float64) bool {
	areas := make([]float64, len(pieces))
	for i, p := range pieces {
		areas[i] = math.Abs(raster.Area(p.Outline))
	}
	side := smallSide * r
	return fit.Median(areas) < side*side
}

// smallSide is how large pieces should be, in pixels of the search: of one of 32 an
// eighth lies at its edge, where the pixels have the ground in them, and the dots of
// its print are a few pixels wide. 150 pieces on a table have 31.
const smallSide = 32

const (
	printed = "its figures go on beyond the photo, or come again and again"
	hidden  = "A cloth of nearly the ground's colour may have been missed: look whether every piece has a number."
	// mostCards is how many cards and tools may lie on one cloth.
	mostCards = 3
	// marksToOne is how many marks to each scrap there are at most where it is unsure
	// that it is a table: those of a mat, or of a grained plank; a print has more.
	marksToOne = 10
	// mostDoubtful is how many things that may be no cloth are shown: more than she
	// wants to look at hide the cloths.
	mostDoubtful = 3
)

// piece is a proposal with all that was found out about it; note says why it may
// be no cloth, "" where it is.
type piece struct {
	mask    *raster.Mask
	outline []point
	region  cloth.Region
	record
	note string
}

// trace traces the masks, measures them, decides which are cloth and puts them in
// the order of reading. Nil masks are left out.
func (s *search) trace(picture *photo.Picture, lossy bool, masks []*raster.Mask) (out []piece) {
	masks = slices.DeleteFunc(masks, func(m *raster.Mask) bool { return m == nil })
	ed := s.newEdges(picture, lossy)
	s.grain = ed.sd[0]
	n := len(masks)
	outlines, records, regions := make([][]point, n), make([]record, n), make([]cloth.Region, n)
	raster.Bands(n, 1, func(from, to int) {
		for i := from; i < to; i++ {
			outlines[i] = s.follow(ed, masks[i])
			records[i] = s.recordOf(masks[i], outlines[i], picture)
			regions[i] = inside(outlines[i], picture.W, picture.H)
		}
	})
	compare(records)
	areas, places, heights := make([]float64, n), make([]point, n), make([]float64, n)
	for i := range records {
		areas[i] = records[i].area
		places[i] = raster.Centroid(outlines[i])
		top, low := raster.Extremes(outlines[i])
		heights[i] = low[1] - top[1]
	}
	big := usualBy(slices.Clone(areas), areas)
	usual := fit.Median(slices.Clone(areas))
	for _, i := range readingOrder(places, heights) {
		if regions[i].Area() >= 1 {
			note := ""
			if !s.off.shapes {
				note = records[i].doubt(float64(max(picture.W, picture.H)), usual, big)
			}
			if note == "" && records[i].score() < 0 {
				note = "its edge or its shape is no scrap's: it may be a mark on the ground"
			}
			out = append(out, piece{masks[i], outlines[i], regions[i], records[i], note})
		}
	}
	if !s.off.shapes {
		s.doubtBesideTools(out)
	}
	return out
}

// doubtBesideTools doubts what touches a tool: blades beside handles.
func (s *search) doubtBesideTools(found []piece) {
	for _, t := range found {
		if t.note == "" || !t.tool() {
			continue
		}
		by := t.mask.Dilated(2 * near * s.long) // both edges lie up to near off
		for i := range found {
			if found[i].note == "" && by.Shared(found[i].mask) > 0 {
				found[i].note = "it touches what may be a tool: it may be a part of it"
			}
		}
	}
}

// likeliest leaves out all but the likeliest of the things that may be no cloth,
// and tells how many it left out.
func likeliest(found []piece) (out []piece, left int) {
	var scores []float64
	for _, p := range found {
		if p.note != "" {
			scores = append(scores, p.score())
		}
	}
	if len(scores) <= mostDoubtful {
		return found, 0
	}
	slices.Sort(scores)
	least := scores[len(scores)-mostDoubtful]
	kept := 0
	for _, p := range found {
		if p.note != "" {
			if p.score() < least || kept == mostDoubtful {
				left++
				continue
			}
			kept++
		}
		out = append(out, p)
	}
	return out, left
}

// How a cloth of the ground's colour is told: by its shadow, which parts it from
// the ground all round.
const (
	partedSolid = .85 // of its hull: as of most pieces
	partedSize  = .4  // of the usual piece's radius
)

// hides is the standard deviation of the ground's pixels, in L*, from which a cloth
// 4 L* off, half of what parts two values at a glance, is nearer than ground.Seen.
const hides = 4. / ground.Seen

// missed tells whether ground as large and compact as a piece is parted from the
// rest by a shadow, with no piece to it.
func (s *search) missed(found []piece) bool {
	marked := raster.NewMask(s.bounds())
	for i, d := range s.g.Distance {
		marked.In[i] = d > ground.Seen || s.g.Uneven.In[i]
	}
	var radii []float64
	for _, p := range found {
		if p.note == "" {
			radii = append(radii, p.radius)
		}
	}
	least := max(partedSize*fit.Median(radii), s.leastRadius())
	for _, p := range found {
		marked.Remove(p.mask.Dilated(2 * near * s.long)) // with its shadow
	}
	inner := marked.Filled()
	inner.Remove(marked)
	for _, c := range inner.Opened(s.leastRadius()).Components(raster.Sides, int(math.Pi*least*least)) {
		m := c.Mask()
		if float64(slices.Max(m.Depth())) > least && m.Solidity() > partedSolid {
			return true
		}
	}
	return false
}
