package light

import (
	"cmp"
	"math"
	"slices"
)

// A top repeats its cloths, and each patch is alike all over. So the slope
// inside the patches is the lamp's, and patches of one cloth in different
// corners must come out alike. The slope inside comes first: a top that was
// planned to run from light to dark has none, however dark one end of it is,
// and the repeats may only refine what the insides allow.

// Tolerances of what counts as the same cloth.
const (
	sameCloth   = .03 // ln of luminance, over and above noise: cut from another place of the print
	sameTint    = .06 // ln R/Y
	sameTintB   = .12 // ln B/Y
	leastRepeat = 3   // patches of a cloth before it bears witness
)

// place is a patch as the photo shows it.
type place struct {
	at    vector
	mean  [4]float64
	sigma float64 // of mean ln Y, from its own cells
	cells int
	group int
}

// LevelTop evens out the light by the top itself, once its patches are
// known: outlines are the patches' corners in pixels of the working picture,
// in any order. It changes e only when the patches bear it out, says what it
// did in e.Record, and tells whether e.Picture is a new one. A top that
// really is darker at one end is left as it is.
func (e *Even) LevelTop(outlines [][][2]float64) bool {
	if e.gaveUp {
		return false
	}
	c := e.cells()
	samples, places := c.patches(outlines)
	if len(places) < 4 {
		return false
	}
	defer e.say()
	changed := e.level(c, samples, places)
	e.doubtSoftShadow(c, places)
	return changed
}

// level evens out the light by the samples of a top's places. It changes e only
// when they bear it out, and tells whether e.Picture is a new one.
func (e *Even) level(c *cells, samples []sample, places []place) bool {
	if e.left.field != nil && e.ground != nil && e.left.slope() < .02 {
		return false // the ground has told all there is to know
	}
	slope := fitField(samples, len(places), c.w)
	if slope == nil {
		return false
	}
	// Which patches are one cloth is told by how alike they are: with a doubt
	// that all share, too many would pass for one.
	sharp := *slope
	slope.doubtSlope(tilt(samples, len(places)))
	if e.left.field != nil {
		sharp.also(e.left.field)
		slope.also(e.left.field)
	}
	best, under := slope, &sharp
	repeats := 0
	for range 3 {
		groups := together(places, under)
		f, n := fitRepeats(places, groups, c.w)
		if f == nil {
			break
		}
		f.also(slope)
		if !f.agrees(slope) {
			best, repeats = slope, 0
			break
		}
		best, under, repeats = f, f, n
	}
	e.topGraded = graded(places, best)
	if best.rms() < evenEnough || best.rms() < best.doubt() {
		e.left.field = best
		e.LevelSigma, e.SlopeSigma = e.levelSigma(), e.left.slope()
		return false
	}
	if repeats > 0 {
		e.method("repeated cloths")
	} else {
		e.method("slope of the cloth")
	}
	t := correction{field: best, cells: c}
	if e.ground != nil {
		t.field.coef[1], t.field.coef[2], t.field.coef[3] = e.ground.field.coef[1], e.ground.field.coef[2], e.ground.field.coef[3]
	} else {
		t.field.coef[1], t.field.coef[2], t.field.coef[3] = vector{}, vector{}, vector{}
	}
	e.finish(c, t)
	return true
}

// seamTilt is ln of how much lighter one end of the inside of a patch may be
// than the other, alike in all patches: seams are turned to one side and leave
// a step there, and an outline lies a little to one side of its patch.
const seamTilt = .003

// tilt is what seamTilt makes of the slopes of the light, in u and in v: more
// the smaller the patches are.
func tilt(samples []sample, groups int) (by [2]float64) {
	type sums struct{ n, sum, sq float64 }
	all := make([][2]sums, groups)
	for i := range samples {
		for k := range by {
			s, t := &all[samples[i].group][k], samples[i].at[k]
			s.n, s.sum, s.sq = s.n+1, s.sum+t, s.sq+t*t
		}
	}
	for k := range by {
		sq, n := 0.0, 0.0
		for i := range all {
			if s := &all[i][k]; s.n > 0 {
				sq, n = sq+s.sq-s.sum*s.sum/s.n, n+s.n
			}
		}
		// What is spread evenly over a width has a twelfth of its square for
		// variance.
		by[k] = seamTilt / math.Sqrt(max(12*sq/max(n, 1), 1e-6))
	}
	return by
}

