package cloth

import (
	"math"
	"math/bits"
	"slices"
	"sync/atomic"

	"greige/analyze/photo"
	"greige/colorspace"
)

// tagAll gives each flat and narrow pixel to the nearest ink, if one is near.
func (f *inkField) tagAll(inks []ink) {
	g := f.grid
	if g.inkTag == nil {
		g.inkTag = cleared(&f.inkTag, len(g.votes))
		cleared(&f.tag, f.w*f.h)
	}
	for c, v := range g.votes {
		if v == 0 {
			continue
		}
		at := g.middle(int32(c))
		best, near := 0, math.Inf(1)
		for i := range inks {
			if d := square(at, inks[i].lab); d < near {
				best, near = i, d
			}
		}
		b := noiseBin(int32(at.L * labSteps))
		reach := 3*(f.lightNoise[b]+f.chromaNoise[b]) + 3
		g.inkTag[c] = 0
		if near < reach*reach {
			g.inkTag[c] = uint8(best + 1)
		}
	}
	f.bands(0, f.h, func(from, to int) {
		for i := from * f.w; i < to*f.w; i++ {
			if f.kind[i] != mixed {
				f.tag[i] = g.inkTag[f.cell[i]]
			}
		}
	})
}

// square is the squared distance of two colours in CIELAB.
func square(a, b colorspace.Lab) float64 { return sq(a.L-b.L) + sq(a.A-b.A) + sq(a.B-b.B) }

// measure tags the pixels and takes each ink's colour: the mean light of the
// pixels well inside its figures, or where they have no inside, of the
// narrow ones. Inks without any are left out.
func (f *inkField) measure(inks []ink) []ink {
	f.tagAll(inks)
	deep, thin := f.lightOf(len(inks))
	var out []ink
	for i, k := range inks {
		s := deep[i]
		if s.n < minDeep {
			s = thin[i]
		}
		if s.n == 0 {
			continue
		}
		for c := range s.light {
			s.light[c] /= float64(s.n)
		}
		k.set(s.light)
		k.deep, k.narrow = deep[i].n, thin[i].n
		out = append(out, k)
	}
	if len(out) < len(inks) {
		return f.measure(out)
	}
	return out
}

// lightSum is the light of n pixels.
type lightSum struct {
	light colorspace.Linear
	n     int
}

func (s *lightSum) add(light colorspace.Linear, n int) {
	for c, v := range light {
		s.light[c] += v
	}
	s.n += n
}

// lightOf is the light of the pixels that are tagged with each of so many inks, well
// inside its figures and elsewhere. It is summed up band by band, so that the last
// bits are the same on any number of processors.
func (f *inkField) lightOf(inks int) (deep, thin []lightSum) {
	band := f.h
	if f.wide() {
		band = wideBand
	}
	parts := make([][2][]lightSum, (f.h+band-1)/band)
	photo.Bands(len(parts), 1, func(from, to int) {
		for b := from; b < to; b++ {
			deep, thin := make([]lightSum, inks), make([]lightSum, inks)
			for i := b * band * f.w; i < min((b+1)*band, f.h)*f.w; i++ {
				t := f.tag[i]
				if t == 0 {
					continue
				}
				s := &thin[t-1]
				if f.kind[i] == flat && f.deep(i, t) {
					s = &deep[t-1]
				}
				v := f.lin[3*i : 3*i+3]
				s.add(colorspace.Linear{float64(v[0]), float64(v[1]), float64(v[2])}, 1)
			}
			parts[b] = [2][]lightSum{deep, thin}
		}
	})
	deep, thin = parts[0][0], parts[0][1]
	for _, part := range parts[1:] {
		for k := range inks {
			deep[k].add(part[0][k].light, part[0][k].n)
			thin[k].add(part[1][k].light, part[1][k].n)
		}
	}
	return deep, thin
}

