package plan

import (
	"fmt"
	"slices"
	"strings"

	"greige/analyze/layout"
)

// Block is one block: a rectangle of cells, a patch wide each, and the pieces
// that lie on them.
type Block struct {
	Rows, Cols int
	Pieces     []BlockPiece // in reading order; they cover every cell once
}

// BlockPiece is a piece of a block by its cells, counted from 0. Role is a
// letter of a chart: L, M, D, or '.' for anything.
type BlockPiece struct {
	Row, Col, Rows, Cols int
	Role                 byte
}

// Design is a block as it is asked for: one kind, or two that take turns.
type Design struct {
	Name  string
	Kinds []Block
}

// charts are the blocks that have a name, as rows; two kinds take turns. The
// names are those of layout's charts.
var charts = []struct {
	name  string
	kinds [][]string
}{
	{"four-patch", [][]string{{"DL", "LD"}}},
	{"nine-patch", [][]string{{"DLD", "LDL", "DLD"}, {"LDL", "DLD", "LDL"}}},
	{"nine-patch-dark-corners", [][]string{{"DLD", "LDL", "DLD"}}},
	{"nine-patch-light-corners", [][]string{{"LDL", "DLD", "LDL"}}},
	{"nine-patch-three-values", [][]string{{"DLD", "LML", "DLD"}}},
	{"sixteen-patch", [][]string{{"DLDL", "LDLD", "DLDL", "LDLD"}}},
	{"checkerboard", [][]string{{"DL", "LD"}}},
	{"stripes-across", [][]string{{"DD", "LL"}}},
	{"stripes-down", [][]string{{"DL", "DL"}}},
	{"diagonal-stripes", [][]string{{"DDLL", "DLLD", "LLDD", "LDDL"}}},
}

// BlockNames are the names of DesignByName.
func BlockNames() []string {
	out := []string{}
	for _, c := range charts {
		out = append(out, c.name)
	}
	return append(out, "rails")
}

// DesignByName is the block of a name; capitals and spaces for the hyphens are
// let pass.
func DesignByName(name string) (Design, error) {
	key := strings.Join(strings.FieldsFunc(strings.ToLower(name), func(r rune) bool { return strings.ContainsRune(" -_,", r) }), "-")
	for _, c := range charts {
		if c.name != key {
			continue
		}
		d := Design{Name: strings.ReplaceAll(key, "-", " ")}
		for _, rows := range c.kinds {
			d.Kinds = append(d.Kinds, ofRows(rows))
		}
		return d, nil
	}
	if key == "rails" {
		return rails(), nil
	}
	return Design{}, fmt.Errorf("no block is called %q: the names are %s, or give a chart", name, strings.Join(BlockNames(), ", "))
}

// maxBlock is how many patches a block may have along each side.
const maxBlock = 40

// DesignOf is the block that a chart draws. A chart with more than maxBlock
// rows or columns is an error.
func DesignOf(c layout.Chart) (Design, error) {
	if len(c.Rows) == 0 {
		return DesignByName(c.Name)
	}
	if len(c.Rows) > maxBlock || len(c.Rows[0]) > maxBlock {
		return Design{}, fmt.Errorf("a block has at most %d rows and columns, and this chart has %d and %d", maxBlock, len(c.Rows), len(c.Rows[0]))
	}
	return Design{Name: "your chart", Kinds: []Block{ofRows(c.Rows)}}, nil
}

func ofRows(rows []string) Block {
	b := Block{Rows: len(rows), Cols: len(rows[0])}
	for r, row := range rows {
		for c := range row {
			b.Pieces = append(b.Pieces, BlockPiece{r, c, 1, 1, row[c]})
		}
	}
	return b
}

// rails are three strips side by side, across and down by turns.
func rails() Design {
	across, down := Block{Rows: 3, Cols: 3}, Block{Rows: 3, Cols: 3}
	for i, role := range []byte("LMD") {
		across.Pieces = append(across.Pieces, BlockPiece{i, 0, 1, 3, role})
		down.Pieces = append(down.Pieces, BlockPiece{0, i, 3, 1, role})
	}
	return Design{Name: "rails", Kinds: []Block{across, down}}
}

// Chart is the block as rows of letters, a letter a cell.
func (b Block) Chart() []string {
	cells := blankRows(b.Rows, b.Cols)
	for _, p := range b.Pieces {
		for r := p.Row; r < p.Row+p.Rows; r++ {
			for c := p.Col; c < p.Col+p.Cols; c++ {
				cells[r][c] = p.Role
			}
		}
	}
	return asText(cells)
}

// blankRows are the rows of a chart that means nothing of any patch.
func blankRows(rows, cols int) [][]byte {
	out := make([][]byte, rows)
	for r := range out {
		out[r] = slices.Repeat([]byte{'.'}, cols)
	}
	return out
}

func asText(rows [][]byte) []string {
	out := make([]string, len(rows))
	for r := range rows {
		out[r] = string(rows[r])
	}
	return out
}

// Roles are the letters that the kinds of the design ask for, in the order
// L, M, D, '.'.
func (d Design) Roles() []byte {
	var out []byte
	for _, role := range []byte("LMD.") {
		for _, b := range d.Kinds {
			if slices.ContainsFunc(b.Pieces, func(p BlockPiece) bool { return p.Role == role }) && !slices.Contains(out, role) {
				out = append(out, role)
			}
		}
	}
	return out
}

// meetsItself tells whether two pieces of one role share a seam within a
// block: such a block cannot be made of one cloth a role without running
// together.
func (d Design) meetsItself() bool {
	for _, b := range d.Kinds {
		for i, p := range b.Pieces {
			for _, q := range b.Pieces[:i] {
				if p.Role == q.Role && touch(p, q) {
					return true
				}
			}
		}
	}
	return false
}

func touch(p, q BlockPiece) bool {
	overRows := min(p.Row+p.Rows, q.Row+q.Rows) - max(p.Row, q.Row)
	overCols := min(p.Col+p.Cols, q.Col+q.Cols) - max(p.Col, q.Col)
	return overRows > 0 && overCols == 0 || overCols > 0 && overRows == 0
}
