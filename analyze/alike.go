package analyze

import (
	"context"
	"fmt"
	"math"
	"slices"

	"greige/analyze/light"
	"greige/analyze/numerals"
	"greige/analyze/photo"
	"greige/analyze/piles"
)

// Photos of one run are taken alike and show alike: close-ups of one cloth
// each, or tables with scraps. What one photo seems to show is therefore weighed
// against the others, and so is a level that was guessed from one of them. A
// photo that stays unlike the others is named before all else.

const (
	alikeLeast = 3      // photos, besides the one in question, that tell what a run shows
	alikeShare = 2. / 3 // of them have to agree
	// alikeOdds is the logarithm of the odds that a photo is like its fellows, which its
	// own evidence has to outweigh: 30 to 1, common practice, no source.
	alikeOdds = 3.4
	// paperApart is ln: how much the levels may differ that sheets of paper give
	// in photos of one exposure group. Papers and lamps make some .1.
	paperApart = .25
)

// shows is what a photo was taken to show.
type shows struct {
	pieces int     // 0: one cloth
	score  float64 // see scraps.Found
}

// counted is how many of what was found is cloth.
func counted(fabrics []piles.Fabric) (n int) {
	for _, f := range fabrics {
		if !f.Doubtful {
			n++
		}
	}
	return n
}

// agree looks again, the way the others were taken, at each photo of a run that
// was taken for something else without good reason; got and footings belong to
// sources. It returns what to say of those that differ.
func (opt SortOptions) agree(ctx context.Context, sources []photo.Source, footings []light.Exposure, got []clothPhoto) ([]string, error) {
	again := make([]*SortOptions, len(sources))
	why := make([]string, len(sources))
	for i := range got {
		if got[i].skipped != nil {
			continue
		}
		if opt.Scraps == ScrapsAuto && !got[i].given { // what was put right holds
			if o, says := opt.otherwise(got, i); says != "" {
				again[i], why[i] = o, says
				continue
			}
		}
		if says := disputed(got, footings, i); says != "" {
			o := opt
			o.Light.NoPaper = true
			if got[i].shows.pieces == 0 {
				o.Scraps = ScrapsOne
			}
			again[i], why[i] = &o, says
		}
	}
	side := sideAmong(len(sources))
	opt.Progress = nil // they have been counted
	err := opt.each(ctx, len(sources), func(i int) {
		if again[i] == nil {
			return
		}
		var g clothPhoto
		if guarded(func() { g = again[i].measurePhoto(ctx, sources[i], footings[i], side) }) == nil && g.skipped == nil {
			got[i] = g
		}
	})
	if err != nil {
		return nil, err
	}
	var says []string
	for i, w := range why {
		if w != "" {
			says = append(says, fmt.Sprintf("%s: %s", sources[i].Name, w))
		}
	}
	return says, nil
}

// otherwise tells how photo i is to be taken where the others show something
// else than it seems to, nil for as it was, and what to say of that; "" where it
// is like them or they do not agree.
func (opt SortOptions) otherwise(got []clothPhoto, i int) (*SortOptions, string) {
	others, one := 0, 0
	for j := range got {
		if j == i || got[j].skipped != nil {
			continue
		}
		others++
		if got[j].shows.pieces == 0 {
			one++
		}
	}
	if others < alikeLeast {
		return nil, ""
	}
	share, s := float64(one)/float64(others), got[i].shows
	switch {
	case s.pieces > 0 && share >= alikeShare && s.score < alikeOdds:
		opt.Scraps = ScrapsOne
		return &opt, "it was taken for one cloth, as the other photos show one each, though its figures look like pieces on a ground. If it does show scraps, sort it by itself with --scraps many."
	case s.pieces > 0 && share >= alikeShare:
		return nil, "it shows scraps on a ground, where most of the other photos show one cloth each. If it is one cloth too, say so with --scraps one."
	case s.pieces == 0 && 1-share >= alikeShare && s.score > -alikeOdds:
		opt.Scraps = ScrapsMany
		return &opt, "it was taken for scraps, as the other photos show them, though they look like the figures of one cloth. If it is one cloth, sort it by itself with --scraps one."
	case s.pieces == 0 && 1-share >= alikeShare:
		return nil, "it was taken for one cloth, where most of the other photos show scraps on a ground. If it shows scraps, take it again on a plain ground, or say so with --scraps many."
	}
	return nil, ""
}

// disputed says why a sheet of paper that was found in photo i is not to be
// trusted: hardly any other photo of its exposure group has one, or theirs give
// another level; "" where there is no such reason. She lays paper in all of a
// set or in none (common practice, no source), and a white print looks like it.
func disputed(got []clothPhoto, footings []light.Exposure, i int) string {
	if got[i].paper == 0 || !footings[i].Known {
		return ""
	}
	own := math.Log(got[i].paper / footings[i].Gain)
	others := 0
	var levels []float64
	for j := range got {
		if j == i || got[j].skipped != nil || footings[j].Group != footings[i].Group {
			continue
		}
		others++
		if got[j].paper > 0 {
			levels = append(levels, math.Log(got[j].paper/footings[j].Gain))
		}
	}
	if others < alikeLeast {
		return ""
	}
	if 2*len(levels) < others {
		return "something white in it looks like a sheet of paper, but hardly any of the photos taken with it has one, so it was not gone by. If it is paper, say where with --card X,Y,W,H."
	}
	slices.Sort(levels)
	if math.Abs(own-levels[len(levels)/2]) > paperApart {
		return "the sheet of paper found in it makes it lighter or darker than the papers of the photos taken with it, so it was not gone by. If it is paper, say where with --card X,Y,W,H."
	}
	return ""
}

// needs says once what the tables of a run would need so that their cloths can
// be ranked against those of the other photos; "" where they lack nothing.
func needs(got []clothPhoto) string {
	photos, tables := 0, 0
	for i := range got {
		if got[i].skipped != nil {
			continue
		}
		photos++
		if got[i].shows.pieces > 0 && got[i].adrift {
			tables++
		}
	}
	if photos < 2 || tables == 0 {
		return ""
	}
	say := numerals.Alike(tables, photos)
	return fmt.Sprintf("%s of the %s photos show scraps on a table that does not tell how light it is, so that their scraps are ranked among themselves only. Lay one sheet of white paper flat on each table, in the same light, and take them again; then all can be ranked together.", say(tables), say(photos))
}
