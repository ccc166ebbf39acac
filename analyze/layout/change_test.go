package layout

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"greige/analyze/cloth"
	"greige/analyze/eye"
	"greige/analyze/piles"
	"greige/colorspace"
)

// stashOf are cloths of given L*, numbered from 1.
func stashOf(lightness ...float64) []piles.Fabric {
	var out []piles.Fabric
	for i, l := range lightness {
		f := piles.Fabric{ID: string(rune('1' + i)), Cloth: grey(1, 1, l).Cloth}
		out = append(out, f)
	}
	return out
}

// hungAnew is the input with the changes made.
func hungAnew(in Input, changes []Change) Input {
	in.Patches = slices.Clone(in.Patches)
	index := map[Cell]int{}
	for i, p := range in.Patches {
		index[p.cell()] = i
	}
	for _, c := range changes {
		was := slices.Clone(in.Patches)
		for _, p := range c.Placements {
			to := &in.Patches[index[p.To]]
			if p.From != nil {
				to.Cloth = was[index[*p.From]].Cloth
				continue
			}
			for _, f := range in.Stash {
				if f.ID == p.Stash {
					to.Cloth = f.Cloth
				}
			}
		}
	}
	return in
}

// keepsPromise: judged anew with the changes made, the top reads as promised,
// after each of them.
func keepsPromise(t *testing.T, in Input, out Layout) {
	t.Helper()
	reads := *out.Reads
	for n, c := range out.Changes {
		anew := hungAnew(in, out.Changes[:n+1])
		anew.Chart = &Chart{Rows: chartRows(out)}
		again := judged(t, anew)
		assert.InDelta(t, c.Reads, *again.Reads, 1e-9, "after change %d", n+1)
		assert.InDelta(t, c.Reads-reads, c.Gain, 1e-9)
		reads = c.Reads
	}
}

// chartRows is what is meant, patch by patch.
func chartRows(out Layout) []string {
	rows := make([][]byte, out.Rows)
	for r := range rows {
		rows[r] = []byte(strings.Repeat(".", out.Cols))
	}
	for _, p := range out.Patches {
		rows[p.Row-1][p.Col-1] = map[Role]byte{Light: 'L', Medium: 'M', Dark: 'D', Any: '.'}[p.Meant]
	}
	var text []string
	for _, r := range rows {
		text = append(text, string(r))
	}
	return text
}

// A light and a dark that hang in each other's place are changed over: one
// move mends both.
func TestSwap(t *testing.T) {
	in := charted(6, 6, 0, 0, "dl", "ld")
	for _, c := range []Cell{{2, 3}, {5, 3}} { // a light's place and a dark's
		p := &in.Patches[(c[0]-1)*6+c[1]-1]
		lab := colorspace.Lab{L: 22, B: -8}
		if p.Lightness < 50 {
			lab = colorspace.Lab{L: 84, B: 6}
		}
		*p = solid(c[0], c[1], lab)
	}
	out := judged(t, in)
	assert.InDelta(t, 52./60, *out.Reads, 1e-9)
	require.Len(t, out.Changes, 1)
	c := out.Changes[0]
	assert.Equal(t, Swap, c.Move)
	assert.Equal(t, Cell{2, 3}, c.Patch)
	assert.Equal(t, "swap with [5,3]", c.Instead)
	require.NotNil(t, c.With)
	assert.Equal(t, Cell{5, 3}, *c.With)
	assert.Equal(t, 8, c.Clears)
	assert.InDelta(t, 1, c.Reads, 1e-9)
	assert.Contains(t, c.Why, "where a light is meant")
	assert.NotContains(t, c.Why, "not all gain")
	keepsPromise(t, in, out)
}

