package camera

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"greige/analyze/fit"
	"greige/colorspace"
)

// What a camera does is partly the same in all its photos and partly its own
// decision for each. Both are normal weights of the same basis functions: the one
// has the share shared of the prior variance, the other the rest, afresh for each
// photo. What is learned of a camera is the posterior of the first part.

// Learned is what is known of one camera: the weights that all its photos share,
// with their covariance.
type Learned struct {
	weights []float64
	cov     [][]float64
}

// Nothing is what is known of a camera before anything was learned.
func Nothing() *Learned {
	l := &Learned{weights: make([]float64, exposure), cov: make([][]float64, exposure)}
	for i := range l.cov {
		l.cov[i] = make([]float64, exposure)
		l.cov[i][i] = shared
	}
	return l
}

// Belief is what is known of a photo by the camera: sigma is the standard deviation
// of ln of the luminance that its exposure leaves open.
func (l *Learned) Belief(sigma float64) *Belief {
	b := Usual(sigma)
	copy(b.weights, l.weights)
	for i := range l.cov {
		copy(b.cov[i], l.cov[i])
		b.cov[i][i] += 1 - shared
	}
	b.root = fit.Root(b.cov)
	b.own = l
	return b
}

// part is how much of what is still in doubt of a photo's camera is the same in all
// of its photos, as a part of the variance. Of nothing learned it is shared.
func (l *Learned) part() float64 {
	if l == nil {
		return shared
	}
	sum := 0.0
	for i := range l.cov {
		sum += l.cov[i][i]
	}
	return sum / (sum + float64(len(l.cov))*(1-shared))
}

// Step is a surface that is seen in two photos of one still scene whose exposures
// stand to each other as Ratio: the light of the second over that of the first. The
// tone curve is what makes the file's luminances stand otherwise.
type Step struct {
	First, Second Seen
	Ratio         float64
	// Pair numbers the two photos, from 0 on: steps of one pair share the doubt of
	// its ratio.
	Pair int
}

// fact is a linear observation of the weights: phi w = y, with variance v. photos are
// the weights of the photos that it was made in, from 0 on.
type fact struct {
	parts []factPart
	y, v  float64
}

type factPart struct {
	photo int
	sign  float64
	phi   []float64
}

// FromGreys takes in surfaces of known lightness that lie in one photo: two at
// least, for one tells no more than how the photo was exposed. The error says what is
// missing.
func (l *Learned) FromGreys(refs []Reference) (*Learned, error) {
	if len(refs) < 2 {
		return nil, errors.New("one surface of known lightness tells how the photo was exposed and nothing of the camera: two at least are needed, such as white paper and a mid-grey card")
	}
	return partOf(l.condition(weighed(greyFacts(refs)), 1)), nil
}

// quieter are the factors by which the surfaces of one photo may depart less from what
// its camera does to all colours than those of the charts did that the noise was
// fitted to: a clean chart under even light says more of the camera than an old one.
// Never wider, for two cards cannot tell noise from a bent curve.
var quieter = [...]float64{1, .7, .5, .35, .25}

// weighed are facts with the one of the quieter factors on their noise under which they
// are likeliest for a camera of which nothing was learned (type II maximum likelihood;
// Rasmussen and Williams 2006, 5.4.1): so it is each photo's own, in whatever order
// photos are learned.
func weighed(facts []fact) (best []fact) {
	nothing, most := Nothing(), math.Inf(-1)
	for _, k := range quieter {
		scaled := slices.Clone(facts)
		for i := range scaled {
			scaled[i].v *= k * k
		}
		if chi, logs := nothing.surprises(scaled, 1); -chi-logs > most {
			most, best = -chi-logs, scaled
		}
	}
	return best
}

