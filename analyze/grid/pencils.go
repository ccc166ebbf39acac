package grid

import (
	"cmp"
	"math"
	"slices"

	"greige/analyze/photo"
)

// A family of seams is a pencil of lines: in the photo they run together
// towards one vanishing point (Barnard 1983, Interpreting perspective images).
// Two pencils that occur together, all over one part of the photo, are those of
// the rows and of the columns: the boards of a floor or the slats of a blind run
// one way only. Both vanishing points give the view in which both run upright
// (Hartley and Zisserman 2004, section 8.6).
//
// Places are homogeneous, from the middle of the picture, its half longer side 1.

type vec3 [3]float64

func cross(a, b vec3) vec3 {
	return vec3{a[1]*b[2] - a[2]*b[1], a[2]*b[0] - a[0]*b[2], a[0]*b[1] - a[1]*b[0]}
}

func (a vec3) dot(b vec3) float64 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }

func (a vec3) scaled(f float64) vec3 { return vec3{f * a[0], f * a[1], f * a[2]} }

const (
	pairsTried = 6000 // of segments: enough that the two pencils of a top that has a tenth of all edges meet 30 times each
	pointsKept = 700  // vanishing points that are compared with each other
	posesKept  = 2    // pairs of pencils looked into: the second is right where the room has stronger ones than the top
	// direct is how far a segment may point past its vanishing point, in
	// radians: a pixel at either end of one sixty pixels long, .8 degrees.
	direct = .8 * math.Pi / 180
	// longer gives long segments a more than equal say: a texture has short ones.
	longer = 1.5
	// fields to a side, in which both pencils have to occur: a patch or two wide.
	fields = 12
	// apartLeast is the least angle between the rows and the columns, in the
	// middle: 55 degrees is a square seen from 35 degrees off along its diagonal.
	apartLeast = 55 * math.Pi / 180
)

// pencils are the segments of a picture made ready to vote.
type pencils struct {
	mid, way []Point // middle and direction of each
	line     []vec3
	length   []float64
	ends     []Point // two for each
	field    []int
	half     float64 // pixels of the half longer side
	centre   Point   // of the picture, in pixels
}

func pencilsOf(segments []segment, w, h int) *pencils {
	p := &pencils{half: float64(max(w, h)) / 2, centre: Point{float64(w) / 2, float64(h) / 2}}
	at := func(q Point) Point { return Point{(q[0] - p.centre[0]) / p.half, (q[1] - p.centre[1]) / p.half} }
	for _, s := range segments {
		a, b := at(s.a), at(s.b)
		n := math.Hypot(b[0]-a[0], b[1]-a[1])
		d, m := Point{(b[0] - a[0]) / n, (b[1] - a[1]) / n}, between(a, b, .5)
		cell := func(v float64) int { return min(max(int((v+1)/2*fields), 0), fields-1) }
		p.mid, p.way, p.length = append(p.mid, m), append(p.way, d), append(p.length, n)
		p.line = append(p.line, vec3{-d[1], d[0], d[1]*m[0] - d[0]*m[1]})
		p.ends = append(p.ends, a, b)
		p.field = append(p.field, cell(m[1])*fields+cell(m[0]))
	}
	return p
}

// off is the sine of the angle between segment k and its way to v.
func (p *pencils) off(v vec3, k int) float64 {
	m, d := p.mid[k], p.way[k]
	x, y := v[0]-v[2]*m[0], v[1]-v[2]*m[1]
	return abs(x*d[1]-y*d[0]) / (math.Hypot(x, y) + 1e-9)
}

