package scraps

// What a pixel of the small picture shows, compared with the ground.
const (
	plain  = iota // the ground, in its light
	shaded        // as dark as the ground in a shadow, and of its colour
	other         // what the ground cannot look like in any light
)

// Limits in standard deviations of the ground's own pixels.
const (
	otherSigmas  = 5
	shadedSigmas = 3
)

// The ground is never taken to be more alike than this, in L* and in a*, b*:
// JPEG, the lens and the fit of the field leave as much.
const (
	leastL  = .6
	leastAB = .8
)

// A contact shadow keeps at least this share of the ground's L*+16: a third
// of the light, a deep shadow under a curled edge (the cube root of 0.34).
const deepest = .70

// tints: a shadow is lit by another light than the rest (the room's instead
// of the lamp's), so its colour may be off by this share of its depth in L*.
const tints = .10

func (o *stand) classify() []uint8 {
	class := make([]uint8, o.w*o.h)
	sl := float32(max(o.sd[0], leastL))
	sa, sb := float32(max(o.sd[1], leastAB)), float32(max(o.sd[2], leastAB))
	bands(o.h, func(y0, y1 int) {
		for i := y0 * o.w; i < y1*o.w; i++ {
			class[i] = o.classOf(i, sl, sa, sb)
		}
	})
	return class
}

func (o *stand) classOf(i int, sl, sa, sb float32) uint8 {
	l, a, b := o.dl[i], o.da[i], o.db[i]
	wide := float32(0)
	if l < 0 {
		wide = -tints / otherSigmas * l
	}
	if sq32(a/(sa+wide))+sq32(b/(sb+wide)) > otherSigmas*otherSigmas {
		return other
	}
	switch {
	case l > otherSigmas*sl || o.gl[i]+l < deepest*o.gl[i]-shadedSigmas*sl:
		return other
	case l < -shadedSigmas*sl:
		return shaded
	}
	return plain
}

func sq32(v float32) float32 { return v * v }
