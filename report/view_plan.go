package report

import (
	"fmt"
	"iter"
	"math"
	"strconv"
	"strings"

	"greige/analyze"
	"greige/analyze/layout"
	"greige/analyze/plan"
)

// planView is the pictures and the lists of a plan.
type planView struct {
	Top      *sightView
	Legend   legend
	Findings []string
	Changes  []changeView
	Missing  []string
	Lines    iter.Seq[valueLine]
	Scraps   []scrapView
	Backs    []diagram
	Pressing []string
	Heading  string // what is made, over every sheet
	Have     []haveLine
	Sheets   []sheetView
	Steps    []string
}

// haveLine is how much of a cloth there has to be.
type haveLine struct {
	Chip         chipRef
	Label, Piece string
	Much, Says   string
}

// sheetView is one sheet of paper.
type sheetView struct {
	Name   string
	Many   bool // lines in two columns, so that they stay on one sheet
	Groups []sheetGroup
}

// linesAcross is how many lines one sheet of paper holds in one column.
const linesAcross = 14

// havesALine is how many cloths to have take the height of one line.
const havesALine = 3

type sheetGroup struct {
	Head  string
	Lines []sheetLine
}

// sheetLine is a line to tick: a large figure, what it is, out of which cloths.
type sheetLine struct {
	Figure string
	What   string
	Cloths []chipLabel
	Note   string
}

type chipLabel struct {
	Chip  chipRef
	Label string
}

// scrapView is a scrap with its cuts.
type scrapView struct {
	Chip             chipRef
	Caption, Alt     string
	Box              string // viewBox, pixels of the upright photo
	X, Y, W, H       string
	Used, Left       []string // polygons
	Label            string
	Disc, DiscX      string
	DiscY, DiscR, At string
}

func (c *chapter) planned(r *analyze.Result, book *chipBook) {
	p := r.Plan
	v := &planView{Missing: plainAll(missingSays(p)), Pressing: plainAll(p.Advice), Steps: plainAll(p.Steps)}
	c.Plan = v
	k := planChips{ref: map[string]chipRef{}}
	for i := range p.Chosen {
		k.ref[p.Chosen[i].ID] = book.cloth(&p.Chosen[i].Cloth)
	}
	v.picture(r, book)
	v.Findings = planFindings(p)
	v.changes(p, k)
	v.Lines = drawLines(planLine(p, k))
	v.scraps(r, book)
	v.backs(p)
	v.Heading = planHeading(p)
	for i, u := range p.Cloths {
		h := haveLine{Chip: k.ref[u.ID], Label: plain(u.ID), Piece: planPiece(u.ID), Much: plain(u.Bought), Says: haveSays(p, i)}
		switch {
		case h.Much == "":
			h.Much = "what you have"
		case u.Yields != nil && *u.Yields > 0:
			h.Much += " more"
		case u.Yields != nil:
			h.Much += " like it"
		}
		v.Have = append(v.Have, h)
	}
	for i := range p.Sheets {
		v.Sheets = append(v.Sheets, k.sheet(p, &p.Sheets[i]))
	}
	c.Next = []string{"Print this page: each list begins on a sheet of its own.", "Lay the cloths side by side by daylight, step back, and half close your eyes.",
		"Cut, sew and measure one block before you cut the rest."}
	c.Tables = append(c.Tables, cutTable(p), stripTable(p), useTable(p, k), meetingTable(p))
}

func planPiece(id string) string { return "plan-" + strings.Map(harmless, id) }

// harmless keeps what may stand in an attribute that joins several names.
func harmless(r rune) rune {
	if r >= '0' && r <= '9' || r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' {
		return r
	}
	return '-'
}

type planChips struct{ ref map[string]chipRef }

func (k planChips) label(id string) chipLabel { return chipLabel{k.ref[id], plain(id)} }

