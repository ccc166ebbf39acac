package grid

import (
	"math"
	"slices"
)

// side is one of the four sides of a straight net: its places in order, and
// how many numbers further in its neighbours are.
type side struct {
	first, step, count, in int
	cells                  int // patches from this side to the other
}

func (n *net) sides() [4]side {
	return [4]side{
		{0, 1, n.w, n.w, n.h - 1},
		{(n.h - 1) * n.w, 1, n.w, -n.w, n.h - 1},
		{0, n.w, n.h, 1, n.w - 1},
		{n.w - 1, n.w, n.h, -1, n.w - 1},
	}
}

func (n *net) apart(a, b int) float64 {
	return math.Hypot(n.node[a][0]-n.node[b][0], n.node[a][1]-n.node[b][1])
}

// trim looks again where the top ends. A narrow border next to it is a part
// of the outermost patches for all that the lattice knows, and has an edge
// as good as theirs; but it makes those patches wider than the others. Each
// side is moved to the edge that is seen best, at a price for uneven patches.
// It returns by how much, on the side where that is least plain, the edge is
// better than the next best one.
func (n *net) trim(r *guess) float64 {
	plain := math.Inf(1)
	usual := [2]float64{n.usual(1), n.usual(n.w)} // across, down
	for k, s := range n.sides() {
		pitch := usual[1-k/2]
		lines := r.ys
		if k >= 2 {
			lines = r.xs
		}
		if k%2 == 1 {
			lines = mirrored(lines)
		}
		// Sashing may lie outside: then the strip is no guide.
		if ratio := (lines[1] - lines[0]) / pitchOf(lines); ratio < .8 {
			continue
		}
		if math.IsNaN(pitch) {
			pitch = usual[k/2] // patches are about square
		}
		if math.IsNaN(pitch) {
			plain = 0 // nothing tells how large a patch is
			continue
		}
		plain = min(plain, n.trimSide(s, pitch))
	}
	return plain
}

func mirrored(lines []float64) []float64 {
	out := make([]float64, len(lines))
	for i, x := range lines {
		out[len(lines)-1-i] = -x
	}
	return out
}

// usual is the median width of the patches that lie inside, in the direction
// of the places step apart; not a number where there are none.
func (n *net) usual(step int) float64 {
	var widths []float64
	for j := range n.h {
		for i := range n.w {
			k := j*n.w + i
			at, last := i, n.w-2
			if step != 1 {
				at, last = j, n.h-2
			}
			if at > 0 && at < last {
				widths = append(widths, n.apart(k, k+step))
			}
		}
	}
	if len(widths) == 0 {
		return math.NaN()
	}
	slices.Sort(widths)
	return widths[len(widths)/2]
}

// trimSide moves one side in or out; see trim.
func (n *net) trimSide(s side, pitch float64) float64 {
	const (
		reach  = .5  // patches
		uneven = .09 // how much wider or narrower the outermost patches are
		window = .15
		enough = 1.5
		near   = .1
	)
	// Evidence by how far out the line lies from the first line inside.
	lo, hi := int(pitch*(1-reach)), int(pitch*(1+reach))
	seen := make([]float64, hi-lo+1)
	count := 0.0
	w := max(int(window*pitch), 2)
	for k := range s.count - 1 {
		a, b := s.first+k*s.step, s.first+(k+1)*s.step
		p, q := n.node[a+s.in], n.node[b+s.in]
		length := math.Hypot(q[0]-p[0], q[1]-p[1])
		if length < 2 {
			continue
		}
		normal := Point{-(q[1] - p[1]) / length, (q[0] - p[0]) / length}
		// Outwards.
		if (n.node[a][0]-p[0])*normal[0]+(n.node[a][1]-p[1])*normal[1] < 0 {
			normal = Point{-normal[0], -normal[1]}
		}
		// The line through the outer places' own direction, moved.
		d := (n.apart(a, a+s.in) + n.apart(b, b+s.in)) / 2
		o, u := n.node[a], n.node[b]
		sum := n.f.beside(o, u, normal, .08, .92, hi)
		for i := range seen {
			at := float64(lo+i) - d // from the outer line
			if apart, within, ok := sum.step(int(math.Round(at+float64(hi)+.5)), w); ok {
				// That there is an edge counts, more than how strong it is.
				seen[i] += enough * (1 - math.Exp(-math.Log1p(apart/(steadiness+.2*within))/enough))
			}
		}
		count++
	}
	if count == 0 {
		return 0
	}
	best, next, at := math.Inf(-1), math.Inf(-1), -1
	for i, v := range seen {
		d := (float64(lo+i)/pitch - 1) / uneven
		seen[i] = v/count - .5*d*d
		if seen[i] > best {
			best, at = seen[i], i
		}
	}
	for i, v := range seen {
		if abs(float64(i-at)) > near*pitch {
			next = max(next, v)
		}
	}
	for k := range s.count {
		a := s.first + k*s.step
		in := n.node[a+s.in]
		f := float64(lo+at) / n.apart(a, a+s.in)
		for c := range 2 {
			n.node[a][c] = in[c] + (n.node[a][c]-in[c])*f
		}
	}
	return min(best, best-next)
}

