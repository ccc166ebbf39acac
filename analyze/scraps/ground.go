package scraps

import (
	"cmp"
	"math"
	"slices"
	"sync/atomic"

	"greige/analyze/photo"
)

// ground is the plain surface that the pieces lie on.
type ground struct {
	field  field
	member []bool     // by cell: looks like the ground, shadows left out
	sd     [3]float64 // of its cells in L*, and in a* and b* beyond the light's scaling
	share  float64    // of the photo
	border float64    // share of the photo's outermost cells
	sector float64    // share of the photo's parts in which it is seen
	score  float64

	w, h  int          // cells
	local [][3]float32 // by cell: how the ground there differs from the field in L*, a*, b*
}

const (
	maxSeeds   = 7
	fitPlaces  = 1000
	leastShare = .08 // of the photo, that a ground must have
)

// findGround looks for the plain surface that lies between and around the
// pieces. given marks the cells that an earlier look at the light took for
// ground; nil when there was none. It returns nil when nothing will do.
func (c *cells) findGround(given []bool) *ground {
	var seeds [][]bool
	if given != nil {
		seeds = append(seeds, given)
	}
	seeds = append(seeds, c.rim())
	seeds = append(seeds, c.modes(2)...)
	seeds = append(seeds, c.flat(maxSeeds)...)
	var best *ground
	var grown []*ground
	explained := func(seed []bool) bool { // it would grow to the same again
		return slices.ContainsFunc(grown, func(g *ground) bool { return g.explains(seed) })
	}
	for {
		seeds = slices.DeleteFunc(seeds, explained)
		if len(seeds) == 0 {
			break
		}
		// The first usually explains all; then two at a time, the second for
		// nothing where its first explains it.
		two := seeds[:min(1+min(len(grown), 1), len(seeds))]
		seeds = seeds[len(two):]
		var out [2]*ground
		photo.Bands(len(two), 1, func(from, to int) {
			for i := from; i < to; i++ {
				out[i] = c.grow(two[i])
			}
		})
		for i, g := range out[:len(two)] {
			if g == nil || i > 0 && explained(two[i]) {
				continue
			}
			grown = append(grown, g)
			if g.share >= leastShare && (best == nil || g.score > best.score) {
				best = g
			}
		}
	}
	if best != nil {
		best.follow(c)
	}
	return best
}

// Planks and stains are no part of the light, but the ground all the same:
// the field is corrected by what is seen of it within some cells.
const (
	followReach = 2   // cells; three running means of this reach make a bell
	followDoubt = .05 // weight of no difference, against that of all cells in reach
)

// follow sets local from the member cells that lie among others.
func (g *ground) follow(c *cells) {
	n := c.w * c.h
	sums := make([][4]float32, n)
	for y := 1; y < c.h-1; y++ {
		for x := 1; x < c.w-1; x++ {
			if i := y*c.w + x; g.member[i] {
				l, a, b := g.off(c, i)
				sums[i] = [4]float32{float32(l), float32(a), float32(b), 1}
			}
		}
	}
	for range 3 {
		sums = runningMean(sums, c.w, c.h, followReach)
	}
	g.local = make([][3]float32, n)
	for i, s := range sums {
		for k := range 3 {
			g.local[i][k] = s[k] / (s[3] + followDoubt)
		}
	}
}

// runningMean is the mean over squares of 2r+1 cells; beyond the border is 0.
func runningMean(v [][4]float32, w, h, r int) [][4]float32 {
	out := make([][4]float32, w*h)
	n := 1 / float32(2*r+1)
	photo.Bands(h, 16, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			src, dst := v[y*w:(y+1)*w], out[y*w:(y+1)*w]
			var sum [4]float32
			for x := -r; x < w; x++ {
				if j := x + r; j < w {
					add(&sum, &src[j])
				}
				if j := x - r - 1; j >= 0 {
					take(&sum, &src[j])
				}
				if x >= 0 {
					dst[x] = [4]float32{sum[0] * n, sum[1] * n, sum[2] * n, sum[3] * n}
				}
			}
		}
	})
	// Down the columns, in place: the rows that are still to be taken away are
	// kept. Row by row, as memory lies, some columns at a time.
	photo.Bands(w, 64, func(x0, x1 int) {
		wide := x1 - x0
		kept := make([][4]float32, (r+1)*wide)
		sums := make([][4]float32, wide)
		for y := -r; y < h; y++ {
			if j := y + r; j < h {
				row := out[j*w+x0 : j*w+x1]
				for x := range sums {
					add(&sums[x], &row[x])
				}
			}
			if y < 0 {
				continue
			}
			old := kept[y%(r+1)*wide : (y%(r+1)+1)*wide]
			row := out[y*w+x0 : y*w+x1]
			for x := range sums {
				sum := &sums[x]
				if y > r {
					take(sum, &old[x])
				}
				old[x] = row[x]
				row[x] = [4]float32{sum[0] * n, sum[1] * n, sum[2] * n, sum[3] * n}
			}
		}
	})
	return out
}

