package layout

import (
	"math"
	"slices"
)

// narrowLines are the rows and the columns that are narrower than patches:
// sashing, by its looks.
type narrowLines struct {
	row, col []bool
	some     bool // there are such
	known    bool // the outlines say
}

// narrowerBy is how narrow a strip is at most, beside a patch, to be sashing
// by its looks: common practice, no source.
const narrowerBy = .7

func (t *top) narrowLines() narrowLines {
	n := narrowLines{row: make([]bool, t.rows), col: make([]bool, t.cols)}
	heights, widths := make([][]float64, t.rows), make([][]float64, t.cols)
	for i := range t.patches {
		p := &t.patches[i]
		w, h := sizeOf(p.Outline)
		if w > 0 && h > 0 {
			heights[p.Row-1] = append(heights[p.Row-1], h)
			widths[p.Col-1] = append(widths[p.Col-1], w)
		}
	}
	mark := func(lines [][]float64, narrow []bool) {
		side := make([]float64, len(lines))
		for i, v := range lines {
			side[i] = median(v)
			n.known = n.known || side[i] > 0
		}
		for i := range side {
			// Beside a strip lie patches. Farther off, a photo taken from
			// below or from the side makes all of them smaller.
			beside := slices.Max(side[max(i-1, 0):min(i+2, len(side))])
			narrow[i] = side[i] > 0 && side[i] < narrowerBy*beside
			n.some = n.some || narrow[i]
		}
	}
	mark(heights, n.row)
	mark(widths, n.col)
	return n
}

// sizeOf is the width and the height of a patch, 0 without an outline.
func sizeOf(outline [][2]float64) (w, h float64) {
	if len(outline) != 4 {
		return 0, 0
	}
	side := func(i int) float64 {
		a, b := outline[i], outline[(i+1)%4]
		return math.Hypot(b[0]-a[0], b[1]-a[1])
	}
	return (side(0) + side(2)) / 2, (side(1) + side(3)) / 2
}

const (
	// blindToLines is the length, in nats, of saying that a top has narrow
	// rows or columns, and that they are yet no sashing of its pattern.
	blindToLines = 25
	// evenSashing is that of saying that sashing is as wide as a patch.
	evenSashing = 4
)

// linesCost is what a labelling has to say about the widths of the rows and
// columns. not ok: it takes for sashing what is none, neither by its width nor
// by being of a cloth that the blocks do without.
func (f *fitter) linesCost(l *labelling) (cost float64, ok bool) {
	agree := true
	for i, narrow := range f.narrow.row {
		agree = agree && narrow == (l.repeat.sash > 0 && (i+l.phase[0])%l.repeat.block[0] == l.repeat.block[0]-1)
	}
	for i, narrow := range f.narrow.col {
		agree = agree && narrow == (l.repeat.sash > 0 && (i+l.phase[1])%l.repeat.block[1] == l.repeat.block[1]-1)
	}
	switch {
	case agree:
		return 0, true
	case l.repeat.sash == 0:
		return blindToLines, true
	case f.narrow.some:
		return blindToLines, f.ownCloth(l)
	case f.narrow.known:
		return evenSashing, f.ownCloth(l)
	}
	return 0, f.ownCloth(l)
}

// ownCloth: the strips of a labelling's sashing are of a cloth that the blocks
// do without.
func (f *fitter) ownCloth(l *labelling) bool {
	inStrips, inBlocks := map[int]int{}, map[int]int{}
	strips, blocks := 0, 0
	of := -1
	for _, i := range f.counted {
		c := f.cloths[i]
		switch {
		case l.block[i] >= 0:
			inBlocks[c]++
			blocks++
		case l.tones[i] == toneOwn:
			inStrips[c]++
			strips++
			if of < 0 || inStrips[c] > inStrips[of] {
				of = c
			}
		}
	}
	return 4*inStrips[of] >= 3*strips && 10*inBlocks[of] <= blocks
}
