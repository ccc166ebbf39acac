package layout

import (
	"math"
	"slices"

	"greige/analyze/eye"
)

// The changes are a set of moves on different patches, looked for by steepest
// ascent and then mended: each move is taken back and the best one in its
// place put there, the partners of every two swaps are tried the other way
// about (which is how an assignment is improved), and what adds nothing is
// left out. What counts is how many seams meant to contrast are likely to be
// clear. A move costs something, so that few large ones are taken before many
// small. The work is bounded by a count, never by a clock.

const (
	// moveCost is what a move has to bring, in seams, before it is worth
	// making; takeCost is that of a piece out of the stash, which has to be
	// cut first.
	moveCost = .7
	takeCost = .8
	// harmCost is the price, in seams, of each seam that was clear and is
	// no more, on top of the seam itself.
	harmCost = .5
	// againCost is that of using a stash cloth again, for there may be no
	// more of it.
	againCost = 1.5
	// clothCost is that of each further place when one cloth is taken for
	// another all over the top.
	clothCost = .3
	// wideFrom is the least patches of a cloth that is taken out everywhere.
	wideFrom = 4
	// blendCost is that of a line where none is wanted.
	blendCost = .35
	// mostMoves is how many moves are made at most: more than a handful is
	// another top, not a mended one. Common practice, no source.
	mostMoves = 5
	// readsWell is the share from which on soft seams alone are no reason to
	// move a patch: common practice, no source.
	readsWell = .95
	// maxWork bounds the search, in seams looked at: about a second.
	maxWork = 12e6
)

// hung is what hangs in a place, or could: a patch of the top or a cloth of
// the stash.
type hung struct {
	lightness, spread2 float64 // spread squared
	variance           float64 // of the lightness
	fabric             int     // of the top; negative and its own for each stash cloth
}

// move is a change under way: which places get what.
type move struct {
	kind   Move
	unit   int // the piece it is about
	with   int // the piece it is swapped with
	stash  int // index in the stash, -1 for none
	block  int // the block that is turned
	turn   int // degrees clockwise
	cells  []int
	items  []int // what hangs there after it
	before []int // what hung there before it, once it is made
	gain   float64
}

// search looks for the changes.
type search struct {
	t      *top
	p      *pattern
	items  []hung // the patches, then the stash
	hang   []int  // by place: index in items
	meant  []Meaning
	sign   []float64 // of the step of L* over each edge, as meant
	value  []float64 // of each edge, with what hangs there
	units  [][]int   // pieces that move as one
	unitOf []int     // by patch
	taken  []bool    // places of moves already made
	used   []int     // by stash cloth, how often
	best   []move    // by unit, when last looked for
	asOf   [][2]int  // by unit: the versions of it and its partner at that time
	// version counts for each unit how often it or what is beside it changed.
	version []int
	stamp   []int
	stamps  int
	work    int
	scale   scale // of the top as it hangs: what is light and what is dark
}

// changes are the moves that make the top read better, what is wanted where
// none does, and remarks on them.
func (t *top) changes(p *pattern, seams []Seam) ([]Change, []Wanted, []string) {
	if readsOf(seams, nil) == nil {
		return []Change{}, nil, nil
	}
	s := t.newSearch(p)
	moves := s.mend(s.climb())
	changes, remarks := s.describe(s.needed(moves))
	return changes, s.wanted(), remarks
}

func (t *top) newSearch(p *pattern) *search {
	n, m := len(t.patches), len(t.edges)
	s := &search{t: t, p: p, hang: make([]int, n), taken: make([]bool, n), unitOf: make([]int, n),
		meant: make([]Meaning, m), sign: make([]float64, m), value: make([]float64, m), stamp: make([]int, m),
		used:  make([]int, len(t.in.Stash)),
		scale: t.measureScale(p.tones, p.ownPieces(), p.block)}
	for i := range t.patches {
		q := &t.patches[i]
		s.items = append(s.items, hung{q.Lightness, q.Spread * q.Spread, q.sigma() * q.sigma(), q.Fabric})
		s.hang[i] = i
	}
	for k, f := range t.in.Stash {
		// Between photos all of the uncertainty counts.
		u := max(f.Uncertainty/1.96, .3)
		s.items = append(s.items, hung{f.Lightness, f.Spread * f.Spread, u * u, -1 - k})
	}
	for k, e := range t.edges {
		a, b := p.tones[e.a], p.tones[e.b]
		s.meant[k] = contrastOf(a, b)
		s.sign[k] = 1
		if toneStep[a] < toneStep[b] {
			s.sign[k] = -1
		}
		s.value[k] = s.valueOf(k)
	}
	s.cutUnits()
	s.best, s.asOf, s.version = make([]move, len(s.units)), make([][2]int, len(s.units)), make([]int, len(s.units))
	for u := range s.version {
		s.version[u] = 1 // nothing has been looked for yet
	}
	return s
}

