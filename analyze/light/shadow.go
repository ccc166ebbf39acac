package light

import (
	"math"
	"slices"

	"greige/analyze/photo"
)

// A hand, a head or a window's bar keeps light away from a part of the scene;
// a lamp that shines back from a glossy board adds some. On the ground both
// are plain to see: it keeps its colour and is darker or brighter than the
// lamp's field. What tells a shadow from a grey scrap is its soft edge: a
// scrap ends within a cell or two, a shadow fades out.

// spots are the places where the ground is not lit as the field says.
type spots struct {
	// shade is ln of the light that is missing from (or, as at the lit side
	// of a soft shadow's edge, left over from) the field, by cell; nil when
	// there is no shadow. It is known where the ground is seen, and drawn
	// smoothly across what lies on it.
	shade []float64
	known []bool // cells where shade was seen rather than drawn across
	// own is where a thing lies that may cast the shadow round it itself, so
	// that shade is half of what was drawn across.
	own []bool
	// gloss is the light that a shine adds, as a share of the ground's own,
	// by cell; nil when there is none.
	gloss []float64
	// soft is where shadows and shines lie, as far as they are seen.
	soft []bool
	// hard: a part of the ground as large as a good share of it is darker or
	// lighter with a sharp edge, so that nobody can say which of two lights a
	// thing lies in; depth is ln of the one over the other.
	hard  bool
	depth float64
}

const (
	leastSpot = .004 // share of the photo
	hardShare = .2   // of the ground: half the photo in shadow, not a scrap
	softStep  = .75  // how deep the third row of cells is, of the whole depth
	nearThing = 5    // cells from a thing in which its own shadow lies
	leastDeep = .08  // ln: less is a wrinkle
	leastStep = .1   // ln, between neighbouring cells: an edge
)

// spots looks for shadows and shines on the ground.
func (g *ground) spots(c *cells) spots {
	off := g.offs(c)
	n := len(g.member)
	dev := make([]float64, n)
	like := make([]bool, n) // the ground's colour, but not its light
	thing := make([]bool, n)
	tolR, tolB := max(1.5*g.tolR, .04), max(1.5*g.tolB, .08)
	photo.Bands(c.h, 16, func(y0, y1 int) {
		for i := y0 * c.w; i < y1*c.w; i++ {
			if !c.use[i] {
				thing[i] = !c.full[i]
				continue
			}
			y, r, b := off(i)
			dev[i] = y
			if !g.member[i] {
				same := math.Abs(r) < tolR && math.Abs(b) < tolB && y > -2 && y < 1
				like[i], thing[i] = same, !same
			}
		}
	})
	edges := 0
	members := 0
	for i, m := range g.member {
		if c.onBorder(i) {
			edges++
		}
		if m {
			members++
		}
	}
	near := c.within(thing, nearThing)
	sp := spots{soft: make([]bool, n)}
	// A grey scrap in the shadow is not the shadow: there is a step between.
	step := max(leastStep, 1.5*g.tolY)
	smooth := func(i, j int) bool { return math.Abs(dev[i]-dev[j]) < step }
	type spot struct {
		part  []int
		edge  bool // comes in over the photo's edge
		soft  bool
		depth float64
	}
	var list []spot
	coming, onEdge := 0, 0
	// Nor is one that lies in its own soft shadow, or runs out into the ground
	// at one corner: where the rest of its edge is a step, it ends.
	clean := c.unstepped(like, g.member, smooth)
	for _, part := range c.partsWhere(clean, true, smooth) {
		if len(part) < 12 {
			continue
		}
		on, core := 0, 0
		for _, i := range part {
			if c.onBorder(i) {
				on++
			}
			if c.surrounded(i, like) {
				core++ // a mat's net of lines has none
			}
		}
		p := spot{part: part, edge: float64(on) > .05*float64(edges)}
		p.soft, p.depth = c.softEdged(part, g.member, near, dev)
		if p.edge {
			coming, onEdge = coming+core, onEdge+on
		}
		list = append(list, p)
	}
	// A scrap lies within the photo; light and shadow come in over its edge,
	// and take a good share of the ground.
	half := float64(coming) > hardShare*float64(coming+members) && float64(onEdge) > .1*float64(edges)
	var shade, shine []int
	for _, p := range list {
		switch {
		case half && p.edge && !p.soft && math.Abs(p.depth) > edgeLeast: // less is what the field cannot follow
			sp.hard, sp.depth = true, max(sp.depth, math.Abs(p.depth))
		case p.soft && (p.depth < 0 || (half && p.edge)):
			shade = append(shade, p.part...)
		case p.soft:
			shine = append(shine, p.part...)
		}
	}
	for _, i := range shade {
		sp.soft[i] = true
	}
	for _, i := range shine {
		sp.soft[i] = true
	}
	seen := func(list []int, near []bool) []bool {
		known := make([]bool, n)
		deep := 0
		for _, i := range list {
			if !near[i] {
				known[i] = true
				if math.Abs(dev[i]) > leastDeep {
					deep++
				}
			}
		}
		if float64(deep) < leastSpot*float64(n) {
			return nil // no more than the rims of things
		}
		for i, m := range g.member {
			known[i] = known[i] || (m && !near[i])
		}
		return known
	}
	if known := seen(shade, near); known != nil {
		sp.known, sp.shade = known, c.across(dev, known)
		sp.doubtOwn(c, g.member)
	}
	if known := seen(shine, c.within(thing, 1)); known != nil {
		sp.gloss = c.across(dev, known)
		for i, v := range sp.gloss {
			if sp.gloss[i] = math.Exp(v) - 1; sp.gloss[i] < g.tolY {
				sp.gloss[i] = 0
			}
		}
	}
	if sp.shade == nil && sp.gloss == nil && g.tolY > leastDeep {
		rim := c.within(thing, broadRim)
		open := make([]bool, n)
		for i, m := range g.member {
			open[i] = m && !rim[i]
		}
		for _, p := range list {
			if p.depth < 0 && c.fades(p.part, g.member) {
				for _, i := range p.part {
					open[i] = !rim[i] && dev[i] > -broadDeepest
				}
			}
		}
		sp.shade, sp.known = c.broad(dev, open)
		sp.own = make([]bool, n)
	}
	return sp
}

