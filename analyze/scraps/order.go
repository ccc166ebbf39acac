package scraps

import (
	"cmp"
	"math"
	"slices"

	"greige/analyze/fit"
)

// readingOrder is the order in which a person counts things that lie at
// places and are as high as heights: in rows from the top, each from the left,
// although the rows are neither straight nor quite level. Rows are the runs of
// places, from top to bottom, whose squared distances from their rows' middles
// add up to least together with a price for each row; the picture is turned
// by the few degrees that make this least.
func readingOrder(places []point, heights []float64) []int {
	n := len(places)
	if n == 0 {
		return nil
	}
	h := fit.Median(slices.Clone(heights))
	price := math.Sqrt(float64(n)) * sq(.35*h)
	best := math.Inf(1)
	var order []int
	for _, turn := range [...]float64{0, 1, -1, 2, -2, 3, -3, 4, -4, 6, -6, 8, -8} {
		s, c := math.Sincos(turn * math.Pi / 180)
		turned := make([]point, n)
		for i, p := range places {
			turned[i] = point{c*p[0] - s*p[1], s*p[0] + c*p[1]}
		}
		rows, cost := rowsOf(turned, price)
		// Level is likelier: each degree must save a twentieth of a row.
		if cost += math.Abs(turn) * price / 20; cost < best {
			best = cost
			order = order[:0]
			for _, row := range rows {
				slices.SortStableFunc(row, func(i, j int) int { return cmp.Compare(turned[i][0], turned[j][0]) })
				order = append(order, row...)
			}
		}
	}
	return order
}

// rowsOf divides places into rows at the least cost.
func rowsOf(places []point, price float64) (rows [][]int, cost float64) {
	n := len(places)
	down := make([]int, n)
	for i := range down {
		down[i] = i
	}
	slices.SortStableFunc(down, func(i, j int) int { return cmp.Compare(places[i][1], places[j][1]) })
	least, from := make([]float64, n+1), make([]int, n+1)
	for j := 1; j <= n; j++ {
		least[j] = math.Inf(1)
		var sum, square float64
		base := places[down[j-1]][1]
		for i := j - 1; i >= 0; i-- {
			y := places[down[i]][1] - base
			sum += y
			square += y * y
			c := least[i] + price + max(square-sum*sum/float64(j-i), 0)
			if c < least[j] {
				least[j], from[j] = c, i
			}
		}
	}
	for j := n; j > 0; j = from[j] {
		rows = append(rows, slices.Clone(down[from[j]:j]))
	}
	slices.Reverse(rows)
	return rows, least[n]
}
