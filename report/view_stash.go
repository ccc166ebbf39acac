package report

import (
	"iter"
	"slices"
	"strconv"
	"strings"

	"greige/analyze"
	"greige/analyze/cloth"
	"greige/analyze/piles"
	"greige/analyze/stash"
)

// stashView is the pictures of the stash.
type stashView struct {
	Lines    iter.Seq[valueLine]
	RowsName string
	Rows     []pileRow // the piles; or, where nearness was asked for, one row of the nearest
	Untold   *pileRow
	Families []pileRow
	Prints   iter.Seq[entry] // nil: there are none
}

// entry is a print in the catalogue.
type entry struct {
	cutOut
	Name string
	Says []string
	Inks []inkChip
}

type inkChip struct {
	Chip chipRef
	Says string
}

// hungCloths is up to how many cloths a value line shows: of more the cut-outs
// would be too small to be known again.
const hungCloths = 300

// families are the colours that the names of the ISCC-NBS system end with, in
// the order of the hues, those without a hue last.
var families = []struct{ name, title string }{{"pink", "Pinks"}, {"red", "Reds"}, {"orange", "Oranges"}, {"brown", "Browns"},
	{"yellow", "Yellows"}, {"olive", "Olives"}, {"green", "Greens"}, {"blue", "Blues"}, {"violet", "Violets"}, {"purple", "Purples"},
	{"white", "Whites"}, {"gray", "Greys"}, {"black", "Blacks"}}

// Families are the colour families in which a stash is shown: the word that a
// colour's name ends with, and what its cloths are called.
func Families() (out [][2]string) {
	for _, f := range families {
		out = append(out, [2]string{f.name, f.title})
	}
	return out
}

// DescribeKept says what a found cloth is, in one sentence.
func DescribeKept(f *stash.FoundCloth) string { return Capital(sayWhole(f)) }

func (c *chapter) kept(r *analyze.Result, book *chipBook) {
	k := r.Kept
	v := &stashView{}
	c.Stash = v
	of := newCloths()
	shown := k.Shown()
	items := make([]cutOut, len(shown))
	var untold, told []cutOut
	for i := range shown {
		f := &shown[i]
		of.add(&f.Fabric, keptChip(book, f, k), c.ID)
		items[i] = of.cutOut(f.ID, keptNote(f, k))
		items[i].Alt = sayWhole(f)
		if f.Untold {
			untold = append(untold, items[i])
		} else {
			told = append(told, items[i])
		}
	}
	v.Lines = keptLines(k, of)
	v.rows(k, of, items, told)
	if _, _, unsure := k.Count(); len(untold) > 0 {
		v.Untold = &pileRow{Name: "By number", Count: shownOf(len(untold), unsure), Items: untold, Says: retakeSays(k)}
	}
	v.families(k, items)
	v.prints(k, items, book)
	c.Next = keptNext(k)
	if len(shown) > 0 {
		c.Tables = append(c.Tables, keptTable(c.ID, shown, of), keptColours(shown, of))
	}
	if len(k.Retake) > 0 {
		t := table{Name: "retake", Caption: "Photos worth taking again, with a sheet of white paper", Heads: []head{{"Photo", false}, {"Cloths", true}}}
		for _, p := range k.Retake {
			t.Rows = append(t.Rows, row{Cells: cells(plain(p.Photo), strconv.Itoa(p.Cloths))})
		}
		c.Tables = append(c.Tables, t)
	}
}

// keptChip is the cut-out of a cloth, with a picture of its own or one that is read when
// it is written.
func keptChip(book *chipBook, f *stash.FoundCloth, k *stash.Answer) chipRef {
	if k.Picture == nil {
		return book.cloth(&f.Cloth)
	}
	return book.kept(&f.Cloth, func() (*cloth.Swatch, error) { return k.Picture(f.ID) })
}

