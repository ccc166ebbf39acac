package plan

import (
	"fmt"
	"math"

	"greige/analyze/layout"
)

// Part says what a piece is for.
type Part string

// The parts of a top.
const (
	InBlock   Part = "block"
	Loose     Part = "patch" // of a top that hangs
	Plain     Part = "plain square"
	Sash      Part = "sashing"
	SideTri   Part = "side triangle"
	CornerTri Part = "corner triangle"
	Border    Part = "border"
	Binding   Part = "binding"
)

// Piece is one cut piece of the top, where it lies when all is sewn.
type Piece struct {
	Part    Part
	Cloth   int  // index into Input.Cloths
	Role    byte // in a block: a letter of a chart
	Block   int  // in a block: index into top.blocks; else -1
	At      BlockPiece
	W, H    Length       // finished: the sides, or of a triangle the two short sides
	Outline [][2]float64 // cm of the finished top, x to the right, y down
	Turned  bool         // its sides lie at 45 degrees to the top's
}

// cell is a place of the grid of patches: what a photo of the top would show
// between its lines. A large piece covers several.
type cell struct {
	row, col, piece int
	outline         [][2]float64
	triangle        bool
}

// placed is a pieced block in its place.
type placed struct {
	kind     int // index into Design.Kinds
	row, col int // of the setting
	between  bool
	pieces   []int
}

// top is the setting as geometry.
type top struct {
	in         *Input
	cut        Length // side of a patch as it is cut
	patch      Length // the same finished
	bw, bh     Length // a block, finished
	w, h       float64
	blocks     []placed
	pieces     []Piece
	rows, cols int
	cells      []cell
	edge       Length           // width of all borders together
	fit        [][][][2]float64 // per cloth, the patches that its scrap gives
}

// newTop lays out pieces and cells. Cloths of blocks are not dealt yet.
func newTop(in *Input) (*top, error) {
	t := &top{in: in}
	t.cut = max(in.Ruler.Near(in.Patch+2*in.Seam), in.Ruler.Up(2*in.Seam+1))
	t.patch = t.cut - 2*in.Seam
	k := in.Design.Kinds[0]
	t.bw, t.bh = Length(k.Cols)*t.patch, Length(k.Rows)*t.patch
	for _, b := range in.Borders {
		t.edge += b.Size
	}
	if in.OnPoint {
		if t.bw != t.bh {
			return nil, fmt.Errorf("only square blocks stand on point, and this one has %d rows of %d", k.Rows, k.Cols)
		}
		if in.Sashing != nil {
			return nil, fmt.Errorf("sashing goes with a straight set: leave out --sashing, or give --setting straight")
		}
		t.pointed()
	} else {
		t.straight()
	}
	t.borders()
	if t.rows > layout.MaxSide || t.cols > layout.MaxSide {
		return nil, fmt.Errorf("%d rows of %d patches: a top has at most %d either way", t.rows, t.cols, layout.MaxSide)
	}
	return t, nil
}

// kindAt is which kind of block lies at a place of a straight set, by turns.
func (t *top) kindAt(row, col int) int { return (row + col) % len(t.in.Design.Kinds) }

// straight lays blocks side by side, in rows and columns of cells in which
// each strip of sashing is a row or a column of its own.
func (t *top) straight() {
	in := t.in
	k := in.Design.Kinds[0]
	sash := Length(0)
	if in.Sashing != nil {
		sash = in.Sashing.Size
	}
	lines := func(blocks, cells int) (at []Length) {
		x := Length(0)
		at = []Length{0}
		for b := range blocks {
			for range cells {
				x += t.patch
				at = append(at, x)
			}
			if sash > 0 && b < blocks-1 {
				x += sash
				at = append(at, x)
			}
		}
		return at
	}
	xs, ys := lines(in.Cols, k.Cols), lines(in.Rows, k.Rows)
	t.cols, t.rows = len(xs)-1, len(ys)-1
	t.w, t.h = xs[t.cols].CM(), ys[t.rows].CM()
	stepX, stepY := k.Cols, k.Rows
	if sash > 0 {
		stepX, stepY = k.Cols+1, k.Rows+1
	}
	for row := range in.Rows {
		for col := range in.Cols {
			r, c := row*stepY, col*stepX
			t.blockAt(xs, ys, r, c, row, col)
			if sash > 0 && col < in.Cols-1 {
				t.add(Piece{Part: Sash, Cloth: in.Sashing.Cloth, Block: -1}, xs, ys, BlockPiece{Row: r, Col: c + k.Cols, Rows: k.Rows, Cols: 1})
			}
		}
		if sash > 0 && row < in.Rows-1 {
			t.add(Piece{Part: Sash, Cloth: in.Sashing.Cloth, Block: -1}, xs, ys, BlockPiece{Row: row*stepY + k.Rows, Rows: 1, Cols: t.cols})
		}
	}
}

