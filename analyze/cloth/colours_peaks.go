package cloth

import (
	"math"
	"slices"
	"sync"
	"sync/atomic"

	"greige/colorspace"
)

// labGrid counts votes in cells of CIELAB.
type labGrid struct {
	min    [3]int32 // in steps of lab
	size   [3]int32 // cells, with an empty rim
	votes  []int32
	inkTag []uint8 // of each cell with votes: the nearest ink + 1, 0 when none is near
}

// A cell is 1.5 units wide: less than the noise of most photos after the mean
// of nine pixels, and with the smoothing over neighbouring cells fine enough
// to tell inks apart that differ by 4.
const cellSteps = 3 * labSteps / 2

func (f *inkField) newGrid() *labGrid {
	lo, hi := [3]int32{math.MaxInt16, math.MaxInt16, math.MaxInt16}, [3]int32{math.MinInt16, math.MinInt16, math.MinInt16}
	var all sync.Mutex
	f.bands(0, f.h, func(from, to int) {
		a, b := lo, hi
		for i := from * f.w; i < to*f.w; i++ {
			if !f.core[i] {
				continue
			}
			for c := range a {
				v := int32(f.lab[3*i+c])
				a[c], b[c] = min(a[c], v), max(b[c], v)
			}
		}
		all.Lock()
		defer all.Unlock()
		for c := range lo {
			lo[c], hi[c] = min(lo[c], a[c]), max(hi[c], b[c])
		}
	})
	g := &labGrid{}
	for c := range lo {
		g.min[c] = lo[c] - cellSteps
		g.size[c] = (hi[c]-lo[c])/cellSteps + 3
	}
	g.votes = cleared(&f.votes, int(g.size[0])*int(g.size[1])*int(g.size[2]))
	return g
}

// cell is the place of a colour, which is brought inside the empty rim: the
// mean round a pixel of the core also counts pixels that are not of the core.
func (g *labGrid) cell(l, a, b int32) int32 {
	at := func(c int, v int32) int32 {
		return min(max((v-g.min[c])/cellSteps, 1), g.size[c]-2)
	}
	return (at(0, l)*g.size[1]+at(1, a))*g.size[2] + at(2, b)
}

// middle is the colour in the middle of a cell.
func (g *labGrid) middle(cell int32) colorspace.Lab {
	at := func(c int, n int32) float64 {
		return (float64(g.min[c]) + (float64(n)+.5)*cellSteps) / labSteps
	}
	return colorspace.Lab{L: at(0, cell/g.size[2]/g.size[1]), A: at(1, cell/g.size[2]%g.size[1]), B: at(2, cell%g.size[2])}
}

// plainSpread is how many times the variance of noise and weave a plain place
// may have. Nearly all places of nine pixels keep under half of that
// (chi-square), but weave and pixels beat, and noise is not alike everywhere.
const plainSpread = 4

// vote finds the flat and the narrow pixels and counts their colours. About
// enough of those that are not flat are looked at.
func (f *inkField) vote(enough int) {
	cleared(&f.kind, f.w*f.h)
	room(&f.cell, f.w*f.h) // set of those that have one
	f.grid = f.newGrid()
	var light, chroma [noiseBins]float32
	for b := range light {
		light[b], chroma[b] = float32(plainSpread*sq(f.lightNoise[b])), float32(plainSpread*sq(f.chromaNoise[b]))
	}
	var rest atomic.Int64
	f.bands(1, f.h-1, func(from, to int) {
		out := own(f, &f.inkRoom.around, f.w)
		for y := from; y < to; y++ {
			f.row(y, out)
			rest.Add(f.findFlat(y, out, &light, &chroma))
		}
	})
	// Looking for narrow places takes long; some of them will do.
	f.step = 1 + int(rest.Load())/enough
	f.bands(1, f.h-1, f.findNarrow)
	weight := [...]int32{flat: 1, narrow: int32(f.step)}
	for i, k := range f.kind {
		if k != mixed {
			f.grid.votes[f.cell[i]] += weight[k]
		}
	}
}

// findFlat sets kind and cell of the flat pixels of row y, which looks as around
// says, and counts the others. light and chroma are the largest variances of a plain
// place, by lightness.
func (f *inkField) findFlat(y int, around []around, light, chroma *[noiseBins]float32) (rest int64) {
	s := f.middle(y)
	for x := s.x0; x < s.x1; x++ {
		i := y*f.w + x
		if !f.core[i] {
			continue
		}
		r := &around[x]
		if b := noiseBin(r.mean[0]); r.light > light[b] || r.chroma > chroma[b] {
			rest++
			continue
		}
		f.kind[i] = flat
		f.cell[i] = f.grid.cell(r.mean[0], r.mean[1], r.mean[2])
	}
	return rest
}

