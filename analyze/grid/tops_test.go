package grid_test

import (
	"math"
	"math/rand/v2"

	"greige/analyze/grid"
	"greige/analyze/photo"
	"greige/colorspace"
)

// top is a made-up top with all that is known of it, drawn straight into a
// working picture: the package's own small stock of scenes, made otherwise
// than the project's large ones so that nothing is fitted to either.
type top struct {
	setting        grid.Setting
	cols, rows     []float64 // widths of columns and heights of rows, in patches
	m, n           int       // on point: squares along the edges
	cloths         []cloth
	which          [][]int // cloth of each cell, by rows (on point by u, v)
	border         []float64
	borderCloth    []int
	sag, wobble    float64 // sag as a share of the height; wobble in patches
	tilt, pan, rot float64 // degrees
	margin         float64 // share of the width on each side
	ground         string  // what lies behind
	over           string  // what lies over an edge
	lamp           float64 // brightness from one side to the other
	noise          float64
	gap            float64 // ground seen between patches, share of a patch
	seed           uint64
	w, h           int

	whole              bool      // cloth 0 is cut in pieces of 3 x 3 patches (or, sashing, in one)
	piece              [2]int    // what was looked up last: its row and column
	colEdges, rowEdges []float64 // made by ready
	wide, high         float64   // size, made by ready
	outer              [4]grid.Point
}

// ready works out what drawing needs at every pixel.
func (t *top) ready() *top {
	t.colEdges, t.rowEdges = edges(t.cols), edges(t.rows)
	t.wide, t.high = t.size()
	t.outer = t.corners()
	for i := range t.cloths {
		c := &t.cloths[i]
		c.sin, c.cos = math.Sincos(c.angle)
	}
	return t
}

// cloth is a texture: two or three colours and how they lie.
type cloth struct {
	kind  string
	inks  [3][3]float64 // linear light
	scale float64       // in patches
	angle float64
	seed  uint64

	sin, cos float64
}

func hash2(seed uint64, x, y int) float64 {
	h := seed*0x9e3779b97f4a7c15 + uint64(int64(x))*0xbf58476d1ce4e5b9 + uint64(int64(y))*0x94d049bb133111eb
	h ^= h >> 30
	h *= 0xbf58476d1ce4e5b9
	h ^= h >> 27
	h *= 0x94d049bb133111eb
	h ^= h >> 31
	return float64(h>>11) / (1 << 53)
}

// smooth is value noise, 0..1.
func smooth(seed uint64, x, y float64) float64 {
	xi, yi := math.Floor(x), math.Floor(y)
	fx, fy := x-xi, y-yi
	fx, fy = fx*fx*(3-2*fx), fy*fy*(3-2*fy)
	i, j := int(xi), int(yi)
	a := hash2(seed, i, j)*(1-fx) + hash2(seed, i+1, j)*fx
	b := hash2(seed, i, j+1)*(1-fx) + hash2(seed, i+1, j+1)*fx
	return a*(1-fy) + b*fy
}

// ink is which of the cloth's colours lies at x, y (in patches).
func (c *cloth) ink(x, y float64) int {
	u, v := (c.cos*x+c.sin*y)/c.scale, (-c.sin*x+c.cos*y)/c.scale
	fu, fv := u-math.Floor(u), v-math.Floor(v)
	switch c.kind {
	case "stripe":
		if fv < .4 {
			return 1
		} else if fv > .6 && fv < .75 {
			return 2
		}
	case "plaid", "gingham":
		a, b := fu < .5, fv < .5
		if a && b {
			return 2
		} else if a != b {
			return 1
		}
	case "dots":
		if math.Hypot(fu-.5, fv-.5) < .28 {
			return 1
		}
	case "blobs":
		n := smooth(c.seed, u, v) + .5*smooth(c.seed+1, 2*u, 2*v)
		if n > .95 {
			return 1
		} else if n < .5 {
			return 2
		}
	case "sprigs":
		n := smooth(c.seed, 2*u, 2*v)
		if n > .68 {
			return 1
		} else if n < .28 {
			return 2
		}
	}
	return 0
}

