package layout

import "math"

// The light that is left uneven scales linear light by a factor that varies
// slowly over the top. CIELAB is a cube root of light, so L*+16, a* and b* are
// all scaled by the factor's cube root, and ln(L*+16) shows its logarithm
// with no regard to the cloth: the field is fitted to what the patches of one
// cloth differ by.

// fieldTerms is the number of terms of the field: x, y, xy, x^2, y^2.
const fieldTerms = 5

// fieldSigma is how large, as a standard deviation in ln(L*+16), a term of the
// field is taken to be before it is seen: .02 is 6 % of light, what a careful
// correction leaves.
const fieldSigma = .02

// fieldGain is by how much the field must lower chi square to be believed:
// three for each term, between Akaike's two and what chance gives once in a
// hundred tops.
const fieldGain = 3 * fieldTerms

// fieldGroup is the least patches of a cloth that say something of the light:
// two may be two cloths.
const fieldGroup = 3

func (t *top) fieldAt(i int) [fieldTerms]float64 {
	x := 2*float64(t.patches[i].Col-1)/float64(max(t.cols-1, 1)) - 1
	y := 2*float64(t.patches[i].Row-1)/float64(max(t.rows-1, 1)) - 1
	return [fieldTerms]float64{x, y, x * y, x * x, y * y}
}

// evenOut takes the left-over light out of the samples' lab, given groups of
// one cloth. It reports whether there was any to be seen.
func (t *top) evenOut(samples []sample, of []int) bool {
	groups := 0
	for _, g := range of {
		groups = max(groups, g+1)
	}
	type means struct {
		n         int
		weight, y float64
		x         [fieldTerms]float64
	}
	mean := make([]means, groups)
	weight := make([]float64, len(samples))
	value := func(i int) float64 { return math.Log(max(samples[i].raw[0], 0) + 16) }
	for i := range samples {
		s := &samples[i]
		scale := s.raw[0] + 16
		weight[i] = scale * scale / (s.noise + s.own*s.own + s.print[0])
		m := &mean[of[i]]
		m.n++
		m.weight += weight[i]
		m.y += weight[i] * value(i)
		for k, v := range t.fieldAt(i) {
			m.x[k] += weight[i] * v
		}
	}
	// Ridge regression within the groups.
	var a [fieldTerms][fieldTerms]float64
	var b [fieldTerms]float64
	for k := range a {
		a[k][k] = 1 / (fieldSigma * fieldSigma)
	}
	for i := range samples {
		m := &mean[of[i]]
		if m.n < fieldGroup {
			continue
		}
		y := value(i) - m.y/m.weight
		// A patch that is far from its group says little about the light.
		w := weight[i]
		if z := math.Abs(y) * math.Sqrt(w); z > 2.5 {
			w *= 2.5 / z
		}
		x := t.fieldAt(i)
		for k := range x {
			x[k] -= m.x[k] / m.weight
		}
		for k := range x {
			b[k] += w * x[k] * y
			for l := range x {
				a[k][l] += w * x[k] * x[l]
			}
		}
	}
	field, ok := solve(a, b)
	gain := 0.
	for k := range field {
		gain += field[k] * b[k]
	}
	if !ok || gain < fieldGain {
		return false
	}
	for _, k := range field {
		// What is larger is no rest of a lamp, but cloths that shade off.
		if math.Abs(k) > 3*fieldSigma {
			return false
		}
	}
	for i := range samples {
		s := &samples[i]
		f := 0.
		for k, v := range t.fieldAt(i) {
			f += field[k] * v
		}
		f = math.Exp(-f)
		s.lab = vec{(s.raw[0]+16)*f - 16, s.raw[1] * f, s.raw[2] * f}
	}
	return true
}

// solve is a x = b for a symmetric positive definite a, by Cholesky.
func solve(a [fieldTerms][fieldTerms]float64, b [fieldTerms]float64) (x [fieldTerms]float64, ok bool) {
	for i := range a {
		for j := 0; j <= i; j++ {
			s := a[i][j]
			for k := range j {
				s -= a[i][k] * a[j][k]
			}
			if i == j {
				if s <= 0 {
					return x, false
				}
				a[i][i] = math.Sqrt(s)
			} else {
				a[i][j] = s / a[j][j]
			}
		}
	}
	for i := range b {
		x[i] = b[i]
		for k := range i {
			x[i] -= a[i][k] * x[k]
		}
		x[i] /= a[i][i]
	}
	for i := len(b) - 1; i >= 0; i-- {
		for k := i + 1; k < len(b); k++ {
			x[i] -= a[k][i] * x[k]
		}
		x[i] /= a[i][i]
	}
	return x, true
}
