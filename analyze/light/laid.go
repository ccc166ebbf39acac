package light

import (
	"cmp"
	"math"
	"slices"

	"greige/colorspace"
)

// A sheet of paper does not always lie whole in a free corner. Things lie on
// it, a crease divides it, or the photo cuts it. It is the lightest large plain
// thing without weave, and a sheet rather than a wall or a table that fills the
// photo, because a corner of its own shows, with straight sides beyond which
// all is darker. The limits are common practice, no source, unless they say
// something else.
const (
	laidLeast   = .02  // share of the photo that its outline encloses
	laidTries   = 8    // segments that are looked at, lightest first
	laidLight   = .45  // ln: how far under the lightest segment one may be, as the lamp lights them
	laidRamp    = .05  // ln from one cell to the next: soft shadows and bends, no edge
	laidPanel   = .2   // ln: how differently the two sides of a crease face the lamp
	laidCrease  = 4    // cells: no crease or ruled line is thicker
	laidDent    = .25  // ln: no crease is darker than that; a gap between two things is
	laidTint    = .08  // ln R/Y; of ln B/Y, which is noisier, twice that
	laidFar     = .11  // ln Y off its own slope: such cells tell nothing of the slope
	laidFill    = .9   // of its convex hull, with what lies on it
	laidStray   = .025 // of its size: how far a side may stray from straight
	laidStep    = .1   // ln: what lies beyond a side is darker by more than papers differ
	laidSides   = .75  // share of its sides where that is so; the rest is under other things
	laidSide    = .06  // of the photo's longer side: what is shorter is no side
	laidAlike   = 3    // other segments of its size make it a patch among patches
	laidEdge    = 2.5  // cells: a side so near the photo's edge is the photo's
	laidTexture = .013 // see texture: creased paper has up to .011 on photos of three makers; wovenTexture has no upper end
	// boardSigma is the relative standard uncertainty of the level where few
	// corners are seen, so that it may be a white board or table of L* 86 to 96.
	boardSigma = .06
	// laidSure: so many corners make it a sheet.
	laidSure = 3
)

// laid is a sheet of paper that things may lie on, in cells.
type laid struct {
	body    []bool // the sheet itself, as far as it is seen
	whole   []bool // with what lies on it
	size    int    // cells of body
	slope   bend
	tint    [3]float64 // ln R/Y, G/Y and B/Y
	outline [][2]float64
	corners int  // of its own, that the photo shows
	bears   bool // things lie on it
}

// findLaid looks for a sheet among the flat parts of the photo, lightest first;
// nil when there is none. A crease is looked over only where the sheet has no
// shape without that.
func findLaid(c *cells, s segments) *laid {
	type part struct {
		label int
		y     float64
	}
	least := laidLeast / 8 * float64(len(s.label))
	logs := make([][]float32, len(s.size))
	for i, l := range s.label {
		if l >= 0 && float64(s.size[l]) >= least {
			logs[l] = append(logs[l], c.logs[i][0])
		}
	}
	var list []part
	for l, v := range logs {
		if len(v) > 0 {
			list = append(list, part{l, float64(median(v))})
		}
	}
	slices.SortStableFunc(list, func(a, b part) int { return cmp.Compare(b.y, a.y) })
	for k, p := range list {
		if k == laidTries || p.y < list[0].y-laidLight {
			break
		}
		for _, reach := range [2]int{1, laidCrease} {
			if l := c.laidFrom(s, p.label, reach); l != nil {
				return l
			}
		}
	}
	return nil
}

