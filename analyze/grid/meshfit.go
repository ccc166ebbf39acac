package grid

import (
	"math"
	"slices"

	"greige/analyze/fit"
	"greige/analyze/photo"
)

// mesh is a grid of w x h places on a flattened picture, by rows, with the
// seams that run between them. In a straight set the places are the crossings
// of the seam lines; on point they are those and the middles of the squares,
// so that the outside of the top runs along the grid.
type mesh struct {
	f     *flattened
	w, h  int
	node  []Point
	seams []seam
	gap   float64 // usual distance of neighbouring seams, in pixels
	held  []held
}

// held is a place of the mesh that was given: at, in pixels.
type held struct {
	node int
	at   Point
}

// loose is how far a corner that is given by hand may be off, as a share of
// the mesh's diagonal: what the seams near it say is taken with that in mind.
const loose = .003

// hold keeps the corners where they are.
func (n *mesh) hold() {
	last := len(n.node) - 1
	for _, k := range []int{0, n.w - 1, last, last - n.w + 1} {
		n.held = append(n.held, held{k, n.node[k]})
	}
}

// slack is loose in pixels.
func (n *mesh) slack() float64 {
	a, b := n.held[0].at, n.held[2].at
	return loose * math.Hypot(b[0]-a[0], b[1]-a[1])
}

// seam is one patch's side, from place to place, and how wide in pixels the
// patches on its left and on its right are; outer ones close the top.
type seam struct {
	from, to    int
	left, right float64
	outer       bool
}

// sight is where a piece of a seam was seen: how far off, in pixels, to the
// right of the way from one end to the other, at the share t of the way; and
// how much it is to be trusted, 0..1.
type sight struct {
	seam
	normal Point
	t      float64
	off    float64
	trust  float64
}

// straightMesh is the mesh of a straight set between lines, in pixels of f.
func straightMesh(f *flattened, xs, ys []float64) *mesh {
	n := &mesh{f: f, w: len(xs), h: len(ys)}
	for _, y := range ys {
		for _, x := range xs {
			n.node = append(n.node, Point{x, y})
		}
	}
	// Widths beside line i; beyond the top they are as within, and a wide
	// patch is not looked over to its far end for the sake of a narrow one.
	beside := func(lines []float64, i int) (before, after float64) {
		before, after = math.Inf(1), math.Inf(1)
		if i > 0 {
			before = lines[i] - lines[i-1]
		}
		if i+1 < len(lines) {
			after = lines[i+1] - lines[i]
		}
		return min(before, 1.5*after), min(after, 1.5*before) // half as wide again: sashing beside a patch of twice its width
	}
	for i := range xs {
		before, after := beside(xs, i)
		for j := range len(ys) - 1 {
			// Downwards the left hand lies in the east.
			n.seams = append(n.seams, seam{j*n.w + i, (j+1)*n.w + i, after, before, i == 0 || i == n.w-1})
		}
	}
	for j := range ys {
		before, after := beside(ys, j)
		for i := range len(xs) - 1 {
			n.seams = append(n.seams, seam{j*n.w + i, j*n.w + i + 1, before, after, j == 0 || j == n.h-1})
		}
	}
	n.gap = math.Sqrt((xs[len(xs)-1] - xs[0]) / float64(n.w-1) * (ys[len(ys)-1] - ys[0]) / float64(n.h-1))
	return n
}

// corners are the mesh's own, clockwise from the top left.
func (n *mesh) corners(at func(Point) Point) [4]Point {
	last := len(n.node) - 1
	return [4]Point{at(n.node[0]), at(n.node[n.w-1]), at(n.node[last]), at(n.node[last-n.w+1])}
}

// bendTo sets the bend so that the warp, whose lines are set, lies on the mesh.
func (w *warp) bendTo(n *mesh, at func(Point) Point) {
	for j, y := range w.ys {
		for i, x := range w.xs {
			a, b := w.plane.Map(Point{x, y}), at(n.node[j*n.w+i])
			w.bend = append(w.bend, Point{b[0] - a[0], b[1] - a[1]})
		}
	}
}

// fit moves each place of the mesh to where the seams are seen, as far as
// its neighbours agree: seams run smoothly, and patches are about as wide as
// their neighbours. reach is how far off a seam is looked for, and window how
// far the cloth on either side is compared, both as a share of the patches
// beside it: wide windows average prints out, narrow ones are exact.
func (n *mesh) fit(reach, window float64) {
	for k, d := range n.smooth(n.look(reach, window)) {
		n.node[k][0] += d[0]
		n.node[k][1] += d[1]
	}
}

