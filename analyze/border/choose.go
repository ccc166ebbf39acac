package border

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"greige/analyze/cloth"
	"greige/analyze/piles"
	"greige/analyze/raster"
)

// What makes a handful of centre fabrics good is weighed in parts of 0 to 1.
// Common practice, no source: cover the print's colours, run from light to
// dark in clear steps, be distinct, have a background, and belong.
const (
	weighCover      = 1.0
	weighRange      = 0.5
	weighSteps      = 0.7
	weighDistinct   = 0.5
	weighBackground = 0.6
	weighBelong     = 0.8
	weighTemper     = 0.35
	weighLight      = 1.0 // a light, where the print has one

	// lightFrom is the L* from which a cloth may be called a light of its
	// handful, and darkTo that up to which it may be called a dark: Munsell
	// values 6 and 5 (ASTM D1535), as a mid-tone is a light to nobody's eye.
	lightFrom, darkTo = 61.7, 51.6
	lightShare        = .02 // of the print that its light has to cover

	clearStep  = 12.0 // L* between neighbours of a handful that is surely seen
	wideRange  = 50.0 // L* from the darkest to the lightest that is all one needs
	surelyTwo  = 15.0 // CIEDE2000 between cloths that nobody mixes up
	searchSets = 150_000
	// searched is from how many cloths a choice is made; the pairs of so many are
	// compared in the time that a print takes to be opened.
	searched = 400
)

// temper is what sets an alternative apart: how the liveliness of its cloths
// counts, against it when under 0.
type temper struct {
	name string
	sign float64
}

// choices are the best handful of n cloths, then a quieter and a livelier one
// where the stash has them: how much liveliness counts is raised until the
// handful is another. With fewer cloths than n all of them are chosen.
func (s *stand) choices(n int) []Choice {
	n = min(n, len(s.cloths))
	if n == 0 {
		return nil
	}
	s = s.worthTrying()
	best := s.search(n, temper{})
	out := []Choice{s.choice(best, temper{})}
	if n == len(s.cloths) {
		return out
	}
	tempers := []temper{{"quiet", -1}, {"lively", 1}}
	others := make([][]int, len(tempers))
	raster.Bands(len(tempers), 1, func(from, to int) {
		for i := from; i < to; i++ {
			others[i] = s.unlike(best, tempers[i])
		}
	})
	for i, set := range others {
		if set != nil {
			out = append(out, s.choice(set, tempers[i]))
		}
	}
	return out
}

// unlike is a set of as many cloths as best has, quieter or livelier than it as t
// says; nil where none is found.
func (s *stand) unlike(best []int, t temper) []int {
	for range 4 {
		set := s.search(len(best), t)
		if t.sign*(s.liveliness(set)-s.liveliness(best)) > 1e-9 {
			return set
		}
		t.sign *= 3
	}
	return nil
}

// worthTrying is s with, of a large stash, only the cloths that a choice can need:
// the nearest to each colour and, of each tenth of the scale of lightness, those
// that belong most, the quietest and the liveliest.
func (s *stand) worthTrying() *stand {
	if len(s.cloths) <= searched {
		return s
	}
	var list []int
	for i, t := range []temper{{}, {"quiet", -1}, {"lively", 1}} {
		for _, c := range s.first((i+1)*searched/3, t) {
			if !slices.Contains(list, c) {
				list = append(list, c)
			}
		}
		list = list[:min(len(list), (i+1)*searched/3)]
	}
	slices.Sort(list)
	of := &stand{palette: s.palette, stash: s.stash}
	for _, c := range list {
		of.cloths = append(of.cloths, s.cloths[c])
		of.near, of.figure = append(of.near, s.near[c]), append(of.figure, s.figure[c])
	}
	of.pairs()
	of.weigh()
	return of
}

// liveliness is how lively a handful is, 0..1.
func (s *stand) liveliness(set []int) (sum float64) {
	for _, c := range set {
		sum += s.lively[c] / float64(len(set))
	}
	return sum
}

