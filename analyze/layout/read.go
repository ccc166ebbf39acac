package layout

import (
	"cmp"
	"image"
	"math"
	"slices"

	"greige/analyze/raster"
)

// Whether a patch reads light or dark is judged by what is light and what is
// dark round it: the lightness of the lights, mediums and darks of the
// pattern, in the whole top, in the neighbourhood or in the block, whichever
// foretells the patches best.

// levels are the L* of the tones as they are round a patch, itself left out.
type levels [toneCount]float64

// scale of a top: the levels round each patch, and how far the patches of a
// tone scatter about theirs.
type scale struct {
	levels []levels
	spread levels // standard deviations in L*
	has    [toneCount]bool
	base   []float64 // what each patch's surroundings are lighter than usual
	// kin is, by patch, by how much the odds that it stands against the
	// pattern are raised or lowered by where else its cloth hangs; nil: not.
	kin  []float64
	high float64 // L* between lights and mediums, less the base; without mediums, and darks
	low  float64 // between mediums and darks, or the same
}

const (
	// usualMistake is the share of patches taken to stand against the pattern
	// before their L* is seen.
	usualMistake = .03
	// leastSpread is the least scatter of a tone, so that in a top of two
	// cloths a patch is not held against the pattern for a shade.
	leastSpread = 3
)

// measureScale finds the levels for a labelling. The model is L* = level of
// the tone + what the surroundings are lighter than usual + the cloth's own
// difference. What the surroundings are is tried in several ways; blocks number
// the blocks of the pattern, if it has any (-1 for none), and else blocks of
// several sizes are tried as well.
func (t *top) measureScale(tones []tone, pieces, blocks []int32) scale {
	n := len(t.patches)
	var sc scale
	// Begin with the medians of the whole top: a few mistakes do not move
	// them.
	var values [toneCount][]float64
	for i, v := range tones {
		if v != toneAny {
			values[v] = append(values[v], t.patches[i].Lightness)
		}
	}
	var whole levels
	for v := range values {
		sc.has[v] = len(values[v]) > 0
		whole[v] = median(values[v])
	}
	upsideDown := sc.has[toneLight] && sc.has[toneDark] && whole[toneLight] < whole[toneDark]
	if upsideDown {
		whole = t.plainLevels()
	}
	sc.levels = make([]levels, n)
	for i := range sc.levels {
		sc.levels[i] = whole
	}
	divisions := [][]int32{blocks}
	if blocks == nil {
		divisions = t.divisions()
	}
	voice := voices(n, pieces)
	sc.settle(t, tones, voice)
	if upsideDown {
		sc.base, sc.spread = make([]float64, n), levels{toneLight: leastSpread, toneMedium: leastSpread, toneDark: leastSpread}
		sc.high = (whole[toneLight] + whole[toneDark]) / 2
		sc.low = sc.high
		return sc
	}
	most := max(whole[toneLight]-whole[toneDark], 10) / 2 // no mistake counts for more than half of the contrast
	for range 4 {
		sc.level(t, tones, voice, divisions, most)
		sc.settle(t, tones, voice)
	}
	sc.setCuts(t, tones, voice)
	return sc
}

// voices are how much each of n patches counts for: a plain block is one cloth,
// and has one voice.
func voices(n int, pieces []int32) []float64 {
	voice := make([]float64, n)
	mates := matesOf(pieces)
	for i := range voice {
		voice[i] = 1
		if mates != nil && mates[i] != nil {
			voice[i] = 1 / float64(len(mates[i]))
		}
	}
	return voice
}

