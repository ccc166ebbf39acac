package scraps

import (
	"image"
	"math"
	"slices"

	"greige/analyze/fit"
	"greige/analyze/ground"
	"greige/analyze/raster"
)

// Lengths are shares of the photo's longer side, areas those of its square. What
// has no source was set on real and drawn tables.
const (
	least = .008 // across the least disc that a piece holds: a strip a centimetre wide on a table of 1.2 m
	near  = .003 // how far an edge may lie from where it is looked for: its blur and a fold of cloth
	// blurSlopes is the blur before edges are measured: less than a lens's own.
	blurSlopes = .0008
	// unevenness reaches beyond an edge by the filters of ground.Find.
	uneven = .002
	// keenReach is how far from an edge the full step over it is seen; no less than
	// leastKeen pixels, over which the filters of ground.Find spread an edge.
	keenReach = .004
	leastKeen = 3
)

// search is what proposals are made from.
type search struct {
	sm   *small
	g    *ground.Ground
	w, h int
	long float64 // the longer side
	// slope is the slope at each pixel, edge the greatest one within near, and keen
	// how sharp that edge is: its slope over the step that it makes, 1 where it is
	// as sharp as edges get in this photo.
	slope, edge, keen []float32
	grain             float64 // standard deviation of the ground's pixels, L*
	off               passes
}

// passes are the passes that can be left out, to see what each is worth
// (BenchmarkAblation); the zero value leaves out none.
type passes struct {
	climb, gaps, split, smooth, snap, edge, shapes, nets, rings bool
}

func newSearch(sm *small, g *ground.Ground) *search {
	s := &search{sm: sm, g: g, w: sm.w, h: sm.h, long: float64(max(sm.w, sm.h))}
	var soft [3][]float32
	for k, v := range sm.log.Planes {
		soft[k] = raster.Blur(v, s.w, s.h, blurSlopes*s.long)
	}
	s.slope = raster.Gradient(soft, s.w, s.h)
	s.edge = raster.Max(s.slope, s.w, s.h, max(1, int(math.Round(near*s.long))))
	return s
}

func (s *search) bounds() image.Rectangle { return image.Rect(0, 0, s.w, s.h) }

// leastPixels is the area of the least piece.
func (s *search) leastPixels() int { return max(4, int(sq(least*s.long))) }

// small discs of the search, in pixels.
func (s *search) leastRadius() float64 { return max(1, math.Round(least*s.long/2)) }

// roots are what is none of the ground, or not even, without thin lines; regions
// that are so for the most part are filled.
func (s *search) roots() *raster.Mask {
	seen := raster.NewMask(s.bounds())
	rough := raster.NewMask(s.bounds())
	for i, d := range s.g.Distance {
		if s.sm.gone != nil && s.sm.gone[i] || s.g.Lines != nil && s.g.Lines.In[i] {
			continue
		}
		seen.In[i] = d > ground.Seen
		rough.In[i] = seen.In[i] || s.g.Uneven.In[i]
	}
	r := s.leastRadius()
	all := raster.NewMask(s.bounds())
	textured := rough.Closed(r)
	rough = rough.Opened(r)
	for _, c := range rough.Components(raster.Corners, 1) {
		m := c.Mask()
		if whole := m.Filled(); 2*c.Pixels > whole.Count() {
			m = whole
		}
		all.Add(m)
	}
	all = all.Eroded(max(1, uneven*s.long))
	all.Add(seen.Opened(r))
	all = all.Opened(r).Filled()
	if !s.off.nets {
		s.addNets(all, textured)
	}
	return all
}

// addNets adds to the roots what shows by its texture alone: a pale print on a pale
// ground is a net of slopes. It counts where nothing else lies.
func (s *search) addNets(roots, slopes *raster.Mask) {
	r, reach := s.leastRadius(), max(1, uneven*s.long)
	slopes.Remove(roots.Dilated(reach))
	for _, c := range slopes.Opened(r).Components(raster.Sides, s.leastPixels()) {
		if m := c.Mask(); float64(slices.Max(m.Depth())) > wideNet*r {
			roots.Add(m.Filled().Dilated(reach).Within(s.bounds()))
		}
	}
}

// wideNet is how wide, in radii of the least piece, a net of slopes has to be: those of
// a shadow between two pieces are narrow.
const wideNet = 3

