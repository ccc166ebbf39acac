// Package camera knows what ordinary cameras do to lightness. The colour that a
// file has of a cloth comes in; the cloth's CIE L* comes out, with its doubt and
// with the part of the doubt that other cloths share. The method is Gaussian
// regression on weighted basis functions (Rasmussen and Williams 2006, chapter
// 2): a mean tone curve, one covariance over all colours, conditioned on the
// surfaces whose lightness is known. The figures were fitted to photos of the
// 24-patch chart of eleven sources (testdata/real), each source left out in turn.
package camera

import (
	"math"

	"greige/analyze/fit"
	"greige/colorspace"
)

// All errors are errors of y = 66 ln(s_true / s_file) with s = (L* + 16) / 66: a
// photo that is exposed too little by a factor has the same y everywhere, and
// dL* = s dy.
const unit = 66

// scale is s of an L*.
func scale(lightness float64) float64 { return (lightness + 16) / unit }

// PerShare is by how much y changes when the luminance changes by its own
// share: s goes with the cube root of the luminance.
const PerShare = unit / 3.

// Seen is a surface as the file has it: CIELAB under D65 of its mean linear
// light, at the file's own exposure, with the colour of the light taken out.
type Seen struct {
	colorspace.Lab
	// Clipped is the share of it, 0..1, that stands at either end of the file's
	// scale.
	Clipped float64
}

// Reference is a surface whose lightness is known.
type Reference struct {
	Seen
	Lightness float64 // CIE L*, 0..100
	// Sigma is the standard uncertainty of Lightness and of what is seen of it,
	// in L*.
	Sigma float64
}

// Mean is what cameras do on average, as coefficients of y.
type Mean struct {
	// Level is y of the exposure of a photo whose exposure nothing tells.
	Level float64
	// Tone are the coefficients of t, t^2 - 0.4 and t^3 - 0.6 t over s, with
	// t = (L* - 55) / 40: an S-shaped tone curve.
	Tone [3]float64
	// Colour are those of C*, a*, b*, (a*^2 - b*^2) / C* and 2 a* b* / C*, over 50 s.
	Colour [5]float64
}

// Charts is the mean that was fitted to all eleven sources, with one half of
// the terms of colour, as they are the least sure to hold for other cameras.
func Charts() Mean {
	return Mean{Level: 7.4, Tone: [3]float64{-1.9, 7.3, 5.6}, Colour: [5]float64{-1.45, 1.05, 1.7, -.25, -.35}}
}

// shrunk is the tone curve that is used: the fitted one drawn in towards none.
// Of sources left out in turn, the seams between neighbours are told better by
// less of it than the squares of the errors ask for: .95 of those over 8 apart
// with a white card for .93, while the errors grow by a tenth of an L* at most.
const shrunk = .62

// coloured is by how much more than one half of the fitted terms of colour is
// used. Of sources left out in turn, all of them do best, by a little.
const coloured = 1.4

// usual is the mean that Usual begins with.
func usual() Mean {
	m := Charts()
	for i := range m.Tone {
		m.Tone[i] *= shrunk
	}
	for i := range m.Colour {
		m.Colour[i] *= coloured
	}
	return m
}

// tone is y that the mean gives a grey.
func (m Mean) tone(lightness float64) float64 {
	t := (lightness - 55) / 40
	return m.Level + (m.Tone[0]*t+m.Tone[1]*(t*t-.4)+m.Tone[2]*(t*t*t-.6*t))/scale(lightness)
}

// rendering is y that the mean adds for a colour.
func (m Mean) rendering(c colorspace.Lab) float64 {
	chroma := c.Chroma()
	if chroma < 1e-6 {
		return 0
	}
	k := m.Colour
	return (k[0]*chroma + k[1]*c.A + k[2]*c.B + k[3]*(c.A*c.A-c.B*c.B)/chroma + k[4]*2*c.A*c.B/chroma) / (50 * scale(c.L))
}

