package grid

import (
	"math"

	"greige/analyze/fit"
	"greige/analyze/ground"
	"greige/analyze/photo"
	"greige/analyze/raster"
)

// outline is where a top ends on what lies behind it: a curve for each side,
// in pixels of the tones. A top that hangs sags, so its sides are parabolas.
type outline struct {
	// y = f(x) of the upper and the lower side, x = f(y) of the left and the
	// right one.
	upper, lower, left, right parabola
	corners                   [4]Point
}

// parabola is a + b t + c t^2.
type parabola struct{ a, b, c float64 }

func (p parabola) at(t float64) float64 { return p.a + t*(p.b+t*p.c) }

// cellSize is the inexactness of a side before it is refined, in pixels: two of the
// picture that the ground is found in.
const cellSize = 2 * shrunk

const (
	// shrunk is how much smaller the picture is in which the ground is looked for: a
	// side is found there to a pixel or two, and refined in the picture itself.
	shrunk = 3
	// leastTop is how much of the picture a top takes at least: a fifth of it each way.
	leastTop = .04
)

// outlineOf finds where a top ends on what lies behind it, if that is plain
// enough: the largest component of what is none of the ground has four sides. p is
// the picture whose tones t are.
func outlineOf(p *photo.Picture, t *tones) (*outline, bool) {
	q := p.Resample(max(p.W/shrunk, 1), max(p.H/shrunk, 1))
	if min(q.W, q.H) < 8*cellSize/shrunk {
		return nil, false
	}
	g := ground.Find(ground.NewPicture(q.Pix, q.W, q.H), nil)
	if g == nil {
		return nil, false
	}
	other := raster.NewMask(g.Member.Bounds)
	for i, d := range g.Distance {
		other.In[i] = d > ground.Seen
	}
	top, ok := other.Opened(1).Largest(raster.Sides) // without threads and noise of a pixel
	if !ok || float64(top.Pixels) < leastTop*float64(q.W*q.H) {
		return nil, false
	}
	o := &outline{}
	places := firstOf(&top, q.W, q.H)
	for k, side := range []*parabola{&o.upper, &o.lower, &o.left, &o.right} {
		f, ok := sideThrough(places[k])
		if !ok {
			return nil, false
		}
		size := float64(t.w) / float64(q.W)
		*side = parabola{f.a * size, f.b, f.c / size}
	}
	for range 2 {
		if !o.meet() {
			return nil, false
		}
		o.refine(t)
	}
	return o, o.meet()
}

// firstOf are the places where a component in a picture of w x h pixels begins,
// seen from above, from below, from the left and from the right: along the side, and
// from the picture's upper or left edge.
func firstOf(c *raster.Component, w, h int) (places [4][]Point) {
	upper, lower, left, right := make([]int, w), make([]int, w), make([]int, h), make([]int, h)
	for _, r := range c.Runs {
		for x := r.X0; x < r.X1; x++ {
			if lower[x] == 0 {
				upper[x] = r.Y
			}
			lower[x] = r.Y + 1
		}
		if right[r.Y] == 0 {
			left[r.Y] = r.X0
		}
		left[r.Y], right[r.Y] = min(left[r.Y], r.X0), max(right[r.Y], r.X1)
	}
	ends := func(first, last []int) (begins, ends []Point) {
		for i, e := range last {
			if e > 0 {
				begins, ends = append(begins, Point{float64(i) + .5, float64(first[i])}), append(ends, Point{float64(i) + .5, float64(e)})
			}
		}
		return begins, ends
	}
	places[0], places[1] = ends(upper, lower)
	places[2], places[3] = ends(left, right)
	return places
}

// refine moves the sides to where the ground ends, in pixels.
func (o *outline) refine(t *tones) {
	o.upper = refined(t, o.upper, o.corners[0][0], o.corners[1][0], false, 1)
	o.lower = refined(t, o.lower, o.corners[3][0], o.corners[2][0], false, -1)
	o.left = refined(t, o.left, o.corners[0][1], o.corners[3][1], true, 1)
	o.right = refined(t, o.right, o.corners[1][1], o.corners[2][1], true, -1)
}

