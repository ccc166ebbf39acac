package raster

import "math"

// Depth is, for each pixel of m, the distance from its middle to that of the
// nearest pixel outside m, exactly; 0 outside m. What lies beyond m's bounds is
// outside m. Method: Felzenszwalb and Huttenlocher 2012 (Theory of Computing
// 8:415), the lower envelope of parabolas, row by row within each run.
func (m *Mask) Depth() []float32 {
	out := m.depth2(0)
	for i, v := range out {
		out[i] = float32(math.Sqrt(float64(v)))
	}
	return out
}

// depth2 is the square of Depth where the nearest pixel beyond the bounds lies
// beyond pixels farther away.
func (m *Mask) depth2(beyond float32) []float32 {
	w, h := m.Bounds.Dx(), m.Bounds.Dy()
	d := make([]float32, w*h) // steps up or down to the nearest pixel outside
	for y := range h {
		for i := y * w; i < (y+1)*w; i++ {
			switch {
			case !m.In[i]:
			case y == 0:
				d[i] = beyond + 1
			default:
				d[i] = d[i-w] + 1
			}
		}
	}
	for y := h - 1; y >= 0; y-- {
		for i := y * w; i < (y+1)*w; i++ {
			if y == h-1 {
				d[i] = min(d[i], beyond+1)
			} else {
				d[i] = min(d[i], d[i+w]+1)
			}
		}
	}
	Bands(h, 32, func(y0, y1 int) {
		e := envelope{make([]int, w+2), make([]float64, w+3), make([]float32, w+2)}
		for y := y0; y < y1; y++ {
			row := d[y*w : (y+1)*w]
			for x := 0; x < w; x++ {
				from := x
				for x < w && row[x] > 0 {
					x++
				}
				left, right := float32(0), float32(0)
				if from == 0 {
					left = beyond
				}
				if x == w {
					right = beyond
				}
				e.transform(row[from:x], left, right)
			}
		}
	})
	return d
}

// envelope is the lower envelope of parabolas: their vertices and where each
// begins to be the lowest.
type envelope struct {
	vertex []int
	begins []float64
	height []float32
}

// transform makes out of steps, of a run of pixels, the squares of the
// distances; left and right are the steps of the pixels at both ends. One outside
// the mask is nearer to the run than all beyond it.
func (e *envelope) transform(steps []float32, left, right float32) {
	if len(steps) == 0 {
		return
	}
	n := len(steps) + 2
	height := e.height[:n]
	height[0], height[n-1] = left*left, right*right
	for i, v := range steps {
		height[i+1] = v * v
	}
	k := 0
	e.vertex[0], e.begins[0], e.begins[1] = 0, math.Inf(-1), math.Inf(1)
	for q := 1; q < n; q++ {
		meet := 0.0
		for {
			p := e.vertex[k]
			meet = (float64(height[q]-height[p]) + float64(q*q-p*p)) / float64(2*(q-p))
			if meet > e.begins[k] {
				break
			}
			k--
		}
		k++
		e.vertex[k], e.begins[k], e.begins[k+1] = q, meet, math.Inf(1)
	}
	k = 0
	for q := 1; q < n-1; q++ {
		for e.begins[k+1] < float64(q) {
			k++
		}
		p := e.vertex[k]
		steps[q-1] = float32((q-p)*(q-p)) + height[p]
	}
}

// smallDisc is the radius up to which moving a disc over bits is faster than a
// distance transform, by BenchmarkEroded.
const smallDisc = 10

// Eroded is m without the pixels from which one outside m lies at most r pixels
// away: erosion by a disc. What lies beyond m's bounds is outside m.
func (m *Mask) Eroded(r float64) *Mask {
	if r <= smallDisc {
		return m.erodedByBits(r)
	}
	return erodedByDepth(m, r)
}

func erodedByDepth(m *Mask, r float64) *Mask {
	out := &Mask{m.Bounds, make([]bool, len(m.In))}
	least := float32(r * r)
	for i, d := range m.depth2(0) {
		out.In[i] = d > least
	}
	return out
}

// Dilated is m with all pixels that lie at most r pixels from one of m: dilation
// by a disc. Its bounds are m's, grown by r.
func (m *Mask) Dilated(r float64) *Mask {
	if r <= smallDisc {
		return m.dilatedByBits(r)
	}
	return dilatedByDepth(m, r)
}

func dilatedByDepth(m *Mask, r float64) *Mask {
	out := m.Within(m.Bounds.Inset(-int(r)))
	out.invert()
	far := float32(out.Bounds.Dx() + out.Bounds.Dy())
	most := float32(r * r)
	for i, d := range out.depth2(far) {
		out.In[i] = d <= most
	}
	return out
}

// Opened is m eroded by a disc of radius r and dilated again: what no such disc
// within m reaches falls away.
func (m *Mask) Opened(r float64) *Mask { return m.Eroded(r).Dilated(r).Within(m.Bounds) }

// Closed is m dilated by a disc of radius r and eroded again: gaps into which no
// such disc fits are filled. Its bounds are m's.
func (m *Mask) Closed(r float64) *Mask { return m.Dilated(r).Eroded(r).Within(m.Bounds) }

// invert makes m the set of those pixels of its bounds that were not in it.
func (m *Mask) invert() {
	for i, in := range m.In {
		m.In[i] = !in
	}
}
