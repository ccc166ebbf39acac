// Package plan turns chosen cloths into a top before they are cut. A block, a
// setting and cloths come in; out come the top as geometry and as a picture,
// the deal of the cloths, what to cut (strips, strip sets, segments, patches,
// triangles), how much cloth that takes, which way seams are pressed, the
// order of work, and the same verdict that a top on the wall gets from
// layout.Judge. The methods are those of strip piecing and of the on-point
// setting (common practice, no source; the square roots are derived in
// top.go and cut.go). Everything is counted in whole nanometres.
package plan

import (
	"errors"
	"fmt"
	"slices"

	"greige/analyze/layout"
	"greige/analyze/piles"
)

// Cloth is a cloth that a plan may use.
type Cloth struct {
	piles.Fabric
	// Scrap is its shape where it is a piece of a known size; nil for cloth
	// off the bolt, of which there is as much as is bought.
	Scrap *Scrap
}

// Strip is a width of a cloth: sashing or a border.
type Strip struct {
	Size  Length // finished
	Cloth int    // index into Input.Cloths
}

// Input is what a plan is made of.
type Input struct {
	Design     Design
	Cols, Rows int    // blocks across and down; on point those that stand in upright rows
	Patch      Length // finished, as asked for
	Seam       Length
	Ruler      Ruler
	Usable     Length // width of cloth off the bolt, without its selvages
	OnPoint    bool
	Cloths     []Cloth
	Roles      map[byte][]int // indexes into Cloths by the letters of a chart
	Alternate  int            // index into Cloths; -1 for none
	Triangles  int            // on point: index into Cloths of the triangles at the edges
	Sashing    *Strip         // nil for none
	Borders    []Strip        // from the inside out
	Binding    int            // index into Cloths
	People     int            // 1 or more
	Picked     []byte         // letters of the roles whose cloths the program chose
	// Others are cloths of the stash that could be used instead.
	Others []Cloth
	// Given is a top that hangs: its patches are planned as they are, and
	// Design, Cols, Rows, Roles, Alternate and Sashing are not read.
	Given *Given

	unjudged bool // no verdict: for the tests of thousands of plans
}

// Use is one cloth of a plan and what becomes of it.
type Use struct {
	ID        string   `json:"id"`
	Roles     []string `json:"roles"` // "light", "medium", "dark", "plain squares", "sashing", ...
	Lightness float64  `json:"lightness"`
	Photo     string   `json:"photo,omitempty"`
	Texture   string   `json:"texture"` // "photo", or "colours" where the photo is not there
	Patches   int      `json:"patches"` // in blocks
	// Yields is how many patches the piece gives, all of its other uses aside;
	// left out for cloth off the bolt.
	Yields *int    `json:"yields,omitempty"`
	HaveCM float64 `json:"have_cm2,omitempty"` // the piece's area
	NeedCM float64 `json:"need_cm2"`           // the area of all that is cut from it
	// Length is how much of the usable width the strips take; Buy is that with
	// Allowance, rounded up to what is sold. Both are 0 where the piece
	// that is there gives all.
	Length Length `json:"length"`
	Buy    Length `json:"buy"`
	Bought string `json:"bought,omitempty"` // Buy in words
}

