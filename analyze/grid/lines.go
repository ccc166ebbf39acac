package grid

import (
	"cmp"
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
	sums    [len(scales)][]float32
	reliefs map[[2]int]*relief // those made before, by scale and smoothing
}

// strip is a band of rows y0 <= y < y1 and what it counts.
type strip struct {
	y0, y1 int
	weight float64
}

// evenStrips are strips of equal height over n rows, weighed by their middle.
func evenStrips(n int, weight func(y float64) float64) func(w int) []strip {
	return func(w int) []strip {
		h := 2 * w
		var out []strip
		for y := 0; y+h <= n; y += h {
			if g := weight(float64(y) + float64(h)/2); g > 0 {
				out = append(out, strip{y, y + h, g})
			}
		}
		return out
	}
}

// rowStrips are strips that keep within the rows between lines, clear of the
// seams: about as high as three windows are wide, for seams do not run quite
// straight, but wide windows want whole patches.
func rowStrips(lines []float64) func(w int) []strip {
	return func(w int) []strip {
		var out []strip
		for j := range len(lines) - 1 {
			h := lines[j+1] - lines[j]
			k := max(int(.84*h/float64(3*w)+.5), 1)
			for i := range k {
				y0 := lines[j] + h*(.08+.84*float64(i)/float64(k))
				y1 := lines[j] + h*(.08+.84*float64(i+1)/float64(k))
				a := int(math.Round(y0))
				b := max(int(math.Round(y1)), a+1)
				out = append(out, strip{a, b, y1 - y0})
			}
		}
		return out
	}
}

// profileOf adds up the steps of strips of f, which are asked for by the
// width of the windows.
func profileOf(f *flattened, strips func(w int) []strip) *profile {
	p := &profile{n: f.w + 1, reliefs: map[[2]int]*relief{}}
	for k, w := range scales {
		p.sums[k] = make([]float32, p.n)
		if 4*w > f.w {
			continue
		}
		list := strips(w)
		type part struct {
			e    []float32
			seen []bool
		}
		parts := make([]part, len(list))
		photo.Bands(len(list), 1, func(b0, b1 int) {
			for b := b0; b < b1; b++ {
				band := f.band(list[b].y0, list[b].y1)
				parts[b] = part{band.steps(w), band.seen}
			}
		})
		total := make([]float32, p.n)
		for b, part := range parts {
			g := float32(list[b].weight)
			for x := w; x+w < p.n; x++ {
				if part.seen[x-w] && part.seen[x+w-1] {
					p.sums[k][x] += g * part.e[x]
					total[x] += g
				}
			}
		}
		var all float32
		for _, v := range total {
			all = max(all, v)
		}
		for x, v := range total {
			if v > 0 {
				// Where few strips show the place the mean is worth less.
				p.sums[k][x] /= max(v, all/3)
			}
		}
	}
	return p
}

