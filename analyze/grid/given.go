package grid

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"sync"

	"greige/analyze/photo"
	"greige/analyze/raster"
)

// The corners and the counts are given: what is left to find is how the seams
// run between them. Cloth sags, seams wobble, a lens bends, and sashing is
// narrower than a patch. The picture is seen straight on between the corners;
// there the sag is found first, then which lines are unequal, and at last
// every crossing is moved to the seams that are seen (mesh.fit), the corners
// held where they were put but for what the seams say plainly.

// findBetween finds the patches between given corners. Counts that are given are
// taken; those that are not are found.
func findBetween(p *photo.Picture, hints Hints) (*Grid, error) {
	if err := checkSetting(hints.Setting); err != nil {
		return nil, err
	}
	quad, turned, err := checkCorners(p.W, p.H, hints.Corners)
	if err != nil {
		return nil, err
	}
	q, small := working(p)
	v := &given{t: tonesOf(q), small: small, corners: scaledQuad(quad, small), aspect: aspectOf(p.W, p.H, quad), hints: hints}
	v.surface = quadFromSquare(v.corners).Map
	if f := v.seenStraight(); min(f.x1-f.x0, f.y1-f.y0) < 2*smallestPitch {
		if hints.Rows > 0 && hints.Cols > 0 {
			return FromCorners(p.W, p.H, hints.Corners, hints.Rows, hints.Cols, hints.Setting)
		}
		return nil, &Error{"the corners lie too close together for patches to be counted", "give --rows and --cols too, and check --corners; or take the photo from nearer"}
	}
	var fits []*guess
	if hints.Setting != OnPoint {
		if err := v.checkCounts(Straight); err != nil {
			return nil, err
		}
		if f := v.straight(); f != nil {
			fits = append(fits, f)
		}
	}
	// On point there are as many rows as columns, three at least.
	n := max(hints.Rows, hints.Cols)
	if hints.Setting == OnPoint || hints.Setting == "" && n != 1 && n != 2 && (hints.Rows == 0 || hints.Cols == 0 || hints.Rows == hints.Cols) {
		err := v.checkCounts(OnPoint)
		if err != nil && hints.Setting == OnPoint {
			return nil, err
		}
		if err == nil {
			if f := v.diagonal(); f != nil {
				fits = append(fits, f)
			}
		}
	}
	var best *Grid
	most := math.Inf(-1)
	var reading *guess
	for _, f := range fits {
		f.cols, f.rows = f.xs, f.ys
		g, seen := f.grid(p)
		// Most tops are set straight: without a word on it, the other setting
		// has to be seen plainly.
		if g.Setting == OnPoint && hints.Setting == "" {
			seen -= .5
		}
		if best == nil || seen > most {
			best, most, reading = g, seen, f
		}
	}
	if best == nil {
		return nil, &Error{"no patches were found between the corners", "give --rows and --cols too, and check --corners"}
	}
	best.Confidence = 1
	if hints.Rows == 0 || hints.Cols == 0 {
		// Sure is what the seams' own rows and columns agree with.
		s := &search{p: p, t: v.t, small: small, hints: hints}
		s.add(v.seamsIn())
		best.Confidence = alone
		if slices.ContainsFunc(s.ways, reading.same) {
			best.Confidence = agreed
		}
	}
	if turned {
		best.Messages = append(best.Messages, turnedWarning)
	}
	best.Messages = append(best.Messages, reading.doubts...)
	if len(reading.doubts) > 0 {
		best.Confidence = min(best.Confidence, .3) // less than alone: what was given and what is seen differ
	}
	best.Found = best.Confidence >= surely
	if !best.Found && len(reading.doubts) == 0 {
		best.Messages = append(best.Messages, best.doubt(hints))
	}
	return best, nil
}

// given is a picture with the corners of the patches in it, in pixels of t.
type given struct {
	t       *tones
	small   float64 // pixels of t to one of the picture
	corners [4]Point
	surface func(Point) Point // from the unit square to t
	bent    bool              // the surface has the sag of the sides
	border  bool              // there is a border round it
	room    float64           // its least width in pixels
	aspect  float64           // as the camera sees it
	slack   float64           // by how much that may be off, as a logarithm

	straightened *frame // once it has been asked for
	whole        *given // what it is a part of, seen in the same frame
	hints        Hints
}

