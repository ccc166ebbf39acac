package report

import (
	"fmt"
	"iter"
	"math"
	"slices"
	"strconv"
	"strings"

	"greige/analyze"
	"greige/analyze/cloth"
	"greige/analyze/eye"
	"greige/analyze/layout"
	"greige/analyze/piles"
	"greige/analyze/raster"
	"greige/colorspace"
)

// layoutView is the pictures of a layout.
type layoutView struct {
	Wall       *wallView
	Top, After *sightView
	Wanted     []string
	Unsure     bool // whether the patches are found rightly
	Findings   []string
	More       string // how many findings are only in the tables
	Legend     legend
	Changes    []changeView
	Lines      iter.Seq[valueLine]
	Diagrams   []diagram
	Reads      string
}

// legend says which marks there are to explain.
type legend struct{ Lost, Soft, Misplaced bool }

// changeView is one change of the numbered list.
type changeView struct {
	What, Why, Gain          string
	FromChip, ToChip         chipRef
	FromLabel, ToLabel       string
	FromPiece, ToPiece, With string
}

// diagram is a top, or the back of a block, as lights and darks.
type diagram struct {
	Caption, Alt string
	W, H         string
	Cells        []diagramCell
	Arrows       []string // across seams, in the direction in which they are pressed
}

type diagramCell struct {
	Points, Fill string
	Class        string
	Ticks        string // corner ticks of a misplaced patch
	Piece        string // the names of its patches, with spaces between
	Text, X, Y   string
}

const (
	findingsShown = 12
	// Beyond this many patches, those of one cloth share a cut-out, so that
	// the page stays light.
	patchesApart = 160
)

func (c *chapter) laid(r *analyze.Result, book *chipBook) {
	l := r.Layout
	v := &layoutView{}
	c.Layout = v
	if len(l.Patches) == 0 {
		c.Next = []string{"Say how many rows and columns there are and where the corners lie, with --rows, --cols and --corners.",
			"Or take the photo again, straight on, with the whole top and a little wall around it."}
		return
	}
	k := newPatchChips(r, book, c.ID)
	top, after := sightOf(r, analyze.TopSight), sightOf(r, analyze.AfterSight)
	if top != nil {
		v.Top = v.hanging(r, top, k, book.cuts)
	}
	if after != nil && len(l.Changes) > 0 {
		v.After = v.changed(r, after, k, book.cuts)
	}
	v.Wall, v.Unsure = wall(r), !l.GridFound
	if l.Pattern.Name != "none" {
		v.find(l)
	}
	v.changes(r, k)
	for _, w := range l.Wanted {
		v.Wanted = append(v.Wanted, wantedSays(w))
	}
	v.Lines = drawLines(layoutLine(l, k))
	v.diagrams(top, l, k.piece)
	n := count(l)
	if n.all > 0 {
		what := "seams that should show"
		if l.Pattern.Name == "none" {
			what = "seams"
		}
		var parts []string
		say := alike(n.all)
		for _, p := range []struct {
			n    int
			word string
		}{{n.clear, "clear"}, {n.soft, "soft"}, {n.lost, "lost"}, {n.same, "between patches of one cloth"}} {
			if p.n > 0 {
				parts = append(parts, say(p.n)+" "+p.word)
			}
		}
		v.Reads = "Of " + say(n.all) + " " + what + ": " + List(parts) + "."
		if s := viewing(r); s != "" {
			v.Reads += " " + s
		}
	}
	c.Next = layoutNext(r)
	c.Tables = append(c.Tables, patchTable(l, k), seamTable(l), clothTable(l))
	if len(r.Stash) > 0 {
		t := fabricTable(c.ID, r.Stash, &cloths{chip: k.stash})
		t.Caption = "The cloths that could be hung instead"
		c.Tables = append(c.Tables, t)
	}
}

func sightOf(r *analyze.Result, kind analyze.SightKind) *analyze.Sight {
	for i := range r.Sights {
		if r.Sights[i].Kind == kind {
			return &r.Sights[i]
		}
	}
	return nil
}

// patchChips finds the cut-out of a patch, which is a part of the straightened top.
// In a large top, patches of one cloth share one, so that the page stays light.
type patchChips struct {
	l      *layout.Layout
	prefix string
	patch  map[layout.Cell]chipRef
	stash  map[string]chipRef
}

