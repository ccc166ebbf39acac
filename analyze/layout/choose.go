package layout

import (
	"cmp"
	"math"
	"slices"
)

// plainPieces: inside its pieces of one cloth a top has no seams to speak of.
func (f *fitter) plainPieces(pieces []int32) bool {
	var steps []float64
	for _, e := range f.steps {
		if pieces[e.a] >= 0 && pieces[e.a] == pieces[e.b] {
			steps = append(steps, math.Abs(e.step))
		}
	}
	return median(steps) < DefaultLost
}

// toneStep is the tones' place on the way from dark to light.
var toneStep = [toneCount]float64{toneLight: 1, toneMedium: 0, toneDark: -1}

// stepSum adds up the steps of L* from one place of a tile to another.
type stepSum struct {
	a, b    int // the places, counted row by row
	step, n float64
}

// sumsOfSteps add up all steps by the places of a tile of rows x cols: what a tile
// explains of them, begun anywhere, follows from these.
func (f *fitter) sumsOfSteps(rows, cols int) []stepSum {
	place := func(i int) int { return (f.t.patches[i].Row-1)%rows*cols + (f.t.patches[i].Col-1)%cols }
	var out []stepSum
	at := map[[2]int]int{}
	for _, e := range f.steps {
		k := [2]int{place(e.a), place(e.b)}
		n, ok := at[k]
		if !ok {
			n = len(out)
			at[k] = n
			out = append(out, stepSum{a: k[0], b: k[1]})
		}
		out[n].step += e.step
		out[n].n++
	}
	return out
}

// quick is a first estimate of a tile's score, less its cost: what the steps of its
// tones explain of the steps of L* from patch to patch. contrast is the step of L*
// between its lights and darks.
func (f *fitter) quick(tile []tone, steps []stepSum, total float64) (score, contrast float64) {
	score, contrast = f.quickWith(tile, steps, total, toneLight)
	if !slices.Contains(tile, toneOwn) {
		return score, contrast
	}
	if s, c := f.quickWith(tile, steps, total, toneDark); s > score {
		score, contrast = s, c
	}
	return score, contrast
}

// quickWith is the same with a tone for what is of a cloth of its own.
func (f *fitter) quickWith(tile []tone, steps []stepSum, total float64, own tone) (score, contrast float64) {
	light := toneStep
	light[toneOwn], light[tonePost] = toneStep[own], toneStep[opposite(own)]
	var with, square float64
	for _, e := range steps {
		a, b := tile[e.a], tile[e.b]
		if a == toneAny || b == toneAny { // what is any tells nothing of its steps
			continue
		}
		step := light[a] - light[b]
		with += step * e.step
		square += step * step * e.n
	}
	if with <= 0 {
		return math.Inf(-1), 0
	}
	left := max(1-with*with/square/total, 1e-3)
	return -float64(len(f.counted)) / 2 * math.Log(left), 2 * with / square
}

// leastContrast between a pattern's lights and darks, in L*: less is noise and
// left-over light, not a pattern. usualContrast is what they usually have at
// least; a pattern with less is the less likely the less it has.
const leastContrast, usualContrast = 3, 12

// contrastCost is the length of saying that a pattern has so little contrast.
func contrastCost(contrast float64) float64 {
	return 6 * max(1-contrast/usualContrast, 0)
}

// shortlist is how many labellings are tried in full, over all and of each
// name.
const shortlist, shortlistOfName = 30, 3

// best labelling of the top among the repeats, nil when none says more than
// the neighbourhoods alone. With given set, the best of the repeats is taken
// whatever it says. second is the best labelling of another name that is close
// to it, see closeTo, and says something else of a patch.
func (f *fitter) best(repeats []repeat, given bool) (best, second *labelling) {
	total := 0.
	for _, e := range f.steps {
		total += e.step * e.step
	}
	if total == 0 || len(f.counted) < 3 {
		return nil, nil
	}
	labellings := f.shorten(f.candidates(repeats, total, given))
	if !given {
		labellings = slices.DeleteFunc(labellings, func(l labelling) bool {
			_, ok := f.linesCost(&l)
			return !ok || !f.mediumsBetween(l.tones) || l.pieces != nil && !f.plainPieces(l.pieces)
		})
	}
	known := map[saying]float64{}
	for i := range labellings {
		lines, _ := f.linesCost(&labellings[i])
		labellings[i].score = f.predictAmong(&labellings[i], known) - labellings[i].cost - lines
	}
	slices.SortStableFunc(labellings, func(a, b labelling) int { return cmp.Compare(b.score, a.score) })
	few := map[saying]bool{}
	for i := range labellings {
		if best != nil && best.score-labellings[i].score >= closeCall+oneMistake {
			break // and those that follow are farther off
		}
		l := f.settled(&labellings[i])
		if best != nil {
			if l.repeat.name != best.repeat.name && !slices.Equal(l.tones, best.tones) && best.score-l.score < f.closeTo(best, l) && f.fewMisplaced(l, few) {
				return best, l
			}
			continue
		}
		if !given && l.score < f.none-logInv(usualNone) {
			break
		}
		if given || f.fewMisplaced(l, few) {
			best = l
			if known := f.t.recognize(l.tones); l.repeat.fixed && known != nil {
				known.score = best.score
				best = known
			}
		}
	}
	return best, nil
}

