package grid

import (
	"cmp"
	"math"
	"slices"

	"greige/analyze/photo"
)

// Rows and columns together: of two runs of lines, with a few more at their
// ends, the rectangle whose seams are likeliest, and of all pairs of runs the best.

// candidate is a grid in a view.
type candidate struct {
	f      *flattened
	xs, ys run
	value  float64 // likelihood of all its seams, in observations of the picture
}

const (
	runsPaired  = 4   // of either axis each with each
	sameWidth   = .2  // the logarithm by which pitches of one patch differ: a fifth
	linesAdded  = 3   // at either end, which the run may have missed
	clearOfEnds = .12 // of a seam, at either end: a wobble of .06 on both sides of the crossing
)

// candidates are the grids in one view, the best first.
func candidates(f *flattened, xs, ys []run, hints Hints) []candidate {
	pairs := paired(xs, ys)
	out := make([]candidate, len(pairs))
	photo.Bands(len(pairs), 1, func(k0, k1 int) {
		for k := k0; k < k1; k++ {
			out[k] = weigh(f, xs[pairs[k][0]], ys[pairs[k][1]], hints)
		}
	})
	sortCandidates(out)
	return out
}

func sortCandidates(c []candidate) {
	slices.SortStableFunc(c, func(a, b candidate) int { return cmp.Compare(b.value, a.value) })
}

// paired are the runs to try together: the best of each, and with each of twice as many
// the two best of like pitch.
func paired(xs, ys []run) (out [][2]int) {
	likeX, likeY := make([]int, len(xs)), make([]int, len(ys))
	for i, x := range xs {
		for j, y := range ys {
			try := i < runsPaired && j < runsPaired
			if abs(math.Log((x.pitch+x.narrow)/(y.pitch+y.narrow))) < sameWidth {
				try = try || i < 2*runsPaired && likeX[i] < 2 || j < 2*runsPaired && likeY[j] < 2
				likeX[i]++
				likeY[j]++
			}
			if try && x.goesWith(y) {
				out = append(out, [2]int{i, j})
			}
		}
	}
	return out
}

// goesWith is whether two runs may be those of one grid: narrow gaps go both ways, round
// square patches.
func (r run) goesWith(o run) bool {
	patch := abs(math.Log(r.pitch / o.pitch))
	if r.narrow == 0 || o.narrow == 0 {
		return r.narrow == o.narrow && patch < math.Log(4)
	}
	return patch < sameWidth && abs(math.Log(r.narrow/o.narrow)) < sameWidth+.3 // .3: gaps are read to a pixel
}

// extended is the run with up to n more patches at its pitch at either end, and
// with narrow gaps between them where the run has one between any two.
func (r run) extended(n, size int) run {
	gap := 0.0
	if r.narrow > 0 {
		from, to, gaps := alternate(r.lines)
		if !gaps {
			return r
		}
		r.lines, gap = r.lines[from:to+1], r.narrow
	}
	outwards := func(x, way float64) (lines []float64) {
		for range n {
			if gap > 0 {
				x += way * gap
				lines = append(lines, x)
			}
			x += way * r.pitch
			lines = append(lines, x)
		}
		return slices.DeleteFunc(lines, func(x float64) bool { return x <= 2 || x >= float64(size)-3 })
	}
	before := outwards(r.lines[0], -1)
	slices.Reverse(before)
	r.lines = slices.Concat(before, r.lines, outwards(r.lines[len(r.lines)-1], 1))
	return r
}

// part is the run from line a to line b.
func (r run) part(a, b int) run {
	r.lines = r.lines[a : b+1]
	return r
}

// least is the narrowest gap.
func (r run) least() float64 {
	w := math.Inf(1)
	for i := 1; i < len(r.lines); i++ {
		w = min(w, r.lines[i]-r.lines[i-1])
	}
	return w
}

// strip is whether gap i is a narrow one.
func (r run) strip(i int) bool {
	return r.narrow > 0 && r.lines[i+1]-r.lines[i] < 1.5*r.narrow // between its width and a patch's
}

// seams are the stretches of every line x between lines y, [x][y]. Across a strip
// no seam is expected: its stretches have no length.
func seams(f *flattened, xs, ys run) [][]stretch {
	out := make([][]stretch, len(xs.lines))
	for i := range out {
		out[i] = make([]stretch, len(ys.lines)-1)
	}
	w := max(3, min(12, int(clearOfEnds*xs.least())))
	tol := max(1, int(math.Round(min(.05*xs.pitch, .3*xs.least())))) // as mesh.stretch
	beside := offsets(int(1.3 * xs.pitch))                           // as mesh.stretch
	for j := range len(ys.lines) - 1 {
		if ys.strip(j) {
			continue
		}
		y0, y1 := ys.lines[j], ys.lines[j+1]
		a := int(math.Round(y0 + clearOfEnds*(y1-y0)))
		row := stepRowOf(f.band(a, max(int(math.Round(y1-clearOfEnds*(y1-y0))), a+1)), w)
		for i, x := range xs.lines {
			at := min(max(int(math.Round(x)), 0), f.w-1)
			t := float32(0)
			for k := max(at-tol, 0); k <= min(at+tol, f.w-1); k++ {
				t = max(t, row.peak[k])
			}
			out[i][j] = stretch{row.above(t, at, beside), (y1 - y0) / unitLength}
		}
	}
	return out
}

