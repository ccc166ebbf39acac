package photo

import "greige/analyze/raster"

// Bands does the work on the rows 0 to n-1 of something, on all processors,
// band rows at a time: from is the first of them, to the one behind the last.
// Bands must not depend on each other. Should work panic, Bands does so in its
// caller's place: who guards the caller guards all of it.
func Bands(n, band int, work func(from, to int)) { raster.Bands(n, band, work) }

// Both does two things at a time, where there are processors for it. A panic in
// one of them goes on in the caller, as with Bands.
func Both(one, other func()) {
	Bands(2, 1, func(from, to int) {
		for i := from; i < to; i++ {
			if i == 0 {
				one()
			} else {
				other()
			}
		}
	})
}

func eachRow(n int, do func(y int)) {
	Bands(n, 32, func(from, to int) {
		for y := from; y < to; y++ {
			do(y)
		}
	})
}