// doubtOwn looks for things in whose shadow no other lies, and which does not
// come in over the photo's edge. They may cast it themselves, standing off the
// ground in the full light, or lie in that of something else: the light on
// them is halfway between, and in doubt as far as both.
func (sp *spots) doubtOwn(c *cells, ground []bool) {
	n := len(sp.shade)
	thing := make([]bool, n)
	for i := range thing {
		thing[i] = !ground[i] && !sp.soft[i] && (c.use[i] || !c.full[i])
	}
	// Things that hang together by a gap in shadow are taken apart.
	for range thinnest {
		thing = c.eroded(thing)
	}
	parts := slices.DeleteFunc(c.parts(thing, true), func(p []int) bool { return len(p) < leastThing })
	of := make([]int, n) // number of the part that a cell is of, from 1
	for k, part := range parts {
		for _, i := range part {
			of[i] = k + 1
		}
	}
	mine := make([]bool, n)
	seen := make([]int, n) // the last part from which a cell was reached
	in := make([]int, len(parts))
	for k, part := range parts {
		depth := 0.0
		for _, i := range part {
			depth += sp.shade[i] / float64(len(part))
		}
		if depth > -leastDeep {
			continue
		}
		queue := slices.Clone(part)
		for _, i := range queue {
			seen[i] = k + 1
		}
		edge := 0
		clear(in)
		for q := 0; q < len(queue); q++ {
			i := queue[q]
			if c.onBorder(i) {
				edge++
			}
			if of[i] > 0 {
				in[of[i]-1]++
			}
			for _, j := range c.around(i) {
				if j >= 0 && seen[j] != k+1 && sp.shade[j] < depth/2 {
					seen[j] = k + 1
					queue = append(queue, j)
				}
			}
		}
		alone := edge < leastThing
		for o, cells := range in {
			alone = alone && (o == k || 2*cells < len(parts[o]))
		}
		if alone {
			for _, i := range part {
				mine[i] = true
			}
		}
	}
	sp.own = c.within(mine, thinnest)
	for i, own := range sp.own {
		if own {
			sp.shade[i] /= 2
		}
	}
}

// thinnest is how many cells are taken off things on either side, to part
// those that hang together by what is seen of neither.
const thinnest = 2

// leastThing is how many cells make a thing.
const leastThing = 12

// stepRim is how many cells from a step the light is not followed.
const stepRim = 2

// unstepped is the cells of like that lie away from steps: from neighbours
// that are not smooth, both of them like or ground.
func (c *cells) unstepped(like, ground []bool, smooth func(i, j int) bool) []bool {
	step := make([]bool, len(like))
	for i := range like {
		if !like[i] {
			continue
		}
		for _, j := range c.around(i) {
			if j >= 0 && (like[j] || ground[j]) && !smooth(i, j) {
				step[i] = true
			}
		}
	}
	step = c.within(step, stepRim)
	out := make([]bool, len(like))
	for i := range like {
		out[i] = like[i] && !step[i]
	}
	return out
}

// within is the cells that lie in set or no more than d cells from it.
func (c *cells) within(set []bool, d int) []bool {
	for range d {
		set = c.dilated(set)
	}
	return set
}

