package layout

import (
	"fmt"
	"math"
	"slices"

	"greige/colorspace"
)

func (t *top) judge() Layout {
	cloths := t.sameCloths()
	p, remark := t.findPattern(cloths)
	cloths = t.joinPieces(cloths, p.pieces)
	out := Layout{
		Rows: t.rows, Cols: t.cols, Setting: t.in.Setting, Corners: t.in.Corners, GridFound: t.in.GridFound,
		Pattern: p.Pattern, Fabrics: t.fabrics(cloths), Changes: []Change{},
	}
	if remark != "" {
		out.Remarks = append(out.Remarks, remark)
	}
	out.Pattern.Fit = t.readAll(&p)
	out.Seams = t.seams(func(e edge) Meaning { return contrastOf(p.tones[e.a], p.tones[e.b]) })
	out.RedGreen = t.redGreen(out.Seams)
	out.Reads = readsOf(out.Seams, nil)
	out.Blocks = t.blockReads(&p, out.Seams)
	out.Trouble = t.trouble(out.Seams)
	var remarks []string
	out.Changes, remarks = t.changes(&p, out.Seams)
	out.Remarks = append(out.Remarks, remarks...)
	out.Patches = t.patches
	return out
}

// fabrics numbers the cloths from 1 in reading order and gives each patch its
// number. A fabric's colour is the mean of its patches' light.
func (t *top) fabrics(cloths []int) []Fabric {
	number := map[int]int{}
	var out []Fabric
	var light []colorspace.Linear
	for i, c := range cloths {
		p := &t.patches[i]
		id, known := number[c]
		if !known {
			id = len(out) + 1
			number[c] = id
			out = append(out, Fabric{ID: id})
			light = append(light, colorspace.Linear{})
		}
		p.Fabric = id
		out[id-1].Patches = append(out[id-1].Patches, p.cell())
		l := p.Lab.Linear()
		for k := range l {
			light[id-1][k] += l[k]
		}
	}
	for i := range out {
		for k := range light[i] {
			light[i][k] /= float64(len(out[i].Patches))
		}
		out[i].Lab = light[i].Lab()
	}
	return out
}

// inPiece widens sameLimit for patches that the pattern holds to be one piece
// of cloth, such as a plain block: before they are measured, that they are one
// is many times as likely as for any two patches of the top, and a large print
// is cut through by the grid where it happens to fall.
const inPiece = 5

// joinPieces takes the patches of one piece for one cloth, but for those that
// are too different to be.
func (t *top) joinPieces(cloths []int, pieces []int32) []int {
	if pieces == nil {
		return cloths
	}
	out := slices.Clone(cloths)
	for _, mates := range members(pieces) {
		if len(mates) < 2 {
			continue
		}
		// The cloth most of the piece is of; of equals, the first.
		most, best := 0, -1
		for _, i := range mates {
			n := 0
			for _, j := range mates {
				if cloths[j] == cloths[i] {
					n++
				}
			}
			if n > most {
				most, best = n, i
			}
		}
		first := newSample(&t.patches[best])
		for _, i := range mates {
			s := newSample(&t.patches[i])
			d := pairDistance(&first, &s)
			if d < sameLimit || d < inPiece*sameLimit && sameInks(&first, &s) {
				out[i] = cloths[best]
			}
		}
	}
	return out
}

// members lists the patches of each piece.
func members(pieces []int32) [][]int {
	var out [][]int
	for i, p := range pieces {
		for int(p) >= len(out) {
			out = append(out, nil)
		}
		if p >= 0 {
			out[p] = append(out[p], i)
		}
	}
	return out
}

// readAll says of each patch how it reads, what is meant, and whether it
// stands against that; it returns the share of patches that do not.
func (t *top) readAll(p *pattern) (fit float64) {
	if p.none() {
		for i := range t.patches {
			t.patches[i].Reads = t.readingAlone(i).role()
		}
		return 0
	}
	sc := t.measureScale(p.tones, p.plainPieces(), p.block)
	agree, asked := 0, 0
	for i := range t.patches {
		reads, misplaced := t.reading(i, p.tones, &sc)
		t.patches[i].Reads, t.patches[i].Meant, t.patches[i].Misplaced = reads.role(), p.tones[i].role(), misplaced
		if p.tones[i] != toneAny {
			asked++
			if !misplaced {
				agree++
			}
		}
	}
	if asked == 0 {
		return 0
	}
	return float64(agree) / float64(asked)
}

// readsOf is the share of the seams meant to contrast that are clear, among
// those that count (nil: all); nil when there is none.
func readsOf(seams []Seam, counts func(i int) bool) *float64 {
	clear, asked := 0., 0.
	for i, s := range seams {
		if s.Meant != Contrast || counts != nil && !counts(i) {
			continue
		}
		asked++
		if s.Verdict == Clear {
			clear++
		}
	}
	if asked == 0 {
		return nil
	}
	share := clear / asked
	return &share
}

