package light

import (
	"math"
	"slices"
	"sort"
)

// geometry maps working pixels to -1..1 over the photo's width and height.
type geometry struct{ w, h float64 }

func (g geometry) uv(x, y float64) (u, v float64) { return 2*x/g.w - 1, 2*y/g.h - 1 }

// The field of light is the logarithm of the illumination as a polynomial of
// degree 4 over the photo, on products of Legendre polynomials. They have no
// mean over the photo, so the field is 0 on average and its level stands
// beside it.
const (
	degree = 4
	terms  = 14 // products of degree 1 to 4; the constant is kept apart
)

type vector [terms]float64

// legendre is the Legendre polynomials of degree 0 to 4 at t.
func legendre(t float64) [degree + 1]float64 {
	t2 := t * t
	return [degree + 1]float64{1, t, (3*t2 - 1) / 2, (5*t2 - 3) * t / 2, ((35*t2-30)*t2 + 3) / 8}
}

// basis is the value of each term at (u, v).
func basis(u, v float64) vector {
	pu, pv := legendre(u), legendre(v)
	var b vector
	n := 0
	for d := 1; d <= degree; d++ {
		for i := d; i >= 0; i-- {
			b[n] = pu[i] * pv[d-i]
			n++
		}
	}
	return b
}

// Prior standard deviations of the terms by degree. They are what one lamp of
// any height and place above or beside a scene gives, from a bare bulb to a
// panel, with 10 to 70 % of its light coming back from the walls and a lens
// that darkens its corners by up to 15 %, as long as the whole stays within
// 3:1 (see TestPriorIsThatOfLamps). Where the photo shows little, they keep
// the field from running away; where it shows much, they do not matter.
var priorByDegree = [degree + 1]float64{1: .3, 2: .1, 3: .03, 4: .02}

// Colour changes less over a photo than brightness does: two lamps of unlike
// colour at its two ends.
var priorColour = [degree + 1]float64{1: .1, 2: .04, 3: .01, 4: .005}

func prior(by [degree + 1]float64) vector {
	var p vector
	n := 0
	for d := 1; d <= degree; d++ {
		for range d + 1 {
			p[n] = 1 / (by[d] * by[d])
			n++
		}
	}
	return p
}

// degreeOf is the degree of each term.
var degreeOf = func() (of [terms]int) {
	n := 0
	for d := 1; d <= degree; d++ {
		for range d + 1 {
			of[n] = d
			n++
		}
	}
	return of
}()

type matrix [terms][terms]float64

// quad is a' m a.
func (m *matrix) quad(a vector) float64 {
	s := 0.0
	for i := range a {
		r := 0.0
		for j := range a {
			r += m[i][j] * a[j]
		}
		s += a[i] * r
	}
	return s
}

// drawnIn are the shares of the prior that a photo's light may take: of its
// slope, and of how it bends, which do not hang together. A lamp right above
// the scene bends and has no slope, a far one slopes and does not bend.
var drawnIn = func() (shares [15][degree + 1]float64) {
	n := 0
	for _, slope := range [5]float64{1, .5, .25, .1, .03} {
		for _, bend := range [3]float64{1, .4, .12} {
			shares[n] = [degree + 1]float64{1: slope, 2: bend, 3: bend, 4: bend}
			n++
		}
	}
	return shares
}()

// colourDrawnIn is the same for the colour of the light, which is said without
// a doubt of its own.
var colourDrawnIn = [4][degree + 1]float64{{1: 1, 2: 1, 3: 1, 4: 1}, {1: .4, 2: .4, 3: .4, 4: .4}, {1: .15, 2: .15, 3: .15, 4: .15}, {1: .04, 2: .04, 3: .04, 4: .04}}

// dome is the standard deviation, at the terms that bend in both directions
// alike, of what is not drawn in with the rest: every lens darkens its corners
// and every lamp above is brightest somewhere, whether the light slopes or not
// (1500 lamps and windows like those of TestPriorIsThatOfLamps: mean -.03,
// standard deviation .05). Its mean is taken for 0, so that where nothing is
// seen nothing is corrected.
const dome = .06

