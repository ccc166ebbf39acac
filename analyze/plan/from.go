package plan

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"greige/analyze/fit"
	"greige/analyze/layout"
)

// Given is a top that hangs, as the grid of its patches.
type Given struct {
	Layout *layout.Layout
	Cloth  map[int]int // Layout's fabric ids to indexes into Input.Cloths
}

// chart is what the patches of the top were meant to be.
func (g *Given) chart() *layout.Chart {
	rows := blankRows(g.Layout.Rows, g.Layout.Cols)
	letter := map[layout.Role]byte{layout.Light: 'L', layout.Medium: 'M', layout.Dark: 'D'}
	for _, p := range g.Layout.Patches {
		if k, ok := letter[p.Meant]; ok {
			rows[p.Row-1][p.Col-1] = k
		}
	}
	return &layout.Chart{Rows: asText(rows)}
}

// givenTop lays out the top that hangs. The usual row and column are a patch
// wide; a row or a column that is clearly narrower or wider (sashing) keeps
// its share, to the nearest line of the ruler. Plain squares between blocks are
// cut in one piece.
func givenTop(in *Input) (*top, error) {
	t := emptyTop(in)
	l := in.Given.Layout
	t.rows, t.cols = l.Rows, l.Cols
	if l.Setting == layout.OnPoint {
		if err := t.givenOnPoint(); err != nil {
			return nil, err
		}
	} else {
		t.givenStraight()
	}
	if len(t.cells) == 0 {
		return nil, fmt.Errorf("the top has no patches")
	}
	t.borders()
	return t, nil
}

func (t *top) givenStraight() {
	l := t.in.Given.Layout
	xs, ys := t.linesOf(true), t.linesOf(false)
	t.w, t.h = xs[l.Cols].CM(), ys[l.Rows].CM()
	fabric := map[layout.Cell]int{}
	for _, p := range l.Patches {
		fabric[layout.Cell{p.Row, p.Col}] = p.Fabric
	}
	inPiece := map[layout.Cell]bool{}
	add := func(part Part, of int, from, to layout.Cell) {
		at := BlockPiece{Row: from[0] - 1, Col: from[1] - 1, Rows: to[0] - from[0] + 1, Cols: to[1] - from[1] + 1}
		t.add(Piece{Part: part, Cloth: t.in.Given.Cloth[of], Block: -1}, xs, ys, at)
	}
	for _, b := range l.Blocks {
		of, ok := fabric[b.From]
		for r := b.From[0]; r <= b.To[0]; r++ {
			for c := b.From[1]; c <= b.To[1]; c++ {
				f, there := fabric[layout.Cell{r, c}]
				ok = ok && there && f == of
			}
		}
		if !b.Plain || !ok {
			continue
		}
		for r := b.From[0]; r <= b.To[0]; r++ {
			for c := b.From[1]; c <= b.To[1]; c++ {
				inPiece[layout.Cell{r, c}] = true
			}
		}
		add(Plain, of, b.From, b.To)
	}
	for _, p := range l.Patches {
		c := layout.Cell{p.Row, p.Col}
		if !inPiece[c] {
			add(Loose, p.Fabric, c, c)
		}
	}
}

// linesOf is where the columns (or the rows) of the top that hangs lie,
// measured in patches.
func (t *top) linesOf(columns bool) []Length {
	l := t.in.Given.Layout
	n := l.Rows
	if columns {
		n = l.Cols
	}
	wide := make([][]float64, n)
	for _, p := range l.Patches {
		if len(p.Outline) != 4 {
			continue
		}
		side := func(i, j int) float64 {
			return math.Hypot(p.Outline[i][0]-p.Outline[j][0], p.Outline[i][1]-p.Outline[j][1])
		}
		if columns {
			wide[p.Col-1] = append(wide[p.Col-1], (side(0, 1)+side(3, 2))/2)
		} else {
			wide[p.Row-1] = append(wide[p.Row-1], (side(0, 3)+side(1, 2))/2)
		}
	}
	mid := make([]float64, 0, n)
	of := make([]float64, n)
	for i, w := range wide {
		if len(w) > 0 {
			of[i] = fit.Median(w)
			mid = append(mid, of[i])
		}
	}
	usual := fit.Median(mid)
	at := []Length{0}
	x := Length(0)
	for i := range n {
		size := t.patch
		// A third off is no hanging and no perspective.
		if usual > 0 && of[i] > 0 {
			if share := of[i] / usual; share < .67 || share > 1.5 {
				size = max(t.in.Ruler.Near(ofCM(share*t.patch.CM())+2*t.in.Seam)-2*t.in.Seam, t.in.Ruler.Step)
			}
		}
		x += size
		at = append(at, x)
	}
	return at
}

// givenOnPoint lays out the squares of a top on point. Of m across and n down,
// the diagonals number m + n + 1 either way.
func (t *top) givenOnPoint() error {
	l := t.in.Given.Layout
	side := t.patch.CM()
	across, down := 0, 0
	// The column of a place on the left edge, and the row of one on the upper
	// edge, say how many lie along each: row r and column c meet at x = r + c.
	lo, hi, up, low := math.MaxInt, math.MinInt, math.MaxInt, math.MinInt
	for _, p := range l.Patches {
		if p.Shape == "triangle" {
			continue
		}
		lo, hi = min(lo, p.Row+p.Col), max(hi, p.Row+p.Col)
		up, low = min(up, p.Row-p.Col), max(low, p.Row-p.Col)
	}
	if lo == math.MaxInt {
		return fmt.Errorf("the top on point has no whole squares")
	}
	across, down = (hi-lo)/2+1, (low-up)/2+1
	t.w, t.h = float64(across)*side*math.Sqrt2, float64(down)*side*math.Sqrt2
	for _, p := range l.Patches {
		// Its middle, in half diagonals from the upper left corner.
		x, y := float64(p.Row+p.Col-lo+1), float64(p.Row-p.Col-up+1)
		pp, qq := (x+y)/2*side, (x-y)/2*side
		o := turned(pp-side/2, qq-side/2, side, side)
		seen := clip(o, t.w, t.h)
		share := area(seen) / (side * side)
		if share < 1e-6 {
			continue
		}
		piece := Piece{Part: Loose, Cloth: t.in.Given.Cloth[p.Fabric], Block: -1, Turned: true, W: t.patch, H: t.patch, Outline: t.shift(seen)}
		switch {
		case share < .3:
			piece.Part = CornerTri
			piece.W = Length(math.Round(float64(t.patch) / math.Sqrt2))
			piece.H = piece.W
		case share < .9:
			piece.Part = SideTri
		}
		t.cells = append(t.cells, cell{p.Row - 1, p.Col - 1, len(t.pieces), piece.Outline, share < .9})
		t.pieces = append(t.pieces, piece)
	}
	slices.SortStableFunc(t.cells, func(a, b cell) int { return cmp.Or(cmp.Compare(a.row, b.row), cmp.Compare(a.col, b.col)) })
	return nil
}
