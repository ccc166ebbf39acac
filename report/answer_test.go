package report

import (
	"fmt"
	"math"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"greige/analyze"
	"greige/analyze/border"
	"greige/analyze/cloth"
	"greige/analyze/layout"
	"greige/analyze/photo"
	"greige/analyze/piles"
	"greige/colorspace"
)

// sorted is a sort of cloths of the given lightness, cut where told.
func sorted(cuts []float64, lightness ...float64) *analyze.Result {
	s := &piles.Sorted{Cuts: cuts}
	for i, l := range lightness {
		s.Fabrics = append(s.Fabrics, piles.Fabric{ID: strconv.Itoa(i + 1), Photo: "table.jpg", Group: 1,
			Cloth: cloth.Cloth{Lab: lab(l, 0, 0), Lightness: l, Uncertainty: 1.5}})
	}
	switch len(cuts) {
	case 0:
		for i := range s.Fabrics {
			s.Fabrics[i].Rank, s.Fabrics[i].Pile = i+1, piles.Light
			s.Piles.Light = append(s.Piles.Light, s.Fabrics[i].ID)
		}
	case 1:
		s.Cuts = []float64{cuts[0], cuts[0]}
		rankAndCut(s)
		s.Cuts = cuts
		s.Piles.Medium = nil
	default:
		rankAndCut(s)
	}
	return &analyze.Result{Command: "sort", Sort: s}
}

func TestSortAnswer(t *testing.T) {
	many := make([]float64, 128)
	for i := range many {
		many[i] = 90
		if i >= 100 {
			many[i] = 20
		}
	}
	for _, c := range []struct {
		name     string
		result   *analyze.Result
		headline string
	}{
		{"twenty-three, the number of pieces on the card", sorted([]float64{65, 35},
			80, 81, 82, 83, 84, 85, 86, 87, 50, 51, 52, 53, 54, 55, 56, 57, 58, 20, 21, 22, 23, 24, 25),
			"Twenty-three cloths: eight lights, nine mediums, six darks."},
		{"numbers of one sentence written one way", sorted([]float64{65, 35}, append(append(repeated(80, 19), repeated(50, 27)...), repeated(20, 14)...)...),
			"60 cloths: 19 lights, 27 mediums, 14 darks."},
		{"one of each", sorted([]float64{65, 35}, 80, 50, 20), "Three cloths: one light, one medium, one dark."},
		{"two piles", sorted([]float64{50}, 80, 70, 20), "Three cloths: two lights, one dark."},
		{"more than words are for", sorted([]float64{50}, many...), "128 cloths: 100 lights, 28 darks."},
		{"none", sorted(nil), "No cloth could be measured."},
		{"one", sorted(nil, 40), "One cloth: by itself it is neither a light nor a dark."},
		{"all alike", sorted(nil, 40, 40, 40), "Three cloths, too much alike to make piles of."},
	} {
		t.Run(c.name, func(t *testing.T) {
			assert.Equal(t, c.headline, AnswerOf(c.result).Headline)
		})
	}
}

func repeated(v float64, n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = v
	}
	return out
}

func TestSwinging(t *testing.T) {
	say := func(swing ...int) []string {
		r := sorted([]float64{65, 35}, 80, 50, 20, 81, 51, 21, 82, 52, 22, 83)
		for _, i := range swing {
			swing := true
			r.Sort.Fabrics[i].Swing = &swing
		}
		return AnswerOf(r).More
	}
	assert.Empty(t, say())
	assert.Equal(t, []string{"Number 5 could go either way."}, say(4))
	assert.Equal(t, []string{"Numbers 4 and 7 could go either way."}, say(6, 3), "in the order of the numbers")
	assert.Equal(t, []string{"Numbers 1, 2 and 3 could go either way."}, say(0, 1, 2))
	assert.Equal(t, []string{"Seven of them could go either way: 1, 2, 3, 4, 5 and two more."}, say(0, 1, 2, 3, 4, 5, 6))
	assert.Equal(t, []string{"Any of them could go either way."}, say(0, 1, 2, 3, 4, 5, 6, 7, 8, 9))
}

