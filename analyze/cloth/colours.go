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
//
//   - noise and shading are measured first, on the picture itself;
//   - a pixel votes for its colour where its surroundings are flat, or where
//     none of them goes further in its own direction (the middle of a thin
//     line); the edge between two inks never does either;
//   - inks are the peaks of the votes that stand clear of their surroundings
//     (topological persistence: Chazal, Guibas, Oudot and Skraba 2013, J. ACM
//     60(6):41), less those that are no more than a mixture of their
//     neighbours;
//   - an ink's colour is the mean of linear light well inside its figures;
//     where there is no inside, of what comes nearest;
//   - a pixel on an edge is unmixed, in linear light, between the inks that
//     lie next to it, so that the shares count it by its areas
//     (Murray-Davies).
//
// Nothing is random, and sums run in a fixed order.

// InkOptions say what is wanted of a palette. The zero value finds the number
// of inks and takes figures as the picture shows them.
type InkOptions struct {
	// Count is the most colours to give; 0 gives as many as there are.
	Count int
}

// NoInk marks a pixel of an ink map that belongs to no one ink.
const NoInk = 255

// maxInks is how many inks are told apart: sets of them are bits of a word.
const maxInks = 31

// Inks are the inks of a piece of cloth, most cloth first, with the share of
// it that each covers; the shares add up to 1. inside says which of p's W*H
// pixels belong to the piece; nil takes all of them. None inside gives none.
// Lab is rounded to 0.01 and shares to 0.0001, so that the last bits in which
// processors differ do not show.
func Inks(p *photo.Picture, inside []bool, opt InkOptions) []Colour {
	colours, _ := MapInks(p, inside, opt)
	return colours
}

// MapInks is Inks that also tells where each ink lies: of holds, for each of
// p's W*H pixels, an index into colours, or NoInk outside the piece and on
// the edge between two inks.
func MapInks(p *photo.Picture, inside []bool, opt InkOptions) (colours []Colour, of []uint8) {
	f := newInkField(p, inside)
	if f == nil {
		return nil, nil
	}
	if len(f.core) == 0 {
		return f.plain()
	}
	f.measureNoise()
	f.vote()
	inks := f.peaks(usualPeaks)
	if len(inks) == 0 {
		return f.plain()
	}
	inks = f.measure(f.prune(f.measure(inks)))
	mixes := f.unmix(inks)
	inks, mixes = f.settle(inks, mixes, opt.Count)
	return f.result(inks, mixes)
}

// ink is a colour of the print in the making.
type ink struct {
	lab    colorspace.Lab
	lin    colorspace.Linear
	votes  int
	deep   int // pixels well inside its figures
	narrow int // pixels in the middle of figures too thin to have an inside
	share  float64
}

// minDeep is how many pixels well inside its figures give an ink's colour.
const minDeep = 30

// thin tells that the ink's figures have no inside to speak of.
func (k ink) thin() bool { return k.deep < minDeep }

func (k *ink) set(lin colorspace.Linear) {
	k.lin, k.lab = lin, lin.Lab()
}

// Two inks nearer than this are one to the eye at arm's length: see sameInk.
// A colour counts when its share, times how far it stands from the nearest
// other (at most farInk), is enough: 0.4 % of the cloth will do for an accent
// unlike every other colour, 2 % is asked of a near relation.
const (
	farInk   = 25.0
	tellingInk = 0.004 * farInk
	// What has no inside may be an artefact of the file: twice as much.
	tellingThin = 2 * tellingInk
)

// settle joins inks that are one to the eye and drops those that do not
// count, then brings their number to count where that is not 0.
func (f *inkField) settle(inks []ink, mixes *mixture, count int) ([]ink, *mixture) {
	for {
		for i := range inks {
			inks[i].share = mixes.share[i]
		}
		gone := f.weakest(inks, count)
		if gone < 0 {
			return inks, mixes
		}
		inks = slices.Delete(inks, gone, gone+1)
		f.tagAll(inks)
		mixes = f.unmix(inks)
	}
}

// weakest is the ink to leave out next, -1 for none. One that is the eye's
// same as another gives its light to it first.
func (f *inkField) weakest(inks []ink, count int) int {
	if len(inks) < 2 || count > 0 && len(inks) <= count {
		return -1
	}
	worst, least := -1, math.Inf(1)
	for i, k := range inks {
		near, at := math.Inf(1), -1
		for j, o := range inks {
			if d := colorspace.CIEDE2000(k.lab, o.lab); i != j && d < near {
				near, at = d, j
			}
		}
		if o := &inks[at]; near < sameInk && (count == 0 || len(inks) > count) && (k.share < o.share || k.share == o.share && i > at) {
			if k.thin() == o.thin() && k.share > 0 {
				var mean colorspace.Linear
				for c := range mean {
					mean[c] = (k.share*k.lin[c] + o.share*o.lin[c]) / (k.share + o.share)
				}
				o.set(mean)
			}
			return i
		}
		need := tellingInk
		if k.thin() {
			need = tellingThin
		}
		if weight := k.share * min(near, farInk) / need; weight < least {
			worst, least = i, weight
		}
	}
	if count > 0 || least < 1 {
		return worst
	}
	return -1
}

// result puts the inks in order.
func (f *inkField) result(inks []ink, mixes *mixture) ([]Colour, []uint8) {
	order := make([]int, len(inks))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(inks[b].share, inks[a].share) })
	colours := make([]Colour, len(inks))
	place := make([]uint8, len(inks))
	rest := 1.0
	for i, n := range order {
		share := math.Round(inks[n].share*1e4) / 1e4
		rest -= share
		colours[i] = colourOf(inks[n].lin, share)
		place[n] = uint8(i)
	}
	if len(colours) > 0 {
		colours[0].Share = math.Round((colours[0].Share+rest)*1e4) / 1e4
	}
	of := mixes.of
	for i, n := range of {
		if n != NoInk {
			of[i] = place[n]
		}
	}
	return colours, of
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
		of[i] = NoInk
		if f.in(i) {
			of[i] = 0
			for c := range sum {
				sum[c] += float64(f.lin[3*i+c])
			}
			n++
		}
	}
	for c := range sum {
		sum[c] /= n
	}
	return []Colour{colourOf(sum, 1)}, of
}