func scaledQuad(q [4]Point, f float64) [4]Point {
	for k := range q {
		q[k] = Point{q[k][0] * f, q[k][1] * f}
	}
	return q
}

// checkCounts looks at what is given of the counts.
func (v *given) checkCounts(s Setting) error {
	rows, cols := v.hints.Rows, v.hints.Cols
	if s == OnPoint {
		if rows == 0 && cols == 0 {
			return nil
		}
		if rows == 0 || cols == 0 {
			rows = max(rows, cols)
			cols = rows
		}
	}
	return checkCounts(scaledQuad(v.corners, 1/v.small), max(rows, 1), max(cols, 1), s)
}

// frame is a picture seen straight on between four corners, with a rim round
// them: the corners lie rim pixels inside.
type frame struct {
	*flattened
	x0, y0, x1, y1 float64 // of the corners
	down, along    *profile

	turning sync.Once
	turned  *turnedView // once it has been asked for, by parts that are looked into side by side
}

// rimShare is how much of the longer side is shown around the corners.
const rimShare = .06

// frame shows the picture between the corners, its width aspect times its
// height; places are moved by the sag, a share of the height, and by the bow
// of the columns, a share of the width.
func (v *given) frame(aspect, sag, bow float64) *frame {
	// As large as the top is in the picture.
	h := math.Sqrt(max(raster.Area(v.corners[:]), 16) / aspect)
	w := h * aspect
	rim := math.Ceil(rimShare * max(w, h))
	f := &frame{x0: rim, y0: rim, x1: rim + w, y1: rim + h}
	f.flattened = resample(v.t, int(w+2*rim+.5), int(h+2*rim+.5), func(p Point) Point {
		x, y := (p[0]-rim)/w, (p[1]-rim)/h
		s, u := 2*x-1, 2*y-1
		return v.surface(Point{x + bow*(1-u*u), y + sag*(1-s*s)})
	})
	return f
}

// straight finds the lines of a straight set: the division of what is seen where
// the sag and the bow of the seams are taken out, which the counts that come of it
// tell better once more. It is nil where no lines are seen.
func (v *given) straight() *guess {
	rows, cols := v.hints.Rows, v.hints.Cols
	if rows == 0 {
		rows = 8 // until they are counted, a number that is good for most tops
	}
	if cols == 0 {
		cols = 8
	}
	level := v.seenStraight()
	w, h := level.x1-level.x0, level.y1-level.y0
	seen := *v
	var r *guess
	for range 2 {
		// Cloth sags more than it bows to the side.
		sag := level.across().hang(level.y0, level.y1, level.x0, level.x1, h/float64(rows), .06) / h // .06: cloth sags by a twentieth of its height at most
		bow := level.hang(level.x0, level.x1, level.y0, level.y1, w/float64(cols), .03) / w          // .03: half as much, by a pull to the side
		seen.straightened = v.frame(v.aspect, sag, bow).profiled()
		if r = seen.divided(); r == nil {
			return nil
		}
		r.cols, r.rows = r.xs, r.ys
		if rows, cols = r.counts(); v.hints.Rows > 0 && v.hints.Cols > 0 {
			break
		}
	}
	if v.hints.Cols > 0 {
		r.doubts = append(r.doubts, seen.straightened.down.doubt(cols, "column")...)
	}
	if v.hints.Rows > 0 {
		r.doubts = append(r.doubts, seen.straightened.along.doubt(rows, "row")...)
	}
	return r
}

// even places n-1 lines between the ends for equal patches.
func (p *profile) even(n int) (score float64, lines []float64) {
	return p.relief((p.x1-p.x0)/float64(n)).place(p.x0, p.x1, evenWidths(n))
}

// mostCount is more rows or columns than a top has, sashing included.
const mostCount = 60

// doubt is the warning that another number of rows or columns, all alike, fits the
// seams much better than the one given.
func (p *profile) doubt(n int, what string) []string {
	all, have := p.divisions(0), p.divisions(n)[0].score
	i := slices.IndexFunc(all, func(d division) bool { return !slices.Contains(d.strips(), true) })
	if i < 0 || all[i].n == n || all[i].score < have+2+.1*float64(max(n, all[i].n)) { // two good lines, and a tenth of one for each line, which is chance
		return nil
	}
	return []string{fmt.Sprintf("%d %ss were given, but the seams between the corners look more like %d. Count again, every strip of sashing as a %s of its own, and check --%ss and --corners.", n, what, all[i].n, what, what[:3]+strings.TrimPrefix(what[3:], "umn"))}
}

