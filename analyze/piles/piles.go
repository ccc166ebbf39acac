// Package piles sorts cloths by lightness. Fabrics come in; they come out
// ranked, with ties told, cut into light, medium and dark piles by optimal
// one-dimensional natural breaks (Fisher 1958; Wang and Song 2011), with the
// cloths that could go either way marked, and paired for two-cloth blocks.
package piles

import "greige/analyze/cloth"

// Fabric is one cloth of a sort, with where it was found and where it belongs.
type Fabric struct {
	ID      string       `json:"id"` // the number she writes on a slip of paper
	Photo   string       `json:"photo"`
	Scrap   int          `json:"scrap"`   // number within its photo, from 1, in reading order
	Outline [][2]float64 `json:"outline"` // pixels of the upright photo
	// Holes are outlines of holes in it, in the same pixels.
	Holes [][][2]float64 `json:"holes,omitempty"`
	// AreaCM2 is the area inside Outline, its holes left out, in cm2; 0 where the photo's width in
	// cm was not given. Of a cloth that fills its photo it is what that shows.
	AreaCM2 float64 `json:"area_cm2,omitempty"`
	cloth.Cloth
	// Among is half of the 95 % interval of the lightness against the mean of all
	// cloths of the sort: what they share is no part of it. 0 where there are no ranks.
	Among    float64  `json:"uncertainty_among,omitempty"`
	Rank     int      `json:"rank,omitempty"`     // 1 is the lightest; 0 for a doubtful piece, and where nothing can be compared
	TiedWith []string `json:"tied_with,omitzero"` // nil without a rank
	Pile     Pile     `json:"pile,omitempty"`
	Swing    *bool    `json:"swing,omitempty"`    // within its uncertainty of another pile, or between piles; nil where it is in none
	Doubtful bool     `json:"doubtful,omitempty"` // may be no cloth: in no pile and no rank
	Note     string   `json:"note,omitempty"`     // why it is doubtful
	Given    bool     `json:"given,omitempty"`    // put right by hand: it is as the maker gave it
	// Group numbers the photos whose lightness stands on one footing: cloths
	// of different groups cannot be compared.
	Group int `json:"group,omitempty"`
}

// Swings tells whether the cloth lies in a pile and could go into another.
func (f *Fabric) Swings() bool { return f.Swing != nil && *f.Swing }

// Pile is a name of a pile.
type Pile string

const (
	Light  Pile = "light"
	Medium Pile = "medium"
	Dark   Pile = "dark"
)

// Sorted is the answer to "which are my lights and which are my darks". Where no
// two cloths can be compared, see Comparable, it has neither piles nor cuts.
type Sorted struct {
	Fabrics []Fabric  `json:"fabrics"` // in order of their numbers
	Piles   Piles     `json:"piles,omitzero"`
	Cuts    []float64 `json:"cuts,omitzero"` // L*, from the lighter cut to the darker
	// TooClose is the difference of L* under which neighbours in rank are too close
	// to rank: the middle one of all such; 0 where there are no ranks.
	TooClose float64 `json:"too_close,omitempty"`
	// OtherCuts are those of another division that is about as natural, and
	// that puts a tenth of the cloths or more into another pile, see
	// OtherBreaks; nil where there is none, or where the cloths cannot be
	// compared.
	OtherCuts []float64 `json:"other_cuts,omitempty"`
	// Pairs are two cloths each for a two-cloth block, the clearest first: a
	// seam between them is clear, no two busy prints meet, and each cloth of
	// the light and the dark pile that can have a partner has one, while none
	// is used more often than that takes.
	Pairs []Pair `json:"pairs"`
}

// Piles are the ids of each pile, from light to dark.
type Piles struct {
	Light  []string `json:"light"`
	Medium []string `json:"medium,omitzero"` // nil when there are two piles
	Dark   []string `json:"dark"`
}

// Pair is two cloths for one two-cloth block.
type Pair struct {
	Light   string  `json:"light"` // id
	Dark    string  `json:"dark"`
	DeltaL  float64 `json:"delta_l"`
	Clarity float64 `json:"clarity"` // d', see eye.Clarity
}
