package grid

import (
	"fmt"
	"slices"
)

// Joined is a straight set that is not sure without some of its inner lines, where
// nothing shows that a seam lies on them: below[0] is the line between rows 1 and
// 2, right[0] that between columns 1 and 2. Its message tells both readings. Where
// no line goes it is g itself.
func (g *Grid) Joined(hints Hints, below, right []bool) *Grid {
	if g.Found || g.Setting != Straight || !slices.Contains(below, true) && !slices.Contains(right, true) {
		return g
	}
	j := *g
	j.RowLines, j.ColLines = without(g.RowLines, below), without(g.ColLines, right)
	j.Rows, j.Cols = len(j.RowLines)-1, len(j.ColLines)-1
	j.Patches = cellPatches(j.RowLines, j.ColLines)
	j.place()
	j.Messages = slices.Clone(g.Messages)
	both := fmt.Sprintf(" Or it is %d rows and %d columns: so it is if the bars are sewn of several patches of one cloth.", g.Rows, g.Cols)
	if i := slices.Index(j.Messages, g.doubt(hints)); i >= 0 {
		j.Messages[i] = j.doubt(hints) + both
	}
	return &j
}

// without are the lines but those inner ones that go.
func without(lines []float64, gone []bool) []float64 {
	kept := lines[:1:1]
	for i := 1; i < len(lines); i++ {
		if i > len(gone) || !gone[i-1] {
			kept = append(kept, lines[i])
		}
	}
	return kept
}
