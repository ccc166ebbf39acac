package grid

import (
	"cmp"
	"math"
	"slices"

	"greige/analyze/photo"
)

// Where the outline of the top is plain, the patches are looked for inside it:
// from side to side, or from border to border. The counts are then those whose
// lines divide that rectangle best.

// surface is the way from the unit square to the picture that the outline was
// found in: the plane through its corners, and the bow of its sides between.
func (o *outline) surface() func(Point) Point {
	plane := quadFromSquare(o.corners)
	return func(p Point) Point {
		q := plane.Map(p)
		u, v := p[0], p[1]
		at := func(x, y float64) Point { return plane.Map(Point{x, y}) }
		top, bottom, left, right := at(u, 0), at(u, 1), at(0, v), at(1, v)
		return Point{
			q[0] + (1-u)*(o.left.at(left[1])-left[0]) + u*(o.right.at(right[1])-right[0]),
			q[1] + (1-v)*(o.upper.at(top[0])-top[1]) + v*(o.lower.at(bottom[0])-bottom[1]),
		}
	}
}

// outlined is what is seen of a top inside its outline, the best first.
func outlined(p *photo.Picture, t *tones, o *outline, small float64, hints Hints) []*guess {
	whole := &given{t: t, small: small, corners: o.corners, surface: o.surface(), bent: true, hints: hints}
	quad := scaledQuad(o.corners, 1/small)
	whole.aspect = aspectOf(p.W, p.H, quad)
	// A photo may have been cut to a part of what the lens saw, or be of a wide lens.
	whole.slack = abs(math.Log(aspectBy(p.W, p.H, quad, .36) / whole.aspect))
	out := whole.readings()
	sortGuesses(out)
	if len(out) > 0 && out[0].toTheSides() {
		return out
	}
	e := whole.edgesInside()
	for _, in := range e.rings() {
		out = append(out, whole.inside(in).readings()...)
	}
	sortGuesses(out)
	for {
		wider := whole.grown(e, out[0])
		if wider == nil || wider.score <= out[0].score && wider.net().crossed([4]int{1, 1, 1, 1}) < goOn {
			break
		}
		out = slices.Insert(out, 0, wider)
	}
	if r := whole.sashedRound(e, out[0]); r != nil {
		out = slices.Insert(out, 0, r)
	}
	if r := whole.snapped(e, out[0]); r != nil {
		out = slices.Insert(out, 0, r)
	}
	if all := whole.filled(out[0]); all != nil {
		out = slices.Insert(out, 0, all)
	}
	return out
}

// snapped is r with the sides of its border where the rows inside say that they
// are: a line of the border's own print may lie beside them.
func (v *given) snapped(e *edgesInside, r *guess) *guess {
	if r.point != nil || r.sashed || r.in == ([4]float64{}) || min(len(r.xs), len(r.ys)) < 4 || slices.Contains(strips(r.xs), true) || slices.Contains(strips(r.ys), true) {
		return nil
	}
	in := r.in
	moved := false
	for k, lines := range [4][]float64{r.ys, mirrored(r.xs), mirrored(r.ys), r.xs} {
		n := len(lines) - 1
		unit := (lines[n-1] - lines[1]) / float64(n-2)
		off := (lines[1] - lines[0]) - unit
		if abs(off) < .04*unit {
			continue
		}
		at, height := e.best(k, in[k]+off, .05*unit)
		if _, now := e.best(k, in[k], 1); height > .4*now {
			in[k], moved = at, true
		}
	}
	if !moved || slices.Min(in[:]) < e.leastBorder() {
		return nil
	}
	w := v.inside(in)
	w.hints.Rows, w.hints.Cols = len(r.ys)-1, len(r.xs)-1
	if g := w.divided(); g != nil && g.score > r.score {
		g.hints = v.hints
		return g
	}
	return nil
}

