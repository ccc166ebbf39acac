package piles

import (
	"math"
	"slices"
	"strconv"

	"greige/analyze/camera"
)

// Sort ranks fabrics from light to dark, cuts them into count piles (2 or 3)
// and says which could go either way. The fabrics keep their order and get
// Rank, TiedWith, Pile and Swing; doubtful ones get none of these. With fewer
// different lightnesses than piles, the middle pile is the first to be empty,
// then the dark one. Pairs are told in Sorted. Fabrics that are not Comparable
// get none of all this.
func Sort(fabrics []Fabric, count int) *Sorted {
	s := &Sorted{Fabrics: slices.Clone(fabrics), Pairs: []Pair{}}
	for i := range s.Fabrics {
		f := &s.Fabrics[i]
		f.Rank, f.TiedWith, f.Pile, f.Swing, f.Among = 0, nil, "", nil, 0
	}
	if !Comparable(fabrics) {
		return s
	}
	s.Piles, s.Cuts = Piles{Light: []string{}, Dark: []string{}}, []float64{}
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

// Comparable tells whether two cloths or more stand on one footing (Group), the
// doubtful pieces left out. Where none do, a photo says nothing of which is the
// lighter, and one cloth by itself is neither a light nor a dark.
func Comparable(fabrics []Fabric) bool {
	in := map[int]bool{}
	for _, f := range fabrics {
		if f.Doubtful {
			continue
		}
		if in[f.Group] {
			return true
		}
		in[f.Group] = true
	}
	return false
}

// fewMoved is how many cloths another division must move to be worth a word.
const fewMoved = 3

// Otherwise are the ids of the cloths that would lie in another pile by
// OtherCuts; none without them.
func (s *Sorted) Otherwise() (moved []string) {
	if s.OtherCuts == nil {
		return nil
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
			moved = append(moved, f.ID)
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
	var close []float64
	for r := 1; r < len(order); r++ {
		a, b := &s.Fabrics[order[r-1]], &s.Fabrics[order[r]]
		close = append(close, camera.FourToOne*camera.Difference(a.doubt(), b.doubt()))
	}
	if len(close) > 0 {
		slices.Sort(close)
		s.TooClose = close[len(close)/2]
		s.among(order)
	}
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

// among fills in Among: the variance of L_i less the mean of all is
// C_ii - 2 mean_j C_ij + mean_jk C_jk.
func (s *Sorted) among(order []int) {
	n := float64(len(order))
	doubts := make([]camera.Doubt, len(order))
	for r, i := range order {
		doubts[r] = s.Fabrics[i].doubt()
	}
	all := camera.Common(doubts)
	level := sq(all.Scale())
	for r, i := range order {
		d := doubts[r]
		v := sq(d.Scale()) - 2*(camera.Covariance(d, all)+sq(d.Own)/n) + level
		s.Fabrics[i].Among = camera.HalfOfDifference * math.Sqrt(max(v, 0))
	}
}

// doubt is that of a fabric's lightness. Of one that was measured before, as a file
// keeps it, it is known how much of it the photo shares, or all photos on one footing,
// and not how.
func (f *Fabric) doubt() camera.Doubt {
	if f.Doubt.Own > 0 || len(f.Doubt.Parts) > 0 {
		return f.Doubt
	}
	cause := "photo " + f.Photo
	if f.Group != 0 {
		cause = "footing " + strconv.Itoa(f.Group)
	}
	return camera.Alone(f.Uncertainty).Shared(cause, f.Apart/1.96)
}

// tied: there is one chance in five or more that their order is the other way.
func tied(a, b *Fabric) bool {
	d := math.Abs(a.Lightness - b.Lightness)
	return camera.Order(-d, camera.Difference(a.doubt(), b.doubt())) >= camera.OneInFive
}

// otherwise are the cuts of another division that is about as natural. Cloths
// that cannot be compared have none: there the piles say nothing.
func (s *Sorted) otherwise(order []int, ascending []float64, starts []int) []float64 {
	n := len(order)
	doubts := make([]camera.Doubt, n)
	for r, i := range order {
		if s.Fabrics[i].Group != s.Fabrics[order[0]].Group {
			return nil
		}
		doubts[n-1-r] = s.Fabrics[i].doubt()
	}
	covariance := func(i, j int) float64 {
		if i == j {
			return sq(doubts[i].Scale())
		}
		return camera.Covariance(doubts[i], doubts[j])
	}
	return cutsAt(ascending, OtherBreaks(ascending, covariance, starts, max(fewMoved, n/10)))
}

// swings: there is one chance in five or more that f lies on the other side of
// the cut midway between a and b.
func swings(f, a, b *Fabric) bool {
	d := math.Abs(f.Lightness - (a.Lightness+b.Lightness)/2)
	x, y, z := f.doubt(), a.doubt(), b.doubt()
	switch f {
	case a: // the cut goes along with it, half the way
		return camera.Order(-2*d, camera.Difference(x, z)) >= camera.OneInFive
	case b:
		return camera.Order(-2*d, camera.Difference(x, y)) >= camera.OneInFive
	}
	mid := (sq(y.Scale()) + sq(z.Scale()) + 2*camera.Covariance(y, z)) / 4
	v := sq(x.Scale()) + mid - camera.Covariance(x, y) - camera.Covariance(x, z)
	return camera.Order(-d, math.Sqrt(max(v, sq(x.Own)))) >= camera.OneInFive
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
		swing := false
		for _, at := range starts {
			swing = swing || swings(f, &s.Fabrics[order[n-at]], &s.Fabrics[order[n-1-at]])
		}
		f.Swing = &swing
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
