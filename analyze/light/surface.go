package light

import (
	"slices"
	"sort"

	"greige/analyze/fit"
)

// sample is one place where the light is seen on a surface.
type sample struct {
	at    *vector    // basis there
	v     [4]float64 // ln Y, ln R/Y, ln G/Y, ln B/Y of what is seen
	group int        // surfaces of one colour share a group
	cell  int        // where it came from, for what neighbours share
	w     float64    // weight, 0..1, set by the fit
}

// solver fits a light to samples.
type solver struct {
	across   int  // cells in a row of the photo
	channels int  // that are fitted: 1, ln Y alone, or 4
	surface  bool // all groups are parts of one surface
	off      passes
}

// rest is what f leaves of sample s in luminance or one of the ratios to it.
func (f *field) rest(k int, s *sample) float64 {
	return s.v[k] - f.groups[s.group].level[k] - f.channel(k, s.at)
}

// moments are weighted sums over the samples of one group.
type moments struct {
	w float64
	b vector
	y [4]float64
}

// solve is the Bayesian least-squares fit to weighted samples, for samples of these
// variances: each group has a level of its own with no prior, the field has the
// lamp's. Samples of one cell stand together. It returns nil where they say nothing.
func (s *solver) solve(samples []sample, groups int, vari [4]float64) *field {
	gm := make([]moments, groups)
	a, rhs := s.normal(samples, gm)
	f := &field{vari: vari, groups: make([]group, groups), lamp: s.off.family()}
	for i := range gm {
		g := &gm[i]
		if g.w <= 0 {
			continue
		}
		for j := range terms {
			for k := range j + 1 {
				a[j*terms+k] -= g.b[j] * g.b[k] / g.w
			}
			for c := range 4 {
				rhs[c][j] -= g.b[j] * g.y[c] / g.w
			}
		}
	}
	for c := range s.channels {
		var info information
		for j := range terms {
			for k := range j + 1 {
				info.a[j*terms+k] = a[j*terms+k] / vari[c]
				info.a[k*terms+j] = info.a[j*terms+k]
			}
			info.b[j] = rhs[c][j] / vari[c]
		}
		of := f.lamp
		if c > 0 {
			of = &colourFamily
		}
		p, ok := info.average(of)
		if !ok {
			return nil
		}
		f.coef[c] = p.mean
		if c == 0 {
			f.cov, f.info = p.cov, info
		}
	}
	for i := range gm {
		g := &gm[i]
		if g.w <= 0 {
			continue
		}
		o := &f.groups[i]
		o.weight = g.w
		for j := range terms {
			o.centre[j] = g.b[j] / g.w
		}
		for c := range 4 {
			o.level[c] = g.y[c]/g.w - f.channel(c, &o.centre)
		}
	}
	return f
}

// normal adds up the samples: their moments by group, and the lower half of the
// normal equations without the groups' levels.
func (s *solver) normal(samples []sample, gm []moments) (a matrix, rhs [4]vector) {
	for i := 0; i < len(samples); {
		// What one cell says of several groups is added up first.
		at, cell := samples[i].at, samples[i].cell
		w, y := 0.0, [4]float64{}
		for ; i < len(samples) && samples[i].cell == cell; i++ {
			p := &samples[i]
			if p.w <= 0 {
				continue
			}
			g := &gm[p.group]
			g.w += p.w
			w += p.w
			for j, b := range at {
				g.b[j] += p.w * b
			}
			for c, v := range p.v {
				g.y[c] += p.w * v
				y[c] += p.w * v
			}
		}
		if w <= 0 {
			continue
		}
		for j, b := range at {
			wb := w * b
			row := a[j*terms : j*terms+j+1]
			for k := range row {
				row[k] += wb * at[k]
			}
			for c := range s.channels {
				rhs[c][j] += b * y[c]
			}
		}
	}
	return a, rhs
}

// Rounds of reweighting: the fit moves by less than a thousandth of the light after
// three or four.
const robustRounds = 6

// robust fits the light to samples by iterated weights (Tukey's biweight). Shadows
// only darken, so what lies below the fit is cut sooner than what lies above it. It
// returns nil when the samples say nothing.
func (s *solver) robust(samples []sample, groups int) *field {
	if len(samples) < terms {
		return nil
	}
	samples = slices.Clone(samples)
	for i := range samples {
		samples[i].w = 1
	}
	f := s.solve(samples, groups, [4]float64{.01, .01, .01, .01}) // a tenth: the first fit must not follow what is odd
	rest := make([]float64, len(samples))
	for round := range robustRounds {
		if f == nil {
			return nil
		}
		for i := range samples {
			rest[i] = f.rest(0, &samples[i])
		}
		mode, sd := scale(rest)
		if f.weigh(samples, mode, sd) < terms {
			return nil
		}
		vari := s.scatter(f, samples, groups)
		if s.surface {
			vari = s.noise(f, samples)
		}
		before := f.coef[0]
		if f = s.solve(samples, groups, vari); f == nil {
			return nil
		}
		if f.sd = sd; round > 0 && f.moved(&before) < evenEnough/10 {
			break
		}
	}
	return f
}

// Cuts of the biweight in standard deviations: 4.685 keeps 95 % of least squares'
// efficiency (Holland and Welsch 1977); below, where shadows lie, a little less.
const (
	cutAbove = 4.5
	cutBelow = 3.5
)

// weigh sets the samples' weights by what the fit leaves of them, and gives the sum
// of them.
func (f *field) weigh(samples []sample, mode, sd float64) (kept float64) {
	above, below := fit.Tukey(cutAbove), fit.Tukey(cutBelow)
	for i := range samples {
		s := &samples[i]
		if r := (f.rest(0, s) - mode) / sd; r < 0 {
			s.w = below(r)
		} else {
			s.w = above(r)
		}
		kept += s.w
	}
	return kept
}

// scale is where most of the surface is, shadowed parts apart, by what is left
// of its samples, and their standard deviation from above it, where no shadow
// falls. It sorts them.
func scale(rest []float64) (mode, sd float64) {
	slices.Sort(rest)
	mode = fit.Mode(rest)
	above := rest[sort.SearchFloat64s(rest, mode):]
	return mode, max(1.4826*(above[len(above)/2]-mode), minNoise) // 1.4826: of a normal distribution's median deviation
}

// minNoise is the least relative noise that a cell is believed to have: quantisation
// to 8 bits and what JPEG leaves.
const minNoise = .002
