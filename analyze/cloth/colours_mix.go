package cloth

import (
	"math"
	"math/bits"
	"slices"

	"greige/colorspace"
)

// tagAll gives each flat and narrow pixel to the nearest ink, if one is near.
func (f *inkField) tagAll(inks []ink) {
	g := f.grid
	if g.inkTag == nil {
		g.inkTag = make([]uint8, len(g.votes))
		f.tag = make([]uint8, f.w*f.h)
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
	for _, i := range f.core {
		if f.kind[i] != mixed {
			f.tag[i] = g.inkTag[f.cell[i]]
		}
	}
}

// square is the squared distance of two colours in CIELAB.
func square(a, b colorspace.Lab) float64 { return sq(a.L-b.L) + sq(a.A-b.A) + sq(a.B-b.B) }

// measure tags the pixels and takes each ink's colour: the mean light of the
// pixels well inside its figures, or where they have no inside, of the
// narrow ones. Inks without any are left out.
func (f *inkField) measure(inks []ink) []ink {
	f.tagAll(inks)
	type sum struct {
		light colorspace.Linear
		n     int
	}
	deep, thin := make([]sum, len(inks)), make([]sum, len(inks))
	for _, i := range f.core {
		t := f.tag[i]
		if t == 0 {
			continue
		}
		s := &thin[t-1]
		if f.kind[i] == flat && f.deep(int(i), t) {
			s = &deep[t-1]
		}
		for c := range s.light {
			s.light[c] += float64(f.lin[3*int(i)+c])
		}
		s.n++
	}
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
// to each side, as bits.
func (f *inkField) nearBy() []uint32 {
	const reach = 3
	w, h := f.w, f.h
	across, out := make([]uint32, w*h), make([]uint32, w*h)
	line := make([]uint32, w+2*reach)
	for y := range h {
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
	for y := range h {
		dst := out[y*w : (y+1)*w]
		for j := max(y-reach, 0); j <= min(y+reach, h-1); j++ {
			for x, m := range across[j*w : (j+1)*w] {
				dst[x] |= m
			}
		}
	}
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
		n, explained := 0, 0
		for _, i := range f.core {
			if int(f.tag[i]) == k+1 {
				n++
				if f.between(int(i), inks, near[i]&kept&^(1<<k)) {
					explained++
				}
			}
		}
		if explained*10 < n*mixedShare {
			kept |= 1 << k
		}
	}
	var out []ink
	for i, k := range inks {
		if kept>>i&1 == 1 {
			out = append(out, k)
		}
	}
	return out
}

// mixedShare is how many tenths of a thin ink's pixels may be a mixture of
// their neighbours before all of it is taken for one.
const mixedShare = 4

// between tells whether pixel i may be a mixture of two inks of a set, its
// lightness and its colour each by a share of its own, as in a file that
// keeps colour more coarsely than lightness (JPEG 4:2:0).
func (f *inkField) between(i int, inks []ink, set uint32) bool {
	l, a, b := float64(f.lab[3*i])/labSteps, float64(f.lab[3*i+1])/labSteps, float64(f.lab[3*i+2])/labSteps
	bin := noiseBin(int32(f.lab[3*i]))
	noise, chroma := 2*f.lightNoise[bin], 2*f.chromaNoise[bin]
	for s := set; s != 0; s &= s - 1 {
		u := inks[bits.TrailingZeros32(s)].lab
		for r := s & (s - 1); r != 0; r &= r - 1 {
			v := inks[bits.TrailingZeros32(r)].lab
			span := math.Sqrt(square(u, v))
			if slack := noise + .12*span; l < min(u.L, v.L)-slack || l > max(u.L, v.L)+slack {
				continue
			}
			da, db := v.A-u.A, v.B-u.B
			t := 0.0
			if q := da*da + db*db; q > 0 {
				t = min(max(((a-u.A)*da+(b-u.B)*db)/q, 0), 1)
			}
			if math.Hypot(a-u.A-t*da, b-u.B-t*db) < chroma+.15*span {
				return true
			}
		}
	}
	return false
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
func (f *inkField) unmix(inks []ink) *mixture {
	m := &mixture{share: make([]float64, len(inks)), of: make([]uint8, f.w*f.h), pair: make([][2]uint8, f.w*f.h)}
	for i := range m.of {
		m.of[i] = NoInk
	}
	near := f.nearBy()
	all := uint32(1)<<len(inks) - 1
	// Areas are counted in steps, so that their order does not matter.
	const whole = 1 << 12
	area := make([]int64, len(inks))
	for _, i := range f.core {
		if t := f.tag[i]; t > 0 && !inks[t-1].thin() {
			area[t-1] += whole
			m.of[i] = t - 1
			m.pair[i] = [2]uint8{t - 1, t - 1}
			continue
		}
		a, b, part := f.split(int(i), inks, near[i], all)
		share := int64(part*whole + .5)
		area[a] += whole - share
		area[b] += share
		m.pair[i] = [2]uint8{uint8(a), uint8(b)}
		switch {
		case share <= whole*2/5:
			m.of[i] = uint8(a)
		case share >= whole*3/5:
			m.of[i] = uint8(b)
		}
	}
	for i, a := range area {
		m.share[i] = float64(a) / whole / float64(len(f.core))
	}
	return m
}

// split finds the two inks of a set whose mixture comes nearest to pixel i,
// and the part of the second. With fewer than two in the set, any may be the
// other.
func (f *inkField) split(i int, inks []ink, set, all uint32) (first, second int, part float64) {
	if set == 0 {
		set = all
	}
	other := set
	if set&(set-1) == 0 {
		other = all
	}
	noise := f.lightNoise[noiseBin(int32(f.lab[3*i]))]
	var p, weight [3]float64
	for c := range p {
		v := f.lin[3*i+c]
		p[c] = float64(v)
		s := float64(linearNoise(v, noise))
		weight[c] = 1 / (s * s)
	}
	best := math.Inf(1)
	first = bits.TrailingZeros32(set)
	second = first
	for s := set; s != 0; s &= s - 1 {
		a := bits.TrailingZeros32(s)
		for r := other; r != 0; r &= r - 1 {
			b := bits.TrailingZeros32(r)
			if b == a || other == set && b < a {
				continue
			}
			u, v := &inks[a].lin, &inks[b].lin
			var along, length float64
			for c := range p {
				d := v[c] - u[c]
				along += weight[c] * d * (p[c] - u[c])
				length += weight[c] * d * d
			}
			t := 0.0
			if length > 0 {
				t = min(max(along/length, 0), 1)
			}
			miss := 0.0
			for c := range p {
				e := p[c] - u[c] - t*(v[c]-u[c])
				miss += weight[c] * e * e
			}
			if miss < best {
				best, first, second, part = miss, a, b, t
			}
		}
	}
	return first, second, part
}