// level sets the levels and the base by the surroundings, near or in the blocks
// of one of the divisions, that foretell the patches best, by none where none does
// surely. No miss counts for more than most.
func (sc *scale) level(t *top, tones []tone, voice []float64, divisions [][]int32, most float64) {
	n := len(tones)
	trust := make([]float64, n)
	for i := range trust {
		trust[i] = voice[i] * (1 - sc.against(t.patches[i].Lightness, i, tones[i]))
	}
	levels := t.levelsOverall(tones, trust)
	kept := levels
	sc.base = make([]float64, n)
	misses := func(base []float64) []float64 {
		out := make([]float64, 0, n)
		for i, v := range tones {
			if v != toneAny {
				out = append(out, min(math.Abs(t.patches[i].Lightness-levels[i][v]-base[i]), most))
			}
		}
		return out
	}
	plain := misses(make([]float64, n))
	best := 0.
	try := func(base []float64) {
		gain := surely(plain, misses(base))
		if gain <= best {
			return
		}
		best, kept, sc.base = gain, slices.Clone(levels), base
		for i := range kept {
			for v := range kept[i] {
				kept[i][v] += base[i]
			}
		}
	}
	lighter, weight := t.surroundings(tones, trust, levels)
	for _, backing := range []float64{.5, 2} {
		for radius := 1; radius <= 3; radius++ {
			try(t.baseNear(lighter, weight, radius, backing))
		}
		for _, d := range divisions {
			try(t.baseInBlocks(tones, trust, levels, d, backing))
		}
	}
	sc.levels = kept
}

// surely is by how much, on average, one row of misses is smaller than
// another, less three standard errors: some thirty ways are tried, and chance
// alone is not to choose one.
func surely(than, misses []float64) float64 {
	sum, square := 0., 0.
	for i := range misses {
		d := than[i] - misses[i]
		sum += d
		square += d * d
	}
	n := float64(len(misses))
	mean := sum / n
	return mean - 3*math.Sqrt(max(square/n-mean*mean, 0)/n)
}

// plainLevels are those of a top's patches whatever they are meant to be: for a
// chart that was given upside down, and that its patches do not bear out.
func (t *top) plainLevels() levels {
	var v []float64
	for i := range t.patches {
		v = append(v, t.patches[i].Lightness)
	}
	slices.Sort(v)
	cut := breaks(v, 2)[0]
	var light, dark []float64
	for _, l := range v {
		if l >= cut {
			light = append(light, l)
		} else {
			dark = append(dark, l)
		}
	}
	l, d := median(light), median(dark)
	return levels{toneLight: l, toneMedium: (l + d) / 2, toneDark: d}
}

// divisions are the ways to cut the top into square blocks of 2 to 4 patches.
func (t *top) divisions() [][]int32 {
	var out [][]int32
	for n := 2; n <= 4; n++ {
		for row := range n {
			for col := range n {
				d := make([]int32, len(t.patches))
				for i := range d {
					r, c := (t.patches[i].Row-1+row)/n, (t.patches[i].Col-1+col)/n
					d[i] = int32(r*(t.cols/n+2) + c)
				}
				out = append(out, d)
			}
		}
	}
	return out
}

// fewOf is how many patches the scatter of all tones together counts for
// beside that of one tone's own.
const fewOf = 20

// settle measures the scatter about the levels by the median deviation.
func (sc *scale) settle(t *top, tones []tone, voice []float64) {
	var off [toneCount][]weighted
	var all []weighted
	var voices [toneCount]float64
	for i, v := range tones {
		if v == toneAny {
			continue
		}
		w := weighted{math.Abs(t.patches[i].Lightness - sc.levels[i][v]), voice[i]}
		off[v], all = append(off[v], w), append(all, w)
		voices[v] += voice[i]
	}
	const toSigma = 1.4826 // of a bell, from its median deviation
	pooled := toSigma * weightedMedian(all)
	for v := range off {
		own := toSigma * weightedMedian(off[v])
		s := math.Sqrt((voices[v]*own*own + fewOf*pooled*pooled) / (voices[v] + fewOf))
		sc.spread[v] = max(s, leastSpread)
	}
}

type weighted struct{ value, weight float64 }

// weightedMedian of the values, which are put in order; 0 for none.
func weightedMedian(v []weighted) float64 {
	slices.SortFunc(v, func(a, b weighted) int { return cmp.Compare(a.value, b.value) })
	all, sum := 0., 0.
	for _, w := range v {
		all += w.weight
	}
	for _, w := range v {
		if sum += w.weight; sum >= all/2 {
			return w.value
		}
	}
	return 0
}

