package grid

import "image"

// seamsIn are the grids that the seams speak for between the corners of a
// rectangle, set straight or on point.
func (v *given) seamsIn() []*guess {
	s := v.seenStraight()
	straight := v.straightLikely()
	var out []*guess
	if straight > unlikely/2 {
		out = append(out, upright(s.flattened, v.hints)...)
	}
	if straight < 1-unlikely/2 {
		on := v.seenTurned()
		out = append(out, onPointIn(on.f, on.xs, on.ys, v.t)...)
	}
	return out
}

// upright are the grids with level rows in a view.
func upright(f *flattened, hints Hints) []*guess {
	var out []*guess
	xs, ys := runsOf(f)
	for _, c := range candidates(f, xs, ys, hints) {
		if len(out) < 3 && c.xs.lines != nil {
			out = append(out, c.guess())
		}
	}
	return out
}

// grown is the candidate read again with its seams made straight, a few lines
// added, while that makes it likelier.
func (c candidate) grown(t *tones, hints Hints) candidate {
	for range 3 {
		if hints.off.bend {
			break
		}
		f := c.f.straightened(t, straightMesh(c.f, c.xs.lines, c.ys.lines).curvature(.25)) // a quarter: see guess.grid
		d := weigh(f, c.xs, c.ys, hints)
		if d.value <= 1.002*c.value { // more than rounding
			break
		}
		c = d
	}
	return c
}

// byPencils are the grids in the views in which two pencils run upright.
func byPencils(t *tones, hints Hints) []*guess {
	segs := segmentsOf(t, edgesOf(t))
	if len(segs) < 8 {
		return nil
	}
	p := pencilsOf(segs, t.w, t.h)
	var out []*guess
	var all []candidate
	poses := p.poses()
	hints.Look.At("segments", func() image.Image { return p.pictureOfPoses(t, poses) })
	for _, ps := range poses {
		v, ok := p.viewOf(ps)
		if !ok {
			continue
		}
		f, ok := v.flatten(t)
		if !ok {
			continue
		}
		xs, ys := runsOf(f)
		if v.onDiagonal() && hints.Setting != Straight {
			out = append(out, onPointIn(f, xs, ys, t)...)
		}
		if hints.Setting != OnPoint {
			for _, c := range candidates(f, xs, ys, hints) {
				if c.xs.lines != nil {
					all = append(all, c)
				}
			}
		}
	}
	sortCandidates(all)
	for k, c := range all[:min(len(all), 3)] {
		if k == 0 || c.value > rival*all[0].value {
			c = c.grown(t, hints)
		}
		out = append(out, c.guess())
	}
	return out
}

func (c candidate) guess() *guess {
	return &guess{f: c.f, score: c.value, xs: c.xs.lines, ys: c.ys.lines}
}
