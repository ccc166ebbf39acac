package piles

import (
	"math"
	"slices"

	"greige/analyze/camera"
)

// Breaks divides ascending values into at most k runs with the least sum of
// squared deviations from the runs' means, and returns where each run after
// the first begins. The optimum is exact, by dynamic programming (Fisher 1958,
// J. Am. Stat. Assoc. 53:789; Wang and Song 2011, R Journal 3(2):29), by halves:
// the more values a division holds, the later its last run begins (Wu 1991, J.
// Algorithms 12:663; Song and Zhong 2020, Bioinformatics 36:5027). Equal
// values are never divided. With fewer than k different values there are
// fewer runs. O(k n log n) time, O(k n) memory.
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
	cost := newDeviations(ascending).of
	// best[j] is the least cost of the first j values in the present number of
	// runs; from[m][j] where the last of m+1 runs begins. Where the last run of all
	// begins is asked for all values only.
	best, from := make([]float64, n+1), make([][]int32, k)
	for j := 1; j <= n; j++ {
		best[j] = cost(0, j)
	}
	for m := 1; m < k; m++ {
		next := make([]float64, n+1)
		from[m] = make([]int32, n+1)
		for j := range next {
			next[j] = math.Inf(1)
		}
		// fill does it for the first j values, j from lo to hi, whose last run
		// begins at least or later, and at most or earlier.
		var fill func(lo, hi, least, most int)
		fill = func(lo, hi, least, most int) {
			if lo > hi {
				return
			}
			j, at := (lo+hi)/2, least
			for i := least; i <= min(most, j-1); i++ {
				if ascending[i] == ascending[i-1] {
					continue // never between equals
				}
				if c := best[i] + cost(i, j); c < next[j] {
					next[j], at = c, i
				}
			}
			if math.IsInf(next[j], 1) { // no run can begin there: nothing is known of others
				fill(lo, j-1, least, most)
				fill(j+1, hi, least, most)
				return
			}
			from[m][j] = int32(at)
			fill(lo, j-1, least, at)
			fill(j+1, hi, at, most)
		}
		fewest := m + 1
		if m == k-1 {
			fewest = n
		}
		fill(fewest, n, m, n-1)
		best = next
	}
	starts := make([]int, k-1)
	for m, j := k-1, n; m > 0; m-- {
		j = int(from[m][j])
		starts[m-1] = j
	}
	return starts
}

// deviations tell of runs of values.
type deviations struct {
	shift        float64
	sum, squares []float64 // of the values before each, less shift
}

func newDeviations(values []float64) *deviations {
	n := len(values)
	// Values are taken from their middle, so that squares of large equal parts do
	// not swallow small differences.
	d := &deviations{values[n/2], make([]float64, n+1), make([]float64, n+1)}
	for i, v := range values {
		d.sum[i+1] = d.sum[i] + v - d.shift
		d.squares[i+1] = d.squares[i] + sq(v-d.shift)
	}
	return d
}

// of is the sum of squared deviations of the run i..j-1 from its mean.
func (d *deviations) of(i, j int) float64 {
	s := d.sum[j] - d.sum[i]
	return max(d.squares[j]-d.squares[i]-s*s/float64(j-i), 0)
}

// mean is that of the run i..j-1.
func (d *deviations) mean(i, j int) float64 { return d.shift + (d.sum[j]-d.sum[i])/float64(j-i) }

// mostOthers is how many values OtherBreaks looks through: more take a table of
// their covariances of tens of megabytes.
const mostOthers = 2000

