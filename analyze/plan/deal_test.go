package plan

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"greige/analyze/layout"
	"greige/analyze/photo"
	"greige/colorspace"
)

// several is a plan out of so many lights and darks.
func several(t testing.TB, block string, cols, rows, lights, darks int) Input {
	in := twoCloths(t, block, cols, rows)
	in.Cloths, in.Roles = nil, map[byte][]int{}
	for i := range lights {
		in.Roles['L'] = append(in.Roles['L'], len(in.Cloths))
		in.Cloths = append(in.Cloths, invented(fmt.Sprintf("l%d", i), 80+float64(i)))
	}
	for i := range darks {
		in.Roles['D'] = append(in.Roles['D'], len(in.Cloths))
		in.Cloths = append(in.Cloths, invented(fmt.Sprintf("d%d", i), 20+float64(i)))
	}
	return in
}

// sameSeams counts the seams between cells of one role and one cloth, by the
// grid of the picture itself.
func sameSeams(p *Plan) int {
	role := map[[2]int]byte{}
	for _, c := range p.Cells {
		role[[2]int{c.Row, c.Col}] = p.Pieces[c.Piece].Role
	}
	n := 0
	for r, row := range p.Grid {
		for c := range row {
			for _, d := range [][2]int{{0, 1}, {1, 0}} {
				if r+d[0] < len(p.Grid) && c+d[1] < len(row) {
					a, b := role[[2]int{r + 1, c + 1}], role[[2]int{r + 1 + d[0], c + 1 + d[1]}]
					if a == b && a != 0 && row[c] == p.Grid[r+d[0]][c+d[1]] {
						n++
					}
				}
			}
		}
	}
	return n
}

func TestNoTwoNeighboursAlike(t *testing.T) {
	for _, block := range []string{"four-patch", "nine-patch", "nine-patch-dark-corners", "nine-patch-light-corners", "sixteen-patch", "checkerboard", "stripes-across", "stripes-down"} {
		for _, n := range []int{2, 3, 4, 5} {
			in := several(t, block, 5, 6, n, n)
			in.unjudged = true
			p, err := Make(in)
			require.NoError(t, err)
			require.Zero(t, sameSeams(p), "%s of %d and %d", block, n, n)
			require.Zero(t, p.Alike)
			// Every cloth is used, and none more than half as much again.
			for _, u := range p.Cloths {
				mean := 0
				for _, v := range p.Cloths {
					if v.Roles[0] == u.Roles[0] {
						mean += v.Patches
					}
				}
				require.InEpsilon(t, float64(mean)/float64(n), float64(u.Patches), .5, "%s of %d", block, n)
			}
		}
	}
}

// One cloth more than the neighbours of a place need: different numbers of
// lights and darks, on point too.
func TestDealOfDifferentNumbers(t *testing.T) {
	for _, onPoint := range []bool{false, true} {
		in := several(t, "nine-patch-dark-corners", 4, 4, 2, 5)
		in.OnPoint = onPoint
		p, err := Make(in)
		require.NoError(t, err)
		require.Zero(t, p.Alike)
		require.True(t, p.Strips)
	}
}

// Scraps give no more than they have while the others have any left.
func TestDealKeepsToWhatScrapsYield(t *testing.T) {
	in := several(t, "nine-patch", 3, 3, 3, 3)
	side := 3*6.35 + 2*edgeKept + .01
	for i := range in.Cloths {
		if i%3 > 0 {
			in.Cloths[i].Scrap = &Scrap{Outline: [][2]float64{{0, 0}, {side, 0}, {side, side}, {0, side}}, PixelCM: 1, Seen: true}
		}
	}
	p, err := Make(in)
	require.NoError(t, err)
	require.False(t, p.Strips)
	for i, u := range p.Cloths {
		if i%3 > 0 {
			require.Equal(t, 9, *u.Yields)
			require.LessOrEqual(t, u.Patches, 9)
			require.Zero(t, u.Buy)
		}
	}
	require.Len(t, p.Scraps, 4)
	require.Empty(t, p.Missing)
	// With too few scraps the plan says how many patches fall short.
	for i := range in.Cloths {
		in.Cloths[i].Scrap = &Scrap{Outline: [][2]float64{{0, 0}, {side, 0}, {side, side}, {0, side}}, PixelCM: 1, Seen: true}
	}
	p, err = Make(in)
	require.NoError(t, err)
	short := 0
	for _, m := range p.Missing {
		short += m.Patches
	}
	require.Equal(t, 81-6*9, short)
}

