package scraps

import (
	"math"
	"slices"

	"greige/analyze/fit"
	"greige/analyze/ground"
	"greige/analyze/photo"
	"greige/analyze/raster"
	"greige/colorspace"
)

// edges finds the cloths' edges in the working picture. A piece that was
// found in the small picture has a rough outline; across it, profiles are
// looked at in the full working picture. What lies outside the edge can be
// explained as ground in light or shadow, and at the edge the picture
// changes. The outline that makes the most of both all the way round is
// found by dynamic programming.
type edges struct {
	p     *photo.Picture
	g     *ground.Field // L* + 16, a* and b* of the ground, in small pixels
	r     float64       // working pixels to a small one
	scale float32       // of linear light, as for the small picture
	sd    [3]float64    // of the ground's working pixels
	// density is minus the logarithm of that of the ground's own colour.
	density float32
	// change is the change of colour from two pixels to the next two that the
	// ground's own texture hardly ever exceeds.
	change float32
	lossy  bool // strong colours ring over the blocks of the file
}

type point = raster.Point

// The ground is never taken to be more alike than this, in L* and in a*, b*:
// JPEG, the lens and the fit of the field leave as much.
const (
	leastL  = .6
	leastAB = .8
)

const (
	otherSigmas = 5 // standard deviations of the ground beyond which a pixel is none of it
	// A contact shadow keeps at least this share of the ground's L*+16: a third
	// of the light, a deep shadow under a curled edge (the cube root of 0.34).
	deepest = .70
	// tints: a shadow is lit by another light than the rest (the room's instead
	// of the lamp's), so its colour may be off by this share of its depth in L*.
	tints = .10
	// A strong colour's edge rings over the blocks of a lossy file: a series cut
	// off overshoots by a tenth of the step (Gibbs), and rounding leaves more.
	colourRings = .12
)

// lossy tells whether a file of this format keeps colour at half the resolution,
// in blocks.
func lossy(format string) bool { return format == "JPEG" || format == "WebP" || format == "HEIC" }

const (
	profileStep = 2.5 // working pixels between two profiles along an outline
	mostOut     = 12  // how far out of the rough outline an edge is looked for
	mostIn      = 12
	profileLen  = mostOut + mostIn + 1
	// So many profiles an outline has at least: a small piece has corners too.
	leastProfiles = 64
)

// What a pixel costs in the sum that the best outline makes smallest is half
// of minus the logarithm of its colour's density (half, because neighbours
// share their noise): inside in the piece, outside on the ground, up to a
// limit. A shadow is less likely than none.
const (
	shadowCost  = 1.0
	outsideMost = 8.0
	edgeGain    = 6.0 // for a full change of colour at the edge
	edgeHalf    = 8.0 // the change, in L*, a*, b*, that is worth half of it
	// Near a strong edge the ground's pixels are off by a share of it: those
	// next to it because they are part cloth, those further on because JPEG
	// rings (in colour twice as much, and at half the resolution).
	mixes    = .14
	rings    = .04
	besides  = 3
	mixed    = 1  // pixels just outside the edge that have cloth in them
	snap     = 2  // how far the edge may be from the cheapest outline's pixel
	bendCost = .5 // for a step in or out from one profile to the next, squared
	bendMost = 2
	// leans is the cost of a pixel between the edge and the rough outline: where
	// the cloth looks like the ground, that is all there is to go by.
	leans = .15
)

// refine moves a closed outline, clockwise, in working pixels, to the cloth's
// edge. It lies at most far working pixels off.
func (e *edges) refine(rough []point, inks *palette, far int) []point {
	n := min(max(int(raster.Perimeter(rough)/profileStep), leastProfiles), 1200)
	ps := raster.Resample(rough, n)
	n = len(ps)
	ps = rounded(ps)
	normals := outward(ps, 3)
	cost, change := make([]float32, n*profileLen), make([]float32, n*profileLen)
	rows := make([]float32, 3*profileLen)
	for i, p := range ps {
		k := i * profileLen
		e.profile(p, normals[i], inks, rows, cost[k:k+profileLen], change[k:k+profileLen])
		for j := range profileLen {
			if j < mostIn-far || j > mostIn+far*2 {
				cost[k+j] += 1e6
			}
		}
	}
	at := unspiked(cheapest(cost, n))
	out := make([]point, n)
	for i, p := range ps {
		k := i * profileLen
		d := steepest(change[k:k+profileLen], at[i]) - mostIn + .5
		out[i] = point{
			min(max(p[0]+d*normals[i][0], 0), float64(e.p.W)),
			min(max(p[1]+d*normals[i][1], 0), float64(e.p.H)),
		}
	}
	return out
}