// domed are the terms of degree 2 that bend in u and in v.
var domed = [2]int{2, 4}

// settle is the fit of the coefficients under the prior, for information told
// and its right-hand side. How uneven this photo's
// light is on the whole is not known beforehand, and most photos are lit more
// evenly than the prior allows: so the prior is drawn in by each of several
// shares, and the fits under them are averaged, each with the probability that
// the samples give it (Hoeting, Madigan, Raftery and Volinsky 1999, Statistical
// Science 14:382). Noise does then not pass for a lamp, and where the samples
// do not tell how far the prior has to be drawn in, the covariance says so.
func settle(told *matrix, rhs, prior *vector, shares [][degree + 1]float64, common float64) (all average, ok bool) {
	all = make(average, 0, len(shares))
	for _, share := range shares {
		m := *told
		logPrior := 0.0
		for j := range terms {
			scale := share[degreeOf[j]]
			p := prior[j] / (scale * scale)
			m[j][j] += p
			logPrior += math.Log(p)
		}
		if common > 0 {
			// Sherman and Morrison: the prior's inverse with the dome in it.
			scale := share[degreeOf[domed[0]]]
			p, q := prior[domed[0]]/(scale*scale), prior[domed[1]]/(scale*scale)
			s := 1 / (common * common)
			m[domed[0]][domed[0]] -= p * p / (s + p + q)
			m[domed[1]][domed[1]] -= q * q / (s + p + q)
			m[domed[0]][domed[1]] -= p * q / (s + p + q)
			m[domed[1]][domed[0]] -= p * q / (s + p + q)
			logPrior -= math.Log(1 + (p+q)/s)
		}
		l, logDet, fine := m.cholesky()
		if !fine {
			continue
		}
		y := l.forward(rhs, 0)
		sq := 0.0
		for _, v := range y {
			sq += v * v
		}
		// A lamp of any strength is as likely as of any other, so that a share
		// stands for as many lamps as it is large.
		likely := math.Log(share[1] * share[2])
		all = append(all, fit{l.back(&y), l, .5*(sq-logDet+logPrior) + likely})
	}
	return all, all.weigh()
}

// fit is one way to see the samples: coefficients, the Cholesky factor of
// their information, and how likely it makes the samples: a logarithm at
// first, then a share of all ways.
type fit struct {
	coef   vector
	low    *matrix
	likely float64
}

// average is the mean over several ways to see the samples.
type average []fit

// weigh makes shares of logarithms; false when there is nothing to share.
func (a average) weigh() bool {
	best, sum := math.Inf(-1), 0.0
	for i := range a {
		best = max(best, a[i].likely)
	}
	for i := range a {
		a[i].likely = math.Exp(a[i].likely - best)
		sum += a[i].likely
	}
	for i := range a {
		a[i].likely /= sum
	}
	return sum > 0
}

func (a average) mean() (coef vector) {
	for i := range a {
		for j := range terms {
			coef[j] += a[i].likely * a[i].coef[j]
		}
	}
	return coef
}

// covariance is that of the whole: of each way by itself, and how far they are
// from each other.
func (a average) covariance(mean vector) (cov matrix) {
	var sum float64
	for i := range a {
		f := &a[i]
		if f.likely < .02 {
			continue
		}
		sum += f.likely
		c := f.low.inverse()
		for j := range terms {
			for k := range terms {
				cov[j][k] += f.likely * (c[j][k] + (f.coef[j]-mean[j])*(f.coef[k]-mean[k]))
			}
		}
	}
	for j := range terms {
		for k := range terms {
			cov[j][k] /= sum
		}
	}
	return cov
}

