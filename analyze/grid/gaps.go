package grid

import (
	"math"

	"greige/analyze/fit"
)

// What lies between patches is sashing, a row or a column of its own, or a gap
// in which the ground shows: patches pinned to a wall, the colours of a chart. A
// gap lies between every two patches, and its colour goes on outside them.

// alternate is the longest run of lines between which patches and narrow gaps
// lie by turns, from patch to patch, and whether that is nearly all of them.
func alternate(lines []float64) (from, to int, nearly bool) {
	narrow := strips(lines)
	n := len(narrow)
	for a := range n {
		if narrow[a] {
			continue
		}
		b := a + 1
		for b+1 < n && narrow[b] && !narrow[b+1] {
			b += 2
		}
		if b-a > to-from {
			from, to = a, b
		}
	}
	// Edges beside a chart or a wall may be taken for another line or two.
	return from, to, to-from >= 3 && from <= 2 && n-to <= 2
}

// withoutGaps are the lines of a grid with one in the middle of each gap between
// patches for the two at its sides; as they are where there are no gaps.
func withoutGaps(f *flattened, xs, ys []float64) (cols, rows []float64) {
	i0, i1, okX := alternate(xs)
	j0, j1, okY := alternate(ys)
	if okX && okY && groundBetween(f, xs[i0:i1+1], ys[j0:j1+1]) {
		return betweenGaps(xs[i0 : i1+1]), betweenGaps(ys[j0 : j1+1])
	}
	return closed(xs), closed(ys)
}

// betweenGaps are the ends and the middles of the gaps of alternate lines.
func betweenGaps(lines []float64) []float64 {
	out := []float64{lines[0]}
	for i := 1; i+1 < len(lines); i += 2 {
		out = append(out, (lines[i]+lines[i+1])/2)
	}
	return append(out, lines[len(lines)-1])
}

// groundBetween is whether the gaps have the colour of what lies outside.
func groundBetween(f *flattened, xs, ys []float64) bool {
	var out, in []float64 // how far what lies outside is from the gaps' colour, and the patches
	for k, g := range [2]*flattened{f, f.across()} {
		lines, across := xs, ys
		if k == 1 {
			lines, across = ys, xs
		}
		last := len(lines) - 1
		for j := 0; j+1 < len(across); j += 2 {
			m := .2 * (across[j+1] - across[j]) // clear of the other gaps
			b := g.band(int(across[j]+m), int(across[j+1]-m)).sums()
			for _, e := range [2][3]float64{
				{lines[0] - .5*(lines[2]-lines[1]), (lines[1] + lines[2]) / 2, (lines[0] + lines[1]) / 2},
				{lines[last] + .5*(lines[last-1]-lines[last-2]), (lines[last-1] + lines[last-2]) / 2, (lines[last] + lines[last-1]) / 2},
			} {
				w := .2 * abs(lines[2]-lines[1]) // of the gap's middle, clear of its sides
				o, ok := b.colour(e[0]-w, e[0]+w)
				gap, _ := b.colour(e[1]-w, e[1]+w)
				patch, _ := b.colour(e[2]-2*w, e[2]+2*w)
				if ok {
					out, in = append(out, apart(o, gap)), append(in, apart(patch, gap))
				}
			}
		}
	}
	return len(out) > 0 && fit.Median(out) < .5*fit.Median(in)
}

// colour is the mean over the columns from x0 to x1, and whether the picture
// shows all of them.
func (s sums) colour(x0, x1 float64) (c [3]float64, ok bool) {
	a, b := int(math.Round(x0)), max(int(math.Round(x1)), int(math.Round(x0))+1)
	if a < 0 || b >= len(s) || s[b].seen-s[a].seen < b-a {
		return c, false
	}
	for k := range c {
		c[k] = (s[b].mean[k] - s[a].mean[k]) / float64(b-a)
	}
	return c, true
}
