package grid

import "math"

// lineWorths are what the seams inside the top are worth on the whole and on
// the line that is seen worst: in a straight set the lines of the rows and of
// the columns, on point the diagonals.
func (n *net) lineWorths() (all, worst float64) {
	type key struct{ family, line int }
	sum, count := map[key]float64{}, map[key]float64{}
	at := make([]float64, len(n.seams))
	inRows(len(n.seams), func(k0, k1 int) {
		for k := k0; k < k1; k++ {
			if s := n.seams[k]; !s.outer {
				at[k] = worth(n.f.contrast(n.node[s.from], n.node[s.to], min(s.left, s.right)))
			}
		}
	})
	total, number := 0.0, 0.0
	for k, s := range n.seams {
		if s.outer {
			continue
		}
		i, j := s.from%n.w, s.from/n.w
		di, dj := s.to%n.w-i, s.to/n.w-j
		var l key
		switch {
		case di == 0:
			l = key{0, i}
		case dj == 0:
			l = key{1, j}
		case di == dj:
			l = key{2, i - j}
		default:
			l = key{3, i + j}
		}
		sum[l] += at[k]
		count[l]++
		total += at[k]
		number++
	}
	worst = math.Inf(1)
	for l, v := range sum {
		worst = min(worst, v/count[l])
	}
	return total / max(number, 1), worst
}
