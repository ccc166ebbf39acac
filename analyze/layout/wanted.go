package layout

import (
	"cmp"
	"math"
	"slices"
)

// mostWanted is how many culprits without a cure are named at most: as many as
// there are changes.
const mostWanted = mostMoves

// No cloth is lighter or darker than this, in L*: the whitest cotton and the
// deepest black of the trade. Common practice, no source.
const lightestCloth, darkestCloth = 94, 12

// wanted are the culprits that are left once the changes are made, those that
// hang against the pattern first, then those with most lost seams. A cloth is
// told of only where there can be one: next to a dark of 75 no light shows, and
// it is the dark that is wanted otherwise.
func (s *search) wanted() []Wanted {
	type left struct {
		unit, lost int
		against    bool
	}
	var culprits []left
	for u, unit := range s.units {
		if s.taken[unit[0]] {
			continue
		}
		c := left{unit: u, against: s.t.patches[unit[0]].Misplaced}
		for _, i := range unit {
			for _, k := range s.t.edgesOf[i] {
				if s.meant[k] == Contrast && s.state(k) == Lost {
					c.lost++
				}
			}
		}
		if c.lost > 0 {
			culprits = append(culprits, c)
		}
	}
	slices.SortStableFunc(culprits, func(a, b left) int {
		if a.against != b.against {
			return map[bool]int{true: -1, false: 1}[a.against]
		}
		return cmp.Compare(b.lost, a.lost)
	})
	var out []Wanted
	named := make([]bool, len(s.t.patches)) // of lost seams, one side is named
	for _, c := range culprits {
		w, ok := s.wantedFor(c.unit, named)
		if !ok {
			continue
		}
		for _, i := range s.units[c.unit] {
			named[i] = true
		}
		if out = append(out, w); len(out) == mostWanted {
			break
		}
	}
	return out
}

// wantedFor is the lightness that a cloth in place of a piece would need for
// its seams to be clear; not ok where there is no such cloth, or where each
// lost seam of the piece has been named from its other side.
func (s *search) wantedFor(u int, named []bool) (Wanted, bool) {
	unit := s.units[u]
	v := s.p.tones[unit[0]]
	if v != toneLight && v != toneDark {
		return Wanted{}, false
	}
	limit, open := 0., false
	if v == toneDark {
		limit = 100
	}
	for _, i := range unit {
		for _, k := range s.t.edgesOf[i] {
			if s.meant[k] != Contrast {
				continue
			}
			x, y, _ := s.sides(k)
			j, other := s.t.edges[k].a+s.t.edges[k].b-i, x
			if s.t.edges[k].a == i {
				other = y
			}
			if s.state(k) == Lost && !named[j] {
				open = true
			}
			// The cloth is taken to be as plain as its neighbour.
			least := s.leastStep(other, other)
			if v == toneLight {
				limit = max(limit, other.lightness+least)
			} else {
				limit = min(limit, other.lightness-least)
			}
		}
	}
	w := Wanted{Patch: s.t.patches[unit[0]].cell(), Meant: v.role(), Piece: s.pieceOf(u)}
	switch {
	case !open:
		return w, false
	case v == toneLight:
		w.AtLeast = math.Ceil(limit)
		return w, limit <= lightestCloth
	}
	w.AtMost = math.Floor(limit)
	return w, limit >= darkestCloth
}

// otherReading is the verdict by the pattern p, or nil where it is that of
// first: the same patches hang against it, and as many seams show.
func (t *top) otherReading(p *pattern, cloths []int, first *Layout) *Reading {
	u := *t
	u.patches = slices.Clone(t.patches)
	l := u.judgeBy(p, cloths)
	r := &Reading{Pattern: l.Pattern, Reads: l.Reads, Changes: l.Changes, Wanted: l.Wanted}
	same := true
	for i, q := range l.Patches {
		same = same && q.Misplaced == first.Patches[i].Misplaced
		if !q.Misplaced {
			continue
		}
		if len(r.Misplaced) == 0 {
			r.Reading = q.Reads
		}
		r.Misplaced = append(r.Misplaced, q.cell())
	}
	a, b := l.Reads, first.Reads
	if same && (a == nil && b == nil || a != nil && b != nil && math.Abs(*a-*b) < .02) {
		return nil
	}
	return r
}
