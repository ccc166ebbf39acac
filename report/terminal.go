package report

// Output rules of the terminal
//
//   - The answer first, then one table, then where the page is. Nothing else
//     goes to standard output; progress and errors are the command's.
//   - Text that came from outside (file names, ids, notes, names) goes through
//     plain: no control character and no turner of direction reaches the
//     terminal. The only escape sequences are the chips of this file.
//   - Colour only as chips, and only where the terminal shows it: NO_COLOR, a
//     dumb terminal and a pipe get the same text without them. No meaning is
//     carried by colour alone.
//   - A line is no wider than the terminal. What does not fit is left out of
//     the middle of a name, never out of a figure; names stand last in a line,
//     so that letters of unknown width put nothing out of line.
//   - Lines end without spaces.

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"greige/analyze"
	"greige/analyze/border"
	"greige/analyze/layout"
	"greige/analyze/piles"
	"greige/colorspace"
)

// Depth is how many colours a terminal shows.
type Depth int

const (
	NoColour  Depth = iota // text only
	Colour256              // the usual 256: chips are the nearest of them
	TrueColor              // 24 bits: chips are the cloth's own colour
)

// ColourDepth says how many colours to use. env gives an environment
// variable, "" where it is not set. NO_COLOR set to anything, TERM=dumb, or
// no terminal: none. COLORTERM tells of 24 bits; Windows Terminal, which sets
// WT_SESSION, has them too. TERM tells of 256.
func ColourDepth(env func(string) string, isTerminal bool) Depth {
	term := env("TERM")
	switch {
	case !isTerminal, env("NO_COLOR") != "", term == "dumb":
		return NoColour
	case env("COLORTERM") == "truecolor", env("COLORTERM") == "24bit",
		strings.HasSuffix(term, "-direct"), env("WT_SESSION") != "":
		return TrueColor
	case strings.Contains(term, "256color"):
		return Colour256
	}
	return NoColour
}

// TerminalOptions say what the terminal can show. The zero value is plain
// text of 80 columns.
type TerminalOptions struct {
	Depth Depth
	Width int      // columns; 0: 80
	Files []string // what was written, the page first
	// NoPage: no page was written, so it is not the first of Files.
	NoPage bool
}

// Terminal writes the answer, one table and where the page is.
func Terminal(w io.Writer, r *analyze.Result, o TerminalOptions) error {
	if o.Width <= 0 {
		o.Width = 80
	}
	o.Width = max(o.Width, 20)
	t := terminal{o: o}
	a := AnswerOf(r)
	t.paragraph(a.Headline)
	for _, s := range a.More {
		t.paragraph(s)
	}
	for _, n := range groupNotes(r) {
		t.paragraph(n.text())
	}
	switch {
	case r.Sort != nil:
		t.fabrics(r.Sort.Fabrics)
	case r.Layout != nil:
		t.layout(r)
	case r.Border != nil:
		t.palette(r.Border)
	case r.Kept != nil:
		t.kept(r.Kept)
	case r.Plan != nil:
		t.cuttingList(r.Plan)
	}
	if len(o.Files) > 0 {
		t.line("")
		for i, f := range o.Files {
			word := "also"
			if i == 0 && !o.NoPage {
				word = "page"
			}
			// The whole name, however long: it is there to be copied.
			t.line(word + "  " + plain(f))
		}
	}
	_, err := io.WriteString(w, t.b.String())
	return err
}

type terminal struct {
	b strings.Builder
	o TerminalOptions
}

func (t *terminal) line(s string) {
	t.b.WriteString(strings.TrimRight(s, " "))
	t.b.WriteByte('\n')
}

// paragraph writes s wrapped at the terminal's width.
func (t *terminal) paragraph(s string) {
	line, wide := "", 0
	for _, word := range strings.Fields(s) {
		n := columns(word)
		if wide > 0 && wide+1+n > t.o.Width {
			t.line(line)
			line, wide = "", 0
		}
		if wide > 0 {
			line, wide = line+" ", wide+1
		}
		line, wide = line+word, wide+n
	}
	if wide > 0 {
		t.line(line)
	}
}

