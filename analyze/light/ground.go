package light

import (
	"cmp"
	"math"
	"slices"

	"greige/analyze/photo"
	"greige/colorspace"
)

// ground is one plain surface behind the cloth, found on the cells.
type ground struct {
	member []bool // by cell: the surface itself, lit as the field says
	// underTop: a top lies on it, which leaves a margin that is all near it.
	// Between scraps there is open ground enough to tell the light by.
	underTop bool
	field    *field // its light; one group
	// Tolerances of membership: ln of luminance, of R/Y and of B/Y.
	tolY, tolR, tolB float64

	area   float64 // share of the photo
	border float64 // share of the photo's outermost cells
	things int     // separate things that lie on it
	score  float64
	verdict
}

// Limits of what may be a ground.
const (
	maxCandidates = 6
	coarseSamples = 400  // for choosing among candidates
	fineSamples   = 3000 // for the field that is used
	leastArea     = .04  // share of the photo: a margin of 2 % round a top has 8 %
	thingLeast    = .001 // share of the photo that a thing on the ground has
)

// findGround looks for the one plain surface that the cloth lies on, hangs on
// or is framed by: among the flat parts of the halved picture first, then in
// full. It returns nil when there is none that it would trust. before is what an
// earlier look at the same photo found; nil when there was none.
func findGround(c, half *cells, parts segments, hint Hint, before *foundGround) *foundGround {
	n := half.w * half.h
	total := make([]float64, len(parts.size))
	edge := make([]float64, len(parts.size))
	edges := 0.0
	for i, l := range parts.label {
		b := half.onBorder(i)
		if b {
			edges++
		}
		if l >= 0 {
			total[l]++
			if b {
				edge[l]++
			}
		}
	}
	first := func(l int) float64 { return total[l]/float64(n) + edge[l]/edges }
	var order []int
	for l := range parts.size {
		if total[l] > leastArea/4*float64(n) {
			order = append(order, l)
		}
	}
	slices.SortFunc(order, func(a, b int) int {
		return cmp.Or(cmp.Compare(first(b), first(a)), a-b)
	})
	var best *ground
	taken := make([]bool, n)
	consider := func(g *ground) {
		if g == nil {
			return
		}
		for i, m := range g.member {
			taken[i] = taken[i] || m
		}
		g.judge(half, hint)
		if g.score > 0 && (best == nil || g.score > best.score) {
			best = g
		}
	}
	for _, l := range order[:min(len(order), maxCandidates)] {
		// A part that an earlier ground has swallowed is the same ground.
		if overlap(parts, l, taken) {
			continue
		}
		consider(half.grow(func(i int) bool { return int(parts.label[i]) == l }))
	}
	if best == nil && hint == Top {
		// A grained margin may have no flat parts, but it runs along the rim,
		// nearly all of it: what only half of it shows may be patches.
		if consider(half.grow(half.onBorder)); best != nil && best.border < .85 {
			best = nil
		}
	}
	if best != nil {
		best.underTop = hint == Top
	}
	if best == nil {
		return nil
	}
	if before != nil && before.underTop == best.underTop && slices.Equal(before.from, best.member) {
		return before.again(best)
	}
	found := &foundGround{ground: best, from: slices.Clone(best.member)}
	if !best.refine(c, half) {
		return nil
	}
	return found
}

// foundGround is a ground with what it grew from, cells of the halved picture,
// and where it is not lit as its field says, once that was looked for. It is the
// same whatever the photo shows.
type foundGround struct {
	*ground
	from  []bool
	spots *spots
}

// again is the ground that grew from the same cells, judged as coarse was.
func (f *foundGround) again(coarse *ground) *foundGround {
	g := *f.ground
	g.score, g.verdict = coarse.score, coarse.verdict
	return &foundGround{&g, f.from, f.spots}
}

// onBorder: the cell is one of the photo's outermost two.
func (c *cells) onBorder(i int) bool {
	x, y := i%c.w, i/c.w
	return x < 2 || y < 2 || x >= c.w-2 || y >= c.h-2
}

