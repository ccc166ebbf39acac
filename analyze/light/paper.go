package light

import (
	"cmp"
	"image"
	"math"
	"slices"

	"greige/analyze/fit"
	"greige/analyze/raster"
	"greige/colorspace"
)

// A sheet of white paper may lie whole in a free corner; or things lie on it, a crease
// divides it, the photo cuts it. It is the lightest large plain thing without weave,
// and a sheet rather than a wall or a table that fills the photo, because a corner of
// its own shows, with straight sides beyond which all is darker. A square of white
// cloth is the thing it is most likely to be mixed up with: so a small sheet among
// scraps has to be as smooth as paper, and whole and of a shape that paper comes in: A sizes are
// 1.41, letter 1.29, its half 1.55, index cards 1.5 and 1.67 times as long as wide,
// and perspective adds a little. The limits are common practice, no source, unless
// they say something else.
const (
	paperLeast  = .004 // share of the photo that its outline encloses
	paperLarge  = .06  // from which on it may be creased or covered: no scrap is so large
	paperBears  = .005 // share of the photo that a thing on it has
	paperTries  = 24   // flat parts that are looked at, lightest first; a print has some twenty lighter than the paper at the dim end of the light
	mostPapers  = 3    // sheets
	paperLight  = .45  // ln: how far under the lightest segment one may be, as the lamp lights them
	paperRamp   = .05  // ln from one cell to the next: soft shadows and bends, no edge
	paperPanel  = .2   // ln: how differently the two sides of a crease face the lamp
	paperCrease = 4    // cells: no crease or ruled line is thicker
	paperDent   = .25  // ln: no crease is darker than that; a gap between two things is
	paperTint   = .08  // ln R/Y; of ln B/Y, which is noisier, twice that
	paperFill   = .9   // of its convex hull, with what lies on it
	stairs      = .35  // cells between a row of cells along a slanting side and the line that touches them (45 degrees: a quarter of a diagonal)
	paperStray  = .025 // of its size: how far a side may stray from straight
	paperStep   = .1   // ln: what lies beyond a side is darker by more than papers differ
	paperSides  = .75  // share of its sides where that is so; the rest is under other things
	paperSide   = .06  // of the photo's longer side: what is shorter is no side
	paperAlike  = 3    // other segments of its size (and, of a small one, of its lightness) make it a patch among patches
	paperEdge   = 2.5  // cells: a side so near the photo's edge is the photo's
	paperShort  = 1.15 // longer side over the shorter
	paperLong   = 1.8
	// Creased paper has a texture (see texture) of up to .011 on photos of three makers,
	// and smooth paper half of .003; woven cloth has no upper end.
	creasedTexture, plainTexture = .013, .003
	// paperSigma is the relative standard uncertainty of a sheet nobody measured: papers
	// of L* 93 to 97 lie within 1.9 of 95 nineteen times in twenty.
	paperSigma = .026
	// boardSigma is that where few corners are seen, so that it may be a white board or
	// table of L* 86 to 96.
	boardSigma  = .06
	sureCorners = 3 // make it a sheet
)

// paper is a sheet of plain white paper that was found lying in the photo, in cells.
type paper struct {
	body    []bool       // the sheet itself, as far as it is seen
	whole   []bool       // with what lies on it
	labels  map[int]bool // the flat parts that are in body
	size    int          // cells of body
	tint    [3]float64   // ln R/Y, G/Y and B/Y
	outline [][2]float64
	corners int  // of its own, that the photo shows
	neat    bool // cut by the photo, or of a shape that paper comes in
	texture float64
	cut     int  // of the photo's edges that it reaches
	bears   bool // things lie on it, so that it is left in what they lie on
	full    bool // part of it is too bright for the camera
}

// cornered tells whether too few corners are seen to be sure that it is paper.
func (p *paper) doubtful() bool { return p.corners < sureCorners }

// findPapers looks for sheets among the flat parts of the photo; the largest first.
// A crease is looked over only where the sheet has no shape without that.
func findPapers(c *cells, s segments) (found []*paper) {
	least := paperLeast / 2 * float64(len(s.label))
	logs := make([][]float32, len(s.size))
	for i, l := range s.label {
		if l >= 0 && float64(s.size[l]) >= least {
			logs[l] = append(logs[l], c.logs[i][0])
		}
	}
	var list []flat
	for l, v := range logs {
		if len(v) > 0 {
			list = append(list, flat{l, len(v), fit.Median(v)})
		}
	}
	slices.SortStableFunc(list, func(a, b flat) int { return cmp.Compare(b.y, a.y) })
	for _, reach := range [2]int{1, paperCrease} {
		var sizes []int // of what was looked at: two parts of one thing give about the same
		for k, p := range list {
			if k == paperTries || p.y < list[0].y-paperLight || len(found) == mostPapers {
				break
			}
			if slices.ContainsFunc(found, func(f *paper) bool { return f.labels[p.label] }) {
				continue
			}
			l := c.paperFrom(s, p, reach)
			if slices.ContainsFunc(sizes, func(n int) bool { return 50*max(n-l.size, l.size-n) <= n }) {
				continue
			}
			sizes = append(sizes, l.size)
			if c.mayBePaper(l, p, list) {
				found = append(found, l)
			}
		}
		if slices.ContainsFunc(found, func(f *paper) bool { return !c.small(f) }) {
			break
		}
	}
	slices.SortStableFunc(found, func(a, b *paper) int { return b.size - a.size })
	return found
}