// doubtSlope takes from what the samples tell of the slope what an error of
// these standard deviations, common to all of them, leaves of it.
func (f *field) doubtSlope(by [2]float64) {
	// The inverse of told grows by the squares of by at the two terms of
	// degree 1 (Woodbury's identity).
	t := &f.told
	a, b, d := t[0][0]+1/(by[0]*by[0]), t[0][1], t[1][1]+1/(by[1]*by[1])
	det := a*d - b*b
	told, rhs := f.told, f.rhs
	for j := range terms {
		x, y := (d*t[j][0]-b*t[j][1])/det, (a*t[j][1]-b*t[j][0])/det
		for k := range terms {
			told[j][k] -= x*t[0][k] + y*t[1][k]
		}
		rhs[j] -= x*f.rhs[0] + y*f.rhs[1]
	}
	f.told, f.rhs = told, rhs
	f.also(&field{})
}

// doubt is the rms of the field's own uncertainty over the photo.
func (f *field) doubt() float64 {
	s := 0.0
	n := 0
	for d := 1; d <= degree; d++ {
		for i := d; i >= 0; i-- {
			s += f.cov[n][n] / float64((2*i+1)*(2*(d-i)+1))
			n++
		}
	}
	return math.Sqrt(s)
}

// agrees: f lies within what o leaves open.
func (f *field) agrees(o *field) bool {
	return f.moved(&o.coef[0]) < 3*math.Hypot(o.doubt(), misfit*f.rms()+relief)
}

// graded: under field f the patches themselves run from light to dark across
// the top. A plane through their ln Y explains half of what they differ by,
// and falls by more than a quarter from one end to the other.
func graded(places []place, f *field) bool {
	var p plane
	var sum, sq float64
	own := func(i int) float64 { return places[i].mean[0] - f.lnY(&places[i].at) }
	for i := range places {
		y := own(i)
		p.add(places[i].at[0], places[i].at[1], y)
		sum, sq = sum+y, sq+y*y
	}
	if !p.solve() {
		return false
	}
	n := float64(len(places))
	total, rest := sq-sum*sum/n, 0.0
	lo, hi := math.Inf(1), math.Inf(-1)
	for i := range places {
		y := p.at(places[i].at[0], places[i].at[1])
		rest += (own(i) - y) * (own(i) - y)
		lo, hi = min(lo, y), max(hi, y)
	}
	return rest < total/2 && hi-lo > .25
}

// patches are the cells well inside each outline as samples, one group a
// patch, and each patch as a whole.
func (c *cells) patches(outlines [][][2]float64) ([]sample, []place) {
	geo := c.geometry()
	var samples []sample
	var places []place
	for _, o := range outlines {
		inner := shrunk(o, .7)
		if inner == nil {
			continue
		}
		p := place{group: len(places)}
		first := len(samples)
		var ys []float64
		x0, y0, x1, y1 := bounds(inner)
		for y := max(int(y0)/c.k, 0); y <= min(int(y1)/c.k, c.h-1); y++ {
			for x := max(int(x0)/c.k, 0); x <= min(int(x1)/c.k, c.w-1); x++ {
				i := y*c.w + x
				if !c.use[i] || !within(inner, (float64(x)+.5)*float64(c.k), (float64(y)+.5)*float64(c.k)) {
					continue
				}
				u, v := c.at(i, geo)
				at := basis(u, v)
				s := sample{at: &at, group: p.group, cell: i}
				for k := range 4 {
					s.v[k] = float64(c.logs[i][k])
					p.mean[k] += s.v[k]
				}
				for k := range terms {
					p.at[k] += s.at[k]
				}
				ys = append(ys, s.v[0])
				samples = append(samples, s)
				p.cells++
			}
		}
		if p.cells < 1 {
			samples = samples[:first]
			continue
		}
		n := float64(p.cells)
		for k := range 4 {
			p.mean[k] /= n
		}
		for k := range terms {
			p.at[k] /= n
		}
		v := 0.0
		for _, y := range ys {
			v += (y - p.mean[0]) * (y - p.mean[0]) / n
		}
		// Figures of a print span a few cells.
		p.sigma = math.Sqrt(v * min(1, 6/n))
		places = append(places, p)
	}
	// Enough is enough: thin the cells out evenly.
	if step := len(samples)/fineSamples + 1; step > 1 {
		kept := samples[:0]
		for i := 0; i < len(samples); i += step {
			kept = append(kept, samples[i])
		}
		samples = kept
	}
	return samples, places
}

