package stash

import (
	"cmp"
	"context"
	"database/sql"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"greige/analyze/piles"
	"greige/colorspace"
)

// Told is the half of a 95 % interval on L* up to which the level of a cloth's
// photo counts as known. Beside a white card dark cloths have up to 15, and without
// anything that tells the exposure light ones have 25 and more (testdata/real): it
// lies between. Beyond it a cloth cannot be said to be near anything.
const Told = 17.0

// Likely is a chance that is too large to be passed over: one in five.
const Likely = .2

// quantileLikely is the standard normal quantile that is exceeded with the
// chance Likely.
var quantileLikely = math.Sqrt2 * math.Erfinv(1-2*Likely)

// Query is what is asked of the stash; cloths have to fit all of it.
type Query struct {
	Piles      []piles.Pile // any of these; none: all
	Near       []Target     // nearest to any of these first
	From, To   float64      // L*, both within 0..100; equal: not asked
	Name       string       // words that the name of the colour has to hold
	Character  string       // solid, print ...; "" any
	AtLeastCM2 float64      // so much has to be left; 0: not asked
}

// Target is what cloths are to be near to: a colour, or a cloth of the stash or
// of a photo.
type Target struct {
	Lab colorspace.Lab
	// Uncertainty is half of a 95 % interval on its L*, 0 for a colour that is
	// given.
	Uncertainty float64
	ID          string // of a cloth of the stash; "" for others
}

// Hit is a cloth that fits. It is kept small: there is one of each cloth.
type Hit struct {
	Number      int64   // of the cloth, its ID
	Photo       int64   // the photo's row in the database
	L           float64 // its L*
	Uncertainty float64 // half of a 95 % interval on L*, against what was asked
	Pile        piles.Pile
	DeltaE      float64 // CIEDE2000 to the nearest target; NaN: none was asked
	Left        float64 // cm2; NaN: not known
	Rank        int32   // from 1; 0: it cannot be told
	ByInk       int16   // index of the ink that is that near; -1: the cloth as a whole
	Swing       bool    // one chance in five or more that it is of another pile
	Edge        bool    // one chance in five or more that it lies outside From to To
	// Untold: the level of its photo is not known, see Told, and whether it is what
	// was asked, or in the pile that its lightness says, hangs on that: between one
	// chance and four in five.
	Untold bool
}

// ID is the number of the cloth as a Fabric has it.
func (h *Hit) ID() string { return strconv.FormatInt(h.Number, 10) }

// Found is what fits a query.
type Found struct {
	Hits []Hit     // what can be ranked first, in order; then what cannot, in the order of its figures
	Cuts []float64 // L* between the piles of the whole stash, from the lighter to the darker
	// Retake are the photos whose cloths cannot be set against others, those of
	// most cloths first: worth taking again with a sheet of white paper.
	Retake []Retake
	Kept   int // cloths in the stash
}

// Retake is a photo worth taking again.
type Retake struct {
	Photo  string `json:"photo"`
	Cloths int    `json:"cloths"` // so many of its cloths cannot be told
	Row    int64  `json:"-"`      // of the photo, as in a Hit
}

// Find is what fits q. Cloths are set against each other by each one's own
// uncertainty: those of which it cannot be told come behind the others, without a
// rank. Among cloths of one photo, or of photos on one footing, only what they do
// not share counts.
//
// All cloths are looked at twice, so that what is held of each is small: once as they
// are read, and once when all lightnesses, and with them the piles, are known.
func (s *Stash) Find(ctx context.Context, q Query) (*Found, error) {
	targets, err := s.targetsOf(ctx, q.Near)
	if err != nil {
		return nil, err
	}
	n, _, err := s.Count(ctx)
	if err != nil {
		return nil, err
	}
	f := &Found{Hits: make([]Hit, 0, n)}
	levels := levels{of: make([]level, 0, n)}
	at := make([]int32, 0, n) // of each hit's level
	err = s.eachKey(ctx, "SELECT cloth, key FROM keys ORDER BY cloth", func(k *key) {
		levels.add(k)
		if !q.mayFit(k) {
			return
		}
		h := Hit{Number: k.id, Photo: k.photo, L: k.lab.L, Left: k.left, DeltaE: math.NaN(), ByInk: -1}
		if len(targets) > 0 {
			h.near(k, targets)
		}
		f.Hits, at = append(f.Hits, h), append(at, int32(len(levels.of)-1))
	})
	if err != nil {
		return nil, err
	}
	f.Kept, f.Cuts = len(levels.of), levels.cuts()
	n = 0
	for i, h := range f.Hits {
		if q.fits(&h, levels.of[at[i]].unsure, levels.against(int(at[i])), f.Cuts) {
			f.Hits[n] = h
			n++
		}
	}
	f.Hits = f.Hits[:n]
	order(f.Hits, len(targets) > 0)
	if f.Retake, err = s.retake(ctx, f.Hits); err != nil {
		return nil, err
	}
	return f, nil
}