// rimShare is the share of the photo's outermost cells that lie in.
func (c *cells) rimShare(in []bool) float64 {
	n, m := 0, 0
	for i, v := range in {
		if c.onBorder(i) {
			n++
			if v {
				m++
			}
		}
	}
	return float64(m) / float64(n)
}

// samples are the cells that member names, with one stride for all so that
// at most about limit remain.
func (c *cells) samples(member func(i int) bool, limit int) []sample {
	geo := c.geometry()
	n := 0
	for i := range c.use {
		if c.use[i] && member(i) {
			n++
		}
	}
	// A lattice of cells rather than every k-th, so that none of the photo's
	// own rhythms (rows of scraps) can fall in with it.
	step := max(1, int(math.Ceil(math.Sqrt(float64(n)/float64(limit)))))
	out := make([]sample, 0, n/(step*step)+1)
	for y := range c.h {
		for x := y / step % step; x < c.w; x += step {
			i := y*c.w + x
			if y%step != 0 || !c.use[i] || !member(i) {
				continue
			}
			u, v := c.at(i, geo)
			at := basis(u, v)
			s := sample{at: &at, cell: i}
			for k := range 4 {
				s.v[k] = float64(c.logs[i][k])
			}
			out = append(out, s)
		}
	}
	return out
}

// averaged are the cells that member names, averaged over squares of the
// photo so that at most about limit remain. Single cells as far apart as that
// would beat with a mat's ruling and the joints of boards, as any sampling does
// with what is finer than itself; and what they leave out is heard too.
func (c *cells) averaged(member func(i int) bool, limit int) []sample {
	geo := c.geometry()
	n := 0
	for i := range c.use {
		if c.use[i] && member(i) {
			n++
		}
	}
	side := max(1, int(math.Ceil(math.Sqrt(float64(n)/float64(limit)))))
	out := make([]sample, 0, n/(side*side)+1)
	in := make([]int, 0, side*side)
	for y0 := 0; y0 < c.h; y0 += side {
		for x0 := 0; x0 < c.w; x0 += side {
			in = in[:0]
			for y := y0; y < min(y0+side, c.h); y++ {
				for x := x0; x < min(x0+side, c.w); x++ {
					if i := y*c.w + x; c.use[i] && member(i) {
						in = append(in, i)
					}
				}
			}
			if 4*len(in) < side*side { // a rim
				continue
			}
			s := sample{cell: in[len(in)/2]}
			var u, v float64
			for _, i := range in {
				x, y := c.at(i, geo)
				u, v = u+x, v+y
				for k := range s.v {
					s.v[k] += float64(c.logs[i][k])
				}
			}
			m := float64(len(in))
			for k := range s.v {
				s.v[k] /= m
			}
			at := basis(u/m, v/m)
			s.at = &at
			out = append(out, s)
		}
	}
	return out
}

func (c *cells) geometry() geometry {
	return geometry{float64(c.pw), float64(c.ph)}
}

// grow fits the light to a part of the picture and takes in all cells, connected or
// not, that this light on that surface explains: the squares between a mat's
// lines, the ground between two scraps.
func (c *cells) grow(from func(i int) bool) *ground {
	g := &ground{member: make([]bool, c.w*c.h)}
	for i := range g.member {
		g.member[i] = from(i)
	}
	// From one end of a narrow margin the light at the other is a guess, which
	// what has been gathered on the way there improves.
	for before := 0; ; {
		if !g.fit(c, coarseSamples, func(i int) bool { return g.member[i] }) {
			return nil
		}
		now := g.gather(c)
		if before > 0 && now <= before+before/20 {
			return g
		}
		before = now
	}
}