func keptTable(prefix string, shown []stash.FoundCloth, of *cloths) table {
	t := fabricTable(prefix, nil, of)
	t.Caption, t.Count = "The cloths", len(shown)
	t.Heads = append(t.Heads, head{"Left, cm²", true}, head{"Used, cm²", true}, head{"Apart (CIEDE2000)", true}, head{"Added", false})
	t.Each = func(give func(row) bool) {
		for i := range shown {
			f := &shown[i]
			apart, used := "", ""
			if f.DeltaE != nil {
				apart = figure(*f.DeltaE, 1)
			}
			if f.UsedCM2 > 0 {
				used = figure(f.UsedCM2, 0)
			}
			r := fabricRow(&f.Fabric, of)
			r.Cells = append(r.Cells, cells(leftCell(&f.Kept), used, apart, plain(day(f.Added)))...)
			if !give(r) {
				return
			}
		}
	}
	return t
}

func keptColours(shown []stash.FoundCloth, of *cloths) table {
	t := colourTable(nil, of)
	for i := range shown {
		t.Count += len(shown[i].Colours)
	}
	t.Each = func(give func(row) bool) {
		for i := range shown {
			for _, r := range colourRows(&shown[i].Fabric, of) {
				if !give(r) {
					return
				}
			}
		}
	}
	return t
}

// keptNote is what stands under a cut-out.
func keptNote(f *stash.FoundCloth, k *stash.Answer) string {
	switch {
	case f.Untold:
		return ""
	case f.DeltaE != nil:
		return likeness(*f.DeltaE)
	case f.Swings():
		return swingNote(&f.Fabric, &piles.Sorted{Cuts: k.Cuts})
	}
	return ""
}

// keptLines are the value line of what can be told: of more than it has room for those
// that are nearest to what was asked, else some from all along it.
func keptLines(k *stash.Answer, of *cloths) iter.Seq[valueLine] {
	var told []*piles.Fabric
	var hang []piles.Fabric
	near, shown := false, k.Shown()
	for i := range shown {
		if f := &shown[i]; !f.Untold {
			told, near = append(told, &f.Fabric), f.DeltaE != nil
		}
	}
	hung := min(len(told), hungCloths)
	for i := range hung {
		if !near {
			i = i * len(told) / hung
		}
		hang = append(hang, *told[i])
	}
	if len(hang) == 0 {
		return nil
	}
	return drawLines(sortLine(&piles.Sorted{Fabrics: hang, Cuts: k.Cuts}, hang, of))
}

// shownOf is how many cloths there are and, where the page has fewer, how many it
// shows.
func shownOf(shown, all int) string {
	s := plural(all, "cloth", "cloths")
	if shown < all {
		s += ", " + strconv.Itoa(shown) + " shown"
	}
	return s
}

// rows are the piles or, where nearness was asked for, the nearest first.
func (v *stashView) rows(k *stash.Answer, of *cloths, items, told []cutOut) {
	if len(told) == 0 {
		return
	}
	shown := k.Shown()
	all, piled, untold := k.Count()
	if shown[0].DeltaE != nil {
		v.RowsName = "The nearest first"
		v.Rows = []pileRow{{Name: "Near", Count: shownOf(len(told), all-untold), Items: told}}
		return
	}
	v.RowsName = "The piles"
	for _, p := range []piles.Pile{piles.Light, piles.Medium, piles.Dark, ""} {
		row := pileRow{Name: Capital(pileWord(p, 2))}
		if p == "" {
			row.Name = "In no pile"
		}
		var ids []string
		for i := range shown {
			if f := &shown[i]; !f.Untold && f.Pile == p {
				row.Items = append(row.Items, items[i])
				ids = append(ids, f.ID)
			}
		}
		if len(row.Items) == 0 {
			continue
		}
		n := piled[p]
		if p == "" {
			n -= untold
		}
		row.Count, row.Span = shownOf(len(row.Items), n), spanOf(ids, of)
		v.Rows = append(v.Rows, row)
	}
}

