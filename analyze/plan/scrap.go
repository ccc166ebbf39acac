package plan

import (
	"cmp"
	"math"
	"slices"

	"greige/analyze/raster"
)

// Scrap is a piece of cloth of a known size.
type Scrap struct {
	// Outline and Holes are polygons in cm.
	Outline [][2]float64
	Holes   [][][2]float64
	// Grain is the direction of the weave, in radians from the x axis towards
	// the y axis; a quarter turn is the same weave. It holds where Seen is true.
	Grain float64
	Seen  bool
	// PixelCM is how many cm a pixel of the upright photo is wide.
	PixelCM float64
}

// Area is the scrap's area in cm2, its holes left out.
func (s *Scrap) Area() float64 {
	a := area(s.Outline)
	for _, h := range s.Holes {
		a -= area(h)
	}
	return max(a, 0)
}

// ScrapCut is the patches that a scrap yields, with the cuts to draw on it.
type ScrapCut struct {
	ID     string `json:"id"`
	Yields int    `json:"yields"`
	Used   int    `json:"used"` // in this top
	// Patches are the cuts, in pixels of the upright photo, Used of them first.
	Patches [][][2]float64 `json:"patches"`
	Grain   string         `json:"grain"` // "seen", or "not seen"
	AreaCM  float64        `json:"area_cm2"`
}

// edgeKept is how far from a scrap's edge the first cut stays: 3 mm, for
// fraying and for how well an outline is known. Common practice, no source.
const edgeKept = .3

// The search tries turnSteps directions within a quarter turn where the weave
// is not seen, and moves a row of patches in rowSteps steps of a patch.
const (
	turnSteps = 6
	rowSteps  = 12
)

// Yield returns rectangles w x h cm, whole ones, that lie in the scrap at
// least edgeKept from its edge and its holes and do not overlap: their corners
// in cm. The sides run along the weave where it is seen; else the direction is
// the one that gives most. In a direction, patches lie in rows. How many each
// row holds at a height is found from the outline itself, and the heights by
// dynamic programming (weighted intervals), with rows along the one side and
// along the other; what is then still free is filled patch by patch. Packing
// squares into a polygon is NP-hard (Fowler, Paterson and Tanimoto 1981), so
// this is not always the most.
func (s *Scrap) Yield(w, h float64) [][][2]float64 {
	if w <= 0 || h <= 0 || len(s.Outline) < 3 || s.Area() < w*h {
		return nil
	}
	// First how many each way of laying rows gives within an outline without its
	// small frays, in all directions and then close to the best one; then how
	// many the best of these ways give in truth, and the patches of the best,
	// and of those that one more in a gap could bring level.
	rough := s.smoothed()
	ways := rough.ways(nil, s.turns(), w, h)
	if !s.Seen {
		best := mostFirst(ways)[0].turn
		var near []float64
		for _, d := range []float64{-4, -2, 2, 4} {
			near = append(near, best+d*math.Pi/180)
		}
		ways = rough.ways(ways, near, w, h)
	}
	ways = mostFirst(ways)
	ways = ways[:min(len(ways), waysTried)]
	for i, p := range ways {
		ways[i] = newPacking(s.rotated(-p.turn), p.size, p.across)
		ways[i].turn = p.turn
	}
	ways = mostFirst(ways)
	var best []rect
	turn := 0.
	for i := range ways {
		if ways[i].count() < ways[0].count()-1 {
			break
		}
		if found := ways[i].lay(); len(found) > len(best) {
			best, turn = found, ways[i].turn
		}
	}
	out := make([][][2]float64, len(best))
	for i, r := range best {
		out[i] = rotate(corners(r), turn)
	}
	return out
}

// waysTried is how many ways of laying rows are looked at closely.
const waysTried = 6

func mostFirst(ways []packing) []packing {
	slices.SortStableFunc(ways, func(a, b packing) int { return cmp.Compare(b.count(), a.count()) })
	return ways
}

func (s *Scrap) ways(ways []packing, turns []float64, w, h float64) []packing {
	sizes := [][2]float64{{w, h}}
	if w != h {
		sizes = append(sizes, [2]float64{h, w})
	}
	for _, turn := range turns {
		rings := s.rotated(-turn)
		for _, size := range sizes {
			for _, across := range []bool{false, true} {
				p := newPacking(rings, size, across)
				p.turn = turn
				ways = append(ways, p)
			}
		}
	}
	return ways
}

// frayed is how far, in cm, a smoothed outline may stray from the traced one.
const frayed = .1

// smoothed is the scrap with fewer corners.
func (s *Scrap) smoothed() *Scrap {
	out := &Scrap{Outline: smooth(s.Outline)}
	for _, h := range s.Holes {
		out.Holes = append(out.Holes, smooth(h))
	}
	return out
}

func smooth(ring [][2]float64) [][2]float64 {
	if out := raster.Simplify(ring, frayed); len(ring) >= 8 && len(out) >= 3 {
		return out
	}
	return ring
}

