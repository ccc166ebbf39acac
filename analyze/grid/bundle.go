package grid

import (
	"cmp"
	"math"
	"slices"
)

// A bundle is one of the two families of seam lines as the photo shows them.
// Its lines would run along the axis "along" of a level, flat top seen
// straight on; in the photo they lean (a), run together towards a vanishing
// point (b) and bow (c, d). All lengths are in half diagonals of the picture,
// from its middle. At (s along, t across) a line of the bundle has the slope
//
//	dt/ds = (a + b t) / (1 + b s) + c s + d s t
//
// which without c and d is a pencil of straight lines through one point: the
// vanishing point of a family of parallels (Barnard 1983, Interpreting
// perspective images). All edges vote for it, as in a Hough transform (Duda
// and Hart 1972), with their direction and then with their place.
type bundle struct{ a, b, c, d float64 }

// slope is the slope of the line at s along, t across.
func (k bundle) slope(s, t float64) float64 {
	return (k.a+k.b*t)/(1+k.b*s) + s*(k.c+k.d*t)
}

// foot is where the line through s, t meets the middle, s = 0.
func (k bundle) foot(s, t float64) float64 {
	t -= s * s / 2 * (k.c + k.d*t)
	return (t - k.a*s) / (1 + k.b*s)
}

// leans are the edges by place and direction: what share of the edge weight
// at a place, beyond what would lie there if all directions were alike, has
// the slope of a bundle.
type leans struct {
	excess [leanSide][leanSide][leanSteps]float32
}

const (
	leanSide  = 8           // places along and across
	leanSteps = 72          // of slope
	leanReach = math.Pi / 5 // 36 degrees either side
)

// turnedEdges are the edges in axes that are turned by base radians; for the
// second family the axes change places, so that both read the same.
func turnedEdges(edges []edge, base float64, second bool) []edge {
	sin, cos := math.Sincos(base)
	out := make([]edge, len(edges))
	for i, e := range edges {
		x, y := cos*float64(e.x)+sin*float64(e.y), -sin*float64(e.x)+cos*float64(e.y)
		dir := float64(e.dir) - base
		if second {
			x, y = y, x
			dir = math.Pi/2 - dir
		}
		// -pi/2 .. pi/2
		dir -= math.Pi * math.Round(dir/math.Pi)
		out[i] = edge{float32(x), float32(y), float32(dir), e.weight}
	}
	return out
}

func leansOf(edges []edge) *leans {
	var l leans
	var total [leanSide][leanSide]float32
	for _, e := range edges {
		i, j := leanPlace(e.x), leanPlace(e.y)
		total[j][i] += e.weight
		k := (float64(e.dir) + leanReach) * leanSteps / (2 * leanReach)
		if k >= 0 && k < leanSteps {
			l.excess[j][i][int(k)] += e.weight
		}
	}
	for j := range leanSide {
		for i := range leanSide {
			h := &l.excess[j][i]
			even := total[j][i] * (2 * leanReach / math.Pi) / leanSteps
			// Square roots, so that no one place rules.
			scale := 1 / float32(math.Sqrt(float64(total[j][i])+10))
			var smooth [leanSteps]float32
			for k := range smooth {
				for m := -3; m <= 3; m++ {
					if k+m >= 0 && k+m < leanSteps {
						smooth[k] += h[k+m] * float32(4-abs(m)) / 16
					}
				}
			}
			for k := range h {
				h[k] = (smooth[k] - even) * scale
			}
		}
	}
	return &l
}

// meet weighs the places of both bundles' leans by how much of each there
// is: seams run both ways wherever the top is, while the boards of a floor
// or the edge of a wall run one way only. The top hangs in the middle of the
// photo, so what lies further out counts less. It returns the weights by
// place, along by across of the first bundle.
func meet(along, down *leans) (weight [leanSide][leanSide]float32) {
	most := func(h *[leanSteps]float32) float32 {
		var m float32
		for k := range h {
			m = max(m, h[k])
		}
		return m
	}
	for j := range leanSide {
		for i := range leanSide {
			p, q := &along.excess[j][i], &down.excess[i][j] // down's axes are exchanged
			both := math.Sqrt(float64(min(most(p), most(q)) / (max(most(p), most(q)) + 1e-6)))
			dx, dy := (float64(i)+.5)*2/leanSide-1, (float64(j)+.5)*2/leanSide-1
			w := float32(both * math.Exp(-1.5*(dx*dx+dy*dy)))
			weight[j][i] = w
			for k := range p {
				p[k] *= w
				q[k] *= w
			}
		}
	}
	return weight
}

