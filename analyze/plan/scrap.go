package plan

import (
	"math"
	"slices"
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
	turnSteps = 9
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
	var best [][][2]float64
	most := int(s.Area() / (w * h))
	for _, turn := range s.turns() {
		rings := s.rotated(-turn)
		sizes := [][2]float64{{w, h}}
		if w != h {
			sizes = append(sizes, [2]float64{h, w})
		}
		for _, size := range sizes {
			for _, across := range []bool{false, true} {
				found := pack(rings, size[0], size[1], across)
				if len(found) > len(best) {
					best = best[:0]
					for _, b := range found {
						best = append(best, rotate(corners(b), turn))
					}
				}
			}
		}
		if len(best) >= most {
			break
		}
	}
	return best
}

// turns are the directions to try: the weave's, or those of the outline's long
// sides and some between.
func (s *Scrap) turns() []float64 {
	if s.Seen {
		return []float64{s.Grain}
	}
	const quarter = math.Pi / 2
	fold := func(a float64) float64 { return math.Mod(math.Mod(a, quarter)+quarter, quarter) }
	type side struct{ length, angle float64 }
	var sides []side
	for i, p := range s.Outline {
		q := s.Outline[(i+1)%len(s.Outline)]
		sides = append(sides, side{math.Hypot(q[0]-p[0], q[1]-p[1]), fold(math.Atan2(q[1]-p[1], q[0]-p[0]))})
	}
	slices.SortStableFunc(sides, func(a, b side) int {
		switch {
		case a.length > b.length:
			return -1
		case a.length < b.length:
			return 1
		}
		return 0
	})
	out := []float64{0}
	for _, sd := range sides[:min(3, len(sides))] {
		out = append(out, sd.angle)
	}
	for i := 1; i < turnSteps; i++ {
		out = append(out, quarter*float64(i)/turnSteps)
	}
	slices.Sort(out[1:])
	return slices.CompactFunc(out, func(a, b float64) bool { return math.Abs(a-b) < 1e-3 })
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

// pack lays rectangles w x h in rows along x, or with across along y.
func pack(rings [][][2]float64, w, h float64, across bool) []rect {
	if across {
		flipped := make([][][2]float64, len(rings))
		for i, ring := range rings {
			flipped[i] = make([][2]float64, len(ring))
			for j, p := range ring {
				flipped[i][j] = [2]float64{p[1], p[0]}
			}
		}
		out := pack(flipped, h, w, false)
		for i, r := range out {
			out[i] = rect{r.y0, r.x0, r.y1, r.x1}
		}
		return out
	}
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, p := range rings[0] {
		lo, hi = min(lo, p[1]), max(hi, p[1])
	}
	lo, hi = lo+edgeKept, hi-edgeKept
	step := h / rowSteps
	n := int(math.Floor((hi-lo-h)/step+1e-9)) + 1
	if n < 1 {
		return nil
	}
	f := newFree(rings)
	rows := make([][]rect, n)
	for i := range rows {
		rows[i] = f.row(lo+float64(i)*step, w, h)
	}
	// best[i] is the most that rows from height i on hold.
	best := make([]int, n+rowSteps)
	for i := n - 1; i >= 0; i-- {
		best[i] = max(best[i+1], len(rows[i])+best[i+rowSteps])
	}
	var out []rect
	for i := 0; i < n; {
		if k := len(rows[i]); k > 0 && best[i] == k+best[i+rowSteps] {
			out = append(out, rows[i]...)
			i += rowSteps
			continue
		}
		i++
	}
	return fill(out, rows)
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
	sides  [][4]float64 // x0 y0 x1 y1, y0 <= y1
	blocks [][2]float64 // room for the search
	cross  []float64
}

func newFree(rings [][][2]float64) *free {
	f := &free{}
	for _, ring := range rings {
		for i, p := range ring {
			q := ring[(i+1)%len(ring)]
			if p[1] > q[1] {
				p, q = q, p
			}
			f.sides = append(f.sides, [4]float64{p[0], p[1], q[0], q[1]})
		}
	}
	slices.SortFunc(f.sides, func(a, b [4]float64) int {
		switch {
		case a[1] < b[1]:
			return -1
		case a[1] > b[1]:
			return 1
		}
		return 0
	})
	return f
}

// row is the rectangles w x h at height y. Within the band that is edgeKept
// wider on either side, every side of a ring blocks the stretch of x that it
// crosses; between two blocked stretches a point is inside or outside all the
// way across, which the crossings of the band's middle tell.
func (f *free) row(y, w, h float64) []rect {
	y0, y1, mid := y-edgeKept+1e-9, y+h+edgeKept-1e-9, y+h/2
	f.blocks, f.cross = f.blocks[:0], f.cross[:0]
	for _, s := range f.sides {
		if s[1] >= y1 {
			break
		}
		if s[3] <= y0 {
			continue
		}
		at := func(y float64) float64 {
			if s[3]-s[1] < 1e-12 {
				return s[0]
			}
			return s[0] + (s[2]-s[0])*(y-s[1])/(s[3]-s[1])
		}
		a, b := at(max(s[1], y0)), at(min(s[3], y1))
		if s[3]-s[1] < 1e-12 {
			b = s[2]
		}
		f.blocks = append(f.blocks, [2]float64{min(a, b), max(a, b)})
		if s[1] <= mid && mid < s[3] {
			f.cross = append(f.cross, at(mid))
		}
	}
	slices.SortFunc(f.blocks, func(a, b [2]float64) int {
		switch {
		case a[0] < b[0]:
			return -1
		case a[0] > b[0]:
			return 1
		}
		return 0
	})
	slices.Sort(f.cross)
	var out []rect
	end := math.Inf(-1)
	for _, b := range f.blocks {
		if b[0] > end && !math.IsInf(end, -1) {
			inside := 0
			for _, c := range f.cross {
				if c < (end+b[0])/2 {
					inside++
				}
			}
			room := b[0] - end - 2*edgeKept
			for k := 0; inside%2 == 1 && float64(k+1)*w <= room+1e-9; k++ {
				x := end + edgeKept + float64(k)*w
				out = append(out, rect{x, y, x + w, y + h})
			}
		}
		end = max(end, b[1])
	}
	return out
}

// yields is how many patches each cloth gives; -1 for cloth off the bolt.
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
