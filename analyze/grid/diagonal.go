package grid

import (
	"cmp"
	"image"
	"math"
	"slices"

	"greige/analyze/raster"
)

// diagonal is a reading of a top on point: m squares along its upper edge and
// n along its left one.
//
// Where U counts the lines of the rows, down to the right, and V those of the
// columns, up to the right, s = U + V grows to the right and t = U - V down.
// The sides of the top run through crossings of the lines, so they lie at
// whole numbers of s and t; a diagonal of a square is two steps long. Each
// side of a patch reaches over one step of s and one of t.
type diagonal struct {
	m, n int
	half bool // the top's corners are corners of patches
	// The upper left corner and the width and height of a step in pixels of the
	// flattened picture that has s across and t down.
	x, y, wide, high float64
}

func (d *diagonal) rows() int {
	if d.half {
		return d.m + d.n
	}
	return d.m + d.n + 1
}

// mesh is the crossings and middles of the squares, with the sides of the
// patches and the outside of the top as seams.
func (d *diagonal) mesh(f *flattened) *mesh {
	n := &mesh{f: f, w: 2*d.m + 1, h: 2*d.n + 1, gap: math.Sqrt(2 * d.wide * d.high)}
	for j := range n.h {
		for i := range n.w {
			n.node = append(n.node, Point{d.x + float64(i)*d.wide, d.y + float64(j)*d.high})
		}
	}
	// A crossing lies where the way from the corner is even for a half set.
	crossing := func(i, j int) bool { return (i+j)%2 == 0 == d.half }
	for j := range n.h {
		for i := range n.w {
			k := j*n.w + i
			if crossing(i, j) && j+1 < n.h {
				if i+1 < n.w {
					n.seams = append(n.seams, seam{k, k + n.w + 1, n.gap, n.gap, false})
				}
				if i > 0 {
					n.seams = append(n.seams, seam{k, k + n.w - 1, n.gap, n.gap, false})
				}
			}
			if i+1 < n.w && (j == 0 || j == n.h-1) {
				n.seams = append(n.seams, seam{k, k + 1, d.high, d.high, true})
			}
			if j+1 < n.h && (i == 0 || i == n.w-1) {
				n.seams = append(n.seams, seam{k, k + n.w, d.wide, d.wide, true})
			}
		}
	}
	return n
}

// onPointIn are the tops on point in a view whose rows run along diagonals, the
// likeliest lattices first.
func onPointIn(f *flattened, xs, ys []run, t *tones) []*guess {
	var all []*slants
	for _, k := range paired(xs, ys) {
		a, b := xs[k[0]], ys[k[1]]
		// The patches are squares, seen a little askew.
		if r := a.pitch / b.pitch; a.narrow > 0 || b.narrow > 0 || r < .8 || r > 1.25 { // foreshortened by a fifth at most: a tilt of 37 degrees
			continue
		}
		if l := slantsOf(f, a.ruler(), b.ruler()); l != nil {
			all = append(all, l)
		}
	}
	slices.SortStableFunc(all, func(p, q *slants) int { return cmp.Compare(q.most(), p.most()) })
	var out []*guess
	for _, l := range all[:min(len(all), 2)] { // the sides of the top are looked for only in the best
		if r := l.cut(t); r != nil {
			out = append(out, r)
		}
	}
	return out
}

// ruler is the straight line x = at + pitch k through the lines of a run.
type ruler struct{ at, pitch float64 }

func (c run) ruler() ruler {
	// The lines may leave some out: each has the number that the pitch gives.
	var n, sk, sx, skk, skx float64
	k := 0.0
	for i, x := range c.lines {
		if i > 0 {
			k += math.Round((x - c.lines[i-1]) / c.pitch)
		}
		n, sk, sx, skk, skx = n+1, sk+k, sx+x, skk+k*k, skx+k*x
	}
	det := n*skk - sk*sk
	if det <= 0 {
		return ruler{c.lines[0], c.pitch}
	}
	p := (n*skx - sk*sx) / det
	return ruler{(sx - p*sk) / n, p}
}

// lines are those that lie within 0..n pixels.
func (r ruler) lines(n int) []float64 {
	var out []float64
	for k := math.Ceil(-r.at / r.pitch); r.at+k*r.pitch <= float64(n); k++ {
		out = append(out, r.at+k*r.pitch)
	}
	return out
}

// slants are the seams of a lattice by s and t: what each is worth, in the
// running sums of a table.
type slants struct {
	sums   *raster.Sums
	w, h   int
	s0, t0 int // s and t of the table's first row and column
	x, y   float64
	px, py float64 // the lattice: U = 0, V = 0 lies at x, y
	f      *flattened
}

