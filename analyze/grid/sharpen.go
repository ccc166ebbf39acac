package grid

import (
	"image"
	"math"

	"greige/analyze/photo"
	"greige/analyze/raster"
)

const (
	bandHigh = 8 // pixels of a view: a tenth of a patch of which there are ten to the view's height
	stepWide = 4 // pixels that a step is measured over on either side
)

// stepRows are the steps in bands across f.
func stepRows(f *flattened) []stepRow {
	out := make([]stepRow, f.h/bandHigh)
	photo.Bands(len(out), 4, func(b0, b1 int) {
		for b := b0; b < b1; b++ {
			out[b] = stepRowOf(f.band(b*bandHigh, (b+1)*bandHigh), stepWide)
		}
	})
	return out
}

// sharpened is the view with each pencil turned and spread until its edges pile
// up highest, seen from their end; only edges count near which both kinds occur.
func (v *view) sharpened(f *flattened) (*view, bool) {
	var edges [2][][]float32
	for k, q := range []*flattened{f, f.across()} {
		rows := stepRows(q)
		edges[k] = make([][]float32, len(rows))
		photo.Bands(len(rows), 4, func(b0, b1 int) {
			for b := b0; b < b1; b++ {
				edges[k][b] = rows[b].llr(frameSide/15, false) // a patch of which there are fifteen to a side
				for x, l := range edges[k][b] {
					edges[k][b][x] = max(l, 0)
				}
			}
		})
	}
	near := nearBoth(edges[0], edges[1])
	var fit [2][2]float64
	for k := range edges {
		for b, row := range edges[k] {
			for x := range row {
				w := float32(0)
				i, j := b, x/bandHigh
				if k == 1 {
					i, j = j, i
				}
				if i < len(near) && j < len(near[i]) {
					w = near[i][j]
				}
				row[x] *= w * w
			}
			edges[k][b] = smoothed(row)
		}
		fit[k] = piledUp(edges[k])
	}
	return v.moved(fit)
}

// smoothed is the mean over three places.
func smoothed(row []float32) []float32 {
	out := make([]float32, len(row))
	for x := range row {
		out[x] = (row[max(x-1, 0)] + row[x] + row[min(x+1, len(row)-1)]) / 3
	}
	return out
}

// nearBoth is, by bands down and across, how much of the rarer of two kinds of
// edges occurs around: a is by bands down, b by bands across.
func nearBoth(a, b [][]float32) [][]float32 {
	rows, cols := len(a), len(b)
	sum := [2][]float32{make([]float32, cols*rows), make([]float32, cols*rows)}
	for k, e := range [2][][]float32{a, b} {
		for i, row := range e {
			for x, v := range row {
				u, w := x/bandHigh, i
				if k == 1 {
					u, w = w, u
				}
				if u < cols && w < rows {
					sum[k][w*cols+u] += v
				}
			}
		}
	}
	down, along := raster.NewSums(sum[0], cols, rows), raster.NewSums(sum[1], cols, rows)
	const around = 7 // bands: a patch of which there are eight to the view
	out := make([][]float32, rows)
	for i := range out {
		out[i] = make([]float32, cols)
		for j := range out[i] {
			near := image.Rect(j-around, i-around, j+around+1, i+around+1)
			out[i][j] = float32(min(down.Over(near), along.Over(near)))
		}
	}
	return out
}

// piledUp is the turn a and the spread b by which x + (a + b (x - L/2) / L) y, y
// from the middle band, gathers the edges of all bands most.
func piledUp(e [][]float32) [2]float64 {
	if len(e) == 0 {
		return [2]float64{}
	}
	l, n := len(e[0]), len(e)
	score := func(a, b float64) float64 {
		sum := make([]float32, l)
		for k, row := range e {
			y := (float64(k) + .5 - float64(n)/2) * bandHigh
			at := float32(a*y-b*y/2) + .5
			step := float32(1 + b*y/float64(l))
			for x := range sum {
				if i := int(at + step*float32(x)); i >= 0 && i < l && at+step*float32(x) >= 0 {
					sum[x] += row[i]
				}
			}
		}
		total := 0.0
		for _, s := range sum {
			total += float64(s) * float64(s)
		}
		return total
	}
	var best [2]float64
	most := 1.01 * score(0, 0)
	// From what two vanishing points leave open, .04 in a pencil's turn and .06 in its spread, to a pixel over the view.
	for _, r := range []struct {
		a, b   float64
		na, nb int
	}{{.006, .03, 7, 2}, {.002, .01, 3, 3}, {.0007, .004, 2, 2}} {
		mid := best
		tries := (2*r.na + 1) * (2*r.nb + 1)
		scores := make([]float64, tries)
		at := func(k int) [2]float64 {
			return [2]float64{mid[0] + float64(k%(2*r.na+1)-r.na)*r.a, mid[1] + float64(k/(2*r.na+1)-r.nb)*r.b}
		}
		photo.Bands(tries, 1, func(k0, k1 int) {
			for k := k0; k < k1; k++ {
				c := at(k)
				scores[k] = score(c[0], c[1])
			}
		})
		for k, s := range scores {
			if s > most {
				most, best = s, at(k)
			}
		}
	}
	return best
}

// moved is the view with its two pencils turned and spread, see piledUp.
func (v *view) moved(fit [2][2]float64) (*view, bool) {
	w, h := float64(v.w), float64(v.h)
	var from, to [4]Point
	for k, c := range [4]Point{{0, 0}, {w, 0}, {w, h}, {0, h}} {
		a := fit[0][0] + fit[0][1]*(c[0]-w/2)/w
		b := fit[1][0] + fit[1][1]*(c[1]-h/2)/h
		// x = X + a (y - h/2) and y = Y + b (x - w/2)
		x := (c[0] + a*(c[1]-h/2-b*w/2)) / (1 - a*b)
		from[k], to[k] = Point{x, c[1] + b*(x-w/2)}, c
	}
	m, ok := Through(from, to)
	return &view{to: m.After(v.to), w: v.w, h: v.h, turn: v.turn}, ok && !math.IsNaN(m[0])
}

// flatten is the picture in the view.
func (v *view) flatten(t *tones) (*flattened, bool) {
	back, ok := v.to.Inverse()
	if !ok {
		return nil, false
	}
	return resample(t, v.w, v.h, back.Map), true
}
