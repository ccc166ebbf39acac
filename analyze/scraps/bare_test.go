package scraps

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"greige/colorspace"
)

// A cloth of a mat's own colour hides its lines, with or without a shadow; what
// is between pieces that lie close does not.
func TestClothHidesTheRuling(t *testing.T) {
	base := colorspace.Lab{L: 42, A: -14, B: 6}
	fine := func(x, y int) colorspace.Lab {
		if x%22 == 7 || y%22 == 11 {
			return colorspace.Lab{L: base.L + 18, A: base.A / 2, B: base.B / 2}
		}
		return base
	}
	for _, depth := range []float64{0, .06, .12} { // of its shadow
		b := newTable(800, 600, fine)
		for i := range 3 {
			for j := range 2 {
				b.lay(rect(130+float64(i)*180, 120+float64(j)*110, 165, 90, float64(3*i-2*j)), plainOf(30+20*float64(i), 30, 20-30*float64(j)))
			}
		}
		hides := rect(360, 440, 130, 110, 12)
		b.shade(hides, depth, 4)
		b.cover(hides, plainOf(base.L, base.A, base.B))
		f := Find(b.shoot(), nil, How{Known: true})
		found, extra := b.check(t, f)
		assert.Equal(t, 6, found, "shadow of %v", depth)
		assert.LessOrEqual(t, extra, 1, "shadow of %v", depth)
		best := 0.0
		for _, p := range f.Pieces {
			best = max(best, overlap(hides, p.Outline, b.p.W, b.p.H))
		}
		// Without a shadow or a grain of its own it may as well reach to the next
		// lines.
		assert.Greater(t, best, .7, "shadow of %v", depth)
	}
}

// Lines of which pieces are missing tell nothing of what hides them.
func TestPitchOfLines(t *testing.T) {
	const w, h, apart = 300, 200, 20
	none, lines := newMask(w, h), newMask(w, h)
	for i := range lines.in {
		lines.in[i] = i%w%apart == 3 || i/w%apart == 5
	}
	p, regular := pitch(lines.distances(), none)
	assert.InDelta(t, apart, p, 3)
	assert.True(t, regular)
	for i := range lines.in {
		lines.in[i] = lines.in[i] && hash(i%w/15, i/w/15, 0) > 0
	}
	_, regular = pitch(lines.distances(), none)
	assert.False(t, regular)
}

// A cloth of the mat's colour that covers much of what is open is found, and a
// card that is known is no gap; where lines are lost in pieces nothing is told.
func TestLargeClothIsNoGapInTheRuling(t *testing.T) {
	const w, h, apart = 400, 300, 16
	in := func(i, x0, y0, x1, y1 int) bool {
		return i%w >= x0 && i%w < x1 && i/w >= y0 && i/w < y1
	}
	lay := func(card, patchy bool) []hiding {
		s := &search{stand: &stand{w: w, h: h}}
		lines, things, gone := newMask(w, h), newMask(w, h), newMask(w, h)
		for i := range lines.in {
			things.in[i] = in(i, 30, 40, 120, 130)
			gone.in[i] = card && in(i, 260, 180, 370, 270)
			lines.in[i] = (i%w%apart == 3 || i/w%apart == 5) && !things.in[i] && !gone.in[i] && !in(i, 160, 60, 260, 150)
			lines.in[i] = lines.in[i] && (!patchy || hash(i%w/15, i/w/15, 0) > -.3)
		}
		s.gone = gone
		return s.newMatLines(lines, things).hiding()
	}
	for _, card := range []bool{false, true} {
		found := lay(card, false)
		if assert.Len(t, found, 1, "a card: %v", card) {
			assert.InDelta(t, 100*100, found[0].m.count(), 2500)
		}
	}
	assert.Empty(t, lay(false, true))
}

// By definition, but for what steps of 3 and 4 thirds of a pixel leave.
func TestDistances(t *testing.T) {
	m := newMask(40, 30)
	for _, p := range [][2]int{{5, 5}, {30, 12}, {39, 29}} {
		m.in[p[1]*m.w+p[0]] = true
	}
	for i, d := range m.distances() {
		least := math.Inf(1)
		for j, in := range m.in {
			if in {
				least = min(least, math.Hypot(float64(i%m.w-j%m.w), float64(i/m.w-j/m.w)))
			}
		}
		assert.InDelta(t, least, float64(d)/third, .09*least)
	}
}
