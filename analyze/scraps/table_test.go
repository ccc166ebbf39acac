package scraps

import (
	"math"
	"testing"

	"greige/analyze/cloth"
	"greige/analyze/light"
	"greige/analyze/photo"
	"greige/colorspace"
)

// table is a small picture of pieces on a ground, drawn for a test.
type table struct {
	p      *photo.Picture
	pieces [][]point
}

// paint gives the colour of what lies at a place, in pixels.
type paint func(x, y int) colorspace.Lab

func plainOf(l, a, b float64) paint {
	c := colorspace.Lab{L: l, A: a, B: b}
	return func(int, int) colorspace.Lab { return c }
}

// hash is a number -1..1 that looks random and depends on its arguments alone.
func hash(x, y, n int) float64 {
	h := uint32(x)*0x9e3779b1 ^ uint32(y)*0x85ebca6b ^ uint32(n)*0xc2b2ae35
	h ^= h >> 15
	h *= 0x2c1b3c6d
	h ^= h >> 12
	h *= 0x297a2d39
	h ^= h >> 15
	return float64(h)/math.MaxUint32*2 - 1
}

// newTable is an empty ground.
func newTable(w, h int, ground paint) *table {
	t := &table{p: photo.New(w, h)}
	for y := range h {
		for x := range w {
			t.set(x, y, ground(x, y).Linear(), 1)
		}
	}
	return t
}

func (t *table) set(x, y int, c colorspace.Linear, share float64) {
	for k := range 3 {
		v := &t.p.Pix[3*(y*t.p.W+x)+k]
		*v += float32(share) * (float32(c[k]) - *v)
	}
}

// lay puts a piece on the ground, with a contact shadow of a third of the
// light at its edge that fades within some pixels.
func (t *table) lay(outline []point, with paint) {
	t.shade(outline, .35, 4)
	t.cover(outline, with)
	t.pieces = append(t.pieces, outline)
}

func (t *table) cover(outline []point, with paint) {
	r := cloth.Polygon(outline, t.p.W, t.p.H)
	for i, share := range r.Weight {
		if share > 0 {
			x, y := r.Bounds.Min.X+i%r.Bounds.Dx(), r.Bounds.Min.Y+i/r.Bounds.Dx()
			t.set(x, y, with(x, y).Linear(), float64(share))
		}
	}
}

func (t *table) shade(outline []point, depth, reach float64) {
	x0, y0, x1, y1 := t.p.W, t.p.H, 0, 0
	for _, q := range outline {
		x0, y0 = min(x0, int(q[0]-5*reach)), min(y0, int(q[1]-5*reach))
		x1, y1 = max(x1, int(q[0]+5*reach)), max(y1, int(q[1]+5*reach))
	}
	for y := max(y0, 0); y < min(y1, t.p.H); y++ {
		for x := max(x0, 0); x < min(x1, t.p.W); x++ {
			d := math.Inf(1)
			for i, a := range outline {
				d = min(d, toSegment(point{float64(x) + .5, float64(y) + .5}, a, outline[(i+1)%len(outline)]))
			}
			if d < 5*reach {
				t.set(x, y, colorspace.Linear{}, depth*math.Exp(-d/reach))
			}
		}
	}
}

// shoot adds a lamp from the upper left, half as bright at the other corner,
// and noise.
func (t *table) shoot() *light.Even {
	for y := range t.p.H {
		for x := range t.p.W {
			lamp := 1 - .4*(float64(x)/float64(t.p.W)+float64(y)/float64(t.p.H))/2
			for k := range 3 {
				t.p.Pix[3*(y*t.p.W+x)+k] *= float32(lamp * (1 + .01*hash(x, y, k)))
			}
		}
	}
	return &light.Even{Picture: t.p, Photo: &photo.Photo{Picture: t.p}}
}