// weighed are the edges with their weights times that of their place.
func weighed(edges []edge, weight *[leanSide][leanSide]float32, second bool) []edge {
	out := make([]edge, len(edges))
	for n, e := range edges {
		x, y := e.x, e.y
		if second {
			x, y = y, x
		}
		e.weight *= weight[leanPlace(y)][leanPlace(x)]
		out[n] = e
	}
	return out
}

func leanPlace(v float32) int { return min(max(int((v+1)*leanSide/2), 0), leanSide-1) }

func abs[T int | float64](v T) T {
	if v < 0 {
		return -v
	}
	return v
}

// steepest is how far a top leans in the photo: turned by 10 degrees, and as
// much again by the perspective of a tilted view.
const steepest = 0.42

// fit is how much of the edge weight runs with k.
func (l *leans) fit(k bundle) float64 {
	if abs(k.a) > steepest {
		return math.Inf(-1)
	}
	var sum float64
	for j := range leanSide {
		t := (float64(j)+.5)*2/leanSide - 1
		for i := range leanSide {
			s := (float64(i)+.5)*2/leanSide - 1
			at := (math.Atan(k.slope(s, t))+leanReach)*leanSteps/(2*leanReach) - .5
			n := int(math.Floor(at))
			if n < 0 || n+1 >= leanSteps {
				continue
			}
			f := float32(at - float64(n))
			sum += float64((1-f)*l.excess[j][i][n] + f*l.excess[j][i][n+1])
		}
	}
	return sum
}

// scored is a bundle with its score.
type scored struct {
	bundle
	score float64
}

// modes are the straight bundles that fit best, the best first, each the top
// of its neighbourhood.
func (l *leans) modes(most int) []scored {
	const na, nb = 27, 17
	const stepA, stepB = .03, .05
	var score [na][nb]float64
	at := func(i, j int) bundle { return bundle{a: float64(i-na/2) * stepA, b: float64(j-nb/2) * stepB} }
	for i := range na {
		for j := range nb {
			// Mild preference for a level, upright view.
			k := at(i, j)
			score[i][j] = l.fit(k) * math.Exp(-k.a*k.a/(2*.3*.3)-k.b*k.b/.5)
		}
	}
	var out []scored
	for i := range na {
		for j := range nb {
			top := true
			for di := -2; di <= 2 && top; di++ {
				for dj := -2; dj <= 2; dj++ {
					m, n := i+di, j+dj
					if m >= 0 && n >= 0 && m < na && n < nb && (score[m][n] > score[i][j] || score[m][n] == score[i][j] && (m < i || m == i && n < j)) {
						top = false
						break
					}
				}
			}
			if top {
				out = append(out, scored{at(i, j), score[i][j]})
			}
		}
	}
	slices.SortStableFunc(out, func(p, q scored) int { return cmp.Compare(q.score, p.score) })
	if len(out) > most {
		out = out[:most]
	}
	for i := range out {
		out[i].bundle = climb(out[i].bundle, bundle{.015, .025, .05, .05}, 3, l.fit)
		out[i].score = l.fit(out[i].bundle)
	}
	return out
}

// climb improves k by steps along each of its figures in turn, halving the
// steps as often as told.
func climb(k bundle, step bundle, halvings int, score func(bundle) float64) bundle {
	best := score(k)
	for range halvings + 1 {
		for range 6 {
			improved := false
			for _, d := range []bundle{{a: step.a}, {b: step.b}, {c: step.c}, {d: step.d}} {
				if d == (bundle{}) {
					continue
				}
				for _, sign := range []float64{1, -1} {
					n := bundle{k.a + sign*d.a, k.b + sign*d.b, k.c + sign*d.c, k.d + sign*d.d}
					if s := score(n); s > best {
						k, best, improved = n, s, true
						break
					}
				}
			}
			if !improved {
				break
			}
		}
		step = bundle{step.a / 2, step.b / 2, step.c / 2, step.d / 2}
	}
	return k
}

