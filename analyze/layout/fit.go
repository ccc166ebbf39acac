package layout

import (
	"cmp"
	"math"
	"slices"
)

// How well lights and darks follow a repeat is measured by prediction. Each
// patch's L* is predicted from the other patches that the repeat gives the
// same tone, by a kernel density; without a repeat, from all other patches.
// Both leave the patch itself out, both may look at the whole top or at the
// neighbourhood first, and both choose their bandwidth by their own success.
// The difference of the two log densities, less the length of saying which
// repeat at which phase, decides (leave-one-out predictive density: Stone
// 1974, J. R. Stat. Soc. B 36:111; two-part message length: Rissanen 1978,
// Automatica 14:465). So a scrappy top in which one block's light is darker
// than the next one's dark is judged by its neighbourhoods, a picture or a
// gradation is explained by its neighbourhoods without any repeat, and a few
// misplaced patches cost only themselves.

// labelling is what a repeat, begun at a phase, says of each patch.
type labelling struct {
	repeat *repeat
	phase  [2]int  // row and column of the tile that lies on row 1, column 1
	tones  []tone  // by patch
	pieces []int32 // by patch; -1 for a patch of its own; nil when all are
	block  []int32 // by patch; -1 for what lies in none; nil when all do
	cost   float64 // nats
	score  float64 // log predictive density less cost
}

// bandwidths of the kernels in L*: from the noise of one cloth measured in
// several places to the range of a scrappy top's lights.
var bandwidths = [...]float64{1.5, 3, 5, 8, 12}

const (
	perL     = 2 // bins in one L*
	binCount = 100*perL + 1
	// mistaken are the shares of patches that may stand against the pattern:
	// few in a top with care, more in one in the making.
	fewMistaken, manyMistaken = .01, .06
	// flat is the density of an L* of which nothing is known.
	flat = 1. / 100
)

// link is a patch nearby with its weight.
type link struct {
	to     int32
	weight float64
}

// Neighbourhoods: near and wider all round, then along a row and along a
// column. Weights fall off as a bell.
var reaches = [...]struct {
	rows, cols int // how far, in patches
	width      float64
}{{1, 1, 1}, {2, 2, 1.5}, {0, 3, 1.5}, {3, 0, 1.5}}

const (
	allRound    = 2 // the first so many reaches
	alongRow    = 2
	alongColumn = 3
	wholeTop    = -1
	inBlock     = -2
)

// lineCost is the length, in nats, of saying how light a row or a column is as
// a whole, to within a bandwidth out of the 70 L* that cloths have. Its patches
// foretell each other without that being said, so a picture that is explained
// along its rows or columns has to pay for it.
func lineCost(bandwidth float64) float64 {
	return math.Log(70 / (bandwidth * math.Sqrt(2*math.Pi)))
}

// fitter holds what all labellings of one top are tried on.
type fitter struct {
	t       *top
	counted []int // patches that are fitted: the squares
	square  []bool
	near    [len(reaches)][][]link // by patch
	kernel  [len(bandwidths)][binCount]float64
	broad   []float64 // density of each patch's L* when it is a mistake
	alone   []float64 // density of each patch's L* without a repeat
	none    float64   // log predictive density of the top without a repeat
	cloths  []int     // groups of one cloth
	narrow  narrowLines
}

func newFitter(t *top, cloths []int) *fitter {
	n := len(t.patches)
	f := &fitter{t: t, cloths: cloths, narrow: t.narrowLines(), square: make([]bool, n), broad: make([]float64, n), alone: make([]float64, n)}
	setting, elsewhere := t.setting(cloths)
	one, side := t.oneBlock(setting)
	for i := range t.patches {
		// What fills the edges of a top on point is often of another cloth
		// than the pattern would have there. A cloth that is in the middle of
		// the top as well may belong to the pattern.
		within := !(setting[i] && elsewhere < .1)
		if side > 0 {
			within = one.holds(&t.patches[i])
		}
		if t.patches[i].Shape == "" && within {
			f.square[i] = true
			f.counted = append(f.counted, i)
		}
	}
	for k, r := range reaches {
		f.near[k] = make([][]link, n)
		for i := range t.patches {
			p := &t.patches[i]
			for dr := -r.rows; dr <= r.rows; dr++ {
				for dc := -r.cols; dc <= r.cols; dc++ {
					j := t.patchAt(p.Row-1+dr, p.Col-1+dc)
					if j >= 0 && j != i && f.square[j] {
						w := math.Exp(-float64(dr*dr+dc*dc) / (2 * r.width * r.width))
						f.near[k][i] = append(f.near[k][i], link{int32(j), w})
					}
				}
			}
		}
	}
	for k, b := range bandwidths {
		for i := range f.kernel[k] {
			x := float64(i) / perL / b
			f.kernel[k][i] = math.Exp(-x*x/2) / (b * math.Sqrt(2*math.Pi))
		}
	}
	all := make([]tone, n) // all of one tone: no repeat
	for i := range all {
		all[i] = toneLight
	}
	wide := len(bandwidths) - 1
	whole := f.overall(all, f.bins(all, wholeTop), wide)
	for i := range f.broad {
		f.broad[i] = (whole[i] + flat) / 2
	}
	f.none = max(f.predict(&labelling{tones: all}, f.alone), f.trend(all))
	return f
}

