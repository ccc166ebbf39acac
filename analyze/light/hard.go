package light

import (
	"cmp"
	"math"
	"slices"
)

// A shadow with a sharp edge, of a hand, a phone, a window's bar, makes all
// that it falls on darker by one factor, up to a line that runs on from cloth
// to cloth and over the ground. No smooth field follows it. No seam is like
// that: what lies on its two sides is other cloth at every patch, of another
// colour, and the ratio of their light changes from patch to patch; where it
// does not, as along a border, it is one cloth against one other. So what is
// looked for is a line across which several cloths lie in their own colour on
// both sides, all of them darker by one factor on the same one.

// shadowEdge is a straight piece of the edge of a sharp shadow, in cells.
type shadowEdge struct {
	nx, ny float64      // unit vector into the shadow; (-ny, nx) runs along the edge
	rho    float64      // distance of the edge's line from the photo's corner, along (nx, ny)
	t0, t1 float64      // where along the edge it begins and ends
	step   float64      // ln of the light that is lost, above 0
	cells  float64      // along it that bear it out, less those that speak against it
	cloths [][3]float64 // that bear it out, as they are lit
	share  float64      // of what lies along it that does
	// through: it comes in over the photo's edge, passes a top or the like
	// that shows nothing, and goes out again over the same ground.
	through bool
}

const (
	edgeLeast = .18 // ln: a sixth of the light; less may be a fold, or the relief of a seam
	edgeMost  = 1.4 // ln: what a room's walls send back reaches all shadows
	edgeTurns = 72  // directions tried over a full turn
	edgeFine  = 2   // cells between the lines tried
	edgeTries = 14  // lines that are looked at closely
	// An edge is sharp when it is over within edgeNear cells to either side; the
	// light is compared up to edgeFar cells from it, and is still the same at
	// edgeBeyond.
	edgeNear, edgeFar, edgeBeyond = 2, 3, 5
	edgePair                      = .9  // ln: more is rather two prints of one light and one dark cloth
	edgeBoards                    = .35 // ln: two boards of a floor differ by less (common practice, no source)
	edgeRim                       = 5   // cells from the photo's edge that are the edge
	edgeBend                      = 6   // that a shadow may reach over the straight line along its edge
	lampMost                      = .7  // ln: one cloth in two places, under one lamp, differs by less
	edgeStretch                   = 4   // cells of one cloth, along the edge, that tell a step
	edgeCells                     = 20  // that have to bear an edge out
)

// sure: chance alone does not make this of cloths and seams. Boards of a
// floor and a carpet's grain come near with two cloths and a slight step, so
// those need more.
func (e *shadowEdge) sure() bool {
	switch n := len(e.cloths); {
	case e.through && e.cells >= 2*edgeCells && e.step > edgeBoards:
		return true
	case e.cells < edgeCells || n < 2:
		return false
	case n > 2:
		return e.share > .5 && e.step > .3 || e.share > .7 && e.step > .22
	}
	return e.share > .9 && e.step > .27 && e.step < edgePair
}

// sureWith: what e cannot say by itself it says with other pieces of the edge,
// which is as long as the shadow is wide and bends. All are as deep.
func (e *shadowEdge) sureWith(all []shadowEdge) bool {
	var cloths [][3]float64
	cells := 0.0
	for i := range all {
		o := &all[i]
		if math.Abs(o.step-e.step) > .04+.04*e.step || o.share < .75 {
			continue
		}
		for _, l := range o.cloths {
			if !slices.ContainsFunc(cloths, func(k [3]float64) bool { return near(k, l, lampMost, .1) }) {
				cloths = append(cloths, l)
			}
		}
		cells += o.cells
	}
	return e.step > .27 && e.share > .75 && len(cloths) >= 3 && cells >= 3*edgeCells
}

// stair: beside e runs another edge that falls as much to the same side, and
// none between them rises again. So a top falls from light to dark that was
// planned to, patch by patch; two shadows have light between them.
func (e *shadowEdge) stair(all []shadowEdge) bool {
	// beyond is how far e's ends lie from o's line, as far as both lie on one
	// side of it.
	beyond := func(o *shadowEdge) float64 {
		off := func(t float64) float64 {
			return (e.rho*e.nx-t*e.ny)*o.nx + (e.rho*e.ny+t*e.nx)*o.ny - o.rho
		}
		a, b := off(e.t0), off(e.t1)
		if a*b < 0 {
			return 0
		}
		return min(math.Abs(a), math.Abs(b))
	}
	steps, back := false, false
	for i := range all {
		o := &all[i]
		if beyond(o) < edgeBend || math.Abs(o.step-e.step) > .3*e.step {
			continue
		}
		turn := e.nx*o.nx + e.ny*o.ny
		steps, back = steps || turn > .995, back || turn < -.9
	}
	return steps && !back
}

