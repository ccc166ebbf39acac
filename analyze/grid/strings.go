package grid

import (
	"cmp"
	"math"
	"slices"

	"greige/analyze/photo"
)

// run is a way to string lines along one axis of a view: gaps of one pitch and,
// between them, never two together, of one narrower width, 0 where there is none.
type run struct {
	lines         []float64
	pitch, narrow float64
	value         float64
}

const (
	unitLength = 40 // pixels of a view that are one observation: observed, where the view is the picture's own size
	// finestPitch is the least pitch looked for: three steps side by side.
	finestPitch  = 14
	pitchesTried = 100 // from the finest to half the view each a thirtieth wider: a patch's width varies by that
	uneven       = .03 // of a patch: how far a gap may be off at a small price
	unevenCost   = .05 // a twentieth of an observation that is as likely as not
	narrowCost   = .5  // for each narrow gap: there are fewer tops with sashing
	runsKept     = 60
)

// narrows are the widths of narrow gaps that are looked for, in pitches, each a
// quarter wider: black between the patches of a chart, sashing.
var narrows = [...]float64{.1, .15, .2, .26, .33, .42, .55}

// windowed are the likelihoods of lines at each place, summed over windows of
// bands: the whole height and overlapping halves, thirds and fifths, for a top
// may fill no more of it.
type windowed struct {
	rows    []stepRow
	windows [][2]int
	by      map[int][][]float32 // by how far steps are compared
	w       int
}

const (
	bandHigh = 8 // pixels of a view: a tenth of a patch of which there are ten to the view's height
	stepWide = 4 // pixels that a step is measured over on either side
)

// stepRows are the steps in bands across f.
func stepRows(f *flattened) []stepRow {
	out := make([]stepRow, f.h/bandHigh)
	photo.Bands(len(out), 4, func(b0, b1 int) {
		for b := b0; b < b1; b++ {
			out[b] = stepRowOf(f.band(b*bandHigh, (b+1)*bandHigh), stepWide)
		}
	})
	return out
}

// runsOf are the likeliest ways to string lines down a picture and along it.
func runsOf(f *flattened) (xs, ys []run) {
	photo.Both(func() { xs = windowedOf(f).runs() }, func() { ys = windowedOf(f.across()).runs() })
	return xs, ys
}

func windowedOf(f *flattened) *windowed {
	s := &windowed{rows: stepRows(f), by: map[int][][]float32{}, w: f.w}
	n := len(s.rows)
	for _, parts := range [...]int{1, 2, 3, 5} {
		for k := range 2*parts - 1 {
			a := n * k / (2 * parts)
			w := [2]int{a, max(n*(k+2)/(2*parts), a+2)}
			if w[1] <= n && !slices.Contains(s.windows, w) {
				s.windows = append(s.windows, w)
			}
		}
	}
	return s
}

// at are the sums that suit a pitch: steps are compared over about a patch and
// a third either side, so that no other seam is missed among them.
func (s *windowed) at(pitch float64) [][]float32 {
	best, reach := math.Inf(1), 0
	for o := 24; o <= 384; o *= 2 {
		if d := abs(math.Log(float64(o) / (1.3 * pitch))); d < best { // 1.3: as mesh.stretch
			best, reach = d, o
		}
	}
	if out, ok := s.by[reach]; ok {
		return out
	}
	each := make([][]float32, len(s.rows))
	photo.Bands(len(each), 4, func(b0, b1 int) {
		for b := b0; b < b1; b++ {
			each[b] = s.rows[b].llr(reach)
		}
	})
	out := make([][]float32, len(s.windows))
	photo.Bands(len(out), 1, func(k0, k1 int) {
		for k := k0; k < k1; k++ {
			out[k] = make([]float32, s.w)
			for _, row := range each[s.windows[k][0]:s.windows[k][1]] {
				for x, v := range row {
					out[k][x] += v * bandHigh / unitLength
				}
			}
		}
	})
	s.by[reach] = out
	return out
}

// runs are the likeliest ways to string lines, the likeliest first, no two alike.
func (s *windowed) runs() []run {
	var widths [][2]float64
	last := 0
	for k := range pitchesTried {
		p := int(math.Round(finestPitch * math.Pow(float64(s.w)/2.2/finestPitch, float64(k)/(pitchesTried-1))))
		if p > last {
			widths = append(widths, [2]float64{float64(p), 0})
			last = p
		}
	}
	found := s.strung(widths)
	widths = nil
	for _, top := range distinct(found, 4) {
		p := top.pitch
		for _, r := range narrows {
			for _, c := range [2][2]float64{{p, r * p}, {p / (1 + r), p * r / (1 + r)}} {
				if math.Round(c[1]) >= 4 && c[0] >= 10 {
					widths = append(widths, [2]float64{math.Round(c[0]), math.Round(c[1])})
				}
			}
		}
	}
	found = append(found, s.strung(widths)...)
	slices.SortStableFunc(found, func(a, b run) int { return cmp.Compare(b.value, a.value) })
	var out []run
	for _, r := range found {
		if len(out) < runsKept && !slices.ContainsFunc(out, func(o run) bool { return (o.narrow > 0) == (r.narrow > 0) && r.like(o) }) {
			out = append(out, r)
		}
	}
	return out
}