// trend is the log predictive density of the squares' L* when all that there
// is to them is a slow change over the top, a surface of second order, less
// half a logarithm of their number for each of its terms (Schwarz 1978, Ann.
// Statist. 6:461).
func (f *fitter) trend(all []tone) float64 {
	n := float64(len(f.counted))
	if n <= 2*fieldTerms {
		return math.Inf(-1)
	}
	var mean [fieldTerms]float64
	level := 0.
	for _, i := range f.counted {
		level += f.t.patches[i].Lightness / n
		for k, x := range f.t.fieldAt(i) {
			mean[k] += x / n
		}
	}
	var a [fieldTerms][fieldTerms]float64
	var b [fieldTerms]float64
	for _, i := range f.counted {
		x := f.t.fieldAt(i)
		for k := range x {
			b[k] += (x[k] - mean[k]) * (f.t.patches[i].Lightness - level)
			for m := range x {
				a[k][m] += (x[k] - mean[k]) * (x[m] - mean[m])
			}
		}
	}
	for k := range a {
		a[k][k] += 1e-6 * n // a top of one row has no slope across it
	}
	surface, ok := solve(a, b)
	if !ok {
		return math.Inf(-1)
	}
	bins := make([]int, len(all))
	for _, i := range f.counted {
		l := f.t.patches[i].Lightness - level + 50
		for k, x := range f.t.fieldAt(i) {
			l -= surface[k] * (x - mean[k])
		}
		bins[i] = int(math.Round(min(max(l, 0), 100) * perL))
	}
	best := math.Inf(-1)
	for k := range bandwidths {
		sum := 0.
		p := f.overall(all, bins, k)
		for _, i := range f.counted {
			sum += math.Log((1-fewMistaken)*p[i] + fewMistaken*f.broad[i])
		}
		best = max(best, sum)
	}
	return best - fieldTerms*math.Log(n)/2
}

// bins are the patches' L* in bins; with a reach, after the top was levelled:
// less what the neighbours are lighter than is usual for their tones.
func (f *fitter) bins(tones []tone, reach int) []int {
	var usual levels
	if reach >= 0 {
		var n levels
		for _, i := range f.counted {
			usual[tones[i]] += f.t.patches[i].Lightness
			n[tones[i]]++
		}
		for v := range usual {
			usual[v] /= max(n[v], 1)
		}
	}
	out := make([]int, len(tones))
	for _, i := range f.counted {
		l := f.t.patches[i].Lightness
		if reach >= 0 {
			sum, weight := 0., 1.
			for _, k := range f.near[reach][i] {
				sum += k.weight * (f.t.patches[k.to].Lightness - usual[tones[k.to]])
				weight += k.weight
			}
			l -= sum / weight
		}
		out[i] = int(math.Round(min(max(l, 0), 100) * perL))
	}
	return out
}

