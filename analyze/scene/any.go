package scene

import (
	"fmt"
	"math"
	"math/rand/v2"
	"sort"

	"greige/colorspace"
)

// The functions of this file draw scenes at random, by a seed, from all that
// a maker of patchwork might photograph: for benchmarks over many scenes.
// What they give is plain data that can be changed before it is shot.

// dice is a seeded generator with the draws that scenes need.
type dice struct{ *rand.Rand }

func newDice(seed, which uint64) dice { return dice{rand.New(rand.NewPCG(seed, which))} }

func (d dice) between(a, b float64) float64 { return a + (b-a)*d.Float64() }

// often is true with probability p.
func (d dice) often(p float64) bool { return d.Float64() < p }

// count is a whole number from a to b, small ones as likely by ratio as
// large ones.
func (d dice) count(a, b int) int {
	return min(int(math.Exp(d.between(math.Log(float64(a)), math.Log(float64(b)+1)))), b)
}

// colour is a dye of about the given lightness: now and then a grey, else of
// any hue and of any depth that the lightness allows.
func (d dice) colour(l float64) colorspace.Lab {
	c := d.between(0, 5)
	if !d.often(.15) {
		c = 8 + 50*math.Pow(d.Float64(), 1.3)
	}
	s, k := math.Sincos(d.between(0, 2*math.Pi))
	return Dyed(colorspace.Lab{L: l, A: c * k, B: c * s})
}

// beside is a colour whose lightness is from lo to hi away from l's.
func (d dice) beside(l colorspace.Lab, lo, hi float64) colorspace.Lab {
	step := d.between(lo, hi)
	if l.L+step > 93 || l.L-step > 13 && d.often(.5) {
		step = -step
	}
	return d.colour(min(max(l.L+step, 13), 93))
}

// AnyCloths draws n cloths of every kind, their grounds spread evenly from
// dark to light, in mixed order.
func AnyCloths(seed uint64, n int) []Cloth {
	d := newDice(seed, 21)
	var out []Cloth
	order := d.Perm(n)
	for i := range n {
		ground := d.colour(14 + 78*(float64(order[i])+d.Float64())/float64(n))
		out = append(out, d.cloth(fmt.Sprintf("cloth %d", i+1), ground))
	}
	return out
}

// cloth prints or weaves something on a ground.
func (d dice) cloth(name string, ground colorspace.Lab) Cloth {
	ink := func(lo, hi, from, to float64) Ink {
		return Ink{Lab: d.beside(ground, lo, hi), Share: d.between(from, to)}
	}
	var c Cloth
	switch p := d.Float64(); {
	case p < .16:
		c = NewCloth(name, Solid, ground)
	case p < .38:
		near := ground
		near.L += d.between(4, 9)
		if near.L > 92 || d.often(.5) {
			near.L = ground.L - d.between(4, 9)
		}
		c = NewCloth(name, ToneOnTone, ground, Ink{Lab: near, Share: d.between(.12, .4)})
	case p < .48:
		c = NewCloth(name, Dots, ground, ink(15, 55, .08, .2))
		c.Scale = d.between(.5, 1.5)
	case p < .64:
		c = NewCloth(name, Sprigs, ground, ink(15, 45, .08, .16), ink(10, 50, .04, .09), ink(10, 50, .005, .015))
		c.Scale = d.between(1.3, 2.6)
	case p < .75:
		c = NewCloth(name, LargeFigures, ground, ink(10, 50, .12, .25), ink(8, 40, .12, .2), ink(8, 40, .04, .09), ink(10, 50, .02, .06), ink(8, 40, .008, .02))
		c.Scale = d.between(3.5, 9)
	case p < .82:
		c = NewCloth(name, HighContrast, ground, ink(45, 65, .25, .45))
		c.Scale = d.between(1.8, 3.5)
	case p < .89:
		c = NewCloth(name, Stripe, ground, ink(12, 50, .15, .35), ink(8, 40, .04, .12))
		c.Scale = d.between(1.2, 4)
	case p < .95:
		c = NewCloth(name, Plaid, ground, ink(12, 45, .2, .35), ink(10, 50, .04, .08))
		c.Scale = d.between(2.5, 7)
	case p < .98:
		c = NewCloth(name, Gingham, ground, ink(25, 55, .5, .5))
		c.Scale = d.between(.3, 1)
	default:
		c = NewCloth(name, Check, ground, ink(35, 60, .5, .5))
		c.Scale = d.between(.25, .8)
	}
	c.Weave = d.between(.05, .15)
	c.Seed = d.Uint64()
	return c
}

