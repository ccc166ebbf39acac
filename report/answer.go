package report

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"greige/analyze"
	"greige/analyze/border"
	"greige/analyze/fit"
	"greige/analyze/layout"
	"greige/analyze/piles"
)

// Answer is the answer of a run in words that she would use herself. Every
// word of it follows from the figures of the result.
type Answer struct {
	Question string   // what was asked
	Headline string   // the answer: one sentence
	More     []string // what belongs to it: further sentences, weightiest first
}

// AnswerOf puts r into words.
func AnswerOf(r *analyze.Result) Answer {
	var a Answer
	switch {
	case r.Sort != nil:
		a = sortAnswer(r)
	case r.Layout != nil:
		a = layoutAnswer(r)
	case r.Border != nil:
		a = borderAnswer(r)
	case r.Kept != nil:
		a = keptAnswer(r)
	case r.Plan != nil:
		a = planAnswer(r)
	default:
		a = Answer{Headline: "Nothing could be measured."}
	}
	if n := len(r.Skipped); n > 0 {
		a.More = append(a.More, firstSome(n, "photo was left out, for the reason that is given.", "photos were left out, for the reasons that are given."))
	}
	return a
}

// unsure is the half interval of L* from which figures are called unsure: at
// this, two cloths 10 apart may be the other way round.
const unsure = 5

func sortAnswer(r *analyze.Result) Answer {
	a := Answer{Question: "Which are my lights, and which are my darks?"}
	s := r.Sort
	odd := doubtful(s.Fabrics)
	n := len(ranked(s.Fabrics)) // none where nothing can be compared
	measured := len(s.Fabrics) - len(odd)
	apart := footings(s.Fabrics)
	light, medium, dark := len(s.Piles.Light), len(s.Piles.Medium), len(s.Piles.Dark)
	switch {
	case measured == 0:
		a.Headline = "No cloth could be measured."
	case measured > 1 && n == 0:
		a.Headline = firstSome(measured, "cloth was", "cloths were") + " measured, but they cannot be compared with each other."
		a.More = append(a.More, "Nothing in the photos shows how bright the light was on each, and a camera lightens dark cloth and darkens light cloth.")
	case measured == 1:
		a.Headline = "One cloth: by itself it is neither a light nor a dark."
		a.More = append(a.More, "Value is told beside other cloths. Photograph the whole basket. If the photo shows no cloth at all, but a bare wall or table, lay the cloths on it first.")
	case len(s.Cuts) == 0:
		a.Headline = firstSome(n, "cloth", "cloths") + ", too much alike to make piles of."
	default:
		a.Headline = pileCounts(n, light, medium, dark) + "."
	}
	if len(s.Cuts) > 0 {
		a.More = append(a.More, swingSentence(s.Fabrics)...)
		if apart > 1 {
			a.More = append(a.More, "The photos fall into "+some(apart, "set", "sets")+
				" whose light cannot be compared: trust the order within a set only.")
		}
		if s.TooClose >= unsure {
			a.More = append(a.More, fmt.Sprintf("Cloths nearer to each other than about %.0f in lightness are too close to rank: take them as equal.", s.TooClose))
		}
	}
	switch {
	case len(odd) == 1:
		a.More = append(a.More, "And one thing that is probably no cloth, "+numbers(ids(odd))+": it is in no pile.")
	case len(odd) > 1:
		a.More = append(a.More, "And "+some(len(odd), "thing", "things")+" that are probably no cloth: they are in no pile.")
	}
	return a
}

func ids(fabrics []piles.Fabric) []string {
	out := make([]string, len(fabrics))
	for i, f := range fabrics {
		out[i] = f.ID
	}
	return out
}

// footings is how many groups the cloths fall into whose lightness cannot be
// compared with that of another group.
func footings(fabrics []piles.Fabric) int {
	groups := map[int]bool{}
	for _, f := range fabrics {
		if !f.Doubtful {
			groups[f.Group] = true
		}
	}
	return len(groups)
}