// picture is the mock-up with its lost and soft seams.
func (v *planView) picture(r *analyze.Result, book *chipBook) {
	p := r.Plan
	s := sightOf(r, analyze.PlanSight)
	if s == nil || p.Layout == nil {
		return
	}
	c := count(p.Layout)
	alt := "The finished top: " + planHeading(p)
	if c.lost > 0 {
		alt += " " + Capital(some(c.lost, "seam is lost", "seams are lost")) + "."
	}
	top := picture(s, alt, book.cuts, r.Distance)
	if top == nil {
		return
	}
	top.ID, top.Caption = "plan-top", "As it will be: "+p.Ruler.Say(p.Width)+" by "+p.Ruler.Say(p.Height)
	where := outlines(s)
	if len(p.Cells) <= seamsHit {
		top.seams(where, p.Layout)
		v.Legend.Lost, v.Legend.Soft = c.lost > 0, c.soft > 0
	}
	for _, cell := range p.Cells {
		if len(p.Cells) > seamsHit {
			break // the page stays light
		}
		id := p.Grid[cell.Row-1][cell.Col-1]
		top.hit(where[cellID(layout.Cell{cell.Row, cell.Col})], planPiece(id), Capital(at(layout.Cell{cell.Row, cell.Col}))+": number "+plain(id)+".")
	}
	v.Top = top
}

// changes are cloths to take instead of others.
func (v *planView) changes(p *plan.Plan, k planChips) {
	for _, s := range p.Changes {
		v.Changes = append(v.Changes, changeView{
			What: "Take number " + plain(s.Instead) + " instead of number " + plain(s.Cloth) + ".",
			Why:  sentence(plain(s.Why)), Gain: thenReads(s.Reads) + ".",
			FromChip: k.ref[s.Cloth], FromLabel: plain(s.Cloth), FromPiece: planPiece(s.Cloth), With: "instead: ", ToLabel: plain(s.Instead),
		})
	}
}

// planLine hangs the lights above and the rest below.
func planLine(p *plan.Plan, k planChips) lineOf {
	of := lineOf{AboveWord: "Light", LaneWords: []string{"Dark", "Medium and around"}}
	for i, u := range p.Cloths {
		c := &p.Chosen[i]
		h := hung{Chip: k.ref[u.ID], Label: plain(u.ID), Piece: planPiece(u.ID), Lightness: c.Lightness, Unsure: c.Uncertainty, Lane: 1,
			Says: "Number " + plain(u.ID) + ": " + lightnessSays(c.Lightness, c.Uncertainty) + "."}
		switch {
		case len(u.Roles) == 0:
		case u.Roles[0] == "light":
			h.Above = true
		case u.Roles[0] == "dark":
			h.Lane = 0
		}
		of.Items = append(of.Items, h)
	}
	of.Label = "The cloths of the plan by lightness: " + planCloths(p) + "."
	return of
}

func (v *planView) scraps(r *analyze.Result, book *chipBook) {
	for _, s := range r.Plan.Scraps {
		for _, shown := range r.PlanScraps {
			if shown.ID == s.ID && shown.Swatch != nil {
				v.Scraps = append(v.Scraps, scrapOf(r.Plan, s, shown, book))
			}
		}
	}
}

func scrapOf(p *plan.Plan, s plan.ScrapCut, shown analyze.PlanScrap, book *chipBook) scrapView {
	c := p.Chosen[0].Cloth
	for i := range p.Chosen {
		if p.Chosen[i].ID == s.ID {
			c = p.Chosen[i].Cloth
		}
	}
	c.Swatch = shown.Swatch
	b := shown.Box
	w, h := b[2]-b[0], b[3]-b[1]
	side := max(w, h)
	out := scrapView{Chip: book.cloth(&c), Label: plain(s.ID), Box: fmt.Sprintf("%s %s %s %s", num(b[0]), num(b[1]), num(w), num(h)),
		X: num(b[0]), Y: num(b[1]), W: num(w), H: num(h),
		DiscX: num(b[0] + side*.07), DiscY: num(b[1] + side*.07), DiscR: num(side * .06), At: num(side * .07)}
	for i, o := range s.Patches {
		polygon := points(o, 1, 1)
		if i < s.Used {
			out.Used = append(out.Used, polygon)
		} else {
			out.Left = append(out.Left, polygon)
		}
	}
	out.Caption = "Number " + plain(s.ID) + " gives " + some(s.Yields, "patch", "patches")
	if s.Used < s.Yields {
		out.Caption += fmt.Sprintf("; this top takes %d", s.Used)
	}
	switch {
	case s.Yields == 0:
		out.Caption += "."
	case s.Grain == "seen":
		out.Caption += ", along its weave."
	default:
		out.Caption += "; its weave cannot be seen."
	}
	out.Alt = out.Caption
	return out
}

