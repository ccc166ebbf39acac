package grid

import (
	"cmp"
	"math"
	"slices"
)

// Rows and columns: the ways to divide a rectangle, and how well each goes with
// the seams.

// divided is the best reading as a straight set.
func (v *given) divided() *guess {
	s := v.seenStraight()
	f, g, down, along := s.f, s.f.across(), s.down, s.along
	cols, rows := down.divisions(v.hints.Cols), along.divisions(v.hints.Rows)
	type pair struct {
		c, r  division
		score float64
	}
	var pairs []pair
	// Of bars the seams show one way only: then patches are squares.
	if v.hints.Cols == 0 && !v.hints.off.squares {
		cols = append(cols, down.squares(rows[:min(len(rows), 2)])...)
	}
	if v.hints.Rows == 0 && !v.hints.off.squares {
		rows = append(rows, along.squares(cols[:min(len(cols), 2)])...)
	}
	for _, c := range cols {
		for _, r := range rows {
			if c.n*r.n < 2 || c.round() != r.round() {
				continue
			}
			pairs = append(pairs, pair{c, r, c.score + r.score - .5*float64(c.n+r.n)*(1-v.square(c.unit/r.unit))})
		}
	}
	slices.SortStableFunc(pairs, func(a, b pair) int { return cmp.Compare(b.score, a.score) })
	var best *guess
	var chosen pair
	for _, p := range pairs[:min(len(pairs), tried)] {
		m := edgesIn(f.flattened, g, &ruled{lines: p.c.lines, bands: g.bands(p.c.lines)}, &ruled{lines: p.r.lines, bands: f.bands(p.r.lines)})
		if p.c.round() && m.squares() < 1 {
			continue // it is a border
		}
		score := m.inner(p.c.strips(), p.r.strips())
		if score > 0 {
			score *= v.square(p.c.unit/p.r.unit) * p.c.even() * p.r.even()
		}
		if best == nil || score > best.score {
			best = &guess{f: f.flattened, xs: p.c.lines, ys: p.r.lines, score: score, sashed: p.c.round()}
			chosen = p
		}
	}
	if best != nil {
		n := best.mesh()
		best.in, best.units = v.in, [2]float64{chosen.c.unit, chosen.r.unit}
		best.small, best.given, best.hints = v.small, true, v.hints
		best.score = n.total(n.sashed(chosen.c.strips(), chosen.r.strips())) + v.sides(n, false)
		if best.score > 0 {
			best.score *= v.square(chosen.c.unit/chosen.r.unit) * chosen.c.even() * chosen.r.even()
		}
	}
	return best
}

// squares are the divisions into patches as wide as those of the other way.
func (p *profile) squares(others []division) []division {
	var out []division
	for _, o := range others {
		n := int(math.Round((p.x1 - p.x0) / o.unit))
		if n < 1 || n > mostCount || slices.Contains(o.strips(), true) {
			continue
		}
		score, lines := p.even(n)
		out = append(out, division{n, lines, evenWidths(n), (p.x1 - p.x0) / float64(n), score - lineCost*float64(n-1)})
	}
	return out
}

// tried is how many pairs of divisions are looked at seam by seam.
const tried = 24

// square is how well the patches' width over their height goes with patches
// as wide as high: most are cut so, and the proportions of the top are known
// to a few per cent.
func (v *given) square(ratio float64) float64 {
	d := max(abs(math.Log(ratio))-.04-v.slack, 0) / .1
	return max(math.Exp(-d*d/2), .25)
}

// division is one way to divide a side into n rows or columns, unit the width
// of a patch.
type division struct {
	n     int
	lines []float64
	by    []float64 // widths that they go by, in patches
	unit  float64
	score float64
}

// even is 1 where the outermost rows are as wide as those inside say, and less
// where they are not: part of a border may have been taken in.
func (d division) even() float64 {
	if d.n < 3 {
		return 1
	}
	by := 0.0
	for _, w := range d.by[1 : d.n-1] {
		by += w
	}
	unit := (d.lines[d.n-1] - d.lines[1]) / by
	a := (d.lines[1]-d.lines[0])/unit - d.by[0]
	b := (d.lines[d.n]-d.lines[d.n-1])/unit - d.by[d.n-1]
	return math.Exp(-(a*a + b*b) / 2 / (.14 * .14))
}