// rounded is a closed outline in equal steps whose specks and teeth, a few
// steps wide, are smoothed away: they are JPEG's, and no edge can be looked
// for across them.
func rounded(ps []point) []point {
	weights := [...]float64{.28, .2, .11, .05} // of the point itself and of those at both sides
	n := len(ps)
	out := make([]point, n)
	for i := range ps {
		for k, w := range weights {
			a, b := ps[(i+k)%n], ps[(i-k+n)%n]
			if k == 0 {
				w /= 2
			}
			out[i][0] += w * (a[0] + b[0])
			out[i][1] += w * (a[1] + b[1])
		}
	}
	return out
}

// unspiked is the median of each position and those of the profiles next to
// it: a spike one or two profiles wide is a speck beside the piece, not its
// edge.
func unspiked(at []int) []int {
	const reach = 2
	n := len(at)
	out := make([]int, n)
	var near [2*reach + 1]int
	for i := range at {
		for k := range near {
			near[k] = at[(i+k-reach+n)%n]
		}
		slices.Sort(near[:])
		out[i] = near[reach]
	}
	return out
}

// steepest is where, near position k, the change is greatest, between the
// pixels: the vertex of the parabola through the greatest and its neighbours.
func steepest(change []float32, k int) float64 {
	best := k
	for j := max(k-snap, 1); j <= min(k+snap, profileLen-2); j++ {
		if change[j] > change[best] {
			best = j
		}
	}
	if best < 1 || best > profileLen-2 {
		return float64(k)
	}
	a, b, c := change[best-1], change[best], change[best+1]
	if b <= 0 || b < a || b < c || a+c == 2*b {
		return float64(k)
	}
	return float64(best) + float64((a-c)/(2*(a-2*b+c)))
}

// outward are unit vectors across the outline, each by the run of reach
// points to both sides.
func outward(ps []point, reach int) []point {
	n := len(ps)
	out := make([]point, n)
	for i := range ps {
		a, b := ps[(i-reach+n)%n], ps[(i+reach)%n]
		dx, dy := b[0]-a[0], b[1]-a[1]
		if d := math.Hypot(dx, dy); d > 0 {
			out[i] = point{dy / d, -dx / d}
		}
	}
	return out
}

// newEdges measures what the ground's working pixels are like, on those that lie
// well within the ground.
func (s *search) newEdges(p *photo.Picture, lossy bool) *edges {
	e := &edges{p: p, scale: s.sm.gain, r: s.sm.r, lossy: lossy}
	lifted := make([]float32, len(s.sm.l))
	for i, l := range s.sm.l {
		lifted[i] = l + 16
	}
	e.g = s.g.Field([3][]float32{lifted, s.sm.a, s.sm.b})
	within := s.g.Member.Eroded(inGround * s.long)
	step := max(1, within.Count()/groundPlaces)
	var off [3][]float64
	var change []float64
	lab := make([]float32, 3*4)
	n := 0
	within.Each(func(x, y int) {
		x, y = int((float64(x)+.5)*s.sm.r), int((float64(y)+.5)*s.sm.r)
		if n++; n%step != 0 || x+4 > p.W {
			return
		}
		for i, v := range p.Pix[3*(y*p.W+x) : 3*(y*p.W+x+4)] {
			lab[i] = v * e.scale
		}
		colorspace.LabRow(lab, lab)
		l, a, b := e.ground(float64(x), float64(y))
		t := (lab[0] + 16) / l
		off[0] = append(off[0], math.Abs(float64(lab[0]+16-l)))
		off[1] = append(off[1], math.Abs(float64(lab[1]-a*t)))
		off[2] = append(off[2], math.Abs(float64(lab[2]-b*t)))
		change = append(change, float64(changeAt(lab, 1)))
	})
	for k, least := range [3]float64{leastL, leastAB, leastAB} {
		e.sd[k] = max(1.4826*fit.Median(off[k]), least)
	}
	e.density = float32(math.Log(math.Pow(2*math.Pi, 1.5) * e.sd[0] * e.sd[1] * e.sd[2]))
	e.change = 2
	if len(change) > 0 {
		e.change = max(e.change, float32(fit.Quantile(change, .98)))
	}
	return e
}