// turns are the directions to try: the weave's; or those of the sides of the
// convex hull, from the longest, that of the least box around it, and some
// between.
func (s *Scrap) turns() []float64 {
	if s.Seen {
		return []float64{s.Grain}
	}
	const quarter = math.Pi / 2
	fold := func(a float64) float64 { return math.Mod(math.Mod(a, quarter)+quarter, quarter) }
	type side struct{ length, angle, box float64 }
	var sides []side
	outline := raster.ConvexHull(s.Outline)
	for i, p := range outline {
		q := outline[(i+1)%len(outline)]
		angle := math.Atan2(q[1]-p[1], q[0]-p[0])
		lo, hi := raster.Extremes(rotate(outline, -angle))
		sides = append(sides, side{math.Hypot(q[0]-p[0], q[1]-p[1]), fold(angle), (hi[0] - lo[0]) * (hi[1] - lo[1])})
	}
	if len(sides) == 0 {
		return []float64{0}
	}
	out := []float64{0, slices.MinFunc(sides, func(a, b side) int { return cmp.Compare(a.box, b.box) }).angle}
	slices.SortStableFunc(sides, func(a, b side) int { return cmp.Compare(b.length, a.length) })
	for _, sd := range sides[:min(4, len(sides))] {
		out = append(out, sd.angle)
	}
	for i := 1; i < turnSteps; i++ {
		out = append(out, quarter*float64(i)/turnSteps)
	}
	slices.Sort(out)
	return slices.CompactFunc(out, func(a, b float64) bool { return math.Abs(a-b) < .5*math.Pi/180 })
}

func (s *Scrap) rotated(turn float64) [][][2]float64 {
	out := [][][2]float64{rotate(s.Outline, turn)}
	for _, h := range s.Holes {
		out = append(out, rotate(h, turn))
	}
	return out
}

func rotate(o [][2]float64, turn float64) [][2]float64 {
	sin, cos := math.Sincos(turn)
	out := make([][2]float64, len(o))
	for i, p := range o {
		out[i] = [2]float64{p[0]*cos - p[1]*sin, p[0]*sin + p[1]*cos}
	}
	return out
}

// rect is a rectangle by its sides.
type rect struct{ x0, y0, x1, y1 float64 }

func corners(r rect) [][2]float64 {
	return [][2]float64{{r.x0, r.y0}, {r.x1, r.y0}, {r.x1, r.y1}, {r.x0, r.y1}}
}

// packing is one way of laying rectangles w x h in rows along x: in the
// direction turn, or with across along y.
type packing struct {
	free
	turn   float64
	across bool
	size   [2]float64
	w, h   float64 // the same, along the rows and across them
	lo     float64 // height of the lowest row
	n      int     // heights to try, h/rowSteps apart
	best   []int   // the most that rows from a height on hold
}

func newPacking(rings [][][2]float64, size [2]float64, across bool) packing {
	p := packing{across: across, size: size, w: size[0], h: size[1]}
	if across {
		p.w, p.h = size[1], size[0]
		flipped := make([][][2]float64, len(rings))
		for i, ring := range rings {
			flipped[i] = make([][2]float64, len(ring))
			for j, q := range ring {
				flipped[i][j] = [2]float64{q[1], q[0]}
			}
		}
		rings = flipped
	}
	lo, hi := raster.Extremes(rings[0])
	p.lo = lo[1] + edgeKept
	p.n = max(int(math.Floor((hi[1]-edgeKept-p.lo-p.h)/(p.h/rowSteps)+1e-9))+1, 0)
	p.sides = sidesOf(rings)
	p.best = make([]int, p.n+rowSteps)
	for i := p.n - 1; i >= 0; i-- {
		p.best[i] = max(p.best[i+1], p.held(p.at(i), p.w, p.h)+p.best[i+rowSteps])
	}
	return p
}

func (p *packing) at(i int) float64 { return p.lo + float64(i)*p.h/rowSteps }

func (p *packing) count() int {
	if p.n == 0 {
		return 0
	}
	return p.best[0]
}

// lay is the rectangles, and what fits in between besides.
func (p *packing) lay() []rect {
	rows := make([][]rect, p.n)
	for i := range rows {
		rows[i] = p.row(p.at(i), p.w, p.h)
	}
	var out []rect
	for i := 0; i < p.n; {
		if k := len(rows[i]); k > 0 && p.best[i] == k+p.best[i+rowSteps] {
			out = append(out, rows[i]...)
			i += rowSteps
			continue
		}
		i++
	}
	out = fill(out, rows)
	if p.across {
		for i, r := range out {
			out[i] = rect{r.y0, r.x0, r.y1, r.x1}
		}
	}
	return out
}

// fill adds what of the rows does not overlap what is laid already.
func fill(out []rect, rows [][]rect) []rect {
	const eps = 1e-9
	for _, row := range rows {
		for _, r := range row {
			if !slices.ContainsFunc(out, func(o rect) bool {
				return r.x0 < o.x1-eps && o.x0 < r.x1-eps && r.y0 < o.y1-eps && o.y0 < r.y1-eps
			}) {
				out = append(out, r)
			}
		}
	}
	return out
}

