package light

import (
	"cmp"
	"math"
	"slices"

	"greige/colorspace"
)

// castDoubt is what is not known of the colour of the light: the lights that
// a photo may still have, each with its probability.
type castDoubt []lamp

// lamp is one light as linear R, G, B against a balanced one, luminance 1.
type lamp struct {
	light colorspace.Linear
	p     float64
}

// cameraBalances is the probability that the camera has balanced the light; if
// not, it may be any between shade and a dimmed bulb (common practice, no
// source).
const cameraBalances = .5

// lampsLeft are the lights that a photo may have, as it comes from the camera,
// before it is looked at: none that shows; or, as likely as each other, black
// bodies up to 4000 K and daylight above (CIE 15:2018), evenly by reciprocal
// temperature.
var lampsLeft = func() castDoubt {
	const from, to, step = 100, 400, 25 // mired
	ls := castDoubt{{colorspace.Linear{1, 1, 1}, cameraBalances}}
	n := float64((to-from)/step + 1)
	for mired := from; mired <= to; mired += step {
		k := 1e6 / float64(mired)
		at := colorspace.PlanckianChromaticity
		if k >= 4000 {
			at = colorspace.DaylightChromaticity
		}
		ls = append(ls, lamp{colorspace.XYZOf(at(k)).Linear(), (1 - cameraBalances) / n})
	}
	return ls
}()

// fewCloths is how many cloths lie in a photo, at least, where they are not
// counted.
const fewCloths = 4

// greyWorld is what cloths show of the light's colour: ln of their mean R/Y and
// B/Y, and how many they are. It is the mean light that comes out grey (the
// grey world), and no mean of logarithms, which saturated blues and greens
// drag down. Cloths scatter about grey (clothR, clothB), and what one maker
// has lies off it on the whole (basketR, basketB).
type greyWorld struct{ r, b, n float64 }

// light is the cloths' mean light, luminance 1.
func (w greyWorld) light() colorspace.Linear {
	l := colorspace.Linear{math.Exp(w.r), 0, math.Exp(w.b)}
	weights := colorspace.LuminanceWeights()
	l[1] = max(1-weights[0]*l[0]-weights[2]*l[2], .02) / weights[1]
	return l
}

// likes is how likely cloths look like that under light l, up to a factor.
// Baskets of one colour are more frequent than a normal distribution has them:
// Student's in two dimensions, with more degrees of freedom than single cloths
// need (see likelihood), because it is their mean.
func (w greyWorld) likes(l colorspace.Linear) float64 {
	if w.n <= 0 {
		return 1
	}
	vr, vb := clothR*clothR/w.n+basketR*basketR, clothB*clothB/w.n+basketB*basketB
	r, b := w.r-math.Log(max(l[0], .02)), w.b-math.Log(max(l[2], .02))
	const free = 8.
	return math.Pow(1+(r*r/vr+b*b/vb)/free, -(free+2)/2)
}

// doubtCast weighs the lights that a photo may have, as it came from the
// camera, by what the cloths show.
func doubtCast(w greyWorld) castDoubt {
	var d castDoubt
	for _, l := range lampsLeft {
		d = append(d, lamp{l.light, l.p * w.likes(l.light)})
	}
	if d.normalise() {
		return d
	}
	return doubtCast(greyWorld{}) // no lamp makes cloths look like that
}

// doubtNeutral weighs the lights that are left when the colour of a ground
// was taken out as that of the light. Either the ground is neutral (neutral is
// the probability, before the cloths are asked), and none is left; or it has
// a colour of its own, and the light was any other one.
func doubtNeutral(w greyWorld, taken colorspace.Linear, neutral float64) castDoubt {
	d := castDoubt{{colorspace.Linear{1, 1, 1}, neutral * w.likes(taken)}}
	for _, l := range lampsLeft {
		var rest colorspace.Linear
		for k := range rest {
			rest[k] = l.light[k] / taken[k]
		}
		y := rest.Y()
		for k := range rest {
			rest[k] /= y
		}
		d = append(d, lamp{rest, (1 - neutral) * l.p * w.likes(l.light)})
	}
	if d.normalise() {
		return d
	}
	return doubtNeutral(greyWorld{}, taken, neutral)
}