const (
	inGround     = .006 // of the photo, from the ground's edge: beyond shadows' cores and blur
	groundPlaces = 4000 // whose .98 quantile is known to a tenth of its distance from the median
)

// ground is the ground's L*+16, a* and b* at a place, in working pixels.
func (e *edges) ground(x, y float64) (l, a, b float32) {
	v := e.g.At(x/e.r, y/e.r)
	return max(v[0], 1), v[1], v[2]
}

// changeAt is the change of colour between pixels k-1, k and pixels k+1, k+2.
func changeAt(lab []float32, k int) float32 {
	var sum float32
	for i := range 3 {
		sum += sq32(lab[3*k+i] + lab[3*k-3+i] - lab[3*k+3+i] - lab[3*k+6+i])
	}
	return float32(math.Sqrt(float64(sum))) / 2
}

// profile fills cost with what it costs to put the edge just outside pixel k
// of the line across the outline at p, k from mostIn inside to mostOut
// outside.
func (e *edges) profile(p, normal point, inks *palette, lab, cost, change []float32) {
	first, last := e.sample(p, normal, lab)
	var c crossing
	c.l, c.a, c.b = e.ground(p[0], p[1])
	c.scatter(e, lab)
	c.compare(lab)
	for k := range profileLen {
		c.in[k] = (inks.cost(lab[3*k], lab[3*k+1], lab[3*k+2]) - e.density) / 2
		if k > 0 {
			c.in[k] += c.in[k-1]
		}
		if k > 0 && k+2 < profileLen {
			change[k] = changeAt(lab, k)
		}
	}
	c.sumOutside(change)
	var shallow [profileLen]float32
	for i := range shallow {
		shallow[i] = unseen
	}
	for k := profileLen - 1; k >= 0; k-- {
		if i := k + mixed + 1; i < profileLen {
			c.passed(i, &shallow)
		}
		if k < first || k > last {
			cost[k] = 1e6
			continue
		}
		v := c.edgeAt(k, &shallow)
		v -= edgeGain * change[k] / (change[k] + edgeHalf + e.change)
		v += leans * float32(max(k-mostIn, mostIn-k))
		cost[k] = v
	}
	if last < profileLen-1 && last >= 0 {
		// Cut by the photo's border: that is the edge of what shows.
		cost[last] -= 50
	}
}

// crossing is a line across an outline, from mostIn pixels inside to mostOut
// outside, held against the ground there.
type crossing struct {
	l, a, b float32 // the ground's L*+16, a* and b*
	// How far the ground's own pixels scatter in L*, a* and b*: at large, and
	// beside the edge, where a pixel may be part cloth and part ground as well.
	large, beside [3]float32
	restless      float32 // the change of colour that the ground hardly ever exceeds here

	in    [profileLen]float32 // what the pixels up to this one cost in the piece
	off   [profileLen]float32 // from the ground's colour, in its scatter at large, squared
	near  [profileLen]float32 // the same by its scatter beside the edge
	depth [profileLen]float32 // how much darker than the ground, in L*
	out   [profileLen]float32 // off, and more where colour changes as it does on no ground
	// What a pixel outside costs depends on where the edge lies only when it is
	// near the edge, or darker than the ground. The others cost the same for
	// every edge, and are summed once: same from a pixel on.
	same  [profileLen + 1]float32
	dark  [profileLen]int8 // the darker ones, the last first
	darks int
}

const (
	nearby = 4   // pixels outside the edge whose cost depends on where it lies
	unseen = 1e6 // deeper than any shadow
)

// scatter sets how far the ground's pixels scatter, by how far from its colour
// the piece is.
func (c *crossing) scatter(e *edges, lab []float32) {
	gl, ga, gb := c.l, c.a, c.b
	sl, sa, sb := float32(e.sd[0]), float32(e.sd[1]), float32(e.sd[2])
	var far [3]float32
	for k := range mostIn {
		t := (lab[3*k] + 16) / gl
		far[0] = max(far[0], lab[3*k]+16-gl, gl-16-lab[3*k])
		far[1] = max(far[1], lab[3*k+1]-ga*t, ga*t-lab[3*k+1])
		far[2] = max(far[2], lab[3*k+2]-gb*t, gb*t-lab[3*k+2])
	}
	inColour := float32(2 * rings)
	if e.lossy {
		inColour = colourRings
	}
	c.beside = [3]float32{sl + mixes*far[0], sa + mixes*far[1], sb + mixes*far[2]}
	c.large = [3]float32{sl + rings*far[0], sa + inColour*far[1], sb + inColour*far[2]}
	// What rings changes from pixel to pixel as well.
	c.restless = e.change
	if e.lossy {
		c.restless += colourRings * max(far[1], far[2])
	}
}