// A dark in a light's place, with no light to spare: a light comes out of the
// stash, and not the nearest at hand but one that shows.
func TestTake(t *testing.T) {
	in := charted(5, 5, 0, 0, "dl", "ld")
	in.Patches[1*5+2] = grey(2, 3, 24)
	in.Stash = stashOf(30, 38, 80, 52)
	in.Stash = append(in.Stash, piles.Fabric{ID: "9", Doubtful: true, Cloth: grey(1, 1, 95).Cloth})
	out := judged(t, in)
	require.Len(t, out.Changes, 1)
	c := out.Changes[0]
	assert.Equal(t, Take, c.Move)
	assert.Equal(t, Cell{2, 3}, c.Patch)
	assert.Equal(t, "3", c.Instead)
	assert.Contains(t, c.Why, "lighter")
	assert.Equal(t, []Placement{{To: Cell{2, 3}, Stash: "3"}}, c.Placements)
	assert.NotEmpty(t, out.Remarks, "how much there is of a cloth a photo cannot say")
	keepsPromise(t, in, out)
}

// Three places and three lights in the stash: each is taken once.
func TestEachClothOnce(t *testing.T) {
	in := charted(9, 9, 0, 0, "dl", "ld")
	for _, c := range []Cell{{2, 3}, {5, 6}, {8, 7}} {
		in.Patches[(c[0]-1)*9+c[1]-1] = grey(c[0], c[1], 26)
	}
	in.Stash = stashOf(76, 80, 85)
	out := judged(t, in)
	var taken []string
	for _, c := range out.Changes {
		taken = append(taken, c.Instead)
	}
	slices.Sort(taken)
	assert.Equal(t, []string{"1", "2", "3"}, taken)

	// With one light for three places it is taken again, and that is said.
	in.Stash = stashOf(80)
	out = judged(t, in)
	require.Len(t, out.Changes, 3)
	assert.NotContains(t, out.Changes[0].Why, "enough of it")
	assert.Contains(t, out.Changes[1].Why, "enough of it")
}

// A four patch that was sewn in turned by a quarter has all four patches
// wrong, and one turn mends it. A nine patch is the same after a quarter turn,
// so none is suggested for it.
func TestTurn(t *testing.T) {
	in := charted(8, 8, 0, 0, "DLll", "LDll", "llDL", "llLD")
	at := func(r, c int) *Patch { return &in.Patches[(r-1)*8+c-1] }
	at(3, 3).Cloth, at(3, 4).Cloth, at(4, 4).Cloth, at(4, 3).Cloth = at(4, 3).Cloth, at(3, 3).Cloth, at(3, 4).Cloth, at(4, 4).Cloth
	out := judged(t, in)
	assert.Equal(t, "four patch, with alternate plain blocks", out.Pattern.Name)
	require.Len(t, out.Changes, 1)
	c := out.Changes[0]
	assert.Equal(t, Turn, c.Move)
	assert.Equal(t, Cell{3, 3}, c.Patch)
	assert.Contains(t, c.Instead, "turn the block [3,3] to [4,4] a quarter to the")
	require.Len(t, c.Placements, 4)
	keepsPromise(t, in, out)

	for _, c := range judged(t, plantedNine(t)).Changes {
		assert.NotEqual(t, Turn, c.Move)
	}
}

func plantedNine(t *testing.T) Input {
	in := charted(9, 9, 0, 0, "DLD", "LDL", "DLD")
	in.Patches[40] = grey(5, 5, 80)
	return in
}

// turned clockwise: the patch that is on the left comes to the top.
func TestTurnIsClockwise(t *testing.T) {
	in := charted(8, 8, 0, 0, "DLll", "LDll", "llDL", "llLD")
	lay, err := newTop(in)
	require.NoError(t, err)
	p, _ := lay.findPattern(lay.sameCloths())
	s := lay.newSearch(&p)
	m, ok := s.turned(int(p.block[0]), 90)
	require.True(t, ok)
	got := map[int]int{}
	for i, c := range m.cells {
		got[c] = m.items[i]
	}
	// Cells 0 1 / 8 9: 8 comes to 0, 0 to 1, 1 to 9, 9 to 8.
	assert.Equal(t, map[int]int{0: 8, 1: 0, 9: 1, 8: 9}, got)
}