// hardShadows are the straight pieces of the edges of sharp shadows. Places
// where the light falls off steeply and the colour stays vote for the lines
// that they may lie on (Duda and Hart 1972, Comm. ACM 15:11, with the direction
// of the fall); the lines with the most votes are looked at closely.
func (c *cells) hardShadows() []shadowEdge {
	half := int(math.Hypot(float64(c.w), float64(c.h))/edgeFine) + 2
	wide := 2*half + 1
	votes := make([]int16, edgeTurns*wide)
	var sin, cos [edgeTurns]float64
	for k := range sin {
		sin[k], cos[k] = math.Sincos(2 * math.Pi * float64(k) / edgeTurns)
	}
	const least = .8 * edgeLeast
	fall := func(i, s, k int) float32 {
		return (c.logs[i+2*s][k] + c.logs[i+3*s][k] - c.logs[i-2*s][k] - c.logs[i-3*s][k]) / 2
	}
	for y := edgeFar; y < c.h-edgeFar; y++ {
		for x := edgeFar; x < c.w-edgeFar; x++ {
			i := y*c.w + x
			gx, gy := fall(i, 1, 0), fall(i, c.w, 0)
			if g := gx*gx + gy*gy; g < least*least || g > edgeMost*edgeMost {
				continue
			}
			if !c.use[i] || !c.use[i-3] || !c.use[i+3] || !c.use[i-3*c.w] || !c.use[i+3*c.w] {
				continue
			}
			g := float32(math.Hypot(float64(gx), float64(gy)))
			if tol := .05 + .1*g; abs32(fall(i, 1, 1)) > tol || abs32(fall(i, c.w, 1)) > tol || abs32(fall(i, 1, 3)) > 2*tol || abs32(fall(i, c.w, 3)) > 2*tol {
				continue
			}
			turn := int(math.Round(math.Atan2(-float64(gy), -float64(gx)) / (2 * math.Pi) * edgeTurns))
			for k := turn - 2; k <= turn+2; k++ {
				m := (k + edgeTurns) % edgeTurns
				votes[m*wide+int(math.Round((float64(x)*cos[m]+float64(y)*sin[m])/edgeFine))+half]++
			}
		}
	}
	var all, out []shadowEdge
	var row []bothSides
	mx, my := float64(c.w)/2, float64(c.h)/2
	for range edgeTries {
		at, most := -1, int16(edgeCells)
		for i, n := range votes {
			if n > most {
				at, most = i, n
			}
		}
		if at < 0 {
			break
		}
		turn, r := at/wide, at%wide
		for m := turn - 2; m <= turn+2; m++ {
			line := votes[(m+edgeTurns)%edgeTurns*wide:][:wide]
			clear(line[max(r-3, 0):min(r+4, wide)])
		}
		// The line's turn, and how far it lies from the photo's middle.
		angle := 2 * math.Pi * float64(turn) / edgeTurns
		off := float64(r-half)*edgeFine - mx*cos[turn] - my*sin[turn]
		var top shadowEdge
		look := func(angle, off float64) bool {
			s, k := math.Sincos(angle)
			e := c.alongEdge(k, s, mx*k+my*s+off, &row)
			if e.cells*float64(len(e.cloths)) <= top.cells*float64(len(top.cloths)) {
				return false
			}
			top = e
			return true
		}
		bestA, bestO := angle, off
		for da := -1.; da <= 1; da++ {
			for do := -1.; do <= 1; do++ {
				if look(angle+.035*da, off+1.4*do) {
					bestA, bestO = angle+.035*da, off+1.4*do
				}
			}
		}
		if top.cells >= edgeCells/2 {
			for da := -1.; da <= 1; da++ {
				for do := -1.; do <= 1; do++ {
					look(bestA+.015*da, bestO+.7*do)
				}
			}
		}
		if top.cells >= edgeCells/2 {
			all = append(all, top)
		}
	}
	for i := range all {
		if e := &all[i]; (e.sure() || e.sureWith(all)) && !e.stair(all) {
			out = append(out, *e)
		}
	}
	slices.SortStableFunc(out, func(a, b shadowEdge) int { return cmp.Compare(b.cells, a.cells) })
	return out
}

