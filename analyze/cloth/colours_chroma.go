package cloth

import (
	"math"

	"greige/analyze/photo"
	"greige/colorspace"
)

// Most JPEG files keep colour at half the resolution of lightness: the four
// pixels of a square of 2 x 2 share one. A thin line then has the lightness of
// its ink but the colour of a mixture with its surroundings. Where a picture
// still shows such squares (a photo that was not reduced), colour can be had
// back: along the edge between two inks it runs in a straight line with
// lightness, whose slope shows in the squares round about (He, Sun and Tang
// 2013, Guided image filtering, IEEE Trans. PAMI 35:1397). The mean of each
// square stays.

// withFineColour is p with its colour at the resolution of its lightness; p
// itself where it has that already.
func withFineColour(p *photo.Picture) *photo.Picture {
	if p.W < 8 || p.H < 8 || len(p.Pix) < 3*p.W*p.H {
		return p
	}
	e := &encoded{w: p.W, h: p.H, v: make([]float32, 3*p.W*p.H)}
	through := func(from, to []float32, curve *lookup) {
		photo.Bands(p.H, chromaBand, func(y0, y1 int) {
			curve.row(to[3*y0*p.W:3*y1*p.W], from[3*y0*p.W:])
		})
	}
	through(p.Pix, e.v, encodeCurve())
	x0, y0, ok := e.squares()
	if !ok {
		return p
	}
	e.refine(x0, y0)
	through(e.v, e.v, decodeCurve())
	return &photo.Picture{W: p.W, H: p.H, Pix: e.v}
}

// chromaBand is how many rows, of pixels or of squares, a processor takes at a time.
const chromaBand = 64

// encoded is a picture in the code values of its file, 0..1 (IEC 61966-2-1).
// Evening the light has multiplied each component by something smooth, which
// on code values is very nearly a factor too.
type encoded struct {
	w, h int
	v    []float32
	gain [3]float32 // of red, green and blue against green
}

// squares finds where the squares of one colour begin: x0 and y0 are 0 or 1.
// Within a square red, green and blue change in step, by gains that are the
// same everywhere; from square to square they do not.
func (e *encoded) squares() (x0, y0 int, ok bool) {
	const (
		rows  = 97 // about as many are looked at, and columns
		clear = .35
		least = 1e-6 // mean square of colour that changes at all
	)
	var found [2]int
	for axis := range 2 {
		next, across, along := 3, e.w, e.h
		if axis == 1 {
			next, across, along = 3*e.w, e.h, e.w
		}
		var sum [2]struct{ rg, bg, gg, rr, bb, n float64 }
		skip := 1 + along/rows
		for j := skip / 2; j < along; j += skip {
			for i := range across - 1 {
				o := 3 * (j*e.w + i)
				if axis == 1 {
					o = 3 * (i*e.w + j)
				}
				r, g, b := float64(e.v[o+next]-e.v[o]), float64(e.v[o+next+1]-e.v[o+1]), float64(e.v[o+next+2]-e.v[o+2])
				s := &sum[i%2]
				s.rg, s.bg, s.gg, s.rr, s.bb, s.n = s.rg+r*g, s.bg+b*g, s.gg+g*g, s.rr+r*r, s.bb+b*b, s.n+1
			}
		}
		var rest [2]float64
		for i, s := range sum {
			if s.gg == 0 || s.n == 0 {
				return 0, 0, false
			}
			rest[i] = (s.rr - s.rg*s.rg/s.gg + s.bb - s.bg*s.bg/s.gg) / s.n
		}
		begin := 0
		if rest[1] < rest[0] {
			begin = 1
		}
		if rest[1-begin] < least || rest[begin] > clear*rest[1-begin] {
			return 0, 0, false
		}
		found[axis] = begin
		s := sum[begin]
		e.gain = [3]float32{float32(s.rg / s.gg), 1, float32(s.bg / s.gg)}
	}
	for _, g := range e.gain {
		if !(g > .3 && g < 3) {
			return 0, 0, false
		}
	}
	return found[0], found[1], true
}

