package layout

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"greige/analyze/numerals"
)

// describe puts the moves in the order to make them, those for the patches that
// hang against the pattern first and of these the one that brings most, leaves
// out what brings nothing, and says of each what is wrong, what is done, what it brings, and
// what it costs elsewhere.
func (s *search) describe(moves []*move) ([]Change, []string) {
	out := []Change{}
	for i := len(moves) - 1; i >= 0; i-- {
		s.undo(moves[i])
	}
	left := slices.Clone(moves)
	clear, _, asked := s.clears()
	again := map[int]Cell{} // where a stash cloth was first suggested
	for len(left) > 0 {
		best := s.bringsMost(left, clear)
		m := left[best]
		left = slices.Delete(left, best, best+1)
		problem := s.problem(m)
		states := s.states()
		s.do(m)
		now, _, _ := s.clears()
		if now <= clear {
			s.undo(m)
			continue
		}
		c := s.changeOf(m)
		c.Clears = now - clear
		c.Gain, c.Reads = float64(now-clear)/float64(asked), float64(now)/float64(asked)
		why := []string{problem + s.remedy(m, now-clear)}
		if m.kind == Take {
			why = append(why, s.amount(m, again)...)
		}
		if harm := s.harm(states); harm != "" {
			why = append(why, harm)
		}
		c.Why = strings.Join(why, " ")
		out = append(out, c)
		clear = now
	}
	var remarks []string
	if len(again) > 0 {
		remarks = append(remarks, "How much there is of a cloth a photo cannot say, so each is suggested for as few places as can be.")
	}
	return out, remarks
}

// bringsMost is the number of the move to make next, when so many seams are clear
// now.
func (s *search) bringsMost(moves []*move, clear int) int {
	best, most := 0, -1<<31
	for i, m := range moves {
		s.do(m)
		c, l, _ := s.clears()
		s.undo(m)
		n := 8*c - l
		if c > clear && s.culpritMoved(m) {
			n += 8 * len(s.meant)
		}
		if n > most {
			best, most = i, n
		}
	}
	return best
}

// changeOf says what hangs where after a move.
func (s *search) changeOf(m *move) Change {
	c := Change{Piece: s.pieceOf(m.unit), Patch: s.t.patches[s.units[m.unit][0]].cell(), Move: m.kind}
	switch m.kind {
	case Swap:
		with := s.t.patches[s.units[m.with][0]].cell()
		c.With = &with
		c.Instead = fmt.Sprintf("swap with [%d,%d]", with[0], with[1])
	case Take:
		c.Instead = s.t.in.Stash[m.stash].ID
	case Turn:
		b := s.p.blocks[m.block]
		c.Patch, c.Piece = Cell{b.row + 1, b.col + 1}, ""
		c.Instead = fmt.Sprintf("turn the block [%d,%d] to [%d,%d] %s", b.row+1, b.col+1, b.rowEnd, b.colEnd, turnWords[m.turn])
	}
	for i, cell := range m.cells {
		p := Placement{To: s.t.patches[cell].cell(), Turn: m.turn}
		if m.items[i] < len(s.t.patches) {
			from := s.t.patches[m.items[i]].cell()
			p.From = &from
		} else {
			p.Stash = s.t.in.Stash[m.stash].ID
		}
		c.Placements = append(c.Placements, p)
	}
	return c
}

// amount says what a move asks of a stash cloth: first is where each was first
// suggested, and learns of this one.
func (s *search) amount(m *move, first map[int]Cell) (why []string) {
	if patch, twice := first[m.stash]; twice {
		why = append(why, fmt.Sprintf("It is the cloth suggested for %s: see that there is enough of it.", at(patch)))
	} else {
		first[m.stash] = s.t.patches[s.units[m.unit][0]].cell()
	}
	if len(m.cells) > len(s.units[m.unit]) {
		why = append(why, fmt.Sprintf("It goes to all %d patches of that cloth.", len(m.cells)))
	}
	return why
}

var turnWords = map[int]string{90: "a quarter to the right", 180: "half round", 270: "a quarter to the left"}

// states are the verdicts of all seams meant to contrast, either way round.
func (s *search) states() []Verdict {
	out := make([]Verdict, len(s.meant))
	for k := range out {
		if s.meant[k] != Contrast {
			continue
		}
		x, y, step := s.sides(k)
		step = math.Abs(step)
		switch {
		case x.fabric == y.fabric || step < s.t.lost:
			out[k] = Lost
		case step < s.leastStep(x, y):
			out[k] = Soft
		default:
			out[k] = Clear
		}
	}
	return out
}

// culpritMoved: the move is about a patch that hangs against the pattern.
func (s *search) culpritMoved(m *move) bool {
	for _, c := range m.cells {
		if s.t.patches[c].Misplaced {
			return true
		}
	}
	return false
}

