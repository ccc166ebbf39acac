package report

import (
	"fmt"
	"strconv"
	"strings"

	"greige/analyze"
	"greige/analyze/layout"
	"greige/analyze/plan"
)

// planAnswer says whether the top will read, and what it takes.
func planAnswer(r *analyze.Result) Answer {
	a := Answer{Question: "What will it look like, and what do I cut?"}
	p := r.Plan
	from := across(r.Distance)
	c := shown{}
	if p.Layout != nil {
		c = count(p.Layout)
	}
	switch reads := p.Reads; {
	case reads == nil:
		a.Headline = "Nothing in this top is meant to stand out, so there is nothing to read."
	case *reads >= readsAll:
		a.Headline = "It will read " + from + "."
	case *reads >= readsMostly:
		a.Headline = "It will read " + from + ", but for " + some(c.all-c.clear, "seam", "seams") + " that " + noun(c.all-c.clear, "does", "do") + " not show clearly."
	case *reads >= readsPartly:
		a.Headline = "It will mostly read: of its seams, " + outOf(*reads) + " show clearly " + from + "."
	case *reads >= readsHalf:
		a.Headline = "It will read only in part: of its seams, " + outOf(*reads) + " show clearly " + from + "."
	default:
		a.Headline = "It will not read " + from + ": most of its seams are too soft or lost."
	}
	a.More = append(a.More, planHeading(p))
	if p.Picked {
		a.More = append(a.More, pickedSays(p)+planCloths(p)+". Name others with --light and --dark.")
	}
	if len(p.Changes) > 0 {
		s := p.Changes[0]
		a.More = append(a.More, "Number "+plain(s.Instead)+" instead of number "+plain(s.Cloth)+" would read better: "+plain(s.Why)+".")
	}
	a.More = append(a.More, scrapSentence(p)...)
	if n := len(p.Missing); n > 0 {
		a.More = append(a.More, "Missing: "+strings.Join(plainAll(missingSays(p)[:min(n, 2)]), " "))
		if n > 2 {
			a.More[len(a.More)-1] += " And " + some(n-2, "thing", "things") + " more, listed below."
		}
	}
	a.More = append(a.More, buySentence(p)...)
	if p.Alike > 0 {
		a.More = append(a.More, "In "+some(p.Alike, "place", "places")+" two patches of one cloth meet: with one more cloth they would not.")
	}
	return a
}

// pickedSays is what cloths were chosen for.
func pickedSays(p *plan.Plan) string {
	if p.Reads != nil && *p.Reads < readsAll {
		return "The cloths were chosen, as far as what is here reads together: "
	}
	if len(p.Scraps) > 0 {
		return "The cloths were chosen so that they read together, and of such cloths those that give most: "
	}
	return "The cloths were chosen for how clearly they stand off from each other: "
}

func missingSays(p *plan.Plan) []string {
	out := []string{}
	for _, m := range p.Missing {
		out = append(out, m.Says)
	}
	return out
}

// planHeading is what is made, in one sentence.
func planHeading(p *plan.Plan) string {
	r := p.Ruler
	if len(p.Charts) == 0 {
		return fmt.Sprintf("The top that hangs, %d rows of %d, %s by %s, out of patches cut %s square.", p.Down, p.Across, r.Say(p.Width), r.Say(p.Height), r.Say(p.Cut))
	}
	s := firstSome(p.Pieced, "block", "blocks") + " of " + plain(p.Block)
	if p.PlainN > 0 {
		s += " and " + some(p.PlainN, "plain square", "plain squares")
	}
	if p.Setting == layout.OnPoint {
		s += ", on point"
	}
	return s + fmt.Sprintf(": a top of %s by %s, out of patches cut %s and finished %s.", r.Say(p.Width), r.Say(p.Height), r.Say(p.Cut), r.Say(p.Patch))
}

// planCloths are the numbers of the cloths by role.
func planCloths(p *plan.Plan) string {
	var parts []string
	for _, role := range planRoles {
		var ids []string
		for _, u := range p.Cloths {
			for _, r := range u.Roles {
				if r == role {
					ids = append(ids, plain(u.ID))
				}
			}
		}
		if len(ids) > 0 && role != "any" {
			parts = append(parts, role+" "+listMost(ids, 5))
		}
	}
	if len(parts) == 0 {
		return some(len(p.Cloths), "cloth", "cloths")
	}
	return strings.Join(parts, "; ")
}

// roleCloths names a block's cloths: "light 3, dark 9".
func roleCloths(of map[string]string) string {
	var parts []string
	for _, role := range planRoles {
		if id, ok := of[role]; ok {
			parts = append(parts, role+" "+plain(id))
		}
	}
	return strings.Join(parts, ", ")
}

// scrapSentence says whether the basket makes the top.
func scrapSentence(p *plan.Plan) []string {
	if len(p.Scraps) == 0 {
		return nil
	}
	need, got := 0, 0
	for _, u := range p.Cloths {
		if u.Yields != nil {
			need += u.Patches
			got += min(u.Patches, *u.Yields)
		}
	}
	if got >= need {
		return []string{"These scraps make the blocks: they give all " + inWords(need) + " patches."}
	}
	say := alike(got, need)
	return []string{"These scraps give " + say(got) + " of the " + say(need) + " patches."}
}