// light is the light of a room or a yard.
func (d dice) light() Light {
	l := Light{From: d.between(0, 360), Ratio: d.between(1.05, 2), Vignette: d.between(0, .12), Kelvin: d.between(2856, 7000), Balance: d.between(.5, .95), Lux: d.between(120, 700), Bradford: d.often(.2)}
	l.Lamp = Bulb
	if d.often(.4) {
		l.Lamp = Window
	}
	if d.often(.25) { // of the hand that holds the phone
		l.Shadows = append(l.Shadows, Shadow{X: d.between(0, 1), Y: d.between(.6, 1), W: d.between(.3, .6), H: d.between(.2, .4), Angle: d.between(0, 180), Depth: d.between(.08, .25), Soft: .25})
	}
	return l
}

// camera is a phone's, well exposed, with a rendering as real ones have: one
// seed's is the same in every kind of scene.
func (d dice) camera(seed uint64) Camera {
	c := Phone()
	c.Auto, c.Bias, c.Protect = d.between(.5, 1), d.between(0, .7), .01
	c.Noise, c.Blur = d.between(.5, 1.5), d.between(.5, 1)
	c.Quality = 85 + d.IntN(11)
	return c.Real(seed)
}

// AnyTable draws a table of 6 to 150 scraps: on every ground, with gaps down
// to 1 % of the width, now and then with cloth nearly of the ground's colour,
// a print with holes of it, a sheet of paper, or things that are no cloth.
func AnyTable(seed uint64) Table {
	d := newDice(seed, 22)
	n := d.count(6, 150)
	t := Table{
		Take: Take{Name: fmt.Sprintf("table-%d.jpg", seed), Seed: seed, Width: 1600, Light: d.light(), Camera: d.camera(seed), View: View{Tilt: d.between(-10, 10), Side: d.between(-6, 6), Roll: d.between(-4, 4)}},
		Gap:  d.between(.01, .025), Margin: d.between(.02, .04), WidthCM: 11 * math.Sqrt(float64(n)) * d.between(.9, 1.3), Turn: d.between(8, 180),
	}
	t.Ground.Ground = []Ground{Sheet, Sheet, Sheet, Mat, Mat, Wood, Carpet, Colour, Flannel}[d.IntN(9)]
	switch {
	case t.Ground.Ground == Mat && d.often(.4):
		t.Ground.Lab = colorspace.Lab{L: d.between(35, 60)} // a grey one
	case t.Ground.Ground == Colour || t.Ground.Ground == Carpet:
		t.Ground.Lab = d.colour(d.between(35, 75))
	}
	base := t.Ground.Lab
	if base == (colorspace.Lab{}) {
		base = t.Ground.Ground.Usual()
	}
	t.Cloths = AnyCloths(seed, n)
	if d.often(.3) {
		near := base
		near.L, near.A, near.B = near.L+d.between(-5, 3), near.A+d.between(-3, 3), near.B+d.between(-3, 3)
		t.Cloths[0] = NewCloth("like the ground", Solid, near)
	}
	if d.often(.3) {
		holes := d.beside(base, 20, 50)
		t.Cloths[1] = NewCloth("holes of the ground", HighContrast, holes, Ink{Lab: base, Share: d.between(.15, .3)})
	}
	if d.often(.35) {
		t.Cards = []Paper{{X: .88, Y: .14, W: .17 * t.WidthCM, H: .12 * t.WidthCM, Angle: d.between(-8, 8)}}
	}
	if d.often(.3) {
		t.Things = []Thing{{Kind: []Kind{Scissors, Pencil, Hand}[d.IntN(3)], X: .1, Y: .82, Size: t.WidthCM / 90, Angle: d.between(-40, 40)}}
	}
	return t
}

