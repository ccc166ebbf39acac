package light

import "math"

// On a ground with a texture of its own, a mat or a carpet, a soft shadow is
// not as deep as the texture and no cell by itself tells it. Many do: averaged
// over a neighbourhood the texture goes and the shadow stays.

const (
	broadReach   = 7   // cells to either side that are averaged
	broadCells   = 30  // of the ground that it takes
	broadLeast   = .03 // ln: a shadow less deep is not worth taking out
	broadSure    = 5   // times what the averages scatter by elsewhere
	broadPart    = 2   // times that, from which on it is believed
	broadShare   = .01 // of the photo that is as deep as that
	sharpStep    = .7  // of the depth, within ten cells: a hand's shadow needs more
	broadDeepest = .5  // ln: half the light of a room is not kept out by a hand
	broadRim     = 2   // cells from a thing, where its own shadow is deepest
)

// fades: the part, which ends at steps, goes over into the ground along a good
// part of its edge.
func (c *cells) fades(part []int, ground []bool) bool {
	n := 0
	for _, i := range part {
		for _, j := range c.around(i) {
			if j >= 0 && ground[j] {
				n++
				break
			}
		}
	}
	return float64(n*n) > float64(len(part))
}

// sharp: a part, where the averages in mean are, sets itself off from the
// ground about it within a few cells, as a thing does and no soft shadow.
// Where an average over a square is half as deep as the part, the part ends.
func (c *cells) sharp(part []int, mean []float64, near *sums) bool {
	const reach, small = 5, 2
	depth := 0.0
	in := make([]bool, len(mean))
	for _, i := range part {
		in[i] = true
		if math.Abs(mean[i]) > math.Abs(depth) {
			depth = mean[i]
		}
	}
	var steps []float64
	for i, v := range c.within(in, 2*broadReach) {
		x, y := i%c.w, i/c.w
		if !v || mean[i]/depth < .35 || mean[i]/depth > .65 || x < reach || y < reach || x >= c.w-reach || y >= c.h-reach {
			continue
		}
		step := func(d int) float64 {
			a, n := near.about(i-d, small)
			b, m := near.about(i+d, small)
			if min(n, m) < 2*small*small {
				return 0
			}
			return math.Abs(a-b) / math.Abs(depth)
		}
		steps = append(steps, max(step(reach), step(reach*c.w)))
	}
	return len(steps) > 0 && quantiles(steps, 1)[0] > sharpStep
}

// broad is where the ground, averaged, is darker or lighter than the field
// says by more than its texture makes it: ln, by cell, and where it was seen;
// nil when that is nowhere. dev is ln of the light over the field's, and open
// where the ground lies, lit or in shadow, away from things.
func (c *cells) broad(dev []float64, open []bool) (shade []float64, known []bool) {
	near := c.sumsOf(dev, open)
	mean, known := make([]float64, len(dev)), make([]bool, len(dev))
	var all []float64
	for i := range dev {
		if m, n := near.about(i, broadReach); open[i] && n >= broadCells {
			mean[i], known[i] = m, true
			all = append(all, m)
		}
	}
	if len(all) < 4*broadCells {
		return nil, nil
	}
	// A texture differs from one square to the next as much as from any other;
	// a soft shadow is wider than that. Along the grain of wood there is little
	// to see, so that the direction counts in which there is more.
	const step = 2*broadReach + 1
	var across, down []float64
	for i := range dev {
		if j := i + step; i%c.w+step < c.w && known[i] && known[j] {
			across = append(across, math.Abs(mean[i]-mean[j]))
		}
		if j := i + step*c.w; j < len(dev) && known[i] && known[j] {
			down = append(down, math.Abs(mean[i]-mean[j]))
		}
	}
	if min(len(across), len(down)) < 2*broadCells {
		return nil, nil
	}
	mid := quantiles(all, 1)[0]
	scatter := max(1.4826/math.Sqrt2*max(quantiles(across, 1)[0], quantiles(down, 1)[0]), minNoise)
	least := max(broadLeast, broadSure*scatter)
	deep := make([]bool, len(dev))
	for i, v := range mean {
		mean[i] = v - mid
		deep[i] = known[i] && math.Abs(mean[i]) > least
	}
	found := 0
	for _, part := range c.parts(deep, true) {
		if len(part) >= leastThing && c.sharp(part, mean, &near) {
			for _, i := range part { // a thing of the ground's own colour
				deep[i] = false
			}
			thing := make([]bool, len(dev))
			for _, i := range part {
				thing[i] = true
			}
			for i, in := range c.within(thing, broadReach) {
				known[i] = known[i] && !in
			}
			continue
		}
		found += len(part)
	}
	if float64(found) < broadShare*float64(len(dev)) {
		return nil, nil
	}
	for i, v := range mean {
		// What is as small as they scatter is none; what is much more, all.
		if math.Abs(v) > broadPart*scatter {
			mean[i] = v * (1 - broadPart*scatter*broadPart*scatter/(v*v))
		} else {
			mean[i] = 0
		}
	}
	return c.across(mean, known), known
}