// relief is a profile at the scales that suit one pitch: how strongly each
// place looks like a seam, 1 for a good seam of this picture.
type relief struct {
	at    []float64
	peaks []peak
	tops  [][]float64 // tops[k][x] is the maximum of at[x : x+2^k]
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
	all := peaksOf(r.at)
	heights := make([]float64, len(all))
	for i, q := range all {
		heights[i] = q.height
	}
	slices.Sort(heights)
	good := 1.0
	if n := len(heights); n > 0 {
		good = max(heights[max(n-3, 0)], .05)
	}
	for x := range r.at {
		r.at[x] /= good
	}
	for _, q := range all {
		if q.height /= good; q.height > lineCost/2 {
			r.peaks = append(r.peaks, q)
		}
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

// comb is a guess at the lines of one bundle: where they are, in pixels, and
// the widths that they keep: the pitch of patches and, where there are such
// strips, that of sashing.
type comb struct {
	lines       []float64
	pitch, sash float64
	score       float64
}

const (
	smallestPitch = 9 // pixels
	lineCost      = 0.2
	pitchSlack    = 0.04 // standard deviation of a patch's width, as a share
	leastSash     = 0.14 // of a patch, to look for
	leastStrip    = 0.21 // narrower strips are gaps between patches
	mostSash      = 0.85
)

// combs are the best guesses, the best first: for each doubling of the pitch
// the best few, since stripes within patches can make a finer comb that looks
// as good as the seams. Sashing is looked for where asked.
func (p *profile) combs(each int, sashing bool) []comb {
	var out []comb
	for lo := float64(smallestPitch); lo < .6*float64(p.n); lo *= 2 {
		out = append(out, p.combsBetween(lo, min(2*lo, .6*float64(p.n)), each, sashing)...)
	}
	sortCombs(out)
	return out
}

// combsBetween are the best guesses of a pitch from lo to hi.
func (p *profile) combsBetween(lo, hi float64, most int, sashing bool) []comb {
	const ratio = 1.03
	var all []comb
	for pitch := lo / ratio; pitch < hi*ratio; pitch *= ratio {
		r := p.relief(pitch)
		c := r.chain(pitch, 0)
		for s := leastSash; sashing && s <= mostSash; s *= 1.15 {
			if d := r.chain(pitch, s*pitch); d.score > c.score+.5 && d.regular() {
				c = d
			}
		}
		all = append(all, c)
	}
	var out []comb
	for i, c := range all {
		if len(c.lines) < 2 || c.pitch < lo || c.pitch >= hi {
			continue
		}
		top := true
		for j := max(i-2, 0); j < min(i+3, len(all)); j++ {
			if all[j].score > c.score || all[j].score == c.score && j < i {
				top = false
			}
		}
		if top {
			out = append(out, c)
		}
	}
	sortCombs(out)
	if len(out) > most {
		out = out[:most]
	}
	return out
}

func sortCombs(c []comb) {
	slices.SortStableFunc(c, func(a, b comb) int { return cmp.Compare(b.score, a.score) })
}

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

// regular is whether the strips of a comb lie as sashing does: between blocks
// of one size, and not only at the ends, where they would be a border.
func (c comb) regular() bool {
	middle := (c.pitch + c.sash) / 2
	var strips []int // numbers of the narrow gaps
	for i := 1; i < len(c.lines); i++ {
		if c.lines[i]-c.lines[i-1] < middle {
			strips = append(strips, i)
		}
	}
	n := len(c.lines) - 1
	if len(strips) < 1 || len(strips) > (n+1)/2 {
		return false
	}
	if len(strips) == 1 {
		return strips[0] != 1 && strips[0] != n
	}
	block := strips[1] - strips[0]
	if block < 2 {
		return false
	}
	for i := 1; i < len(strips); i++ {
		if strips[i]-strips[i-1] != block {
			return false
		}
	}
	// Whole blocks at the ends.
	first, last := strips[0], n-strips[len(strips)-1]
	return (first == 1 || first == block) && (last == 0 || last == block-1)
}

// chain is the best sequence of lines whose distances are the pitch or the
// sash: through peaks where there are such, and through up to two places
// without a peak in between. A line gains its height, and loses that of the
// highest place between it and the next: lines that leave out every other
// seam gain nothing. Each line costs lineCost, so that lines where there is
// no seam gain nothing either. Found by dynamic programming along the peaks
// (Bellman 1957).
func (r *relief) chain(pitch, sash float64) comb {
	n := len(r.peaks)
	best := make([]float64, n)
	from := make([]int, n)
	between := make([]int, n)
	slack := pitchSlack * pitch
	reach := 3*pitch + 3*slack
	end, score := -1, 0.0
	height := func(x float64) float64 { return r.at[min(max(int(x+.5), 0), len(r.at)-1)] }
	inner := func(x0, x1 float64) float64 { // the highest place between two lines
		m := .2 * (x1 - x0)
		return r.highest(x0+m, x1-m)
	}
	for j, q := range r.peaks {
		best[j], from[j] = 0, -1
		for i := j - 1; i >= 0; i-- {
			gap := q.x - r.peaks[i].x
			if gap > reach {
				break
			}
			if sash > 0 {
				if d := (gap - sash) / slack; abs(d) < 3 {
					v := best[i] - .25*d*d - inner(r.peaks[i].x, q.x)
					if v > best[j] {
						best[j], from[j], between[j] = v, i, 0
					}
				}
			}
			m := int(math.Round(gap / pitch))
			if m < 1 || m > 3 {
				continue
			}
			d := (gap - float64(m)*pitch) / (slack * math.Sqrt(float64(m)))
			if abs(d) > 3 {
				continue
			}
			v := best[i] - .25*d*d
			for k := range m {
				x0 := r.peaks[i].x + gap*float64(k)/float64(m)
				x1 := r.peaks[i].x + gap*float64(k+1)/float64(m)
				v -= inner(x0, x1)
				if k > 0 {
					v += height(x0) - lineCost
				}
			}
			if v > best[j] {
				best[j], from[j], between[j] = v, i, m-1
			}
		}
		best[j] += min(q.height, 1.2) - lineCost
		if best[j] > score {
			end, score = j, best[j]
		}
	}
	c := comb{pitch: pitch, sash: sash, score: score}
	for j := end; j >= 0; j = from[j] {
		c.lines = append(c.lines, r.peaks[j].x)
		if i := from[j]; i >= 0 {
			for k := between[j]; k > 0; k-- {
				c.lines = append(c.lines, r.peaks[i].x+(r.peaks[j].x-r.peaks[i].x)*float64(k)/float64(between[j]+1))
			}
		}
	}
	slices.Reverse(c.lines)
	return c
}
