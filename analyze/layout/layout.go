// Package layout answers whether a block, a design wall or a top reads. The
// measured patches of a grid come in; out come the seams with their verdicts,
// the patches that are the same cloth, the repeat that the lights and darks
// make, the patches that stand against it, and the fewest changes that make
// it read. Clarity is the d' of signal detection on L* at the viewing
// distance; light and dark are judged by the neighbours, never absolutely.
package layout

import (
	"fmt"
	"math"

	"greige/analyze/camera"
	"greige/analyze/cloth"
	"greige/analyze/piles"
	"greige/colorspace"
)

// Input is what a layout is judged by: measured figures, no picture.
type Input struct {
	Rows, Cols int
	Setting    Setting
	Corners    [][2]float64 // handed on to the Layout
	GridFound  bool         // handed on to the Layout
	// Patches are the measured patches in any order: Row, Col, Shape, Outline
	// and Cloth are read. Of the cloth, Lab, Lightness, Apart (or, without
	// it, Uncertainty), Spread, Character and Colours count. Cells without a
	// patch are outside the top.
	Patches []Patch
	// Lost and Soft are the lightness differences (L*) under which a seam is
	// lost and under which it is only soft; both 0: DefaultLost, DefaultSoft.
	Lost, Soft float64
	// Chart is what the patches are meant to be; nil: it is found.
	Chart *Chart
	// Stash are cloths that could be hung instead. Doubtful ones are not.
	Stash []piles.Fabric
}

// The seam limits in L*: common practice, no source.
const (
	DefaultLost = 8
	DefaultSoft = 20
)

// MaxSide bounds the rows and the columns of a top: far beyond any quilt, and
// small enough that no input can make the search run away.
const MaxSide = 100

// Judge answers for a measured top: the same cloths, the seams, the pattern,
// the patches that stand against it, and the changes. It is deterministic, and
// takes the order of the patches from their rows and columns alone. Errors say
// what is wrong with the input: no patches, a patch outside the grid or twice
// in one place, a figure that is no number, limits the wrong way round.
func Judge(in Input) (Layout, error) {
	t, err := newTop(in)
	if err != nil {
		return Layout{}, err
	}
	return t.judge(), nil
}

// top is a layout in the making: the patches in reading order, where they lie,
// and which of them meet.
type top struct {
	in         Input
	rows, cols int
	lost, soft float64
	patches    []Patch // in reading order
	at         []int   // row*cols+col (from 0) to the index of the patch, -1 for none
	edges      []edge  // in the order of Layout.Seams
	edgesOf    [][]int // patch to its edges
}

// edge is where two patches meet: a is left of b, or above it.
type edge struct{ a, b int }

func newTop(in Input) (*top, error) {
	t := &top{in: in, rows: in.Rows, cols: in.Cols, lost: in.Lost, soft: in.Soft}
	if t.lost == 0 && t.soft == 0 {
		t.lost, t.soft = DefaultLost, DefaultSoft
	}
	switch {
	case !(t.lost >= 0) || !(t.soft >= t.lost) || t.soft > 100:
		return nil, fmt.Errorf("a seam cannot be lost under %g and soft under %g: give lightness differences from 0 to 100, the lost one not above the soft one", t.lost, t.soft)
	case in.Rows < 1 || in.Cols < 1 || in.Rows > MaxSide || in.Cols > MaxSide:
		return nil, fmt.Errorf("a top of %d by %d patches: rows and columns run from 1 to %d", in.Rows, in.Cols, MaxSide)
	case len(in.Patches) == 0:
		return nil, fmt.Errorf("no patch was measured")
	}
	if c := in.Chart; c != nil {
		if err := c.check(); err != nil {
			return nil, err
		}
	}
	given := make([]int, in.Rows*in.Cols)
	for i := range given {
		given[i] = -1
	}
	for i, p := range in.Patches {
		if p.Row < 1 || p.Row > in.Rows || p.Col < 1 || p.Col > in.Cols {
			return nil, fmt.Errorf("patch %d,%d lies outside the %d rows and %d columns", p.Row, p.Col, in.Rows, in.Cols)
		}
		for _, v := range []float64{p.Lab.L, p.Lab.A, p.Lab.B, p.Lightness, p.Uncertainty, p.Apart, p.Spread} {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				return nil, fmt.Errorf("patch %d,%d has a figure that is no number", p.Row, p.Col)
			}
		}
		k := (p.Row-1)*in.Cols + p.Col - 1
		if given[k] >= 0 {
			return nil, fmt.Errorf("patch %d,%d is there twice", p.Row, p.Col)
		}
		given[k] = i
	}
	t.at = given
	for k, i := range given {
		if i < 0 {
			continue
		}
		t.at[k] = len(t.patches)
		p := in.Patches[i]
		p.Reads, p.Meant, p.Misplaced, p.Fabric = Medium, Any, false, 0
		t.patches = append(t.patches, p)
	}
	for _, f := range in.Stash {
		for _, v := range []float64{f.Lightness, f.Uncertainty, f.Spread} {
			if !f.Doubtful && (math.IsNaN(v) || math.IsInf(v, 0)) {
				return nil, fmt.Errorf("cloth %s of the stash has a figure that is no number", f.ID)
			}
		}
	}
	t.edgesOf = make([][]int, len(t.patches))
	join := func(a, b int) {
		t.edgesOf[a] = append(t.edgesOf[a], len(t.edges))
		t.edgesOf[b] = append(t.edgesOf[b], len(t.edges))
		t.edges = append(t.edges, edge{a, b})
	}
	for a, p := range t.patches {
		if b := t.patchAt(p.Row-1, p.Col); b >= 0 {
			join(a, b)
		}
		if b := t.patchAt(p.Row, p.Col-1); b >= 0 {
			join(a, b)
		}
	}
	return t, nil
}