// look finds pieces of the seams.
func (n *mesh) look(reach, window float64) []sight {
	found := make([][]sight, len(n.seams))
	photo.Bands(len(n.seams), 16, func(k0, k1 int) {
		for k := k0; k < k1; k++ {
			s := n.seams[k]
			l, ok := sectionOf(n.node[s.from], n.node[s.to])
			if !ok {
				continue
			}
			pieces := min(max(int(math.Hypot(l.q[0]-l.p[0], l.q[1]-l.p[1])/24), 1), 4) // 24 pixels: half a patch of a top of twenty rows
			for i := range pieces {
				l.t0 = clearOfEnds + (1-2*clearOfEnds)*float64(i)/float64(pieces)
				l.t1 = clearOfEnds + (1-2*clearOfEnds)*float64(i+1)/float64(pieces)
				if off, trust := n.f.seek(l, s, reach, window); trust > 0 {
					found[k] = append(found[k], sight{s, l.normal, (l.t0 + l.t1) / 2, off, trust / float64(pieces)})
				}
			}
		}
	})
	return slices.Concat(found...)
}

// seek looks beside l for the seam s that is taken to run there, up to reach of
// its gap away and over a window of the gap to either side. off is how far it lies
// along the normal, in pixels; trust, 0 to 1, is 0 where none is seen.
func (f *flattened) seek(l section, s seam, reach, window float64) (off, trust float64) {
	gap := min(s.left, s.right)
	f, l, scale := f.coarse(l, window*gap, fineWindow)
	gap /= scale
	span := int(reach*gap + .5)
	w := max(int(window*gap+.5), 2)
	side := max(int(min(.5*s.left/scale, .5*s.right/scale, gap)+.5), span+2)
	n := 2*side + 1
	sum := f.beside(l, side).sums()
	// The place where the cloth changes most, near ones first.
	best, at := 0.0, -1
	e := make([]float64, 0, 2*span+2)
	for c := side - span; c <= side+span+1; c++ {
		v := 0.0
		if apart, within, ok := sum.step(c, min(w, c, n-c)); ok {
			d := (float64(c-side) - .5) / (reach * gap)
			v = math.Log1p(apart/(steadiness+.2*within)) - .5*d*d
		}
		e = append(e, v)
		if v > best {
			best, at = v, len(e)-1
		}
	}
	if at < 0 {
		return 0, 0
	}
	off = float64(at-span) - .5 // column c is centred on the line c, its edge lies half a pixel before
	if at > 0 && at+1 < len(e) {
		if bend := e[at-1] - 2*e[at] + e[at+1]; bend < 0 {
			off += .5 * (e[at-1] - e[at+1]) / bend
		}
	}
	return off * scale, min(best/3, 1)
}

// fineWindow is the least window, in pixels, over which a seam is looked for: enough
// for a tenth of a pixel by the parabola through the highest place.
const fineWindow = 8

// curvature is a smooth move of a flattened picture's places: what a view that is a
// little off, or cloth that sags, does to them. It is a polynomial of the
// place, quadratic in each direction.
type curvature struct {
	mid, half Point // of the mesh that it was fitted to
	coef      [2 * curvatureTerms]float64
}

const curvatureTerms = 8

func (b *curvature) terms(p Point) [curvatureTerms]float64 {
	i, j := (p[0]-b.mid[0])/b.half[0], (p[1]-b.mid[1])/b.half[1]
	return [curvatureTerms]float64{1, i, j, i * j, j * j, i * i, i * j * j, i * i * j}
}

// moved is where p comes to lie.
func (b *curvature) moved(p Point) Point {
	q := p
	for k, f := range b.terms(p) {
		q[0] += b.coef[k] * f
		q[1] += b.coef[curvatureTerms+k] * f
	}
	return q
}

// curvature fits the one that brings the mesh to where its seams are seen. It grows
// from the middle: a view that is a little off may put the lines of many rows
// out of step at the rim, but never far beyond where they are in step. The
// mesh itself stays as it is.
func (n *mesh) curvature(reach float64) *curvature {
	b := &curvature{half: Point{1, 1}}
	lo, hi := n.node[0], n.node[len(n.node)-1]
	for k := range 2 {
		b.mid[k] = (lo[k] + hi[k]) / 2
		b.half[k] = max((hi[k]-lo[k])/2, 1)
	}
	flat, seams := n.node, n.seams
	defer func() { n.node, n.seams = flat, seams }()
	rim := math.Hypot(b.half[0], b.half[1])
	radius := 3.5 * n.gap                    // three patches and a half: enough seams for all terms
	for last := 0; last < 2; radius *= 1.5 { // half as far again: where the rim is still in step
		if radius > rim {
			last++
		}
		n.seams = n.seams[:0:0]
		for _, s := range seams {
			p, q := flat[s.from], flat[s.to]
			if math.Hypot((p[0]+q[0])/2-b.mid[0], (p[1]+q[1])/2-b.mid[1]) <= radius {
				n.seams = append(n.seams, s)
			}
		}
		n.node = make([]Point, len(flat))
		for k, p := range flat {
			n.node[k] = b.moved(p)
		}
		n.sweep(b, flat, n.look(reach, .3)) // .3: as the first fit of all
	}
	return b
}