func greyFacts(refs []Reference) (facts []fact) {
	mean := usual()
	for _, r := range refs {
		c := inRange(r.Lab)
		y := unit*math.Log(scale(r.Lightness)/scale(max(r.L, 0))) - mean.tone(c.L) - mean.rendering(c)
		facts = append(facts, fact{[]factPart{{0, 1, basis(c)}}, y, sq(noise(c, r.Clipped)/scale(c.L)) + sq(r.Sigma/scale(c.L))})
	}
	return facts
}

// stepNoise is the standard deviation of y by which one surface differs between
// two photos, beside what the curve makes of it: noise and flicker of the lamp (a
// hundredth of the light; common practice, no source).
const stepNoise = .01 * PerShare

// ratioNoise is the standard deviation of y that the ratio of two recorded exposures
// leaves open: times and sensitivities are written rounded (a fiftieth of the light;
// common practice, no source).
const ratioNoise = .02 * PerShare

// fewestSteps is how many steps a tone curve takes at least: as many as its greys'
// places that lie a reach apart between black and white, and two more.
const fewestSteps = 6

// FromSteps takes in the same surfaces as several photos of one still scene show
// them (radiometric self-calibration: Debevec and Malik 1997, SIGGRAPH; Mitsunaga
// and Nayar 1999, CVPR). A camera that merges exposures, or changes contrast from
// photo to photo, breaks the assumption of one curve: misfit is the root mean square
// of the residuals over the expected ones, about 1 where the assumption holds.
func (l *Learned) FromSteps(steps []Step) (learned *Learned, misfit float64, err error) {
	if len(steps) < fewestSteps {
		return nil, 0, fmt.Errorf("too few surfaces are seen in more than one photo: %d, and %d are needed", len(steps), fewestSteps)
	}
	facts, blocks := stepFacts(steps)
	w, cov := l.condition(facts, blocks)
	sum := 0.0
	for _, f := range facts {
		sum += sq(f.y-dot(f.row(len(w)), w)) / f.v
	}
	return partOf(w, cov), math.Sqrt(sum / float64(len(facts))), nil
}

// stepFacts are the observations that steps make, and how many blocks of weights they
// take: one for the curve of all the set, whose photos are taken within a minute, and
// one for the ratio of each pair.
func stepFacts(steps []Step) (facts []fact, blocks int) {
	mean := usual()
	value := func(c colorspace.Lab) float64 { return mean.tone(c.L) + mean.rendering(c) }
	for _, s := range steps {
		a, b := inRange(s.First.Lab), inRange(s.Second.Lab)
		// The true s of the second is that of the first times the ratio's cube root.
		y := unit*math.Log(scale(a.L)/scale(b.L)) + PerShare*math.Log(s.Ratio) - (value(b) - value(a))
		v := 2*sq(stepNoise) + sq(ownClipped*s.First.Clipped/scale(a.L)) + sq(ownClipped*s.Second.Clipped/scale(b.L))
		pa, pb, ratio := basis(a), basis(b), make([]float64, dims)
		pa[exposure], pb[exposure] = 0, 0
		// Scattered light goes up with the exposure like all else, so that steps say
		// nothing of it.
		pa[glareWeight], pb[glareWeight] = 0, 0
		ratio[exposure] = ratioNoise / open
		facts = append(facts, fact{[]factPart{{0, 1, pb}, {0, -1, pa}, {1 + s.Pair, 1, ratio}}, y, v})
		blocks = max(blocks, 2+s.Pair)
	}
	return facts, blocks
}

// Disagreement is from where on a learning contradicts the ones before it: three
// standard deviations.
const Disagreement = 3

// LargestMisfit is the misfit of steps from which on no one curve made the photos.
const LargestMisfit = 2

// NoGain is the Gain above which a learning is not worth keeping: an interval narrower
// by a twentieth is no more than its own rounding.
const NoGain = .95

// Agrees returns how far surfaces of known lightness in one photo lie from what was
// known of the camera, as the root mean square of their surprises in their own
// standard deviations: about 1 where they fit, Disagreement and more for another
// camera or another setting.
func (l *Learned) Agrees(refs []Reference) float64 { return l.surprise(greyFacts(refs), 1) }