// Only leaves those hits that keep says, in their order, with the ranks that
// they have among all.
func (f *Found) Only(keep func(id string) bool) {
	photos := map[int64]bool{}
	f.Hits = slices.DeleteFunc(f.Hits, func(h Hit) bool {
		photos[h.Photo] = photos[h.Photo] || keep(h.ID())
		return !keep(h.ID())
	})
	f.Retake = slices.DeleteFunc(f.Retake, func(r Retake) bool { return !photos[r.Row] })
}

// Targets are cloths of the stash that others are to be near to.
func (s *Stash) Targets(ctx context.Context, ids []string) ([]Target, error) {
	kept, err := s.Get(ctx, ids)
	if err != nil {
		return nil, err
	}
	out := make([]Target, len(kept))
	for i := range kept {
		out[i] = Target{Lab: kept[i].Lab, Uncertainty: kept[i].Uncertainty, ID: kept[i].ID}
	}
	return out, nil
}

// mayFit tells whether a cloth is what is asked, but for its lightness.
func (q *Query) mayFit(k *key) bool {
	switch {
	case q.Character != "" && k.character != q.Character:
		return false
	case q.AtLeastCM2 > 0 && !(k.left >= q.AtLeastCM2):
		return false
	}
	return q.Name == "" || holdsWords(k.name, q.Name)
}

// fits tells whether a cloth is of a lightness that is asked, and puts into h what
// its lightness says. own is half of its 95 % interval on L*, unsure the part of it
// that it does not share with the other cloths.
func (q *Query) fits(h *Hit, own, unsure float64, cuts []float64) bool {
	if len(q.Near) == 0 {
		h.Uncertainty = unsure
	}
	var chances chances
	h.Pile, chances = pileOf(h.L, unsure/1.96, cuts)
	asked, in := q.Piles, 0.0
	if len(asked) == 0 {
		asked = []piles.Pile{h.Pile}
	}
	for i, p := range pileNames {
		h.Swing = h.Swing || p == h.Pile && 1-chances[i] >= Likely
		if slices.Contains(asked, p) {
			in += chances[i]
		}
	}
	switch {
	case len(q.Piles) > 0:
		if len(cuts) == 0 || !h.tell(slices.Contains(asked, h.Pile), in, unsure) {
			return false
		}
	case len(q.Near) == 0 && q.To <= q.From && len(cuts) > 0:
		h.tell(true, in, unsure) // all are listed, by pile
	}
	if q.To > q.From {
		// Against figures that are given all of the uncertainty counts; nothing is
		// lighter than 100 or darker than 0.
		sigma, in := own/1.96, 1.0
		if q.To < 100 {
			in = chance(q.To, h.L, sigma)
		}
		if q.From > 0 {
			in -= chance(q.From, h.L, sigma)
		}
		h.Edge = 1-in >= Likely
		return h.tell(h.L >= q.From && h.L <= q.To, in, own)
	}
	return true
}

// tell is whether a cloth may be what is asked. Where its level is known the
// figures say so; where it is not, in does, the chance that it is: too much to
// leave it out, and too little to be sure, make it one that cannot be told.
func (h *Hit) tell(byFigures bool, in, unsure float64) bool {
	if unsure <= Told {
		return byFigures
	}
	h.Untold = h.Untold || in < 1-Likely
	return in >= Likely
}

