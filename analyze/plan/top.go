package plan

import (
	"fmt"
	"math"

	"greige/analyze/layout"
	"greige/analyze/raster"
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

// emptyTop has patches of the size that the ruler shows, as blocks by themselves, and
// room for the borders.
func emptyTop(in *Input) *top {
	t := &top{in: in, cut: max(in.Ruler.Near(in.Patch+2*in.Seam), in.Ruler.Up(2*in.Seam+1))}
	t.patch = t.cut - 2*in.Seam
	t.bw, t.bh = t.patch, t.patch
	for _, b := range in.Borders {
		t.edge += b.Size
	}
	return t
}

// newTop lays out pieces and cells. Cloths of blocks are not dealt yet.
func newTop(in *Input) (*top, error) {
	t := emptyTop(in)
	k := in.Design.Kinds[0]
	t.bw, t.bh = Length(k.Cols)*t.patch, Length(k.Rows)*t.patch
	if in.OnPoint {
		if t.bw != t.bh {
			return nil, fmt.Errorf("only square blocks stand on point, and this one has %d rows of %d", k.Rows, k.Cols)
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

// lattice is the places of a top on point: squares of a block's side, with
// sashing all round them where there is any, that stand on a corner. With p along
// the diagonal down to the right and q along the one up to the right, square a, b
// begins at p = a pitch and q = b pitch. The block in row j and column i of the
// upright array is a = i+j, b = i-j; those between them lie at i+j+1 and i-j, and
// what lies half outside is a triangle.
type lattice struct {
	n                         int     // cells along a block
	patch, block, sash, pitch float64 // cm
	p0, q0                    float64 // the top's upper left corner has p = -p0, q = -q0
}

// start is where a row or a column of cells begins along p or q, and how wide it
// is: a row of sashing follows n rows of patches.
func (l *lattice) start(cell int) (at, wide float64) {
	period := l.period()
	square := int(math.Floor(float64(cell) / float64(period)))
	k := cell - square*period
	if k == l.n {
		return float64(square)*l.pitch + l.block, l.sash
	}
	return float64(square)*l.pitch + float64(k)*l.patch, l.patch
}

// period is how many cells go to a square with the sashing on one side.
func (l *lattice) period() int {
	if l.sash > 0 {
		return l.n + 1
	}
	return l.n
}

// pointed turns the blocks by 45 degrees. Sashing frames every block, so that the
// body of the top has a stepped edge whose steps are a block and a strip wide:
// that is a short side of the triangles that fill it, as tables for the sewing
// room have it ("add the sashing to the block"); the long side of the corners is
// a block and two strips. Cells number as a photo's do (see the contract of
// layout): rows along p, columns along q.
func (t *top) pointed() {
	in := t.in
	l := lattice{n: in.Design.Kinds[0].Rows, patch: t.patch.CM(), block: t.bw.CM()}
	if in.Sashing != nil {
		l.sash = in.Sashing.Size.CM()
	}
	l.pitch = l.block + l.sash
	// The left tip of the first column's frames has p + q = -2 sash, the upper tip
	// of the first row's has p - q = -sash - pitch.
	l.p0, l.q0 = (l.pitch+3*l.sash)/2, (l.sash-l.pitch)/2
	t.w, t.h = (float64(in.Cols)*l.pitch+l.sash)*math.Sqrt2, (float64(in.Rows)*l.pitch+l.sash)*math.Sqrt2
	for a := -1; a < in.Cols+in.Rows; a++ {
		for b := -in.Rows; b <= in.Cols; b++ {
			t.latticeSquare(&l, a, b)
		}
		if l.sash > 0 {
			t.sashes(&l, a)
		}
	}
	// Rows and columns without a cell are left out: cells number from 0.
	loR, loC, hiR, hiC := math.MaxInt, math.MaxInt, math.MinInt, math.MinInt
	for _, c := range t.cells {
		loR, loC, hiR, hiC = min(loR, c.row), min(loC, c.col), max(hiR, c.row), max(hiC, c.col)
	}
	for i := range t.cells {
		t.cells[i].row -= loR
		t.cells[i].col -= loC
	}
	t.rows, t.cols = hiR-loR+1, hiC-loC+1
}

// within tells whether square a, b of the lattice is a whole one.
func (t *top) within(a, b int) bool {
	x, y := a+b+1, a-b+1 // of its middle, in half diagonals
	return x > 0 && x < 2*t.in.Cols && y > 0 && y < 2*t.in.Rows
}

// latticeSquare is a block on point, a plain square between blocks, or the
// triangle that fills the edge there.
func (t *top) latticeSquare(l *lattice, a, b int) {
	in := t.in
	x, y := a+b+1, a-b+1
	if x < 0 || x > 2*in.Cols || y < 0 || y > 2*in.Rows {
		return
	}
	first := [2]int{a * l.period(), b * l.period()} // row and column
	base := Piece{Block: -1, Turned: true, W: t.bw, H: t.bh}
	if t.within(a, b) {
		if x%2 == 0 && in.Alternate >= 0 { // between the upright blocks
			base.Part, base.Cloth = Plain, in.Alternate
			t.laid(l, base, first, [2]int{first[0] + l.n, first[1] + l.n})
			return
		}
		t.pointedBlock(l, placed{row: (y - 1) / 2, col: (x - 1) / 2, between: x%2 == 0}, first)
		return
	}
	side := l.pitch
	base.Part, base.Cloth = SideTri, in.Triangles
	if (x == 0 || x == 2*in.Cols) && (y == 0 || y == 2*in.Rows) {
		base.Part = CornerTri
		side = (l.pitch + l.sash) / math.Sqrt2
	}
	base.W = ofCM(side)
	base.H = base.W
	// The triangle reaches over the sashing that would lie round a block here,
	// but for the sides where a block's own lies.
	last := [2]int{first[0] + l.n, first[1] + l.n}
	if l.sash > 0 {
		for k, beside := range [2][2]bool{{t.within(a-1, b), t.within(a+1, b)}, {t.within(a, b-1), t.within(a, b+1)}} {
			if !beside[0] {
				first[k]--
			}
			if !beside[1] {
				last[k]++
			}
		}
	}
	t.laid(l, base, first, last)
}

func (t *top) pointedBlock(l *lattice, b placed, first [2]int) {
	if b.between {
		b.kind = len(t.in.Design.Kinds) - 1
	}
	for _, p := range t.in.Design.Kinds[b.kind].Pieces {
		b.pieces = append(b.pieces, len(t.pieces))
		// A block's rows run along q, from its corner on the left to that on
		// top, and its columns are counted along q.
		from := [2]int{first[0] + p.Row, first[1] + p.Col}
		t.laid(l, Piece{Part: InBlock, Role: p.Role, Block: len(t.blocks), At: p, Turned: true, W: Length(p.Cols) * t.patch, H: Length(p.Rows) * t.patch},
			from, [2]int{from[0] + p.Rows, from[1] + p.Cols})
	}
	t.blocks = append(t.blocks, b)
}

// sashes are the strips before, between and behind the blocks of diagonal row a,
// and the long strip between it and the row before it, as long as either.
func (t *top) sashes(l *lattice, a int) {
	span := func(a int) (from, to int) { // whole squares of a row: b from, below to
		for b := -t.in.Rows; b <= t.in.Cols; b++ {
			if t.within(a, b) {
				if from == to {
					from = b
				}
				to = b + 1
			}
		}
		return from, to
	}
	sash := t.in.Sashing.Size
	piece := Piece{Part: Sash, Cloth: t.in.Sashing.Cloth, Block: -1, Turned: true}
	n := l.period()
	from, to := span(a)
	if from < to {
		for b := from; b <= to; b++ {
			piece.W, piece.H = sash, t.bh
			t.laid(l, piece, [2]int{a * n, b*n - 1}, [2]int{a*n + l.n, b * n})
		}
	}
	if before, beyond := span(a - 1); before < beyond {
		if from < to {
			from, to = min(from, before), max(to, beyond)
		} else {
			from, to = before, beyond
		}
	}
	if from < to {
		piece.W, piece.H = Length(to-from)*(t.bw+sash)+sash, sash
		t.laid(l, piece, [2]int{a*n - 1, from*n - 1}, [2]int{a * n, to * n})
	}
}

// laid places a piece over cells, rows and columns from first up to but not with
// last, as far as they lie in the top.
func (t *top) laid(l *lattice, piece Piece, first, last [2]int) {
	p, _ := l.start(first[0])
	q, _ := l.start(first[1])
	pEnd, _ := l.start(last[0])
	qEnd, _ := l.start(last[1])
	piece.Outline = t.shift(clip(turned(l.p0+p, l.q0+q, pEnd-p, qEnd-q), t.w, t.h))
	for r := first[0]; r < last[0]; r++ {
		for c := first[1]; c < last[1]; c++ {
			p, dp := l.start(r)
			q, dq := l.start(c)
			seen := clip(turned(l.p0+p, l.q0+q, dp, dq), t.w, t.h)
			share := area(seen) / (dp * dq)
			if share < 1e-6 {
				continue
			}
			t.cells = append(t.cells, cell{r, c, len(t.pieces), t.shift(seen), share < .9})
		}
	}
	t.pieces = append(t.pieces, piece)
}

// turned is a rectangle by its place and sides along p and q, in cm: its
// corners from the left one clockwise.
func turned(p, q, dp, dq float64) [][2]float64 {
	at := func(p, q float64) [2]float64 { return [2]float64{(p + q) / math.Sqrt2, (p - q) / math.Sqrt2} }
	return [][2]float64{at(p, q), at(p, q+dq), at(p+dp, q+dq), at(p+dp, q)}
}

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

func area(o [][2]float64) float64 { return math.Abs(raster.Area(o)) }
