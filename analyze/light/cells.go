package light

import (
	"image"
	"math"

	"greige/analyze/ground"
	"greige/analyze/photo"
	"greige/analyze/raster"
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
	off passes
	// use: unclipped, bright enough to have a logarithm, and not a card.
	use []bool
	// full: clipped at the top of the scale.
	full []bool
}

// tooDark is the luminance under which a cell's logarithm is mostly noise and
// quantisation: an 8-bit sRGB code of 4.
const tooDark = 0.0012

// palerBy is how much brighter than a surface a pixel must be to be a line on
// it or a shine: well above what noise does to a pixel.
const palerBy = 1.15

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
	over := c.set(i, [3]float32{r / kept, g / kept, b / kept}, lum)
	c.odd[i] = float32(float64(over) / n)
	c.mean[i] = float32(mean)
	c.full[i] = float64(bright) > mostClipped*255*n
	c.use[i] = c.logs[i][0] > logTooDark && !c.full[i]
}

// mostClipped is the share of a cell beyond the camera that does not show in its mean.
const mostClipped = .02

var logTooDark = float32(math.Log(tooDark))

// set sets the light of cell i and its logarithms, and counts the pixels of lum that
// are clearly paler.
func (c *cells) set(i int, light [3]float32, lum []float32) (paler int) {
	c.light[i] = light
	v := colorspace.Linear{float64(light[0]), float64(light[1]), float64(light[2])}
	y := v.Y()
	pale := float32(palerBy * y)
	for _, l := range lum {
		if l > pale {
			paler++
		}
	}
	y = max(y, tooDark)
	c.logs[i][0] = float32(math.Log(y))
	for ch := range 3 {
		// A component near or below zero (a colour that sRGB cannot hold)
		// has no logarithm; hold it at a fiftieth of the luminance.
		c.logs[i][ch+1] = float32(math.Log(max(v[ch], y/50) / y))
	}
	return paler
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
func (c *cells) at(i int) (u, v float64) {
	x, y := i%c.w, i/c.w
	return c.geometry().uv((float64(x)+.5)*float64(c.k), (float64(y)+.5)*float64(c.k))
}

func (c *cells) geometry() geometry { return geometry{float64(c.pw), float64(c.ph)} }

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

// without is c where the cells of in are not used.
func (c *cells) without(in []bool) *cells {
	o := *c
	o.use = make([]bool, len(c.use))
	for i, v := range in {
		o.use[i] = c.use[i] && !v
	}
	return &o
}

// mask is the set of the cells of in.
func (c *cells) mask(in []bool) *raster.Mask {
	return &raster.Mask{Bounds: image.Rect(0, 0, c.w, c.h), In: in}
}

// components are the connected components of the cells of in that have at least
// least cells.
func (c *cells) components(in []bool, least int) []raster.Component {
	return c.mask(in).Components(raster.Sides, least)
}

// indices are the cells of a component.
func (c *cells) indices(of *raster.Component) []int {
	out := make([]int, 0, of.Pixels)
	for _, r := range of.Runs {
		for x := r.X0; x < r.X1; x++ {
			out = append(out, r.Y*c.w+x)
		}
	}
	return out
}

// dilated is in with n cells all round.
func (c *cells) dilated(in []bool, n int) []bool {
	m := c.mask(in)
	return m.Dilated(float64(n) + .5).Within(m.Bounds).In // .5: the neighbours over a corner too
}

// eroded is in without its n outermost cells; beyond the photo it goes on.
func (c *cells) eroded(in []bool, n int) []bool { return not(c.dilated(not(in), n)) }

func not(in []bool) []bool {
	out := make([]bool, len(in))
	for i, v := range in {
		out[i] = !v
	}
	return out
}

// share is the part of a photo's cells that are in.
func share(in []bool) float64 {
	n := 0
	for _, v := range in {
		if v {
			n++
		}
	}
	return float64(n) / float64(len(in))
}

// rimShare is the share of the photo's outermost cells, two deep, that lie in.
func (c *cells) rimShare(in []bool) float64 {
	n, m := 0, 0
	for i, v := range in {
		if x, y := i%c.w, i/c.w; min(x, y, c.w-1-x, c.h-1-y) < 2 {
			n++
			if v {
				m++
			}
		}
	}
	return float64(m) / float64(n)
}

// picture is the cells as the finder of grounds takes them.
func (c *cells) picture() *ground.Picture {
	linear := make([]float32, 0, 3*len(c.logs))
	for _, l := range c.logs {
		for k := 1; k < 4; k++ {
			linear = append(linear, float32(math.Exp(float64(l[0]+l[k]))))
		}
	}
	return ground.NewPicture(linear, c.w, c.h)
}

// samples are the cells that member names, averaged over squares of the photo so
// that at most about limit remain. Single cells as far apart as that would beat with
// a mat's ruling, the joints of boards and rows of scraps, as any sampling does with
// what is finer than itself; and what they leave out is heard too.
func (c *cells) samples(member []bool, limit int) []sample {
	n := 0
	for i, in := range member {
		if in && c.use[i] {
			n++
		}
	}
	side := max(1, int(math.Ceil(math.Sqrt(float64(n)/float64(limit)))))
	out := make([]sample, 0, n/(side*side)+1)
	in := make([]int, 0, side*side)
	for y0 := 0; y0 < c.h; y0 += side {
		for x0 := 0; x0 < c.w; x0 += side {
			in = c.usedIn(image.Rect(x0, y0, x0+side, y0+side), member, in[:0])
			if 4*len(in) >= side*side { // less is a rim
				out = append(out, c.meanOf(in))
			}
		}
	}
	return out
}

// usedIn appends to out the cells of a box that member names and that are used.
func (c *cells) usedIn(box image.Rectangle, member []bool, out []int) []int {
	for y := box.Min.Y; y < min(box.Max.Y, c.h); y++ {
		for x := box.Min.X; x < min(box.Max.X, c.w); x++ {
			if i := y*c.w + x; c.use[i] && member[i] {
				out = append(out, i)
			}
		}
	}
	return out
}

// meanOf is the mean of some cells as one sample.
func (c *cells) meanOf(in []int) sample {
	s := sample{cell: in[len(in)/2]}
	var u, v float64
	for _, i := range in {
		x, y := c.at(i)
		u, v = u+x, v+y
		for k := range s.v {
			s.v[k] += float64(c.logs[i][k])
		}
	}
	m := float64(len(in))
	for k := range s.v {
		s.v[k] /= m
	}
	at := basis(u/m, v/m)
	s.at = &at
	return s
}

// between is v, given by cell, at a place in working pixels.
func (c *cells) between(v []float64, x, y float64) float64 {
	fx := min(max(x/float64(c.k)-.5, 0), float64(c.w-1))
	fy := min(max(y/float64(c.k)-.5, 0), float64(c.h-1))
	i, j := int(fx), int(fy)
	i1, j1 := min(i+1, c.w-1), min(j+1, c.h-1)
	tx, ty := fx-float64(i), fy-float64(j)
	top := v[j*c.w+i]*(1-tx) + v[j*c.w+i1]*tx
	low := v[j1*c.w+i]*(1-tx) + v[j1*c.w+i1]*tx
	return top*(1-ty) + low*ty
}

// under is the box of the cells that lie under a rectangle of working pixels.
func (c *cells) under(r image.Rectangle) image.Rectangle {
	return image.Rect(r.Min.X/c.k, r.Min.Y/c.k, (r.Max.X-1)/c.k+1, (r.Max.Y-1)/c.k+1)
}

// each calls do for every cell of a box that lies in the photo.
func (c *cells) each(box image.Rectangle, do func(i int)) {
	box = box.Intersect(image.Rect(0, 0, c.w, c.h))
	for y := box.Min.Y; y < box.Max.Y; y++ {
		for x := box.Min.X; x < box.Max.X; x++ {
			do(y*c.w + x)
		}
	}
}

// rows are rectangles, in working pixels, that cover in row by row of cells;
// rows of the same extent are joined.
func (c *cells) rows(in []bool) []image.Rectangle {
	var out []image.Rectangle
	for _, part := range c.components(in, 1) {
		for _, run := range part.Runs {
			r := image.Rect(run.X0*c.k, run.Y*c.k, min(run.X1*c.k, c.pw), min((run.Y+1)*c.k, c.ph))
			if n := len(out); n > 0 && out[n-1].Min.X == r.Min.X && out[n-1].Max.X == r.Max.X && out[n-1].Max.Y == r.Min.Y {
				out[n-1].Max.Y = r.Max.Y
				continue
			}
			out = append(out, r)
		}
	}
	return out
}

func abs32(v float32) float32 { return max(v, -v) }

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
				c.each(image.Rect(2*x-1, 2*y-1, 2*x+3, 2*y+3), func(j int) {
					if c.use[j] {
						near = append(near, j)
					}
				})
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