// against is the probability that a patch of lightness l at the place of patch
// i is none of the tone that is meant there.
func (sc *scale) against(l float64, i int, meant tone) float64 {
	if meant == toneAny {
		return 1
	}
	own := (1 - usualMistake) * sc.density(l, i, meant)
	other := 0.
	for v := toneLight; v < toneCount; v++ {
		if v != meant && sc.has[v] {
			other = max(other, usualMistake*sc.density(l, i, v))
		}
	}
	if own+other == 0 {
		return 1
	}
	return other / (own + other)
}

func (sc *scale) density(l float64, i int, v tone) float64 {
	x := (l - sc.levels[i][v]) / sc.spread[v]
	// Far beyond the light or the dark level is still light or dark.
	if v == toneLight && x > 0 || v == toneDark && x < 0 {
		x = 0
	}
	return math.Exp(-x*x/2) / sc.spread[v]
}

// setCuts finds the cuts between the tones: where they agree best with what
// is meant. A cloth that is the light of many blocks is a light, however far
// it is from the others.
func (sc *scale) setCuts(t *top, tones []tone, voice []float64) {
	if !sc.has[toneMedium] {
		sc.high = sc.bestCut(t, tones, voice, toneLight, toneDark)
		sc.low = sc.high
		return
	}
	sc.high = sc.bestCut(t, tones, voice, toneLight, toneMedium)
	sc.low = min(sc.bestCut(t, tones, voice, toneMedium, toneDark), sc.high)
}

const (
	// oneMistake is the length, in nats, of one patch more that stands
	// against the pattern: the log odds of usualMistake.
	oneMistake = 3.5
	// cutStray is how far a cut is from the middle between two tones, in
	// their standard deviations, itself as a standard deviation.
	cutStray = .35
)

// bestCut is the cut between two tones with the fewest patches on the wrong
// side of it, weighed against how far it lies from the middle between them. A
// patch counts by degrees within hairWidth of the cut, so that it is not laid
// through a hair's breadth between two patches.
func (sc *scale) bestCut(t *top, tones []tone, voice []float64, lighter, darker tone) float64 {
	const step, hairWidth = .25, 3.
	var sides []weighted // L* less the base; the weight is negative for a darker patch
	middle, least, most := 0., math.Inf(1), math.Inf(-1)
	a, b := sc.spread[lighter], sc.spread[darker]
	for i, v := range tones {
		if v == toneAny {
			continue
		}
		middle += (sc.levels[i][lighter]*b+sc.levels[i][darker]*a)/(a+b) - sc.base[i]
		w := voice[i]
		if v >= darker { // tones run from light to dark
			w = -w
		}
		l := t.patches[i].Lightness - sc.base[i]
		least, most = min(least, l), max(most, l)
		sides = append(sides, weighted{l, w})
	}
	if len(sides) == 0 {
		return 0
	}
	middle /= float64(len(sides))
	best, cut := math.Inf(1), middle
	for _, way := range []float64{1, -1} {
		for at := middle; at > least && at < most; at += way * step {
			off := (at - middle) / (cutStray * (a + b) / 2)
			cost := off * off / 2
			if cost >= best {
				break
			}
			for _, s := range sides {
				if s.weight > 0 {
					cost += oneMistake * s.weight * ramp(.5+(at-s.value)/(2*hairWidth))
				} else {
					cost -= oneMistake * s.weight * ramp(.5+(s.value-at)/(2*hairWidth))
				}
			}
			if cost < best-1e-9 {
				best, cut = cost, at
			}
		}
	}
	return cut
}

// levelsOverall are the means of the tones over the whole top.
func (t *top) levelsOverall(tones []tone, trust []float64) []levels {
	var sum, weight levels
	for i, v := range tones {
		sum[v] += trust[i] * t.patches[i].Lightness
		weight[v] += trust[i]
	}
	out := make([]levels, len(tones))
	for i, own := range tones {
		for v := range out[i] {
			s, w := sum[v], weight[v]
			if tone(v) == own {
				s, w = s-trust[i]*t.patches[i].Lightness, w-trust[i]
			}
			if w > 1e-6 {
				out[i][v] = s / w
			} else {
				out[i][v] = t.patches[i].Lightness // the only one of its tone
			}
		}
	}
	return out
}

