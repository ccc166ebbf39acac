package grid

import (
	"cmp"
	"math"
	"slices"

	"greige/analyze/photo"
)

// Two ways lead to the patches. Where the top's outline is plain on what lies
// behind it (outline.go), they are looked for inside that (inside.go): borders are rings
// in it (rings.go), and what is left is divided by the rows and columns that
// its seams speak for (divide.go).
//
// The other way is by the seams alone, from the whole to the part. The
// directions of all edges give the two vanishing points of the seams
// (bundle.go), and those a view in which seams run level and upright
// (flatten.go). There the evidence for seams is added up along each line
// (lines.go); the best even sequence of lines, sashing between them or not,
// makes a mesh, of which the part is the top that seams cross both ways
// (lattice.go). Its outside is looked at again (outside.go). Tops on point are
// read the same way along their diagonals (diagonal.go).
//
// Either way the crossings are then moved to the seams themselves (nodes.go),
// and what was seen on the way says how sure all this is (sure.go). Where the
// corners are given only the lines between them are looked for (given.go).

// Find is where the patches lie in p, which is a picture in linear light of
// about 1 to 4 megapixels, its light evened or not. What hints give is taken,
// and what they leave out is found. A grid that is not sure, or that does not
// agree with the hints, has Found false and says so in Messages. Wrong hints
// are an *Error, and so is a picture in which no patches are seen.
func Find(p *photo.Picture, hints Hints) (*Grid, error) {
	if hints.Corners != nil {
		return findBetween(p, hints)
	}
	if err := checkSetting(hints.Setting); err != nil {
		return nil, err
	}
	if hints.Setting == OnPoint {
		if hints.Rows > 0 && hints.Cols > 0 && hints.Rows != hints.Cols {
			return nil, unequalOnPoint(hints.Rows, hints.Cols)
		}
		hints.Rows = max(hints.Rows, hints.Cols)
		hints.Cols = hints.Rows
	}
	// Counts that are given say where to look, but what is seen without them
	// and agrees with them is the surer reading.
	g := searched(p, Hints{Setting: hints.Setting})
	if g == nil || !g.agrees(hints) {
		if hints.Rows == 0 && hints.Cols == 0 {
			return nil, &Error{"no patches were found", "give --rows, --cols and --corners"}
		}
		if g = searched(p, hints); g == nil {
			return nil, &Error{"no patches were found in rows and columns of that number", "check --rows and --cols, and give --corners too"}
		}
	}
	g.Found = g.Confidence >= surely
	if !g.Found {
		g.Messages = append(g.Messages, g.doubt(hints))
	}
	return g, nil
}

// agrees is whether the grid has the rows and columns that are given.
func (g *Grid) agrees(hints Hints) bool {
	return (hints.Rows == 0 || g.Rows == hints.Rows) && (hints.Cols == 0 || g.Cols == hints.Cols)
}

// beyondPhoto is how far outside the photo a corner may be for the inexactness
// of the fit, as a share of the photo's width.
const beyondPhoto = .005

// searched is the best reading of p as a grid with its confidence, or nil.
func searched(p *photo.Picture, hints Hints) *Grid {
	q, small := working(p)
	t := tonesOf(q)
	var inside, best *reading
	if o, ok := outlineOf(t); ok {
		if all := outlined(p, t, o, small, hints); len(all) > 0 {
			inside = all[0].read(p)
		}
	}
	best = inside
	if inside != nil && inside.Confidence >= surely && inside.plain {
		return inside.Grid
	}
	if r := search(t, small, hints); r != nil {
		best = better(inside, r.read(p))
	}
	if best == nil {
		return nil
	}
	for _, c := range best.Corners {
		// The whole top is in the photo, so a corner beyond it is wrong.
		if over := max(-c[0], -c[1], c[0]-float64(p.W), c[1]-float64(p.H)); over > beyondPhoto*float64(p.W) {
			best.Confidence = min(best.Confidence, .3)
		}
	}
	return best.Grid
}

// reading is a grid with what its seams are worth.
type reading struct {
	*Grid
	worth float64
	plain bool // its seams are plainly seen up to its sides
}

func (r *guess) read(p *photo.Picture) *reading {
	g, seen, n := r.settled(p)
	g.Confidence = r.confidence(g.Rows, g.Cols, seen)
	return &reading{g, r.judged(n), r.given && r.in == [4]float64{} && r.toTheSides()}
}