// compare sets how far each pixel is from the ground's colour, in light or in
// shadow, and how much darker it is.
func (c *crossing) compare(lab []float32) {
	gl, ga, gb := c.l, c.a, c.b
	large, beside := c.large, c.beside
	for k := range profileLen {
		lk := lab[3*k] + 16
		t := lk / gl
		dl, da, db := lk-gl, lab[3*k+1]-ga*t, lab[3*k+2]-gb*t
		wide := float32(0)
		if dl < 0 {
			wide = -tints / otherSigmas * dl
		}
		c.off[k] = sq32(da/(large[1]+wide)) + sq32(db/(large[2]+wide)) + sq32(max(dl, 0)/large[0])
		c.near[k] = sq32(da/(beside[1]+wide)) + sq32(db/(beside[2]+wide)) + sq32(max(dl, 0)/beside[0])
		c.depth[k] = -dl
	}
}

// sumOutside sums what the pixels cost as ground whose cost is the same for
// every edge, and lists the dark ones.
func (c *crossing) sumOutside(change []float32) {
	for j := profileLen - 1; j >= 0; j-- {
		z := c.off[j]
		if change[j] > 1.5*c.restless {
			z += 2 * sq32(change[j]/c.restless)
		}
		c.out[j] = z
		c.same[j] = c.same[j+1]
		switch {
		case z >= 2*outsideMost:
			c.same[j] += outsideMost
		case c.depth[j] > c.large[0]:
			c.dark[c.darks] = int8(j)
			c.darks++
		default:
			c.same[j] += min(z/2, outsideMost)
		}
	}
}

// passed takes pixel i to lie between the edge and the dark ones further out. A
// shadow gets no deeper away from what casts it: shallow is how deep the
// shallowest pixel is between the edge and each of the dark ones.
func (c *crossing) passed(i int, shallow *[profileLen]float32) {
	for n, j := range c.dark[:c.darks] {
		if int(j) <= i {
			break
		}
		shallow[n] = min(shallow[n], max(c.depth[i], 0))
	}
}

// edgeAt is what the pixels cost, those up to k in the piece and those beyond on
// the ground.
func (c *crossing) edgeAt(k int, shallow *[profileLen]float32) float32 {
	sum := c.in[k] + c.same[min(k+nearby+1, profileLen)]
	least := float32(unseen)
	for j := k + 1; j < min(k+nearby+1, profileLen); j++ {
		z, s := c.off[j], c.large[0]
		if j <= k+besides {
			z, s = c.near[j], c.beside[0]
		}
		sum += shadedCost(z, c.depth[j], least, s, c.l, j-k)
		if j > k+mixed {
			least = min(least, max(c.depth[j], 0))
		}
	}
	for n, j := range c.dark[:c.darks] {
		if int(j) <= k+nearby {
			break
		}
		sum += shadedCost(c.out[j], c.depth[j], shallow[n], c.large[0], c.l, int(j)-k)
	}
	return sum
}

// shadedCost is what a pixel of the ground costs that is darker than the rest
// by depth, at steps from the edge: z for its colour, and more the deeper it is
// than a shadow can be there, and than least, what lies between. s is the
// ground's own spread.
func shadedCost(z, depth, least, s, gl float32, steps int) float32 {
	if d := depth - s - shadowAt[steps]*gl; d > 0 {
		z += sq32(d / s)
	}
	if d := depth - s - least; d > 0 {
		z += sq32(d / s)
	}
	z /= 2
	if depth > s+.02*gl {
		z += shadowCost
	}
	return min(z, outsideMost)
}

// shadowAt is how deep a contact shadow can be at so many working pixels from
// the edge that casts it, as a share of L*+16.
var shadowAt = func() (s [profileLen]float32) {
	for i := range s {
		s[i] = float32(.10 + (1-deepest-.10)*math.Exp(-float64(i)/5))
	}
	return s
}()

