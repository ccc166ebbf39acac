package scraps

import (
	"greige/analyze/photo"
)

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

// classify classes the pixels; rung: strong colours may ring into the ground.
func (o *stand) classify(c *cells, g *ground, rung bool) []uint8 {
	class := make([]uint8, o.w*o.h)
	var a, b []float32
	strongest := func(r int) {
		if rung {
			a, b = o.strongest(o.da, r), o.strongest(o.db, r)
		}
	}
	strongest(0)
	photo.Bands(o.h, 16, func(y0, y1 int) {
		for i := y0 * o.w; i < y1*o.w; i++ {
			class[i] = classOf(o.dl[i], o.unrung(a, i, o.da[i]), o.unrung(b, i, o.db[i]), o.gl[i], &o.sd)
		}
	})
	// A cloth that is nearly the ground's colour differs by less than the
	// ground's grain does from pixel to pixel, but it differs all over.
	for _, r := range [...]int{2, 5} {
		mean := o.smoothed(class, r)
		mean.deviate(c, g)
		strongest(r)
		photo.Bands(o.h, 16, func(y0, y1 int) {
			for i := y0 * o.w; i < y1*o.w; i++ {
				if class[i] != other {
					class[i] = max(class[i], classOf(mean.dl[i], o.unrung(a, i, mean.da[i]), o.unrung(b, i, mean.db[i]), o.gl[i], &mean.sd))
				}
			}
		})
	}
	return class
}

// smoothed is the mean of o over squares of 2r+1 pixels, leaving out those
// that are other already, so that these do not rub off. Where few are left it
// is 0.
func (o *stand) smoothed(class []uint8, r int) *stand {
	n := o.w * o.h
	sums := make([][4]float32, n)
	photo.Bands(o.h, 16, func(y0, y1 int) {
		for i := y0 * o.w; i < y1*o.w; i++ {
			if class[i] != other {
				sums[i] = [4]float32{o.dl[i], o.da[i], o.db[i], 1}
			}
		}
	})
	sums = runningMean(sums, o.w, o.h, r)
	m := &stand{w: o.w, h: o.h, dl: make([]float32, n), da: make([]float32, n), db: make([]float32, n), gl: o.gl}
	photo.Bands(o.h, 16, func(y0, y1 int) {
		for i := y0 * o.w; i < y1*o.w; i++ {
			if s := &sums[i]; s[3] > .4 {
				m.dl[i], m.da[i], m.db[i] = s[0]/s[3], s[1]/s[3], s[2]/s[3]
			}
		}
	})
	return m
}

// classOf tells what stands off the ground, whose L*+16 is gl, by l, a and b.
func classOf(l, a, b, gl float32, sd *[3]float64) uint8 {
	sl, sa, sb := float32(max(sd[0], leastL)), float32(max(sd[1], leastAB)), float32(max(sd[2], leastAB))
	wide := float32(0)
	if l < 0 {
		wide = -tints / otherSigmas * l
	}
	if sq32(a/(sa+wide))+sq32(b/(sb+wide)) > otherSigmas*otherSigmas {
		return other
	}
	switch {
	case l > otherSigmas*sl || gl+l < deepest*gl-shadedSigmas*sl:
		return other
	case l < -shadedSigmas*sl:
		return shaded
	}
	return plain
}

func sq32(v float32) float32 { return v * v }
