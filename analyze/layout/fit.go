package layout

import (
	"math"
	"slices"

	"greige/analyze/fit"
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
	perL     = 1 // bins in one L*
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

// step is the step of L* over an edge, bounded so that no single one decides.
type step struct {
	edge
	step float64
}

// mostStep is that bound, in L*.
const mostStep = 45

// fitter holds what all labellings of one top are tried on.
type fitter struct {
	t       *top
	counted []int // patches that are fitted: the squares
	square  []bool
	steps   []step                 // between squares
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
	f.count()
	for _, e := range t.edges {
		if f.square[e.a] && f.square[e.b] {
			d := t.patches[e.a].Lightness - t.patches[e.b].Lightness
			f.steps = append(f.steps, step{e, min(max(d, -mostStep), mostStep)})
		}
	}
	for k := range reaches {
		f.near[k] = make([][]link, n)
		for i := range t.patches {
			f.near[k][i] = f.neighbours(i, k)
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

// count finds the squares that are fitted. What fills the edges of a top on
// point is often of another cloth than the pattern would have there, and is left
// out; where it seems to fill most of the top, it is part of the pattern.
func (f *fitter) count() {
	t := f.t
	setting := t.setting(f.cloths)
	one, side := t.oneBlock(setting)
	squares, filling := 0, 0
	for i := range t.patches {
		if t.patches[i].Shape == "" {
			squares++
			if setting[i] {
				filling++
			}
		}
	}
	if filling > squares*2/5 {
		setting = make([]bool, len(t.patches))
	}
	for i := range t.patches {
		within := !setting[i]
		if side > 0 {
			within = one.holds(&t.patches[i])
		}
		if t.patches[i].Shape == "" && within {
			f.square[i] = true
			f.counted = append(f.counted, i)
		}
	}
}

// neighbours are the other squares within a reach of patch i, by number in
// reaches, with their weights.
func (f *fitter) neighbours(i, reach int) []link {
	r, p := reaches[reach], &f.t.patches[i]
	var out []link
	for dr := -r.rows; dr <= r.rows; dr++ {
		for dc := -r.cols; dc <= r.cols; dc++ {
			j := f.t.patchAt(p.Row-1+dr, p.Col-1+dc)
			if j >= 0 && j != i && f.square[j] {
				out = append(out, link{int32(j), math.Exp(-float64(dr*dr+dc*dc) / (2 * r.width * r.width))})
			}
		}
	}
	return out
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
	e := fit.NewNormal(fieldTerms)
	ridge := make([]float64, fieldTerms)
	for _, i := range f.counted {
		x := f.t.fieldAt(i)
		for k := range x {
			x[k] -= mean[k]
			ridge[k] = 1e-6 * n // a top of one row has no slope across it
		}
		e.Add(x[:], f.t.patches[i].Lightness-level, 1)
	}
	surface, err := e.Solve(ridge)
	if err != nil {
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
	wide := int(3.5 * bandwidths[bandwidth] * perL)
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
	c := f.newPrediction(l, densities)
	c.lookAbout()
	c.lookInBlocks()
	return c.best
}

// predictAmong is predict among many labellings of which the answers so far are
// known. What says the same of every patch, with all pieces patches, differs in its
// blocks alone.
func (f *fitter) predictAmong(l *labelling, known map[saying]float64) float64 {
	if l.pieces != nil {
		return f.predict(l, nil)
	}
	c := f.newPrediction(l, nil)
	key := saying{tones: hash(l.tones), across: l.toldByStripes(true), down: l.toldByStripes(false)}
	about, ok := known[key]
	if !ok {
		c.lookAbout()
		about = c.best
		known[key] = about
	}
	c.lookInBlocks()
	return max(about, c.best)
}

func (f *fitter) newPrediction(l *labelling, densities []float64) *prediction {
	return &prediction{f: f, l: l, mates: matesOf(l.pieces), raw: f.bins(l.tones, wholeTop),
		p: make([]float64, len(l.tones)), densities: densities, best: math.Inf(-1)}
}

// lookInBlocks tries the patches of each one's block.
func (c *prediction) lookInBlocks() {
	if c.blockmates = matesOf(c.l.block); c.blockmates == nil {
		return
	}
	for k := range bandwidths {
		c.look(k, inBlock, c.f.overall(c.l.tones, c.raw, k))
		c.settle(k, 0)
	}
}

// lookAbout tries the whole top and the neighbourhoods.
func (c *prediction) lookAbout() {
	f, l := c.f, c.l
	for k := range bandwidths {
		whole := f.overall(l.tones, c.raw, k)
		for reach := wholeTop; reach < len(reaches); reach++ {
			if reach >= allRound && l.repeat != nil && l.toldByStripes(reach == alongRow) == 0 {
				continue
			}
			c.look(k, reach, whole)
			c.settle(k, f.costOf(l, k, reach))
		}
	}
	for reach := range allRound {
		bins := f.bins(l.tones, reach)
		for k := range bandwidths {
			copy(c.p, f.overall(l.tones, bins, k))
			for _, i := range f.counted {
				if l.tones[i] == toneAny {
					c.p[i] = f.alone[i]
				}
			}
			c.settle(k, 0)
		}
	}
}

// costOf is the length, in nats, of saying that a labelling is looked at with
// bandwidth k along the rows or columns; 0 for other reaches.
func (f *fitter) costOf(l *labelling, k, reach int) float64 {
	switch reach {
	case alongRow:
		return (lineCost(bandwidths[k]) - l.toldByStripes(true)) * float64(f.t.rows)
	case alongColumn:
		return (lineCost(bandwidths[k]) - l.toldByStripes(false)) * float64(f.t.cols)
	}
	return 0
}

// prediction is the search for the bandwidth, the way of looking and the share of
// mistakes that foretell the squares' L* best under a labelling.
type prediction struct {
	f                 *fitter
	l                 *labelling
	mates, blockmates [][]int   // by patch: those of its piece and of its block
	raw               []int     // the patches' L* in bins
	p                 []float64 // by patch: density as it is looked at now
	densities         []float64 // the best so far; nil: not wanted
	best              float64   // their log predictive density, less its cost
}

// look sets the density of each square in a reach, backed by that in the whole
// top.
func (c *prediction) look(k, reach int, whole []float64) {
	f, l := c.f, c.l
	for _, i := range f.counted {
		d := whole[i]
		switch {
		case l.tones[i] == toneAny: // the pattern asks nothing of it
			d = f.alone[i]
		case reach == inBlock:
			if c.blockmates[i] != nil {
				d = f.among(i, k, c.blockmates[i], l.tones, c.raw, d)
			}
		case reach != wholeTop:
			d = f.around(i, k, reach, l.tones, c.raw, d)
		}
		c.p[i] = d
	}
}

// settle enters the densities at bandwidth k, as they are and with the pieces
// heard: a piece of one cloth foretells its own patches, unless its print is so
// large that they differ as much as any.
func (c *prediction) settle(k int, cost float64) {
	c.enter(cost)
	if c.mates == nil {
		return
	}
	for _, i := range c.f.counted {
		if c.mates[i] != nil {
			c.p[i] = c.f.among(i, k, c.mates[i], c.l.tones, c.raw, c.p[i])
		}
	}
	c.enter(cost)
}

// enter keeps the densities where they foretell better than the best so far.
func (c *prediction) enter(cost float64) {
	f, p := c.f, c.p
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
		if sum <= c.best {
			continue
		}
		c.best = sum
		if c.densities == nil {
			continue
		}
		for _, i := range f.counted {
			c.densities[i] = (1-mistaken)*p[i] + mistaken*f.broad[i]
		}
	}
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

// costOf is the length, in nats, of saying that a repeat is meant and where it begins.
func (t *top) costOf(r *repeat, phase [2]int) float64 {
	switch phases := float64(r.rows * r.cols); {
	case r.fixed:
		return r.cost
	case t.in.Setting == OnPoint:
		return r.cost + math.Log(phases)
	case phase == [2]int{}: // most tops begin with a whole block
		return r.cost + logInv(usualStart)
	default:
		return r.cost + math.Log(phases-1) - math.Log(1-usualStart)
	}
}

// lay says the tone of each patch, in place, and what it costs to say so.
func (t *top) lay(l *labelling, r *repeat, phase [2]int) {
	l.repeat, l.phase, l.cost = r, phase, t.costOf(r, phase)
	// Where each row and column of the top begins in the tile.
	rows, cols := make([]int, t.rows), make([]int, t.cols)
	for i := range rows {
		rows[i] = (i + phase[0]) % r.rows * r.cols
	}
	for i := range cols {
		cols[i] = (i + phase[1]) % r.cols
	}
	for i := range t.patches {
		l.tones[i] = r.tile[rows[t.patches[i].Row-1]+cols[t.patches[i].Col-1]]
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