// flat is a flat part of the photo: its label, its cells, and their median ln Y.
type flat struct {
	label, size int
	y           float32
}

// paperFrom is what a flat part is of. reach is as for flood.
func (c *cells) paperFrom(s segments, of flat, reach int) *paper {
	p := &paper{body: make([]bool, len(s.label)), labels: map[int]bool{}}
	for i, k := range s.label {
		p.body[i] = int(k) == of.label
	}
	p.tint = c.tintOf(p.body)
	c.flood(p.body, p.tint, reach)
	for i, in := range p.body {
		if in {
			p.size++
			p.labels[int(s.label[i])] = true
		}
	}
	return p
}

// mayBePaper tells whether what a flat part is of may be a sheet, and measures it; all
// are the flat parts of the photo.
func (c *cells) mayBePaper(p *paper, of flat, all []flat) bool {
	light := colorspace.Linear{math.Exp(p.tint[0]), math.Exp(p.tint[1]), math.Exp(p.tint[2])}
	if offLocus(light) > lampLimit || !c.shape(p) {
		return false
	}
	alike := 0
	for _, o := range all {
		if o.label != of.label && 2*o.size > p.size && o.size < 2*p.size && (!c.small(p) || abs32(o.y-of.y) < paperPanel) {
			alike++
		}
	}
	if alike >= paperAlike || c.small(p) && !p.neat {
		return false
	}
	f := c.fitSurface(p.body)
	if f == nil {
		return false
	}
	// What each cell has more than the sheet would in its place.
	over := make([]float64, len(p.body))
	for i, y := range c.over(f, 0) {
		over[i] = float64(c.logs[i][0]-y) - f.groups[0].level[0]
	}
	if c.outshone(p, over) {
		return false
	}
	seen := both(p.body, c.use)
	p.full = share(seen) < .99*share(p.body) // a hundredth may be glints
	p.texture = c.texture(over, c.eroded(seen, 1))
	return true
}

// tintOf is the median ln R/Y, G/Y and B/Y of the cells of in.
func (c *cells) tintOf(in []bool) (t [3]float64) {
	var all [3][]float32
	for i, is := range in {
		if is && c.use[i] {
			for j := range all {
				all[j] = append(all[j], c.logs[i][j+1])
			}
		}
	}
	for j := range t {
		t[j] = float64(fit.Median(all[j]))
	}
	return t
}

// small tells whether a sheet is so small that a scrap is as likely.
func (c *cells) small(p *paper) bool {
	return math.Abs(raster.Area(p.outline)) < paperLarge*float64(len(p.body))
}

// shape finds the outline of p's body and tells whether a sheet may have it.
func (c *cells) shape(p *paper) bool {
	n := float64(len(p.body))
	p.whole = c.mask(p.body).Filled().In
	for _, hole := range c.components(both(p.whole, not(p.body)), 1) {
		p.bears = p.bears || float64(hole.Pixels) > paperBears*n
	}
	all := c.mask(p.whole)
	hull := all.Hull()
	area := math.Abs(raster.Area(hull))
	if area < paperLeast*n {
		return false
	}
	p.cut = c.cutBy(all.Extent())
	p.outline = straight(hull, p.cut, max(1.3, paperStray*math.Sqrt(area))) // 1.3: a cell's diagonal
	if p.outline == nil {
		return false
	}
	var sides float64
	p.corners, sides = c.ownSides(p)
	if p.corners == 0 || sides < paperSides {
		return false
	}
	long, short := sidesOf(p.outline)
	p.neat = p.cut > 0 || p.corners == 4 && long > paperShort*short && long < paperLong*short
	if float64(all.Count())+stairs*raster.Perimeter(hull) > paperFill*area {
		return true
	}
	// What lies across its side leaves a gap, but sides all round make a sheet,
	// and that something lies within them.
	p.bears, p.neat = true, false
	return p.corners >= sureCorners && sides > paperFill
}

// both is the set of cells that are in a and in b.
func both(a, b []bool) []bool {
	out := make([]bool, len(a))
	for i := range out {
		out[i] = a[i] && b[i]
	}
	return out
}

