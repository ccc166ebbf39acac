package scraps

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// A block of 16 pixels of the photo is coded by itself (ITU-T T.81: 8 x 8
// samples of colour that is kept at half the resolution), so what is strong in
// one rings nowhere else.
func TestStrongestStaysInItsBlock(t *testing.T) {
	o := &stand{w: 40, h: 24, blocks: blocks{side: 2}}
	o.da, o.db = make([]float32, o.w*o.h), make([]float32, o.w*o.h)
	o.da[9*o.w+15] = -30 / colourRings // in the block of columns and rows 8 to 15
	// By pixel, how much strong colours within r of it may have rung.
	rung := func(r int) (at []float32) {
		g := o.ringing(o.strengths(), r)
		for y := range o.h {
			g.goTo(y)
			at = append(at, g.most...)
		}
		return at
	}
	at := rung(0)
	for y := range o.h {
		for x := range o.w {
			want := float32(0)
			if x >= 8 && x < 16 && y >= 8 && y < 16 {
				want = 30
			}
			require.Equal(t, want, at[y*o.w+x], "%d %d", x, y)
		}
	}
	// A mean over squares has what rang into any pixel of them.
	require.EqualValues(t, 30, rung(2)[9*o.w+17])
	require.EqualValues(t, 0, rung(2)[9*o.w+18])
	// Where the blocks may lie off, so may what rings.
	o.blocks.off = 15
	at = rung(0)
	require.EqualValues(t, 30, at[9*o.w+22])
	require.EqualValues(t, 0, at[9*o.w+24])
	// Blocks that pixels straddle ring into both.
	o.blocks = blocks{side: 3}
	at = rung(0) // pixels 10 to 15 and 5 to 10 have parts of the blocks from 32 and from 16
	require.EqualValues(t, 30, at[9*o.w+10])
	require.EqualValues(t, 0, at[9*o.w+9])
}

// What may have rung is taken off where the open ground lies, and no further
// than it rings; as weak a colour within a piece stays.
func TestUnringFromTheGround(t *testing.T) {
	s := &search{stand: &stand{w: 100, h: 60, blocks: blocks{side: 2}}}
	s.class, s.rung = make([]uint8, s.w*s.h), make([]uint8, s.w*s.h)
	differ := newMask(s.w, s.h)
	fill := func(x0, y0, x1, y1 int, class, rung uint8) {
		for y := y0; y < y1; y++ {
			for x := x0; x < x1; x++ {
				i := y*s.w + x
				s.class[i], s.rung[i], differ.in[i] = class, rung, class == other
			}
		}
	}
	fill(20, 20, 60, 40, other, other)
	fill(30, 25, 40, 35, other, plain) // weak, within
	fill(32, 27, 36, 31, plain, plain) // of the ground's colour, within
	fill(60, 22, 66, 38, other, plain) // rang into the ground
	fill(70, 10, 95, 50, other, plain) // a weak cloth near nothing else
	s.unring(differ)
	require.True(t, differ.in[30*s.w+30] && differ.in[27*s.w+31], "within")
	require.True(t, differ.in[30*s.w+59])
	for x := 60; x < 66; x++ {
		require.False(t, differ.in[30*s.w+x], "%d", x)
		require.EqualValues(t, plain, s.class[30*s.w+x])
	}
	require.False(t, differ.in[30*s.w+70+s.blocks.reach()-1])
	require.True(t, differ.in[30*s.w+70+s.blocks.reach()], "further than it rings")
}
