package cloth_test

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"math/rand/v2"

	"greige/analyze/photo"
	"greige/colorspace"
)

// A printed cloth with known inks, drawn in linear light and photographed:
// woven, unevenly lit, blurred by a lens, noisy, stored as an 8-bit JPEG, read
// back and averaged down to a working picture.

// inkShot is how a print is photographed.
type inkShot struct {
	w, h      int     // working picture
	reduction int     // photo pixels per working pixel, along a side
	lens      float64 // blur, standard deviation in photo pixels
	sharpen   float64 // unsharp mask of the camera, 0 for none
	weave     float64 // amplitude of the threads' shading
	thread    float64 // photo pixels from thread to thread
	noise     float64 // standard deviation at white, as a share of white
	uneven    float64 // what is left of the lamp's slope, end to end
	quality   int     // JPEG
}

// usualShot is a photo of some 12 megapixels, reduced for work.
var usualShot = inkShot{w: 420, h: 320, reduction: 2, lens: .9, weave: .06, thread: 4.3, noise: .012, uneven: .03, quality: 92}

// inkPrint is a drawn cloth before it is photographed: at every point one ink.
type inkPrint struct {
	class  string
	inks   []colorspace.Lab
	w, h   int     // of the raster
	scale  float64 // raster points per working pixel
	raster []uint8
	rng    *rand.Rand
}

func newInkPrint(class string, s inkShot, inks []colorspace.Lab, rng *rand.Rand) *inkPrint {
	ss := 4
	if s.reduction > 1 {
		ss = 2
	}
	k := s.reduction * ss
	return &inkPrint{class: class, inks: inks, w: s.w * k, h: s.h * k, scale: float64(k), raster: make([]uint8, s.w*k*s.h*k), rng: rng}
}

// shares are the areas of the inks, counted.
func (p *inkPrint) shares() []float64 {
	n := make([]float64, len(p.inks))
	for _, l := range p.raster {
		n[l]++
	}
	for i := range n {
		n[i] /= float64(len(p.raster))
	}
	return n
}

// fill draws a figure: every point within r of (x, y) (working pixels) for
// which inside says so.
func (p *inkPrint) fill(x, y, r float64, ink int, inside func(dx, dy float64) bool) {
	x0, x1 := max(0, int((x-r)*p.scale)), min(p.w-1, int((x+r)*p.scale)+1)
	y0, y1 := max(0, int((y-r)*p.scale)), min(p.h-1, int((y+r)*p.scale)+1)
	for j := y0; j <= y1; j++ {
		for i := x0; i <= x1; i++ {
			if inside((float64(i)+.5)/p.scale-x, (float64(j)+.5)/p.scale-y) {
				p.raster[j*p.w+i] = uint8(ink)
			}
		}
	}
}

func (p *inkPrint) disc(x, y, r float64, ink int) {
	p.fill(x, y, r, ink, func(dx, dy float64) bool { return dx*dx+dy*dy < r*r })
}

func (p *inkPrint) ellipse(x, y, r, ratio, angle float64, ink int) {
	s, c := math.Sincos(angle)
	p.fill(x, y, r, ink, func(dx, dy float64) bool {
		u, v := c*dx+s*dy, (c*dy-s*dx)/ratio
		return u*u+v*v < r*r
	})
}

// line is a bar of the given length and width.
func (p *inkPrint) line(x, y, length, width, angle float64, ink int) {
	s, c := math.Sincos(angle)
	p.fill(x, y, length/2+width, ink, func(dx, dy float64) bool {
		u, v := c*dx+s*dy, c*dy-s*dx
		return math.Abs(u) < length/2 && math.Abs(v) < width/2
	})
}

// flower is petals round a centre.
func (p *inkPrint) flower(x, y, r float64, petals int, petal, heart int) {
	turn := p.rng.Float64() * math.Pi
	p.fill(x, y, r, petal, func(dx, dy float64) bool {
		a := math.Atan2(dy, dx)
		return math.Hypot(dx, dy) < r*(.62+.38*math.Abs(math.Cos(float64(petals)/2*(a+turn))))
	})
	p.disc(x, y, r*.33, heart)
}