// buySentence names how much cloth there has to be, at most five cloths.
func buySentence(p *plan.Plan) []string {
	var parts []string
	for _, u := range p.Cloths {
		if u.Bought != "" {
			of := " of number "
			if u.Yields != nil { // of a scrap there may be no more to buy
				of = " like number "
			}
			parts = append(parts, plain(u.Bought)+of+plain(u.ID))
		}
	}
	if len(parts) == 0 {
		return nil
	}
	return []string{fmt.Sprintf("Cloth to have or to buy, %s wide and with a twentieth to spare: %s.", p.Ruler.Say(p.Usable), listMost(parts, 5))}
}

// planFindings say which seams do not show, by the two cloths.
func planFindings(p *plan.Plan) []string {
	var out []string
	for _, s := range p.Seams {
		if s.Meant != layout.Contrast && !(p.Layout != nil && p.Layout.Pattern.Name == "none") || s.Verdict == layout.Clear {
			continue
		}
		if len(out) == 5 {
			out = append(out, "More of them are in the table of seams.")
			break
		}
		how := map[layout.Verdict]string{layout.Lost: "will run together", layout.Soft: "will be only just told apart", layout.SameCloth: "look like one cloth"}[s.Verdict]
		line := fmt.Sprintf("Numbers %s and %s %s, in %s: they are %s apart in lightness.", plain(s.Between[0]), plain(s.Between[1]), how, some(s.Count, "seam", "seams"), figure(s.DeltaL, 0))
		if s.ColourAlone {
			line += " Colour alone keeps them apart."
		}
		out = append(out, line)
	}
	return out
}

// haveSays is what becomes of cloth i.
func haveSays(p *plan.Plan, i int) string {
	var roles []string
	for _, role := range p.Cloths[i].Roles {
		roles = append(roles, plain(several(role)))
	}
	return Capital(List(roles)) + "."
}

// several is a use of cloth in the plural, where it is of single pieces.
func several(use string) string {
	switch plan.Part(use) {
	case plan.Plain, plan.SideTri, plan.CornerTri:
		return use + "s"
	}
	return use
}

// cutSize is a line's size as it is cut: "2 1/2 in" for a square, "2 1/2 x
// 8 in" for another.
func cutSize(p *plan.Plan, c plan.Cut) string {
	if c.W == c.H {
		return p.Ruler.Say(c.W)
	}
	return p.Ruler.Figure(c.W) + " by " + p.Ruler.Say(c.H)
}

func cutWhat(c plan.Cut) string {
	switch {
	case c.Diagonals > 0:
		return noun(c.Count, "square", "squares") + " for " + some(c.Needed, string(c.Part), string(c.Part)+"s")
	case c.Part == plan.InBlock && c.W == c.H:
		return noun(c.Count, "square", "squares")
	case c.Part == plan.InBlock:
		return noun(c.Count, "patch", "patches")
	case c.Part == plan.Plain && c.Count > 1:
		return "plain squares"
	case c.Part == plan.Loose:
		return noun(c.Count, "patch", "patches")
	}
	return string(c.Part)
}

func cutNote(p *plan.Plan, c plan.Cut) string {
	switch {
	case c.Diagonals == 2:
		return "Cut each across twice, corner to corner, so that the straight grain lies on the outside."
	case c.Diagonals == 1:
		return "Cut each across once, corner to corner."
	case c.Part == plan.Binding:
		return "Folded double; " + some(c.Joins, "diagonal join", "diagonal joins") + ". Or out of another cloth."
	case c.Joins > 0:
		return "Each of " + some(c.Joins+1, "strip", "strips") + ", joined with straight seams. Measure the top before you cut to length."
	case c.Part == plan.Border || c.Part == plan.Sash:
		return "Measure before you cut to length."
	}
	return ""
}

// setSays is how a strip set is made.
func setSays(p *plan.Plan, s plan.StripSet) string {
	if s.Sets == 1 {
		return fmt.Sprintf("One set, %s long: the strips side by side, in this order.", p.Ruler.Say(s.Last))
	}
	whole := s.Sets
	out := ""
	if s.Last < p.Usable-s.Segment+1 {
		whole--
		out = fmt.Sprintf(" and one %s long", p.Ruler.Say(s.Last))
	}
	return fmt.Sprintf("%s the whole width%s; a whole one gives %d.", firstSome(whole, "set", "sets"), out, s.PerSet)
}

// cutRows is the cutting list for a spreadsheet.
func cutRows(p *plan.Plan) [][]string {
	rows := [][]string{{"cloth", "for", "cut", "width_cm", "height_cm", "width_in", "height_in", "cut_across", "gives", "needed", "joins", "out_of"}}
	for _, c := range p.CutList {
		rows = append(rows, []string{text(c.Cloth), string(c.Part), strconv.Itoa(c.Count), figure(c.W.CM(), 3), figure(c.H.CM(), 3), c.W.Inches(), c.H.Inches(),
			strconv.Itoa(c.Diagonals), strconv.Itoa(c.Pieces), strconv.Itoa(c.Needed), strconv.Itoa(c.Joins), text(c.How)})
	}
	return rows
}

// cuttingList is the table of the terminal.
func (t *terminal) cuttingList(p *plan.Plan) {
	cols := []column{{head: "cloth"}, {head: "cut", right: true}, {head: "size"}, {head: "gives", right: true, give: true}, {head: "out of", give: true}, {head: "across"}, {head: "for"}}
	var rows [][]string
	for _, c := range p.CutList {
		across := ""
		if c.Diagonals > 0 {
			across = noun(c.Diagonals, "once", "twice")
		}
		rows = append(rows, []string{plain(c.Cloth), strconv.Itoa(c.Count), strings.ReplaceAll(cutSize(p, c), "\u00a0", " "), strconv.Itoa(c.Pieces), plain(c.How), across, string(c.Part)})
	}
	t.table(cols, rows, nil)
}
