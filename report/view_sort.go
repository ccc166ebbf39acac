package report

import (
	"fmt"
	"html/template"
	"iter"
	"slices"
	"strconv"
	"strings"

	"greige/analyze"
	"greige/analyze/cloth"
	"greige/analyze/piles"
)

// sortView is the pictures of a sort.
type sortView struct {
	Lines  iter.Seq[valueLine]
	Piles  []pileRow
	Odd    *pileRow
	Sights []*sightView
	Pairs  []pairView
	More   string // how many pairs are only in the table
	List   string // the piles as plain text
}

// pileRow is one pile as a row of cut-outs.
type pileRow struct {
	Name  string
	Count string
	Span  string
	Items []cutOut
	Says  []string
}

// cutOut is one cloth with its number.
type cutOut struct {
	Label, Piece, Alt, Note string
	Chip                    chipRef
}

// cloths are those of a chapter: each one's picture, the name that it goes by on the
// page, and its figures, by its number.
type cloths struct {
	chip  map[string]chipRef
	piece map[string]string
	byID  map[string]*piles.Fabric
}

func newCloths() *cloths {
	return &cloths{chip: map[string]chipRef{}, piece: map[string]string{}, byID: map[string]*piles.Fabric{}}
}

// add gives a cloth its picture and the next name, which begins with a chapter's id.
func (k *cloths) add(f *piles.Fabric, chip chipRef, chapter string) {
	k.chip[f.ID], k.byID[f.ID] = chip, f
	k.piece[f.ID] = chapter + "-" + strconv.Itoa(len(k.piece)+1)
}

// cutOut is a cloth as a small picture with its number, and a note under it.
func (k *cloths) cutOut(id, note string) cutOut {
	return cutOut{Label: plain(id), Chip: k.chip[id], Piece: k.piece[id], Note: note, Alt: describe(k.byID[id])}
}

// pairView is a two-cloth block.
type pairView struct {
	Light, Dark           string // numbers
	LightChip, DarkChip   chipRef
	LightPiece, DarkPiece string
	Strength, Press, Alt  string
	Squares               []square
}

// square is one patch of a mocked-up block.
type square struct {
	Place template.HTMLAttr
	Chip  chipRef
}

const pairsShown = 8

func (c *chapter) sorted(r *analyze.Result, book *chipBook) {
	s := r.Sort
	v := &sortView{}
	c.Sort = v
	k := newCloths()
	places := placesOf(r, book)
	for i := range s.Fabrics {
		f := &s.Fabrics[i]
		if at, ok := places[f.ID]; ok && f.Swatch == nil {
			k.add(f, book.part(&f.Cloth, at.photo, at.outline), c.ID)
		} else {
			k.add(f, book.cloth(&f.Cloth), c.ID)
		}
	}
	hang := ranked(s.Fabrics)
	if len(hang) > 0 {
		v.Lines = drawLines(sortLine(s, hang, k))
		for _, p := range []struct {
			name piles.Pile
			ids  []string
		}{{piles.Light, s.Piles.Light}, {piles.Medium, s.Piles.Medium}, {piles.Dark, s.Piles.Dark}} {
			row := pileRow{Name: Capital(pileWord(p.name, 2)), Count: plural(len(p.ids), "cloth", "cloths")}
			for _, id := range p.ids {
				if f := k.byID[id]; f != nil {
					row.Items = append(row.Items, k.cutOut(id, swingNote(f, s)))
				}
			}
			if len(row.Items) == 0 {
				continue
			}
			row.Span = spanOf(p.ids, k)
			row.Says = pileSays(p.ids, k, hang)
			v.Piles = append(v.Piles, row)
		}
		v.List = pileList(s)
	} else {
		row := pileRow{Name: "As measured", Count: plural(len(s.Fabrics)-len(doubtful(s.Fabrics)), "cloth", "cloths")}
		for _, f := range s.Fabrics {
			if !f.Doubtful {
				row.Items = append(row.Items, k.cutOut(f.ID, ""))
			}
		}
		if len(row.Items) > 1 {
			row.Says = []string{"In the order of their numbers, not of their lightness: that cannot be told from these photos."}
		}
		v.Piles = append(v.Piles, row)
	}
	if odd := doubtful(s.Fabrics); len(odd) > 0 {
		row := &pileRow{Name: "Probably no cloth", Count: plural(len(odd), "piece", "pieces")}
		for _, f := range odd {
			row.Items = append(row.Items, k.cutOut(f.ID, sentence(plain(f.Note))))
		}
		v.Odd = row
	}
	v.sights(r, book.cuts, k)
	v.pairs(s, k, book)
	c.Next = sortNext(s)
	if len(hang) > 0 {
		c.Tables = append(c.Tables, pilesTable(s, k))
	}
	c.Tables = append(c.Tables, fabricTable(c.ID, s.Fabrics, k), colourTable(s.Fabrics, k))
	if len(s.Pairs) > 0 {
		c.Tables = append(c.Tables, pairTable(s.Pairs))
	}
}

