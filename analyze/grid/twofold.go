package grid

import (
	"math"
	"slices"

	"greige/analyze/fit"
)

const (
	// crossed is the mean likelihood of an observation from which a line that goes across
	// a whole row is plain: twice as likely there as not.
	crossed = math.Ln2
	// acrossRows, acrossCols and acrossAt are of how many rows, in how many patches of
	// each and at how many heights in it such a line is looked for: enough for a median, a
	// mean, and places that a line lies within a thirtieth of a patch of.
	acrossRows, acrossCols, acrossAt = 8, 16, 11
)

// twofold is whether a line goes plainly across the first or the last row or column,
// as none does across most of the others. Then that is none, but part of one and part of
// what lies beyond: where a bent edge of the top passes for a row more.
func (r *guess) twofold(t *tones) bool {
	if r.point != nil {
		return false
	}
	n := r.mesh()
	return n.endsTwofold(t, n.w, n.h, func(i, j int) Point { return n.node[j*n.w+i] }) ||
		n.endsTwofold(t, n.h, n.w, func(i, j int) Point { return n.node[i*n.w+j] })
}

// endsTwofold is twofold for the rows of a mesh of h lines and w places on each.
func (n *mesh) endsTwofold(t *tones, w, h int, at func(i, j int) Point) bool {
	var across []float64
	for k := range min(h-1, acrossRows) {
		j := k * (h - 2) / max(min(h-1, acrossRows)-1, 1)
		most := math.Inf(-1)
		for place := range acrossAt {
			share := .2 + .6*float64(place)/(acrossAt-1) // .2: nearer lies what is the row's own line
			sum, seen := 0.0, min(w-1, acrossCols)
			for c := range seen {
				i := c * (w - 1) / seen
				a, b, c, d := at(i, j), at(i, j+1), at(i+1, j), at(i+1, j+1)
				high := math.Hypot(b[0]-a[0], b[1]-a[1])
				line := &mesh{f: n.f, w: 2, h: 1, node: []Point{between(a, b, share), between(c, d, share)}}
				sum += line.stretch(seam{from: 0, to: 1, left: high, right: high}, t).llr(usually)
			}
			most = max(most, sum/float64(seen))
		}
		across = append(across, most)
	}
	if len(across) < 4 { // of three the two outer ones are most
		return false
	}
	usual, ends := fit.Median(slices.Clone(across)), max(across[0], across[len(across)-1])
	return ends > crossed && usual < 0
}
