package camera

import (
	"errors"
	"fmt"
	"math"

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
	b.root = cholesky(b.cov)
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
	mean := usual()
	var facts []fact
	for _, r := range refs {
		c := inRange(r.Lab)
		y := unit*math.Log(scale(r.Lightness)/scale(max(r.L, 0))) - mean.tone(c.L) - mean.rendering(c)
		facts = append(facts, fact{[]factPart{{0, 1, basis(c)}}, y, sq(noise(c, r.Clipped)/scale(c.L)) + sq(r.Sigma/scale(c.L))})
	}
	return l.take(facts, 1), nil
}

// stepNoise is the standard deviation of y by which one surface differs between
// two photos, beside what the curve makes of it: noise and flicker of the lamp (a
// hundredth of the light; common practice, no source).
const stepNoise = .01 * PerShare

// FromSteps takes in what the same surfaces look like in several photos of one
// still scene (radiometric self-calibration: Debevec and Malik 1997, SIGGRAPH;
// Mitsunaga and Nayar 1999, CVPR). A camera that merges exposures, or changes contrast
// from photo to photo, breaks the assumption of one curve: misfit is the root mean
// square of what no curve explains over what is expected, about 1 where it holds.
func (l *Learned) FromSteps(steps []Step) (learned *Learned, misfit float64, err error) {
	if len(steps) < 6 {
		return nil, 0, fmt.Errorf("too few surfaces are seen in more than one photo: %d, and 6 are needed", len(steps))
	}
	mean := usual()
	value := func(c colorspace.Lab) float64 { c = inRange(c); return mean.tone(c.L) + mean.rendering(c) }
	var facts []fact
	for _, s := range steps {
		a, b := inRange(s.First.Lab), inRange(s.Second.Lab)
		// The true s of the second is that of the first times the ratio's cube root.
		y := unit*math.Log(scale(a.L)/scale(b.L)) + PerShare*math.Log(s.Ratio) - (value(b) - value(a))
		v := 2*sq(stepNoise) + sq(ownClipped*s.First.Clipped/scale(a.L)) + sq(ownClipped*s.Second.Clipped/scale(b.L))
		pa, pb := basis(a), basis(b)
		pa[exposure], pb[exposure] = 0, 0 // the ratio is known
		// One curve for all of the set: its photos are taken within a minute.
		facts = append(facts, fact{[]factPart{{0, 1, pb}, {0, -1, pa}}, y, v})
	}
	learned = l.take(facts, 1)
	sum := 0.0
	b := learned.Belief(0)
	for _, f := range facts {
		rest := f.y
		for _, p := range f.parts {
			rest -= p.sign * dot(p.phi[:exposure], b.weights[:exposure])
		}
		sum += rest * rest / f.v
	}
	return learned, math.Sqrt(sum / float64(len(facts))), nil
}

// Agrees tells how far what a photo says lies from what was known, as the root
// mean square of its surfaces' surprises in their own standard deviations: about 1
// where it fits, and 3 and more where it is another camera or another setting.
func (l *Learned) Agrees(refs []Reference) float64 {
	if len(refs) < 2 {
		return 0
	}
	b := l.Belief(0).Observe(refs[0])
	sum := 0.0
	for _, r := range refs[1:] {
		c := inRange(r.Lab)
		phi := basis(c)
		miss := unit*math.Log(scale(r.Lightness)/scale(max(r.L, 0))) - b.shift(c)
		v := dot(phi, times(b.cov, phi)) + sq(noise(c, r.Clipped)/scale(c.L)) + sq(r.Sigma/scale(c.L))
		sum += miss * miss / v
	}
	return math.Sqrt(sum / float64(len(refs)-1))
}

// take conditions the camera's weights on facts from n photos. Weights are
// stacked: the camera's, then each photo's own and its exposure.
func (l *Learned) take(facts []fact, n int) *Learned {
	block := dims // a photo's own weights and its exposure
	size := exposure + n*block
	w, cov := make([]float64, size), make([][]float64, size)
	copy(w, l.weights)
	for i := range cov {
		cov[i] = make([]float64, size)
		if i < exposure {
			copy(cov[i], l.cov[i])
		} else if (i-exposure)%block == exposure {
			cov[i][i] = open * open
		} else {
			cov[i][i] = 1 - shared
		}
	}
	for _, f := range facts {
		x := make([]float64, size)
		for _, p := range f.parts {
			for i, v := range p.phi {
				if i < exposure {
					x[i] += p.sign * v
				}
				x[exposure+p.photo*block+i] += p.sign * v
			}
		}
		k := times(cov, x)
		v := dot(x, k) + f.v
		miss := f.y - dot(x, w)
		for i := range k {
			w[i] += k[i] * miss / v
			for j := range k {
				cov[i][j] -= k[i] * k[j] / v
			}
		}
	}
	out := &Learned{weights: w[:exposure], cov: make([][]float64, exposure)}
	for i := range out.cov {
		out.cov[i] = cov[i][:exposure]
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
