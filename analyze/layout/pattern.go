package layout

import (
	"fmt"
	"math"
	"slices"
)

// pattern is what the patches are meant to be, and how the top is divided.
type pattern struct {
	Pattern
	tones  []tone  // by patch; all toneAny when there is no repeat
	pieces []int32 // by patch: pieces of one cloth over several patches; -1 none; nil none at all
	block  []int32 // by patch: index of blocks; -1 none; nil none at all
	blocks []block
	sashed bool // what lies in no block is sashing
	plain  bool // the pieces are alternate plain blocks
}

// block is rows and columns from 0, the last excluded. Only a whole one can be
// turned.
type block struct {
	row, col, rowEnd, colEnd int
	whole                    bool
	plain                    bool
}

// plainPieces are the pieces that are alternate plain blocks, if there are any.
func (p *pattern) plainPieces() []int32 {
	if !p.plain {
		return nil
	}
	return p.pieces
}

func (p *pattern) none() bool { return p.Name == noPattern }

const noPattern = "none"

// findPattern finds the repeat, or lays the given chart. cloths are the
// patches' groups of one cloth.
func (t *top) findPattern(cloths []int) (pattern, string) {
	none := pattern{Pattern: Pattern{Name: noPattern}, tones: make([]tone, len(t.patches))}
	chart := t.in.Chart
	if chart != nil && chart.Name == noPattern {
		none.Given = true
		return none, ""
	}
	if chart != nil && len(chart.Rows) > 0 {
		return t.givenPattern(chart, cloths), ""
	}
	repeats := catalogue()
	f := newFitter(t, cloths)
	if chart != nil && chart.Name != "" {
		repeats = slices.DeleteFunc(repeats, func(r repeat) bool { return !slices.Contains(r.keys, chart.Name) })
		best, _ := f.best(repeats, true)
		if best == nil {
			return none, "The patches are all alike, so no pattern can be laid over them."
		}
		p := t.patternOf(best, cloths, chart.Name)
		p.Given = true
		return p, ""
	}
	best, second := f.best(append(repeats, f.others()...), false)
	if best == nil {
		return none, ""
	}
	p := t.patternOf(best, cloths, "")
	remark := ""
	if second != nil && best.score-second.score < closeCall {
		remark = fmt.Sprintf("The pattern could also be: %s.", second.repeat.name)
	}
	return p, remark
}

// closeCall is the difference of two scores, in nats, under which the second
// is worth a mention: odds of 7 to 1.
const closeCall = 2

// patternOf names what was found and divides the top into its blocks. key is
// the name of ChartNames that was asked for, or "".
func (t *top) patternOf(l *labelling, cloths []int, key string) pattern {
	r := l.repeat
	p := pattern{tones: l.tones, pieces: l.pieces, plain: r.plain}
	p.Name = t.turnedName(r.name)
	p.Chart = r.chart(l.phase, t.rows, t.cols)
	pitch, start := r.block, l.phase
	if t.checkered(l.tones) {
		pitch, start = t.nameCheckered(&p, l, cloths, key)
	}
	if pitch[0] > 0 {
		p.sashed = r.sash > 0
		p.BlockSize = []int{pitch[0] - r.sash, pitch[1] - r.sash}
		t.divide(&p, pitch, start, r)
	}
	t.releaseTriangles(&p)
	return p
}

// settleTones gives the plain blocks or the sashing of a labelling their tone,
// by a vote of the pieces: light, dark, medium, or, when they do not agree,
// anything. Both are cloths of their own, which the pieced blocks do not tell.
func (t *top) settleTones(l *labelling) labelling {
	// The pieced blocks alone say what is light and what is dark.
	own := func(i int) bool { return l.tones[i] == toneOwn || l.repeat.plain && l.pieces[i] >= 0 }
	tones := slices.Clone(l.tones)
	pieces := slices.Clone(l.pieces)
	if pieces == nil {
		pieces = make([]int32, len(tones))
	}
	for i := range tones {
		if own(i) {
			tones[i] = toneAny
			if l.pieces == nil {
				pieces[i] = 1 // all the sashing is one piece
			}
		}
	}
	sc := t.measureScale(tones, nil, nil)
	var votes [toneCount]int
	all := 0
	for _, mates := range members(pieces) {
		var part []float64
		for _, i := range mates {
			if own(i) && t.patches[i].Shape == "" {
				dark, light := sc.levels[i][toneDark], sc.levels[i][toneLight]
				part = append(part, (t.patches[i].Lightness-dark)/max(light-dark, leastContrast))
			}
		}
		if len(part) == 0 {
			continue
		}
		all++
		switch m := median(part); {
		case m > 1-mediumPart:
			votes[toneLight]++
		case m < mediumPart:
			votes[toneDark]++
		default:
			votes[toneMedium]++
		}
	}
	settled := toneAny
	for v := toneLight; v <= toneDark; v++ {
		if 5*votes[v] >= 4*all && all > 0 {
			settled = v
		}
	}
	r := *l.repeat
	r.tile = slices.Clone(r.tile)
	for i := range r.tile {
		if r.tile[i] == toneOwn || r.plain && r.piece[i] > 0 {
			r.tile[i] = settled
		}
	}
	for i := range tones {
		if own(i) {
			tones[i] = settled
		}
	}
	return labelling{repeat: &r, phase: l.phase, tones: tones, pieces: l.pieces, block: l.block, score: l.score}
}

// mediumPart is where on the way from the darks to the lights, from either
// end, a plain block or a sashing is neither the one nor the other.
const mediumPart = .44

