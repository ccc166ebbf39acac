package light

import (
	"math"

	"greige/analyze/photo"
	"greige/colorspace"
)

// cellsAcross is how many cells the longer side of a photo is divided into
// for all that is fitted: lamps change slowly, cloth does not.
const cellsAcross = 200

// cells is a photo in small: blocks of k x k working pixels, averaged in
// linear light. Thin things within a block (a ruled line, a thread, a speck)
// are left out of its mean, so that what counts is what most of it is.
type cells struct {
	w, h, k int
	pw, ph  int // the working picture's size
	pic     *photo.Picture
	// light is the mean of most of each block, linear light.
	light [][3]float32
	// logs are ln Y, ln R/Y, ln G/Y and ln B/Y of light.
	logs [][4]float32
	// mean is the mean luminance of all of the block.
	mean []float32
	// odd is the share of a block that is clearly brighter than most of it:
	// pale lines, gloss.
	odd []float32
	// use: unclipped, bright enough to have a logarithm, and not a card.
	use []bool
	// full: clipped at the top of the scale.
	full []bool
}

// tooDark is the luminance under which a cell's logarithm is mostly noise and
// quantisation: an 8-bit sRGB code of 4.
const tooDark = 0.0012

// paler is how much brighter than a surface a pixel must be to be a line on
// it or a shine: well above what noise does to a pixel.
const paler = 1.15

// reduce divides p into cells.
func reduce(p *photo.Picture) *cells {
	k := max(1, (max(p.W, p.H)+cellsAcross-1)/cellsAcross)
	c := &cells{w: (p.W + k - 1) / k, h: (p.H + k - 1) / k, k: k, pw: p.W, ph: p.H, pic: p}
	n := c.w * c.h
	c.light, c.logs = make([][3]float32, n), make([][4]float32, n)
	c.mean, c.odd = make([]float32, n), make([]float32, n)
	c.use, c.full = make([]bool, n), make([]bool, n)
	photo.Bands(c.h, 16, func(y0, y1 int) {
		lum := make([]float32, k*k)
		for cy := y0; cy < y1; cy++ {
			for cx := range c.w {
				c.fill(p, cx, cy, lum)
			}
		}
	})
	return c
}

// fill computes one cell; lum is scratch for k x k figures.
func (c *cells) fill(p *photo.Picture, cx, cy int, lum []float32) {
	x0, x1, y0, y1 := cx*c.k, min((cx+1)*c.k, p.W), cy*c.k, min((cy+1)*c.k, p.H)
	// Of a large block every other pixel, like the black squares of a
	// chessboard turned by rows, is enough: 18 of 36.
	step := 1
	if c.k >= 6 {
		step = 2
	}
	if x1-x0 < step { // a last sliver that the steps may miss
		step = 1
	}
	var sum1, sum2 float32
	bright, count := 0, 0
	for y := y0; y < y1; y += step {
		from := x0 + (y/step)&(step-1)
		row := p.Pix[3*(y*p.W+from) : 3*(y*p.W+x1)]
		for j := 0; j+2 < len(row); j += 3 * step {
			l := yOf(row[j], row[j+1], row[j+2])
			lum[count] = l
			count++
			sum1 += l
			sum2 += l * l
		}
		if p.Bright != nil {
			for x := from; x < x1; x += step {
				bright += int(p.Bright[y*p.W+x])
			}
		}
	}
	lum = lum[:count]
	n := float64(count)
	mean := float64(sum1) / n
	sd := math.Sqrt(max(float64(sum2)/n-mean*mean, 0))
	// What lies 1.5 standard deviations off is left out, and once more, for
	// the blurred rim of a line.
	// slack is what single precision may lose: on blank paper nothing else
	// tells one pixel from the next.
	slack := 1e-4*mean + 1e-9
	mid, reach := float32(mean), float32(1.5*sd+slack)
	var m1, m2, mn float32
	for _, l := range lum {
		in := within32(l-mid, reach)
		k := masked(l, in)
		m1, m2, mn = m1+k, m2+k*k, mn+masked(1, in)
	}
	if mn > 0 {
		m1 /= mn
		cut := float32(1.8*math.Sqrt(float64(max(m2/mn-m1*m1, 0))) + slack)
		lo, hi := max(mid-reach, m1-cut), min(mid+reach, m1+cut)
		mid, reach = (lo+hi)/2, (hi-lo)/2
	}
	var r, g, b, kept float32
	j := 0
	for y := y0; y < y1; y += step {
		row := p.Pix[3*(y*p.W+x0+(y/step)&(step-1)) : 3*(y*p.W+x1)]
		for x := 0; x+2 < len(row); x += 3 * step {
			in := within32(lum[j]-mid, reach)
			r, g, b, kept = r+masked(row[x], in), g+masked(row[x+1], in), b+masked(row[x+2], in), kept+masked(1, in)
			j++
		}
	}
	kept = max(kept, 1)
	i := cy*c.w + cx
	c.light[i] = [3]float32{r / kept, g / kept, b / kept}
	v := colorspace.Linear{float64(c.light[i][0]), float64(c.light[i][1]), float64(c.light[i][2])}
	y := v.Y()
	pale := float32(paler * y)
	over := 0
	for _, l := range lum {
		if l > pale {
			over++
		}
	}
	c.odd[i] = float32(float64(over) / n)
	c.mean[i] = float32(mean)
	c.full[i] = float64(bright) > .02*255*n
	c.use[i] = y > tooDark && !c.full[i]
	y = max(y, tooDark)
	c.logs[i][0] = float32(math.Log(y))
	for ch := range 3 {
		// A component near or below zero (a colour that sRGB cannot hold)
		// has no logarithm; hold it at a fiftieth of the luminance.
		c.logs[i][ch+1] = float32(math.Log(max(v[ch], y/50) / y))
	}
}