// pileCounts is how many of n cloths lie in each pile: "Three cloths: one light, two
// darks".
func pileCounts(n, light, medium, dark int) string {
	say, head := alike(light, medium, dark), firstSome(n, "cloth", "cloths")
	if say(1) == "1" {
		head = plural(n, "cloth", "cloths")
	}
	var parts []string
	for _, p := range []struct {
		n    int
		name piles.Pile
	}{{light, piles.Light}, {medium, piles.Medium}, {dark, piles.Dark}} {
		if p.n > 0 {
			parts = append(parts, say(p.n)+" "+pileWord(p.name, p.n))
		}
	}
	return head + ": " + strings.Join(parts, ", ")
}

// swinging are the ids of the cloths that swing, in the order given.
func swinging(fabrics []piles.Fabric) []string {
	var out []string
	for _, f := range fabrics {
		if f.Swings() && !f.Doubtful {
			out = append(out, f.ID)
		}
	}
	return out
}

// swingNamed is how many cloths are named under a headline at most: the rest is
// seen where it lies.
const swingNamed = 5

func swingSentence(fabrics []piles.Fabric) []string {
	swing := swinging(fabrics)
	n := len(swing)
	switch {
	case n == 0:
		return nil
	case n > swingNamed && n == len(fabrics)-len(doubtful(fabrics)):
		return []string{"Any of them could go either way."}
	case n > swingNamed:
		return []string{first(n) + " of them could go either way: " + strings.Join(plainAll(swing[:swingNamed]), ", ") + " and " + inWords(n-swingNamed) + " more."}
	}
	return []string{Capital(numbers(swing)) + " could go either way."}
}

func plainAll(names []string) []string {
	out := make([]string, len(names))
	for i, s := range names {
		out[i] = plain(s)
	}
	return out
}

// tieRuns are runs of neighbours in rank that cannot be told apart.
func tieRuns(cloths []piles.Fabric) [][]string {
	var runs [][]string
	for i := 1; i < len(cloths); i++ {
		if !slices.Contains(cloths[i-1].TiedWith, cloths[i].ID) {
			continue
		}
		last := len(runs) - 1
		if last >= 0 && runs[last][len(runs[last])-1] == cloths[i-1].ID {
			runs[last] = append(runs[last], cloths[i].ID)
		} else {
			runs = append(runs, []string{cloths[i-1].ID, cloths[i].ID})
		}
	}
	return runs
}

// How much of a layout must be clear for each way of saying so: shares of
// the seams meant to contrast. Common practice, no source.
const (
	readsAll    = .995
	readsMostly = .9
	readsPartly = .7
	readsHalf   = .5
)

// across is where the viewer stands, in words.
func across(distance float64) string {
	if distance <= 0 || (distance >= 2 && distance <= 5) {
		return "from across the room"
	}
	return "from " + metres(distance)
}

func metres(d float64) string {
	s := strings.TrimSuffix(strings.TrimRight(fmt.Sprintf("%.2f", d), "0"), ".")
	if s == "1" {
		return "1\u00a0metre"
	}
	return s + "\u00a0metres" // never broken between the two
}

// wantsToShow: a line is looked for where this seam lies. In a top with no
// repeat nothing is asked of any seam, so all of them are looked at.
func wantsToShow(l *layout.Layout, s layout.Seam) bool {
	return s.Meant == layout.Contrast || (l.Pattern.Name == "none" && s.Meant == layout.Either)
}

// shown counts the seams that are looked at by verdict.
type shown struct {
	all, clear, soft, lost, same, byColour int
}

func count(l *layout.Layout) shown {
	var c shown
	for _, s := range l.Seams {
		if !wantsToShow(l, s) {
			continue
		}
		c.all++
		switch s.Verdict {
		case layout.Clear:
			c.clear++
		case layout.Soft:
			c.soft++
		case layout.Lost:
			c.lost++
		case layout.SameCloth:
			c.same++
		}
		if s.Verdict == layout.Lost && s.ColourAlone {
			c.byColour++
		}
	}
	return c
}

