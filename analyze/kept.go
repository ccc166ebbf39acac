package analyze

import (
	"cmp"
	"context"
	"fmt"
	"slices"

	"greige/analyze/border"
	"greige/analyze/layout"
	"greige/analyze/numerals"
	"greige/analyze/piles"
	"greige/analyze/stash"
)

// keptFor are the kept cloths, and the numbers of those to be left aside: they
// cannot be set against cloth of another photo, since the level of theirs is not
// known well enough. r's notes tell of them; if there are no others, they are
// taken for want of better.
func keptFor(ctx context.Context, kept *stash.Stash, r *Result) (all []piles.Fabric, aside map[string]bool, err error) {
	if kept == nil {
		return nil, nil, nil
	}
	if all, err = kept.Candidates(ctx); err != nil || len(all) == 0 {
		return nil, nil, err
	}
	r.bare = make(map[string]bool, len(all)) // only what a choice goes by has been read
	for i := range all {
		r.bare[all[i].ID] = true
	}
	aside = map[string]bool{}
	untold, most := map[string]int{}, "" // by photo
	for i := range all {
		f := &all[i]
		if f.Uncertainty <= stash.Told {
			f.Group = 0 // what is known of its level is in its own uncertainty
			continue
		}
		aside[f.ID] = true
		untold[f.Photo]++
	}
	for _, f := range all { // in their order, so that of equals it is the first
		if untold[f.Photo] > untold[most] {
			most = f.Photo
		}
	}
	if len(aside) == 0 {
		return all, nil, nil
	}
	again := fmt.Sprintf("The photo to take again first, with a sheet of white paper in it: %s (%s)", most, numerals.Some(untold[most], "cloth", "cloths"))
	if len(aside) == len(all) {
		r.Notes = append(r.Notes, "The lightness of your kept cloths is known too little to set them against this photo: take the nearness as a guess. "+again)
		return all, nil, nil
	}
	say := numerals.Alike(len(aside), len(all))
	left := say(len(aside)) + " are left aside: their lightness is known too little to set them"
	if len(aside) == 1 {
		left = say(1) + " is left aside: its lightness is known too little to set it"
	}
	r.Notes = append(r.Notes, "Of your "+say(len(all))+" kept cloths "+left+" against this photo. "+again)
	return all, aside, nil
}

// listed is up to how many cloths of a stash are told with the answer: more
// would bury it.
const listed = 300

// narrow leaves in b's stash, where it is a large one, what b names, and gives
// the kept cloths, of which bare are to be filled in, all their figures and their
// pictures.
func narrow(ctx context.Context, b *border.Border, kept *stash.Stash, bare map[string]bool) error {
	if kept == nil {
		return nil
	}
	named := map[string]bool{}
	for _, m := range b.Matches {
		for _, n := range m.Fabrics {
			named[n.ID] = true
		}
	}
	for _, c := range append(slices.Clone(b.OtherChoices), choiceOf(b)) {
		for _, f := range c.Fabrics {
			named[f.ID] = true
		}
	}
	if len(b.Stash) > listed {
		b.StashSize = len(b.Stash)
		b.Stash = slices.DeleteFunc(slices.Clone(b.Stash), func(f piles.Fabric) bool { return !named[f.ID] })
	}
	if err := kept.Fill(ctx, b.Stash, bare); err != nil {
		return err
	}
	return picture(ctx, kept, b.Stash, named)
}

func choiceOf(b *border.Border) border.Choice {
	if b.Choice == nil {
		return border.Choice{}
	}
	return *b.Choice
}

// picture gives the named cloths without a picture their own out of the stash.
func picture(ctx context.Context, kept *stash.Stash, cloths []piles.Fabric, named map[string]bool) error {
	for i := range cloths {
		f := &cloths[i]
		if f.Swatch != nil || !named[f.ID] {
			continue
		}
		var err error
		if f.Swatch, err = kept.Picture(ctx, f.ID); err != nil {
			return err
		}
	}
	return nil
}

// pictureChanges does so for the cloths that a top's changes hang.
func pictureChanges(ctx context.Context, kept *stash.Stash, cloths []piles.Fabric, changes []layout.Change) error {
	if kept == nil {
		return nil
	}
	named := map[string]bool{}
	for _, c := range changes {
		for _, p := range c.Placements {
			named[p.Stash] = true
		}
	}
	return picture(ctx, kept, cloths, named)
}

// few are the cloths of a large kept stash that are worth trying in a top: of
// each L* the three that are plainest and surest, since value and busyness are
// all that a seam goes by. The search tries every cloth in every place.
func few(cloths []piles.Fabric, kept *stash.Stash) []piles.Fabric {
	if kept == nil || len(cloths) <= listed {
		return cloths
	}
	const each = listed / 100
	step := func(f piles.Fabric) int { return int(f.Lightness) }
	order := slices.Clone(cloths)
	slices.SortStableFunc(order, func(a, b piles.Fabric) int {
		return cmp.Or(cmp.Compare(step(a), step(b)), cmp.Compare(a.Spread+a.Uncertainty, b.Spread+b.Uncertainty))
	})
	var out []piles.Fabric
	taken, at := 0, -1
	for _, f := range order {
		if f.Doubtful {
			continue
		}
		if step(f) != at {
			taken, at = 0, step(f)
		}
		if taken++; taken <= each {
			out = append(out, f)
		}
	}
	return out
}