// sashedRound is r with sashing round it, where the edge of such a strip and
// squares in its corners are seen: a border has none.
func (v *given) sashedRound(e *edgesInside, r *guess) *guess {
	if r.point != nil || r.sashed || r.in == ([4]float64{}) {
		return nil
	}
	var best *guess
	for _, in := range append([][4]float64{{}}, e.rings()...) {
		narrow := true
		for k := range in {
			d := (r.in[k] - in[k]) / r.units[1-k%2]
			narrow = narrow && d > .85*leastStrip && d < mostSash
		}
		if !narrow {
			continue
		}
		w := *v.inside(in)
		w.hints.Rows, w.hints.Cols = len(r.ys)+1, len(r.xs)+1
		if g := w.divided(); g != nil && g.sashed && g.score > .6*r.score && (best == nil || g.score > best.score) {
			g.hints = v.hints
			best = g
		}
	}
	return best
}

// filled is r continued to the outline, where that is a whole number of patches
// away on all sides and seams are seen to go on there: many patches near the
// sides may be of like cloths, of which few seams show, but across a border
// none do.
func (v *given) filled(r *guess) *guess {
	if r.point != nil || r.in == ([4]float64{}) {
		return nil
	}
	var more [4]int
	for k, in := range r.in {
		n := in / r.units[1-k%2]
		more[k] = int(math.Round(n))
		if abs(n-float64(more[k])) > .12+.03*n {
			return nil
		}
	}
	w := *v
	w.hints.Rows, w.hints.Cols = len(r.ys)-1+more[0]+more[2], len(r.xs)-1+more[1]+more[3]
	g := w.divided()
	if g == nil {
		return nil
	}
	if g.net().crossed([4]int{min(more[0], 1), min(more[1], 1), min(more[2], 1), min(more[3], 1)}) < goOn {
		return nil
	}
	g.hints = v.hints
	return g
}

// crossed is the share of the seams across the outermost rows, so many above,
// to the right, below and to the left, that are seen.
func (n *net) crossed(rows [4]int) float64 {
	shown, all := 0.0, 0.0
	for k, x := range n.worths() {
		s := n.seams[k]
		if s.outer || math.IsNaN(x) {
			continue
		}
		i, j := s.from%n.w, s.from/n.w
		out := false
		if s.to == s.from+1 { // along a row: beside the columns on the left and the right
			out = (i < rows[3] || i >= n.w-1-rows[1]) && j > rows[0] && j < n.h-1-rows[2]
		} else {
			out = (j < rows[0] || j >= n.h-1-rows[2]) && i > rows[3] && i < n.w-1-rows[1]
		}
		if out {
			all++
			if x > 1 {
				shown++
			}
		}
	}
	return shown / max(all, 1)
}

// goOn is the share of the seams across a row that have to be seen plainly for
// it to be one of patches: across one cloth none are, as a rule.
const goOn = .1

// toTheSides is whether seams are plainly seen across the outermost rows of a
// straight set on all sides: then there is no border to be looked for.
func (r *guess) toTheSides() bool {
	if r.point != nil || min(len(r.xs), len(r.ys)) < 5 {
		return false
	}
	n := r.net()
	for k := range 4 {
		var rows [4]int
		if rows[k] = 1; n.crossed(rows) < plainly {
			return false
		}
	}
	return true
}

// plainly is the share of the seams across a row that are seen where patches
// are not alike.
const plainly = .5

// inside is the rectangle that is left when so many pixels of a frame are taken
// away above, to the right, below and to the left.
func (v *given) inside(in [4]float64) *given {
	if in == ([4]float64{}) {
		return v
	}
	f := v.seenStraight().f
	w, h := f.x1-f.x0, f.y1-f.y0
	r := v.inset(in[0]/h, in[1]/w, in[2]/h, in[3]/w)
	r.in, r.room = in, slices.Min(in[:])
	return r
}

// grown is the reading of the rectangle that is a patch wider all round than
// that of r, if there is room for it.
func (v *given) grown(e *edgesInside, r *guess) *guess {
	if r.point != nil || r.in == ([4]float64{}) {
		return nil
	}
	in := r.in
	for k := range in {
		unit := r.units[1-k%2]
		in[k] -= unit
		if in[k] < e.leastBorder() {
			return nil
		}
		in[k], _ = e.best(k, in[k], .1*unit)
	}
	w := v.inside(in)
	w.hints.Rows, w.hints.Cols = len(r.ys)+1, len(r.xs)+1
	if g := w.divided(); g != nil {
		g.hints = v.hints
		return g
	}
	return nil
}

