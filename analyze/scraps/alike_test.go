package scraps

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// The ground between pieces follows their edges, nearer than pieces are laid;
// a cloth among pieces, or with figures of its own all round, does not.
func TestNook(t *testing.T) {
	s := &search{stand: &stand{w: 800, h: 600}}
	lay := func(gap, deep int) bool { // round a square of 60 pixels
		m, around := newMask(s.w, s.h), newMask(s.w, s.h)
		for i := range m.in {
			x, y := i%s.w, i/s.w
			m.in[i] = x >= 300 && x < 360 && y >= 200 && y < 260
			side := x >= 300 && x < 360 && (y < 200-gap && y >= 200-gap-deep || y >= 260+gap && y < 260+gap+deep)
			end := y >= 200 && y < 260 && x >= 360+gap && x < 360+gap+deep
			around.in[i] = side || end
		}
		ps, label := around.parts(1)
		require.Len(t, ps, 3)
		return s.nook(m, 0, 0, ps, label)
	}
	require.True(t, lay(3, 50))
	require.False(t, lay(8, 50), "a piece among pieces")
	require.False(t, lay(3, 10), "figures of its own")
}

// Open ground that lies among the shadows of three pieces is dark all round
// and is no piece; a piece casts its own shadow, where no other's reaches.
func TestGroundAmongShadows(t *testing.T) {
	const w, h, reach, deep = 200, 150, 7, 2
	s := &search{stand: &stand{w: w, h: h, dl: make([]float32, w*h)}, class: make([]uint8, w*h), reach: reach}
	inside := func(x, y, x0, y0, x1, y1 int) bool { return x >= x0 && x < x1 && y >= y0 && y < y1 }
	ground, things := newMask(w, h), newMask(w, h)
	for i := range things.in {
		x, y := i%w, i/w
		ground.in[i] = inside(x, y, 86, 66, 114, 94)
		things.in[i] = inside(x, y, 40, 40, 80, 120) || inside(x, y, 120, 40, 160, 120) || inside(x, y, 80, 20, 120, 60)
	}
	_, label := things.parts(1)
	shadow := func(of *mask) {
		around := of.grown(reach)
		for i := range s.dl {
			s.dl[i] = 0
			if around.in[i] && !of.in[i] {
				s.dl[i] = -deep
			}
		}
	}
	shadow(things)
	require.True(t, s.inShadow(ground, 0, 0, label, deep/2, nil), "it is dark all round")
	require.False(t, s.inShadow(ground, 0, 0, label, deep/2, things), "by the others' shadows")
	lone, none := newMask(w, h), make([]int32, w*h)
	shadow(ground)
	require.True(t, s.inShadow(ground, 0, 0, none, deep/2, lone), "a piece with a shadow of its own")
}

// Open ground between pieces makes no piece of them, and a part of one's ground
// between its figures does.
func TestGroundJoinsNoPieces(t *testing.T) {
	const w, h = 300, 200
	s := &search{stand: &stand{w: w, h: h}}
	lay := func(deep int) bool {
		m, things := newMask(w, h), newMask(w, h)
		for i := range m.in {
			x, y := i%w, i/w
			m.in[i] = x >= 100 && x < 160 && y >= 110 && y < 170
			left := x >= 99-deep && x < 99 && y >= 110 && y < 170
			above := y >= 109-deep && y < 109 && x >= 100 && x < 160
			things.in[i] = left || above
		}
		ps, label := things.parts(1)
		require.Len(t, ps, 2)
		return s.joins(m, 0, 0, ps, label)
	}
	require.True(t, lay(90), "two pieces at its sides")
	require.False(t, lay(8), "figures along its sides")
}