// deep tells whether all neighbours of a pixel that are known belong to its ink.
func (f *inkField) deep(i int, t uint8) bool {
	for j := i - f.w; j <= i+f.w; j += f.w {
		for _, n := range f.tag[j-1 : j+2] {
			if n != t {
				return false
			}
		}
	}
	return true
}

// nearBy is, for each pixel, the set of inks tagged within reach pixels of it
// to each side, as bits. The next call writes over it.
func (f *inkField) nearBy() []uint32 {
	const reach = 3
	w, h := f.w, f.h
	across, out := room(&f.across, w*h), cleared(&f.near, w*h)
	f.bands(0, h, func(from, to int) {
		line := make([]uint32, w+2*reach)
		for y := from; y < to; y++ {
			clear(line)
			for x, t := range f.tag[y*w : (y+1)*w] {
				if t > 0 {
					line[x+reach] = 1 << (t - 1)
				}
			}
			for x := range w {
				l := line[x : x+7]
				across[y*w+x] = l[0] | l[1] | l[2] | l[3] | l[4] | l[5] | l[6]
			}
		}
	})
	f.bands(0, h, func(from, to int) {
		for y := from; y < to; y++ {
			dst := out[y*w : (y+1)*w]
			for j := max(y-reach, 0); j <= min(y+reach, h-1); j++ {
				for x, m := range across[j*w : (j+1)*w] {
					dst[x] |= m
				}
			}
		}
	})
	return out
}

// prune drops the inks of thin figures that are no more than a mixture of the
// inks on either side: the way between two inks that a file's coarser colour
// bends, or a row of pixels that an edge happens to run along.
func (f *inkField) prune(inks []ink) []ink {
	var kept uint32
	var doubtful []int
	for i, k := range inks {
		if k.thin() {
			doubtful = append(doubtful, i)
		} else {
			kept |= 1 << i
		}
	}
	if len(doubtful) == 0 {
		return inks
	}
	slices.SortStableFunc(doubtful, func(a, b int) int { return inks[b].narrow - inks[a].narrow })
	near := f.nearBy()
	for _, k := range doubtful {
		if f.share(k, inks, func(i int) bool { return f.between(i, inks, near[i]&kept&^(1<<k)) }) < mixedShare {
			kept |= 1 << k
		}
	}
	var out []ink
	for i, k := range inks {
		if kept>>i&1 == 1 {
			out = append(out, k)
		}
	}
	if len(out) == len(inks) {
		return inks
	}
	return f.measure(out)
}

// mixedShare is how much of a thin ink's pixels may be a mixture of their
// neighbours before all of it is taken for one.
const mixedShare = .4

// share is the share of an ink's pixels, looked at here and there, that are so.
func (f *inkField) share(k int, inks []ink, so func(i int) bool) float64 {
	const look = 300
	step := 1 + (inks[k].narrow+inks[k].deep)/look
	n, yes := 0, 0
	for i, t := range f.tag {
		if int(t) != k+1 {
			continue
		}
		if n++; n%step == 0 && so(i) {
			yes++
		}
	}
	return float64(yes) / float64(max(n/step, 1))
}

// between tells whether pixel i may be a mixture of two inks of a set, its
// lightness and its colour each by a share of its own, as in a file that keeps
// colour more coarsely than lightness (JPEG 4:2:0).
func (f *inkField) between(i int, inks []ink, set uint32) bool {
	p := f.labAt(i)
	bin := noiseBin(int32(f.lab[3*i]))
	noise, chroma := 2*f.lightNoise[bin], 2*f.chromaNoise[bin]
	for s := set; s != 0; s &= s - 1 {
		u := inks[bits.TrailingZeros32(s)].lab
		for r := s & (s - 1); r != 0; r &= r - 1 {
			v := inks[bits.TrailingZeros32(r)].lab
			span := math.Sqrt(square(u, v))
			if slack := noise + .12*span; p.L < min(u.L, v.L)-slack || p.L > max(u.L, v.L)+slack {
				continue
			}
			da, db := v.A-u.A, v.B-u.B
			t := 0.0
			if q := da*da + db*db; q > 0 {
				t = min(max(((p.A-u.A)*da+(p.B-u.B)*db)/q, 0), 1)
			}
			if math.Hypot(p.A-u.A-t*da, p.B-u.B-t*db) < chroma+.15*span {
				return true
			}
		}
	}
	return false
}