const (
	sidePlaces = 96           // along a side, where it is looked for: two or three a patch
	sideReach  = 2 * cellSize // pixels that it may be off
	sideGround = 6            // pixels beyond that, to know the ground by
	sideSpan   = 2*sideReach + 1 + sideGround
	sideHalf   = 3 // pixels to either side along it that are averaged: beyond the lens's blur and the weave
	sideWindow = 4 // pixels that are compared across it: beyond the lens's blur
)

// refined is the side p from t0 to t1, its values x and not y where it runs
// down, moved to where the picture leaves the colour of what lies outside; in
// is the sign of the way inwards.
func refined(t *tones, p parabola, t0, t1 float64, down bool, in int) parabola {
	var at []float64
	var lines []*bandMeans
	var grounds [][3]float64
	var noise []float64
	for k := range sidePlaces {
		u := t0 + (t1-t0)*(.02+.96*(float64(k)+.5)/sidePlaces) // clear of the corners
		line, ok := p.across(t, u, down, in)
		if !ok {
			continue
		}
		out, _ := line.sums().colour(0, sideGround)
		for i := range sideGround {
			m := line.mean[i]
			noise = append(noise, apart([3]float64{float64(m[0]), float64(m[1]), float64(m[2])}, out))
		}
		at, lines, grounds = append(at, 2*(u-t0)/(t1-t0)-1), append(lines, line), append(grounds, out)
	}
	if len(lines) < sidePlaces/3 {
		return p
	}
	usual := fit.Quantile(noise, 2./3)
	ends := make([][]float64, len(lines))
	for k, line := range lines {
		ends[k] = groundEnds(line.sums(), grounds[k], usual)
	}
	move := mostAgreed(at, ends)
	// d0 + d1 u + d2 (1 - u^2) with u = (2 t - t0 - t1) / (t1 - t0)
	w, m := (t1-t0)/2, (t0+t1)/2
	s := float64(in)
	d := parabola{move[0] + move[2] - move[1]*m/w - move[2]*m*m/w/w, move[1]/w + 2*move[2]*m/w/w, -move[2] / w / w}
	return parabola{p.a + s*d.a, p.b + s*d.b, p.c + s*d.c}
}

// across is what lies on the way inwards over a side, at place u along it; false
// where that leaves the picture.
func (p parabola) across(t *tones, u float64, down bool, in int) (*bandMeans, bool) {
	b := newBand(sideSpan)
	for i := range sideSpan {
		n := float32(0)
		for e := -sideHalf; e <= sideHalf; e++ {
			v := u + float64(e)
			x, y := int(math.Floor(v)), int(math.Floor(p.at(v)+float64(in*(i-sideReach-sideGround))))
			if down {
				x, y = y, x
			}
			if x < 0 || y < 0 || x >= t.w || y >= t.h {
				continue
			}
			n++
			for c, v := range t.lab[y*t.w+x] {
				b.mean[i][c] += v
			}
		}
		if n == 0 {
			return nil, false
		}
		b.seen[i] = true
		for c := range 3 {
			b.mean[i][c] /= n
		}
	}
	return b, true
}

// groundEnds is how plainly the ground ends at each place of a way inwards, 0 to 1:
// how far what lies inwards is from what lies outwards, which has the ground's colour.
// usual is how far the ground's own pixels are from each other.
func groundEnds(line sums, ground [3]float64, usual float64) []float64 {
	out := make([]float64, sideSpan)
	for i := sideWindow; i+sideWindow <= sideSpan; i++ {
		apart, within, _ := line.step(i, sideWindow)
		before, _ := line.colour(float64(i-sideWindow), float64(i))
		after, _ := line.colour(float64(i), float64(i+sideWindow))
		other := likeShadow(before, ground) / (2*usual + 4) // 4: a colour that is seen to be another
		out[i] = (1 - math.Pow(1+apart/(steadiness+usual*usual+.2*within), -2./3)) * math.Exp(-other*other/2)
		if after[0] < ground[0] && hueApart(after, ground) < usual+3 { // 3: a colour that is hardly another
			out[i] /= 2 // the top's own shadow may begin here
		}
	}
	return out
}