// OtherBreaks is another division of ascending values into as many runs as
// starts divides them into, two or three, that is about as natural: of those
// that, by the values' covariance, have one chance in five or more to be the
// better one, that which puts most values into another run, least of them or
// more. It is nil where there is none, and for more values than mostOthers. O(n^2)
// time and memory for three runs.
//
// The sum of squared deviations changes with a value by twice its distance
// from its run's mean, so the difference of two such sums has the variance
// w' C w, with w = 2 (m' - m) of each value, m and m' the means of its runs in the one
// and the other (first order; JCGM 100:2008, 5.1.2).
func OtherBreaks(ascending []float64, covariance func(i, j int) float64, starts []int, least int) (other []int) {
	n, runs := len(ascending), len(starts)+1
	if runs < 2 || runs > 3 || n > mostOthers {
		return nil
	}
	c := &comparison{n: n, runs: runs, deviations: newDeviations(ascending), sums: sumsOf(n, covariance), given: division{n, n, n}}
	copy(c.given[:], starts)
	best, most, lowest := c.cost(&c.given), 0, math.Inf(1)
	try := func(v division) {
		for _, at := range v[:runs-1] {
			if ascending[at] == ascending[at-1] {
				return // never between equals
			}
		}
		more := c.cost(&v) - best
		moved, unsure := c.with(&v)
		if moved >= least && camera.Order(-more, unsure) >= camera.OneInFive && (moved > most || moved == most && more < lowest) {
			other, most, lowest = append(other[:0], v[:runs-1]...), moved, more
		}
	}
	for i := 1; i < n; i++ {
		if runs == 2 {
			try(division{i, n})
		}
		for j := i + 1; j < n && runs == 3; j++ {
			try(division{i, j, n})
		}
	}
	return other
}

// sumsOf are the sums of a covariance of n values over all before i and before j,
// 0 to n each: rows of n+1.
func sumsOf(n int, covariance func(i, j int) float64) []float64 {
	sums := make([]float64, (n+1)*(n+1))
	for i := range n {
		for j := range n {
			c := 0.0
			if j >= i {
				c = covariance(i, j)
			} else { // the other half is the same
				c = sums[(j+1)*(n+1)+i+1] - sums[j*(n+1)+i+1] - sums[(j+1)*(n+1)+i] + sums[j*(n+1)+i]
			}
			sums[(i+1)*(n+1)+j+1] = c + sums[i*(n+1)+j+1] + sums[(i+1)*(n+1)+j] - sums[i*(n+1)+j]
		}
	}
	return sums
}

// division is where the runs end that values are divided into.
type division [3]int

// comparison is of a given division with others of the same values.
type comparison struct {
	n, runs    int
	deviations *deviations
	sums       []float64 // of the covariance, as sumsOf has them
	given      division
}

// cost is the sum of squared deviations from the runs' means.
func (c *comparison) cost(v *division) (sum float64) {
	from := 0
	for _, to := range v[:c.runs] {
		sum += c.deviations.of(from, to)
		from = to
	}
	return sum
}

// with tells how many values lie in another run of v than of the given one, and
// the standard uncertainty of the difference of the two costs.
func (c *comparison) with(v *division) (moved int, unsure float64) {
	type part struct {
		from, to int
		weight   float64
	}
	var parts []part
	var i, j, fromI, fromJ int // runs of the given one and of v
	for at := 0; at < c.n; {
		to := min(c.given[i], v[j])
		parts = append(parts, part{at, to, 2 * (c.deviations.mean(fromI, c.given[i]) - c.deviations.mean(fromJ, v[j]))})
		if i != j {
			moved += to - at
		}
		if c.given[i] == to {
			i, fromI = i+1, to
		}
		if v[j] == to {
			j, fromJ = j+1, to
		}
		at = to
	}
	variance, row := 0.0, c.n+1
	for _, p := range parts {
		for _, q := range parts {
			variance += p.weight * q.weight * (c.sums[p.to*row+q.to] - c.sums[p.from*row+q.to] - c.sums[p.to*row+q.from] + c.sums[p.from*row+q.from])
		}
	}
	return moved, math.Sqrt(max(variance, 0))
}

// Cuts are where Breaks divides lightnesses, given in any order, into at most
// k runs: midway between neighbours, from the lighter cut to the darker.
func Cuts(lightness []float64, k int) []float64 {
	v := slices.Clone(lightness)
	slices.Sort(v)
	return cutsAt(v, Breaks(v, k))
}

// cutsAt are the cuts of ascending values where runs start.
func cutsAt(ascending []float64, starts []int) (cuts []float64) {
	for _, at := range slices.Backward(starts) {
		cuts = append(cuts, (ascending[at-1]+ascending[at])/2)
	}
	return cuts
}

func sq(v float64) float64 { return v * v }