// sharpShadow looks for sharp shadows, says so and keeps what they leave in
// doubt. Of a top nothing else tells the light than its margin and its patches,
// which lie in both of two lights: when a good part of it may lie in the shadow
// the photo is left alone, and it tells so.
func (e *Even) sharpShadow(c *cells, hint Hint) (alone bool) {
	edges := c.hardShadows()
	if len(edges) == 0 {
		return false
	}
	e.dark = c.swept(edges)
	n, deepest := 0, 0.0
	for _, d := range e.dark {
		if d > 0 {
			n++
			deepest = max(deepest, d)
		}
	}
	const found = "The sharp edge of a shadow runs across the photo, "
	// A card still tells the level where it lies, and how deep the shadow may be is in
	// the doubt of all that may lie in it.
	if alone = hint == Top && float64(n) > hardShare*float64(len(e.dark)) && len(e.options.Cards) == 0; alone {
		for i := range e.dark {
			e.dark[i] = deepest
		}
		e.leaveAlone(found+twoLights, adviceShadow)
		return true
	}
	e.remark(found + "and what lies in the shadow looks darker than it is. Pieces that may lie in it are less sure.")
	e.tip(adviceShadow)
	return false
}

// bothSides is what lies on the two sides of a line at one place: on the lit
// side, and that less the other; ln Y, ln R/Y and ln B/Y.
type bothSides struct {
	seen bool
	lit  [3]float64
	fall [3]float64
}

// along fills row with what lies on both sides of a line, from its point t0
// on, cell by cell through the photo.
func (c *cells) along(nx, ny, rho float64, row *[]bothSides) (t0 int) {
	// The line is rho n + t d; where it lies in the photo.
	lo, hi := math.Inf(-1), math.Inf(1)
	clip := func(p, d, most float64) {
		if math.Abs(d) < 1e-9 {
			if p < 0 || p > most {
				hi = lo
			}
			return
		}
		a, b := -p/d, (most-p)/d
		lo, hi = max(lo, min(a, b)), min(hi, max(a, b))
	}
	clip(rho*nx, -ny, float64(c.w))
	clip(rho*ny, nx, float64(c.h))
	*row = (*row)[:0]
	if !(hi-lo >= edgeCells) {
		return 0
	}
	t0 = int(math.Ceil(lo))
	at := func(x, y float64) int {
		if x < 0 || y < 0 || x >= float64(c.w) || y >= float64(c.h) {
			return -1
		}
		if i := int(y)*c.w + int(x); c.use[i] {
			return i
		}
		return -1
	}
	for t := t0; t <= int(hi); t++ {
		x, y := rho*nx-float64(t)*ny+.5, rho*ny+float64(t)*nx+.5
		p, q := at(x+edgeNear*nx, y+edgeNear*ny), at(x+edgeFar*nx, y+edgeFar*ny)
		l, m := at(x-edgeNear*nx, y-edgeNear*ny), at(x-edgeFar*nx, y-edgeFar*ny)
		var b bothSides
		if min(p, q, l, m) >= 0 {
			b.seen = true
			for k, ch := range [3]int{0, 1, 3} {
				b.lit[k] = float64(c.logs[l][ch]+c.logs[m][ch]) / 2
				b.fall[k] = b.lit[k] - float64(c.logs[p][ch]+c.logs[q][ch])/2
			}
			// A line or a joint falls back beyond: it has two edges.
			if l, p = at(x-edgeBeyond*nx, y-edgeBeyond*ny), at(x+edgeBeyond*nx, y+edgeBeyond*ny); l >= 0 && p >= 0 {
				mid := b.lit[0] - b.fall[0]/2
				b.seen = float64(c.logs[l][0]) > mid && float64(c.logs[p][0]) < mid || b.fall[0] < edgeLeast
			}
		}
		*row = append(*row, b)
	}
	return t0
}

// stretch is a piece of a line along which one cloth lies on the lit side.
type stretch struct {
	from, to  int
	lit, fall [3]float64
	one       bool // the fall is alike all along
}

// stretches divides a line.
func stretches(row []bothSides) (all []stretch) {
	var falls []float64
	for t := 0; t < len(row); {
		if !row[t].seen {
			t++
			continue
		}
		u := t + 1
		for u < len(row) && row[u].seen && math.Abs(row[u].lit[0]-row[u-1].lit[0]) < .1 && near(row[u].lit, row[t].lit, .2, .06) {
			u++
		}
		if u-t >= edgeStretch {
			s := stretch{from: t, to: u}
			for k := range 3 {
				falls = falls[:0]
				for _, b := range row[t:u] {
					falls = append(falls, b.fall[k])
					s.lit[k] += b.lit[k] / float64(u-t)
				}
				slices.Sort(falls)
				s.fall[k] = falls[len(falls)/2]
				if k == 0 {
					s.one = falls[3*len(falls)/4]-falls[len(falls)/4] < .15
				}
			}
			all = append(all, s)
		}
		t = u
	}
	return all
}