// Out of many scraps nobody cuts many more patches than another.
func TestScrapsAreSharedEvenly(t *testing.T) {
	in := several(t, "nine-patch", 4, 4, 6, 6)
	for i := range in.Cloths {
		in.Cloths[i] = square(in.Cloths[i].ID, in.Cloths[i].Lightness, 2+i%3)
	}
	in.Patch, in.Seam, in.People = 5*Centimetre-Inch/2, Inch/4, 3
	p, err := Make(in)
	require.NoError(t, err)
	most, least := 0, 1000
	for _, s := range p.Sheets[:3] {
		n := 0
		for _, c := range s.Scraps {
			n += c.Patches
		}
		most, least = max(most, n), min(least, n)
	}
	require.Positive(t, least)
	require.LessOrEqual(t, 3*most, 4*least)
}

func TestPressing(t *testing.T) {
	in := twoCloths(t, "nine-patch", 2, 2)
	p, err := Make(in)
	require.NoError(t, err)
	for _, press := range p.Press {
		require.True(t, press.Nest)
		require.Zero(t, press.ToLight)
	}
	require.Equal(t, []string{"<>", "><", "<>"}, p.Press[0].Rows) // dark corners: outwards, inwards, outwards
	// Stripes down: to the dark and locked cannot both be had.
	in = twoCloths(t, "stripes-down", 2, 2)
	p, err = Make(in)
	require.NoError(t, err)
	require.True(t, p.Press[0].Nest)
	require.Equal(t, []string{"<", ">"}, p.Press[0].Rows)
	require.Equal(t, 1, p.Press[0].ToLight)
	require.Contains(t, p.Press[0].Says, "cannot both be had")
}

func TestChoiceOfCloths(t *testing.T) {
	stash := []Cloth{invented("1", 88), invented("2", 60), invented("3", 24), invented("4", 55), invented("5", 52)}
	want := Want{Roles: []byte("LD"), Patches: map[byte]int{'L': 20, 'D': 20}, PatchCM: 6}
	require.Equal(t, map[byte][]int{'L': {0}, 'D': {2}}, Choose(stash, want))
	// A stash of alike cloths: the nearest there is.
	want.Given = map[byte][]int{'L': {0}}
	require.Equal(t, []int{1}, Choose([]Cloth{invented("7", 60), invented("8", 55)}, want)['D'])
}

// square is a cloth that gives n x n squares of 5 cm.
func square(id string, lightness float64, n int) Cloth {
	c := invented(id, lightness)
	side := 5*float64(n) + 2*edgeKept + .01
	c.Scrap = &Scrap{Outline: [][2]float64{{0, 0}, {side, 0}, {side, side}, {0, side}}, PixelCM: 1, Seen: true}
	return c
}

// A pair that reads comes before scraps that give more and do not; scraps that
// read together share a role before that.
func TestChoiceReadsBeforeItYields(t *testing.T) {
	want := Want{Roles: []byte("LD"), Patches: map[byte]int{'L': 20, 'D': 20}, PatchCM: 5}
	// Numbers 1 and 2 give most and do not read together. Number 1 is a light
	// beside number 5; number 6 gives nothing.
	stash := []Cloth{square("1", 50, 9), square("2", 40, 9), square("3", 85, 1), square("4", 80, 2), square("5", 20, 3), square("6", 25, 0)}
	of := Choose(stash, want)
	require.ElementsMatch(t, []int{0, 2, 3}, of['L'])
	require.Equal(t, []int{4}, of['D'])

	// Many small lights give together what one does not.
	stash = nil
	for i := range 6 {
		stash = append(stash, square(fmt.Sprint("l", i), 75+float64(i), 2), square(fmt.Sprint("d", i), 20+float64(i), 2))
	}
	of = Choose(stash, want)
	require.Len(t, of['L'], 5)
	require.Len(t, of['D'], 5)
	// Cloth that gives no patch is taken only where nothing else reads: more of it
	// can be bought.
	of = Choose([]Cloth{square("1", 50, 9), square("2", 85, 0)}, want)
	require.Equal(t, map[byte][]int{'L': {1}, 'D': {0}}, of)
}