// cutUnits: a plain block, a rail, a stripe or the sashing is one piece of
// cloth and moves as one, as far as it is measured to be of one cloth.
func (s *search) cutUnits() {
	pieces := s.p.pieces
	switch {
	case pieces != nil:
	case s.p.sashed:
		pieces = make([]int32, len(s.t.patches)) // all the sashing is piece 0
		for i := range pieces {
			if s.p.block[i] >= 0 {
				pieces[i] = -1
			}
		}
	case s.p.along != [2]int{}:
		pieces = s.stripes()
	default:
		pieces = slices.Repeat([]int32{-1}, len(s.t.patches))
	}
	done := make([]bool, len(pieces))
	byPiece := members(pieces)
	for i, piece := range pieces {
		if done[i] {
			continue
		}
		unit := []int{i}
		if piece >= 0 {
			unit = nil
			for _, j := range byPiece[piece] {
				if s.t.patches[j].Fabric == s.t.patches[i].Fabric && s.p.tones[j] == s.p.tones[i] {
					unit = append(unit, j)
				}
			}
		}
		for _, j := range unit {
			done[j] = true
			s.unitOf[j] = len(s.units)
		}
		s.units = append(s.units, unit)
	}
}

// stripes numbers the runs of one cloth along the pattern's stripes. Two of a
// cloth side by side are patches still.
func (s *search) stripes() []int32 {
	const least = 3
	out := slices.Repeat([]int32{-1}, len(s.t.patches))
	next := int32(0)
	for i := range s.t.patches {
		var run []int
		for j := i; j >= 0 && out[j] < 0 && s.t.patches[j].Fabric == s.t.patches[i].Fabric; {
			run = append(run, j)
			p := &s.t.patches[j]
			j = s.t.patchAt(p.Row-1+s.p.along[0], p.Col-1+s.p.along[1])
		}
		if len(run) < least {
			continue
		}
		for _, j := range run {
			out[j] = next
		}
		next++
	}
	return out
}

// sides are what hangs on the two sides of edge k, and the step of L* between
// them, positive when it is the way round that it is meant.
func (s *search) sides(k int) (x, y *hung, step float64) {
	e := s.t.edges[k]
	x, y = &s.items[s.hang[e.a]], &s.items[s.hang[e.b]]
	return x, y, (x.lightness - y.lightness) * s.sign[k]
}

// leastStep is the difference of L* from which on a seam is clear.
func (s *search) leastStep(x, y *hung) float64 {
	return max(s.t.soft, eye.Clear*math.Sqrt((x.spread2+y.spread2)/2+eye.Noise*eye.Noise))
}

// valueOf is what the seam at edge k is worth with what hangs there: where
// contrast is meant, the probability that it is clear and the right way round,
// and a little for coming near to that and for going beyond it; where the two
// are meant to blend, less for a line.
func (s *search) valueOf(k int) float64 {
	if s.meant[k] == Either {
		return 0
	}
	s.work++
	x, y, step := s.sides(k)
	if x.fabric == y.fabric {
		return 0
	}
	least := s.leastStep(x, y)
	doubt := 4 * math.Sqrt(x.variance+y.variance) // from -2 to 2 standard deviations
	if s.meant[k] == Blend {
		return -blendCost * ramp(.5+(math.Abs(step)-least)/doubt)
	}
	return ramp(.5+(step-least)/doubt) + .15*ramp(step/least) + .05*ramp((step-least)/20)
}

func ramp(x float64) float64 { return min(max(x, 0), 1) }

