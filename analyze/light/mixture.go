package light

import (
	"cmp"
	"math"
	"slices"

	"greige/analyze/fit"
)

// A cloth that fills the photo is alike all over: wherever one of its inks
// lies, it has the same reflectance. So the light is what makes the same ink
// brighter here than there. Inks and light are found together, as mixture
// and smooth field by expectation and maximisation (Wells, Grimson, Kikinis
// and Jolesz 1996, IEEE Trans. Medical Imaging 15:429, who take the uneven
// sensitivity out of a scan of unknown tissues that way). A large-scale print
// cannot fool it as it fools a fit to the bare luminance, because a dark
// flower in one corner is another ink and no darker light. Only the brightness
// of the light is fitted: where inks mix in a cell, its colour follows the
// mixture, and that must not pass for a light that changes colour.

const (
	components    = 8    // of the mixture at most; cloth with more colours shares them
	mixtureRounds = 18   // of expectation and maximisation; by then the field is still
	clothSamples  = 2000 // a print's figures span some 20 cells of 20,000
)

// component is one class of the mixture: mean and variance of ln Y without the
// light, ln R/Y and ln B/Y, and its share.
type component struct {
	mean, vari [3]float64
	share      float64
}

// leastVariance of a component, of ln Y, ln R/Y and ln B/Y: what quantisation and
// JPEG leave.
var leastVariance = [3]float64{.004 * .004, .01 * .01, .03 * .03}

func feature(s *sample, f *field) [3]float64 {
	return [3]float64{s.v[0] - f.lnY(s.at), s.v[1], s.v[3]}
}

// fitCloth fits the light over the one cloth that fills the photo. It returns nil when
// too little of it is seen.
func (c *cells) fitCloth() *field {
	samples := c.samples(slices.Repeat([]bool{true}, len(c.use)), clothSamples)
	if len(samples) < 10*terms {
		return nil
	}
	ln := make([]float64, len(samples))
	for i := range samples {
		// Start from the bare luminance: one ink with all that varies as noise.
		samples[i].w, samples[i].group = 1, 0
		ln[i] = samples[i].v[0]
	}
	s := &solver{across: c.w, channels: 1, surface: true, off: c.off}
	_, sd := fit.Spread(ln)
	start := max(sd, minNoise)
	f := s.solve(samples, 1, [4]float64{30 * start * start}) // 30: so many cells to a figure
	if f == nil {
		return nil
	}
	classes := quantileClasses(samples, f)
	pairs := make([]sample, 0, 2*len(samples))
	var vari [4]float64
	for round := range mixtureRounds {
		// Wide at first, so that a field that is still wrong does not tie a
		// cell to the wrong ink.
		widen := max(1, 4*math.Pow(.75, float64(round)))
		pairs = f.expect(samples, classes, widen, pairs[:0])
		f.groups = levels(classes)
		if round%3 == 0 {
			vari = s.noise(f, pairs)
		}
		before := f.coef[0]
		if f = s.solve(pairs, len(classes), vari); f == nil {
			return nil
		}
		classes = f.maximise(pairs, classes)
		if widen == 1 && f.moved(&before) < evenEnough/5 {
			break
		}
	}
	return s.solve(pairs, len(classes), s.noise(f, pairs))
}

// levels are the classes as groups of samples.
func levels(classes []component) []group {
	out := make([]group, len(classes))
	for k := range classes {
		m := classes[k].mean
		out[k].level = [4]float64{m[0], m[1], 0, m[2]}
	}
	return out
}

// quantileClasses are starting classes: equal parts of the samples in order of
// luminance, each split by nothing else; expectation sorts out the colours.
func quantileClasses(samples []sample, f *field) []component {
	order := make([][3]float64, len(samples))
	for i := range samples {
		order[i] = feature(&samples[i], f)
	}
	slices.SortStableFunc(order, func(a, b [3]float64) int { return cmp.Compare(a[0], b[0]) })
	out := make([]component, components)
	for k := range out {
		part := order[k*len(order)/components : (k+1)*len(order)/components]
		c := &out[k]
		c.share = 1. / components
		var v []float64
		for j := range 3 {
			v = v[:0]
			for _, p := range part {
				v = append(v, p[j])
			}
			mean, sd := fit.Spread(v)
			c.mean[j], c.vari[j] = mean, max(sd*sd, leastVariance[j])
		}
	}
	return out
}

// unexplained is the share of a photo that no ink explains: edges, threads, specks
// (common practice, no source); beyond four standard deviations of all inks, which is
// minus 8 in ln of density, that is likelier.
const (
	unexplained = .01
	farOut      = -8
)

// expect gives every sample to the inks that it may be, with weights: the
// probability of the ink, times how exactly that ink tells the light. A
// sample that no ink explains goes to none.
func (f *field) expect(samples []sample, classes []component, widen float64, pairs []sample) []sample {
	sharp := sharpest(classes) // has weight 1
	logShare := make([]float64, len(classes))
	for k := range classes {
		c := &classes[k]
		logShare[k] = math.Log(c.share) - .5*math.Log(c.vari[0]*c.vari[1]*c.vari[2]) - 1.5*math.Log(widen)
	}
	p := make([]float64, len(classes))
	for i := range samples {
		x := feature(&samples[i], f)
		top := math.Inf(-1)
		for k := range classes {
			c := &classes[k]
			q := 0.0
			for j := range 3 {
				q += sq(x[j]-c.mean[j]) / (c.vari[j] * widen)
			}
			p[k] = logShare[k] - q/2
			top = max(top, p[k])
		}
		sum := unexplained * math.Exp(min(farOut-top+logShare[0], 0))
		for k := range p {
			p[k] = math.Exp(p[k] - top)
			sum += p[k]
		}
		for k := range p {
			if w := p[k] / sum; w > unexplained {
				s := samples[i]
				s.group, s.w = k, w*sharp/classes[k].vari[0]
				pairs = append(pairs, s)
			}
		}
	}
	return pairs
}

// sharpest is the least variance of ln Y of the classes.
func sharpest(classes []component) float64 {
	least := math.Inf(1)
	for k := range classes {
		least = min(least, classes[k].vari[0])
	}
	return least
}

// maximise is the classes under the solved field, by the weights.
func (f *field) maximise(pairs []sample, classes []component) []component {
	type moments struct {
		w       float64
		sum, sq [3]float64
	}
	m := make([]moments, len(classes))
	sharp, total := sharpest(classes), 0.0
	for i := range pairs {
		s := &pairs[i]
		w := s.w * classes[s.group].vari[0] / sharp // the probability
		g := &m[s.group]
		g.w += w
		total += w
		for j, v := range feature(s, f) {
			g.sum[j] += w * v
			g.sq[j] += w * v * v
		}
	}
	out := slices.Clone(classes)
	for k := range out {
		c, g := &out[k], &m[k]
		c.share = max(g.w/total, 1e-6)
		if g.w < 3 { // too few for a variance
			continue
		}
		for j := range 3 {
			c.mean[j] = g.sum[j] / g.w
			c.vari[j] = max(g.sq[j]/g.w-c.mean[j]*c.mean[j], leastVariance[j])
		}
	}
	return out
}
