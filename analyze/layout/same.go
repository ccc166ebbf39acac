package layout

import (
	"math"
	"slices"

	"greige/analyze/cloth"
	"greige/colorspace"
)

// Patches cut from one cloth differ by the noise of the measurement, by what
// unevenness of the light is left, and, when the print is large, by what part
// of it each happens to show. Two patches are taken for one cloth when their
// difference is small in units of all three and their inks agree. They are
// joined nearest first, and two groups only when their means agree as well:
// so a chain of ever so slightly different cloths does not become one (the
// trap of single linkage), and a group of many patches tells finer than one
// of two.

const (
	// sameLimit is the 95 % point of chi square with three degrees of
	// freedom (any table): one pair in 200 of the same cloth is missed.
	sameLimit = 7.81
	// floorLab is the standard deviation, in L*, a* and b*, that is left
	// between groups however many patches they have: weave, creases, and
	// light that no smooth field describes.
	floorLab = .5
	// floorPrint is the same for what the print's patches differ by, as a part
	// of that variance, which is itself a guess.
	floorPrint = .1
	// showing is the variance between patches, as a part of the variance
	// within them, of a print whose figures the eye can tell apart at the
	// distance: some four figures to a patch.
	showing = .25
	// unexplained bounds the spread of a patch of which no second ink is known.
	unexplained = 4
	// inkApart is the CIELAB difference within which two measured inks are
	// taken for one: the difference that is just noticed (2.3, Mahy and
	// others 1994), twice and a half for the small areas they are read from.
	inkApart = 6.
	// justSeen is the difference of L* that is just noticed (Mahy and others 1994).
	justSeen = 2.3
	// plainly is the variance between patches, as a part of the variance within them,
	// of a cloth without a second ink: weave and noise of some sixteen threads.
	plainly = 1. / 16
	// main is the share from which on one ink is the cloth's ground, which is the
	// same in every patch of it.
	main = .6
	// telling is the share of a print from which on an ink has to be found
	// in another patch of the same print.
	telling = .12
)

type vec [3]float64

func labVec(l colorspace.Lab) vec { return vec{l.L, l.A, l.B} }

func (v vec) minus(w vec) vec          { return vec{v[0] - w[0], v[1] - w[1], v[2] - w[2]} }
func (v vec) dot(w vec) float64        { return v[0]*w[0] + v[1]*w[1] + v[2]*w[2] }
func (v vec) times(s float64) vec      { return vec{v[0] * s, v[1] * s, v[2] * s} }
func (v vec) plus(w vec) vec           { return vec{v[0] + w[0], v[1] + w[1], v[2] + w[2]} }
func (v vec) apart(w vec) (d2 float64) { d := v.minus(w); return d.dot(d) }

// covariance of L*, a*, b*: symmetric, row by row from the diagonal on.
type covariance [6]float64

func (c covariance) plus(d covariance) covariance {
	for i := range c {
		c[i] += d[i]
	}
	return c
}

func (c covariance) times(s float64) covariance {
	for i := range c {
		c[i] *= s
	}
	return c
}

func (c *covariance) add(d vec, weight float64) {
	c[0] += weight * d[0] * d[0]
	c[1] += weight * d[0] * d[1]
	c[2] += weight * d[0] * d[2]
	c[3] += weight * d[1] * d[1]
	c[4] += weight * d[1] * d[2]
	c[5] += weight * d[2] * d[2]
}

// distance is d' (c + noise I)^-1 d: a squared difference in units of its
// variance (Mahalanobis 1936), by Cholesky. noise must be above 0.
func (c covariance) distance(d vec, noise float64) float64 {
	l00 := math.Sqrt(c[0] + noise)
	l10, l20 := c[1]/l00, c[2]/l00
	l11 := math.Sqrt(c[3] + noise - l10*l10)
	l21 := (c[4] - l20*l10) / l11
	l22 := c[5] + noise - l20*l20 - l21*l21
	y0 := d[0] / l00
	y1 := (d[1] - l10*y0) / l11
	y2 := d[2] - l20*y0 - l21*y1
	return y0*y0 + y1*y1 + y2*y2/l22
}

// sample is a patch as the grouping sees it.
type sample struct {
	raw, lab vec     // as measured, and with the left-over light taken out
	noise    float64 // variance of each of L*, a*, b* between pieces of one cloth
	// lit and own are what light may be left on the patch, in L*: a vector of which
	// the difference to another patch's counts, and a standard uncertainty by itself.
	lit    []float64
	own    float64
	print  covariance // in which the print's patches differ; 0 for what reads as a solid
	inks   []cloth.Colour
	spread float64
	large  float64 // how large the print is, 0..1: part of its variance that the eye makes out
}