// straightOn is what the rectangle shows seen straight on, and seen so with its
// axes exchanged, with the profiles of its columns and of its rows.
type straightOn struct {
	f           *frame
	g           *flattened
	down, along profiled
}

// seenStraight makes it when it is first asked for.
func (v *given) seenStraight() *straightOn {
	if v.straightened == nil {
		f := v.frame(v.aspect, 0, 0)
		g := f.across()
		v.straightened = &straightOn{f, g,
			profiled{profileOf(f.flattened, evenStrips(f.h, within(f.y0, f.y1))), f.x0, f.x1},
			profiled{profileOf(g, evenStrips(g.h, within(f.x0, f.x1))), f.y0, f.y1}}
	}
	return v.straightened
}

// inset is the part of the rectangle that is left when some of its width is
// taken away on each side: above, to the right, below and to the left.
func (v *given) inset(above, right, below, left float64) *given {
	w := *v
	w.straightened = nil
	wide, high := 1-left-right, 1-above-below
	w.surface = func(p Point) Point { return v.surface(Point{left + p[0]*wide, above + p[1]*high}) }
	for k, c := range [4]Point{{0, 0}, {1, 0}, {1, 1}, {0, 1}} {
		w.corners[k] = w.surface(c)
	}
	w.aspect = v.aspect * wide / high
	w.border = true
	return &w
}

// leastBorder is how wide a border is at least, in pixels: nearer to the
// outline lies the edge of the outline itself.
func (e *edgesInside) leastBorder() float64 { return min(max(.02*e.short, 5), 12) }

// mostBorder is how much of the shorter side a border takes at most.
const mostBorder = .36

// edgesInside is how plainly an edge is seen that runs along each side of a
// rectangle, by how many pixels further in it lies: above, to the right, below
// and to the left.
type edgesInside struct {
	side  [4][]float64
	short float64
}

func (v *given) edgesInside() *edgesInside {
	s := v.seenStraight()
	f, down, along := s.f, s.down.profile, s.along.profile
	// The finer scales: a border may be narrow.
	heights := func(p *profile, from, step float64) []float64 {
		sum := make([]float64, p.n)
		for i, x := range p.sums[1] {
			sum[i] = float64(x + p.sums[2][i])
		}
		sum = moving(sum, 1)
		out := make([]float64, p.n)
		for d := range out {
			out[d] = sampled(sum, from+step*float64(d))
		}
		return out
	}
	return &edgesInside{short: min(f.x1-f.x0, f.y1-f.y0), side: [4][]float64{
		heights(along, f.y0, 1), heights(down, f.x1, -1), heights(along, f.y1, -1), heights(down, f.x0, 1),
	}}
}

// best is the plainest edge along side k that is about d in.
func (e *edgesInside) best(k int, d, reach float64) (at, height float64) {
	at = d
	for i := -int(reach); i <= int(reach); i++ {
		if v := sampled(e.side[k], d+float64(i)); v > height {
			at, height = d+float64(i), v
		}
	}
	return at, height
}

// rings are the places where a border may end: all four sides have an edge
// about as far in, the plainest first.
func (e *edgesInside) rings() [][4]float64 {
	n := int(mostBorder * e.short)
	reach := func(d float64) float64 { return 2 + .06*d } // each side's own may lie a little off
	edges := make([]float64, n)
	for d := int(e.leastBorder()); d < n; d++ {
		least, sum := math.Inf(1), 0.0
		for k := range 4 {
			_, v := e.best(k, float64(d), reach(float64(d)))
			least = min(least, v)
			sum += v
		}
		edges[d] = least + .25*sum
	}
	all := peaksOf(edges)
	slices.SortStableFunc(all, func(p, q peak) int {
		switch {
		case p.height > q.height:
			return -1
		case p.height < q.height:
			return 1
		}
		return 0
	})
	var out [][4]float64
	var in []float64
	for _, p := range all {
		if len(out) == rings || slices.ContainsFunc(in, func(x float64) bool { return abs(x-p.x) < 4 }) {
			continue
		}
		in = append(in, p.x)
		var at [4]float64
		for k := range at {
			at[k], _ = e.best(k, p.x, reach(p.x))
		}
		out = append(out, at)
	}
	return out
}