// better is the reading inside the outline or the one by the seams alone: as a
// rule the first, since the outline is plain to see. Two ways that lead to one
// answer make it sure; where they disagree neither is.
func better(inside, seams *reading) *reading {
	if inside == nil {
		return seams
	}
	if inside.Setting == seams.Setting && inside.Rows == seams.Rows && inside.Cols == seams.Cols {
		off := 0.0
		for k, c := range inside.Corners {
			off = max(off, math.Hypot(c[0]-seams.Corners[k][0], c[1]-seams.Corners[k][1]))
		}
		if off < .02*math.Sqrt(math.Abs(areaOf(inside.Corners))) {
			inside.Confidence = max(inside.Confidence, seams.Confidence, agreed)
		}
		return inside
	}
	a, b := inside.Confidence >= surely, seams.Confidence >= surely
	inside.Confidence, seams.Confidence = min(inside.Confidence, doubted), min(seams.Confidence, doubted)
	// The squares of a print may look like a small top.
	b = b && areaOf(seams.Corners) > .25*areaOf(inside.Corners)
	switch {
	case b && (!a || seams.worth > 1.15*inside.worth):
		return seams
	case !a && !b && seams.worth > 1.5*inside.worth && areaOf(seams.Corners) > areaOf(inside.Corners):
		// Cloth like what lies behind the top may be taken for that.
		return seams
	}
	return inside
}

// agreed is the confidence where both ways lead to one answer, and doubted the
// most where they do not.
const agreed, doubted = .95, .6

// guess is one reading of the picture.
type guess struct {
	small  float64 // pixels of the tones to one of the picture
	score  float64
	f      *flattened
	a, b   comb       // of the columns' and of the rows' lines
	xs, ys []float64  // the lines of a straight set, in pixels of f
	point  *diagonal  // of a top on point
	given  bool       // the corners are known, and held
	in     [4]float64 // how far inside the outline the sides lie, in pixels of its frame
	units  [2]float64 // width and height of a patch, in pixels of f
	sashed bool       // all round
	hints  Hints
}

// workingPixels is the size that the search works at.
const workingPixels = 7e5

// unlikely is the share of the best pose's score below which another is not
// looked at.
const unlikely = 0.2

// working is p at the size that the search works at, and its pixels to one
// of p.
func working(p *photo.Picture) (q *photo.Picture, small float64) {
	f := math.Sqrt(workingPixels / float64(max(p.W*p.H, 1)))
	if f >= 1 {
		return p, 1
	}
	q = p.Resample(max(1, int(float64(p.W)*f)), max(1, int(float64(p.H)*f)))
	return q, float64(q.W) / float64(p.W)
}

// search is the best reading of t that agrees with the hints, nil if there is
// none.
func search(t *tones, small float64, hints Hints) *guess {
	edges := edgesOf(t)
	settings := []Setting{Straight, OnPoint}
	if hints.Setting != "" {
		settings = []Setting{hints.Setting}
	}
	var all []pose
	best0 := 0.0
	for _, s := range settings {
		all = append(all, poses(edges, s, 1/float64(t.w), 1)...)
	}
	for _, ps := range all {
		best0 = max(best0, ps.score)
	}
	var found []*guess
	var level *view // as the top's own sides say
	for _, ps := range all {
		v, ok := viewOf(ps, t.w, t.h)
		if !ok {
			continue
		}
		if ps.setting == Straight {
			level = v
		}
		if ps.score < unlikely*best0 {
			continue
		}
		if ps.setting == OnPoint {
			found = append(found, readDiagonal(v.flatten(t, workingPixels), t, hints)...)
			if level != nil {
				found = append(found, readDiagonal(level.flatten(t, workingPixels).turned(t), t, hints)...)
			}
		} else {
			found = append(found, read(v, t, hints)...)
		}
	}
	sortGuesses(found)
	for _, g := range found {
		if g.small, g.hints = small, hints; g.agrees() {
			return g
		}
	}
	return nil
}

// agrees is whether a reading has the rows and columns that were given.
func (r *guess) agrees() bool {
	rows, cols := len(r.ys)-1, len(r.xs)-1
	if d := r.point; d != nil {
		rows, cols = d.rows(), d.rows()
	}
	return (r.hints.Rows == 0 || rows == r.hints.Rows) && (r.hints.Cols == 0 || cols == r.hints.Cols)
}

