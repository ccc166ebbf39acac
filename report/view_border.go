package report

import (
	"iter"
	"slices"

	"greige/analyze"
	"greige/analyze/border"
)

// borderView is the pictures of a border print and what goes with it.
type borderView struct {
	Print   *sightView
	Bar     []barPart
	Colours []colourCard
	Choice  *choiceView
	Others  []choiceView
	Lines   iter.Seq[valueLine]
	Shop    []shopItem
}

// barPart is a colour's part of the palette bar, in percent of its length.
type barPart struct {
	From, Length, Mid string
	Letter            string
	Chip              chipRef
	Named             bool // there is room for its letter
}

// colourCard is a colour of the print and the cloths near it.
type colourCard struct {
	Index               int
	Pick                bool // it can be shown alone in the print
	Letter, Name, Share string
	Chip                chipRef
	Role                string
	Near                []nearItem
	None                string
}

type nearItem struct {
	cutOut
	Likeness, Figure string
	ByFigure         bool
}

// choiceView is a handful of cloths for the middle.
type choiceView struct {
	Name   string
	Items  []chosenItem
	Covers string
	Block  *mockBlock
}

type chosenItem struct {
	cutOut
	Role, Why string
}

// mockBlock is patches of the chosen cloths framed by the print.
type mockBlock struct {
	W, H, StripH int
	Strips       int       // how many: above, or above and below
	Strip        chipRef   // the print; its ID is "" when it was not made
	Bars         []barPart // the palette as stripes, instead
	Squares      []square
	Alt          string
}

type shopItem struct {
	Letter, Says string
	Chip         chipRef
}

const nearShown = 3

func (c *chapter) bordered(r *analyze.Result, book *chipBook) {
	b := r.Border
	v := &borderView{}
	c.Border = v
	k := borderCloths{newCloths(), make([]chipRef, len(b.Palette))}
	shown := pictured(b)
	for i := range b.Stash {
		f := &b.Stash[i]
		look := f.Cloth
		if !shown[f.ID] {
			look.Swatch = nil // only in the table: its colour is enough
		}
		k.add(f, book.cloth(&look), c.ID)
	}
	for i, colour := range b.Palette {
		k.inks[i] = book.colour(colour.Lab)
	}
	book.filling(k.inks...) // in the bar
	if s := sightOf(r, analyze.PrintSight); s != nil {
		if v.Print = picture(s, "The print in the photo "+fileName(s.Photo)+".", book.cuts, r.Distance); v.Print != nil {
			v.Print.ID, v.Print.Caption = "border-print", fileName(s.Photo)
			v.Print.Veils = veils(s.Inks, len(b.Palette))
		}
	}
	v.Bar = paletteBar(b, k.inks)
	for i := range b.Palette {
		card := k.card(b, i)
		card.Pick = v.Print != nil && i < len(v.Print.Veils)
		v.Colours = append(v.Colours, card)
	}
	if b.Choice != nil {
		w := k.choice(b.Choice)
		w.Block = block(r, book, b.Choice, k)
		v.Choice = &w
	}
	for i := range b.OtherChoices {
		v.Others = append(v.Others, k.choice(&b.OtherChoices[i]))
	}
	v.Lines = drawLines(borderLine(b, k))
	for _, m := range b.Missing {
		if m.Colour < 0 || m.Colour >= len(b.Palette) {
			continue
		}
		v.Shop = append(v.Shop, shopItem{Chip: k.inks[m.Colour], Letter: letter(m.Colour), Says: sentence("You have " + ColourName(m.Say))})
	}
	c.Next = borderNext(b)
	c.Tables = append(c.Tables, paletteTable(b, k.inks), matchTable(b))
	if len(b.Stash) > 0 {
		t := fabricTable(c.ID, b.Stash, k.cloths)
		t.Caption = "The cloths of the stash"
		c.Tables = append(c.Tables, t)
	}
}

// borderCloths are the cloths of the stash and the looks of the print's colours, by
// their index.
type borderCloths struct {
	*cloths
	inks []chipRef
}

