package plan

import (
	"fmt"
	"strings"

	"greige/analyze/numerals"
)

// Press says which way the seams of a block are pressed.
type Press struct {
	Kind   int               `json:"kind"` // of Plan.Charts, from 1
	Cloths map[string]string `json:"cloths,omitempty"`
	Chart  []string          `json:"chart"`
	// Rows are the seams within each row, from the left of the block's face:
	// "<" pressed to the left, ">" to the right, "." where a piece runs on.
	Rows []string `json:"rows"`
	// Cols are the long seams between the rows, from the top: "^" up, "v" down,
	// "." where a piece runs on.
	Cols string `json:"between_rows"`
	// Nest is true where seams that meet lie in opposite directions everywhere.
	Nest bool `json:"nest"`
	// ToLight is how many seams within rows are pressed to the lighter side.
	ToLight int    `json:"to_light"`
	Says    string `json:"says"`
}

// press works out the blocks and says how the rest is pressed.
func (t *top) press(p *Plan) {
	p.Press = []Press{}
	seen := map[string]bool{}
	for b := range t.blocks {
		key := t.lotKey(b)
		if seen[key] || len(p.Press) >= maxPress || t.in.Given != nil {
			continue
		}
		seen[key] = true
		press := t.pressBlock(b)
		press.Cloths = t.namedCloths(b)
		p.Press = append(p.Press, press)
	}
	switch {
	case t.in.Sashing != nil:
		p.Advice = append(p.Advice, "Press towards the sashing, away from the blocks' many seams.")
	case t.in.Alternate >= 0:
		p.Advice = append(p.Advice, "Between blocks, press towards the plain squares: then the seams of neighbouring rows lie in opposite directions and lock.")
	case len(t.blocks) > 1 || t.in.Given != nil:
		p.Advice = append(p.Advice, "When blocks are joined, press the odd rows to the left and the even rows to the right, so that seams that meet lock.")
	}
	if t.in.OnPoint {
		p.Advice = append(p.Advice, "Press towards the triangles at the edges. Their long sides are on the straight grain: keep them outside, and do not stretch the short ones.")
	}
	if len(t.in.Borders) > 0 {
		p.Advice = append(p.Advice, "Press towards each border as it is sewn on.")
	}
}

// maxPress is how many different blocks are drawn for pressing.
const maxPress = 12

// pressBlock presses the seams within rows to the darker side and looks
// whether seams that meet lie opposite. Where they do not, locking counts more:
// the rows are pressed to the left and to the right by turns, because a seam
// that does not lock shifts the corner for good, and a dark allowance under a
// light cloth can be trimmed.
func (t *top) pressBlock(b int) Press {
	k := t.in.Design.Kinds[t.blocks[b].kind]
	at := make([]int, k.Rows*k.Cols)
	for n, p := range k.Pieces {
		for r := p.Row; r < p.Row+p.Rows; r++ {
			for c := p.Col; c < p.Col+p.Cols; c++ {
				at[r*k.Cols+c] = t.blocks[b].pieces[n]
			}
		}
	}
	light := func(i int) float64 { return t.in.Cloths[t.pieces[i].Cloth].Lightness }
	dark := make([][]byte, k.Rows)
	turns := make([][]byte, k.Rows)
	for r := range k.Rows {
		for c := range k.Cols - 1 {
			left, right := at[r*k.Cols+c], at[r*k.Cols+c+1]
			byDark, byTurn := byte('<'), byte('<')
			if light(right) < light(left) || light(right) == light(left) && r%2 == 1 {
				byDark = '>'
			}
			if r%2 == 1 {
				byTurn = '>'
			}
			if left == right {
				byDark, byTurn = '.', '.'
			}
			dark[r], turns[r] = append(dark[r], byDark), append(turns[r], byTurn)
		}
	}
	out := Press{Kind: t.blocks[b].kind + 1, Chart: k.Chart()}
	rows := dark
	out.Nest = nests(dark)
	if !out.Nest {
		rows = turns
	}
	for r, row := range rows {
		out.Rows = append(out.Rows, string(row))
		for c, way := range row {
			left, right := light(at[r*k.Cols+c]), light(at[r*k.Cols+c+1])
			if way == '<' && left > right || way == '>' && right > left {
				out.ToLight++
			}
		}
	}
	out.Cols = t.pressBetween(b, at, k)
	out.Says = pressSays(&out)
	out.Nest = nests(rows)
	return out
}

// pressBetween is the long seams between rows: of blocks side by side, every
// second one the other way, so that they lock where blocks meet.
func (t *top) pressBetween(b int, at []int, k Block) string {
	way := "v"
	if (t.blocks[b].row+t.blocks[b].col)%2 == 1 || t.blocks[b].between {
		way = "^"
	}
	var s strings.Builder
	for r := range k.Rows - 1 {
		runs := true
		for c := range k.Cols {
			runs = runs && at[r*k.Cols+c] == at[(r+1)*k.Cols+c]
		}
		if runs {
			s.WriteByte('.')
		} else {
			s.WriteString(way)
		}
	}
	return s.String()
}

func nests(rows [][]byte) bool {
	for r := range len(rows) - 1 {
		for c := range rows[r] {
			a, b := rows[r][c], rows[r+1][c]
			if a == b && a != '.' {
				return false
			}
		}
	}
	return true
}

func pressSays(p *Press) string {
	seams := 0
	for _, r := range p.Rows {
		seams += len(r) - strings.Count(r, ".")
	}
	switch {
	case seams == 0:
		return "Every seam runs from side to side: press them one way, to the darker side where there is one."
	case p.Nest:
		return "Press every seam within a row to the dark side. Where rows meet, the seams then lie in opposite directions and lock."
	case p.ToLight == 0:
		return "Press the odd rows to the left and the even rows to the right, so that the seams lock."
	}
	say := numerals.Alike(p.ToLight, seams)
	return fmt.Sprintf("To the dark side and locked cannot both be had in this block. Press the odd rows to the left and the even rows to the right, so that the seams lock; where that lays a dark allowance under a light cloth (%s of %s seams), trim the dark one a little narrower.", say(p.ToLight), say(seams))
}