// free tells where along a band across rings is nothing but cloth.
type free struct {
	sides  [][4]float64 // x0 y0 x1 y1, y0 <= y1, by y0
	blocks [][2]float64 // of the last band
	cross  []float64
}

func sidesOf(rings [][][2]float64) [][4]float64 {
	var out [][4]float64
	for _, ring := range rings {
		for i, p := range ring {
			q := ring[(i+1)%len(ring)]
			if p[1] > q[1] {
				p, q = q, p
			}
			out = append(out, [4]float64{p[0], p[1], q[0], q[1]})
		}
	}
	slices.SortFunc(out, func(a, b [4]float64) int { return cmp.Compare(a[1], b[1]) })
	return out
}

// band finds what blocks the band of height h at y, edgeKept wider on either
// side: every side of a ring blocks the stretch of x that it crosses. Between
// two blocked stretches a point is inside or outside all the way across, which
// the crossings of the band's middle tell.
func (f *free) band(y, h float64) {
	y0, y1, mid := y-edgeKept+1e-9, y+h+edgeKept-1e-9, y+h/2
	f.blocks, f.cross = f.blocks[:0], f.cross[:0]
	for i := range f.sides {
		s := &f.sides[i]
		if s[1] >= y1 {
			break
		}
		if s[3] <= y0 {
			continue
		}
		a, b := s[0], s[2]
		if s[3]-s[1] > 1e-12 {
			slope := (s[2] - s[0]) / (s[3] - s[1])
			a, b = s[0]+slope*(max(s[1], y0)-s[1]), s[0]+slope*(min(s[3], y1)-s[1])
			if s[1] <= mid && mid < s[3] {
				f.cross = append(f.cross, s[0]+slope*(mid-s[1]))
			}
		}
		// Few sides cross a band: insertion sort.
		f.blocks = append(f.blocks, [2]float64{min(a, b), max(a, b)})
		for k := len(f.blocks) - 1; k > 0 && f.blocks[k][0] < f.blocks[k-1][0]; k-- {
			f.blocks[k], f.blocks[k-1] = f.blocks[k-1], f.blocks[k]
		}
	}
}

// gaps calls use with where each stretch of open cloth begins and how long it
// is.
func (f *free) gaps(y, h float64, use func(x, room float64)) {
	f.band(y, h)
	end := math.Inf(-1)
	for _, b := range f.blocks {
		if b[0] > end && !math.IsInf(end, -1) {
			inside := false
			for _, c := range f.cross {
				inside = inside != (c < (end+b[0])/2)
			}
			if room := b[0] - end - 2*edgeKept; inside && room > 0 {
				use(end+edgeKept, room)
			}
		}
		end = max(end, b[1])
	}
}

func (f *free) held(y, w, h float64) (n int) {
	f.gaps(y, h, func(_, room float64) { n += int((room + 1e-9) / w) })
	return n
}

func (f *free) row(y, w, h float64) (out []rect) {
	f.gaps(y, h, func(x, room float64) {
		for range int((room + 1e-9) / w) {
			out = append(out, rect{x, y, x + w, y + h})
			x += w
		}
	})
	return out
}

func (t *top) yields() []int {
	if t.fit == nil {
		t.fit = make([][][][2]float64, len(t.in.Cloths))
		w, h := t.cut, t.cut
		if len(t.in.Design.Kinds) > 0 {
			p := t.in.Design.Kinds[0].Pieces[0]
			w, h = Length(p.Cols)*t.patch+2*t.in.Seam, Length(p.Rows)*t.patch+2*t.in.Seam
		}
		for i, c := range t.in.Cloths {
			if c.Scrap != nil {
				t.fit[i] = c.Scrap.Yield(w.CM(), h.CM())
			}
		}
	}
	out := make([]int, len(t.in.Cloths))
	for i, c := range t.in.Cloths {
		out[i] = -1
		if c.Scrap != nil {
			out[i] = len(t.fit[i])
		}
	}
	return out
}

// scraps tells how each scrap that gives patches is cut up.
func (t *top) scraps(p *Plan, yields []int) {
	for i, c := range t.in.Cloths {
		if c.Scrap == nil || p.Cloths[i].Patches == 0 {
			continue
		}
		s := ScrapCut{ID: c.ID, Yields: yields[i], Used: min(yields[i], p.Cloths[i].Patches), Grain: "not seen", AreaCM: c.Scrap.Area()}
		if c.Scrap.Seen {
			s.Grain = "seen"
		}
		for _, o := range t.fit[i] {
			px := make([][2]float64, len(o))
			for k, q := range o {
				px[k] = [2]float64{q[0] / c.Scrap.PixelCM, q[1] / c.Scrap.PixelCM}
			}
			s.Patches = append(s.Patches, px)
		}
		p.Scraps = append(p.Scraps, s)
	}
}