// Any stash: where some light and some dark are clear beside each other, every
// light that is chosen is clear beside every dark and every medium, and no set
// of one light and one dark that reads gives more.
func TestEverySetThatIsChosenReads(t *testing.T) {
	r := rand.New(rand.NewPCG(21, 22))
	for range 300 {
		var stash []Cloth
		for i := range 2 + r.IntN(14) {
			c := square(fmt.Sprint(i), 15+80*r.Float64(), r.IntN(4))
			c.Spread = 12 * r.Float64()
			stash = append(stash, c)
		}
		want := Want{Roles: []byte("LD"), Patches: map[byte]int{'L': 10, 'D': 10}, PatchCM: 5}
		of := Choose(stash, want)
		gives := func(i int) int { return len(stash[i].Scrap.Yield(5, 5)) }
		reads, most := false, 0
		for i := range stash {
			for j := range stash {
				if stash[i].Lightness > stash[j].Lightness && verdict(&stash[i], &stash[j]) == layout.Clear {
					reads, most = true, max(most, min(10, gives(i))+min(10, gives(j)))
				}
			}
		}
		if !reads {
			continue
		}
		sum := map[byte]int{}
		for role, list := range of {
			for _, i := range list {
				sum[role] += gives(i)
			}
		}
		require.True(t, allClear(t, stash, of))
		require.GreaterOrEqual(t, min(10, sum['L'])+min(10, sum['D']), most)
	}
}

// allClear tells whether all lights are clear beside all darks.
func allClear(t *testing.T, stash []Cloth, of map[byte][]int) bool {
	require.NotEmpty(t, of['L'])
	require.NotEmpty(t, of['D'])
	for _, i := range of['L'] {
		for _, j := range of['D'] {
			if verdict(&stash[i], &stash[j]) != layout.Clear || stash[i].Lightness < stash[j].Lightness {
				return false
			}
		}
	}
	return true
}

// Every patch of the picture is of its cloth's colour, and no ground shows
// between them.
func TestDrawTilesThePicture(t *testing.T) {
	for _, onPoint := range []bool{false, true} {
		in := twoCloths(t, "nine-patch", 3, 2)
		in.OnPoint, in.Triangles = onPoint, 2
		for i := range in.Cloths {
			in.Cloths[i].Lab = colorspace.Lab{L: 60}
		}
		p, err := Make(in)
		require.NoError(t, err)
		picture, cm := p.Draw(make([]*Texture, 3), 333)
		require.InDelta(t, p.Width.CM(), cm*float64(picture.W), cm)
		want := colorspace.LuminanceOf(60)
		for _, v := range picture.Pix {
			require.InDelta(t, want, float64(v), .01)
		}
	}
}

// A texture is shown at its true scale: 25.4 cm show 51 stripes half a cm wide.
func TestDrawIsAtTrueScale(t *testing.T) {
	tex := photo.New(300, 300)
	for i := range 300 * 300 {
		if i%300/5%2 == 0 { // 5 pixels of .1 cm a stripe
			tex.Pix[3*i], tex.Pix[3*i+1], tex.Pix[3*i+2] = 1, 1, 1
		}
	}
	in := twoCloths(t, "checkerboard", 1, 1)
	in.Design = Design{Name: "one patch", Kinds: []Block{ofRows([]string{"L"})}}
	in.Patch = 10 * Inch
	p, err := Make(in)
	require.NoError(t, err)
	picture, _ := p.Draw([]*Texture{{Picture: tex, CM: .1}, nil, nil}, 508) // 20 pixels a cm
	edges := 0
	for x := 1; x < picture.W; x++ {
		if (picture.Pix[3*x] > .5) != (picture.Pix[3*x-3] > .5) {
			edges++
		}
	}
	require.InDelta(t, 50, edges, 1)
}

// The deal and the picture of 40 x 40 patches, and the whole plan with its
// verdict.
func BenchmarkFortyByForty(b *testing.B) {
	in := several(b, "four-patch", 20, 20, 5, 5)
	textures := make([]*Texture, len(in.Cloths))
	for i := range textures {
		textures[i] = &Texture{Picture: photo.New(150, 150), CM: .05}
	}
	b.Run("deal and picture", func(b *testing.B) {
		in.unjudged = true
		for b.Loop() {
			p, err := Make(in)
			require.NoError(b, err)
			p.Draw(textures, 1400)
		}
	})
	b.Run("with the verdict", func(b *testing.B) {
		in.unjudged = false
		for b.Loop() {
			_, err := Make(in)
			require.NoError(b, err)
		}
	})
}