// cholesky is the lower triangle whose square a symmetric positive definite
// matrix is, and the logarithm of the matrix's determinant. ok is false when
// the matrix is not positive definite.
func (m *matrix) cholesky() (low *matrix, logDet float64, ok bool) {
	var l matrix
	for i := range terms {
		for j := 0; j <= i; j++ {
			s := m[i][j]
			for k := range j {
				s -= l[i][k] * l[j][k]
			}
			if i == j {
				if !(s > 0) {
					return nil, 0, false
				}
				l[i][i] = math.Sqrt(s)
				logDet += math.Log(s)
			} else {
				l[i][j] = s / l[j][j]
			}
		}
	}
	return &l, logDet, true
}

// forward solves m y = a for a lower triangle m; the first elements of a, up
// to from, are 0.
func (m *matrix) forward(a *vector, from int) (y vector) {
	for i := from; i < terms; i++ {
		s := a[i]
		for k := from; k < i; k++ {
			s -= m[i][k] * y[k]
		}
		y[i] = s / m[i][i]
	}
	return y
}

// back solves m' x = y for a lower triangle m.
func (m *matrix) back(y *vector) (x vector) {
	for i := terms - 1; i >= 0; i-- {
		s := y[i]
		for k := i + 1; k < terms; k++ {
			s -= m[k][i] * x[k]
		}
		x[i] = s / m[i][i]
	}
	return x
}

// inverse is that of the matrix whose Cholesky factor m is.
func (m *matrix) inverse() (inv matrix) {
	for c := range terms {
		unit := vector{}
		unit[c] = 1
		y := m.forward(&unit, c)
		for i, v := range m.back(&y) {
			inv[i][c] = v
		}
	}
	return inv
}

// sample is one place where the light is seen on a surface.
type sample struct {
	at    *vector    // basis there
	v     [4]float64 // ln Y, ln R/Y, ln G/Y, ln B/Y of what is seen
	group int        // surfaces of one colour share a group
	cell  int        // where it came from, for what neighbours share
	w     float64    // weight, 0..1, set by the fit
}

// field is the light over a photo: ln of the illumination is
// level + coef . basis, for luminance and for the three ratios to it.
type field struct {
	coef [4]vector
	cov  matrix // of coef[0], once the fit is done
	fits average
	// sd is the standard deviation of ln Y of one sample about the fit.
	sd float64
	// vari is the variance that one sample stands for, for each of the four:
	// more than that of a sample, because neighbours err alike.
	vari   [4]float64
	groups []group
	// told is what the samples tell of luminance, and rhs its right-hand
	// side: normal equations without the prior, so that what two kinds of
	// surface tell can be added up.
	told matrix
	rhs  vector
	// grey: only luminance is fitted.
	grey bool
	// open: see fitOpen.
	open bool
}

// group is one surface: its own light where the field is 0, and where it was
// seen on average.
type group struct {
	level  [4]float64
	centre vector
	weight float64 // number of samples, robustly counted
}

// lnY is ln of the illumination at (u, v), relative to its mean over the photo.
func (f *field) lnY(b *vector) float64 { return f.channel(0, b) }

func (f *field) channel(k int, b *vector) float64 {
	s := 0.0
	for i, c := range f.coef[k] {
		s += c * b[i]
	}
	return s
}

// over is one channel of the field on a lattice, at us x vs, row by row. Along
// a row the field is a polynomial in u alone, so that a place costs degree + 1
// products.
func (f *field) over(k int, us, vs []float64) []float32 {
	pu := make([][degree + 1]float64, len(us))
	for i, u := range us {
		pu[i] = legendre(u)
	}
	out := make([]float32, len(us)*len(vs))
	for j, v := range vs {
		pv := legendre(v)
		var q [degree + 1]float64
		n := 0
		for d := 1; d <= degree; d++ {
			for i := d; i >= 0; i-- {
				q[i] += f.coef[k][n] * pv[d-i]
				n++
			}
		}
		row := out[j*len(us) : (j+1)*len(us)]
		for i := range row {
			p := &pu[i]
			row[i] = float32(q[0] + q[1]*p[1] + q[2]*p[2] + q[3]*p[3] + q[4]*p[4])
		}
	}
	return out
}