func TestSortThatCannotBeCompared(t *testing.T) {
	r := sorted([]float64{65, 35}, 80, 50, 20)
	for i := range r.Sort.Fabrics {
		r.Sort.Fabrics[i].Group = i + 1 // every photo by itself
	}
	r.Sort = piles.Sort(r.Sort.Fabrics, 3)
	a := AnswerOf(r)
	assert.Equal(t, "Three cloths were measured, but they cannot be compared with each other.", a.Headline)
	assert.Contains(t, a.More[0], "how bright the light was")
	page := pageOf(t, r)
	assert.NotContains(t, page, `class="line`, "no value line: it would place them")
	assert.Contains(t, page, "a single photo", "what to do instead")
	// No pile stands under a headline that says there can be none.
	assert.Contains(t, page, `<h3 id="sort-piles">The cloths</h3>`)
	assert.NotRegexp(t, `<td[^>]*>(<bdi>)?(light|medium|dark)\b`, page)
	assert.NotRegexp(t, `(?m)^ *\d.*\b(light|medium|dark|swings)\b`, terminalText(t, r, TerminalOptions{}))
	assert.NotContains(t, Describe(&r.Sort.Fabrics[0], r.Sort), "In the lights")

	r = sorted([]float64{65, 35}, 80, 50, 20)
	r.Sort.Fabrics[2].Group = 2
	assert.Contains(t, AnswerOf(r).More, "The photos fall into two sets whose light cannot be compared: trust the order within a set only.")
}

func TestUnsureFiguresAreSaidToBe(t *testing.T) {
	r := sorted([]float64{65, 35}, 80, 50, 20)
	for i := range r.Sort.Fabrics {
		r.Sort.Fabrics[i].Uncertainty, r.Sort.Fabrics[i].Apart = 11.1, 7.2
	}
	said := "Cloths nearer to each other than about %d in lightness are too close to rank: take them as equal."
	r.Sort.TooClose = 4.4
	assert.NotContains(t, AnswerOf(r).More, fmt.Sprintf(said, 4), "as sure as can be")
	r.Sort.TooClose = 7.2
	assert.Contains(t, AnswerOf(r).More, fmt.Sprintf(said, 7))
	r.Skipped = []photo.Skipped{{Photo: "a.jpg", Reason: "it is empty"}}
	assert.Contains(t, AnswerOf(r).More, "One photo was left out, for the reason that is given.")
}

func TestDoubtfulPiecesAreInNoCount(t *testing.T) {
	r := sorted([]float64{65, 35}, 80, 50, 20)
	r.Sort.Fabrics = append(r.Sort.Fabrics, piles.Fabric{ID: "4", Doubtful: true, Group: 1})
	a := AnswerOf(r)
	assert.Equal(t, "Three cloths: one light, one medium, one dark.", a.Headline)
	assert.Contains(t, a.More, "And one thing that is probably no cloth, number 4: it is in no pile.")
}

func TestTieRuns(t *testing.T) {
	f := func(id string, ties ...string) piles.Fabric { return piles.Fabric{ID: id, TiedWith: ties} }
	assert.Equal(t, [][]string{{"a", "b", "c"}, {"e", "f"}},
		tieRuns([]piles.Fabric{f("a", "b"), f("b", "a", "c"), f("c", "b"), f("d"), f("e", "f"), f("f", "e")}))
}

// Cloths of which each is tied to the next can be ranked by their ends, and are
// not called too close to rank all together.
func TestChainsOfTies(t *testing.T) {
	f := func(id string, ties ...string) piles.Fabric { return piles.Fabric{ID: id, TiedWith: ties} }
	says := func(cloths ...piles.Fabric) []string {
		var ids []string
		k := newCloths()
		for i := range cloths {
			ids, k.byID[cloths[i].ID] = append(ids, cloths[i].ID), &cloths[i]
		}
		return pileSays(ids, k, cloths)
	}
	assert.Equal(t, []string{"Too close to rank: 1, 2 and 3."}, says(f("1", "2", "3"), f("2", "1", "3"), f("3", "1", "2")))
	assert.Equal(t, []string{"Each is too close to its neighbour to rank, from light to dark: 1, 2 and 3."}, says(f("1", "2"), f("2", "1", "3"), f("3", "2")))
}

