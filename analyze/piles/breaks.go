package piles

import (
	"math"
	"slices"
)

// Breaks divides ascending values into at most k runs with the least sum of
// squared deviations from the runs' means, and returns where each run after
// the first begins. The optimum is exact, by dynamic programming (Fisher 1958,
// J. Am. Stat. Assoc. 53:789; Wang and Song 2011, R Journal 3(2):29). Equal
// values are never divided. With fewer than k different values there are
// fewer runs. O(k n^2) time, O(k n) memory.
func Breaks(ascending []float64, k int) []int {
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
	// Prefix sums of values taken from their middle, so that squares of large
	// equal parts do not swallow small differences.
	shift := ascending[n/2]
	sum, squares := make([]float64, n+1), make([]float64, n+1)
	for i, v := range ascending {
		sum[i+1] = sum[i] + v - shift
		squares[i+1] = squares[i] + sq(v-shift)
	}
	cost := func(i, j int) float64 { // of the run i..j-1
		s := sum[j] - sum[i]
		return max(squares[j]-squares[i]-s*s/float64(j-i), 0)
	}
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

// Cuts are where Breaks divides lightnesses, given in any order, into at most
// k runs: midway between neighbours, from the lighter cut to the darker.
func Cuts(lightness []float64, k int) []float64 {
	v := slices.Sorted(slices.Values(lightness))
	var cuts []float64
	for _, at := range slices.Backward(Breaks(v, k)) {
		cuts = append(cuts, (v[at-1]+v[at])/2)
	}
	return cuts
}

func sq(v float64) float64 { return v * v }
