package light

import (
	"cmp"
	"math"
	"slices"

	"greige/colorspace"
)

// paper is a sheet of plain white paper that was found lying in the photo.
type paper struct {
	cells   []bool       // where it lies
	outline [][2]float64 // its corners, working pixels
	full    bool         // part of it is too bright for the camera, and left out of its light
	bears   bool         // things lie on it, so that it is left in what they lie on
	cut     bool         // too little of it is seen to be sure that it is paper
	patch
}

// What a sheet of paper is, seen on cells of the photo (common practice, no
// source): bright, without colour, even, with straight sides, of the shape
// that paper has. A square of white cloth is the thing it is most likely to
// be mixed up with, so the shape has to be one that paper comes in: A sizes
// are 1.41, letter 1.29, its half 1.55, index cards 1.5 and 1.67 times as long
// as wide, and perspective adds a little.
const (
	paperLeast   = .004 // share of the photo
	paperMost    = .35
	paperRough   = .015 // relative step between neighbouring cells
	paperTexture = .003 // see texture: half as much again as paper has, a quarter of what cloth has
	paperSide    = .93  // share of its convex hull that it fills
	stairs       = .35  // cells, between a row of cells along a slanting side (45 degrees: a quarter of a diagonal) and the line that touches them
	paperShort   = 1.15 // longer side over the shorter
	paperLong    = 1.8
	paperSigma   = .026 // relative standard uncertainty of a sheet nobody measured: papers of L* 93 to 97 lie within 1.9 of 95 nineteen times in twenty
	paperSlope   = 3    // ln of luminance over the photo's width: no lamp falls off faster
	paperOutline = .06  // of its size: how far a straight side may stray
)