// flood takes into body what runs on from it without a step, or beyond up to
// reach cells that differ: a crease. What is too bright for the camera belongs to it.
func (c *cells) flood(body []bool, tint [3]float64, reach int) {
	var queue []int
	for i, v := range body {
		if v {
			queue = append(queue, i)
		}
	}
	like := func(i, j int, most float32) bool {
		a, b := &c.logs[i], &c.logs[j]
		return c.use[j] && abs32(a[0]-b[0]) < most && abs32(a[1]-b[1]) < paperRamp && abs32(a[3]-b[3]) < 2*paperRamp &&
			math.Abs(float64(b[1])-tint[0]) < paperTint && math.Abs(float64(b[3])-tint[2]) < 2*paperTint
	}
	for k := 0; k < len(queue); k++ {
		i := queue[k]
		at := image.Pt(i%c.w, i/c.w)
		for _, d := range [4]image.Point{{1, 0}, {-1, 0}, {0, 1}, {0, -1}} {
			most := float32(paperRamp)
			for far := 1; far <= reach; far++ {
				q := at.Add(d.Mul(far))
				if !q.In(image.Rect(0, 0, c.w, c.h)) {
					break
				}
				j := q.Y*c.w + q.X
				if !body[j] && (c.full[j] && far == 1 || like(i, j, most)) {
					body[j] = true
					queue = append(queue, j)
				}
				if body[j] || c.use[j] && c.logs[j][0] < c.logs[i][0]-paperDent {
					break
				}
				most = paperPanel
			}
		}
	}
}

// outshone: a good part of the photo sends back clearly more light than the
// sheet would in its place, as nothing does beside white paper but gloss.
func (c *cells) outshone(p *paper, over []float64) bool {
	n := 0
	white := [4]float64{0, p.tint[0], p.tint[1], p.tint[2]}
	for i, in := range p.body {
		if in || !c.use[i] && !c.full[i] {
			continue
		}
		k := &c.logs[i]
		if brighter([4]float64{over[i], float64(k[1]), float64(k[2]), float64(k[3])}, white) > paperStep {
			n++
		}
	}
	return float64(n) > .01*float64(len(p.body)) // less is a glint
}

// brighter is ln of how much more light a surface sends back than another,
// in the worst of CIE X, Y and Z; both are ln Y, ln R/Y, ln G/Y and ln B/Y. No
// reflectance exceeds 1, so that nothing exceeds a white in X, Y or Z, whose
// weights are positive at all wavelengths (CIE 15:2018). Those of red, green
// and blue are not: an orange cloth has more red than white paper.
func brighter(a, b [4]float64) float64 {
	var ratio colorspace.Linear
	for k := range ratio {
		ratio[k] = math.Exp(a[0] + a[k+1] - b[0] - b[k+1])
	}
	xyz, one := ratio.XYZ(), colorspace.Linear{1, 1, 1}.XYZ()
	return math.Log(max(xyz.X/one.X, xyz.Y/one.Y, xyz.Z/one.Z))
}

// ownSides counts the sheet's corners between two sides of its own, and tells
// along what share of all of these the sheet is seen and darker things beyond.
func (c *cells) ownSides(p *paper) (corners int, share float64) {
	o := p.outline
	own := make([]bool, len(o))
	all, dark := 0, 0
	least := paperSide * float64(max(c.w, c.h))
	if area := math.Abs(raster.Area(o)); area < paperLarge*float64(len(p.body)) {
		least = math.Sqrt(area) / 3 // of a small sheet: a third of a side
	}
	for i, a := range o {
		b := o[(i+1)%len(o)]
		if math.Hypot(b[0]-a[0], b[1]-a[1]) < least || c.onEdge(a, b) {
			continue
		}
		n, k := c.darkBeyond(p, a, b)
		all, dark = all+n, dark+k
		own[i] = float64(k) > paperSides*float64(n)
	}
	for i, q := range o {
		j := (i + len(o) - 1) % len(o)
		if !own[i] || !own[j] {
			continue
		}
		a, b := o[j], o[(i+1)%len(o)]
		ux, uy, vx, vy := a[0]-q[0], a[1]-q[1], b[0]-q[0], b[1]-q[1]
		// A right angle, seen askew: 50 to 130 degrees.
		if cos := (ux*vx + uy*vy) / (math.Hypot(ux, uy) * math.Hypot(vx, vy)); math.Abs(cos) < .64 {
			corners++
		}
	}
	return corners, float64(dark) / float64(max(all, 1))
}

// onEdge: the line from a to b runs along the photo's edge.
func (c *cells) onEdge(a, b [2]float64) bool {
	w, h := float64(c.w), float64(c.h)
	return max(a[0], b[0]) < paperEdge || max(a[1], b[1]) < paperEdge || min(a[0], b[0]) > w-paperEdge || min(a[1], b[1]) > h-paperEdge
}

