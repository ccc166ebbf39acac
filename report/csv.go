package report

import (
	"encoding/csv"
	"io"
	"slices"
	"strconv"
	"strings"

	"greige/analyze"
	"greige/analyze/border"
	"greige/analyze/layout"
	"greige/analyze/piles"
	"greige/analyze/stash"
)

// WriteCSV writes the main table of r (RFC 4180, UTF-8, a header row):
//
//   - sort: one row a fabric, in the order of their numbers;
//   - layout: one row a patch, because a patch is what she can take down, and
//     every seam's figures follow from its two patches; how many of its seams
//     are lost or soft, and the neighbours it runs into, stand beside it;
//   - border: one row a colour of the palette, with the nearest fabric;
//   - stash: one row a cloth of the answer, in its order.
//   - plan: the cutting list, one row a size out of a cloth.
//
// Text that a spreadsheet would take for a formula (a leading = + - @, or a
// tab or line break) gets a single quote mark before it; numbers are plain.
func WriteCSV(w io.Writer, r *analyze.Result) error {
	var rows [][]string
	switch {
	case r.Sort != nil:
		rows = fabricRows(r.Sort.Fabrics)
	case r.Layout != nil:
		rows = patchRows(r.Layout)
	case r.Border != nil:
		rows = paletteRows(r.Border)
	case r.Kept != nil:
		rows = keptRows(nil) // the heads; the cloths come as they are read
	case r.Plan != nil:
		rows = cutRows(r.Plan)
	default:
		return &Error{Reason: "there is nothing to write: no command has an answer"}
	}
	out := csv.NewWriter(w)
	out.UseCRLF = true
	if err := out.WriteAll(rows); err != nil || r.Kept == nil {
		return err
	}
	return r.Kept.Each(func(some []stash.FoundCloth) error { return out.WriteAll(keptRows(some)[1:]) })
}

// text is a cell that a spreadsheet shows and does not run. Characters that
// act are taken out after the guard has looked at them.
func text(s string) string {
	if s == "" {
		return ""
	}
	guard := strings.ContainsRune("=+-@\t\r\n", rune(s[0])) ||
		// The full-width forms are taken for the plain ones by some.
		slices.ContainsFunc([]string{"\uff1d", "\uff0b", "\uff0d", "\uff20"}, func(p string) bool { return strings.HasPrefix(s, p) })
	s = plain(s)
	if guard {
		s = "'" + s
	}
	return s
}

// texts joins several words in one cell.
func texts(items []string) string { return text(strings.Join(items, " ")) }

func yes(b bool) string {
	if b {
		return "yes"
	}
	return "no"
}

func fabricRows(fabrics []piles.Fabric) [][]string {
	rows := [][]string{{"number", "pile", "swing", "rank", "tied_with", "lightness", "uncertainty", "munsell_value", "spread",
		"character", "temperature", "name", "hex", "L", "a", "b", "doubtful", "note", "photo", "scrap"}}
	for _, f := range fabrics {
		rank, swing := "", ""
		if f.Swing != nil {
			swing = yes(*f.Swing)
		}
		if f.Rank > 0 {
			rank = strconv.Itoa(f.Rank)
		}
		note := f.Note
		if note == "" {
			note = f.Remark
		}
		rows = append(rows, []string{text(f.ID), string(f.Pile), swing, rank, texts(f.TiedWith),
			figure(f.Lightness, 2), figure(f.Uncertainty, 2), figure(f.MunsellValue, 2), figure(f.Spread, 2),
			text(string(f.Character)), text(string(f.Temperature)), text(f.Name), f.Lab.Linear().Hex(),
			figure(f.Lab.L, 2), figure(f.Lab.A, 2), figure(f.Lab.B, 2),
			yes(f.Doubtful), text(note), text(f.Photo), strconv.Itoa(f.Scrap)})
	}
	return rows
}

func patchRows(l *layout.Layout) [][]string {
	rows := [][]string{{"row", "patch", "shape", "lightness", "uncertainty", "spread", "reads", "meant", "misplaced", "fabric",
		"seams", "lost", "soft", "runs_into", "name", "hex", "L", "a", "b"}}
	type tally struct {
		seams, lost, soft int
		into              []string
	}
	of := map[layout.Cell]*tally{}
	for _, p := range l.Patches {
		of[layout.Cell{p.Row, p.Col}] = &tally{}
	}
	for _, s := range l.Seams {
		for i, c := range s.Between {
			t := of[c]
			if t == nil {
				continue
			}
			t.seams++
			switch {
			case wantsToShow(l, s) && s.Verdict == layout.Lost:
				t.lost++
				t.into = append(t.into, strconv.Itoa(s.Between[1-i][0])+","+strconv.Itoa(s.Between[1-i][1]))
			case wantsToShow(l, s) && s.Verdict == layout.Soft:
				t.soft++
			}
		}
	}
	for _, p := range l.Patches {
		t := of[layout.Cell{p.Row, p.Col}]
		shape := p.Shape
		if shape == "" {
			shape = "square"
		}
		rows = append(rows, []string{strconv.Itoa(p.Row), strconv.Itoa(p.Col), text(shape),
			figure(p.Lightness, 2), figure(p.Uncertainty, 2), figure(p.Spread, 2),
			string(p.Reads), string(p.Meant), yes(p.Misplaced), strconv.Itoa(p.Fabric),
			strconv.Itoa(t.seams), strconv.Itoa(t.lost), strconv.Itoa(t.soft), texts(t.into),
			text(p.Name), p.Lab.Linear().Hex(), figure(p.Lab.L, 2), figure(p.Lab.A, 2), figure(p.Lab.B, 2)})
	}
	return rows
}

func paletteRows(b *border.Border) [][]string {
	rows := [][]string{{"colour", "role", "share", "name", "hex", "L", "a", "b", "munsell_value", "temperature",
		"nearest_fabric", "delta_e", "likeness"}}
	for i, c := range b.Palette {
		id, deltaE, like := "", "", ""
		if n := nearestTo(b, i); len(n) > 0 {
			id, deltaE, like = text(n[0].ID), figure(n[0].DeltaE, 2), likeness(n[0].DeltaE)
		}
		rows = append(rows, []string{letter(i), string(c.Role), figure(c.Share, 4), text(c.Name), text(c.Hex),
			figure(c.Lab.L, 2), figure(c.Lab.A, 2), figure(c.Lab.B, 2), figure(c.MunsellValue, 2), text(string(c.Temperature)),
			id, deltaE, like})
	}
	return rows
}

// nearestTo is the fabrics near colour i of the palette, nearest first.
func nearestTo(b *border.Border, i int) []border.Near {
	for _, m := range b.Matches {
		if m.Colour == i {
			return m.Fabrics
		}
	}
	return nil
}

// letter names a colour of the palette, so that no colour is taken for a
// cloth's number: A to Z, then A1, B1 and so on.
func letter(i int) string {
	s := string(rune('A' + i%26))
	if i >= 26 {
		s += strconv.Itoa(i / 26)
	}
	return s
}
