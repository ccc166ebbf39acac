package grid

import (
	"fmt"
	"image"
	"math"
	"slices"

	"greige/analyze/photo"
	"greige/analyze/raster"
)

// Readings are proposed in three ways that have little in common: the division
// of what lies inside the outline, the seams' own rows and columns in there, and
// those in the view of two pencils, for which no outline is needed. All are
// scored alike (likelihood.go). What makes one sure is that another way leads to
// the same rows and columns in the same place; how far it leads is not asked.

const (
	// agreed is the confidence where two ways lead to one answer: on the real
	// photos they were right 42 times of 43.
	agreed = .95
	// alone is it where they do not: about as many such are right as wrong there.
	alone = .5
	// surely is the confidence above which a grid is called found.
	surely = .92
	// insideFirst is how much likelier another reading has to be than the one inside the
	// outline, which holds its own by the top's edge, of which the score knows nothing.
	insideFirst = 1.3
	// rival is how near in likelihood another reading leaves both in doubt: a tenth.
	rival = .9
	// plainSeams is the mean likelihood of an observation from which two ways need no
	// third: a seam is e times likelier than none.
	plainSeams = 1
	// beyondPhoto is how far outside the photo a corner may be for the inexactness
	// of the fit, as a share of the photo's width.
	beyondPhoto = .005
	// sharpPatch is the least width of a patch, in pixels of the picture, that can
	// be sure: a JPEG codes colour in blocks of 16 x 16 pixels (ITU-T T.81, 4:2:0).
	sharpPatch = 16
)

// searched is the best reading of p as a grid with its confidence, or nil.
func searched(p *photo.Picture, hints Hints) *Grid {
	q, small := working(p)
	s := &search{p: p, t: tonesOf(q), small: small, hints: hints}
	var inside *guess
	if o, ok := outlineOf(q, s.t); ok && !hints.off.outline {
		hints.Look.At("outline", func() image.Image { return o.picture(s.t) })
		whole := wholeOf(p, s.t, o, small, hints)
		if all := whole.outlined(); len(all) > 0 && !hints.off.divide {
			inside = all[0]
			s.score(inside)
			if s.take(inside) != inside {
				inside = nil // the top goes on beyond the outline, so that has no say
			}
		}
		if !hints.off.strings {
			s.add(whole.seamsIn())
		}
		if !hints.off.early && len(s.ways) == 2 && inside != nil && s.ways[1].endsWith(inside) {
			return s.settle(inside, true)
		}
	}
	if !hints.off.pencils {
		s.add(byPencils(s.t, hints))
	}
	best := inside
	for _, g := range s.ways {
		if best == nil || g != best && (best == inside && inside.single() || g.worth > best.worth*s.lead(best, inside, g)) {
			best = g
		}
	}
	hints.Look.At("candidates", func() image.Image { return s.pictureOf(s.ways) })
	if best == nil {
		return nil
	}
	return s.settle(best, s.agreed(best) && !best.twofold(s.t))
}

// endsWith is whether a third way is not needed: two readings are the same, their seams
// are plain, and beyond no side is it likelier than not that they go on by both, nor plain
// by either.
func (r *guess) endsWith(o *guess) bool {
	return r.same(o) && max(r.plain, o.plain) >= plainSeams && r.onward+o.onward < 0 && max(r.onward, o.onward) < plainSeams
}

// lead is how many times likelier than the best so far another reading has to be: more
// than that inside the outline, but where seams plainly go on there is no edge. What two
// other ways agree on may be a little less likely than that: a likelihood decides no more.
func (s *search) lead(best, inside, other *guess) float64 {
	if best != inside || s.hints.off.lead {
		return 1
	}
	if slices.ContainsFunc(s.ways, func(g *guess) bool { return g != other && g != inside && g.same(other) }) {
		return rival
	}
	if best.worth > 0 && best.onward < plainSeams {
		return insideFirst
	}
	return 1
}