// seamRim is what a patch's cut-out leaves off to every side of its middle, so that
// no seam shows in it.
const seamRim = .1

func newPatchChips(r *analyze.Result, book *chipBook, prefix string) *patchChips {
	k := &patchChips{l: r.Layout, prefix: prefix, patch: map[layout.Cell]chipRef{}, stash: map[string]chipRef{}}
	top, at := sightOf(r, analyze.TopSight), -1
	if top != nil && slices.ContainsFunc(k.l.Patches, func(p layout.Patch) bool { return p.Swatch == nil }) {
		at = book.photo(top)
	}
	where := outlines(top)
	large := len(k.l.Patches) > patchesApart
	ofFabric := map[int]chipRef{}
	for i := range k.l.Patches {
		p := &k.l.Patches[i]
		cell := layout.Cell{p.Row, p.Col}
		if id, ok := ofFabric[p.Fabric]; large && ok && p.Fabric > 0 {
			k.patch[cell] = id
			continue
		}
		if o := where[cellID(cell)]; at >= 0 && p.Swatch == nil && len(o) >= 3 {
			k.patch[cell] = book.part(&p.Cloth, at, inset(o, seamRim))
		} else {
			k.patch[cell] = book.cloth(&p.Cloth)
		}
		ofFabric[p.Fabric] = k.patch[cell]
	}
	used := map[string]bool{}
	for _, c := range k.l.Changes {
		used[c.Instead] = true
	}
	for i := range r.Stash {
		f := r.Stash[i].Cloth
		if !used[r.Stash[i].ID] {
			f.Swatch = nil // only in the table: its colour is enough
		}
		k.stash[r.Stash[i].ID] = book.cloth(&f)
	}
	return k
}

// roleGrey is the grey of a role in a diagram, as in pictures of three values;
// "" where nothing is asked.
func roleGrey(r layout.Role) string {
	step, ok := map[layout.Role]int{layout.Light: 0, layout.Medium: 1, layout.Dark: 2}[r]
	if !ok {
		return ""
	}
	return GreyHex(eye.ValueGreys(3)[step])
}

// piece is the name that a patch shares with its marks and rows.
func (k *patchChips) piece(c layout.Cell) string {
	return fmt.Sprintf("%s-%d-%d", k.prefix, c[0], c[1])
}

// slip is a patch as a label: "3, 5".
func slip(c layout.Cell) string { return fmt.Sprintf("%d, %d", c[0], c[1]) }

func (v *layoutView) hanging(r *analyze.Result, s *analyze.Sight, k *patchChips, cuts valueCuts) *sightView {
	l := r.Layout
	n := count(l)
	alt := "The top as it hangs, straightened: " + plural(l.Rows, "row", "rows") + " of " + plural(l.Cols, "patch", "patches") + "."
	if n.lost > 0 {
		alt += " " + Capital(some(n.lost, "seam is lost", "seams are lost")) + ": they are listed below."
	}
	p := picture(s, alt, cuts, r.Distance)
	if p == nil {
		return nil
	}
	p.ID, p.Caption = "layout-top", "As it hangs"
	if len(l.Changes) == 0 { // the heading says so already
		p.Caption = fileName(s.Photo)
	}
	where := outlines(s)
	p.edges(where, l)
	p.seams(where, l)
	v.Legend.Lost, v.Legend.Soft = n.lost > 0, n.soft > 0
	into := lostSides(l)
	for i := range l.Patches {
		q := &l.Patches[i]
		cell := layout.Cell{q.Row, q.Col}
		o := where[cellID(cell)]
		p.hit(o, k.piece(cell), patchSays(q, runsInto(into[cell]), l.Pattern.Name != "none"))
		if q.Misplaced && len(o) >= 3 {
			v.Legend.Misplaced = true
			p.line("misplaced", k.piece(cell), cornerTicks(inset(thousand(o), .1), .24))
			p.label(o, slip(cell), k.piece(cell))
		}
	}
	p.seamHits(where, l, seamPiece)
	return p
}