// chip is two columns of a colour, and the space after them; nothing where
// the terminal has no colours.
func (t *terminal) chip(c [3]uint8) string {
	switch t.o.Depth {
	case TrueColor:
		return fmt.Sprintf("\x1b[48;2;%d;%d;%dm  \x1b[0m", c[0], c[1], c[2])
	case Colour256:
		return fmt.Sprintf("\x1b[48;5;%dm  \x1b[0m", nearest256(c))
	}
	return ""
}

// chipsWide is how many columns the chips of a row take, with the space after them.
const chipsWide = 6

// chips are a cloth in colour and its honest grey side by side.
func (t *terminal) chips(l colorspace.Lab) string {
	return t.chip(l.Linear().SRGB8()) + t.chip(greyOf(l.L)) + "  "
}

// nearest256 is the nearest of the fixed colours 16 to 255: a cube of 6 and
// 24 greys (the layout that xterm fixed, and all others kept).
func nearest256(c [3]uint8) int {
	level := [6]int{0, 95, 135, 175, 215, 255}
	best, least := 16, 1<<30
	try := func(i, r, g, b int) {
		dr, dg, db := r-int(c[0]), g-int(c[1]), b-int(c[2])
		if d := dr*dr + dg*dg + db*db; d < least {
			best, least = i, d
		}
	}
	for i := range 216 {
		try(16+i, level[i/36], level[i/6%6], level[i%6])
	}
	for i := range 24 {
		try(232+i, 8+10*i, 8+10*i, 8+10*i)
	}
	return best
}

// greyOf is the grey of a lightness, for a screen.
func greyOf(lightness float64) [3]uint8 {
	y := colorspace.LuminanceOf(Finite(lightness))
	return colorspace.Linear{y, y, y}.SRGB8()
}

// cutTo is how far a column that may be cut is cut at most: a colour's first
// and last letters still tell it.
const cutTo = 12

// column is one column of a table; the last takes what room is left.
type column struct {
	head  string
	right bool
	give  bool // the first to be dropped on a narrow terminal
	cut   bool // may be shortened, and is dropped last
}

// table writes rows under heads. lab are the colours whose chips stand before the
// rows; nil: none do. On a narrow terminal columns that may give are dropped, and the
// last one is cut.
func (t *terminal) table(cols []column, rows [][]string, lab []colorspace.Lab) {
	if len(rows) == 0 {
		return
	}
	t.line("")
	leadWide := 0
	if lab != nil && t.o.Depth != NoColour {
		leadWide = chipsWide
	}
	g := newTextGrid(cols, rows, t.o.Width-leadWide)
	heads := make([]string, len(cols))
	for i, c := range cols {
		heads[i] = c.head
	}
	t.line(strings.Repeat(" ", leadWide) + g.row(heads))
	for i, row := range rows {
		lead := ""
		if leadWide > 0 {
			lead = t.chips(lab[i])
		}
		t.line(lead + g.row(row))
	}
}

// textGrid is how wide the columns of a table are on a terminal, and which of them
// are shown.
type textGrid struct {
	cols  []column
	wide  []int
	show  []bool
	width int
}

// newTextGrid fits a table into a width, in letters: columns that may go are left
// out and those that may be cut are cut, from the right, until the last one has
// room.
func newTextGrid(cols []column, rows [][]string, width int) *textGrid {
	g := &textGrid{cols: cols, wide: make([]int, len(cols)), show: make([]bool, len(cols)), width: width}
	for i, c := range cols {
		g.show[i] = true
		g.wide[i] = columns(c.head)
		for _, row := range rows {
			g.wide[i] = max(g.wide[i], columns(row[i]))
		}
	}
	if last := len(cols) - 1; cols[last].give && g.room() < min(g.wide[last], 12) { // it goes before anything else is cut
		g.cols = cols[:last]
	}
	last := len(g.cols) - 1
	for i := last - 1; i >= 0 && g.room() < min(g.wide[last], 16); i-- {
		if g.cols[i].give {
			g.show[i] = false
		}
	}
	for i := last - 1; i >= 0; i-- {
		if lacks := min(g.wide[last], 16) - g.room(); g.cols[i].cut && lacks > 0 {
			g.wide[i] = max(g.wide[i]-lacks, min(g.wide[i], cutTo))
		}
	}
	for i := last - 1; i >= 0 && g.room() < 4; i-- { // a terminal of half the usual width
		g.show[i] = g.show[i] && !g.cols[i].cut
	}
	return g
}

