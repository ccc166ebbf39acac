package grid

import (
	"image"
	"math"

	"greige/analyze/photo"
)

// bandMeans are the means over a band of rows, column by column: a print's
// figures average out along the band, a seam that crosses it stays.
type bandMeans struct {
	mean [3][]float32
	seen []bool // columns of which at least half lies in the picture
}

// band averages the rows y0 <= y < y1 of f.
func (f *flattened) band(y0, y1 int) *bandMeans {
	y0, y1 = max(y0, 0), min(y1, f.h)
	b := &bandMeans{seen: make([]bool, f.w)}
	c := f.added()
	for k := range 3 {
		b.mean[k] = make([]float32, f.w)
	}
	if y1 <= y0 {
		return b
	}
	upper, lower := c.seen[y0*f.w:(y0+1)*f.w], c.seen[y1*f.w:(y1+1)*f.w]
	for x := range b.seen {
		n := lower[x] - upper[x]
		b.seen[x] = n > 0 && 2*int(n) >= y1-y0
	}
	for k := range 3 {
		m, up, down := b.mean[k], c.plane[k][y0*f.w:(y0+1)*f.w], c.plane[k][y1*f.w:(y1+1)*f.w]
		for x, seen := range b.seen {
			if seen {
				m[x] = (down[x] - up[x]) / float32(lower[x]-upper[x])
			}
		}
	}
	return b
}

// columns are running sums down the columns of a flattened picture: row y of
// them is the sum of the rows above y. In single precision they are good to a
// hundredth of a CIELAB unit.
type columns struct {
	plane [3][]float32
	seen  []uint16
}

// added are the running sums of f, made when they are first asked for.
func (f *flattened) added() *columns {
	f.once.Do(func() {
		c := &columns{seen: make([]uint16, (f.h+1)*f.w)}
		for k := range 3 {
			c.plane[k] = make([]float32, (f.h+1)*f.w)
		}
		const wide = 64
		photo.Bands((f.w+wide-1)/wide, 1, func(b0, b1 int) {
			x0, x1 := b0*wide, min(b1*wide, f.w)
			for y := range f.h {
				o := y * f.w
				for x := x0; x < x1; x++ {
					n := c.seen[o+x]
					if f.seen[o+x] {
						n++
					}
					c.seen[o+f.w+x] = n
				}
				for k := range 3 {
					sum, next, row := c.plane[k][o+x0:o+x1], c.plane[k][o+f.w+x0:o+f.w+x1], f.plane[k][o+x0:o+x1]
					for x, v := range row {
						next[x] = sum[x] + v // black where it is not seen
					}
				}
			}
		})
		f.sums = c
	})
	return f.sums
}

// steadiness is the variance of column means, in CIELAB units squared, below
// which cloth is as good as plain: weave, the camera's noise, JPEG.
const steadiness = 1.5 * 1.5

// sums are running sums over the columns of a band, so that the mean over
// any window is to be had at once.
type sums struct {
	mean, square [3][]float64
	seen         []int
}

func (b *bandMeans) sums() *sums {
	n := len(b.seen)
	s := &sums{seen: make([]int, n+1)}
	for k := range 3 {
		s.mean[k], s.square[k] = make([]float64, n+1), make([]float64, n+1)
		for x, v := range b.mean[k] {
			s.mean[k][x+1] = s.mean[k][x] + float64(v)
			s.square[k][x+1] = s.square[k][x] + float64(v)*float64(v)
		}
	}
	for x, v := range b.seen {
		s.seen[x+1] = s.seen[x]
		if v {
			s.seen[x+1]++
		}
	}
	return s
}

// step compares the w columns before x with the w columns from x on: the
// squared difference of their means and the sum of the variances within
// them, in CIELAB units squared. It is false where the picture does not show
// all of them.
func (s *sums) step(x, w int) (apart, within float64, ok bool) {
	if x < w || x+w >= len(s.seen) || s.seen[x+w]-s.seen[x-w] < 2*w {
		return 0, 0, false
	}
	f := 1 / float64(w)
	for k := range 3 {
		m, q := s.mean[k], s.square[k]
		l, r := f*(m[x]-m[x-w]), f*(m[x+w]-m[x])
		vl, vr := f*(q[x]-q[x-w])-l*l, f*(q[x+w]-q[x])-r*r
		weight := 1.0
		if k > 0 {
			weight = chromaWeight * chromaWeight
		}
		apart += weight * (l - r) * (l - r)
		within += weight * (max(vl, 0) + max(vr, 0))
	}
	return apart, within, true
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
			e[x] = float32(math.Log1p(apart / (steadiness + .2*within)))
		}
	}
	return e
}

// across is f with its axes exchanged, for the lines of the other bundle.
func (f *flattened) across() *flattened {
	g := &flattened{tones: newTones(f.h, f.w), seen: make([]bool, len(f.seen)), at: func(p Point) Point { return f.at(Point{p[1], p[0]}) }}
	// In square blocks, so that both pictures stay in the cache.
	const block = 32
	photo.Bands((g.h+block-1)/block, 2, func(b0, b1 int) {
		for y := b0 * block; y < min(b1*block, g.h); y += block {
			for x := 0; x < g.w; x += block {
				f.exchange(g, image.Rect(x, y, min(x+block, g.w), min(y+block, g.h)))
			}
		}
	})
	return g
}

// exchange sets the pixels of g in a block to those of f with the axes exchanged.
func (f *flattened) exchange(g *flattened, block image.Rectangle) {
	for y := block.Min.Y; y < block.Max.Y; y++ {
		for x := block.Min.X; x < block.Max.X; x++ {
			i, o := x*f.w+y, y*g.w+x
			g.seen[o] = f.seen[i]
			for k := range 3 {
				g.plane[k][o] = f.plane[k][i]
			}
		}
	}
}