// hang is how far, in pixels, the lines that run down f between y0 and y1 bow
// to the right in the middle: the parabola that, taken out, makes the lines
// stand out most from their neighbourhood, looked at end on. It is at most
// the given share of x1 - x0, either way.
func (f *flattened) hang(x0, x1, y0, y1, pitch, most float64) float64 {
	w := max(int(pitch/8), 2)
	h := max(int(min(pitch/2, (y1-y0)/6)), 3)
	n := int((y1 - y0) / float64(h))
	rows := make([][]float32, n)
	part := make([]float64, n) // of the whole bow at this strip
	photo.Bands(n, 1, func(b0, b1 int) {
		for b := b0; b < b1; b++ {
			y := y0 + (y1-y0)*float64(b)/float64(n)
			rows[b] = f.band(int(y), int(y)+h).steps(w)
			s := 2*(float64(b)+.5)/float64(n) - 1
			part[b] = 1 - s*s
		}
	})
	reach := int(most * (x1 - x0))
	score := make([]float64, 2*reach+1)
	photo.Bands(len(score), 8, func(k0, k1 int) {
		sum := make([]float64, f.w+1)
		for k := k0; k < k1; k++ {
			clear(sum)
			for b, row := range rows {
				d := float64(k-reach) * part[b]
				i := int(math.Floor(d))
				a := float32(d - float64(i))
				for x := int(x0); x <= int(x1); x++ {
					if x+i >= 0 && x+i+1 < len(row) {
						sum[x] += float64((1-a)*row[x+i] + a*row[x+i+1])
					}
				}
			}
			own, level := 0.0, 0.0
			mean := moving(sum, int(pitch/2))
			for x := int(x0); x <= int(x1); x++ {
				own += sum[x] * sum[x]
				level += mean[x] * mean[x]
			}
			if level > 0 {
				// A level top is the likelier one.
				d := float64(k-reach) / float64(reach+1)
				score[k] = own / level * (1 - .05*d*d)
			}
		}
	})
	best := reach
	for k, s := range score {
		if s > 1.002*score[best] { // more than rounding
			best = k
		}
	}
	return float64(best - reach)
}

// sashing is where strips lie among n rows or columns: after every so many
// patches, and round the whole.
type sashing struct {
	block int
	round bool
}

// sashings are all regular ways to have strips in n rows or columns.
func sashings(n int) []sashing {
	var out []sashing
	for b := 1; b <= n-2; b++ {
		if (n+1)%(b+1) == 0 && n > b {
			out = append(out, sashing{b, false})
		}
		if (n-1)%(b+1) == 0 {
			out = append(out, sashing{b, true})
		}
	}
	return out
}

// widths are those of n rows or columns in patches, strips s wide.
func (m sashing) widths(n int, s float64) []float64 {
	out := make([]float64, n)
	for i := range out {
		k := i % (m.block + 1)
		if m.round && k == 0 || !m.round && k == m.block {
			out[i] = s
		} else {
			out[i] = 1
		}
	}
	return out
}

func evenWidths(n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = 1
	}
	return out
}

// place puts lines between x0 and x1 so that their distances are near the
// widths, given in patches, and go through the highest places: dynamic
// programming over pixels (Bellman 1957), scored as chain does.
func (r *relief) place(x0, x1 float64, widths []float64) (score float64, lines []float64) {
	total := 0.0
	for _, w := range widths {
		total += w
	}
	unit := (x1 - x0) / total
	slack := max(1.5*pitchSlack*unit, 1) // 1.5: a line and the corner's own error
	n := len(widths)
	// Line i lies within reach pixels of where equal patches put it.
	reach := int(min(.35*unit, 3*slack*math.Sqrt(float64(n)))) // three deviations of a walk of n lines, and never as far as half a patch
	states := 2*reach + 1
	even := make([]float64, n+1)
	even[0], even[n] = x0, x1
	for i := 1; i < n; i++ {
		even[i] = even[i-1] + unit*widths[i-1]
	}
	value := make([][]float64, n+1)
	from := make([][]int, n+1)
	for i := range value {
		value[i], from[i] = make([]float64, states), make([]int, states)
		for k := range states {
			value[i][k] = math.Inf(-1)
			if i == 0 && k == reach {
				value[i][k] = 0
			}
			if i == 0 || i == n && k != reach {
				continue
			}
			x := even[i] + float64(k-reach)
			for j := range states {
				if math.IsInf(value[i-1][j], -1) {
					continue
				}
				y := even[i-1] + float64(j-reach)
				d := (x - y - unit*widths[i-1]) / slack
				if abs(d) > 3 {
					continue
				}
				m := .25 * (x - y) // the middle half: clear of both lines
				if v := value[i-1][j] - .25*d*d - r.highest(y+m, x-m); v > value[i][k] {
					value[i][k], from[i][k] = v, j
				}
			}
			if i < n {
				value[i][k] += min(r.at[min(max(int(x+.5), 0), len(r.at)-1)], mostLine)
			}
		}
	}
	lines = make([]float64, n+1)
	k := reach
	for i := n; i >= 0; i-- {
		lines[i] = even[i] + float64(k-reach)
		k = from[i][k]
	}
	return value[n][reach], lines
}