// room is what the last column has.
func (g *textGrid) room() int {
	n := g.width
	for i := range g.cols[:len(g.cols)-1] {
		if g.show[i] {
			n -= g.wide[i] + 2
		}
	}
	return n
}

// row is a row of the table.
func (g *textGrid) row(cells []string) string {
	s := ""
	for i, c := range g.cols {
		if !g.show[i] {
			continue
		}
		cell := cells[i]
		if c.cut {
			cell = shorten(cell, g.wide[i])
		}
		if i == len(g.cols)-1 {
			return s + shorten(cell, max(g.room(), 1))
		}
		pad := strings.Repeat(" ", g.wide[i]-columns(cell))
		if c.right {
			s += pad + cell + "  "
		} else {
			s += cell + pad + "  "
		}
	}
	return s
}

func (t *terminal) fabrics(all []piles.Fabric) {
	cols := []column{{head: "no.", right: true}, {head: "pile"}, {head: "lightness", right: true}, {head: "+-", right: true},
		{head: "colour", cut: true}, {head: "kind", cut: true}, {head: "photo", give: true}}
	var rows [][]string
	var lab []colorspace.Lab
	cloths := ranked(all)
	if len(cloths) == 0 { // in the order of their numbers, which is the only one there is
		cloths = slices.DeleteFunc(slices.Clone(all), func(f piles.Fabric) bool { return f.Doubtful })
	}
	for _, f := range cloths {
		pile := "none"
		switch {
		case f.Swings():
			pile = string(f.Pile) + " (swings)"
		case f.Pile != "":
			pile = string(f.Pile)
		}
		rows = append(rows, []string{plain(f.ID), pile, boundWord(f.Bound) + figure(f.Lightness, 1), figure(f.Uncertainty, 1),
			ColourName(f.Name), plain(string(f.Character)), fileName(f.Photo)})
		lab = append(lab, f.Lab)
	}
	t.table(cols, rows, lab)
	if odd := doubtful(all); len(odd) > 0 {
		t.paragraph("and " + some(len(odd), "thing that is", "things that are") + " probably no cloth: see the page")
	}
}

// layout lists the patches that need looking at: those against the pattern,
// and those that run into a neighbour.
func (t *terminal) layout(r *analyze.Result) {
	l := r.Layout
	t.line("")
	if l.GridFound {
		t.line("The patches were found as")
	} else {
		t.line("The patches were taken to be")
	}
	t.line("  " + gridFlags(l))
	if l.Pattern.Name == "none" {
		return // no patch of it is right or wrong
	}
	cols := []column{{head: "patch"}, {head: "lightness", right: true}, {head: "reads"}, {head: "meant", give: true}, {head: "what is wrong"}}
	into := lostSides(l)
	var rows [][]string
	var lab []colorspace.Lab
	for _, p := range l.Patches {
		cell := layout.Cell{p.Row, p.Col}
		var wrong []string
		sides := into[cell]
		if p.Misplaced {
			wrong = append(wrong, "misplaced")
		}
		switch n := len(sides); {
		case n == 1 && !p.Misplaced:
			wrong = append(wrong, "runs into "+runsInto(sides))
		case n > 0: // what is longer would not fit
			wrong = append(wrong, "runs into "+some(n, "neighbour", "neighbours"))
		}
		if len(wrong) == 0 {
			continue
		}
		rows = append(rows, []string{at(cell), boundWord(p.Bound) + figure(p.Lightness, 1), string(p.Reads), string(p.Meant), strings.Join(wrong, "; ")})
		lab = append(lab, p.Lab)
	}
	t.table(cols, rows, lab)
	if len(l.Changes) > 0 {
		t.line("")
	}
	for i, c := range l.Changes {
		what := at(c.Patch)
		if c.Piece != "" {
			what = plain(c.Piece)
		}
		t.paragraph(fmt.Sprintf("%d. %s: %s. %s.", i+1, Capital(what), plain(instead(c)), thenReads(c.Reads)))
		if f := stashed(r, c.Instead); f != nil && f.Uncertainty >= muchUnsure {
			t.paragraph(apartSays(f))
		}
	}
}