// complete looks whether another row or column belongs to the top on any
// side, or the outermost does not: now that the net follows the seams, those
// that cross the next row are to be seen where they would go on.
func (r *guess) complete(n *net) *net {
	for range 8 {
		m := n
		for k := range 4 {
			m = r.shrink(m, k)
		}
		for k := range 4 {
			m = r.extend(m, k)
		}
		if m == n {
			break
		}
		n = m
		n.settleInside(.12, .2)
	}
	return r.framed(n)
}

// largestBlock is how many patches a single block has along a side at most.
const largestBlock = 6

// framed adds sashing round a single block: strips of one width on all four
// sides with a square of another cloth in each corner. Without those squares
// it is a border.
func (r *guess) framed(n *net) *net {
	if r.counted(0) || r.counted(2) || max(n.w, n.h)-1 > largestBlock || slices.Contains(strips(r.xs), true) || slices.Contains(strips(r.ys), true) {
		return n
	}
	best, width := 0.0, 0.0 // in patches
	for w := leastStrip; w <= mostSash; w += .03 {
		// That there is an edge on all sides makes it a strip. How strong the
		// edge is places its outside: a print has edges of its own inside it.
		squares, edges, strong := 0.0, math.Inf(1), math.Inf(1)
		for _, s := range n.sides() {
			edge, strength := 0.0, 0.0
			// Left of the way along a side lies the inside or the outside.
			left := w * n.gap
			if s.in == n.w || s.in == -1 {
				left = -left
			}
			for k := range s.count - 1 {
				a := s.first + k*s.step
				e := n.edgeAt(a, a+s.step, left, 2*w*n.gap)
				edge += min(e, 1.5) / float64(s.count-1)
				strength += min(e, 4) / float64(s.count-1) // one edge alone does not decide
			}
			edges, strong = min(edges, edge), min(strong, strength)
			for _, a := range [2]int{s.first, s.first + (s.count-1)*s.step} {
				p, q := n.node[a], n.node[a+s.in]
				l := n.apart(a, a+s.in)
				out := Point{p[0] + w*n.gap*(p[0]-q[0])/l, p[1] + w*n.gap*(p[1]-q[1])/l}
				if c := worth(n.f.contrast(p, out, 1.5*w*n.gap)); !math.IsNaN(c) {
					squares += c / 8
				}
			}
		}
		if v := squares + strong; squares > 1.2 && edges > .7 && v > best {
			best, width = v, w
		}
	}
	if best == 0 {
		return n
	}
	for _, lines := range []*[]float64{&r.xs, &r.ys} {
		l := *lines
		last := len(l) - 1
		d := width * n.gap
		*lines = append(slices.Insert(slices.Clone(l), 0, l[0]-d), l[last]+d)
	}
	m := r.renet(n, 1, 1)
	for k, s := range n.sides() {
		t := m.sides()[k]
		for i := range s.count {
			a := s.first + i*s.step
			p, q := n.node[a], n.node[a+s.in]
			l := n.apart(a, a+s.in)
			m.node[t.first+(i+1)*t.step] = Point{p[0] + width*n.gap*(p[0]-q[0])/l, p[1] + width*n.gap*(p[1]-q[1])/l}
		}
	}
	// The corners lie where the strips' outsides lead.
	for _, c := range [4][3]int{{0, 1, m.w}, {m.w - 1, -1, m.w}, {(m.h - 1) * m.w, 1, -m.w}, {m.h*m.w - 1, -1, -m.w}} {
		a, b, o := m.node[c[0]+c[1]], m.node[c[0]+c[2]], m.node[c[0]+c[1]+c[2]]
		m.node[c[0]] = Point{a[0] + b[0] - o[0], a[1] + b[1] - o[1]}
	}
	return m
}

// linesOf are the lines that lie along side k, and those that cross it.
func (r *guess) linesOf(k int) (along, across *[]float64) {
	if k < 2 {
		return &r.ys, &r.xs
	}
	return &r.xs, &r.ys
}

// counted is whether the rows, or the columns, that lie along side k are given.
func (r *guess) counted(k int) bool {
	if k < 2 {
		return r.hints.Rows > 0
	}
	return r.hints.Cols > 0
}

// strips tells of each row or column between lines whether it is sashing.
func strips(lines []float64) []bool {
	patch := (lines[len(lines)-1] - lines[0]) / patchesAlong(lines)
	out := make([]bool, len(lines)-1)
	for i := range out {
		out[i] = lines[i+1]-lines[i] < .5*(1+mostSash)*.93*patch
	}
	return out
}

