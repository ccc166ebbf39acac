package scraps

import "math"

// palette tells how likely a colour is in a piece, from the pixels of the
// small picture that lie well inside it: shares of colour by steps of binSide
// in L*, a* and b*, each spread over the steps next to it.
type palette struct {
	share []float32
	total float32
}

const (
	binSide = 5
	binsL   = 26
	binsAB  = 44
)

func binOf(l, a, b float32) int {
	i := min(max(int(l/binSide+1), 1), binsL-2)
	j := min(max(int(a/binSide+binsAB/2), 1), binsAB-2)
	k := min(max(int(b/binSide+binsAB/2), 1), binsAB-2)
	return (i*binsAB+j)*binsAB + k
}

// add counts one pixel.
func (p *palette) add(l, a, b float32) {
	if p.share == nil {
		p.share = make([]float32, binsL*binsAB*binsAB)
	}
	near := [3]float32{.25, .5, .25}
	at := binOf(l, a, b)
	for i, wi := range near {
		for j, wj := range near {
			for k, wk := range near {
				p.share[at+((i-1)*binsAB+j-1)*binsAB+k-1] += wi * wj * wk
			}
		}
	}
	p.total++
}

// anyColour is minus the logarithm of the density of a colour of which
// nothing is known: one in 100 L* by 60 a* by 60 b*.
var anyColour = float32(math.Log(100 * 60 * 60))

// cost is minus the logarithm of a colour's density, in L*, a*, b*, in the
// piece; anyColour for one that is not in it.
func (p *palette) cost(l, a, b float32) float32 {
	if p.total == 0 {
		return anyColour
	}
	s := p.share[binOf(l, a, b)] / p.total
	if s < 1e-4 {
		return anyColour
	}
	return min(anyColour, float32(math.Log(binSide*binSide*binSide))-float32(math.Log(float64(s))))
}

// paletteOf is the palette of what lies inside a part's filled mask m, whose
// first pixel is at (x0, y0).
func (s *small) paletteOf(m *mask, x0, y0 int) *palette {
	p := &palette{}
	for r := 3; r >= 1; r-- {
		core := m.shrunk(r)
		n := 0
		for _, in := range core.in {
			if in {
				n++
			}
		}
		if n < 30 {
			continue
		}
		step := max(1, n/600)
		k := 0
		for i, in := range core.in {
			if !in {
				continue
			}
			if k++; k%step != 0 {
				continue
			}
			if x, y := i%m.w+x0, i/m.w+y0; x >= 0 && y >= 0 && x < s.w && y < s.h {
				j := y*s.w + x
				p.add(s.l[j], s.a[j], s.b[j])
			}
		}
		break
	}
	return p
}