func layoutAnswer(r *analyze.Result) Answer {
	a := Answer{Question: "Does it read?"}
	l := r.Layout
	from := across(r.Distance)
	if len(l.Patches) == 0 {
		a.Headline = "No patches could be found in this photo."
		a.More = append(a.More, "Say how many rows and columns there are and where the corners lie, with --rows, --cols and --corners.")
		return a
	}
	c, lost := count(l), clusters(l, layout.Lost)
	where, say := place{l}, inWords // say writes every count of seams, as the first is written
	v := verbsFor(l)
	switch {
	case l.Pattern.Name == "none":
		a.Headline = "Its lights and darks " + v.of("make", "would make") + " no repeat, so no patch " + v.of("can", "could") + " be called out of place."
		if s := shade(l); s != "" {
			a.More = append(a.More, s)
		}
		switch {
		case c.all == 0:
		case c.lost == 0:
			a.More = append(a.More, Capital(from)+" no seam is lost.")
		default:
			say = alike(c.lost, c.all)
			a.More = append(a.More, Capital(from)+" "+say(c.lost)+noun(c.lost, " seam is lost", " seams are lost")+", of "+say(c.all)+".")
		}
	case c.all == 0 || l.Reads == nil:
		a.Headline = "No seam here " + v.of("is", "would be") + " meant to show, so there " + v.of("is", "would be") + " nothing to judge."
	case Finite(*l.Reads) < readsHalf:
		say = alike(c.all, c.clear)
		a.Headline = "It " + v.of("does", "would") + " not read " + from + " yet: of " + say(c.all) + noun(c.all, " seam", " seams") + " that should show, " +
			say(c.clear) + " " + v.of(noun(c.clear, "does", "do"), "would") + where.mostly(lost) + "."
	default:
		a.Headline = v.lead(*l.Reads, c, from) + where.but(c, lost, clusters(l, layout.Soft)) + "."
	}
	if l.Other != nil {
		a.Headline = v.twoReadings(l)
	}
	if v == would {
		a.Headline = "If the patches are " + plural(l.Rows, "row", "rows") + " of " + strconv.Itoa(l.Cols) + ", which is not sure, " + lower(strings.Replace(a.Headline, "If ", "and ", 1))
		a.More = append([]string{"All that follows counts on that."}, a.More...)
	}
	if l.Pattern.Name != "none" {
		a.More = append(a.More, misplacedSentence(l)...)
	}
	a.More = append(a.More, changesSentence(l)...)
	a.More = append(a.More, otherSentence(r)...)
	a.More = append(a.More, wantedSentences(l.Wanted)...)
	if n := doubtedSeams(l); n > 0 {
		a.More = append(a.More, "Of the lost seams, "+some(n, "may show after all: it is", "may show after all: they are")+" too near to the line to tell.")
	}
	if c.byColour > 0 {
		of := "Of the lost seams, " + say(c.byColour)
		if c.byColour == c.lost {
			of = "The lost " + noun(c.lost, "seam", "seams")
		}
		a.More = append(a.More, of+" still "+noun(c.byColour, "shows", "show")+
			" by colour, but that is not the same: colour goes when the light is low.")
	}
	if n := len(l.RedGreen); n > 0 {
		a.More = append(a.More, firstSome(n, "seam is", "seams are")+" there by colour alone, and not for those who see red and green weakly.")
	}
	var u []float64
	for _, p := range l.Patches {
		u = append(u, p.Apart)
	}
	if m := fit.Median(u); m >= unsure {
		a.More = append(a.More, fmt.Sprintf("The lightness of a patch beside the others is unsure by about %.0f either way.", m))
	}
	return a
}

// verbs are those of a verdict: as things are, or would be if the patches were found
// rightly.
type verbs bool

const would verbs = true

func verbsFor(l *layout.Layout) verbs { return verbs(!l.GridFound) }

// of is the verb that fits: is as things are, if as they would be.
func (v verbs) of(is, if_ string) string {
	if v == would {
		return if_
	}
	return is
}

// twoReadings is the headline where two patterns fit about equally: both
// verdicts in short.
func (v verbs) twoReadings(l *layout.Layout) string {
	first := &layout.Reading{Pattern: l.Pattern, Reads: l.Reads}
	for _, p := range l.Patches {
		if p.Misplaced {
			if len(first.Misplaced) == 0 {
				first.Reading = p.Reads
			}
			first.Misplaced = append(first.Misplaced, layout.Cell{p.Row, p.Col})
		}
	}
	return "If " + article(plain(l.Pattern.Name)) + " is meant, " + v.readingSays(first) +
		"; if " + article(plain(l.Other.Pattern.Name)) + ", " + v.readingSays(l.Other) + "."
}