// findNarrow sets kind and cell of the narrow pixels in the rows from, to behind the
// last, as far as step has them looked at.
func (f *inkField) findNarrow(from, to int) {
	for y := from; y < to; y++ {
		s := f.middle(y)
		for x := s.x0; x < s.x1; x++ {
			i := y*f.w + x
			if !f.core[i] || f.kind[i] == flat || f.step > 1 && (x+2*y)%f.step != 0 || !f.isNarrow(x, y) {
				continue
			}
			f.kind[i] = narrow
			f.cell[i] = f.grid.cell(int32(f.lab[3*i]), int32(f.lab[3*i+1]), int32(f.lab[3*i+2]))
		}
	}
}

// isNarrow tells whether, among 5 x 5 pixels, none goes further from their
// mean than the one in the middle does, in its own direction: then it is as
// pure as the picture shows its ink here. A pixel on the way from one ink to
// another always has one that goes further.
func (f *inkField) isNarrow(x, y int) bool {
	const r = 2
	x0, x1, y0, y1 := max(x-r, 0), min(x+r, f.w-1), max(y-r, 0), min(y+r, f.h-1)
	at := 3 * (y*f.w + x)
	p := [3]float32(f.lin[at : at+3])
	whole := f.inside == nil || f.amidCore(x, y)
	var s0, s1, s2, n float32
	for j := y0; j <= y1; j++ {
		k := j*f.w + x0
		v := f.lin[3*k : 3*(j*f.w+x1+1)]
		for ; len(v) >= 3; v, k = v[3:], k+1 {
			if whole || f.inside[k] {
				s0, s1, s2 = s0+v[0], s1+v[1], s2+v[2]
				n++
			}
		}
	}
	sum := [3]float32{s0, s1, s2}
	noise := f.lightNoise[noiseBin(int32(f.lab[at]))]
	var d [3]float32
	var length, slack float32
	for c := range d {
		d[c] = p[c] - sum[c]/n
		length += d[c] * d[c]
		s := 1.3 * linearNoise(p[c], noise) * d[c] // neighbours further off differ more
		slack += s * s
	}
	slack = 2 * float32(math.Sqrt(float64(slack)))
	var far float32
	for j := y0; j <= y1; j++ {
		k := j*f.w + x0
		v := f.lin[3*k : 3*(j*f.w+x1+1)]
		for ; len(v) >= 3; v, k = v[3:], k+1 {
			if !whole && !f.inside[k] {
				continue
			}
			a, b, c := v[0]-p[0], v[1]-p[1], v[2]-p[2]
			if d[0]*a+d[1]*b+d[2]*c > slack {
				return false
			}
			far = max(far, a*a+b*b+c*c)
		}
	}
	// Less than a fifth of the way beside the line between two inks is no
	// more than what a file's coarser colour does to an edge.
	return length > .04*far
}

// amidCore tells whether all of the 5 x 5 pixels about a pixel of the core are
// inside: those about its neighbours over the corners are.
func (f *inkField) amidCore(x, y int) bool {
	i := y*f.w + x
	return y > 1 && y+2 < f.h && f.core[i-f.w-1] && f.core[i-f.w+1] && f.core[i+f.w-1] && f.core[i+f.w+1]
}

// peakRule says when a peak of the votes stands for an ink.
type peakRule struct {
	// clear: the saddle to a higher peak lies below this share of its height.
	clear float64
	// least: it has this share of all votes.
	least float64
}

var usualPeaks = peakRule{clear: .65, least: .001}

// fewestVotes is the least number of votes for an ink, in small pictures.
const fewestVotes = 20

// peaks are the inks that the votes speak for, most votes first.
func (f *inkField) peaks(rule peakRule) []ink {
	g := f.grid
	nodes, total := g.highest()
	least := max(fewestVotes, int(rule.least*float64(total)))
	h := &hills{nodes: nodes, up: make([]int32, len(nodes)), mass: make([]int, len(nodes)), peak: cleared(&f.peak, len(g.votes))}
	offset := g.around()
	for i := range nodes {
		h.join(int32(i), &offset, rule.clear, least/2)
	}
	var inks []ink
	for i := range nodes {
		if h.up[i] == int32(i) && h.mass[i] >= least {
			k := ink{lab: g.middle(nodes[i].cell), votes: h.mass[i]}
			k.lin = k.lab.Linear()
			inks = append(inks, k)
		}
	}
	slices.SortStableFunc(inks, func(a, b ink) int { return b.votes - a.votes })
	return inks[:min(len(inks), maxInks)]
}

// node is a cell that has votes.
type node struct {
	cell   int32
	votes  int32
	height int32 // votes smoothed over the neighbouring cells
}

