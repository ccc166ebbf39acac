package scraps

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// Growing, shrinking and running means by the definition, pixel by pixel.
func TestSquaresByDefinition(t *testing.T) {
	const w, h = 137, 21
	m := newMask(w, h)
	v := make([][4]float32, w*h)
	for i := range m.in {
		m.in[i] = hash(i%w, i/w, 1) > .3
		v[i] = [4]float32{float32(hash(i%w, i/w, 2)), 1, float32(i % w), float32(i / w)}
	}
	for _, r := range []int{1, 2, 3, 7, 32, 40} {
		grown, shrunk, mean := m.grown(r), m.shrunk(r), runningMean(v, w, h, r)
		for i := range m.in {
			any, all := false, true
			var sum [4]float64
			for y := max(i/w-r, 0); y <= min(i/w+r, h-1); y++ {
				for x := max(i%w-r, 0); x <= min(i%w+r, w-1); x++ {
					any, all = any || m.in[y*w+x], all && m.in[y*w+x]
					for k, c := range v[y*w+x] {
						sum[k] += float64(c)
					}
				}
			}
			assert.Equal(t, any, grown.in[i])
			assert.Equal(t, all, shrunk.in[i])
			for k := range sum {
				assert.InDelta(t, sum[k]/sq(float64(2*r+1)), float64(mean[i][k]), 1e-3)
			}
		}
	}
}
