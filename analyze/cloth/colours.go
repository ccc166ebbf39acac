package cloth

import (
	"cmp"
	"math"
	"slices"

	"greige/analyze/photo"
	"greige/colorspace"
)

// The inks of a print are found by a model of how a photo of it comes about:
// a pixel is the light of the inks in it by their areas, times the shading of
// the weave, plus noise. So
//   - noise and shading are measured first, on the picture itself
//     (colours_field.go);
//   - a pixel votes for its colour where its surroundings are flat, or where
//     none of them goes further in its own direction (the middle of a thin
//     line): the edge between two inks never does either; and the inks are the
//     peaks of the votes (colours_peaks.go);
//   - an ink's colour is the mean of linear light well inside its figures;
//     where they have no inside, it follows from a model of the blur
//     (colours_fine.go);
//   - a pixel on an edge is unmixed, in linear light, between the inks that
//     lie next to it, so that the shares count it by its areas
//     (colours_mix.go).
//
// Nothing is random, and sums run in a fixed order.

// InkOptions say what is wanted of a palette. The zero value finds the number
// of inks and takes figures as the picture shows them.
type InkOptions struct {
	// Count is how many colours to give; 0 gives as many as there are.
	Count int
	// Fine undoes what blurs figures that are only a few pixels wide, whose
	// inks the picture shows nowhere pure: the lens, the pixels, and files that
	// keep colour more coarsely than lightness. It takes some 0.1 s more.
	Fine bool
}

// NoInk marks a pixel of an ink map that belongs to no one ink.
const NoInk = 255

// MapInks are the inks of a piece of cloth, most cloth first, with the share of
// it that each covers; the shares add up to 1. inside says which of p's W*H
// pixels belong to the piece; nil takes all of them. None inside gives none.
// Lab is rounded to 0.01 and shares to 0.0001, so that the last bits in which
// processors differ do not show. of tells where each ink lies: it holds, for each
// pixel, an index into colours, or NoInk outside the piece and on the edge
// between two inks.
func MapInks(p *photo.Picture, inside []bool, opt InkOptions) (colours []Colour, of []uint8) {
	return new(inkRoom).mapInks(p, inside, opt)
}

// mapInks is MapInks. of lies in ro.
func (ro *inkRoom) mapInks(p *photo.Picture, inside []bool, opt InkOptions) (colours []Colour, of []uint8) {
	if opt.Fine {
		p = withFineColour(p)
	}
	f := ro.field(p, inside)
	if f == nil {
		return nil, nil
	}
	if f.coreSize == 0 {
		return f.plain()
	}
	// Sixty small pieces and prints of three to six inks say the same by some
	// thousands of places as by all; half as many lose an accent of 1 %.
	noises, votes := 6000, 4000
	if opt.Fine {
		noises, votes = 60000, 120000
	}
	f.measureNoise(noises)
	f.vote(votes)
	inks := f.peaks(usualPeaks)
	if len(inks) == 0 {
		return f.plain()
	}
	inks = f.measure(inks)
	var mixes *mixture
	if opt.Fine && slices.ContainsFunc(inks, ink.thin) && f.roomForTiles() {
		inks, mixes = f.sharpenInks(inks)
	} else {
		inks = f.prune(inks)
		mixes = f.unmix(inks)
	}
	if opt.Count > len(inks) {
		inks = f.atLeast(min(opt.Count, maxInks), inks)
		mixes = f.unmix(inks)
	}
	return f.result(f.settle(inks, mixes, opt.Count))
}

// ink is a colour of the print in the making.
type ink struct {
	lab    colorspace.Lab
	lin    colorspace.Linear
	votes  int
	deep   int // pixels well inside its figures
	narrow int // its other flat and narrow pixels
	share  float64
}

// maxInks is how many inks are told apart: sets of them are bits of a word.
const maxInks = 31

// minDeep is how many pixels well inside its figures give an ink's colour.
const minDeep = 30

// thin tells that the ink's figures have no inside to speak of.
func (k ink) thin() bool { return k.deep < minDeep }

func (k *ink) set(lin colorspace.Linear) {
	k.lin, k.lab = lin, lin.Lab()
}

