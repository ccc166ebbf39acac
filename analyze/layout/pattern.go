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
	// along is the step in rows and columns along the pattern's stripes; 0 for
	// no stripes.
	along [2]int
}

// block is rows and columns from 0, the last excluded. Only a whole one can be
// turned.
type block struct {
	row, col, rowEnd, colEnd int
	whole                    bool
	plain                    bool
}

// ownPieces are cloths of their own: the alternate plain blocks, each a piece, or the
// sashing, which is one; -1 for the rest, nil without.
func (p *pattern) ownPieces() []int32 { return ownPieces(p.plain, p.sashed, p.pieces, p.block) }

func ownPieces(plain, sashed bool, pieces, block []int32) []int32 {
	switch {
	case plain:
		return pieces
	case sashed && block != nil:
		out := make([]int32, len(block))
		for i, b := range block {
			if b >= 0 {
				out[i] = -1
			}
		}
		return out
	}
	return nil
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
		remark = fmt.Sprintf("The pattern could also be: %s.", t.nameOf(second.repeat))
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
	switch {
	case r.cols == 1 && r.rows > 1: // across
		p.along = [2]int{0, 1}
	case r.rows == 1 && r.cols > 1:
		p.along = [2]int{1, 0}
	}
	p.Name = t.nameOf(r)
	p.Chart = r.chart(l.phase, t.rows, t.cols)
	pitch, start := r.block, l.phase
	edging := t.edging(l, cloths)
	if t.checkered(l.tones) {
		pitch, start = t.nameCheckered(&p, l, edging, cloths, key)
	}
	if pitch[0] > 0 {
		p.sashed = r.sash > 0
		p.BlockSize = []int{pitch[0] - r.sash, pitch[1] - r.sash}
		t.divide(&p, pitch, start, r)
	}
	t.releaseSetting(&p, edging, cloths)
	return p
}

// settleTones gives the plain blocks, or the sashing and its posts, of a
// labelling their tone, by a vote of the pieces: light, dark, or, when they
// are neither or do not agree, anything. They are of cloths of their own, and
// the pieced blocks do not tell.
func (t *top) settleTones(l *labelling) labelling {
	plain := func(i int) bool { return l.repeat.plain && l.pieces[i] >= 0 }
	// The pieced blocks alone say what is light and what is dark.
	tones := slices.Clone(l.tones)
	pieces := make([]int32, len(tones)) // plain blocks from 2; all strips are 0, all posts 1
	for i, v := range l.tones {
		switch {
		case plain(i):
			pieces[i] = 2 + l.pieces[i]
		case v == toneOwn:
			pieces[i] = 0
		case v == tonePost:
			pieces[i] = 1
		default:
			pieces[i] = -1
		}
		if pieces[i] >= 0 || t.patches[i].Shape != "" {
			tones[i] = toneAny
		}
	}
	sc := t.measureScale(tones, nil, nil)
	vote := func(mates []int) tone {
		var part []float64
		for _, i := range mates {
			if t.patches[i].Shape == "" {
				dark, light := sc.levels[i][toneDark], sc.levels[i][toneLight]
				part = append(part, (t.patches[i].Lightness-dark)/max(light-dark, leastContrast))
			}
		}
		switch m := median(part); {
		case len(part) == 0 || m >= mediumPart && m <= 1-mediumPart:
			// A medium stands as the dark beside lights and as the light
			// beside darks: nothing is asked of it.
			return toneAny
		case m > 1-mediumPart:
			return toneLight
		}
		return toneDark
	}
	// By what is settled: 0 the strips, 1 the posts, 2 all plain blocks.
	var settled [3]tone
	var votes [toneCount]int
	all := 0
	for k, mates := range members(pieces) {
		switch {
		case len(mates) == 0:
		case k < 2:
			settled[k] = vote(mates)
		default:
			votes[vote(mates)]++
			all++
		}
	}
	for _, v := range []tone{toneLight, toneDark} {
		if 5*votes[v] >= 4*all && all > 0 {
			settled[2] = v
		}
	}
	r := *l.repeat
	r.tile = slices.Clone(r.tile)
	for i := range r.tile {
		switch {
		case r.plain && r.piece[i] > 0:
			r.tile[i] = settled[2]
		case r.tile[i] == toneOwn:
			r.tile[i] = settled[0]
		case r.tile[i] == tonePost:
			r.tile[i] = settled[1]
		}
	}
	for i, k := range pieces {
		tones[i] = l.tones[i]
		if k >= 0 {
			tones[i] = settled[min(k, 2)]
		}
	}
	return labelling{repeat: &r, phase: l.phase, tones: tones, pieces: l.pieces, block: l.block, score: l.score}
}

// mediumPart is where on the way from the darks to the lights, from either
// end, a plain block or a sashing is neither the one nor the other.
const mediumPart = .44

