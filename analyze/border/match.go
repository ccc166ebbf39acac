package border

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"greige/analyze/piles"
	"greige/analyze/raster"
	"greige/colorspace"
)

// stand is a print and a stash with how near each cloth comes to each colour.
type stand struct {
	palette []Colour
	stash   []piles.Fabric
	cloths  []int       // indexes into stash: what is cloth
	near    [][]float64 // of each of cloths, by colour: CIEDE2000
	figure  [][]bool    // and whether by its figures
	apart   [][]float32 // CIEDE2000 between two cloths, the earlier second

	// byNearness are the indexes of cloths by colour, the nearest to it first, equal
	// ones in the order of the stash.
	byNearness [][]int
	// What a search asks for again and again, see weigh.
	covers  [][]float64 // of each of cloths, by colour: how well it answers it, 0..1
	belongs []float64   // how well each cloth goes with the print, 0..1
	lively  []float64   // how much each asks to be looked at, 0..1
	accents []float64   // by colour: how much it counts
	light   bool        // the print has a light of its own
}

func newStand(palette []Colour, stash []piles.Fabric) *stand {
	s := &stand{palette: palette, stash: stash}
	for i := range stash {
		if !stash[i].Doubtful {
			s.cloths = append(s.cloths, i)
		}
	}
	n, k := len(s.cloths), len(palette)
	s.near, s.figure = make([][]float64, n), make([][]bool, n)
	near, figure := make([]float64, n*k), make([]bool, n*k) // of all of them: many small ones take longer
	raster.Bands(n, 64, func(from, to int) {
		for c := from; c < to; c++ {
			s.near[c], s.figure[c] = near[c*k:(c+1)*k], figure[c*k:(c+1)*k]
			for j := range palette {
				s.near[c][j], s.figure[c][j] = likeness(&s.fabric(c).Cloth, palette[j].Lab)
			}
		}
	})
	if len(s.cloths) <= searched {
		s.pairs()
	}
	s.weigh()
	return s
}

// weigh works out what each cloth is worth by itself: how well it answers each
// colour, how well it goes with the print, by the nearest of its colours, and how
// much it asks to be looked at, by its chroma and by how busy it is. Then the cloths
// are put in order of nearness to each colour.
func (s *stand) weigh() {
	for _, k := range s.palette {
		// Small accents count for more than their share: that is what they are for.
		s.accents = append(s.accents, math.Sqrt(k.Share))
		s.light = s.light || k.Lab.L >= lightFrom && k.Share >= lightShare
	}
	for c := range s.cloths {
		row, best := make([]float64, len(s.palette)), 0.0
		for j := range row {
			row[j] = fade(s.near[c][j], VeryClose, AStretch)
			best = max(best, row[j])
		}
		f := s.fabric(c)
		s.covers, s.belongs = append(s.covers, row), append(s.belongs, best)
		s.lively = append(s.lively, .5*min(f.Lab.Chroma()/60, 1)+.5*min(f.Spread/12, 1))
	}
	s.byNearness = make([][]int, len(s.palette))
	raster.Bands(len(s.palette), 1, func(from, to int) {
		for j := from; j < to; j++ {
			order := make([]int, len(s.cloths))
			for c := range order {
				order[c] = c
			}
			slices.SortFunc(order, func(a, b int) int { return cmp.Or(cmp.Compare(s.near[a][j], s.near[b][j]), a-b) })
			s.byNearness[j] = order
		}
	})
}

// pairs works out how far apart the cloths are: a search asks for the same pairs
// again and again.
func (s *stand) pairs() {
	s.apart = make([][]float32, len(s.cloths))
	raster.Bands(len(s.cloths), 8, func(from, to int) {
		for c := from; c < to; c++ {
			row := make([]float32, c)
			for d := range row {
				row[d] = float32(colorspace.CIEDE2000(s.fabric(c).Lab, s.fabric(d).Lab))
			}
			s.apart[c] = row
		}
	})
}

// nearest is how many cloths are named for a colour at most.
const nearest = 12

// matches are the nearest cloths of each colour.
func (s *stand) matches() []Match {
	out := make([]Match, len(s.palette))
	for j := range s.palette {
		order := s.byNearness[j]
		m := Match{Colour: j, Fabrics: []Near{}}
		for _, c := range order[:min(len(order), nearest)] {
			m.Fabrics = append(m.Fabrics, Near{ID: s.stash[s.cloths[c]].ID, DeltaE: s.near[c][j], ByFigure: s.figure[c][j]})
		}
		out[j] = m
	}
	return out
}

// worthShopping is the share of the print from which a colour is missed.
const worthShopping = 0.02

// missing says which colours have no cloth of their family, and what is
// wrong with the nearest.
func (s *stand) missing() []Missing {
	var out []Missing
	for j, k := range s.palette {
		if k.Share < worthShopping {
			continue
		}
		if first := s.byNearness[j]; len(first) > 0 && s.near[first[0]][j] <= SameFamily {
			continue
		}
		hue, nearestHue := -1, math.Inf(1)
		for _, i := range s.cloths {
			if d := hueOnly(s.stash[i].Lab, k.Lab); d <= SameFamily && math.Abs(s.stash[i].Lab.L-k.Lab.L) < nearestHue {
				nearestHue, hue = math.Abs(s.stash[i].Lab.L-k.Lab.L), i
			}
		}
		m := Missing{Colour: j, Hex: k.Hex, Say: fmt.Sprintf("nothing near the %s", k.Name)}
		// Right but for its lightness: then that is what to shop for.
		if hue >= 0 {
			word := "dark"
			if s.stash[hue].Lab.L < k.Lab.L {
				word = "light"
			}
			m.Say = fmt.Sprintf("nothing %s enough near the %s", word, k.Name)
		}
		out = append(out, m)
	}
	return out
}