// Plan is the answer: all that is needed to see a top and to make it.
type Plan struct {
	Units     string         `json:"units"`
	Seam      Length         `json:"seam"`
	Usable    Length         `json:"usable_width"`
	Allowance float64        `json:"allowance"` // share that is added to what is bought
	Block     string         `json:"block"`
	Charts    [][]string     `json:"charts,omitempty"` // of each kind of block; kinds take turns
	Setting   layout.Setting `json:"setting"`
	Across    int            `json:"across"` // blocks
	Down      int            `json:"down"`
	Pieced    int            `json:"pieced_blocks"`
	PlainN    int            `json:"plain_squares"`
	Patch     Length         `json:"patch"` // finished
	Cut       Length         `json:"patch_cut"`
	BlockW    Length         `json:"block_width"`
	BlockH    Length         `json:"block_height"`
	Width     Length         `json:"width"` // of the finished top, borders and all
	Height    Length         `json:"height"`
	Strips    bool           `json:"strip_pieced"`
	Cloths    []Use          `json:"cloths"`
	Grid      [][]string     `json:"grid"` // the cloth of each place, row by row; "" outside the top
	CutList   []Cut          `json:"cutting_list"`
	Sheets    []Sheet        `json:"sheets"`
	Press     []Press        `json:"press"`
	Advice    []string       `json:"pressing"` // beyond the blocks, in words
	Steps     []string       `json:"steps"`
	Reads     *float64       `json:"reads,omitempty"`
	Seams     []PairSeam     `json:"seams"`
	Changes   []Swap         `json:"changes"`
	Missing   []Missing      `json:"missing"`
	Picked    bool           `json:"cloths_chosen"`    // by the program, not by name
	Alike     int            `json:"neighbours_alike"` // pieces of one role and one cloth that meet
	Scraps    []ScrapCut     `json:"scraps"`
	Remarks   []string       `json:"remarks,omitempty"`

	Ruler  Ruler          `json:"-"`
	Layout *layout.Layout `json:"-"` // the verdict on the mock-up
	Chosen []Cloth        `json:"-"` // in the order of Cloths
	Pieces []Piece        `json:"-"`
	Cells  []Cell         `json:"-"`
}

// Cell is a place of the grid of patches in the picture: row and column from
// 1, its outline in cm of the finished top, and whose piece it shows.
type Cell struct {
	Row, Col, Piece int
	Outline         [][2]float64
}

// Bounds of what is planned.
const (
	maxBlocks = 100
	maxPeople = 50
	maxCloths = 500
)

// Make plans a top. Errors say what does not go together, in words.
func Make(in Input) (*Plan, error) {
	if err := in.check(); err != nil {
		return nil, err
	}
	var t *top
	var err error
	if in.Given != nil {
		t, err = givenTop(&in)
	} else {
		t, err = newTop(&in)
	}
	if err != nil {
		return nil, err
	}
	p := &Plan{
		Units: in.Ruler.Unit(), Ruler: in.Ruler, Seam: in.Seam, Usable: in.Usable, Allowance: allowance,
		Setting: layout.Straight, Across: in.Cols, Down: in.Rows, Patch: t.patch, Cut: t.cut, BlockW: t.bw, BlockH: t.bh,
		Block: in.Design.Name, Pieced: len(t.blocks), Width: ofCM(t.w), Height: ofCM(t.h), Chosen: in.Cloths, Picked: len(in.Picked) > 0,
		Changes: []Swap{}, Missing: []Missing{}, Scraps: []ScrapCut{}, Advice: []string{},
	}
	if in.OnPoint {
		p.Setting = layout.OnPoint
	}
	for _, k := range in.Design.Kinds {
		p.Charts = append(p.Charts, k.Chart())
	}
	if t.patch != in.Patch {
		p.Remarks = append(p.Remarks, fmt.Sprintf("Patches of %s would be cut at %s, which no ruler shows. They are cut at %s and finish at %s.",
			decimalOf(in.Ruler, in.Patch), decimalOf(in.Ruler, in.Patch+2*in.Seam), in.Ruler.Say(t.cut), in.Ruler.Say(t.patch)))
	}
	yields := t.yields()
	if in.Given == nil {
		p.Strips = t.deal(yields)
	}
	p.Alike = t.alike()
	p.PlainN = t.count(Plain)
	if err := t.cutting(p); err != nil {
		return nil, err
	}
	t.scraps(p, yields)
	t.press(p)
	if !in.unjudged {
		if err := t.judge(p); err != nil {
			return nil, err
		}
	}
	t.lacking(p)
	p.Pieces = t.pieces
	t.show(p)
	p.Steps = t.steps(p)
	return p, nil
}