func (v *layoutView) changed(r *analyze.Result, s *analyze.Sight, k *patchChips, cuts valueCuts) *sightView {
	l := r.Layout
	p := picture(s, "The top after the changes that are listed below.", cuts, r.Distance)
	if p == nil {
		return nil
	}
	p.ID, p.Caption = "layout-after", "After the changes"
	where := outlines(s)
	p.edges(where, l)
	for i, c := range l.Changes {
		for _, cell := range movedBy(c) {
			o := where[cellID(cell)]
			p.label(o, strconv.Itoa(i+1), k.piece(cell))
			p.hit(o, k.piece(cell), Capital(at(cell))+": changed by number "+strconv.Itoa(i+1)+" of the list.")
		}
	}
	return p
}

// seamPiece is the name that a seam shares with its row, by its index.
func seamPiece(i int) string { return "layout-s" + strconv.Itoa(i+1) }

// patchSays is a patch with its figures, in words. into is what it runs into;
// without a pattern it is neither a light nor a dark.
func patchSays(p *layout.Patch, into string, patterned bool) string {
	s := Capital(at(layout.Cell{p.Row, p.Col})) + ": "
	if p.Name != "" {
		s += ColourName(p.Name) + ", "
	}
	s += boundWord(p.Bound) + lightnessSays(p.Lightness, p.Apart)
	if patterned {
		s += ". Reads as " + string(p.Reads)
	}
	switch {
	case !patterned:
	case p.Misplaced:
		s += " where the pattern asks for " + article(string(p.Meant))
	case p.Meant != layout.Any && p.Meant != "":
		s += ", as meant"
	}
	s += "."
	if into != "" {
		s += " Runs into " + into + "."
	}
	return s
}

// lightnessSays is a lightness with its uncertainty, in words.
func lightnessSays(lightness, unsure float64) string {
	s := "lightness " + figure(lightness, 0)
	if u := figure(unsure, 0); u != "" && u != "0" {
		s += " give or take " + u
	}
	return s
}

// seamSays is a seam with its figures, in words.
func seamSays(l *layout.Layout, m layout.Seam) string {
	a, b := m.Between[0], m.Between[1]
	s := Capital(at(a)) + " and its " + neighbour(l.Setting, a, b) + " neighbour: "
	if m.Verdict == layout.SameCloth {
		return s + "the same cloth."
	}
	s += string(m.Verdict)
	if m.ColourAlone {
		s += " in value, though colour shows it"
	}
	if sure := sureWords(m.Sure); sure != "" {
		word := "lost"
		if m.Verdict != layout.Lost {
			word = "not lost"
		}
		s += " (that it is " + word + " is " + sure + ")"
	}
	return s + ". " + figure(m.DeltaL, 0) + " apart in lightness, " + figure(m.DeltaE, 0) + " in colour; " + figure(m.Clarity, 1) + " times what the prints themselves vary (clarity)."
}

// movedBy are the places where something else hangs after a change.
func movedBy(c layout.Change) []layout.Cell {
	if len(c.Placements) > 0 {
		var out []layout.Cell
		for _, p := range c.Placements {
			out = append(out, p.To)
		}
		return out
	}
	if c.With != nil {
		return []layout.Cell{c.Patch, *c.With}
	}
	return []layout.Cell{c.Patch}
}

// label puts a number on the middle of a patch, or on its lower right corner
// where it would hide the patch.
func (v *sightView) label(outline [][2]float64, text, piece string) {
	if len(outline) < 3 {
		return
	}
	c := centroid(outline)
	lo, hi := raster.Extremes(outline)
	// Beside the picture of the changes, the top is some 550 pixels wide.
	if w := labelWidth(text, discHeight); hi[0]-lo[0] < 1.25*w/550 {
		c = [2]float64{hi[0] + w/2/550, hi[1] + discHeight/2/550.*float64(v.W)/float64(max(v.H, 1))}
		if c[0]+w/2/550 > 1 {
			c[0] = lo[0] - w/2/550
		}
		c[1] = min(c[1], .99)
	}
	v.Discs = append(v.Discs, disc{X: percentOf(c[0]), Y: percentOf(c[1]), Text: text, W: labelWidth(text, discHeight), Piece: piece})
}