func newSample(p *Patch) sample {
	s := sample{raw: labVec(p.Lab), spread: p.Spread, noise: floorLab * floorLab / 2, lit: p.Lit, own: p.Own}
	if p.Own == 0 { // measured elsewhere: nothing is known of its light
		s.own = p.sigma()
	}
	s.raw[0] = p.Lightness
	s.lab = s.raw
	for _, c := range p.Colours {
		if c.Share >= .02 {
			s.inks = append(s.inks, c)
		}
	}
	s.print, s.large = printCovariance(s.inks, p.Spread)
	return s
}

// variance is that of L* that the patch has of all causes, where another's light
// may be on the other side: (x - y)^2 is at most 2 (x^2 + y^2).
func (s *sample) variance() float64 {
	v := s.noise + s.own*s.own + s.print[0]
	for _, x := range s.lit {
		v += 2 * x * x
	}
	return v
}

// printCovariance is the covariance in which the means of a print's patches
// differ. The inks say in which directions. How much is told by the spread:
// what the eye's blur leaves of the inks' variance is what comes in figures
// large enough to be cut through. That part is returned as well.
func printCovariance(inks []cloth.Colour, spread float64) (c covariance, large float64) {
	var mean vec
	shares := 0.
	for _, k := range inks {
		mean = mean.plus(labVec(k.Lab).times(k.Share))
		shares += k.Share
	}
	if len(inks) < 2 || shares <= 0 {
		// Without inks to show for it, a spread may be a crease or a shadow.
		s := min(spread, unexplained)
		return covariance{0: plainly * s * s}, 0
	}
	mean = mean.times(1 / shares)
	for _, k := range inks {
		c.add(labVec(k.Lab).minus(mean), k.Share/shares)
	}
	large = .3 // of the variance, when the inks do not differ in lightness
	if c[0] > 4 {
		large = min(spread*spread/c[0], 1)
	}
	return c.times(showing * large), large
}

// underLight is the covariance in which light that is left makes a colour
// differ: more light is a step from black, L* = -16, through the colour, and no
// other cast. variance is that of L*.
//
// That two patches are one cloth is a claim, and needs more than light that
// might explain their difference: the light counts for no more than is just seen.
func underLight(at vec, variance float64) (c covariance) {
	variance = min(variance, justSeen*justSeen)
	d := vec{1, at[1] / (at[0] + 16), at[2] / (at[0] + 16)}
	c.add(d, variance)
	return c
}

// pairDistance is the squared distance of two patches.
func pairDistance(a, b *sample) float64 {
	light := underLight(a.lab.plus(b.lab).times(.5), a.own*a.own+b.own*b.own+gap(a.lit, b.lit))
	return a.print.plus(b.print).plus(light).distance(a.lab.minus(b.lab), a.noise+b.noise)
}

// gap is the squared distance of two vectors; of different lengths, as of patches
// of different photos, that of each from nothing.
func gap(a, b []float64) (sum float64) {
	if len(a) != len(b) {
		return gap(a, make([]float64, len(a))) + gap(b, make([]float64, len(b)))
	}
	for i, v := range a {
		sum += (v - b[i]) * (v - b[i])
	}
	return sum
}

// sameInks: what one shows the other can show. A print is as busy everywhere
// and shares its telling inks, both ways; of a large one, a patch may be half
// as busy again as another, and one of the two may miss some of the inks.
func sameInks(a, b *sample) bool {
	if p, q := a.ground(), b.ground(); p != nil && q != nil && p.plus(a.lab.minus(a.raw)).apart(q.plus(b.lab.minus(b.raw))) > inkApart*inkApart {
		return false
	}
	large := max(a.large, b.large)
	if math.Abs(math.Log((a.spread+1)/(b.spread+1))) > .5+.4*large {
		return false
	}
	x, y := inkCover(a, b), inkCover(b, a)
	return max(x, y) >= 1 && min(x, y) >= 1-large/2
}

// ground is the colour of the ink that is most of the patch; nil where none is.
func (s *sample) ground() *vec {
	for _, c := range s.inks {
		if c.Share >= main {
			v := labVec(c.Lab)
			return &v
		}
	}
	return nil
}

// inkCover is the part of a's telling inks, by their shares, that b shows too.
func inkCover(a, b *sample) float64 {
	if len(b.inks) == 0 {
		return 1 // nothing is known of them
	}
	missing, all := 0., 0.
	for _, c := range a.inks {
		if c.Share < telling {
			continue
		}
		all += c.Share
		// An ink close to the patch's own mean is the cloth as a whole, read
		// as one colour here and as two there.
		ok := labVec(c.Lab).apart(a.raw) <= inkApart*inkApart
		for _, o := range b.inks {
			// The same factor of light that moved the mean moved the inks.
			ca := labVec(c.Lab).plus(a.lab.minus(a.raw))
			co := labVec(o.Lab).plus(b.lab.minus(b.raw))
			ok = ok || ca.apart(co) <= inkApart*inkApart
		}
		if !ok {
			missing += c.Share
		}
	}
	if missing == 0 {
		return 1
	}
	return 1 - missing/all
}