// combsOf are the best guesses at the lines that run down f and at those
// that run along it; g is f with its axes exchanged.
func combsOf(f, g *flattened, sashing bool) (down, along []comb) {
	// At first, what lies in the middle counts most.
	middle := func(n int) func(float64) float64 {
		return func(y float64) float64 {
			d := 2*y/float64(n) - 1
			return math.Exp(-2 * d * d)
		}
	}
	inY, inX := middle(f.h), middle(g.h)
	for round := range 2 {
		down = profileOf(f, evenStrips(f.h, inY)).combs(2, sashing && round == 1)
		along = profileOf(g, evenStrips(g.h, inX)).combs(2, sashing && round == 1)
		if len(down) == 0 || len(along) == 0 {
			return nil, nil
		}
		inY, inX = within(f.shown(down[0])), within(g.shown(along[0]))
	}
	return down, along
}

// read looks for a straight set in one view.
func read(v *view, t *tones, hints Hints) []*guess {
	f := v.flatten(t, workingPixels)
	g := f.across()
	cx, cy := combsOf(f, g, true)
	cx, cy = distinct(cx), distinct(cy)
	out := readPairs(f, g, cx, cy, hints)
	out = append(out, readBars(f, g, cx, cy, hints)...)
	if len(out) == 0 {
		return nil
	}
	for range 2 {
		sortGuesses(out)
		// Once more between the lines of the best, with its seams made straight.
		r := out[0]
		f := r.f.bowed(t, r.net().bow(.25))
		g := f.across()
		px, py := pitchOf(r.xs), pitchOf(r.ys)
		cx = append(profileOf(f, rowStrips(r.ys)).combsBetween(max(smallestPitch, px/2.5), px*2.5, 3, true), comb{lines: r.xs, pitch: r.a.pitch, sash: r.a.sash})
		cy = append(profileOf(g, rowStrips(r.xs)).combsBetween(max(smallestPitch, py/2.5), py*2.5, 3, true), comb{lines: r.ys, pitch: r.b.pitch, sash: r.b.sash})
		cx, cy = distinct(cx), distinct(cy)
		out = append(out[1:], readPairs(f, g, cx, cy, hints)...)
		out = append(out, readBars(f, g, cx, cy, hints)...)
	}
	return out
}

// distinct leaves out combs whose lines are those of an earlier one.
func distinct(combs []comb) []comb {
	var out []comb
	for _, c := range combs {
		if !slices.ContainsFunc(out, c.like) {
			out = append(out, c)
		}
	}
	return out
}

// like is whether d has the same lines but for a small part of a patch.
func (c comb) like(d comb) bool {
	if len(c.lines) != len(d.lines) {
		return false
	}
	for i, x := range c.lines {
		if abs(x-d.lines[i]) > .04*c.pitch+.5 {
			return false
		}
	}
	return true
}

func pitchOf(lines []float64) float64 {
	return (lines[len(lines)-1] - lines[0]) / float64(len(lines)-1)
}

func sortGuesses(g []*guess) {
	slices.SortStableFunc(g, func(a, b *guess) int { return cmp.Compare(b.score, a.score) })
}

// readPairs reads every pair of combs, lines down f and lines along it.
func readPairs(f, g *flattened, cx, cy []comb, hints Hints) []*guess {
	rule := func(f *flattened, combs []comb) []*ruled {
		var out []*ruled
		for _, c := range combs {
			lines, own := c.extended(f.h)
			out = append(out, &ruled{lines, f.bands(lines), own})
		}
		return out
	}
	down, along := rule(g, cx), rule(f, cy)
	var out []*guess
	for i, a := range cx {
		for j, b := range cy {
			// Patches are about as wide as high.
			if r := a.pitch / b.pitch; r > .4 && r < 2.5 {
				out = append(out, readLines(meshOf(f, g, down[i], along[j]), f, a, b, down[i].own, along[j].own, hints))
			}
		}
	}
	return out
}

