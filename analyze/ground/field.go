package ground

import "greige/analyze/raster"

// Field is three smooth planes over a picture, known at the middles of cells.
type Field struct {
	cell, across, down int
	v                  [3][]float32
}

// Field is what three planes, of as many pixels as the picture, are on the
// ground: about each place their mean over the ground's pixels, carried over to
// where there is none.
func (g *Ground) Field(planes [3][]float32) *Field {
	return fieldOver(planes, g.Member, reach*float64(max(g.W, g.H)))
}

// farther are the reaches, in those of the field, over which a mean is taken where
// nothing nearer is known, and their weights: each so small that it counts only
// where the one before has nothing (3 of its deviations away it has e^-4.5).
var farther = [...]struct{ reach, weight float64 }{{1, 1}, {4, 1e-3}, {16, 1e-6}}

// fieldOver is the mean of planes about each place over the pixels of m, with
// the weights of a Gaussian of sigma pixels.
func fieldOver(planes [3][]float32, m *raster.Mask, sigma float64) *Field {
	w, h := m.Bounds.Dx(), m.Bounds.Dy()
	cell := max(1, int(sigma/4)) // a Gaussian is sampled finely enough at a quarter of its deviation
	f := &Field{cell: cell}
	weight := make([]float32, w*h)
	for i, in := range m.In {
		if in {
			weight[i] = 1
		}
	}
	var share []float32
	share, f.across, f.down = raster.Shrink(weight, w, h, cell)
	spread := func(v []float32) []float32 {
		total := make([]float32, len(v))
		for _, s := range farther {
			for i, x := range raster.Blur(v, f.across, f.down, s.reach*sigma/float64(cell)) {
				total[i] += float32(s.weight) * x
			}
		}
		return total
	}
	den := spread(share)
	for c, v := range planes {
		masked := make([]float32, len(v))
		for i, k := range weight {
			masked[i] = k * v[i]
		}
		sums, _, _ := raster.Shrink(masked, w, h, cell)
		f.v[c] = spread(sums)
		for i := range den {
			f.v[c][i] /= max(den[i], 1e-20) // nothing of the ground anywhere: 0
		}
	}
	return f
}

// At is the field at a place, in pixels of the picture.
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

// row sets line to plane c of the field at the middles of the pixels of row y.
func (f *Field) row(y, c int, line []float32) {
	j0, j1, t := f.between(float64(y)+.5, f.down)
	top, low := f.v[c][j0*f.across:][:f.across], f.v[c][j1*f.across:][:f.across]
	at := func(i int) float32 { return top[i] + t*(low[i]-top[i]) }
	left, right, cell := float32(0), at(0), -1
	for x := range line {
		i, j, tx := f.between(float64(x)+.5, f.across)
		if i != cell {
			cell, left, right = i, at(i), at(j)
		}
		line[x] = left + tx*(right-left)
	}
}