// within32 is all ones when |d| <= reach, and 0 otherwise; masked is v or 0 by
// it. What lies in and what out of a print is a matter of chance, and a branch
// guessed wrong costs as much as the rest of the sum.
func within32(d, reach float32) uint32 {
	return uint32((int32(math.Float32bits(d)&^(1<<31)) - int32(math.Float32bits(reach)) - 1) >> 31)
}

func masked(v float32, mask uint32) float32 {
	return math.Float32frombits(math.Float32bits(v) & mask)
}

// at is cell i's centre on the photo: x and y from -1 to 1 over its width
// and height.
func (c *cells) at(i int, g geometry) (u, v float64) {
	x, y := i%c.w, i/c.w
	return g.uv((float64(x)+.5)*float64(c.k), (float64(y)+.5)*float64(c.k))
}

// over is a channel of f at the centres of all cells.
func (c *cells) over(f *field, k int) []float32 {
	g := c.geometry()
	us, vs := make([]float64, c.w), make([]float64, c.h)
	for x := range us {
		us[x], _ = g.uv((float64(x)+.5)*float64(c.k), 0)
	}
	for y := range vs {
		_, vs[y] = g.uv(0, (float64(y)+.5)*float64(c.k))
	}
	return f.over(k, us, vs)
}

// apart is how much two cells differ: relative, in luminance, with colour at
// less weight because it is noisier, blue most of all.
func (c *cells) apart(i, j int) float32 {
	a, b := &c.logs[i], &c.logs[j]
	return max(abs32(a[0]-b[0]), .7*abs32(a[1]-b[1]), .3*abs32(a[3]-b[3]))
}

// leaveOut: the cells of in are not used.
func (c *cells) leaveOut(in []bool) {
	for i, v := range in {
		c.use[i] = c.use[i] && !v
	}
}

// halved is c at half the resolution, each new cell the middle of the 4 x 4
// cells about it in order of luminance: noise, the grain of a carpet and the
// lines of a mat go, edges stay where they are.
func (c *cells) halved() *cells {
	o := &cells{w: (c.w + 1) / 2, h: (c.h + 1) / 2, k: 2 * c.k, pw: c.pw, ph: c.ph, pic: c.pic}
	n := o.w * o.h
	o.logs, o.use = make([][4]float32, n), make([]bool, n)
	photo.Bands(o.h, 16, func(y0, y1 int) {
		near := make([]int, 0, 16)
		var lum [16]float32
		for y := y0; y < y1; y++ {
			for x := range o.w {
				near = near[:0]
				for v := max(2*y-1, 0); v < min(2*y+3, c.h); v++ {
					for u := max(2*x-1, 0); u < min(2*x+3, c.w); u++ {
						if j := v*c.w + u; c.use[j] {
							near = append(near, j)
						}
					}
				}
				if len(near) < 6 {
					continue
				}
				for k, j := range near { // sorted by luminance; equals keep their order
					l := c.logs[j][0]
					m := k
					for ; m > 0 && l < lum[m-1]; m-- {
						near[m], lum[m] = near[m-1], lum[m-1]
					}
					near[m], lum[m] = j, l
				}
				mid := near[len(near)/4 : len(near)-len(near)/4]
				i := y*o.w + x
				o.use[i] = true
				for _, j := range mid {
					for k := range 4 {
						o.logs[i][k] += c.logs[j][k] / float32(len(mid))
					}
				}
			}
		}
	})
	return o
}