// readingSays is a verdict in short: what hangs against the pattern, else how
// much reads.
func (v verbs) readingSays(o *layout.Reading) string {
	switch n := len(o.Misplaced); {
	case n == 1:
		return at(o.Misplaced[0]) + v.of(" is", " would be") + " wrong, for it hangs as " + article(string(o.Reading))
	case n > 1:
		return some(n, v.of("patch hangs", "patch would hang"), v.of("patches hang", "patches would hang")) + " against it"
	case o.Reads == nil:
		return "no seam " + v.of("is", "would be") + " meant to show"
	case *o.Reads >= readsAll:
		return "it " + v.of("reads", "would read")
	}
	return outOf(*o.Reads) + " of the seams that should show " + v.of("are", "would be") + " clear"
}

// otherSentence is what would put it right by the second pattern.
func otherSentence(r *analyze.Result) []string {
	o := r.Layout.Other
	if o == nil || len(o.Changes) == 0 && len(o.Wanted) == 0 {
		return nil
	}
	by := "As " + article(plain(o.Pattern.Name)) + ", "
	if len(o.Changes) > 0 {
		c := o.Changes[0]
		out := []string{by + "change this first: " + at(c.Patch) + ": " + plain(instead(c)) + "."}
		if f := stashed(r, c.Instead); f != nil && f.Uncertainty >= muchUnsure {
			out = append(out, apartSays(f))
		}
		return out
	}
	return []string{by + lower(wantedSays(o.Wanted[0]))}
}

// wantedSentences name the first two culprits that nothing at hand cures.
func wantedSentences(wanted []layout.Wanted) []string {
	var out []string
	for _, w := range wanted[:min(len(wanted), 2)] {
		out = append(out, wantedSays(w))
	}
	if n := len(wanted) - len(out); n > 0 {
		out = append(out, firstSome(n, "more patch wants", "more patches want")+" a cloth that is not at hand.")
	}
	return out
}

// doubtedSeams is how many lost seams of those that should show may show.
func doubtedSeams(l *layout.Layout) (n int) {
	for _, s := range l.Seams {
		if s.Verdict == layout.Lost && s.Meant == layout.Contrast && s.Sure > 0 && s.Sure < doubtedFrom {
			n++
		}
	}
	return n
}

func (v verbs) lead(reads float64, c shown, from string) string {
	reads = Finite(reads)
	it := "It " + v.of("reads ", "would read ")
	switch {
	case c.clear == c.all && reads >= readsAll:
		return it + from + ": every seam that should show " + v.of("does", "would")
	case reads >= readsMostly:
		return it + from
	case reads >= readsPartly:
		return "It " + v.of("mostly reads ", "would mostly read ") + from
	}
	return it + "only in part " + from
}

// hangsWrong says what is wrong with a misplaced patch.
func hangsWrong(p *layout.Patch) string {
	return fmt.Sprintf("%s hangs as %s where the pattern asks for %s.", Capital(at(layout.Cell{p.Row, p.Col})), article(string(p.Reads)), article(string(p.Meant)))
}

func misplacedSentence(l *layout.Layout) []string {
	var out []string
	var one *layout.Patch
	for i := range l.Patches {
		if p := &l.Patches[i]; p.Misplaced {
			out, one = append(out, at(layout.Cell{p.Row, p.Col})), p
		}
	}
	switch n := len(out); {
	case n == 0:
		return nil
	case n == 1:
		return []string{hangsWrong(one)}
	case n <= 3:
		return []string{Capital(List(out)) + " hang against the pattern."}
	}
	return []string{firstSome(len(out), "patch hangs", "patches hang") + " against the pattern."}
}

func changesSentence(l *layout.Layout) []string {
	n := len(l.Changes)
	if n == 0 {
		return nil
	}
	word, words := "change", "changes"
	if !slices.ContainsFunc(l.Changes, func(c layout.Change) bool { return c.With == nil && !strings.HasPrefix(c.Instead, "swap") }) {
		word, words = "swap", "swaps"
	}
	after := l.Changes[n-1].Reads
	switch {
	case after >= readsAll:
		return []string{firstSome(n, word, words) + " would put it right."}
	case l.Reads == nil:
		return []string{firstSome(n, word, words) + " would bring it to " + outOf(after) + " seams."}
	}
	return []string{firstSome(n, word, words) + " would bring it from " + figure(*l.Reads*100, 0) + " to " + outOf(after) + " seams."}
}