// points are where pairs of segments that run nearly one way meet, not near the
// picture. The pairs are spread by the golden ratio over all of them, the long
// ones more often (a Weyl sequence in place of chance).
func (p *pencils) points() []vec3 {
	sum := make([]float64, len(p.length)+1)
	for k, n := range p.length {
		sum[k+1] = sum[k] + n
	}
	pick := func(u float64) int {
		u *= sum[len(sum)-1]
		k, _ := slices.BinarySearch(sum, u)
		return min(max(k-1, 0), len(p.length)-1)
	}
	const golden, plastic = .6180339887498949, .7548776662466927 // the most even steps in one and in two dimensions (Roberts 2018)
	var out []vec3
	for n := range pairsTried {
		_, u := math.Modf(float64(n+1) * plastic)
		_, v := math.Modf(float64(n+1) * golden)
		i, j := pick(u), pick(v)
		if abs(p.way[i][0]*p.way[j][0]+p.way[i][1]*p.way[j][1]) < math.Cos(20*math.Pi/180) {
			continue // seams of one family do not run that differently
		}
		if m := p.mid[j]; abs(p.line[i].dot(vec3{m[0], m[1], 1})) < .03 {
			continue // too near to one line to say where they meet
		}
		q := cross(p.line[i], p.line[j])
		size := math.Sqrt(q.dot(q))
		if math.Hypot(q[0], q[1]) > 2*abs(q[2])+1e-9 && size > 0 {
			if out = append(out, q.scaled(1/size)); len(out) == pointsKept {
				break
			}
		}
	}
	return out
}

// votes are how much of each segment's length runs to v, as exp(-(off/within)^2).
func (p *pencils) votes(v vec3, within, power float64, out []float64) {
	for k := range out {
		o := p.off(v, k) / within
		if out[k] = 0; o < 3 { // beyond it is next to nothing
			out[k] = math.Exp(-o*o) * math.Pow(p.length[k], power)
		}
	}
}

// inFields adds up the votes of each field.
func (p *pencils) inFields(votes []float64) (sum [fields * fields]float64) {
	for k, v := range votes {
		sum[p.field[k]] += v
	}
	return sum
}

// pose is a pair of vanishing points and, for each segment, how much it and both
// pencils where it lies speak for them.
type pose struct {
	v     [2]vec3
	trust []float64
}

// poses are the pairs of pencils that occur together most, the best first.
func (p *pencils) poses() []pose {
	points := p.points()
	occur := p.occurrences(points)
	var mean Point // of the segments
	all := 0.0
	for k, n := range p.length {
		mean[0], mean[1], all = mean[0]+n*p.mid[k][0], mean[1]+n*p.mid[k][1], all+n
	}
	mean = Point{mean[0] / all, mean[1] / all}
	angle := make([]float64, len(points))
	for i, v := range points {
		angle[i] = math.Atan2(v[1]-v[2]*mean[1], v[0]-v[2]*mean[0])
	}
	type taken struct{ a, b float64 }
	var used []taken
	near := func(a, b float64) bool { return abs(math.Sin(a-b)) < math.Sin(6*math.Pi/180) } // the same family
	var out []pose
	score := together(occur, angle)
	for len(out) < posesKept {
		best, at := 0.0, [2]int{}
		for i := range points {
			for j := range i {
				if score[i][j] <= best || slices.ContainsFunc(used, func(u taken) bool {
					return near(angle[i], u.a) && near(angle[j], u.b) || near(angle[i], u.b) && near(angle[j], u.a)
				}) {
					continue
				}
				best, at = score[i][j], [2]int{i, j}
			}
		}
		if best <= 0 {
			break
		}
		used = append(used, taken{angle[at[0]], angle[at[1]]})
		out = append(out, p.refined([2]vec3{points[at[0]], points[at[1]]}))
	}
	return out
}

// occurrences are the roots of each point's votes by field: that a pencil
// occurs counts, more than how often.
func (p *pencils) occurrences(points []vec3) [][fields * fields]float32 {
	out := make([][fields * fields]float32, len(points))
	photo.Bands(len(points), 16, func(i0, i1 int) {
		votes := make([]float64, len(p.length))
		for i := i0; i < i1; i++ {
			p.votes(points[i], direct, longer, votes)
			for k, v := range p.inFields(votes) {
				out[i][k] = float32(math.Sqrt(v))
			}
		}
	})
	return out
}