// search is a picture looked at for grids.
type search struct {
	p     *photo.Picture
	t     *tones
	small float64
	hints Hints
	found []*guess // all that agree with the hints
	ways  []*guess // the best of each way
}

// score weighs a reading.
func (s *search) score(g *guess) {
	g.small, g.hints = s.small, s.hints
	if g.hints.off.gaps && g.point == nil {
		g.cols, g.rows = closed(g.xs), closed(g.ys)
	} else if g.point == nil {
		g.cols, g.rows = withoutGaps(g.f, g.xs, g.ys)
	}
	g.worth, g.plain = g.mesh().likelihood(s.t)
}

// add takes what one way proposes.
func (s *search) add(proposed []*guess) {
	var best *guess
	for _, g := range proposed {
		if s.score(g); g.agrees() {
			s.found = append(s.found, g)
			if best == nil || g.worth > best.worth {
				best = g
			}
		}
	}
	if best != nil {
		s.take(best)
	}
}

// take takes the best reading of a way, with the rows and columns more across which its
// seams go on, and gives it back. Between corners that are given there are no more.
func (s *search) take(r *guess) *guess {
	r.onward = impossible
	if s.hints.Corners == nil && !s.hints.off.further {
		if g := r.further(s.t); g != r {
			if s.score(g); g.agrees() {
				s.found, r = append(s.found, g), g
			}
		}
	}
	s.ways = append(s.ways, r)
	return r
}

// agreed is whether another way leads to the same answer, and none to another
// that is nearly as likely.
func (s *search) agreed(best *guess) bool {
	isRival := func(g *guess) bool { return g.worth > rival*best.worth && !g.same(best) }
	plain, agree := best.plain, false
	for _, g := range s.ways {
		if g != best && g.same(best) {
			plain, agree = max(plain, g.plain), true
		}
	}
	if agree { // of two alone the seams have to be plain, as where a third is not asked
		return (len(s.ways) > 2 || plain >= plainSeams) && !slices.ContainsFunc(s.ways, isRival)
	}
	// Once more the other way round: the division of what lies between its corners,
	// and of that and a row more all round, knows nothing of how it was found. It
	// agrees where both lead back, or where one does, nothing as likely is there and
	// there are other ways. It has nothing to say of what it found itself, nor
	// where the top may go on.
	if s.hints.off.again || !(best.onward > impossible && best.onward < plainSeams) || !slices.Contains(s.found, best) || slices.ContainsFunc(s.found, isRival) {
		return false
	}
	itself, around := s.again(best)
	all := slices.Concat(itself, around)
	first := func(g []*guess) bool { return len(g) > 0 && best.same(g[0]) }
	return first(itself) && first(around) || len(s.ways) > 1 && slices.ContainsFunc(all, best.same) && !slices.ContainsFunc(all, isRival)
}

// again is what division makes of a reading's rectangle, as if its outline were known,
// and of what lies a row more all round, the best by the division's own score first.
func (s *search) again(r *guess) (itself, around []*guess) {
	v := &given{t: s.t, small: s.small, corners: r.corners(), hints: s.hints}
	v.surface = quadFromSquare(v.corners).Map
	v.aspect = aspectOf(s.p.W, s.p.H, scaledQuad(v.corners, 1/s.small))
	v.slack = anyShape
	if g := v.divided(); g != nil {
		itself = append(itself, g)
	}
	x, y := 1/float64(len(r.cols)-1), 1/float64(len(r.rows)-1)
	v = v.inset(-y, -x, -y, -x)
	v.border = false
	around = v.outlined()
	for _, g := range slices.Concat(itself, around) {
		s.score(g)
	}
	return itself, around
}

// anyShape is by how much patches may be other than square where their number
// alone is asked for, as a logarithm: a third.
const anyShape = .3