// card is a colour of the print with the cloths nearest to it.
func (k borderCloths) card(b *border.Border, i int) colourCard {
	c := b.Palette[i]
	card := colourCard{Index: i, Letter: letter(i), Chip: k.inks[i],
		Name: ColourName(c.Name), Share: percent(c.Share), Role: map[border.Role]string{border.Ground: "the ground", border.Print: ""}[c.Role]}
	for _, n := range nearestTo(b, i) {
		if k.byID[n.ID] == nil || len(card.Near) == nearShown || n.DeltaE > aStretch {
			continue
		}
		card.Near = append(card.Near, nearItem{cutOut: k.cutOut(n.ID, ""),
			Likeness: likeness(n.DeltaE), Figure: figure(n.DeltaE, 1), ByFigure: n.ByFigure})
	}
	if len(card.Near) == 0 && len(b.Stash) > 0 {
		card.None = "Nothing of yours is near it."
	}
	return card
}

// choice is a handful of cloths with what each is chosen for.
func (k borderCloths) choice(ch *border.Choice) choiceView {
	w := choiceView{Name: Capital(plain(ch.Name)), Covers: "Together they cover " + percent(ch.Covers) + " of the print's colours, from lightness " +
		figure(max(ch.Range[0], ch.Range[1]), 0) + " to " + figure(min(ch.Range[0], ch.Range[1]), 0) + "."}
	for _, f := range ch.Fabrics {
		role := string(f.Role)
		if f.Background {
			role += ", could be the background"
		}
		w.Items = append(w.Items, chosenItem{cutOut: k.cutOut(f.ID, ""), Role: Capital(role), Why: sentence(ColourName(f.Why))})
	}
	return w
}

// pictured are the ids of the cloths that the page shows outside its tables.
func pictured(b *border.Border) map[string]bool {
	out := map[string]bool{}
	for i := range b.Palette {
		for n, near := range nearestTo(b, i) {
			if n < 2*nearShown && near.DeltaE <= aStretch {
				out[near.ID] = true
			}
		}
	}
	choices := b.OtherChoices
	if b.Choice != nil {
		choices = append(slices.Clip(choices), *b.Choice)
	}
	for _, ch := range choices {
		for _, f := range ch.Fabrics {
			out[f.ID] = true
		}
	}
	return out
}

// paletteBar divides a bar by the shares of the colours.
func paletteBar(b *border.Border, inks []chipRef) []barPart {
	total := 0.
	for _, k := range b.Palette {
		total += max(Finite(k.Share), 0)
	}
	if total <= 0 {
		return nil
	}
	var out []barPart
	at := 0.
	for i, k := range b.Palette {
		n := max(Finite(k.Share), 0) / total * 100
		out = append(out, barPart{From: num(at) + "%", Length: num(n+.05) + "%", Mid: num(at+n/2) + "%",
			Chip: inks[i], Letter: letter(i), Named: n >= 5})
		at += n
	}
	return out
}

// block mocks up the middle: the background and the other chosen cloths by
// turns, light to dark along each diagonal, between two strips of the print.
func block(r *analyze.Result, book *chipBook, ch *border.Choice, k borderCloths) *mockBlock {
	const cols, rows, side = 12, 6, 50
	if len(ch.Fabrics) < 2 {
		return nil
	}
	ground := 0
	for i, f := range ch.Fabrics {
		if f.Background {
			ground = i
			break
		}
	}
	var others []chipRef
	for i, f := range ch.Fabrics {
		if i != ground {
			others = append(others, k.chip[f.ID])
		}
		book.filling(k.chip[f.ID])
	}
	m := &mockBlock{W: cols * side, StripH: 110, Strips: 2, Alt: "The choice as patches between two strips of the print, with number " +
		plain(ch.Fabrics[ground].ID) + " as the background."}
	if s := r.PrintStrip; s != nil && s.W > 0 { // the whole print, uncut
		m.StripH = max(cols*side*s.H/s.W, 20)
		if 2*s.H > s.W {
			m.Strips = 1 // a wide print above the patches only
		}
	}
	m.H = rows*side + m.Strips*m.StripH
	if r.PrintStrip != nil && len(r.PrintStrip.Colour) > 0 && r.PrintStrip.W > 0 && r.PrintStrip.H > 0 {
		m.Strip = book.strip(r.PrintStrip)
	} else {
		m.Bars = paletteBar(r.Border, k.inks)
	}
	for y := range rows {
		for x := range cols {
			chip := k.chip[ch.Fabrics[ground].ID]
			if (x+y)%2 == 1 {
				chip = others[((x+y)/2)%len(others)]
			}
			m.Squares = append(m.Squares, square{box(float64(x*side), float64(m.StripH+y*side), side, side), chip})
		}
	}
	return m
}

