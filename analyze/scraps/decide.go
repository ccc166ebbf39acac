package scraps

import (
	"cmp"
	"math"
	"slices"

	"greige/analyze/fit"
	"greige/analyze/numerals"
	"greige/analyze/raster"
)

// The score of a record is linear: above 0 for cloth, the logarithm of the odds.
// The weights are those of a logistic regression on 1977 proposals of real and drawn
// tables, each table and answer weighing as the root of its proposals; those of a
// source left out it calls right but for 9 false and 16 missed ones.
const (
	weightRelative = 3.5   // of the logarithm of the radius over the usual one
	weightSolidity = 13.3  // of the share of its hull that it covers
	weightRim      = -33.7 // of the share of its outline along the photo's border
	weightDistance = .81   // of the logarithm of its distance from the ground
	weightKeen     = .57   // of the logarithm of how sharp its outline is: a shadow's is not
	weightHole     = -48.9 // of the share of it that is a hole to the ground
	weightNone     = -9.39
)

func (k *record) score() float64 {
	return weightRelative*math.Log(k.relative) + weightSolidity*k.solidity + weightRim*k.rim +
		weightDistance*math.Log(k.distance+1) + weightKeen*math.Log(k.keen+.01) + weightHole*k.hole + weightNone // .01: an edge as weak as none
}

// compare sets how large each record's piece is beside the usual one: half of all
// that is covered is covered by larger ones.
func compare(records []record) {
	areas, radii := make([]float64, len(records)), make([]float64, len(records))
	for i, k := range records {
		areas[i], radii[i] = k.radius*k.radius, k.radius
	}
	usual := usualBy(radii, areas)
	for i := range records {
		records[i].relative = radii[i] / usual
	}
}

// usualBy is the value of v for which half of the sum of the weights lies with
// larger ones.
func usualBy(v, weights []float64) float64 {
	order := make([]int, len(v))
	total := 0.0
	for i := range order {
		order[i] = i
		total += weights[i]
	}
	slices.SortStableFunc(order, func(i, j int) int { return cmp.Compare(v[i], v[j]) })
	sum := 0.0
	for _, i := range order {
		if sum += weights[i]; 2*sum >= total {
			return v[i]
		}
	}
	return 1
}

// The score of a photo is linear: above 0 for scraps, below for one cloth. The
// weights are those of a logistic regression on 235 tables and 146 close-ups of 34
// sources, one of them drawn, each source weighing as the root of its photos and both
// kinds alike. With each source left out in turn it calls 12 tables and 10 close-ups
// wrong; by what it went by before, how much of the rim is covered and how much pieces
// differ, 64 and 39.
const (
	weightCut   = -.903
	weightApart = 2.107
	weightCover = .983
	weightSolid = 11.07
	weightBest  = .632
	weightMany  = -12.14
	// Differing by less, pieces are alike: the noise of a radius and a mean colour.
	sameKind = .05
	// A radius counts as a colour does: a tenth more or less as 2 units of CIELAB.
	perRadius = 20
	// Of the scraps that lie in a photo as many are cut by its border as this share of
	// what it would cut of figures: most are laid within it.
	fewCut = .15
	// Beyond these, more tells no more, chosen with each source left out in turn.
	mostCut, mostApart, mostBest = 4, 6, 8
	leastCover, mostCover        = .0003, .1
	// mostChance is the chance that a piece is cut, even if it fills the photo.
	mostChance = .97
	// unsure is the score within which either may be: odds of 4 to 1.
	unsure = 1.4
)

// evidence is what tells a photo of scraps on a ground from one of one cloth, whose
// figures lie everywhere and go on beyond the photo.
type evidence struct {
	cut      float64 // logarithm of the odds for one cloth by which pieces the photo's border cuts, at most mostCut either way
	apart    float64 // how much pieces usually differ, in colour and size, from those that are likest to them
	cover    float64 // share of the photo that cloths cover
	solidity float64 // of them, by area
	best     float64 // score of the likeliest of them, if it is not held against it that the border cuts it
}

// score is the logarithm of the odds that the photo shows scraps.
func (e evidence) score() float64 {
	return weightCut*e.cut + weightApart*math.Log(e.apart+sameKind) + weightCover*math.Log(e.cover+leastCover) +
		weightSolid*e.solidity + weightBest*e.best + weightMany
}

