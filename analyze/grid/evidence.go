package grid

import (
	"math"

	"greige/analyze/photo"
)

// bandMeans are the means over a band of rows, column by column: a print's
// figures average out along the band, a seam that crosses it stays.
type bandMeans struct {
	mean [][3]float32
	seen []bool // columns of which at least half lies in the picture
}

// newBand is a band of n columns, none of them seen yet.
func newBand(n int) *bandMeans { return &bandMeans{make([][3]float32, n), make([]bool, n)} }

// band averages the rows y0 <= y < y1 of f.
func (f *flattened) band(y0, y1 int) *bandMeans { return f.part(y0, y1, 0, f.w, 1) }

// part averages the rows y0 <= y < y1 of n columns from x on, to the right or, with
// step -1, to the left.
func (f *flattened) part(y0, y1, x, n, step int) *bandMeans {
	y0, y1 = max(y0, 0), min(y1, f.h)
	b := newBand(n)
	if y1 <= y0 {
		return b
	}
	c := f.added()
	upper, lower := y0*f.w, y1*f.w
	for i := range n {
		if at := x + i*step; at >= 0 && at < f.w {
			if n := c.seen[lower+at] - c.seen[upper+at]; 2*int(n) >= y1-y0 {
				b.seen[i] = true
				above, below := &c.lab[upper+at], &c.lab[lower+at]
				for k := range 3 {
					b.mean[i][k] = (below[k] - above[k]) / float32(n)
				}
			}
		}
	}
	return b
}

// columns are running sums down the columns of a flattened picture: row y of
// them is the sum of the rows above y. In single precision they are good to a
// hundredth of a CIELAB unit.
type columns struct {
	lab  [][3]float32
	seen []uint16
}

func newColumns(w, h int) *columns {
	return &columns{make([][3]float32, (h+1)*w), make([]uint16, (h+1)*w)}
}

// next sets entry o to entry before with a pixel more.
func (c *columns) next(o, before int, lab *[3]float32, seen bool) {
	a := &c.lab[before]
	c.lab[o] = [3]float32{a[0] + lab[0], a[1] + lab[1], a[2] + lab[2]} // black where it is not seen
	if c.seen[o] = c.seen[before]; seen {
		c.seen[o]++
	}
}

// added are the running sums of f, made when they are first asked for.
func (f *flattened) added() *columns {
	f.adding.Do(func() {
		c := newColumns(f.w, f.h)
		photo.Bands(f.w, 64, func(x0, x1 int) {
			for y := range f.h {
				for i := y*f.w + x0; i < y*f.w+x1; i++ {
					c.next(i+f.w, i, &f.lab[i], f.seen[i])
				}
			}
		})
		f.sums = c
	})
	return f.sums
}

// across is f with its axes exchanged, for the lines of the other bundle; made when it
// is first asked for. Of its pixels there are the running sums alone.
func (f *flattened) across() *flattened {
	f.exchanging.Do(func() {
		g := &flattened{tones: &tones{w: f.h, h: f.w}, at: func(p Point) Point { return f.at(Point{p[1], p[0]}) }, exchanged: f}
		g.exchanging.Do(func() {})
		g.adding.Do(func() {
			g.sums = newColumns(g.w, g.h)
			photo.Bands(f.h, 16, func(y0, y1 int) { // so many that a cache's line is used while it is there
				for x := range f.w {
					for y := y0; y < y1; y++ {
						g.sums.next((x+1)*g.w+y, x*g.w+y, &f.lab[y*f.w+x], f.seen[y*f.w+x])
					}
				}
			})
		})
		f.exchanged = g
	})
	return f.exchanged
}

// steadiness is the variance of column means, in CIELAB units squared, below
// which cloth is as good as plain: weave, the camera's noise, JPEG.
const steadiness = 1.5 * 1.5

