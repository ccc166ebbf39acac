package grid

import "sort"

// warp takes the flat top, 0..1 both ways, to the picture: the homography of
// the plane, and on top of it the bend of the cloth, given at the nodes of a
// mesh and bilinear between them, so that edges between nodes stay straight.
type warp struct {
	plane  homography
	xs, ys []float64 // of the mesh, rising; nil where there is no bend
	bend   []Point   // len(ys) x len(xs), by rows; pixels
}

// at maps one point.
func (w *warp) at(p Point) Point {
	var to [1]Point
	w.rows(p[:1])(to[:], p[1])
	return to[0]
}

// locate is the interval of xs (at least two, rising) that x lies in and how
// far along it, 0..1.
func locate(xs []float64, x float64) (int, float64) {
	i := min(max(sort.SearchFloat64s(xs, x)-1, 0), len(xs)-2)
	return i, min(max((x-xs[i])/(xs[i+1]-xs[i]), 0), 1)
}

// rows maps rows of the flat top: what it returns sets to where the places xs go
// in the row at y. Beyond the mesh the bend goes on as at its edge.
func (w *warp) rows(xs []float64) func(to []Point, y float64) {
	type place struct {
		at    int
		share float64
	}
	var places []place
	if w.bend != nil {
		for _, x := range xs {
			i, a := locate(w.xs, x)
			places = append(places, place{i, a})
		}
	}
	return func(to []Point, y float64) {
		for k, x := range xs {
			to[k] = w.plane.Map(Point{x, y})
		}
		if w.bend == nil {
			return
		}
		j, b := locate(w.ys, y)
		n := len(w.xs)
		bend := make([]Point, n)
		for i := range bend {
			bend[i] = between(w.bend[j*n+i], w.bend[(j+1)*n+i], b)
		}
		for k, p := range places {
			d := between(bend[p.at], bend[p.at+1], p.share)
			to[k][0] += d[0]
			to[k][1] += d[1]
		}
	}
}

func (w *warp) all(flat []Point) []Point {
	out := make([]Point, len(flat))
	for i, p := range flat {
		out[i] = w.at(p)
	}
	return out
}