// shades are the thin inks that may be another ink's blurred figures: mixtures
// of an ink that lies near by and of any other, or of two near by as between
// says. The rest comes as bits, the
// shades by their votes, most first.
func (f *inkField) shades(inks []ink) (rest uint32, shades []int) {
	var order []int
	for i, k := range inks {
		if k.thin() {
			order = append(order, i)
		}
	}
	rest = uint32(1)<<len(inks) - 1
	if len(order) < 2 {
		return rest, nil
	}
	slices.SortStableFunc(order, func(a, b int) int { return inks[a].votes - inks[b].votes })
	near := f.nearBy()
	for _, k := range order {
		others := rest &^ (1 << k)
		so := func(i int) bool {
			set := near[i] & others
			return f.mixes(i, inks, set, others) || f.between(i, inks, set)
		}
		if f.share(k, inks, so) > 1-mixedShare {
			rest = others
			shades = append(shades, k)
		}
	}
	slices.Reverse(shades)
	return rest, shades
}

// mixes tells whether pixel i is, nearly, a mixture of an ink of set and one
// of other.
func (f *inkField) mixes(i int, inks []ink, set, other uint32) bool {
	if set == 0 {
		return false
	}
	a, b, t := f.split(i, inks, set, other)
	var lin colorspace.Linear
	for c := range lin {
		lin[c] = (1-t)*inks[a].lin[c] + t*inks[b].lin[c]
	}
	bin := noiseBin(int32(f.lab[3*i]))
	slack := 2*math.Hypot(f.lightNoise[bin], f.chromaNoise[bin]) + .06*math.Sqrt(square(inks[a].lab, inks[b].lab))
	return square(f.labAt(i), lin.Lab()) < slack*slack
}

// mixture says what each pixel of the core is made of.
type mixture struct {
	share []float64  // of each ink, of the whole piece
	of    []uint8    // of each pixel: the ink that covers most of it, or NoInk
	pair  [][2]uint8 // of each pixel: the two inks that it was unmixed into; the same twice when it is pure
}

// unmix finds the areas. A pixel that shows an ink pure counts for it whole,
// as its neighbour across the edge does for the other; what lies between is
// divided, in linear light, between the two inks near by that explain it best.
// The next call writes over of and pair.
func (f *inkField) unmix(inks []ink) *mixture {
	m := &mixture{share: make([]float64, len(inks)), of: room(&f.of, f.w*f.h), pair: cleared(&f.pair, f.w*f.h)}
	for i := range m.of {
		m.of[i] = NoInk
	}
	if len(inks) == 1 { // all of it
		m.share[0] = 1
		for i, in := range f.core {
			if in {
				m.of[i] = 0
			}
		}
		return m
	}
	near := f.nearBy()
	var area [maxInks]atomic.Int64
	f.bands(0, f.h, func(from, to int) {
		var own [maxInks]int64
		f.unmixRows(m, inks, near, from, to, &own)
		for i := range inks {
			area[i].Add(own[i])
		}
	})
	for i := range inks {
		m.share[i] = float64(area[i].Load()) / wholePixel / float64(f.coreSize)
	}
	return m
}

// wholePixel is a pixel's area in steps: areas are counted in them, so that their
// order does not matter.
const wholePixel = 1 << 12