// search is the best set of n cloths: every set of a short list, then, among
// all cloths, single exchanges as long as they better it. The work is bounded
// by the sizes alone, so the same stash gives the same choice.
func (s *stand) search(n int, t temper) []int {
	list := s.shortList(n, t)
	best, bestScore := slices.Clone(list[:n]), math.Inf(-1)
	set := make([]int, n)
	parts := make([]handful, n+1)
	for i := range parts {
		parts[i].covers = make([]float64, len(s.accents))
	}
	parts[0].distinct = 1
	var every func(at, from int)
	every = func(at, from int) {
		if at == n {
			if v := s.worth(set, &parts[n], t); v > bestScore {
				bestScore = v
				copy(best, set)
			}
			return
		}
		for i := from; i <= len(list)-(n-at); i++ {
			set[at] = list[i]
			s.add(&parts[at+1], &parts[at], set[:at], list[i], n)
			every(at+1, i+1)
		}
	}
	every(0, 0)
	for better := true; better; {
		better = false
		for at := range best {
			kept := best[at]
			for c := range s.cloths {
				if slices.Contains(best, c) {
					continue
				}
				best[at] = c
				if v := s.score(best, t); v > bestScore+1e-9 {
					bestScore, kept, better = v, c, true
				}
			}
			best[at] = kept
		}
	}
	slices.SortStableFunc(best, func(a, b int) int {
		return cmp.Compare(s.fabric(b).Lightness, s.fabric(a).Lightness)
	})
	return best
}

func (s *stand) fabric(c int) *piles.Fabric { return &s.stash[s.cloths[c]] }

// shortList is the cloths worth trying together, as many as can be tried in
// every set of n, in their order.
func (s *stand) shortList(n int, t temper) []int {
	size := n
	for size < len(s.cloths) && sets(size+1, n) <= searchSets {
		size++
	}
	list := s.first(size, t)
	slices.Sort(list)
	return list
}

// first are size cloths, the best few for each colour and for each tenth of the
// scale of lightness in turn, then the best of the rest.
func (s *stand) first(size int, t temper) []int {
	single := make([]float64, len(s.cloths))
	for c := range single {
		single[c] = weighBelong*s.belongs[c] + weighTemper*t.sign*s.lively[c]
	}
	queues := slices.Clone(s.byNearness)
	all := make([]int, len(s.cloths))
	for c := range all {
		all[c] = c
	}
	slices.SortFunc(all, func(a, b int) int { return cmp.Or(cmp.Compare(single[b], single[a]), a-b) })
	for tenth := range 10 {
		var q []int
		for _, c := range all {
			if min(int(s.fabric(c).Lightness/10), 9) == tenth {
				q = append(q, c)
			}
		}
		queues = append(queues, q)
	}
	queues = append(queues, all)
	var list []int
	for round := 0; len(list) < size; round++ {
		for _, q := range queues {
			if round < len(q) && len(list) < size && !slices.Contains(list, q[round]) {
				list = append(list, q[round])
			}
		}
	}
	return list
}

// sets is how many sets of k there are among n.
func sets(n, k int) float64 {
	v := 1.0
	for i := range k {
		v *= float64(n-i) / float64(i+1)
	}
	return v
}

// handful is what several cloths are together, as far as it can be worked out from
// cloth to cloth: the sets that are tried differ by their last one.
type handful struct {
	covers                   []float64 // by colour, how well the best of them answers it
	belong, lively, distinct float64
}

// add makes h what from, the cloths of set, becomes with one cloth more, of n in all.
func (s *stand) add(h, from *handful, set []int, c, n int) {
	for j, v := range s.covers[c] {
		h.covers[j] = max(from.covers[j], v)
	}
	h.belong = from.belong + s.belongs[c]/float64(n)
	h.lively = from.lively + s.lively[c]/float64(n)
	h.distinct = from.distinct
	for _, d := range set {
		h.distinct = min(h.distinct, float64(s.apart[max(c, d)][min(c, d)])/surelyTwo)
	}
}

// score tells how good a handful is. set holds indexes of cloths.
func (s *stand) score(set []int, t temper) float64 {
	h := handful{covers: make([]float64, len(s.accents)), distinct: 1}
	for i, c := range set {
		s.add(&h, &h, set[:i], c, len(set))
	}
	return s.worth(set, &h, t)
}

