package piles

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Published test cases of optimal one-dimensional k-means: those of
// Ckmeans.1d.dp (R) and of simple-statistics (JavaScript), whose optimum was
// confirmed by exhaustive search; and a textbook case of Jenks' breaks.
func TestBreaksOnPublishedCases(t *testing.T) {
	for _, c := range []struct {
		data   []float64
		k      int
		within float64
		runs   [][]float64
	}{
		{[]float64{-1, 2, -1, 2, 4, 5, 6, -1, 2, -1}, 3, 2, [][]float64{{-1, -1, -1, -1}, {2, 2, 2}, {4, 5, 6}}},
		{[]float64{1, 2, 3, 4, 5, 6, 7, 8, 9, 10}, 2, 20, [][]float64{{1, 2, 3, 4, 5}, {6, 7, 8, 9, 10}}},
		{[]float64{-3, 2.2, -6, 7, 9, 11, -6.3, 75, 82.6, 32.3, -9.5, 62.5, 7, 95.2}, 8, 32.0466667,
			[][]float64{{-9.5, -6.3, -6}, {-3, 2.2}, {7, 7, 9, 11}, {32.3}, {62.5}, {75}, {82.6}, {95.2}}},
		{[]float64{3, 3, 3, 3, 1, 1, 1, 2, 2, 2}, 3, 0, [][]float64{{1, 1, 1}, {2, 2, 2}, {3, 3, 3, 3}}},
		{[]float64{3.5, 3.6, 3.7, 3.1, 1.1, 0.9, 0.8, 2.2, 1.9, 2.1}, 3, 0.300833333,
			[][]float64{{0.8, 0.9, 1.1}, {1.9, 2.1, 2.2}, {3.1, 3.5, 3.6, 3.7}}},
		{[]float64{0, 1, 2, 50, 100, 101, 103}, 3, 6.66666667, [][]float64{{0, 1, 2}, {50}, {100, 101, 103}}},
		{[]float64{1, 2, 4, 5, 7, 9, 10, 20}, 3, 14.6666667, [][]float64{{1, 2, 4, 5}, {7, 9, 10}, {20}}},
		{[]float64{1, 2, 4, 5, 12, 43, 52, 123, 234, 1244}, 6, 50.5,
			[][]float64{{1, 2, 4, 5}, {12}, {43, 52}, {123}, {234}, {1244}}},
		{[]float64{4, 5, 9, 10}, 2, 1, [][]float64{{4, 5}, {9, 10}}},
	} {
		sorted := slices.Sorted(slices.Values(c.data))
		runs := split(sorted, Breaks(sorted, c.k))
		assert.Equal(t, c.runs, runs)
		assert.InDelta(t, c.within, within(runs), 1e-6)
	}
}

// Against every possible division of small random sets.
func TestBreaksAgainstExhaustiveSearch(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for range 300 {
		v := make([]float64, 3+r.IntN(8))
		for i := range v {
			v[i] = math.Round(r.Float64()*40) / 2
		}
		slices.Sort(v)
		for k := 2; k <= 3; k++ {
			got := within(split(v, Breaks(v, k)))
			best := math.Inf(1)
			for i := 1; i < len(v); i++ {
				if k == 2 {
					best = min(best, within(split(v, []int{i})))
					continue
				}
				for j := i + 1; j < len(v); j++ {
					best = min(best, within(split(v, []int{i, j})))
				}
			}
			require.InDelta(t, best, got, 1e-9, "%v in %d", v, k)
		}
	}
}

func TestBreaksOfFewValues(t *testing.T) {
	assert.Empty(t, Breaks(nil, 3))
	assert.Empty(t, Breaks([]float64{5}, 3))
	assert.Empty(t, Breaks([]float64{5, 5, 5}, 3))
	assert.Equal(t, []int{2}, Breaks([]float64{5, 5, 7}, 3))
}

func split(v []float64, starts []int) [][]float64 {
	var runs [][]float64
	at := 0
	for _, s := range append(slices.Clone(starts), len(v)) {
		runs = append(runs, v[at:s])
		at = s
	}
	return runs
}

func within(runs [][]float64) float64 {
	var total float64
	for _, run := range runs {
		var mean float64
		for _, v := range run {
			mean += v / float64(len(run))
		}
		for _, v := range run {
			total += (v - mean) * (v - mean)
		}
	}
	return total
}