// findPaper looks for a sheet of white paper among the flat parts of the
// photo. g is the ground, or nil; f the light as far as it is known, or nil.
func findPaper(c *cells, s segments, g *ground, f *field, hint Hint) *paper {
	n := len(s.label)
	even := make([]float32, n) // ln Y without the field
	if f != nil {
		even = c.over(f, 0)
	}
	for i := range even {
		even[i] = c.logs[i][0] - even[i]
	}
	// The flat parts, brightest first.
	type part struct {
		label, cells int
		y, r, g, b   float64
	}
	parts := make([]part, len(s.size))
	for i, l := range s.label {
		if l >= 0 {
			p := &parts[l]
			p.label = int(l)
			p.cells++
			p.y += float64(even[i])
			p.r += float64(c.logs[i][1])
			p.g += float64(c.logs[i][2])
			p.b += float64(c.logs[i][3])
		}
	}
	list := parts[:0]
	for _, p := range parts {
		if float64(p.cells) >= paperLeast/2*float64(n) {
			k := float64(p.cells)
			p.y, p.r, p.g, p.b = p.y/k, p.r/k, p.g/k, p.b/k
			list = append(list, p)
		}
	}
	slices.SortStableFunc(list, func(a, b part) int {
		return cmp.Or(cmp.Compare(b.y, a.y), a.label-b.label)
	})
	for k, p := range list {
		if k == 6 || p.y < list[0].y-.25 {
			break // white paper is among the lightest things there are
		}
		if float64(p.cells) > 1.2*paperMost*float64(n) || (g != nil && overlap(s, p.label, g.member)) {
			continue
		}
		// Nothing but gloss sends back more light than white paper.
		white := [4]float64{p.y, p.r, p.g, p.b}
		outshone := 0
		for _, q := range list {
			if q.label != p.label && brighter([4]float64{q.y, q.r, q.g, q.b}, white) > .08 {
				outshone += q.cells
			}
		}
		if float64(outshone) > .01*float64(n) {
			continue
		}
		if w := c.sheet(s, p.label, even, g, hint); w != nil {
			return w
		}
	}
	return nil
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

// overlap: most of a segment belongs to a mask.
func overlap(s segments, label int, in []bool) bool {
	k, m := 0, 0
	for i, l := range s.label {
		if int(l) == label {
			k++
			if in[i] {
				m++
			}
		}
	}
	return 2*m > k
}

// sheet is segment label as a sheet of paper, or nil when it is none.
func (c *cells) sheet(s segments, label int, even []float32, g *ground, hint Hint) *paper {
	n := len(s.label)
	count := 0
	var mean [3]float64
	var slope plane // of ln Y over the sheet: the lamp's, where it is not known yet
	u := func(i int) float64 { return float64(i%c.w) / float64(c.w) }
	v := func(i int) float64 { return float64(i/c.w) / float64(c.w) }
	for i, l := range s.label {
		if int(l) == label {
			mean[0] += float64(even[i])
			mean[1] += float64(c.logs[i][1])
			mean[2] += float64(c.logs[i][3])
			slope.add(u(i), v(i), float64(even[i]))
			count++
		}
	}
	for k := range mean {
		mean[k] /= float64(count)
	}
	if !slope.solve() || math.Hypot(slope.coef[1], slope.coef[2]) > paperSlope {
		return nil
	}
	light := colorspace.Linear{math.Exp(mean[1]), 0, math.Exp(mean[2])}
	w := colorspace.LuminanceWeights()
	light[1] = (1 - w[0]*light[0] - w[2]*light[2]) / w[1]
	if !(light[1] > 0) || offLocus(light) > lampLimit {
		return nil
	}
	if g != nil && g.neutral && math.Hypot(mean[1]-g.field.groups[0].level[1], .5*(mean[2]-g.field.groups[0].level[3])) > .06 {
		return nil // another colour than that of the light
	}
	// All cells that look like it; the connected ones are the sheet, others
	// would be a print's ground or the same cloth again.
	alike := make([]bool, n)
	for i := range alike {
		alike[i] = c.use[i] && math.Abs(float64(even[i])-slope.at(u(i), v(i))) < .08 &&
			math.Abs(float64(c.logs[i][1])-mean[1]) < .06 && math.Abs(float64(c.logs[i][3])-mean[2]) < .12
	}
	body, in, rest := c.mostOf(alike, alike)
	corners := c.sheetShape(body)
	if corners == nil {
		// A dark cloth makes the camera open up until the paper's own bright
		// end is beyond it. That end belongs to the sheet, though it tells no
		// level.
		both := make([]bool, n)
		for i, v := range alike {
			both[i] = v || c.full[i]
		}
		body, in, rest = c.mostOf(both, alike)
		if corners = c.sheetShape(body); corners == nil {
			return nil
		}
	}
	seen := 0
	for _, v := range in {
		if v {
			seen++
		}
	}
	if (g == nil && rest*3 > seen) || c.step(in) > paperRough {
		return nil
	}
	whole := make([]bool, n)
	for _, i := range body {
		whole[i] = true
	}
	// What is too bright for the camera elsewhere outshines it too.
	o := &paper{cells: c.dilated(whole), full: float64(seen) < .99*float64(len(body))}
	outshone := 0
	for i, f := range c.full {
		if f && !o.cells[i] && float64(even[i])-mean[0] > .08 {
			outshone++
		}
	}
	if float64(outshone) > .01*float64(n) {
		return nil
	}
	if hint == Top && g != nil && c.beside(whole, g.member) < .6 {
		return nil // a patch among patches
	}
	core := c.eroded(in)
	own := make([]float64, n)
	for i := range own {
		own[i] = float64(even[i]) - slope.at(u(i), v(i))
	}
	if hint != OneCloth && c.texture(own, core) > paperTexture {
		return nil // a pale scrap among others
	}
	m := c.measureCells(core)
	if m.clipped > .5 || !(m.light.Y() > 0) {
		return nil
	}
	nx, ny, k := 0.0, 0.0, 0.0
	for i, v := range core {
		if v {
			nx, ny, k = nx+(float64(i%c.w)+.5)*float64(c.k), ny+(float64(i/c.w)+.5)*float64(c.k), k+1
		}
	}
	if k < 4 {
		return nil
	}
	m.x, m.y = nx/k, ny/k
	o.patch = m
	for _, p := range corners {
		o.outline = append(o.outline, [2]float64{p[0] * float64(c.k), p[1] * float64(c.k)})
	}
	return o
}

// measureCells is the robust mean light over the pixels of the cells in.
func (c *cells) measureCells(in []bool) patch {
	return measure(c.pic, func(yield func(x, y int)) {
		for i, v := range in {
			if !v {
				continue
			}
			x0, y0 := i%c.w*c.k, i/c.w*c.k
			for y := y0; y < min(y0+c.k, c.ph); y++ {
				for x := x0; x < min(x0+c.k, c.pw); x++ {
					yield(x, y)
				}
			}
		}
	})
}

// sheetShape are the corners of a body of cells, in cells, when a sheet of
// paper may have that size and shape; nil otherwise.
func (c *cells) sheetShape(body []int) [][2]float64 {
	if share := float64(len(body)) / float64(c.w*c.h); share < paperLeast || share > paperMost {
		return nil
	}
	hull := c.hull(body)
	cut := c.cutBy(body) // sides along the photo's edge are not paper's own
	corners := straight(hull, cut)
	if corners == nil || cut > 2 || float64(len(body))+stairs*perimeter(hull) < paperSide*polygonArea(hull) {
		return nil
	}
	long, short := sides(corners)
	if short <= 0 || (cut == 0 && (long/short < paperShort || long/short > paperLong)) {
		return nil
	}
	return corners
}

// mostOf is the connected part of set that has most of the cells of alike,
// which of those they are, and how many lie in other parts, specks aside.
func (c *cells) mostOf(set, alike []bool) (body []int, in []bool, rest int) {
	best := 0
	for _, p := range c.parts(set, true) {
		k := 0
		for _, i := range p {
			if alike[i] {
				k++
			}
		}
		if k > best {
			k, best, body = best, k, p
		}
		if k > 4 {
			rest += k
		}
	}
	in = make([]bool, len(set))
	for _, i := range body {
		in[i] = alike[i]
	}
	return body, in, rest
}

// step is the median relative step between neighbouring cells of in.
func (c *cells) step(in []bool) float64 {
	var d []float32
	for i, v := range in {
		if v && i%c.w+1 < c.w && in[i+1] {
			d = append(d, abs32(c.logs[i][0]-c.logs[i+1][0]))
		}
	}
	if len(d) == 0 {
		return math.Inf(1)
	}
	return float64(median(d))
}

// eroded is in without its outermost cells.
func (c *cells) eroded(in []bool) []bool {
	out := make([]bool, len(in))
	for i, v := range in {
		out[i] = v && c.surrounded(i, in)
	}
	return out
}

// cutBy is how many of the photo's four edges a body reaches, to within a cell
// that its own blur may hide.
func (c *cells) cutBy(body []int) int {
	var edge [4]bool
	for _, i := range body {
		x, y := i%c.w, i/c.w
		edge[0] = edge[0] || x < 2
		edge[1] = edge[1] || y < 2
		edge[2] = edge[2] || x >= c.w-2
		edge[3] = edge[3] || y >= c.h-2
	}
	n := 0
	for _, e := range edge {
		if e {
			n++
		}
	}
	return n
}

// beside is the share of the cells two steps outside in that lie in other.
func (c *cells) beside(in, other []bool) float64 {
	a := c.dilated(c.dilated(in))
	b := c.dilated(a)
	n, m := 0, 0
	for i := range a {
		if b[i] && !a[i] {
			n++
			if other[i] {
				m++
			}
		}
	}
	if n == 0 {
		return 1
	}
	return float64(m) / float64(n)
}

// hull is the convex hull, in cells, of the corners of the cells of body
// (Andrew's monotone chain, 1979), counter-clockwise in a frame with y up.
func (c *cells) hull(body []int) [][2]float64 {
	var ps [][2]float64
	for _, i := range body {
		x, y := float64(i%c.w), float64(i/c.w)
		ps = append(ps, [2]float64{x, y}, [2]float64{x + 1, y}, [2]float64{x, y + 1}, [2]float64{x + 1, y + 1})
	}
	slices.SortFunc(ps, func(a, b [2]float64) int {
		return cmp.Or(cmp.Compare(a[0], b[0]), cmp.Compare(a[1], b[1]))
	})
	ps = slices.Compact(ps)
	half := func(ps [][2]float64) [][2]float64 {
		var h [][2]float64
		for _, p := range ps {
			for len(h) > 1 && turn(h[len(h)-2], h[len(h)-1], p) <= 0 {
				h = h[:len(h)-1]
			}
			h = append(h, p)
		}
		return h[:len(h)-1]
	}
	h := half(ps)
	slices.Reverse(ps)
	return append(h, half(ps)...)
}

func turn(a, b, p [2]float64) float64 {
	return (b[0]-a[0])*(p[1]-a[1]) - (b[1]-a[1])*(p[0]-a[0])
}

func polygonArea(o [][2]float64) float64 {
	s := 0.0
	for i, a := range o {
		b := o[(i+1)%len(o)]
		s += a[0]*b[1] - b[0]*a[1]
	}
	return math.Abs(s) / 2
}

func perimeter(o [][2]float64) float64 {
	s := 0.0
	for i, a := range o {
		b := o[(i+1)%len(o)]
		s += math.Hypot(a[0]-b[0], a[1]-b[1])
	}
	return s
}

// straight are the corners of a hull, in cells, when it has four straight
// sides, or one more for each edge of the photo that cuts it; nil otherwise.
// Corners whose loss moves the side by less than paperOutline are none.
func straight(hull [][2]float64, cut int) [][2]float64 {
	return straightTo(hull, cut, max(1.3, paperOutline*math.Sqrt(polygonArea(hull))))
}

// straightTo is straight where a side may stray by so many cells.
func straightTo(hull [][2]float64, cut int, stray float64) [][2]float64 {
	o := slices.Clone(hull)
	for len(o) > 3 {
		best, at := math.Inf(1), -1
		for i, p := range o {
			a, b := o[(i+len(o)-1)%len(o)], o[(i+1)%len(o)]
			if d := math.Abs(turn(a, b, p)) / math.Hypot(b[0]-a[0], b[1]-a[1]); d < best {
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

// sides are the lengths of a shape's longer and shorter sides: of four
// corners the means of opposite sides.
func sides(o [][2]float64) (long, short float64) {
	d := func(i int) float64 {
		a, b := o[i%len(o)], o[(i+1)%len(o)]
		return math.Hypot(a[0]-b[0], a[1]-b[1])
	}
	if len(o) != 4 {
		return 1, 1
	}
	p, q := (d(0)+d(2))/2, (d(1)+d(3))/2
	return max(p, q), min(p, q)
}
