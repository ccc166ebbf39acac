package grid

import (
	"math"

	"greige/analyze/photo"
)

// shrink is patch p drawn in on all sides, in the flat top.
func (g *Grid) shrink(p Patch, inset float64) []Point {
	inset = min(max(inset, 0), 0.45)
	// In true proportions, so that the inset is as wide across as down.
	tall := 1 / g.Aspect
	pts := make([]Point, len(p.flat))
	for i, q := range p.flat {
		pts[i] = Point{q[0], q[1] * tall}
	}
	side := func(i int) float64 {
		a, b := pts[i], pts[(i+1)%len(pts)]
		return math.Hypot(a[0]-b[0], a[1]-b[1])
	}
	if p.Triangle {
		// Moving all sides in by d shrinks a triangle towards the centre of
		// its incircle, by d over that circle's radius.
		a, b, c := side(1), side(2), side(0) // opposite to points 0, 1, 2
		sum := a + b + c
		centre := Point{(a*pts[0][0] + b*pts[1][0] + c*pts[2][0]) / sum, (a*pts[0][1] + b*pts[1][1] + c*pts[2][1]) / sum}
		area := math.Abs((pts[1][0]-pts[0][0])*(pts[2][1]-pts[0][1])-(pts[2][0]-pts[0][0])*(pts[1][1]-pts[0][1])) / 2
		square := g.latticeSide()
		keep := max(1-inset*square/(2*area/sum), 0.1)
		for i := range pts {
			for k := range 2 {
				pts[i][k] = centre[k] + keep*(pts[i][k]-centre[k])
			}
		}
	} else {
		d := inset * min(side(0), side(1))
		u := unit(pts[0], pts[1])
		v := unit(pts[0], pts[3])
		for i, s := range [4]Point{{d, d}, {-d, d}, {-d, -d}, {d, -d}} {
			pts[i][0] += s[0]*u[0] + s[1]*v[0]
			pts[i][1] += s[0]*u[1] + s[1]*v[1]
		}
	}
	for i := range pts {
		pts[i][1] /= tall
	}
	return pts
}

// latticeSide is the side of a square on point, in widths of the top: width
// and height together hold that many diagonals.
func (g *Grid) latticeSide() float64 {
	diagonals := g.Rows - 1
	if g.half {
		diagonals = g.Rows
	}
	return (1 + 1/g.Aspect) / float64(diagonals) / math.Sqrt2
}

func unit(a, b Point) Point {
	l := math.Hypot(b[0]-a[0], b[1]-a[1])
	return Point{(b[0] - a[0]) / l, (b[1] - a[1]) / l}
}

// Straighten is the top seen straight on, its outer corners in the corners of
// the new picture, whose longer side is at most maxSide pixels and not more
// than the picture p can fill. Each new pixel is the mean of the linear light
// of the pixels that it covers.
func (g *Grid) Straighten(p *photo.Picture, maxSide int) *photo.Picture {
	w, h := g.straightSize(maxSide)
	out := photo.New(w, h)
	if p.W < 1 || p.H < 1 {
		return out
	}
	// Positions are worked out at the corners of the new pixels; what a pixel
	// covers is sampled on a lattice fine enough to meet every pixel of p.
	photo.Bands(h, 32, func(from, to int) {
		above, below := make([]Point, w+1), make([]Point, w+1)
		line := func(dst []Point, y int) {
			for x := range dst {
				dst[x] = g.warp.at(Point{float64(x) / float64(w), float64(y) / float64(h)})
			}
		}
		line(above, from)
		for y := from; y < to; y++ {
			line(below, y+1)
			for x := range w {
				o := out.Pix[3*(y*w+x):]
				meanOver(p, above[x], above[x+1], below[x+1], below[x], o[:3:3])
			}
			above, below = below, above
		}
	})
	return out
}

// straightSize is the size of the straightened picture.
func (g *Grid) straightSize(maxSide int) (w, h int) {
	c := g.Corners
	side := func(i, j int) float64 { return math.Hypot(c[i][0]-c[j][0], c[i][1]-c[j][1]) }
	width := max(side(0, 1), side(3, 2), g.Aspect*max(side(1, 2), side(0, 3)))
	height := width / g.Aspect
	f := min(1, float64(max(maxSide, 1))/max(width, height))
	return max(1, int(math.Round(f*width))), max(1, int(math.Round(f*height)))
}

// meanOver is the mean light of p over a small quadrilateral. Parts beyond
// the picture count as its edge.
func meanOver(p *photo.Picture, a, b, c, d Point, out []float32) {
	across := max(math.Hypot(b[0]-a[0], b[1]-a[1]), math.Hypot(c[0]-d[0], c[1]-d[1]))
	down := max(math.Hypot(d[0]-a[0], d[1]-a[1]), math.Hypot(c[0]-b[0], c[1]-b[1]))
	nx, ny := samples(across), samples(down)
	var sum [3]float32
	for j := range ny {
		t := (float64(j) + .5) / float64(ny)
		for i := range nx {
			s := (float64(i) + .5) / float64(nx)
			x := (1-t)*((1-s)*a[0]+s*b[0]) + t*((1-s)*d[0]+s*c[0])
			y := (1-t)*((1-s)*a[1]+s*b[1]) + t*((1-s)*d[1]+s*c[1])
			addBilinear(p, x-.5, y-.5, &sum)
		}
	}
	n := float32(nx * ny)
	for k := range out {
		out[k] = sum[k] / n
	}
}

// samples is how many samples a length of that many pixels needs, so that the
// tents of the bilinear samples cover it without a gap.
func samples(length float64) int {
	if !(length > 1) {
		return 1
	}
	return int(math.Ceil(min(length, 64)))
}

// addBilinear adds the light between the four pixel centres round x, y.
func addBilinear(p *photo.Picture, x, y float64, sum *[3]float32) {
	x = min(max(x, 0), float64(p.W-1))
	y = min(max(y, 0), float64(p.H-1))
	x0, y0 := int(x), int(y)
	x1, y1 := min(x0+1, p.W-1), min(y0+1, p.H-1)
	fx, fy := float32(x-float64(x0)), float32(y-float64(y0))
	i00, i10 := 3*(y0*p.W+x0), 3*(y0*p.W+x1)
	i01, i11 := 3*(y1*p.W+x0), 3*(y1*p.W+x1)
	for k := range sum {
		up := (1-fx)*p.Pix[i00+k] + fx*p.Pix[i10+k]
		down := (1-fx)*p.Pix[i01+k] + fx*p.Pix[i11+k]
		sum[k] += (1-fy)*up + fy*down
	}
}