// divisions are all of them, or that of the number given.
func (p *profile) divisions(given int) []division {
	from, to := 1, max(min(int((p.x1-p.x0)/smallestPitch), mostCount), 1)
	if given > 0 {
		from, to = given, given
	}
	var all []division
	for n := from; n <= to; n++ {
		all = append(all, p.likeliest(n))
	}
	slices.SortStableFunc(all, func(a, b division) int { return cmp.Compare(b.score, a.score) })
	all = all[:min(len(all), likely)]
	for i := range all {
		d := &all[i]
		d.score, d.lines = p.relief(d.unit).place(p.x0, p.x1, d.by)
		d.score -= lineCost * float64(d.n-1)
	}
	return all
}

// likely is how many divisions of a side are looked at more closely.
const likely = 8

// likeliest is the best way to divide a side into n, its lines where they
// would lie if they were evenly spaced: patches all alike, or sashing between
// them where that is far better.
func (p *profile) likeliest(n int) division {
	best := p.asDivided(evenWidths(n))
	for _, m := range sashings(n) {
		for s := leastStrip; s <= mostSash; s *= 1.12 {
			d := p.asDivided(m.widths(n, s))
			if d.score -= 1 + .2*float64(n); d.score > best.score {
				best = d
			}
		}
	}
	best.score -= lineCost * float64(n-1)
	return best
}

// asDivided is a division by widths, in patches, each line scored by the
// highest place near it, beside what is highest between the lines.
func (p *profile) asDivided(widths []float64) division {
	total := 0.0
	for _, w := range widths {
		total += w
	}
	d := division{n: len(widths), by: widths, unit: (p.x1 - p.x0) / total}
	r := p.relief(d.unit)
	slack := max(1.5*pitchSlack*d.unit, 1)
	x := p.x0
	for i, w := range widths {
		next := x + w*d.unit
		m := .25 * (next - x)
		d.score -= r.highest(x+m, next-m)
		if i+1 < len(widths) {
			// The lines' errors add up towards the middle.
			reach := slack * math.Sqrt(min(float64(i+1), float64(len(widths)-i-1)))
			d.score += min(r.highest(next-min(reach, .2*d.unit), next+min(reach, .2*d.unit)), 1.2)
		}
		x = next
	}
	return d
}

// strips are which of the rows are sashing.
func (d division) strips() []bool {
	out := make([]bool, d.n)
	for i, w := range d.by {
		out[i] = w < 1
	}
	return out
}

// round is whether strips lie outermost: sashing all round, or a border.
func (d division) round() bool {
	s := d.strips()
	return d.n > 2 && s[0] && s[d.n-1]
}

// inner is the worth of the seams inside the lattice that are to show; see
// mesh.sashed.
func (m *lattice) inner(xs, ys []bool) float64 {
	return innerOf(m.xs, m.ys, m.down, xs, ys) + innerOf(m.ys, m.xs, m.along, ys, xs)
}

// innerOf is that of the lines which run one way: between is where those of the
// other way cut them, worth what the parts that come of it are worth, by part
// and line, and across and along tell which strips beside and along the lines
// are sashing.
func innerOf(lines, between []float64, worth [][]float64, across, along []bool) float64 {
	sum := 0.0
	for i := 1; i+1 < len(lines); i++ {
		var l lineWorth
		for j, part := range worth {
			if length := between[j+1] - between[j]; !along[j] || across[i-1] || across[i] {
				l.add(part[i]/length, length)
			}
		}
		sum += l.total()
	}
	return sum
}

// squares is the mean worth of the seams round the squares in the four
// corners of a frame of sashing.
func (m *lattice) squares() float64 {
	sum, length := 0.0, 0.0
	nx, ny := len(m.xs)-1, len(m.ys)-1
	for _, j := range [2]int{0, ny - 1} {
		sum += m.down[j][1] + m.down[j][nx-1]
		length += 2 * (m.ys[j+1] - m.ys[j])
	}
	for _, i := range [2]int{0, nx - 1} {
		sum += m.along[i][1] + m.along[i][ny-1]
		length += 2 * (m.xs[i+1] - m.xs[i])
	}
	return sum / length
}
