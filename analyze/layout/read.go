package layout

import (
	"cmp"
	"math"
	"slices"
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
	// plainMediums: mediums are in plain pieces only, so that everywhere else
	// it is light against dark.
	plainMediums bool
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
	sc.levels = make([]levels, n)
	for i := range sc.levels {
		sc.levels[i] = whole
	}
	sc.plainMediums = pieces != nil
	for i, v := range tones {
		if v == toneMedium && pieces != nil && pieces[i] < 0 {
			sc.plainMediums = false
		}
	}
	divisions := [][]int32{blocks}
	if blocks == nil {
		divisions = t.divisions()
	}
	// A plain block is one cloth, and has one voice.
	voice := make([]float64, n)
	mates := matesOf(pieces)
	for i := range voice {
		voice[i] = 1
		if mates != nil && mates[i] != nil {
			voice[i] = 1 / float64(len(mates[i]))
		}
	}
	sc.settle(t, tones, voice)
	trust := make([]float64, n)
	for range 4 {
		for i := range trust {
			trust[i] = voice[i] * (1 - sc.against(t.patches[i].Lightness, i, tones[i]))
		}
		levels := t.levelsOverall(tones, trust)
		kept := levels
		most := max(whole[toneLight]-whole[toneDark], 10) / 2
		misses := func(base []float64) []float64 {
			out := make([]float64, 0, n)
			for i, v := range tones {
				if v != toneAny {
					// No mistake counts for more than half of the contrast.
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
			best, kept = gain, slices.Clone(levels)
			for i := range kept {
				for v := range kept[i] {
					kept[i][v] += base[i]
				}
			}
		}
		for _, backing := range []float64{.5, 2} {
			for radius := 1; radius <= 3; radius++ {
				try(t.baseNear(tones, trust, levels, radius, backing))
			}
			for _, d := range divisions {
				try(t.baseInBlocks(tones, trust, levels, d, backing))
			}
		}
		sc.levels = kept
		sc.settle(t, tones, voice)
	}
	return sc
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

// cut is the L* between two tones round patch i, as far from either in units
// of its scatter.
func (sc *scale) cut(i int, lighter, darker tone) float64 {
	a, b := sc.spread[lighter], sc.spread[darker]
	return (sc.levels[i][lighter]*b + sc.levels[i][darker]*a) / (a + b)
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

// baseNear is what the patches within a radius are lighter than usual, itself
// left out; nothing at all counts as backing so many patches.
func (t *top) baseNear(tones []tone, trust []float64, usual []levels, radius int, backing float64) []float64 {
	out := make([]float64, len(tones))
	for i := range out {
		sum, weight := 0., backing
		p := &t.patches[i]
		for dr := -radius; dr <= radius; dr++ {
			for dc := -radius; dc <= radius; dc++ {
				if j := t.patchAt(p.Row-1+dr, p.Col-1+dc); j >= 0 && j != i && tones[j] != toneAny {
					sum += trust[j] * (t.patches[j].Lightness - usual[j][tones[j]])
					weight += trust[j]
				}
			}
		}
		out[i] = sum / weight
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
	p := &t.patches[i]
	u := 1.96 * p.sigma()
	meant := tones[i]
	if t.works(i, tones) {
		return meant, false
	}
	if !sc.has[toneMedium] || meant != toneAny && meant != toneMedium && sc.plainMediums {
		cut := sc.cut(i, toneLight, toneDark)
		switch {
		case p.Lightness > cut+u:
			reads = toneLight
		case p.Lightness < cut-u:
			reads = toneDark
		default:
			return toneMedium, false
		}
		return reads, meant != toneAny && reads != meant
	}
	high, low := sc.cut(i, toneLight, toneMedium), sc.cut(i, toneMedium, toneDark)
	switch {
	case p.Lightness > high:
		reads = toneLight
	case p.Lightness < low:
		reads = toneDark
	default:
		reads = toneMedium
	}
	if meant == toneAny || reads == meant {
		return reads, false
	}
	// On the way from medium to light or dark there is no gap to speak of:
	// only what most likely is another tone, beyond its uncertainty, stands
	// against the pattern.
	near := min(math.Abs(p.Lightness-high), math.Abs(p.Lightness-low))
	return reads, near > u && sc.against(p.Lightness, i, meant) > .5
}

// works: the patch shows against every neighbour that it is meant to show
// against, and the right way round. A medium works as the dark beside lights.
func (t *top) works(i int, tones []tone) bool {
	some := false
	for _, k := range t.edgesOf[i] {
		j := t.edges[k].a + t.edges[k].b - i
		if contrastOf(tones[i], tones[j]) != Contrast {
			continue
		}
		some = true
		step := t.patches[i].Lightness - t.patches[j].Lightness
		if toneStep[tones[i]] < toneStep[tones[j]] {
			step = -step
		}
		clarity := Clarity(t.patches[i].Lightness, t.patches[i].Spread, t.patches[j].Lightness, t.patches[j].Spread)
		if step < 0 || VerdictOf(step, clarity, t.lost, t.soft) != Clear {
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
