package light

import (
	"cmp"
	"image"
	"math"
	"slices"

	"greige/analyze/fit"
	"greige/analyze/raster"
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
	group int
}

// LevelTop is e with its light evened out by the top itself, once its patches are
// known: outlines are the patches' corners in pixels of the working picture,
// in any order. It is e where the patches do not bear it out; Record says what was
// done. A top that really is darker at one end is left as it is.
func (e *Even) LevelTop(outlines [][][2]float64) *Even {
	f := e.fit
	if e.seen.options.Mode == None {
		return e
	}
	samples, places := f.cells.patches(outlines)
	if len(places) < 4 { // fewer say nothing of a slope
		return e
	}
	if f.field != nil && f.backing != nil && e.left.slope() < groundTells {
		return e
	}
	o := *f
	if !o.level(samples, places) {
		return e
	}
	return o.Apply()
}

// groundTells is the relative standard uncertainty between the far ends of a photo
// under which the ground has told all there is to know: half an L*.
const groundTells = .02

// level evens out a new fit by the samples of a top's places. It tells whether they
// bear it out.
func (f *Fit) level(samples []sample, places []place) bool {
	s := &solver{across: f.cells.w, channels: 4, off: f.cells.off}
	slope := s.robust(samples, len(places))
	if slope == nil {
		return false
	}
	if f.field != nil {
		slope = slope.also(f.field.info)
	}
	best, repeats := slope, false
	for range repeatRounds {
		if f.cells.off.repeats {
			break
		}
		r := s.fitRepeats(places, together(places, best))
		if r == nil {
			break
		}
		r = r.also(slope.info)
		if !r.agrees(slope) {
			best, repeats = slope, false
			break
		}
		best, repeats = r, true
	}
	o := *best
	o.coef[1], o.coef[2], o.coef[3] = vector{}, vector{}, vector{}
	if f.backing != nil {
		copy(o.coef[1:], f.backing.field.coef[1:])
	}
	f.field, f.graded = &o, graded(places, best)
	if best.rms() < max(evenEnough, best.doubt()) {
		return true // no more is taken out than was
	}
	f.taken = f.field
	switch {
	case repeats:
		f.methods = append(slices.Clip(f.methods), "repeated cloths")
	default:
		f.methods = append(slices.Clip(f.methods), "slope of the cloth")
	}
	return true
}

// repeatRounds: cloths that are told better tell the light better, and the other way
// round; after three nothing changes.
const repeatRounds = 3

// agrees: f lies within what o leaves open.
func (f *field) agrees(o *field) bool {
	return f.moved(&o.coef[0]) < 3*math.Hypot(o.doubt(), misfit*f.rms()+relief)
}

// From which share of what the patches differ by, and which fall from one end of the
// top to the other in ln of light, it is graded (common practice, no source: a quarter
// of the light is a step of value that a quilter plans).
const (
	gradedShare = .5
	gradedFall  = .25
)

// graded: under field f the patches themselves run from light to dark across
// the top, on a plane.
func graded(places []place, f *field) bool {
	e := fit.NewNormal(3)
	row := func(p *place) []float64 { return []float64{1, p.at[0], p.at[1]} }
	own := make([]float64, len(places))
	mean := 0.0
	for i := range places {
		p := &places[i]
		own[i] = p.mean[0] - f.lnY(&p.at)
		e.Add(row(p), own[i], 1)
		mean += own[i] / float64(len(places))
	}
	plane, err := e.Solve(nil)
	if err != nil {
		return false
	}
	total, rest, lo, hi := 0.0, 0.0, math.Inf(1), math.Inf(-1)
	for i := range places {
		y := 0.0
		for k, v := range row(&places[i]) {
			y += plane[k] * v
		}
		total += sq(own[i] - mean)
		rest += sq(own[i] - y)
		lo, hi = min(lo, y), max(hi, y)
	}
	return rest < (1-gradedShare)*total && hi-lo > gradedFall
}

// insidePatch is the part of a patch, about its middle, that lies well within its
// seams.
const insidePatch = .7

// patches are the cells well inside each outline as samples, one group a
// patch, and each patch as a whole.
func (c *cells) patches(outlines [][][2]float64) (samples []sample, places []place) {
	k := float64(c.k)
	for _, o := range outlines {
		if len(o) < 3 {
			continue
		}
		var m [2]float64
		for _, p := range o {
			m[0], m[1] = m[0]+p[0]/float64(len(o)), m[1]+p[1]/float64(len(o))
		}
		var inner []raster.Point // in cells
		for _, p := range o {
			inner = append(inner, raster.Point{(m[0] + insidePatch*(p[0]-m[0])) / k, (m[1] + insidePatch*(p[1]-m[1])) / k})
		}
		lo, hi := raster.Extremes(inner)
		box := image.Rect(int(math.Floor(lo[0])), int(math.Floor(lo[1])), int(hi[0])+1, int(hi[1])+1).Intersect(image.Rect(0, 0, c.w, c.h))
		var in []int
		raster.Fill(inner, box).Each(func(x, y int) {
			if i := y*c.w + x; c.use[i] {
				in = append(in, i)
			}
		})
		if len(in) == 0 {
			continue
		}
		all := c.meanOf(in)
		p := place{mean: all.v, group: len(places)}
		n, v := float64(len(in)), 0.0
		for _, i := range in {
			s := c.meanOf([]int{i})
			s.group = p.group
			for j := range terms {
				p.at[j] += s.at[j] / n
			}
			v += sq(s.v[0]-all.v[0]) / n
			samples = append(samples, s)
		}
		p.sigma = math.Sqrt(v * min(1, figureCells/n))
		places = append(places, p)
	}
	// Enough is enough: thin the cells out evenly.
	if step := len(samples)/surfaceCells + 1; step > 1 {
		kept := samples[:0]
		for i := 0; i < len(samples); i += step {
			kept = append(kept, samples[i])
		}
		samples = kept
	}
	return samples, places
}

// figureCells is how many cells a figure of a print spans.
const figureCells = 6

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
// returns nil when too few are.
func (s *solver) fitRepeats(places []place, groups []int) *field {
	count, number := map[int]int{}, map[int]int{}
	for _, g := range groups {
		count[g]++
	}
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
	if len(number) < 2 {
		return nil
	}
	return s.robust(samples, len(number))
}
