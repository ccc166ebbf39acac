package light

// How many independent figures a few thousand cells are is what the variance of a
// fit hangs on. Grain, wrinkles and figures of a print err together over their own
// size.

// blocks are the sizes, in cells, over which residuals are added up: squares, and
// strips from edge to edge for what runs like planks.
func blocks(across int) [5][2]int {
	return [5][2]int{{8, 8}, {16, 16}, {32, 32}, {across, 8}, {8, 1 << 30}} // from a twenty-fifth to a sixth of a photo: what is wider is the lamp's
}

// noise is the variance that one sample of weight 1 of one surface stands for, with
// what neighbours have in common: the variance of weighted sums of residuals over
// blocks of cells, for the block that shows the most; and what is slower than any
// block.
func (s *solver) noise(f *field, samples []sample) (v [4]float64) {
	rest := make([][4]float64, len(samples)) // weighted
	total := 0.0
	for k := range v {
		v[k] = minNoise * minNoise
	}
	for i := range samples {
		p := &samples[i]
		if p.w <= 0 {
			continue
		}
		total += p.w
		for k := range s.channels {
			rest[i][k] = p.w * f.rest(k, p)
		}
	}
	if total <= 0 {
		return v
	}
	for _, size := range blocks(s.across) {
		sums := make([][4]float64, 0, 64)
		wide := (s.across + size[0] - 1) / size[0]
		for i := range samples {
			id := samples[i].cell/s.across/size[1]*wide + samples[i].cell%s.across/size[0]
			for id >= len(sums) {
				sums = append(sums, [4]float64{})
			}
			for k := range s.channels {
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
	if s.off.slow {
		return v
	}
	slow := s.slow(samples, rest)
	for k := range v {
		v[k] += slow[k]
	}
	return v
}

// A surface with grain is also a little lighter here than there, over distances that
// the fit takes for the lamp's: planks, worn carpet, clouds in a wall's paint. What is
// left of the fit shows nothing of that, so it is added, independent in slowPlaces
// places over the photo. Natural surfaces vary alike on all scales (common practice,
// no source), and a mat of one piece on none. A surface that is open all over shows
// which it is, by what it does over distances too short for a lamp: what places up to
// slowReach cells apart have in common. A narrow margin shows little of that:
// slowShare of its grain is taken.
const (
	slowReach  = 8  // a twenty-fifth of the photo
	slowShare  = .4 // of the grain's standard deviation, by drawn floors and carpets
	slowPlaces = 12 // as many as the field has terms, less two
)

// slow is the variance that one sample stands for by what is slow; rest are the
// weighted residuals.
func (s *solver) slow(samples []sample, rest [][4]float64) (v [4]float64) {
	type block struct{ w, ww, r, rr float64 }
	wide := (s.across + slowReach - 1) / slowReach
	for k := range s.channels {
		var all []block
		total, sq := 0.0, 0.0
		for i := range samples {
			w, r := samples[i].w, rest[i][k]
			if w <= 0 {
				continue
			}
			id := samples[i].cell/s.across/slowReach*wide + samples[i].cell%s.across/slowReach
			for id >= len(all) {
				all = append(all, block{})
			}
			b := &all[id]
			b.w, b.ww, b.r, b.rr = b.w+w, b.ww+w*w, b.r+r, b.rr+r*r
			total += w
			sq += r * r / w
		}
		if !s.open {
			v[k] = slowShare * slowShare * sq / slowPlaces
			continue
		}
		// The mean product of what two places of one block show.
		products, pairs := 0.0, 0.0
		for i := range all {
			b := &all[i]
			products += b.r*b.r - b.rr
			pairs += b.w*b.w - b.ww
		}
		if pairs > 0 {
			v[k] = max(products/pairs, 0) * total / slowPlaces
		}
	}
	return v
}
