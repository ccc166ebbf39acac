package piles

import (
	"math"
	"slices"
)

// justNoticeable is the smallest difference of L* that is taken to be seen at
// all between two cloths that do not touch (Mahy and others 1994: 2.3 CIELAB).
const justNoticeable = 2.3

// Sort ranks fabrics from light to dark, cuts them into count piles (2 or 3)
// and says which could go either way. The fabrics keep their order and get
// Rank, TiedWith, Pile and Swing; doubtful ones get none of these. With fewer
// different lightnesses than piles, the middle pile is the first to be empty,
// then the dark one. Pairs are told in Sorted.
func Sort(fabrics []Fabric, count int) *Sorted {
	s := &Sorted{Fabrics: slices.Clone(fabrics), Cuts: []float64{}, Pairs: []Pair{}}
	s.Piles = Piles{Light: []string{}, Dark: []string{}}
	if count > 2 {
		s.Piles.Medium = []string{}
	}
	var order []int // of what is cloth, lightest first
	for i, f := range s.Fabrics {
		if !f.Doubtful {
			order = append(order, i)
		}
	}
	// Equal lightnesses stay in the order of their numbers.
	slices.SortStableFunc(order, func(a, b int) int {
		return cmpDescending(s.Fabrics[a].Lightness, s.Fabrics[b].Lightness)
	})
	s.rank(order)
	s.cut(order, count)
	s.pair()
	return s
}

// fewMoved is how many cloths another division must move to be worth a word.
const fewMoved = 3

// Otherwise is how many cloths would lie in another pile by OtherCuts; 0
// without them.
func (s *Sorted) Otherwise() (moved int) {
	if s.OtherCuts == nil {
		return 0
	}
	pile := func(lightness float64, cuts []float64) (n int) {
		for _, c := range cuts {
			if lightness < c {
				n++
			}
		}
		return n
	}
	for _, f := range s.Fabrics {
		if !f.Doubtful && pile(f.Lightness, s.Cuts) != pile(f.Lightness, s.OtherCuts) {
			moved++
		}
	}
	return moved
}

func cmpDescending(a, b float64) int {
	switch {
	case a > b:
		return -1
	case a < b:
		return 1
	}
	return 0
}

// rank numbers the fabrics and finds those that cannot be told apart.
func (s *Sorted) rank(order []int) {
	for r, i := range order {
		f := &s.Fabrics[i]
		f.Rank = r + 1
		f.TiedWith = []string{}
		for _, j := range order {
			if i != j && tied(f, &s.Fabrics[j]) {
				f.TiedWith = append(f.TiedWith, s.Fabrics[j].ID)
			}
		}
	}
}

// tied: the difference lies within its own uncertainty, so either may be the
// lighter. Within one photo, and among photos that stand on one footing without
// the level being known (whose Apart holds what their exposures may be off
// against each other), only what differs between the pieces counts.
func tied(a, b *Fabric) bool {
	ua, ub := a.Uncertainty, b.Uncertainty
	if shareLevel(a, b) {
		ua, ub = a.Apart, b.Apart
	}
	return math.Abs(a.Lightness-b.Lightness) <= math.Hypot(ua, ub)
}

// shareLevel: what may be wrong with the level is wrong with both.
func shareLevel(a, b *Fabric) bool {
	return a.Group == b.Group && (a.Photo == b.Photo || a.Group != 0)
}

// otherwise are the cuts of another division that is about as natural. Cloths
// that cannot be compared have none: there the piles say nothing.
func (s *Sorted) otherwise(order []int, ascending []float64, starts []int) []float64 {
	first, level := &s.Fabrics[order[0]], true
	for _, i := range order {
		if s.Fabrics[i].Group != first.Group {
			return nil
		}
		level = level && shareLevel(first, &s.Fabrics[i])
	}
	n := len(order)
	sigmas := make([]float64, n)
	for r, i := range order {
		sigmas[n-1-r] = s.Fabrics[i].Uncertainty / 1.96
		if level {
			sigmas[n-1-r] = s.Fabrics[i].Apart / 1.96
		}
	}
	return cutsAt(ascending, OtherBreaks(ascending, sigmas, starts, max(fewMoved, n/10)))
}

// cut makes the piles and marks what swings.
func (s *Sorted) cut(order []int, count int) {
	n := len(order)
	if n == 0 {
		return
	}
	ascending := make([]float64, n)
	for r, i := range order {
		ascending[n-1-r] = s.Fabrics[i].Lightness
	}
	starts := Breaks(ascending, count)
	names := []Pile{Dark, Light}
	switch {
	case len(starts) == 2:
		names = []Pile{Dark, Medium, Light}
	case len(starts) == 0:
		names = []Pile{Light}
	}
	s.Cuts = append(s.Cuts, cutsAt(ascending, starts)...)
	s.OtherCuts = s.otherwise(order, ascending, starts)
	for r, i := range order {
		f := &s.Fabrics[i]
		run := 0
		for _, at := range starts {
			if n-1-r >= at {
				run++
			}
		}
		f.Pile = names[run]
		for _, c := range s.Cuts {
			f.Swing = f.Swing || math.Abs(f.Lightness-c) <= max(f.Apart, justNoticeable)
		}
		switch f.Pile {
		case Light:
			s.Piles.Light = append(s.Piles.Light, f.ID)
		case Medium:
			s.Piles.Medium = append(s.Piles.Medium, f.ID)
		case Dark:
			s.Piles.Dark = append(s.Piles.Dark, f.ID)
		}
	}
}
