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

// A speck of ground between two pieces side by side is no part of them, though
// both have a piece's shape with the gap; what fills the gap between two fragments
// is.
func TestNeckBetweenTwoPieces(t *testing.T) {
	const w, h = 200, 120
	s := &search{stand: &stand{w: w, h: h}}
	things := newMask(w, h)
	for i := range things.in {
		x, y := i%w, i/w
		things.in[i] = y >= 20 && y < 100 && (x >= 30 && x < 95 || x >= 103 && x < 170) || x >= 96 && x < 102 && y >= 60 && y < 63
	}
	ps, label := things.parts(1)
	if !assert.Len(t, ps, 3) {
		return
	}
	join := func(y0, y1 int) bool {
		m := newMask(w, h)
		for i := range m.in {
			m.in[i] = i%w >= 95 && i%w < 103 && i/w >= y0 && i/w < y1
		}
		return !neck(s.touched(m, 0, 0, label), ps)
	}
	assert.False(t, join(40, 46))
	assert.True(t, join(22, 98))
}
