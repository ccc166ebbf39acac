package light

import "math"

// Boards, a floor, the grain of a wooden table, a striped cloth: such a ground
// is one surface, but strips of it that run from edge to edge are a little
// lighter or darker, each as a whole. A few boards that happen to go from dark
// to light look just like a lamp, however many cells they have. So the levels
// of the strips are unknowns of the fit too, alike from one strip to the next
// as far as they show to be (kriging: Matheron 1963, Economic Geology 58:1246;
// Rasmussen and Williams 2006, Gaussian Processes for Machine Learning, 2.7).
// What is left for the lamp is what runs along the strips, and across them
// what is more than boards would do by chance.

const (
	stripWide  = 4  // cells
	stripTurns = 60 // directions tried over half a turn
)

// How alike strips are, as it is tried: exp(-distance / length), in cells, on
// a share of the variance that the strips show; and a share by which each differs
// by itself. What they show is what the first fit has left of them, which follows
// four bends of what is slow in a handful of boards: they differ by twice that
// at least. That none of it is slow is not tried: natural surfaces vary alike on
// all scales (common practice, no source).
var (
	stripLengths = [3]float64{8, 20, 50}
	stripShares  = [4]float64{2, 4, 8, 16}
	stripOwn     = [2]float64{.1, .6}
)

// strip is the samples of one strip.
type strip struct {
	w   float64
	at  vector  // their mean
	y   float64 // mean of ln Y, the level of the surface left out
	pos float64 // cells, across the strips
}

// byStrips fits the brightness of the light over samples of one surface once
// more, with the levels of its strips. across is how many cells a row has.
func (f *field) byStrips(samples []sample, across int) {
	number, n := f.stripsOf(samples, across)
	rest := make([]float64, len(samples))
	var strips []strip
	var told matrix
	var rhs vector
	before := f.groups[0]
	for range 2 {
		// What varies inside the strips is the noise; odd cells are judged by
		// their own strip.
		f.groups = make([]group, n)
		for i := range f.groups {
			f.groups[i].level = before.level
		}
		for i := range samples {
			samples[i].group = 0
		}
		var sum [4]float64
		sums, ws := make([][4]float64, n), make([]float64, n)
		for i := range samples {
			if s := &samples[i]; s.w > 0 {
				ws[number[i]] += s.w
				for k := range sum {
					sums[number[i]][k] += s.w * f.rest(k, s)
				}
			}
		}
		for i := range f.groups {
			for k := range sum {
				if ws[i] > 0 {
					f.groups[i].level[k] += sums[i][k] / ws[i]
				}
			}
		}
		for i := range samples {
			samples[i].group = number[i]
			rest[i] = f.residual(&samples[i])
		}
		sd := f.sd
		if f.reweigh(samples, rest) < terms {
			break
		}
		f.sd = max(f.sd, sd)
		f.vari = f.noise(samples, across)
		f.addSlow(samples, across)
		noise := f.vari[0]
		strips, told, rhs = sumStrips(samples, number, n, &before, noise)
		coef, cov, ok := f.krige(strips, &told, &rhs, noise)
		if !ok {
			break
		}
		// What a fit without a prior drawn in would have been told to say this.
		p := prior(priorByDegree)
		low, _, ok := cov.cholesky()
		if !ok {
			break
		}
		inv := low.inverse()
		for j := range terms {
			rhs[j] = 0
			for k := range terms {
				told[j][k] = inv[j][k]
				rhs[j] += inv[j][k] * coef[k]
			}
			told[j][j] -= p[j]
		}
		all, ok := settle(&told, &rhs, &p, drawnIn[:], dome)
		if !ok {
			break
		}
		coef = all.mean()
		f.coef[0], f.cov, f.told, f.rhs = coef, all.covariance(coef), told, rhs
	}
	// To the outside it is one surface again.
	f.groups = []group{before}
	g := &f.groups[0]
	g.weight, g.centre = 0, vector{}
	y := 0.0
	for i := range strips {
		s := &strips[i]
		g.weight += s.w
		y += s.w * s.y
		for j := range terms {
			g.centre[j] += s.w * s.at[j]
		}
	}
	if g.weight <= 0 {
		f.groups[0] = before
		return
	}
	for j := range terms {
		g.centre[j] /= g.weight
	}
	g.level[0] = before.level[0] + y/g.weight - f.channel(0, &g.centre)
	for i := range samples {
		samples[i].group = 0
	}
}

// stripsOf numbers the strip of each sample, and tells how many there are. The
// strips run in the direction across which the surface changes most.
func (f *field) stripsOf(samples []sample, across int) (number []int, n int) {
	rest := make([]float64, len(samples))
	high := 0
	for i := range samples {
		s := &samples[i]
		high = max(high, s.cell/across+1)
		if s.w > 0 {
			rest[i] = f.residual(s)
		}
	}
	half := math.Hypot(float64(across), float64(high)) / 2
	n = int(2*half/stripWide) + 1
	w, sum := make([]float64, n), make([]float64, n)
	number = make([]int, len(samples))
	best, most := 0, -1.
	assign := func(turn int) {
		sin, cos := math.Sincos(math.Pi * float64(turn) / stripTurns)
		from := half - (cos*float64(across)+sin*float64(high))/2
		for i := range samples {
			c := samples[i].cell
			number[i] = min(max(int((cos*float64(c%across)+sin*float64(c/across)+from)/stripWide), 0), n-1)
		}
	}
	for turn := range stripTurns {
		assign(turn)
		clear(w)
		clear(sum)
		for i := range samples {
			w[number[i]] += samples[i].w
			sum[number[i]] += samples[i].w * rest[i]
		}
		score := 0.0
		for b := range w {
			if w[b] > 0 {
				score += sum[b] * sum[b] / w[b]
			}
		}
		if score > most {
			best, most = turn, score
		}
	}
	assign(best)
	return number, n
}