// together is how much two pencils occur in the same fields, [i][j] for j < i.
func together(occur [][fields * fields]float32, angle []float64) [][]float64 {
	out := make([][]float64, len(occur))
	photo.Bands(len(occur), 8, func(i0, i1 int) {
		for i := i0; i < i1; i++ {
			out[i] = make([]float64, i)
			for j := range i {
				if abs(math.Sin(angle[i]-angle[j])) < math.Sin(apartLeast) {
					continue
				}
				sum := float32(0)
				for k, v := range &occur[i] {
					sum += v * occur[j][k]
				}
				out[i][j] = float64(sum)
			}
		}
	})
	return out
}

// refined moves two vanishing points to where the segments of those fields meet
// in which both pencils occur, narrower each time, so that grain, blinds and
// boards do not pull.
func (p *pencils) refined(v [2]vec3) pose {
	votes := [2][]float64{make([]float64, len(p.length)), make([]float64, len(p.length))}
	var sums [2][fields * fields]float64
	for _, within := range []float64{1.5 * direct, direct, .75 * direct, .6 * direct} { // from what pairs leave open to what the median segment is off by
		for k := range v {
			p.votes(v[k], within, longer, votes[k])
			sums[k] = p.inFields(votes[k])
		}
		for k := range v {
			v[k] = p.meeting(votes[k], &sums, v[k])
		}
	}
	out := pose{v: v, trust: make([]float64, len(p.length))}
	for k := range v {
		p.votes(v[k], direct, 1, votes[k])
		sums[k] = p.inFields(votes[k])
	}
	for k := range out.trust {
		f := p.field[k]
		out.trust[k] = min(sums[0][f], sums[1][f]) * max(votes[0][k], votes[1][k])
	}
	return out
}

// meeting is the point nearest to the lines of one pencil, weighed by their
// votes and by how even both pencils are in their fields: the least eigenvector
// of the sum of their outer products, by inverse iteration from v.
func (p *pencils) meeting(votes []float64, sums *[2][fields * fields]float64, v vec3) vec3 {
	var m homography
	for k, w := range votes {
		if w == 0 {
			continue
		}
		a, b := sums[0][p.field[k]], sums[1][p.field[k]]
		w *= min(a, b) / (max(a, b) + 1e-9)
		for i := range 3 {
			for j := range 3 {
				m[3*i+j] += w * p.line[k][i] * p.line[k][j]
			}
		}
	}
	trace := m[0] + m[4] + m[8]
	for i := range 3 {
		m[4*i] += 1e-9*trace + 1e-12 // so that there is an inverse
	}
	inv, ok := m.Inverse()
	if !ok {
		return v
	}
	for range 8 {
		u := vec3{inv[0]*v[0] + inv[1]*v[1] + inv[2]*v[2], inv[3]*v[0] + inv[4]*v[1] + inv[5]*v[2], inv[6]*v[0] + inv[7]*v[1] + inv[8]*v[2]}
		size := math.Sqrt(u.dot(u))
		if !(size > 0) || math.IsInf(size, 0) {
			return v
		}
		v = u.scaled(1 / size)
	}
	return v
}

// view is a frame in which two pencils run upright and level: the way into it
// from the picture and its size, in pixels, and the direction in the picture, in
// radians, of what runs level.
type view struct {
	to   homography
	w, h int
	turn float64
}

// onDiagonal is whether the view's rows run nearer to a diagonal of the picture
// than to its edges, or nearly so: from 22 degrees on.
func (v *view) onDiagonal() bool {
	t := abs(v.turn)
	return t > 22*math.Pi/180 && t < 68*math.Pi/180
}

// frameSide is the longer side of a view in pixels: that of the picture worked on.
const frameSide = 900