// rms is the root mean square of ln of the illumination over the photo.
func (f *field) rms() float64 {
	s := 0.0
	n := 0
	for d := 1; d <= degree; d++ {
		for i := d; i >= 0; i-- {
			c := f.coef[0][n]
			s += c * c / float64((2*i+1)*(2*(d-i)+1))
			n++
		}
	}
	return math.Sqrt(s)
}

// channels are those that are fitted: ln Y, or all four.
func (f *field) channels() int {
	if f.grey {
		return 1
	}
	return 4
}

// solve is the Bayesian least-squares fit to weighted samples: each group has
// a level of its own with no prior, the field has the lamp's. Samples of one
// cell stand together.
func (f *field) solve(samples []sample, groups int) bool {
	type moments struct {
		w float64
		b vector
		y [4]float64
	}
	gm := make([]moments, groups)
	var a matrix
	var rhs [4]vector
	for i := 0; i < len(samples); {
		// What one cell says of several groups is added up first.
		at, cell := samples[i].at, samples[i].cell
		w, y := 0.0, [4]float64{}
		for ; i < len(samples) && samples[i].cell == cell; i++ {
			s := &samples[i]
			if s.w <= 0 {
				continue
			}
			g := &gm[s.group]
			g.w += s.w
			w += s.w
			for j, b := range at {
				g.b[j] += s.w * b
			}
			for c, v := range s.v {
				g.y[c] += s.w * v
				y[c] += s.w * v
			}
		}
		if w <= 0 {
			continue
		}
		for j, b := range at {
			wb := w * b
			row := &a[j]
			for k := 0; k <= j; k++ {
				row[k] += wb * at[k]
			}
			for c := range f.channels() {
				rhs[c][j] += b * y[c]
			}
		}
	}
	for gi := range gm {
		g := &gm[gi]
		if g.w <= 0 {
			continue
		}
		for j := range terms {
			for k := 0; k <= j; k++ {
				a[j][k] -= g.b[j] * g.b[k] / g.w
			}
			for c := range 4 {
				rhs[c][j] -= g.b[j] * g.y[c] / g.w
			}
		}
	}
	for c := range f.channels() {
		by := priorByDegree
		if c > 0 {
			by = priorColour
		}
		p, n := prior(by), f.vari[c]
		var told matrix // what the samples tell
		for j := range terms {
			for k := 0; k <= j; k++ {
				told[j][k] = a[j][k] / n
				told[k][j] = told[j][k]
			}
			rhs[c][j] /= n
		}
		shares, common := drawnIn[:], dome
		if c > 0 {
			shares, common = colourDrawnIn[:], 0
		}
		all, ok := settle(&told, &rhs[c], &p, shares, common)
		if !ok {
			return false
		}
		f.coef[c] = all.mean()
		if c == 0 {
			f.fits, f.told, f.rhs = all, told, rhs[0]
		}
	}
	f.groups = make([]group, groups)
	for gi := range gm {
		g := &gm[gi]
		if g.w <= 0 {
			continue
		}
		o := &f.groups[gi]
		o.weight = g.w
		for j := range terms {
			o.centre[j] = g.b[j] / g.w
		}
		for c := range 4 {
			o.level[c] = g.y[c]/g.w - f.channel(c, &o.centre)
		}
	}
	return true
}

// also adds what another fit tells of the same photo's light.
func (f *field) also(o *field) {
	told, rhs := f.told, f.rhs
	for j := range terms {
		for k := range terms {
			told[j][k] += o.told[j][k]
		}
		rhs[j] += o.rhs[j]
	}
	p := prior(priorByDegree)
	all, ok := settle(&told, &rhs, &p, drawnIn[:], dome)
	if !ok {
		return
	}
	coef := all.mean()
	for i := range f.groups {
		g := &f.groups[i]
		for j := range terms {
			g.level[0] += (f.coef[0][j] - coef[j]) * g.centre[j]
		}
	}
	f.coef[0], f.cov, f.told, f.rhs = coef, all.covariance(coef), told, rhs
}