func labLight(l, a, b float64) [3]float64 {
	c := colorspace.Lab{L: l, A: a, B: b}.Linear()
	for i := range c {
		c[i] = min(max(c[i], .004), .92)
	}
	return [3]float64(c)
}

// newCloth draws a cloth about a lightness.
func newCloth(r *rand.Rand, kinds []string, light float64) cloth {
	c := cloth{kind: kinds[r.IntN(len(kinds))], seed: r.Uint64()}
	h, ch := r.Float64()*2*math.Pi, r.Float64()*45
	if light > 85 || light < 25 {
		ch *= .4
	}
	c.inks[0] = labLight(light, ch*math.Cos(h), ch*math.Sin(h))
	for i := 1; i < 3; i++ {
		d := 8 + 50*r.Float64()*r.Float64()
		if c.kind == "tone" {
			d = 4
		}
		l := light + d*math.Copysign(1, 50-light+30*(r.Float64()-.5))
		h2 := h + 2*(r.Float64()-.5)
		c.inks[i] = labLight(min(max(l, 12), 95), ch*math.Cos(h2), ch*math.Sin(h2))
	}
	switch c.kind {
	case "stripe":
		c.scale = .1 + .35*r.Float64()
		c.angle = float64(r.IntN(2)) * math.Pi / 2
	case "plaid":
		c.scale = .15 + .5*r.Float64()
	case "gingham":
		c.scale = .08 + .1*r.Float64()
	case "dots":
		c.scale = .1 + .25*r.Float64()
	case "blobs":
		c.scale = .3 + .6*r.Float64()
	default:
		c.scale = .1 + .2*r.Float64()
	}
	if c.kind == "tone" {
		c.kind = "sprigs"
	}
	return c
}

// wobbled is the offset of seam i at a place along it, in patches.
func (t *top) wobbled(dir uint64, i int, along float64) float64 {
	return t.wobble * 2 * (smooth(t.seed^dir, float64(i)*17.3+.5, along*1.1) - .5)
}

func edges(widths []float64) []float64 {
	out := []float64{0}
	for _, w := range widths {
		out = append(out, out[len(out)-1]+w)
	}
	return out
}

// size is the inner top in patches.
func (t *top) size() (w, h float64) {
	if t.wide > 0 {
		return t.wide, t.high
	}
	if t.setting == grid.OnPoint {
		return float64(t.m) * math.Sqrt2, float64(t.n) * math.Sqrt2
	}
	for _, c := range t.cols {
		w += c
	}
	for _, r := range t.rows {
		h += r
	}
	return w, h
}

// sagged moves a place of the flat top, in patches, as hanging does.
func (t *top) sagged(x, y float64) (float64, float64) {
	w, h := t.size()
	q := 2*x/w - 1
	return x, y + t.sag*h*(1-q*q)*(.5+.5*y/h)
}

func (t *top) unsagged(x, y float64) (float64, float64) {
	yy := y
	for range 4 {
		_, s := t.sagged(x, yy)
		yy += y - s
	}
	return x, yy
}

// flat is which cloth lies at a place of the unsagged top and how dark its
// seam makes it; -1 is beyond the top.
func (t *top) flat(x, y float64) (which int, shade float64) {
	w, h := t.size()
	if t.setting == grid.OnPoint {
		// in diagonals
		X, Y := x/math.Sqrt2, y/math.Sqrt2
		if X < 0 || Y < 0 || X > float64(t.m) || Y > float64(t.n) {
			return t.borderAt(x, y, w, h), 1
		}
		// seams lie at u + 1/2; u, v are in sides of a square along the axes
		u, v := X+Y, X-Y+float64(t.n)
		iu := int(math.Floor(u + .5 + t.wobbled(1, int(u+.5), v)))
		iv := int(math.Floor(v + .5 + t.wobbled(2, int(v+.5), u)))
		iu, iv = min(max(iu, 0), t.m+t.n), min(max(iv, 0), t.m+t.n)
		du, dv := math.Abs(u+.5-math.Round(u+.5)), math.Abs(v+.5-math.Round(v+.5))
		t.piece = [2]int{iu, iv}
		return t.which[iu][iv], seamShade(min(du, dv))
	}
	i, dx := t.cell(t.colEdges, x, y, 1)
	j, dy := t.cell(t.rowEdges, y, x, 2)
	if i < 0 || j < 0 || i >= len(t.cols) || j >= len(t.rows) {
		return t.borderAt(x, y, w, h), 1
	}
	if t.gap > 0 && min(dx, dy) < t.gap/2 {
		return -1, 1
	}
	t.piece = [2]int{j, i}
	if t.whole && t.which[j][i] == 0 {
		t.piece = [2]int{j / 3, i / 3}
		// no seam inside the whole piece
		if i%3 > 0 && x-t.colEdges[i] < .5 || i%3 < 2 && t.colEdges[i+1]-x < .5 {
			dx = 1
		}
		if j%3 > 0 && y-t.rowEdges[j] < .5 || j%3 < 2 && t.rowEdges[j+1]-y < .5 {
			dy = 1
		}
	}
	return t.which[j][i], seamShade(min(dx, dy))
}