func (t *top) blockReads(p *pattern, seams []Seam) []Block {
	if len(p.blocks) == 0 {
		return nil
	}
	clear, asked := make([]float64, len(p.blocks)), make([]float64, len(p.blocks))
	for i, s := range seams {
		if s.Meant != Contrast {
			continue
		}
		a, b := p.block[t.edges[i].a], p.block[t.edges[i].b]
		for _, k := range []int32{a, b} {
			if k >= 0 {
				asked[k]++
				if s.Verdict == Clear {
					clear[k]++
				}
			}
			if a == b {
				break
			}
		}
	}
	out := make([]Block, len(p.blocks))
	for k, b := range p.blocks {
		out[k] = Block{From: Cell{b.row + 1, b.col + 1}, To: Cell{b.rowEnd, b.colEnd}, Plain: b.plain}
		if asked[k] > 0 {
			share := clear[k] / asked[k]
			out[k].Reads = &share
		}
	}
	return out
}

// trouble gathers the seams that are meant to contrast and do not into
// places: patches joined by such seams.
func (t *top) trouble(seams []Seam) []Trouble {
	parent := make([]int, len(t.patches))
	for i := range parent {
		parent[i] = i
	}
	find := func(i int) int {
		for parent[i] != i {
			parent[i] = parent[parent[i]]
			i = parent[i]
		}
		return i
	}
	failing := func(s Seam) bool { return s.Meant == Contrast && s.Verdict != Clear }
	for i, s := range seams {
		if failing(s) {
			a, b := find(t.edges[i].a), find(t.edges[i].b)
			parent[max(a, b)] = min(a, b)
		}
	}
	index := map[int]int{}
	var out []Trouble
	for i, s := range seams {
		if !failing(s) {
			continue
		}
		r := find(t.edges[i].a)
		k, known := index[r]
		if !known {
			k = len(out)
			index[r] = k
			out = append(out, Trouble{})
		}
		if s.Verdict == Soft {
			out[k].Soft++
		} else {
			out[k].Lost++
		}
	}
	for i := range t.patches {
		if k, known := index[find(i)]; known {
			out[k].Patches = append(out[k].Patches, t.patches[i].cell())
		}
	}
	for k := range out {
		out[k].Where = t.where(out[k].Patches)
	}
	slices.SortStableFunc(out, func(a, b Trouble) int { return 2*(b.Lost-a.Lost) + b.Soft - a.Soft })
	return out
}

// where names a place in a top in words.
func (t *top) where(cells []Cell) string {
	minRow, maxRow, minCol, maxCol := t.rows, 1, t.cols, 1
	for _, c := range cells {
		minRow, maxRow = min(minRow, c[0]), max(maxRow, c[0])
		minCol, maxCol = min(minCol, c[1]), max(maxCol, c[1])
	}
	height, width := maxRow-minRow+1, maxCol-minCol+1
	switch {
	case len(cells) == 1:
		return at(cells[0])
	case height == 1 && width >= 3 && 2*width >= t.cols:
		return "the " + ordinal(minRow, t.rows, "top", "bottom") + " row"
	case width == 1 && height >= 3 && 2*height >= t.rows:
		return "the " + ordinal(minCol, t.cols, "first", "last") + " column"
	case 3*height >= 2*t.rows && 3*width >= 2*t.cols:
		return "all over"
	}
	// The thirds of the top, where the place lies wholly in one.
	if t.in.Setting != OnPoint && min(t.rows, t.cols) >= 6 && 3*height <= 2*t.rows && 3*width <= 2*t.cols {
		v := third(float64(minRow+maxRow)/2, t.rows)
		h := third(float64(minCol+maxCol)/2, t.cols)
		switch name := [3][3]string{
			{"the top left corner", "the top", "the top right corner"},
			{"the left side", "the middle", "the right side"},
			{"the bottom left corner", "the bottom", "the bottom right corner"},
		}[v][h]; {
		case len(cells) == 2:
			return fmt.Sprintf("%s, %s and %s", name, at(cells[0]), at(cells[1]))
		default:
			return fmt.Sprintf("%s, round %s", name, at(centreOf(cells)))
		}
	}
	if len(cells) == 2 {
		return at(cells[0]) + " and " + at(cells[1])
	}
	return "round " + at(centreOf(cells))
}

// third is 0, 1 or 2 for the part of 1..n in which x lies.
func third(x float64, n int) int { return min(int(3*(x-.5)/float64(n)), 2) }

// centreOf is the cell nearest to the middle of the cells.
func centreOf(cells []Cell) Cell {
	var row, col float64
	for _, c := range cells {
		row += float64(c[0]) / float64(len(cells))
		col += float64(c[1]) / float64(len(cells))
	}
	best, at := math.Inf(1), cells[0]
	for _, c := range cells {
		if d := math.Hypot(float64(c[0])-row, float64(c[1])-col); d < best-1e-9 {
			best, at = d, c
		}
	}
	return at
}

func at(c Cell) string { return fmt.Sprintf("row %d, patch %d", c[0], c[1]) }

func ordinal(n, last int, first, end string) string {
	switch {
	case n == 1:
		return first
	case n == last:
		return end
	case n <= 10:
		return [...]string{"second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth"}[n-2]
	}
	suffix := "th"
	if n%100 < 11 || n%100 > 13 {
		switch n % 10 {
		case 1:
			suffix = "st"
		case 2:
			suffix = "nd"
		case 3:
			suffix = "rd"
		}
	}
	return fmt.Sprintf("%d%s", n, suffix)
}
