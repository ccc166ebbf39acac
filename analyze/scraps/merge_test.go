package scraps

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// A lamp from one side leaves hardly any shadow in one half of the gap between
// two pieces of one cloth, and a deep one in the other: they are two. Without
// any shadow they are one.
func TestGapInALampFromOneSide(t *testing.T) {
	const w, h, shade = 64, 40, 4
	for _, depth := range []float32{0, 3} {
		s := &search{stand: &stand{w: w, h: h, sd: [3]float64{.5, .5, .5}, dl: make([]float32, w*h), gl: make([]float32, w*h)}, class: make([]uint8, w*h)}
		m := newMask(w, h)
		for y := 8; y < 32; y++ {
			for x := 6; x < 58; x++ {
				m.in[y*w+x] = x < 24 || x >= 36
				if x >= 24 && x < 30 {
					s.dl[y*w+x] = -depth
				}
			}
		}
		ps := m.list(1)
		assert.Equal(t, depth == 0, s.bridged(&ps[0], &ps[1], 12, shade), "a shadow of %v", depth)
		assert.Equal(t, depth == 0, s.bridged(&ps[1], &ps[0], 12, shade), "a shadow of %v", depth)
	}
}