func share(v float64) *float64 { return &v }

// laidOut is a checkerboard of rows x cols in which every seam is clear but
// the ones given.
func laidOut(rows, cols int, lost ...[2]layout.Cell) *analyze.Result {
	l := &layout.Layout{Rows: rows, Cols: cols, Setting: layout.Straight, GridFound: true, Pattern: layout.Pattern{Name: "two by two"}}
	isLost := func(a, b layout.Cell) bool {
		for _, s := range lost {
			if s == [2]layout.Cell{a, b} || s == [2]layout.Cell{b, a} {
				return true
			}
		}
		return false
	}
	clear := 0
	for row := 1; row <= rows; row++ {
		for col := 1; col <= cols; col++ {
			role, value := layout.Light, 80.
			if (row+col)%2 == 1 {
				role, value = layout.Dark, 25
			}
			l.Patches = append(l.Patches, layout.Patch{Row: row, Col: col, Reads: role, Meant: role, Fabric: 1 + (row+col)%2,
				Cloth: cloth.Cloth{Lab: lab(value, 0, 0), Lightness: value, Uncertainty: 1}})
			for _, d := range [][2]int{{0, 1}, {1, 0}} {
				b := layout.Cell{row + d[0], col + d[1]}
				if b[0] > rows || b[1] > cols {
					continue
				}
				s := layout.Seam{Between: [2]layout.Cell{{row, col}, b}, Verdict: layout.Clear, Meant: layout.Contrast, OK: true, DeltaL: 55, Clarity: 9}
				if isLost(s.Between[0], b) {
					s.Verdict, s.OK, s.DeltaL = layout.Lost, false, 3
				} else {
					clear++
				}
				l.Seams = append(l.Seams, s)
			}
		}
	}
	if len(l.Seams) > 0 {
		l.Reads = share(float64(clear) / float64(len(l.Seams)))
	}
	return &analyze.Result{Command: "layout", Layout: l, Distance: 2.5}
}

func seam(r1, c1, r2, c2 int) [2]layout.Cell { return [2]layout.Cell{{r1, c1}, {r2, c2}} }

func TestLayoutAnswer(t *testing.T) {
	headline := func(r *analyze.Result) string { return AnswerOf(r).Headline }
	assert.Equal(t, "It reads from across the room: every seam that should show does.", headline(laidOut(9, 9)))
	assert.Equal(t, "It reads from across the room, but for one corner: three patches in the bottom row run together.",
		headline(laidOut(9, 9, seam(9, 1, 9, 2), seam(9, 2, 9, 3))))
	assert.Equal(t, "It reads from across the room, but for one place: two patches in row 5 run together.",
		headline(laidOut(9, 9, seam(5, 4, 5, 5))))
	assert.Equal(t, "It reads from across the room, but for two places: three patches in the top left corner and two in the right-hand column run together.",
		headline(laidOut(9, 9, seam(1, 1, 1, 2), seam(1, 1, 2, 1), seam(5, 9, 6, 9))))
	assert.Equal(t, "It reads from across the room, but for four places where patches run together, most of them in the upper third.",
		headline(laidOut(9, 9, seam(1, 1, 1, 2), seam(2, 4, 2, 5), seam(3, 8, 3, 9), seam(9, 8, 9, 9))))

	assert.Equal(t, "It reads from across the room, but for one place: three patches in rows 4 and 5 run together.",
		headline(laidOut(9, 9, seam(4, 5, 4, 6), seam(4, 5, 5, 5))))

	r := laidOut(9, 9)
	r.Layout.Seams[0].Verdict = layout.Soft
	r.Layout.Reads = share(143. / 144)
	assert.Equal(t, "It reads from across the room, though one seam is soft in the top left corner.", headline(r))

	r = laidOut(2, 2, seam(1, 1, 1, 2), seam(1, 1, 2, 1), seam(2, 1, 2, 2))
	assert.Equal(t, "It does not read from across the room yet: of four seams that should show, one does.", headline(r))
	r.Distance = 8
	assert.Equal(t, "It does not read from 8\u00a0metres yet: of four seams that should show, one does.", headline(r))
	r.Layout.Reads = share(math.NaN())
	assert.NotPanics(t, func() { AnswerOf(r) })

	assert.Equal(t, "No patches could be found in this photo.", headline(&analyze.Result{Layout: &layout.Layout{}}))
}