// find says in words where it does not read.
func (v *layoutView) find(l *layout.Layout) {
	var out []string
	into := lostSides(l)
	for i := range l.Patches {
		if p := &l.Patches[i]; p.Misplaced {
			out = append(out, hangsWrong(p))
		}
	}
	// Each lost seam is told once, from the patch that reading comes to first,
	// unless the other has more of them.
	told := map[[2]layout.Cell]bool{}
	doubted := map[[2]layout.Cell]bool{}
	for _, s := range l.Seams {
		if s.Sure > 0 && s.Sure < doubtedFrom {
			a, b := s.Between[0], s.Between[1]
			doubted[[2]layout.Cell{a, b}], doubted[[2]layout.Cell{b, a}] = true, true
		}
	}
	lost := joined(l, layout.Lost)
	order := make([]layout.Cell, 0, len(lost))
	for _, p := range l.Patches {
		if c := (layout.Cell{p.Row, p.Col}); len(lost[c]) > 0 {
			order = append(order, c)
		}
	}
	slices.SortStableFunc(order, func(a, b layout.Cell) int { return len(lost[b]) - len(lost[a]) })
	for _, a := range order {
		var sides []string
		doubts := 0
		for _, b := range lost[a] {
			if !told[[2]layout.Cell{a, b}] {
				sides = append(sides, neighbour(l.Setting, a, b))
				if doubted[[2]layout.Cell{a, b}] {
					doubts++
				}
				told[[2]layout.Cell{a, b}], told[[2]layout.Cell{b, a}] = true, true
			}
		}
		switch {
		case len(sides) == len(lost[a]):
			out = append(out, Capital(at(a))+" runs into "+runsInto(into[a])+".")
		case len(sides) > 0:
			out = append(out, Capital(at(a))+" runs into "+runsInto(sides)+" too.")
		}
		switch {
		case doubts == 0:
		case doubts == len(sides):
			out[len(out)-1] = strings.TrimSuffix(out[len(out)-1], ".") + ", but that is not sure."
		default:
			out[len(out)-1] = strings.TrimSuffix(out[len(out)-1], ".") + ", but of " + some(doubts, "of these", "of these") + " that is not sure."
		}
	}
	if len(out) > findingsShown+1 {
		v.More = moreStand(len(out)-findingsShown, "in the table of seams below")
		out = out[:findingsShown]
	}
	v.Findings = out
}

func (v *layoutView) changes(r *analyze.Result, k *patchChips) {
	before := r.Layout.Reads
	for _, c := range r.Layout.Changes {
		what := at(c.Patch)
		if c.Piece != "" {
			what = plain(c.Piece)
		}
		w := changeView{
			What: Capital(what) + ": " + plain(instead(c)) + ".", Why: sentence(plain(c.Why)),
			FromChip: k.patch[c.Patch], FromLabel: slip(c.Patch), FromPiece: k.piece(c.Patch),
		}
		switch {
		case c.Move == layout.Turn:
			w.FromChip, w.With = chipRef{}, "" // a block, not a cloth
		case c.With != nil:
			w.ToChip, w.ToLabel, w.ToPiece = k.patch[*c.With], slip(*c.With), k.piece(*c.With)
			w.With = "swapped with"
		default:
			w.ToChip, w.ToLabel, w.With = k.stash[c.Instead], plain(c.Instead), "gives way to"
			if f := stashed(r, c.Instead); f != nil && f.Uncertainty >= muchUnsure {
				w.Why = strings.TrimSpace(w.Why + " " + apartSays(f))
			}
		}
		then := thenReads(c.Reads)
		w.Gain = then + "."
		if before != nil && *before < c.Reads {
			w.Gain = then + "; before, " + outOf(*before) + " were."
			if outOf(*before) == outOf(c.Reads) { // of so many seams, one or two
				w.Gain = "Then " + some(max(c.Clears, 1), "more seam shows.", "more seams show.")
			}
		}
		before = &c.Reads
		v.Changes = append(v.Changes, w)
	}
}

// thenReads is how much of a top reads after a change.
func thenReads(reads float64) string {
	if reads >= 1 {
		return "Then every seam that should show is clear"
	}
	return "Then " + outOf(reads) + " of the seams that should show are clear"
}