// sharpen sets keen by the edges of the roots.
func (s *search) sharpen(roots *raster.Mask) {
	slopes := make([]float32, 0, len(s.slope)/4+1)
	for i := 0; i < len(s.edge); i += 4 { // enough for a median
		slopes = append(slopes, s.edge[i])
	}
	usual := 2 * fit.Median(slopes)
	step := make([]float32, s.w*s.h)
	for i := range step {
		r := &s.g.Residual
		step[i] = float32(math.Sqrt(float64(sq32(r[0][i]) + sq32(r[1][i]) + sq32(r[2][i]))))
	}
	step = raster.Max(step, s.w, s.h, max(leastKeen, int(math.Round(keenReach*s.long))))
	s.keen = make([]float32, s.w*s.h)
	for i := range s.keen {
		s.keen[i] = max(s.edge[i]-usual, 0) / (step[i] + 2) // 2: a step that can hardly be seen has no sharpness
	}
	// A root may end in its shadow all round: the sharpest edges are those of what
	// is farther from the ground than some level.
	sharpest := float32(1e-6)
	for _, level := range [...]float32{0, 3 * ground.Seen, 8 * ground.Seen} {
		high := raster.NewMask(roots.Bounds)
		for i, in := range roots.In {
			high.In[i] = in && s.g.Distance[i] > level
		}
		if edge := s.along(s.keen, high.Opened(s.leastRadius()).Filled().Border()); len(edge) > s.leastPixels() {
			sharpest = max(sharpest, fit.Quantile(edge, .9))
		}
	}
	for i := range s.keen {
		s.keen[i] /= sharpest
	}
}

// along are the values of a plane at the pixels of m.
func (s *search) along(v []float32, m *raster.Mask) []float32 {
	var out []float32
	m.Each(func(x, y int) { out = append(out, v[y*s.w+x]) })
	return out
}

// propose gives everything that may be a piece of one part of the roots in every.
func (s *search) propose(parts []raster.Component, every int) (pieces []*raster.Mask) {
	found := make([][]*raster.Mask, (len(parts)+every-1)/every)
	raster.Bands(len(found), 1, func(from, to int) {
		for i := from; i < to; i++ {
			found[i] = s.divide(parts[every*i].Mask())
		}
	})
	return slices.Concat(found...)
}

// divide gives the pieces that a root may hold.
func (s *search) divide(root *raster.Mask) (pieces []*raster.Mask) {
	climbed := []*raster.Mask{root}
	if !s.off.climb {
		climbed = s.climb(root, ground.Seen/levelStep)
	}
	for _, m := range climbed {
		parts := []*raster.Mask{m}
		if !s.off.split && !s.ringed(m) {
			parts = s.split(m)
		}
		for _, part := range parts {
			if s.off.smooth {
				pieces = append(pieces, part)
			} else {
				pieces = append(pieces, s.smooth(part)...)
			}
		}
	}
	return pieces
}

// ringed tells whether m has arms and a few large holes, as scissors have whose rings
// and blades would be taken for pieces that touch.
func (s *search) ringed(m *raster.Mask) bool {
	if s.off.rings {
		return false
	}
	hole, holes := s.holesOf(m)
	return hole > armsHoles/2 && holes > armsHoles && m.Solidity() < armsFill
}

const (
	levelStep = 1.4 // from level to level of distance: some ten between a shadow and a dark cloth
	// soft: blurred is an edge less sharp than this share of the sharpest.
	soft = .35
)

// climb is what is left of a root higher up through the levels of distance from
// the ground: while all that falls away had a blurred outline, as shadow, glare
// and sheen have, and what stays has a stronger edge; or when more compact parts
// are left, between which hardly anything but ground falls away.
func (s *search) climb(m *raster.Mask, level float32) []*raster.Mask {
	rim := m.Border()
	k := climbing{s: s, m: m, rim: rim, length: rim.Count(), area: m.Count(), solidity: m.Solidity()}
	k.edge = fit.Quantile(s.along(s.edge, rim), .25)
	top := fit.Quantile(s.along(s.g.Distance, m), .9)
	for level*levelStep < top {
		level *= levelStep
		parts := s.above(m, level)
		if len(parts) == 0 {
			break
		}
		verdict := k.judge(parts)
		if verdict == stop {
			break
		}
		if verdict == higher {
			continue
		}
		var out []*raster.Mask
		for _, p := range parts {
			out = append(out, s.climb(p, level)...)
		}
		return out
	}
	return []*raster.Mask{m}
}

// above are the parts of m that lie farther from the ground than a level, each
// filled, without thin lines.
func (s *search) above(m *raster.Mask, level float32) (parts []*raster.Mask) {
	high := raster.NewMask(m.Bounds)
	m.Each(func(x, y int) {
		if s.g.Distance[y*s.w+x] > level {
			high.Set(x, y, true)
		}
	})
	for _, c := range high.Opened(s.leastRadius()).Filled().Components(raster.Sides, s.leastPixels()) {
		parts = append(parts, c.Mask())
	}
	return parts
}

// climbing is a region whose parts at a higher level are judged.
type climbing struct {
	s            *search
	m, rim       *raster.Mask
	length, area int
	solidity     float64
	edge         float32 // that a quarter of its outline falls short of
}

const (
	stop   = iota // a sharp edge would be given up
	higher        // nothing is lost yet, or nothing is better
	take          // the parts are better than the whole
)

