package light

import (
	"fmt"
	"math"
	"slices"

	"greige/analyze/numerals"
	"greige/colorspace"
)

// SetLight is the colour of the light that a set of photos shares: single
// cloths, taken by one camera whose white balance was held fast. One cloth
// cannot tell its own colour from the lamp's. Many can: a lamp colours them
// all, and they have colours of their own to all sides (the grey world,
// Buchsbaum 1980, J. Franklin Inst. 310:1, with the doubt that it deserves).
type SetLight struct {
	// Light is what a perfect white shows under it, luminance 1; 1, 1, 1 where
	// the cloths do not bear out that it has a colour.
	Light colorspace.Linear
	// Found: the cloths bear out that the light has a colour.
	Found bool
	rest  castDoubt
	n     int // cloths
}

// toTake is the odds from which on a colour of the light is taken out rather
// than doubted: four to one.
const toTake = 4

// LightOfSet is the light of a set whose cloths look like these, each as its
// mean linear light. Cloths that look alike are one piece of evidence.
func LightOfSet(cloths []colorspace.Linear) SetLight {
	s := SetLight{Light: colorspace.Linear{1, 1, 1}, n: len(cloths)}
	seen := tintsOf(cloths)
	d := doubtOfSet(seen)
	// lampsLeft begins with the light that is balanced.
	if len(seen) >= fewCloths && d[0].p*toTake < 1-d[0].p {
		s.Found = true
		s.Light = d[1:].middle()
	}
	s.rest = d.without(s.Light)
	return s
}

// liking is what a maker's cloths have in common: how far from grey their
// middle may lie and how they scatter about it, as standard deviations of
// ln R/Y and ln B/Y, and how probable such a set is. steps, to either side, of
// a size of step standard deviations are where the middle is looked for.
type liking struct {
	p                float64
	middleR, middleB float64
	ownR, ownB       float64
	grey             float64 // share of her cloths that is white, cream, grey or black
	steps            int
	step             float64
}

// likings: cloths of all colours, or more warm than cool ones; or those of one
// colour only, which look much as grey ones do under a lamp of that colour; or
// those of one warm or cool hue from pale to deep, with whites and without,
// whose blue varies far more than their red: a basket of oranges, which looks
// much like one of all colours under a bulb (common practice, no source).
var likings = [...]liking{
	{.75, 1.5 * basketR, 1.5 * basketB, clothR, clothB, .2, 3, .75},
	{.15, 2 * clothR, 2 * clothB, clothR / 2, clothB / 2, .2, 5, .4},
	{.05, 1.5 * clothR, 2 * clothB, clothR / 2, 1.5 * clothB, .2, 5, .4},
	{.05, 1.5 * clothR, 2 * clothB, clothR / 2, 1.5 * clothB, 0, 5, .4},
}

// Whites, creams, greys and blacks lie near the light's own colour, and who
// likes warm cloth likes her whites creamy (common practice, no source).
const (
	greyR, greyB = .08, .18
	greyFollows  = .4 // of how far the middle lies from grey
	// A cream of L* 90 and b* 20 has so much more red and less blue than a
	// grey; a cloth further off is no grey.
	creamR, creamB = .1, .45
)

// cream is how far from grey the whites lie of one whose cloths' middle is m.
func cream(m, most float64) float64 { return min(max(greyFollows*m, -most), most) }

// tint is the colour of one cloth: ln R/Y and ln B/Y.
type tint struct{ r, b float64 }

// tintsOf are those of cloths, each kind once.
func tintsOf(cloths []colorspace.Linear) (seen []tint) {
	for _, c := range cloths {
		y := c.Y()
		if !(y > 0) || math.IsInf(y, 0) {
			continue
		}
		t := tint{math.Log(max(c[0]/y, .02)), math.Log(max(c[2]/y, .02))}
		if !slices.ContainsFunc(seen, func(s tint) bool { return math.Abs(t.r-s.r) < sameTint && math.Abs(t.b-s.b) < sameTintB }) {
			seen = append(seen, t)
		}
	}
	return seen
}

