package grid

import "slices"

// Where a top ends its outline tells, but not always: white patches at the rim
// melt into the paper that they lie on, and the outline stops a row short. All that
// divides what is inside it agrees then, so two ways in there are not two witnesses of
// how far the top reaches. The seams are: those that end at a side of the top go on
// across a row that was missed as plainly as elsewhere, and across a border, paper or
// a floor they do not.

const (
	// ofChance is how much more than that the likelihoods of the seams together have to be.
	// It is more than two can have: near each line the largest step of several places
	// counts, so that of two lines without a seam now and then both look plain.
	ofChance = 3
	// sideShare is how much of a patch is looked at beyond the first and the last of the
	// lines, so that steps have others to be compared with on that side too.
	sideShare = .4
)

// further is the reading with the rows and columns across which its seams go on; its
// onward is how plainly they go on beyond those.
func (r *guess) further(t *tones) *guess {
	for {
		r.onward = impossible
		if r.point != nil {
			return r
		}
		y, x := r.goesOn(t, r.xs, r.ys, false), r.goesOn(t, r.ys, r.xs, true)
		r.onward = max(y[0], y[1], x[0], x[1])
		xs, ys := withMore(r.xs, x, patchesOf(r.ys)), withMore(r.ys, y, patchesOf(r.xs))
		if len(xs) == len(r.xs) && len(ys) == len(r.ys) || max(len(xs), len(ys)) > mostCount {
			return r
		}
		r = r.widened(t, xs, ys)
	}
}

// goesOn is how plainly the seams at lines go on before the first and after the last of
// ends: the mean likelihood of an observation of them across a row more there. It is
// impossible where no seams end at that side, and where strips lie between the patches
// but not by turns, for what comes next may be either. turned is whether lines are those
// of the rows.
func (r *guess) goesOn(t *tones, lines, ends []float64, turned bool) (out [2]float64) {
	out = [2]float64{impossible, impossible}
	gap, regular := gapOf(ends)
	if !regular || len(lines) < 3 {
		return out
	}
	pitch, high, last := pitchOf(lines), pitchOf(ends), len(lines)-1
	left := lines[0] - sideShare*pitch
	xs, ys := run{pitch: pitch}, run{lines: []float64{0, high}, pitch: high}
	for _, x := range lines[1:last] {
		xs.lines = append(xs.lines, x-left)
	}
	for k, up := range [2]float64{ends[0] - gap - high, ends[len(ends)-1] + gap} {
		f := resample(t, int(lines[last]-left+sideShare*pitch), int(high), func(p Point) Point {
			if turned {
				return r.f.at(Point{p[1] + up, p[0] + left})
			}
			return r.f.at(Point{p[0] + left, p[1] + up})
		})
		sum, length := 0.0, 0.0
		for _, line := range seams(f, xs, ys) {
			sum, length = sum+line[0].worth(), length+line[0].length
		}
		out[k] = sum / length
	}
	return out
}

// gapOf is how wide the strips are that lie between every two patches, 0 where there are
// none, and false where they lie otherwise.
func gapOf(lines []float64) (float64, bool) {
	if !slices.Contains(strips(lines), true) {
		return 0, true
	}
	from, to, gaps := alternate(lines)
	return lines[2] - lines[1], gaps && from == 0 && to == len(lines)-1
}

// pitchOf is the usual width of a patch between lines.
func pitchOf(lines []float64) float64 {
	return (lines[len(lines)-1] - lines[0]) / patchesAlong(lines)
}

// patchesOf is how many patches lie along the way from the first line to the last.
func patchesOf(lines []float64) (n int) {
	for _, strip := range strips(lines) {
		if !strip {
			n++
		}
	}
	return n
}

// withMore are lines and those of one patch more at either end where the seams between so
// many others go on, both sides of a gap as one: as plainly as seams that need no third
// way, and ofChance more for all of them.
func withMore(lines []float64, goesOn [2]float64, others int) []float64 {
	least, pitch := plainSeams+ofChance/float64(others-1), pitchOf(lines)
	gap, _ := gapOf(lines)
	steps := []float64{gap, pitch}
	if gap == 0 {
		steps = steps[1:]
	}
	out := slices.Clone(lines)
	for _, d := range steps {
		if goesOn[0] > least {
			out = slices.Insert(out, 0, out[0]-d)
		}
		if goesOn[1] > least {
			out = append(out, out[len(out)-1]+d)
		}
	}
	return out
}

// widened is the reading with other lines, in a picture with as much room round them as
// a patch takes.
func (r *guess) widened(t *tones, xs, ys []float64) *guess {
	x, y := pitchOf(xs), pitchOf(ys)
	left, up := xs[0]-x, ys[0]-y
	f := resample(t, int(xs[len(xs)-1]+x-left), int(ys[len(ys)-1]+y-up), func(p Point) Point {
		return r.f.at(Point{p[0] + left, p[1] + up})
	})
	for i := range xs {
		xs[i] -= left
	}
	for j := range ys {
		ys[j] -= up
	}
	return &guess{f: f, score: r.score, xs: xs, ys: ys}
}