// wobble is the usual distance of a seam from a smooth line, in patches.
const wobble = .06

// sweep adds to b what was seen beside the mesh moved by it: weighted least
// squares, robust as smooth is.
func (n *mesh) sweep(b *curvature, flat []Point, seen []sight) {
	coef := make([]float64, 2*curvatureTerms)
	ridge := make([]float64, len(coef))
	for k := range ridge { // few lines do not determine all terms
		ridge[k] = 1e-3 + .02*float64(k%curvatureTerms) // small beside a row of seams, and more the higher the term
		if n.held != nil {                              // and what was given is near the truth
			ridge[k] += math.Pow(wobble*n.gap/(.01*b.half[k/curvatureTerms]), 2) // .01: the plane of given corners is known to a hundredth
		}
	}
	rows := fit.NewNormal(len(coef))
	f := make([]float64, len(coef))
	for range 6 { // enough for the weights to settle
		rows.Clear()
		for _, s := range seen {
			p, q := b.terms(flat[s.from]), b.terms(flat[s.to])
			r := s.off
			for k := range curvatureTerms {
				g := (1-s.t)*p[k] + s.t*q[k]
				f[k], f[curvatureTerms+k] = s.normal[0]*g, s.normal[1]*g
				r -= coef[k]*f[k] + coef[curvatureTerms+k]*f[curvatureTerms+k]
			}
			r /= wobble * n.gap
			rows.Add(f, s.off, s.trust/(1+r*r))
		}
		for _, h := range n.held {
			// As much as a few seams that are seen there.
			p := b.terms(flat[h.node])
			w := math.Pow(wobble*n.gap/n.slack(), 2) * float64(n.w+n.h) / 8
			for c := range 2 {
				clear(f)
				copy(f[c*curvatureTerms:], p[:])
				rows.Add(f, h.at[c]-n.node[h.node][c], w)
			}
		}
		x, err := rows.Solve(ridge)
		if err != nil {
			return // nothing was seen
		}
		coef = x
	}
	for k := range coef {
		b.coef[k] += coef[k]
	}
}

// smooth fits the moves of all places to what was seen: weighted least
// squares with bent lines and uneven patches at a price, outliers weighed
// down (Cauchy weights; Huber 1981, Robust Statistics).
func (n *mesh) smooth(seen []sight) []Point {
	d := make([]float64, 2*len(n.node)) // x and y in turn
	var terms []fit.Term
	for _, s := range seen {
		terms = append(terms, fit.Term{
			Of:    [4]int{2 * s.from, 2*s.from + 1, 2 * s.to, 2*s.to + 1},
			By:    [4]float64{(1 - s.t) * s.normal[0], (1 - s.t) * s.normal[1], s.t * s.normal[0], s.t * s.normal[1]},
			Value: s.off,
		})
	}
	// The usual second differences, in patches: within the top, and along its
	// outside, which is cut straight.
	const bend, endBend = .045, .012 // a seam wobbles by half of that; the outside is cut with a ruler
	steady := .5                     // how far a place may have to be moved
	if n.held != nil {
		steady = .1 // by the wobble of the seams alone
	}
	stiff := func(s float64) float64 { return 1 / (s * s * n.gap * n.gap) }
	second := func(a, b, c int, s float64) {
		for k := range 2 {
			terms = append(terms, fit.Term{Of: [4]int{2*a + k, 2*b + k, 2*c + k}, By: [4]float64{1, -2, 1}, Weight: stiff(s)})
		}
	}
	for j := range n.h {
		for i := range n.w {
			k := j*n.w + i
			if i > 0 && i+1 < n.w {
				s := bend
				if j == 0 || j == n.h-1 {
					s = endBend
				}
				second(k-1, k, k+1, s)
			}
			if j > 0 && j+1 < n.h {
				s := bend
				if i == 0 || i == n.w-1 {
					s = endBend
				}
				second(k-n.w, k, k+n.w, s)
			}
			for c := range 2 {
				terms = append(terms, fit.Term{Of: [4]int{2*k + c}, By: [4]float64{1}, Weight: stiff(steady)})
			}
		}
	}
	for _, h := range n.held {
		for k := range 2 {
			s := n.slack()
			terms = append(terms, fit.Term{Of: [4]int{2*h.node + k}, By: [4]float64{1}, Value: h.at[k] - n.node[h.node][k], Weight: 1 / (s * s)})
		}
	}
	for range 4 {
		for k, s := range seen {
			r := (s.off - terms[k].At(d)) / (.04 * n.gap)      // .04: farther off it was likelier another edge
			terms[k].Weight = s.trust / (1 + r*r) * stiff(.03) // .03: how exactly a seam is seen
		}
		fit.Sparse(d, terms)
	}
	out := make([]Point, len(n.node))
	for k := range out {
		out[k] = Point{d[2*k], d[2*k+1]}
	}
	return out
}