// likelihood is ln of how likely a set of cloths looks like seen under a
// light, up to a constant, over all that its maker may like. Far cloths are
// more frequent than a normal distribution has them: Student's with three
// degrees of freedom.
func likelihood(seen []tint, light colorspace.Linear) float64 {
	lr, lb := math.Log(max(light[0], .02)), math.Log(max(light[2], .02))
	var logs []float64
	for _, l := range likings {
		for i := -l.steps; i <= l.steps; i++ {
			for j := -l.steps; j <= l.steps; j++ {
				u, v := l.step*float64(i), l.step*float64(j)
				sum := math.Log(l.p*l.step*l.step) - (u*u+v*v)/2
				mr, mb := u*l.middleR, v*l.middleB
				for _, t := range seen {
					r, b := t.r-lr, t.b-lb
					gr, gb := (r-cream(mr, creamR))/greyR, (b-cream(mb, creamB))/greyB
					grey := math.Exp(-(gr*gr+gb*gb)/2) / (greyR * greyB)
					r, b = (r-mr)/l.ownR, (b-mb)/l.ownB
					// In two dimensions: (1 + d^2/3)^-(3+2)/2.
					own := 1 + (r*r+b*b)/3
					own = 1 / (own * own * math.Sqrt(own) * l.ownR * l.ownB)
					sum += math.Log(l.grey*grey + (1-l.grey)*own)
				}
				logs = append(logs, sum)
			}
		}
	}
	best, all := slices.Max(logs), 0.0
	for _, l := range logs {
		all += math.Exp(l - best)
	}
	return best + math.Log(all)
}

// doubtOfSet weighs the lights that a set may have by what its cloths show.
func doubtOfSet(seen []tint) castDoubt {
	d := slices.Clone(lampsLeft)
	best := math.Inf(-1)
	logs := make([]float64, len(d))
	for i := range d {
		logs[i] = likelihood(seen, d[i].light)
		best = max(best, logs[i])
	}
	for i := range d {
		d[i].p *= math.Exp(logs[i] - best)
	}
	d.normalise()
	return d
}

// middle is the mean of the lights by their logarithms, luminance 1.
func (d castDoubt) middle() colorspace.Linear {
	var sum colorspace.Linear
	p := 0.0
	for i := range d {
		for k := range sum {
			sum[k] += d[i].p * math.Log(max(d[i].light[k], .02))
		}
		p += d[i].p
	}
	for k := range sum {
		sum[k] = math.Exp(sum[k] / p)
	}
	return colorspace.Linear{sum[0] / sum.Y(), sum[1] / sum.Y(), sum[2] / sum.Y()}
}

// without is the lights that are left once taken has been taken out.
func (d castDoubt) without(taken colorspace.Linear) castDoubt {
	out := make(castDoubt, len(d))
	for i := range d {
		rest := d[i].light
		for k := range rest {
			rest[k] /= taken[k]
		}
		y := rest.Y()
		out[i] = lamp{colorspace.Linear{rest[0] / y, rest[1] / y, rest[2] / y}, d[i].p}
	}
	return out
}

// Gain is what each linear component has to be multiplied by to take the
// light's colour out. It leaves a grey its luminance.
func (s SetLight) Gain() [3]float64 {
	return [3]float64{1 / s.Light[0], 1 / s.Light[1], 1 / s.Light[2]}
}

// Doubt is the relative standard uncertainty, 0 and up, that is left for the
// light's colour on the luminance of a cloth that looks like c once Gain has
// been applied.
func (s SetLight) Doubt(c colorspace.Linear) float64 {
	return math.Hypot(s.rest.effect(c), mixed(s.Light, c)/1.96)
}

// Tell adds to a photo's record that the set's light was taken out of it.
func (s SetLight) Tell(r *Record) {
	if !s.Found {
		return
	}
	r.Cast = s.Light[:]
	note := fmt.Sprintf("The white balance was not set for this lamp: all %s cloths together look as under a lamp of another colour, so that was taken out of all alike.", numerals.InWords(s.n))
	if c := castWords(r.Cast); c != "" {
		note += " " + c
	}
	if r.Note != "" {
		note = " " + note
	}
	r.Note += note
}

// WithoutCast is e without what is not known of the light's colour in its doubt, for
// whoever finds that for a whole set and adds its Doubt. ok is false where there was
// none: a card or a neutral ground has told the colour already.
func (e *Even) WithoutCast() (without *Even, ok bool) {
	if e.left.cast == nil {
		return e, false
	}
	o := *e
	o.left.cast = nil
	return &o, true
}
