package scene

import (
	"math"
	"math/rand/v2"
)

// drawing is a print in the making. Each figure ink has a field that grows
// outward from its figures; painting cuts each field where the ink has its
// share of the cloth, so that figures grow or shrink until the shares are
// those asked for (as far as the figures can carry them).
type drawing struct {
	tile
	rng     *rand.Rand
	scale   float64  // cm
	figures int      // inks besides the ground
	layers  []*layer // bottom to top
}

// layer is the field of one figure ink.
type layer struct {
	d     *drawing
	ink   int
	field []float32 // 0 in the middle of a figure, 1 about its edge, far away from it
}

const far = 4

// printed draws one repeat of a print. Figures that fill a repeat of their
// own size are set in half drop, as prints are.
func (c Cloth) printed(inks []Ink, scale, texel float64) tile {
	p := patterns[c.Pattern]
	if p.repeat[0] == 0 {
		p.repeat[0] = float64(len(inks) - 1)
	}
	d := &drawing{
		tile:    newTile(p.repeat[0]*scale, p.repeat[1]*scale, texel),
		rng:     rand.New(rand.NewPCG(c.Seed, 1)),
		scale:   scale,
		figures: len(inks) - 1,
	}
	p.draw(d, c)
	d.paint(inks)
	return d.tile
}

// part is the layer of the n-th figure ink (from 0), above those made before
// it. Where the cloth has fewer inks, it is another part's layer.
func (d *drawing) part(n int) *layer {
	n %= d.figures
	for _, l := range d.layers {
		if l.ink == n+1 {
			return l
		}
	}
	l := &layer{d: d, ink: n + 1, field: make([]float32, len(d.ink))}
	for i := range l.field {
		l.field[i] = far
	}
	d.layers = append(d.layers, l)
	return l
}

// own is the layer of the n-th figure ink, for a part that is left out of a
// cloth that has no ink of its own for it: then nil.
func (d *drawing) own(n int) *layer {
	if n >= d.figures {
		return nil
	}
	return d.part(n)
}

// paint cuts the fields, the topmost first, so that each ink covers its share
// of what can be seen.
func (d *drawing) paint(inks []Ink) {
	const steps = 4096
	var count [steps]int
	for n := len(d.layers) - 1; n >= 0; n-- {
		l := d.layers[n]
		clear(count[:])
		for i, f := range l.field {
			if d.ink[i] == 0 && f < far {
				count[int(max(f, 0)*(steps/far))]++
			}
		}
		want := int(inks[l.ink].Share*float64(len(d.ink)) + .5)
		cut, have := 0, 0
		for cut < steps && have+count[cut]/2 < want {
			have += count[cut]
			cut++
		}
		edge := float32(cut) * (far / float32(steps))
		for i, f := range l.field {
			if d.ink[i] == 0 && f < edge {
				d.ink[i] = uint8(l.ink)
			}
		}
	}
}

// figure is of size 1: 0 in its middle, 1 at its edge, growing on
// outside of it.
type figure func(x, y float64) float64

func disc(x, y float64) float64 { return math.Hypot(x, y) }

// leaf is pointed at both ends and w wide.
func leaf(w float64) figure {
	return func(x, y float64) float64 { return x*x + math.Abs(y)/w }
}

// rosette has n petals that are cut in by the share depth.
func rosette(n int, depth float64) figure {
	return func(x, y float64) float64 {
		a := math.Abs(math.Cos(float64(n) / 2 * math.Atan2(y, x)))
		return math.Hypot(x, y) / (1 - depth + depth*math.Sqrt(a))
	}
}

// stamp puts a figure of the given size (cm) down, turned by angle. A figure
// that leaves the repeat on one side comes in on the other.
func (l *layer) stamp(s figure, u, v, size, angle float64) {
	if l == nil || size <= 0 {
		return
	}
	const reach = 1.8 // fields end here: figures grow no further
	d := l.d
	su, sv := d.du/float64(d.nu), d.dv/float64(d.nv)
	ru, rv := min(int(reach*size/su)+1, d.nu/2), min(int(reach*size/sv)+1, d.nv/2)
	iu, iv := int(math.Floor(u/su)), int(math.Floor(v/sv))
	sin, cos := math.Sincos(angle)
	for j := iv - rv; j <= iv+rv; j++ {
		y := ((float64(j)+.5)*sv - v) / size
		row := wrap(j, d.nv) * d.nu
		for i := iu - ru; i <= iu+ru; i++ {
			x := ((float64(i)+.5)*su - u) / size
			if x*x+y*y > reach*reach {
				continue
			}
			f := float32(s(cos*x+sin*y, cos*y-sin*x))
			if k := row + wrap(i, d.nu); f < l.field[k] {
				l.field[k] = f
			}
		}
	}
}

// fill gives the whole field at once.
func (l *layer) fill(f func(u, v float64) float64) {
	if l == nil {
		return
	}
	d := l.d
	for j := range d.nv {
		v := (float64(j) + .5) * d.dv / float64(d.nv)
		for i := range d.nu {
			u := (float64(i) + .5) * d.du / float64(d.nu)
			k := j*d.nu + i
			l.field[k] = min(l.field[k], float32(f(u, v)))
		}
	}
}

