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
