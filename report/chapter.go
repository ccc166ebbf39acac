package report

import (
	"iter"
	"math"
	"slices"
	"strings"

	"greige/analyze"
	"greige/analyze/light"
)

// chapter is the answer of one run, as the template lays it out.
type chapter struct {
	ID     string // "sort", "layout", "border", "stash", "plan": also what its ids begin with
	Name   string
	Answer Answer
	// What was made of the photos, and what to give: what asks for something
	// first. MoreNotes are folded away.
	Notes, MoreNotes []noteGroup
	Skipped          []skippedPhoto
	Sort             *sortView
	Layout           *layoutView
	Border           *borderView
	Stash            *stashView
	Plan             *planView
	Next             []string
	Light            []lightGroup
	Tips             []string
	Tables           []table
	Cautions         []string
}

type skippedPhoto struct{ Photo, Reason, Hint string }

// lightGroup is what was done about the light, said once for all photos that
// it holds for.
type lightGroup struct {
	Photos []string
	More   int // photos beyond those named
	Says   []string
}

// noteGroup is a note, said once for all the photos that it holds for.
type noteGroup struct {
	Photos []string
	More   int // photos beyond those named
	Says   string
}

// text is the note behind the names of its photos.
func (g noteGroup) text() string {
	if len(g.Photos) == 0 {
		return g.Says
	}
	names := slices.Clone(g.Photos)
	if g.More > 0 {
		names = append(names, inWords(g.More)+" more")
	}
	return List(names) + ": " + g.Says
}

const notesShown = 2

func groupNotes(r *analyze.Result) []noteGroup {
	var groups []noteGroup
	at := map[string]int{}
	for _, n := range notes(r) {
		photo := ""
		for _, l := range r.Light {
			if says, ok := strings.CutPrefix(n, Capital(plain(l.Photo))+": "); ok {
				photo, n = fileName(l.Photo), sentence(says)
				break
			}
		}
		i, ok := at[n]
		if !ok {
			i = len(groups)
			at[n] = i
			groups = append(groups, noteGroup{Says: n})
		}
		switch g := &groups[i]; {
		case photo == "":
		case len(g.Photos) < photosNamed:
			g.Photos = append(g.Photos, photo)
		default:
			g.More++
		}
	}
	asks := func(g noteGroup) bool { return strings.Contains(g.Says, "--") }
	slices.SortStableFunc(groups, func(a, b noteGroup) int {
		switch {
		case asks(a) == asks(b):
			return 0
		case asks(a):
			return -1
		}
		return 1
	})
	return groups
}

func chapterOf(r *analyze.Result) (*chapter, *chipBook) {
	c := &chapter{Answer: AnswerOf(r)}
	book := &chipBook{}
	switch {
	case r.Sort != nil:
		c.ID, c.Name = "sort", "The scraps"
	case r.Layout != nil:
		c.ID, c.Name = "layout", "The top"
	case r.Border != nil:
		c.ID, c.Name = "border", "The border print"
	case r.Kept != nil:
		c.ID, c.Name = "stash", "The stash"
	case r.Plan != nil:
		c.ID, c.Name = "plan", "The plan"
	default:
		return nil, nil
	}
	book.prefix, book.cuts = c.ID+"-c", cutsOf(r)
	c.Notes = groupNotes(r)
	if len(c.Notes) > notesShown+1 {
		c.Notes, c.MoreNotes = c.Notes[:notesShown], c.Notes[notesShown:]
	}
	for _, s := range r.Skipped {
		c.Skipped = append(c.Skipped, skippedPhoto{plain(s.Photo), sentence(plain(s.Reason)), sentence(plain(s.Hint))})
	}
	c.Light, c.Tips = lightWords(r)
	switch {
	case r.Sort != nil:
		c.sorted(r, book)
	case r.Layout != nil:
		c.laid(r, book)
	case r.Border != nil:
		c.bordered(r, book)
	case r.Kept != nil:
		c.kept(r, book)
	case r.Plan != nil:
		c.planned(r, book)
	}
	if len(r.Light) > 0 || r.Kept == nil {
		c.Tables = append(c.Tables, lightTable(r))
	}
	c.Cautions = cautions(r)
	return c, book
}

const photosNamed = 4

// clippedTold is the share of a photo from which on it is said to be clipped: a
// hundredth, the least that the table of the light shows as a whole figure.
const clippedTold = .01

// clippedSays is how much of the photos is clipped, those of which it is told.
func clippedSays(records []light.Record) string {
	n, most := 0, 0.
	for _, rec := range records {
		if rec.Clipped >= clippedTold {
			n, most = n+1, max(most, rec.Clipped)
		}
	}
	if n > 1 {
		return "Up to " + percent(most) + " of each is blown out or black: nothing can be measured there."
	}
	return Capital(percent(most)) + " of it is blown out or black: nothing can be measured there."
}