func add(sum, v *[4]float32) {
	sum[0] += v[0]
	sum[1] += v[1]
	sum[2] += v[2]
	sum[3] += v[3]
}

func take(sum, v *[4]float32) {
	sum[0] -= v[0]
	sum[1] -= v[1]
	sum[2] -= v[2]
	sum[3] -= v[3]
}

// at is the ground's L*+16, a* and b* at a place, x and y 0..1 over the photo.
func (g *ground) at(x, y float64) (l, a, b float32) {
	fl, fa, fb := g.field.at(2*x-1, 2*y-1)
	d := g.near(x, y)
	l = max(float32(fl)+d[0], 1)
	t := l / max(float32(fl), 1)
	return l, float32(fa)*t + d[1], float32(fb)*t + d[2]
}

// near is local between the middles of the cells.
func (g *ground) near(x, y float64) (d [3]float32) {
	x, y = min(max(x*float64(g.w)-.5, 0), float64(g.w-1)), min(max(y*float64(g.h)-.5, 0), float64(g.h-1))
	i, j := int(x), int(y)
	i1, j1 := min(i+1, g.w-1), min(j+1, g.h-1)
	tx, ty := float32(x)-float32(i), float32(y)-float32(j)
	for k := range d {
		p, q := g.local[j*g.w+i][k], g.local[j*g.w+i1][k]
		r, s := g.local[j1*g.w+i][k], g.local[j1*g.w+i1][k]
		top, low := p+tx*(q-p), r+tx*(s-r)
		d[k] = top + ty*(low-top)
	}
	return d
}

// explains tells whether nearly all of a seed's cells look like the ground.
func (g *ground) explains(seed []bool) bool {
	in, all := 0, 0
	for i, is := range seed {
		if is {
			all++
			if g.member[i] {
				in++
			}
		}
	}
	return 20*in > 19*all
}

// rim are the cells along the photo's border: mostly ground, if there is one.
func (c *cells) rim() []bool {
	seed := make([]bool, len(c.use))
	for y := range c.h {
		for x := range c.w {
			i := y*c.w + x
			seed[i] = c.use[i] && (x < 4 || y < 4 || x >= c.w-4 || y >= c.h-4)
		}
	}
	return seed
}

// flat are the n largest segments.
func (c *cells) flat(n int) (seeds [][]bool) {
	label, size := c.segments()
	order := make([]int, len(size))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(i, j int) int { return cmp.Compare(size[j], size[i]) })
	for _, s := range order[:min(n, len(order))] {
		if float64(size[s]) < .01*float64(len(label)) {
			break
		}
		seed := make([]bool, len(label))
		for i, l := range label {
			seed[i] = int(l) == s
		}
		seeds = append(seeds, seed)
	}
	return seeds
}

// modes are the cells of the n commonest colours, in steps of 8 L* and 5 a*
// and b*, each with the steps next to it.
func (c *cells) modes(n int) (seeds [][]bool) {
	const nl, nc = 16, 44
	bin := func(i int) (l, a, b int) {
		return min(max(int(c.l[i]/8)+1, 1), nl-2), min(max(int((c.a[i]+105)/5), 1), nc-2), min(max(int((c.b[i]+105)/5), 1), nc-2)
	}
	count := make([]int, nl*nc*nc)
	for i, use := range c.use {
		if use {
			l, a, b := bin(i)
			count[(l*nc+a)*nc+b]++
		}
	}
	for range n {
		best, most := 0, 0
		for k, m := range count {
			if m > most {
				best, most = k, m
			}
		}
		bl, ba, bb := best/nc/nc, best/nc%nc, best%nc
		seed := make([]bool, len(c.use))
		for i, use := range c.use {
			if !use {
				continue
			}
			l, a, b := bin(i)
			if max(l-bl, bl-l, a-ba, ba-a, b-bb, bb-b) <= 1 {
				seed[i] = true
				count[(l*nc+a)*nc+b] = 0
			}
		}
		seeds = append(seeds, seed)
	}
	return seeds
}