// sampled are the rounds in which readings are looked at: by how many of their seams,
// and how many readings.
var sampled = [...]struct{ seams, readings int }{{16, math.MaxInt}, {64, 24}, {math.MaxInt, 6}}

// halved are the readings that are worth most, the best first, by what so many of their
// seams say. Each round knows the mean worth of a seam twice as well for a part of the
// readings (successive halving; Karnin, Koren and Somekh 2013).
func halved[T any](all []T, worth func(reading T, seams int) (T, float64)) []T {
	type weighed struct {
		reading T
		worth   float64
	}
	for k, round := range sampled {
		if k+1 < len(sampled) && len(all) <= sampled[k+1].readings {
			continue // none would be left out
		}
		var seen []weighed
		for _, r := range all[:min(len(all), round.readings)] {
			if r, w := worth(r, round.seams); !math.IsInf(w, -1) {
				seen = append(seen, weighed{r, w})
			}
		}
		slices.SortStableFunc(seen, func(a, b weighed) int { return cmp.Compare(b.worth, a.worth) })
		all = all[:0:0]
		for _, w := range seen {
			all = append(all, w.reading)
		}
	}
	return all
}

// some is the mesh with at most so many of its seams, evenly chosen, and how many times
// as many it has.
func (n *mesh) some(most int) (*mesh, float64) {
	all := len(n.seams)
	if all <= most {
		return n, 1
	}
	m := *n
	m.seams = make([]seam, most)
	for k := range m.seams {
		m.seams[k] = n.seams[k*all/most]
	}
	return &m, float64(all) / float64(most)
}

// slanted is a reading of a top on point between the corners, its sag as a share of
// the height.
type slanted struct {
	diagonal
	sag float64
}

// diagonal finds how many squares a top on point has along either edge, how
// far it sags, and where its patches lie.
func (v *given) diagonal() *guess {
	f := v.seenStraight()
	var all []slanted
	seen := v.squares()
	for _, half := range []bool{false, true} {
		sums := seen
		if n := max(v.hints.Rows, v.hints.Cols); n > 0 {
			sums = []int{n - 1}
			if half {
				sums = []int{n}
			}
		}
		for _, sum := range sums {
			for m := 1; m < sum; m++ {
				// The aspect is known to a few per cent; see aspectOf.
				off := math.Log(float64(m) / float64(sum-m) / v.aspect)
				if abs(off) < max(.12, 1.2/float64(min(m, sum-m))) { // an eighth, or where there are few squares a little more than one of them
					d := diagonal{m: m, n: sum - m, half: half, x: f.x0, y: f.y0, wide: (f.x1 - f.x0) / float64(2*m), high: (f.y1 - f.y0) / float64(2*(sum-m))}
					all = append(all, slanted{diagonal: d})
				}
			}
		}
	}
	if all = halved(all, v.sagging); len(all) == 0 {
		return nil
	}
	d := all[0]
	if !v.bent {
		f = v.frame(float64(d.m)/float64(d.n), d.sag, 0)
	}
	d.x, d.y, d.wide, d.high = f.x0, f.y0, (f.x1-f.x0)/float64(2*d.m), (f.y1-f.y0)/float64(2*d.n)
	return &guess{f: f.flattened, point: &d.diagonal, small: v.small, given: true, hints: v.hints}
}