// rings is how many are looked into.
const rings = 4

func sampled(v []float64, x float64) float64 {
	i := int(x + .5)
	if i < 0 || i >= len(v) {
		return 0
	}
	return v[i]
}

// readings are the best way to divide the rectangle straight and the best on
// point.
func (v *given) readings() []*guess {
	var out []*guess
	straight := 1.0 // how likely it is set so
	switch v.hints.Setting {
	case "":
		const even, wide = .06, .03 // as seen on made-up tops
		straight = 1 / (1 + math.Exp((even-v.seenStraight().f.upright())/wide))
	case OnPoint:
		straight = 0
	}
	if straight > unlikely/2 {
		if r := v.divided(); r != nil {
			r.score = weighedBy(r.score, straight)
			out = append(out, r)
		}
	}
	if straight < 1-unlikely/2 {
		if f := v.diagonal(); f != nil {
			n := f.net()
			f.score = weighedBy(n.total(everySeam)+v.sides(n, true), 1-straight)
			f.in, f.units = v.in, [2]float64{n.gap, n.gap}
			f.small, f.given, f.hints = v.small, true, v.hints
			out = append(out, &f.guess)
		}
	}
	return out
}

// weighedBy is a score times a likelihood; what is bad stays bad.
func weighedBy(score, likely float64) float64 {
	if score < 0 {
		return score
	}
	return score * likely
}

// total is what the lines inside the net are worth, see lineWorth; seams that
// are not expected to show are left out.
func (n *net) total(shows func(s seam) bool) float64 {
	lines := map[lineOf]*lineWorth{}
	var order []lineOf
	for k, w := range n.worthsBy(true) {
		s := n.seams[k]
		if s.outer || math.IsNaN(w) || !shows(s) {
			continue
		}
		l := n.lineOf(s)
		if lines[l] == nil {
			lines[l] = &lineWorth{}
			order = append(order, l)
		}
		lines[l].add(w, n.apart(s.from, s.to))
	}
	sum := 0.0
	for _, l := range order {
		sum += lines[l].total()
	}
	return sum
}

// lineWorth gathers what the pieces of one line are worth. A seam goes on
// where two like cloths hide it, so pieces that are not seen speak against a
// line the less, the more of it is seen elsewhere.
type lineWorth struct{ pro, against, seen, length float64 }

// plainPart is the part of a line that has to be seen for the rest not to
// speak against it.
const plainPart = .4

func (l *lineWorth) add(worth, length float64) {
	l.length += length
	if worth > 0 {
		l.pro += worth * length
		if worth > 1 {
			l.seen += length
		}
	} else {
		l.against += worth * length
	}
}

func (l *lineWorth) total() float64 {
	if l.length == 0 {
		return 0
	}
	return l.pro + l.against*(1-min(l.seen/(plainPart*l.length), 1))
}

// sides is what the sides of a rectangle inside a border are worth; on what
// lies behind the top they are seen anyway. A border is plain on all sides, or
// there is none.
func (v *given) sides(n *net, onPoint bool) float64 {
	if !v.border {
		return 0
	}
	mid := between(n.node[0], n.node[len(n.node)-1], .5)
	var sum, length [4]float64
	for _, s := range n.seams {
		if !s.outer {
			continue
		}
		// The inside lies to the right of the way from p to q, or to the left.
		p, q := n.node[s.from], n.node[s.to]
		in := -1.0
		if (mid[1]-p[1])*(q[0]-p[0])-(mid[0]-p[0])*(q[1]-p[1]) > 0 {
			in = 1
		}
		gap := min(s.left, s.right)
		if onPoint {
			gap /= 2 // half a patch in lie other seams
		}
		// Not as far as the outline.
		windows := []float64{min(.4*gap, .5*v.room), min(.15*gap, .5*v.room)}
		w := worth(n.f.contrasted(p, q, gap, min(.06*gap, .2*v.room), windows, in))
		side := 0 // a row's, above or below, or a column's
		if s.to != s.from+1 {
			side = 2
		}
		if in < 0 == (side == 0) {
			side++
		}
		sum[side] += min(w, 2.5) * n.apart(s.from, s.to)
		length[side] += n.apart(s.from, s.to)
	}
	all, whole, unseen := 0.0, 0.0, 0
	for k := range sum {
		if sum[k] < 0 {
			unseen++
		}
		all += sum[k]
		whole += length[k]
	}
	if all < plainBorder*whole || unseen > 1 {
		return noBorder * whole
	}
	return all
}

