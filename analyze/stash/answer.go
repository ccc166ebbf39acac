package stash

import (
	"context"
	"slices"
)

// Action is what was done with the stash.
type Action string

const (
	ToAdd  Action = "add"
	ToFind Action = "find"
	ToShow Action = "show"
	ToUse  Action = "use"
	ToDrop Action = "drop"
	ToSave Action = "save"
	ToLoad Action = "load"
)

// Answer is the outcome of one action, as plain data.
type Answer struct {
	Action Action `json:"action"`
	Kept   int    `json:"kept"`   // cloths in the stash now
	Photos int    `json:"photos"` // that they were measured in
	// Asked is what was asked of the stash, in words; "" for all of it.
	Asked string `json:"asked,omitempty"`
	// Fabrics are the cloths of the answer: what was found, shown, used, added.
	// What can be ranked comes first.
	Fabrics []FoundCloth `json:"fabrics"`
	Dropped []string     `json:"dropped,omitzero"` // their ids
	// Cuts are those between the piles of the whole stash, L*, from the lighter to
	// the darker.
	Cuts   []float64 `json:"cuts,omitempty"`
	Added  []Added   `json:"added,omitzero"`   // what became of each photo
	Retake []Retake  `json:"retake,omitempty"` // photos worth taking again
	// Copied is how many cloths were saved or loaded.
	Copied int `json:"copied,omitempty"`
	// Renumbered are those that got another number when they were loaded: the old
	// one first.
	Renumbered [][2]string `json:"renumbered,omitempty"`
}

// FoundCloth is a cloth of an answer.
type FoundCloth struct {
	Kept
	DeltaE *float64 `json:"delta_e,omitempty"` // CIEDE2000 to what it is to be near to
	// ByInk is the index, in its colours, of the one that is so near; nil: the
	// cloth as a whole.
	ByInk *int `json:"by_ink,omitempty"`
	// Edge: it may lie outside the lightnesses that were asked for.
	Edge bool `json:"edge,omitempty"`
	// Untold: the level of its photo is not known well enough for what was asked.
	Untold bool `json:"untold,omitempty"`
}

// tiesAmong is up to how many cloths those that cannot be told apart are listed
// with each of them: of more the lists would be longer than the figures.
const tiesAmong = 300

// Pictured is up to how many cloths an answer gives the small pictures of: a page
// with more would be too heavy to open.
const Pictured = 600

// Answer is what was found, with all that is known of each cloth, in the order
// of the ranks. withPictures also gives the small pictures of the first Pictured.
func (s *Stash) Answer(ctx context.Context, f *Found, withPictures bool) (*Answer, error) {
	ids := make([]string, len(f.Hits))
	for i := range f.Hits {
		ids[i] = f.Hits[i].ID
	}
	kept, err := s.Get(ctx, ids)
	if err != nil {
		return nil, err
	}
	a := &Answer{Action: ToFind, Fabrics: make([]FoundCloth, len(kept)), Cuts: f.Cuts, Retake: f.Retake}
	for i := range kept {
		h, c := &f.Hits[i], &a.Fabrics[i]
		c.Kept = kept[i]
		c.Rank, c.Edge, c.Untold = h.Rank, h.Edge, h.Untold
		if !c.Untold && h.Pile != "" {
			c.Pile, c.Swing = h.Pile, &h.Swing
		}
		if h.DeltaE == h.DeltaE {
			c.DeltaE = &h.DeltaE
		}
		if h.ByInk >= 0 {
			c.ByInk = &h.ByInk
		}
		if withPictures && i < Pictured {
			if c.Swatch, err = s.Picture(ctx, c.ID); err != nil {
				return nil, err
			}
		}
	}
	if len(f.Hits) <= tiesAmong && !slices.ContainsFunc(a.Fabrics, func(c FoundCloth) bool { return c.DeltaE != nil }) {
		ties(a.Fabrics)
	}
	a.Kept, a.Photos, err = s.Count(ctx)
	return a, err
}

// ties says which of the cloths that have a rank cannot be told apart in
// lightness.
func ties(cloths []FoundCloth) {
	for i := range cloths {
		if cloths[i].Rank == 0 {
			continue
		}
		cloths[i].TiedWith = []string{}
		for j := range cloths {
			if i != j && cloths[j].Rank > 0 && tied(&cloths[i].Fabric, &cloths[j].Fabric) {
				cloths[i].TiedWith = append(cloths[i].TiedWith, cloths[j].ID)
			}
		}
	}
}