// borderLine hangs the chosen cloths above and the print's colours below.
func borderLine(b *border.Border, k borderCloths) lineOf {
	of := lineOf{LaneWords: []string{"The print's colours"}, Label: "The value line: the print's colours hang below a scale of lightness"}
	if b.Choice != nil {
		of.AboveWord = "Chosen for the middle"
		of.Label += ", the chosen cloths above"
		for _, f := range b.Choice.Fabrics {
			if p := k.byID[f.ID]; p != nil {
				of.Items = append(of.Items, hung{Chip: k.chip[f.ID], Label: plain(f.ID), Piece: k.piece[f.ID], Says: describe(p), Lightness: p.Lightness, Unsure: p.Uncertainty, Above: true})
			}
		}
	}
	for i, c := range b.Palette {
		of.Items = append(of.Items, hung{Chip: k.inks[i], Label: letter(i), Lightness: c.Lab.L, Says: letter(i) + ": " + ColourName(c.Name) + ", " + lightnessSays(c.Lab.L, 0) + "."})
	}
	of.Label += ", from white on the left to black on the right."
	return of
}

func borderNext(b *border.Border) []string {
	var out []string
	switch {
	case len(b.Stash) == 0:
		out = append(out, "Photograph your cloths on a white sheet and run this again with --stash.")
	case b.Choice != nil:
		out = append(out, "Lay the chosen cloths on the print by daylight, and step back.")
		if len(b.OtherChoices) > 0 {
			out = append(out, "Try the other handfuls too: they differ in mood, not in merit.")
		}
	default:
		out = append(out, "Photograph more of your stash, or shop by the colours of the print: A, the one there is most of, first.")
	}
	if len(b.Missing) > 0 {
		out = append(out, "Take a piece of the print with you when you shop for what is missing: a screen is no match for cloth in the hand.")
	}
	return append(out, "When the patches hang, ask whether they read: greige layout PHOTO.")
}

func paletteTable(b *border.Border, inks []chipRef) table {
	t := table{Name: "palette", Caption: "The colours of the print, most cloth first",
		Heads: []head{{"Colour", false}, {"Chip", false}, {"Name", false}, {"Share", true}, {"Part", false}, {"Lightness (L*)", true}, {"Red, or green below 0 (a*)", true}, {"Yellow, or blue below 0 (b*)", true},
			{"Munsell value", true}, {"Warm or cool", false}, {"On a screen", false}}}
	for i, k := range b.Palette {
		c := cells(letter(i), "", ColourName(k.Name), figure(k.Share*100, 1)+" %", string(k.Role), figure(k.Lab.L, 1), figure(k.Lab.A, 1), figure(k.Lab.B, 1),
			figure(k.MunsellValue, 1), string(k.Temperature), plain(k.Hex))
		c[1].Chip = inks[i]
		t.Rows = append(t.Rows, row{Cells: c})
	}
	return t
}

func matchTable(b *border.Border) table {
	t := table{Name: "matches", Caption: "The cloths nearest to each colour",
		Heads: []head{{"Colour", false}, {"Cloth", true}, {"In words", false}, {"Apart (CIEDE2000)", true}, {"By", false}}}
	for i := range b.Palette {
		for _, n := range nearestTo(b, i) {
			by := "the whole cloth"
			if n.ByFigure {
				by = "one of its own colours"
			}
			t.Rows = append(t.Rows, row{Cells: cells(letter(i), plain(n.ID), likeness(n.DeltaE), figure(n.DeltaE, 1), by)})
		}
	}
	return t
}