// together numbers the cloths: patches that, under field f, differ by no more
// than their noise, the field's doubt between their places, and what a print
// differs from cut to cut. Every member of a cloth must fit with every other,
// so that a gradation is not drawn into one cloth step by step.
func together(places []place, f *field) []int {
	order := make([]int, len(places))
	for i := range order {
		order[i] = i
	}
	at := func(i int) float64 { return places[i].mean[0] - f.lnY(&places[i].at) }
	slices.SortStableFunc(order, func(a, b int) int {
		return cmp.Or(cmp.Compare(at(a), at(b)), a-b)
	})
	alike := func(i, j int) bool {
		p, q := &places[i], &places[j]
		var d vector
		for k := range d {
			d[k] = p.at[k] - q.at[k]
		}
		v := p.sigma*p.sigma + q.sigma*q.sigma + 2*sameCloth*sameCloth + f.cov.quad(d)
		dy := at(i) - at(j)
		return dy*dy < 4*v && math.Abs(p.mean[1]-q.mean[1]) < sameTint+p.sigma && math.Abs(p.mean[3]-q.mean[3]) < sameTintB+p.sigma
	}
	groups := make([]int, len(places))
	var members [][]int
	for _, i := range order {
		best := -1
		for g, m := range members {
			all := true
			for _, j := range m {
				if !alike(i, j) {
					all = false
					break
				}
			}
			if all {
				best = g
				break
			}
		}
		if best < 0 {
			members = append(members, nil)
			best = len(members) - 1
		}
		members[best] = append(members[best], i)
		groups[i] = best
	}
	return groups
}

// fitRepeats fits the light to cloths that are seen in several patches. It
// returns nil when too few are, and how many they are.
func fitRepeats(places []place, groups []int, across int) (*field, int) {
	count := map[int]int{}
	for _, g := range groups {
		count[g]++
	}
	number := map[int]int{}
	var samples []sample
	for i := range places {
		g := groups[i]
		if count[g] < leastRepeat {
			continue
		}
		if _, ok := number[g]; !ok {
			number[g] = len(number)
		}
		samples = append(samples, sample{at: &places[i].at, v: places[i].mean, group: number[g], cell: i})
	}
	if len(number) < 2 || len(samples) < terms {
		return nil, 0
	}
	return fitField(samples, len(number), across), len(number)
}

// shrunk is an outline drawn in towards its middle; nil for fewer than three
// corners.
func shrunk(o [][2]float64, by float64) [][2]float64 {
	if len(o) < 3 {
		return nil
	}
	var mx, my float64
	for _, p := range o {
		mx += p[0] / float64(len(o))
		my += p[1] / float64(len(o))
	}
	out := make([][2]float64, len(o))
	for i, p := range o {
		out[i] = [2]float64{mx + by*(p[0]-mx), my + by*(p[1]-my)}
	}
	return out
}

func bounds(o [][2]float64) (x0, y0, x1, y1 float64) {
	x0, y0, x1, y1 = math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, p := range o {
		x0, y0, x1, y1 = min(x0, p[0]), min(y0, p[1]), max(x1, p[0]), max(y1, p[1])
	}
	return x0, y0, x1, y1
}

// within: the place lies inside the outline (even-odd).
func within(o [][2]float64, x, y float64) bool {
	in := false
	for i, a := range o {
		b := o[(i+1)%len(o)]
		if (a[1] > y) != (b[1] > y) && x < a[0]+(y-a[1])*(b[0]-a[0])/(b[1]-a[1]) {
			in = !in
		}
	}
	return in
}
