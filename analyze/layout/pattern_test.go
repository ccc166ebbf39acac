package layout

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"greige/colorspace"
)

// scrap is a lightness for a letter of a chart, another for each place: the
// lights, mediums and darks of a scrappy top, without chance.
func scrap(letter byte, row, col int) float64 {
	wander := float64((row*7+col*11+row*col*3)%13) - 6 // -6..6
	switch letter {
	case 'L':
		return 78 + wander
	case 'M':
		return 54 + wander/2
	case 'D':
		return 28 + wander
	}
	return 50
}

// charted hangs a chart over a grid, begun at a row and column of the chart.
// Each patch is of another cloth, but for the letters l, m and d: of one cloth
// each, light, medium and dark.
func charted(rows, cols, row, col int, chart ...string) Input {
	in := Input{Rows: rows, Cols: cols, Setting: Straight}
	for r := range rows {
		for c := range cols {
			line := chart[(r+row)%len(chart)]
			letter := line[(c+col)%len(line)]
			lab := colorspace.Lab{L: scrap(letter, r, c), A: 30 * math.Cos(float64(r*5+c*3)), B: 30 * math.Sin(float64(r*5+c*3))}
			switch letter {
			case 'l':
				lab = colorspace.Lab{L: 84, B: 6}
			case 'm':
				lab = colorspace.Lab{L: 55, A: 8}
			case 'd':
				lab = colorspace.Lab{L: 22, B: -8}
			}
			in.Patches = append(in.Patches, solid(r+1, c+1, lab))
		}
	}
	return in
}

// The repeats that makers of patchwork name (common practice, no source), and
// where the chart that is found has to agree with the one that was hung.
func TestPatternNamed(t *testing.T) {
	for _, c := range []struct {
		name  string
		chart []string
	}{
		{"checkerboard", []string{"DL", "LD"}},
		{"nine patch, dark corners", []string{"DLD", "LDL", "DLD"}},
		{"nine patch, light corners", []string{"LDL", "DLD", "LDL"}},
		{"nine patch, dark corners, medium sides, light centre, three values", []string{"DMD", "MLM", "DMD"}},
		{"four patch, with alternate plain blocks", []string{"DLll", "LDll", "llDL", "llLD"}},
		{"nine patch, dark corners, with alternate plain blocks", []string{"DLDlll", "LDLlll", "DLDlll", "lllDLD", "lllLDL", "lllDLD"}},
		{"nine patch, light corners, with alternate plain blocks", []string{"LDLddd", "DLDddd", "LDLddd", "dddLDL", "dddDLD", "dddLDL"}},
		{"sixteen patch, with alternate plain blocks", []string{"DLDLllll", "LDLDllll", "DLDLllll", "LDLDllll", "llllDLDL", "llllLDLD", "llllDLDL", "llllLDLD"}},
		{"nine patch, dark corners, with sashing", []string{"DLDl", "LDLl", "DLDl", "llld"}},
		{"stripes across", []string{"L", "D"}},
		{"stripes down", []string{"LLD"}},
		{"diagonal stripes", []string{"LMD", "MDL", "DLM"}},
		{"rails", []string{"LLLLMD", "MMMLMD", "DDDLMD", "LMDLLL", "LMDMMM", "LMDDDD"}},
	} {
		// Blocks may start anywhere.
		for _, start := range [][2]int{{0, 0}, {1, 2}, {4, 5}} {
			in := charted(12, 13, start[0], start[1], c.chart...)
			out := judged(t, in)
			at := fmt.Sprintf("%s from %v: %v", c.name, start, out.Pattern)
			if !assert.Equal(t, c.name, out.Pattern.Name, at) {
				continue
			}
			assert.InDelta(t, 1, out.Pattern.Fit, 1e-9, at)
			for i, p := range out.Patches {
				line := c.chart[(p.Row-1+start[0])%len(c.chart)]
				want := toneOf(strings.ToUpper(line)[(p.Col-1+start[1])%len(line)]).role()
				assert.Equal(t, want, p.Meant, "%s %v", at, p.cell())
				assert.Equal(t, want, p.Reads, "%s %v", at, p.cell())
				assert.False(t, p.Misplaced, "%s %v", at, p.cell())
				// The chart repeats over the grid from its first corner.
				chart := out.Pattern.Chart
				line = chart[(p.Row-1)%len(chart)]
				assert.Equal(t, want, toneOf(line[(p.Col-1)%len(line)]).role(), "%s chart %v", at, i)
			}
		}
	}
}

