package scene

import (
	"math"

	"greige/colorspace"
)

// tile is one repeat of a cloth: which ink lies where.
type tile struct {
	nu, nv int     // texels along the length (u) and across it (v)
	du, dv float64 // size of the repeat in cm
	ink    []uint8
}

// newTile is a repeat of du x dv cm in steps of about texel cm, but with no
// more texels than a large photo could show.
func newTile(du, dv, texel float64) tile {
	n := func(d float64) int { return min(max(int(math.Ceil(d/texel)), 8), 1400) }
	t := tile{nu: n(du), nv: n(dv), du: du, dv: dv}
	t.ink = make([]uint8, t.nu*t.nv)
	return t
}

// plain is a repeat of one ink.
func plain() tile { return tile{nu: 1, nv: 1, du: 1, dv: 1, ink: []uint8{0}} }

// at is the ink at a place in cm.
func (t *tile) at(u, v float64) uint8 {
	if len(t.ink) == 1 {
		return t.ink[0]
	}
	u, v = u/t.du, v/t.dv
	i := int((u - math.Floor(u)) * float64(t.nu))
	j := int((v - math.Floor(v)) * float64(t.nv))
	// At the horizon u and v are infinite.
	return t.ink[min(max(j, 0), t.nv-1)*t.nu+min(max(i, 0), t.nu-1)]
}

// shares are the inks' true shares of the repeat.
func (t *tile) shares(n int) []float64 {
	count := make([]int, n)
	for _, k := range t.ink {
		count[k]++
	}
	s := make([]float64, n)
	for i, c := range count {
		s[i] = float64(c) / float64(len(t.ink))
	}
	return s
}

// repeat draws one repeat of the cloth in steps of texel cm, and lists the
// inks that can be seen in it.
func (c Cloth) repeat(texel float64) (tile, []Ink) {
	inks := c.Inks
	if len(inks) == 0 {
		inks = []Ink{{Lab: colorspace.Lab{L: 50}, Share: 1}}
	}
	inks = inks[:min(len(inks), 16)]
	s := c.scale()
	if c.Pattern == Solid || len(inks) == 1 {
		return plain(), inks[:1]
	}
	switch c.Pattern {
	case Stripe:
		t := newTile(1, s, min(texel, s/64))
		t.nu, t.ink = 1, sett(inks, t.nv)
		return t, inks
	case Plaid:
		return woven(inks, sett(inks, newTile(s, s, min(texel, s/96)).nu), s)
	case Gingham:
		n := newTile(s, s, min(texel, s/8)).nu
		order := make([]uint8, 2*n)
		for i := n; i < 2*n; i++ {
			order[i] = 1
		}
		return woven(inks[:2], order, 2*s)
	case Check:
		n := len(inks)
		t := tile{nu: n, nv: n, du: s * float64(n), dv: s * float64(n), ink: make([]uint8, n*n)}
		for i := range t.ink {
			t.ink[i] = uint8((i%n + i/n) % n)
		}
		return t, inks
	}
	return c.printed(inks, s, texel), inks
}

// sett is the order of the yarns over one repeat of n texels: every ink has
// its share, the ground comes between the others in narrow and wide pieces by
// turns, and the whole reads the same from both ends, as stripes and plaids
// do.
func sett(inks []Ink, n int) []uint8 {
	pieces := 0.0
	for i := range inks {
		pieces += float64(1 + i%2)
	}
	var order []int
	var width []float64
	total := 0.0
	for i, k := range inks {
		if i > 0 {
			order, width = append(order, i), append(width, k.Share)
		}
		order, width = append(order, 0), append(width, inks[0].Share*float64(1+i%2)/pieces)
		total += k.Share
	}
	out := make([]uint8, n)
	for i := range out {
		x := math.Abs(2*(float64(i)+.5)/float64(n)-1) * total
		for b, w := range width {
			out[i] = uint8(order[b])
			if x -= w; x < 0 {
				break
			}
		}
	}
	return out
}

// woven crosses the same order of yarns as warp and weft over size cm. Where
// yarns i and j cross, half of each shows: the mean of their light.
func woven(yarns []Ink, order []uint8, size float64) (tile, []Ink) {
	inks := append([]Ink(nil), yarns...)
	mixed := map[[2]uint8]uint8{}
	t := tile{nu: len(order), nv: len(order), du: size, dv: size, ink: make([]uint8, len(order)*len(order))}
	for j, b := range order {
		for i, a := range order {
			if a == b {
				t.ink[j*t.nu+i] = a
				continue
			}
			key := [2]uint8{min(a, b), max(a, b)}
			k, ok := mixed[key]
			if !ok {
				k = uint8(len(inks))
				mixed[key] = k
				inks = append(inks, Ink{Lab: mean([]Ink{yarns[a], yarns[b]}, []float64{.5, .5}).Lab()})
			}
			t.ink[j*t.nu+i] = k
		}
	}
	for i, s := range t.shares(len(inks)) {
		inks[i].Share = s
	}
	return t, inks
}