// surroundings are, by place, what the patches are lighter than usual, by how much each
// is trusted, and that trust.
func (t *top) surroundings(tones []tone, trust []float64, usual []levels) (lighter, weight *raster.Sums) {
	over, by := make([]float32, t.rows*t.cols), make([]float32, t.rows*t.cols)
	for at, i := range t.at {
		if i >= 0 && tones[i] != toneAny {
			over[at], by[at] = float32(trust[i]*(t.patches[i].Lightness-usual[i][tones[i]])), float32(trust[i])
		}
	}
	return raster.NewSums(over, t.cols, t.rows), raster.NewSums(by, t.cols, t.rows)
}

// baseNear is what the patches within a radius are lighter than usual, itself
// left out; nothing at all counts as backing so many patches.
func (t *top) baseNear(lighter, weight *raster.Sums, radius int, backing float64) []float64 {
	out := make([]float64, len(t.patches))
	for i := range out {
		at := image.Pt(t.patches[i].Col-1, t.patches[i].Row-1)
		own := image.Rectangle{at, at.Add(image.Pt(1, 1))}
		near := own.Inset(-radius)
		out[i] = (lighter.Over(near) - lighter.Over(own)) / (weight.Over(near) - weight.Over(own) + backing)
	}
	return out
}

// baseInBlocks is the same for the patches of a patch's block.
func (t *top) baseInBlocks(tones []tone, trust []float64, usual []levels, block []int32, backing float64) []float64 {
	out := make([]float64, len(tones))
	count := slices.Max(block) + 1
	sum, weight := make([]float64, count), make([]float64, count)
	part := func(i int) float64 {
		if tones[i] == toneAny {
			return 0
		}
		return trust[i] * (t.patches[i].Lightness - usual[i][tones[i]])
	}
	for i, b := range block {
		if b >= 0 && tones[i] != toneAny {
			sum[b] += part(i)
			weight[b] += trust[i]
		}
	}
	for i, b := range block {
		if b < 0 {
			continue
		}
		own := 0.
		if tones[i] != toneAny {
			own = trust[i]
		}
		out[i] = (sum[b] - part(i)) / (weight[b] - own + backing)
	}
	return out
}

// reading is the tone that patch i reads as, and whether it stands against
// the tone that is meant.
func (t *top) reading(i int, tones []tone, sc *scale) (reads tone, misplaced bool) {
	return t.readingOf(t.patches[i].Lightness, i, tones, sc)
}

// readingOf is the same with the lightness of the piece that a patch is part
// of.
func (t *top) readingOf(lightness float64, i int, tones []tone, sc *scale) (reads tone, misplaced bool) {
	u := 1.96 * t.patches[i].sigma()
	meant := tones[i]
	against := sc.against(lightness, i, meant)
	if sc.kin != nil {
		odds := sc.kin[i] * against / max(1-against, 1e-12)
		against = odds / (1 + odds)
	}
	if against < surelyAgainst && t.works(lightness, i, tones) {
		return meant, false
	}
	high, low := sc.high+sc.base[i], sc.low+sc.base[i]
	switch l := lightness; {
	case l > high:
		reads = toneLight
	case l < low:
		reads = toneDark
	default:
		reads = toneMedium
	}
	switch {
	case reads == meant:
		return meant, false
	case meant == toneAny:
		if min(math.Abs(lightness-high), math.Abs(lightness-low)) <= u {
			return toneMedium, false
		}
		return reads, false
	}
	switch {
	case against <= stillMeant:
		return meant, false
	case sc.beyond(lightness, i, meant) <= u:
		return toneMedium, false // it cannot be told
	case sc.has[toneMedium] && (reads == toneMedium || meant == toneMedium) && t.ordered(lightness, i, tones):
		// Of three values, one that is off by a step and yet stands the right
		// way round to its neighbours is soft, not misplaced.
		return meant, false
	}
	return reads, true
}