func seamShade(d float64) float64 {
	if d < .02 {
		return .88
	}
	return 1
}

// cell is the interval of lines that x lies in when each wobbles, and how far
// the nearest line is.
func (t *top) cell(lines []float64, x, along float64, dir uint64) (int, float64) {
	k, d := -1, math.Inf(1)
	for i, l := range lines {
		if math.Abs(l-x) > 1.5 && l > x {
			break
		}
		p := l
		if math.Abs(l-x) < .5 {
			p += t.wobbled(dir, i, along)
		}
		if x >= p {
			k = i
		}
		d = min(d, math.Abs(x-p))
	}
	return k, d
}

func (t *top) borderAt(x, y, w, h float64) int {
	t.piece = [2]int{}
	d := max(-x, x-w, -y, y-h, 0)
	for k, b := range t.border {
		if d <= b {
			return t.borderCloth[k]
		}
		d -= b
	}
	return -1
}

// camera is the homography from the sagged top, in patches, to the picture.
func (t *top) camera() grid.Homography {
	w, h := t.size()
	b := 0.0
	for _, v := range t.border {
		b += v
	}
	rad := math.Pi / 180
	st, ct := math.Sincos(t.tilt * rad)
	sp, cp := math.Sincos(t.pan * rad)
	sr, cr := math.Sincos(t.rot * rad)
	reach := max(w, h) + 2*b
	see := func(p grid.Point) grid.Point {
		x, y, z := (p[0]-w/2)/reach, (p[1]-h/2)/reach, 0.0
		y, z = ct*y-st*z, st*y+ct*z
		x, z = cp*x+sp*z, -sp*x+cp*z
		x, y = cr*x-sr*y, sr*x+cr*y
		return grid.Point{x / (1 + .8*z), y / (1 + .8*z)}
	}
	outer := [4]grid.Point{{-b, -b}, {w + b, -b}, {w + b, h + b}, {-b, h + b}}
	var q [4]grid.Point
	lo, hi := grid.Point{9, 9}, grid.Point{-9, -9}
	for i, p := range outer {
		q[i] = see(p)
		for k := range 2 {
			lo[k], hi[k] = min(lo[k], q[i][k]), max(hi[k], q[i][k])
		}
	}
	f := min(float64(t.w)*(1-2*t.margin)/(hi[0]-lo[0]), float64(t.h)*(1-2*t.margin)/(hi[1]-lo[1]))
	for i := range q {
		q[i] = grid.Point{
			float64(t.w)/2 + f*(q[i][0]-(lo[0]+hi[0])/2),
			float64(t.h)/2 + f*(q[i][1]-(lo[1]+hi[1])/2)}
	}
	m, _ := grid.Through(outer, q)
	return m
}

// corners are the true outer corners of the patches in the picture.
func (t *top) corners() [4]grid.Point {
	m := t.camera()
	w, h := t.size()
	var out [4]grid.Point
	for i, p := range []grid.Point{{0, 0}, {w, 0}, {w, h}, {0, h}} {
		x, y := t.sagged(p[0], p[1])
		out[i] = m.Map(grid.Point{x, y})
	}
	return out
}