// near: two looks differ by less than y in ln Y, c in ln R/Y and twice that in
// ln B/Y, which is noisier.
func near(a, b [3]float64, y, c float64) bool {
	return math.Abs(a[0]-b[0]) < y && math.Abs(a[1]-b[1]) < c && math.Abs(a[2]-b[2]) < 2*c
}

// alongEdge is the piece of a line along which the cloths are darker by one
// factor on the side that (nx, ny) points to. row is scratch.
func (c *cells) alongEdge(nx, ny, rho float64, row *[]bothSides) shadowEdge {
	t0 := c.along(nx, ny, rho, row)
	all := stretches(*row)
	var steps []float64
	for _, s := range all {
		if s.one && s.fall[0] > edgeLeast && s.fall[0] < edgeMost && math.Abs(s.fall[1]) < .06 && math.Abs(s.fall[2]) < .12 {
			for range s.to - s.from {
				steps = append(steps, s.fall[0])
			}
		}
	}
	if len(steps) < edgeCells/2 {
		return shadowEdge{}
	}
	slices.Sort(steps)
	e := shadowEdge{nx: nx, ny: ny, rho: rho, step: halfSampleMode(steps)}
	// A cloth bears the step out when it falls by it and keeps its colour, and
	// speaks against it when it runs across unchanged. Where another cloth lies
	// on the other side there is nothing to be seen.
	keeps := func(s *stretch) bool { return near(s.fall, [3]float64{s.fall[0]}, 1, .03+.06*e.step) }
	bears := func(s *stretch) bool {
		return s.one && keeps(s) && math.Abs(s.fall[0]-e.step) < min(.03+.1*e.step, .1)
	}
	against := func(s *stretch) bool { return s.one && keeps(s) && math.Abs(s.fall[0]) < .4*e.step }
	sum, from, to, first := 0.0, 0, -1, 0
	for k := range all {
		s := &all[k]
		switch n := float64(s.to - s.from); {
		case bears(s):
			sum += n
		case against(s):
			sum -= 2 * n
		default:
			sum -= n / 4
		}
		if sum < 0 {
			sum, first = 0, k+1
		}
		if sum > e.cells {
			e.cells, from, to = sum, first, k
		}
	}
	if to < 0 {
		return shadowEdge{}
	}
	// It reaches on to where a cloth speaks against it.
	e.t0, e.t1 = float64(t0), float64(t0+len(*row))
	for k := from - 1; k >= 0; k-- {
		if s := &all[k]; against(s) {
			e.t0 = float64(t0 + s.to)
			break
		}
	}
	for k := to + 1; k < len(all); k++ {
		if s := &all[k]; against(s) {
			e.t1 = float64(t0 + s.from)
			break
		}
	}
	n, yes := 0, 0
	for k := from; k <= to; k++ {
		s := &all[k]
		n += s.to - s.from
		if !bears(s) {
			continue
		}
		yes += s.to - s.from
		if !slices.ContainsFunc(e.cloths, func(l [3]float64) bool { return near(l, s.lit, lampMost, .1) }) {
			e.cloths = append(e.cloths, s.lit)
		}
	}
	e.share = float64(yes) / float64(n)
	ends := all[from].from < edgeRim && all[to].to > len(*row)-edgeRim && near(all[from].lit, all[to].lit, .35, .08)
	e.through = ends && bears(&all[from]) && bears(&all[to]) && 4*yes < 3*(all[to].to-all[from].from)
	return e
}

// swept is ln of the light that may be missing, by cell, for sharp shadows with
// these edges: on the dark side of each, until the opposite edge of a shadow
// as deep or the photo's end is met. Only the edge is seen, so that nobody
// knows how far the shadow really reaches.
func (c *cells) swept(edges []shadowEdge) []float64 {
	out := make([]float64, c.w*c.h)
	for k := range edges {
		e := &edges[k]
		for i := range out {
			x, y := float64(i%c.w), float64(i/c.w)
			// Both sides of the edge itself too, which may bend.
			d, t := x*e.nx+y*e.ny-e.rho, y*e.nx-x*e.ny
			if d < -edgeBend || t < e.t0-edgeBend || t > e.t1+edgeBend || out[i] >= e.step {
				continue
			}
			ends := slices.ContainsFunc(edges, func(o shadowEdge) bool {
				if e.nx*o.nx+e.ny*o.ny > -.5 {
					return false
				}
				// Where the way from e to the cell meets o's line.
				along := x*o.nx + y*o.ny - o.rho
				at := along / (e.nx*o.nx + e.ny*o.ny) // back along the way
				u := (y-at*e.ny)*o.nx - (x-at*e.nx)*o.ny
				return along < -edgeNear && at < d && u > o.t0 && u < o.t1
			})
			if !ends {
				out[i] = e.step
			}
		}
	}
	return out
}