// joined are, for each patch, its neighbours behind seams of this verdict where a line
// is looked for.
func joined(l *layout.Layout, v layout.Verdict) map[layout.Cell][]layout.Cell {
	next := map[layout.Cell][]layout.Cell{}
	for _, s := range l.Seams {
		if s.Verdict == v && wantsToShow(l, s) {
			a, b := s.Between[0], s.Between[1]
			next[a], next[b] = append(next[a], b), append(next[b], a)
		}
	}
	return next
}

// clusters are the sets of patches that run into each other by seams of this
// verdict, largest first, then in reading order.
func clusters(l *layout.Layout, v layout.Verdict) [][]layout.Cell {
	next := joined(l, v)
	var out [][]layout.Cell
	seen := map[layout.Cell]bool{}
	for _, p := range l.Patches {
		start := layout.Cell{p.Row, p.Col}
		if seen[start] || len(next[start]) == 0 {
			continue
		}
		group := []layout.Cell{start}
		seen[start] = true
		for i := 0; i < len(group); i++ {
			for _, c := range next[group[i]] {
				if !seen[c] {
					seen[c] = true
					group = append(group, c)
				}
			}
		}
		out = append(out, group)
	}
	slices.SortStableFunc(out, func(a, b []layout.Cell) int { return len(b) - len(a) })
	return out
}

// place names where patches hang in a layout.
type place struct{ l *layout.Layout }

// but is what follows "It reads": where it does not.
func (p place) but(c shown, lost, soft [][]layout.Cell) string {
	switch {
	case c.lost == 0 && c.soft == 0:
		return ""
	case c.lost == 0:
		s := ", though " + some(c.soft, "seam is", "seams are") + " soft"
		if in := p.region(slices.Concat(soft...)); in != "" {
			s += " " + in
		}
		return s
	case len(lost) == 1:
		kind := "one place"
		if p.corner(lost[0]) != "" {
			kind = "one corner"
		}
		return ", but for " + kind + ": " + some(len(lost[0]), "patch", "patches") + " " + p.of(lost[0]) + " run together"
	case len(lost) == 2:
		return ", but for two places: " + some(len(lost[0]), "patch", "patches") + " " + p.of(lost[0]) +
			" and " + inWords(len(lost[1])) + " " + p.of(lost[1]) + " run together"
	}
	return ", but for " + inWords(len(lost)) + " places where patches run together" + p.mostly(lost)
}

// mostly says where more than half of the patches lie, if in one region.
func (p place) mostly(groups [][]layout.Cell) string {
	all := slices.Concat(groups...)
	if in := p.region(all); in != "" {
		return ", all of them " + in
	}
	var held []part
	tally := map[part]int{}
	for _, c := range all {
		x, y := p.thirds([]layout.Cell{c})
		for _, in := range parts(x, y) {
			if tally[in] == 0 {
				held = append(held, in)
			}
			tally[in]++
		}
	}
	// The smallest part that holds more than half of them.
	slices.SortStableFunc(held, func(a, b part) int { return a.ninths - b.ninths })
	for _, in := range held {
		if 2*tally[in] > len(all) {
			return ", most of them " + in.name
		}
	}
	return ""
}

// part is a part of a top, with how many ninths of it that is.
type part struct {
	name   string
	ninths int
}

// parts are the parts of the top that lie in these thirds, across and down, the
// smallest first: its corner or the middle, and the bands along the sides. A third
// under 0 is not known.
func parts(x, y int) (out []part) {
	side := [3]string{"left", "", "right"}
	switch {
	case x == 1 && y == 1:
		return []part{{"in the middle", 1}}
	case x >= 0 && y >= 0 && x != 1 && y != 1:
		out = append(out, part{"in the " + [3]string{"top", "", "bottom"}[y] + " " + side[x] + " corner", 1})
	}
	if y == 0 || y == 2 {
		out = append(out, part{"in the " + [3]string{"upper", "", "lower"}[y] + " third", 3})
	}
	if x == 0 || x == 2 {
		out = append(out, part{"in the " + side[x] + "-hand third", 3})
	}
	return out
}