// nameOf is the repeat's name as the top hangs: the rows of a top on point run
// diagonally.
func (t *top) nameOf(r *repeat) string {
	if t.in.Setting == OnPoint && r.turned != "" {
		return r.turned
	}
	return r.name
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
func (t *top) nameCheckered(p *pattern, l *labelling, edging []bool, cloths []int, key string) (pitch, start [2]int) {
	n := 0
	filling, _ := t.setting(cloths)
	one, side := t.oneBlock(filling)
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

// setting marks what fills the edges of a top on point: the triangles' own
// cloth, if they have one, as far as it reaches in from them. elsewhere is the
// share of the other squares that are of that cloth too.
func (t *top) setting(cloths []int) (filling []bool, elsewhere float64) {
	// deep is how many squares from the edge half a block reaches.
	const deep = 3
	out := make([]bool, len(t.patches))
	count := map[int]int{}
	triangles, main := 0, -1
	for i := range t.patches {
		if t.patches[i].Shape == "" {
			continue
		}
		triangles++
		count[cloths[i]]++
		if main < 0 || count[cloths[i]] > count[main] {
			main = cloths[i]
		}
	}
	if triangles == 0 || 2*count[main] < triangles {
		return out, 0
	}
	var reached []int
	for i := range t.patches {
		if t.patches[i].Shape != "" && cloths[i] == main {
			out[i] = true
			reached = append(reached, i)
		}
	}
	for range deep {
		var next []int
		for _, i := range reached {
			for _, k := range t.edgesOf[i] {
				if j := t.edges[k].a + t.edges[k].b - i; !out[j] && cloths[j] == main {
					out[j] = true
					next = append(next, j)
				}
			}
		}
		reached = next
	}
	squares, inside := 0, 0
	for i := range t.patches {
		if t.patches[i].Shape == "" && !out[i] {
			squares++
			if cloths[i] == main {
				inside++
			}
		}
	}
	return out, float64(inside) / float64(max(squares, 1))
}

// edging marks the triangles, and the squares that belong with them: all that
// lie outside a single block, and those of the triangles' cloth, joined to
// them, that are against the pattern.
func (t *top) edging(l *labelling, cloths []int) []bool {
	setting, _ := t.setting(cloths)
	one, side := t.oneBlock(setting)
	out := make([]bool, len(t.patches))
	rest := slices.Clone(l.tones) // which says what is light and dark
	for i := range out {
		if t.patches[i].Shape != "" || side > 0 && !one.holds(&t.patches[i]) {
			out[i], rest[i] = true, toneAny
		}
	}
	if side > 0 {
		return out
	}
	triangles, found := 0, 0
	for i := range out {
		if out[i] {
			triangles++
		}
	}
	squares := slices.Clone(out)
	for range 2 { // without those found at first, the others show better
		sc := t.measureScale(rest, nil, l.block)
		for i := range out {
			if _, against := t.reading(i, l.tones, &sc); against && setting[i] && !squares[i] {
				squares[i], rest[i] = true, toneAny
				found++
			}
		}
	}
	// Half blocks all round have many such squares. A few are misplaced.
	if edgingFrom*found >= triangles {
		return squares
	}
	return out
}

// edgingFrom: a square for so many triangles is the least that half blocks
// round a top on point have against the pattern.
const edgingFrom = 5

// releaseSetting asks nothing of what fills the edges of a top on point unless
// it goes on with the pattern. It comes in half blocks of one cloth, or in
// triangles only.
func (t *top) releaseSetting(p *pattern, edging []bool, cloths []int) {
	setting, _ := t.setting(cloths)
	inBlock, patches := make([]int, len(p.blocks)), make([]int, len(p.blocks))
	for i := range t.patches {
		if p.block != nil && p.block[i] >= 0 {
			patches[p.block[i]]++
			if setting[i] {
				inBlock[p.block[i]]++
			}
		}
	}
	filling := func(i int) bool {
		if edging[i] {
			return true
		}
		if !setting[i] || p.tones[i] == toneAny || p.block == nil || p.block[i] < 0 {
			return false
		}
		b := p.block[i]
		return !p.blocks[b].whole && 4*inBlock[b] >= 3*patches[b]
	}
	rest := slices.Clone(p.tones) // which alone says what is light and dark
	any := false
	for i := range rest {
		if filling(i) {
			rest[i] = toneAny
			any = true
		}
	}
	if !any {
		return
	}
	sc := t.measureScale(rest, p.ownPieces(), p.block)
	agree, fillings, ownCloth := 0, 0, 0
	var meant [toneCount]int
	for i := range t.patches {
		if !filling(i) {
			continue
		}
		fillings++
		meant[p.tones[i]]++
		if setting[i] {
			ownCloth++
		}
		if p.tones[i] == toneAny || sc.against(t.patches[i].Lightness, i, p.tones[i]) < .5 {
			agree++
		}
	}
	// One cloth all round does not follow a pattern that has lights and darks
	// there; of several cloths, one in ten may stand against it.
	oneCloth := 2*ownCloth >= fillings && slices.Max(meant[:]) < fillings
	if 10*agree >= 9*fillings && !oneCloth {
		return
	}
	for i := range t.patches {
		if filling(i) {
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
	l := labelling{tones: make([]tone, len(t.patches))}
	for i := range repeats {
		r := &repeats[i]
		if !r.fits(t) {
			continue
		}
		for row := range r.rows {
			for col := range r.cols {
				if t.lay(&l, r, [2]int{row, col}); slices.Equal(l.tones, tones) {
					t.cut(&l)
					return &l
				}
			}
		}
	}
	return nil
}