// Belief is what is known of one photo's camera: a mean and normal weights of
// the basis functions. It is not changed by its methods.
type Belief struct {
	mean    Mean
	weights []float64   // their means
	cov     [][]float64 // their covariance
	root    [][]float64 // its lower Cholesky factor
	known   int         // how many references it was conditioned on
	exact   bool        // surfaces have no doubt of their own
	own     *Learned    // what was learned of this camera; nil: nothing
}

// Usual is what is known of any camera: sigma is the standard deviation of ln of
// the luminance that its exposure leaves open.
func Usual(sigma float64) *Belief { return From(usual(), sigma*PerShare) }

// From is the belief with another mean and a standard deviation of y in common.
func From(mean Mean, level float64) *Belief {
	b := &Belief{mean: mean, weights: make([]float64, dims), cov: make([][]float64, dims)}
	for i := range b.cov {
		b.cov[i] = make([]float64, dims)
		b.cov[i][i] = 1
	}
	b.cov[exposure][exposure] = level * level
	b.root = fit.Root(b.cov)
	return b
}

// Exact is what is known of a camera whose files follow the light of the scene:
// nothing is in doubt but its exposure, as for Usual.
func Exact(sigma float64) *Belief {
	b := From(Mean{}, 0)
	for i := range b.cov {
		b.cov[i][i] = 0
	}
	b.cov[exposure][exposure] = sq(sigma * PerShare)
	b.root, b.exact = fit.Root(b.cov), true
	return b
}

// noise is the standard deviation of y that a surface has by itself.
func (b *Belief) noise(c colorspace.Lab, clipped float64) float64 {
	if b.exact {
		return 0
	}
	return noise(c, clipped) / scale(c.L)
}

// Known is how many references b has taken in.
func (b *Belief) Known() int { return b.known }

// shift is y of a surface.
func (b *Belief) shift(c colorspace.Lab) float64 {
	return b.mean.tone(c.L) + b.mean.rendering(c) + dot(basis(c), b.weights)
}

// open is the standard deviation of y of the exposure once a reference pins it
// down: so wide that the reference decides.
const open = 20

// Observe is b after surfaces of known lightness were seen, each once
// (sequential conditioning of a normal distribution). With the first of them
// the exposure is no longer told by the mean.
func (b *Belief) Observe(refs ...Reference) *Belief {
	if len(refs) == 0 {
		return b
	}
	o := &Belief{mean: b.mean, weights: append([]float64(nil), b.weights...), cov: make([][]float64, dims), known: b.known + len(refs), exact: b.exact, own: b.own}
	for i := range o.cov {
		o.cov[i] = append([]float64(nil), b.cov[i]...)
	}
	if b.known == 0 {
		o.cov[exposure][exposure] = max(o.cov[exposure][exposure], open*open)
	}
	for _, r := range refs {
		c := inRange(r.Lab)
		s := scale(c.L)
		phi := basis(c)
		y := unit*math.Log(scale(r.Lightness)/scale(max(r.L, 0))) - o.mean.tone(c.L) - o.mean.rendering(c)
		update(o.weights, o.cov, phi, fact{y: y, v: sq(b.noise(c, r.Clipped)) + sq(r.Sigma/s)})
	}
	o.root = fit.Root(o.cov)
	return o
}

// inRange is a colour with an L* that most files can hold, for what is known of
// cameras ends there.
func inRange(c colorspace.Lab) colorspace.Lab {
	c.L = min(max(c.L, 0), 100)
	return c
}

// Lightest is the L* that no cloth is lighter than: plain white paper and
// cloth lie under it (common practice, no source; the lightest patch of the
// chart has 96.5).
const Lightest = 98

// Lightness is the L* of a surface, without bound above, and dL*/dy there.
func (b *Belief) Lightness(c colorspace.Lab) (lightness, slope float64) {
	s := scale(max(c.L, 0)) * math.Exp(b.shift(inRange(c))/unit)
	return unit*s - 16, Slope(unit*s - 16)
}

// Slope is dL*/dy of a lightness.
func Slope(lightness float64) float64 { return min(scale(lightness), scale(Lightest)) }
