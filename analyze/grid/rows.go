package grid

import (
	"runtime"
	"sync"
)

// inRows does work on 0..n in a few runs side by side. Each index is worked
// on alone, so the result does not depend on how they are shared out.
func inRows(n int, work func(from, to int)) {
	runs := min(runtime.GOMAXPROCS(0), 4)
	if n < 2*runs {
		work(0, n)
		return
	}
	var all sync.WaitGroup
	for k := range runs {
		all.Go(func() { work(k*n/runs, (k+1)*n/runs) })
	}
	all.Wait()
}
