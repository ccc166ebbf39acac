package grid

import (
	"fmt"
	"math"
	"slices"
)

// seenness is how plainly a grid's seams are seen, in the units of worth.
type seenness struct {
	all   float64 // mean over the seams inside the top
	worst float64 // mean over the line that is seen worst
	sides float64 // by how much the top's sides are better than the next place for them
	// How plainly the outside is seen in the corners, and how much the rows on
	// the outside are seen beside the others.
	corners, rim float64
}

// surely is the confidence above which a grid is called found.
const surely = .92

// confidence is how likely the rows, the columns and the corners of a reading
// are right. Where a whole line is not seen, another number of rows or columns
// explains the picture as well; where few patches are seen, little tells
// where they end. The bounds are measured on made-up tops.
func (r *guess) confidence(rows, cols int, s seenness) float64 {
	// Each is 0 where a thing is in doubt and 1 where it is plain.
	between := func(v, doubt, plain float64) float64 {
		return min(max((v-doubt)/(plain-doubt), 0), 1)
	}
	c := 1.0
	if d := r.point; d != nil {
		// Setting triangles are often one cloth with their neighbours, so that
		// a line may end unseen: the whole counts. The sides lie where the
		// lattice says, and the more squares, the better.
		c = between(s.all, .6, 1.1) * between(float64(d.m*d.n), 4, 16) * between(s.worst, -2.2, -1.5)
	} else {
		c = between(s.all, .8, 1.2) * between(s.worst, -.6, 0) *
			between(float64(min(rows, cols)), 1.5, 4) * between(s.rim, 0, .5)
		if min(rows, cols) <= 4 {
			c *= between(s.sides, 0, .7) * between(s.corners, 0, .7)
		} else {
			c *= between(s.sides, 0, .25)
		}
	}
	return .97 * (.2 + .8*c)
}

// corners is how plainly the outsides of the patches in the corners are seen,
// the one that is seen worst: logarithms of 1 + F, see steps. Something may
// lie over a corner.
func (n *net) cornersSeen() float64 {
	seen := math.Inf(1)
	for _, s := range n.sides() {
		for _, d := range [2]int{s.step, -s.step} {
			a := s.first
			if d < 0 {
				a += (s.count - 1) * s.step
			}
			seen = min(seen, n.edgeAt(a, a+d, 0, n.apart(a, a+s.in)))
		}
	}
	return seen
}

// edgeAt is how plainly an edge is seen along the line between two places,
// moved to the left by some pixels, beside patches gap wide.
func (n *net) edgeAt(a, b int, left, gap float64) float64 {
	p, q := n.node[a], n.node[b]
	length := n.apart(a, b)
	if length < 2 {
		return 0
	}
	normal := Point{-(q[1] - p[1]) / length, (q[0] - p[0]) / length}
	for k := range 2 {
		p[k] += left * normal[k]
		q[k] += left * normal[k]
	}
	w, reach := max(int(.15*gap), 2), int(.05*gap)
	side := w + reach + 2
	sum := n.f.beside(p, q, normal, .12, .88, side)
	best := 0.0
	for k := -reach; k <= reach; k++ {
		if apart, within, ok := sum.step(side+k, w); ok {
			best = max(best, math.Log1p(apart/(steadiness+.2*within)))
		}
	}
	return best
}

// rim is the mean worth of the seams that cross the outermost row on the side
// where it is least, as a share of the mean over the whole top: next to a
// border that was taken in there are fewer.
func (n *net) rim(all float64) float64 {
	least := math.Inf(1)
	for _, s := range n.sides() {
		if s.count < 3 {
			continue
		}
		in := make([]Point, s.count)
		for i := range in {
			in[i] = n.node[s.first+i*s.step+s.in]
		}
		if mean, ok := n.crossing(s, in, everyLine); ok {
			least = min(least, mean)
		}
	}
	return least / max(all, .1)
}

// lineOf names the line of a net that a seam lies on: those of the columns, of
// the rows and of the two diagonals are families.
type lineOf struct{ family, line int }

func (n *net) lineOf(s seam) lineOf {
	i, j := s.from%n.w, s.from/n.w
	switch di, dj := s.to%n.w-i, s.to/n.w-j; {
	case di == 0:
		return lineOf{0, i}
	case dj == 0:
		return lineOf{1, j}
	case di == dj:
		return lineOf{2, i - j}
	}
	return lineOf{3, i + j}
}

// seen measures how plainly the seams of the net are seen; sides is the
// figure that trim gave.
func (n *net) seen(sides float64) seenness {
	sum, count := map[lineOf]float64{}, map[lineOf]float64{}
	at := n.worths()
	s := seenness{worst: math.Inf(1), sides: sides, corners: n.cornersSeen(), rim: 1}
	number := 0.0
	for k, e := range n.seams {
		if e.outer {
			continue
		}
		l := n.lineOf(e)
		sum[l] += at[k]
		count[l]++
		s.all += at[k]
		number++
	}
	s.all /= max(number, 1)
	for l, v := range sum { // the least of them, in whatever order
		s.worst = min(s.worst, v/count[l])
	}
	if number == 0 {
		s.worst = 0
	}
	if !slices.ContainsFunc(n.seams, func(e seam) bool { return !e.outer && abs(e.left/e.right-1) > .3 }) {
		s.rim = n.rim(s.all) // sashing has its own ways
	}
	return s
}

// doubt is what to say of a grid that is not sure.
func (g *Grid) doubt(hints Hints) string {
	counts := fmt.Sprintf("%d rows and %d columns", g.Rows, g.Cols)
	if g.Setting == OnPoint {
		counts += ", on point,"
	}
	switch {
	case hints.Corners != nil:
		return fmt.Sprintf("The patches could not be counted for sure: %s are a guess. Look at the lines drawn over the photo, and give --rows and --cols if they are wrong.", counts)
	case hints.Rows > 0 && hints.Cols > 0:
		return "Where the patches lie is not sure. Look at the lines drawn over the photo, and give --corners if they are wrong."
	}
	return fmt.Sprintf("Where the patches lie is not sure: %s are a guess. Look at the lines drawn over the photo, and give --rows, --cols and --corners if they are wrong.", counts)
}
