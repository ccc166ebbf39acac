package report

import (
	"fmt"
	"strconv"
	"strings"

	"greige/analyze"
	"greige/analyze/piles"
	"greige/analyze/stash"
	"greige/colorspace"
)

// keptAnswer is what was done with the stash, or what was found in it.
func keptAnswer(r *analyze.Result) Answer {
	k := r.Kept
	a := Answer{Question: "What have I got?"}
	n, _, _ := k.Count()
	holds := "The stash holds " + some(k.Kept, "cloth", "cloths") + " from " + some(k.Photos, "photo", "photos") + "."
	switch k.Action {
	case stash.ToAdd:
		a.Headline, a.More = addedWords(k)
		a.More = append(a.More, holds)
	case stash.ToFind:
		a.Headline = foundWords(k)
	case stash.ToShow, stash.ToUse:
		a.Headline = firstSome(n, "cloth", "cloths") + " out of " + inWords(k.Kept) + "."
		if n == 1 {
			f := &k.Fabrics[0]
			a.Headline = strings.TrimSuffix(describe(&f.Fabric), ".") + ". " + Capital(leftSays(&f.Kept)) + "."
		}
	case stash.ToDrop:
		a.Headline = firstSome(len(k.Dropped), "cloth was", "cloths were") + " taken out: " + listMost(plainAll(k.Dropped), mostNumbers) + "."
		a.More = append(a.More, holds)
	case stash.ToSave:
		a.Headline = firstSome(k.Copied, "cloth was", "cloths were") + " saved, with " + noun(k.Copied, "its picture", "their pictures") + "."
	case stash.ToLoad:
		a.Headline = firstSome(k.Copied, "cloth was", "cloths were") + " put in."
		if m := len(k.Renumbered); m > 0 {
			var of []string
			for _, p := range k.Renumbered {
				of = append(of, plain(p[0])+" is now "+plain(p[1]))
			}
			a.More = append(a.More, firstSome(m, "of them has", "of them have")+" a new number, because another cloth had it: "+listMost(of, mostNumbers)+".")
		}
		a.More = append(a.More, holds)
	}
	return retakeWords(a, k)
}

// mostNumbers is up to how many numbers a sentence lists.
const mostNumbers = 5

func addedWords(k *stash.Answer) (headline string, more []string) {
	var cloths, photos, known, left int
	var there []string
	for _, a := range k.Added {
		left += a.Left
		if a.Known {
			known++
			there = append(there, fileName(a.Name))
			continue
		}
		if len(a.IDs) > 0 {
			photos++
		}
		cloths += len(a.IDs)
	}
	headline = firstSome(cloths, "cloth was", "cloths were") + " added from " + some(photos, "photo", "photos") + "."
	if cloths == 0 {
		headline = "Nothing new was added."
	}
	if known > 0 {
		more = append(more, firstSome(known, "photo was", "photos were")+" in the stash already and "+noun(known, "was", "were")+
			" not measured again: "+listMost(there, mostNumbers)+". To measure one anew, drop it first: greige stash drop PHOTO.")
	}
	if left > 0 {
		more = append(more, firstSome(left, "piece", "pieces")+" that may be no cloth "+noun(left, "was", "were")+" left out.")
	}
	return headline, more
}

// foundWords is what was found, by how it was asked for.
func foundWords(k *stash.Answer) string {
	n, piled, untold := k.Count()
	asked := ""
	if k.Asked != "" {
		asked = " (" + plain(k.Asked) + ")"
	}
	switch {
	case k.Kept == 0:
		return "There is no cloth in the stash yet."
	case n == 0:
		return "None of your " + inWords(k.Kept) + " cloths fits" + asked + "."
	case k.Asked == "":
		light, medium, dark := piled[piles.Light], piled[piles.Medium], piled[piles.Dark]
		if light+medium+dark > 0 {
			return pileCounts(n, light, medium, dark) + "."
		}
		return firstSome(n, "cloth", "cloths") + "."
	case untold == n && k.Fabrics[0].DeltaE != nil:
		return "The nearest" + asked + " may be number " + plain(k.Fabrics[0].ID) + ", but how light your cloths are is known too little to be sure."
	case untold == n:
		return firstSome(n, "cloth", "cloths") + " may fit" + asked + ", but that cannot be told."
	}
	first := k.Fabrics[0]
	s := firstSome(n-untold, "cloth fits", "cloths fit") + asked
	if first.DeltaE != nil {
		s = firstSome(n-untold, "cloth", "cloths") + asked + "; the nearest is number " + plain(first.ID) + ", " + likeness(*first.DeltaE)
		if first.ByInk != nil {
			s += " by its own print"
		}
	}
	return s + "."
}

// retakeWords names the photo to take again.
func retakeWords(a Answer, k *stash.Answer) Answer {
	_, _, n := k.Count()
	if n == 0 || len(k.Retake) == 0 {
		return a
	}
	again := k.Retake[0]
	s := firstSome(n, "of them", "of them") + " cannot be ranked: nothing in " + noun(n, "its photo", "their photos") +
		" shows how bright the light was. Worth taking again first, with a sheet of white paper in it: " + fileName(again.Photo)
	if len(k.Retake) > 1 {
		s += " (" + some(again.Cloths, "cloth", "cloths") + "), and then " + some(len(k.Retake)-1, "other", "others")
	}
	a.More = append(a.More, s+".")
	return a
}