// sumStrips are the strips, and what the samples tell inside them.
func sumStrips(samples []sample, number []int, n int, g *group, noise float64) (strips []strip, told matrix, rhs vector) {
	all := make([]strip, n)
	for i := range samples {
		s := &samples[i]
		if s.w <= 0 {
			continue
		}
		t := &all[number[i]]
		t.w += s.w
		y := s.v[0] - g.level[0]
		t.y += s.w * y
		for j, b := range s.at {
			t.at[j] += s.w * b
			rhs[j] += s.w * b * y / noise
			for k := 0; k <= j; k++ {
				told[j][k] += s.w * b * s.at[k] / noise
			}
		}
	}
	for i := range all {
		t := &all[i]
		if t.w <= 0 {
			continue
		}
		t.pos = stripWide * float64(i)
		t.y /= t.w
		for j := range terms {
			t.at[j] /= t.w
		}
		for j := range terms {
			rhs[j] -= t.w * t.at[j] * t.y / noise
			for k := 0; k <= j; k++ {
				told[j][k] -= t.w * t.at[j] * t.at[k] / noise
			}
		}
		strips = append(strips, *t)
	}
	for j := range terms {
		for k := range j {
			told[k][j] = told[j][k]
		}
	}
	return strips, told, rhs
}

// krige adds to what the samples tell inside strips what the strips' own
// levels tell, and fits the light under the whole prior: for every way in
// which strips may be alike, averaged by how likely it makes the samples.
func (f *field) krige(strips []strip, told *matrix, rhs *vector, noise float64) (coef vector, cov matrix, ok bool) {
	var show, weight float64
	for i := range strips {
		s := &strips[i]
		d := s.y - f.channel(0, &s.at)
		show += s.w * d * d
		weight += strips[i].w
	}
	show = max(show/weight, minNoise*minNoise)
	var all average
	try := func(share, length, own float64) {
		c := make([][]float64, len(strips))
		for i := range c {
			c[i] = make([]float64, i+1)
			for j := range i {
				c[i][j] = share * show * math.Exp(-math.Abs(strips[i].pos-strips[j].pos)/length)
			}
			c[i][i] = (share+own)*show + noise/strips[i].w
		}
		logDet := factor(c)
		// Columns: the terms, one, and what is seen; divided by the root of c.
		const cols = terms + 2
		z := make([][cols]float64, len(strips))
		var m [cols][cols]float64
		for i := range z {
			z[i][terms], z[i][terms+1] = 1, strips[i].y
			copy(z[i][:terms], strips[i].at[:])
			for j, l := range c[i][:i] {
				for k := range cols {
					z[i][k] -= l * z[j][k]
				}
			}
			for k := range cols {
				z[i][k] /= c[i][i]
			}
			for k := range cols {
				for l := 0; l <= k; l++ {
					m[k][l] += z[i][k] * z[i][l]
				}
			}
		}
		// The common level has no prior.
		one := m[terms][terms]
		a, r := *told, *rhs
		p := prior(priorByDegree)
		logPrior := 0.0
		for j := range terms {
			r[j] += m[terms+1][j] - m[terms][j]*m[terms+1][terms]/one
			for k := 0; k <= j; k++ {
				v := m[j][k] - m[terms][j]*m[terms][k]/one
				a[j][k] += v
				if k < j {
					a[k][j] += v
				}
			}
			a[j][j] += p[j]
			logPrior += math.Log(p[j])
		}
		low, logDetA, fine := a.cholesky()
		if !fine {
			return
		}
		y := low.forward(&r, 0)
		sq := -(m[terms+1][terms+1] - m[terms+1][terms]*m[terms+1][terms]/one)
		for _, v := range y {
			sq += v * v
		}
		e := .5 * (sq - logDet - math.Log(one) - logDetA + logPrior)
		all = append(all, fit{low.back(&y), low, e})
	}
	for _, own := range stripOwn {
		for _, share := range stripShares {
			for _, length := range stripLengths {
				try(share, length, own)
			}
		}
	}
	if !all.weigh() {
		return coef, cov, false
	}
	coef = all.mean()
	return coef, all.covariance(coef), true
}

// factor makes of a symmetric positive definite matrix, given by its lower
// triangle, its Cholesky factor, and returns the logarithm of its determinant.
func factor(c [][]float64) (logDet float64) {
	for i := range c {
		for j := range i {
			s := c[i][j]
			for k := range j {
				s -= c[i][k] * c[j][k]
			}
			c[i][j] = s / c[j][j]
		}
		s := c[i][i]
		for _, v := range c[i][:i] {
			s -= v * v
		}
		c[i][i] = math.Sqrt(max(s, 1e-12))
		logDet += 2 * math.Log(c[i][i])
	}
	return logDet
}
