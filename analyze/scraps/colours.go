package scraps

import "math"

// palette tells how likely a colour is in a piece, from the pixels of the
// small picture that lie well inside it: shares of colour by steps of binSide
// in L*, a* and b*, each spread over the steps next to it, and more closely
// for its dyes.
type palette struct {
	share []float32
	total float32
	seen  []ink
	dyes  []dye
}

// dye is a colour that much of a piece has: a cloth's own colour, or the
// ground or a figure of a print. A solid is as even as the ground that it
// lies on, so its density has to be known as closely: normal, in L*, a*, b*.
type dye struct {
	mean, sd [3]float32
	cost     float32 // minus the logarithm of its density at the mean
}

const (
	mostDyes  = 4
	leastDye  = .1            // of the piece
	dyeSpread = 1.5 * binSide // of one dye to either side, with its weave and folds
)

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
	p.seen = append(p.seen, ink{l, a, b})
}

// settle finds the dyes, once all pixels are added; floor is the least standard
// deviation in L*, a* and b* that the pixels of one colour have in the working
// picture.
func (p *palette) settle(floor [3]float64) {
	left := p.seen
	for len(p.dyes) < mostDyes && float32(len(left)) > leastDye*p.total {
		// The commonest colour that is left: of the steps of the table.
		count := map[int]int{}
		best, most := ink{}, 0
		for _, k := range left {
			at := binOf(k.l, k.a, k.b)
			if count[at]++; count[at] > most {
				best, most = k, count[at]
			}
		}
		var in [3][]float64
		var rest []ink
		for _, k := range left {
			if max(abs32(k.l-best.l), abs32(k.a-best.a), abs32(k.b-best.b)) > dyeSpread {
				rest = append(rest, k)
				continue
			}
			in[0], in[1], in[2] = append(in[0], float64(k.l)), append(in[1], float64(k.a)), append(in[2], float64(k.b))
		}
		n := len(in[0])
		left = rest
		if float32(n) < leastDye*p.total {
			continue
		}
		d := dye{cost: float32(1.5*math.Log(2*math.Pi) - math.Log(float64(n)/float64(p.total)))}
		for c, v := range in {
			m := median(v)
			for i := range v {
				v[i] = math.Abs(v[i] - m)
			}
			sd := max(1.4826*median(v), floor[c])
			d.mean[c], d.sd[c] = float32(m), float32(sd)
			d.cost += float32(math.Log(sd))
		}
		p.dyes = append(p.dyes, d)
	}
}

func abs32(v float32) float32 { return max(v, -v) }

// anyColour is minus the logarithm of the density of a colour of which
// nothing is known: one in 100 L* by 60 a* by 60 b*.
var anyColour = float32(math.Log(100 * 60 * 60))

// cost is minus the logarithm of a colour's density, in L*, a*, b*, in the
// piece; anyColour for one that is not in it.
func (p *palette) cost(l, a, b float32) float32 {
	if p.total == 0 {
		return anyColour
	}
	least := anyColour
	for i := range p.dyes {
		d := &p.dyes[i]
		off := sq32((l-d.mean[0])/d.sd[0]) + sq32((a-d.mean[1])/d.sd[1]) + sq32((b-d.mean[2])/d.sd[2])
		least = min(least, d.cost+off/2)
	}
	if s := p.share[binOf(l, a, b)] / p.total; s >= 1e-4 {
		least = min(least, float32(math.Log(binSide*binSide*binSide))-float32(math.Log(float64(s))))
	}
	return least
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
