package scraps

import "greige/analyze/photo"

// pair is two numbers in one word, in steps of 1/pairSteps: sums of pairs are
// pairs of sums, exact whatever their order, as long as neither leaves the
// 32 bits of its half: squares of eleven pixels of anything in CIELAB do not.
type pair int64

const pairSteps = 1024

func pairOf(a, b float32) pair { return pair(int32(a*pairSteps)) + pair(int32(b*pairSteps))<<32 }

func (p pair) parts() (a, b float32) {
	low := int32(p)
	return float32(low) * (1. / pairSteps), float32(int32((p-pair(low))>>32)) * (1. / pairSteps)
}

// overSquares sums planes of w x h pairs over squares of 2r+1 pixels, beyond
// the border 0, and hands the sums on row by row, in any order and on all
// processors: begin makes what takes the rows of one band, each with a row of
// sums for each plane.
func overSquares(planes [][]pair, w, h, r int, begin func() (take func(y int, sums [][]pair))) {
	photo.Bands(h, 64, func(y0, y1 int) {
		take := begin()
		// Sums down the columns, with nothing on either side.
		down, sums := make([][]pair, len(planes)), make([][]pair, len(planes))
		for k := range planes {
			down[k], sums[k] = make([]pair, w+2*r), make([]pair, w)
		}
		row := func(k, y int) []pair { return planes[k][y*w : (y+1)*w] }
		for y := y0; y < y1; y++ {
			for k := range planes {
				middle := down[k][r : r+w]
				if y == y0 {
					for v := max(y-r, 0); v < min(y+r, h); v++ {
						for x, p := range row(k, v) {
							middle[x] += p
						}
					}
				} else if v := y - r - 1; v >= 0 {
					for x, p := range row(k, v) {
						middle[x] -= p
					}
				}
				if v := y + r; v < h {
					for x, p := range row(k, v) {
						middle[x] += p
					}
				}
				slide(sums[k], down[k], r)
			}
			take(y, sums)
		}
	})
}

// slide sets dst to the sums of 2r+1 neighbours in src, which has r more at
// either end.
func slide(dst, src []pair, r int) {
	var sum pair
	for _, p := range src[:2*r] {
		sum += p
	}
	ahead := src[2*r:][:len(dst)]
	behind := src[:len(dst)]
	for x := range dst {
		sum += ahead[x]
		dst[x] = sum
		sum -= behind[x]
	}
}
