package scraps

import (
	"math"
	"slices"

	"greige/analyze/fit"
	"greige/analyze/raster"
)

// ink is a colour in L*, a* and b*.
type ink struct{ l, a, b float32 }

// palette tells how likely a colour is in a piece, from the pixels of the
// small picture that lie well inside it: by steps of binSide in L*, a* and b*,
// each spread over the steps next to it, and more closely for its dyes.
type palette struct {
	seen  []ink
	dyes  []dye
	first [3]int    // the lowest step of each that the table has
	size  [3]int    // of the table
	costs []float32 // minus the logarithm of the density in each step
}

// dye is a colour that much of a piece has: a cloth's own colour, or the
// ground or a figure of a print. A solid is as even as the ground that it
// lies on, so its density has to be known as closely: normal, in L*, a*, b*.
type dye struct {
	mean, per [3]float32 // per is 1 over the standard deviation
	cost      float32    // minus the logarithm of its density at the mean
}

const (
	mostDyes  = 4
	leastDye  = .1            // of the piece
	dyeSpread = 1.5 * binSide // of one dye to either side, with its weave and folds
)

const (
	binSide = 5
	binsL   = 26
	binsAB  = 44
)

// stepOf is the step of a colour in L*, a* and b*, inside an empty rim.
func stepOf(l, a, b float32) [3]int {
	return [3]int{
		min(max(int(l*(1./binSide)+1), 1), binsL-2),
		min(max(int(a*(1./binSide)+binsAB/2), 1), binsAB-2),
		min(max(int(b*(1./binSide)+binsAB/2), 1), binsAB-2),
	}
}

// tabulate sets the costs by the pixels seen, and gives the place of each in
// the table.
func (p *palette) tabulate() []int32 {
	steps := make([][3]int, len(p.seen))
	p.first = [3]int{binsL, binsAB, binsAB}
	var last [3]int
	for i, k := range p.seen {
		steps[i] = stepOf(k.l, k.a, k.b)
		for c, n := range steps[i] {
			p.first[c], last[c] = min(p.first[c], n-1), max(last[c], n+1)
		}
	}
	n := 1
	for c := range p.size {
		p.size[c] = last[c] - p.first[c] + 1
		n *= p.size[c]
	}
	count, places := make([]int32, n), make([]int32, len(p.seen))
	for i, s := range steps {
		places[i] = int32(p.at(s))
		count[places[i]]++
	}
	p.costs = make([]float32, n)
	near := [3]float32{.25, .5, .25}
	for at, seen := range count {
		if seen == 0 {
			continue
		}
		for i, wi := range near {
			for j, wj := range near {
				row := p.costs[at+((i-1)*p.size[1]+j-1)*p.size[2]-1:][:3]
				for k, wk := range near {
					row[k] += float32(seen) * wi * wj * wk
				}
			}
		}
	}
	for i, share := range p.costs {
		p.costs[i] = anyColour
		if share /= float32(len(p.seen)); share >= 1e-4 {
			p.costs[i] = min(anyColour, float32(math.Log(binSide*binSide*binSide))-float32(math.Log(float64(share))))
		}
	}
	return places
}

// at is the place of a step in the table; below 0 where it has none.
func (p *palette) at(step [3]int) int {
	l, a, b := step[0]-p.first[0], step[1]-p.first[1], step[2]-p.first[2]
	if l < 0 || l >= p.size[0] || a < 0 || a >= p.size[1] || b < 0 || b >= p.size[2] {
		return -1
	}
	return (l*p.size[1]+a)*p.size[2] + b
}

// settle makes the table and finds the dyes, once all pixels are added; floor
// is the least standard deviation in L*, a* and b* that the pixels of one colour
// have in the working picture.
func (p *palette) settle(floor [3]float64) {
	if len(p.seen) == 0 {
		return
	}
	places := p.tabulate()
	left, total := slices.Clone(p.seen), float32(len(p.seen))
	count := make([]int32, len(p.costs))
	var in [3][]float64
	for len(p.dyes) < mostDyes && float32(len(left)) > leastDye*total {
		// The commonest colour that is left: of the steps of the table.
		clear(count)
		best, most := ink{}, int32(0)
		for i, k := range left {
			at := places[i]
			if count[at]++; count[at] > most {
				best, most = k, count[at]
			}
		}
		for c := range in {
			in[c] = in[c][:0]
		}
		rest := 0
		for i, k := range left {
			if max(abs32(k.l-best.l), abs32(k.a-best.a), abs32(k.b-best.b)) > dyeSpread {
				left[rest], places[rest] = k, places[i]
				rest++
				continue
			}
			in[0], in[1], in[2] = append(in[0], float64(k.l)), append(in[1], float64(k.a)), append(in[2], float64(k.b))
		}
		n := len(in[0])
		left = left[:rest]
		if float32(n) < leastDye*total {
			continue
		}
		d := dye{cost: float32(1.5*math.Log(2*math.Pi) - math.Log(float64(n)/float64(total)))}
		for c, v := range in {
			m := fit.Median(v)
			for i := range v {
				v[i] = math.Abs(v[i] - m)
			}
			sd := max(1.4826*fit.Median(v), floor[c])
			d.mean[c], d.per[c] = float32(m), float32(1/sd)
			d.cost += float32(math.Log(sd))
		}
		p.dyes = append(p.dyes, d)
	}
}

func abs32(v float32) float32 { return max(v, -v) }

// anyColour is minus the logarithm of the density of a colour of which
// nothing is known: one in 100 L* by 60 a* by 60 b*.
var anyColour = float32(math.Log(100 * 60 * 60))

// cost is minus the logarithm of a colour's density, in L*, a*, b*, in the
// piece; anyColour for one that is not in it.
func (p *palette) cost(l, a, b float32) float32 {
	least := anyColour
	if at := p.at(stepOf(l, a, b)); at >= 0 && len(p.costs) > 0 {
		least = p.costs[at]
	}
	for i := range p.dyes {
		d := &p.dyes[i]
		off := sq32((l-d.mean[0])*d.per[0]) + sq32((a-d.mean[1])*d.per[1]) + sq32((b-d.mean[2])*d.per[2])
		least = min(least, d.cost+off/2)
	}
	return least
}

// paletteOf is the palette of what lies well inside a piece: where there are
// enough, of pixels that its edge does not blur into.
func (s *small) paletteOf(m *raster.Mask) *palette {
	p := &palette{}
	m = m.Filled()
	for r := 3.; r >= 0; r-- {
		core := m
		if r > 0 {
			core = m.Eroded(r)
		}
		n := core.Count()
		if n < 30 && r > 0 { // fewer tell a colour and its spread to a fifth at best
			continue
		}
		step, k := max(1, n/600), 0
		core.Each(func(x, y int) {
			if k++; k%step == 0 {
				j := y*s.w + x
				p.seen = append(p.seen, ink{s.l[j], s.a[j], s.b[j]})
			}
		})
		break
	}
	return p
}
