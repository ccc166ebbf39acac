package light

import (
	"image"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"greige/colorspace"
)

// No step changes what it is made from: an Even is the same after all that gives
// another one.
func TestStagesDoNotChange(t *testing.T) {
	patches, surface := sewn(func(r, c int) colorspace.Lab { return fiveCloths[(2*r+c)%5] })
	p := shot(surface, bulb(2, colorspace.Linear{.6, .6, .6}))
	e := evened(t, p, Options{}, Top)
	before, field := *e, *e.fit
	pix := slices.Clone(e.Picture.Pix)
	level := e.LevelTop(outlines(patches))
	require.NotSame(t, e, level)
	levelled := slices.Clone(level.Picture.Pix)
	stands := level.Stand(Exposure{Group: 1, Gain: .5, Known: true})
	require.NotSame(t, level, stands)
	require.InDelta(t, .5*level.Picture.At(50, 50).Y(), stands.Picture.At(50, 50).Y(), 1e-6)
	without, ok := stands.WithoutCast()
	require.True(t, ok)
	require.Nil(t, without.left.cast)
	require.NotNil(t, stands.left.cast)
	require.Equal(t, OneCloth, e.As(OneCloth).fit.hint)
	require.Equal(t, before, *e)
	require.Equal(t, field, *e.fit)
	require.Equal(t, pix, e.Picture.Pix)
	require.Equal(t, levelled, level.Picture.Pix)
	require.Equal(t, "none", e.Record.Method)
	require.Equal(t, "repeated cloths", level.Record.Method)
}

// Whoever looks is shown each stage that there is.
func TestStagesAreShown(t *testing.T) {
	var stages []string
	look := func(stage string, picture image.Image) {
		require.False(t, picture.Bounds().Empty(), stage)
		stages = append(stages, stage)
	}
	evened(t, shot(lay(table(), on(colorspace.Lab{L: 95})), bulb(1.5, colorspace.Linear{.6, .6, .6})), Options{Look: look}, ScrapsOnGround)
	require.Equal(t, []string{"light: cells", "light: ground", "light: field"}, stages)
}

// What runs along the rim and leaves the middle is the margin of a top; a table is seen
// between its scraps; a surface that fills the photo is neither.
func TestWorthOfASurface(t *testing.T) {
	c := reduce(shot(on(colorspace.Lab{L: 60}), even).Picture)
	masked := func(in func(x, y int) bool) *backing {
		b := &backing{member: make([]bool, c.w*c.h)}
		for i := range b.member {
			b.member[i] = in(i%c.w, i/c.w)
		}
		b.area, b.border = share(b.member), c.rimShare(b.member)
		return b
	}
	margin := masked(func(x, y int) bool { return min(x, y, c.w-1-x, c.h-1-y) < 8 })
	table := masked(func(x, y int) bool { return x%40 < 15 || y%40 < 15 })
	whole := masked(func(x, y int) bool { return true })
	corner := masked(func(x, y int) bool { return x < 30 && y < 30 })
	require.Positive(t, margin.worth(c, Top))
	require.Zero(t, table.worth(c, Top), "it is in the middle too")
	require.Positive(t, table.worth(c, ScrapsOnGround))
	require.Zero(t, whole.worth(c, Top))
	require.Zero(t, whole.worth(c, Unknown))
	for _, hint := range []Hint{Top, ScrapsOnGround, Unknown} {
		require.Zero(t, corner.worth(c, hint), hint)
	}
}