func TestRepeatThatComesOneAndAHalfTimes(t *testing.T) {
	in := charted(12, 7, 0, 0, "LLDD", "LLDD", "DDLL", "DDLL")
	require.Equal(t, "a repeat of 4 by 4 patches", judged(t, in).Pattern.Name)
	// One patch of the other value hangs out of place in it.
	p := &in.Patches[1*7+3]
	*p = grey(2, 4, 108-p.Lightness)
	out := judged(t, in)
	for _, p := range out.Patches {
		assert.Equal(t, p.Row == 2 && p.Col == 4, p.Misplaced, "%v", p.cell())
	}
}

func TestOneBlockNamedBySize(t *testing.T) {
	assert.Equal(t, "four patch", judged(t, charted(2, 2, 0, 0, "DL", "LD")).Pattern.Name)
	assert.Equal(t, "nine patch, dark corners", judged(t, charted(3, 3, 0, 0, "DL", "LD")).Pattern.Name)
	assert.Equal(t, "nine patch, light corners", judged(t, charted(3, 3, 1, 0, "DL", "LD")).Pattern.Name)
	assert.Equal(t, "sixteen patch", judged(t, charted(4, 4, 0, 0, "DL", "LD")).Pattern.Name)
}

// Four patches side by side are a checkerboard; that each has cloths of its
// own tells them from one.
func TestFourPatchesByTheirCloths(t *testing.T) {
	in := charted(8, 8, 0, 0, "DL", "LD")
	out := judged(t, in)
	assert.Equal(t, "checkerboard", out.Pattern.Name)
	assert.Contains(t, out.Pattern.Also, "four patch")
	assert.Empty(t, out.Blocks)
	for i := range in.Patches {
		p := &in.Patches[i]
		block := (p.Row-1)/2*7 + (p.Col-1)/2*3
		lab := colorspace.Lab{L: 75 + float64(block%9), A: float64(block%17) - 8, B: float64(block%23) - 11}
		if (p.Row+p.Col)%2 == 0 {
			lab = colorspace.Lab{L: 25 + float64(block%11), A: float64(block%19) - 9, B: float64(block%13) - 6}
		}
		in.Patches[i] = solid(p.Row, p.Col, lab)
	}
	out = judged(t, in)
	assert.Equal(t, "four patch", out.Pattern.Name)
	assert.Equal(t, []int{2, 2}, out.Pattern.BlockSize)
	require.Len(t, out.Blocks, 16)
	assert.Equal(t, Cell{1, 3}, out.Blocks[1].From)
	assert.Equal(t, Cell{2, 4}, out.Blocks[1].To)
}

// Value is relative: in this top one block's light is darker than another's
// dark, and all of it reads.
func TestValueIsRelative(t *testing.T) {
	in := Input{Rows: 9, Cols: 9, Setting: Straight}
	for r := range 9 {
		for c := range 9 {
			base := []float64{34, 50, 66}[(r/3+c/3)%3]
			l := base - 14
			if (r%3+c%3)%2 == 1 {
				l = base + 14
			}
			in.Patches = append(in.Patches, grey(r+1, c+1, l+float64((r*5+c*7)%5)/2))
		}
	}
	out := judged(t, in)
	assert.Equal(t, "nine patch, dark corners", out.Pattern.Name)
	for _, p := range out.Patches {
		assert.Equal(t, p.Meant, p.Reads, "%v L* %.0f", p.cell(), p.Lightness)
		assert.False(t, p.Misplaced, "%v", p.cell())
	}
}