// muchUnsure is the half interval of L* from which a cloth of another photo may
// be on the other side of a soft seam.
const muchUnsure = 10

// apartSays is the doubt about a cloth of the stash beside patches.
func apartSays(f *piles.Fabric) string {
	return "Against the patches the lightness of " + numbers([]string{f.ID}) + " is unsure by about " + figure(f.Uncertainty, 0) +
		" either way, because it was photographed apart from them: hold it up before you cut."
}

func stashed(r *analyze.Result, id string) *piles.Fabric {
	for i := range r.Stash {
		if r.Stash[i].ID == id {
			return &r.Stash[i]
		}
	}
	return nil
}

// layoutLine hangs what is meant to be light above and what is meant to be
// dark below, so that an overlap is seen at once.
func layoutLine(l *layout.Layout, k *patchChips) lineOf {
	var of lineOf
	patterned := l.Pattern.Name != "none"
	lanes := map[layout.Role]int{layout.Dark: 0, layout.Medium: 1, layout.Any: 2}
	if !patterned {
		lanes = map[layout.Role]int{layout.Any: 0}
	}
	// Patches of one cloth that are meant alike hang as one, at the lightness
	// of the light that they send together, with how many they are.
	groups := map[[2]int]int{} // cloth and place of hanging, to its item
	light := map[int][]float64{}
	for i := range l.Patches {
		p := &l.Patches[i]
		cell := layout.Cell{p.Row, p.Col}
		h := hung{Chip: k.patch[cell], Piece: k.piece(cell), Lightness: p.Lightness, Unsure: p.Apart, Mark: p.Misplaced,
			Above: patterned && p.Meant == layout.Light, Lane: lanes[p.Meant]}
		if p.Misplaced {
			h.Label = slip(cell)
			of.Items = append(of.Items, h)
			continue
		}
		key := [2]int{p.Fabric, h.Lane}
		if h.Above {
			key[1] = -1
		}
		at, ok := groups[key]
		if !ok || p.Fabric <= 0 {
			at = len(of.Items)
			groups[key] = at
			of.Items = append(of.Items, h)
		}
		light[at] = append(light[at], colorspace.LuminanceOf(Finite(p.Lightness)))
		if n := len(light[at]); n > 1 {
			of.Items[at].Piece += " " + k.piece(cell)
			of.Items[at].Label = "×" + strconv.Itoa(n)
			of.Items[at].Lightness = colorspace.Lightness(mean(light[at]))
			of.Items[at].Unsure = max(of.Items[at].Unsure, p.Apart)
		}
	}
	var lights, darks []float64
	for _, p := range l.Patches {
		switch p.Meant {
		case layout.Light:
			lights = append(lights, p.Lightness)
		case layout.Dark:
			darks = append(darks, p.Lightness)
		}
	}
	for i := range of.Items {
		h := &of.Items[i]
		what := "One patch"
		if n := strings.Count(h.Piece, " ") + 1; n > 1 {
			what = first(n) + " patches of one cloth"
		}
		h.Says = what + ", " + lightnessSays(h.Lightness, h.Unsure) + "."
	}
	if !patterned || len(lights) == 0 || len(darks) == 0 {
		of.Label = "The value line: the patches hang from a scale of lightness, from white on the left to black on the right."
		return of
	}
	of.AboveWord = "Meant to be light"
	of.LaneWords = []string{"Meant to be dark", "Meant to be medium", "Nothing asked"}
	darkest, lightest := slices.Min(lights), slices.Max(darks)
	of.Label = "The value line: patches meant to be light hang above a scale of lightness, those meant to be dark below. The darkest of the lights stands at " +
		figure(darkest, 0) + ", the lightest of the darks at " + figure(lightest, 0)
	if lightest >= darkest {
		of.Label += ": they overlap."
	} else {
		of.Label += ": they do not overlap."
	}
	return of
}

func mean(values []float64) float64 {
	sum := 0.
	for _, v := range values {
		sum += v
	}
	return sum / float64(len(values))
}

// plot draws small diagrams of a top: in units w wide and h high, with the outlines of
// its patches in shares of that.
type plot struct {
	l    *layout.Layout
	at   map[string][][2]float64
	w, h float64
}