// state of the seam at edge k that is meant to contrast: Clear only when it is
// the right way round, else as its verdict.
func (s *search) state(k int) Verdict {
	x, y, step := s.sides(k)
	switch {
	case x.fabric == y.fabric || step < s.t.lost:
		return Lost
	case step < s.leastStep(x, y):
		return Soft
	}
	return Clear
}

// clears counts the seams meant to contrast whose verdict is clear, either way
// round, as Layout.Reads does, and those that are lost.
func (s *search) clears() (clear, lost, asked int) {
	for _, v := range s.states() {
		switch v {
		case "":
			continue
		case Clear:
			clear++
		case Lost:
			lost++
		}
		asked++
	}
	return clear, lost, asked
}

// wrongSide: the move hangs a dark where a light is meant, or a light where a
// dark is, and what hung there was less so.
func (s *search) wrongSide(m *move) bool {
	for i, c := range m.cells {
		v := s.p.tones[c]
		if v != toneLight && v != toneDark {
			continue
		}
		now := s.scale.beyond(s.items[m.items[i]].lightness, c, v)
		if now > 0 && now > s.scale.beyond(s.items[s.hang[c]].lightness, c, v) {
			return true
		}
	}
	return false
}

// gainOf is what a move would bring, less its cost.
func (s *search) gainOf(m *move) float64 {
	if s.wrongSide(m) {
		return -1
	}
	s.stamps++
	gain := -m.cost(s)
	s.exchange(m)
	for _, c := range m.cells {
		for _, k := range s.t.edgesOf[c] {
			if s.stamp[k] == s.stamps || s.meant[k] == Either {
				continue
			}
			s.stamp[k] = s.stamps
			v := s.valueOf(k)
			gain += v - s.value[k]
			if v < s.value[k]-.5 && s.meant[k] == Contrast {
				gain -= harmCost
			}
		}
	}
	s.exchange(m)
	return gain
}

// exchange hangs a move's items, and keeps what hung there in their stead.
func (s *search) exchange(m *move) {
	for i, c := range m.cells {
		m.items[i], s.hang[c] = s.hang[c], m.items[i]
	}
}

func (m *move) cost(s *search) float64 {
	if m.kind != Take {
		return moveCost
	}
	cost := takeCost
	if s.used[m.stash] > 0 {
		cost += againCost
	}
	if further := len(m.cells) - len(s.units[m.unit]); further > 0 {
		cost += clothCost * float64(further)
	}
	return cost
}

// do makes a move.
func (s *search) do(m *move) {
	m.before = make([]int, len(m.cells))
	for i, c := range m.cells {
		m.before[i] = s.hang[c]
		s.hang[c] = m.items[i]
		s.taken[c] = true
	}
	if m.stash >= 0 {
		s.used[m.stash]++
	}
	s.refresh(m)
}

// undo takes a move back.
func (s *search) undo(m *move) {
	for i, c := range m.cells {
		s.hang[c] = m.before[i]
		s.taken[c] = false
	}
	if m.stash >= 0 {
		s.used[m.stash]--
	}
	s.refresh(m)
}

// refresh the values round a move; the best moves found there hold no more.
func (s *search) refresh(m *move) {
	for _, c := range m.cells {
		s.version[s.unitOf[c]]++
		for _, k := range s.t.edgesOf[c] {
			s.value[k] = s.valueOf(k)
			s.version[s.unitOf[s.t.edges[k].a]]++
			s.version[s.unitOf[s.t.edges[k].b]]++
		}
	}
}

// climb makes the best move of all, again and again: those for the patches that
// hang against the pattern before all others.
func (s *search) climb() []*move {
	var moves []*move
	for len(moves) < mostMoves {
		m := s.wideMove()
		if m == nil {
			break
		}
		s.do(m)
		moves = append(moves, m)
	}
	for len(moves) < mostMoves && s.work < maxWork {
		clear, _, asked := s.clears()
		well := float64(clear) >= readsWell*float64(asked)
		best, misplaced := move{}, false
		for u := range s.units {
			against := s.t.patches[s.units[u][0]].Misplaced
			if !s.culprit(u, well) || misplaced && !against {
				continue
			}
			if s.stale(u) {
				s.best[u] = s.bestMove(u)
				s.asOf[u] = [2]int{s.version[u], s.version[s.best[u].with]}
			}
			if g := s.best[u].gain; g > best.gain+1e-9 || g > 0 && against && !misplaced {
				best, misplaced = s.best[u], against
			}
		}
		if best.gain <= 0 {
			break
		}
		s.do(&best)
		moves = append(moves, &best)
	}
	return moves
}

