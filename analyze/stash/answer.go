package stash

import (
	"context"
	"math"
	"slices"

	"greige/analyze/cloth"
	"greige/analyze/piles"
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
	// More is what of a long answer is not in Fabrics; nil: nothing.
	More    *More    `json:"-"`
	Dropped []string `json:"dropped,omitzero"` // their ids
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
	// Picture reads the small picture of a cloth that a page shows, as Stash.Picture
	// does; nil: pictures were not asked for, or the cloths have their own.
	Picture func(id string) (*cloth.Swatch, error) `json:"-"`
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

// Pictured is up to how many cloths a page shows: one with more would be too heavy to
// open, and nobody looks through it.
const Pictured = 600

// More is the rest of an answer of more than Pictured cloths, of which the first
// atATime are held, and the others read as they are written.
type More struct {
	All    map[piles.Pile]int // how many cloths the answer has in each pile; "": in none
	Untold int                // so many of these cannot be told
	// Shown are the cloths for a page, if one was asked for. Where nearness was asked for,
	// these are the first of the answer; else they are spread evenly over it, so that each
	// pile is seen. They are without their outlines, which no page has.
	Shown []FoundCloth
	Rest  func(give func([]FoundCloth) error) error // gives the cloths that Fabrics leaves out, some at a time
}

// Each gives all cloths of the answer, a hundred at a time, in their order.
func (a *Answer) Each(give func([]FoundCloth) error) error {
	for some := range slices.Chunk(a.Fabrics, atATime) {
		if err := give(some); err != nil {
			return err
		}
	}
	if a.More == nil {
		return nil
	}
	return a.More.Rest(give)
}

// atATime is how many cloths are held at a time of an answer that is read as it is
// written.
const atATime = 100

// Count is how many cloths the answer has, in each pile, and of those in none how many
// cannot be told.
func (a *Answer) Count() (all int, piled map[piles.Pile]int, untold int) {
	if a.More != nil {
		for _, n := range a.More.All {
			all += n
		}
		return all, a.More.All, a.More.Untold
	}
	piled = map[piles.Pile]int{}
	for i := range a.Fabrics {
		piled[a.Fabrics[i].Pile]++
		if a.Fabrics[i].Untold {
			untold++
		}
	}
	return len(a.Fabrics), piled, untold
}

// Shown are the cloths of the answer that a page shows.
func (a *Answer) Shown() []FoundCloth {
	if a.More != nil {
		return a.More.Shown
	}
	return a.Fabrics
}

// Answer is what was found, with all that is known of each cloth, in the order
// of the ranks. withPictures also tells how large the small pictures are of those that a
// page shows; the pictures themselves are read when they are asked for. They and what
// its More gives are read from s, which has to be open then.
func (s *Stash) Answer(ctx context.Context, f *Found, withPictures bool) (*Answer, error) {
	a := &Answer{Action: ToFind, Cuts: f.Cuts, Retake: f.Retake}
	first, rest := f.Hits, f.Hits[:0]
	if len(f.Hits) > Pictured {
		first, rest = f.Hits[:atATime], f.Hits[atATime:]
	}
	var err error
	if a.Fabrics, err = s.found(ctx, first, withPictures && len(rest) == 0); err != nil {
		return nil, err
	}
	if len(rest) > 0 {
		a.More = s.more(ctx, f.Hits, rest)
		if withPictures {
			a.More.Shown = make([]FoundCloth, 0, Pictured)
			for some := range slices.Chunk(forPage(f.Hits), atATime) {
				shown, err := s.found(ctx, some, true)
				if err != nil {
					return nil, err
				}
				for i := range shown {
					shown[i].Outline, shown[i].Colours = nil, slices.Clone(shown[i].Colours) // as many as there are
				}
				a.More.Shown = append(a.More.Shown, shown...)
			}
		}
	}
	if withPictures {
		a.Picture = func(id string) (*cloth.Swatch, error) { return s.Picture(ctx, id) }
	}
	if len(f.Hits) <= tiesAmong && !slices.ContainsFunc(a.Fabrics, func(c FoundCloth) bool { return c.DeltaE != nil }) {
		ties(a.Fabrics)
	}
	a.Kept, a.Photos, err = s.Count(ctx)
	return a, err
}

// more is rest, the rest of an answer of hits.
func (s *Stash) more(ctx context.Context, hits, rest []Hit) *More {
	m := &More{All: map[piles.Pile]int{}}
	for i := range hits {
		if hits[i].Untold {
			m.Untold++
			m.All[""]++
		} else {
			m.All[hits[i].Pile]++
		}
	}
	m.Rest = func(give func([]FoundCloth) error) error {
		for hits := range slices.Chunk(rest, atATime) {
			some, err := s.found(ctx, hits, false)
			if err != nil {
				return err
			}
			if err := give(some); err != nil {
				return err
			}
		}
		return nil
	}
	return m
}

// forPage are those of more than Pictured hits that a page shows: the nearest where
// nearness was asked for, else some from all over them.
func forPage(hits []Hit) []Hit {
	if !math.IsNaN(hits[0].DeltaE) {
		return hits[:Pictured]
	}
	shown := make([]Hit, Pictured)
	for i := range shown {
		shown[i] = hits[i*len(hits)/Pictured]
	}
	return shown
}

// found are hits with all that is known of them; of their pictures no more than how
// large they are.
func (s *Stash) found(ctx context.Context, hits []Hit, withPictures bool) ([]FoundCloth, error) {
	ids := make([]string, len(hits))
	for i := range hits {
		ids[i] = hits[i].ID()
	}
	kept, err := s.Get(ctx, ids)
	if err != nil {
		return nil, err
	}
	out := make([]FoundCloth, len(kept))
	for i := range kept {
		h, c := &hits[i], &out[i]
		c.Kept = kept[i]
		c.Rank, c.Edge, c.Untold = int(h.Rank), h.Edge, h.Untold
		if !c.Untold && h.Pile != "" {
			swing := h.Swing
			c.Pile, c.Swing = h.Pile, &swing
		}
		if h.DeltaE == h.DeltaE {
			d := h.DeltaE
			c.DeltaE = &d
		}
		if h.ByInk >= 0 {
			k := int(h.ByInk)
			c.ByInk = &k
		}
		if withPictures {
			if c.Swatch, err = s.frame(ctx, c.ID); err != nil {
				return nil, err
			}
		}
	}
	return out, nil
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