// sums are running sums over the columns of a band, so that the mean over
// any window is to be had at once.
type sums []struct {
	mean   [3]float64
	square float64 // by weight
	seen   int
}

func (b *bandMeans) sums() sums {
	s := make(sums, len(b.seen)+1)
	for x, m := range b.mean {
		t := s[x]
		for k, v := range m {
			t.mean[k] += float64(v)
			v *= weights[k]
			t.square += float64(v) * float64(v)
		}
		if b.seen[x] {
			t.seen++
		}
		s[x+1] = t
	}
	return s
}

// step compares the w columns before x with the w columns from x on: the
// squared difference of their means and the sum of the variances within
// them, in CIELAB units squared. It is false where the picture does not show
// all of them.
func (s sums) step(x, w int) (apart, within float64, ok bool) {
	if x < w || x+w >= len(s) || s[x+w].seen-s[x-w].seen < 2*w {
		return 0, 0, false
	}
	f := 1 / float64(w)
	a, b, c := &s[x-w], &s[x], &s[x+w]
	left, right := f*(b.square-a.square), f*(c.square-b.square)
	for k, weight := range weights {
		l, r := float64(weight)*f*(b.mean[k]-a.mean[k]), float64(weight)*f*(c.mean[k]-b.mean[k])
		apart += (l - r) * (l - r)
		left -= l * l
		right -= r * r
	}
	return apart, max(left, 0) + max(right, 0), true
}

// steps is how much the cloth changes at each place along a band: e[x] is for
// the line between columns x-1 and x, from the w columns on either side. It
// is the logarithm of 1 + F, with Fisher's F the squared difference of their
// means over the variances within them: what is gained by taking the two for
// two cloths instead of one. Stripes and plaids have large variances, so
// they gain little; a plain cloth beside another gains much, however near
// the two are. 0 where the picture does not show both sides.
func (b *bandMeans) steps(w int) []float32 {
	s := b.sums()
	e := make([]float32, len(b.seen)+1)
	for x := w; x+w < len(e); x++ {
		if apart, within, ok := s.step(x, w); ok {
			e[x] = float32(math.Log1p(apart / (steadiness + .2*within))) // .2, chosen on made-up tops: means of a window of a print differ by less than its pixels
		}
	}
	return e
}

// half is f in half the pixels each way, of four seen ones each; made when it is
// first asked for.
func (f *flattened) half() *flattened {
	f.halving.Do(func() {
		g := &flattened{tones: newTones(max(f.w/2, 1), max(f.h/2, 1)), seen: make([]bool, max(f.w/2, 1)*max(f.h/2, 1))}
		photo.Bands(f.h/2, 32, func(y0, y1 int) {
			for y := y0; y < y1; y++ {
				for x := range f.w / 2 {
					i, o := 2*(y*f.w+x), y*g.w+x
					g.seen[o] = f.seen[i] && f.seen[i+1] && f.seen[i+f.w] && f.seen[i+f.w+1]
					a, b, c, d := &f.lab[i], &f.lab[i+1], &f.lab[i+f.w], &f.lab[i+f.w+1]
					for k := range 3 {
						g.lab[o][k] = (a[k] + b[k] + c[k] + d[k]) / 4
					}
				}
			}
		})
		f.halved = g
	})
	return f.halved
}

// coarse is the level of f's pyramid at which a length has least pixels or more but
// not twice as many, the section there and the pixels of f to one of it (Burt and
// Adelson 1983, The Laplacian pyramid as a compact image code). Along rows and columns
// f itself is as fast.
func (f *flattened) coarse(l section, length, least float64) (g *flattened, at section, scale float64) {
	scale = 1
	if l.p[0] == l.q[0] || l.p[1] == l.q[1] {
		return f, l, scale
	}
	for g = f; length >= 2*least*scale; scale *= 2 {
		g = g.half()
	}
	l.p, l.q = Point{l.p[0] / scale, l.p[1] / scale}, Point{l.q[0] / scale, l.q[1] / scale}
	return g, l, scale
}