// lying is where a cloth lies in a photo of a chipBook.
type lying struct {
	photo   int
	outline [][2]float64 // shares of it
}

// placesOf puts the photos of scraps into the book and tells where the cloths
// without swatches lie in them, by their numbers.
func placesOf(r *analyze.Result, book *chipBook) map[string]lying {
	bare := map[string]bool{}
	for i := range r.Sort.Fabrics {
		f := &r.Sort.Fabrics[i]
		bare[f.ID] = f.Swatch == nil
	}
	places := map[string]lying{}
	for i := range r.Sights {
		s := &r.Sights[i]
		if s.Kind != analyze.TableSight || !slices.ContainsFunc(s.Marks, func(m analyze.Mark) bool { return bare[m.ID] }) {
			continue
		}
		at := book.photo(s)
		for _, m := range s.Marks {
			if at >= 0 && len(m.Outline) >= 3 {
				places[m.ID] = lying{at, m.Outline}
			}
		}
	}
	return places
}

func spanOf(ids []string, k *cloths) string {
	low, high := 100., 0.
	for _, id := range ids {
		if f := k.byID[id]; f != nil {
			low, high = min(low, f.Lightness), max(high, f.Lightness)
		}
	}
	if figure(low, 0) == figure(high, 0) {
		return "lightness " + figure(low, 0)
	}
	return "lightness " + figure(high, 0) + " to " + figure(low, 0)
}

// describe is a cloth in words, for those who do not see the picture.
func describe(f *piles.Fabric) string {
	if f == nil {
		return ""
	}
	s := "Number " + plain(f.ID) + ": "
	if f.Name != "" {
		s += ColourName(f.Name) + ", "
	}
	s += boundWord(f.Bound) + lightnessSays(f.Lightness, f.Uncertainty)
	if f.Character != "" {
		s += ", " + plain(string(f.Character))
	}
	if f.Remark != "" {
		s += "; " + plain(f.Remark)
	}
	return s + "."
}

// pileSay is the sentence on a cloth's pile that follows describe.
func pileSay(f *piles.Fabric, s *piles.Sorted) string {
	switch {
	case f.Doubtful:
		return " It may be no cloth, and is in no pile."
	case f.Pile == "" || len(s.Cuts) == 0:
		return ""
	case f.Swings() && otherPile(f, s) != "":
		return " In the " + pileWord(f.Pile, 2) + "; it could be " + article(string(otherPile(f, s))) + " too."
	}
	return " In the " + pileWord(f.Pile, 2) + "."
}

// swingNote says which pile a swinging cloth could be in instead.
func swingNote(f *piles.Fabric, s *piles.Sorted) string {
	if !f.Swings() {
		return ""
	}
	if o := otherPile(f, s); o != "" {
		return "or " + string(o)
	}
	return "swings"
}

// otherPile is the pile on the far side of the nearest cut.
func otherPile(f *piles.Fabric, s *piles.Sorted) piles.Pile {
	near := straddles(f.Lightness, s.Cuts)
	if near == nil {
		return ""
	}
	order := []piles.Pile{piles.Light, piles.Medium, piles.Dark}
	if len(s.Cuts) == 1 {
		order = []piles.Pile{piles.Light, piles.Dark}
	}
	for i, c := range s.Cuts {
		if c == near[0] && i+1 < len(order) {
			if f.Lightness >= c {
				return order[i+1]
			}
			return order[i]
		}
	}
	return ""
}