// weigh is the evidence of proposals, one in every of all.
func (s *search) weigh(proposals []*raster.Mask, every float64) evidence {
	records := make([]record, len(proposals))
	raster.Bands(len(proposals), 16, func(from, to int) {
		for i := from; i < to; i++ {
			records[i] = s.maskRecord(proposals[i])
		}
	})
	compare(records)
	e := evidence{best: -mostBest}
	var cloths, like []record // like: cloth, were it not held against it that the border cuts it
	for _, k := range records {
		score := k.score()
		if score > 0 {
			cloths = append(cloths, k)
		}
		score -= weightRim * k.rim
		if score > 0 {
			like = append(like, k)
		}
		e.best = max(e.best, min(score, mostBest))
		odds, chance := math.Log(1/fewCut), s.cutChance(k)
		if k.rim == 0 {
			odds = math.Log((1 - chance) / (1 - fewCut*chance))
		}
		e.cut += odds / (1 + math.Exp(-score)) // as far as it is cloth
	}
	e.cut = min(max(e.cut, -mostCut), mostCut)
	covered, _ := solidity(cloths)
	e.cover = min(every*covered/float64(s.w*s.h), mostCover)
	if len(cloths) < 2 { // nothing to compare with: what is doubtful may be figures
		cloths = records
	}
	if len(like) < 2 {
		like = records
	}
	_, e.solidity = solidity(cloths)
	e.apart = min(apart(like), mostApart)
	return e
}

// solidity is the area of records, in pixels of the small picture, and their solidity,
// by area.
func solidity(records []record) (area, mean float64) {
	for _, k := range records {
		area += k.pixels
		mean += k.pixels * k.solidity
	}
	return area, mean / max(area, 1)
}

// cutChance is the chance that the photo's border cuts a disc as large as a record that
// touches the photo: that its middle lies nearer to the border than its radius.
func (s *search) cutChance(k record) float64 {
	w, h, d := float64(s.w), float64(s.h), 2*math.Sqrt(k.pixels/math.Pi)
	in := d + 2*onBorder
	return min(1-max(w-in, 0)*max(h-in, 0)/((w+d)*(h+d)), mostChance)
}

// radiusOf is the radius of the largest disc within m, in its pixels.
func radiusOf(m *raster.Mask) float64 { return float64(slices.Max(m.Depth())) }

// apart is how much pieces usually differ, in colour and size, from those that are
// likest to them.
func apart(records []record) float64 {
	if len(records) < 2 {
		return mostApart
	}
	off := make([]float64, len(records))
	for i, k := range records {
		off[i] = math.Inf(1)
		for j, o := range records {
			if j != i {
				off[i] = min(off[i], math.Sqrt(sq(k.l-o.l)+sq(k.a-o.a)+sq(k.b-o.b))+perRadius*math.Abs(math.Log(k.radius/o.radius)))
			}
		}
	}
	return fit.Median(off)
}

// Notes are whole sentences without the photo's name.

func oneCloth(why string, score float64) Found {
	return Found{Notes: []string{"Taken as one cloth, edge to edge: " + why + "."}, Score: score}
}

// scrapsNote says what was found on a table; left is how many marks were left out.
func scrapsNote(pieces []Piece, left int, score float64) string {
	sure := 0
	for _, p := range pieces {
		if !p.Doubtful {
			sure++
		}
	}
	doubtful := len(pieces) - sure
	say := numerals.Alike(sure, doubtful)
	n := "Taken as scraps on a plain ground: " + say(sure)
	if sure == 1 {
		n += " piece was found"
	} else {
		n += " pieces were found"
	}
	switch doubtful {
	case 0:
	case 1:
		n += ", and " + say(1) + " thing that may be no cloth"
	default:
		n += ", and " + say(doubtful) + " things that may be no cloth"
	}
	switch {
	case left == 1:
		n += ". One mark that is hardly cloth was left out"
	case left > 1:
		n += ". " + numerals.First(left) + " marks that are hardly cloth were left out"
	}
	if score < unsure {
		n += ". This is not certain: if the photo shows one cloth, say so with --scraps one"
	}
	return n + "."
}