// viewOf is the view of a pose, its scale 1 where its segments lie and cut to
// them with an eighth more on each side.
func (p *pencils) viewOf(ps pose) (*view, bool) {
	horizon := cross(ps.v[0], ps.v[1])
	var mid Point
	all := 0.0
	for k, t := range ps.trust {
		mid[0], mid[1], all = mid[0]+t*p.mid[k][0], mid[1]+t*p.mid[k][1], all+t
	}
	if !(all > 0) {
		return nil, false
	}
	horizon = horizon.scaled(1 / horizon.dot(vec3{mid[0] / all, mid[1] / all, 1}))
	if !(math.Hypot(horizon[0], horizon[1]) < .9) { // 1: half a longer side from the middle of the top
		return nil, false // the horizon crosses the top
	}
	flat := homography{1, 0, 0, 0, 1, 0, horizon[0], horizon[1], horizon[2]}
	level, upright := unit(Point{}, Point{ps.v[0][0], ps.v[0][1]}), unit(Point{}, Point{ps.v[1][0], ps.v[1][1]})
	if abs(level[0]) < abs(upright[0]) {
		level, upright = upright, level
	}
	if level[0] < 0 {
		level = Point{-level[0], -level[1]}
	}
	if upright[1] < 0 {
		upright = Point{-upright[0], -upright[1]}
	}
	axes, ok := (homography{level[0], upright[0], 0, level[1], upright[1], 0, 0, 0, 1}).Inverse()
	if !ok {
		return nil, false
	}
	to := axes.After(flat)
	lo, hi, ok := p.bounds(to, horizon, ps.trust)
	if !ok {
		return nil, false
	}
	v := &view{turn: math.Atan2(level[1], level[0])}
	s := frameSide / max(hi[0]-lo[0], hi[1]-lo[1])
	v.w, v.h = int(math.Ceil(s*(hi[0]-lo[0]))), int(math.Ceil(s*(hi[1]-lo[1])))
	v.to = homography{s, 0, -s * lo[0], 0, s, -s * lo[1], 0, 0, 1}.After(to).
		After(homography{1 / p.half, 0, -p.centre[0] / p.half, 0, 1 / p.half, -p.centre[1] / p.half, 0, 0, 1})
	return v, min(v.w, v.h) >= 8*bandHigh
}

// bounds are those of nearly all that the segments weigh, in a view, with some
// more round them.
func (p *pencils) bounds(to homography, horizon vec3, trust []float64) (lo, hi Point, ok bool) {
	type at struct{ x, w float64 }
	for c := range 2 {
		var list []at
		all := 0.0
		for k, e := range p.ends {
			if w := trust[k/2]; w > 0 && horizon.dot(vec3{e[0], e[1], 1}) > .35 { // not too far towards the horizon
				list = append(list, at{to.Map(e)[c], w})
				all += w
			}
		}
		if len(list) == 0 {
			return lo, hi, false
		}
		slices.SortFunc(list, func(a, b at) int { return cmp.Compare(a.x, b.x) })
		const rest = .01 // of the weight, on either side
		sum := 0.0
		for _, l := range list {
			if sum < rest*all {
				lo[c] = l.x
			}
			if sum < (1-rest)*all {
				hi[c] = l.x
			}
			sum += l.w
		}
	}
	m := .12 * max(hi[0]-lo[0], hi[1]-lo[1]) // an eighth: a row of eight more
	for c := range 2 {
		lo[c], hi[c] = lo[c]-m, hi[c]+m
	}
	return lo, hi, hi[0]-lo[0] > 0 && hi[1]-lo[1] > 0
}

// flatten is the picture in the view.
func (v *view) flatten(t *tones) (*flattened, bool) {
	back, ok := v.to.Inverse()
	if !ok {
		return nil, false
	}
	return resample(t, v.w, v.h, back.Map), true
}