// holdsWords: every word of words is a word of name, which is a colour's. Grey
// may be spelled either way.
func holdsWords(name, words string) bool {
	spelled := func(s string) []string {
		return strings.Fields(strings.ReplaceAll(strings.ToLower(s), "grey", "gray"))
	}
	of := spelled(name)
	for _, word := range spelled(words) {
		if !slices.Contains(of, word) {
			return false
		}
	}
	return true
}

// order puts what can be told first, nearest or lightest first, equal ones in the
// order of their numbers, and ranks it.
func order(hits []Hit, near bool) {
	slices.SortFunc(hits, func(a, b Hit) int {
		by := 0
		switch {
		case a.Untold != b.Untold:
			if a.Untold {
				return 1
			}
			return -1
		case near:
			by = cmp.Compare(a.DeltaE, b.DeltaE)
		default:
			by = cmp.Compare(b.L, a.L)
		}
		return cmp.Or(by, cmp.Compare(a.Number, b.Number))
	})
	for i := range hits {
		if !hits[i].Untold {
			hits[i].Rank = int32(i + 1)
		}
	}
}

// chance is that a figure of mean m and standard uncertainty s lies below v.
func chance(v, m, s float64) float64 {
	if s <= 0 {
		if m < v {
			return 1
		}
		return 0
	}
	return .5 * math.Erfc((m-v)/s/math.Sqrt2)
}

// chances are those of the light, the medium and the dark pile, 0..1.
type chances [3]float64

var pileNames = [3]piles.Pile{piles.Light, piles.Medium, piles.Dark}

// pileOf is the pile of a lightness, of standard uncertainty s, among those that
// cuts divide, with the chances of all; "" where there are no cuts.
func pileOf(l, s float64, cuts []float64) (p piles.Pile, of chances) {
	switch len(cuts) {
	case 1:
		dark := chance(cuts[0], l, s)
		of = chances{1 - dark, 0, dark}
	case 2:
		below, dark := chance(cuts[0], l, s), chance(cuts[1], l, s)
		of = chances{1 - below, below - dark, dark}
	default:
		return "", of
	}
	switch {
	case l >= cuts[0]:
		return piles.Light, of
	case l < cuts[len(cuts)-1]:
		return piles.Dark, of
	}
	return piles.Medium, of
}

// sameFooting: what may be wrong with the level is wrong with both.
func sameFooting(a, b *key) bool { return a.photo == b.photo || a.group == b.group && a.group != 0 }

// levels are how light the cloths of a stash are, and how sure that is.
type levels struct {
	of []level
	// first is the first cloth, if oneFooting says that all others stand on its footing.
	first      key
	oneFooting bool
}

// level is the L* of a cloth with the halves of its 95 % intervals against cloths of
// other photos and of the same one.
type level struct{ l, unsure, within float64 }

func (v *levels) add(k *key) {
	if len(v.of) == 0 {
		v.first, v.oneFooting = *k, true
	}
	v.oneFooting = v.oneFooting && sameFooting(&v.first, k)
	v.of = append(v.of, level{k.lab.L, k.unsure, k.within})
}

// against is half of the 95 % interval by which cloth i is set against the others:
// where all stand on one footing, what they do not share.
func (v *levels) against(i int) float64 {
	if v.oneFooting {
		return v.of[i].within
	}
	return v.of[i].unsure
}

// piled is how many piles a stash has.
const piled = 3

// cuts are where the piles of the whole stash meet: natural breaks of the cloths
// whose level is known where that are half of them or more, else of all.
func (v *levels) cuts() []float64 {
	known := 0
	for i := range v.of {
		if v.against(i) <= Told {
			known++
		}
	}
	all := 2*known < len(v.of)
	l := make([]float64, 0, len(v.of))
	for i, of := range v.of {
		if all || v.against(i) <= Told {
			l = append(l, of.l)
		}
	}
	if cuts := piles.Cuts(l, piled); cuts != nil {
		return cuts
	}
	return []float64{}
}

// target is a Target, with what is known of it if it is a cloth of the stash.
type target struct {
	Target
	key *key
}