// culprit: the piece has a seam that is lost, or, unless the top reads well
// but for such, one that is not clear.
func (s *search) culprit(u int, lostOnly bool) bool {
	for _, c := range s.units[u] {
		if s.taken[c] {
			return false
		}
	}
	for _, c := range s.units[u] {
		for _, k := range s.t.edgesOf[c] {
			if s.meant[k] != Contrast {
				continue
			}
			if v := s.state(k); v == Lost || v == Soft && !lostOnly {
				return true
			}
		}
	}
	return false
}

// stale: the best move of a piece was never looked for, or what it was about,
// or to use, is no longer as it was.
func (s *search) stale(u int) bool {
	m := &s.best[u]
	if s.asOf[u] != [2]int{s.version[u], s.version[m.with]} || m.kind == Take && s.used[m.stash] > 0 {
		return true
	}
	for _, c := range m.cells {
		if s.taken[c] {
			return true
		}
	}
	return false
}

// bestMove for a piece: gain 0 when there is none.
func (s *search) bestMove(u int) move {
	best := move{}
	try := func(m move) {
		if s.work > maxWork {
			return
		}
		if m.gain = s.gainOf(&m); m.gain > best.gain+1e-9 {
			m.cells, m.items = slices.Clone(m.cells), slices.Clone(m.items)
			best = m
		}
	}
	unit := s.units[u]
	cells, items := make([]int, 2*len(unit)), make([]int, 2*len(unit))
	for v, other := range s.units {
		if v == u || len(other) != len(unit) || s.taken[other[0]] || s.items[s.hang[other[0]]].fabric == s.items[s.hang[unit[0]]].fabric {
			continue
		}
		copy(cells, unit)
		copy(cells[len(unit):], other)
		for i := range unit {
			items[i], items[len(unit)+i] = s.hang[other[i]], s.hang[unit[i]]
		}
		try(move{kind: Swap, unit: u, with: v, stash: -1, cells: cells, items: items})
	}
	items = items[:len(unit)]
	for k := range s.t.in.Stash {
		if s.t.in.Stash[k].Doubtful {
			continue
		}
		for i := range items {
			items[i] = len(s.t.patches) + k
		}
		try(move{kind: Take, unit: u, stash: k, cells: unit, items: items})
	}
	if s.p.block != nil && s.p.block[unit[0]] >= 0 {
		for turn := 90; turn < 360; turn += 90 {
			if m, ok := s.turned(int(s.p.block[unit[0]]), turn); ok {
				m.unit = u
				try(m)
			}
		}
	}
	return best
}

// turned is the move that turns a block clockwise; not ok when the block is
// not whole or not square, when part of it has been moved, or when its chart
// is the same after the turn, so that nothing is to be won by it.
func (s *search) turned(index, turn int) (move, bool) {
	b := s.p.blocks[index]
	n := b.rowEnd - b.row
	if !b.whole || b.plain || b.colEnd-b.col != n || n < 2 {
		return move{}, false
	}
	m := move{kind: Turn, block: index, turn: turn, stash: -1}
	differs := false
	for row := range n {
		for col := range n {
			from, fromCol := row, col
			for range turn / 90 {
				from, fromCol = n-1-fromCol, from
			}
			to, source := s.t.patchAt(b.row+row, b.col+col), s.t.patchAt(b.row+from, b.col+fromCol)
			if s.taken[to] {
				return move{}, false
			}
			differs = differs || s.p.tones[to] != s.p.tones[source]
			m.cells = append(m.cells, to)
			m.items = append(m.items, s.hang[source])
		}
	}
	return m, differs
}

