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
	row := f.along(v)
	return row.at(u)
}

// line is the field along a row, by powers of u.
type line struct {
	l    [4]float64
	a, b [2]float64
}

// along is the field at v, -1..1 over the photo.
func (f *field) along(v float64) line {
	// The terms of fieldBasis, by the powers of u in them.
	c, v2, v3 := &f.l, v*v-1./3, v*(v*v-.6)
	return line{
		l: [4]float64{
			c[0] - c[3]/3 + c[2]*v + c[5]*v2 - c[7]*v/3 + c[9]*v3,
			c[1] + c[4]*v - .6*c[6] + c[8]*v2,
			c[3] + c[7]*v,
			c[6],
		},
		a: [2]float64{f.a[0] + f.a[2]*v, f.a[1]},
		b: [2]float64{f.b[0] + f.b[2]*v, f.b[1]},
	}
}

// at is the line's L*+16, a* and b* at u, -1..1 over the photo.
func (f *line) at(u float64) (l, a, b float64) {
	l = f.l[0] + u*(f.l[1]+u*(f.l[2]+u*f.l[3]))
	return l, (f.a[0] + u*f.a[1]) * l, (f.b[0] + u*f.b[1]) * l
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
	basis, values := make([][fieldTerms]float64, len(places)), make([][3]float64, len(places))
	for i := range places {
		p := &places[i]
		basis[i] = fieldBasis(p.u, p.v)
		values[i] = [3]float64{p.l, p.a / p.l, p.b / p.l}
	}
	left := make([][3]float64, len(places))
	abs := make([]float64, len(places))
	for round := range 5 {
		terms := fieldTerms
		if round == 0 {
			terms = 3 // a slope first: a bend could lean towards outliers
		}
		f.l = solve(basis, values, 0, weight, terms, 1e-3)
		pa := solve(basis, values, 1, weight, driftTerms, 1e-2)
		pb := solve(basis, values, 2, weight, driftTerms, 1e-2)
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

// solve is weighted least squares of the values of one kind on the first terms
// of the basis; ridge holds the terms beyond the constant back where the places
// do not tell.
func solve(basis [][fieldTerms]float64, values [][3]float64, kind int, weight []float64, terms int, ridge float64) (c [fieldTerms]float64) {
	var m [fieldTerms][fieldTerms + 1]float64
	total := 0.0
	for i := range basis {
		w := weight[i]
		if w == 0 {
			continue
		}
		total += w
		t := &basis[i]
		y := values[i][kind]
		for j := range terms {
			wt := w * t[j]
			row := &m[j]
			for k := 0; k <= j; k++ {
				row[k] += wt * t[k]
			}
			row[fieldTerms] += wt * y
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