// beyond is how far, in L*, a lightness lies on the wrong side of the cuts at
// the place of patch i; negative on the right side.
func (sc *scale) beyond(l float64, i int, meant tone) float64 {
	high, low := sc.high+sc.base[i], sc.low+sc.base[i]
	switch meant {
	case toneLight:
		return high - l
	case toneMedium:
		return max(l-high, low-l)
	case toneDark:
		return l - low
	}
	return math.Inf(-1)
}

// ordered: the patch stands the right way round to every neighbour that it is
// meant to show against, or cannot be told from it.
func (t *top) ordered(lightness float64, i int, tones []tone) bool {
	for _, k := range t.edgesOf[i] {
		j := t.edges[k].a + t.edges[k].b - i
		if contrastOf(tones[i], tones[j]) != Contrast {
			continue
		}
		step := lightness - t.patches[j].Lightness
		if toneStep[tones[i]] < toneStep[tones[j]] {
			step = -step
		}
		if step < -1.96*math.Hypot(t.patches[i].sigma(), t.patches[j].sigma()) {
			return false
		}
	}
	return true
}

// kinOdds: where the other patches of a cloth nearly all hang in places of
// another tone than this one, this one is likely misplaced; where they nearly
// all hang in places of its own tone, it likely is not.
func (t *top) kinOdds(tones []tone) []float64 {
	const few, nearly, factor = 2, .8, 6.
	fabrics := 0
	for i := range t.patches {
		fabrics = max(fabrics, t.patches[i].Fabric+1)
	}
	count := make([][toneCount]float64, fabrics)
	all := make([]float64, fabrics)
	for i, v := range tones {
		if v != toneAny {
			count[t.patches[i].Fabric][v]++
			all[t.patches[i].Fabric]++
		}
	}
	out := make([]float64, len(tones))
	for i, v := range tones {
		f := t.patches[i].Fabric
		others, alike := all[f]-1, count[f][v]-1
		switch {
		case v == toneAny || others < few:
			out[i] = 1
		case alike >= nearly*others:
			out[i] = 1 / factor
		case alike <= (1-nearly)*others:
			out[i] = factor
		default:
			out[i] = 1
		}
	}
	return out
}

// stillMeant is the probability of standing against the pattern up to which a
// patch on the wrong side of a cut is taken for what is meant all the same:
// its lightness is then no more than some five times as likely for another
// tone.
const stillMeant = .15

// surelyAgainst is that probability from which on not even its seams speak for
// a patch.
const surelyAgainst = .9

// works: the patch is not lost against any neighbour that it is meant to show
// against, and stands the right way round. A medium works as the dark beside
// lights.
func (t *top) works(lightness float64, i int, tones []tone) bool {
	some := false
	for _, k := range t.edgesOf[i] {
		j := t.edges[k].a + t.edges[k].b - i
		if contrastOf(tones[i], tones[j]) != Contrast {
			continue
		}
		some = true
		step := lightness - t.patches[j].Lightness
		if toneStep[tones[i]] < toneStep[tones[j]] {
			step = -step
		}
		if step < t.lost {
			return false
		}
	}
	return some
}

// readingAlone is how a patch reads in a top without a repeat: lighter or
// darker than its neighbours of other cloth, beyond the uncertainty.
func (t *top) readingAlone(i int) tone {
	sum, n, u := 0., 0., 0.
	for _, k := range t.edgesOf[i] {
		j := t.edges[k].a + t.edges[k].b - i
		if t.patches[j].Fabric != t.patches[i].Fabric {
			sum += t.patches[j].Lightness
			u += t.patches[j].sigma() * t.patches[j].sigma()
			n++
		}
	}
	if n == 0 {
		return toneMedium
	}
	s := t.patches[i].sigma()
	u = 1.96 * math.Sqrt(s*s+u/(n*n))
	switch d := t.patches[i].Lightness - sum/n; {
	case d > u:
		return toneLight
	case d < -u:
		return toneDark
	}
	return toneMedium
}