// crossing is the mean worth of the seams that cross the row from the places
// of a side to those of to, of the lines that count, and whether the picture
// shows enough of them.
func (n *net) crossing(s side, to []Point, counts func(line int) bool) (mean float64, ok bool) {
	sum, seen, all := 0.0, 0, 0
	for k := 1; k+1 < s.count; k++ {
		if !counts(k) {
			continue
		}
		all++
		a := s.first + k*s.step
		gap := min(n.apart(a, a-s.step), n.apart(a, a+s.step))
		if c := n.f.contrast(n.node[a], to[k], gap); !math.IsNaN(c) {
			sum += worth(c)
			seen++
		}
	}
	return sum / float64(max(seen, 1)), seen > 0 && 2*seen >= all
}

// meanWorth is the mean worth of the seams inside the top between places step
// apart.
func (n *net) meanWorth(step int) float64 {
	sum, count := 0.0, 0.0
	for k, v := range n.worths() {
		if e := n.seams[k]; !e.outer && e.to-e.from == abs(step) {
			sum += v
			count++
		}
	}
	return sum / max(count, 1)
}

func everyLine(int) bool { return true }

// shrink takes the row at side k away where hardly any seam crosses it: it is
// a border.
func (r *guess) shrink(n *net, k int) *net {
	s := n.sides()[k]
	along, _ := r.linesOf(k)
	if r.counted(k) || s.count < 3 || s.cells < 3 {
		return n
	}
	narrow := strips(*along)
	if narrow[(k%2)*(s.cells-1)] && slices.Contains(narrow[1:s.cells-1], true) {
		return n // the sashing round the top
	}
	in := make([]Point, s.count)
	for i := range in {
		in[i] = n.node[s.first+i*s.step+s.in]
	}
	mean, ok := n.crossing(s, in, everyLine)
	if !ok || mean >= 0 {
		return n
	}
	// Of bars no row is crossed by seams that are seen.
	if usual := n.meanWorth(s.in); usual < 0 || mean >= usual-1.5 {
		return n
	}
	if k%2 == 0 {
		*along = slices.Clone((*along)[1:])
	} else {
		*along = slices.Clone((*along)[:s.cells])
	}
	di, dj := 0, 0
	switch k {
	case 0:
		dj = -1
	case 2:
		di = -1
	}
	return r.renet(n, di, dj)
}

// extend adds a row outside side k where the seams that would cross it are
// seen: one of patches or, where sashing is due, one of sashing, which only
// the sashing's own lines cross.
func (r *guess) extend(n *net, k int) *net {
	if r.counted(k) {
		return n
	}
	s := n.sides()[k]
	along, across := r.linesOf(k)
	narrow, cross := strips(*along), strips(*across)
	counts, width := everyLine, 1.0
	if slices.Contains(narrow, true) {
		if narrow[(k%2)*(s.cells-1)] {
			return n // the strip round the top
		}
		// As wide as the others, in widths of the outermost row.
		last := (k % 2) * (s.cells - 1)
		i := slices.Index(narrow, true)
		width = ((*along)[i+1] - (*along)[i]) / ((*along)[last+1] - (*along)[last])
		counts = func(line int) bool { return cross[line-1] || cross[line] }
	}
	if s.count < 3 {
		return n
	}
	out := make([]Point, s.count)
	for i := range out {
		p, q := n.node[s.first+i*s.step], n.node[s.first+i*s.step+s.in]
		out[i] = Point{p[0] + width*(p[0]-q[0]), p[1] + width*(p[1]-q[1])}
	}
	if mean, ok := n.crossing(s, out, counts); !ok || mean < .8 {
		return n
	}
	lines := slices.Clone(*along)
	last := len(lines) - 1
	di, dj := 0, 0
	if k%2 == 0 {
		lines = slices.Insert(lines, 0, lines[0]-width*(lines[1]-lines[0]))
		di, dj = k/2, 1-k/2
	} else {
		lines = append(lines, lines[last]+width*(lines[last]-lines[last-1]))
	}
	*along = lines
	m := r.renet(n, di, dj)
	t := m.sides()[k]
	for i, p := range out {
		m.node[t.first+i*t.step] = p
	}
	return m
}

// renet is the net of the reading's lines, with the places of n where they
// are, their numbers larger by di and dj.
func (r *guess) renet(n *net, di, dj int) *net {
	m := straightNet(n.f, r.xs, r.ys)
	for j := range n.h {
		for i := range n.w {
			if x, y := i+di, j+dj; x >= 0 && y >= 0 && x < m.w && y < m.h {
				m.node[y*m.w+x] = n.node[j*n.w+i]
			}
		}
	}
	return m
}
