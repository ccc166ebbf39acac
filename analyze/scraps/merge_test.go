package scraps

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"greige/colorspace"
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

// Broad stripes of the ground's colour, as dark as it can be right beside a
// piece, are a cloth's own where no shadow is as dark; two pieces of that cloth
// whose shadows meet stay two.
func TestStripesDarkerThanShadows(t *testing.T) {
	stripes := func(x, y int) colorspace.Lab {
		if y%40 < 12 {
			return colorspace.Lab{L: 72}
		}
		return colorspace.Lab{L: 85, A: -14, B: -10}
	}
	b := newTable(800, 600, sheet)
	b.lay(rect(200, 200, 240, 200, 0), stripes)
	b.lay(rect(480, 200, 200, 200, 0), plainOf(85, -14, -10))
	b.lay(rect(692, 200, 200, 200, 0), plainOf(85, -14, -10)) // 12 pixels apart
	b.lay(rect(400, 450, 600, 150, 0), plainOf(40, 20, 10))
	found, extra := b.check(t, Find(b.shoot(), nil, How{}))
	assert.Equal(t, 4, found)
	assert.Zero(t, extra)
}

// What lies within a ring is not what it is made of: one looks through it also
// when a speck in it is joined to it.
func TestOneLooksThroughAJoinedRing(t *testing.T) {
	const w, h = 800, 60
	s := &search{stand: &stand{w: w, h: h, dl: make([]float32, w*h), da: make([]float32, w*h), db: make([]float32, w*h)}, class: make([]uint8, w*h), least: 1}
	things := newMask(w, h)
	for i := range things.in {
		x, y := i%w, i/w
		side := max(max(x-30, 30-x), max(y-30, 30-y)) // pixels from the middle of a square ring
		speck := max(max(x-30, 30-x), max(y-22, 22-y)) <= 3
		beside := x >= 53 && x < 75 && y >= 10 && y < 50
		things.in[i] = side >= 15 && side <= 20 || speck || beside
	}
	ps, label := things.parts(1)
	require.Len(t, ps, 3)
	before := things.in[30*w+30]
	ps, _ = s.mergeNarrow(things, ps, label)
	assert.False(t, before)
	assert.False(t, things.in[30*w+30], "the ring is open")
	assert.True(t, things.in[30*w+51], "what lies beside it is joined to it")
	assert.Len(t, ps, 2)
}
