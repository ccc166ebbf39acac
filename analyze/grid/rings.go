package grid

import (
	"cmp"
	"math"
	"slices"

	"greige/analyze/raster"
)

// Borders: which part of what lies inside the outline is patches.

// inside is the rectangle that is left when so many pixels of a frame are taken
// away above, to the right, below and to the left.
func (v *given) inside(in [4]float64) *given {
	if in == ([4]float64{}) {
		return v
	}
	f := v.seenStraight()
	w, h := f.x1-f.x0, f.y1-f.y0
	r := v.inset(in[0]/h, in[1]/w, in[2]/h, in[3]/w)
	r.room, r.whole = slices.Min(in[:]), v
	r.straightened = (&frame{flattened: f.flattened, x0: f.x0 + in[3], y0: f.y0 + in[0], x1: f.x1 - in[1], y1: f.y1 - in[2]}).profiled()
	return r
}

// inset is the part of the rectangle that is left when some of its width is
// taken away on each side: above, to the right, below and to the left.
func (v *given) inset(above, right, below, left float64) *given {
	w := *v
	w.straightened, w.whole = nil, nil
	wide, high := 1-left-right, 1-above-below
	w.surface = func(p Point) Point { return v.surface(Point{left + p[0]*wide, above + p[1]*high}) }
	for k, c := range [4]Point{{0, 0}, {1, 0}, {1, 1}, {0, 1}} {
		w.corners[k] = w.surface(c)
	}
	w.aspect = v.aspect * wide / high
	w.border = true
	return &w
}

// leastBorder is how wide a border is at least, in pixels: nearer to the
// outline lies the edge of the outline itself.
func (e *edgesInside) leastBorder() float64 { return min(max(.02*e.short, 5), 12) } // of a top of fifty rows a row, and beyond the reach of the windows

// mostBorder is how much of the shorter side a border takes at most.
const mostBorder = .36

// edgesInside is how plainly an edge is seen that runs along each side of a
// rectangle, by how many pixels further in it lies: above, to the right, below
// and to the left.
type edgesInside struct {
	side  [4][]float64
	short float64
}

func (v *given) edgesInside() *edgesInside {
	f := v.seenStraight()
	// The finer scales: a border may be narrow.
	heights := func(p *profile, from, step float64) []float64 {
		sum := make([]float64, p.n)
		for i, x := range p.sums[1] {
			sum[i] = float64(x + p.sums[2][i])
		}
		sum = moving(sum, 1)
		out := make([]float64, p.n)
		for d := range out {
			out[d] = heightAt(sum, from+step*float64(d))
		}
		return out
	}
	return &edgesInside{short: min(f.x1-f.x0, f.y1-f.y0), side: [4][]float64{
		heights(f.along, f.y0, 1), heights(f.down, f.x1, -1), heights(f.along, f.y1, -1), heights(f.down, f.x0, 1),
	}}
}

// best is the plainest edge along side k that is about d in.
func (e *edgesInside) best(k int, d, reach float64) (at, height float64) {
	at = d
	for i := -int(reach); i <= int(reach); i++ {
		if v := heightAt(e.side[k], d+float64(i)); v > height {
			at, height = d+float64(i), v
		}
	}
	return at, height
}

// rings are the places where a border may end: all four sides have an edge
// about as far in, the plainest first.
func (e *edgesInside) rings() [][4]float64 {
	n := int(mostBorder * e.short)
	reach := func(d float64) float64 { return 2 + .06*d } // each side's own may lie a little off
	edges := make([]float64, n)
	for d := int(e.leastBorder()); d < n; d++ {
		least, sum := math.Inf(1), 0.0
		for k := range 4 {
			_, v := e.best(k, float64(d), reach(float64(d)))
			least = min(least, v)
			sum += v
		}
		edges[d] = least + .25*sum // as much by the least of the four sides as by their mean
	}
	all := peaksOf(edges)
	slices.SortStableFunc(all, func(p, q peak) int { return cmp.Compare(q.height, p.height) })
	var out [][4]float64
	var in []float64
	for _, p := range all {
		if len(out) == rings || slices.ContainsFunc(in, func(x float64) bool { return abs(x-p.x) < 4 }) {
			continue
		}
		in = append(in, p.x)
		var at [4]float64
		for k := range at {
			at[k], _ = e.best(k, p.x, reach(p.x))
		}
		out = append(out, at)
	}
	return out
}

// rings is how many are looked into.
const rings = 4

func heightAt(v []float64, x float64) float64 {
	i := int(x + .5)
	if i < 0 || i >= len(v) {
		return 0
	}
	return v[i]
}

// sides is what the sides of a rectangle inside a border are worth; on what
// lies behind the top they are seen anyway. A border is plain on all sides, or
// there is none.
func (v *given) sides(n *mesh, onPoint bool) float64 {
	if !v.border {
		return 0
	}
	mid := between(n.node[0], n.node[len(n.node)-1], .5)
	all, whole, side := 0.0, 0.0, map[lineOf]float64{}
	for _, s := range n.seams {
		if !s.outer {
			continue
		}
		p, q, in, gap := n.node[s.from], n.node[s.to], -1., min(s.left, s.right)
		if raster.Turn(p, q, mid) > 0 {
			in = 1 // the inside lies to the right
		}
		if onPoint {
			gap /= 2 // half a patch in lie other seams
		}
		// Not as far as the outline.
		windows := []float64{min(.4*gap, .5*v.room), min(.15*gap, .5*v.room)}
		w := min(worth(n.f.contrasted(p, q, gap, min(.06*gap, .2*v.room), windows, in)), 2.5) * n.apart(s.from, s.to)
		side[n.lineOf(s)] += w
		all += w
		whole += n.apart(s.from, s.to)
	}
	unseen := 0
	for _, w := range side {
		if w < 0 {
			unseen++
		}
	}
	if all < plainBorder*whole || unseen > 1 {
		return noBorder * whole
	}
	return all
}

// plainBorder is the least mean worth of a border's sides, and noBorder what
// they are worth where they are less.
const plainBorder, noBorder = .5, -1