// node is where the seams i (across) and j (down) of a straight set cross.
func (t *top) node(i, j int) grid.Point {
	c, r := edges(t.cols), edges(t.rows)
	x, y := c[i], r[j]
	for range 4 {
		x, y = c[i]+t.wobbled(1, i, y), r[j]+t.wobbled(2, j, x)
	}
	x, y = t.sagged(x, y)
	return t.camera().Map(grid.Point{x, y})
}

// behind is the light of what lies behind the top, at a place of the picture
// in shares of its width.
func (t *top) behind(x, y float64) [3]float64 {
	s := t.seed + 99
	scale := func(c [3]float64, f float64) [3]float64 { return [3]float64{c[0] * f, c[1] * f, c[2] * f} }
	switch t.ground {
	case "grass":
		n := smooth(s, x*90, y*60)*.6 + smooth(s+1, x*220, y*140)*.6
		return scale([3]float64{.11, .2, .05}, .3+1.2*n)
	case "boards":
		k := math.Floor(y / .07)
		f := .75 + .4*hash2(s, int(k), 0) + .15*smooth(s+2, x*6, y*160)
		if y/.07-k < .05 {
			f *= .45
		}
		return scale([3]float64{.36, .22, .12}, f)
	case "bricks":
		row := math.Floor(y / .04)
		xx := x/.11 + .5*math.Mod(math.Abs(row), 2)
		if y/.04-row < .14 || xx-math.Floor(xx) < .05 {
			return [3]float64{.5, .48, .45}
		}
		return scale([3]float64{.32, .14, .1}, .7+.6*hash2(s, int(row), int(math.Floor(xx))))
	case "carpet":
		return scale([3]float64{.2, .21, .24}, .7+.6*smooth(s, x*300, y*300))
	case "dark":
		return [3]float64{.03, .03, .035}
	}
	return scale([3]float64{.72, .7, .66}, .96+.06*smooth(s, x*4, y*4))
}

// cover is what lies over the top: its light, and whether there is anything.
func (t *top) cover(x, y float64) ([3]float64, bool) {
	c := t.outer
	at := func(a, b grid.Point, f float64) grid.Point {
		return grid.Point{(a[0]*(1-f) + b[0]*f) / float64(t.w), (a[1]*(1-f) + b[1]*f) / float64(t.w)}
	}
	f := .15 + .7*hash2(t.seed+5, 1, 1)
	switch t.over {
	case "hand":
		p := at(c[0], c[3], f)
		if d := math.Hypot((x-p[0]+.05)/.11, (y-p[1])/.05); d < 1 {
			return [3]float64{.5 - .1*d, .3 - .06*d, .22 - .05*d}, true
		}
	case "foot":
		p := at(c[3], c[2], f)
		if d := math.Hypot((x-p[0])/.045, (y-p[1]-.06)/.11); d < 1 {
			return [3]float64{.05, .05, .08}, true
		}
	case "clamp":
		for _, g := range []float64{.12, .5, .88} {
			p := at(c[0], c[1], g)
			if math.Abs(x-p[0]) < .012 && math.Abs(y-p[1]) < .03 {
				return [3]float64{.02, .02, .02}, true
			}
		}
	case "corner":
		p := at(c[2], c[2], 0)
		if math.Hypot(x-p[0], y-p[1]) < .06 {
			return [3]float64{.42, .26, .2}, true
		}
	}
	return [3]float64{}, false
}

var decoded = func() (d [256]float32) {
	for i := range d {
		d[i] = float32(colorspace.DecodeSRGB(float64(i) / 255))
	}
	return d
}()

