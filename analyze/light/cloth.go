package light

import "math"

// A cloth that fills the photo is alike all over: wherever one of its inks
// lies, it has the same reflectance. So the light is what makes the same ink
// brighter here than there. Inks and light are found together, as mixture
// and smooth field by expectation and maximisation (Wells, Grimson, Kikinis
// and Jolesz 1996, IEEE Trans. Medical Imaging 15:429, who take the uneven
// sensitivity out of a scan of unknown tissues that way). A large-scale print
// cannot fool it as it fools a fit to the bare luminance, because a dark
// flower in one corner is another ink and no darker light.

const (
	inks        = 8  // at most; cloth with more colours shares them
	inkRounds   = 18 // of expectation and maximisation
	clothSample = 2000
)

// ink is one class of the mixture: mean and variance of ln Y without the
// light, ln R/Y and ln B/Y, and its share.
type ink struct {
	mean, vari [3]float64
	green      float64 // mean ln G/Y, which follows from the others
	share      float64
}

// least variances of an ink, of ln Y, ln R/Y and ln B/Y: what quantisation
// and JPEG leave.
var inkFloor = [3]float64{.004 * .004, .01 * .01, .03 * .03}

func feature(s *sample, f *field) [3]float64 {
	return [3]float64{s.v[0] - f.lnY(s.at), s.v[1], s.v[3]}
}

// Only the brightness of the light is fitted: where inks mix in a cell, its
// colour follows the mixture, and that must not pass for a light that changes
// colour.

// fitCloth fits the light over samples of one cloth. It returns nil when
// there are too few.
func fitCloth(samples []sample, across int) *field {
	if len(samples) < 10*terms {
		return nil
	}
	// Start from the bare luminance: one ink with all that varies as noise.
	for i := range samples {
		samples[i].w, samples[i].group = 1, 0
	}
	f := &field{grey: true}
	mean := 0.0
	for i := range samples {
		mean += samples[i].v[0] / float64(len(samples))
	}
	v := 0.0
	for i := range samples {
		d := samples[i].v[0] - mean
		v += d * d / float64(len(samples))
	}
	f.sd = math.Sqrt(max(v, minNoise*minNoise))
	f.vari = [4]float64{30 * f.sd * f.sd, 1, 1, 1}
	if !f.solve(samples, 1) {
		return nil
	}
	classes := seedInks(samples, f)
	pairs := make([]sample, 0, 2*len(samples))
	for round := range inkRounds {
		// Wide at first, so that a field that is still wrong does not tie a
		// cell to the wrong ink.
		widen := max(1, 4*math.Pow(.75, float64(round)))
		pairs = f.expect(samples, classes, widen, pairs[:0])
		f.groups = make([]group, len(classes))
		for k := range classes {
			f.groups[k].level = [4]float64{classes[k].mean[0], classes[k].mean[1], classes[k].green, classes[k].mean[2]}
		}
		if round%3 == 0 {
			f.vari = f.noise(pairs, across)
		}
		before := f.coef[0]
		if !f.solve(pairs, len(classes)) {
			return nil
		}
		f.reink(pairs, classes)
		if widen == 1 && f.moved(&before) < evenEnough/5 {
			break
		}
	}
	f.vari = f.noise(pairs, across)
	f.cov = f.fits.covariance(f.coef[0])
	return f
}

// seedInks are starting classes: farthest points first, then Lloyd's means.
func seedInks(samples []sample, f *field) []ink {
	pts := make([][3]float64, len(samples))
	for i := range samples {
		p := feature(&samples[i], f)
		pts[i] = [3]float64{p[0], .7 * p[1], .3 * p[2]}
	}
	dist := func(a, b *[3]float64) float64 {
		x, y, z := a[0]-b[0], a[1]-b[1], a[2]-b[2]
		return x*x + y*y + z*z
	}
	// Farthest points would be the odd ones out; take means of what is near
	// quantiles of luminance instead.
	order := make([]float64, len(pts))
	for i := range pts {
		order[i] = pts[i][0]
	}
	q := quantiles(order, inks)
	means := make([][3]float64, inks)
	for k := range means {
		best := 0
		for i := range pts {
			if math.Abs(pts[i][0]-q[k]) < math.Abs(pts[best][0]-q[k]) {
				best = i
			}
		}
		means[k] = pts[best]
	}
	own := make([]int, len(pts))
	count := make([]float64, inks)
	for range 12 {
		changed := false
		for i := range pts {
			k, least := own[i], dist(&pts[i], &means[own[i]])
			for m := range means {
				if d := dist(&pts[i], &means[m]); d < least {
					k, least = m, d
				}
			}
			changed = changed || k != own[i]
			own[i] = k
		}
		sum := make([][3]float64, inks)
		clear(count)
		for i := range pts {
			count[own[i]]++
			for k := range 3 {
				sum[own[i]][k] += pts[i][k]
			}
		}
		for k := range means {
			for j := range 3 {
				if count[k] > 0 {
					means[k][j] = sum[k][j] / count[k]
				}
			}
		}
		if !changed {
			break
		}
	}
	classes := make([]ink, 0, inks)
	for k := range means {
		if count[k] < 3 {
			continue
		}
		var c ink
		c.mean = [3]float64{means[k][0], means[k][1] / .7, means[k][2] / .3}
		c.share = count[k] / float64(len(pts))
		for i := range samples {
			if own[i] == k {
				p := feature(&samples[i], f)
				c.green += samples[i].v[2] / count[k]
				for j := range 3 {
					c.vari[j] += (p[j] - c.mean[j]) * (p[j] - c.mean[j]) / count[k]
				}
			}
		}
		for j := range 3 {
			c.vari[j] = max(c.vari[j], inkFloor[j])
		}
		classes = append(classes, c)
	}
	return classes
}