// between is an even random number from a to b.
func (d *drawing) between(a, b float64) float64 { return a + (b-a)*d.rng.Float64() }

// dots are set in half drop, the inks by turns.
func (d *drawing) dots(Cloth) {
	s := d.scale
	for i := range 2 * d.figures {
		d.part(i).stamp(disc, float64(i)*s/2, float64(i%2)*s/2, s/4, 0)
	}
}

// halfDrop calls f for n x n places of the repeat, odd columns dropped by
// half and all moved a little.
func (d *drawing) halfDrop(n int, loose float64, f func(i int, u, v float64)) {
	p, q := d.du/float64(n), d.dv/float64(n)
	for i := range n * n {
		u, v := float64(i%n), float64(i/n)
		if i%n%2 == 1 {
			v += .5
		}
		f(i, (u+d.between(-loose, loose))*p, (v+d.between(-loose, loose))*q)
	}
}

func (d *drawing) sprigs(Cloth) {
	s := d.scale
	stems, blossoms := d.part(0), d.part(1)
	centres, berries := d.own(2), d.part(3)
	d.halfDrop(4, .1, func(i int, u, v float64) {
		a := d.between(-.6, .6) + math.Pi*float64(i/4%2)
		sin, cos := math.Sincos(a)
		at := func(x, y float64) (float64, float64) { return u + s*(cos*x-sin*y), v + s*(sin*x+cos*y) }
		stamp := func(l *layer, f figure, x, y, size, turn float64) {
			p, q := at(x, y)
			l.stamp(f, p, q, s*size, a+turn)
		}
		stamp(stems, leaf(.08), 0, 0, .34, 0)
		for _, x := range []float64{-.22, -.06, .1} {
			stamp(stems, leaf(.42), x-.05, .11, .12, 2.2)
			stamp(stems, leaf(.42), x-.02, -.11, .12, -2.2)
		}
		stamp(blossoms, rosette(5, .45), .34, 0, .16, 0)
		stamp(centres, disc, .34, 0, .05, 0)
		stamp(berries, disc, -.42, .3, .05, 0)
		stamp(berries, disc, -.48, .38, .04, 0)
	})
}

// spray is a stem with pairs of leaves, of length 2 about its middle.
func spray(l *layer, u, v, size, angle, width float64) {
	sin, cos := math.Sincos(angle)
	for k := range 4 {
		x := -.75 + .45*float64(k)
		r := .42 - .05*float64(k)
		for _, side := range []float64{-1, 1} {
			a := angle + side*.75
			px, py := x+r*.75*math.Cos(.75), side*r*.75*math.Sin(.75)
			l.stamp(leaf(width), u+size*(cos*px-sin*py), v+size*(sin*px+cos*py), size*r, a)
		}
	}
	l.stamp(leaf(width), u+size*cos*.95, v+size*sin*.95, size*.34, angle)
	l.stamp(leaf(.035), u, v, size, angle)
}

func (d *drawing) sprays(Cloth) {
	s := d.scale
	leaves, berries, small := d.part(0), d.part(1), d.part(2)
	d.halfDrop(4, .16, func(i int, u, v float64) {
		a := d.between(0, 2*math.Pi)
		spray(leaves, u, v, s*d.between(.5, .66), a, .4)
		sin, cos := math.Sincos(a + 1.3)
		for k := range 3 {
			r := s * (.42 + .1*float64(k%2))
			berries.stamp(disc, u+r*cos+.1*s*float64(k), v+r*sin, s*.07, 0)
		}
		spray(small, u-.6*s*cos, v-.6*s*sin, s*.22, a+2, .4)
	})
}

// toneOnTone draws quiet figures.
func (d *drawing) toneOnTone(c Cloth) {
	s, p := d.scale, c.Pattern
	if p == ToneOnTone {
		p = [3]Pattern{Scroll, Leaves, PinDots}[c.Seed%3]
	}
	for n := range d.figures {
		l := d.part(n)
		switch p {
		case Scroll: // lines of equal height of a smooth field
			l.fill(func(u, v float64) float64 {
				h := smoothRepeat(c.Seed+uint64(n), 2*u/s, 2*v/s, 8, 8) + .5*smoothRepeat(c.Seed+9, 4*u/s, 4*v/s, 16, 16)
				h *= 3
				return math.Abs(h-math.Round(h)) * 4
			})
		case Leaves:
			d.halfDrop(8, .2, func(_ int, u, v float64) {
				a := d.between(0, 2*math.Pi)
				l.stamp(leaf(.45), u, v, s*.3, a)
				l.stamp(leaf(.45), u+.2*s*math.Cos(a+1), v+.2*s*math.Sin(a+1), s*.2, a+1)
			})
		default:
			d.halfDrop(12, .02, func(_ int, u, v float64) { l.stamp(disc, u, v, s*.08, 0) })
		}
	}
}