// settle is the reading as a grid.
func (s *search) settle(r *guess, sure bool) *Grid {
	s.hints.Look.At("grid", func() image.Image { return s.pictureOf([]*guess{r}) })
	g, _ := r.grid(s.p)
	g.Confidence = alone
	if sure {
		g.Confidence = agreed
	}
	for _, c := range g.Corners {
		// The whole top is in the photo, so a corner beyond it is wrong.
		if over := max(-c[0], -c[1], c[0]-float64(s.p.W), c[1]-float64(s.p.H)); over > beyondPhoto*float64(s.p.W) {
			g.Confidence = min(g.Confidence, .3) // less than alone: something is wrong
		}
	}
	if seams := g.Rows*(g.Cols-1) + g.Cols*(g.Rows-1); seams < fewSeams && (s.hints.Rows == 0 || s.hints.Cols == 0) {
		g.Confidence = min(g.Confidence, alone)
	}
	if side := g.patchSide(); side < sharpPatch {
		g.Confidence = min(g.Confidence, alone)
		g.Messages = append(g.Messages, fmt.Sprintf("The patches are about %.0f pixels wide in the photo, too few to tell them apart for sure: %d at least are needed. Take the photo from nearer, or with more pixels.", side, sharpPatch))
	}
	return g
}

// fewSeams is how many seams a grid that was found has at least to be sure: two
// lines that cross, with four seams between four patches, are found in much that is
// no top, by each way alike. A nine patch has twelve.
const fewSeams = 8

// patchSide is the usual side of a patch in pixels.
func (g *Grid) patchSide() float64 {
	area, n := 0.0, 0.0
	for _, p := range g.Patches {
		if !p.Triangle {
			area += abs(raster.Area(p.Outline))
			n++
		}
	}
	return math.Sqrt(area / max(n, 1))
}

// samePlace is how far corners of one grid may lie apart, in patches.
const samePlace = .5

// same is whether two readings have the same rows and columns in the same place.
func (r *guess) same(o *guess) bool {
	cells := 1.0
	switch a, b := r.point, o.point; {
	case (a == nil) != (b == nil):
		return false
	case a == nil:
		if len(r.cols) != len(o.cols) || len(r.rows) != len(o.rows) {
			return false
		}
		cells = float64((len(r.cols) - 1) * (len(r.rows) - 1))
	default:
		if a.m != b.m || a.n != b.n || a.half != b.half {
			return false
		}
		cells = 2 * float64(a.m*a.n)
	}
	a, b := r.corners(), o.corners()
	side := math.Sqrt(abs(raster.Area(a[:])) / cells)
	for k := range a {
		if math.Hypot(a[k][0]-b[k][0], a[k][1]-b[k][1]) > samePlace*side {
			return false
		}
	}
	return true
}

// corners are the reading's own, in pixels of the tones.
func (r *guess) corners() [4]Point { return r.mesh().corners(r.f.at) }

// single is whether there is one row or one column alone: no seams cross, and
// the edge of a table has as many.
func (r *guess) single() bool {
	return r.point == nil && min(len(r.cols), len(r.rows)) <= 2
}

// doubt is what to say of a grid that is not sure.
func (g *Grid) doubt(hints Hints) string {
	counts := fmt.Sprintf("%d rows and %d columns", g.Rows, g.Cols)
	switch { // of a single row there are two columns at least, and the other way round
	case g.Rows == 1:
		counts = fmt.Sprintf("1 row and %d columns", g.Cols)
	case g.Cols == 1:
		counts = fmt.Sprintf("%d rows and 1 column", g.Rows)
	}
	if g.Setting == OnPoint {
		counts += ", on point,"
	}
	switch {
	case hints.Corners != nil:
		return fmt.Sprintf("The patches could not be counted for sure: %s are a guess. Look at the lines drawn over the photo, and give --rows and --cols if they are wrong.", counts)
	case hints.Rows > 0 && hints.Cols > 0:
		return "Where the patches lie is not sure. Look at the lines drawn over the photo, and give --corners if they are wrong."
	}
	return fmt.Sprintf("Where the patches lie is not sure: %s are a guess. Look at the lines drawn over the photo, and give --rows, --cols and --corners if they are wrong.", counts)
}