// overall is, for a bandwidth, the density of each patch's L* among the other
// patches of its tone, over the whole top.
func (f *fitter) overall(tones []tone, bins []int, bandwidth int) []float64 {
	var counts [toneCount][binCount]int
	var members [toneCount]int
	for _, i := range f.counted {
		counts[tones[i]][bins[i]]++
		members[tones[i]]++
	}
	var smooth [toneCount][binCount]float64
	kernel := &f.kernel[bandwidth]
	wide := int(4 * bandwidths[bandwidth] * perL)
	for v := range counts {
		for from, c := range counts[v] {
			if c == 0 {
				continue
			}
			for to := max(from-wide, 0); to <= min(from+wide, binCount-1); to++ {
				smooth[v][to] += float64(c) * kernel[max(to-from, from-to)]
			}
		}
	}
	out := make([]float64, len(tones))
	for _, i := range f.counted {
		v := tones[i]
		out[i] = flat
		if others := members[v] - 1; others > 0 {
			// One part in so many stays with what is not known.
			out[i] = (smooth[v][bins[i]] - kernel[0] + flat) / float64(others+1)
		}
	}
	return out
}

// predict is the log predictive density of the squares' L* under a labelling,
// at the best bandwidth, way of looking and share of mistakes. If densities
// is not nil, each patch's density goes there.
func (f *fitter) predict(l *labelling, densities []float64) float64 {
	mates, blockmates := matesOf(l.pieces), matesOf(l.block)
	best := math.Inf(-1)
	p := make([]float64, len(l.tones))
	settle := func(cost float64) {
		for _, mistaken := range []float64{fewMistaken, manyMistaken} {
			sum, product := -cost, 1.
			for n, i := range f.counted {
				// A logarithm for every few: each factor is above 1e-5.
				if product *= (1-mistaken)*p[i] + mistaken*f.broad[i]; n%16 == 15 {
					sum += math.Log(product)
					product = 1
				}
			}
			sum += math.Log(product)
			if sum <= best {
				continue
			}
			best = sum
			for _, i := range f.counted {
				if densities != nil {
					densities[i] = (1-mistaken)*p[i] + mistaken*f.broad[i]
				}
			}
		}
	}
	raw := f.bins(l.tones, wholeTop)
	for k := range bandwidths {
		whole := f.overall(l.tones, raw, k)
		for reach := inBlock; reach < len(reaches); reach++ {
			cost := 0.
			switch {
			case reach == inBlock && blockmates == nil:
				continue
			case reach == alongRow:
				cost = (lineCost(bandwidths[k]) - l.toldByStripes(true)) * float64(f.t.rows)
			case reach == alongColumn:
				cost = (lineCost(bandwidths[k]) - l.toldByStripes(false)) * float64(f.t.cols)
			}
			if reach >= allRound && l.repeat != nil && l.toldByStripes(reach == alongRow) == 0 {
				continue
			}
			for _, i := range f.counted {
				d := whole[i]
				switch {
				case l.tones[i] == toneAny: // the pattern asks nothing of it
					d = f.alone[i]
				case reach == inBlock:
					if blockmates[i] != nil {
						d = f.among(i, k, blockmates[i], l.tones, raw, d)
					}
				case reach != wholeTop:
					d = f.around(i, k, reach, l.tones, raw, d)
				}
				if mates != nil && mates[i] != nil {
					d = f.among(i, k, mates[i], l.tones, raw, d)
				}
				p[i] = d
			}
			settle(cost)
		}
	}
	for reach := range allRound {
		bins := f.bins(l.tones, reach)
		for k := range bandwidths {
			whole := f.overall(l.tones, bins, k)
			for _, i := range f.counted {
				d := whole[i]
				if l.tones[i] == toneAny {
					d = f.alone[i]
				}
				if mates != nil && mates[i] != nil {
					d = f.among(i, k, mates[i], l.tones, raw, d)
				}
				p[i] = d
			}
			settle(0)
		}
	}
	return best
}

// toldByStripes is what stripes across, or down, already say of how light a
// row, or a column, is: which of their tones it has. 0 for what is no such
// stripes.
func (l *labelling) toldByStripes(across bool) float64 {
	if l.repeat == nil || across && l.repeat.cols > 1 || !across && l.repeat.rows > 1 {
		return 0
	}
	if slices.Contains(l.repeat.tile, toneMedium) {
		return math.Log(3)
	}
	return math.Ln2
}

// around is the density of patch i's L* among its tone in the neighbourhood,
// backed by that in the whole top, which counts as one neighbour.
func (f *fitter) around(i, k, reach int, tones []tone, bins []int, whole float64) float64 {
	p, weight := whole, 1.
	for _, l := range f.near[reach][i] {
		if tones[l.to] == tones[i] {
			p += l.weight * f.kernel[k][distanceOf(bins[i], bins[l.to])]
			weight += l.weight
		}
	}
	return p / weight
}