// worths are the likelihoods of stretches where as much shows as usual.
func worths(lines [][]stretch) [][]float64 {
	out := make([][]float64, len(lines))
	for i, line := range lines {
		out[i] = make([]float64, len(line))
		for j, s := range line {
			out[i][j] = s.worth()
		}
	}
	return out
}

// weigh is the best rectangle of two runs.
func weigh(f *flattened, xs, ys run, hints Hints) candidate {
	if !hints.off.extend {
		xs, ys = xs.extended(linesAdded, f.w), ys.extended(linesAdded, f.h)
	}
	c := candidate{f: f, value: math.Inf(-1)}
	down, along := seams(f, xs, ys), seams(f.across(), ys, xs)
	dw, aw := worths(down), worths(along)
	r := rectangle(dw, aw, hints)
	if r == ([4]int{}) {
		return c
	}
	if !hints.off.trim {
		r = trimmed(dw, aw, r, hints)
	}
	c.xs, c.ys = xs.part(r[0], r[1]), ys.part(r[2], r[3])
	c.value = 0
	for i := r[0]; i <= r[1]; i++ {
		c.value += lineLikelihood(down[i][r[2]:r[3]])
	}
	for j := r[2]; j <= r[3]; j++ {
		c.value += lineLikelihood(along[j][r[0]:r[1]])
	}
	mid := Point{(xs.lines[r[0]] + xs.lines[r[1]]) / 2, (ys.lines[r[2]] + ys.lines[r[3]]) / 2}
	p, right, below := f.at(mid), f.at(Point{mid[0] + 1, mid[1]}), f.at(Point{mid[0], mid[1] + 1})
	area := abs((right[0]-p[0])*(below[1]-p[1]) - (right[1]-p[1])*(below[0]-p[0]))
	c.value *= math.Sqrt(area)
	return c
}

// rectangle is the part, from line to line across and down, of the largest sum:
// for every run of rows the best run of columns (Kadane; Bentley 1984). All 0
// where there is none.
func rectangle(down, along [][]float64, hints Hints) (best [4]int) {
	nx, ny := len(down), len(along)
	most := math.Inf(-1)
	line, col := make([]float64, nx), make([]float64, nx)
	for j0 := range ny - 1 {
		clear(line)
		clear(col)
		for i := range nx - 1 {
			col[i] = along[j0][i]
		}
		for j1 := j0 + 1; j1 < ny; j1++ {
			for i := range nx {
				line[i] += down[i][j1-1]
				if i < nx-1 {
					col[i] += along[j1][i]
				}
			}
			if hints.Rows > 0 && j1-j0 != hints.Rows {
				continue
			}
			if v, i0, i1 := bestPart(line, col, hints.Cols); v > most {
				most, best = v, [4]int{i0, i1, j0, j1}
			}
		}
	}
	return best
}

// bestPart is the run of columns, of a number if that is given, whose sum of
// lines and of what lies between them is largest.
func bestPart(line, col []float64, cols int) (best float64, from, to int) {
	best = math.Inf(-1)
	start, before := 0, make([]float64, len(line)) // the sum of all before a line
	for i := range line {
		if i > 0 {
			before[i] = before[i-1] + line[i-1] + col[i-1]
		}
		if cols > 0 {
			start = i - cols
		}
		if start >= 0 && start < i {
			if v := before[i] + line[i] - before[start]; v > best {
				best, from, to = v, start, i
			}
		}
		if cols == 0 && before[i] < before[start] {
			start = i
		}
	}
	return best, from, to
}

// trimmed is the rectangle without outer rows and columns across which no seams
// show: they are a border, or what lies beside the top.
func trimmed(down, along [][]float64, r [4]int, hints Hints) [4]int {
	for {
		least, side := math.Inf(1), 0
		for k := range 4 {
			cells, counted, lines, from, to := r[1]-r[0], hints.Cols, along, r[2], r[3]
			if k >= 2 {
				cells, counted, lines, from, to = r[3]-r[2], hints.Rows, down, r[0], r[1]
			}
			if cells < 2 || counted > 0 {
				continue
			}
			sum, at := 0.0, r[k]-k%2
			for l := from; l <= to; l++ {
				sum += lines[l][at]
			}
			if sum < least {
				least, side = sum, k
			}
		}
		if least > 0 {
			return r
		}
		r[side] += 1 - 2*(side%2)
	}
}
