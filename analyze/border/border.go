// Package border answers what belongs in the middle of a border print. The
// print as an evened picture and the cloths of a stash come in; out come the
// print's inks with their shares (cloth.Colours), the nearest cloths to each
// by CIEDE2000, and a choice of centre fabrics that covers the palette from
// light to dark, found by search, with the reason for each.
package border

import (
	"cmp"
	"slices"

	"greige/analyze/cloth"
	"greige/analyze/piles"
	"greige/colorspace"
)

// Degrees of likeness in CIEDE2000 between a cloth and a colour of the print:
// common practice, no source. Within SameFamily a cloth belongs to the print.
const (
	VeryClose  = 5.0
	SameFamily = 12.0
	AStretch   = 20.0
)

// Role is what a colour does in the print.
type Role string

const (
	Ground Role = "ground" // the colour behind the figures
	Print  Role = "print"
)

// Colour is one ink of the print.
type Colour struct {
	cloth.Colour
	Role         Role                   `json:"role"`
	MunsellValue float64                `json:"munsell_value"` // 0..10, of the ink
	Temperature  colorspace.Temperature `json:"temperature"`   // of the ink
}

// Match is the stash's cloths for one colour, nearest first.
type Match struct {
	Colour  int    `json:"colour"` // index into Border.Palette
	Fabrics []Near `json:"fabrics"`
}

// Near is a cloth and how far it is from a colour.
type Near struct {
	ID     string  `json:"id"`
	DeltaE float64 `json:"delta_e"` // CIEDE2000
	// ByFigure: not the cloth as a whole but one of its own inks comes near.
	ByFigure bool `json:"by_figure,omitempty"`
}

// Chosen is one centre fabric of a choice.
type Chosen struct {
	ID         string     `json:"id"`
	Role       piles.Pile `json:"role"`
	Why        string     `json:"why"`
	Background bool       `json:"background,omitempty"`
}

// Choice is a handful of cloths that go with the print.
type Choice struct {
	Name    string     `json:"name,omitempty"` // what sets it apart: "quiet", "lively"
	Fabrics []Chosen   `json:"fabrics"`        // light to dark
	Covers  float64    `json:"covers"`         // share of the print's cloth whose colours have a cloth near them
	Range   [2]float64 `json:"range"`          // L* of the darkest and of the lightest
}

// Missing is a colour of the print that no cloth of the stash comes near.
type Missing struct {
	Colour int    `json:"colour"` // index into Border.Palette
	Say    string `json:"say"`    // "nothing dark enough near the deep reddish purple"
	Hex    string `json:"hex"`    // the colour to shop for
}

// Border is the answer to "what goes in the middle".
type Border struct {
	Palette []Colour       `json:"palette"`         // most cloth first; shares add up to 1
	Stash   []piles.Fabric `json:"stash,omitempty"` // as in a sort
	// StashSize is how many cloths there were to choose from, where Stash holds
	// only those of them that are named; else 0.
	StashSize    int       `json:"stash_size,omitempty"`
	Matches      []Match   `json:"matches,omitempty"`
	Choice       *Choice   `json:"choice,omitempty"`
	OtherChoices []Choice  `json:"other_choices,omitempty"`
	Missing      []Missing `json:"missing,omitempty"`
}

// Inks is a print's palette as cloth.MapInks finds it: the colours, and for
// each of W*H pixels the index of its colour or cloth.NoInk.
type Inks struct {
	Colours []cloth.Colour
	W, H    int
	Of      []uint8
}

// Wishes are what the maker says about a choice.
type Wishes struct {
	// Without are colours of the palette, from 0, that need no cloth: they
	// count for nothing in the choice, and nothing is missed near them.
	Without []int
	// Chosen are the numbers of the cloths to take; nil: the best are found.
	Chosen []string
}

// Find matches a stash to a print's inks and chooses n centre fabrics by what the
// maker wishes. An empty stash gives the palette alone.
func Find(inks Inks, stash []piles.Fabric, n int, wishes Wishes) Border {
	b := Border{Palette: palette(inks)}
	if len(stash) == 0 {
		return b
	}
	b.Stash = stash
	s := newStand(b.Palette, stash)
	b.Matches = s.matches()
	if len(wishes.Without) > 0 {
		s = newStand(counting(b.Palette, wishes.Without), stash)
	}
	b.Missing = s.missing()
	choices := s.choices(n)
	if len(wishes.Chosen) > 0 {
		var set []int
		for c, i := range s.cloths {
			if slices.Contains(wishes.Chosen, stash[i].ID) {
				set = append(set, c)
			}
		}
		slices.SortStableFunc(set, func(a, b int) int { return cmp.Compare(s.fabric(b).Lightness, s.fabric(a).Lightness) })
		if len(set) > 0 {
			choices = append([]Choice{s.choice(set, temper{})}, choices...)
		}
	}
	if len(choices) > 0 {
		b.Choice, b.OtherChoices = &choices[0], choices[1:]
	}
	return b
}

// counting is a palette in which the colours without a say have no share, and
// the others all of it.
func counting(palette []Colour, without []int) []Colour {
	if len(without) == 0 {
		return palette
	}
	out, left := slices.Clone(palette), 0.0
	for i := range out {
		if slices.Contains(without, i) {
			out[i].Share = 0
		}
		left += out[i].Share
	}
	for i := range out {
		if left > 0 {
			out[i].Share /= left
		}
	}
	return out
}