// backs draws blocks from behind, where seams are pressed.
func (v *planView) backs(p *plan.Plan) {
	for _, press := range p.Press {
		if len(press.Chart) == 0 || press.Chart[0] == "" {
			continue
		}
		rows, cols := len(press.Chart), len(press.Chart[0])
		const w = 240.
		cell := w / float64(cols)
		h := cell * float64(rows)
		b := diagram{W: num(w), H: num(h)}
		role := map[byte]layout.Role{'L': layout.Light, 'M': layout.Medium, 'D': layout.Dark}
		box := func(x, y, w, h float64) string {
			return points([][2]float64{{x, y}, {x + w, y}, {x + w, y + h}, {x, y + h}}, 1, 1)
		}
		for r, row := range press.Chart {
			for c := range row {
				d := diagramCell{Points: box(float64(cols-1-c)*cell, float64(r)*cell, cell, cell), Class: "cell", Fill: roleGrey(role[row[c]])}
				if d.Fill == "" {
					d.Class = "anycell"
				}
				b.Cells = append(b.Cells, d)
			}
		}
		for r, row := range press.Rows {
			for c, way := range []byte(row) {
				// From behind, left is right.
				x, y := float64(cols-1-c)*cell, (float64(r)+.5)*cell
				switch way {
				case '<':
					b.Arrows = append(b.Arrows, arrow(x, y, 1, 0, cell))
				case '>':
					b.Arrows = append(b.Arrows, arrow(x, y, -1, 0, cell))
				}
			}
		}
		for r, way := range []byte(press.Cols) {
			y := float64(r+1) * cell
			dir := map[byte]float64{'v': 1, '^': -1}[way]
			if dir == 0 {
				continue
			}
			for c := range cols {
				b.Arrows = append(b.Arrows, arrow((float64(c)+.5)*cell, y, 0, dir, cell))
			}
		}
		b.Caption = "From behind"
		if names := roleCloths(press.Cloths); names != "" {
			b.Caption += ", " + names
		} else if len(p.Press) > 1 {
			b.Caption += fmt.Sprintf(", block %d", press.Kind)
		}
		b.Caption += ". " + plain(press.Says)
		b.Alt = b.Caption
		v.Backs = append(v.Backs, b)
	}
}

// arrow crosses a seam at x, y in the direction in which it is pressed.
func arrow(x, y, dx, dy, cell float64) string {
	a := cell * .17
	tip, tail := [2]float64{x + dx*a, y + dy*a}, [2]float64{x - dx*a, y - dy*a}
	wing := a * .6
	left := [2]float64{tip[0] - dx*wing + dy*wing, tip[1] - dy*wing + dx*wing}
	right := [2]float64{tip[0] - dx*wing - dy*wing, tip[1] - dy*wing - dx*wing}
	return fmt.Sprintf("M%s %sL%s %sM%s %sL%s %sL%s %s", num(tail[0]), num(tail[1]), num(tip[0]), num(tip[1]),
		num(left[0]), num(left[1]), num(tip[0]), num(tip[1]), num(right[0]), num(right[1]))
}