func (p *inkPrint) place() (x, y float64) {
	return p.rng.Float64() * float64(p.w) / p.scale, p.rng.Float64() * float64(p.h) / p.scale
}
func (p *inkPrint) between(a, b float64) float64 { return a + (b-a)*p.rng.Float64() }
func (p *inkPrint) figure() int                  { return 1 + p.rng.IntN(len(p.inks)-1) }
func (p *inkPrint) area() float64                { return float64(p.w) * float64(p.h) / p.scale / p.scale }

// inkSet are n inks at least apart from each other in CIEDE2000, and at most
// within where that is not 0.
func inkSet(rng *rand.Rand, n int, apart, within float64) []colorspace.Lab {
	var set []colorspace.Lab
	for tries := 0; len(set) < n; tries++ {
		if tries > 4000 {
			set, tries = nil, 0
		}
		l, c, h := 14+80*rng.Float64(), 75*math.Sqrt(rng.Float64()), 2*math.Pi*rng.Float64()
		k := colorspace.Lab{L: l, A: c * math.Cos(h), B: c * math.Sin(h)}
		lin := k.Linear()
		ok := true
		for _, v := range lin {
			ok = ok && v > .008 && v < .88
		}
		for _, o := range set {
			d := colorspace.CIEDE2000(k, o)
			ok = ok && d >= apart && (within == 0 || d <= within)
		}
		if ok {
			set = append(set, k)
		}
	}
	return set
}