// residual is what the fit leaves of sample s in luminance.
func (f *field) residual(s *sample) float64 { return f.rest(0, s) }

// rest is the same for luminance or one of the ratios to it.
func (f *field) rest(k int, s *sample) float64 {
	return s.v[k] - f.groups[s.group].level[k] - f.channel(k, s.at)
}

// fitField fits the light to samples robustly (iterated weights, Tukey's
// biweight). Shadows only darken, so what lies below the fit is cut sooner
// than what lies above it. across is how many cells a row has. It returns nil
// when the samples say nothing.
func fitField(samples []sample, groups, across int) *field {
	return fitGroups(samples, groups, across, &field{}, groups == 1)
}

// fitOpen is fitField for one surface that is open to the light all over the
// photo, with samples that are means over a few cells.
func fitOpen(samples []sample, across int) *field {
	return fitGroups(samples, 1, across, &field{open: true}, true)
}

// fitSurface is fitField for groups that are parts of one surface.
func fitSurface(samples []sample, groups, across int) *field {
	return fitGroups(samples, groups, across, &field{}, true)
}

func fitGroups(samples []sample, groups, across int, f *field, surface bool) *field {
	if len(samples) < terms {
		return nil
	}
	f.sd, f.vari = .05, [4]float64{.01, .01, .01, .01}
	for i := range samples {
		samples[i].w = 1
	}
	if !f.solve(samples, groups) {
		return nil
	}
	rest := make([]float64, len(samples))
	for round := range 6 {
		before := f.coef[0]
		for i := range samples {
			rest[i] = f.residual(&samples[i])
		}
		if f.reweigh(samples, rest) < terms {
			return nil
		}
		if surface {
			f.vari = f.noise(samples, across)
			f.addSlow(samples, across)
		} else {
			f.vari = f.scatter(samples, groups)
		}
		if !f.solve(samples, groups) {
			return nil
		}
		if round > 0 && f.moved(&before) < evenEnough/10 {
			break
		}
	}
	f.cov = f.fits.covariance(f.coef[0])
	return f
}

// reweigh sets the samples' weights by what the fit leaves of them, and gives
// the sum of them; rest holds the same residuals and is sorted.
func (f *field) reweigh(samples []sample, rest []float64) (kept float64) {
	var mode float64
	mode, f.sd = scale(rest)
	for i := range samples {
		r := (f.residual(&samples[i]) - mode) / f.sd
		cut := 4.5
		if r < 0 {
			cut = 3.5
		}
		t := r / cut
		samples[i].w = 0
		if t > -1 && t < 1 {
			samples[i].w = (1 - t*t) * (1 - t*t)
		}
		kept += samples[i].w
	}
	return kept
}

// scale is where most of the surface is, shadowed parts apart, by what is left
// of its samples, and their standard deviation from above it, where no shadow
// falls. It sorts them.
func scale(rest []float64) (mode, sd float64) {
	slices.Sort(rest)
	mode = halfSampleMode(rest)
	above := rest[sort.SearchFloat64s(rest, mode):]
	return mode, max(1.4826*(above[len(above)/2]-mode), minNoise)
}

// moved is the root mean square over the photo of what ln of the illumination
// has changed by.
func (f *field) moved(before *vector) float64 {
	d := field{}
	for j := range terms {
		d.coef[0][j] = f.coef[0][j] - before[j]
	}
	return d.rms()
}

// halfSampleMode is where sorted values lie densest (Robertson and Cryer
// 1974; Bickel and Fruehwirth 2006): the shortest half, again and again.
func halfSampleMode(v []float64) float64 {
	for len(v) > 3 {
		n := (len(v) + 1) / 2
		best := 0
		for i := range len(v) - n + 1 {
			if v[i+n-1]-v[i] < v[best+n-1]-v[best] {
				best = i
			}
		}
		v = v[best : best+n]
	}
	if len(v) == 3 {
		switch {
		case v[1]-v[0] < v[2]-v[1]:
			return (v[0] + v[1]) / 2
		case v[1]-v[0] > v[2]-v[1]:
			return (v[1] + v[2]) / 2
		}
		return v[1]
	}
	return (v[0] + v[len(v)-1]) / 2
}