// uv is the place of a cell, -1..1 over the photo.
func (c *cells) uv(x, y int) (u, v float64) {
	return 2*(float64(x)+.5)/float64(c.w) - 1, 2*(float64(y)+.5)/float64(c.h) - 1
}

// places are the member cells, thinned out evenly to about fitPlaces.
func (c *cells) places(member []bool) []place {
	n := 0
	for _, m := range member {
		if m {
			n++
		}
	}
	step := max(1, int(math.Sqrt(float64(n)/fitPlaces)))
	var out []place
	for y := 0; y < c.h; y += step {
		for x := y / step % step; x < c.w; x += step {
			if i := y*c.w + x; member[i] {
				u, v := c.uv(x, y)
				out = append(out, place{u, v, float64(c.l[i]) + 16, float64(c.a[i]), float64(c.b[i])})
			}
		}
	}
	return out
}

// How far a cell may stand off the field, in L* and in a* and b*, and still
// be the ground: several standard deviations, within what a plain ground may
// have (planks of wood differ a lot).
const (
	cellSigmas = 4
	leastOff   = 1.2
	mostOff    = 14
	// A lossy file rounds the colour of a whole block to steps: at quality 75 of
	// about one code of Cb and Cr (17/2 in 8 x 8 samples, ITU-T T.81, table K.2),
	// which is about one of a* and b*. Plain ground is off by up to two.
	leastTinge = 2.6
)

// grow fits the field to a seed and takes in every cell that it explains.
func (c *cells) grow(seed []bool) *ground {
	g := &ground{member: slices.Clone(seed), w: c.w, h: c.h}
	for range 3 {
		f, sd, ok := fitField(c.places(g.member))
		if !ok {
			return nil
		}
		g.field, g.sd = f, sd
		if !g.gather(c) {
			break // the same cells would give the same field again
		}
	}
	g.judge(c)
	return g
}

// off is how cell i differs from the ground in its light: in L*, and in a*
// and b* beyond what the light's scaling explains.
func (g *ground) off(c *cells, i int) (l, a, b float64) {
	u, v := c.uv(i%c.w, i/c.w)
	row := g.field.along(v)
	return c.offLine(i, u, &row)
}

// offLine is off for a cell of the row whose ground is the line, at u.
func (c *cells) offLine(i int, u float64, row *line) (l, a, b float64) {
	gl, ga, gb := row.at(u)
	cl := float64(c.l[i]) + 16
	t := cl / max(gl, 1)
	return cl - gl, float64(c.a[i]) - ga*t, float64(c.b[i]) - gb*t
}

func (g *ground) tolerance(lossy bool) (t [3]float64) {
	for k := range t {
		least := leastOff
		if lossy && k > 0 {
			least = leastTinge
		}
		t[k] = min(max(cellSigmas*g.sd[k], least), mostOff)
	}
	return t
}

// gather takes in the cells that the field explains and no others, and tells
// whether these are other ones than before.
func (g *ground) gather(c *cells) bool {
	t := g.tolerance(c.lossy)
	var changed atomic.Bool
	photo.Bands(c.h, 16, func(y0, y1 int) {
		other := false
		for y := y0; y < y1; y++ {
			_, v := c.uv(0, y)
			row := g.field.along(v)
			for x := range c.w {
				i := y*c.w + x
				in := false
				if c.use[i] {
					u, _ := c.uv(x, y)
					l, a, b := c.offLine(i, u, &row)
					in = math.Abs(l) < t[0] && math.Abs(a) < t[1] && math.Abs(b) < t[2]
				}
				other = other || in != g.member[i]
				g.member[i] = in
			}
		}
		if other {
			changed.Store(true)
		}
	})
	return changed.Load()
}

// judge tells how much like a ground g is: it lies in all parts of the photo,
// along its border, and covers much of it.
func (g *ground) judge(c *cells) {
	const nx, ny = 8, 6
	var seen, all [nx * ny]float64
	n, edge, edges := 0.0, 0.0, 0.0
	for y := range c.h {
		for x := range c.w {
			i := y*c.w + x
			k := y*ny/c.h*nx + x*nx/c.w
			border := x < 2 || y < 2 || x >= c.w-2 || y >= c.h-2
			all[k]++
			if border {
				edges++
			}
			if !g.member[i] {
				continue
			}
			n++
			seen[k]++
			if border {
				edge++
			}
		}
	}
	g.share = n / float64(len(g.member))
	g.border = edge / edges
	for k := range seen {
		if seen[k] > .06*all[k] {
			g.sector += 1. / (nx * ny)
		}
	}
	g.score = g.sector + .8*g.border + .6*g.share
}
