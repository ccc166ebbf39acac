package scene

import (
	"math"
	"runtime"
	"slices"
	"sort"
	"sync"
	"sync/atomic"
)

// edge is one side of an outline, going down.
type edge struct {
	y0, y1, x0, slope float64
	shape, body       int32
}

// edges of all outlines.
func (s *stage) edges() []edge {
	var out []edge
	for i := range s.shapes {
		for b, body := range s.shapes[i].bodies {
			for _, contour := range body {
				for k, p := range contour {
					e := edgeOf(p, contour[(k+1)%len(contour)])
					e.shape, e.body = int32(i), int32(b)
					out = append(out, e)
				}
			}
		}
	}
	return slices.DeleteFunc(out, func(e edge) bool { return !(e.y0 < e.y1) }) // no line crosses a level one
}

// edgeOf is the side from p to q, from its upper end.
func edgeOf(p, q point) edge {
	if p.y > q.y {
		p, q = q, p
	}
	return edge{y0: p.y, y1: q.y, x0: p.x, slope: (q.x - p.x) / (q.y - p.y)}
}

// scan finds which shape is seen along one line of a photo.
type scan struct {
	all    []edge
	active []edge
	cross  [][]float64 // by body, see body below
	bodies []int32     // first index into cross of each shape
	shapes []shape
}

func newScan(shapes []shape, all []edge) *scan {
	sc := &scan{all: all, shapes: shapes}
	n := int32(0)
	for i := range shapes {
		sc.bodies = append(sc.bodies, n)
		n += int32(len(shapes[i].bodies))
	}
	sc.cross = make([][]float64, n)
	return sc
}

// band keeps the edges that cross the rows lo..hi.
func (sc *scan) band(lo, hi float64) {
	sc.active = sc.active[:0]
	for _, e := range sc.all {
		if e.y0 < hi && e.y1 > lo {
			sc.active = append(sc.active, e)
		}
	}
}

// line writes, for each pixel, 1 + the index of the topmost shape at offset x
// of it, or 0.
func (sc *scan) line(y, offset float64, label []int32) {
	clear(label)
	for i := range sc.cross {
		sc.cross[i] = sc.cross[i][:0]
	}
	for i := range sc.active {
		if e := &sc.active[i]; e.y0 <= y && y < e.y1 {
			b := sc.bodies[e.shape] + e.body
			sc.cross[b] = append(sc.cross[b], e.x0+(y-e.y0)*e.slope)
		}
	}
	for i := range sc.shapes {
		for b := range sc.shapes[i].bodies {
			xs := sc.cross[int(sc.bodies[i])+b]
			sort.Float64s(xs)
			for k := 0; k+1 < len(xs); k += 2 {
				from := max(int(math.Ceil(xs[k]-offset)), 0)
				to := min(int(math.Ceil(xs[k+1]-offset)), len(label))
				for x := from; x < to; x++ {
					label[x] = int32(i + 1)
				}
			}
		}
	}
}

// bandRows is how many rows are worked on as one piece of work.
const bandRows = 16

// bands calls work for each band of n rows; every worker has a state.
func bands[S any](n, workers int, state func() S, work func(s S, lo, hi int)) {
	if workers < 1 {
		workers = runtime.GOMAXPROCS(0)
	}
	var next atomic.Int64
	var wg sync.WaitGroup
	for range workers {
		wg.Go(func() {
			s := state()
			for {
				lo := int(next.Add(1)-1) * bandRows
				if lo >= n {
					return
				}
				work(s, lo, min(lo+bandRows, n))
			}
		})
	}
	wg.Wait()
}
