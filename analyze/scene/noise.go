package scene

import "math"

// hash mixes a seed and two lattice coordinates to 64 even bits
// (the finaliser of SplitMix64, Steele, Lea and Flood 2014). Texture that is
// a function of its place, and not of the order of drawing, stays the same
// however the rows are shared out.
func hash(seed uint64, i, j int) uint64 {
	z := seed + 0x9e3779b97f4a7c15*uint64(int64(i)) + 0xd1b54a32d192ed03*uint64(int64(j))
	z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
	z = (z ^ z>>27) * 0x94d049bb133111eb
	return z ^ z>>31
}

// lattice is an even random number, -1..1, at a lattice point.
func lattice(seed uint64, i, j int) float64 {
	return float64(int64(hash(seed, i, j))) * (1.0 / (1 << 63))
}

// smooth is value noise of period 1: -1..1, mean 0, smooth between lattice
// points.
func smooth(seed uint64, x, y float64) float64 {
	fx, fy := math.Floor(x), math.Floor(y)
	i, j := int(fx), int(fy)
	return blend(x-fx, y-fy, lattice(seed, i, j), lattice(seed, i+1, j), lattice(seed, i, j+1), lattice(seed, i+1, j+1))
}

// smoothRepeat is value noise that repeats after nx and ny periods.
func smoothRepeat(seed uint64, x, y float64, nx, ny int) float64 {
	fx, fy := math.Floor(x), math.Floor(y)
	i, j := wrap(int(fx), nx), wrap(int(fy), ny)
	i1, j1 := wrap(i+1, nx), wrap(j+1, ny)
	return blend(x-fx, y-fy, lattice(seed, i, j), lattice(seed, i1, j), lattice(seed, i, j1), lattice(seed, i1, j1))
}

func blend(tx, ty, a, b, c, d float64) float64 {
	tx, ty = tx*tx*(3-2*tx), ty*ty*(3-2*ty)
	top, bottom := a+(b-a)*tx, c+(d-c)*tx
	return top + (bottom-top)*ty
}

// wrap is i modulo n, 0..n-1, for any i.
func wrap(i, n int) int {
	if i %= n; i < 0 {
		i += n
	}
	return i
}

// octaves adds value noise at p (cm) of halving period, from coarse (cm) down to what
// a pixel of the given footprint (cm) can still show, each octave weaker by
// fall. Finer octaves average out within a pixel, so they are left out.
func octaves(seed uint64, p point, coarse, footprint, fall float64, n int) float64 {
	sum, amp := 0.0, 1.0
	for k := range n {
		if coarse < 2*footprint {
			break
		}
		sum += amp * smooth(seed+uint64(k)*7919, p.x/coarse, p.y/coarse)
		coarse /= 2
		amp *= fall
	}
	return sum
}

// smoothstep rises from 0 at a to 1 at b.
func smoothstep(a, b, x float64) float64 {
	t := min(max((x-a)/(b-a), 0), 1)
	return t * t * (3 - 2*t)
}
