package scene

import (
	"math"
	"slices"

	"greige/colorspace"
)

// Top is a photo of a block, a design wall or a finished top.
type Top struct {
	Take
	Plan    Plan
	Cloths  []Cloth
	PatchCM float64 // finished side of a patch; 0 is 5
	Margin  float64 // least free share of the photo's width and height at each edge, 0..0.4
	Ground  Backdrop
	Border  []Band
	Wobble  float64 // how far seams stray from straight, in patches, 0..0.1
	Sag     float64 // how far the middle hangs lower, share of the top's height
	Seams   float64 // depth of the seams' shadow; 0 is 0.25, negative none
	Gap     float64 // between patches, in patches: a frame shows there (charts)
	Frame   colorspace.Lab
	Wrinkle float64 // contrast of folds; 0 is 0.02, negative none
	Things  []Thing
}

// Band is one strip of an outer border, from the grid outwards.
type Band struct {
	Cloth int
	CM    float64 // finished width
}

// quilt is the surface of a top: a grid of patches with its border, in cm
// from the grid's top left corner.
type quilt struct {
	rows, cols int
	ys, xs     []float64 // lines of the grid, rows+1 and cols+1, along its own axes
	onPoint    bool
	origin     point   // of the grid's axes on point
	w, h       float64 // of the top without its border
	wobble     float64 // cm
	jog        float64 // cm, of one row's seams against the next one's
	seed       uint64
	cell       []*laid // nil outside
	whole      []int32 // the piece that each patch is cut from
	border     []ringBand
	outer      float64 // width of all of the border
	sag        float64 // cm
	seam       float64
	gap        float64 // cm
	frame      flat
}

// ringBand is a border strip, from the distance in to the distance out.
type ringBand struct {
	out float64
	on  *laid
}

// hang is where a place of the flat top hangs; lift is the way back.
func (q *quilt) hang(p point) point { return point{p.x, p.y + q.drop(p.x)} }
func (q *quilt) lift(p point) point { return point{p.x, p.y - q.drop(p.x)} }

func (q *quilt) drop(x float64) float64 {
	if q.sag == 0 {
		return 0
	}
	t := 2*x/q.w - 1
	return q.sag * (1 - t*t)
}

// axes turns a place of the top into the grid's own axes, and back.
func (q *quilt) axes(p point) point {
	if !q.onPoint {
		return p
	}
	return point{(p.x-p.y)*math.Sqrt2/2 - q.origin.x, (p.x+p.y)*math.Sqrt2/2 - q.origin.y}
}

func (q *quilt) unaxes(a point) point {
	if !q.onPoint {
		return a
	}
	d, s := a.x+q.origin.x, a.y+q.origin.y
	return point{(s + d) * math.Sqrt2 / 2, (s - d) * math.Sqrt2 / 2}
}

// calm is how far a place is from the top's edge, where seams cannot stray:
// the edge was cut straight.
func (q *quilt) calm(p point) float64 {
	return smoothstep(0, 1.5, min(p.x, p.y, q.w-p.x, q.h-p.y))
}

// wander is how far line i strays at a place along it.
func (q *quilt) wander(which uint64, i int, along float64) float64 {
	t := along / 9
	f := math.Floor(t)
	a, b := lattice(q.seed+which, i, int(f)), lattice(q.seed+which, i, int(f)+1)
	t -= f
	return q.wobble * (a + (b-a)*t*t*(3-2*t))
}

// rowLine is the seam above row i, at x of the grid's axes.
func (q *quilt) rowLine(i int, x, calm float64) float64 {
	return q.ys[i] + calm*q.wander(11, i, x)
}

// colLine is the seam left of column j within a row. Rows were sewn one by
// one, so the seams of neighbouring rows do not quite meet.
func (q *quilt) colLine(j, row int, y, calm float64) float64 {
	return q.xs[j] + calm*(q.wander(12, j, y)+q.jog*lattice(q.seed+13, j, row))
}