// distinct are the first runs of so many pitches.
func distinct(runs []run, most int) []run {
	var out []run
	for _, r := range runs {
		if len(out) < most && !slices.ContainsFunc(out, func(o run) bool { return abs(math.Log(r.pitch/o.pitch)) < .06 }) {
			out = append(out, r)
		}
	}
	return out
}

// strung are the best runs for each pitch and narrow width, the likeliest first.
func (s *windowed) strung(widths [][2]float64) []run {
	for _, w := range widths {
		s.at(w[0]) // made here: what follows runs side by side
	}
	each := make([][]run, len(widths))
	photo.Bands(len(widths), 1, func(k0, k1 int) {
		for k := k0; k < k1; k++ {
			each[k] = bestRuns(s.at(widths[k][0]), int(widths[k][0]), int(widths[k][1]))
		}
	})
	var out []run
	for _, r := range each {
		out = append(out, r...)
	}
	slices.SortStableFunc(out, func(a, b run) int { return cmp.Compare(b.value, a.value) })
	return out
}

// like is whether two runs differ by no more than their ends.
func (r run) like(o run) bool {
	if abs(math.Log(r.pitch/o.pitch)) > .08 { // over a dozen lines a whole one
		return false
	}
	shared := func(a, b []float64) bool {
		n := 0
		for _, x := range a {
			if slices.ContainsFunc(b, func(y float64) bool { return abs(x-y) < .15*r.pitch }) { // three times a wobble
				n++
			}
		}
		return float64(n) > .7*float64(len(a)) // two thirds and a bit: of three lines all
	}
	return shared(r.lines, o.lines) && shared(o.lines, r.lines)
}

// bestRuns are the best runs of gaps p and s in the three best windows.
func bestRuns(sums [][]float32, p, s int) (out []run) {
	for _, f := range sums {
		if value, lines := bestRun(f, p, s); len(lines) >= 3 {
			out = append(out, run{lines, float64(p), float64(s), float64(value)})
		}
	}
	slices.SortStableFunc(out, func(a, b run) int { return cmp.Compare(b.value, a.value) })
	return out[:min(len(out), 3)]
}

// bestRun is the run of gaps p and s, never two of s together, of the largest sum,
// found by dynamic programming along the places (Bellman 1957). s is 0 where there is
// none.
func bestRun(f []float32, p, s int) (best float32, lines []float64) {
	tol := max(1, int(math.Round(uneven*float64(p))))
	pad := p + tol
	// The value of the best run that ends at a place and begins there or has a gap of p
	// before it, of that with one of s before it, and the better of both.
	wide, either := make([]float32, len(f)+pad), make([]float32, len(f)+pad)
	for x := range pad {
		wide[x], either[x] = impossible, impossible
	}
	end := 0
	for i, v := range f {
		x := i + pad
		w := max(either[x-p-tol], either[x-p+tol]) - unevenCost
		if e := either[x-p]; e > w {
			w = e
		}
		if w > 0 {
			v += w
		}
		wide[x], either[x] = v, v
		if s > 0 {
			either[x] = max(v, f[i]+max(wide[x-s-1], wide[x-s], wide[x-s+1])-narrowCost)
		}
		if v > best {
			end, best = x, v
		}
	}
	// Back along the places that these values come from.
	before := func(x, gap, by int, value []float32, cost float32) (at int, best float32) {
		at, best = x-gap, value[x-gap]
		for _, y := range [2]int{x - gap - by, x - gap + by} {
			if w := value[y] - cost; w > best {
				at, best = y, w
			}
		}
		return at, best
	}
	for x := end; x > 0; {
		lines = append(lines, float64(x-pad))
		at, value := before(x, p, tol, either, unevenCost)
		if value <= 0 {
			break
		}
		if x = at; either[x] > wide[x] {
			lines = append(lines, float64(x-pad))
			x, _ = before(x, s, 1, wide, 0)
		}
	}
	slices.Reverse(lines)
	return best, lines
}

const impossible = -1e9
