package layout

import (
	"math"
)

// checkered: every square patch stands against all its neighbours.
func (t *top) checkered(tones []tone) bool {
	for _, e := range t.edges {
		if t.patches[e.a].Shape == "" && t.patches[e.b].Shape == "" && contrastOf(tones[e.a], tones[e.b]) != Contrast {
			return false
		}
		if tones[e.a] == toneMedium {
			return false
		}
	}
	return true
}

// nameCheckered tells what a board of alternating lights and darks is made of.
// Four patches, sixteen patches, and nine patches with dark and light corners
// by turns all make the same board: a top that is one block says so by its
// size, and where the patches of a block share their cloths, the cloths say
// where one block ends and the next begins. It returns the pitch and the start
// of the blocks, as repeat.block and labelling.phase have them.
func (t *top) nameCheckered(p *pattern, l *labelling, edging []bool, cloths []int, key string) (pitch, start [2]int) {
	n := 0
	one, side := t.oneBlock(t.setting(cloths))
	if side > 4 {
		side = 0 // a board of five has no name of its own
	}
	switch {
	case key == "four-patch":
		n = 2
	case key == "sixteen-patch":
		n = 4
	case key == "nine-patch":
		n = 3
	case key == "" || key == "checkerboard":
		n, start = t.blocksByCloth(l.tones, cloths)
		if n == 0 && side > 0 {
			n, start = side, [2]int{(side - one.row%side) % side, (side - one.col%side) % side}
		}
	}
	if key != "" && n > 0 {
		if m, s := t.blocksByCloth(l.tones, cloths); m == n {
			start = s
		}
	}
	p.Name = "checkerboard"
	p.Chart = checkerboardChart(l, 2, t)
	switch {
	case key == "checkerboard" || n == 0:
		if n == 0 && t.rows >= 2 && t.cols >= 2 {
			p.Also = alsoCheckered(t)
		}
		return [2]int{}, [2]int{}
	case n == 3 && side == 3:
		corner := l.repeat.toneAt(l.phase[0]+one.row, l.phase[1]+one.col)
		p.Name, _ = ninePatchName(corner, opposite(corner), corner)
		p.Chart = checkerboardChart(l, 3, t)
	case n == 3:
		p.Name = "nine patch, dark and light corners by turns"
	default:
		p.Name, _ = blockName(n, toneAny)
		p.Chart = checkerboardChart(l, n, t)
	}
	return [2]int{n, n}, start
}

// box is rows and columns from 0, the last excluded.
type box struct{ row, col, rowEnd, colEnd int }

func (b box) holds(p *Patch) bool {
	return p.Row-1 >= b.row && p.Row-1 < b.rowEnd && p.Col-1 >= b.col && p.Col-1 < b.colEnd
}

// oneBlock: the squares of the top, but for what fills its edges, are a single
// block of 2 to maxBlock patches a side; side is 0 when they are not. Where the
// block has patches of the filling's cloth, its other patches tell its size.
func (t *top) oneBlock(filling []bool) (b box, side int) {
	b = box{t.rows, t.cols, 0, 0}
	for i := range t.patches {
		p := &t.patches[i]
		if p.Shape == "" && !filling[i] {
			b = box{min(b.row, p.Row-1), min(b.col, p.Col-1), max(b.rowEnd, p.Row), max(b.colEnd, p.Col)}
		}
	}
	side = b.rowEnd - b.row
	if side != b.colEnd-b.col || side < 2 || side > maxBlock {
		return b, 0
	}
	for row := b.row; row < b.rowEnd; row++ {
		for col := b.col; col < b.colEnd; col++ {
			if i := t.patchAt(row, col); i < 0 || t.patches[i].Shape != "" {
				return b, 0
			}
		}
	}
	return b, side
}

// checkerboardChart is n by n cells of the board as it begins in the corner.
func checkerboardChart(l *labelling, n int, t *top) []string {
	r := repeat{rows: n, cols: n, tile: make([]tone, n*n)}
	for i := range r.tile {
		r.tile[i] = l.repeat.toneAt(i/n+l.phase[0], i%n+l.phase[1])
	}
	return r.chart([2]int{}, t.rows, t.cols)
}

// alsoCheckered are the blocks that a board of this size could be made of.
func alsoCheckered(t *top) []string {
	var out []string
	if t.rows%2 == 0 && t.cols%2 == 0 {
		out = append(out, "four patch")
	}
	if t.rows%3 == 0 && t.cols%3 == 0 {
		out = append(out, "nine patch, dark and light corners by turns")
	}
	if t.rows%4 == 0 && t.cols%4 == 0 {
		out = append(out, "sixteen patch")
	}
	return out
}

// blocksByCloth looks for the division into n x n blocks, n from 2 to 4,
// within which neighbours of one tone share their cloth more often than over
// the blocks' rims. 0 when there is none.
func (t *top) blocksByCloth(tones []tone, cloths []int) (n int, start [2]int) {
	pairs := t.pairings(tones, cloths)
	all := tally{}
	for _, p := range pairs {
		all.add(p.same)
	}
	best := all.evidence() + 3 // nats: odds of 20 to 1, for it is not to be guessed
	for size := 2; size <= 4; size++ {
		for k := range size * size {
			row, col := k/size, k%size
			var in, out tally
			for _, p := range pairs {
				if (p.row+row)/size == (p.row2+row)/size && (p.col+col)/size == (p.col2+col)/size {
					in.add(p.same)
				} else {
					out.add(p.same)
				}
			}
			e := in.evidence() + out.evidence() - math.Log(float64(size*size))
			if e > best && in.rate() > out.rate()+.2 {
				best, n, start = e, size, [2]int{row, col}
			}
		}
	}
	return n, start
}

// pairing is the places of two squares near each other that have one tone, and
// whether they are of one cloth.
type pairing struct {
	row, col, row2, col2 int
	same                 bool
}

// pairings are those of the nearest squares that a board gives one tone.
func (t *top) pairings(tones []tone, cloths []int) []pairing {
	var pairs []pairing
	for i := range t.patches {
		p := &t.patches[i]
		for _, d := range [][2]int{{1, 1}, {1, -1}, {0, 2}, {2, 0}} {
			j := t.patchAt(p.Row-1+d[0], p.Col-1+d[1])
			if j >= 0 && tones[i] == tones[j] && p.Shape == "" && t.patches[j].Shape == "" {
				pairs = append(pairs, pairing{p.Row - 1, p.Col - 1, p.Row - 1 + d[0], p.Col - 1 + d[1], cloths[i] == cloths[j]})
			}
		}
	}
	return pairs
}

// tally counts pairs that are and are not of one cloth.
type tally struct{ yes, no float64 }

func (c *tally) add(same bool) {
	if same {
		c.yes++
	} else {
		c.no++
	}
}

func (c *tally) rate() float64 { return (c.yes + .5) / (c.yes + c.no + 1) }

// evidence is the log marginal likelihood of the tally under a uniform prior
// of its rate.
func (c *tally) evidence() float64 {
	a, _ := math.Lgamma(c.yes + 1)
	b, _ := math.Lgamma(c.no + 1)
	d, _ := math.Lgamma(c.yes + c.no + 2)
	return a + b - d
}