// sheet is what one person takes to the table.
func (k planChips) sheet(p *plan.Plan, s *plan.Sheet) sheetView {
	v := sheetView{Name: plain(s.Name)}
	group := func(head string, lines []sheetLine) {
		if len(lines) > 0 {
			v.Groups = append(v.Groups, sheetGroup{head, lines})
		}
	}
	r := p.Ruler
	var strips, sets, patches, around, blocks []sheetLine
	ofPatches := map[string]string{}
	for _, l := range s.Strips {
		if len(l.Into) == 1 && l.Into[0].For == plan.Patches { // said with the patches
			ofPatches[l.Cloth] = fmt.Sprintf("%d out of %s of %s", l.Into[0].Count, some(l.Count, "strip", "strips"), r.Say(l.Width))
			continue
		}
		strips = append(strips, sheetLine{Figure: strconv.Itoa(l.Count) + " \u00d7 " + r.Say(l.Width), What: noun(l.Count, "strip", "strips"),
			Cloths: []chipLabel{k.label(l.Cloth)}, Note: intoSays(r, l.Into)})
	}
	for _, set := range s.Sets {
		line := sheetLine{Figure: strconv.Itoa(set.Segments) + " \u00d7 " + r.Say(set.Segment), What: "segments",
			Note: setSays(p, set)}
		for _, id := range set.Cloths {
			line.Cloths = append(line.Cloths, k.label(id))
		}
		sets = append(sets, line)
	}
	for _, c := range s.Squares {
		line := sheetLine{Figure: strconv.Itoa(c.Count) + " \u00d7 " + cutSize(p, c), What: cutWhat(c), Cloths: []chipLabel{k.label(c.Cloth)}, Note: cutNote(p, c)}
		if c.Part == plan.InBlock || c.Part == plan.Loose {
			line.Note = patchesFrom(c, ofPatches[c.Cloth])
			patches = append(patches, line)
		} else {
			around = append(around, line)
		}
	}
	for _, b := range s.Blocks {
		line := sheetLine{Figure: strconv.Itoa(b.Count), What: noun(b.Count, "block", "blocks") + kindSays(p, b.Kind)}
		for _, role := range planRoles {
			if id, ok := b.Cloths[role]; ok {
				line.Cloths = append(line.Cloths, k.label(id))
			}
		}
		blocks = append(blocks, line)
	}
	scraps := k.sharedScraps(p, s)
	group("Scraps that you cut for all", scraps)
	group("Strips across the cloth, "+r.Say(p.Usable)+" long", strips)
	group("Strip sets, cut across", sets)
	group("Patches", patches)
	group("Around the blocks", around)
	group("Blocks", blocks)
	lines := len(scraps) + len(strips) + len(sets) + len(patches) + len(around) + len(blocks)
	if s == &p.Sheets[0] { // which has the cloths over it
		lines += len(p.Cloths) / havesALine
	}
	v.Many = lines > linesAcross
	return v
}

// intoSays is what strips are cut up into, by what it is for.
func intoSays(r plan.Ruler, into []plan.Into) string {
	var fors []string
	pieces := map[string][]string{}
	for _, i := range into {
		what := several(string(i.For))
		if pieces[what] == nil {
			fors = append(fors, what)
		}
		pieces[what] = append(pieces[what], strconv.Itoa(i.Count)+"\u00a0\u00d7\u00a0"+r.Say(i.Length))
	}
	for i, what := range fors {
		fors[i] = List(pieces[what]) + " for " + what
	}
	return strings.Join(fors, "; ") + "."
}

// sharedScraps are those that the person of a sheet cuts up for everybody.
func (k planChips) sharedScraps(p *plan.Plan, s *plan.Sheet) (out []sheetLine) {
	for _, scrap := range s.Scraps {
		var whose []string
		for _, part := range scrap.For {
			name := plain(part.Name)
			if part.Name == s.Name {
				name = "yourself"
			}
			whose = append(whose, fmt.Sprintf("%d for %s", part.Count, name))
		}
		c := plan.Cut{Part: plan.InBlock, Count: scrap.Patches, W: scrap.W, H: scrap.H}
		out = append(out, sheetLine{Figure: strconv.Itoa(scrap.Patches) + " \u00d7 " + cutSize(p, c), What: cutWhat(c), Cloths: []chipLabel{k.label(scrap.Cloth)},
			Note: Capital(List(whose)) + "."})
	}
	return out
}

// patchesFrom says out of what the patches of a line come; strips is how many
// come out of which strips, "" where the strips are for other things too.
func patchesFrom(c plan.Cut, strips string) string {
	rest := c.Count - c.FromScrap
	if strips == "" {
		strips = fmt.Sprintf("%d out of strips", rest)
	}
	scrap := "out of the scrap"
	if c.CutBy != "" {
		scrap += ", which " + plain(c.CutBy) + " cuts"
	}
	switch {
	case rest == 0:
		return Capital(scrap) + "."
	case c.FromScrap == 0:
		return Capital(strips) + "."
	}
	return fmt.Sprintf("%d %s; %s.", c.FromScrap, scrap, strips)
}

// planRoles are the names of roles in their order.
var planRoles = []string{"light", "medium", "dark", "any"}