// sorted are cloths from light to dark by their mean.
func sorted(cloths []Cloth) []int {
	l := make([]float64, len(cloths))
	order := make([]int, len(cloths))
	for i, c := range cloths {
		l[i], order[i] = c.Mean().Y(), i
	}
	sort.SliceStable(order, func(i, j int) bool { return l[order[i]] > l[order[j]] })
	return order
}

// AnyTop draws a block, a wall or a top of 2 x 2 to 40 x 40 patches: every
// repeat and none, straight and on point, scrappy or of few cloths, with and
// without plain blocks, sashing, border, planted mistakes, and something over
// its edge.
func AnyTop(seed uint64) Top {
	d := newDice(seed, 23)
	t := Top{
		Take:   Take{Name: fmt.Sprintf("top-%d.jpg", seed), Seed: seed, Width: 1600, Light: d.light(), Camera: d.camera(seed), View: View{Tilt: d.between(-20, 20), Side: d.between(-8, 8), Roll: d.between(-10, 10)}},
		Cloths: AnyCloths(seed, 8+d.IntN(20)), Margin: d.between(0, .25), Wobble: d.between(0, .1), Sag: d.between(0, .04),
		Ground: Backdrop{Ground: []Ground{Wall, Wall, Flannel, Flannel, Floor, Carpet, Grass}[d.IntN(7)]},
	}
	order := sorted(t.Cloths)
	n := len(order)
	o := Design{
		Seed: seed, Repeat: []Repeat{FourPatch, NinePatch, NinePatch, NinePatchLight, SixteenPatch, Checkerboard, Rails, Stripes, ThreeValues, Gradation, Picture, Scattered}[d.IntN(12)],
		Lights: order[:n*35/100], Mediums: order[n*42/100 : n*58/100], Darks: order[n*65/100:], TwoCloths: d.often(.3), OnPoint: d.often(.3),
	}
	switch o.Repeat {
	case Gradation:
		o.Mediums = order[n*35/100 : n*65/100]
	case Checkerboard, Stripes:
		if d.often(.5) { // few cloths
			o.Lights, o.Darks = o.Lights[:1], o.Darks[len(o.Darks)-1:]
		}
	}
	k := o.Repeat.block()
	size := d.count(max(2, k), 40)
	rows := max(size/k, 1)
	cols := min(max(int(float64(rows)*d.between(.7, 1.4)), 1), 40/k)
	if pieced := k > 1 && o.Repeat != Rails; pieced && rows > 1 && cols > 1 && d.often(.5) {
		o.Alternate, o.PlainDark = true, d.often(.2)
	}
	o.Rows, o.Cols = rows*k, cols*k
	o.Across, o.Down = (cols+1)/2*k, (rows+1)/2*k
	o.Setting = o.Lights[0]
	if !o.OnPoint && k > 1 && o.Rows <= 24 && d.often(.2) {
		o.Alternate = false
		o.Sashing, o.SashCloth, o.CornerCloth = d.between(.25, .5), order[n/2], order[n-1]
		if d.often(.5) {
			o.SashCloth = order[0]
		}
	}
	if d.often(.6) {
		o.Planted = min(1+d.IntN(4), o.Rows*o.Cols/12)
	}
	t.Plan = o.Plan()
	t.PatchCM = min(10, max(4, 120/float64(len(t.Plan.Cells))))
	if d.often(.3) {
		wide := t.PatchCM * d.between(.6, 1.4)
		t.Border = []Band{{Cloth: order[d.IntN(n)], CM: wide}}
		if d.often(.5) {
			t.Border = append([]Band{{Cloth: order[d.IntN(n)], CM: wide * .25}}, t.Border...)
		}
	}
	if d.often(.25) {
		across := t.PatchCM * float64(max(len(t.Plan.Cells), 6))
		thing := Thing{Kind: []Kind{Hand, Foot, Clamp}[d.IntN(3)], X: d.between(.2, .8), Y: 1 - t.Margin, Size: across / 70}
		if thing.Kind == Clamp {
			thing.Y, thing.Angle = t.Margin, 180
		}
		t.Things = []Thing{thing}
	}
	return t
}