// fit fits the field to the cells that member names and sets the tolerances
// by what is left over of them one by one.
func (g *ground) fit(c *cells, limit int, member func(i int) bool) bool {
	final := limit >= fineSamples
	var f *field
	var seen []sample
	if final && !g.underTop { // lines and the like are no members any more
		seen = c.averaged(member, limit)
		f = fitOpen(seen, c.w)
	} else {
		seen = c.samples(member, limit)
		if final {
			c.lift(seen, g.member)
		}
		f = fitField(seen, 1, c.w)
	}
	if f == nil {
		return false
	}
	if final {
		f.byStrips(seen, c.w)
	}
	g.field = f
	sd := f.sd
	if f.open { // single cells scatter more than their means
		seen = c.samples(member, 2*coarseSamples)
		rest := make([]float64, len(seen))
		for i := range seen {
			rest[i] = f.residual(&seen[i])
		}
		var mode float64
		mode, sd = scale(slices.Clone(rest))
		for i := range seen {
			if math.Abs(rest[i]-mode) < 4*sd {
				seen[i].w = 1
			}
		}
	}
	var r, b []float64
	for i := range seen {
		if s := &seen[i]; s.w > 0 {
			r = append(r, math.Abs(f.rest(1, s)))
			b = append(b, math.Abs(f.rest(3, s)))
		}
	}
	g.tolY = min(max(3.5*sd, .02), .3)
	g.tolR = min(max(4*1.4826*quantiles(r, 1)[0], .02), .15)
	g.tolB = min(max(4*1.4826*quantiles(b, 1)[0], .04), .3)
	return true
}

// offs tells how a cell differs from the ground under the fitted light, in ln
// of luminance, of R/Y and of B/Y.
func (g *ground) offs(c *cells) func(i int) (y, r, b float64) {
	l := g.field.groups[0].level
	fy, fr, fb := c.over(g.field, 0), c.over(g.field, 1), c.over(g.field, 3)
	return func(i int) (y, r, b float64) {
		logs := &c.logs[i]
		return float64(logs[0]-fy[i]) - l[0], float64(logs[1]-fr[i]) - l[1], float64(logs[3]-fb[i]) - l[3]
	}
}

// gather makes every cell within the tolerances a member, and counts them.
func (g *ground) gather(c *cells) int {
	off := g.offs(c)
	photo.Bands(c.h, 16, func(y0, y1 int) {
		for i := y0 * c.w; i < y1*c.w; i++ {
			g.member[i] = false
			if c.use[i] {
				y, r, b := off(i)
				g.member[i] = math.Abs(y) < g.tolY && math.Abs(r) < g.tolR && math.Abs(b) < g.tolB
			}
		}
	})
	n := 0
	for _, m := range g.member {
		if m {
			n++
		}
	}
	return n
}

// refine goes from the halved picture to the full one and fits the final
// field, away from the edges of things, where their shadows lie.
func (g *ground) refine(c, half *cells) bool {
	coarse := g.member
	if !g.fit(c, fineSamples/2, func(i int) bool { return coarse[i/c.w/2*half.w+i%c.w/2] }) {
		return false
	}
	g.member = make([]bool, c.w*c.h)
	g.gather(c)
	inner := c.eroded(g.member)
	n, m := 0, 0
	for i := range inner {
		if g.member[i] {
			n++
		}
		if inner[i] {
			m++
		}
	}
	if 3*m < n {
		copy(inner, g.member)
	}
	if !g.fit(c, fineSamples, func(i int) bool { return inner[i] }) {
		return false
	}
	g.gather(c)
	n = 0
	for _, in := range g.member {
		if in {
			n++
		}
	}
	g.area = float64(n) / float64(len(g.member))
	return true
}

// surrounded: all neighbours of cell i that lie in the photo are in.
func (c *cells) surrounded(i int, in []bool) bool {
	x, y := i%c.w, i/c.w
	for dy := max(y-1, 0); dy <= min(y+1, c.h-1); dy++ {
		for dx := max(x-1, 0); dx <= min(x+1, c.w-1); dx++ {
			if !in[dy*c.w+dx] {
				return false
			}
		}
	}
	return true
}

// judge measures how much like a ground g is.
func (g *ground) judge(c *cells, hint Hint) {
	n := 0.0
	for _, m := range g.member {
		if m {
			n++
		}
	}
	g.area, g.border = n/float64(len(g.member)), c.rimShare(g.member)
	g.things = 0
	for _, t := range c.parts(g.member, false) {
		if float64(len(t)) >= thingLeast*float64(len(g.member)) {
			g.things++
		}
	}
	if g.area < leastArea {
		return
	}
	several := min(1, float64(g.things)/4)
	switch hint {
	case Top:
		// A frame round the top, not the top itself, and not the patches of
		// one cloth that lie about in it.
		if g.border > .35 && g.area < .75 && c.framing(g.member) {
			g.score = g.border + .3*g.area
		}
	case ScrapsOnGround:
		if g.area > .12 && (g.border > .3 || g.things >= 3) {
			g.score = .7*g.area + .5*g.border + .3*several
		}
	default:
		if g.area > .12 && g.area < .97 && g.border > .5 {
			g.score = .7*g.area + .5*g.border + .3*several
		}
	}
}