// turnedName says which way stripes run as the top hangs: the rows of a top on
// point run diagonally.
func (t *top) turnedName(name string) string {
	if t.in.Setting != OnPoint {
		return name
	}
	switch name {
	case "stripes across", "stripes down":
		return "diagonal stripes"
	}
	return name
}

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
func (t *top) nameCheckered(p *pattern, l *labelling, cloths []int, key string) (pitch, start [2]int) {
	n := 0
	switch {
	case key == "four-patch":
		n = 2
	case key == "sixteen-patch":
		n = 4
	case key == "nine-patch":
		n = 3
	case key == "" || key == "checkerboard":
		n, start = t.blocksByCloth(l.tones, cloths)
		if n == 0 && t.rows == t.cols && t.rows <= 4 {
			n = t.rows
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
	case n == 3 && t.rows == 3 && t.cols == 3:
		p.Name, _ = ninePatchName(l.repeat.toneAt(l.phase[0], l.phase[1]), l.repeat.toneAt(l.phase[0], l.phase[1]+1), l.repeat.toneAt(l.phase[0], l.phase[1]))
		p.Chart = checkerboardChart(l, 3, t)
	case n == 3:
		p.Name = "nine patch, dark and light corners by turns"
	default:
		p.Name, _ = blockName(n, toneAny)
		p.Chart = checkerboardChart(l, n, t)
	}
	return [2]int{n, n}, start
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
	type pairing struct {
		row, col, row2, col2 int
		same                 bool
	}
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
	all := tally{}
	for _, p := range pairs {
		all.add(p.same)
	}
	best := all.evidence() + 3 // nats: odds of 20 to 1, for it is not to be guessed
	for size := 2; size <= 4; size++ {
		for row := range size {
			for col := range size {
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
	}
	return n, start
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

// divide cuts the top into blocks of a pitch.
func (t *top) divide(p *pattern, pitch, start [2]int, r *repeat) {
	across := (t.cols+start[1]-1)/pitch[1] + 1
	down := (t.rows+start[0]-1)/pitch[0] + 1
	index := make([]int32, down*across)
	for k := range index {
		row, col := k/across*pitch[0]-start[0], k%across*pitch[1]-start[1]
		b := block{
			row: max(row, 0), col: max(col, 0),
			rowEnd: min(row+pitch[0]-r.sash, t.rows), colEnd: min(col+pitch[1]-r.sash, t.cols),
		}
		index[k] = -1
		if b.row >= b.rowEnd || b.col >= b.colEnd {
			continue
		}
		some := false
		b.whole = row >= 0 && col >= 0 && row+pitch[0]-r.sash <= t.rows && col+pitch[1]-r.sash <= t.cols
		for row := b.row; row < b.rowEnd; row++ {
			for col := b.col; col < b.colEnd; col++ {
				i := t.patchAt(row, col)
				b.whole = b.whole && i >= 0 && t.patches[i].Shape == ""
				some = some || i >= 0
			}
		}
		if !some {
			continue
		}
		// Alternate blocks: the tile's first block is pieced, its neighbours
		// are plain.
		b.plain = r.plain && (k/across+k%across)%2 == 1
		index[k] = int32(len(p.blocks))
		p.blocks = append(p.blocks, b)
	}
	p.block = make([]int32, len(t.patches))
	for i := range t.patches {
		row, col := t.patches[i].Row-1+start[0], t.patches[i].Col-1+start[1]
		p.block[i] = -1
		if row%pitch[0] < pitch[0]-r.sash && col%pitch[1] < pitch[1]-r.sash {
			p.block[i] = index[row/pitch[0]*across+col/pitch[1]]
		}
	}
}

// releaseTriangles asks nothing of the triangles round a top on point when
// they do not go on with the pattern: often they are of one cloth all round.
func (t *top) releaseTriangles(p *pattern) {
	sc := t.measureScale(p.tones, p.plainPieces(), nil)
	agree, all := 0, 0
	for i := range t.patches {
		if t.patches[i].Shape == "" || p.tones[i] == toneAny {
			continue
		}
		all++
		if sc.against(t.patches[i].Lightness, i, p.tones[i]) < .5 {
			agree++
		}
	}
	if 4*agree >= 3*all {
		return
	}
	for i := range t.patches {
		if t.patches[i].Shape != "" {
			p.tones[i] = toneAny
			if p.pieces != nil {
				p.pieces[i] = -1
			}
		}
	}
}

// givenPattern lays a chart over the top as it is given.
func (t *top) givenPattern(chart *Chart, cloths []int) pattern {
	r := repeat{name: "as charted", rows: len(chart.Rows), cols: len(chart.Rows[0]), fixed: true}
	for _, row := range chart.Rows {
		for i := range row {
			r.tile = append(r.tile, toneOf(row[i]))
		}
	}
	if r.rows < t.rows || r.cols < t.cols {
		r.block = [2]int{min(r.rows, t.rows), min(r.cols, t.cols)}
	}
	l := t.label(&r, [2]int{})
	p := pattern{}
	if known := t.recognize(l.tones); known != nil {
		p = t.patternOf(known, cloths, "")
		p.tones = l.tones
	} else {
		p = t.patternOf(&l, cloths, "")
	}
	p.Chart, p.Given = r.chart([2]int{}, t.rows, t.cols), true
	return p
}

// recognize is the named repeat that says the same of every patch, or nil.
func (t *top) recognize(tones []tone) *labelling {
	repeats := catalogue()
	for i := range repeats {
		r := &repeats[i]
		if t.rows < r.least[0] || t.cols < r.least[1] {
			continue
		}
		for row := range r.rows {
			for col := range r.cols {
				if l := t.label(r, [2]int{row, col}); slices.Equal(l.tones, tones) {
					t.cut(&l)
					return &l
				}
			}
		}
	}
	return nil
}