// newPlot takes its shape from a picture of the top; without one it is as the patches
// are counted.
func newPlot(l *layout.Layout, s *analyze.Sight) plot {
	d := plot{l: l, at: outlines(s), w: 240}
	if s != nil && s.W > 0 && s.H > 0 {
		d.h = d.w * float64(s.H) / float64(s.W)
		return d
	}
	across, down := float64(max(l.Cols, 1)), float64(max(l.Rows, 1))
	d.h = d.w * down / across
	if l.Setting != layout.OnPoint {
		for _, p := range l.Patches {
			x, y := float64(p.Col-1), float64(p.Row-1)
			d.at[cellID(layout.Cell{p.Row, p.Col})] = [][2]float64{{x / across, y / down}, {(x + 1) / across, y / down}, {(x + 1) / across, (y + 1) / down}, {x / across, (y + 1) / down}}
		}
	}
	return d
}

// patches draws every patch as cell says.
func (d plot) patches(caption, alt string, cell func(p *layout.Patch, outline [][2]float64) diagramCell) diagram {
	out := diagram{Caption: caption, Alt: alt, W: num(d.w), H: num(d.h)}
	for i := range d.l.Patches {
		p := &d.l.Patches[i]
		if o := d.at[cellID(layout.Cell{p.Row, p.Col})]; len(o) >= 3 {
			c := cell(p, o)
			c.Points = points(o, d.w, d.h)
			out.Cells = append(out.Cells, c)
		}
	}
	return out
}

// text is a cell with words in the middle of its outline.
func (d plot) text(c diagramCell, words string, outline [][2]float64) diagramCell {
	mid := centroid(outline)
	c.Text, c.X, c.Y = words, num(mid[0]*d.w), num(mid[1]*d.h)
	return c
}

// diagrams are the pattern as meant and as it reads, side by side. A top without a
// pattern has none: what is light or dark beside its neighbours says nothing of a
// picture or a gradation.
func (v *layoutView) diagrams(s *analyze.Sight, l *layout.Layout, piece func(layout.Cell) string) {
	if l.Pattern.Name == "none" {
		return
	}
	d := newPlot(l, s)
	draw := func(caption, alt string, role func(*layout.Patch) layout.Role) {
		v.Diagrams = append(v.Diagrams, d.patches(caption, alt, func(p *layout.Patch, o [][2]float64) diagramCell {
			c := diagramCell{Class: "cell", Fill: roleGrey(role(p)), Piece: piece(layout.Cell{p.Row, p.Col})}
			if c.Fill == "" {
				c.Class = "anycell" // nothing is asked of it
			}
			if p.Misplaced {
				c.Ticks = cornerTicks(inset(scaled(o, d.w, d.h), .16), .3)
			}
			return c
		}))
	}
	say := patternSays(l)
	alt := say
	if len(l.Pattern.Chart) > 0 && len(l.Pattern.Chart) <= 12 {
		alt += " Row by row: " + plain(strings.Join(l.Pattern.Chart, ", ")) + "."
	}
	draw(say, alt, func(p *layout.Patch) layout.Role { return p.Meant })
	draw("As it reads, patch by patch.", "The same top with each patch as it reads beside its neighbours.",
		func(p *layout.Patch) layout.Role { return p.Reads })
	if s != nil && s.W > 0 {
		if blocks, ok := d.blocks(piece); ok {
			v.Diagrams = append(v.Diagrams, blocks)
		}
	}
}

// patternSays names the pattern, and how many patches agree with it.
func patternSays(l *layout.Layout) string {
	say := "The pattern, as found"
	if l.Pattern.Given {
		say = "The pattern, as given"
	}
	if n := plain(l.Pattern.Name); n != "" {
		say += ": " + n
	}
	for _, n := range l.Pattern.Also {
		say += ", or " + plain(n)
	}
	if n := len(l.Patches); l.Pattern.Fit > 0 {
		agree := int(math.Round(min(l.Pattern.Fit, 1) * float64(n)))
		count := alike(n, agree)
		say += ". Of " + count(n) + " patches, " + count(agree) + " agree with it"
	}
	return say + "."
}

// Blocks that read less than this are marked, and up to so many across or
// down there is room to say how much of each reads.
const (
	weakBlock     = readsMostly
	blocksWritten = 8
)