// sample reads the picture along the line across an outline, as CIELAB, and
// tells which of its pixels lie inside the picture.
func (e *edges) sample(p, normal point, lab []float32) (first, last int) {
	w, h := e.p.W, e.p.H
	limit := [2]float64{float64(w) - 1, float64(h) - 1}
	first, last = 0, profileLen-1
	far := float64(max(mostIn, mostOut) + 1)
	amid := p[0] > far && p[1] > far && p[0] < limit[0]-far && p[1] < limit[1]-far // all of the line is
	for k := range profileLen {
		d := float64(k - mostIn)
		x, y := p[0]+d*normal[0]-.5, p[1]+d*normal[1]-.5
		if amid {
			e.between(lab[3*k:3*k+3], x, y, int(x), int(y))
			continue
		}
		if k >= mostIn && last == profileLen-1 && (x < -.5 || y < -.5 || x > limit[0]+.5 || y > limit[1]+.5) {
			last = k - 1
		}
		x, y = min(max(x, 0), limit[0]), min(max(y, 0), limit[1])
		i, j := min(int(x), w-2), min(int(y), h-2)
		if i < 0 || j < 0 { // a picture one pixel wide
			i, j = max(i, 0), max(j, 0)
			copy(lab[3*k:3*k+3], e.p.Pix[3*(j*w+i):])
			continue
		}
		e.between(lab[3*k:3*k+3], x, y, i, j)
	}
	colorspace.LabRow(lab, lab)
	return first, last
}

// between sets dst to the light at (x, y), in steps from pixel to pixel: among
// pixel (i, j) and those to its right and below.
func (e *edges) between(dst []float32, x, y float64, i, j int) {
	tx, ty := float32(x)-float32(i), float32(y)-float32(j)
	at := 3 * (j*e.p.W + i)
	top, low := e.p.Pix[at:at+6:at+6], e.p.Pix[at+3*e.p.W:][:6]
	u0, v0 := top[0]+tx*(top[3]-top[0]), low[0]+tx*(low[3]-low[0])
	u1, v1 := top[1]+tx*(top[4]-top[1]), low[1]+tx*(low[4]-low[1])
	u2, v2 := top[2]+tx*(top[5]-top[2]), low[2]+tx*(low[5]-low[2])
	dst = dst[:3]
	dst[0], dst[1], dst[2] = e.scale*(u0+ty*(v0-u0)), e.scale*(u1+ty*(v1-u1)), e.scale*(u2+ty*(v2-u2))
}

// cheapest is the closed path through n profiles whose cost, with that of its
// bends, is least: by dynamic programming, once round to find where the path
// passes the first profile, and once more from there.
func cheapest(cost []float32, n int) []int {
	at := cheapestFrom(cost, n, -1)
	half := n / 2
	cut := half * profileLen
	turned := append(cost[cut:len(cost):len(cost)], cost[:cut]...)
	turnedAt := cheapestFrom(turned, n, at[half])
	for i, k := range turnedAt {
		at[(i+half)%n] = k
	}
	return at
}

// cheapestFrom is the cheapest path that starts, and ends next to, position
// start; anywhere when start is negative.
func cheapestFrom(cost []float32, n, start int) []int {
	const far = 1e9
	var now, next [profileLen]float32
	from := make([]int8, n*profileLen)
	for k := range now {
		now[k] = cost[k]
		if start >= 0 && k != start {
			now[k] += far
		}
	}
	for i := 1; i < n; i++ {
		for k := range next {
			best, step := now[k], int8(0)
			for s := 1; s <= bendMost; s++ {
				bend := bendCost * float32(s*s)
				if k-s >= 0 && now[k-s]+bend < best {
					best, step = now[k-s]+bend, int8(-s)
				}
				if k+s < profileLen && now[k+s]+bend < best {
					best, step = now[k+s]+bend, int8(s)
				}
			}
			next[k] = best + cost[i*profileLen+k]
			from[i*profileLen+k] = step
		}
		now = next
	}
	end := 0
	for k := range now {
		c := now[k]
		b := now[end]
		if start >= 0 {
			c += bendCost * float32(sq(float64(k-start)))
			b += bendCost * float32(sq(float64(end-start)))
		}
		if c < b {
			end = k
		}
	}
	at := make([]int, n)
	for i := n - 1; i >= 0; i-- {
		at[i] = end
		if i > 0 {
			end += int(from[i*profileLen+end])
		}
	}
	return at
}