// plainBorder is the least mean worth of a border's sides, and noBorder what
// they are worth where they are less.
const plainBorder, noBorder = .5, -1

// upright is how much more the edges of the rectangle run along its sides than
// along its diagonals, from 1 to -1: the mean cosine of four times their
// direction. Cloth is cut and sewn along its threads, so that stripes and
// checks run as the patches do.
func (f *frame) upright() float64 {
	const faint, strong = 1.0, 8.0 // CIELAB units a pixel
	var sum, all float64
	for y := int(f.y0) + 2; y < int(f.y1)-2; y++ {
		for x := int(f.x0) + 2; x < int(f.x1)-2; x++ {
			i := y*f.w + x
			p := f.plane[0]
			gx, gy := float64(p[i+1]-p[i-1])/2, float64(p[i+f.w]-p[i-f.w])/2
			g := gx*gx + gy*gy
			if g < faint*faint {
				continue
			}
			// cos 4a by cos 2a = (gx^2 - gy^2) / g
			c := (gx*gx - gy*gy) / g
			w := min(math.Sqrt(g), strong)
			sum += w * (2*c*c - 1)
			all += w
		}
	}
	return sum / max(all, 1)
}

func everySeam(seam) bool { return true }

// sashed tells which seams of a straight net show: strips of sashing are of
// one cloth, so across them only the seams of the squares where they meet do.
func (n *net) sashed(xs, ys []bool) func(s seam) bool {
	beside := func(strip []bool, line int) bool {
		return line > 0 && strip[line-1] || line < len(strip) && strip[line]
	}
	return func(s seam) bool {
		i, j := s.from%n.w, s.from/n.w
		if s.to == s.from+1 {
			return !xs[i] || beside(ys, j)
		}
		return !ys[j] || beside(xs, i)
	}
}

// divided is the best reading as a straight set.
func (v *given) divided() *guess {
	s := v.seenStraight()
	f, g, down, along := s.f, s.g, s.down, s.along
	cols, rows := down.divisions(v.hints.Cols), along.divisions(v.hints.Rows)
	type pair struct {
		c, r  division
		score float64
	}
	var pairs []pair
	// Of bars the seams show one way only: then patches are squares.
	if v.hints.Cols == 0 {
		cols = append(cols, down.squares(rows[:min(len(rows), 2)])...)
	}
	if v.hints.Rows == 0 {
		rows = append(rows, along.squares(cols[:min(len(cols), 2)])...)
	}
	for _, c := range cols {
		for _, r := range rows {
			if c.n*r.n < 2 || c.round() != r.round() {
				continue
			}
			pairs = append(pairs, pair{c, r, c.score + r.score - .5*float64(c.n+r.n)*(1-v.square(c.unit/r.unit))})
		}
	}
	slices.SortStableFunc(pairs, func(a, b pair) int {
		switch {
		case a.score > b.score:
			return -1
		case a.score < b.score:
			return 1
		}
		return 0
	})
	var best *guess
	var chosen pair
	for _, p := range pairs[:min(len(pairs), tried)] {
		m := meshOf(f.flattened, g, &ruled{lines: p.c.lines, bands: g.bands(p.c.lines)}, &ruled{lines: p.r.lines, bands: f.bands(p.r.lines)})
		if p.c.round() && m.squares() < 1 {
			continue // it is a border
		}
		score := m.inner(p.c.strips(), p.r.strips())
		if score > 0 {
			score *= v.square(p.c.unit/p.r.unit) * p.c.even() * p.r.even()
		}
		if best == nil || score > best.score {
			best = &guess{f: f.flattened, xs: p.c.lines, ys: p.r.lines, score: score, sashed: p.c.round()}
			chosen = p
		}
	}
	if best != nil {
		// Strips that narrow are gaps between patches.
		if xs, ys := closed(best.xs), closed(best.ys); v.hints.Cols == 0 && v.hints.Rows == 0 && len(xs)+len(ys) < len(best.xs)+len(best.ys) {
			chosen.c.close(xs)
			chosen.r.close(ys)
			best.xs, best.ys, best.sashed = xs, ys, false
		}
		n := best.net()
		best.in, best.units = v.in, [2]float64{chosen.c.unit, chosen.r.unit}
		best.small, best.given, best.hints = v.small, true, v.hints
		best.score = n.total(n.sashed(chosen.c.strips(), chosen.r.strips())) + v.sides(n, false)
		if best.score > 0 {
			best.score *= v.square(chosen.c.unit/chosen.r.unit) * chosen.c.even() * chosen.r.even()
		}
	}
	return best
}

