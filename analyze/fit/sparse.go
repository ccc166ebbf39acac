package fit

// Term is one of the terms Weight (Value - sum By x)^2 of a least-squares problem with
// many unknowns x, of which each term has four at most: numbers Of, by By; what is not
// needed has By 0.
type Term struct {
	Of            [4]int
	By            [4]float64
	Value, Weight float64
}

// At is the sum of By x.
func (t *Term) At(x []float64) float64 {
	return t.By[0]*x[t.Of[0]] + t.By[1]*x[t.Of[1]] + t.By[2]*x[t.Of[2]] + t.By[3]*x[t.Of[3]]
}

func (t *Term) addTo(out []float64, v float64) {
	for k, f := range t.By {
		out[t.Of[k]] += f * v
	}
}

// Sparse moves x, from where it is, to where the sum of the terms is least, by
// conjugate gradients on the normal equations (Hestenes and Stiefel 1952, J. Res. Natl.
// Bur. Stand. 49:409), until the residual is 1e-5 of what it was of, or after 200 steps.
func Sparse(x []float64, terms []Term) {
	apply := func(v, out []float64) {
		clear(out)
		for i := range terms {
			t := &terms[i]
			t.addTo(out, t.Weight*t.At(v))
		}
	}
	n := len(x)
	r, p, q := make([]float64, n), make([]float64, n), make([]float64, n)
	for i := range terms {
		t := &terms[i]
		t.addTo(r, t.Weight*t.Value)
	}
	apply(x, q)
	rr, goal := 0.0, 0.0
	for i := range r {
		goal += r[i] * r[i]
		r[i] -= q[i]
		p[i] = r[i]
		rr += r[i] * r[i]
	}
	for range 200 {
		if rr <= 1e-10*goal || rr == 0 {
			return
		}
		apply(p, q)
		pq := 0.0
		for i := range p {
			pq += p[i] * q[i]
		}
		if pq <= 0 {
			return
		}
		f, next := rr/pq, 0.0
		for i := range x {
			x[i] += f * p[i]
			r[i] -= f * q[i]
			next += r[i] * r[i]
		}
		for i := range p {
			p[i] = r[i] + next/rr*p[i]
		}
		rr = next
	}
}