// refine gives each pixel of a square the colour that belongs to its own
// lightness.
func (e *encoded) refine(x0, y0 int) {
	q := e.squaresFrom(x0, y0)
	photo.Bands(q.down, chromaBand, func(from, to int) {
		for j := from; j < to; j++ {
			for i := range q.across {
				slope := q.slope(i, j)
				m := j*q.across + i
				for _, o := range e.pixels(2*i+x0, 2*j+y0) {
					v := e.luma(e.v[o : o+3])
					for c := range slope {
						e.v[o+c] = (v + q.colour[m][c] + slope[c]*(v-q.light[m])) * e.gain[c]
					}
				}
			}
		}
	})
}

// luma is the lightness that JPEG (JFIF) computes, with the weights of ITU-R
// BT.601, of components without their gain.
func (e *encoded) luma(v []float32) float32 {
	return .299*v[0]/e.gain[0] + .587*v[1] + .114*v[2]/e.gain[2]
}

// pixels are where the values of the square of 2 x 2 begin whose first pixel is x, y.
func (e *encoded) pixels(x, y int) [4]int {
	o := 3 * (y*e.w + x)
	return [4]int{o, o + 3, o + 3*e.w, o + 3*e.w + 3}
}

// squares are the means of a picture's squares of one colour, row by row.
type squares struct {
	across, down int
	light        []float32
	colour       [][3]float32 // component less lightness
}

// squaresFrom are the squares that begin at x0, y0.
func (e *encoded) squaresFrom(x0, y0 int) *squares {
	q := &squares{across: (e.w - x0) / 2, down: (e.h - y0) / 2}
	q.light, q.colour = make([]float32, q.across*q.down), make([][3]float32, q.across*q.down)
	photo.Bands(q.down, chromaBand, func(from, to int) {
		for j := from; j < to; j++ {
			for i := range q.across {
				var mean [3]float32
				for _, o := range e.pixels(2*i+x0, 2*j+y0) {
					for c := range mean {
						mean[c] += e.v[o+c] / 4
					}
				}
				n := j*q.across + i
				q.light[n] = e.luma(mean[:])
				for c := range mean {
					q.colour[n][c] = mean[c]/e.gain[c] - q.light[n]
				}
			}
		}
	})
	return q
}

// slope is how each component runs with lightness in the squares about i, j.
func (q *squares) slope(i, j int) (slope [3]float32) {
	// Lightness that varies less than this, squared, says nothing of colour:
	// some three codes of 255.
	const still = 9.0 / 255 / 255
	var n, l, ll float32
	var k, lk [3]float32
	for b := max(j-1, 0); b <= min(j+1, q.down-1); b++ {
		for a := max(i-1, 0); a <= min(i+1, q.across-1); a++ {
			m := b*q.across + a
			v := q.light[m]
			n, l, ll = n+1, l+v, ll+v*v
			for c, u := range q.colour[m] {
				k[c] += u
				lk[c] += v * u
			}
		}
	}
	varies := ll/n - l/n*l/n
	for c := range slope {
		slope[c] = (lk[c]/n - l/n*k[c]/n) / (max(varies, 0) + still)
	}
	return slope
}

// lookup is a curve as a table over -low .. high, with straight lines between.
type lookup struct {
	low, steps float32
	v          []float32
}

func newLookup(low, high float64, steps int, f func(float64) float64) *lookup {
	t := &lookup{low: float32(low), steps: float32(steps)}
	for i := range int((high-low)*float64(steps)) + 2 {
		t.v = append(t.v, float32(f(low+float64(i)/float64(steps))))
	}
	return t
}

// row sets to to the curve at each of from, which may be to itself.
func (t *lookup) row(to, from []float32) {
	low, steps, last := t.low, t.steps, float32(len(t.v)-2)
	for i, v := range from[:len(to)] {
		x := (v - low) * steps
		if !(x > 0) { // also not a number
			to[i] = t.v[0]
			continue
		}
		k := int32(min(x, last))
		v := t.v[k : k+2]
		to[i] = v[0] + (x-float32(k))*(v[1]-v[0])
	}
}

func encodeCurve() *lookup { return newLookup(-1.0/16, 1.5, 1<<14, colorspace.EncodeSRGB) }

func decodeCurve() *lookup {
	return newLookup(-.5, 1.5, 1<<12, func(v float64) float64 {
		return math.Copysign(colorspace.DecodeSRGB(math.Abs(v)), v)
	})
}
