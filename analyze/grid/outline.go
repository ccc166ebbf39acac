package grid

import (
	"math"
	"slices"
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

// cells are a picture in small squares: the mean of each and how much its
// pixels differ from it.
type cells struct {
	w, h  int
	mean  [][3]float64
	rough []float64
}

// cellSize is the side of a cell in pixels of the tones: small beside a patch,
// large beside the weave and the noise.
const cellSize = 6

func cellsOf(t *tones) *cells {
	c := &cells{w: t.w / cellSize, h: t.h / cellSize}
	c.mean, c.rough = make([][3]float64, c.w*c.h), make([]float64, c.w*c.h)
	const n = cellSize * cellSize
	for j := range c.h {
		for i := range c.w {
			k := j*c.w + i
			for p := range 3 {
				sum, square := 0.0, 0.0
				for y := j * cellSize; y < (j+1)*cellSize; y++ {
					for _, v := range t.plane[p][y*t.w+i*cellSize : y*t.w+(i+1)*cellSize] {
						sum += float64(v)
						square += float64(v) * float64(v)
					}
				}
				weight := 1.0
				if p > 0 {
					weight = chromaWeight
				}
				c.mean[k][p] = weight * sum / n
				c.rough[k] += weight * weight * max(square/n-sum*sum/n/n, 0)
			}
			c.rough[k] = math.Sqrt(c.rough[k])
		}
	}
	return c
}

func apart(a, b [3]float64) float64 {
	return math.Sqrt((a[0]-b[0])*(a[0]-b[0]) + (a[1]-b[1])*(a[1]-b[1]) + (a[2]-b[2])*(a[2]-b[2]))
}

// rim are the cells along the picture's edge.
func (c *cells) rim() []int {
	var out []int
	for i := range c.w {
		out = append(out, i, (c.h-1)*c.w+i)
	}
	for j := 1; j+1 < c.h; j++ {
		out = append(out, j*c.w, j*c.w+c.w-1)
	}
	return out
}

// ground are the cells that show what lies behind the top: what most of the
// picture's edge shows, and what goes on from there without a step. The lamp
// and shadows change it slowly, so each cell is compared with the ground near
// it.
func (c *cells) ground() []bool {
	rim := c.rim()
	// The commonest cell of the rim.
	const alike = 8
	most, common := 0, 0
	for _, k := range rim {
		n := 0
		for _, m := range rim {
			if apart(c.mean[k], c.mean[m]) < alike {
				n++
			}
		}
		if n > most {
			most, common = n, k
		}
	}
	var steps, rough []float64
	for _, k := range rim {
		if apart(c.mean[k], c.mean[common]) >= alike {
			continue
		}
		rough = append(rough, c.rough[k])
		for _, d := range [2]int{1, c.w} {
			if m := k + d; m < len(c.mean) && apart(c.mean[m], c.mean[common]) < alike {
				steps = append(steps, apart(c.mean[k], c.mean[m]))
			}
		}
	}
	if len(steps) == 0 {
		return make([]bool, len(c.mean))
	}
	slices.Sort(steps)
	slices.Sort(rough)
	step := max(2.5, 2.2*steps[len(steps)*3/4])
	roughest := 2 + 1.6*rough[len(rough)*9/10]
	is := make([]bool, len(c.mean))
	near := func(k int) (mean [3]float64, n float64) { // of the ground within two cells
		i, j := k%c.w, k/c.w
		for y := max(j-2, 0); y <= min(j+2, c.h-1); y++ {
			for x := max(i-2, 0); x <= min(i+2, c.w-1); x++ {
				if m := y*c.w + x; is[m] {
					for p := range 3 {
						mean[p] += c.mean[m][p]
					}
					n++
				}
			}
		}
		for p := range 3 {
			mean[p] /= max(n, 1)
		}
		return mean, n
	}
	var queue []int
	for _, k := range rim {
		// The lamp may leave a corner of it darker or brighter.
		if (apart(c.mean[k], c.mean[common]) < alike || hueApart(c.mean[k], c.mean[common]) < alike/3) && c.rough[k] < roughest {
			is[k] = true
			queue = append(queue, k)
		}
	}
	for len(queue) > 0 {
		k := queue[0]
		queue = queue[1:]
		i, j := k%c.w, k/c.w
		for _, d := range [4][2]int{{1, 0}, {-1, 0}, {0, 1}, {0, -1}} {
			x, y := i+d[0], j+d[1]
			if x < 0 || y < 0 || x >= c.w || y >= c.h {
				continue
			}
			m := y*c.w + x
			if is[m] || c.rough[m] >= roughest {
				continue
			}
			if mean, _ := near(m); apart(c.mean[m], mean) < step {
				is[m] = true
				queue = append(queue, m)
			}
		}
	}
	// Specks of the ground's own: those that it surrounds.
	for range 2 {
		was := slices.Clone(is)
		for j := range c.h {
			for i := range c.w {
				n, all := 0, 0
				for y := max(j-1, 0); y <= min(j+1, c.h-1); y++ {
					for x := max(i-1, 0); x <= min(i+1, c.w-1); x++ {
						all++
						if was[y*c.w+x] {
							n++
						}
					}
				}
				if 3*n >= 2*all {
					is[j*c.w+i] = true
				}
			}
		}
	}
	return is
}

// largest is the largest connected part of what is not ground.
func (c *cells) largest(ground []bool) (part []bool, size int) {
	label := make([]int, len(ground))
	best := 0
	for k := range ground {
		if ground[k] || label[k] != 0 {
			continue
		}
		stack, n := []int{k}, 0
		label[k] = k + 1
		for len(stack) > 0 {
			m := stack[len(stack)-1]
			stack = stack[:len(stack)-1]
			n++
			i, j := m%c.w, m/c.w
			for _, d := range [4][2]int{{1, 0}, {-1, 0}, {0, 1}, {0, -1}} {
				x, y := i+d[0], j+d[1]
				if x < 0 || y < 0 || x >= c.w || y >= c.h {
					continue
				}
				if o := y*c.w + x; !ground[o] && label[o] == 0 {
					label[o] = k + 1
					stack = append(stack, o)
				}
			}
		}
		if n > size {
			size, best = n, k+1
		}
	}
	part = make([]bool, len(ground))
	for k, l := range label {
		part[k] = l == best && best != 0
	}
	return part, size
}

// outlineOf finds where a top ends on what lies behind it, if that is plain
// enough.
func outlineOf(t *tones) (*outline, bool) {
	c := cellsOf(t)
	if c.w < 12 || c.h < 12 {
		return nil, false
	}
	part, size := c.largest(c.ground())
	if 25*size < len(part) {
		return nil, false
	}
	// From above, below, the left and the right: where the part begins.
	first := func(n, deep int, at func(i, d int) int) (places []Point) {
		for i := range n {
			for d := range deep {
				if part[at(i, d)] {
					places = append(places, Point{float64(i) + .5, float64(d)})
					break
				}
			}
		}
		return places
	}
	sides := [4][]Point{
		first(c.w, c.h, func(i, d int) int { return d*c.w + i }),
		first(c.w, c.h, func(i, d int) int { return (c.h-1-d)*c.w + i }),
		first(c.h, c.w, func(i, d int) int { return i*c.w + d }),
		first(c.h, c.w, func(i, d int) int { return i*c.w + c.w - 1 - d }),
	}
	var fits [4]parabola
	for k, s := range sides {
		p, ok := sideThrough(s)
		if !ok {
			return nil, false
		}
		if k == 1 {
			p = parabola{float64(c.h) - p.a, -p.b, -p.c}
		}
		if k == 3 {
			p = parabola{float64(c.w) - p.a, -p.b, -p.c}
		}
		fits[k] = parabola{p.a * cellSize, p.b, p.c / cellSize}
	}
	o := &outline{upper: fits[0], lower: fits[1], left: fits[2], right: fits[3]}
	for range 2 {
		if !o.meet() {
			return nil, false
		}
		o.refine(t)
	}
	return o, o.meet()
}

// refine moves the sides to where the ground ends, in pixels.
func (o *outline) refine(t *tones) {
	o.upper = refined(t, o.upper, o.corners[0][0], o.corners[1][0], false, 1)
	o.lower = refined(t, o.lower, o.corners[3][0], o.corners[2][0], false, -1)
	o.left = refined(t, o.left, o.corners[0][1], o.corners[3][1], true, 1)
	o.right = refined(t, o.right, o.corners[1][1], o.corners[2][1], true, -1)
}

// refined is the side p from t0 to t1, its values x and not y where it runs
// down, moved to where the picture leaves the colour of what lies outside; in
// is the sign of the way inwards.
func refined(t *tones, p parabola, t0, t1 float64, down bool, in int) parabola {
	const (
		places = 96
		reach  = 2 * cellSize // that far the side may be off
		ground = 6            // pixels beyond, to know the ground by
		half   = 3            // as far to either side things are averaged
	)
	span := 2*reach + 1 + ground
	var at []float64
	var lines [][][3]float64 // what lies there, inwards
	var grounds [][3]float64
	var noise []float64
	for k := range places {
		s := t0 + (t1-t0)*(.02+.96*(float64(k)+.5)/places)
		line := make([][3]float64, span)
		full := true
		for i := range span {
			d := float64(i - reach - ground)
			n := 0.0
			for e := -half; e <= half; e++ {
				u := s + float64(e)
				v := p.at(u) + float64(in)*d
				x, y := int(math.Floor(u)), int(math.Floor(v))
				if down {
					x, y = y, x
				}
				if x < 0 || y < 0 || x >= t.w || y >= t.h {
					continue
				}
				n++
				for c := range 3 {
					weight := 1.0
					if c > 0 {
						weight = chromaWeight
					}
					line[i][c] += weight * float64(t.plane[c][y*t.w+x])
				}
			}
			if n == 0 {
				full = false
				break
			}
			for c := range 3 {
				line[i][c] /= n
			}
		}
		if !full {
			continue
		}
		var out [3]float64
		for i := range ground {
			for c := range 3 {
				out[c] += line[i][c] / ground
			}
		}
		for i := range ground {
			noise = append(noise, apart(line[i], out))
		}
		at, lines, grounds = append(at, s), append(lines, line), append(grounds, out)
	}
	if len(lines) < places/3 {
		return p
	}
	slices.Sort(noise)
	usual := noise[len(noise)*2/3]
	// How plainly the ground ends at each place: how far what lies inwards is
	// from what lies outwards, which has the ground's colour.
	const window = 4
	ends := make([][]float64, len(lines))
	for k, line := range lines {
		ends[k] = make([]float64, span)
		for i := window; i+window <= span; i++ {
			var before, after [3]float64
			within := 0.0
			for c := range 3 {
				var s, q, s2, q2 float64
				for d := range window {
					u, v := line[i-1-d][c], line[i+d][c]
					s, q, s2, q2 = s+u/window, q+u*u/window, s2+v/window, q2+v*v/window
				}
				before[c], after[c] = s, s2
				within += max(q-s*s, 0) + max(q2-s2*s2, 0)
			}
			d := apart(before, after)
			ground := likeShadow(before, grounds[k]) / (2*usual + 4)
			end := (1 - math.Exp(-math.Log1p(d*d/(steadiness+usual*usual+.2*within))/1.5)) * math.Exp(-ground*ground/2)
			if after[0] < grounds[k][0] && hueApart(after, grounds[k]) < usual+3 {
				end /= 2 // the top's own shadow may begin here
			}
			ends[k][i] = end
		}
	}
	// The move inwards, even, slanting and bent, that most places agree with.
	value := func(d0, d1, d2 float64) float64 {
		sum := 0.0
		for k, e := range ends {
			u := (at[k]-t0)/(t1-t0)*2 - 1
			i := d0 + d1*u + d2*(1-u*u) + reach + ground
			n := int(i)
			if i < 0 || n+1 >= span {
				continue
			}
			f := i - float64(n)
			sum += (1-f)*e[n] + f*e[n+1]
		}
		return sum
	}
	best := value(0, 0, 0)
	var move [3]float64
	for step := 2.0; step > .1; step /= 2 {
		r := 2
		if step == 2 {
			r = reach / 2
		}
		mid := move
		for i := -r; i <= r; i++ {
			for j := -r; j <= r; j++ {
				for l := -r; l <= r; l++ {
					m := [3]float64{mid[0] + step*float64(i), mid[1] + step*float64(j), mid[2] + step*float64(l)}
					if v := value(m[0], m[1], m[2]); v > best {
						best, move = v, m
					}
				}
			}
		}
	}
	// d0 + d1 u + d2 (1 - u^2) with u = (2 t - t0 - t1) / (t1 - t0)
	w, m := (t1-t0)/2, (t0+t1)/2
	s := float64(in)
	d := parabola{move[0] + move[2] - move[1]*m/w - move[2]*m*m/w/w, move[1]/w + 2*move[2]*m/w/w, -move[2] / w / w}
	return parabola{p.a + s*d.a, p.b + s*d.b, p.c + s*d.c}
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
	return apart(c, [3]float64{c[0], ground[1] * dark, ground[2] * dark}) + .2*(ground[0]-c[0])
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
	tolerance := 1.2
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