// lightWords are what was done about the light, said once for all photos that it
// holds for, and what to do better next time.
func lightWords(r *analyze.Result) (groups []lightGroup, tips []string) {
	at := map[string]int{}
	add := func(photo string, says ...string) {
		key := strings.Join(says, "\n")
		i, ok := at[key]
		if !ok {
			i = len(groups)
			at[key] = i
			groups = append(groups, lightGroup{Says: says})
		}
		if g := &groups[i]; len(g.Photos) < photosNamed {
			g.Photos = append(g.Photos, fileName(photo))
		} else {
			g.More++
		}
	}
	for _, rec := range r.Light {
		var says []string
		if note := sentence(plain(rec.Note)); note != "" {
			says = append(says, note)
		}
		if len(r.Light) == 1 && rec.Clipped >= clippedTold {
			says = append(says, clippedSays(r.Light))
		}
		if tip := sentence(plain(rec.Advice)); tip != "" && !slices.Contains(tips, tip) {
			tips = append(tips, tip)
		}
		if len(says) > 0 {
			add(rec.Photo, says...)
		}
	}
	if len(r.Light) > 1 { // how much is clipped differs from photo to photo, so it is said apart
		says := clippedSays(r.Light)
		for _, rec := range r.Light {
			if rec.Clipped >= clippedTold {
				add(rec.Photo, says)
			}
		}
	}
	if len(tips) == 0 && len(r.Light) > 0 {
		hold := "Hold the phone flat above the cloth."
		if r.Layout != nil {
			hold = "Stand straight before the middle of the top."
		}
		tips = []string{"Turn off the flash and the ceiling lamp, and work by a window without sun. " + hold,
			"Put a sheet of plain white paper in the photo, in the same light as the cloth."}
	}
	if whiteUsed(r) { // what is there already is not asked for
		tips = slices.DeleteFunc(tips, func(s string) bool { return strings.Contains(s, "white paper") })
	}
	return groups, tips
}

// whiteUsed: in each photo a paper, a card or a white sheet was found or given
// and used.
func whiteUsed(r *analyze.Result) bool {
	for _, l := range r.Light {
		if !strings.Contains(l.Method, "paper") && !strings.Contains(l.Method, "card") && !strings.Contains(l.Method, "sheet") {
			return false
		}
	}
	return len(r.Light) > 0
}

// cautions are those of the trade that apply.
func cautions(r *analyze.Result) []string {
	out := []string{
		"Screens and printers differ. Judge by daylight before you cut.",
		"A photo can rank and compare cloths. It is no measuring instrument: another lamp can part two cloths that match here, and very white cloth may look lighter than it is.",
	}
	// Whatever the answer is, cutting and sewing come next.
	if r.Sort != nil || r.Layout != nil || r.Border != nil || r.Plan != nil {
		out = append(out, "Cloth once cut is gone: check the count before the first cut.",
			"Rotary blades and hot irons hurt. Follow the makers' instructions.",
			"For a baby's quilt, leave no small parts or loose threads, and follow your local product-safety rules.")
	}
	if r.Plan != nil {
		out = append(out, "Your own seam is what counts: cut and sew one block first, and measure it.",
			"Rulers of two makers may differ by a thread: cut all of it with one.")
	}
	return out
}

// table is a real table of figures.
type table struct {
	ID, Name, Caption string
	Heads             []head
	Rows              []row
	// A table of many rows has none, but makes each as it is written: this gives them,
	// of which there are Count.
	Each  iter.Seq[row]
	Count int
}

// Len is how many rows it has.
func (t table) Len() int { return len(t.Rows) + t.Count }

// All are its rows, whose cells are numbers where their column's head says so.
func (t table) All() iter.Seq[row] {
	rows := t.Each
	if rows == nil {
		rows = slices.Values(t.Rows)
	}
	return func(give func(row) bool) {
		rows(func(r row) bool {
			for i := range r.Cells {
				r.Cells[i].Number = t.Heads[i].Number
			}
			return give(r)
		})
	}
}

type head struct {
	Text   string
	Number bool
}

type row struct {
	Piece string
	Cells []cell
}

// First is the cell that heads a row.
func (r row) First() cell { return r.Cells[0] }

// Rest are the cells after that.
func (r row) Rest() []cell { return r.Cells[1:] }

type cell struct {
	Text   string
	Chip   chipRef
	Number bool // as its column's head says
}

func cells(text ...string) []cell {
	out := make([]cell, len(text))
	for i, s := range text {
		out[i] = cell{Text: s}
	}
	return out
}

func lightTable(r *analyze.Result) table {
	t := table{Name: "light", Caption: "The light, photo by photo",
		Heads: []head{{"Photo", false}, {"Evened out by", false}, {"Colour taken out (red, green, blue)", false}, {"Brightest to dimmest", true}, {"Blown out or black", true}}}
	for _, l := range r.Light {
		var cast []string
		for _, v := range l.Cast {
			cast = append(cast, figure(v, 3))
		}
		uneven := ""
		if l.Unevenness > 0 {
			uneven = figure(l.Unevenness, 2)
		}
		t.Rows = append(t.Rows, row{Cells: cells(plain(l.Photo), plain(l.Method), strings.Join(cast, " "), uneven, figure(l.Clipped*100, 1)+" %")})
	}
	return t
}

// viewing says how far away the viewer was taken to stand, and how wide the
// scene.
func viewing(r *analyze.Result) string {
	if r.Distance <= 0 {
		return ""
	}
	s := "Judged as seen from " + metres(r.Distance)
	switch {
	case r.WidthAssumed:
		s += ", taking a patch or a scrap to be 5\u00a0cm wide, as no width was given (--width)"
	case r.WidthCM > 0:
		s += ", the scene being " + figure(r.WidthCM, 0) + "\u00a0cm wide"
	}
	return s + "."
}

// straddles are the cuts that a cloth of this lightness could fall on either
// side of: the nearest one.
func straddles(lightness float64, cuts []float64) []float64 {
	if len(cuts) == 0 {
		return nil
	}
	near := cuts[0]
	for _, c := range cuts {
		if math.Abs(c-lightness) < math.Abs(near-lightness) {
			near = c
		}
	}
	return []float64{near}
}
