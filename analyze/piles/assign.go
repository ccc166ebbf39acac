package piles

import "math"

// assign gives each row of a matrix of costs (0 and up; +Inf: not allowed) a
// column of its own, or -1: as many rows as can have one and, of all such
// assignments, one with the least sum. The optimum is exact (Kuhn 1955, Nav.
// Res. Logist. Q. 2:83; Munkres 1957, J. SIAM 5:32; by shortest augmenting
// paths). Of equal ones it always gives the same. O(n^3) time.
func assign(cost [][]float64) []int {
	rows := len(cost)
	if rows == 0 {
		return nil
	}
	// A column for each row to stand alone at a cost that no sum of others
	// reaches, so that as few as possible do.
	alone := 1.0
	for _, row := range cost {
		most := 0.0
		for _, c := range row {
			if !math.IsInf(c, 1) {
				most = max(most, c)
			}
		}
		alone += most
	}
	given := len(cost[0])
	cols := given + rows
	at := func(i, j int) float64 {
		switch {
		case j < given:
			return cost[i][j]
		case j == given+i:
			return alone
		}
		return math.Inf(1)
	}
	// Potentials of rows and columns; rowOf[j] is the row of column j. Rows
	// and columns count from 1, column 0 is the row being placed.
	u, v := make([]float64, rows+1), make([]float64, cols+1)
	rowOf := make([]int, cols+1)
	for i := 1; i <= rows; i++ {
		rowOf[0] = i
		least, from := make([]float64, cols+1), make([]int, cols+1)
		for j := range least {
			least[j] = math.Inf(1)
		}
		done := make([]bool, cols+1)
		j0 := 0
		for rowOf[j0] != 0 {
			done[j0] = true
			r, delta, next := rowOf[j0], math.Inf(1), 0
			for j := 1; j <= cols; j++ {
				if done[j] {
					continue
				}
				if c := at(r-1, j-1) - u[r] - v[j]; c < least[j] {
					least[j], from[j] = c, j0
				}
				if least[j] < delta {
					delta, next = least[j], j
				}
			}
			for j := range done {
				if done[j] {
					u[rowOf[j]] += delta
					v[j] -= delta
				} else {
					least[j] -= delta
				}
			}
			j0 = next
		}
		for j0 != 0 {
			rowOf[j0] = rowOf[from[j0]]
			j0 = from[j0]
		}
	}
	out := make([]int, rows)
	for i := range out {
		out[i] = -1
	}
	for j := 1; j <= given; j++ {
		if rowOf[j] > 0 {
			out[rowOf[j]-1] = j - 1
		}
	}
	return out
}