// of names a set of patches as closely as it can: a row, a column, a region.
func (p place) of(cells []layout.Cell) string {
	row, col := cells[0][0], cells[0][1]
	oneRow, oneCol := true, true
	for _, c := range cells {
		oneRow, oneCol = oneRow && c[0] == row, oneCol && c[1] == col
	}
	if p.l.Setting != layout.OnPoint { // rows on point are diagonals, which have no top or bottom
		switch {
		case oneRow && row == 1 && p.l.Rows > 1:
			return "in the top row"
		case oneRow && row == p.l.Rows && p.l.Rows > 1:
			return "in the bottom row"
		case oneCol && col == 1 && p.l.Cols > 1:
			return "in the left-hand column"
		case oneCol && col == p.l.Cols && p.l.Cols > 1:
			return "in the right-hand column"
		}
	}
	switch {
	case oneRow:
		return fmt.Sprintf("in row %d", row)
	case oneCol:
		return fmt.Sprintf("in column %d", col)
	}
	if in := p.corner(cells); in != "" {
		return in
	}
	if p.l.Setting != layout.OnPoint {
		for k, word := range []string{"rows", "columns"} {
			lo, hi := cells[0][k], cells[0][k]
			for _, c := range cells {
				lo, hi = min(lo, c[k]), max(hi, c[k])
			}
			if hi == lo+1 {
				return fmt.Sprintf("in %s %d and %d", word, lo, hi)
			}
		}
	}
	if in := p.region(cells); in != "" {
		return in
	}
	return "between " + at(cells[0]) + " and " + at(cells[len(cells)-1])
}

// thirds says in which third of the top, across and down, all the cells lie:
// 0, 1, 2, or -1 where they lie in several. A top of fewer than three rows or
// columns has no thirds.
func (p place) thirds(cells []layout.Cell) (across, down int) {
	if len(cells) == 0 {
		return -1, -1
	}
	for i, c := range cells {
		x, y, ok := p.middle(c)
		ax, dy := int(min(x*3, 2)), int(min(y*3, 2))
		if !ok {
			return -1, -1
		}
		if i == 0 {
			across, down = ax, dy
		}
		if ax != across {
			across = -1
		}
		if dy != down {
			down = -1
		}
	}
	return across, down
}

// middle is where a patch's middle lies in the top, 0..1 across and down.
func (p place) middle(c layout.Cell) (x, y float64, ok bool) {
	if p.l.Rows < 3 || p.l.Cols < 3 {
		return 0, 0, false
	}
	if p.l.Setting != layout.OnPoint {
		return (float64(c[1]) - .5) / float64(p.l.Cols), (float64(c[0]) - .5) / float64(p.l.Rows), true
	}
	// On point, by the outlines within the box round the whole top: near
	// enough to tell thirds, even in a photo that leans.
	lo, hi := [2]float64{math.Inf(1), math.Inf(1)}, [2]float64{math.Inf(-1), math.Inf(-1)}
	var mid [2]float64
	for _, q := range p.l.Patches {
		for k := range 2 {
			sum := 0.
			for _, pt := range q.Outline {
				lo[k], hi[k] = min(lo[k], pt[k]), max(hi[k], pt[k])
				sum += pt[k]
			}
			if q.Row == c[0] && q.Col == c[1] && len(q.Outline) > 0 {
				mid[k], ok = sum/float64(len(q.Outline)), true
			}
		}
	}
	if !ok || !(hi[0] > lo[0]) || !(hi[1] > lo[1]) {
		return 0, 0, false
	}
	return (mid[0] - lo[0]) / (hi[0] - lo[0]), (mid[1] - lo[1]) / (hi[1] - lo[1]), true
}

// corner is the corner that the cells lie in, "" if in none.
func (p place) corner(cells []layout.Cell) string {
	if x, y := p.thirds(cells); x >= 0 && y >= 0 && x != 1 && y != 1 {
		return parts(x, y)[0].name
	}
	return ""
}

// region is the part of the top that the cells lie in, "" if in several.
func (p place) region(cells []layout.Cell) string {
	if in := parts(p.thirds(cells)); len(in) > 0 {
		return in[0].name
	}
	return ""
}

// A colour leads a print from this share; below, the first two are named.
const leads = .4