// patchAt is the index of the patch in a row and column from 0, -1 for none.
func (t *top) patchAt(row, col int) int {
	if row < 0 || col < 0 || row >= t.rows || col >= t.cols {
		return -1
	}
	return t.at[row*t.cols+col]
}

func (p *Patch) cell() Cell { return Cell{p.Row, p.Col} }

// sigma is the standard uncertainty of the patch's L* against other patches
// of the same photo. A floor stands for what no measurement is free of.
func (p *Patch) sigma() float64 {
	u := p.Apart
	if u <= 0 {
		u = p.Uncertainty
	}
	return max(u/1.96, .3)
}

// apart is the scale of the difference of two patches' L*.
func (p *Patch) apart(q *Patch) float64 {
	if len(p.Doubt.Parts) == 0 || len(q.Doubt.Parts) == 0 {
		return math.Hypot(p.sigma(), q.sigma()) // measured elsewhere
	}
	return camera.Difference(p.Doubt, q.Doubt)
}

// Setting is how the patches lie in the top.
type Setting string

const (
	Straight Setting = "straight"
	OnPoint  Setting = "on-point" // turned 45 degrees; triangles fill the edges
)

// Cell names a patch: row and column from 1.
type Cell [2]int

// Role is what a patch does, or is meant to do, beside its neighbours.
type Role string

const (
	Light  Role = "light"
	Medium Role = "medium"
	Dark   Role = "dark"
	Any    Role = "any" // as meant: nothing is asked of it
)

// Patch is one patch of the top.
type Patch struct {
	Row     int          `json:"row"`
	Col     int          `json:"col"`
	Shape   string       `json:"shape,omitempty"` // "triangle" at the edges of a top on point
	Outline [][2]float64 `json:"outline"`         // pixels of the upright photo, clockwise from the top left
	cloth.Cloth
	Reads     Role `json:"reads"`
	Meant     Role `json:"meant"`
	Misplaced bool `json:"misplaced"`
	Fabric    int  `json:"fabric"` // id in Layout.Fabrics
}

// Fabric is the patches that are the same cloth.
type Fabric struct {
	ID      int            `json:"id"`
	Lab     colorspace.Lab `json:"lab"` // the mean, in linear light, of its patches
	Patches []Cell         `json:"patches"`
}

// Verdict is what a viewer at the distance makes of a seam.
type Verdict string

const (
	Clear     Verdict = "clear"
	Soft      Verdict = "soft"
	Lost      Verdict = "lost"
	SameCloth Verdict = "same cloth" // no line is expected there
)

// Meaning is what a seam is for in the pattern.
type Meaning string

const (
	Contrast Meaning = "contrast" // a light meets a dark
	Blend    Meaning = "blend"    // both sides are meant to be alike
	Either   Meaning = "any"
)

// Seam is the line where two neighbouring patches meet.
type Seam struct {
	Between [2]Cell `json:"between"`
	DeltaL  float64 `json:"delta_l"` // |dL*|
	DeltaE  float64 `json:"delta_e"` // CIEDE2000
	Clarity float64 `json:"clarity"` // d' at the viewing distance
	Verdict Verdict `json:"verdict"`
	// Sure is the chance, 0..1, that the difference lies on the side of the lost
	// line that the verdict says; left out within one cloth.
	Sure  float64 `json:"sure,omitempty"`
	Meant Meaning `json:"meant"`
	OK    bool    `json:"ok"` // the verdict serves the meaning
	// ColourAlone: too little value to be seen, but colour keeps it visible.
	ColourAlone bool `json:"colour_alone,omitempty"`
	// Guidance30: the two reflectances (LRV, CIE Y 0..100) are 30 points or
	// more apart, the guidance of BS 8300-2:2018 annex B.
	Guidance30 bool `json:"lrv_30"`
}

// Pattern is the repeat that the lights and darks make.
type Pattern struct {
	Name  string   `json:"name"`            // "none" for a top without a repeat
	Fit   float64  `json:"fit,omitempty"`   // share of the patches that agree with it
	Chart []string `json:"chart,omitempty"` // a line a row, a letter a patch: L M D .
	Given bool     `json:"given,omitempty"` // by the user, not found
	// Also are other names that the same lights and darks go by, where the
	// cloths do not tell which is meant: four patches side by side make a
	// checkerboard.
	Also []string `json:"also,omitempty"`
	// BlockSize is the rows and columns of one block; left out where the
	// pattern has no blocks.
	BlockSize []int `json:"block_size,omitempty"`
}