// normalise makes the probabilities add up to 1; false when they are all 0.
func (d castDoubt) normalise() bool {
	sum := 0.0
	for i := range d {
		sum += d[i].p
	}
	if !(sum > 0) {
		return false
	}
	for i := range d {
		d[i].p /= sum
	}
	return true
}

// effect is how far, as a share, the luminance of a piece that looks like c
// may be off for the colour of the light, as a standard uncertainty: the root
// mean square over the lights, or as much as makes 1.96 of it hold 95 % of
// them where that is more. When most of them agree and a few lie far off, the
// root mean square alone would not (JCGM 101:2008, 5.3.4 and 7.7: an interval
// is that of the distribution, not of its standard deviation).
func (d castDoubt) effect(c colorspace.Linear) float64 {
	return d.effectBeside(c, colorspace.Linear{})
}

// effectBeside is the same where only how c stands to another piece counts;
// the other has no light where it does not.
func (d castDoubt) effectBeside(c, other colorspace.Linear) float64 {
	if len(d) == 0 || !(c.Y() > 0) || math.IsInf(c.Y(), 0) {
		return 0
	}
	may := make(mixtureOf, len(d))
	for i := range d {
		may[i] = chance{math.Abs(d[i].off(c) - d[i].off(other)), d[i].p}
	}
	return may.sigma()
}

// mixtureOf are the components of the distribution of an error: e, 0 or more, with
// probability p. The probabilities add up to 1.
type mixtureOf []chance

type chance struct{ e, p float64 }

// sigma is the standard uncertainty that comes of them, and sorts them: the
// root mean square, or as much as makes 1.96 of it hold 95 % of them where
// that is more.
func (o mixtureOf) sigma() float64 {
	slices.SortFunc(o, func(a, b chance) int { return cmp.Compare(a.e, b.e) })
	held, e, sq := 0.0, math.Inf(1), 0.0
	for _, w := range o {
		sq += w.p * w.e * w.e
		if held += w.p; held >= .95 {
			e = min(e, w.e)
		}
	}
	if math.IsInf(e, 1) {
		e = 0
	}
	return max(math.Sqrt(sq), e/1.96)
}

// mixed is ln of what the luminance of a piece that looks like c, now that the
// colour of a light has been taken out of it, may be off for how that light
// mixed its colours. What a light does to white says what it does to greys, and
// not what it does to colours. Two descriptions are in use: each component is
// multiplied by itself, as cameras balance white and as is done here; or the
// cones' signals are, which are mixed of all three (the Bradford adaptation: Lam
// 1985, ICC.1 annex E). Dyes under real lamps keep to neither (metamerism), so
// an interval has to hold the one and the other. 1.96 standard deviations of it
// then are what the two are apart, and about what real surfaces need: 13 coloured
// patches of the colour-rendition chart (spectra of Ohta 1997) under black bodies
// of 2856 to 5000 K are off by .47 to .50 of that as a root mean square (see
// TestMixedIsWhatRealSurfacesNeed).
func mixed(taken, c colorspace.Linear) float64 {
	if !(c.Y() > 0) || math.IsInf(c.Y(), 0) {
		return 0
	}
	var white, seen colorspace.Linear
	for k := range seen {
		white[k] = max(taken[k], .02)
		seen[k] = max(c[k], 0) * white[k]
	}
	xyz := seen.XYZ()
	y := colorspace.AdaptationBradford(white.XYZ(), colorspace.WhiteD65()).Apply([3]float64{xyz.X, xyz.Y, xyz.Z})[1]
	return math.Log(max(y/c.Y(), .02))
}

// off is ln of the luminance that a piece which looks like c has under even,
// balanced light, over the one that it shows under l.
func (l *lamp) off(c colorspace.Linear) float64 {
	var t colorspace.Linear
	for k := range t {
		t[k] = max(c[k], 0) / max(l.light[k], .02)
	}
	return math.Log(max(t.Y(), 1e-6) / max(c.Y(), 1e-6))
}
