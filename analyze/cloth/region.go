package cloth

import (
	"image"
	"math"

	"golang.org/x/image/vector"

	"greige/analyze/eye"
	"greige/analyze/photo"
)

// Region is the part of a working picture that one piece of cloth covers.
type Region struct {
	Bounds image.Rectangle
	// Weight is the share of each pixel of Bounds that belongs to the piece,
	// 0..1, row by row; nil when it covers Bounds wholly.
	Weight []float32
}

// Whole is the region of everything in a picture of w x h pixels.
func Whole(w, h int) Region { return Region{Bounds: image.Rect(0, 0, w, h)} }

// Polygon is the region inside a closed outline given in pixels of the working
// picture (x to the right, y down, the first pixel's corner at 0, 0), cut to
// a picture of w x h pixels. Pixels on its edge count by the share that lies
// inside. An outline of fewer than three points, or outside, is empty.
func Polygon(outline [][2]float64, w, h int) Region {
	if len(outline) < 3 {
		return Region{}
	}
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, p := range outline {
		x0, x1 = min(x0, p[0]), max(x1, p[0])
		y0, y1 = min(y0, p[1]), max(y1, p[1])
	}
	if !(x1-x0 < 1e6 && y1-y0 < 1e6) { // also NaN
		return Region{}
	}
	b := image.Rect(int(math.Floor(x0)), int(math.Floor(y0)), int(math.Ceil(x1)), int(math.Ceil(y1))).
		Intersect(image.Rect(0, 0, w, h))
	if b.Empty() {
		return Region{}
	}
	z := vector.NewRasterizer(b.Dx(), b.Dy())
	for i, p := range outline {
		x, y := float32(p[0]-float64(b.Min.X)), float32(p[1]-float64(b.Min.Y))
		if i == 0 {
			z.MoveTo(x, y)
		} else {
			z.LineTo(x, y)
		}
	}
	z.ClosePath()
	cover := image.NewAlpha(image.Rect(0, 0, b.Dx(), b.Dy()))
	z.Draw(cover, cover.Rect, image.Opaque, image.Point{})
	r := Region{Bounds: b, Weight: make([]float32, b.Dx()*b.Dy())}
	for i, a := range cover.Pix {
		r.Weight[i] = float32(a) / 255
	}
	return r
}

// Without is r less the given rectangles (a card and its rim, in pixels of
// the working picture).
func (r Region) Without(rects []image.Rectangle) Region {
	var w []float32
	for _, cut := range rects {
		cut = cut.Intersect(r.Bounds)
		if cut.Empty() {
			continue
		}
		if w == nil { // r's own stays as it is
			w = make([]float32, r.Bounds.Dx()*r.Bounds.Dy())
			if copy(w, r.Weight) == 0 {
				for i := range w {
					w[i] = 1
				}
			}
			r.Weight = w
		}
		for y := cut.Min.Y; y < cut.Max.Y; y++ {
			row := (y - r.Bounds.Min.Y) * r.Bounds.Dx()
			clear(w[row+cut.Min.X-r.Bounds.Min.X : row+cut.Max.X-r.Bounds.Min.X])
		}
	}
	return r
}

// Cut is the piece by itself: p within r's bounds, averaged in linear light
// down to at most maxSide pixels along its longer side, and how much of each
// pixel belongs to the piece, 0..1 (nil: all).
func (r Region) Cut(p *photo.Picture, maxSide int) (*photo.Picture, []float32) {
	q := cut(p, r, &photo.Picture{})
	return shrinkWithin(q.picture, q.weight, maxSide)
}

// shrinkWithin is eye.Shrink to at most maxSide pixels along the longer side.
func shrinkWithin(p *photo.Picture, weight []float32, maxSide int) (*photo.Picture, []float32) {
	long := max(p.W, p.H)
	if long <= maxSide {
		return p, weight
	}
	f := float64(maxSide) / float64(long)
	return eye.Shrink(p, weight, max(1, int(float64(p.W)*f+.5)), max(1, int(float64(p.H)*f+.5)))
}

// Shape is an outline, in pixels of the working picture, as shares of what the
// region's swatch shows, brought within 0..1: for Swatch.Shape. cards are what
// was known to be no cloth when it was measured.
func (r Region) Shape(outline [][2]float64, cards []image.Rectangle) [][2]float64 {
	b := beside(r.Bounds, cards)
	shape := make([][2]float64, len(outline))
	for i, p := range outline {
		shape[i] = [2]float64{
			min(max((p[0]-float64(b.Min.X))/float64(b.Dx()), 0), 1),
			min(max((p[1]-float64(b.Min.Y))/float64(b.Dy()), 0), 1),
		}
	}
	return shape
}

// Inside tells which pixels lie wholly, or nearly, inside a piece of the given
// weight: those whose colour is the cloth's and not mixed with a neighbour's.
// A nil weight gives nil: all of them.
func Inside(weight []float32) []bool {
	return new(Meter).insideOf(weight)
}

// insideOf is Inside, in m until the next call.
func (m *Meter) insideOf(weight []float32) []bool {
	if weight == nil {
		return nil
	}
	in := room(&m.inside, len(weight))
	for i, w := range weight {
		in[i] = w > .95
	}
	return in
}

// Area is the number of pixels that r covers.
func (r Region) Area() float64 {
	if r.Weight == nil {
		return float64(r.Bounds.Dx() * r.Bounds.Dy())
	}
	var a float64
	for _, w := range r.Weight {
		a += float64(w)
	}
	return a
}
