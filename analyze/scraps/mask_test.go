package scraps

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
)

// Growing, shrinking and running means by the definition, pixel by pixel.
func TestSquaresByDefinition(t *testing.T) {
	const w, h = 137, 21
	m := newMask(w, h)
	v := make([][4]float32, w*h)
	one, two := make([]pair, w*h), make([]pair, w*h)
	for i := range m.in {
		m.in[i] = hash(i%w, i/w, 1) > .3
		v[i] = [4]float32{float32(hash(i%w, i/w, 2)), 1, float32(i % w), float32(i / w)}
		one[i], two[i] = pairOf(v[i][0]-.5, -3), pairOf(.5, 4)
	}
	for _, r := range []int{1, 2, 3, 7, 32, 40} {
		grown, shrunk, mean := m.grown(r), m.shrunk(r), runningMean(v, w, h, r)
		sums := make([]pair, w*h)
		overSquares([][]pair{one, two}, w, h, r, func() func(y int, sums [][]pair) {
			return func(y int, of [][]pair) {
				for x := range w {
					sums[y*w+x] = of[0][x] + of[1][x]
				}
			}
		})
		for i := range m.in {
			any, all := false, true
			var sum [4]float64
			for y := max(i/w-r, 0); y <= min(i/w+r, h-1); y++ {
				for x := max(i%w-r, 0); x <= min(i%w+r, w-1); x++ {
					any, all = any || m.in[y*w+x], all && m.in[y*w+x]
					for k, c := range v[y*w+x] {
						sum[k] += float64(c)
					}
				}
			}
			assert.Equal(t, any, grown.in[i])
			assert.Equal(t, all, shrunk.in[i])
			a, b := sums[i].parts()
			assert.InDelta(t, sum[0], float64(a), sq(float64(2*r+1))/pairSteps)
			assert.Equal(t, float32(sum[1]), b)
			for k := range sum {
				assert.InDelta(t, sum[k]/sq(float64(2*r+1)), float64(mean[i][k]), 1e-3)
			}
		}
	}
}

// Parts by the definition: a flood from each first pixel in reading order.
func TestPartsByDefinition(t *testing.T) {
	const w, h = 61, 43
	for _, dense := range []float64{.1, .4, .6, .9} {
		m := newMask(w, h)
		for i := range m.in {
			m.in[i] = hash(i%w, i/w, 5) < dense
		}
		for _, least := range []int{1, 4} {
			want := make([]int32, w*h)
			var sizes []int
			seen := make([]bool, w*h)
			for i, in := range m.in {
				if !in || seen[i] {
					continue
				}
				flood := []int{i}
				seen[i] = true
				for k := 0; k < len(flood); k++ {
					x, y := flood[k]%w, flood[k]/w
					for v := max(y-1, 0); v <= min(y+1, h-1); v++ {
						for u := max(x-1, 0); u <= min(x+1, w-1); u++ {
							if j := v*w + u; m.in[j] && !seen[j] {
								seen[j] = true
								flood = append(flood, j)
							}
						}
					}
				}
				if len(flood) < least {
					continue
				}
				sizes = append(sizes, len(flood))
				for _, j := range flood {
					want[j] = int32(len(sizes))
				}
			}
			ps, label := m.parts(least)
			assert.Equal(t, want, label)
			if assert.Len(t, ps, len(sizes)) {
				for k, p := range ps {
					assert.Len(t, p.px, sizes[k])
					assert.True(t, slices.IsSorted(p.px))
					x0, y0, x1, y1 := w, h, 0, 0
					for _, i := range p.px {
						assert.EqualValues(t, k+1, label[i])
						x, y := int(i)%w, int(i)/w
						x0, y0, x1, y1 = min(x0, x), min(y0, y), max(x1, x+1), max(y1, y+1)
					}
					assert.Equal(t, [4]int{x0, y0, x1, y1}, [4]int{p.x0, p.y0, p.x1, p.y1})
				}
			}
		}
	}
}