// sharpen improves k until its lines, looked at end on, stand out most: the
// edges that run with it are counted by where their line meets the middle,
// and long seams make peaks there only when the lines are followed exactly.
// pixel is one pixel in half diagonals.
func sharpen(k bundle, edges []edge, pixel float64) bundle {
	near := make([]edge, 0, len(edges)/4)
	for _, e := range edges {
		if abs(float64(e.dir)-math.Atan(k.slope(float64(e.x), float64(e.y)))) < .12 {
			near = append(near, e)
		}
	}
	score := func(width float64) func(bundle) float64 {
		n := int(2.4/width) + 2
		count := make([]float32, n)
		return func(k bundle) float64 { return peaks(k, near, count, width) }
	}
	// From coarse to fine, so that the search does not stop beside a peak.
	for _, w := range []float64{6, 3, 1.5} {
		width := w * pixel
		k = climb(k, bundle{2 * width, 2 * width, 4 * width, 4 * width}, 1, score(width))
	}
	return k
}

// peaks is how far the counts stand out from their neighbourhood.
func peaks(k bundle, edges []edge, count []float32, width float64) float64 {
	if abs(k.a) > steepest {
		return 0
	}
	clear(count)
	for _, e := range edges {
		at := (k.foot(float64(e.x), float64(e.y)) + 1.2) / width
		i := int(at)
		if at < 0 || i+1 >= len(count) {
			continue
		}
		f := float32(at) - float32(i)
		count[i] += (1 - f) * e.weight
		count[i+1] += f * e.weight
	}
	// Against the mean over some 20 steps, so that squeezing the lines
	// together, which a bow can do, gains nothing.
	const reach = 10
	var sum, own, level float64
	for i := range min(reach, len(count)) {
		sum += float64(count[i])
	}
	for i, c := range count {
		if i+reach < len(count) {
			sum += float64(count[i+reach])
		}
		if i > reach {
			sum -= float64(count[i-reach-1])
		}
		mean := sum / (2*reach + 1)
		own += float64(c) * float64(c)
		level += mean * mean
	}
	if level == 0 {
		return 0
	}
	return own / level
}

// pose is how the top lies in the photo: both bundles, and the setting that
// their directions speak for.
type pose struct {
	setting Setting
	along   bundle // the lines of the rows; on point the rows that run up to the right
	down    bundle // the lines of the columns
	score   float64
}

// base is the direction of the rows' lines in a level view, in radians from
// the x axis towards the y axis: on point rows run up to the right.
func (s Setting) base() float64 {
	if s == OnPoint {
		return -math.Pi / 4
	}
	return 0
}

// poses are the ways the top may lie for one setting, the best first.
func poses(edges []edge, setting Setting, pixel float64, most int) []pose {
	first := turnedEdges(edges, setting.base(), false)
	second := turnedEdges(edges, setting.base(), true)
	alongLeans, downLeans := leansOf(first), leansOf(second)
	weight := meet(alongLeans, downLeans)
	first, second = weighed(first, &weight, false), weighed(second, &weight, true)
	downs := downLeans.modes(8)
	var out []pose
	for _, p := range alongLeans.modes(8) {
		for _, q := range downs {
			// Seen through the camera the two directions are at right angles:
			// a + a' + f^2 b b' = 0 with the focal length f in half diagonals
			// (see aspectOf), up to sagging and a lens that we do not know.
			const focal = 2 * 26 / 43.27
			skew := p.a + q.a + focal*focal*p.b*q.b
			score := (p.score + q.score) * math.Exp(-skew*skew/(2*.08*.08))
			out = append(out, pose{setting, p.bundle, q.bundle, score})
		}
	}
	slices.SortStableFunc(out, func(p, q pose) int { return cmp.Compare(q.score, p.score) })
	if len(out) > most {
		out = out[:most]
	}
	for i := range out {
		out[i].along = sharpen(out[i].along, first, pixel)
		out[i].down = sharpen(out[i].down, second, pixel)
	}
	return out
}
