// Package fit has the small solvers that measuring needs: quantiles, least
// squares, robust fits by reweighting, and Cholesky's factors of the few unknowns
// that such fits have. Plain numbers come in and go out. The methods are textbook
// ones, each named with its source; they are written here because the fits have
// a dozen unknowns at most and rows by the hundred thousand, which are added up
// one at a time without a matrix of them.
package fit

import (
	"errors"
	"math"
)

// Median is the middle value of v; it reorders v, and is 0 for none. Of an even
// number it is the upper one of the two in the middle.
func Median[T ~float32 | ~float64](v []T) T {
	if len(v) == 0 {
		return 0
	}
	return Quantile(v, .5)
}

// Quantile is the value that a share q of v, 0 to 1, lies under; it reorders v,
// which must not be empty (Hoare 1961, Comm. ACM 4:321).
func Quantile[T ~float32 | ~float64](v []T, q float64) T {
	k := min(max(int(q*float64(len(v))), 0), len(v)-1)
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

// perMAD makes the standard deviation of a normal distribution out of its median
// absolute deviation: 1 over the normal quantile of 3/4.
const perMAD = 1.4826022185056018

// Spread is the median of v and a robust standard deviation about it: 1.4826
// times the median absolute deviation (Hampel 1974, J. Am. Stat. Assoc. 69:383).
// It reorders and overwrites v.
func Spread[T ~float32 | ~float64](v []T) (median, sd T) {
	median = Median(v)
	for i, x := range v {
		v[i] = max(x-median, median-x)
	}
	return median, perMAD * Median(v)
}

// Mode is where values, sorted and one at least, lie densest (Robertson and Cryer
// 1974; Bickel and Fruehwirth 2006): the shortest half, again and again.
func Mode(v []float64) float64 {
	for len(v) > 3 {
		n := (len(v) + 1) / 2
		best := 0
		for i := range len(v) - n + 1 {
			if v[i+n-1]-v[i] < v[best+n-1]-v[best] {
				best = i
			}
		}
		v = v[best : best+n]
	}
	if len(v) < 3 {
		return (v[0] + v[len(v)-1]) / 2
	}
	switch low, high := v[1]-v[0], v[2]-v[1]; {
	case low < high:
		return (v[0] + v[1]) / 2
	case low > high:
		return (v[1] + v[2]) / 2
	}
	return v[1]
}

// ErrSingular says that equations do not determine their unknowns.
var ErrSingular = errors.New("the equations do not determine the unknowns")

// Normal are the normal equations of a linear least-squares problem, added up row
// by row: the sum of weight * (terms . x - value)^2 is to be least.
type Normal struct {
	n int
	a []float64 // n x n, its lower half
	b []float64
}

// NewNormal has n unknowns and no rows yet.
func NewNormal(n int) *Normal { return &Normal{n: n, a: make([]float64, n*n), b: make([]float64, n)} }

// Clear takes all rows out.
func (e *Normal) Clear() {
	clear(e.a)
	clear(e.b)
}

// Add adds a row: the terms by which the unknowns enter it, its value and its
// weight, 1 over its variance.
func (e *Normal) Add(terms []float64, value, weight float64) {
	for j := range e.n {
		wt := weight * terms[j]
		row := e.a[j*e.n : j*e.n+j+1]
		for k := range row {
			row[k] += wt * terms[k]
		}
		e.b[j] += wt * value
	}
}

// Solve gives the unknowns for which the sum of squares, with ridge[k] times the
// square of each unknown added, is least; ridge nil: nothing is added. The error
// is ErrSingular where the rows do not determine them.
func (e *Normal) Solve(ridge []float64) ([]float64, error) {
	a := append([]float64(nil), e.a...)
	for k, r := range ridge {
		a[k*e.n+k] += r
	}
	c, err := NewCholesky(a, e.n)
	if err != nil {
		return nil, err
	}
	return c.Solve(e.b), nil
}

// Cholesky is a symmetric, positive definite matrix as the product of a lower
// triangle and its transpose.
type Cholesky struct {
	n int
	l []float64
}

// NewCholesky factors the n x n matrix a, of which it reads the lower half and
// which it overwrites (Golub and Van Loan, Matrix Computations, 4.2). The error is
// ErrSingular where a is not positive definite, to within rounding.
func NewCholesky(a []float64, n int) (*Cholesky, error) {
	if !factor(a, n) {
		return nil, ErrSingular
	}
	return &Cholesky{n, a}, nil
}

// factor makes the lower half of the n x n matrix a its Cholesky factor. It tells
// whether a is positive definite; a direction in which it is not gets a column of 0.
func factor(a []float64, n int) (definite bool) {
	definite = true
	for i := range n {
		row := a[i*n : i*n+i+1]
		for j := range i {
			other := a[j*n : j*n+j+1]
			v := row[j]
			for k, x := range other[:j] {
				v -= row[k] * x
			}
			if row[j] = 0; other[j] > 0 {
				row[j] = v / other[j]
			}
		}
		d, was := row[i], row[i]
		for _, x := range row[:i] {
			d -= x * x
		}
		if !(d > 1e-13*was) { // some hundred roundings of the largest term that was taken away
			definite, d = false, 0
		}
		row[i] = math.Sqrt(d)
	}
	return definite
}

// Root is the lower triangle L of a symmetric matrix m = L L' that is positive
// semidefinite, to within rounding: directions in which it is 0 get columns of 0.
func Root(m [][]float64) [][]float64 {
	n := len(m)
	a := make([]float64, n*n)
	for i, row := range m {
		copy(a[i*n:i*n+i+1], row)
	}
	factor(a, n)
	out := make([][]float64, n)
	for i := range out {
		out[i] = a[i*n : (i+1)*n : (i+1)*n]
	}
	return out
}

// Solve is the x for which the matrix times x is b.
func (c *Cholesky) Solve(b []float64) []float64 {
	n, l := c.n, c.l
	x := append([]float64(nil), b[:n]...)
	for i := range n {
		for k := range i {
			x[i] -= l[i*n+k] * x[k]
		}
		x[i] /= l[i*n+i]
	}
	for i := n - 1; i >= 0; i-- {
		for k := i + 1; k < n; k++ {
			x[i] -= l[k*n+i] * x[k]
		}
		x[i] /= l[i*n+i]
	}
	return x
}

// Inverse is that of the matrix, n x n numbers.
func (c *Cholesky) Inverse() []float64 {
	out := make([]float64, c.n*c.n)
	unit := make([]float64, c.n)
	for k := range c.n {
		clear(unit)
		unit[k] = 1
		copy(out[k*c.n:], c.Solve(unit))
	}
	return out
}

// Transposed is the transpose of the lower triangle times v: the product of what it
// gives for two vectors is theirs under the matrix.
func (c *Cholesky) Transposed(v []float64) []float64 {
	out := make([]float64, c.n)
	for i, x := range v {
		for j := range i + 1 {
			out[j] += c.l[i*c.n+j] * x
		}
	}
	return out
}

// LogDet is the logarithm of the matrix's determinant.
func (c *Cholesky) LogDet() float64 {
	sum := 0.0
	for i := range c.n {
		sum += 2 * math.Log(c.l[i*c.n+i])
	}
	return sum
}

// Loss gives the weight of a row whose residual is r standard deviations.
type Loss func(r float64) float64

// Tukey weighs residuals less and less and those beyond c not at all (the
// biweight, Beaton and Tukey 1974, Technometrics 16:147). With c 4.685 it keeps
// 95 % of least squares' efficiency on normal errors.
func Tukey(c float64) Loss {
	return func(r float64) float64 {
		if r = math.Abs(r) / c; r >= 1 {
			return 0
		}
		return (1 - r*r) * (1 - r*r)
	}
}