// expect gives every sample to the inks that it may be, with weights: the
// probability of the ink, times how exactly that ink tells the light. A
// sample that no ink explains goes to none.
func (f *field) expect(samples []sample, classes []ink, widen float64, pairs []sample) []sample {
	// The sharpest ink has weight 1.
	sharp := math.Inf(1)
	for k := range classes {
		sharp = min(sharp, classes[k].vari[0])
	}
	logShare := make([]float64, len(classes))
	for k := range classes {
		c := &classes[k]
		logShare[k] = math.Log(c.share) - .5*math.Log(c.vari[0]*c.vari[1]*c.vari[2]) - 1.5*math.Log(widen)
	}
	// What lies beyond four standard deviations of all inks: one in a
	// hundred cells is an edge, a thread, a speck.
	p := make([]float64, len(classes))
	for i := range samples {
		x := feature(&samples[i], f)
		top := math.Inf(-1)
		for k := range classes {
			c := &classes[k]
			q := 0.0
			for j := range 3 {
				d := x[j] - c.mean[j]
				q += d * d / (c.vari[j] * widen)
			}
			p[k] = logShare[k] - q/2
			top = max(top, p[k])
		}
		sum := .01 * math.Exp(min(-8-top+logShare[0], 0)) // the odd ones
		for k := range p {
			if p[k] -= top; p[k] < -12 { // an ink that it is not
				p[k] = 0
				continue
			}
			p[k] = math.Exp(p[k])
			sum += p[k]
		}
		for k := range p {
			if w := p[k] / sum; w > .01 {
				s := samples[i]
				s.group = k
				s.w = w * sharp / classes[k].vari[0]
				pairs = append(pairs, s)
			}
		}
	}
	return pairs
}

// reink takes levels from the solved field and the other moments from the
// weights.
func (f *field) reink(pairs []sample, classes []ink) {
	type moments struct {
		w       float64
		sum, sq [3]float64
		green   float64
	}
	m := make([]moments, len(classes))
	sharp := math.Inf(1)
	for k := range classes {
		sharp = min(sharp, classes[k].vari[0])
	}
	total := 0.0
	var at *vector
	var x [3]float64
	for i := range pairs {
		s := &pairs[i]
		w := s.w * classes[s.group].vari[0] / sharp // the probability
		if s.at != at {
			x, at = feature(s, f), s.at
		}
		g := &m[s.group]
		g.w += w
		g.green += w * s.v[2]
		total += w
		for j := range 3 {
			g.sum[j] += w * x[j]
			g.sq[j] += w * x[j] * x[j]
		}
	}
	for k := range classes {
		c, g := &classes[k], &m[k]
		c.share = max(g.w/total, 1e-6)
		if g.w < 3 {
			continue
		}
		c.green = g.green / g.w
		for j := range 3 {
			c.mean[j] = g.sum[j] / g.w
			c.vari[j] = max(g.sq[j]/g.w-c.mean[j]*c.mean[j], inkFloor[j])
		}
	}
}

// leastPiece is how many cells a flat part needs for its slope to be heard,
// and pieceRim how many cells from its edge a piece may curl.
const (
	leastPiece = 40
	pieceRim   = 4
)

// fitPieces fits the light to the slopes inside flat parts that are no
// ground: each scrap, or each large figure of one, is alike all over. Where
// there is a ground it tells the light better.
func (c *cells) fitPieces(s segments) *field {
	// Away from the edges of pieces: they curl up towards the lamp or away
	// from it, all alike, which looks just like a slope of the light.
	rim := make([]bool, len(s.label))
	for i := range rim {
		rim[i] = s.label[i] < 0
	}
	rim = c.within(rim, pieceRim)
	inner := make([]bool, len(s.label))
	count := make([]int, len(s.size))
	for i, l := range s.label {
		if l < 0 || rim[i] {
			continue
		}
		inner[i] = true
		for _, j := range c.around(i) {
			if j >= 0 && s.label[j] != l {
				inner[i] = false
			}
		}
		if inner[i] {
			count[l]++
		}
	}
	number := make([]int, len(count))
	groups := 0
	for l, n := range count {
		number[l] = -1
		if n >= leastPiece {
			number[l] = groups
			groups++
		}
	}
	if groups < 3 {
		return nil
	}
	samples := c.samples(func(i int) bool { return inner[i] && number[s.label[i]] >= 0 }, fineSamples)
	for i := range samples {
		samples[i].group = number[s.label[samples[i].cell]]
	}
	return fitField(samples, groups, c.w)
}