// blockAt puts a pieced block, or a plain square between pieced ones, at cell
// r, c.
func (t *top) blockAt(xs, ys []Length, r, c, row, col int) {
	if t.in.Alternate >= 0 && (row+col)%2 == 1 {
		k := t.in.Design.Kinds[0]
		t.add(Piece{Part: Plain, Cloth: t.in.Alternate, Block: -1}, xs, ys, BlockPiece{Row: r, Col: c, Rows: k.Rows, Cols: k.Cols})
		return
	}
	b := placed{kind: t.kindAt(row, col), row: row, col: col}
	if t.in.Alternate >= 0 {
		b.kind = 0
	}
	for _, p := range t.in.Design.Kinds[b.kind].Pieces {
		b.pieces = append(b.pieces, len(t.pieces))
		t.add(Piece{Part: InBlock, Role: p.Role, Block: len(t.blocks), At: p}, xs, ys, BlockPiece{Row: r + p.Row, Col: c + p.Col, Rows: p.Rows, Cols: p.Cols})
	}
	t.blocks = append(t.blocks, b)
}

// add places a piece over cells whose lines are xs and ys.
func (t *top) add(p Piece, xs, ys []Length, at BlockPiece) {
	x0, x1, y0, y1 := xs[at.Col], xs[at.Col+at.Cols], ys[at.Row], ys[at.Row+at.Rows]
	p.W, p.H = x1-x0, y1-y0
	p.Outline = t.box(x0, y0, x1, y1)
	for r := at.Row; r < at.Row+at.Rows; r++ {
		for c := at.Col; c < at.Col+at.Cols; c++ {
			t.cells = append(t.cells, cell{r, c, len(t.pieces), t.box(xs[c], ys[r], xs[c+1], ys[r+1]), false})
		}
	}
	t.pieces = append(t.pieces, p)
}

// box is a rectangle within the borders, clockwise from the top left.
func (t *top) box(x0, y0, x1, y1 Length) [][2]float64 {
	e := t.edge.CM()
	l, u, r, d := x0.CM()+e, y0.CM()+e, x1.CM()+e, y1.CM()+e
	return [][2]float64{{l, u}, {r, u}, {r, d}, {l, d}}
}

// pointed turns the blocks by 45 degrees. With p along the diagonal down to the
// right and q along the one up to the right, both in blocks, the block in row
// j and column i of the upright array covers p from i+j+1/2 on and q from
// i-j-1/2 on; those between them lie at i+j-1/2. Cells number as a photo's do
// (see the contract of layout): rows along p, columns along q.
func (t *top) pointed() {
	in := t.in
	n := in.Design.Kinds[0].Rows
	side := t.bw.CM()
	t.w, t.h = float64(in.Cols)*side*math.Sqrt2, float64(in.Rows)*side*math.Sqrt2
	// a and b count lattice squares of a block's size, from the corner ones.
	for a := -1; a < in.Cols+in.Rows; a++ {
		for b := -in.Rows; b <= in.Cols; b++ {
			t.latticeSquare(a, b, n, side)
		}
	}
	// Rows and columns without a cell are left out: cells number from 0.
	loR, loC, hiR, hiC := math.MaxInt, math.MaxInt, 0, 0
	for _, c := range t.cells {
		loR, loC, hiR, hiC = min(loR, c.row), min(loC, c.col), max(hiR, c.row), max(hiC, c.col)
	}
	for i := range t.cells {
		t.cells[i].row -= loR
		t.cells[i].col -= loC
	}
	t.rows, t.cols = hiR-loR+1, hiC-loC+1
}

// latticeSquare is a block on point, a plain square between blocks, or the
// triangle that is left of it at the edge.
func (t *top) latticeSquare(a, b, n int, side float64) {
	in := t.in
	p0, q0 := (float64(a)+.5)*side, (float64(b)-.5)*side
	whole := t.turned(p0, q0, side, side)
	seen := clip(whole, t.w, t.h)
	if area(seen) < 1e-9*side*side {
		return
	}
	// The block's middle is at x = (p+q)/2, y = (p-q)/2 diagonals.
	x2, y2 := a+1+b, a+1-b
	base := Piece{Block: -1, Turned: true, W: t.bw, H: t.bh}
	switch share := area(seen) / (side * side); {
	case share < .3: // a quarter: half of a square of 1/sqrt 2
		base.Part, base.Cloth = CornerTri, in.Triangles
		base.W = Length(math.Round(float64(t.bw) / math.Sqrt2))
		base.H = base.W
	case share < .6:
		base.Part, base.Cloth = SideTri, in.Triangles
	case x2%2 == 0 && in.Alternate >= 0: // between the upright blocks
		base.Part, base.Cloth = Plain, in.Alternate
	default:
		t.pointedBlock(placed{row: (y2 - 1) / 2, col: (x2 - 1) / 2, between: x2%2 == 0}, a, b, n)
		return
	}
	base.Outline = t.shift(seen)
	t.subcells(a, b, n, BlockPiece{Rows: n, Cols: n}, len(t.pieces))
	t.pieces = append(t.pieces, base)
}