// squares are the divisions into patches as wide as those of the other way.
func (p profiled) squares(others []division) []division {
	var out []division
	for _, o := range others {
		n := int(math.Round((p.x1 - p.x0) / o.unit))
		if n < 1 || n > mostCount || slices.Contains(o.strips(), true) {
			continue
		}
		score, lines := p.even(n)
		out = append(out, division{n, lines, evenWidths(n), (p.x1 - p.x0) / float64(n), score - lineCost*float64(n-1)})
	}
	return out
}

// tried is how many pairs of divisions are looked at seam by seam.
const tried = 24

// square is how well the patches' width over their height goes with patches
// as wide as high: most are cut so, and the proportions of the top are known
// to a few per cent.
func (v *given) square(ratio float64) float64 {
	d := max(abs(math.Log(ratio))-.04-v.slack, 0) / .1
	return max(math.Exp(-d*d/2), .25)
}

// division is one way to divide a side into n rows or columns, unit the width
// of a patch.
type division struct {
	n     int
	lines []float64
	by    []float64 // widths that they go by, in patches
	unit  float64
	score float64
}

// close leaves the gaps between patches out of a division.
func (d *division) close(lines []float64) {
	if len(lines) == len(d.lines) {
		return
	}
	d.n, d.lines, d.by = len(lines)-1, lines, evenWidths(len(lines)-1)
	d.unit = (lines[d.n] - lines[0]) / float64(d.n)
}

// even is 1 where the outermost rows are as wide as those inside say, and less
// where they are not: part of a border may have been taken in.
func (d division) even() float64 {
	if d.n < 3 {
		return 1
	}
	by := 0.0
	for _, w := range d.by[1 : d.n-1] {
		by += w
	}
	unit := (d.lines[d.n-1] - d.lines[1]) / by
	a := (d.lines[1]-d.lines[0])/unit - d.by[0]
	b := (d.lines[d.n]-d.lines[d.n-1])/unit - d.by[d.n-1]
	return math.Exp(-(a*a + b*b) / 2 / (.14 * .14))
}

// divisions are all of them, or that of the number given.
func (p profiled) divisions(given int) []division {
	from, to := 1, max(min(int((p.x1-p.x0)/smallestPitch), mostCount), 1)
	if given > 0 {
		from, to = given, given
	}
	var all []division
	for n := from; n <= to; n++ {
		all = append(all, p.likeliest(n))
	}
	slices.SortStableFunc(all, func(a, b division) int { return -cmp.Compare(a.score, b.score) })
	all = all[:min(len(all), likely)]
	for i := range all {
		d := &all[i]
		d.score, d.lines = p.relief(d.unit).place(p.x0, p.x1, d.by)
		d.score -= lineCost * float64(d.n-1)
	}
	return all
}

// likely is how many divisions of a side are looked at more closely.
const likely = 8