func (k *climbing) judge(parts []*raster.Mask) int {
	left, smallest, outline := 0, k.area, 0
	solid, round := 0., 0.
	kept := raster.NewMask(k.m.Bounds)
	for _, p := range parts {
		n := p.Count()
		left, smallest = left+n, min(smallest, n)
		outline += p.Border().Count()
		solid += float64(n) * p.Solidity()
		if len(parts) > 1 {
			round += sq(2 * float64(slices.Max(p.Depth())))
		}
		kept.Add(p)
	}
	more := solid/float64(left) - k.solidity
	wide := kept.Dilated(max(1, math.Round(near*k.s.long)))
	if len(parts) > 1 && !k.s.off.gaps && k.groundBetween(kept) {
		// A gap opens: the parts are nearly all there was, none of them a mere bit,
		// and they are more compact together; or, where the whole is as compact as
		// can be, each as good as round or square, which the stripes of one cloth are
		// not; or they are far more compact.
		// What the blur of their edges takes from them is not lost.
		whole := float64(wide.Shared(k.m)) > .88*float64(k.area) && float64(smallest*len(parts)) > .3*float64(k.area)
		if whole && (more > .005 || k.solidity > .97 && round > roundEnough*float64(left)) || more > .05 && outline < k.length {
			return take
		}
	}
	lost := k.rim.Clone()
	lost.Remove(wide)
	gone := k.s.along(k.s.keen, lost)
	if float64(len(gone)) < .03*float64(k.length) { // a corner's worth
		return higher
	}
	if fit.Median(gone) > soft {
		return stop
	}
	if 10*left < k.area { // a tenth of it exceeds the level (climb): here in specks, the figures of a print
		return higher
	}
	if more < 0 && float64(outline) > 1.1*float64(k.length) {
		return higher
	}
	if fit.Quantile(k.s.along(k.s.edge, kept.Border()), .25) <= k.edge {
		return higher
	}
	return take
}

// roundEnough is how much of a part its inscribed circle's square covers: all of a
// square's, half of a rectangle twice as long as wide, a fifth of a stripe's five
// times as long.
const roundEnough = .4

// groundBetween tells whether what falls away is ground: much nearer to it than
// what is kept, or for the most part of its colour in a shadow.
func (k *climbing) groundBetween(kept *raster.Mask) bool {
	gone := k.m.Clone()
	gone.Remove(kept)
	between := k.s.along(k.s.g.Distance, gone)
	if len(between) == 0 {
		return false
	}
	if fit.Median(between) < .25*fit.Median(k.s.along(k.s.g.Distance, kept)) {
		return true
	}
	shaded := 0
	gone.Each(func(x, y int) {
		if k.s.g.Shaded(y*k.s.w + x) {
			shaded++
		}
	})
	return 10*shaded > 7*len(between)
}

// necks are the widths at which a region is cut, in its inscribed radii.
var necks = [...]float32{.3, .45, .6}

// split cuts a neck much narrower than what it joins, if both sides are more
// compact then: pieces that touch.
func (s *search) split(m *raster.Mask) []*raster.Mask {
	depth := m.Depth()
	radius := slices.Max(depth)
	w, h := m.Bounds.Dx(), m.Bounds.Dy()
	for _, neck := range necks {
		cores := s.cores(m, depth, neck*radius)
		if len(cores) < 2 {
			continue
		}
		label := raster.Labels(m.Bounds, cores)
		height := make([]float32, len(depth))
		for i, d := range depth {
			height[i] = -d
		}
		raster.Watershed(height, w, h, label, m.In)
		parts := make([]*raster.Mask, len(cores))
		compact, fewest := 1., m.Count()
		for k := range parts {
			parts[k] = raster.NewMask(m.Bounds)
			for i, l := range label {
				parts[k].In[i] = int(l) == k+1
			}
			compact, fewest = min(compact, parts[k].Solidity()), min(fewest, parts[k].Count())
		}
		if fewest >= s.leastPixels() && compact > max(.85, m.Solidity()+.05) {
			for k, p := range parts {
				parts[k] = p.Within(p.Extent())
			}
			return parts
		}
	}
	return []*raster.Mask{m}
}

// cores are the regions deeper in m than a neck, much deeper in their middle.
func (s *search) cores(m *raster.Mask, depth []float32, neck float32) []raster.Component {
	deep := raster.NewMask(m.Bounds)
	for i, d := range depth {
		deep.In[i] = d > neck
	}
	return slices.DeleteFunc(deep.Components(raster.Corners, 1), func(c raster.Component) bool {
		most := float32(0)
		for _, r := range c.Runs {
			at := (r.Y-m.Bounds.Min.Y)*m.Bounds.Dx() - m.Bounds.Min.X
			most = max(most, slices.Max(depth[at+r.X0:at+r.X1]))
		}
		return most <= 1.3*neck+1
	})
}

// Bays are filled and spurs cut, in inscribed radii.
const (
	bay   = .5
	shave = .2
)

// smooth fills bays and cuts spurs, and gives what is left in one or more parts.
func (s *search) smooth(m *raster.Mask) (parts []*raster.Mask) {
	radius := float64(slices.Max(m.Depth()))
	m = m.Closed(bay * radius).Opened(shave * radius)
	for _, c := range m.Components(raster.Sides, max(s.leastPixels(), m.Count()/5)) {
		parts = append(parts, c.Mask())
	}
	return parts
}