// unmixRows sets m's of and pair in the rows from, to behind the last, and adds each
// ink's steps of area. near is of nearBy.
func (f *inkField) unmixRows(m *mixture, inks []ink, near []uint32, from, to int, area *[maxInks]int64) {
	all := uint32(1)<<len(inks) - 1
	for i := from * f.w; i < to*f.w; i++ {
		if !f.core[i] {
			continue
		}
		if t := f.tag[i]; t > 0 && !inks[t-1].thin() {
			area[t-1] += wholePixel
			m.of[i] = t - 1
			m.pair[i] = [2]uint8{t - 1, t - 1}
			continue
		}
		if k := f.shaded(i, inks, near[i]); k >= 0 {
			area[k] += wholePixel
			m.of[i] = uint8(k)
			m.pair[i] = [2]uint8{uint8(k), uint8(k)}
			continue
		}
		set, other := near[i], near[i]
		if set == 0 {
			set = all
		}
		if other&(other-1) == 0 { // fewer than two: any may be the other
			other = all
		}
		a, b, part := f.split(i, inks, set, other)
		share := int64(part*wholePixel + .5)
		area[a] += wholePixel - share
		area[b] += share
		m.pair[i] = [2]uint8{uint8(a), uint8(b)}
		switch {
		case share <= wholePixel*2/5:
			m.of[i] = uint8(a)
		case share >= wholePixel*3/5:
			m.of[i] = uint8(b)
		}
	}
}

// shaded is the ink of a set that pixel i shows but for noise and the weave's
// shading, or -1. Without it the darker threads of a cloth would count as a
// little of whatever darker ink lies near by. Thin inks are left to split.
func (f *inkField) shaded(i int, inks []ink, set uint32) int {
	const reach = 3 // standard deviations
	p := f.labAt(i)
	bin := noiseBin(int32(f.lab[3*i]))
	light, chroma := reach*f.lightNoise[bin], reach*f.chromaNoise[bin]
	best, near := -1, 1.0
	for ; set != 0; set &= set - 1 {
		n := bits.TrailingZeros32(set)
		if inks[n].thin() {
			continue
		}
		k := inks[n].lab
		// Shading moves a colour towards black: a* and b* with L* + 16.
		s := (p.L + 16) / (k.L + 16)
		if d := sq((p.L-k.L)/light) + (sq(p.A-s*k.A)+sq(p.B-s*k.B))/sq(chroma); d < near {
			best, near = n, d
		}
	}
	return best
}

// split finds the two inks of a set whose mixture comes nearest to pixel i,
// or one of the set and one of other where that is not the same, and the part
// of the second.
func (f *inkField) split(i int, inks []ink, set, other uint32) (first, second int, part float64) {
	noise := f.lightNoise[noiseBin(int32(f.lab[3*i]))]
	var p, scale [3]float64 // 1 over the noise
	for c := range p {
		v := f.lin[3*i+c]
		p[c] = float64(v)
		scale[c] = 1 / float64(linearNoise(v, noise))
	}
	var to [maxInks][3]float64 // from the pixel to the ink
	for s := set | other; s != 0; s &= s - 1 {
		k := bits.TrailingZeros32(s)
		for c := range p {
			to[k][c] = (inks[k].lin[c] - p[c]) * scale[c]
		}
	}
	dot := func(a, b *[3]float64) float64 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }
	best := math.Inf(1)
	first = bits.TrailingZeros32(set)
	second = first
	for s := set; s != 0; s &= s - 1 {
		a := bits.TrailingZeros32(s)
		aa := dot(&to[a], &to[a])
		rest := other &^ (1 << a)
		if other == set {
			rest = s & (s - 1) // each pair once
		}
		for ; rest != 0; rest &= rest - 1 {
			b := bits.TrailingZeros32(rest)
			bb, ab := dot(&to[b], &to[b]), dot(&to[a], &to[b])
			t, length := 0.0, aa+bb-2*ab
			if length > 0 {
				t = min(max((aa-ab)/length, 0), 1)
			}
			if miss := aa + t*(t*length-2*(aa-ab)); miss < best {
				best, first, second, part = miss, a, b, t
			}
		}
	}
	return first, second, part
}
