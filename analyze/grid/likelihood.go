package grid

import (
	"math"

	"greige/analyze/photo"
)

// A step of colour across a line says for a seam there what its rank among the
// steps beside it says: contrast, lamp, print and noise need no thresholds. Of
// no seam the rank is any, with even chance. Of a seam that shows, the share
// visible of all, it has the density sharp r^(sharp-1): nineteen in twenty
// steps beside it are smaller. Every fixed length of seam is one observation.
const (
	visible = .8
	sharp   = 20
	// observed is that length, as a share of the picture's longer side: two widths
	// of what is averaged along a seam, so that neighbours hardly share a print's figure.
	observed = .025
	// placeCost is what a line costs for its place and the share that shows: half
	// the logarithm of the observations along it for each (Schwarz 1978), of about e.
	placeCost = 1
)

// shares are the shares of a line that may show, finely enough for a tenth of an
// observation. The least is not 0: a line of which nothing shows is unlikely.
var shares = [...]float64{.4, .5, .65, visible, .95}

// usually is the number of visible in shares.
const usually = 3

// likelihood is the logarithm of how much likelier a rank is for a seam of a line
// of which a share shows.
func likelihood(share, rank float64) float64 {
	return math.Log(1 - share + share*sharp*math.Pow(rank, sharp-1))
}

// ranksAt is how many places beside a line its step is compared with.
const ranksAt = 32

// offsets are the places compared with, evenly to reach on either side, but for
// those next to the line, whose steps are its own.
func offsets(reach int) []int {
	var out []int
	for k := range ranksAt {
		d := int(float64(-reach) + 2*float64(reach)*float64(k)/(ranksAt-1))
		if abs(d) >= 3 && (len(out) == 0 || out[len(out)-1] != d) {
			out = append(out, d)
		}
	}
	return out
}

// standing is a step's rank: larger than n of k others.
type standing struct{ n, k uint8 }

// llrs are the likelihoods by the share of a line that shows and the standing.
var llrs = func() (out [len(shares)][ranksAt + 1][ranksAt + 1]float32) {
	for s, share := range shares {
		for k := range out[s] {
			for n := range k + 1 {
				out[s][k][n] = float32(likelihood(share, (float64(n)+.5)/float64(k+1)))
			}
		}
	}
	return out
}()

func (s standing) llr(share int) float64 { return float64(llrs[share][s.k][s.n]) }

// stretch is a piece of a line: its step's standing and its length in observations.
type stretch struct {
	standing
	length float64
}

// worth is its likelihood where as much of its line shows as usual.
func (s stretch) worth() float64 { return s.length * s.llr(usually) }

// lineLikelihood is what a line is worth, whose share that shows is not known.
func lineLikelihood(line []stretch) float64 {
	best := math.Inf(-1)
	for s := range shares {
		sum := 0.0
		for _, t := range line {
			sum += t.length * t.llr(s)
		}
		best = max(best, sum)
	}
	return best - placeCost
}

// stepRow is one band of a picture: the step of colour at each place, which is
// the distance between what lies w pixels to its left and to its right, and the
// same where it is the largest within w, 0 elsewhere.
type stepRow struct{ step, peak []float32 }

// stepRowOf measures a band. Beyond what is seen the band goes on as it ends.
func stepRowOf(b *bandMeans, w int) stepRow {
	n := len(b.seen)
	r := stepRow{make([]float32, n), make([]float32, n)}
	first, last := 0, n-1
	for first < n && !b.seen[first] {
		first++
	}
	for last >= 0 && !b.seen[last] {
		last--
	}
	if last-first < 2*w {
		return r
	}
	sum := make([][3]float32, n+1+2*w)
	for i := range n + 2*w {
		m := &b.mean[min(max(i-w, first), last)]
		for k, s := range sum[i] {
			sum[i+1][k] = s + m[k]
		}
	}
	for x := first; x <= last; x++ {
		before, at, after := &sum[x], &sum[x+w], &sum[x+2*w]
		s := float32(0)
		for k, weight := range weights {
			d := weight * (before[k] + after[k] - 2*at[k])
			s += d * d
		}
		r.step[x] = float32(math.Sqrt(float64(s))) / float32(w)
	}
	for x := first; x <= last; x++ {
		top := true
		for i := max(x-w, first); i <= min(x+w, last) && top; i++ {
			top = r.step[i] <= r.step[x]
		}
		if top {
			r.peak[x] = r.step[x]
		}
	}
	return r
}