// lostSides are, for each patch, the sides on which it is lost against its neighbour.
func lostSides(l *layout.Layout) map[layout.Cell][]string {
	sides := map[layout.Cell][]string{}
	for a, next := range joined(l, layout.Lost) {
		for _, b := range next {
			sides[a] = append(sides[a], neighbour(l.Setting, a, b))
		}
	}
	return sides
}

// runsInto names the neighbours on those sides: "its right and lower neighbours"; ""
// for none.
func runsInto(sides []string) string {
	switch len(sides) {
	case 0:
		return ""
	case 1:
		return "its " + sides[0] + " neighbour"
	}
	return "its " + List(sides) + " neighbours"
}

// instead is a change as something to do.
func instead(c layout.Change) string {
	if c.With != nil {
		return "swap with " + at(*c.With)
	}
	if rest, ok := strings.CutPrefix(c.Instead, "turn the block "); ok {
		var from, to layout.Cell
		if _, err := fmt.Sscanf(rest, "[%d,%d] to [%d,%d]", &from[0], &from[1], &to[0], &to[1]); err == nil {
			how := strings.SplitAfterN(rest, "] ", 3)
			return "turn the block from here to " + at(to) + " " + how[len(how)-1]
		}
		return c.Instead
	}
	return "hang number " + c.Instead + " instead"
}

func (t *terminal) palette(b *border.Border) {
	cols := []column{{head: ""}, {head: "share", right: true}, {head: "lightness", right: true, give: true}, {head: "nearest"}, {head: "likeness", give: true}, {head: "colour"}}
	var rows [][]string
	var lab []colorspace.Lab
	for i, c := range b.Palette {
		near, like := "", ""
		if n := nearestTo(b, i); len(n) > 0 {
			near, like = plain(n[0].ID), likeness(n[0].DeltaE)
		}
		rows = append(rows, []string{letter(i), percent(c.Share), figure(c.Lab.L, 1), near, like, ColourName(c.Name)})
		lab = append(lab, c.Lab)
	}
	t.table(cols, rows, lab)
}

// columns is how wide text is in a terminal. Letters that may be wide (the
// scripts of East Asia, signs and pictures) count as two, marks that stand
// over another letter as none; so it is never less than what is shown.
func columns(s string) int {
	n := 0
	for _, r := range s {
		n += runeColumns(r)
	}
	return n
}

func runeColumns(r rune) int {
	switch {
	case unicode.In(r, unicode.Mn, unicode.Me, unicode.Cf):
		return 0
	case r == utf8.RuneError:
		return 1
	case r >= 0x1100:
		if r < 0x2E80 && r >= 0x1200 && r < 0x2300 {
			return 1 // letters of other scripts, punctuation, arrows, sums
		}
		return 2
	}
	return 1
}

// shorten cuts the middle out of a name that is wider than n columns; the
// end, with what tells one photo from the next, is kept.
func shorten(s string, n int) string {
	if columns(s) <= n {
		return s
	}
	if n <= 3 {
		return strings.Repeat(".", n)
	}
	r := []rune(s)
	headRoom, tailRoom := (n-3)/3, (n-3)-(n-3)/3
	head, tail := 0, len(r)
	for used := 0; head < len(r) && used+runeColumns(r[head]) <= headRoom; head++ {
		used += runeColumns(r[head])
	}
	for used := 0; tail > head && used+runeColumns(r[tail-1]) <= tailRoom; tail-- {
		used += runeColumns(r[tail-1])
	}
	// A mark without its letter must not begin the tail.
	for tail < len(r) && unicode.In(r[tail], unicode.Mn, unicode.Me) {
		tail++
	}
	return string(r[:head]) + "..." + string(r[tail:])
}
