package layout

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Nine patches do not say whether a light centre is meant: both verdicts are
// given, and one of them says that the centre is a mistake.
func TestBothVerdicts(t *testing.T) {
	for _, centre := range []float64{78, 82, 97.7} {
		in := greys([]float64{28, 80, 30}, []float64{78, centre, 82}, []float64{26, 79, 29})
		if centre > 90 { // very even lights and darks
			in = greys([]float64{25.4, 100, 29.1}, []float64{99.1, centre, 99.1}, []float64{24.6, 96.2, 29.1})
		}
		out := judged(t, in)
		require.NotNil(t, out.Other, "centre %g", centre)
		misplaced := map[string][]Cell{out.Other.Pattern.Name: out.Other.Misplaced}
		for _, p := range out.Patches {
			if p.Misplaced {
				misplaced[out.Pattern.Name] = append(misplaced[out.Pattern.Name], p.cell())
			}
		}
		assert.Equal(t, []Cell{{2, 2}}, misplaced["nine patch, dark corners"])
		assert.Contains(t, []string{out.Pattern.Name, out.Other.Pattern.Name}, "nine patch, dark corners, light sides, light centre")
	}
	for name, in := range map[string]Input{
		"one nine patch":      charted(3, 3, 0, 0, "DLD", "LDL", "DLD"),
		"a top of them":       charted(9, 9, 0, 0, "DLD", "LDL", "DLD"),
		"with a light centre": charted(9, 9, 0, 0, "DLD", "LLL", "DLD"),
		"three values":        charted(9, 9, 0, 0, "DMD", "MLM", "DMD"),
	} {
		assert.Nil(t, judged(t, in).Other, name)
	}
}

// However much is wrong, a handful of changes is proposed, the patches that
// hang against the pattern first, and each adds a clear seam.
func TestFewChangesThatGain(t *testing.T) {
	for seed := range uint64(12) {
		s := newSim(900 + seed)
		top := s.pieced(simDesigns[int(seed)%len(simDesigns)], 14, 14, scrappy, .1)
		s.giveStash(top, 12)
		out := judged(t, top.in)
		assert.LessOrEqual(t, len(out.Changes), 5)
		misplaced := map[Cell]bool{}
		meant := map[Cell]Role{}
		for _, p := range out.Patches {
			misplaced[p.cell()], meant[p.cell()] = p.Misplaced, p.Meant
		}
		before := *out.Reads
		others := false
		for _, c := range out.Changes {
			assert.GreaterOrEqual(t, c.Clears, 1)
			assert.Greater(t, c.Reads, before)
			before = c.Reads
			about := false
			for _, p := range c.Placements {
				about = about || misplaced[p.To]
			}
			assert.False(t, others && about, "a culprit comes behind %v", c)
			others = others || !about
		}
	}
}

// No dark is proposed where a light is meant, though it would show there too.
func TestNoDarkForALight(t *testing.T) {
	in := charted(6, 6, 0, 0, "DL", "LD")
	for i := range in.Patches {
		if in.Patches[i].Lightness < 50 {
			in.Patches[i] = grey(in.Patches[i].Row, in.Patches[i].Col, 45+in.Patches[i].Lightness/20)
		}
	}
	in.Patches[3*6+4] = grey(4, 5, 50) // where a light is meant
	in.Stash = stashOf(8, 10, 12)
	out := judged(t, in)
	require.Equal(t, Light, out.Patches[3*6+4].Meant)
	for _, c := range out.Changes {
		for _, p := range c.Placements {
			assert.False(t, p.Stash != "" && out.Patches[(p.To[0]-1)*6+p.To[1]-1].Meant == Light, "%v", c)
		}
	}
	// What would cure it is said: the lightest neighbour and a clear step.
	require.NotEmpty(t, out.Wanted)
	w := out.Wanted[0]
	assert.Equal(t, Cell{4, 5}, w.Patch)
	assert.Equal(t, Light, w.Meant)
	lightest := 0.
	for _, k := range []int{2*6 + 4, 4*6 + 4, 3*6 + 3, 3*6 + 5} {
		lightest = max(lightest, out.Patches[k].Lightness)
	}
	assert.InDelta(t, math.Ceil(lightest+DefaultSoft), w.AtLeast, 1)
	// A cloth of that lightness does cure it.
	in.Stash = stashOf(w.AtLeast + 1)
	cured := judged(t, in)
	require.NotEmpty(t, cured.Changes)
	assert.Equal(t, Cell{4, 5}, cured.Changes[0].Patch)
	assert.Equal(t, 1., cured.Changes[len(cured.Changes)-1].Reads)
	assert.Empty(t, cured.Wanted)
}

// The sashing is one cloth, and is called so.
func TestSashingIsOnePiece(t *testing.T) {
	in := charted(11, 11, 0, 0, "DLDl", "LDLl", "DLDl", "llll")
	for i := range in.Patches {
		switch p := &in.Patches[i]; {
		case p.Row%4 == 0 || p.Col%4 == 0:
			*p = grey(p.Row, p.Col, 66) // too near to the darks
		case p.Lightness < 50:
			*p = grey(p.Row, p.Col, 47+float64((p.Row*5+p.Col*3)%4))
		}
	}
	in.Stash = stashOf(92)
	out := judged(t, in)
	require.Len(t, out.Changes, 1)
	assert.Equal(t, "the sashing", out.Changes[0].Piece)
	assert.Contains(t, out.Changes[0].Why, "The sashing")
	assert.Len(t, out.Changes[0].Placements, 11+11+11+11-4)
}

// A second reading of a sashed top is worked out like the first: its strips and
// posts have a tone too, whether or not it is close enough to be told.
func TestSecondReadingOfASashedTop(t *testing.T) {
	judged(t, holdOut[0].make(1108).in)
	out := judged(t, holdOut[1].make(1141).in)
	require.NotNil(t, out.Other)
	assert.Contains(t, out.Other.Pattern.Name, "with sashing")
	for _, row := range out.Other.Pattern.Chart {
		assert.Empty(t, strings.Trim(row, letters))
	}
}
