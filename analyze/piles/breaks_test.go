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

// Two gaps as wide as each other: which is the natural one hangs on a hair, and
// the other is told. Where the values are sure of it, it is not.
func TestOtherBreaks(t *testing.T) {
	v := []float64{10, 11, 12, 30, 31, 32, 50, 51, 52.2, 70, 71, 72}
	starts := Breaks(v, 3)
	sigmas := func(s float64) func(i, j int) float64 { return alone(slices.Repeat([]float64{s}, len(v))) }
	require.Equal(t, []int{3, 6}, starts)
	assert.Equal(t, []int{6, 9}, OtherBreaks(v, sigmas(.5), starts, 3), "that which moves most")
	assert.Nil(t, OtherBreaks(v, sigmas(.001), starts, 3))
	assert.Nil(t, OtherBreaks(v, sigmas(.5), starts, 7), "of so many values none moves")
	assert.Nil(t, OtherBreaks([]float64{1, 2}, sigmas(9), nil, 1), "nothing is divided")
	assert.Equal(t, []int{3}, OtherBreaks([]float64{1, 1, 1, 6, 6, 11, 11, 11}, sigmas(1), []int{5}, 2))
	// What all share moves no value against another, and no division.
	shared := func(i, j int) float64 { return 100 }
	assert.Nil(t, OtherBreaks(v, shared, starts, 3))
}

// alone is the covariance of values that share nothing.
func alone(sigmas []float64) func(i, j int) float64 {
	return func(i, j int) float64 {
		if i != j {
			return 0
		}
		return sigmas[i] * sigmas[i]
	}
}

// The chance that another division is the better one, by drawing the values
// again and again within their uncertainties, which they share in part (JCGM
// 101:2008; Student's t with six degrees of freedom): one in five or more for what is
// told, less for what is not.
func TestOtherBreaksAgainstDrawing(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	told, untold := 0, 0
	for range 60 {
		n := 12 + r.IntN(10)
		v, sigmas := make([]float64, n), make([]float64, n)
		for i := range v {
			v[i], sigmas[i] = 20+70*r.Float64(), .3+1.2*r.Float64()
		}
		slices.Sort(v)
		given := Breaks(v, 3)
		chance := func(other []int) float64 {
			const draws = 2000
			better := 0
			for range draws {
				w := make([]float64, n)
				wide := 0.0
				for range 6 {
					wide += math.Pow(r.NormFloat64(), 2)
				}
				wide = math.Sqrt(6 / wide)
				level, slope := 2*r.NormFloat64(), .02*r.NormFloat64()
				for i := range w {
					w[i] = v[i] + wide*(sigmas[i]*r.NormFloat64()+level+slope*v[i])
				}
				if within(split(w, other)) < within(split(w, given)) {
					better++
				}
			}
			return float64(better) / draws
		}
		const least = 3
		covariance := func(i, j int) float64 { return alone(sigmas)(i, j) + 4 + .02*.02*v[i]*v[j] }
		other := OtherBreaks(v, covariance, given, least)
		if other != nil {
			told++
			assert.Greater(t, chance(other), .2-.05)
			continue
		}
		// The best of those that move as many.
		best, lowest := []int(nil), math.Inf(1)
		for i := 1; i < n; i++ {
			for j := i + 1; j < n; j++ {
				o := []int{i, j}
				if c := within(split(v, o)); c < lowest && moved(n, given, o) >= least {
					best, lowest = o, c
				}
			}
		}
		untold++
		assert.Less(t, chance(best), .2+.05)
	}
	assert.Greater(t, told, 5)
	assert.Greater(t, untold, 5)
}

// moved is how many of n values lie in another run.
func moved(n int, a, b []int) (m int) {
	for i := range n {
		of := func(starts []int) (run int) {
			for _, at := range starts {
				if i >= at {
					run++
				}
			}
			return run
		}
		if of(a) != of(b) {
			m++
		}
	}
	return m
}

// Against the plain programme over every place where a run may begin, on more
// values than can be searched exhaustively.
func TestBreaksByHalvesIsBreaksByAll(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 8))
	for i := range 400 {
		v := make([]float64, 1+r.IntN(80))
		for j := range v {
			v[j] = 100 * r.Float64()
			if i%2 == 0 { // many equals
				v[j] = math.Round(v[j] / 8)
			}
		}
		slices.Sort(v)
		for k := 2; k <= 5; k++ {
			require.Equal(t, breaksByAll(v, k), Breaks(v, k), "%v in %d", v, k)
		}
	}
}

// breaksByAll is Breaks in O(k n^2).
func breaksByAll(ascending []float64, k int) []int {
	n := len(ascending)
	distinct := 0
	for i, v := range ascending {
		if i == 0 || v != ascending[i-1] {
			distinct++
		}
	}
	k = min(k, distinct)
	if k < 2 {
		return nil
	}
	cost := newDeviations(ascending).of
	// best[j] is the least cost of the first j values in the present number of
	// runs; from[m][j] where the last of m+1 runs begins.
	best, from := make([]float64, n+1), make([][]int, k)
	for j := 1; j <= n; j++ {
		best[j] = cost(0, j)
	}
	for m := 1; m < k; m++ {
		next := make([]float64, n+1)
		from[m] = make([]int, n+1)
		for j := range next {
			next[j] = math.Inf(1)
		}
		for j := m + 1; j <= n; j++ {
			for i := m; i < j; i++ {
				if ascending[i] == ascending[i-1] {
					continue // never between equals
				}
				if c := best[i] + cost(i, j); c < next[j] {
					next[j], from[m][j] = c, i
				}
			}
		}
		best = next
	}
	starts := make([]int, k-1)
	for m, j := k-1, n; m > 0; m-- {
		j = from[m][j]
		starts[m-1] = j
	}
	return starts
}
