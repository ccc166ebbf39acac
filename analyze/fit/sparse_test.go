package fit_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"greige/analyze/fit"
)

// The sparse solver finds what the dense normal equations do: a chain of unknowns, each
// with a value of its own, that are to differ little from their neighbours.
func TestSparseAgreesWithNormal(t *testing.T) {
	const n = 12
	rows := fit.NewNormal(n)
	var terms []fit.Term
	add := func(value, weight float64, of ...int) {
		term := fit.Term{Value: value, Weight: weight}
		row := make([]float64, n)
		for k, i := range of {
			by := []float64{1, -2, 1}[k]
			term.Of[k], term.By[k], row[i] = i, by, by
		}
		terms = append(terms, term)
		rows.Add(row, value, weight)
	}
	for i := range n {
		add(float64(i*i%7), 1+float64(i%3), i)
		if i >= 2 {
			add(.1, 5, i-2, i-1, i)
		}
	}
	want, err := rows.Solve(nil)
	require.NoError(t, err)
	got := make([]float64, n)
	fit.Sparse(got, terms)
	assert.InDeltaSlice(t, want, got, 1e-3)
	assert.InDelta(t, want[0]-2*want[1]+want[2], terms[3].At(want), 1e-9)
}