// Block is one block of the pattern, or the part of it that is in the top.
type Block struct {
	From Cell `json:"from"` // its first row and column
	To   Cell `json:"to"`   // its last
	// Reads is the share of the block's seams meant to contrast, the seams
	// on its rim included, that are clear; left out where it has none.
	Reads *float64 `json:"reads,omitempty"`
	Plain bool     `json:"plain,omitempty"` // an alternate plain block
}

// RedGreen is a seam that colour alone carries, and that a red-green-weak
// viewer (Machado and others 2009) does not see.
type RedGreen struct {
	Between [2]Cell `json:"between"`
	DeltaE  float64 `json:"delta_e"`      // CIEDE2000 as most viewers see it
	Weak    float64 `json:"delta_e_weak"` // as a viewer without long-wave or without middle-wave cones does, whichever is less
}

// Change is one move that makes the top read better.
type Change struct {
	Patch   Cell    `json:"patch"`
	Why     string  `json:"why"`
	Instead string  `json:"instead"` // a fabric id of the stash, "swap with [r,c]", or "turn the block ..."
	Reads   float64 `json:"reads_after"`
	With    *Cell   `json:"-"` // the patch it is swapped with
	Move    Move    `json:"move"`
	// Gain is what this change adds to the share of seams that read, with
	// the changes before it made; 0..1.
	Gain float64 `json:"gain"`
	// Clears is how many more of the seams meant to contrast are clear.
	Clears int `json:"clears"`
	// Piece is what the piece that is changed is called when it is more than one
	// patch: "the sashing".
	Piece string `json:"piece,omitempty"`
	// Placements say for each patch that changes what hangs there after it.
	Placements []Placement `json:"placements"`
}

// Wanted is a culprit that no patch of the top and no cloth of the stash can
// take the place of, with the lightness that a cloth there would need.
type Wanted struct {
	Patch Cell `json:"patch"`
	Meant Role `json:"meant"` // light or dark
	// AtLeast (of a light) or AtMost (of a dark) is the L* with which the seams
	// of this patch would show; the other is left out.
	AtLeast float64 `json:"at_least,omitempty"`
	AtMost  float64 `json:"at_most,omitempty"`
	// Piece is what the piece is called when it is more than one patch.
	Piece string `json:"piece,omitempty"`
}

// Reading is the verdict by a pattern.
type Reading struct {
	Pattern   Pattern  `json:"pattern"`
	Reads     *float64 `json:"reads,omitempty"`
	Misplaced []Cell   `json:"misplaced,omitempty"`
	Reading   Role     `json:"reading,omitempty"` // how the first of Misplaced reads
	Changes   []Change `json:"changes,omitempty"`
	Wanted    []Wanted `json:"wanted,omitempty"`
}

// Move is a kind of change.
type Move string

const (
	Swap Move = "swap" // two patches that hang there change places
	Turn Move = "turn" // a block is turned
	Take Move = "take" // another cloth comes out of the stash
)

// Placement is a patch's place and what hangs there after a change: the patch
// that hung in From, or a piece of the stash's fabric Stash.
type Placement struct {
	To    Cell   `json:"to"`
	From  *Cell  `json:"from,omitempty"`
	Stash string `json:"stash,omitempty"`
	Turn  int    `json:"turn,omitempty"` // degrees clockwise that the piece is turned by
}

// Layout is the answer to "does it read, and if not, which patch is it".
type Layout struct {
	Rows      int          `json:"rows"`
	Cols      int          `json:"cols"`
	Setting   Setting      `json:"setting"`
	Corners   [][2]float64 `json:"corners"` // pixels of the upright photo, clockwise from the top left
	GridFound bool         `json:"grid_found"`
	Patches   []Patch      `json:"patches"`
	Fabrics   []Fabric     `json:"fabrics"`
	Seams     []Seam       `json:"seams"`
	Pattern   Pattern      `json:"pattern"`
	// Reads is the share of the seams meant to contrast that are clear; nil
	// where no seam is meant to (a top without a repeat).
	Reads    *float64   `json:"reads,omitempty"`
	Blocks   []Block    `json:"blocks,omitempty"` // in reading order
	RedGreen []RedGreen `json:"red_green,omitempty"`
	Changes  []Change   `json:"changes"` // in the order to make them
	// Wanted are the culprits that nothing at hand can cure, at most
	// mostWanted of them.
	Wanted []Wanted `json:"wanted,omitempty"`
	// Other is the verdict by another pattern that fits about as well, where
	// it is another verdict; nil for none.
	Other *Reading `json:"other_reading,omitempty"`
	// Remarks are what she should know about the answer, in words.
	Remarks []string `json:"remarks,omitempty"`
}