func TestLayoutWithoutARepeat(t *testing.T) {
	r := laidOut(3, 3, seam(1, 1, 1, 2))
	r.Layout.Pattern = layout.Pattern{Name: "none"}
	for i := range r.Layout.Seams {
		r.Layout.Seams[i].Meant = layout.Either
		r.Layout.Seams[i].OK = true
	}
	a := AnswerOf(r)
	assert.Equal(t, "Its lights and darks make no repeat, so no patch can be called out of place.", a.Headline)
	assert.Contains(t, a.More, "From across the room one seam is lost, of twelve.")
}

func TestLayoutOnPointHasNoTopRow(t *testing.T) {
	// A row on point is a diagonal: places are told by the outlines.
	l := &layout.Layout{Rows: 5, Cols: 5, GridFound: true, Setting: layout.OnPoint, Pattern: layout.Pattern{Name: "two by two"}}
	for row := 1; row <= 5; row++ {
		for col := 1; col <= 5; col++ {
			x, y := float64(row+col), float64(row-col)
			l.Patches = append(l.Patches, layout.Patch{Row: row, Col: col, Outline: [][2]float64{{x, y - 1}, {x + 1, y}, {x, y + 1}, {x - 1, y}}})
		}
	}
	l.Reads = share(.95)
	l.Seams = []layout.Seam{{Between: seam(1, 5, 2, 5), Verdict: layout.Lost, Meant: layout.Contrast}}
	a := AnswerOf(&analyze.Result{Layout: l})
	assert.Equal(t, "It reads from across the room, but for one place: two patches in column 5 run together.", a.Headline)
	v := &layoutView{}
	v.find(l)
	assert.Equal(t, []string{"Row 1, patch 5 runs into its lower right neighbour."}, v.Findings)
}

func TestMisplacedPatchesAndChanges(t *testing.T) {
	r := laidOut(9, 9)
	mis := func(row, col int) *layout.Patch {
		p := &r.Layout.Patches[(row-1)*9+col-1]
		p.Misplaced = true
		return p
	}
	mis(3, 5).Reads = layout.Dark
	assert.Equal(t, []string{"Row 3, patch 5 hangs as a dark where the pattern asks for a light."}, AnswerOf(r).More)
	mis(7, 2)
	r.Layout.Reads = share(.93)
	r.Layout.Changes = []layout.Change{{Patch: layout.Cell{3, 5}, With: &layout.Cell{7, 2}, Instead: "swap with [7,2]", Reads: .98}}
	assert.Equal(t, []string{"Row 3, patch 5 and row 7, patch 2 hang against the pattern.", "One swap would bring it from 93 to 98 in a hundred seams."}, AnswerOf(r).More)
	r.Layout.Changes[0].Reads = 1
	assert.Contains(t, AnswerOf(r).More, "One swap would put it right.")
	r.Layout.Changes = append(r.Layout.Changes, layout.Change{Patch: layout.Cell{1, 1}, Instead: "12", Reads: 1})
	assert.Contains(t, AnswerOf(r).More, "Two changes would put it right.")
	assert.Equal(t, "hang number 12 instead", instead(r.Layout.Changes[1]))
	assert.Equal(t, "swap with row 7, patch 2", instead(r.Layout.Changes[0]))
}