func (t *top) pointedBlock(b placed, a, bb, n int) {
	if b.between {
		b.kind = len(t.in.Design.Kinds) - 1
	}
	side := t.patch.CM()
	for _, p := range t.in.Design.Kinds[b.kind].Pieces {
		// A block's rows run along q, from its corner on the left to that on
		// top, and its columns are counted along q.
		p0, q0 := (float64(a)+.5)*t.bw.CM()+float64(p.Row)*side, (float64(bb)-.5)*t.bw.CM()+float64(p.Col)*side
		outline := t.turned(p0, q0, float64(p.Rows)*side, float64(p.Cols)*side)
		t.subcells(a, bb, n, p, len(t.pieces))
		b.pieces = append(b.pieces, len(t.pieces))
		t.pieces = append(t.pieces, Piece{Part: InBlock, Role: p.Role, Block: len(t.blocks), At: p, Turned: true,
			W: Length(p.Cols) * t.patch, H: Length(p.Rows) * t.patch, Outline: t.shift(outline)})
	}
	t.blocks = append(t.blocks, b)
}

// subcells are the cells of a piece that lies at p within a lattice square.
func (t *top) subcells(a, b, n int, p BlockPiece, piece int) {
	side := t.patch.CM()
	for r := p.Row; r < p.Row+p.Rows; r++ {
		for c := p.Col; c < p.Col+p.Cols; c++ {
			o := t.turned((float64(a)+.5)*t.bw.CM()+float64(r)*side, (float64(b)-.5)*t.bw.CM()+float64(c)*side, side, side)
			seen := clip(o, t.w, t.h)
			share := area(seen) / (side * side)
			if share < 1e-6 {
				continue
			}
			t.cells = append(t.cells, cell{(a+1)*n + r, (b+t.in.Rows)*n + c, piece, t.shift(seen), share < .9})
		}
	}
}

// turned is a rectangle by its place and sides along p and q, in cm: its
// corners from the left one clockwise.
func (t *top) turned(p, q, dp, dq float64) [][2]float64 {
	at := func(p, q float64) [2]float64 { return [2]float64{(p + q) / math.Sqrt2, (p - q) / math.Sqrt2} }
	return [][2]float64{at(p, q), at(p, q+dq), at(p+dp, q+dq), at(p+dp, q)}
}

// shift moves an outline in by the borders.
func (t *top) shift(o [][2]float64) [][2]float64 {
	out := make([][2]float64, len(o))
	for i, p := range o {
		out[i] = [2]float64{p[0] + t.edge.CM(), p[1] + t.edge.CM()}
	}
	return out
}

// borders frame the top, from the inside out: first the sides, then above and
// below, over the whole width.
func (t *top) borders() {
	e := t.edge.CM()
	x0, y0, x1, y1 := e, e, e+t.w, e+t.h
	rect := func(l, u, r, d float64) [][2]float64 { return [][2]float64{{l, u}, {r, u}, {r, d}, {l, d}} }
	for _, b := range t.in.Borders {
		s := b.Size.CM()
		add := func(o [][2]float64, w, h float64) {
			t.pieces = append(t.pieces, Piece{Part: Border, Cloth: b.Cloth, Block: -1, W: ofCM(w), H: ofCM(h), Outline: o})
		}
		add(rect(x0-s, y0, x0, y1), s, y1-y0)
		add(rect(x1, y0, x1+s, y1), s, y1-y0)
		x0, x1 = x0-s, x1+s
		add(rect(x0, y0-s, x1, y0), x1-x0, s)
		add(rect(x0, y1, x1, y1+s), x1-x0, s)
		y0, y1 = y0-s, y1+s
	}
	t.w, t.h = x1-x0, y1-y0
}

func ofCM(v float64) Length { return Length(math.Round(v * float64(Centimetre))) }

// clip is what of a convex outline lies in 0..w, 0..h (Sutherland and Hodgman
// 1974).
func clip(o [][2]float64, w, h float64) [][2]float64 {
	const eps = 1e-9
	for _, side := range [4]struct {
		axis  int
		limit float64
		sign  float64
	}{{0, 0, 1}, {0, w, -1}, {1, 0, 1}, {1, h, -1}} {
		var out [][2]float64
		in := func(p [2]float64) float64 { return side.sign * (p[side.axis] - side.limit) }
		for i, p := range o {
			q := o[(i+1)%len(o)]
			dp, dq := in(p), in(q)
			if dp >= -eps {
				out = append(out, p)
			}
			if dp > eps && dq < -eps || dp < -eps && dq > eps {
				f := dp / (dp - dq)
				out = append(out, [2]float64{p[0] + f*(q[0]-p[0]), p[1] + f*(q[1]-p[1])})
			}
		}
		o = out
	}
	return o
}

// area is what an outline encloses (the shoelace formula).
func area(o [][2]float64) float64 {
	a := 0.
	for i, p := range o {
		q := o[(i+1)%len(o)]
		a += p[0]*q[1] - q[0]*p[1]
	}
	return math.Abs(a) / 2
}