// wideMove is the best exchange of one cloth of the top for one of the stash
// wherever it hangs: for a cloth that is there often, and fails as often as
// not. nil when there is none.
func (s *search) wideMove() *move {
	byFabric := map[int][]int{}
	most := 0
	for i := range s.t.patches {
		if !s.taken[i] {
			f := s.t.patches[i].Fabric
			byFabric[f] = append(byFabric[f], i)
			most = max(most, f)
		}
	}
	var best *move
	for f := 1; f <= most; f++ {
		cells := byFabric[f]
		if len(cells) < wideFrom || len(cells) == len(s.units[s.unitOf[cells[0]]]) || !s.failsOften(cells) {
			continue
		}
		items := make([]int, len(cells))
		for k := range s.t.in.Stash {
			if s.t.in.Stash[k].Doubtful || s.used[k] > 0 || s.work > maxWork/2 {
				continue
			}
			for i := range items {
				items[i] = len(s.t.patches) + k
			}
			m := move{kind: Take, unit: s.unitOf[cells[0]], stash: k, cells: cells, items: items}
			if m.gain = s.gainOf(&m); m.gain > 0 && (best == nil || m.gain > best.gain+1e-9) {
				m.items = slices.Clone(items)
				best = &m
			}
		}
	}
	return best
}

// failsOften: the cells are of one tone, and half or more of their seams that
// are meant to contrast do not.
func (s *search) failsOften(cells []int) bool {
	fails, asked := 0, 0
	for _, c := range cells {
		if s.p.tones[c] != s.p.tones[cells[0]] {
			return false
		}
		for _, k := range s.t.edgesOf[c] {
			if s.meant[k] == Contrast {
				asked++
				if s.state(k) != Clear {
					fails++
				}
			}
		}
	}
	return fails >= 3 && 2*fails >= asked
}

// mend improves a set of moves until nothing more is to be won.
func (s *search) mend(moves []*move) []*move {
	for range 4 {
		better := false
		for i := 0; i < len(moves); i++ {
			m := moves[i]
			s.undo(m)
			m.gain = s.gainOf(m)
			best := s.bestMove(m.unit)
			if m.kind == Swap && s.work < maxWork {
				if b := s.bestMove(m.with); b.gain > best.gain+1e-9 {
					best = b
				}
			}
			switch {
			case best.gain > max(m.gain, 0)+1e-9:
				*m = best
				better = true
			case m.gain <= 0:
				moves = slices.Delete(moves, i, i+1)
				i--
				better = true
				continue
			}
			s.do(m)
		}
		if s.swapPartners(moves) {
			better = true
		}
		if !better || s.work > maxWork {
			break
		}
	}
	return moves
}

// swapPartners tries, for every two swaps, the two other ways to pair their
// four pieces.
func (s *search) swapPartners(moves []*move) (better bool) {
	for i, m := range moves {
		for _, o := range moves[i+1:] {
			if m.kind != Swap || o.kind != Swap || len(m.cells) != len(o.cells) || s.work > maxWork {
				continue
			}
			s.undo(o)
			s.undo(m)
			a, b, c, d := m.unit, m.with, o.unit, o.with
			now := s.together(s.swapOf(a, b), s.swapOf(c, d))
			x, y := s.swapOf(a, c), s.swapOf(b, d)
			gain := s.together(x, y)
			if z, w := s.swapOf(a, d), s.swapOf(b, c); s.together(z, w) > gain+1e-9 {
				x, y = z, w
				gain = s.together(z, w)
			}
			if gain > now+1e-9 {
				*m, *o = *x, *y
				better = true
			}
			s.do(m)
			s.do(o)
		}
	}
	return better
}

func (s *search) swapOf(u, v int) *move {
	a, b := s.units[u], s.units[v]
	m := &move{kind: Swap, unit: u, with: v, stash: -1, cells: slices.Concat(a, b)}
	for i := range a {
		m.items = append(m.items, s.hang[b[i]])
	}
	for i := range b {
		m.items = append(m.items, s.hang[a[i]])
	}
	return m
}

// together is the gain of two moves on different places.
func (s *search) together(m, o *move) float64 {
	gain := s.gainOf(m)
	s.do(m)
	gain += s.gainOf(o)
	s.undo(m)
	return gain
}

// needed leaves out the moves without which as many seams are clear and no
// more are lost.
func (s *search) needed(moves []*move) []*move {
	clear, lost, _ := s.clears()
	for i := len(moves) - 1; i >= 0; i-- {
		s.undo(moves[i])
		if c, l, _ := s.clears(); c >= clear && l <= lost {
			clear, lost = c, l
			moves = slices.Delete(moves, i, i+1)
			continue
		}
		s.do(moves[i])
	}
	return moves
}
