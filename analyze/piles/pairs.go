package piles

import (
	"cmp"
	"math"
	"slices"

	"greige/analyze/cloth"
	"greige/analyze/eye"
)

const (
	// clearStep is the difference of L* from which on a seam is clear, where
	// the prints do not drown it. Common practice, no source; a layout's seams
	// have the same.
	clearStep = 20
	// busyFrom is the spread at the viewing distance from which on the figures
	// of a cloth show there: a seam of 8 L* is lost, and half and half of two
	// inks so far apart deviate by 4.
	busyFrom = 4
)

// busy: its own figures compete with the seams.
func busy(f *Fabric) bool { return f.Character == cloth.HighContrastPrint || f.Spread >= busyFrom }

// strain is how hard the seam between two cloths is to see, 1 over its
// clarity; +Inf where they are no pair.
func strain(light, dark *Fabric) float64 {
	d := light.Lightness - dark.Lightness
	clarity := eye.Clarity(light.Lightness, light.Spread, dark.Lightness, dark.Spread)
	if light.Group != dark.Group || d < clearStep || clarity < eye.Clear || busy(light) && busy(dark) {
		return math.Inf(1)
	}
	return 1 / clarity
}

// pair fills Pairs. In the first round each cloth is used once: lights and
// darks by the assignment that pairs most of them and, of those, strains the
// eye least; then what is left over with the mediums, which work as the dark
// beside a light and as the light beside a dark. While cloths of the light or
// the dark pile are left over, they share the partners of the other piles, in
// rounds in which each of these is used once more.
func (s *Sorted) pair() {
	at := make(map[string]*Fabric, len(s.Fabrics))
	for i := range s.Fabrics {
		at[s.Fabrics[i].ID] = &s.Fabrics[i]
	}
	of := func(ids []string) []*Fabric {
		out := make([]*Fabric, len(ids))
		for i, id := range ids {
			out[i] = at[id]
		}
		return out
	}
	allLights, mediums, allDarks := of(s.Piles.Light), of(s.Piles.Medium), of(s.Piles.Dark)
	lights, darks := s.match(allLights, allDarks)
	lights, mediums = s.match(lights, mediums)
	_, darks = s.match(mediums, darks)
	for len(lights)+len(darks) > 0 {
		before := len(lights) + len(darks)
		lights, _ = s.match(lights, slices.Concat(of(s.Piles.Medium), allDarks))
		_, darks = s.match(slices.Concat(allLights, of(s.Piles.Medium)), darks)
		if len(lights)+len(darks) == before {
			break // they are clear beside nothing
		}
	}
	slices.SortStableFunc(s.Pairs, func(a, b Pair) int {
		return cmp.Or(cmp.Compare(b.Clarity, a.Clarity), cmp.Compare(b.DeltaL, a.DeltaL),
			cmp.Compare(at[a.Light].Rank, at[b.Light].Rank), cmp.Compare(at[a.Dark].Rank, at[b.Dark].Rank))
	})
}

// match pairs lights with darks, each once, and returns those left over.
func (s *Sorted) match(lights, darks []*Fabric) (restLights, restDarks []*Fabric) {
	cost := make([][]float64, len(lights))
	for i, l := range lights {
		cost[i] = make([]float64, len(darks))
		for j, d := range darks {
			cost[i][j] = strain(l, d)
		}
	}
	used := make([]bool, len(darks))
	for i, j := range assign(cost) {
		if j < 0 {
			restLights = append(restLights, lights[i])
			continue
		}
		used[j] = true
		l, d := lights[i], darks[j]
		s.Pairs = append(s.Pairs, Pair{
			Light: l.ID, Dark: d.ID, DeltaL: l.Lightness - d.Lightness,
			Clarity: eye.Clarity(l.Lightness, l.Spread, d.Lightness, d.Spread),
		})
	}
	for j, d := range darks {
		if !used[j] {
			restDarks = append(restDarks, d)
		}
	}
	return restLights, restDarks
}