// worth is the score of a set whose cloths are h together.
func (s *stand) worth(set []int, h *handful, t temper) float64 {
	var cover, weights float64
	for j, w := range s.accents {
		cover, weights = cover+w*h.covers[j], weights+w
	}
	cover /= max(weights, 1e-9)

	var lightness [32]float64
	l := lightness[:0]
	background := 0.0
	for _, c := range set {
		l = append(l, s.fabric(c).Lightness)
	}
	slices.Sort(l)
	lo, hi := l[0], l[len(l)-1]
	steps := 1.0
	for i := 1; i < len(l); i++ {
		steps = min(steps, (l[i]-l[i-1])/clearStep)
	}
	for _, c := range set {
		if f := s.fabric(c); plain(f) && (f.Lightness == lo || f.Lightness == hi) {
			background = 1
		}
	}
	light := 0.0
	if s.light && hi >= lightFrom {
		light = 1
	}
	return weighLight*light + weighCover*cover + weighRange*min((hi-lo)/wideRange, 1) + weighSteps*steps + weighDistinct*h.distinct +
		weighBackground*background + weighBelong*h.belong + weighTemper*t.sign*h.lively
}

// plain: the cloth reads as one surface, as a background has to.
func plain(f *piles.Fabric) bool {
	return f.Character == cloth.Solid || f.Character == cloth.ToneOnTone
}

// choice puts a set into words.
func (s *stand) choice(set []int, t temper) Choice {
	ch := Choice{Name: t.name, Fabrics: []Chosen{}}
	hi, lo := s.fabric(set[0]).Lightness, s.fabric(set[len(set)-1]).Lightness
	ch.Range = [2]float64{lo, hi}
	for j, k := range s.palette {
		for _, c := range set {
			if s.near[c][j] <= SameFamily {
				ch.Covers += k.Share
				break
			}
		}
	}
	ch.Covers = min(math.Round(ch.Covers*1e4)/1e4, 1)
	background := s.background(set)
	for i, c := range set {
		f := s.fabric(c)
		ch.Fabrics = append(ch.Fabrics, Chosen{
			ID:         f.ID,
			Role:       roleAt(f.Lightness, lo, hi),
			Why:        s.why(set, i, c == background),
			Background: c == background,
		})
	}
	return ch
}

// background is the cloth of the set to put behind the others: plain, and at
// one end of the range; of two, the one farther from its neighbour. -1: none.
func (s *stand) background(set []int) int {
	first, last := set[0], set[len(set)-1]
	switch a, b := plain(s.fabric(first)), plain(s.fabric(last)); {
	case a && b && len(set) > 2:
		if s.fabric(first).Lightness-s.fabric(set[1]).Lightness >= s.fabric(set[len(set)-2]).Lightness-s.fabric(last).Lightness {
			return first
		}
		return last
	case a:
		return first
	case b:
		return last
	}
	return -1
}

// roleAt is what a cloth is within its own handful: thirds of its range, but no
// mid-tone is a light or a dark.
func roleAt(l, lo, hi float64) piles.Pile {
	switch share := (l - lo) / max(hi-lo, 1e-9); {
	case share > 2.0/3 && l >= lightFrom:
		return piles.Light
	case share < 1.0/3 && l <= darkTo:
		return piles.Dark
	}
	return piles.Medium
}

// why is one sentence for one cloth of a set, which runs light to dark.
func (s *stand) why(set []int, at int, background bool) string {
	c := set[at]
	j := 0
	for k := range s.palette {
		if s.near[c][k] < s.near[c][j] {
			j = k
		}
	}
	var parts []string
	name, d := s.palette[j].Name, s.near[c][j]
	where := "the " + name
	if s.palette[j].Role == Ground {
		where += " of the ground"
	}
	switch {
	case d <= SameFamily && s.figure[c][j]:
		parts = append(parts, "its figures pick up "+where)
	case d <= VeryClose:
		parts = append(parts, "very close to "+where)
	case d <= SameFamily:
		parts = append(parts, "of one family with "+where)
	case d <= AStretch:
		parts = append(parts, "a stretch from "+where)
	default:
		parts = append(parts, "no colour of the print, but its lightness is needed")
	}
	switch {
	case len(set) > 1 && at == 0:
		parts = append(parts, fmt.Sprintf("the lightest of the %s", count(len(set))))
	case len(set) > 1 && at == len(set)-1:
		parts = append(parts, fmt.Sprintf("the darkest of the %s", count(len(set))))
	}
	if background {
		parts = append(parts, "plain enough for the background")
	}
	why := strings.Join(parts, "; ")
	return strings.ToUpper(why[:1]) + why[1:] + "."
}

func count(n int) string {
	words := []string{"", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"}
	if n < len(words) {
		return words[n]
	}
	return fmt.Sprint(n)
}
