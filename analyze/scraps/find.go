package scraps

import (
	"slices"

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

// classify classes the pixels. If raw is given, their classes without ringing,
// strong colours may have rung into the ground, and only what raw calls other
// is looked at again: no pixel is farther from the ground for what rang into it
// being taken away.
func (o *stand) classify(c *cells, g *ground, raw []uint8) []uint8 {
	var strong *strengths
	if raw != nil {
		strong = o.strengths()
	}
	settled := func(i int) bool { return raw != nil && raw[i] != other }
	n := o.w * o.h
	class := make([]uint8, n)
	// What is no other: dl with da, and db with how many.
	planes := o.pairPlanes()
	off := limitsOf(&o.sd)
	photo.Bands(o.h, 16, func(y0, y1 int) {
		ringing := o.ringing(strong, 0)
		for y := y0; y < y1; y++ {
			ringing.goTo(y)
			for i, x := y*o.w, 0; x < o.w; i, x = i+1, x+1 {
				if settled(i) {
					class[i] = raw[i]
				} else {
					class[i] = off.classOf(o.dl[i], ringing.less(x, o.da[i]), ringing.less(x, o.db[i]), o.gl[i])
				}
				if class[i] != other {
					planes[0][i], planes[1][i] = pairOf(o.dl[i], o.da[i]), pairOf(o.db[i], 1)
				} else {
					planes[0][i], planes[1][i] = 0, 0
				}
			}
		}
	})
	// A cloth that is nearly the ground's colour differs by less than the
	// ground's grain does from pixel to pixel, but it differs all over: by the
	// mean of what is not other already, so that this does not rub off.
	for _, r := range [...]int{2, 5} {
		sd := o.deviation(c, g, 3, func(i int) (l, a, b float32) { return o.meanAt(planes, i, r) })
		off := limitsOf(&sd)
		next := slices.Clone(class)
		overSquares(planes, o.w, o.h, r, func() func(y int, sums [][]pair) {
			ringing := o.ringing(strong, r)
			return func(y int, sums [][]pair) {
				ringing.goTo(y)
				for i, x := y*o.w, 0; x < o.w; i, x = i+1, x+1 {
					if class[i] == other || settled(i) {
						continue
					}
					if l, a, b := meanOf(sums[0][x], sums[1][x], r); l != 0 || a != 0 || b != 0 {
						next[i] = max(class[i], off.classOf(l, ringing.less(x, a), ringing.less(x, b), o.gl[i]))
					}
				}
			}
		})
		class = next
		for i, k := range class {
			if k == other {
				planes[0][i], planes[1][i] = 0, 0
			}
		}
	}
	return class
}

// meanOf is the mean of l, a and b over a square of 2r+1 pixels, by the sums
// of l and a and of b and how many; 0 where few are left.
func meanOf(la, bn pair, r int) (l, a, b float32) {
	b, n := bn.parts()
	if n <= .4*float32((2*r+1)*(2*r+1)) {
		return 0, 0, 0
	}
	l, a = la.parts()
	n = 1 / n
	return l * n, a * n, b * n
}

// meanAt is meanOf for the square about pixel i.
func (o *stand) meanAt(planes [][]pair, i, r int) (l, a, b float32) {
	x, y := i%o.w, i/o.w
	x0, x1 := max(x-r, 0), min(x+r+1, o.w)
	var la, bn pair
	for v := max(y-r, 0); v < min(y+r+1, o.h); v++ {
		for _, p := range planes[0][v*o.w+x0 : v*o.w+x1] {
			la += p
		}
		for _, p := range planes[1][v*o.w+x0 : v*o.w+x1] {
			bn += p
		}
	}
	return meanOf(la, bn, r)
}

// limits are how far the ground's own pixels stand off it, in L*, a* and b*.
type limits struct{ l, a, b float32 }

// limitsOf are the limits by the standard deviations of the ground's pixels.
func limitsOf(sd *[3]float64) limits {
	return limits{float32(max(sd[0], leastL)), float32(max(sd[1], leastAB)), float32(max(sd[2], leastAB))}
}

// classOf tells what stands off the ground, whose L*+16 is gl and whose
// pixels' standard deviations are sd, by l, a and b.
func classOf(l, a, b, gl float32, sd *[3]float64) uint8 { return limitsOf(sd).classOf(l, a, b, gl) }

func (s limits) classOf(l, a, b, gl float32) uint8 {
	sa, sb := s.a, s.b
	if l < 0 {
		wide := -tints / otherSigmas * l
		sa, sb = sa+wide, sb+wide
	}
	// The sum of (a/sa)^2 and (b/sb)^2, without dividing.
	if a, b, most := a*sb, b*sa, otherSigmas*sa*sb; a*a+b*b > most*most {
		return other
	}
	switch {
	case l > otherSigmas*s.l || gl+l < deepest*gl-shadedSigmas*s.l:
		return other
	case l < -shadedSigmas*s.l:
		return shaded
	}
	return plain
}

func sq32(v float32) float32 { return v * v }