// pieceOf is what a piece of more than one patch is called, or of the sashing;
// "" for a patch.
func (s *search) pieceOf(u int) string {
	unit := s.units[u]
	first, last := s.t.patches[unit[0]].cell(), s.t.patches[unit[len(unit)-1]].cell()
	b := s.p.block
	switch {
	case s.p.sashed && b[unit[0]] < 0 && len(unit) == 1:
		return "the piece of sashing at " + at(first)
	case s.p.sashed && b[unit[0]] < 0:
		return "the sashing"
	case len(unit) == 1:
		return ""
	case s.p.plain && b != nil && b[unit[0]] >= 0 && s.p.blocks[b[unit[0]]].plain:
		return "the plain block from " + at(first)
	case first[0] == last[0]:
		return fmt.Sprintf("the strip in row %d, from patch %d to %d", first[0], first[1], last[1])
	case first[1] == last[1]:
		return fmt.Sprintf("the strip in column %d, from row %d to %d", first[1], first[0], last[0])
	}
	return fmt.Sprintf("the strip from %s to %s", at(first), at(last))
}

// nameOf says which piece a unit is.
func (s *search) nameOf(u int) string {
	if name := s.pieceOf(u); name != "" {
		return name
	}
	return at(s.t.patches[s.units[u][0]].cell())
}

// problem is what is wrong with the piece a move is about, before the move.
func (s *search) problem(m *move) string {
	if m.kind == Turn {
		b := s.p.blocks[m.block]
		return fmt.Sprintf("The block from %s to %s lies turned: its lights are where darks are meant", at(Cell{b.row + 1, b.col + 1}), at(Cell{b.rowEnd, b.colEnd}))
	}
	name := capital(s.nameOf(m.unit))
	if wrong := s.wrongTone(m.unit); wrong != "" {
		return name + " " + wrong
	}
	var lost, soft, print int
	var into []string
	for _, c := range s.units[m.unit] {
		for _, k := range s.t.edgesOf[c] {
			if s.meant[k] != Contrast {
				continue
			}
			x, y, step := s.sides(k)
			switch s.state(k) {
			case Lost:
				lost++
				e := s.t.edges[k]
				into = append(into, at(s.t.patches[e.a+e.b-c].cell()))
			case Soft:
				soft++
				if x.fabric != y.fabric && step >= s.t.soft {
					print++
				}
			}
		}
	}
	switch {
	case lost == 1 || lost == 2:
		return name + " runs into " + strings.Join(into, " and ")
	case lost > 2:
		return name + " runs into its neighbours"
	case print > 0 && 2*print >= soft:
		return name + " hardly shows, because a print drowns its seams"
	}
	return name + " hardly shows against its neighbours"
}

// wrongTone: "is dark where a light is meant", or "".
func (s *search) wrongTone(u int) string {
	p := &s.t.patches[s.units[u][0]]
	if !p.Misplaced {
		return ""
	}
	return fmt.Sprintf("is %s where a %s is meant", p.Reads, p.Meant)
}

// remedy is what the move does and brings.
func (s *search) remedy(m *move, clears int) string {
	var do string
	switch m.kind {
	case Swap:
		do = "; swapped with " + s.nameOf(m.with)
		if wrong := s.wrongTone(m.with); wrong != "" {
			do += ", which " + wrong
		}
	case Take:
		f := &s.t.in.Stash[m.stash]
		old, way := s.items[m.before[0]].lightness, "lighter"
		if f.Lightness < old {
			way = "darker"
		}
		do = fmt.Sprintf("; cloth %s, which is %s", f.ID, way)
		if before := s.items[m.before[0]].spread2; f.Spread*f.Spread < before/4 {
			do += " and quieter"
		}
		do += ", shows there"
	case Turn:
		do = "; turned " + turnWords[m.turn] + " it goes with the rest"
	}
	if clears > 1 {
		return do + ": " + numerals.InWords(clears) + " more seams read."
	}
	return do + ": one more seam reads."
}

// harm names the seams that were better before a move.
func (s *search) harm(before []Verdict) string {
	var worse []string
	lost := false
	for k, now := range s.states() {
		was := before[k]
		if now == was || was == Lost || now == Clear {
			continue
		}
		lost = lost || now == Lost
		e := s.t.edges[k]
		worse = append(worse, fmt.Sprintf("between %s and %s", at(s.t.patches[e.a].cell()), at(s.t.patches[e.b].cell())))
	}
	if len(worse) == 0 {
		return ""
	}
	seam, gets := "the seam", "gets softer"
	if len(worse) > 1 {
		seam, gets = "the seams", "get softer"
	}
	if lost {
		gets = strings.Replace(gets, "softer", "softer or lost", 1)
	}
	if n := len(worse); n > 3 {
		worse = append(worse[:2], numerals.InWords(n-2)+" more")
	}
	return fmt.Sprintf("It is not all gain: %s %s %s.", seam, strings.Join(worse, " and "), gets)
}

func capital(s string) string { return strings.ToUpper(s[:1]) + s[1:] }
