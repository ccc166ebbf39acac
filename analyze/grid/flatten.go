package grid

import (
	"math"
	"sync"

	"greige/analyze/photo"
)

// flattened is the picture seen straight on.
type flattened struct {
	*tones
	seen []bool              // pixels that lie in the picture
	at   func(p Point) Point // from pixels of the flattened picture to those of the tones

	adding, exchanging, halving sync.Once // of what is made when it is first asked for
	sums                        *columns
	exchanged, halved           *flattened
	stepping                    [len(scales)]sync.Once
	stepped                     [len(scales)][]stepBand
}

// resample makes a flattened picture of w x h pixels that shows at each place
// what t shows where at leads, bilinear between its pixels. at is smooth: it
// is worked out at every eighth pixel, and is as good as straight in between.
func resample(t *tones, w, h int, at func(Point) Point) *flattened {
	w, h = max(w, 1), max(h, 1)
	f := &flattened{tones: newTones(w, h), seen: make([]bool, w*h), at: at}
	const step = 8
	nx := (w+step-1)/step + 1
	line := func(y int) []Point {
		out := make([]Point, nx)
		for i := range out {
			out[i] = at(Point{float64(i*step) + .5, float64(y) + .5})
		}
		return out
	}
	photo.Bands((h+step-1)/step, 2, func(b0, b1 int) {
		above := line(b0 * step)
		for b := b0; b < b1; b++ {
			below := line((b + 1) * step)
			for j := b * step; j < min((b+1)*step, h); j++ {
				down := float64(j-b*step) / step
				for k := range nx - 1 {
					p := between(above[k], below[k], down)
					q := between(above[k+1], below[k+1], down)
					dx, dy := (q[0]-p[0])/step, (q[1]-p[1])/step
					i := k * step
					f.fill(t, j*w+i, j*w+min(i+step, w), Point{p[0] - .5, p[1] - .5}, Point{dx, dy})
				}
			}
			above = below
		}
	})
	return f
}

// between is the place at the share s of the way from p to q.
func between(p, q Point, s float64) Point {
	return Point{p[0] + s*(q[0]-p[0]), p[1] + s*(q[1]-p[1])}
}

// fill sets the pixels from o to end, of which the first lies at first between
// the pixel centres of t and each other a step further.
func (f *flattened) fill(t *tones, o, end int, first, step Point) {
	x, y, dx, dy := first[0], first[1], step[0], step[1]
	for ; o < end; o, x, y = o+1, x+dx, y+dy {
		if !(x >= 0 && y >= 0 && x < float64(t.w-1) && y < float64(t.h-1)) {
			continue
		}
		ix, iy := int(x), int(y)
		fx, fy := float32(x-float64(ix)), float32(y-float64(iy))
		f.seen[o] = true
		up, down := t.lab[iy*t.w+ix:], t.lab[(iy+1)*t.w+ix:]
		a, b, c, d := &up[0], &up[1], &down[0], &down[1]
		for k := range 3 {
			over, under := a[k]+fx*(b[k]-a[k]), c[k]+fx*(d[k]-c[k])
			f.lab[o][k] = over + fy*(under-over)
		}
	}
}

// shows is whether a place lies in the picture.
func (f *flattened) shows(x, y float64) bool {
	i, j := int(math.Floor(x)), int(math.Floor(y))
	return i >= 0 && j >= 0 && i < f.w && j < f.h && f.seen[j*f.w+i]
}

// straightened is the picture with its seams where the mesh that c was fitted to has
// its lines.
func (f *flattened) straightened(t *tones, c *curvature) *flattened {
	return resample(t, f.w, f.h, func(p Point) Point { return f.at(c.moved(p)) })
}

// turned is the picture turned by 45 degrees: what ran up to the right runs
// level.
func (f *flattened) turned(t *tones) *flattened {
	w, h := float64(f.w), float64(f.h)
	size := (w + h) / math.Sqrt2
	return resample(t, int(size), int(size), func(p Point) Point {
		x, y := p[0]-size/2, p[1]-size/2
		return f.at(Point{w/2 + (x+y)/math.Sqrt2, h/2 + (y-x)/math.Sqrt2})
	})
}
