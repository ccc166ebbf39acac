package grid

import (
	"math"
	"math/bits"
	"slices"

	"greige/analyze/photo"
)

// scales are the widths, in pixels, of the windows that steps compares.
var scales = [...]int{3, 6, 12, 24, 48, 96}

// profile is the evidence for seam lines at each place across one bundle,
// summed over bands along it, for each of the scales.
type profile struct {
	n       int
	x0, x1  float64 // where what is looked into begins and ends
	sums    [len(scales)][]float32
	reliefs map[[2]int]*relief // those made before, by scale and smoothing
}

// stepBand is what steps says of one band of a picture, and the columns that it shows.
type stepBand struct {
	step []float32
	seen []bool
}

// stepsAt are the steps at a scale of all bands of a picture, each twice as high as
// the scale's windows are wide; made when they are first asked for. There are none
// where the picture is too narrow.
func (f *flattened) stepsAt(k int) []stepBand {
	w := scales[k]
	f.stepping[k].Do(func() {
		if 4*w > f.w {
			return
		}
		f.stepped[k] = make([]stepBand, f.h/(2*w))
		photo.Bands(len(f.stepped[k]), 1, func(b0, b1 int) {
			for b := b0; b < b1; b++ {
				m := f.band(2*w*b, 2*w*(b+1))
				f.stepped[k][b] = stepBand{m.steps(w), m.seen}
			}
		})
	})
	return f.stepped[k]
}

// profileOf adds up the steps of the bands of f whose middle lies between y0 and y1,
// for lines from x0 to x1.
func profileOf(f *flattened, x0, x1, y0, y1 float64) *profile {
	p := &profile{n: f.w + 1, x0: x0, x1: x1, reliefs: map[[2]int]*relief{}}
	for k, w := range scales {
		p.sums[k] = make([]float32, p.n)
		total := make([]float32, p.n)
		for b, band := range f.stepsAt(k) {
			if y := float64(w * (2*b + 1)); y <= y0 || y >= y1 {
				continue
			}
			for x := w; x+w < p.n; x++ {
				if band.seen[x-w] && band.seen[x+w-1] {
					p.sums[k][x] += band.step[x]
					total[x]++
				}
			}
		}
		all := slices.Max(total)
		for x, v := range total {
			if v > 0 {
				// Where few bands show the place the mean is worth less.
				p.sums[k][x] /= max(v, all/3)
			}
		}
	}
	return p
}

// relief is a profile at the scales that suit one pitch: how strongly each
// place looks like a seam, 1 for a good seam of this picture.
type relief struct {
	at   []float64
	tops [][]float64 // tops[k][x] is the maximum of at[x : x+2^k]
}

// peak is a local maximum of a relief.
type peak struct{ x, height float64 }

// relief is made for patches of the given pitch in pixels.
func (p *profile) relief(pitch float64) *relief {
	k := int(math.Round(math.Log2(pitch / 4 / float64(scales[0]))))
	k = min(max(k, 0), len(scales)-1)
	key := [2]int{k, int(pitch / 40)}
	r, ok := p.reliefs[key]
	if !ok {
		r = p.newRelief(key[0], key[1])
		p.reliefs[key] = r
	}
	return r
}

// newRelief is the relief at scale k and the next finer one, smoothed over
// some places on either side: seams wobble, and what lies within a fortieth of
// a patch counts as one.
func (p *profile) newRelief(k, smooth int) *relief {
	sum := make([]float64, p.n)
	for i := max(k-1, 0); i <= k; i++ {
		for x, v := range p.sums[i] {
			sum[x] += float64(v)
		}
	}
	r := &relief{at: moving(sum, smooth)}
	var heights []float64
	rim := rimShare * (p.x1 - p.x0)
	for _, q := range peaksOf(r.at) {
		if q.x > p.x0-rim && q.x < p.x1+rim {
			heights = append(heights, q.height)
		}
	}
	slices.Sort(heights)
	good := 1.0
	if n := len(heights); n > 0 {
		good = max(heights[max(n-3, 0)], .05) // the third best, for one or two may be a border's; .05: where nothing shows
	}
	for x := range r.at {
		r.at[x] /= good
	}
	r.tops = [][]float64{r.at}
	for width := 1; 2*width <= len(r.at); width *= 2 {
		below := r.tops[len(r.tops)-1]
		row := make([]float64, len(below)-width)
		for x := range row {
			row[x] = max(below[x], below[x+width])
		}
		r.tops = append(r.tops, row)
	}
	return r
}

// highest is the maximum from x0 to x1.
func (r *relief) highest(x0, x1 float64) float64 {
	a, b := max(int(math.Ceil(x0)), 0), min(int(x1)+1, len(r.at))
	if b <= a {
		return 0
	}
	k := bits.Len(uint(b-a)) - 1
	return max(r.tops[k][a], r.tops[k][b-1<<k])
}

// moving is the mean over r places on either side; at the ends over fewer.
func moving(v []float64, r int) []float64 {
	out := make([]float64, len(v))
	sums := make([]float64, len(v)+1)
	for i, x := range v {
		sums[i+1] = sums[i] + x
	}
	for i := range v {
		a, b := max(i-r, 0), min(i+r+1, len(v))
		out[i] = (sums[b] - sums[a]) / float64(b-a)
	}
	return out
}

// peaksOf are the local maxima of z.
func peaksOf(z []float64) []peak {
	var out []peak
	for x := 1; x+1 < len(z); x++ {
		if z[x] > 0 && z[x] >= z[x-1] && z[x] > z[x+1] {
			bend := z[x-1] - 2*z[x] + z[x+1]
			at := float64(x)
			if bend < 0 {
				at += .5 * (z[x-1] - z[x+1]) / bend
			}
			out = append(out, peak{at, z[x]})
		}
	}
	return out
}

const (
	smallestPitch = 9    // pixels
	lineCost      = 0.2  // a fifth of a good line: what chance gives a line
	mostLine      = 1.2  // what a line speaks for at most: a good one and a fifth, for one may be a border's
	pitchSlack    = 0.04 // standard deviation of a patch's width, as a share
	leastStrip    = 0.21 // narrower strips are gaps between patches
	mostSash      = 0.85 // wider strips are patches
)

// closed are the lines with strips taken for gaps if they are that narrow:
// then one line in the middle of a gap stands for both.
func closed(lines []float64) []float64 {
	narrow := strips(lines)
	strip, patch, n := 0.0, 0.0, 0.0
	for i, s := range narrow {
		if w := lines[i+1] - lines[i]; s {
			strip += w
			n++
		} else {
			patch += w
		}
	}
	if n == 0 || strip/n >= leastStrip*patch/(float64(len(narrow))-n) {
		return lines
	}
	var out []float64
	for i := 0; i < len(lines); i++ {
		if i < len(narrow) && narrow[i] {
			out = append(out, (lines[i]+lines[i+1])/2)
			i++
			continue
		}
		out = append(out, lines[i])
	}
	return out
}
