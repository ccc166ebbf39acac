package photo

import (
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestBandsDoEveryRowOnce(t *testing.T) {
	for _, n := range []int{0, 1, 7, 64, 1000} {
		for _, band := range []int{1, 7, 64, 5000} {
			rows := make([]atomic.Int32, n)
			Bands(n, band, func(from, to int) {
				for y := from; y < to; y++ {
					rows[y].Add(1)
				}
			})
			for y := range rows {
				assert.EqualValues(t, 1, rows[y].Load())
			}
		}
	}
	// A fault on any processor is one in the caller, who may be guarded.
	assert.PanicsWithValue(t, "a fault", func() {
		Bands(1000, 1, func(from, _ int) {
			if from == 500 {
				panic("a fault")
			}
		})
	})
}
