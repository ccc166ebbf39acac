package scene

import "greige/colorspace"

// Pattern is how the inks of a cloth lie.
type Pattern string

// The patterns; see patterns for their usual scales and what Scale counts.
const (
	Solid        Pattern = "solid"
	ToneOnTone   Pattern = "tone-on-tone" // a figure near its ground: one of the next three, by the seed
	Scroll       Pattern = "scroll"
	Leaves       Pattern = "leaves"
	PinDots      Pattern = "pin dots"
	Dots         Pattern = "dots"
	Sprigs       Pattern = "sprigs" // small print of stems, leaves and blossoms
	LargeFigures Pattern = "large-scale print"
	HighContrast Pattern = "high-contrast print" // sprays of leaves
	Stripe       Pattern = "stripe"
	Plaid        Pattern = "plaid"        // inks are yarns: where two cross, the cloth has their mean
	Gingham      Pattern = "gingham"      // two yarns
	Check        Pattern = "check"        // inks in turn, like a chessboard
	BorderPrint  Pattern = "border print" // figures along the length (u)
)

// patterns are what each pattern is like.
var patterns = map[Pattern]struct {
	scale  float64               // the usual one, cm
	repeat [2]float64            // of a print, in scales; 0: as many as it has figure inks
	draw   func(*drawing, Cloth) // a print's figures
}{
	Solid:        {scale: 1},
	ToneOnTone:   {2, [2]float64{4, 4}, (*drawing).toneOnTone},
	Scroll:       {2, [2]float64{4, 4}, (*drawing).toneOnTone},
	Leaves:       {2, [2]float64{4, 4}, (*drawing).toneOnTone},
	PinDots:      {2, [2]float64{4, 4}, (*drawing).toneOnTone},
	Dots:         {1, [2]float64{0, 1}, (*drawing).dots}, // from centre to centre
	Sprigs:       {2.2, [2]float64{4, 4}, (*drawing).sprigs},
	LargeFigures: {7, [2]float64{2.8, 2.8}, (*drawing).flowers},
	HighContrast: {2.5, [2]float64{4, 4}, (*drawing).sprays},
	Stripe:       {scale: 2.5},                               // one repeat
	Plaid:        {scale: 6},                                 // one repeat
	Gingham:      {scale: .6},                                // side of a square
	Check:        {scale: .5},                                // side of a square
	BorderPrint:  {28, [2]float64{.7, 1}, (*drawing).border}, // the width of the print
}

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
	Scale   float64 // cm, see patterns; 0 is the usual
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

// scale is Scale, or the pattern's usual one where that is 0.
func (c Cloth) scale() float64 {
	if c.Scale > 0 {
		return c.Scale
	}
	return patterns[c.Pattern].scale
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

// fine is a texel that shows all that a pattern has.
func (c Cloth) fine() float64 {
	if c.Pattern == BorderPrint { // its figures are small against its width
		return c.scale() / 240
	}
	return c.scale() / 80
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