// kindSays tells blocks that take turns from each other.
func kindSays(p *plan.Plan, kind int) string {
	if len(p.Charts) < 2 || kind < 1 || kind > len(p.Charts) || len(p.Charts[kind-1]) == 0 {
		return ""
	}
	rows := p.Charts[kind-1]
	across, down := true, true
	for _, row := range rows {
		across = across && strings.Count(row, row[:min(len(row), 1)]) == len(row)
		down = down && row == rows[0]
	}
	switch {
	case across:
		return ", strips across"
	case down:
		return ", strips upright"
	case strings.HasPrefix(rows[0], "D"):
		return " with dark corners"
	case strings.HasPrefix(rows[0], "L"):
		return " with light corners"
	}
	return ""
}

func cutTable(p *plan.Plan) table {
	t := table{Name: "cutting-list", Caption: "The cutting list",
		Heads: []head{{"Cloth", false}, {"For", false}, {"Cut", true}, {"Size", false}, {"Cut across", false}, {"Gives", true}, {"Needed", true}, {"Out of", false}, {"Joins", true}}}
	for _, c := range p.CutList {
		across := map[int]string{0: "", 1: "once, corner to corner", 2: "twice, corner to corner"}[c.Diagonals]
		t.Rows = append(t.Rows, row{Piece: planPiece(c.Cloth), Cells: cells(plain(c.Cloth), string(c.Part), strconv.Itoa(c.Count), cutSize(p, c), across,
			strconv.Itoa(c.Pieces), strconv.Itoa(c.Needed), plain(c.How), strconv.Itoa(c.Joins))})
	}
	return t
}

func stripTable(p *plan.Plan) table {
	t := table{Name: "strips", Caption: "The strips and what is left of them",
		Heads: []head{{"Sheet", false}, {"Cloth", false}, {"Strips", true}, {"Width", false}, {"Into", false}, {"Left over", false}}}
	for _, s := range p.Sheets {
		for _, l := range s.Strips {
			var into []string
			for _, i := range l.Into {
				into = append(into, fmt.Sprintf("%d of %s for %s", i.Count, p.Ruler.Say(i.Length), string(i.For)))
			}
			t.Rows = append(t.Rows, row{Piece: planPiece(l.Cloth), Cells: cells(plain(s.Name), plain(l.Cloth), strconv.Itoa(l.Count), p.Ruler.Say(l.Width), strings.Join(into, "; "), p.Ruler.Say(l.Left))})
		}
	}
	return t
}

func useTable(p *plan.Plan, k planChips) table {
	t := table{Name: "cloths", Caption: "The cloths and how much of each",
		Heads: []head{{"Number", false}, {"Cloth", false}, {"For", false}, {"Lightness (L*)", true}, {"Patches", true}, {"Its piece gives", true}, {"Cut from it, cm\u00b2", true}, {"Strips take", false}, {"Have or buy", false}}}
	for _, u := range p.Cloths {
		gives := ""
		if u.Yields != nil {
			gives = strconv.Itoa(*u.Yields)
		}
		c := cells(plain(u.ID), "", plain(strings.Join(u.Roles, ", ")), figure(u.Lightness, 1), strconv.Itoa(u.Patches), gives, figure(math.Round(u.NeedCM), 0), p.Ruler.Say(u.Length), plain(u.Bought))
		c[1].Chip = k.ref[u.ID]
		t.Rows = append(t.Rows, row{Piece: planPiece(u.ID), Cells: c})
	}
	return t
}

func meetingTable(p *plan.Plan) table {
	t := table{Name: "seams", Caption: "The seams, by the two cloths that meet",
		Heads: []head{{"Between", false}, {"And", false}, {"Verdict", false}, {"Meant to", false}, {"Seams", true}, {"Apart in lightness", true}, {"Apart in colour (CIEDE2000)", true}, {"Clarity, beside their prints", true}}}
	meant := map[layout.Meaning]string{layout.Contrast: "show", layout.Blend: "blend", layout.Either: "either"}
	for _, s := range p.Seams {
		verdict := string(s.Verdict)
		if s.ColourAlone {
			verdict += ", carried by colour"
		}
		t.Rows = append(t.Rows, row{Cells: cells(plain(s.Between[0]), plain(s.Between[1]), verdict, meant[s.Meant], strconv.Itoa(s.Count),
			figure(s.DeltaL, 1), figure(s.DeltaE, 1), figure(s.Clarity, 1))})
	}
	return t
}