// find is the patch at a place of the top and the distance to its nearest
// seam.
func (q *quilt) find(p point) (row, col int, seam float64) {
	a := q.axes(p)
	calm := 0.0
	if q.wobble > 0 || q.jog > 0 {
		calm = q.calm(p)
	}
	row = search(q.ys, a.y)
	top, bottom := q.rowLine(row, a.x, calm), q.rowLine(row+1, a.x, calm)
	if a.y < top && row > 0 {
		row--
		top, bottom = q.rowLine(row, a.x, calm), top
	} else if a.y >= bottom && row < q.rows-1 {
		row++
		top, bottom = bottom, q.rowLine(row+1, a.x, calm)
	}
	col = search(q.xs, a.x)
	left, right := q.colLine(col, row, a.y, calm), q.colLine(col+1, row, a.y, calm)
	if a.x < left && col > 0 {
		col--
		left, right = q.colLine(col, row, a.y, calm), left
	} else if a.x >= right && col < q.cols-1 {
		col++
		left, right = right, q.colLine(col+1, row, a.y, calm)
	}
	seam = math.Inf(1)
	n := row*q.cols + col
	side := func(edge bool, other int, d float64) {
		if d < seam && (edge || q.whole[n] != q.whole[other]) {
			seam = d
		}
	}
	side(row == 0, n-q.cols, a.y-top)
	side(row == q.rows-1, n+q.cols, bottom-a.y)
	side(col == 0, n-1, a.x-left)
	side(col == q.cols-1, n+1, right-a.x)
	return row, col, seam
}

// search finds i with lines[i] <= v < lines[i+1], the ends taken in.
func search(lines []float64, v float64) int {
	i, exact := slices.BinarySearch(lines, v)
	if !exact {
		i--
	}
	return min(max(i, 0), len(lines)-2)
}

func (q *quilt) at(p point) hit {
	p = q.lift(p)
	out := max(-p.x, -p.y, p.x-q.w, p.y-q.h)
	if out > 0 && len(q.border) > 0 {
		from := 0.0
		for i, b := range q.border {
			if out < b.out || i == len(q.border)-1 {
				h := b.on.at(p)
				h.shade = q.relief(min(out-from, b.out-out))
				return h
			}
			from = b.out
		}
	}
	row, col, seam := q.find(p)
	l := q.cell[row*q.cols+col]
	if l == nil || q.gap > 0 && seam < q.gap/2 {
		return q.frame.at(p)
	}
	h := l.at(p)
	h.shade = q.relief(min(seam, max(-out, 0)))
	return h
}

// relief is the light near a seam at a distance in cm: dark in the seam
// itself, and a little less where the cloth rolls down to it.
func (q *quilt) relief(d float64) float32 {
	if q.seam <= 0 {
		return 1
	}
	f := 1.0
	if t := 1 - d/.14; t > 0 {
		f -= q.seam * t * t
	}
	if t := 1 - d/.6; t > 0 {
		f -= .12 * q.seam * t * t
	}
	return float32(f)
}

// Shoot takes the photo.
func (t Top) Shoot() (Shot, error) {
	take := t.Take.sized(0)
	q := t.quilt()
	fit, outline := t.fit(&take, q)
	s := newStage(take, fit, t.Ground.ready(take.Seed))
	fabrics := make([]*fabric, len(t.Cloths))
	for i, c := range t.Cloths {
		fabrics[i] = c.fabric(s.footprint / 2)
	}
	grid := t.sew(s, q, fabrics)
	wrinkle := t.Wrinkle
	if wrinkle == 0 {
		wrinkle = .02
	}
	s.add(shape{bodies: [][][]point{{s.toPixels(outline)}}, surface: q, lift: 1, wrinkle: max(wrinkle, 0), curl: .04})
	s.things(t.Things)
	shot, m, err := s.shoot()
	if err != nil {
		return Shot{}, err
	}
	for i := range grid.Patches {
		grid.Patches[i].Measure = m[i]
	}
	shot.Truth.Grid = grid
	return shot, nil
}