// mostAgreed is the move inwards, even, slanting and curved, that most places agree
// with: from coarse steps to a tenth of a pixel. at are the places, from -1 to 1.
func mostAgreed(at []float64, ends [][]float64) (move [3]float64) {
	value := func(m [3]float64) float64 {
		sum := 0.0
		for k, e := range ends {
			u := at[k]
			i := m[0] + m[1]*u + m[2]*(1-u*u) + sideReach + sideGround
			if n := int(i); i >= 0 && n+1 < sideSpan {
				f := i - float64(n)
				sum += (1-f)*e[n] + f*e[n+1]
			}
		}
		return sum
	}
	best := value(move)
	for step := 2.0; step > .1; step /= 2 {
		r := 2
		if step == 2 {
			r = sideReach / 2
		}
		mid, wide := move, 2*r+1
		for k := range wide * wide * wide {
			m := mid
			for c, i := range [3]int{k / wide / wide, k / wide % wide, k % wide} {
				m[c] += step * float64(i-r)
			}
			if v := value(m); v > best {
				best, move = v, m
			}
		}
	}
	return move
}

// hueApart is how far a colour is from another that is lit as it is; infinite
// where one has less than half of the other's lightness.
func hueApart(c, d [3]float64) float64 {
	if c[0] < d[0]/2 || d[0] < c[0]/2 {
		return math.Inf(1)
	}
	f := c[0] / d[0]
	return apart(c, [3]float64{c[0], d[1] * f, d[2] * f})
}

// likeShadow is how far a colour is from that of the ground, or from that of the
// ground in the shadow of the top, which keeps its hue.
func likeShadow(c, ground [3]float64) float64 {
	if c[0] >= ground[0] || ground[0] <= 0 {
		return apart(c, ground)
	}
	dark := c[0] / ground[0]
	return apart(c, [3]float64{c[0], ground[1] * dark, ground[2] * dark}) + .2*(ground[0]-c[0]) // .2: a shadow is likelier a light one
}

// steepest is how far a side leans in the photo: a top turned by 10 degrees, as
// much again by the perspective of a tilted view, and its sag.
const steepest = .62

// sideThrough is the parabola that most of the places lie on, as a share of
// the longest run along them.
func sideThrough(places []Point) (parabola, bool) {
	n := len(places)
	if n < 8 {
		return parabola{}, false
	}
	const tries = 26
	step := max(n/tries, 1)
	tolerance := 1.2 // pixels of the shrunk picture: a side is found to one, and rough by a fifth
	var best parabola
	most := 0.0
	count := func(p parabola) float64 {
		sum := 0.0
		for _, q := range places {
			d := (q[1] - p.at(q[0])) / tolerance
			if d < 3 && d > -3 {
				sum += 1 / (1 + d*d*d*d)
			}
		}
		return sum
	}
	for i := 0; i < n; i += step {
		for j := i + step; j < n; j += step {
			p, q := places[i], places[j]
			slope := (q[1] - p[1]) / (q[0] - p[0])
			if abs(slope) > steepest {
				continue
			}
			for k := j + step; k < n; k += step {
				r := places[k]
				// The second difference is that of the parabola.
				c := ((r[1]-p[1])/(r[0]-p[0]) - slope) / (r[0] - q[0])
				length := r[0] - p[0]
				if abs(c)*length/4 > .1 || length < float64(n)/6 { // the sagitta is c l^2 / 4
					continue
				}
				b := slope - c*(p[0]+q[0])
				f := parabola{p[1] - b*p[0] - c*p[0]*p[0], b, c}
				if v := count(f) * (1 - abs(c)*length/4); v > most {
					best, most = f, v
				}
			}
		}
	}
	return best, most > float64(n)/5 && most > 6
}

// meet sets the corners where the sides meet, and is whether they do so as
// those of a top.
func (o *outline) meet() bool {
	corner := func(across, down parabola) Point {
		p := Point{down.at(across.a), across.a}
		for range 30 {
			p[1] = across.at(p[0])
			p[0] = down.at(p[1])
		}
		return p
	}
	o.corners = [4]Point{corner(o.upper, o.left), corner(o.upper, o.right), corner(o.lower, o.right), corner(o.lower, o.left)}
	for i := range 4 {
		if t := turn(o.corners[i], o.corners[(i+1)%4], o.corners[(i+2)%4]); !(t > 0) {
			return false
		}
	}
	return true
}

// apart is the distance of two colours.
func apart(a, b [3]float64) float64 {
	return math.Sqrt((a[0]-b[0])*(a[0]-b[0]) + (a[1]-b[1])*(a[1]-b[1]) + (a[2]-b[2])*(a[2]-b[2]))
}