// section is the piece t0..t1 of the line from p to q, with the unit vector
// across it.
type section struct {
	p, q, normal Point
	t0, t1       float64
}

// sectionOf is the line from p to q clear of its ends, where other seams cross; false
// where it is too short to look along.
func sectionOf(p, q Point) (section, bool) {
	length := math.Hypot(q[0]-p[0], q[1]-p[1])
	return section{p, q, Point{-(q[1] - p[1]) / length, (q[0] - p[0]) / length}, clearOfEnds, 1 - clearOfEnds}, length >= 2
}

// beside is what lies up to side pixels to the left and to the right of a section,
// averaged along it: column c holds what lies c-side pixels to the right of the line.
func (f *flattened) beside(l section, side int) *bandMeans {
	switch {
	case l.p[0] == l.q[0]:
		return f.alongColumn(l, side)
	case l.p[1] == l.q[1]:
		turned := func(p Point) Point { return Point{p[1], p[0]} }
		return f.across().alongColumn(section{turned(l.p), turned(l.q), turned(l.normal), l.t0, l.t1}, side)
	}
	n := 2*side + 1
	steps := max(int((l.t1-l.t0)*math.Hypot(l.q[0]-l.p[0], l.q[1]-l.p[1])), 2)
	count := make([]int, n)
	b := newBand(n)
	for s := range steps {
		at := between(l.p, l.q, l.t0+(l.t1-l.t0)*(float64(s)+.5)/float64(steps))
		x, y := at[0]-float64(side)*l.normal[0], at[1]-float64(side)*l.normal[1]
		for c := range n {
			if x >= 0 && y >= 0 && x < float64(f.w) && y < float64(f.h) {
				if i := int(y)*f.w + int(x); f.seen[i] {
					count[c]++
					from, to := &f.lab[i], &b.mean[c]
					to[0], to[1], to[2] = to[0]+from[0], to[1]+from[1], to[2]+from[2]
				}
			}
			x, y = x+l.normal[0], y+l.normal[1]
		}
	}
	for c, m := range count {
		b.seen[c] = 2*m >= steps
		for k := range 3 {
			b.mean[c][k] /= float32(max(m, 1))
		}
	}
	return b
}

// alongColumn is beside for a section that runs along a column.
func (f *flattened) alongColumn(l section, side int) *bandMeans {
	y0, y1 := l.p[1]+l.t0*(l.q[1]-l.p[1]), l.p[1]+l.t1*(l.q[1]-l.p[1])
	from := int(math.Round(min(y0, y1)))
	step := int(l.normal[0])
	return f.part(from, max(int(math.Round(max(y0, y1))), from+1), int(math.Floor(l.p[0]))-side*step, 2*side+1, step)
}

// most is the largest difference across a line within reach of x, and whether
// the picture shows it.
func (s sums) most(x, reach float64, w int) (best float64, seen bool) {
	for k := int(math.Round(x - reach)); k <= int(math.Round(x+reach)); k++ {
		if a, _, ok := s.step(k, w); ok {
			best, seen = max(best, a), true
		}
	}
	return best, seen
}

// worth turns a contrast into what it says for a seam, in logarithms of odds
// and within bounds. Measured on made-up tops: of seams between two cloths
// 95 in 100 have a contrast above 1 and 70 above 4; of seams within one cloth
// 90 in 100 lie between -1 and 1; where the lattice is wrong, so that seams
// lie between its lines, most lie below -2. As a seam between two like cloths
// may not show, that none is seen says less than that one is.
func worth(contrast float64) float64 {
	switch {
	case math.IsNaN(contrast):
		return 0
	case contrast > 1:
		return min(contrast-1, 3)
	case contrast > -1:
		return -1.2 * min(1-contrast, 1) // 1.2: continuous with what follows at -1
	}
	return max(contrast, -3) - .2 // -3: as much against as for
}