func TestNoRepeat(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 3))
	for name, value := range map[string]func(r, c int) float64{
		"random":    func(r, c int) float64 { return 20 + 70*rng.Float64() },
		"gradation": func(r, c int) float64 { return 90 - 4*float64(r) - 2*float64(c) + 2*rng.Float64() },
		"picture": func(r, c int) float64 {
			if math.Hypot(float64(r)-5.5, float64(c)-5) < 3.6 {
				return 28 + 8*rng.Float64()
			}
			return 76 + 10*rng.Float64()
		},
		"one cloth": func(r, c int) float64 { return 60 + rng.Float64() },
	} {
		in := Input{Rows: 12, Cols: 12, Setting: Straight}
		for r := range 12 {
			for c := range 12 {
				in.Patches = append(in.Patches, grey(r+1, c+1, value(r, c)))
			}
		}
		out := judged(t, in)
		assert.Equal(t, "none", out.Pattern.Name, name)
		assert.Empty(t, out.Pattern.Chart, name)
		assert.Nil(t, out.Reads, name)
		assert.Empty(t, out.Changes, name)
		for _, s := range out.Seams {
			assert.Equal(t, Either, s.Meant, name)
			assert.True(t, s.OK, name)
		}
		for _, p := range out.Patches {
			assert.False(t, p.Misplaced, name)
			assert.Equal(t, Any, p.Meant, name)
		}
	}
}

func TestMisplaced(t *testing.T) {
	in := charted(9, 9, 0, 0, "DLD", "LDL", "DLD")
	planted := []Cell{{2, 3}, {5, 5}, {8, 7}}
	for _, c := range planted {
		p := &in.Patches[(c[0]-1)*9+c[1]-1]
		*p = grey(c[0], c[1], 108-p.Lightness) // a dark for a light, a light for a dark
	}
	out := judged(t, in)
	assert.Equal(t, "nine patch, dark corners", out.Pattern.Name)
	var found []Cell
	for _, p := range out.Patches {
		if p.Misplaced {
			found = append(found, p.cell())
			assert.NotEqual(t, p.Meant, p.Reads)
		}
	}
	assert.Equal(t, planted, found)
	assert.InDelta(t, 78./81, out.Pattern.Fit, 1e-9)
}

// A patch on the very cut is not held against the pattern: it reads as a
// medium, because it cannot be told within its uncertainty.
func TestCannotBeTold(t *testing.T) {
	in := charted(8, 8, 0, 0, "DL", "LD")
	in.Patches[3*8+3] = grey(4, 4, 53.2)
	in.Patches[3*8+3].Apart = 8
	p := judged(t, in).Patches[3*8+3]
	assert.False(t, p.Misplaced)
	assert.NotEqual(t, Light, p.Reads)
}

func TestGivenChart(t *testing.T) {
	in := charted(6, 6, 0, 0, "DL", "LD")
	in.Chart = &Chart{Rows: []string{"LD", "DL"}}
	out := judged(t, in)
	assert.True(t, out.Pattern.Given)
	assert.Equal(t, []string{"LD", "DL"}, out.Pattern.Chart)
	assert.Zero(t, out.Pattern.Fit, "the chart is the wrong way round, and is taken as it is given")

	in.Chart = &Chart{Rows: []string{"D.", ".D"}}
	out = judged(t, in)
	assert.InDelta(t, 1, out.Pattern.Fit, 1e-9)
	assert.Nil(t, out.Reads)

	in = charted(7, 7, 1, 2, "DLD", "LDL", "DLD")
	in.Chart = &Chart{Name: "nine-patch-dark-corners"}
	out = judged(t, in)
	assert.Equal(t, "nine patch, dark corners", out.Pattern.Name)
	assert.Equal(t, []string{"LLD", "DDL", "DDL"}, out.Pattern.Chart, "begun where the blocks do not")
	assert.InDelta(t, 1, out.Pattern.Fit, 1e-9)

	in.Chart = &Chart{Name: "none"}
	out = judged(t, in)
	assert.Equal(t, "none", out.Pattern.Name)
	assert.True(t, out.Pattern.Given)
}

