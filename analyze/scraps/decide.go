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
// weights are those of a logistic regression on real and drawn photos, 48 close-ups
// and 119 tables with pieces, each source weighing as the root of its photos. Fitted
// without 30 tables of 14 sources that nobody had looked at, it called 4 of them wrong,
// and 3 of the others.
const (
	weightBeyond = -3.73 // of the logarithm of how much the rim is covered, beside the inside
	weightAlike  = 2.02  // of the logarithm of how much pieces differ from their likest
	weightMany   = -6.2
	// Less of the rim than this beside the inside is a crumb or a shadow at it.
	crumbs = .1
	// What differs by less is alike: the noise of a radius and a mean colour.
	sameKind = .1
	// Differing by more, pieces are as good as of two cloths.
	mostApart = 40
	// A radius counts as a colour does: a tenth more or less as 2 units of CIELAB.
	perRadius = 20
	// rim is the width of the photo's rim, as a share of its longer side, in which
	// what goes on beyond it is seen.
	rim = .01
	// unsure is the score within which either may be: odds of 4 to 1.
	unsure = 1.4
	// surely is the same before anything is traced, when marks still count as pieces: the
	// lowest score of a table was -2.2.
	surely = 3.5
)

// isPrint tells whether the parts that the roots fall into are plainly the figures of a
// print, so that none of them need be traced.
func (s *search) isPrint(roots *raster.Mask, parts []*raster.Mask) bool {
	records := make([]record, len(parts))
	raster.Bands(len(parts), 16, func(from, to int) {
		for i := from; i < to; i++ {
			records[i].radius = radiusOf(parts[i])
			s.colour(&records[i], parts[i])
		}
	})
	return many(records, s.beyond(roots, parts)) < -surely
}

// radiusOf is the radius of the largest disc within m, in its pixels.
func radiusOf(m *raster.Mask) float64 { return float64(slices.Max(m.Depth())) }

// many is the score of a photo whose pieces have these records: above 0 for scraps
// on a ground; below 0 for one cloth, whose figures go on beyond the photo, so that
// its rim is covered as the inside is, and come again and again. beyond is how much
// of the rim is covered, as a share of how much of the inside is.
func many(records []record, beyond float64) float64 {
	return weightBeyond*math.Log(beyond+crumbs) + weightAlike*math.Log(min(apart(records), mostApart)+sameKind) + weightMany
}

// beyond is how much of the photo's rim what is proposed covers, as a share of how much
// of the inside, but for what came from another ground.
func (s *search) beyond(roots *raster.Mask, proposals []*raster.Mask) float64 {
	covered := raster.NewMask(s.bounds())
	for _, m := range proposals {
		covered.Add(m)
	}
	figures := s.figures(roots)
	figures.Keep(s.figures(covered))
	e := max(2, int(rim*s.long))
	inner := s.bounds().Inset(e)
	in := figures.Within(inner).Count()
	out := figures.Count() - in
	outside := max(s.w*s.h-inner.Dx()*inner.Dy(), 1)
	return float64(out) * float64(inner.Dx()*inner.Dy()) / (float64(outside) * float64(max(in, 1)))
}

// figures are what is covered but for other grounds: large regions that run along the
// rim.
func (s *search) figures(covered *raster.Mask) *raster.Mask {
	out := raster.NewMask(s.bounds())
	for _, c := range covered.Components(raster.Sides, 1) {
		if s.off.grounds || float64(s.alongRim(&c)) < math.Sqrt(float64(c.Pixels)) || c.Pixels < s.w*s.h/200 {
			c.AddTo(out)
		}
	}
	return out
}

// alongRim is the number of the photo's outermost pixels in a component.
func (s *search) alongRim(c *raster.Component) (n int) {
	for _, r := range c.Runs {
		if r.Y == 0 || r.Y == s.h-1 {
			n += r.X1 - r.X0
		}
		if r.X0 == 0 {
			n++
		}
		if r.X1 == s.w {
			n++
		}
	}
	return n
}

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

func oneCloth(why string) Found {
	return Found{Notes: []string{"Taken as one cloth, edge to edge: " + why + "."}}
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