// among is the same among the mates of its tone.
func (f *fitter) among(i, k int, mates []int, tones []tone, bins []int, whole float64) float64 {
	p, weight := whole, 1.
	for _, j := range mates {
		if j != i && f.square[j] && tones[j] == tones[i] {
			p += f.kernel[k][distanceOf(bins[i], bins[j])]
			weight++
		}
	}
	return p / weight
}

func distanceOf(a, b int) int { return max(a-b, b-a) }

// matesOf lists for each patch the patches that have its number, itself
// included; none for those numbered -1.
func matesOf(number []int32) [][]int {
	if number == nil {
		return nil
	}
	by := members(number)
	out := make([][]int, len(number))
	for i, p := range number {
		if p >= 0 {
			out[i] = by[p]
		}
	}
	return out
}

// label lays a repeat over the top, with its pieces and blocks.
func (t *top) label(r *repeat, phase [2]int) labelling {
	l := labelling{tones: make([]tone, len(t.patches))}
	t.lay(&l, r, phase)
	t.cut(&l)
	return l
}

// lay says the tone of each patch, in place, and what it costs to say so.
func (t *top) lay(l *labelling, r *repeat, phase [2]int) {
	l.repeat, l.phase, l.cost = r, phase, r.cost
	switch phases := float64(r.rows * r.cols); {
	case r.fixed:
	case t.in.Setting == OnPoint:
		l.cost += math.Log(phases)
	case phase == [2]int{}: // most tops begin with a whole block
		l.cost += logInv(usualStart)
	default:
		l.cost += math.Log(phases-1) - math.Log(1-usualStart)
	}
	for i := range t.patches {
		p := &t.patches[i]
		l.tones[i] = r.toneAt(p.Row-1+phase[0], p.Col-1+phase[1])
	}
}

// cut numbers the pieces and the blocks of a labelling.
func (t *top) cut(l *labelling) {
	r := l.repeat
	number := func(rows, cols int, within func(row, col int) int) []int32 {
		out := make([]int32, len(t.patches))
		across := t.cols/cols + 2
		for i := range t.patches {
			row, col := t.patches[i].Row-1+l.phase[0], t.patches[i].Col-1+l.phase[1]
			out[i] = -1
			if k := within(row%rows, col%cols); k >= 0 {
				out[i] = int32((row/rows*across+col/cols)<<8 + k)
			}
		}
		return out
	}
	if r.piece != nil {
		l.pieces = number(r.rows, r.cols, func(row, col int) int { return int(r.piece[row*r.cols+col]) - 1 })
		closeGaps(l.pieces)
	}
	if r.block[0] > 0 {
		l.block = number(r.block[0], r.block[1], func(row, col int) int {
			if row >= r.block[0]-r.sash || col >= r.block[1]-r.sash {
				return -1 // sashing
			}
			return 0
		})
		closeGaps(l.block)
	}
}

// closeGaps numbers the same things from 0, with none left out.
func closeGaps(number []int32) {
	seen := slices.Clone(number)
	slices.Sort(seen)
	seen = slices.Compact(seen)
	if seen[0] == -1 {
		seen = seen[1:]
	}
	for i, p := range number {
		if p >= 0 {
			k, _ := slices.BinarySearch(seen, p)
			number[i] = int32(k)
		}
	}
}

// plainPieces: inside its pieces of one cloth a top has no seams to speak of.
func (f *fitter) plainPieces(pieces []int32) bool {
	var steps []float64
	for _, e := range f.t.edges {
		if f.square[e.a] && f.square[e.b] && pieces[e.a] >= 0 && pieces[e.a] == pieces[e.b] {
			steps = append(steps, math.Abs(f.step(e)))
		}
	}
	return median(steps) < DefaultLost
}

// narrowLines are the rows and the columns that are narrower than patches:
// sashing, by its looks.
type narrowLines struct {
	row, col []bool
	some     bool // there are such
	known    bool // the outlines say
}

// narrowerBy is how narrow a strip is at most, beside a patch, to be sashing
// by its looks: common practice, no source.
const narrowerBy = .7