// sagging is the reading with the sag that suits its seams best, and its worth by so
// many of them.
func (v *given) sagging(d slanted, most int) (slanted, float64) {
	f := v.seenStraight()
	mesh, more := d.mesh(f.flattened).some(most)
	level := slices.Clone(mesh.node)
	best := math.Inf(-1)
	step := .12 / float64(d.m+d.n)                           // a sixth of a patch
	for k := -int(.02 / step); float64(k)*step <= .06; k++ { // of the height: cloth sags by a twentieth at most
		sag := float64(k) * step
		if v.bent && k != 0 {
			continue
		}
		for i, p := range level {
			s := 2*(p[0]-f.x0)/(f.x1-f.x0) - 1
			mesh.node[i][1] = p[1] + sag*(f.y1-f.y0)*(1-s*s)
		}
		worth := mesh.evidence()
		if v.bent {
			worth = mesh.total(everySeam) * more
		}
		if worth -= .05 * abs(sag) / .06; worth > best { // a level top is the likelier one
			d.sag, best = sag, worth
		}
	}
	return d, best
}

// squares are the likely numbers of squares along the upper and the left edge
// of a top on point together, where they are not given.
func (v *given) squares() []int {
	if v.hints.Rows > 0 || v.hints.Cols > 0 {
		return nil
	}
	// From the distance of the seams, seen along them.
	f, s := v.seenStraight(), v.seenTurned()
	size := (f.x1 - f.x0 + f.y1 - f.y0) / math.Sqrt2
	var out []int
	for _, runs := range [2][]run{s.xs, s.ys} {
		for _, c := range distinct(runs, 3) {
			sum := size / c.ruler().pitch
			list := []int{int(sum), int(sum) + 1}
			if v.bent { // blocks may be what is seen
				for m := 2.0; m <= 4; m++ {
					list = append(list, int(m*sum), int(m*sum)+1)
				}
			}
			for _, k := range list {
				if k >= 2 && k <= mostCount && float64(k) <= size/smallestPitch && !slices.Contains(out, k) {
					out = append(out, k)
				}
			}
		}
	}
	return out
}

// evidence is the mean worth of what is seen along the seams inside the mesh.
func (n *mesh) evidence() float64 {
	sum, count := 0.0, 0.0
	for k, v := range n.worths() {
		if !n.seams[k].outer {
			sum += v
			count++
		}
	}
	return sum / max(count, 1)
}

// worths are what is seen along each seam inside the mesh.
func (n *mesh) worths() []float64 {
	at := make([]float64, len(n.seams))
	photo.Bands(len(n.seams), 16, func(k0, k1 int) {
		for k := k0; k < k1; k++ {
			if s := n.seams[k]; !s.outer {
				gap := min(s.left, s.right)
				at[k] = worth(n.f.contrasted(n.node[s.from], n.node[s.to], gap, .06*gap, []float64{.4 * gap, .15 * gap}, -1, 1))
			}
		}
	})
	return at
}

// coarseGap is the width of a patch, in pixels, that shows all that is asked of a seam:
// a window of a tenth of it has two pixels or three.
const coarseGap = 24

// contrasted is how much more like a seam the line from p to q looks than the
// cloth in the middle of the patches on either side, gap pixels wide; see
// contrasts. It is the least by windows of some widths, in pixels: a narrow strip beside a seam shows it as a wide one does, while the
// seam of another direction shows in wide ones only. What is in the middle of
// the patches is looked for on the sides told: -1 is to the left of the way
// from p to q, 1 to the right.
func (f *flattened) contrasted(p, q Point, gap, reach float64, windows []float64, sides ...float64) float64 {
	l, ok := sectionOf(p, q)
	if !ok {
		return math.NaN()
	}
	f, l, scale := f.coarse(l, gap, coarseGap)
	gap, reach = gap/scale, reach/scale
	side := int(.5*gap) + max(int(.4*gap), 2) + 2
	sum := f.beside(l, side).sums()
	least := math.NaN()
	for _, window := range windows {
		w := max(int(window/scale), 2)
		at, ok := sum.most(float64(side)+.5, reach, w)
		rest, n := 0.0, 0.0
		for _, d := range sides {
			if a, ok := sum.most(float64(side)+.5+.5*d*gap, reach, w); ok {
				rest += a
				n++
			}
		}
		if !ok || n == 0 {
			continue
		}
		if c := math.Log((at + steadiness) / (rest/n + steadiness)); !(c >= least) {
			least = c
		}
	}
	return least
}