// quilt lays out the grid without cloth.
func (t Top) quilt() *quilt {
	p := t.Plan
	q := &quilt{rows: len(p.Cells), cols: len(p.Cells[0]), onPoint: p.OnPoint, seed: t.Seed + 5}
	side := t.PatchCM
	if side <= 0 {
		side = 5
	}
	lines := func(n int, sizes []float64) []float64 {
		out := make([]float64, n+1)
		for i := range n {
			size := 1.0
			if i < len(sizes) && sizes[i] > 0 {
				size = sizes[i]
			}
			out[i+1] = out[i] + side*size
		}
		return out
	}
	q.ys, q.xs = lines(q.rows, p.RowSizes), lines(q.cols, p.ColSizes)
	q.w, q.h = q.xs[q.cols], q.ys[q.rows]
	if p.OnPoint {
		d := side * math.Sqrt2
		q.w, q.h = float64(p.Across)*d, float64(p.Down)*d
		// Row 0 is the corner's diagonal, in the middle of its patch unless
		// the corners of patches meet there.
		off := side / 2
		if p.Half {
			off = 0
		}
		q.origin = point{-float64(p.Down)*side - off, -off}
	}
	least := side
	for _, l := range [][]float64{q.ys, q.xs} {
		for i := 1; i < len(l); i++ {
			least = min(least, l[i]-l[i-1])
		}
	}
	wobble := min(max(t.Wobble, 0), .1) * least
	q.wobble, q.jog = .75*wobble, .25*wobble
	q.sag = t.Sag * q.h
	q.seam = t.Seams
	if q.seam == 0 {
		q.seam = .25
	}
	q.gap = t.Gap * side
	q.frame = paint(t.Frame)
	for _, b := range t.Border {
		q.outer += b.CM
	}
	return q
}

// fit places the camera so that the top fills the photo but for the margin,
// and gives the top's outline in the plane. A photo of no given height gets
// the height that the top needs.
func (t Top) fit(take *Take, q *quilt) (homography, []point) {
	// The outline follows the sag.
	o := q.outer
	corners := []point{{-o, -o}, {q.w + o, -o}, {q.w + o, q.h + o}, {-o, q.h + o}}
	var outline []point
	for i, a := range corners {
		b := corners[(i+1)%4]
		for k := range 24 {
			f := float64(k) / 24
			outline = append(outline, q.hang(point{a.x + f*(b.x-a.x), a.y + f*(b.y-a.y)}))
		}
	}
	mid := point{q.w / 2, q.h/2 + q.sag/2}
	m := min(max(t.Margin, 0), .4)
	// Who leaves a wide margin stands further back: the lens is the same.
	h := take.View.pinhole((max(q.w, q.h) + 2*o) / (1 - 2*m))
	// The camera looks at the middle of the top: shift the plane first.
	for r := range 3 {
		h[r][2] -= h[r][0]*mid.x + h[r][1]*mid.y
	}
	lo, hi := bounds(mapped(outline, h.apply))
	if take.Height == 0 {
		take.Height = int(math.Round(float64(take.Width) * (hi.y - lo.y) / (hi.x - lo.x)))
	}
	w, ht := float64(take.Width), float64(take.Height)
	scale := min((1-2*m)*w/(hi.x-lo.x), (1-2*m)*ht/(hi.y-lo.y))
	return h.scaled(scale, w/2-scale*(lo.x+hi.x)/2, ht/2-scale*(lo.y+hi.y)/2), outline
}