// AgreesWithSteps is Agrees for steps.
func (l *Learned) AgreesWithSteps(steps []Step) float64 { return l.surprise(stepFacts(steps)) }

// surprise is the root mean square of how far each fact lies from what l and the facts
// before it make of it, in standard deviations: the square is chi square over its
// degrees of freedom.
func (l *Learned) surprise(facts []fact, blocks int) float64 {
	chi, _ := l.surprises(facts, blocks)
	return math.Sqrt(chi / float64(max(len(facts), 1)))
}

// surprises are chi square of facts under l and the sum of the logarithms of their
// expected variances: half of both, negated, is the logarithm of their likelihood but
// for a constant.
func (l *Learned) surprises(facts []fact, blocks int) (chi, logs float64) {
	w, cov := l.stacked(blocks)
	for _, f := range facts {
		v, miss := update(w, cov, f.row(len(w)), f)
		chi, logs = chi+miss*miss/v, logs+math.Log(v)
	}
	return chi, logs
}

// stacked are the weights of the camera, then of each of n photos its own and its
// exposure, with their covariance.
func (l *Learned) stacked(n int) (w []float64, cov [][]float64) {
	size := exposure + n*dims
	w, cov = make([]float64, size), make([][]float64, size)
	copy(w, l.weights)
	for i := range cov {
		cov[i] = make([]float64, size)
		switch {
		case i < exposure:
			copy(cov[i], l.cov[i])
		case (i-exposure)%dims == exposure:
			cov[i][i] = open * open
		default:
			cov[i][i] = 1 - shared
		}
	}
	return w, cov
}

// row is f's basis functions over the stacked weights.
func (f fact) row(size int) []float64 {
	x := make([]float64, size)
	for _, p := range f.parts {
		for i, v := range p.phi {
			if i < exposure {
				x[i] += p.sign * v
			}
			x[exposure+p.photo*dims+i] += p.sign * v
		}
	}
	return x
}

// update conditions w and cov on one fact, in place. It returns the variance that was
// expected of the fact and how far off it was.
func update(w []float64, cov [][]float64, x []float64, f fact) (v, miss float64) {
	k := times(cov, x)
	v, miss = dot(x, k)+f.v, f.y-dot(x, w)
	for i := range k {
		w[i] += k[i] * miss / v
		for j := range k {
			cov[i][j] -= k[i] * k[j] / v
		}
	}
	return v, miss
}

func (l *Learned) condition(facts []fact, n int) (w []float64, cov [][]float64) {
	w, cov = l.stacked(n)
	for _, f := range facts {
		update(w, cov, f.row(len(w)), f)
	}
	return w, cov
}

// partOf is the camera's part of stacked weights.
func partOf(w []float64, cov [][]float64) *Learned {
	out := &Learned{weights: w[:exposure:exposure], cov: make([][]float64, exposure)}
	for i := range out.cov {
		out.cov[i] = cov[i][:exposure:exposure]
	}
	return out
}

// Gain is by how much the interval of the tone curve is narrower than of a
// camera of which nothing was learned: the mean, over the lightnesses from 15 to 95, of
// the scale beside a white card over that of the usual camera; 1 where it gains
// nothing.
func (l *Learned) Gain() float64 {
	white := Reference{Seen: Seen{Lab: colorspace.Lab{L: 92}}, Lightness: 95}
	a, b := l.Belief(.46).Observe(white), Usual(.46).Observe(white)
	sum, n := 0.0, 0.0
	for x := 15.; x < 90; x += 5 {
		phi := basis(colorspace.Lab{L: x})
		sum += math.Sqrt(dot(phi, times(a.cov, phi)) / dot(phi, times(b.cov, phi)))
		n++
	}
	return sum / n
}