// laidFrom is the sheet that segment label is a part of, or nil. reach is as
// for flood.
func (c *cells) laidFrom(s segments, label, reach int) *laid {
	l := &laid{body: make([]bool, len(s.label))}
	var r, g, b []float32
	for i, k := range s.label {
		if int(k) == label {
			l.body[i] = true
			r, g, b = append(r, c.logs[i][1]), append(g, c.logs[i][2]), append(b, c.logs[i][3])
		}
	}
	l.tint = [3]float64{float64(median(r)), float64(median(g)), float64(median(b))}
	c.flood(l.body, l.tint, reach)
	if !c.laidShape(l) || !l.slope.fit(c, l.body) {
		return nil
	}
	alike := 0
	for k, n := range s.size {
		if k != label && 2*int(n) > l.size && int(n) < 2*l.size {
			alike++
		}
	}
	light := colorspace.Linear{math.Exp(l.tint[0]), math.Exp(l.tint[1]), math.Exp(l.tint[2])}
	if alike >= laidAlike || offLocus(light) > lampLimit || c.outshone(l) {
		return nil
	}
	own := make([]float64, len(l.body))
	for i := range own {
		own[i] = float64(c.logs[i][0]) - l.slope.at(c, i)
	}
	if c.texture(own, c.eroded(l.body)) > laidTexture {
		return nil
	}
	return l
}

// laidShape finds the outline of l's body and tells whether a sheet may have it.
func (c *cells) laidShape(l *laid) bool {
	n := float64(len(l.body))
	l.whole = slices.Clone(l.body)
	for _, p := range c.parts(l.body, false) {
		if slices.ContainsFunc(p, c.onBorder) {
			continue
		}
		l.bears = l.bears || float64(len(p)) > laidLeast/4*n
		for _, i := range p {
			l.whole[i] = true
		}
	}
	var all []int
	for i, v := range l.whole {
		if v {
			all = append(all, i)
		}
		if l.body[i] {
			l.size++
		}
	}
	hull := c.hull(all)
	area := polygonArea(hull)
	if area < laidLeast*n {
		return false
	}
	l.outline = straightTo(hull, c.cutBy(all), max(1.3, laidStray*math.Sqrt(area)))
	if l.outline == nil {
		return false
	}
	var sides float64
	l.corners, sides = c.ownSides(l)
	if l.corners == 0 || sides < laidSides {
		return false
	}
	if float64(len(all))+stairs*perimeter(hull) > laidFill*area {
		return true
	}
	// What lies across its side leaves a gap, but sides all round make a sheet,
	// and that something lies within them.
	l.bears = true
	return l.corners >= laidSure && sides > laidFill
}

// flood takes into body what runs on from it without a step, or beyond up to
// reach cells that differ: a crease.
func (c *cells) flood(body []bool, tint [3]float64, reach int) {
	var queue []int
	for i, v := range body {
		if v {
			queue = append(queue, i)
		}
	}
	like := func(i, j int, most float32) bool {
		a, b := &c.logs[i], &c.logs[j]
		return c.use[j] && abs32(a[0]-b[0]) < most && abs32(a[1]-b[1]) < laidRamp && abs32(a[3]-b[3]) < 2*laidRamp &&
			math.Abs(float64(b[1])-tint[0]) < laidTint && math.Abs(float64(b[3])-tint[2]) < 2*laidTint
	}
	for k := 0; k < len(queue); k++ {
		i := queue[k]
		x, y := i%c.w, i/c.w
		for _, d := range [4][2]int{{1, 0}, {-1, 0}, {0, 1}, {0, -1}} {
			most := float32(laidRamp)
			for far := 1; far <= reach; far++ {
				u, v := x+far*d[0], y+far*d[1]
				if u < 0 || v < 0 || u >= c.w || v >= c.h {
					break
				}
				j := v*c.w + u
				if !body[j] && like(i, j, most) {
					body[j] = true
					queue = append(queue, j)
				}
				if body[j] || c.use[j] && c.logs[j][0] < c.logs[i][0]-laidDent {
					break
				}
				most = laidPanel
			}
		}
	}
}

