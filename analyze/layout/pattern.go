package layout

import (
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
	// remark is what she should know about the pattern, in words.
	remark string
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
// patches' groups of one cloth. second is another pattern that fits about as
// well and means other patches to be light or dark; nil for none.
func (t *top) findPattern(cloths []int) (p pattern, second *pattern) {
	none := pattern{Pattern: Pattern{Name: noPattern}, tones: make([]tone, len(t.patches))}
	chart := t.in.Chart
	if chart != nil && chart.Name == noPattern {
		none.Given = true
		return none, nil
	}
	if chart != nil && len(chart.Rows) > 0 {
		return t.givenPattern(chart, cloths), nil
	}
	repeats := catalogue()
	f := newFitter(t, cloths)
	if chart != nil && chart.Name != "" {
		repeats = slices.DeleteFunc(repeats, func(r repeat) bool { return !slices.Contains(r.keys, chart.Name) })
		best, _ := f.best(repeats, true)
		if best == nil {
			none.remark = "The patches are too few or too much alike for a pattern to be laid over them."
			return none, nil
		}
		p = t.patternOf(best, cloths, chart.Name)
		p.Given = true
		return p, nil
	}
	best, next := f.best(append(repeats, f.others()...), false)
	if best == nil {
		return none, nil
	}
	p = t.patternOf(best, cloths, "")
	if next != nil {
		other := t.patternOf(next, cloths, "")
		second = &other
	}
	return p, second
}

// closeCall is the difference of two scores, in nats, under which either
// pattern may be meant: odds of 20 to 1, the one chance in twenty at which all
// figures here are drawn.
const closeCall = 3

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
