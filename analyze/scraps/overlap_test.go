package scraps

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// Two parts whose outlines lie over each other are one cloth, and its outline
// is that of both; what lies apart stays so, and a hole a hole.
func TestJoinOverlapping(t *testing.T) {
	b := newTable(400, 300, plainOf(90, 0, 0))
	cloth, beside := rect(150, 150, 200, 120, 4), rect(320, 150, 90, 120, 0)
	b.lay(cloth, plainOf(45, 30, 10))
	b.lay(beside, plainOf(45, 30, 10))
	e := b.shoot()
	sm := reduce(e.Picture, nil, searchSide)
	c := sm.cells()
	g := c.findGround(nil)
	s := newSearch(sm, c, g)
	left, right := rect(110, 150, 130, 116, 4), rect(190, 152, 110, 116, 4)
	label := make([]int32, s.w*s.h)
	var ps []part
	outlines := [][]point{left, right, beside}
	for k, o := range outlines {
		m := newMask(s.w, s.h)
		for i := range m.in {
			if x, y := i%s.w, i/s.w; k == 0 && x >= 90 && x < 110 && y >= 140 && y < 160 {
				continue // a hole in it
			}
			if label[i] == 0 && holds(o, point{float64(i%s.w) + .5, float64(i/s.w) + .5}) {
				m.in[i], label[i] = true, int32(k)+1
			}
		}
		p := m.list(1)
		ps = append(ps, p...)
	}
	require.Len(t, ps, 3)
	joint, edge := s.joinOverlapping(sm, newEdges(e.Picture, sm, c, g), ps, label, outlines)
	require.Len(t, joint, 2)
	require.Greater(t, overlap(edge[0], cloth, s.w, s.h), .95)
	require.Equal(t, beside, edge[1])
	filled, _, _ := joint[0].fill(s.w, 1)
	hole, _ := joint[0].holes(filled, s.w)
	require.InDelta(t, 400/(200.*120), hole, .005)
	for i, l := range label {
		if l > 0 {
			require.Equal(t, holds(beside, point{float64(i%s.w) + .5, float64(i/s.w) + .5}), l == 2)
		}
	}
}