// minNoise is the least noise that a cell is believed to have: quantisation
// to 8 bits and what JPEG leaves.
const minNoise = .002

// noise is the variance that one sample of weight 1 stands for, with what
// neighbours have in common: the variance of weighted sums of residuals over
// blocks of cells, for the block size that shows the most. Grain, wrinkles
// and figures err together over their own size, so that thousands of cells
// tell no more than a few hundred that do not.
func (f *field) noise(samples []sample, across int) (v [4]float64) {
	for k := range v {
		v[k] = minNoise * minNoise
	}
	rest := make([][4]float64, len(samples)) // weighted
	total := 0.0
	var at *vector
	var light [4]float64 // there
	for i := range samples {
		s := &samples[i]
		if s.w <= 0 {
			continue
		}
		total += s.w
		for k := range f.channels() {
			if s.at != at {
				light[k] = f.channel(k, s.at)
			}
			rest[i][k] = s.w * (s.v[k] - f.groups[s.group].level[k] - light[k])
		}
		at = s.at
	}
	if total <= 0 {
		return v
	}
	// Squares, and strips from edge to edge for what runs like planks.
	for _, size := range [5][2]int{{8, 8}, {16, 16}, {32, 32}, {across, 8}, {8, 1 << 30}} {
		bw := (across + size[0] - 1) / size[0]
		sums := make([][4]float64, bw*bw)
		for i := range samples {
			if samples[i].w <= 0 {
				continue
			}
			cell := samples[i].cell
			id := cell/across/size[1]*bw + cell%across/size[0]
			for id >= len(sums) { // a photo higher than wide
				sums = append(sums, make([][4]float64, len(sums))...)
			}
			for k := range f.channels() {
				sums[id][k] += rest[i][k]
			}
		}
		for k := range v {
			got := 0.0
			for b := range sums {
				got += sums[b][k] * sums[b][k]
			}
			v[k] = max(v[k], got/total)
		}
	}
	return v
}

// A surface with grain is also a little lighter here than there, over
// distances that the fit takes for the lamp's: planks, worn carpet, clouds in
// a wall's paint. What is left of the fit shows nothing of that, so it is
// added, independent in slowPlaces places over the photo. Natural surfaces vary
// alike on all scales (common practice, no source), and a mat of one piece on
// none. A surface that is open all over shows which it is, by what it does over
// distances too short for a lamp: what places up to slowReach cells apart have
// in common. A narrow margin shows little of that, nor whose soft shadows lie
// over it: slowShare of its grain is taken.
const (
	slowReach  = 8
	slowShare  = .4
	slowPlaces = 12
)

func (f *field) addSlow(samples []sample, across int) {
	if !f.open {
		f.addGrain(samples)
		return
	}
	type block struct{ w, ww, r, rr float64 }
	wide := (across + slowReach - 1) / slowReach
	var blocks []block
	for k := range f.channels() {
		clear(blocks)
		total := 0.0
		for i := range samples {
			s := &samples[i]
			if s.w <= 0 {
				continue
			}
			id := s.cell/across/slowReach*wide + s.cell%across/slowReach
			if id >= len(blocks) {
				blocks = append(blocks, make([]block, id+wide-len(blocks))...)
			}
			b, r := &blocks[id], s.w*f.rest(k, s)
			b.w, b.ww, b.r, b.rr = b.w+s.w, b.ww+s.w*s.w, b.r+r, b.rr+r*r
			total += s.w
		}
		// The mean product of what two places of one block show.
		products, pairs := 0.0, 0.0
		for i := range blocks {
			b := &blocks[i]
			products += b.r*b.r - b.rr
			pairs += b.w*b.w - b.ww
		}
		if pairs > 0 {
			f.vari[k] += max(products/pairs, 0) * total / slowPlaces
		}
	}
}