// slantsOf measures the seams of the lattice of two rulers, those of the
// columns' lines and of the rows'.
func slantsOf(f *flattened, a, b ruler) *slants {
	g := f.across()
	xs, ys := a.lines(f.w), b.lines(g.w)
	if len(xs) < 2 || len(ys) < 2 {
		return nil
	}
	across, down := run{lines: xs, pitch: a.pitch}, run{lines: ys, pitch: b.pitch}
	type piece struct {
		s, t  int
		worth float64
	}
	var all []piece
	lo, hi := [2]int{math.MaxInt, math.MaxInt}, [2]int{math.MinInt, math.MinInt}
	add := func(s, t int, seam stretch, x, y float64) {
		if !f.shows(x, y) {
			return
		}
		all = append(all, piece{s, t, seam.worth()})
		lo = [2]int{min(lo[0], s), min(lo[1], t)}
		hi = [2]int{max(hi[0], s+1), max(hi[1], t+1)}
	}
	for i, line := range seams(f, across, down) {
		for j, seam := range line {
			add(i+j, j-i, seam, xs[i], (ys[j]+ys[j+1])/2)
		}
	}
	for j, line := range seams(g, down, across) {
		for i, seam := range line {
			add(i+j, j-i-1, seam, (xs[i]+xs[i+1])/2, ys[j])
		}
	}
	if len(all) == 0 {
		return nil
	}
	w, h := hi[0]-lo[0], hi[1]-lo[1]
	worth := make([]float32, w*h)
	for _, e := range all {
		worth[(e.t-lo[1])*w+e.s-lo[0]] += float32(e.worth)
	}
	return &slants{sums: raster.NewSums(worth, w, h), w: w, h: h, s0: lo[0], t0: lo[1], x: xs[0], y: ys[0], px: xs[1] - xs[0], py: ys[1] - ys[0], f: f}
}

// cut finds the part of the lattice that is most like a top on point.
func (l *slants) cut(t *tones) *guess {
	// The same picture with s across and t down, for the sides of the top.
	step := math.Sqrt(l.px*l.py) / math.Sqrt2
	h := resample(t, int(float64(l.w)*step)+1, int(float64(l.h)*step)+1, func(p Point) Point {
		s, t := float64(l.s0)+p[0]/step, float64(l.t0)+p[1]/step
		return l.f.at(Point{l.x + l.px*(s-t)/2, l.y + l.py*(s+t)/2})
	})
	marks := func(n int) run {
		return run{lines: ruler{0, step}.lines(int(math.Ceil(float64(n) * step))), pitch: step}
	}
	columns, rows := marks(l.w), marks(l.h)
	left, upper := runningSums(worths(seams(h, columns, rows))), runningSums(worths(seams(h.across(), rows, columns)))
	return l.chosen(left, upper, h, step)
}

// chosen is the rectangle whose seams inside and whose sides are worth most: left and
// upper are the running sums of what each line is worth as a side, of h in steps.
func (l *slants) chosen(left, upper [][]float64, h *flattened, step float64) *guess {
	best := math.Inf(-1)
	var s0, s1, t0, t1 int
	for a := 0; a+2 <= l.w; a++ {
		for b := a + 2; b <= l.w; b += 2 {
			from, to, worth := l.heights(a, b, left, upper)
			if worth > best {
				best, s0, s1, t0, t1 = worth, a, b, from, to
			}
		}
	}
	if math.IsInf(best, -1) {
		return nil
	}
	d := diagonal{m: (s1 - s0) / 2, n: (t1 - t0) / 2, half: l.half(s0, t0), x: float64(s0) * step, y: float64(t0) * step, wide: step, high: step}
	return &guess{f: h, point: &d, score: best}
}

// half tells whether the corner of a top at s, t of the table is that of a patch.
func (l *slants) half(s, t int) bool { return (s+t+abs(l.s0+l.t0))%2 == 0 }

// heights are the lines t0 and t1 between which a top from s0 to s1 is worth most, and
// that worth: minus infinity for none.
func (l *slants) heights(s0, s1 int, left, upper [][]float64) (t0, t1 int, worth float64) {
	// Up to line t the seams between s0 and s1 and the sides there are
	// worth below(t); a top from t0 to t1 is worth
	// below(t1) - below(t0) and its upper and lower side.
	below := func(t int) float64 {
		return l.sum(s0, s1, 0, t) + left[s0][t] + left[s1][t]
	}
	across := func(t int) float64 { return upper[t][s1] - upper[t][s0] }
	worth = math.Inf(-1)
	start := [2]float64{math.Inf(-1), math.Inf(-1)} // of even and odd t0
	var from [2]int
	for end := 2; end <= l.h; end++ {
		t := end - 2
		if v := across(t) - below(t); v > start[t%2] {
			start[t%2], from[t%2] = v, t
		}
		w := start[end%2] + below(end) + across(end)
		if w > worth {
			t0, t1, worth = from[end%2], end, w
		}
	}
	return t0, t1, worth
}

// runningSums are those along each line.
func runningSums(lines [][]float64) [][]float64 {
	out := make([][]float64, len(lines))
	for l, line := range lines {
		out[l] = make([]float64, len(line)+1)
		for k, v := range line {
			out[l][k+1] = out[l][k] + v
		}
	}
	return out
}

// most is the largest sum over a rectangle of the lattice.
func (l *slants) most() float64 {
	best := 0.0
	for x0 := range l.w {
		for x1 := x0 + 1; x1 <= l.w; x1++ {
			low := 0.0
			for y := range l.h + 1 {
				v := l.sum(x0, x1, 0, y)
				low = min(low, v)
				best = max(best, v-low)
			}
		}
	}
	return best
}

func (l *slants) sum(x0, x1, y0, y1 int) float64 {
	return l.sums.Over(image.Rect(x0, y0, x1, y1))
}