// group is patches of one cloth, by the sums of what they show.
type group struct {
	sum   vec
	n     float64
	noise float64
	own   float64   // sum of the patches' own variances
	lit   []float64 // sum of their vectors
	print covariance
}

func (g *group) add(o *group) {
	g.sum, g.n = g.sum.plus(o.sum), g.n+o.n
	g.noise += o.noise
	g.own += o.own
	if len(g.lit) == len(o.lit) {
		for i, v := range o.lit {
			g.lit[i] += v
		}
	}
	g.print = g.print.plus(o.print)
}

// groupDistance is the squared distance of two groups' means.
func groupDistance(a, b *group) float64 {
	d := a.sum.times(1 / a.n).minus(b.sum.times(1 / b.n))
	noise := a.noise/(a.n*a.n) + b.noise/(b.n*b.n) + floorLab*floorLab
	mean := func(g *group) []float64 {
		m := make([]float64, len(g.lit))
		for i, v := range g.lit {
			m[i] = v / g.n
		}
		return m
	}
	light := underLight(a.sum.plus(b.sum).times(1/(a.n+b.n)), a.own/(a.n*a.n)+b.own/(b.n*b.n)+gap(mean(a), mean(b)))
	shown := func(g *group) covariance { return g.print.times((1/g.n + floorPrint) / g.n) }
	return shown(a).plus(shown(b)).plus(light).distance(d, noise)
}

// sameCloths groups the patches and returns, for each, the number of its
// group from 0, in reading order of the groups' first patches.
func (t *top) sameCloths() []int {
	samples := make([]sample, len(t.patches))
	for i := range t.patches {
		samples[i] = newSample(&t.patches[i])
	}
	return groupSamples(samples)
}

// maxPairs is with how many patches that are no darker one patch is compared
// at most. More are of one cloth, and are joined by way of each other.
const maxPairs = 400

// pair is two patches that may be one cloth.
type pair struct{ a, b int32 }

// groupSamples joins patches nearest first. Pairs are found by a sweep over
// L*, so that only the near ones are looked at; the whole is quadratic at
// worst.
func groupSamples(samples []sample) []int {
	order := make([]int, len(samples))
	widest := 0.
	for i := range samples {
		order[i] = i
		widest = max(widest, samples[i].variance())
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch {
		case samples[a].lab[0] < samples[b].lab[0]:
			return -1
		case samples[a].lab[0] > samples[b].lab[0]:
			return 1
		}
		return a - b
	})
	// Pairs go into drawers by their distance: sorted, without a sort.
	const drawers = 256
	var by [drawers][]pair
	for k, i := range order {
		a := &samples[i]
		// The other one's variance is at most the widest.
		reach := math.Sqrt(sameLimit * (a.variance() + widest))
		found := 0
		for _, j := range order[k+1:] {
			b := &samples[j]
			if b.lab[0]-a.lab[0] > reach {
				break
			}
			d := pairDistance(a, b)
			if d >= sameLimit {
				continue
			}
			if found++; found > maxPairs {
				break
			}
			m := int(d / sameLimit * drawers)
			by[m] = append(by[m], pair{int32(min(i, j)), int32(max(i, j))})
		}
	}
	groups := make([]group, len(samples))
	parent := make([]int, len(samples))
	for i := range samples {
		s := &samples[i]
		groups[i] = group{sum: s.lab, n: 1, noise: s.noise, own: s.own * s.own, lit: slices.Clone(s.lit), print: s.print}
		parent[i] = i
	}
	find := func(i int) int {
		for parent[i] != i {
			parent[i] = parent[parent[i]]
			i = parent[i]
		}
		return i
	}
	for _, drawer := range by {
		for _, p := range drawer {
			a, b := find(int(p.a)), find(int(p.b))
			if a == b || groupDistance(&groups[a], &groups[b]) >= sameLimit || !sameInks(&samples[p.a], &samples[p.b]) {
				continue
			}
			a, b = min(a, b), max(a, b)
			groups[a].add(&groups[b])
			parent[b] = a
		}
	}
	of := make([]int, len(samples))
	number := make([]int, len(samples))
	next := 0
	for i := range of {
		r := find(i) // the first of its group, for the smaller one stays
		if r == i {
			number[i] = next
			next++
		}
		of[i] = number[r]
	}
	return of
}