// outshone: a good part of the photo sends back clearly more light than the
// sheet would in its place, as nothing does beside white paper but gloss.
func (c *cells) outshone(l *laid) bool {
	n := 0
	for i, in := range l.body {
		if in || !c.use[i] {
			continue
		}
		k := &c.logs[i]
		white := [4]float64{l.slope.at(c, i), l.tint[0], l.tint[1], l.tint[2]}
		if brighter([4]float64{float64(k[0]), float64(k[1]), float64(k[2]), float64(k[3])}, white) > laidStep {
			n++
		}
	}
	return float64(n) > .01*float64(len(l.body))
}

// ownSides counts the sheet's corners between two sides of its own, and tells
// along what share of all of these the sheet is seen and darker things beyond.
func (c *cells) ownSides(l *laid) (corners int, share float64) {
	o := l.outline
	own := make([]bool, len(o))
	all, dark := 0, 0
	for i, a := range o {
		b := o[(i+1)%len(o)]
		if math.Hypot(b[0]-a[0], b[1]-a[1]) < laidSide*float64(max(c.w, c.h)) || c.alongRim(a, b) {
			continue
		}
		n, k := c.darkBeyond(l, a, b)
		all, dark = all+n, dark+k
		own[i] = float64(k) > laidSides*float64(n)
	}
	for i, p := range o {
		j := (i + len(o) - 1) % len(o)
		if !own[i] || !own[j] {
			continue
		}
		a, b := o[j], o[(i+1)%len(o)]
		ux, uy, vx, vy := a[0]-p[0], a[1]-p[1], b[0]-p[0], b[1]-p[1]
		// A right angle, seen askew: 50 to 130 degrees.
		if cos := (ux*vx + uy*vy) / (math.Hypot(ux, uy) * math.Hypot(vx, vy)); math.Abs(cos) < .64 {
			corners++
		}
	}
	return corners, float64(dark) / float64(max(all, 1))
}

// alongRim: the line from a to b runs along the photo's edge.
func (c *cells) alongRim(a, b [2]float64) bool {
	w, h := float64(c.w), float64(c.h)
	return max(a[0], b[0]) < laidEdge || max(a[1], b[1]) < laidEdge || min(a[0], b[0]) > w-laidEdge || min(a[1], b[1]) > h-laidEdge
}

// darkBeyond walks along the side of the sheet from a to b, clockwise as seen
// with y down or not, in n steps of a cell; at k of them the sheet is seen and
// something darker beyond it.
func (c *cells) darkBeyond(l *laid, a, b [2]float64) (n, k int) {
	var mx, my float64
	for _, p := range l.outline {
		mx, my = mx+p[0]/float64(len(l.outline)), my+p[1]/float64(len(l.outline))
	}
	long := math.Hypot(b[0]-a[0], b[1]-a[1])
	nx, ny := (b[1]-a[1])/long, (a[0]-b[0])/long // out of it
	if nx*(mx-a[0])+ny*(my-a[1]) > 0 {
		nx, ny = -nx, -ny
	}
	const within, beyond = 4, 3 // cells, for the blur of the edge and what the side strays
	for t := 2.; t < long-2; t++ {
		x, y := a[0]+(b[0]-a[0])*t/long, a[1]+(b[1]-a[1])*t/long
		darkest := math.Inf(1)
		for d := 1.; d <= beyond; d++ {
			if i := c.cellAt(x+d*nx, y+d*ny); i >= 0 {
				darkest = min(darkest, float64(c.logs[i][0]))
			}
		}
		if math.IsInf(darkest, 1) {
			continue // beyond the photo
		}
		n++
		for d := 1.; d <= within; d++ {
			if i := c.cellAt(x-d*nx, y-d*ny); i >= 0 && l.body[i] {
				if float64(c.logs[i][0])-darkest > laidStep {
					k++
				}
				break
			}
		}
	}
	return n, k
}

// cellAt is the cell at a place in cells, -1 outside the photo.
func (c *cells) cellAt(x, y float64) int {
	if x < 0 || y < 0 || x >= float64(c.w) || y >= float64(c.h) {
		return -1
	}
	return int(y)*c.w + int(x)
}

