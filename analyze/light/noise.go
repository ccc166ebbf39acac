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
	var sq [4]float64
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
			r := f.rest(k, p)
			rest[i][k] = p.w * r
			sq[k] += p.w * r * r
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
	for k := range v {
		if !s.off.slow {
			v[k] += slowShare * slowShare * sq[k] / slowPlaces
		}
	}
	return v
}

// A surface with grain is also a little lighter here than there, over distances that
// the fit takes for the lamp's: planks, worn carpet, clouds in a wall's paint. What is
// left of the fit shows nothing of that, so a share of the grain is added, independent
// in so many places over the photo. Natural surfaces vary alike on all scales (common
// practice, no source).
const (
	slowShare  = .4 // of the grain's standard deviation, by drawn floors and carpets
	slowPlaces = 12 // as many as the field has terms, less two
)