// looksLighter is from how much on a strong colour that looks lighter than its
// grey (L** over L*, Fairchild and Pirrotta 1991) is told: three times what can
// just be noticed (2.3, Mahy and others 1994).
const looksLighter = 7

// pileSays is what to know of a pile: which cannot be ranked, which are busy.
func pileSays(ids []string, k *cloths, hang []piles.Fabric) []string {
	in := map[string]bool{}
	for _, id := range ids {
		in[id] = true
	}
	var out, ties, chains, busy, lighter []string
	for _, run := range tieRuns(hang) {
		var here []string
		for _, id := range run {
			if in[id] {
				here = append(here, id)
			}
		}
		switch {
		case len(here) < 2:
		case slices.Contains(k.byID[here[0]].TiedWith, here[len(here)-1]):
			ties = append(ties, runSays(here))
		default: // its ends can be told apart
			chains = append(chains, runSays(here))
		}
	}
	if len(ties) > 0 {
		out = append(out, "Too close to rank: "+runsOf(ties)+".")
	}
	if len(chains) > 0 {
		out = append(out, "Each is too close to its neighbour to rank, from light to dark: "+runsOf(chains)+".")
	}
	for _, id := range ids {
		f := k.byID[id]
		if f == nil {
			continue
		}
		if f.Character == cloth.HighContrastPrint {
			busy = append(busy, id)
		}
		if f.LooksLike-f.Lightness >= looksLighter {
			lighter = append(lighter, fmt.Sprintf("%s looks like %s, not %s", plain(id), figure(f.LooksLike, 0), figure(f.Lightness, 0)))
		}
	}
	switch len(busy) {
	case 0:
	case 1:
		out = append(out, Capital(numbers(busy))+" is busy: its own print can hide a seam.")
	default:
		out = append(out, Capital(numbers(busy))+" are busy: their own prints can hide a seam.")
	}
	if len(lighter) > 0 {
		out = append(out, "A strong colour looks lighter than its grey: number "+List(lighter)+". From across the room the grey counts; near by, your eye may not agree.")
	}
	return out
}

// runSays is a run of neighbours in a row: its ends, where it is longer than
// three.
func runSays(run []string) string {
	if len(run) <= 3 {
		return List(plainAll(run))
	}
	return plain(run[0]) + " to " + plain(run[len(run)-1]) + " as they lie above (" + some(len(run), "cloth", "cloths") + ")"
}

const runsNamed = 4

// runsOf are the first few runs, and how many more there are.
func runsOf(runs []string) string {
	if n := len(runs) - runsNamed; n > 0 {
		runs = append(slices.Clip(runs[:runsNamed]), inWords(n)+" more")
	}
	return strings.Join(runs, "; ")
}

func sortLine(s *piles.Sorted, hang []piles.Fabric, k *cloths) lineOf {
	of := lineOf{Cuts: s.Cuts}
	swing := swinging(s.Fabrics)
	for _, f := range hang {
		h := hung{Chip: k.chip[f.ID], Label: plain(f.ID), Piece: k.piece[f.ID], Says: describe(&f), Lightness: f.Lightness, Unsure: f.Among}
		if f.Swings() {
			h.Reach = straddles(f.Lightness, s.Cuts)
		}
		of.Items = append(of.Items, h)
	}
	switch len(s.Cuts) {
	case 2:
		of.Sections = []string{"Lights", "Mediums", "Darks"}
	case 1:
		of.Sections = []string{"Lights", "Darks"}
	}
	of.Label = "The value line: " + some(len(hang), "cloth hangs", "cloths hang") + " from a scale of lightness, from white on the left to black on the right."
	if len(s.Cuts) > 0 {
		var at []string
		for _, c := range s.Cuts {
			at = append(at, figure(c, 0))
		}
		of.Label += " The piles part at lightness " + List(at) + "."
	}
	if len(swing) > 0 {
		of.Label += " " + strings.Join(swingSentence(s.Fabrics), " ")
	}
	return of
}

func pileList(s *piles.Sorted) string {
	var b strings.Builder
	write := func(name string, ids []string) {
		if len(ids) > 0 {
			fmt.Fprintf(&b, "%s: %s\n", name, strings.Join(plainAll(ids), ", "))
		}
	}
	write("Lights", s.Piles.Light)
	write("Mediums", s.Piles.Medium)
	write("Darks", s.Piles.Dark)
	write("Could go either way", swinging(s.Fabrics))
	return b.String()
}