// framing: nearly all of the cells lie in at most four parts that run along
// the photo's edge, and few in its middle.
func (c *cells) framing(in []bool) bool {
	all, frame, n := 0, 0, 0
	for _, p := range c.parts(in, true) {
		all += len(p)
		on := false
		for _, i := range p {
			on = on || c.onBorder(i)
		}
		if on && len(p) >= 20 {
			frame += len(p)
			n++
		}
	}
	if n > 4 || 5*frame <= 4*all {
		return false
	}
	// What is in the middle of the photo is the top.
	mid, have := 0, 0
	for y := 3 * c.h / 10; y < 7*c.h/10; y++ {
		for x := 3 * c.w / 10; x < 7*c.w/10; x++ {
			mid++
			if in[y*c.w+x] {
				have++
			}
		}
	}
	return float64(have) < .3*float64(mid)
}

// carries: what lies on the ground is a moderate number of large things, like
// scraps on a table, and not the many small figures of a print on its ground.
func (g *ground) carries(c *cells) bool {
	on := make([]bool, len(g.member))
	for i, m := range g.member {
		on[i] = !m
	}
	if c.bearsThings(on) {
		return true
	}
	// Scraps laid close hang together by the shadows in the gaps. Where the
	// ground is seen nearly all round, as no print's is that runs on beyond the
	// photo, those do not count.
	if g.border < .9 {
		return false
	}
	for range thickest {
		if on = c.eroded(on); c.bearsThings(on) {
			return true
		}
	}
	return false
}

// thickest is how many cells from either side the shadows between two scraps
// are taken off.
const thickest = 4

// bearsThings: most of the cells of on are in a moderate number of large parts.
func (c *cells) bearsThings(on []bool) bool {
	large, in, all := 0, 0, 0
	for _, p := range c.parts(on, true) {
		all += len(p)
		if float64(len(p)) >= .004*float64(len(on)) {
			large++
			in += len(p)
		}
	}
	return large >= 2 && large <= 80 && float64(in) > .7*float64(all)
}

// parts are the connected parts (4 neighbours) of the cells whose value in
// set is want, in reading order of their first cells.
func (c *cells) parts(set []bool, want bool) [][]int {
	return c.partsWhere(set, want, func(i, j int) bool { return true })
}

// partsWhere is parts of neighbours that are also joined.
func (c *cells) partsWhere(set []bool, want bool, joined func(i, j int) bool) [][]int {
	seen := make([]bool, len(set))
	var out [][]int
	for i := range set {
		if set[i] != want || seen[i] {
			continue
		}
		part := []int{i}
		seen[i] = true
		for k := 0; k < len(part); k++ {
			j := part[k]
			for _, m := range c.around(j) {
				if m >= 0 && set[m] == want && !seen[m] && joined(j, m) {
					seen[m] = true
					part = append(part, m)
				}
			}
		}
		out = append(out, part)
	}
	return out
}

// seen is the ground's own light as the photo shows it at its middle.
func (g *ground) seen() (seen colorspace.Linear) {
	gr := &g.field.groups[0]
	y := gr.level[0] + g.field.lnY(&gr.centre)
	for k := range 3 {
		seen[k] = math.Exp(y + gr.level[k+1] + g.field.channel(k+1, &gr.centre))
	}
	return seen
}

// light is the ground's own light at the photo's average illumination.
func (g *ground) light() colorspace.Linear {
	l := &g.field.groups[0].level
	return colorspace.Linear{math.Exp(l[0] + l[1]), math.Exp(l[0] + l[2]), math.Exp(l[0] + l[3])}
}