// blocks is how well each block reads; there is no such diagram where all do, or
// where there is but one.
func (d plot) blocks(piece func(layout.Cell) string) (diagram, bool) {
	var judged []layout.Block
	worst := 1.
	for _, b := range d.l.Blocks {
		if b.Reads != nil && !b.Plain {
			judged = append(judged, b)
			worst = min(worst, Finite(*b.Reads))
		}
	}
	if len(judged) < 2 || worst >= 1 {
		return diagram{}, false
	}
	out := diagram{W: num(d.w), H: num(d.h), Caption: "Block by block: how many in a hundred of its seams show."}
	size := d.l.Pattern.BlockSize
	written := len(size) == 2 && max(d.l.Rows/max(size[0], 1), d.l.Cols/max(size[1], 1)) <= blocksWritten
	var weak []string
	for _, b := range judged {
		var corners [][2]float64
		for _, c := range []layout.Cell{b.From, {b.From[0], b.To[1]}, b.To, {b.To[0], b.From[1]}} {
			corners = append(corners, d.at[cellID(c)]...)
		}
		outline := raster.ConvexHull(corners)
		if len(outline) < 3 {
			continue
		}
		reads := Finite(*b.Reads)
		c := diagramCell{Points: points(outline, d.w, d.h), Class: "blockcell"}
		var names []string
		for row := b.From[0]; row <= b.To[0]; row++ {
			for col := b.From[1]; col <= b.To[1]; col++ {
				names = append(names, piece(layout.Cell{row, col}))
			}
		}
		c.Piece = strings.Join(names, " ")
		if written {
			c = d.text(c, figure(reads*100, 0), outline)
		}
		if reads < weakBlock {
			c.Class += " weakblock"
			weak = append(weak, fmt.Sprintf("rows %d to %d, patches %d to %d (%s)", b.From[0], b.To[0], b.From[1], b.To[1], figure(reads*100, 0)))
		}
		out.Cells = append(out.Cells, c)
	}
	switch {
	case len(weak) == 1:
		out.Caption += " The weak one: " + weak[0] + "."
	case len(weak) > 1:
		out.Caption += " The weak ones: " + listMost(weak, 4) + "."
	}
	out.Alt = out.Caption
	return out, len(out.Cells) > 1
}

func layoutNext(r *analyze.Result) []string {
	l := r.Layout
	n := count(l)
	var out []string
	nothing := "Nothing has to change."
	if !l.GridFound {
		out = append(out, "See whether each line drawn over the photo lies on a seam. Where one does not, count the rows and the columns and give them, as it stands under that photo, before you go by the rest.")
		nothing = "If each line does, nothing has to change."
	}
	switch {
	case len(l.Changes) > 0:
		make := "Make the change."
		if len(l.Changes) > 1 {
			make = "Make the changes in their order: each counts on those before it."
		}
		out = append(out, make, "Then step back, half close your eyes, and photograph it again.")
	case l.Pattern.Name == "none":
		out = append(out, "Where cloths run into each other in a gradation, that is what makes it. Step back, half close your eyes, and see whether it runs as you mean it.")
	case l.Other != nil:
		out = append(out, "Say which of the two is meant: write its rows of L and D, a line a row, into a file and give it with --chart. They are "+
			chartSays(l.Pattern.Chart)+", or "+chartSays(l.Other.Pattern.Chart)+".")
	case n.lost > 0 && len(r.Stash) == 0:
		out = append(out, "No exchange among these patches mends it. Photograph your scraps and give them with --stash: one of them may.")
	case n.lost > 0:
		out = append(out, "Neither these patches nor your scraps mend it. Look for a cloth clearly lighter or darker than the neighbours it runs into.")
	case n.soft > 0:
		out = append(out, nothing+" The soft seams show when you are near, and blend when you step back: keep them if that pleases you.")
	case len(l.Wanted) > 0:
		out = append(out, "Look for the cloths that are wanted, by daylight, beside the patches they are for.")
	default:
		out = append(out, nothing+" Number the rows with slips of paper before you take it down, and sew.")
	}
	for _, p := range l.Patches {
		if p.Character == cloth.HighContrastPrint {
			out = append(out, "Some patches are busy prints. Where one runs into its neighbour although their values differ, a plainer cloth will help more than a lighter one.")
			break
		}
	}
	if l.Pattern.Name == "none" {
		out = append(out, "If there is a pattern in your mind, write it down as rows of L, M and D and give it with --chart.")
	}
	return append(out, "Press the seam allowances to the dark side, so that no dark edge shadows through a light cloth.")
}

