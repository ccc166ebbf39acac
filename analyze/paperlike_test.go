package analyze

import (
	"testing"

	"github.com/stretchr/testify/require"

	"greige/analyze/photo"
	"greige/analyze/piles"
	"greige/analyze/scraps"
	"greige/colorspace"
)

// Only something lighter than most cloth can be taken for paper or a card: a
// near-black, slate or grey-green solid that was cut straight is cloth.
func TestPlainDarkRectanglesAreCloth(t *testing.T) {
	p := photo.New(100, 100)
	var pieces []scraps.Piece
	lay := func(lightness, x, y float64, note string) {
		o := square(x, y, 15)
		s := scraps.Piece{Outline: o, Region: scraps.Inside(o, 100, 100), Doubtful: note != "", Note: note}
		c := colorspace.Lab{L: lightness}.Linear()
		for v := int(y); v < int(y)+15; v++ {
			for u := int(x); u < int(x)+15; u++ {
				for k := range c {
					p.Pix[3*(v*100+u)+k] = float32(c[k])
				}
			}
		}
		pieces = append(pieces, s)
	}
	const paper = "a plain rectangle without colour: it may be paper or a card"
	for i, l := range []float64{85, 70, 55, 30, 20} {
		lay(l, float64(i)*20, 0, "")
	}
	lay(12, 0, 30, paper)
	lay(45, 20, 30, paper)
	lay(96, 40, 30, paper)
	lay(12, 60, 30, "tiny beside the rest: it may be a mark on the table")
	out := keepPlainCloths(pieces, p)
	var doubtful []int
	for i, s := range out {
		if s.Doubtful {
			doubtful = append(doubtful, i)
		}
	}
	require.Equal(t, []int{7, 8}, doubtful, "the sheet of paper, and what was doubted for another reason")
	require.True(t, pieces[5].Doubtful, "what was handed in stays as it is")
}

// Cloths have the low numbers, in all photos, and what may be none comes after
// them; putting something right moves no number.
func TestClothsFirst(t *testing.T) {
	got := []clothPhoto{
		{numbers: []int{1, 3, 2}, found: 3, cloths: 2},
		{numbers: []int{2, 1, 0}, found: 2, cloths: 1},
	}
	for i := range got {
		got[i].fabrics = fabricsFor(len(got[i].numbers))
	}
	number(got)
	ids := func(g clothPhoto) (out []string) {
		for _, f := range g.fabrics {
			out = append(out, f.ID)
		}
		return out
	}
	require.Equal(t, []string{"1", "4", "2"}, ids(got[0]))
	require.Equal(t, []string{"5", "3", "6"}, ids(got[1]))
	// The third piece of the first photo is taken away: the rest stays.
	got[0].numbers, got[0].fabrics = got[0].numbers[:2], got[0].fabrics[:2]
	number(got)
	require.Equal(t, []string{"1", "4"}, ids(got[0]))
	require.Equal(t, []string{"5", "3", "6"}, ids(got[1]))
}

func fabricsFor(n int) []piles.Fabric { return make([]piles.Fabric, n) }