// rect is a rectangle round a middle, turned by degrees.
func rect(x, y, w, h, degrees float64) []point {
	s, c := math.Sincos(degrees * math.Pi / 180)
	out := make([]point, 0, 4)
	for _, q := range [4]point{{-w / 2, -h / 2}, {w / 2, -h / 2}, {w / 2, h / 2}, {-w / 2, h / 2}} {
		out = append(out, point{x + c*q[0] - s*q[1], y + s*q[0] + c*q[1]})
	}
	return out
}

// overlap is the intersection over union of two outlines.
func overlap(a, b []point, w, h int) float64 {
	p, q := cloth.Polygon(a, w, h), cloth.Polygon(b, w, h)
	r := p.Bounds.Intersect(q.Bounds)
	both := 0.0
	for y := r.Min.Y; y < r.Max.Y; y++ {
		for x := r.Min.X; x < r.Max.X; x++ {
			both += float64(min(p.Weight[(y-p.Bounds.Min.Y)*p.Bounds.Dx()+x-p.Bounds.Min.X], q.Weight[(y-q.Bounds.Min.Y)*q.Bounds.Dx()+x-q.Bounds.Min.X]))
		}
	}
	return both / max(p.Area()+q.Area()-both, 1)
}

// check finds the pieces and counts those that overlap none that was laid.
func (t *table) check(tb testing.TB, f Found) (found, extra int) {
	tb.Helper()
	used := map[int]bool{}
	for _, truth := range t.pieces {
		for i, p := range f.Pieces {
			if !used[i] && !p.Doubtful && overlap(truth, p.Outline, t.p.W, t.p.H) >= .8 {
				used[i] = true
				found++
				break
			}
		}
	}
	for i, p := range f.Pieces {
		if !used[i] && !p.Doubtful {
			extra++
		}
	}
	return found, extra
}

// Grounds that scraps are spread on.

func sheet(x, y int) colorspace.Lab { return colorspace.Lab{L: 94} }

func ruled(base colorspace.Lab) paint {
	return func(x, y int) colorspace.Lab {
		if x%40 == 7 || y%40 == 11 {
			return colorspace.Lab{L: base.L + 25, A: base.A / 2, B: base.B / 2}
		}
		return base
	}
}

func wood(x, y int) colorspace.Lab {
	g := 2.5 * (hash(x/60, y, 1) + hash(x/25, y/2, 2))
	if y%150 == 0 {
		g -= 12 // between two planks
	}
	return colorspace.Lab{L: 55 + g, A: 11, B: 24}
}

func carpet(x, y int) colorspace.Lab {
	g := 2.5 * (hash(x, y, 3) + hash(x/3, y/3, 4))
	return colorspace.Lab{L: 60 + g, A: -8 + g/3, B: 5}
}

// dots is a print: figures of a pitch on a ground.
func dots(ground, figure colorspace.Lab, pitch int, share float64) paint {
	return func(x, y int) colorspace.Lab {
		dx, dy := float64(x%pitch)-float64(pitch)/2, float64(y%pitch)-float64(pitch)/2
		if math.Pi*(dx*dx+dy*dy) < share*float64(pitch*pitch) {
			return figure
		}
		return ground
	}
}

// basket lays a grid of pieces, each another cloth, and returns the table.
func basket(w, h, cols, rows int, gap float64, ground paint) *table {
	t := newTable(w, h, ground)
	cw, ch := float64(w)*.94/float64(cols), float64(h)*.94/float64(rows)
	for j := range rows {
		for i := range cols {
			n := j*cols + i
			hue := float64(n) * 2.4
			c := colorspace.Lab{L: 20 + math.Mod(float64(n)*23, 62), A: 34 * math.Cos(hue), B: 34 * math.Sin(hue)}
			with := plainOf(c.L, c.A, c.B)
			if n%3 == 1 {
				with = dots(c, colorspace.Lab{L: min(c.L+25, 92), A: c.B, B: c.A}, 12, .2)
			}
			x, y := float64(w)*.03+(float64(i)+.5)*cw, float64(h)*.03+(float64(j)+.5)*ch
			t.lay(rect(x, y, cw-gap, ch-gap, 0), with)
		}
	}
	return t
}