// darkBeyond walks along the side of the sheet from a to b in n steps of a cell; at k
// of them the sheet is seen and something darker beyond it.
func (c *cells) darkBeyond(p *paper, a, b [2]float64) (n, k int) {
	long := math.Hypot(b[0]-a[0], b[1]-a[1])
	nx, ny := (b[1]-a[1])/long, (a[0]-b[0])/long // out of it
	if m := raster.Centroid(p.outline); nx*(m[0]-a[0])+ny*(m[1]-a[1]) > 0 {
		nx, ny = -nx, -ny
	}
	cellAt := func(x, y float64) int {
		if q := image.Pt(int(math.Floor(x)), int(math.Floor(y))); q.In(image.Rect(0, 0, c.w, c.h)) {
			return q.Y*c.w + q.X
		}
		return -1
	}
	const within, beyond = 4, 3 // cells, for the blur of the edge and what the side strays
	for t := 2.; t < long-2; t++ {
		x, y := a[0]+(b[0]-a[0])*t/long, a[1]+(b[1]-a[1])*t/long
		darkest := math.Inf(1)
		for d := 1.; d <= beyond; d++ {
			if i := cellAt(x+d*nx, y+d*ny); i >= 0 {
				darkest = min(darkest, float64(c.logs[i][0]))
			}
		}
		if math.IsInf(darkest, 1) {
			continue // beyond the photo
		}
		n++
		for d := 1.; d <= within; d++ {
			if i := cellAt(x-d*nx, y-d*ny); i >= 0 && p.body[i] {
				if float64(c.logs[i][0])-darkest > paperStep {
					k++
				}
				break
			}
		}
	}
	return n, k
}

// cutBy is how many of the photo's four edges a thing reaches, to within a cell
// that its own blur may hide.
func (c *cells) cutBy(extent image.Rectangle) (n int) {
	for _, far := range [4]int{extent.Min.X, extent.Min.Y, c.w - extent.Max.X, c.h - extent.Max.Y} {
		if far < 2 {
			n++
		}
	}
	return n
}

// straight are the corners of a hull when it has four straight sides, or one more for
// each edge of the photo that cuts it; nil otherwise. Corners whose loss moves the side
// by less than stray cells are none.
func straight(hull [][2]float64, cut int, stray float64) [][2]float64 {
	o := slices.Clone(hull)
	for len(o) > 3 {
		best, at := math.Inf(1), -1
		for i, p := range o {
			a, b := o[(i+len(o)-1)%len(o)], o[(i+1)%len(o)]
			if d := math.Abs(raster.Turn(a, b, p)) / math.Hypot(b[0]-a[0], b[1]-a[1]); d < best {
				best, at = d, i
			}
		}
		if best > stray {
			break
		}
		o = slices.Delete(o, at, at+1)
	}
	if len(o) > 4+cut || (cut == 0 && len(o) < 4) {
		return nil
	}
	return o
}

// sidesOf are the lengths of a shape's longer and shorter sides: of four corners the
// means of opposite ones.
func sidesOf(o [][2]float64) (long, short float64) {
	if len(o) != 4 {
		return 1, 1
	}
	d := func(i int) float64 { return math.Hypot(o[i][0]-o[(i+1)%4][0], o[i][1]-o[(i+1)%4][1]) }
	p, q := (d(0)+d(2))/2, (d(1)+d(3))/2
	return max(p, q), min(p, q)
}

// reference is the sheet as a reference white; f is the light as far as it is known,
// or nil. It is nil where most of the sheet is too bright for the camera.
func (p *paper) reference(c *cells, f *field) *reference {
	core := c.eroded(both(p.body, c.use), 2) // its edge and the blur of it
	m := c.measureCells(core)
	if m.n == 0 || m.clipped > .5 || !(m.light.Y() > 0) {
		return nil
	}
	sigma := paperSigma
	if p.doubtful() {
		sigma = boardSigma
	}
	at := basis(c.geometry().uv(m.x, m.y))
	if f != nil {
		// The light at its middle, by that over all of it.
		over := c.over(f, 0)
		mean, n := 0., 0.
		for i, in := range core {
			if in {
				mean, n = mean+math.Exp(float64(over[i])-f.lnY(&at)), n+1
			}
		}
		m.light = m.light.Times(n / mean)
	}
	return &reference{at: at, seen: m.light, rho: colorspace.LuminanceOf(paperLightness), sigma: math.Hypot(sigma, m.sigma)}
}

// corners are the outline in working pixels.
func (p *paper) place(c *cells) (out [][2]float64) {
	for _, q := range p.outline {
		out = append(out, [2]float64{q[0] * float64(c.k), q[1] * float64(c.k)})
	}
	return out
}
