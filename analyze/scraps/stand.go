package scraps

import (
	"math"

	"greige/analyze/photo"
)

// stand is how each pixel of the small picture stands off the ground under
// its light: dl in L*, da and db in a* and b* beyond what more or less light
// on the ground explains.
type stand struct {
	w, h       int
	dl, da, db []float32
	gl         []float32  // the ground's L*+16
	sd         [3]float64 // of dl, da and db on the ground
	blocks     blocks
}

func (s *small) stand(c *cells, g *ground) *stand {
	n := s.w * s.h
	o := &stand{w: s.w, h: s.h, dl: make([]float32, n), da: make([]float32, n), db: make([]float32, n), gl: make([]float32, n), blocks: s.blocks}
	photo.Bands(s.h, 16, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			v := (float64(y) + .5) / float64(s.h)
			// A straight line between the middles of the cells.
			for x0 := -cellSide / 2; x0 < s.w; x0 += cellSide {
				x1 := x0 + cellSide
				l0, a0, b0 := g.at(float64(x0)/float64(s.w), v)
				l1, a1, b1 := g.at(float64(x1)/float64(s.w), v)
				for x := max(x0, 0); x < min(x1, s.w); x++ {
					t := (float32(x-x0) + .5) / cellSide
					l, a, b := l0+t*(l1-l0), a0+t*(a1-a0), b0+t*(b1-b0)
					i := y*s.w + x
					k := (s.l[i] + 16) / l
					o.gl[i] = l
					o.dl[i] = s.l[i] + 16 - l
					o.da[i] = s.a[i] - a*k
					o.db[i] = s.b[i] - b*k
				}
			}
		}
	})
	o.sd = o.deviation(c, g, func(i int) (l, a, b float32) { return o.dl[i], o.da[i], o.db[i] })
	return o
}

// deviation is the spread of at over the ground, on cells that lie among others
// of the ground: robust standard deviations of l, a and b.
func (o *stand) deviation(c *cells, g *ground, at func(i int) (l, a, b float32)) (sd [3]float64) {
	var off [3][]float64
	for y := 1; y < c.h-1; y++ {
		for x := 1; x < c.w-1; x++ {
			if !c.surrounded(g.member, x, y) {
				continue
			}
			px, py := x*cellSide+(x+y)%cellSide, y*cellSide+(x*3+y)%cellSide
			if px >= o.w || py >= o.h {
				continue
			}
			l, a, b := at(py*o.w + px)
			off[0] = append(off[0], math.Abs(float64(l)))
			off[1] = append(off[1], math.Abs(float64(a)))
			off[2] = append(off[2], math.Abs(float64(b)))
		}
	}
	for k := range off {
		sd[k] = 1.4826 * median(off[k])
	}
	return sd
}

// surrounded: the cell and its eight neighbours are members.
func (c *cells) surrounded(member []bool, x, y int) bool {
	for j := -1; j <= 1; j++ {
		for i := -1; i <= 1; i++ {
			if !member[(y+j)*c.w+x+i] {
				return false
			}
		}
	}
	return true
}
