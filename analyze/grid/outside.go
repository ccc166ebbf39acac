package grid

import "math"

func (n *mesh) apart(a, b int) float64 {
	return math.Hypot(n.node[a][0]-n.node[b][0], n.node[a][1]-n.node[b][1])
}

// strips tells of each row or column between lines whether it is sashing.
func strips(lines []float64) []bool {
	patch := (lines[len(lines)-1] - lines[0]) / patchesAlong(lines)
	out := make([]bool, len(lines)-1)
	for i := range out {
		out[i] = lines[i+1]-lines[i] < .5*(1+mostSash)*.93*patch
	}
	return out
}
