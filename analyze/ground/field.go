package ground

import "greige/analyze/raster"

// Field is some smooth planes over a picture, known at the middles of cells.
type Field struct {
	cell, across, down int
	v                  [][]float32
	// Seen is, by cell, the share of the Gaussian about it that lies on pixels where
	// the planes are known: near 0 where all is carried over from farther away.
	Seen []float32
}

// Field is what three planes, of as many pixels as the picture, are on the
// ground: about each place their mean over the ground's pixels, carried over to
// where there is none.
func (g *Ground) Field(planes [3][]float32) *Field {
	return NewField(planes[:], g.Member, reach*float64(max(g.W, g.H)))
}

// farther are the weights of the means over ever larger reaches, each farStep times
// the one before, that count where nothing nearer is known: each weight so small
// that it counts only where the one before has nothing (3 of its deviations away it
// has e^-4.5).
var farther = [...]float32{1e-3, 1e-6}

const farStep = 4

// NewField is the mean of planes about each place over the pixels of m, with the
// weights of a Gaussian of sigma pixels, and of wider ones where there are none
// within it (normalised convolution: Knutsson and Westin 1993, CVPR, 515). m has the
// planes' size.
func NewField(planes [][]float32, m *raster.Mask, sigma float64) *Field {
	w, h := m.Bounds.Dx(), m.Bounds.Dy()
	cell := max(1, int(sigma/4)) // a Gaussian is sampled finely enough at a quarter of its deviation
	f := &Field{cell: cell, across: (w + cell - 1) / cell, down: (h + cell - 1) / cell}
	f.v = f.means(planes, m)
	share := f.v[len(planes)]
	f.v = f.v[:len(planes)]
	var den []float32
	f.Seen, den = f.spread(share, sigma/float64(cell))
	for _, v := range f.v {
		_, sums := f.spread(v, sigma/float64(cell))
		for i, d := range den {
			v[i] = sums[i] / max(d, 1e-20) // nothing is known anywhere: 0
		}
	}
	return f
}

// means are, by cell, the sums of planes over the pixels of m over the pixels of the
// cell, and last the share of those of m.
func (f *Field) means(planes [][]float32, m *raster.Mask) [][]float32 {
	w, h := m.Bounds.Dx(), m.Bounds.Dy()
	out := make([][]float32, len(planes)+1)
	for k := range out {
		out[k] = make([]float32, f.across*f.down)
	}
	raster.Bands(f.down, 4, func(c0, c1 int) {
		for y := c0 * f.cell; y < min(c1*f.cell, h); y++ {
			in, at := m.In[y*w:(y+1)*w], y/f.cell*f.across
			for x := range f.across {
				from, to := x*f.cell, min((x+1)*f.cell, w)
				n := float32(0)
				for _, is := range in[from:to] {
					if is {
						n++
					}
				}
				if n == 0 {
					continue
				}
				out[len(planes)][at+x] += n
				for k, v := range planes {
					out[k][at+x] += sumIn(v[y*w+from:y*w+to], in[from:to])
				}
			}
		}
		for y := c0; y < c1; y++ {
			for x := range f.across {
				per := 1 / float32((min((y+1)*f.cell, h)-y*f.cell)*(min((x+1)*f.cell, w)-x*f.cell))
				for _, v := range out {
					v[y*f.across+x] *= per
				}
			}
		}
	})
	return out
}

// sumIn is the sum of the values that are in.
func sumIn(v []float32, in []bool) (sum float32) {
	for i, is := range in {
		if is {
			sum += v[i]
		}
	}
	return sum
}

// spread is v, by cell, blurred by a Gaussian of sigma cells, and that with what is
// farther away. Wider Gaussians are as finely sampled in cells as much larger.
func (f *Field) spread(v []float32, sigma float64) (near, all []float32) {
	near = raster.Blur(v, f.across, f.down, sigma)
	all = append([]float32(nil), near...)
	w, h, k := f.across, f.down, 1
	line := make([]float32, f.across)
	for _, weight := range farther {
		v, w, h = raster.Shrink(v, w, h, farStep)
		k *= farStep
		wide := &Field{cell: k, across: w, down: h, v: [][]float32{raster.Blur(v, w, h, sigma)}}
		for y := range f.down {
			wide.Row(y, 0, line)
			for x, s := range line {
				all[y*f.across+x] += weight * s
			}
		}
	}
	return near, all
}

// At is the field of three planes at a place, in pixels of the picture.
func (f *Field) At(x, y float64) (v [3]float32) {
	i0, i1, tx := f.between(x, f.across)
	j0, j1, ty := f.between(y, f.down)
	for c, cells := range f.v {
		top := cells[j0*f.across+i0] + tx*(cells[j0*f.across+i1]-cells[j0*f.across+i0])
		low := cells[j1*f.across+i0] + tx*(cells[j1*f.across+i1]-cells[j1*f.across+i0])
		v[c] = top + ty*(low-top)
	}
	return v
}

// between are the two cells of n whose middles lie about x, and how far x is on
// the way from one to the other.
func (f *Field) between(x float64, n int) (i, j int, t float32) {
	at := min(max(float32(x)/float32(f.cell)-.5, 0), float32(n-1))
	i = int(at)
	return i, min(i+1, n-1), at - float32(i)
}

// Row sets line to plane c of the field at the middles of the pixels of row y.
func (f *Field) Row(y, c int, line []float32) {
	j0, j1, t := f.between(float64(y)+.5, f.down)
	top, low := f.v[c][j0*f.across:][:f.across], f.v[c][j1*f.across:][:f.across]
	last := f.across - 1
	at := func(i int) float32 { i = min(max(i, 0), last); return top[i] + t*(low[i]-top[i]) }
	for i, x := -1, 0; x < len(line); i++ { // from the middle of cell i to that of the next
		to := len(line)
		if i < last {
			to = min(to, (2*i+3)*f.cell/2)
		}
		left := at(i)
		step := (at(i+1) - left) / float32(f.cell)
		v := left + step*(float32(x)+.5-(float32(i)+.5)*float32(f.cell))
		for ; x < to; x++ {
			line[x] = v
			v += step
		}
	}
}