func TestColourAloneIsNotTheSame(t *testing.T) {
	r := laidOut(9, 9, seam(5, 4, 5, 5))
	for i := range r.Layout.Seams {
		r.Layout.Seams[i].ColourAlone = r.Layout.Seams[i].Verdict == layout.Lost
	}
	assert.Contains(t, AnswerOf(r).More, "The lost seam still shows by colour, but that is not the same: colour goes when the light is low.")

	// Counts of seams that stand beside each other are written one way.
	r = laidOut(9, 9, seam(5, 4, 5, 5), seam(2, 2, 2, 3))
	r.Layout.Pattern = layout.Pattern{Name: "none"}
	for i := range r.Layout.Seams {
		s := &r.Layout.Seams[i]
		s.Meant = layout.Either
		s.ColourAlone = s.Verdict == layout.Lost && s.Between[0] == (layout.Cell{5, 4})
	}
	assert.Contains(t, AnswerOf(r).More, "From across the room 2 seams are lost, of 144.")
	assert.Contains(t, AnswerOf(r).More, "Of the lost seams, 1 still shows by colour, but that is not the same: colour goes when the light is low.")
}

// printOf is a print of the colours given, with a stash of three.
func printOf(names []string, shares ...float64) *analyze.Result {
	b := &border.Border{}
	for i, n := range names {
		b.Palette = append(b.Palette, border.Colour{Colour: cloth.Colour{Name: n, Share: shares[i], Lab: colorspace.Lab{L: 30}}})
	}
	for _, id := range []string{"1", "2", "3"} {
		b.Stash = append(b.Stash, piles.Fabric{ID: id, Rank: 1, Group: 1})
	}
	b.Choice = &border.Choice{Fabrics: []border.Chosen{{ID: "1"}, {ID: "2"}}}
	return &analyze.Result{Command: "border", Border: b}
}

func TestBorderAnswer(t *testing.T) {
	r := printOf([]string{"deep purple", "pale pink", "moderate green"}, .6, .3, .1)
	r.Border.Matches = []border.Match{
		{Colour: 0, Fabrics: []border.Near{{ID: "1", DeltaE: 3}, {ID: "2", DeltaE: 11}, {ID: "3", DeltaE: 30}}},
		{Colour: 1, Fabrics: []border.Near{{ID: "2", DeltaE: 4}}}}
	r.Border.Missing = []border.Missing{{Colour: 2, Say: "nothing dark enough near the grayish green"}}
	a := AnswerOf(r)
	assert.Equal(t, "Numbers 1 and 2 go in the middle, from light to dark.", a.Headline)
	assert.Equal(t, []string{"Mostly deep purple, with three colours in all.", "Two of your cloths belong, and there is nothing dark enough near the greyish green."}, a.More)

	for i := range r.Border.Stash {
		r.Border.Stash[i].Uncertainty = 36
	}
	assert.Equal(t, "If the photos tell rightly how light they are, which is not sure, numbers 1 and 2 go in the middle, from light to dark.", AnswerOf(r).Headline)
	assert.Equal(t, "Against the print the lightness of these cloths is unsure by about 36 either way: hold them to it before you choose.", AnswerOf(r).More[0])
	for i := range r.Border.Stash {
		r.Border.Stash[i].Uncertainty = 12 // as beside a sheet of white paper
	}
	assert.Equal(t, a, AnswerOf(r))

	r.Border.Missing = append(r.Border.Missing, border.Missing{Colour: 0, Say: "nothing near the deep purple"})
	assert.Equal(t, "Two of your cloths belong; for two colours of the print you have nothing near.", AnswerOf(r).More[1])
	r.Border.Missing, r.Border.Matches = nil, nil
	assert.Equal(t, "None of your cloths belongs.", AnswerOf(r).More[1])
	r.Border.Stash = nil
	assert.Equal(t, []string{"Give photos of your cloths with --stash to see which of them belong."}, AnswerOf(r).More)

	assert.Equal(t, "Deep purple and pale pink lead, with three colours in all.",
		AnswerOf(printOf([]string{"deep purple", "pale pink", "moderate green"}, .35, .34, .31)).More[0])
	assert.Equal(t, "One colour only: deep purple.", AnswerOf(printOf([]string{"deep purple"}, 1)).More[0])
	assert.Equal(t, "No colours could be drawn from this print.", AnswerOf(printOf(nil)).Headline)
	r = printOf([]string{"deep purple"}, 1)
	r.Border.Choice = nil
	require.Contains(t, AnswerOf(r).More, "No handful of them goes with the print from light to dark.")
}