// above is the standing of a step t at x among those at the offsets, which rise.
func (r stepRow) above(t float32, x int, offsets []int) (s standing) {
	for len(offsets) > 0 && x+offsets[0] < 0 {
		offsets = offsets[1:]
	}
	for len(offsets) > 0 && x+offsets[len(offsets)-1] >= len(r.step) {
		offsets = offsets[:len(offsets)-1]
	}
	n := 0
	if t > 0 { // no step is less
		for _, d := range offsets {
			if t > r.step[x+d] {
				n++
			}
		}
	}
	return standing{uint8(n), uint8(len(offsets))}
}

// llr is the likelihood of each place of the row, its peaks spread to one pixel
// either side.
func (r stepRow) llr(reach int) []float32 {
	n := len(r.step)
	out, beside := make([]float32, n), offsets(reach)
	for x := range out {
		top := max(r.peak[max(x-1, 0)], r.peak[x], r.peak[min(x+1, n-1)])
		s := r.above(top, x, beside)
		out[x] = llrs[usually][s.k][s.n]
	}
	return out
}

// likelihood is that of all the seams of a mesh, in observations of the picture:
// of each line as much may show as suits it.
func (n *mesh) likelihood(t *tones) (sum, mean float64) {
	at := make([]stretch, len(n.seams))
	photo.Bands(len(n.seams), 8, func(k0, k1 int) {
		for k := k0; k < k1; k++ {
			if !n.seams[k].outer {
				at[k] = n.stretch(n.seams[k], t)
			}
		}
	})
	length := 0.0
	for _, line := range n.lines() {
		var seen []stretch
		for _, k := range line {
			seen = append(seen, at[k])
			length += at[k].length
		}
		sum += lineLikelihood(seen)
	}
	return sum, sum / max(length, 1)
}

// stretch is one seam of a mesh.
func (n *mesh) stretch(s seam, t *tones) stretch {
	l, ok := sectionOf(n.node[s.from], n.node[s.to])
	if !ok {
		return stretch{}
	}
	a, c := n.f.at(l.p), n.f.at(l.q)
	f, l, scale := n.f.coarse(l, min(s.left, s.right), coarseGap)
	wide, least := max(s.left, s.right)/scale, min(s.left, s.right)/scale
	w := max(2, int(min(12/scale, clearOfEnds*least)))
	tol := max(1, int(math.Round(min(.05*wide, .3*least)))) // .05: a seam's wobble; .3: not as far as the other side of a strip
	reach := int(1.3 * wide)                                // to the patches on either side and a third beyond, so that no other seam is missed
	side := reach + w + tol
	row := stepRowOf(f.beside(l, side), w)
	top := float32(0)
	for k := side - tol; k <= side+tol; k++ {
		top = max(top, row.peak[k])
	}
	return stretch{row.above(top, side, offsets(reach)), math.Hypot(a[0]-c[0], a[1]-c[1]) / (observed * float64(max(t.w, t.h)))}
}

// lineOf names the line of a mesh that a seam lies on: those of the columns, of
// the rows and of the two diagonals are families.
type lineOf struct{ family, line int }

func (n *mesh) lineOf(s seam) lineOf {
	i, j := s.from%n.w, s.from/n.w
	switch di, dj := s.to%n.w-i, s.to/n.w-j; {
	case di == 0:
		return lineOf{0, i}
	case dj == 0:
		return lineOf{1, j}
	case di == dj:
		return lineOf{2, i - j}
	}
	return lineOf{3, i + j}
}

// lines are the numbers of the seams inside the mesh, line by line.
func (n *mesh) lines() (out [][]int) {
	number := map[lineOf]int{}
	for k, s := range n.seams {
		if s.outer {
			continue
		}
		l := n.lineOf(s)
		i, ok := number[l]
		if !ok {
			i, number[l] = len(out), len(out)
			out = append(out, nil)
		}
		out[i] = append(out[i], k)
	}
	return out
}