// flower is a large blossom with leaves round it. Parts that are nil are not
// drawn.
type flower struct{ petals, leaves, inner, centre *layer }

func (d *drawing) flower(f flower, u, v, size float64, petals, leaves int) {
	a := d.between(0, 2*math.Pi)
	for k := range leaves {
		t := a + 2*math.Pi*(float64(k)+d.between(-.15, .15))/float64(leaves)
		r := size * d.between(1.2, 1.4)
		f.leaves.stamp(leaf(.42), u+r*math.Cos(t), v+r*math.Sin(t), size*d.between(.58, .74), t+d.between(-.25, .25))
	}
	f.petals.stamp(rosette(petals, .35), u, v, size, a)
	f.inner.stamp(rosette(petals, .5), u, v, size*.55, a+math.Pi/float64(petals))
	f.centre.stamp(disc, u, v, size*.22, 0)
}

func (d *drawing) flowers(Cloth) {
	s := d.scale
	stems := d.own(9)
	if stems == nil { // then of the leaves' ink
		stems = d.part(1)
	}
	leaves, small := d.part(1), d.part(6)
	buds, dust := d.part(5), d.part(8)
	petals, inner := d.part(0), d.own(2)
	centre := d.own(4)
	blossoms, eyes, seeds := d.part(3), d.own(7), d.own(10)
	d.halfDrop(2, .05, func(i int, u, v float64) {
		size := s * d.between(.36, .5)
		for k := range 9 {
			t := 2 * math.Pi * float64(k) / 9
			seeds.stamp(disc, u+.72*size*math.Cos(t), v+.72*size*math.Sin(t), size*.08, 0)
		}
		d.flower(flower{petals, leaves, inner, centre}, u, v, size, 5+i%3, 6)
		for k := range 5 {
			t := 2 * math.Pi * (float64(k) + d.between(-.2, .2)) / 5
			r := s * d.between(.72, .84)
			x, y := u+r*math.Cos(t), v+r*math.Sin(t)
			switch k % 3 {
			case 0, 2:
				d.flower(flower{blossoms, small, nil, eyes}, x, y, s*d.between(.11, .15), 5, 3)
			case 1:
				spray(small, x, y, s*.2, t+1, .35)
			}
			buds.stamp(disc, x+.2*s*math.Cos(t+2), y+.2*s*math.Sin(t+2), s*.045, 0)
			dust.stamp(disc, x+.17*s*math.Cos(t-2), y+.17*s*math.Sin(t-2), s*.03, 0)
			stems.stamp(leaf(.05), u+.6*r*math.Cos(t), v+.6*r*math.Sin(t), s*.3, t)
		}
	})
}

// border runs along the length: a vine of large flowers in the middle, edged
// by bands, rows of dots and scallops.
func (d *drawing) border(Cloth) {
	w := d.scale
	band, thin, scallops, dots := d.own(2), d.own(7), d.own(8), d.own(6)
	vine, leaves := d.own(9), d.part(1)
	petals, inner, centre := d.part(0), d.own(3), d.own(5)
	blossoms, buds := d.part(4), d.part(10)

	line := func(at, width float64) func(u, v float64) float64 {
		return func(_, v float64) float64 {
			return min(math.Abs(v-at*w), math.Abs(v-(1-at)*w)) / (width * w)
		}
	}
	band.fill(line(.065, .03))
	thin.fill(line(.145, .008))
	n := 14
	for k := range n {
		u := (float64(k) + .5) * d.du / float64(n)
		for _, v := range []float64{.19, .81} {
			dots.stamp(disc, u, v*w, .012*w, 0)
			scallops.stamp(disc, u, (v+math.Copysign(.085, v-.5))*w, .02*w, 0)
		}
	}
	wave := func(u float64) float64 { return w * (.5 + .09*math.Sin(2*math.Pi*u/d.du)) }
	vine.fill(func(u, v float64) float64 { // two, on either side of the flowers
		return math.Abs(math.Abs(v-w/2)-.26*w-.3*(wave(u)-w/2)) / (.02 * w)
	})
	for k := range 4 {
		u := (float64(k)/4 + .02) * d.du
		side := float64(1 - k%2*2)
		v := wave(u) + side*.05*w
		size := w * .105
		if k%2 == 1 {
			size *= .8
		}
		d.flower(flower{petals, leaves, inner, centre}, u, v, size, 6+k%2*2, 7)
		x, y := u+.125*d.du, wave(u+.125*d.du)-side*.02*w
		for i, r := range []float64{-.13, .14} {
			d.flower(flower{blossoms, leaves, nil, nil}, x+.01*w*float64(i), y+r*w, w*.03, 5, 3)
			buds.stamp(disc, x+.05*w, y+(r+math.Copysign(.035, r))*w, w*.012, 0)
			buds.stamp(disc, x-.05*w, y+(r+math.Copysign(.03, r))*w, w*.01, 0)
		}
	}
}