func borderAnswer(r *analyze.Result) Answer {
	a := Answer{Question: "What goes in the middle?"}
	b := r.Border
	n := len(b.Palette)
	switch {
	case n == 0:
		a.Headline = "No colours could be drawn from this print."
		return a
	case n == 1:
		a.Headline = "One colour only: " + ColourName(b.Palette[0].Name) + "."
	case b.Palette[0].Share >= leads:
		a.Headline = "Mostly " + ColourName(b.Palette[0].Name) + ", with " + inWords(n) + " colours in all."
	default:
		a.Headline = Capital(ColourName(b.Palette[0].Name)) + " and " + ColourName(b.Palette[1].Name) + " lead, with " + inWords(n) + " colours in all."
	}
	if len(b.Stash) == 0 {
		a.More = append(a.More, "Give photos of your cloths with --stash to see which of them belong.")
		return a
	}
	if b.Choice != nil {
		var names []string
		for _, f := range b.Choice.Fabrics {
			names = append(names, f.ID)
		}
		a.More = append([]string{a.Headline}, a.More...)
		verb := noun(len(names), " goes in the middle.", " go in the middle, from light to dark.")
		a.Headline = Capital(numbers(names)) + verb
		if u := chosenUnsure(b); u >= anotherPile { // a doubt stands beside the claim it weakens
			a.Headline = "If the photos tell rightly how light they are, which is not sure, " + lower(a.Headline)
			a.More = append([]string{"Against the print the lightness of these cloths is unsure by about " + figure(u, 0) +
				" either way: hold them to it before you choose."}, a.More...)
		}
	}
	a.More = append(a.More, belongSentence(len(belonging(r)), max(b.StashSize, len(b.Stash)-len(doubtful(b.Stash))), missing(r)))
	if apart := footings(b.Stash); apart > 1 {
		a.More = append(a.More, "The photos of the cloths fall into "+some(apart, "set", "sets")+" whose light cannot be compared, so take the nearness with care.")
	}
	if b.Choice == nil {
		a.More = append(a.More, "No handful of them goes with the print from light to dark.")
	}
	return a
}

// anotherPile is the half interval of L* from which on a cloth may as well be of
// another pile: as much as a clear seam has.
const anotherPile = layout.DefaultSoft

// chosenUnsure is how unsure the lightness of the chosen cloths is against the print:
// the middle one of their half intervals.
func chosenUnsure(b *border.Border) float64 {
	var u []float64
	for _, c := range b.Choice.Fabrics {
		if i := slices.IndexFunc(b.Stash, func(f piles.Fabric) bool { return f.ID == c.ID }); i >= 0 {
			u = append(u, b.Stash[i].Uncertainty)
		}
	}
	return fit.Median(u)
}

// missing are what the stash lacks, in words.
func missing(r *analyze.Result) []string {
	var out []string
	for _, m := range r.Border.Missing {
		if s := strings.TrimRight(strings.TrimSpace(ColourName(m.Say)), "."); s != "" {
			out = append(out, s)
		}
	}
	return out
}

// belonging are the ids of the cloths within sameFamily of a colour of the
// print, in the order of the stash.
func belonging(r *analyze.Result) []string {
	near := map[string]bool{}
	for _, m := range r.Border.Matches {
		for _, f := range m.Fabrics {
			if f.DeltaE <= sameFamily {
				near[f.ID] = true
			}
		}
	}
	var out []string
	for _, f := range r.Border.Stash {
		if near[f.ID] {
			out = append(out, f.ID)
		}
	}
	return out
}

func belongSentence(n, of int, lacks []string) string {
	var s string
	switch {
	case n == 0:
		s = "None of your cloths belongs"
	case n == of && n == 1:
		s = "Your one cloth belongs"
	case n == of:
		s = "All " + inWords(n) + " of your cloths belong"
	case n == 1:
		s = "One of your cloths belongs"
	default:
		s = first(n) + " of your cloths belong"
	}
	switch {
	case len(lacks) == 0:
		return s + "."
	case len(lacks) == 1 && strings.HasPrefix(lacks[0], "nothing "):
		return s + ", and there is " + lacks[0] + "."
	case len(lacks) == 1:
		return s + "; " + lacks[0] + "."
	}
	return s + "; for " + some(len(lacks), "colour", "colours") + " of the print you have nothing near."
}