// inkClasses are the kinds of print that the inks are looked for in.
var inkClasses = []struct {
	name string
	draw func(s inkShot, seed uint64) *inkPrint
}{
	{"large", func(s inkShot, seed uint64) *inkPrint {
		rng := rand.New(rand.NewPCG(seed, 1))
		p := newInkPrint("large", s, inkSet(rng, 3+rng.IntN(6), 10, 0), rng)
		for range int(p.area() / 1800) {
			x, y := p.place()
			switch p.rng.IntN(3) {
			case 0:
				p.flower(x, y, p.between(18, 50), 5, p.figure(), p.figure())
			case 1:
				p.ellipse(x, y, p.between(14, 40), .4, p.between(0, 3), p.figure())
			default:
				p.disc(x, y, p.between(8, 24), p.figure())
			}
		}
		return p
	}},
	{"small", func(s inkShot, seed uint64) *inkPrint {
		rng := rand.New(rand.NewPCG(seed, 2))
		p := newInkPrint("small", s, inkSet(rng, 3+rng.IntN(5), 10, 0), rng)
		for range int(p.area() / 220) {
			x, y := p.place()
			switch p.rng.IntN(3) {
			case 0:
				p.flower(x, y, p.between(5, 10), 5, p.figure(), p.figure())
			case 1:
				p.ellipse(x, y, p.between(4, 9), .4, p.between(0, 3), p.figure())
			default:
				p.disc(x, y, p.between(2.5, 6), p.figure())
			}
		}
		return p
	}},
	{"fine", func(s inkShot, seed uint64) *inkPrint {
		rng := rand.New(rand.NewPCG(seed, 3))
		p := newInkPrint("fine", s, inkSet(rng, 3+rng.IntN(3), 14, 0), rng)
		for range int(p.area() / 45) {
			x, y := p.place()
			k := p.figure()
			if k%2 == 0 {
				p.disc(x, y, p.between(1, 2), k)
			} else {
				p.line(x, y, p.between(4, 10), p.between(2, 4), p.between(0, 3), k)
			}
		}
		return p
	}},
	{"dots", func(s inkShot, seed uint64) *inkPrint { // one size of fine dots in rows
		rng := rand.New(rand.NewPCG(seed, 4))
		p := newInkPrint("dots", s, inkSet(rng, 3+rng.IntN(2), 14, 0), rng)
		step, r := p.between(6, 9), p.between(1.1, 2)
		n := 0
		for y := step / 2; y < float64(s.h); y += step {
			for x := step / 2; x < float64(s.w); x += step {
				p.disc(x, y, r, 1+n%(len(p.inks)-1))
				n++
			}
			n++
		}
		return p
	}},
	{"outlined", func(s inkShot, seed uint64) *inkPrint {
		rng := rand.New(rand.NewPCG(seed, 5))
		p := newInkPrint("outlined", s, inkSet(rng, 4+rng.IntN(4), 11, 0), rng)
		// The darkest ink is the outlines'.
		dark := 1
		for i := range p.inks {
			if i > 0 && p.inks[i].L < p.inks[dark].L {
				dark = i
			}
		}
		p.inks[1], p.inks[dark] = p.inks[dark], p.inks[1]
		wide := p.between(1.6, 3)
		for range int(p.area() / 900) {
			x, y := p.place()
			r, k := p.between(7, 20), 2+p.rng.IntN(len(p.inks)-2)
			p.disc(x, y, r+wide, 1)
			p.disc(x, y, r, k)
		}
		return p
	}},
	{"plaid", func(s inkShot, seed uint64) *inkPrint {
		rng := rand.New(rand.NewPCG(seed, 6))
		p := newInkPrint("plaid", s, inkSet(rng, 3+rng.IntN(5), 10, 0), rng)
		turn := p.between(-.06, .06)
		sin, cos := math.Sincos(turn)
		var bands []struct {
			to  float64
			ink int
		}
		at := 0.0
		for range 3 * len(p.inks) {
			at += p.between(3, 22)
			bands = append(bands, struct {
				to  float64
				ink int
			}{at, len(bands) % len(p.inks)})
		}
		band := func(v float64) int {
			v = math.Mod(math.Mod(v, at)+at, at)
			for _, b := range bands {
				if v < b.to {
					return b.ink
				}
			}
			return 0
		}
		plaid := p.rng.IntN(2) == 0
		for j := range p.h {
			for i := range p.w {
				x, y := float64(i)/p.scale, float64(j)/p.scale
				u, v := cos*x+sin*y, cos*y-sin*x
				k := band(u)
				if plaid && math.Mod(u+2*at, 8) < 4 != (math.Mod(v+2*at, 8) < 4) {
					k = band(v)
				}
				p.raster[j*p.w+i] = uint8(k)
			}
		}
		return p
	}},
	{"tone", func(s inkShot, seed uint64) *inkPrint {
		rng := rand.New(rand.NewPCG(seed, 7))
		p := newInkPrint("tone", s, inkSet(rng, 3, 5.5, 13), rng)
		for range int(p.area() / 500) {
			x, y := p.place()
			p.ellipse(x, y, p.between(6, 18), .5, p.between(0, 3), p.figure())
		}
		return p
	}},
	{"many", func(s inkShot, seed uint64) *inkPrint {
		rng := rand.New(rand.NewPCG(seed, 8))
		p := newInkPrint("many", s, inkSet(rng, 9+rng.IntN(4), 9, 0), rng)
		for range int(p.area() / 420) {
			x, y := p.place()
			switch p.rng.IntN(3) {
			case 0:
				p.flower(x, y, p.between(8, 24), 5, p.figure(), p.figure())
			case 1:
				p.ellipse(x, y, p.between(6, 22), .4, p.between(0, 3), p.figure())
			default:
				p.disc(x, y, p.between(3, 9), p.figure())
			}
		}
		return p
	}},
	{"accent", func(s inkShot, seed uint64) *inkPrint {
		rng := rand.New(rand.NewPCG(seed, 9))
		inks := inkSet(rng, 4+rng.IntN(3), 16, 0)
		p := newInkPrint("accent", s, inks, rng)
		rare := len(inks) - 1
		for range int(p.area() / 700) {
			x, y := p.place()
			p.ellipse(x, y, p.between(9, 24), .6, p.between(0, 3), 1+p.rng.IntN(rare-1))
		}
		r := 2.8
		for range int(.012 * p.area() / (math.Pi * r * r)) {
			x, y := p.place()
			p.disc(x, y, r, rare)
		}
		return p
	}},
	{"border", func(s inkShot, seed uint64) *inkPrint { // strips of several grounds with runs of figures
		rng := rand.New(rand.NewPCG(seed, 10))
		p := newInkPrint("border", s, inkSet(rng, 5+rng.IntN(5), 10, 0), rng)
		for y := 0.0; y < float64(s.h); {
			wide := p.between(14, 70)
			ground, k := p.rng.IntN(len(p.inks)), p.rng.IntN(len(p.inks))
			p.fill(float64(s.w)/2, y+wide/2, float64(s.w), ground, func(_, dy float64) bool { return math.Abs(dy) < wide/2 })
			r := p.between(.2, .42) * wide
			for x := 0.0; x < float64(s.w); x += 2.4 * r {
				p.flower(x, y+wide/2, r, 5, k, (k+1)%len(p.inks))
				p.line(x+1.2*r, y+wide/2, 1.4*r, max(2, .2*r), 1.57, (k+2)%len(p.inks))
			}
			y += wide
		}
		return p
	}},
}