// draw makes the working picture: two samples a pixel, lamp, noise, 8 bits.
func (t *top) draw() *photo.Picture {
	p := photo.New(t.w, t.h)
	back, _ := t.camera().Inverse()
	noise := rand.New(rand.NewPCG(t.seed, 3))
	for y := range t.h {
		for x := range t.w {
			var sum [3]float64
			for k := range 2 {
				d := .25 + .5*float64(k)
				l := t.lightAt(float64(x)+d, float64(y)+d, back)
				for i := range sum {
					sum[i] += l[i] / 2
				}
			}
			lamp := 1.0
			if t.lamp > 0 {
				u := float64(x)/float64(t.w)*.7 + float64(y)/float64(t.h)*.3
				lamp = 1.05 - t.lamp*u
			}
			for i := range sum {
				v := sum[i]*lamp + t.noise*noise.NormFloat64()*math.Sqrt(.02+sum[i])
				p.Pix[3*(y*t.w+x)+i] = decoded[colorspace.Encode8(float32(v))]
			}
		}
	}
	return p
}

func (t *top) lightAt(px, py float64, back grid.Homography) [3]float64 {
	if t.over != "" {
		if l, ok := t.cover(px/float64(t.w), py/float64(t.w)); ok {
			return l
		}
	}
	q := back.Map(grid.Point{px, py})
	x, y := t.unsagged(q[0], q[1])
	which, shade := t.flat(x, y)
	if which < 0 {
		return t.behind(px/float64(t.w), py/float64(t.w))
	}
	c := &t.cloths[which]
	// Each patch is cut from another place of its cloth.
	ox, oy := 7.3*hash2(c.seed, t.piece[0], t.piece[1]), 5.9*hash2(c.seed+7, t.piece[0], t.piece[1])
	l := c.inks[c.ink(x+ox, y+oy)]
	f := shade * (.97 + .06*hash2(c.seed+9, int(x*60), int(y*60)))
	return [3]float64{l[0] * f, l[1] * f, l[2] * f}
}

// kinds of tops in the stock.
var topKinds = []string{"scrappy", "chequers", "nine patch", "sashed", "alike", "few", "prints", "on point", "on point chequers"}