// A colour counts when its share of the cloth times its distance from the
// nearest other colour (CIEDE2000, at most farInk) is enough: 0.4 % of the
// cloth will do for an accent unlike every other colour, 2 % is asked of a
// near relation. No source; an accent of 1 % must stay, and what the edges of
// figures leave over is less.
const (
	farInk  = 25.0
	tells   = 0.004 * farInk
	tellsIf = 2 * tells // of a thin ink, which may be an artefact of the file
)

// settle joins inks that are one to the eye and drops those that do not
// count, then brings their number to count where that is not 0.
func (f *inkField) settle(inks []ink, mixes *mixture, count int) ([]ink, *mixture) {
	for {
		for i := range inks {
			inks[i].share = mixes.share[i]
		}
		gone := surplus(inks, count)
		if len(gone) == 0 {
			return inks, mixes
		}
		for i := len(gone) - 1; i >= 0; i-- {
			inks = slices.Delete(inks, gone[i], gone[i]+1)
		}
		f.tagAll(inks)
		mixes = f.unmix(inks)
	}
}

// surplus are the inks to leave out next, by index: one that the eye takes
// for another, which gets its light first; else all that count for next to
// nothing; else the one that counts least, if that is too little.
func surplus(inks []ink, count int) []int {
	if len(inks) < 2 || len(inks) <= count {
		return nil
	}
	var trifles []int
	worst, least := -1, math.Inf(1)
	for i := range inks {
		k := &inks[i]
		near, at := math.Inf(1), -1
		for j := range inks {
			if i == j {
				continue
			}
			if d := colorspace.CIEDE2000(k.lab, inks[j].lab); d < near {
				near, at = d, j
			}
		}
		if o := &inks[at]; near < sameInk && k.share <= o.share {
			if k.thin() == o.thin() && o.share > 0 {
				var mean colorspace.Linear
				for c := range mean {
					mean[c] = (k.share*k.lin[c] + o.share*o.lin[c]) / (k.share + o.share)
				}
				o.set(mean)
			}
			return []int{i}
		}
		need := tells
		if k.thin() {
			need = tellsIf
		}
		weight := k.share * min(near, farInk) / need
		if weight < least {
			worst, least = i, weight
		}
		if weight < .4 {
			trifles = append(trifles, i)
		}
	}
	switch {
	case count > 0 || least < 1 && len(trifles) < 2:
		return []int{worst}
	case len(trifles) > 1 && len(trifles) < len(inks):
		return trifles
	}
	return nil
}

// result puts the inks in order.
func (f *inkField) result(inks []ink, mixes *mixture) ([]Colour, []uint8) {
	order := make([]int, len(inks))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(inks[b].share, inks[a].share) })
	colours := make([]Colour, len(inks))
	place := [NoInk + 1]uint8{NoInk: NoInk}
	rest := 1.0
	for i, n := range order {
		share := math.Round(inks[n].share*1e4) / 1e4
		rest -= share
		colours[i] = colourOf(inks[n].lin, share)
		place[n] = uint8(i)
	}
	colours[0].Share = math.Round((colours[0].Share+rest)*1e4) / 1e4
	for i, n := range mixes.of {
		mixes.of[i] = place[n]
	}
	return colours, mixes.of
}

func colourOf(lin colorspace.Linear, share float64) Colour {
	lab := lin.Lab()
	for _, v := range []*float64{&lab.L, &lab.A, &lab.B} {
		*v = math.Round(*v*100) / 100
	}
	return Colour{Lab: lab, Hex: lab.Linear().Hex(), Share: share, Name: colorspace.Name(lab)}
}

// plain is the answer for a piece too small to look into: its mean.
func (f *inkField) plain() ([]Colour, []uint8) {
	of := make([]uint8, f.w*f.h)
	var sum colorspace.Linear
	n := 0.0
	for i := range of {
		if f.inside != nil && !f.inside[i] {
			of[i] = NoInk
			continue
		}
		for c := range sum {
			sum[c] += float64(f.lin[3*i+c])
		}
		n++
	}
	for c := range sum {
		sum[c] /= n
	}
	return []Colour{colourOf(sum, 1)}, of
}