// around is how far in votes the 3 x 3 x 3 cells about a cell are from it.
func (g *labGrid) around() (offset [27]int32) {
	for n := range offset {
		a, b, c := int32(n/9)-1, int32(n/3%3)-1, int32(n%3)-1
		offset[n] = (a*g.size[1]+b)*g.size[2] + c
	}
	return offset
}

// highest are the cells that have votes, the highest first, and the number of votes.
func (g *labGrid) highest() (nodes []node, total int) {
	for c, v := range g.votes {
		if v > 0 {
			nodes = append(nodes, node{cell: int32(c), votes: v})
			total += int(v)
		}
	}
	offset := g.around()
	var weight [27]int32
	for n := range weight {
		a, b, c := int32(n/9)-1, int32(n/3%3)-1, int32(n%3)-1
		weight[n] = (2 - a*a) * (2 - b*b) * (2 - c*c)
	}
	for i := range nodes {
		for n, o := range offset {
			nodes[i].height += weight[n] * g.votes[nodes[i].cell+o]
		}
	}
	slices.SortFunc(nodes, func(a, b node) int {
		if a.height != b.height {
			return int(b.height - a.height)
		}
		return int(a.cell - b.cell)
	})
	return nodes, total
}

// hills are the cells joined to their peaks. From the highest cell down, each joins
// the peak it lies at the foot of; where two peaks meet, the lower ends unless it
// stands clear.
type hills struct {
	nodes []node
	up    []int32 // the node that each joined; a peak its own
	mass  []int   // votes of a peak
	peak  []int32 // of each cell seen so far: its node + 1
}

// top is the peak of a node.
func (h *hills) top(i int32) int32 {
	up := h.up
	for up[i] != i {
		up[i] = up[up[i]]
		i = up[i]
	}
	return i
}

// join joins node n, the highest of those left. A peak that meets a higher one
// there ends if n is higher than the share clear of it, or it has fewer votes than
// few.
func (h *hills) join(n int32, offset *[27]int32, clear float64, few int) {
	nodes, up, mass := h.nodes, h.up, h.mass
	up[n], mass[n] = n, int(nodes[n].votes)
	h.peak[nodes[n].cell] = n + 1
	best := int32(-1)
	var met [27]int32
	k := 0
	for _, o := range offset {
		if p := h.peak[nodes[n].cell+o]; p > 0 && p-1 != n {
			r := h.top(p - 1)
			if !slices.Contains(met[:k], r) {
				met[k] = r
				k++
			}
			if best < 0 || r < best { // lower index, higher peak
				best = r
			}
		}
	}
	if best < 0 {
		return
	}
	up[n] = best
	mass[best] += mass[n]
	for _, r := range met[:k] {
		if r != best && (float64(nodes[n].height) > clear*float64(nodes[r].height) || mass[r] < few) {
			up[r] = best
			mass[best] += mass[r]
		}
	}
}

// atLeast adds inks until there are n: lesser peaks, those first that speak
// for most votes far from the others; then halves of the ink that varies most.
func (f *inkField) atLeast(n int, inks []ink) []ink {
	more := f.peaks(peakRule{clear: .97, least: .0002})
	for len(inks) < n {
		best, most := -1, 0.0
		for i, k := range more {
			near := math.Inf(1)
			for _, o := range inks {
				near = min(near, colorspace.CIEDE2000(k.lab, o.lab))
			}
			if w := float64(k.votes) * sq(near); near > 1 && w > most {
				best, most = i, w
			}
		}
		if best < 0 {
			break
		}
		inks = append(inks, more[best])
	}
	for len(inks) < n {
		inks = f.halve(inks)
	}
	return f.measure(inks)
}

// halve divides the ink whose votes vary most in lightness into a lighter and
// a darker one.
func (f *inkField) halve(inks []ink) []ink {
	f.tagAll(inks)
	type part struct{ votes, light, square float64 }
	parts := make([]part, len(inks))
	for c, v := range f.grid.votes {
		if t := f.grid.inkTag[c]; v > 0 && t > 0 {
			l := f.grid.middle(int32(c)).L
			p := &parts[t-1]
			p.votes += float64(v)
			p.light += float64(v) * l
			p.square += float64(v) * l * l
		}
	}
	best, most := 0, -1.0
	for i, p := range parts {
		if v := p.square - p.light*p.light/max(p.votes, 1); v > most {
			best, most = i, v
		}
	}
	p := parts[best]
	spread := max(math.Sqrt(max(most, 0)/max(p.votes, 1)), .1)
	lighter, darker := inks[best], inks[best]
	lighter.lab.L += spread
	darker.lab.L -= spread
	lighter.lin, darker.lin = lighter.lab.Linear(), darker.lab.Linear()
	out := slices.Clone(inks)
	out[best] = lighter
	return append(out, darker)
}
