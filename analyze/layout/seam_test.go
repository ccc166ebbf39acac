package layout

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"greige/analyze/cloth"
	"greige/analyze/eye"
	"greige/colorspace"
)

// solid is a patch of one colour, measured to a few tenths of an L*.
func solid(row, col int, lab colorspace.Lab) Patch {
	return Patch{Row: row, Col: col, Cloth: cloth.Cloth{
		Lab: lab, Lightness: lab.L, Apart: .6, Uncertainty: 2, Spread: .5, Character: cloth.Solid,
		Colours: []cloth.Colour{{Lab: lab, Share: 1}},
	}}
}

// grey is a solid without colour.
func grey(row, col int, lightness float64) Patch {
	return solid(row, col, colorspace.Lab{L: lightness})
}

// greys makes an Input of a grid of L*; a negative figure is no patch.
func greys(rows ...[]float64) Input {
	in := Input{Rows: len(rows), Cols: len(rows[0]), Setting: Straight}
	for r, row := range rows {
		for c, l := range row {
			if l >= 0 {
				in.Patches = append(in.Patches, grey(r+1, c+1, l))
			}
		}
	}
	return in
}

func judged(t testing.TB, in Input) Layout {
	t.Helper()
	out, err := Judge(in)
	require.NoError(t, err)
	return out
}

func TestClarity(t *testing.T) {
	// By hand: 40 / sqrt((6^2 + 8^2)/2 + 2^2) = 40 / sqrt(54).
	assert.InDelta(t, 5.4433, eye.Clarity(70, 6, 30, 8), 1e-4)
	// Two solids: the eye alone. 20 / 2.
	assert.InDelta(t, 10, eye.Clarity(30, 0, 50, 0), 1e-12)
	assert.Equal(t, eye.Clarity(70, 6, 30, 8), eye.Clarity(30, 8, 70, 6))
	assert.Zero(t, eye.Clarity(50, 3, 50, 9))
}

func TestVerdict(t *testing.T) {
	for _, c := range []struct {
		deltaL, clarity float64
		want            Verdict
	}{
		{7.99, 9, Lost}, {8, 9, Soft}, {19.99, 9, Soft}, {20, 9, Clear}, {20, 2, Clear}, {45, 1.99, Soft}, {3, .5, Lost},
	} {
		assert.Equal(t, c.want, VerdictOf(c.deltaL, c.clarity, DefaultLost, DefaultSoft), "%+v", c)
	}
}

func TestSeamFigures(t *testing.T) {
	in := greys([]float64{80, 74, 40}, []float64{80, 20, 40})
	in.Lost, in.Soft = 10, 30
	out := judged(t, in)
	want := []struct {
		between [2]Cell
		deltaL  float64
		verdict Verdict
		lrv30   bool
	}{
		// LRV (CIE Y): L* 80 is 56.7, 74 is 46.7, 40 is 11.3, 20 is 3.0.
		{[2]Cell{{1, 1}, {1, 2}}, 6, Lost, false},
		{[2]Cell{{1, 1}, {2, 1}}, 0, SameCloth, false},
		{[2]Cell{{1, 2}, {1, 3}}, 34, Clear, true},
		{[2]Cell{{1, 2}, {2, 2}}, 54, Clear, true},
		{[2]Cell{{1, 3}, {2, 3}}, 0, SameCloth, false},
		{[2]Cell{{2, 1}, {2, 2}}, 60, Clear, true},
		{[2]Cell{{2, 2}, {2, 3}}, 20, Soft, false},
	}
	require.Len(t, out.Seams, len(want))
	for i, w := range want {
		s := out.Seams[i]
		assert.Equal(t, w.between, s.Between)
		assert.InDelta(t, w.deltaL, s.DeltaL, 1e-9, "%v", w.between)
		assert.Equal(t, w.verdict, s.Verdict, "%v", w.between)
		assert.Equal(t, w.lrv30, s.Guidance30, "%v", w.between)
		a, b := out.Patches[0], out.Patches[0]
		for _, p := range out.Patches {
			if p.cell() == w.between[0] {
				a = p
			}
			if p.cell() == w.between[1] {
				b = p
			}
		}
		assert.InDelta(t, colorspace.CIEDE2000(a.Lab, b.Lab), s.DeltaE, 1e-12)
		assert.InDelta(t, eye.Clarity(a.Lightness, a.Spread, b.Lightness, b.Spread), s.Clarity, 1e-12)
	}
}

// A dress maker's red and green of one value are told apart by their colour,
// and not by those who lack the long-wave or the middle-wave cones (Machado and
// others 2009). Red and blue of one value are told apart by those as well.
func TestColourAlone(t *testing.T) {
	red, green, blue := colorspace.Lab{L: 48, A: 42, B: 30}, colorspace.Lab{L: 48, A: -30, B: 32}, colorspace.Lab{L: 48, A: 8, B: -42}
	in := Input{Rows: 1, Cols: 3, Setting: Straight, Patches: []Patch{solid(1, 1, red), solid(1, 2, green), solid(1, 3, blue)}}
	out := judged(t, in)
	require.Len(t, out.Seams, 2)
	assert.True(t, out.Seams[0].ColourAlone)
	assert.True(t, out.Seams[1].ColourAlone)
	require.Len(t, out.RedGreen, 1)
	assert.Equal(t, [2]Cell{{1, 1}, {1, 2}}, out.RedGreen[0].Between)
	assert.Greater(t, out.RedGreen[0].DeltaE, 40.)
	assert.Less(t, out.RedGreen[0].Weak, 10.)

	// A pale pink beside a pale grey of the same value is no seam at all.
	out = judged(t, Input{Rows: 1, Cols: 2, Setting: Straight, Patches: []Patch{solid(1, 1, colorspace.Lab{L: 70, A: 4}), grey(1, 2, 72)}})
	assert.False(t, out.Seams[0].ColourAlone)
}

// Patches that the eye sees as busy as their difference are not clear.
func TestPrintDrownsSeam(t *testing.T) {
	in := greys([]float64{75, 45}, []float64{45, 75})
	for i := range in.Patches {
		in.Patches[i].Spread, in.Patches[i].Character = 18, cloth.HighContrastPrint
	}
	out := judged(t, in)
	for _, s := range out.Seams {
		assert.Equal(t, Soft, s.Verdict)
		assert.Less(t, s.Clarity, 2.)
	}
	require.NotNil(t, out.Reads)
	assert.Zero(t, *out.Reads)
}

func TestJudgeRefuses(t *testing.T) {
	ok := greys([]float64{80, 20}, []float64{20, 80})
	for name, spoil := range map[string]func(*Input){
		"no patch":   func(in *Input) { in.Patches = nil },
		"outside":    func(in *Input) { in.Patches[0].Row = 3 },
		"twice":      func(in *Input) { in.Patches[1] = in.Patches[0] },
		"no number":  func(in *Input) { in.Patches[2].Lab.A = math.NaN() },
		"limits":     func(in *Input) { in.Lost, in.Soft = 20, 8 },
		"no rows":    func(in *Input) { in.Rows = 0 },
		"too many":   func(in *Input) { in.Cols = MaxSide + 1 },
		"chart name": func(in *Input) { in.Chart = &Chart{Name: "hexagons"} },
		"chart rows": func(in *Input) { in.Chart = &Chart{Rows: []string{"LD", "D"}} },
	} {
		in := ok
		in.Patches = append([]Patch(nil), ok.Patches...)
		spoil(&in)
		_, err := Judge(in)
		assert.Error(t, err, name)
	}
}