// newTop makes the top of a kind and a seed, in a picture of w x h pixels or
// of h x w. Everything about it follows from these.
func newTop(kind string, seed uint64, w, h int) *top {
	r := rand.New(rand.NewPCG(seed, uint64(len(kind))*7919+uint64(kind[0])))
	t := &top{seed: r.Uint64(), w: w, h: h, setting: grid.Straight}
	if r.IntN(4) == 0 {
		t.w, t.h = h, w
	}
	between := func(lo, hi float64) float64 { return lo + (hi-lo)*r.Float64() }
	t.tilt, t.pan, t.rot = between(-20, 20), between(-12, 12), between(-10, 10)
	t.margin = between(0, .25)
	t.lamp = between(0, .5)
	t.noise = between(.002, .01)
	t.wobble = between(0, .1)
	if r.IntN(3) == 0 {
		t.sag = between(0, .03)
	}
	t.ground = []string{"wall", "grass", "boards", "bricks", "carpet", "dark", "wall"}[r.IntN(7)]
	t.over = []string{"", "", "", "hand", "foot", "clamp", "corner"}[r.IntN(7)]
	size := func() int {
		if r.IntN(8) == 0 {
			return 20 + r.IntN(21)
		}
		return 2 + int(math.Floor(16*r.Float64()*r.Float64()+.5))
	}
	rows, cols := size(), size()
	if rows > 3*cols || cols > 3*rows {
		cols = rows
	}
	plain := []string{"solid", "tone", "sprigs", "dots"}
	busy := []string{"solid", "tone", "sprigs", "dots", "stripe", "plaid", "gingham", "blobs"}
	fill := func(nr, nc int, f func(i, j int) int) {
		t.which = make([][]int, nr)
		for j := range t.which {
			t.which[j] = make([]int, nc)
			for i := range t.which[j] {
				t.which[j][i] = f(i, j)
			}
		}
	}
	add := func(n int, kinds []string, lo, hi float64) {
		for range n {
			t.cloths = append(t.cloths, newCloth(r, kinds, between(lo, hi)))
		}
	}
	switch kind {
	case "scrappy", "prints", "few", "alike":
		switch kind {
		case "scrappy":
			add(14, busy, 15, 92)
		case "prints":
			add(9, []string{"stripe", "plaid", "gingham", "blobs", "sprigs"}, 20, 88)
		case "few":
			add(3, plain, 20, 90)
		case "alike":
			base := between(35, 80)
			add(8, []string{"solid", "tone", "tone"}, base-5, base+5)
			add(2, plain, 15, 92)
		}
		t.cols, t.rows = ones(cols), ones(rows)
		fill(rows, cols, func(i, j int) int {
			k := r.IntN(len(t.cloths))
			if kind == "alike" && r.IntN(3) > 0 {
				k = r.IntN(8)
			}
			return k
		})
	case "chequers":
		add(3, busy, 12, 45)
		add(3, busy, 65, 94)
		t.cols, t.rows = ones(cols), ones(rows)
		fill(rows, cols, func(i, j int) int { return 3*((i+j)%2) + r.IntN(3) })
	case "nine patch":
		t.whole = true
		add(1, plain, 70, 92)
		add(5, busy, 12, 50)
		add(2, plain, 65, 94)
		br, bc := 2+r.IntN(5), 2+r.IntN(5)
		t.cols, t.rows = ones(3*bc), ones(3*br)
		fill(3*br, 3*bc, func(i, j int) int {
			if (i/3+j/3)%2 == 1 {
				return 0
			}
			if (i%3+j%3)%2 == 0 {
				return 1 + (i/3*3+j/3)%5
			}
			return 6 + (i/3+j/3)/2%2
		})
	case "sashed":
		add(1, plain, 20, 90)
		add(10, busy, 12, 92)
		add(1, plain, 20, 90)
		k := 1 + r.IntN(3) // patches to a block
		s := between(.25, .6)
		stones := r.IntN(2) == 0
		line := func(blocks int) (ws []float64, sash []bool) {
			for b := range blocks {
				if b > 0 {
					ws, sash = append(ws, s), append(sash, true)
				}
				for range k {
					ws, sash = append(ws, 1), append(sash, false)
				}
			}
			return
		}
		var sc, sr []bool
		t.cols, sc = line(2 + r.IntN(4))
		t.rows, sr = line(2 + r.IntN(4))
		fill(len(t.rows), len(t.cols), func(i, j int) int {
			if sc[i] && sr[j] && stones {
				return 11
			}
			if sc[i] || sr[j] {
				return 0
			}
			return 1 + r.IntN(10)
		})
	case "on point", "on point chequers":
		t.setting = grid.OnPoint
		t.m, t.n = 1+r.IntN(8), 1+r.IntN(8)
		if t.m+t.n < 4 || t.m > 2*t.n+1 || t.n > 2*t.m+1 {
			t.m, t.n = 3, 4
		}
		add(8, busy, 12, 92)
		add(1, plain, 20, 90)
		fill(t.m+t.n+1, t.m+t.n+1, func(v, u int) int {
			x, y := float64(u+v-t.n)/2, float64(u-v+t.n)/2
			if x <= 0 || y <= 0 || x >= float64(t.m) || y >= float64(t.n) {
				return 8
			}
			if kind == "on point chequers" && x == math.Floor(x) {
				return 0
			}
			return r.IntN(8)
		})
	}
	if r.IntN(5) < 2 {
		for range 1 + r.IntN(2) {
			t.border = append(t.border, between(.3, 2))
			t.borderCloth = append(t.borderCloth, len(t.cloths))
			add(1, busy, 15, 90)
		}
		// no border that would swallow the picture
		w, h := t.size()
		for i := range t.border {
			t.border[i] *= min(1, .2*min(w, h))
		}
	}
	return t.ready()
}

// latticeNode is where the seams u - 1/2 and v - 1/2 of a top on point cross.
func (t *top) latticeNode(iu, iv int) (grid.Point, bool) {
	u, v := float64(iu)-.5, float64(iv)-.5
	X, Y := (u+v-float64(t.n))/2, (u-v+float64(t.n))/2
	if X < 0 || Y < 0 || X > float64(t.m) || Y > float64(t.n) {
		return grid.Point{}, false
	}
	x, y := t.sagged(X*math.Sqrt2, Y*math.Sqrt2)
	return t.camera().Map(grid.Point{x, y}), true
}

// ones are n equal widths.
func ones(n int) []float64 {
	o := make([]float64, n)
	for i := range o {
		o[i] = 1
	}
	return o
}
