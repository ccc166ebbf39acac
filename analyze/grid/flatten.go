package grid

import (
	"math"
	"sync"

	"greige/analyze/photo"
)

// view is the way from the flat plane in which seams run level and upright,
// evenly spaced, to the picture. Its lengths are half diagonals of the
// picture; at the middle of the picture one is as long in both.
type view struct {
	pose
	camera   Homography // flat to the bundles' axes
	back     Homography
	sin, cos float64
	half     float64 // pixels to half a diagonal
	midX     float64
	midY     float64
}

// viewOf joins two bundles to one view of a picture of w x h pixels. Both
// vanishing points make a homography but for the scale of its two axes
// (Hartley and Zisserman 2004, section 8.6): that is chosen to be 1 at the
// middle.
func viewOf(p pose, w, h int) (*view, bool) {
	l1 := 1 / math.Sqrt(1+p.along.a*p.along.a)
	l2 := 1 / math.Sqrt(1+p.down.a*p.down.a)
	v := &view{pose: p,
		camera: Homography{
			l1, l2 * p.down.a, 0,
			l1 * p.along.a, l2, 0,
			-l1 * p.along.b, -l2 * p.down.b, 1,
		},
		half: math.Hypot(float64(w), float64(h)) / 2,
		midX: float64(w) / 2, midY: float64(h) / 2,
	}
	v.sin, v.cos = math.Sincos(p.setting.base())
	var ok bool
	v.back, ok = v.camera.Inverse()
	return v, ok
}

// picture is where a place of the flat plane lies in the picture, in pixels.
func (v *view) picture(p Point) Point {
	q := v.camera.Map(p)
	s, t := q[0], q[1]
	x := (s + t*t/2*v.down.c) / (1 - t*t/2*v.down.d)
	y := (t + s*s/2*v.along.c) / (1 - s*s/2*v.along.d)
	return Point{v.midX + v.half*(v.cos*x-v.sin*y), v.midY + v.half*(v.sin*x+v.cos*y)}
}

// flat is where a place of the picture, in pixels, lies in the flat plane.
func (v *view) flat(p Point) Point {
	px, py := (p[0]-v.midX)/v.half, (p[1]-v.midY)/v.half
	x, y := v.cos*px+v.sin*py, -v.sin*px+v.cos*py
	s, t := x, y
	for range 3 {
		s = x - t*t/2*(v.down.c+v.down.d*x)
		t = y - s*s/2*(v.along.c+v.along.d*y)
	}
	return v.back.Map(Point{s, t})
}

// flattened is the picture seen straight on.
type flattened struct {
	*tones
	seen []bool              // pixels that lie in the picture
	at   func(p Point) Point // from pixels of the flattened picture to those of the tones

	once sync.Once
	sums *columns
}

// flatten resamples t so that the seams run level and upright, to about so
// many pixels. Places that the picture does not show are not seen.
func (v *view) flatten(t *tones, pixels float64) *flattened {
	// The bounds of the picture's own outline in the flat plane.
	lo, hi := Point{9, 9}, Point{-9, -9}
	for k := range 33 {
		f := float64(k) / 32
		w, h := float64(t.w), float64(t.h)
		for _, p := range []Point{{f * w, 0}, {f * w, h}, {0, f * h}, {w, f * h}} {
			q := v.flat(p)
			for i := range q {
				// A view from very low would reach to the horizon.
				c := min(max(q[i], -2), 2)
				lo[i], hi[i] = min(lo[i], c), max(hi[i], c)
			}
		}
	}
	step := 1 / v.half
	if area := (hi[0] - lo[0]) * (hi[1] - lo[1]) * v.half * v.half; area > pixels {
		step *= math.Sqrt(area / pixels)
	}
	return resample(t, int(math.Ceil((hi[0]-lo[0])/step)), int(math.Ceil((hi[1]-lo[1])/step)), func(p Point) Point {
		return v.picture(Point{lo[0] + p[0]*step, lo[1] + p[1]*step})
	})
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
					f.fill(t, j*w+i, j*w+min(i+step, w), p[0]-.5, p[1]-.5, dx, dy)
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

// fill sets the pixels from o to end, of which the first lies at x, y between
// the pixel centres of t and each other dx, dy further.
func (f *flattened) fill(t *tones, o, end int, x, y, dx, dy float64) {
	for ; o < end; o, x, y = o+1, x+dx, y+dy {
		if !(x >= 0 && y >= 0 && x < float64(t.w-1) && y < float64(t.h-1)) {
			continue
		}
		ix, iy := int(x), int(y)
		fx, fy := float32(x-float64(ix)), float32(y-float64(iy))
		f.seen[o] = true
		s := iy*t.w + ix
		for k := range 3 {
			a := t.plane[k][s : s+t.w+2]
			up := (1-fx)*a[0] + fx*a[1]
			down := (1-fx)*a[t.w] + fx*a[t.w+1]
			f.plane[k][o] = (1-fy)*up + fy*down
		}
	}
}

// bowed is the picture with its seams where the net that b was fitted to has
// its lines.
func (f *flattened) bowed(t *tones, b *bow) *flattened {
	return resample(t, f.w, f.h, func(p Point) Point { return f.at(b.moved(p)) })
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