// AnyPrint draws a border print, large-scale or small print of so many inks,
// 3 to 12, that the eye can well tell apart (12 CIEDE2000).
func AnyPrint(seed uint64, inks int) Cloth {
	d := newDice(seed, 24)
	inks = min(max(inks, 2), 12)
	colours := []colorspace.Lab{d.colour(d.between(15, 88))}
	for tries := 0; len(colours) < inks && tries < 4000; tries++ {
		c := d.colour(d.between(14, 92))
		near := false
		for _, o := range colours {
			near = near || colorspace.CIEDE2000(c, o) < 12
		}
		if !near {
			colours = append(colours, c)
		}
	}
	// Shares that figures of each part can carry.
	pattern, shares := BorderPrint, []float64{.13, .15, .07, .05, .05, .025, .02, .015, .025, .015, .012}
	switch {
	case inks <= 5 && d.often(.25):
		pattern, shares = Sprigs, []float64{.13, .08, .015, .012}
	case d.often(.4):
		pattern, shares = LargeFigures, []float64{.18, .14, .07, .05, .03, .015, .04, .012, .012, .015, .012}
	}
	var others []Ink
	for i, c := range colours[1:] {
		others = append(others, Ink{Lab: c, Share: shares[i] * d.between(.8, 1.25)})
	}
	c := NewCloth(fmt.Sprintf("print %d", seed), pattern, colours[0], others...)
	c.Seed = d.Uint64()
	switch pattern {
	case BorderPrint:
		c.Scale = d.between(16, 30)
	case LargeFigures:
		c.Scale = d.between(6, 11)
	default:
		c.Scale = d.between(2, 3)
	}
	return c
}

// AnyBorder draws a photo of a print of 3 to 12 inks, with a card, filling
// the photo or lying on a ground beside other cloth.
func AnyBorder(seed uint64) Border {
	d := newDice(seed, 25)
	b := Border{
		Take:  Take{Name: fmt.Sprintf("border-%d.jpg", seed), Seed: seed, Width: 1600, Light: d.light(), Camera: d.camera(seed), View: View{Tilt: d.between(-6, 6), Side: d.between(-6, 6), Roll: d.between(-2, 2)}},
		Print: AnyPrint(seed, 3+d.IntN(10)), Turn: d.between(-4, 4), Lying: d.often(.4), Ground: Backdrop{Ground: []Ground{Sheet, Sheet, Wood, Mat}[d.IntN(4)]},
	}
	b.WidthCM = d.between(24, 36)
	if b.Lying {
		b.WidthCM /= .6
		b.Beside = AnyCloths(seed+1, 3+d.IntN(5))
	}
	b.Cards = []Paper{{X: .88, Y: .87, W: .16 * b.WidthCM, H: .12 * b.WidthCM, Angle: d.between(-4, 4)}}
	return b
}

// AnyCloseups draws n close-ups by one phone under one lamp, the white
// balance locked, each cloth edge to edge; with a card in the same place of
// each when asked for. Only the exposure differs, and the record tells it.
func AnyCloseups(seed uint64, n int, card bool) []Closeup {
	d := newDice(seed, 26)
	light, camera := d.light(), d.camera(seed)
	light.Shadows = nil
	camera.FixedWhite, camera.Auto, camera.Bias, camera.Protect = true, 1, 0, .01
	var out []Closeup
	for i, c := range AnyCloths(seed, n) {
		k := Closeup{
			Take:  Take{Name: fmt.Sprintf("cloth-%d-%d.jpg", seed, i+1), Seed: seed + uint64(i), Width: 1200, Light: light, Camera: camera},
			Cloth: c, WidthCM: d.between(15, 30), Turn: d.between(-10, 10), Wrinkle: d.between(0, .03),
		}
		k.Light.From += d.between(-25, 25)
		if card {
			k.Cards = []Paper{{X: .88, Y: .5, W: .17 * k.WidthCM, H: .26 * k.WidthCM, Angle: d.between(-3, 3)}}
		}
		out = append(out, k)
	}
	return out
}