// decimalOf writes a length that may lie between a ruler's lines.
func decimalOf(r Ruler, l Length) string {
	if r.Metric {
		return decimal(l.CM()) + "\u00a0cm"
	}
	return decimal(float64(l)/float64(Inch)) + "\u00a0in"
}

func (t *top) count(part Part) int {
	n := 0
	for i := range t.pieces {
		if t.pieces[i].Part == part {
			n++
		}
	}
	return n
}

// show fills the grid of cloths and the cells of the picture.
func (t *top) show(p *Plan) {
	p.Grid = make([][]string, t.rows)
	for r := range p.Grid {
		p.Grid[r] = make([]string, t.cols)
	}
	for _, c := range t.cells {
		p.Grid[c.row][c.col] = t.in.Cloths[t.pieces[c.piece].Cloth].ID
		p.Cells = append(p.Cells, Cell{c.row + 1, c.col + 1, c.piece, c.outline})
	}
	slices.SortFunc(p.Cells, func(a, b Cell) int { return (a.Row-b.Row)*layout.MaxSide*4 + a.Col - b.Col })
}

func (in *Input) check() error {
	cloths := len(in.Cloths)
	inside := func(i int) bool { return i >= 0 && i < cloths }
	switch {
	case cloths == 0:
		return errors.New("no cloth is chosen")
	case cloths > maxCloths:
		return fmt.Errorf("%d cloths are chosen; at most %d can be planned with", cloths, maxCloths)
	case in.People < 1 || in.People > maxPeople:
		return fmt.Errorf("the work is shared by 1 to %d people, not %d", maxPeople, in.People)
	case in.Patch <= 0 || in.Seam <= 0 || in.Usable <= 0 || in.Ruler.Step <= 0:
		return errors.New("patch, seam, width of cloth and ruler have sizes above 0")
	case 2*in.Seam%in.Ruler.Step != 0:
		return errors.New("two seam allowances lie on no line of the ruler")
	case !inside(in.Binding) || in.OnPoint && !inside(in.Triangles):
		return errors.New("the binding or the triangles are of a cloth that is not chosen")
	}
	for _, b := range in.Borders {
		if b.Size <= 0 || !inside(b.Cloth) || !in.Ruler.Shows(b.Size+2*in.Seam) {
			return errors.New("a border needs a width that a ruler shows and a chosen cloth")
		}
	}
	if in.Given != nil {
		return nil
	}
	switch {
	case in.Cols < 1 || in.Rows < 1 || in.Cols > maxBlocks || in.Rows > maxBlocks:
		return fmt.Errorf("%d by %d blocks: give 1 to %d either way", in.Cols, in.Rows, maxBlocks)
	case len(in.Design.Kinds) == 0:
		return errors.New("no block is given")
	case in.Alternate >= cloths:
		return errors.New("the plain squares are of a cloth that is not chosen")
	case in.Sashing != nil && (in.Sashing.Size <= 0 || !inside(in.Sashing.Cloth) || !in.Ruler.Shows(in.Sashing.Size+2*in.Seam)):
		return errors.New("sashing needs a width that a ruler shows and a chosen cloth")
	}
	for _, role := range in.Design.Roles() {
		if len(in.Roles[role]) == 0 {
			return fmt.Errorf("the block asks for %s, and no cloth is chosen for it", roleWords[role])
		}
		for _, i := range in.Roles[role] {
			if !inside(i) {
				return fmt.Errorf("a cloth for %s is not among those chosen", roleWords[role])
			}
		}
	}
	return nil
}

var roleWords = map[byte]string{'L': "lights", 'M': "mediums", 'D': "darks", '.': "any cloth"}

var roleNames = map[byte]string{'L': "light", 'M': "medium", 'D': "dark", '.': "any"}