// readBars reads tops of bars: seams show one way only, and patches as wide as
// the bars are high are a guess at the other.
func readBars(f, g *flattened, cx, cy []comb, hints Hints) []*guess {
	var out []*guess
	for _, b := range cy {
		if a, ok := f.squares(g, b, hints.Cols); ok {
			m := meshOf(f, g, &ruled{lines: a.lines, bands: g.bands(a.lines)}, &ruled{lines: b.lines, bands: f.bands(b.lines)})
			out = append(out, bars(m, f, a, b))
		}
	}
	for _, a := range cx {
		if b, ok := g.squares(f, a, hints.Rows); ok {
			m := meshOf(f, g, &ruled{lines: a.lines, bands: g.bands(a.lines)}, &ruled{lines: b.lines, bands: f.bands(b.lines)})
			out = append(out, bars(m, f, a, b))
		}
	}
	return out
}

func bars(m *mesh, f *flattened, a, b comb) *guess {
	score := m.total(extent{0, len(m.xs) - 1}, extent{0, len(m.ys) - 1})
	return &guess{f: f, a: a, b: b, score: score, xs: m.xs, ys: m.ys}
}

// squares are lines down f that part the bars between the lines of c, which
// run along f and down g, into squares, from one end of them to the other; or
// into as many patches as were given.
func (f *flattened) squares(g *flattened, c comb, given int) (comb, bool) {
	if len(c.lines) < 4 || c.sash > 0 {
		return comb{}, false
	}
	x0, x1 := g.shown(c)
	r := profileOf(f, rowStrips(c.lines)).relief(c.pitch)
	end := func(x float64) float64 {
		best, at := 0.0, x
		for k := max(int(x-.6*c.pitch), 1); k <= min(int(x+.6*c.pitch), len(r.at)-1); k++ {
			if r.at[k] > best {
				best, at = r.at[k], float64(k)
			}
		}
		return at
	}
	x0, x1 = end(x0), end(x1)
	n := int(math.Round((x1 - x0) / c.pitch))
	if given > 0 {
		n = given
	}
	if n < 2 || n > mostCount {
		return comb{}, false
	}
	out := comb{pitch: (x1 - x0) / float64(n)}
	for _, s := range evenLines(n) {
		out.lines = append(out.lines, x0+s*(x1-x0))
	}
	return out, true
}

// readLines reads the part of a mesh, made of two combs whose own lines are
// told, that is most like a top.
func readLines(m *mesh, f *flattened, a, b comb, across, down extent, hints Hints) *guess {
	xs, ys := m.xs, m.ys
	across, down = m.cut(across, down, hints.Cols, hints.Rows)
	r := &guess{f: f, a: a, b: b, score: m.total(across, down),
		xs: xs[across.from : across.to+1], ys: ys[down.from : down.to+1]}
	if len(r.xs) < 3 || len(r.ys) < 3 {
		r.score = min(r.score, 0) // one row alone may be anything
	}
	if r.score > 0 {
		// Patches are about as wide as high.
		skew := math.Log(a.pitch/b.pitch) / .4
		r.score *= evenness(r.xs, a) * evenness(r.ys, b) * math.Exp(-skew*skew/2)
	}
	return r
}

// evenness is 1 where the outermost patches are as wide as their neighbours,
// and less where they are not: a narrow border next to the top, taken for a
// part of it, makes them wider.
func evenness(lines []float64, c comb) float64 {
	narrow := (c.sash + c.pitch) / 2
	var widths []float64
	for i := 1; i < len(lines); i++ {
		if w := lines[i] - lines[i-1]; c.sash == 0 || w > narrow {
			widths = append(widths, w)
		}
	}
	n := len(widths)
	if n < 2 {
		return 1
	}
	first, last := (widths[0]-widths[1])/c.pitch, (widths[n-1]-widths[n-2])/c.pitch
	return math.Exp(-(first*first + last*last) / 2 / (.12 * .12))
}

// shown is where along the lines of c, which run down f, they show.
func (f *flattened) shown(c comb) (y0, y1 float64) {
	h := max(int(c.pitch/2), 6)
	n := f.h / h
	sums := make([]float64, n)
	for b := range n {
		e := f.band(b*h, (b+1)*h).sums().contrasts(c.lines, .06)
		if len(e) > 4 {
			e = e[1 : len(e)-1] // the ends may be those of a border
		}
		for _, v := range e {
			sums[b] += worth(v)
		}
	}
	from, to, best := 0, n, math.Inf(-1)
	for a := range n {
		s := 0.0
		for b := a; b < n; b++ {
			s += sums[b]
			if s > best {
				from, to, best = a, b+1, s
			}
		}
	}
	return float64(from * h), float64(to * h)
}

