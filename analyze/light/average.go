package light

import (
	"math"

	"greige/analyze/fit"
)

// Prior standard deviations of the field's terms by degree: what one lamp of any
// height and place above or beside a scene gives, from a bare bulb to a panel, with
// 10 to 70 % of its light coming back from the walls and a lens that darkens its
// corners by up to 15 %, as long as the whole stays within 3:1
// (TestPriorIsThatOfLamps). Where the photo shows little, they keep the field from
// running away.
var priorByDegree = [degree + 1]float64{1: .3, 2: .1, 3: .03, 4: .02}

// priorColour is the same for the colour of the light, which changes less over a
// photo than its brightness: two lamps of unlike colour at its two ends.
var priorColour = [degree + 1]float64{1: .1, 2: .04, 3: .01, 4: .005}

// family is a set of priors: the prior by degree, drawn in by each of several
// shares of its slope and of its bends.
type family struct {
	by     [degree + 1]float64
	shares [][2]float64 // of degree 1, and of the degrees above
	dome   float64      // see below
}

// lampFamily has shares of slope and of bend that do not hang together: a lamp
// right above the scene bends and has no slope, a far one slopes and does not bend.
var lampFamily = func() family {
	f := family{by: priorByDegree, dome: dome}
	for _, slope := range [5]float64{1, .5, .25, .1, .03} { // halvings and more, down to a light that is even to a hundredth
		for _, bend := range [3]float64{1, .4, .12} { // as much again
			f.shares = append(f.shares, [2]float64{slope, bend})
		}
	}
	return f
}()

// family is lampFamily without what off leaves out.
func (off *passes) family() *family {
	f := lampFamily
	if off.dome {
		f.dome = 0
	}
	if off.averaging {
		f.shares = f.shares[:1]
	}
	return &f
}

// colourFamily is coarser: the colour of the light is said without a doubt of its own.
var colourFamily = family{by: priorColour, shares: [][2]float64{{1, 1}, {.4, .4}, {.15, .15}, {.04, .04}}}

// dome is the standard deviation, at the terms that bend in both directions
// alike, of what is not drawn in with the rest: every lens darkens its corners
// and every lamp above is brightest somewhere, whether the light slopes or not
// (1500 lamps and windows like those of TestPriorIsThatOfLamps: mean -.03,
// standard deviation .05). Its mean is taken for 0, so that where nothing is
// seen nothing is corrected.
const dome = .06

// domed are the terms of degree 2 that bend in u and in v.
var domed = [2]int{2, 4}

// information is what samples say of the coefficients: normal equations without a
// prior. What several surfaces say adds up.
type information struct {
	a matrix
	b vector
}

func (i information) plus(o information) information {
	for k := range i.a {
		i.a[k] += o.a[k]
	}
	for k := range i.b {
		i.b[k] += o.b[k]
	}
	return i
}

// precision is the inverse of the prior's covariance under one share, and the
// logarithm of its determinant.
func (f *family) precision(share [2]float64) (p matrix, logDet float64) {
	var at [terms]float64
	for j := range at {
		d := powers[j][0] + powers[j][1]
		s := share[min(d, 2)-1] * f.by[d]
		at[j] = 1 / (s * s)
		p[j*terms+j] = at[j]
		logDet += math.Log(at[j])
	}
	if f.dome > 0 {
		// Sherman and Morrison 1950 (Ann. Math. Stat. 21:124): the inverse with the dome in it.
		i, k, s := domed[0], domed[1], 1/(f.dome*f.dome)
		both := s + at[i] + at[k]
		p[i*terms+i] -= at[i] * at[i] / both
		p[k*terms+k] -= at[k] * at[k] / both
		p[i*terms+k] -= at[i] * at[k] / both
		p[k*terms+i] -= at[i] * at[k] / both
		logDet -= math.Log(1 + (at[i]+at[k])/s)
	}
	return p, logDet
}

// posterior is what is known of coefficients: their mean and covariance.
type posterior struct {
	mean vector
	cov  matrix
}

// average is the posterior of the coefficients under a family of priors. How uneven
// this photo's light is on the whole is not known beforehand, and most photos are
// lit more evenly than the prior allows: so the fits under all priors of the family
// are averaged, each with the probability that the samples give it (Bayesian model
// averaging: Hoeting, Madigan, Raftery and Volinsky 1999, Statistical Science
// 14:382). Noise does then not pass for a lamp, and where the samples do not say
// how far the prior has to be drawn in, the covariance does. ok is false where no
// fit can be made.
func (i information) average(f *family) (p posterior, ok bool) {
	type model struct {
		coef   []float64
		of     *fit.Cholesky
		likely float64 // a logarithm, then a share
	}
	models := make([]model, 0, len(f.shares))
	best := math.Inf(-1)
	for _, share := range f.shares {
		a, logPrior := f.precision(share)
		for k := range a {
			a[k] += i.a[k]
		}
		of, err := fit.NewCholesky(a[:], terms)
		if err != nil {
			continue
		}
		m := model{coef: of.Solve(i.b[:]), of: of}
		fits := 0.0
		for k, v := range m.coef {
			fits += v * i.b[k]
		}
		// A lamp of any strength is as likely as of any other, so that a share
		// stands for as many lamps as it is large.
		m.likely = .5*(fits-of.LogDet()+logPrior) + math.Log(share[0]*share[1])
		best = max(best, m.likely)
		models = append(models, m)
	}
	sum := 0.0
	for k := range models {
		m := &models[k]
		m.likely = math.Exp(m.likely - best)
		sum += m.likely
	}
	if !(sum > 0) {
		return p, false
	}
	for k := range models {
		m := &models[k]
		m.likely /= sum
		for j, v := range m.coef {
			p.mean[j] += m.likely * v
		}
	}
	for k := range models {
		m := &models[k]
		if m.likely < 1e-3 { // no part of the covariance that would be seen
			continue
		}
		inverse := m.of.Inverse()
		for j := range terms {
			for l := range terms {
				p.cov[j*terms+l] += m.likely * (inverse[j*terms+l] + (m.coef[j]-p.mean[j])*(m.coef[l]-p.mean[l]))
			}
		}
	}
	return p, true
}

// also is f with what other samples say of the same photo's light.
func (f *field) also(other information) *field {
	o := *f
	o.info = f.info.plus(other)
	p, ok := o.info.average(f.lamp)
	if !ok {
		return f
	}
	o.coef[0], o.cov = p.mean, p.cov
	o.groups = make([]group, len(f.groups))
	for i, g := range f.groups {
		for j := range terms {
			g.level[0] += (f.coef[0][j] - o.coef[0][j]) * g.centre[j]
		}
		o.groups[i] = g
	}
	return &o
}