func TestNumbersInWords(t *testing.T) {
	for n, want := range map[int]string{0: "No", 1: "One", 12: "Twelve", 20: "Twenty", 21: "Twenty-one", 40: "Forty", 99: "Ninety-nine", 100: "100"} {
		assert.Equal(t, want, first(n))
	}
	assert.Equal(t, "no cloths", some(0, "cloth", "cloths"))
	assert.Equal(t, "one cloth", some(1, "cloth", "cloths"))
	assert.Equal(t, "twenty cloths", some(20, "cloth", "cloths"))
	assert.Equal(t, "21 cloths", some(21, "cloth", "cloths"))
	assert.Equal(t, "99 in a hundred", outOf(.999), "not all while one is missing")
	assert.Equal(t, "100 in a hundred", outOf(1))
	assert.Equal(t, "under 1\u00a0%", percent(.002))
	assert.Equal(t, "0\u00a0%", percent(0))
	assert.Equal(t, "", figure(math.NaN(), 1))
	assert.Equal(t, "0.0", figure(-.01, 1))
	assert.Equal(t, "a, b and three more", listMost([]string{"a", "b", "c", "d", "e"}, 2))
}

// A grid that is a guess stands in the headline, and so do two verdicts.
func TestUncertainReadingsStandInTheHeadline(t *testing.T) {
	r := laidOut(3, 3)
	r.Layout.GridFound = false
	assert.Equal(t, "If the patches are 3 rows of 3, which is not sure, it would read from across the room: every seam that should show would.", AnswerOf(r).Headline)
	assert.Equal(t, "All that follows counts on that.", AnswerOf(r).More[0])
	next := layoutNext(r)
	assert.Contains(t, next[0], "See whether each line drawn over the photo lies on a seam.")
	assert.Contains(t, next[1], "If each line does, nothing has to change.", "not sewn on a guess")

	r = laidOut(3, 3)
	r.Layout.Pattern.Name = "nine patch, dark corners, light sides, light centre"
	r.Layout.Other = &layout.Reading{Pattern: layout.Pattern{Name: "nine patch, dark corners", Chart: []string{"DLD", "LDL", "DLD"}}, Reads: share(8. / 12),
		Misplaced: []layout.Cell{{2, 2}}, Reading: layout.Light, Wanted: []layout.Wanted{{Patch: layout.Cell{2, 2}, Meant: layout.Dark, AtMost: 58}}}
	a := AnswerOf(r)
	assert.Equal(t, "If a nine patch, dark corners, light sides, light centre is meant, it reads; "+
		"if a nine patch, dark corners, row 2, patch 2 is wrong, for it hangs as a light.", a.Headline)
	r.Layout.GridFound = false
	assert.Equal(t, "If the patches are 3 rows of 3, which is not sure, and a nine patch, dark corners, light sides, light centre is meant, it would read; "+
		"if a nine patch, dark corners, row 2, patch 2 would be wrong, for it hangs as a light.", AnswerOf(r).Headline)
	r.Layout.GridFound = true
	assert.Contains(t, a.More, "As a nine patch, dark corners, row 2, patch 2 wants a darker cloth than any at hand: of lightness 58 or less.")
	for _, s := range layoutNext(r) {
		assert.NotContains(t, s, "Nothing has to change")
	}
}

