package scraps

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// A place that others' shadows surround is open ground, also when it touches
// one of them; a piece by itself is not, nor is the ground of a print whose
// figures lie all round.
func TestPlaceAmongShadows(t *testing.T) {
	const w, h, reach = 200, 200, 10
	s := &search{stand: &stand{w: w, h: h}, reach: reach}
	m := newMask(w, h)
	for i := range m.in {
		m.in[i] = i%w >= 90 && i%w < 110 && i/w >= 90 && i/w < 110
	}
	among := func(gap, sides int) bool { // things 30 pixels deep round it
		things := newMask(w, h)
		for i := range things.in {
			x, y := i%w, i/w
			things.in[i] = y < 90-gap && y >= 60-gap && sides > 0 || y >= 110+gap && y < 140+gap && sides > 1 ||
				x < 90-gap && x >= 60-gap && sides > 2 || x >= 110+gap && x < 140+gap && sides > 3
		}
		return s.amongShadows(m, 0, 0, things)
	}
	assert.True(t, among(5, 4))
	assert.False(t, among(5, 1), "most of it is free")
	assert.False(t, among(20, 4), "no shadow reaches as far")
	assert.False(t, among(1, 4), "figures all round")
	assert.False(t, among(0, 0))
}