// chartSays is a chart on one line.
func chartSays(rows []string) string { return plain(strings.Join(rows, " / ")) }

func patchTable(l *layout.Layout, k *patchChips) table {
	t := table{Name: "patches", Caption: "The patches, row by row",
		Heads: []head{{"Row", true}, {"Patch", true}, {"Cloth", false}, {"Lightness, 0 black to 100 white (L*)", true}, {"Give or take", true},
			{"Reads as", false}, {"Meant as", false}, {"Out of place", false}, {"Same cloth as", true}, {"Busy from afar (spread)", true}, {"Colour", false}, {"Kind", false}}}
	for _, p := range l.Patches {
		cell := layout.Cell{p.Row, p.Col}
		fabric := ""
		if p.Fabric > 0 {
			fabric = strconv.Itoa(p.Fabric)
		}
		c := cells(strconv.Itoa(p.Row), strconv.Itoa(p.Col), "", boundWord(p.Bound)+figure(p.Lightness, 1), figure(p.Uncertainty, 1), string(p.Reads), string(p.Meant),
			yes(p.Misplaced), fabric, figure(p.Spread, 1), ColourName(p.Name), plain(string(p.Character)))
		c[2].Chip = k.patch[cell]
		t.Rows = append(t.Rows, row{Piece: k.piece(cell), Cells: c})
	}
	if l.Pattern.Name == "none" { // there is no light and no dark, only lightness
		const reads, outOfPlace = 5, 7
		t.Heads = slices.Delete(t.Heads, reads, outOfPlace+1)
		for i := range t.Rows {
			t.Rows[i].Cells = slices.Delete(t.Rows[i].Cells, reads, outOfPlace+1)
		}
	}
	return t
}

func seamTable(l *layout.Layout) table {
	t := table{Name: "seams", Caption: "The seams",
		Heads: []head{{"Between", false}, {"And", false}, {"Verdict", false}, {"Chance that the word (lost or not) is right", true}, {"Meant to", false}, {"As meant", false},
			{"Apart in lightness", true}, {"Apart in colour (CIEDE2000)", true}, {"Clarity, beside their prints", true}, {"30 points of reflectance apart (BS 8300)", false}}}
	meant := map[layout.Meaning]string{layout.Contrast: "show", layout.Blend: "blend", layout.Either: "either"}
	for i, s := range l.Seams {
		verdict := string(s.Verdict)
		if s.ColourAlone {
			verdict += ", carried by colour"
		}
		t.Rows = append(t.Rows, row{Piece: seamPiece(i), Cells: cells(slip(s.Between[0]), slip(s.Between[1]), verdict, sureFigure(s.Sure), meant[s.Meant], yes(s.OK),
			figure(s.DeltaL, 1), figure(s.DeltaE, 1), figure(s.Clarity, 1), yes(s.Guidance30))})
	}
	return t
}

// sureFigure is a chance for a table, "" where there is none.
func sureFigure(chance float64) string {
	if chance <= 0 {
		return ""
	}
	return figure(min(chance, .99)*100, 0) + " %"
}

func clothTable(l *layout.Layout) table {
	t := table{Name: "same-cloth", Caption: "Patches that are the same cloth",
		Heads: []head{{"Cloth", true}, {"Lightness (L*)", true}, {"Red, or green below 0 (a*)", true}, {"Yellow, or blue below 0 (b*)", true}, {"How many", true}, {"Row, patch", false}}}
	for _, f := range l.Fabrics {
		var in []string
		for _, c := range f.Patches {
			in = append(in, slip(c))
		}
		t.Rows = append(t.Rows, row{Cells: cells(strconv.Itoa(f.ID), figure(f.Lab.L, 1), figure(f.Lab.A, 1), figure(f.Lab.B, 1),
			strconv.Itoa(len(f.Patches)), strings.Join(in, "; "))})
	}
	return t
}
