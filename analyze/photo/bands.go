package photo

import (
	"runtime"
	"sync"
	"sync/atomic"
)

// Bands does the work on the rows 0 to n-1 of something, on all processors,
// band rows at a time: from is the first of them, to the one behind the last.
// Bands must not depend on each other. Should work panic, Bands does so in its
// caller's place: who guards the caller guards all of it.
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
			for {
				from := int(taken.Add(int64(band))) - band
				if from >= n {
					return
				}
				work(from, min(from+band, n))
			}
		})
	}
	all.Wait()
	if fault != nil {
		panic(fault)
	}
}

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

// eachRow does the rows 0 to n-1 on all processors.
func eachRow(n int, do func(y int)) {
	Bands(n, 32, func(from, to int) {
		for y := from; y < to; y++ {
			do(y)
		}
	})
}