func (s *Stash) targetsOf(ctx context.Context, near []Target) ([]target, error) {
	out := make([]target, len(near))
	for i, t := range near {
		out[i].Target = t
		n, err := number(t.ID)
		if err != nil {
			continue
		}
		err = s.eachKey(ctx, fmt.Sprintf("SELECT cloth, key FROM keys WHERE cloth = %d", n), func(k *key) {
			own := *k
			own.inks = nil // their memory is the next key's
			out[i].key = &own
		})
		if err != nil {
			return nil, err
		}
	}
	return out, nil
}

// near finds the target that a cloth is nearest to, by its mean or by one of its
// inks, and how far that can be told: two cloths on one footing share what may
// be wrong with their level.
func (h *Hit) near(k *key, targets []target) {
	h.DeltaE, h.Untold = math.Inf(1), true
	for i := range targets {
		t := &targets[i]
		unsure := math.Hypot(k.unsure, t.Uncertainty)
		if t.key != nil {
			switch {
			case t.key.id == k.id:
				unsure = 0
			case sameFooting(k, t.key):
				unsure = math.Hypot(k.within, t.key.within)
			}
		}
		untold := unsure > Told
		if untold && !h.Untold {
			continue // what can be told comes first
		}
		nearest := h.DeltaE
		if untold != h.Untold {
			nearest = math.Inf(1)
		}
		nearer := func(colour colorspace.Lab, ink int16) {
			if colorspace.Beyond(colour, t.Lab, nearest) {
				return
			}
			if d := colorspace.CIEDE2000(colour, t.Lab); d < nearest {
				nearest = d
				h.DeltaE, h.ByInk, h.Uncertainty, h.Untold = d, ink, unsure, untold
			}
		}
		nearer(k.lab, -1)
		for j := range k.inks {
			if len(k.inks) > 1 { // else it is the cloth
				nearer(k.inks[j].lab, int16(j))
			}
		}
	}
}

// eachKey gives the keys of a query, which asks for cloth, key and, for into, what
// else it names. A key's inks hold until the next one.
func (s *Stash) eachKey(ctx context.Context, query string, give func(k *key), into ...any) error {
	if s.empty {
		return nil
	}
	words := map[string]string{}
	var k key
	var packed sql.RawBytes
	into = append([]any{&k.id, &packed}, into...)
	return told(s.path, each(ctx, s.db, func(rows *sql.Rows) error {
		if err := rows.Scan(into...); err != nil {
			return err
		}
		if err := k.unpack(packed, words); err != nil {
			return unreadable(s.path, k.id, err)
		}
		give(&k)
		return nil
	}, query))
}

// retake are the photos of the cloths that cannot be told.
func (s *Stash) retake(ctx context.Context, hits []Hit) ([]Retake, error) {
	count := map[int64]int{}
	for i := range hits {
		if hits[i].Untold {
			count[hits[i].Photo]++
		}
	}
	out := make([]Retake, 0, len(count))
	for row, n := range count {
		out = append(out, Retake{Row: row, Cloths: n})
	}
	slices.SortFunc(out, func(a, b Retake) int { return cmp.Or(cmp.Compare(b.Cloths, a.Cloths), cmp.Compare(a.Row, b.Row)) })
	// A stash of close-ups without paper has as many as cloths: the first are
	// enough to begin with.
	const named = 100
	out = out[:min(len(out), named)]
	for i := range out {
		if err := s.db.QueryRowContext(ctx, "SELECT name FROM photos WHERE id = ?", out[i].Row).Scan(&out[i].Photo); err != nil {
			return nil, told(s.path, err)
		}
	}
	return out, nil
}

// tied: one chance in five or more that two cloths are the other way round.
func tied(a, b *piles.Fabric) bool {
	ua, ub := a.Uncertainty, b.Uncertainty
	if a.Photo == b.Photo || a.Group == b.Group && a.Group != 0 {
		ua, ub = within(a), within(b)
	}
	return math.Abs(a.Lightness-b.Lightness) < quantileLikely*math.Hypot(ua, ub)/1.96
}
