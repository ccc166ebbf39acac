package camera

import "math"

// Doubt is how unsure a lightness is: what it shares with others, part by part,
// and what it has by itself. All are in L*, as scales of Student's t with six
// degrees of freedom, whose tails real cameras have (testdata/real).
type Doubt struct {
	Parts []Part
	Own   float64
}

// Part is doubt that goes by a cause, such as one photo's exposure or one
// camera's rendering. Two lightnesses with the same cause share it, by the product
// of their vectors.
type Part struct {
	Cause  string
	Vector []float64
}

// Half intervals of 95 %, in scales, read off the errors of sources left out in
// turn: they hold .92 (a white card), .94 (a grey one), .93 (white and grey) and .93
// (nothing) of them. Student's t would be 2.45 times the scale; but of one photo all
// colours lie inside or few, as one exposure is wrong for all, and wider intervals are
// too wide for most photos: their 95 % point is at .9 of these.
const (
	halfOfOne = 2.1 // one reference
	halfOfAny = 2.4 // none, or several
)

// Scale is the scale of the lightness by itself.
func (d Doubt) Scale() float64 {
	v := d.Own * d.Own
	for _, p := range d.Parts {
		v += dot(p.Vector, p.Vector)
	}
	return math.Sqrt(v)
}

// Alone is the doubt of a lightness of which nothing but half of its 95 %
// interval is known: it is taken to share nothing.
func Alone(half float64) Doubt { return Doubt{Own: half / halfOfAny} }

// Shared is d where all but own of it goes by one cause.
func (d Doubt) Shared(cause string, own float64) Doubt {
	rest := sq(d.Scale()) - sq(own)
	return Doubt{Own: own, Parts: []Part{{cause, []float64{math.Sqrt(max(rest, 0))}}}}
}

// Half is half of a 95 % interval of one lightness that was measured with so
// many references.
func (d Doubt) Half(references int) float64 {
	if references == 1 {
		return halfOfOne * d.Scale()
	}
	return halfOfAny * d.Scale()
}

// Covariance is that of two lightnesses, as a square of a scale.
func Covariance(a, b Doubt) (sum float64) {
	for _, p := range a.Parts {
		for _, q := range b.Parts {
			if p.Cause == q.Cause && len(p.Vector) == len(q.Vector) {
				sum += dot(p.Vector, q.Vector)
			}
		}
	}
	return sum
}

// Common is the doubt of the mean of lightnesses.
func Common(doubts []Doubt) Doubt {
	var m Doubt
	at := map[string]int{}
	n := float64(len(doubts))
	own := 0.0
	for _, d := range doubts {
		own += sq(d.Own / n)
		for _, p := range d.Parts {
			k, ok := at[p.Cause]
			if !ok {
				k = len(m.Parts)
				at[p.Cause] = k
				m.Parts = append(m.Parts, Part{p.Cause, make([]float64, len(p.Vector))})
			}
			if len(m.Parts[k].Vector) == len(p.Vector) {
				for i, v := range p.Vector {
					m.Parts[k].Vector[i] += v / n
				}
			}
		}
	}
	m.Own = math.Sqrt(own)
	return m
}

// HalfOfDifference is half of the 95 % interval of a difference, in scales:
// Student's t with six degrees of freedom.
const HalfOfDifference = 2.447

// Difference is the scale of the difference of two lightnesses.
func Difference(a, b Doubt) float64 {
	return math.Sqrt(max(sq(a.Scale())+sq(b.Scale())-2*Covariance(a, b), sq(a.Own)+sq(b.Own)))
}

// Under is the vector of the part that goes by a cause; nil where d has none.
func (d Doubt) Under(cause string) []float64 {
	for _, p := range d.Parts {
		if p.Cause == cause {
			return p.Vector
		}
	}
	return nil
}

// Times is d on a scale that is stretched by k.
func (d Doubt) Times(k float64) Doubt {
	out := Doubt{Own: d.Own * k, Parts: make([]Part, len(d.Parts))}
	for i, p := range d.Parts {
		v := make([]float64, len(p.Vector))
		for j, x := range p.Vector {
			v[j] = k * x
		}
		out.Parts[i] = Part{p.Cause, v}
	}
	return out
}

// Plus is d with doubt of its own added.
func (d Doubt) Plus(own float64) Doubt {
	d.Own = math.Hypot(d.Own, own)
	return d
}

// OneInFive is where the contract of this program draws its line: what may be
// the other way with a chance of one in five or more is said to be open.
const OneInFive = .2

// FourToOne is the difference, in scales, at which the order of two lightnesses is
// the one measured with a chance of four in five: Student's t with six degrees of
// freedom, the 80 % point.
const FourToOne = .906

// Order is the chance, 0..1, that the lightness which measures more by d, with
// the scale s of the difference, is the greater one.
func Order(d, s float64) float64 {
	if s <= 0 {
		switch {
		case d > 0:
			return 1
		case d < 0:
			return 0
		}
		return .5
	}
	return student6(d / s)
}

// Within is the chance, 0..1, that a difference which measures d, with scale s,
// is smaller than limit either way.
func Within(d, s, limit float64) float64 {
	return Order(limit-d, s) - Order(-limit-d, s)
}

// student6 is the distribution function of Student's t with six degrees of
// freedom (Abramowitz and Stegun 1964, 26.7.4).
func student6(t float64) float64 {
	x := t / math.Sqrt(6+t*t)
	c := 1 - x*x
	return .5 + .5*x*(1+c/2+3*c*c/8)
}

// shared is how much of a camera's curve and rendering is the same in all its
// photos, as a part of the variance: of two sources with five and eight photos by
// one camera, pairs of photos are told best by .95 and more; of three cameras of
// one maker, by .2 (testdata/real). The rest is what a camera decides for each.
const shared = .85

// Causes are whose doubt a photo's lightnesses carry.
type Causes struct {
	Photo    string // one photo
	Camera   string // all photos by one camera; "" where it is not known
	Exposure string // all photos on one exposure; "" for the photo alone
}

// Doubt is that of the lightness of a surface under b. slope is dL*/dy there, as
// Lightness gives it; more is a relative standard uncertainty of the luminance
// that the surface has by itself.
func (b *Belief) Doubt(c Seen, causes Causes, slope, more float64) Doubt {
	at := inRange(c.Lab)
	phi := basis(at)
	// The root's transpose times phi: its squared length is the variance of y.
	u := make([]float64, dims)
	for i, row := range b.root {
		for j := range i + 1 {
			u[j] += row[j] * phi[i]
		}
	}
	for i := range u {
		u[i] *= slope
	}
	own := math.Hypot(b.noise(at, c.Clipped), more*PerShare) * slope
	d := Doubt{Own: own}
	stands := causes.Exposure
	if stands == "" {
		stands = causes.Photo
	}
	d.Parts = append(d.Parts, Part{"exposure of " + stands, u[exposure:]})
	rest := u[:exposure]
	if causes.Camera == "" {
		d.Parts = append(d.Parts, Part{"photo " + causes.Photo, rest})
		return d
	}
	part := b.own.part()
	same, other := make([]float64, len(rest)), make([]float64, len(rest))
	for i, v := range rest {
		same[i], other[i] = math.Sqrt(part)*v, math.Sqrt(1-part)*v
	}
	d.Parts = append(d.Parts, Part{"camera " + causes.Camera, same}, Part{"photo " + causes.Photo, other})
	return d
}
