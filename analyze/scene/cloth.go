package scene

import (
	"math"

	"greige/colorspace"
)

// Pattern is how the inks of a cloth lie.
type Pattern string

// The patterns. Scale is in cm; 0 means the usual size, given here.
const (
	Solid        Pattern = "solid"
	ToneOnTone   Pattern = "tone-on-tone" // a figure near its ground: one of the next three, by the seed; 2
	Scroll       Pattern = "scroll"
	Leaves       Pattern = "leaves"
	PinDots      Pattern = "pin dots"
	Dots         Pattern = "dots"   // from centre to centre; 1
	Sprigs       Pattern = "sprigs" // small print of stems, leaves and blossoms; 2.2
	LargeFigures Pattern = "large-scale print"
	HighContrast Pattern = "high-contrast print" // sprays of leaves; 2.5
	Stripe       Pattern = "stripe"              // one repeat; 2.5
	Plaid        Pattern = "plaid"               // one repeat; 6. Inks are yarns: where two cross, the cloth has their mean
	Gingham      Pattern = "gingham"             // side of a square; 0.6. Two yarns
	Check        Pattern = "check"               // side of a square; 0.5. Inks in turn, like a chessboard
	BorderPrint  Pattern = "border print"        // figures along the length (u); Scale is the width of the print; 28
)

// Ink is one colour of a cloth and the share of the cloth that it covers.
type Ink struct {
	Lab   colorspace.Lab
	Share float64 // 0..1; all of a cloth add up to 1
}

// Cloth is a cloth as it comes off the bolt. Inks[0] is the ground.
type Cloth struct {
	Name    string
	Pattern Pattern
	Inks    []Ink
	Scale   float64 // cm, see the patterns; 0 is the usual
	Weave   float64 // contrast of the yarns, 0 (paint) .. 0.3 (coarse linen); 0.1 is ordinary patchwork cotton
	Seed    uint64  // other figures of the same kind
}

// NewCloth is a patchwork cotton. The ground covers what the shares of the
// other inks, given in the same order, leave over. Colours that dyed cotton
// cannot have are brought to the nearest that it can (Dyed).
func NewCloth(name string, pattern Pattern, ground colorspace.Lab, others ...Ink) Cloth {
	c := Cloth{Name: name, Pattern: pattern, Weave: .1, Inks: []Ink{{Lab: Dyed(ground), Share: 1}}}
	for _, k := range others {
		c.Inks[0].Share -= k.Share
		c.Inks = append(c.Inks, Ink{Dyed(k.Lab), k.Share})
	}
	for i := range name { // another name, other figures
		c.Seed = hash(c.Seed, int(name[i]), i)
	}
	return c
}

// Dyed is the colour nearest to l that dyed cotton can send back: L* 12 to
// 95, and a reflectance of no component under 0.4 % (the surface itself
// scatters some white light) or over 95 %. Hue stays, chroma gives way.
// Common practice, no source.
func Dyed(l colorspace.Lab) colorspace.Lab {
	l.L = min(max(l.L, 12), 95)
	for range 200 {
		c := l.Linear()
		if min(c[0], c[1], c[2]) >= .004 && max(c[0], c[1], c[2]) <= .95 {
			break
		}
		l.A *= .98
		l.B *= .98
	}
	return l
}

// usual is a pattern's usual scale in cm.
func (p Pattern) usual() float64 {
	switch p {
	case ToneOnTone, Scroll, Leaves, PinDots:
		return 2
	case Sprigs:
		return 2.2
	case LargeFigures:
		return 7
	case HighContrast, Stripe:
		return 2.5
	case Plaid:
		return 6
	case Gingham:
		return .6
	case Check:
		return .5
	case BorderPrint:
		return 28
	}
	return 1
}

// fabric is a cloth made ready to be looked up: one repeat of its inks.
type fabric struct {
	tile  tile
	inks  []Ink
	light [][3]float32 // linear reflectance of each ink
	weave float32
}

// fabric weaves one repeat in steps of texel cm.
func (c Cloth) fabric(texel float64) *fabric {
	t, inks := c.repeat(texel)
	f := &fabric{tile: t, inks: inks, weave: float32(c.Weave)}
	for _, k := range inks {
		l := k.Lab.Linear()
		f.light = append(f.light, [3]float32{float32(l[0]), float32(l[1]), float32(l[2])})
	}
	return f
}

// Mean is the reflectance of the whole cloth: its inks by their shares, in
// linear light (Murray-Davies).
func (c Cloth) Mean() colorspace.Linear {
	f := c.fabric(c.fine())
	return mean(f.inks, f.tile.shares(len(f.inks)))
}

// Woven are the inks that can be seen in the cloth with the shares that its
// repeat really has: for a plaid the crossings of two yarns among them.
func (c Cloth) Woven() []Ink {
	f := c.fabric(c.fine())
	inks := append([]Ink(nil), f.inks...)
	for i, s := range f.tile.shares(len(inks)) {
		inks[i].Share = s
	}
	return inks
}

// fine is a texel that shows all that a pattern has.
func (c Cloth) fine() float64 {
	s := c.Scale
	if s <= 0 {
		s = c.Pattern.usual()
	}
	if c.Pattern == BorderPrint { // its figures are small against its width
		return s / 240
	}
	return s / 80
}

// Spread is the standard deviation of L* over the cloth once its light has
// been blurred by a Gaussian of the given sigma in cm (0: not at all). The
// weave does not count.
func (c Cloth) Spread(sigma float64) float64 {
	f := c.fabric(max(c.fine(), sigma/4))
	t := &f.tile
	y := make([]float64, len(t.ink))
	for i, k := range t.ink {
		y[i] = colorspace.Linear{float64(f.light[k][0]), float64(f.light[k][1]), float64(f.light[k][2])}.Y()
	}
	if sigma > 0 {
		y = blurWrapped(y, t.nu, t.nv, 1, sigma/t.du*float64(t.nu))
		y = blurWrapped(y, t.nv, t.nu, t.nu, sigma/t.dv*float64(t.nv))
	}
	var sum, square float64
	for _, v := range y {
		l := colorspace.Lightness(v)
		sum += l
		square += l * l
	}
	n := float64(len(y))
	return math.Sqrt(max(square/n-sum*sum/n/n, 0))
}

// blurWrapped blurs lines of n values that repeat, stride apart, by a
// Gaussian of sigma steps.
func blurWrapped(y []float64, n, lines, stride int, sigma float64) []float64 {
	if n == 1 {
		return y
	}
	r := int(math.Ceil(4 * sigma))
	w := make([]float64, n) // the kernel, wrapped onto one repeat
	total := 0.0
	for k := -r; k <= r; k++ {
		g := math.Exp(-float64(k*k) / (2 * sigma * sigma))
		w[wrap(k, n)] += g
		total += g
	}
	out := make([]float64, len(y))
	other := 1
	if stride == 1 {
		other = n
	}
	for l := range lines {
		for i := range n {
			s := 0.0
			for k, g := range w {
				s += g * y[l*other+wrap(i-k, n)*stride]
			}
			out[l*other+i*stride] = s / total
		}
	}
	return out
}

// mean is the light of some inks by their shares.
func mean(inks []Ink, shares []float64) colorspace.Linear {
	var m colorspace.Linear
	total := 0.0
	for i, k := range inks {
		l := k.Lab.Linear()
		for j := range m {
			m[j] += shares[i] * l[j]
		}
		total += shares[i]
	}
	for j := range m {
		m[j] /= total
	}
	return m
}