// leftSays is how much is left of a cloth.
func leftSays(k *stash.Kept) string {
	switch {
	case k.LeftCM2 == nil && k.UsedCM2 > 0:
		return area(k.UsedCM2) + " used; how much there was is not known (--width)"
	case k.LeftCM2 == nil:
		return "how much there is of it is not known (--width)"
	case k.UsedCM2 > 0:
		return area(*k.LeftCM2) + " left of " + area(k.AreaCM2)
	}
	return area(*k.LeftCM2)
}

// area is a size in words: the square of it, which a hand can lay out.
func area(cm2 float64) string { return figure(cm2, 0) + "\u00a0cm²" }

// leftCell is the same for a table.
func leftCell(k *stash.Kept) string {
	if k.LeftCM2 == nil {
		return ""
	}
	return figure(*k.LeftCM2, 0)
}

func (t *terminal) kept(k *stash.Answer) {
	cols := []column{{head: "no.", right: true}, {head: "pile"}, {head: "lightness", right: true}, {head: "+-", right: true}}
	near := len(k.Fabrics) > 0 && k.Fabrics[0].DeltaE != nil
	if near {
		cols = append(cols, column{head: "apart", right: true})
	}
	cols = append(cols, column{head: "left cm2", right: true}, column{head: "colour", give: true}, column{head: "kind", give: true}, column{head: "photo"})
	var rows [][]string
	var lab []colorspace.Lab
	for i := range k.Fabrics {
		f := &k.Fabrics[i]
		cells := []string{plain(f.ID), keptPile(f), figure(f.Lightness, 1), figure(f.Uncertainty, 1)}
		if near {
			apart := ""
			if f.DeltaE != nil {
				apart = figure(*f.DeltaE, 1)
			}
			if f.ByInk != nil {
				apart += "*"
			} else {
				apart += " "
			}
			cells = append(cells, apart)
		}
		rows = append(rows, append(cells, leftCell(&f.Kept), plain(f.Name), plain(string(f.Character)), plain(f.Photo)))
		lab = append(lab, f.Lab)
	}
	t.table(cols, rows, lab)
	for i := range k.Fabrics {
		if k.Fabrics[i].ByInk != nil {
			t.line("* by a colour of its own print")
			break
		}
	}
	if len(k.Fabrics) == 1 {
		t.one(&k.Fabrics[0])
	}
	if all, _, _ := k.Count(); all > len(k.Fabrics) {
		t.paragraph(fmt.Sprintf("These are the first %d of %d. Ask for fewer, or write all of them with --csv FILE or --json FILE.", len(k.Fabrics), all))
	}
}

// one is what more is known of a cloth that is shown by itself.
func (t *terminal) one(f *stash.FoundCloth) {
	cols := []column{{head: "share", right: true}, {head: "lightness", right: true}, {head: "colour"}}
	var rows [][]string
	var lab []colorspace.Lab
	for _, c := range f.Colours {
		rows = append(rows, []string{percent(c.Share), figure(c.Lab.L, 1), plain(c.Name)})
		lab = append(lab, c.Lab)
	}
	t.table(cols, rows, lab)
	t.line("")
	t.paragraph("Added on " + plain(day(f.Added)) + " from " + plain(f.Photo) + ", piece " + strconv.Itoa(f.Scrap) + "; " + leftSays(&f.Kept) + ".")
}

// day is the date of a time as RFC 3339 has it.
func day(s string) string {
	d, _, _ := strings.Cut(s, "T")
	return d
}

// keptPile is the pile of a cloth in a table.
func keptPile(f *stash.FoundCloth) string {
	switch {
	case f.Untold:
		return "cannot be told"
	case f.Edge:
		return strings.TrimSpace(string(f.Pile) + " (at the edge)")
	case f.Swings():
		return string(f.Pile) + " (swings)"
	}
	return string(f.Pile)
}

// keptRows are those of fabricRows with what the stash knows besides.
func keptRows(cloths []stash.FoundCloth) [][]string {
	fabrics := make([]piles.Fabric, len(cloths))
	for i := range cloths {
		fabrics[i] = cloths[i].Fabric
	}
	rows := fabricRows(fabrics)
	rows[0] = append(rows[0], "delta_e", "untold", "area_cm2", "used_cm2", "left_cm2", "added", "sha256")
	optional := func(v *float64) string {
		if v == nil {
			return ""
		}
		return figure(*v, 2)
	}
	for i := range cloths {
		f := &cloths[i]
		size := ""
		if f.AreaCM2 > 0 {
			size = figure(f.AreaCM2, 1)
		}
		rows[i+1] = append(rows[i+1], optional(f.DeltaE), yes(f.Untold), size, figure(f.UsedCM2, 1), optional(f.LeftCM2), text(f.Added), text(f.SHA256))
	}
	return rows
}

// sayWhole is a cloth of the stash in words.
func sayWhole(f *stash.FoundCloth) string {
	s := strings.TrimSuffix(describe(&f.Fabric), ".")
	if f.LeftCM2 != nil {
		s += ", " + leftSays(&f.Kept)
	}
	if f.DeltaE != nil {
		s += fmt.Sprintf(", %s (%s)", likeness(*f.DeltaE), figure(*f.DeltaE, 1))
	}
	return s + "."
}