// What nothing at hand cures is said with the lightness that would.
func TestWantedCloths(t *testing.T) {
	r := laidOut(3, 3, seam(1, 1, 1, 2))
	r.Layout.Wanted = []layout.Wanted{{Patch: layout.Cell{1, 2}, Meant: layout.Light, AtLeast: 71}, {Patch: layout.Cell{2, 2}, Piece: "the sashing", Meant: layout.Dark, AtMost: 40}}
	a := AnswerOf(r)
	assert.Contains(t, a.More, "Row 1, patch 2 wants a lighter cloth than any at hand: of lightness 71 or more.")
	assert.Contains(t, a.More, "The sashing wants a darker cloth than any at hand: of lightness 40 or less.")
	assert.Contains(t, pageOf(t, r), "What nothing at hand can cure")
}

// Of a top without a repeat only what is true of a gradation is said.
func TestGradation(t *testing.T) {
	r := laidOut(6, 6, seam(1, 1, 1, 2))
	r.Layout.Pattern = layout.Pattern{Name: "none"}
	for i := range r.Layout.Seams {
		r.Layout.Seams[i].Meant, r.Layout.Seams[i].OK = layout.Either, true
	}
	for i := range r.Layout.Patches {
		p := &r.Layout.Patches[i]
		p.Lightness, p.Meant, p.Reads = 95-7*float64(p.Row+p.Col), layout.Any, layout.Light
	}
	a := AnswerOf(r)
	assert.Contains(t, a.More, "It shades from light at the top left to dark at the bottom right.")
	page := pageOf(t, r)
	for _, nonsense := range []string{"Reads as", "Meant as", "Out of place", "As it reads, patch by patch"} {
		assert.NotContains(t, page, nonsense)
	}
	for i := range r.Layout.Patches {
		p := &r.Layout.Patches[i]
		p.Lightness = 50 + 30*math.Sin(float64(p.Row*7+p.Col*11))
	}
	assert.Empty(t, shade(r.Layout))
}

// How sure a seam's word is stands beside it.
func TestSureOfASeam(t *testing.T) {
	r := laidOut(3, 3, seam(1, 1, 1, 2), seam(3, 2, 3, 3))
	for i := range r.Layout.Seams {
		s := &r.Layout.Seams[i]
		s.Sure = .99
		if s.Between == seam(3, 2, 3, 3) {
			s.Sure = .7
			assert.Contains(t, seamSays(r.Layout, *s), "lost (that it is lost is not sure, about two to one)")
		}
	}
	v := &layoutView{}
	v.find(r.Layout)
	assert.Equal(t, []string{"Row 1, patch 1 runs into its right neighbour.", "Row 3, patch 2 runs into its right neighbour, but that is not sure."}, v.Findings)
	assert.Contains(t, AnswerOf(r).More, "Of the lost seams, one may show after all: it is too near to the line to tell.")
	assert.Equal(t, "99 %", seamTable(r.Layout).Rows[0].Cells[3].Text)
}

// What was found can be copied, put right and given.
func TestGridFlags(t *testing.T) {
	r := layoutResult()
	assert.Equal(t, `--rows 9 --cols 9 --corners "212,181 1841,205 1811,1790 240,1823"`, gridFlags(r.Layout))
	s := r.Sights[0]
	s.Kind = analyze.WallSight
	r.Sights = append(r.Sights, s)
	page := pageOf(t, r)
	assert.Contains(t, page, "<code>--rows 9 --cols 9 --corners &#34;212,181 1841,205 1811,1790 240,1823&#34;</code>")
	v := wall(r)
	assert.Len(t, v.Photo.Discs, 18, "each row and each column has its number")
	r = onPointResult()
	s = r.Sights[0]
	s.Kind = analyze.WallSight
	r.Sights = append(r.Sights, s)
	v = wall(r)
	require.Len(t, v.How, 2, "how its rows and its patches are counted")
	assert.Len(t, v.Photo.Discs, 8, "its rows only: columns begin at the same edge")
	assert.Contains(t, gridFlags(r.Layout), "--setting on-point")
}
