package light

// A top keeps light from the ground all round it, less and less with the
// distance. Nobody sees in a narrow margin where that ends, and in the photo's
// corners the ground is farther from the top than beside it, which looks just
// like a lamp that leaves the middle of each side darker. So how much darker
// the ground is at each distance from things is an unknown of the fit too.
// Between scraps the open ground tells the light by itself, and better.

// leeReach is how many cells from a thing the ground is taken for free of it.
const leeReach = 6

// distances is how far each cell of a ground lies from the nearest thing on
// it, in steps to any of eight neighbours, up to leeReach. Odd cells of the
// ground itself are no things.
func (c *cells) distances(ground []bool) []uint8 {
	d := make([]uint8, len(ground))
	for i := range d {
		d[i] = leeReach
	}
	var edge []int
	for _, t := range c.parts(ground, false) {
		if float64(len(t)) >= .001*float64(len(ground)) {
			for _, i := range t {
				d[i] = 0
			}
			edge = append(edge, t...)
		}
	}
	for k := 0; k < len(edge); k++ {
		i := edge[k]
		if d[i]+1 >= leeReach {
			continue
		}
		x, y := i%c.w, i/c.w
		for v := max(y-1, 0); v <= min(y+1, c.h-1); v++ {
			for u := max(x-1, 0); u <= min(x+1, c.w-1); u++ {
				if j := v*c.w + u; d[j] > d[i]+1 {
					d[j] = d[i] + 1
					edge = append(edge, j)
				}
			}
		}
	}
	return d
}

// lift takes out of the samples of a ground what the things on it keep from
// it. The shade grows towards them; that of the farthest is 0.
func (c *cells) lift(samples []sample, ground []bool) {
	far := c.distances(ground)
	var n [leeReach + 1]int
	for i := range samples {
		n[far[samples[i].cell]]++
	}
	// Few samples tell little: the farthest that many have is the measure.
	last := leeReach
	for rest := 0; last > 1; last-- {
		if rest += n[last]; 10*rest >= len(samples) {
			break
		}
	}
	for i := range samples {
		samples[i].group = min(int(far[samples[i].cell]), last)
	}
	f := fitSurface(samples, last+1, c.w)
	for i := range samples {
		samples[i].group = 0
	}
	if f == nil {
		return
	}
	var shade [leeReach + 1]float64
	for k := last - 1; k >= 0; k-- {
		shade[k] = shade[k+1]
		if f.groups[k].weight > 0 {
			shade[k] = min(shade[k], f.groups[k].level[0]-f.groups[last].level[0])
		}
	}
	for i := range samples {
		samples[i].v[0] -= shade[min(int(far[samples[i].cell]), last)]
	}
}