// likeliest is the best way to divide a side into n, its lines where they
// would lie if they were evenly spaced: patches all alike, or sashing between
// them where that is far better.
func (p profiled) likeliest(n int) division {
	best := p.asDivided(evenWidths(n))
	for _, m := range sashings(n) {
		for s := leastStrip; s <= mostSash; s *= 1.12 {
			d := p.asDivided(m.widths(n, s))
			if d.score -= 1 + .2*float64(n); d.score > best.score {
				best = d
			}
		}
	}
	best.score -= lineCost * float64(n-1)
	return best
}

// asDivided is a division by widths, in patches, each line scored by the
// highest place near it, beside what is highest between the lines.
func (p profiled) asDivided(widths []float64) division {
	total := 0.0
	for _, w := range widths {
		total += w
	}
	d := division{n: len(widths), by: widths, unit: (p.x1 - p.x0) / total}
	r := p.relief(d.unit)
	slack := max(1.5*pitchSlack*d.unit, 1)
	x := p.x0
	for i, w := range widths {
		next := x + w*d.unit
		m := .25 * (next - x)
		d.score -= r.highest(x+m, next-m)
		if i+1 < len(widths) {
			// The lines' errors add up towards the middle.
			reach := slack * math.Sqrt(min(float64(i+1), float64(len(widths)-i-1)))
			d.score += min(r.highest(next-min(reach, .2*d.unit), next+min(reach, .2*d.unit)), 1.2)
		}
		x = next
	}
	return d
}

// strips are which of the rows are sashing.
func (d division) strips() []bool {
	out := make([]bool, d.n)
	for i, w := range d.by {
		out[i] = w < 1
	}
	return out
}

// round is whether strips lie outermost: sashing all round, or a border.
func (d division) round() bool {
	s := d.strips()
	return d.n > 2 && s[0] && s[d.n-1]
}

// inner is the worth of the seams inside the mesh that are to show; see
// net.sashed.
func (m *mesh) inner(xs, ys []bool) float64 {
	beside := func(strip []bool, line int) bool { return strip[line-1] || strip[line] }
	sum := 0.0
	for i := 1; i+1 < len(m.xs); i++ {
		var l lineWorth
		for j, row := range m.down {
			if h := m.ys[j+1] - m.ys[j]; !ys[j] || beside(xs, i) {
				l.add(row[i]/h, h)
			}
		}
		sum += l.total()
	}
	for j := 1; j+1 < len(m.ys); j++ {
		var l lineWorth
		for i, col := range m.along {
			if w := m.xs[i+1] - m.xs[i]; !xs[i] || beside(ys, j) {
				l.add(col[j]/w, w)
			}
		}
		sum += l.total()
	}
	return sum
}

// squares is the mean worth of the seams round the squares in the four
// corners of a frame of sashing.
func (m *mesh) squares() float64 {
	sum, length := 0.0, 0.0
	nx, ny := len(m.xs)-1, len(m.ys)-1
	for _, j := range [2]int{0, ny - 1} {
		sum += m.down[j][1] + m.down[j][nx-1]
		length += 2 * (m.ys[j+1] - m.ys[j])
	}
	for _, i := range [2]int{0, nx - 1} {
		sum += m.along[i][1] + m.along[i][ny-1]
		length += 2 * (m.xs[i+1] - m.xs[i])
	}
	return sum / length
}

// judged is what the seams of a reading are worth now that its net lies on
// them, in pixels of the tones.
func (r *guess) judged(n *net) float64 {
	shows := everySeam
	if r.point == nil {
		shows = n.sashed(strips(r.xs), strips(r.ys))
	}
	flat := areaOf(n.corners(func(p Point) Point { return p }))
	return n.total(shows) * math.Sqrt(math.Abs(areaOf(n.corners(r.f.at)))/max(math.Abs(flat), 1))
}

func areaOf(q [4]Point) float64 {
	area := 0.0
	for k, c := range q {
		d := q[(k+1)%4]
		area += (c[0]*d[1] - d[0]*c[1]) / 2
	}
	return area
}