// candidates are the repeats at all phases with their first estimates.
func (f *fitter) candidates(repeats []repeat, total float64, given bool) []candidate {
	var tried []candidate
	bySize := map[[2]int][]stepSum{}
	var tile []tone
	for i := range repeats {
		r := &repeats[i]
		if !given && !r.fits(f.t) {
			continue
		}
		size := [2]int{r.rows, r.cols}
		steps, ok := bySize[size]
		if !ok {
			steps = f.sumsOfSteps(r.rows, r.cols)
			bySize[size] = steps
		}
		rows, cols := r.rows, r.cols
		if r.fixed {
			rows, cols = 1, 1
		}
		for row := range rows {
			for col := range cols {
				tile = tile[:0] // as it lies on the top
				for k := range r.tile {
					tile = append(tile, r.toneAt(k/r.cols+row, k%r.cols+col))
				}
				score, contrast := f.quick(tile, steps, total)
				if given || contrast >= leastContrast {
					phase := [2]int{row, col}
					cost := f.t.costOf(r, phase) + contrastCost(contrast)
					tried = append(tried, candidate{r, phase, cost, score - cost})
				}
			}
		}
	}
	return tried
}

// settled is a labelling whose plain blocks and sashing have a tone.
func (f *fitter) settled(l *labelling) *labelling {
	if l.repeat.fixed || !l.repeat.plain && l.repeat.sash == 0 {
		return l
	}
	settled := f.t.settleTones(l)
	return &settled
}

// closeTo is the difference of two scores, in nats, under which l may be meant
// as well as best. Of a block that is there once nothing shows that an odd patch
// is meant, as it would by coming again, so there a more usual pattern may lie
// one mistake farther off.
func (f *fitter) closeTo(best, l *labelling) float64 {
	b := best.repeat.block
	once := b[0] > 0 && f.t.rows < 2*b[0] && f.t.cols < 2*b[1]
	if once && l.repeat.cost < best.repeat.cost {
		return closeCall + oneMistake
	}
	return closeCall
}

// fewMisplaced: no more than one patch in ten, and one for the smallest tops,
// lies on the wrong side of the cuts. What more do is no pattern. known are the
// answers so far: of many ways to divide a top into blocks that say the same of every
// patch, the first, which scores highest, stands for the rest.
func (f *fitter) fewMisplaced(l *labelling, known map[saying]bool) (few bool) {
	own := ownPieces(l.repeat.plain, l.repeat.sash > 0, l.pieces, l.block)
	if own == nil {
		key := saying{tones: hash(l.tones), blocks: l.block != nil}
		if few, ok := known[key]; ok {
			return few
		}
		defer func() { known[key] = few }()
	}
	tones := slices.Clone(l.tones)
	for i := range tones {
		if !f.square[i] {
			tones[i] = toneAny
		}
	}
	sc := f.t.measureScale(tones, own, l.block)
	wrong := 0
	for _, i := range f.counted {
		if sc.beyond(f.t.patches[i].Lightness, i, l.tones[i]) > 0 {
			wrong++
		}
	}
	return wrong <= 1+len(f.counted)/10
}

// betweenPart is how far into the way from the darks to the lights the mediums
// have to lie, at either end, to be mediums: beyond it they are darks or
// lights of one cloth.
const betweenPart = .25

// mediumsBetween: the mediums of a labelling, if any, are mediums.
func (f *fitter) mediumsBetween(tones []tone) bool {
	var values [toneCount][]float64
	for _, i := range f.counted {
		values[tones[i]] = append(values[tones[i]], f.t.patches[i].Lightness)
	}
	if len(values[toneMedium]) == 0 {
		return true
	}
	dark, medium, light := median(values[toneDark]), median(values[toneMedium]), median(values[toneLight])
	margin := betweenPart * (light - dark)
	return medium >= dark+margin && medium <= light-margin
}

// candidate is a repeat at a phase with its first estimate.
type candidate struct {
	repeat      *repeat
	phase       [2]int
	cost, score float64
}

// saying tells apart what labellings say.
type saying struct {
	tones        uint64 // hash of them
	blocks       bool
	across, down float64 // see toldByStripes
}

// shorten lays the most promising candidates over the top: the best of all,
// and the best few of each name, so that none is lost to the rough estimate.
// Of those that say the same of every patch, the first is kept.
func (f *fitter) shorten(tried []candidate) []labelling {
	slices.SortStableFunc(tried, func(a, b candidate) int { return cmp.Compare(b.score, a.score) })
	type key struct {
		tones  uint64
		pieces bool
		block  [4]int // pitch and start
	}
	seen := map[key]bool{}
	ofName := map[string]int{}
	var kept []labelling
	scratch := labelling{tones: make([]tone, len(f.t.patches))}
	for _, c := range tried {
		if len(kept) >= shortlist && ofName[c.repeat.name] >= shortlistOfName {
			continue
		}
		f.t.lay(&scratch, c.repeat, c.phase)
		k := key{tones: hash(scratch.tones), pieces: c.repeat.piece != nil}
		if p := c.repeat.block; p[0] > 0 {
			k.block = [4]int{p[0], p[1], c.phase[0] % p[0], c.phase[1] % p[1]}
		}
		if seen[k] {
			continue
		}
		seen[k] = true
		ofName[c.repeat.name]++
		l := f.t.label(c.repeat, c.phase)
		l.cost = c.cost
		kept = append(kept, l)
	}
	return kept
}

// hash is FNV-1a over the tones.
func hash(tones []tone) uint64 {
	h := uint64(14695981039346656037)
	for _, v := range tones {
		h = (h ^ uint64(v)) * 1099511628211
	}
	return h
}

// logInv is the length in nats of an event of probability p.
func logInv(p float64) float64 { return -math.Log(p) }