// families are the cloths by the colour that their names end with.
func (v *stashView) families(k *stash.Answer, items []cutOut) {
	in := map[string][]cutOut{}
	for i, f := range k.Shown() {
		words := strings.Fields(f.Name)
		if len(words) > 0 && !f.Untold {
			last := words[len(words)-1]
			item := items[i]
			item.Note = ""
			in[last] = append(in[last], item)
		}
	}
	for _, of := range families {
		if n := len(in[of.name]); n > 0 {
			count := plural(n, "cloth", "cloths")
			if k.More != nil { // of the others the names are not read
				count += " shown"
			}
			v.Families = append(v.Families, pileRow{Name: of.title, Count: count, Items: in[of.name]})
		}
	}
	if len(v.Families) < 2 { // there is nothing to sort by
		v.Families = nil
	}
}

// prints are the catalogue, in the order of their numbers.
func (v *stashView) prints(k *stash.Answer, items []cutOut, book *chipBook) {
	type print struct {
		of   *stash.FoundCloth
		item *cutOut
		inks []chipRef
	}
	var prints []print
	shown := k.Shown()
	for i := range shown {
		f := &shown[i]
		if f.Character != cloth.Print && f.Character != cloth.HighContrastPrint {
			continue
		}
		p := print{of: f, item: &items[i]}
		for _, c := range f.Colours {
			p.inks = append(p.inks, book.colour(c.Lab))
		}
		prints = append(prints, p)
	}
	slices.SortStableFunc(prints, func(a, b print) int {
		x, _ := strconv.Atoi(a.item.Label)
		y, _ := strconv.Atoi(b.item.Label)
		return x - y
	})
	if len(prints) == 0 {
		return
	}
	v.Prints = func(give func(entry) bool) {
		for _, p := range prints {
			if !give(printEntry(p.of, *p.item, p.inks)) {
				return
			}
		}
	}
}

func printEntry(f *stash.FoundCloth, item cutOut, inks []chipRef) entry {
	e := entry{cutOut: item, Name: Capital(ColourName(f.Name)), Says: []string{sentence(plain(string(f.Character)) + ", " + lightnessSays(f.Lightness, f.Uncertainty))}}
	if f.LeftCM2 != nil {
		e.Says = append(e.Says, "There is "+leftSays(&f.Kept)+".")
	}
	e.Says = append(e.Says, "From "+fileName(f.Photo)+".")
	for i, c := range f.Colours {
		e.Inks = append(e.Inks, inkChip{inks[i], ColourName(c.Name) + " " + percent(c.Share)})
	}
	return e
}

func retakeSays(k *stash.Answer) []string {
	var names []string
	for _, p := range k.Retake {
		names = append(names, fileName(p.Photo))
	}
	if len(names) == 0 {
		return nil
	}
	return []string{"Worth taking again, with a sheet of white paper in it: " + listMost(names, mostNumbers) + "."}
}

func keptNext(k *stash.Answer) []string {
	var out []string
	if all, _, _ := k.Count(); all > len(k.Shown()) {
		which := "taken evenly from light to dark"
		if k.Shown()[0].DeltaE != nil {
			which = "the nearest"
		}
		say := alike(len(k.Shown()), all)
		out = append(out, say(len(k.Shown()))+" of the "+say(all)+" cloths are on this page, "+which+": one with all of them would be too heavy to open. To see others, ask for fewer: greige stash find --dark, --near, --name. greige open shows all of them on a wall.")
	}
	if len(k.Retake) > 0 {
		out = append(out, "Take the photo of what cannot be told again, with a sheet of white paper in it, and add it: greige stash add PHOTO. Then take the old one out: greige stash drop PHOTO.")
	}
	out = append(out, "Write the numbers on slips of paper and pin them to the cloths: they never change.",
		"Ask what goes with a print: greige border PHOTO --stash kept.",
		"When you have cut from a cloth, say so: greige stash use ID --patches N --patch CM.")
	return out
}