func (t *top) narrowLines() narrowLines {
	n := narrowLines{row: make([]bool, t.rows), col: make([]bool, t.cols)}
	heights, widths := make([][]float64, t.rows), make([][]float64, t.cols)
	for i := range t.patches {
		p := &t.patches[i]
		w, h := sizeOf(p.Outline)
		if w > 0 && h > 0 {
			heights[p.Row-1] = append(heights[p.Row-1], h)
			widths[p.Col-1] = append(widths[p.Col-1], w)
		}
	}
	mark := func(lines [][]float64, narrow []bool) {
		side := make([]float64, len(lines))
		for i, v := range lines {
			side[i] = median(v)
			n.known = n.known || side[i] > 0
		}
		for i := range side {
			// Beside a strip lie patches. Farther off, a photo taken from
			// below or from the side makes all of them smaller.
			beside := slices.Max(side[max(i-1, 0):min(i+2, len(side))])
			narrow[i] = side[i] > 0 && side[i] < narrowerBy*beside
			n.some = n.some || narrow[i]
		}
	}
	mark(heights, n.row)
	mark(widths, n.col)
	return n
}

// sizeOf is the width and the height of a patch, 0 without an outline.
func sizeOf(outline [][2]float64) (w, h float64) {
	if len(outline) != 4 {
		return 0, 0
	}
	side := func(i int) float64 {
		a, b := outline[i], outline[(i+1)%4]
		return math.Hypot(b[0]-a[0], b[1]-a[1])
	}
	return (side(0) + side(2)) / 2, (side(1) + side(3)) / 2
}

const (
	// blindToLines is the length, in nats, of saying that a top has narrow
	// rows or columns, and that they are yet no sashing of its pattern.
	blindToLines = 25
	// evenSashing is that of saying that sashing is as wide as a patch.
	evenSashing = 4
)

// linesCost is what a labelling has to say about the widths of the rows and
// columns. not ok: it takes for sashing what is none, neither by its width nor
// by being of a cloth that the blocks do without.
func (f *fitter) linesCost(l *labelling) (cost float64, ok bool) {
	agree := true
	for i, narrow := range f.narrow.row {
		agree = agree && narrow == (l.repeat.sash > 0 && (i+l.phase[0])%l.repeat.block[0] == l.repeat.block[0]-1)
	}
	for i, narrow := range f.narrow.col {
		agree = agree && narrow == (l.repeat.sash > 0 && (i+l.phase[1])%l.repeat.block[1] == l.repeat.block[1]-1)
	}
	switch {
	case agree:
		return 0, true
	case l.repeat.sash == 0:
		return blindToLines, true
	case f.narrow.some:
		return blindToLines, f.ownCloth(l)
	case f.narrow.known:
		return evenSashing, f.ownCloth(l)
	}
	return 0, f.ownCloth(l)
}

// ownCloth: the strips of a labelling's sashing are of a cloth that the blocks
// do without.
func (f *fitter) ownCloth(l *labelling) bool {
	inStrips, inBlocks := map[int]int{}, map[int]int{}
	strips, blocks := 0, 0
	of := -1
	for _, i := range f.counted {
		c := f.cloths[i]
		switch {
		case l.block[i] >= 0:
			inBlocks[c]++
			blocks++
		case l.tones[i] == toneOwn:
			inStrips[c]++
			strips++
			if of < 0 || inStrips[c] > inStrips[of] {
				of = c
			}
		}
	}
	return 4*inStrips[of] >= 3*strips && 10*inBlocks[of] <= blocks
}

// toneStep is the tones' place on the way from dark to light.
var toneStep = [toneCount]float64{toneLight: 1, toneMedium: 0, toneDark: -1}

// quick is a first estimate of a labelling's score: what the steps of its
// tones explain of the steps of L* from patch to patch. contrast is the step
// of L* between its lights and darks.
func (f *fitter) quick(l *labelling, total float64) (score, contrast float64) {
	score, contrast = f.quickWith(l, total, toneLight)
	if !slices.Contains(l.repeat.tile, toneOwn) {
		return score, contrast
	}
	if s, c := f.quickWith(l, total, toneDark); s > score {
		score, contrast = s, c
	}
	return score, contrast
}