// addGrain is addSlow by slowShare.
func (f *field) addGrain(samples []sample) {
	var sq [4]float64
	for i := range samples {
		s := &samples[i]
		if s.w <= 0 {
			continue
		}
		for k := range f.channels() {
			r := f.rest(k, s)
			sq[k] += s.w * r * r
		}
	}
	for k := range f.vari {
		f.vari[k] += slowShare * slowShare * sq[k] / slowPlaces
	}
}

// scatter is noise for many surfaces: each has a level of its own, so that
// what it says of the light is its slope, and how much such slopes scatter
// about the common field tells what one cell is worth (the variance of the
// scores, surface by surface). A surface that has drawn the field to itself
// shows little of its own scatter; what it would show of a field fitted
// without it is counted (Bell and McCaffrey 2002, Survey Methodology 28:169).
func (f *field) scatter(samples []sample, groups int) (v [4]float64) {
	const slopes = 5 // terms of degree 1 and 2
	type score struct {
		w     float64
		b     [slopes]float64
		bb    [slopes][slopes]float64
		cross [4][slopes]float64
		rest  [4]float64
	}
	gs := make([]score, groups)
	var sq [4]float64
	total := 0.0
	for i := range samples {
		s := &samples[i]
		if s.w <= 0 {
			continue
		}
		g := &gs[s.group]
		g.w += s.w
		total += s.w
		for j := range slopes {
			wb := s.w * s.at[j]
			g.b[j] += wb
			for k := 0; k <= j; k++ {
				g.bb[j][k] += wb * s.at[k]
			}
		}
		for k := range f.channels() {
			r := f.rest(k, s)
			sq[k] += s.w * r * r
			g.rest[k] += s.w * r
			for j := range slopes {
				g.cross[k][j] += s.w * r * s.at[j]
			}
		}
	}
	for k := range v {
		// No surface tells more than if its cells erred by themselves.
		v[k] = minNoise * minNoise
		if total > 0 {
			v[k] = max(v[k], sq[k]/total)
		}
	}
	// told is what all tell of the slopes, with a little of nothing so that it
	// has an inverse; own what one tells.
	var all matrix
	own := make([]matrix, groups)
	for i := range gs {
		g := &gs[i]
		if g.w <= 0 {
			continue
		}
		for j := range slopes {
			for k := 0; k <= j; k++ {
				o := g.bb[j][k] - g.b[j]*g.b[k]/g.w
				own[i][j][k], own[i][k][j] = o, o
				all[j][k] += o
				if k < j {
					all[k][j] += o
				}
			}
		}
	}
	for j := range terms {
		all[j][j] += 1e-6 * (1 + total)
	}
	var got [4]float64
	for i := range gs {
		g := &gs[i]
		if g.w <= 0 {
			continue
		}
		others := all
		for j := range slopes {
			for k := range slopes {
				others[j][k] -= own[i][j][k]
			}
		}
		low, _, ok := others.cholesky()
		if !ok {
			continue
		}
		for c := range f.channels() {
			// The score that this surface has under the field of the others is
			// all others^-1 u; its square is taken by all^-1.
			var u vector
			for j := range slopes {
				u[j] = g.cross[c][j] - g.rest[c]*g.b[j]/g.w
			}
			y := low.forward(&u, 0)
			x := low.back(&y)
			got[c] += all.quad(x) / slopes
		}
	}
	for k := range v {
		v[k] = max(v[k], got[k])
	}
	return v
}

// quantiles are the middles of n equal parts of v, which is sorted.
func quantiles(v []float64, n int) []float64 {
	slices.Sort(v)
	q := make([]float64, n)
	for k := range q {
		q[k] = v[min(int((float64(k)+.5)/float64(n)*float64(len(v))), len(v)-1)]
	}
	return q
}