// An alternate plain block is one piece: it is never mended cell by cell.
func TestPlainBlockMovesAsOne(t *testing.T) {
	in := charted(15, 15, 0, 0, "DLDlll", "LDLlll", "DLDlll", "lllDLD", "lllLDL", "lllDLD")
	for r := 4; r <= 6; r++ { // the first plain block of the second row is a dark one
		for c := 1; c <= 3; c++ {
			in.Patches[(r-1)*15+c-1] = solid(r, c, colorspace.Lab{L: 30, A: 20, B: 5})
		}
	}
	in.Stash = stashOf(86)
	out := judged(t, in)
	require.NotEmpty(t, out.Changes)
	for _, c := range out.Changes {
		assert.Equal(t, 9, len(c.Placements), "%s", c.Why)
		assert.Contains(t, c.Why, "plain block")
	}
	keepsPromise(t, in, out)
}

// A background that is too dark all over is mended in one move: another cloth
// in its place wherever it hangs.
func TestOneClothForAnother(t *testing.T) {
	in := charted(6, 6, 0, 0, "dl", "ld")
	for i := range in.Patches {
		if in.Patches[i].Lightness > 50 {
			in.Patches[i] = solid(in.Patches[i].Row, in.Patches[i].Col, colorspace.Lab{L: 34, A: 20})
		}
	}
	in.Stash = stashOf(40, 82)
	out := judged(t, in)
	assert.Zero(t, *out.Reads)
	require.Len(t, out.Changes, 1)
	assert.Equal(t, "2", out.Changes[0].Instead)
	assert.Len(t, out.Changes[0].Placements, 18)
	assert.InDelta(t, 1, out.Changes[0].Reads, 1e-9)
	assert.Contains(t, out.Changes[0].Why, "all 18 patches")
	keepsPromise(t, in, out)
}

// A change that takes from another place says so, and where.
func TestHarmIsSaid(t *testing.T) {
	said := false
	for seed := range uint64(30) {
		s := newSim(seed + 500)
		top := s.pieced(simDesigns[0], 8, 8, scrappy, .08)
		out := judged(t, top.in)
		index := top.index()
		for n, c := range out.Changes {
			before, after := hungAnew(top.in, out.Changes[:n]), hungAnew(top.in, out.Changes[:n+1])
			worse := false
			for _, seam := range out.Seams {
				if seam.Meant != Contrast {
					continue
				}
				a, b := index[seam.Between[0]], index[seam.Between[1]]
				state := func(in Input) Verdict {
					p, q := &in.Patches[a], &in.Patches[b]
					return VerdictOf(abs(p.Lightness-q.Lightness), eye.Clarity(p.Lightness, p.Spread, q.Lightness, q.Spread), DefaultLost, DefaultSoft)
				}
				worse = worse || state(before) == Clear && state(after) != Clear
			}
			if worse {
				said = true
				assert.Contains(t, c.Why, "It is not all gain", "seed %d change %d", seed, n)
			}
		}
	}
	assert.True(t, said, "no change of the sort came up")
}

func abs(x float64) float64 { return max(x, -x) }

// Nothing is to be changed where all reads, and nothing where nothing helps.
func TestNoChange(t *testing.T) {
	assert.Empty(t, judged(t, charted(6, 6, 0, 0, "dl", "ld")).Changes)
	in := charted(6, 6, 0, 0, "dl", "ld")
	for i := range in.Patches {
		in.Patches[i].Lab.L = 40 + in.Patches[i].Lab.L/10
		in.Patches[i].Lightness = in.Patches[i].Lab.L
		in.Patches[i].Colours = []cloth.Colour{{Lab: in.Patches[i].Lab, Share: 1}}
	}
	out := judged(t, in)
	assert.Empty(t, out.Changes)
	assert.Equal(t, "checkerboard", out.Pattern.Name, "the pattern is there, if not for the eye")
}

// The work is bounded by a count, so the same top gives the same changes.
func TestChangesAreDeterministic(t *testing.T) {
	s := newSim(77)
	top := s.pieced(simDesigns[5], 18, 18, scrappy, .06)
	s.giveStash(top, 60)
	want := judged(t, top.in).Changes
	require.NotEmpty(t, want)
	for range 3 {
		assert.Equal(t, want, judged(t, top.in).Changes)
	}
}
