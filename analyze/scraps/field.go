package scraps

import "math"

// The light over a plain ground is a smooth field. In CIELAB a change of the
// light scales L*+16, a* and b* alike (all are differences of cube roots), so
// L*+16 of the ground is modelled as a polynomial of degree 3 over the photo,
// and a* and b* as shares of it that drift little (degree 1: two lamps of
// unlike colour).
const (
	fieldTerms = 10
	driftTerms = 3
)

func fieldBasis(u, v float64) [fieldTerms]float64 {
	return [fieldTerms]float64{1, u, v, u*u - 1./3, u * v, v*v - 1./3, u * (u*u - .6), (u*u - 1./3) * v, u * (v*v - 1./3), v * (v*v - .6)}
}

// field is the ground's colour over the photo.
type field struct {
	l    [fieldTerms]float64 // of L*+16
	a, b [driftTerms]float64 // of a*/(L*+16), b*/(L*+16)
}

// at is the ground's L*+16, a* and b* at (u, v), each -1..1 over the photo.
func (f *field) at(u, v float64) (l, a, b float64) {
	t := fieldBasis(u, v)
	for i, c := range f.l {
		l += c * t[i]
	}
	for i := range driftTerms {
		a += f.a[i] * t[i]
		b += f.b[i] * t[i]
	}
	return l, a * l, b * l
}

// place is a place where the ground was seen.
type place struct{ u, v, l, a, b float64 } // l is L*+16

// fitField fits the field to places by least squares with Tukey's biweight,
// so that what is no ground among them counts little; sd are the robust
// standard deviations of what is left in L*, a* and b*. ok is false when the
// places are too few.
func fitField(places []place) (f field, sd [3]float64, ok bool) {
	if len(places) < 3*fieldTerms {
		return f, sd, false
	}
	weight := make([]float64, len(places))
	for i := range weight {
		weight[i] = 1
	}
	left := make([][3]float64, len(places))
	abs := make([]float64, len(places))
	for round := range 5 {
		terms := fieldTerms
		if round == 0 {
			terms = 3 // a slope first: a bend could lean towards outliers
		}
		f.l = solve(places, weight, terms, func(p *place) float64 { return p.l }, 1e-3)
		pa := solve(places, weight, driftTerms, func(p *place) float64 { return p.a / p.l }, 1e-2)
		pb := solve(places, weight, driftTerms, func(p *place) float64 { return p.b / p.l }, 1e-2)
		copy(f.a[:], pa[:])
		copy(f.b[:], pb[:])
		for i := range places {
			p := &places[i]
			l, a, b := f.at(p.u, p.v)
			t := p.l / max(l, 1)
			left[i] = [3]float64{p.l - l, p.a - a*t, p.b - b*t}
		}
		for k := range sd {
			for i := range left {
				abs[i] = math.Abs(left[i][k])
			}
			sd[k] = max(1.4826*median(abs), .05)
		}
		for i := range left {
			d := 0.0
			for k := range sd {
				d = max(d, math.Abs(left[i][k])/sd[k])
			}
			weight[i] = 0
			if d < 5 {
				weight[i] = sq(1 - sq(d/5))
			}
		}
	}
	return f, sd, true
}

// solve is weighted least squares on the first terms of the basis; ridge
// holds the terms beyond the constant back where the places do not tell.
func solve(places []place, weight []float64, terms int, value func(*place) float64, ridge float64) (c [fieldTerms]float64) {
	var m [fieldTerms][fieldTerms + 1]float64
	total := 0.0
	for i := range places {
		w := weight[i]
		if w == 0 {
			continue
		}
		total += w
		t := fieldBasis(places[i].u, places[i].v)
		y := value(&places[i])
		for j := range terms {
			for k := 0; k <= j; k++ {
				m[j][k] += w * t[j] * t[k]
			}
			m[j][fieldTerms] += w * t[j] * y
		}
	}
	for j := range terms {
		for k := j + 1; k < terms; k++ {
			m[j][k] = m[k][j]
		}
		if j > 0 {
			m[j][j] += ridge * total
		}
		m[j][j] += 1e-9
	}
	// Gauss, with the largest element first.
	for j := range terms {
		best := j
		for k := j + 1; k < terms; k++ {
			if math.Abs(m[k][j]) > math.Abs(m[best][j]) {
				best = k
			}
		}
		m[j], m[best] = m[best], m[j]
		for k := j + 1; k < terms; k++ {
			q := m[k][j] / m[j][j]
			for i := j; i < terms; i++ {
				m[k][i] -= q * m[j][i]
			}
			m[k][fieldTerms] -= q * m[j][fieldTerms]
		}
	}
	for j := terms - 1; j >= 0; j-- {
		v := m[j][fieldTerms]
		for k := j + 1; k < terms; k++ {
			v -= m[j][k] * c[k]
		}
		c[j] = v / m[j][j]
	}
	return c
}

// median reorders v. It is 0 for none.
func median(v []float64) float64 {
	if len(v) == 0 {
		return 0
	}
	return quantile(v, .5)
}

// quantile is the value that a share q of v lies under; it reorders v, which
// must not be empty (Hoare's selection).
func quantile(v []float64, q float64) float64 {
	k := min(int(q*float64(len(v))), len(v)-1)
	lo, hi := 0, len(v)-1
	for lo < hi {
		mid := v[(lo+hi)/2]
		i, j := lo, hi
		for i <= j {
			for v[i] < mid {
				i++
			}
			for v[j] > mid {
				j--
			}
			if i <= j {
				v[i], v[j] = v[j], v[i]
				i++
				j--
			}
		}
		switch {
		case k <= j:
			hi = j
		case k >= i:
			lo = i
		default:
			return v[k]
		}
	}
	return v[k]
}
