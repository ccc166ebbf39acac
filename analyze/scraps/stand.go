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
	planes     [][]pair // what pairPlanes gives
}

// pairPlanes are two planes of pairs of anything, until the next call.
func (o *stand) pairPlanes() [][]pair {
	if o.planes == nil {
		o.planes = [][]pair{make([]pair, o.w*o.h), make([]pair, o.w*o.h)}
	}
	return o.planes
}

func (s *small) stand(c *cells, g *ground) *stand {
	n := s.w * s.h
	o := &stand{w: s.w, h: s.h, dl: make([]float32, n), da: make([]float32, n), db: make([]float32, n), gl: make([]float32, n), blocks: s.blocks}
	// Straight lines between the middles of the cells, which lie a cell apart
	// and begin half a cell before the picture.
	type colour [3]float32
	across := (s.w+cellSide/2+cellSide-1)/cellSide + 1
	nodes := func(y int) []colour {
		row := make([]colour, across)
		for k := range row {
			l, a, b := g.at(float64(k*cellSide-cellSide/2)/float64(s.w), float64(y)/float64(s.h))
			row[k] = colour{l, a, b}
		}
		return row
	}
	photo.Bands((s.h+cellSide/2+cellSide-1)/cellSide, 4, func(j0, j1 int) {
		upper := nodes(j0*cellSide - cellSide/2)
		for j := j0; j < j1; j++ {
			top := j*cellSide - cellSide/2
			lower := nodes(top + cellSide)
			for y := max(top, 0); y < min(top+cellSide, s.h); y++ {
				v := (float32(y-top) + .5) / cellSide
				var left, right colour
				for k := range across {
					left = right
					for c := range right {
						right[c] = upper[k][c] + v*(lower[k][c]-upper[k][c])
					}
					x0 := (k-1)*cellSide - cellSide/2
					for x := max(x0, 0); x < min(x0+cellSide, s.w); x++ {
						t := (float32(x-x0) + .5) / cellSide
						l, a, b := left[0]+t*(right[0]-left[0]), left[1]+t*(right[1]-left[1]), left[2]+t*(right[2]-left[2])
						i := y*s.w + x
						k := (s.l[i] + 16) / l
						o.gl[i] = l
						o.dl[i] = s.l[i] + 16 - l
						o.da[i] = s.a[i] - a*k
						o.db[i] = s.b[i] - b*k
					}
				}
			}
			upper = lower
		}
	})
	o.sd = o.deviation(c, g, 1, func(i int) (l, a, b float32) { return o.dl[i], o.da[i], o.db[i] })
	return o
}

// deviation is the spread of at over the ground, on cells that lie among others
// of the ground, every few of them: robust standard deviations of l, a and b.
func (o *stand) deviation(c *cells, g *ground, few int, at func(i int) (l, a, b float32)) (sd [3]float64) {
	var places []int
	for y := 1; y < c.h-1; y++ {
		for x := 1 + y%few; x < c.w-1; x += few {
			px, py := x*cellSide+(x+y)%cellSide, y*cellSide+(x*3+y)%cellSide
			if px < o.w && py < o.h && c.surrounded(g.member, x, y) {
				places = append(places, py*o.w+px)
			}
		}
	}
	var off [3][]float64
	for k := range off {
		off[k] = make([]float64, len(places))
	}
	photo.Bands(len(places), 512, func(k0, k1 int) {
		for k := k0; k < k1; k++ {
			l, a, b := at(places[k])
			off[0][k], off[1][k], off[2][k] = math.Abs(float64(l)), math.Abs(float64(a)), math.Abs(float64(b))
		}
	})
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
