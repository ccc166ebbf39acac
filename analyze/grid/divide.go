package grid

import (
	"cmp"
	"math"
	"slices"
)

// Rows and columns: the ways to divide a rectangle, and how well each goes with
// the seams.

// pairing is a reading as a straight set: columns and rows.
type pairing struct {
	c, r  division
	score float64
}

// divided is the best reading as a straight set.
func (v *given) divided() *guess {
	f := v.seenStraight()
	cols, rows := f.down.divisions(v.hints.Cols), f.along.divisions(v.hints.Rows)
	var pairs []pairing
	// Of bars the seams show one way only: then patches are squares.
	if v.hints.Cols == 0 && !v.hints.off.squares {
		cols = append(cols, f.down.squares(rows[:min(len(rows), 2)])...)
	}
	if v.hints.Rows == 0 && !v.hints.off.squares {
		rows = append(rows, f.along.squares(cols[:min(len(cols), 2)])...)
	}
	counted := v.hints.Rows > 0 || v.hints.Cols > 0
	for _, c := range cols {
		for _, r := range rows {
			if !counted && (c.n*r.n < 2 || c.round() != r.round()) {
				continue
			}
			pairs = append(pairs, pairing{c, r, c.score + r.score - .5*float64(c.n+r.n)*(1-v.square(c.unit/r.unit))})
		}
	}
	slices.SortStableFunc(pairs, func(a, b pairing) int { return cmp.Compare(b.score, a.score) })
	likeliest := halved(pairs[:min(len(pairs), tried)], v.worth)
	if len(likeliest) == 0 {
		return nil
	}
	p := likeliest[0]
	return &guess{f: f.flattened, xs: p.c.lines, ys: p.r.lines, score: p.score, small: v.small, given: true, hints: v.hints}
}

// worth is a pairing scored by so many of its seams, and that score: minus infinity for
// what is a border.
func (v *given) worth(p pairing, most int) (pairing, float64) {
	n := straightMesh(v.seenStraight().flattened, p.c.lines, p.r.lines)
	if p.c.round() && n.stones() < 1 {
		return p, math.Inf(-1)
	}
	seen, more := n.some(most)
	p.score = more*seen.total(n.sashed(p.c.strips(), p.r.strips())) + v.sides(n, false)
	if p.score > 0 {
		p.score *= v.square(p.c.unit/p.r.unit) * p.c.even() * p.r.even()
	}
	return p, p.score
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
	d := max(abs(math.Log(ratio))-.04-v.slack, 0) / .1 // .04: what cutting and a wobble leave open; .1: as far again, twice
	return max(math.Exp(-d*d/2), .25)                  // some tops are of bricks: one in four where nothing else is known
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
	return math.Exp(-(a*a + b*b) / 2 / (.14 * .14)) // .14, chosen on made-up tops: twice a wobble and the outline's own error
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
		for s := leastStrip; s <= mostSash; s *= 1.12 { // steps of half of what a line may be off by
			d := p.asDivided(m.widths(n, s))
			if d.score -= 1 + .2*float64(n); d.score > best.score { // a width and a place more to choose, and for each line what a line costs
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
	slack := max(1.5*pitchSlack*d.unit, 1) // 1.5: a line and the outline's end
	x := p.x0
	for i, w := range widths {
		next := x + w*d.unit
		m := .25 * (next - x) // the middle half: clear of both lines
		d.score -= r.highest(x+m, next-m)
		if i+1 < len(widths) {
			// The lines' errors add up towards the middle.
			reach := slack * math.Sqrt(min(float64(i+1), float64(len(widths)-i-1)))
			d.score += min(r.highest(next-min(reach, .2*d.unit), next+min(reach, .2*d.unit)), mostLine) // .2: nearer than the next line of half patches
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

// stones is the mean worth of the seams round the squares in the four corners of a
// frame of sashing.
func (n *mesh) stones() float64 {
	m := *n
	m.seams = slices.DeleteFunc(slices.Clone(n.seams), func(s seam) bool {
		i, j := s.from%n.w, s.from/n.w
		if s.to == s.from+1 {
			i, j = j, i
			return i != 1 && i != n.h-2 || j != 0 && j != n.w-2
		}
		return i != 1 && i != n.w-2 || j != 0 && j != n.h-2
	})
	return m.evidence()
}