// photograph takes the picture of p.
func (p *inkPrint) photograph(s inkShot) *photo.Picture {
	w, h := s.w*s.reduction, s.h*s.reduction
	ss := p.w / w
	lin := make([]colorspace.Linear, len(p.inks))
	for i, k := range p.inks {
		lin[i] = k.Linear()
	}
	rng := rand.New(rand.NewPCG(77, uint64(len(p.raster))+uint64(p.raster[len(p.raster)/2])))
	warp, weft := make([]float64, w+2), make([]float64, h+2)
	for i := range warp {
		warp[i] = rng.NormFloat64()
	}
	for i := range weft {
		weft[i] = rng.NormFloat64()
	}
	planes := [3][]float32{make([]float32, w*h), make([]float32, w*h), make([]float32, w*h)}
	for y := range h {
		for x := range w {
			var c [3]float64
			for j := range ss {
				for i := range ss {
					k := lin[p.raster[(y*ss+j)*p.w+x*ss+i]]
					c[0], c[1], c[2] = c[0]+k[0], c[1]+k[1], c[2]+k[2]
				}
			}
			tx, ty := float64(x)/max(s.thread, 1), float64(y)/max(s.thread, 1)
			shade := 1 + s.weave*(math.Cos(2*math.Pi*tx)*math.Cos(2*math.Pi*ty)+.35*warp[int(tx)]+.35*weft[int(ty)])
			u, v := float64(x)/float64(w)-.5, float64(y)/float64(h)-.5
			shade *= 1 + s.uneven*(.7*u-.5*v+.6*u*v)
			for k := range c {
				planes[k][y*w+x] = float32(c[k] * shade / float64(ss*ss))
			}
		}
	}
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	for k := range planes {
		q := gauss(planes[k], w, h, s.lens)
		for i := range q {
			q[i] += float32(rng.NormFloat64() * (s.noise*math.Sqrt(math.Max(float64(q[i]), 0)) + .0015))
		}
		if s.sharpen > 0 {
			soft := gauss(q, w, h, 1.2)
			for i := range q {
				q[i] += float32(s.sharpen) * (q[i] - soft[i])
			}
		}
		for i := range q {
			img.Pix[4*i+k] = colorspace.Encode8(q[i])
			img.Pix[4*i+3] = 255
		}
	}
	var buf bytes.Buffer
	if err := jpeg.Encode(&buf, img, &jpeg.Options{Quality: s.quality}); err != nil {
		panic(err)
	}
	back, err := jpeg.Decode(&buf)
	if err != nil {
		panic(err)
	}
	var curve [256]float32
	for i := range curve {
		curve[i] = float32(colorspace.DecodeSRGB(float64(i) / 255))
	}
	out := photo.New(w, h)
	ycc := back.(*image.YCbCr)
	for y := range h {
		for x := range w {
			c := ycc.YCbCrAt(x, y)
			r, g, b := color.YCbCrToRGB(c.Y, c.Cb, c.Cr)
			i := 3 * (y*w + x)
			out.Pix[i], out.Pix[i+1], out.Pix[i+2] = curve[r], curve[g], curve[b]
		}
	}
	if s.reduction > 1 {
		out = out.Resample(s.w, s.h)
	}
	return out
}

func gauss(src []float32, w, h int, sigma float64) []float32 {
	r := int(math.Ceil(3 * sigma))
	k := make([]float32, 2*r+1)
	var sum float32
	for i := range k {
		k[i] = float32(math.Exp(-float64((i-r)*(i-r)) / 2 / sigma / sigma))
		sum += k[i]
	}
	tmp, out := make([]float32, w*h), make([]float32, w*h)
	for y := range h {
		for x := range w {
			var v float32
			for i, a := range k {
				v += a * src[y*w+min(max(x+i-r, 0), w-1)]
			}
			tmp[y*w+x] = v / sum
		}
	}
	for y := range h {
		for x := range w {
			var v float32
			for i, a := range k {
				v += a * tmp[min(max(y+i-r, 0), h-1)*w+x]
			}
			out[y*w+x] = v / sum
		}
	}
	return out
}