func (v *sortView) sights(r *analyze.Result, cuts valueCuts, k *cloths) {
	for i := range r.Sights {
		s := &r.Sights[i]
		if s.Kind != analyze.TableSight {
			continue
		}
		p := picture(s, "The photo "+fileName(s.Photo)+" with "+plural(len(s.Marks), "numbered piece", "numbered pieces")+".", cuts, r.Distance)
		if p == nil {
			continue
		}
		p.ID, p.Caption = fmt.Sprintf("sort-sight-%d", i+1), fileName(s.Photo)
		for _, m := range s.Marks {
			f := k.byID[m.ID]
			if f == nil {
				continue
			}
			if f.Doubtful {
				p.line("doubtful", k.piece[m.ID], closed(thousand(m.Outline)))
			}
			p.number(m.Outline, plain(m.ID), k.piece[m.ID])
			p.hit(m.Outline, k.piece[m.ID], describe(f)+pileSay(f, r.Sort))
		}
		v.Sights = append(v.Sights, p)
	}
}

func (v *sortView) pairs(s *piles.Sorted, k *cloths, book *chipBook) {
	more := 0
	for _, p := range s.Pairs {
		if k.byID[p.Light] == nil || k.byID[p.Dark] == nil {
			continue
		}
		if len(v.Pairs) == pairsShown {
			more++
			continue
		}
		l, d := plain(p.Light), plain(p.Dark)
		w := pairView{Light: l, Dark: d, LightChip: k.chip[p.Light], DarkChip: k.chip[p.Dark],
			LightPiece: k.piece[p.Light], DarkPiece: k.piece[p.Dark], Strength: Capital(pairStrength(p)),
			Press: "Press the seams towards " + d + ".",
			Alt:   "A nine patch of " + l + " and " + d + ", dark corners."}
		book.filling(w.LightChip, w.DarkChip)
		for i := range 9 { // a nine patch with dark corners
			chip := w.DarkChip
			if i%2 == 1 {
				chip = w.LightChip
			}
			w.Squares = append(w.Squares, square{box(float64(i%3*40), float64(i/3*40), 40, 40), chip})
		}
		v.Pairs = append(v.Pairs, w)
	}
	if more > 0 {
		v.More = moreStand(more, "in the figures below")
	}
}

// moreStand says where the rest is.
func moreStand(n int, where string) string {
	if n == 1 {
		return "One more stands " + where + "."
	}
	return first(n) + " more stand " + where + "."
}

func sortNext(s *piles.Sorted) []string {
	compared := len(ranked(s.Fabrics)) > 0
	if !compared && len(s.Fabrics)-len(doubtful(s.Fabrics)) < 2 {
		return []string{"Lay all the cloths on one plain white sheet, apart from each other, and take a single photo: a light is a light beside the others."}
	}
	if !compared {
		return []string{
			"Lay all the cloths on one plain white sheet, apart from each other, and take a single photo.",
			"Or lay the same sheet of white paper into a corner of every photo, in the same light as the cloth.",
		}
	}
	var out []string
	if len(s.Cuts) > 0 {
		out = append(out, "Lay the cloths out again by their numbers, in the order of the rows above.")
	}
	if len(swinging(s.Fabrics)) > 0 {
		out = append(out, "Hold each one that could go either way beside a light and beside a dark, by daylight. A medium is the dark beside a light and the light beside a dark: use it where it serves you.")
	}
	if len(doubtful(s.Fabrics)) > 0 {
		out = append(out, "If a dotted piece is cloth after all, move it clear of the others and take the photo again.")
	}
	if len(s.Pairs) > 0 {
		out = append(out, "Pick pairs for two-cloth blocks, and press the seams to the dark side, so that no dark edge shadows through a light cloth.")
	}
	return append(out, "When patches hang on the wall, photograph them straight on and ask whether they read: greige layout PHOTO.")
}

