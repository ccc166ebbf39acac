// Package raster has what every finder needs of pictures and masks: masks that
// know where they lie, connected components, morphology, distance transforms,
// sums over rectangles, watersheds, filters, contours, convex hulls and polygons.
// Masks and planes of numbers come in; masks, labels, numbers and polygons go
// out. The methods are the field's textbook ones, each named with its source.
// Pixel (x, y) covers the square from (x, y) to (x+1, y+1); y points down.
package raster

import (
	"runtime"
	"sync"
	"sync/atomic"
)

// Bands does the work on the rows 0 to n-1 of something, on all processors,
// band rows at a time: from is the first of them, to the one behind the last.
// Bands must not depend on each other. A panic in the work is raised again in
// the caller, so that who guards the caller guards all of it.
func Bands(n, band int, work func(from, to int)) {
	workers := min(runtime.GOMAXPROCS(0), (n+band-1)/max(band, 1))
	if workers <= 1 {
		if n > 0 {
			work(0, n)
		}
		return
	}
	var taken atomic.Int64
	var all sync.WaitGroup
	var fault any
	var once sync.Once
	for range workers {
		all.Go(func() {
			defer func() {
				if r := recover(); r != nil {
					once.Do(func() { fault = r })
				}
			}()
			for from := next(&taken, band); from < n; from = next(&taken, band) {
				work(from, min(from+band, n))
			}
		})
	}
	all.Wait()
	if fault != nil {
		panic(fault)
	}
}

func next(taken *atomic.Int64, band int) int { return int(taken.Add(int64(band))) - band }