// bend is ln Y over a surface as a quadratic in the place.
type bend [6]float64

func (q *bend) at(c *cells, i int) float64 {
	u, v := float64(i%c.w)/float64(c.w), float64(i/c.w)/float64(c.h)
	return q[0] + q[1]*u + q[2]*v + q[3]*u*u + q[4]*u*v + q[5]*v*v
}

// fit is the quadratic through the cells of in by least squares, with what lies
// far off left out in turn; false where they are too few.
func (q *bend) fit(c *cells, in []bool) bool {
	for round := range 4 {
		var m [6][7]float64
		for i, v := range in {
			if !v || !c.use[i] {
				continue
			}
			l := float64(c.logs[i][0])
			if round > 0 && math.Abs(l-q.at(c, i)) > laidFar {
				continue
			}
			u, v := float64(i%c.w)/float64(c.w), float64(i/c.w)/float64(c.h)
			row := [7]float64{1, u, v, u * u, u * v, v * v, l}
			for a := range 6 {
				for b := range 7 {
					m[a][b] += row[a] * row[b]
				}
			}
		}
		if m[0][0] < 12 {
			return false
		}
		// A little stiffness, so that a narrow strip does not bend wildly.
		for a := 1; a < 6; a++ {
			m[a][a] += 1e-3 * m[0][0]
		}
		q.solve(&m)
	}
	return true
}

// solve solves normal equations, which are positive definite.
func (q *bend) solve(m *[6][7]float64) {
	for a := range 6 {
		for b := a + 1; b < 6; b++ {
			f := m[b][a] / m[a][a]
			for k := a; k < 7; k++ {
				m[b][k] -= f * m[a][k]
			}
		}
	}
	for a := 5; a >= 0; a-- {
		q[a] = m[a][6]
		for b := a + 1; b < 6; b++ {
			q[a] -= m[a][b] * q[b]
		}
		q[a] /= m[a][a]
	}
}

// ground is the sheet as what lies behind the cloths: it is alike all over, so
// that its own slope is the lamp's. nil where that cannot be fitted.
func (l *laid) ground(c *cells, hint Hint) *foundGround {
	g := &ground{member: l.body, underTop: hint == Top, area: float64(l.size) / float64(len(l.body))}
	inner := c.eroded(l.body)
	if !g.fit(c, fineSamples, func(i int) bool { return inner[i] }) {
		return nil
	}
	g.border = c.rimShare(l.body)
	for _, p := range c.parts(g.member, false) {
		if float64(len(p)) >= thingLeast*float64(len(g.member)) {
			g.things++
		}
	}
	return &foundGround{ground: g}
}

// paper is the sheet as a card; f is the light as far as it is known, or nil.
// It is nil where most of the sheet is too bright for the camera.
func (l *laid) paper(c *cells, f *field) *paper {
	core := c.eroded(c.eroded(l.body))
	w := &paper{cells: l.whole, bears: l.bears, cut: l.corners < laidSure}
	n, x, y := 0., 0., 0.
	for i, in := range core {
		if in {
			n, x, y = n+1, x+float64(i%c.w)+.5, y+float64(i/c.w)+.5
		}
	}
	if n < 4 {
		return nil
	}
	w.patch = c.measureCells(core)
	if w.clipped > .5 || !(w.light.Y() > 0) {
		return nil
	}
	w.x, w.y = x/n*float64(c.k), y/n*float64(c.k)
	if f != nil {
		// The light at its middle, by that over all of it.
		at := basis(c.geometry().uv(w.x, w.y))
		over := c.over(f, 0)
		mean := 0.
		for i, in := range core {
			if in {
				mean += math.Exp(float64(over[i])-f.lnY(&at)) / n
			}
		}
		for k := range w.light {
			w.light[k] /= mean
		}
	}
	for _, p := range l.outline {
		w.outline = append(w.outline, [2]float64{p[0] * float64(c.k), p[1] * float64(c.k)})
	}
	return w
}
