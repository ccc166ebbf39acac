package light

import "greige/analyze/fit"

// slopes are the terms of degree 1 and 2, which a surface as small as a patch shows.
const slopes = 5

// score is what one surface says of the slopes: weighted sums over its samples.
type score struct {
	w     float64
	b     [slopes]float64
	bb    [slopes][slopes]float64
	cross [4][slopes]float64
	rest  [4]float64
}

// own is what a surface says of the slopes about its own level.
func (g *score) own() (m [slopes * slopes]float64) {
	for j := range slopes {
		for k := range j + 1 {
			o := g.bb[j][k] - g.b[j]*g.b[k]/g.w
			m[j*slopes+k], m[k*slopes+j] = o, o
		}
	}
	return m
}

// scatter is noise for many surfaces: each has a level of its own, so that what it
// says of the light is its slope, and how much such slopes scatter about the common
// field is what one cell is worth (the variance of the scores, surface by surface). A
// surface that has drawn the field to itself shows little of its own scatter; what it
// would show of a field fitted without it is counted (Bell and McCaffrey 2002, Survey
// Methodology 28:169).
func (s *solver) scatter(f *field, samples []sample, groups int) (v [4]float64) {
	gs := make([]score, groups)
	var sq [4]float64
	total := 0.0
	for i := range samples {
		p := &samples[i]
		if p.w <= 0 {
			continue
		}
		g := &gs[p.group]
		g.w += p.w
		total += p.w
		for j := range slopes {
			wb := p.w * p.at[j]
			g.b[j] += wb
			for k := range j + 1 {
				g.bb[j][k] += wb * p.at[k]
			}
		}
		for k := range s.channels {
			r := f.rest(k, p)
			sq[k] += p.w * r * r
			g.rest[k] += p.w * r
			for j := range slopes {
				g.cross[k][j] += p.w * r * p.at[j]
			}
		}
	}
	var all [slopes * slopes]float64
	for i := range gs {
		if gs[i].w > 0 {
			for j, o := range gs[i].own() {
				all[j] += o
			}
		}
	}
	for j := range slopes {
		all[j*slopes+j] += 1e-6 * (1 + total) // so that it has an inverse
	}
	got := s.apart(gs, &all)
	for k := range v {
		// No surface says more than if its cells erred by themselves.
		v[k] = max(minNoise*minNoise, sq[k]/max(total, 1e-9), got[k])
	}
	return v
}

// apart is the variance of the scores that surfaces have under the field of the
// others. all is what all surfaces together say of the slopes.
func (s *solver) apart(gs []score, all *[slopes * slopes]float64) (got [4]float64) {
	for i := range gs {
		g := &gs[i]
		if g.w <= 0 {
			continue
		}
		others := *all
		for j, o := range g.own() {
			others[j] -= o
		}
		of, err := fit.NewCholesky(others[:], slopes)
		if err != nil {
			continue
		}
		for c := range s.channels {
			// The score of this surface under the field of the others is
			// all others^-1 u; its square is taken by all^-1.
			var u [slopes]float64
			for j := range u {
				u[j] = g.cross[c][j] - g.rest[c]*g.b[j]/g.w
			}
			x := of.Solve(u[:])
			for j := range slopes {
				for k := range slopes {
					got[c] += x[j] * all[j*slopes+k] * x[k] / slopes
				}
			}
		}
	}
	return got
}