// extended are the lines of c, and further ones at its pitch on either side
// as far as the picture goes; and which of them are its own.
func (c comb) extended(n int) (out []float64, own extent) {
	for x := c.lines[0] - c.pitch; x > -.1*c.pitch && len(out) < 60; x -= c.pitch {
		out = append(out, x)
	}
	slices.Reverse(out)
	own = extent{len(out), len(out) + len(c.lines) - 1}
	out = append(out, c.lines...)
	for x := c.lines[len(c.lines)-1] + c.pitch; x < float64(n)+.1*c.pitch && len(out) < 120; x += c.pitch {
		out = append(out, x)
	}
	return out, own
}

// grid is the reading as a grid in pixels of p, and how plainly
// its seams are seen.
func (r *guess) grid(p *photo.Picture) (*Grid, seenness) {
	g, seen, _ := r.settled(p)
	return g, seen
}

// settled is grid with the net that it is made of.
func (r *guess) settled(p *photo.Picture) (*Grid, seenness, *net) {
	if !r.given && r.point == nil {
		if r.hints.Cols == 0 {
			r.xs = closed(r.xs)
		}
		if r.hints.Rows == 0 {
			r.ys = closed(r.ys)
		}
	}
	n := r.net()
	plain := math.Inf(1)
	if r.given {
		n.hold()
	}
	b := n.bow(.25)
	for k := range n.node {
		n.node[k] = b.moved(n.node[k])
	}
	if r.given || r.point != nil {
		n.settle(.2, .3)
		n.settle(.12, .2)
	} else {
		n.settleInside(.2, .3)
		n.settleInside(.12, .2)
		n = r.complete(n)
		plain = n.trim(r)
		if math.IsInf(plain, 1) { // sashing all round
			n.settle(.25, .2)
			n.settle(.15, .15)
		}
	}
	n.settle(.08, .12)
	seen := n.seen(plain)
	at := func(q Point) Point {
		q = r.f.at(q)
		return Point{q[0] / r.small, q[1] / r.small}
	}
	g := &Grid{Setting: Straight}
	g.Corners = n.corners(at)
	g.warp.plane = quadFromSquare(g.Corners)
	if d := r.point; d != nil {
		g.Setting = OnPoint
		g.half = d.half
		g.Rows = d.rows()
		g.Cols = g.Rows
		g.Aspect = float64(d.m) / float64(d.n)
		g.warp.xs, g.warp.ys = evenLines(2*d.m), evenLines(2*d.n)
		g.Patches = latticePatches(d.m, d.n, d.half)
	} else {
		g.Rows, g.Cols = len(r.ys)-1, len(r.xs)-1
		g.Aspect = squareCells(aspectOf(p.W, p.H, g.Corners), patchesAlong(r.xs), patchesAlong(r.ys))
		g.RowLines, g.ColLines = unitLines(r.ys), unitLines(r.xs)
		g.warp.xs, g.warp.ys = g.ColLines, g.RowLines
		g.Patches = cellPatches(g.RowLines, g.ColLines)
	}
	g.warp.bendTo(n, at)
	g.place()
	return g, seen, n
}

// patchesAlong is how many patches long the way from the first line to the
// last is, sashing between them counted as what it is of a patch.
func patchesAlong(lines []float64) float64 {
	var widths []float64
	for i := 1; i < len(lines); i++ {
		widths = append(widths, lines[i]-lines[i-1])
	}
	slices.Sort(widths)
	// Strips may be the more numerous.
	patch := widths[len(widths)-1-(len(widths)-1)/4]
	return (lines[len(lines)-1] - lines[0]) / patch
}

// net is the reading's lines ready to be moved to the seams.
func (r *guess) net() *net {
	if r.point != nil {
		return r.point.net(r.f)
	}
	return straightNet(r.f, r.xs, r.ys)
}

// unitLines are the lines brought to 0..1.
func unitLines(lines []float64) []float64 {
	out := make([]float64, len(lines))
	first, last := lines[0], lines[len(lines)-1]
	for i, x := range lines {
		out[i] = (x - first) / (last - first)
	}
	return out
}
