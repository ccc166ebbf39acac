package scraps

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"greige/analyze/cloth"
	"greige/colorspace"
)

// A print whose ground is nearly the sheet's colour has bays in its side where
// no figure lies; a scrap out of which a corner or a notch was cut has some too.
// On a plain ground the first is told by its colour, on a carpet by its evenness;
// the second, which is the ground itself in the shadow of the cloth, never.
func TestBaysOfAPrintAreClothAndNotchesAreNot(t *testing.T) {
	for name, c := range map[string]struct {
		ground paint
		base   colorspace.Lab
	}{
		"plain": {func(x, y int) colorspace.Lab { return colorspace.Lab{L: 60 + .5*hash(x, y, 1), A: -4, B: 5} }, colorspace.Lab{L: 60, A: -4, B: 7.2}},
		"carpet": {func(x, y int) colorspace.Lab {
			// Grain of pixels and of tufts.
			return colorspace.Lab{L: 45 + 3*hash(x, y, 1) + 4*hash(x/3, y/3, 2), A: 2, B: 1}
		}, colorspace.Lab{L: 45, A: 2, B: 1}},
	} {
		b := newTable(640, 480, c.ground)
		print := rect(170, 130, 150, 100, 8)
		inside := cloth.Polygon(print, 640, 480)
		b.lay(print, func(x, y int) colorspace.Lab {
			// Figures all over the left and in two corners of the right.
			if x < 165 || x > 180 && (y < 110 || y > 155) {
				return colorspace.Lab{L: 35, A: 40, B: 20}
			}
			return colorspace.Lab{L: c.base.L + .5*hash(x, y, 3), A: c.base.A, B: c.base.B}
		})
		notched := []point{{380, 80}, {540, 80}, {540, 190}, {490, 190}, {490, 130}, {430, 130}, {430, 190}, {380, 190}}
		b.lay(notched, plainOf(70, 10, -30))
		for i := range 6 {
			b.lay(rect(90+float64(i)*95, 370, 60, 70, float64(5*i)), plainOf(25+9*float64(i), 20, -30+9*float64(i)))
		}
		e := b.shoot()
		sm := reduce(e.Picture, nil, searchSide)
		cells := sm.cells()
		s := newSearch(sm, cells, cells.findGround(nil))
		things := s.things()
		missing := func() (n float64) {
			for i, w := range inside.Weight {
				if x, y := inside.Bounds.Min.X+i%inside.Bounds.Dx(), inside.Bounds.Min.Y+i/inside.Bounds.Dx(); w == 1 && !things.in[y*640+x] {
					n++
				}
			}
			return n
		}
		before, all := missing(), things.count()
		assert.Greater(t, before, 1500., name)
		ps, label := things.parts(s.least)
		assert.True(t, s.complete(things, ps, label), name)
		gained := before - missing()
		assert.Greater(t, gained, .8*before, name)
		assert.Less(t, things.count()-all-gained, .1*gained, "%s: painted beside the print", name)
		found, extra := b.check(t, Find(e, nil, How{Known: true}))
		assert.Equal(t, 8, found, name)
		assert.Zero(t, extra, name)
	}
}
