package fit

import (
	"encoding/json"
	"math"
	"os"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
)

// numbers are what NumPy and SciPy give (testdata/reference.py).
type numbers struct {
	Terms                               [][]float64
	Values, Weights, Ridge              []float64
	Plain, Weighted, Ridged, Covariance []float64
	LogDet                              float64
	Tukey                               []float64
	Median, MAD, Quantile               float64
}

func published(t *testing.T) (n numbers) {
	t.Helper()
	data, err := os.ReadFile("testdata/reference.json")
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(data, &n))
	return n
}

func TestQuantilesAgreeWithNumPy(t *testing.T) {
	n := published(t)
	m, sd := Spread(slices.Clone(n.Values[:39]))
	require.Equal(t, n.Median, m)
	require.InDelta(t, n.MAD, sd, 1e-12)
	require.Equal(t, n.Quantile, Quantile(slices.Clone(n.Values), .299)) // NumPy's lies at rank ceil(.3 * 40) = 12
	require.Zero(t, Median([]float32{}))
}

func TestLeastSquaresAgreesWithNumPy(t *testing.T) {
	n := published(t)
	plain, weighted := NewNormal(4), NewNormal(4)
	for i, row := range n.Terms {
		plain.Add(row, n.Values[i], 1)
		weighted.Add(row, n.Values[i], n.Weights[i])
	}
	x, err := plain.Solve(nil)
	require.NoError(t, err)
	require.InDeltaSlice(t, n.Plain, x, 1e-12)
	x, err = weighted.Solve(nil)
	require.NoError(t, err)
	require.InDeltaSlice(t, n.Weighted, x, 1e-12)
	x, err = weighted.Solve(n.Ridge)
	require.NoError(t, err)
	require.InDeltaSlice(t, n.Ridged, x, 1e-12)
	f, err := NewCholesky(weighted.a, 4)
	require.NoError(t, err)
	require.InDeltaSlice(t, n.Covariance, f.Inverse(), 1e-12)
	require.InDelta(t, n.LogDet, f.LogDet(), 1e-10)
}

// Weighing again and again by the loss ends in its minimum, here SciPy's.
func TestTukeysWeightsLeadToSciPysMinimum(t *testing.T) {
	n := published(t)
	x := n.Plain
	for range 200 {
		left, far := make([]float64, len(n.Values)), make([]float64, len(n.Values))
		for i, row := range n.Terms {
			left[i] = n.Values[i]
			for k, v := range row {
				left[i] -= v * x[k]
			}
			far[i] = math.Abs(left[i])
		}
		sd := Median(far) / .6744897501960817 // the quartile of a normal distribution
		e := NewNormal(len(x))
		for i, row := range n.Terms {
			e.Add(row, n.Values[i], Tukey(4.685)(left[i]/sd))
		}
		var err error
		x, err = e.Solve(nil)
		require.NoError(t, err)
	}
	require.InDeltaSlice(t, n.Tukey, x, 1e-5) // BFGS stops there
}

func TestWhatDoesNotDetermineItsUnknownsIsAnError(t *testing.T) {
	e := NewNormal(2)
	e.Add([]float64{1, 2}, 3, 1)
	e.Add([]float64{2, 4}, 6, 1)
	_, err := e.Solve(nil)
	require.ErrorIs(t, err, ErrSingular)
	x, err := e.Solve([]float64{0, 1e-6})
	require.NoError(t, err)
	require.InDelta(t, 3, x[0]+2*x[1], 1e-4)
}

// A matrix of rank one has a root with one column; a definite one is its root times
// the root's transpose, and its inverse undoes it.
func TestRootAndInverse(t *testing.T) {
	root := Root([][]float64{{4, 2, 0}, {2, 1, 0}, {0, 0, 9}})
	require.Equal(t, [][]float64{{2, 0, 0}, {1, 0, 0}, {0, 0, 3}}, root)
	m := []float64{4, 2, 1, 2, 5, 3, 1, 3, 6}
	c, err := NewCholesky(append([]float64(nil), m...), 3)
	require.NoError(t, err)
	inverse := c.Inverse()
	for i := range 3 {
		for j := range 3 {
			sum := 0.0
			for k := range 3 {
				sum += m[i*3+k] * inverse[k*3+j]
			}
			want := 0.0
			if i == j {
				want = 1
			}
			require.InDelta(t, want, sum, 1e-12)
		}
	}
	u, v := c.Transposed([]float64{1, 2, 3}), c.Transposed([]float64{3, -1, 1})
	product := 0.0
	for k := range u {
		product += u[k] * v[k]
	}
	require.InDelta(t, 3*(4+4+3)-(2+10+9)+(1+6+18), product, 1e-12)
	_, err = NewCholesky([]float64{1, 2, 2, 1}, 2)
	require.ErrorIs(t, err, ErrSingular)
}

func TestMode(t *testing.T) {
	require.Equal(t, 5.0, Mode([]float64{5}))
	require.InDelta(t, 2, Mode([]float64{0, 1.9, 2, 2.05, 2.1, 6, 9, 14}), .1)
}