// sew cuts the patches and tells where they lie.
func (t Top) sew(s *stage, q *quilt, fabrics []*fabric) *Grid {
	p := t.Plan
	pixels := func(a point) [2]float64 {
		px := s.toPhoto.apply(q.hang(a))
		return [2]float64{px.x, px.y}
	}
	g := &Grid{
		Rows: q.rows, Cols: q.cols, OnPoint: p.OnPoint, Pattern: p.Pattern, Chart: p.Chart,
		Corners: [][2]float64{pixels(point{0, 0}), pixels(point{q.w, 0}), pixels(point{q.w, q.h}), pixels(point{0, q.h})},
	}
	planted := map[[2]int]bool{}
	for _, r := range p.Planted {
		planted[r] = true
	}
	q.cell = make([]*laid, q.rows*q.cols)
	q.whole = p.pieces()
	for r := range q.rows {
		for c := range q.cols {
			cloth := p.Cells[r][c]
			if cloth < 0 {
				continue
			}
			n := r*q.cols + c
			piece := int(q.whole[n])
			from := s.shift(piece)
			// Along the grain or across it, whichever way the strip was cut.
			turn := float64(hash(t.Seed+3, piece, 0)%2) * math.Pi / 2
			if p.OnPoint {
				turn += math.Pi / 4
			}
			q.cell[n] = s.lay(fabrics[cloth], turn, from.x, from.y)
			flat, triangle := q.patch(r, c)
			patch := Patch{Row: r + 1, Col: c + 1, Cloth: cloth, Meant: p.meant(r, c), Triangle: triangle, Misplaced: planted[[2]int{r + 1, c + 1}]}
			for _, a := range flat {
				patch.Outline = append(patch.Outline, pixels(a))
			}
			g.Patches = append(g.Patches, patch)
		}
	}
	from := 0.0
	for i, b := range t.Border {
		from += b.CM
		shift := s.shift(-1 - i)
		q.border = append(q.border, ringBand{from, s.lay(fabrics[b.Cloth], 0, shift.x, shift.y)})
	}
	return g
}

// patch is the outline of a patch in the top: its four corners where the
// seams really cross, clockwise from the top left (on point: from the left,
// so that the row's own top left comes first), or the three of a triangle.
func (q *quilt) patch(row, col int) (outline []point, triangle bool) {
	corner := func(i, j int) point {
		a := point{q.xs[j], q.ys[i]}
		for range 4 { // the seams bend little: this settles at once
			calm := 0.0
			if q.wobble > 0 {
				calm = q.calm(q.unaxes(a))
			}
			a = point{q.colLine(j, row, a.y, calm), q.rowLine(i, a.x, calm)}
		}
		return q.unaxes(a)
	}
	quad := []point{corner(row, col), corner(row, col+1), corner(row+1, col+1), corner(row+1, col)}
	if !q.onPoint {
		return quad, false
	}
	const near = 1e-6
	in := func(p point) bool { return p.x > -near && p.y > -near && p.x < q.w+near && p.y < q.h+near }
	all := true
	for _, p := range quad {
		all = all && in(p)
	}
	if all {
		return quad, false
	}
	return clip(quad, q.w, q.h), true
}

// clip cuts an outline to the rectangle 0..w, 0..h (Sutherland and Hodgman
// 1974) and drops points that lie on top of each other.
func clip(ps []point, w, h float64) []point {
	inside := []func(p point) float64{
		func(p point) float64 { return p.x }, func(p point) float64 { return p.y },
		func(p point) float64 { return w - p.x }, func(p point) float64 { return h - p.y },
	}
	for _, d := range inside {
		var out []point
		for i, a := range ps {
			b := ps[(i+1)%len(ps)]
			da, db := d(a), d(b)
			if da >= 0 {
				out = append(out, a)
			}
			if da < 0 != (db < 0) {
				t := da / (da - db)
				out = append(out, point{a.x + t*(b.x-a.x), a.y + t*(b.y-a.y)})
			}
		}
		ps = out
	}
	var out []point
	for i, p := range ps {
		q := ps[(i+1)%len(ps)]
		if math.Hypot(p.x-q.x, p.y-q.y) > .01 {
			out = append(out, p)
		}
	}
	return out
}