// On point: nine patches and plain blocks, with triangles of one cloth all
// round, which are no part of the repeat and not held against it.
func TestOnPoint(t *testing.T) {
	rows, cols, kind := onPoint(9, 9)
	chart := []string{"DLDlll", "LDLlll", "DLDlll", "lllDLD", "lllLDL", "lllDLD"}
	all := charted(rows, cols, 0, 0, chart...)
	in := Input{Rows: rows, Cols: cols, Setting: OnPoint}
	for _, p := range all.Patches {
		switch kind(p.Row-1, p.Col-1) {
		case triangleCell:
			p = solid(p.Row, p.Col, colorspace.Lab{L: 48, A: 20, B: 30})
			p.Shape = "triangle"
		case outsideCell:
			continue
		}
		in.Patches = append(in.Patches, p)
	}
	out := judged(t, in)
	assert.Equal(t, "nine patch, dark corners, with alternate plain blocks", out.Pattern.Name)
	for _, p := range out.Patches {
		assert.False(t, p.Misplaced, "%v", p.cell())
		if p.Shape != "" {
			assert.Equal(t, Any, p.Meant)
		}
	}
	// Neighbours share an edge in the grid of rows and columns.
	for _, s := range out.Seams {
		d := [2]int{s.Between[1][0] - s.Between[0][0], s.Between[1][1] - s.Between[0][1]}
		assert.True(t, d == [2]int{0, 1} || d == [2]int{1, 0}, "%v", s.Between)
	}
}

// The order of the patches and what was in them before have no influence.
func TestOrderDoesNotMatter(t *testing.T) {
	s := newSim(11)
	top := s.pieced(simDesigns[3], 12, 12, scrappy, .05)
	s.giveStash(top, 20)
	want := judged(t, top.in)
	in := top.in
	in.Patches = slices.Clone(in.Patches)
	slices.Reverse(in.Patches)
	for i := range in.Patches {
		in.Patches[i].Misplaced, in.Patches[i].Reads, in.Patches[i].Fabric = true, Dark, 99
	}
	assert.Equal(t, want, judged(t, in))
}

// Nothing that can be measured makes Judge fail.
func TestJudgeTakesAnything(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 5))
	for n := range 150 {
		in := Input{Rows: 1 + rng.IntN(9), Cols: 1 + rng.IntN(9), Setting: []Setting{Straight, OnPoint}[rng.IntN(2)]}
		few := rng.IntN(4)
		for r := range in.Rows {
			for c := range in.Cols {
				if rng.IntN(4) < few && rng.IntN(3) == 0 && r+c > 0 {
					continue
				}
				p := grey(r+1, c+1, []float64{0, 100, 50, 100 * rng.Float64(), -3, 120}[rng.IntN(6)])
				p.Lab.A, p.Lab.B = 200*rng.Float64()-100, 200*rng.Float64()-100
				p.Apart, p.Spread = 4*rng.Float64()-1, 60*rng.Float64()-5
				if rng.IntN(3) == 0 {
					p.Shape = "triangle"
				}
				if rng.IntN(3) == 0 {
					p.Colours, p.Outline = nil, [][2]float64{{0, 0}, {rng.Float64(), 0}, {1, 1}, {0, 1}}
				}
				in.Patches = append(in.Patches, p)
			}
		}
		switch rng.IntN(4) {
		case 0:
			in.Chart = &Chart{Name: chartNames[rng.IntN(len(chartNames))]}
		case 1:
			in.Chart = &Chart{Rows: [][]string{{"."}, {"L"}, {"LD"}, {"LMD", "..."}, {"DLDLDLDLDLDLDL"}}[rng.IntN(5)]}
		}
		if rng.IntN(2) == 0 {
			top := simTop{}
			newSim(uint64(n)).giveStash(&top, 5)
			in.Stash = top.in.Stash
		}
		out, err := Judge(in)
		require.NoError(t, err)
		for _, s := range out.Seams {
			assert.False(t, math.IsNaN(s.DeltaE) || math.IsNaN(s.Clarity) || math.IsInf(s.Clarity, 0))
		}
	}
}