// softEdged tells whether a part fades into the ground around it, and how
// deep it is (ln, signed). Only that edge counts where no thing is near,
// whose own shadow would soften it. A part without such an edge is the rim of
// a thing, and not soft.
func (c *cells) softEdged(part []int, ground, near []bool, dev []float64) (bool, float64) {
	const third, deep = 3, 7 // rows of cells, counted from the ground
	row := make(map[int]int, len(part))
	for _, i := range part {
		row[i] = 0
	}
	var queue []int
	for _, i := range part {
		for _, j := range c.around(i) {
			if j >= 0 && ground[j] {
				row[i] = 1
				break
			}
		}
		if row[i] == 1 {
			queue = append(queue, i)
		}
	}
	if len(queue) == 0 {
		return false, dev[part[len(part)/2]]
	}
	for k := 0; k < len(queue); k++ {
		i := queue[k]
		for _, j := range c.around(i) {
			if j < 0 {
				continue
			}
			if r, in := row[j]; in && r == 0 {
				row[j] = row[i] + 1
				queue = append(queue, j)
			}
		}
	}
	last := row[queue[len(queue)-1]]
	from := min(deep, last)
	var inner []float64
	var edge, n float64
	for _, i := range queue {
		if row[i] >= from {
			inner = append(inner, dev[i])
		}
		if row[i] == min(third, last) && !near[i] {
			edge, n = edge+dev[i], n+1
		}
	}
	slices.Sort(inner)
	depth := inner[len(inner)/2]
	if n < 4 || last < third {
		return false, depth
	}
	return edge/n/depth < softStep, depth
}

// around are the four neighbours of a cell; -1 outside the photo.
func (c *cells) around(i int) [4]int {
	x := i % c.w
	a := [4]int{i - c.w, i + c.w, i - 1, i + 1}
	if i+c.w >= c.w*c.h {
		a[1] = -1
	}
	if i < c.w {
		a[0] = -1
	}
	if x == 0 {
		a[2] = -1
	}
	if x == c.w-1 {
		a[3] = -1
	}
	return a
}

// across is v where it is known, smoothed a little, and elsewhere what hangs
// smoothly between (the solution of Laplace's equation, by successive
// over-relaxation, to a hundred-thousandth of ln of light a round).
func (c *cells) across(v []float64, known []bool) []float64 {
	out := make([]float64, len(v))
	mean, n := 0.0, 0.0
	for i := range v {
		if !known[i] {
			continue
		}
		x, y := i%c.w, i/c.w
		s, k := 0.0, 0.0
		for dy := max(y-1, 0); dy <= min(y+1, c.h-1); dy++ {
			for dx := max(x-1, 0); dx <= min(x+1, c.w-1); dx++ {
				if j := dy*c.w + dx; known[j] {
					s, k = s+v[j], k+1
				}
			}
		}
		out[i] = s / k
		mean, n = mean+out[i], n+1
	}
	for i := range out {
		if !known[i] {
			out[i] = mean / max(n, 1)
		}
	}
	const relax, rounds, still = 1.9, 200, 1e-5
	moved := math.Inf(1)
	for range rounds {
		if moved < still {
			break
		}
		moved = 0
		for i := range out {
			if known[i] {
				continue
			}
			x := i % c.w
			if x > 0 && x+1 < c.w && i >= c.w && i+c.w < len(out) {
				d := relax * ((out[i-1]+out[i+1]+out[i-c.w]+out[i+c.w])/4 - out[i])
				out[i] += d
				moved = max(moved, d, -d)
				continue
			}
			s, k := 0.0, 0.0
			if x > 0 {
				s, k = s+out[i-1], k+1
			}
			if x+1 < c.w {
				s, k = s+out[i+1], k+1
			}
			if i >= c.w {
				s, k = s+out[i-c.w], k+1
			}
			if i+c.w < len(out) {
				s, k = s+out[i+c.w], k+1
			}
			d := relax * (s/k - out[i])
			out[i] += d
			moved = max(moved, d, -d)
		}
	}
	return out
}

// sample is v, given by cell, at a place in working pixels.
func (c *cells) sample(v []float64, x, y float64) float64 {
	fx := min(max(x/float64(c.k)-.5, 0), float64(c.w-1))
	fy := min(max(y/float64(c.k)-.5, 0), float64(c.h-1))
	i, j := int(fx), int(fy)
	i1, j1 := min(i+1, c.w-1), min(j+1, c.h-1)
	tx, ty := fx-float64(i), fy-float64(j)
	top := v[j*c.w+i]*(1-tx) + v[j*c.w+i1]*tx
	low := v[j1*c.w+i]*(1-tx) + v[j1*c.w+i1]*tx
	return top*(1-ty) + low*ty
}
