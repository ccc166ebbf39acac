package layout

import (
	"fmt"
	"math"
	"slices"
)

// maxOther is the longest side of a repeat that has no name, in patches.
const maxOther = 8

// comesAgain is how many times over a top shows a repeat that has no name, the
// parts of it added up; along each side it shows one and a half of them.
const comesAgain = 4

// others are repeats without a name: for each size of tile, straight or with
// every second one dropped by half, the tile whose tones follow from the
// patches themselves. Each tone that has to be said lengthens the message, so
// that such a repeat has to come often enough to be believed.
func (f *fitter) others() []repeat {
	var out []repeat
	for rows := 1; rows <= min(maxOther, 2*f.t.rows/3); rows++ {
		for cols := 1; cols <= min(maxOther, 2*f.t.cols/3); cols++ {
			if rows*cols == 1 || f.t.rows*f.t.cols < comesAgain*rows*cols {
				continue
			}
			out = append(out, f.otherOf(rows, cols, false)...)
			if rows%2 == 0 && cols%2 == 0 {
				out = append(out, f.otherOf(rows, cols, true)...)
			}
		}
	}
	sizes := float64(maxOther*maxOther) * 1.25
	for i := range out {
		out[i].cost += logInv(usualOther) + math.Log(sizes)
		if slices.Contains(out[i].tile, toneMedium) {
			out[i].cost += logInv(usualMediums)
		}
		out[i].fixed = true
	}
	return out
}

// otherOf are the two-valued and the three-valued tile of one size.
func (f *fitter) otherOf(rows, cols int, dropped bool) []repeat {
	placeOf := func(row, col int) int {
		row, col = row%rows, col%cols
		if dropped && row >= rows/2 {
			row, col = row-rows/2, (col+cols/2)%cols
		}
		return row*cols + col
	}
	values := make([][]float64, rows*cols)
	for _, i := range f.counted {
		p := &f.t.patches[i]
		k := placeOf(p.Row-1, p.Col-1)
		values[k] = append(values[k], p.Lightness)
	}
	var middles []float64 // of the places of the tile that occur
	for _, v := range values {
		if len(v) > 0 {
			middles = append(middles, median(v))
		}
	}
	slices.Sort(middles)
	var out []repeat
	for _, n := range []int{2, 3} {
		if len(middles) < n+1 && n == 3 || len(middles) < 2 {
			continue
		}
		cuts := breaks(middles, n)
		r := repeat{name: fmt.Sprintf("a repeat of %d by %d patches", rows, cols), rows: rows, cols: cols,
			tile: make([]tone, rows*cols), block: [2]int{rows, cols}, least: [2]int{(3*rows + 1) / 2, (3*cols + 1) / 2},
			cost: float64(len(middles)) * math.Log(float64(n))}
		for i := range r.tile {
			k := placeOf(i/cols, i%cols)
			if len(values[k]) == 0 {
				continue // anything
			}
			m := median(values[k])
			switch {
			case m >= cuts[len(cuts)-1]:
				r.tile[i] = toneLight
			case m >= cuts[0]:
				r.tile[i] = toneMedium
			default:
				r.tile[i] = toneDark
			}
		}
		if hasBoth(r.tile) {
			out = append(out, r)
		}
	}
	return out
}

// breaks cuts ascending values into n (2 or 3) groups with the least squares
// within them, and returns the first value of each group but the lowest.
func breaks(v []float64, n int) []float64 {
	sum, square := make([]float64, len(v)+1), make([]float64, len(v)+1)
	for i, x := range v {
		sum[i+1], square[i+1] = sum[i]+x, square[i]+x*x
	}
	within := func(from, to int) float64 {
		s := sum[to] - sum[from]
		return square[to] - square[from] - s*s/float64(to-from)
	}
	best := math.Inf(1)
	var cuts []float64
	for i := 1; i < len(v); i++ {
		if n == 2 {
			if w := within(0, i) + within(i, len(v)); w < best {
				best, cuts = w, []float64{v[i]}
			}
			continue
		}
		for j := i + 1; j < len(v); j++ {
			if w := within(0, i) + within(i, j) + within(j, len(v)); w < best {
				best, cuts = w, []float64{v[i], v[j]}
			}
		}
	}
	return cuts
}

// median of the values, which are put in order; 0 for none.
func median(v []float64) float64 {
	if len(v) == 0 {
		return 0
	}
	slices.Sort(v)
	if n := len(v); n%2 == 0 {
		return (v[n/2-1] + v[n/2]) / 2
	}
	return v[len(v)/2]
}