func fabricTable(prefix string, fabrics []piles.Fabric, k *cloths) table {
	t := table{ID: prefix + "-fabrics", Name: "fabrics", Caption: "The cloths, in the order of their numbers",
		Heads: []head{{"Number", true}, {"Cloth", false}, {"Pile", false}, {"Lightness, 0 black to 100 white (L*)", true}, {"Give or take", true},
			{"Munsell value", true}, {"Looks as light as (L**)", true}, {"Rank", true}, {"As light as", false}, {"Colour", false}, {"Kind", false}, {"Busy from afar (spread)", true}, {"Warm or cool", false}, {"Photo", false}, {"To note", false}}}
	for i := range fabrics {
		t.Rows = append(t.Rows, fabricRow(&fabrics[i], k))
	}
	return t
}

func fabricRow(f *piles.Fabric, k *cloths) row {
	pile, rank := string(f.Pile), ""
	if f.Pile == "" {
		pile = "none"
	} else if f.Swings() {
		pile += ", swings"
	}
	if f.Rank > 0 {
		rank = strconv.Itoa(f.Rank)
	}
	var notes []string
	for _, n := range []string{f.Note, f.Remark} {
		if n != "" {
			notes = append(notes, sentence(plain(n)))
		}
	}
	c := cells(plain(f.ID), "", pile, boundWord(f.Bound)+figure(f.Lightness, 1), figure(f.Uncertainty, 1), figure(f.MunsellValue, 1), looksLike(f), rank,
		strings.Join(plainAll(f.TiedWith), " "), ColourName(f.Name), plain(string(f.Character)), figure(f.Spread, 1),
		plain(string(f.Temperature)), plain(f.Photo), strings.Join(notes, " "))
	c[1].Chip = k.chip[f.ID]
	return row{Piece: k.piece[f.ID], Cells: c}
}

// looksLike is how light a cloth looks; "" where that is not known.
func looksLike(f *piles.Fabric) string {
	if f.LooksLike <= 0 {
		return ""
	}
	return figure(f.LooksLike, 1)
}

// pilesTable is the piles as she lays them out again, light to dark.
func pilesTable(s *piles.Sorted, k *cloths) table {
	t := table{Name: "piles", Caption: "The piles, from light to dark",
		Heads: []head{{"Number", true}, {"Pile", false}, {"Could be", false}, {"Lightness", true}, {"Give or take", true}}}
	for _, id := range slices.Concat(s.Piles.Light, s.Piles.Medium, s.Piles.Dark) {
		f := k.byID[id]
		if f == nil {
			continue
		}
		other := ""
		if f.Swings() {
			other = string(otherPile(f, s))
		}
		t.Rows = append(t.Rows, row{Piece: k.piece[id], Cells: cells(plain(id), string(f.Pile), other, figure(f.Lightness, 1), figure(f.Uncertainty, 1))})
	}
	return t
}

func colourTable(fabrics []piles.Fabric, k *cloths) table {
	t := table{Name: "colours", Caption: "The colours in each cloth",
		Heads: []head{{"Number", true}, {"Colour", false}, {"Share", true}, {"Lightness (L*)", true}, {"Red, or green below 0 (a*)", true}, {"Yellow, or blue below 0 (b*)", true}, {"On a screen", false}}}
	for i := range fabrics {
		t.Rows = append(t.Rows, colourRows(&fabrics[i], k)...)
	}
	return t
}

func colourRows(f *piles.Fabric, k *cloths) (rows []row) {
	for _, ink := range f.Colours {
		rows = append(rows, row{Piece: k.piece[f.ID], Cells: cells(plain(f.ID), ColourName(ink.Name), figure(ink.Share*100, 0)+" %",
			figure(ink.Lab.L, 1), figure(ink.Lab.A, 1), figure(ink.Lab.B, 1), plain(ink.Hex))})
	}
	return rows
}

func pairTable(pairs []piles.Pair) table {
	t := table{Name: "pairs", Caption: "Pairs for two-cloth blocks, best first",
		Heads: []head{{"Light", true}, {"Dark", true}, {"In words", false}, {"Apart in lightness", true}, {"Clarity at the seam", true}}}
	for _, p := range pairs {
		t.Rows = append(t.Rows, row{Cells: cells(plain(p.Light), plain(p.Dark), pairStrength(p), figure(p.DeltaL, 1), figure(p.Clarity, 1))})
	}
	return t
}