// quickWith is the same with a tone for what is of a cloth of its own.
func (f *fitter) quickWith(l *labelling, total float64, own tone) (score, contrast float64) {
	steps := toneStep
	steps[toneOwn], steps[tonePost] = toneStep[own], toneStep[opposite(own)]
	var with, square float64
	for _, e := range f.t.edges {
		a, b := l.tones[e.a], l.tones[e.b]
		if a == b || a == toneAny || b == toneAny || !f.square[e.a] || !f.square[e.b] {
			continue
		}
		step := steps[a] - steps[b]
		with += step * f.step(e)
		square += step * step
	}
	if with <= 0 {
		return math.Inf(-1), 0
	}
	left := max(1-with*with/square/total, 1e-3)
	return -float64(len(f.counted))/2*math.Log(left) - l.cost, 2 * with / square
}

// step is the step of L* over an edge, bounded so that no single one decides.
func (f *fitter) step(e edge) float64 {
	return min(max(f.t.patches[e.a].Lightness-f.t.patches[e.b].Lightness, -45), 45)
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
const shortlist, shortlistOfName = 40, 4

// best labelling of the top among the repeats, nil when none says more than
// the neighbourhoods alone. With given set, the best of the repeats is taken
// whatever it says. second is the best labelling of another name.
func (f *fitter) best(repeats []repeat, given bool) (best, second *labelling) {
	total := 0.
	for _, e := range f.t.edges {
		if f.square[e.a] && f.square[e.b] {
			total += f.step(e) * f.step(e)
		}
	}
	if total == 0 || len(f.counted) < 3 {
		return nil, nil
	}
	var tried []candidate
	scratch := labelling{tones: make([]tone, len(f.t.patches))}
	for i := range repeats {
		r := &repeats[i]
		if !given && !r.fits(f.t) {
			continue
		}
		rows, cols := r.rows, r.cols
		if r.fixed {
			rows, cols = 1, 1
		}
		for row := range rows {
			for col := range cols {
				phase := [2]int{row, col}
				f.t.lay(&scratch, r, phase)
				score, contrast := f.quick(&scratch, total)
				if given || contrast >= leastContrast {
					little := contrastCost(contrast)
					tried = append(tried, candidate{r, phase, hash(scratch.tones), scratch.cost + little, score - little})
				}
			}
		}
	}
	labellings := f.shorten(tried)
	if !given {
		labellings = slices.DeleteFunc(labellings, func(l labelling) bool {
			_, ok := f.linesCost(&l)
			return !ok || !f.mediumsBetween(l.tones) || l.pieces != nil && !f.plainPieces(l.pieces)
		})
	}
	for i := range labellings {
		lines, _ := f.linesCost(&labellings[i])
		labellings[i].score = f.predict(&labellings[i], nil) - labellings[i].cost - lines
	}
	slices.SortStableFunc(labellings, func(a, b labelling) int { return cmp.Compare(b.score, a.score) })
	for i := range labellings {
		l := &labellings[i]
		if !given && l.score < f.none-logInv(usualNone) {
			break
		}
		if best != nil {
			if l.repeat.name != best.repeat.name {
				return best, l
			}
			continue
		}
		if !l.repeat.fixed && (l.repeat.plain || l.repeat.sash > 0) {
			settled := f.t.settleTones(l)
			l = &settled
		}
		if given || f.fewMisplaced(l) {
			best = l
			if known := f.t.recognize(l.tones); l.repeat.fixed && known != nil {
				known.score = best.score
				best = known
			}
		}
	}
	return best, nil
}

// fewMisplaced: no more than one patch in ten, and one for the smallest tops,
// lies on the wrong side of the cuts. What more do is no pattern.
func (f *fitter) fewMisplaced(l *labelling) bool {
	tones := slices.Clone(l.tones)
	for i := range tones {
		if !f.square[i] {
			tones[i] = toneAny
		}
	}
	sc := f.t.measureScale(tones, ownPieces(l.repeat.plain, l.repeat.sash > 0, l.pieces, l.block), l.block)
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
	tones       uint64 // hash of what it says of the patches
	cost, score float64
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
	for _, c := range tried {
		k := key{tones: c.tones, pieces: c.repeat.piece != nil}
		if p := c.repeat.block; p[0] > 0 {
			k.block = [4]int{p[0], p[1], c.phase[0] % p[0], c.phase[1] % p[1]}
		}
		if seen[k] || len(kept) >= shortlist && ofName[c.repeat.name] >= shortlistOfName {
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
