package grid

import (
	"math"

	"greige/analyze/photo"
)

// shrink is patch p drawn in on all sides, in the flat top.
func (g *Grid) shrink(p Patch, inset float64) []Point {
	inset = min(max(inset, 0), 0.45) // so that a tenth is left
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
		keep := max(1-inset*square/(2*area/sum), 0.1) // so that a tenth is left
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
	across := make([]float64, w+1)
	for x := range across {
		across[x] = float64(x) / float64(w)
	}
	rows := g.warp.rows(across)
	photo.Bands(h, 32, func(from, to int) {
		above, below := make([]Point, w+1), make([]Point, w+1)
		rows(above, float64(from)/float64(h))
		for y := from; y < to; y++ {
			rows(below, float64(y+1)/float64(h))
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
	nx, ny := samples(a, b, d, c), samples(a, d, b, c)
	var sum [3]float32
	if nx == 1 && ny == 1 {
		addBilinear(p, (a[0]+b[0]+c[0]+d[0])/4-.5, (a[1]+b[1]+c[1]+d[1])/4-.5, &sum)
		copy(out, sum[:])
		return
	}
	for j := range ny {
		t := (float64(j) + .5) / float64(ny)
		from, to := between(a, d, t), between(b, c, t)
		for i := range nx {
			q := between(from, to, (float64(i)+.5)/float64(nx))
			addBilinear(p, q[0]-.5, q[1]-.5, &sum)
		}
	}
	n := 1 / float32(nx*ny)
	for k := range out {
		out[k] = sum[k] * n
	}
}

// sparse is how far apart samples may lie, in pixels: their bilinear tents, a pixel
// either way, then still weigh three quarters as much between them as on them.
const sparse = 1.25

// samples is how many samples the longer of the ways from a to b and from c to d
// needs, so that none lies further than sparse from the next.
func samples(a, b, c, d Point) int {
	u, v, x, y := b[0]-a[0], b[1]-a[1], d[0]-c[0], d[1]-c[1]
	length := max(u*u+v*v, x*x+y*y)
	if !(length > sparse*sparse) {
		return 1
	}
	return int(math.Ceil(min(math.Sqrt(length)/sparse, 64)))
}

// addBilinear adds the light between the four pixel centres round x, y.
func addBilinear(p *photo.Picture, x, y float64, sum *[3]float32) {
	x = min(max(x, 0), float64(p.W-1))
	y = min(max(y, 0), float64(p.H-1))
	x0, y0 := min(int(x), max(p.W-2, 0)), min(int(y), max(p.H-2, 0))
	fx, fy := float32(x-float64(x0)), float32(y-float64(y0))
	right, down := 3*min(1, p.W-1), 3*p.W*min(1, p.H-1)
	o := 3 * (y0*p.W + x0)
	up, low := p.Pix[o:o+right+3], p.Pix[o+down:o+down+right+3]
	for k := range sum {
		a := up[k] + fx*(up[right+k]-up[k])
		b := low[k] + fx*(low[right+k]-low[k])
		sum[k] += a + fy*(b-a)
	}
}
