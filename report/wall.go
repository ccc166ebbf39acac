package report

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"greige/analyze"
	"greige/analyze/fit"
	"greige/analyze/layout"
	"greige/analyze/raster"
)

// wallView is the photo itself with the patches that were found in it, so that
// she can see whether the finding is right.
type wallView struct {
	Photo *sightView
	Says  string // how many rows and columns, and how sure
	Flags string // the same as flags, to copy
	How   []diagram
}

// wall shows where the patches were found. nil when the photo was not kept.
func wall(r *analyze.Result) *wallView {
	s := sightOf(r, analyze.WallSight)
	if s == nil {
		return nil
	}
	l := r.Layout
	p := picture(s, "The photo with the outlines of the patches that were found: "+plural(l.Rows, "row", "rows")+" of "+plural(l.Cols, "patch", "patches")+".", valueCuts{}, 0)
	if p == nil {
		return nil
	}
	p.ID, p.Caption = "layout-wall", fileName(s.Photo)
	var path strings.Builder
	for _, m := range s.Marks {
		path.WriteString(closed(thousand(m.Outline)))
	}
	p.line("found", "", path.String())
	p.counted(outlines(s), l)
	v := &wallView{Photo: p, Says: gridSays(l), Flags: gridFlags(l)}
	if l.Setting == layout.OnPoint {
		v.How = howCounted(newPlot(l, s))
	}
	return v
}

// gridSays is what was found, with how sure it is.
func gridSays(l *layout.Layout) string {
	what := plural(l.Rows, "row", "rows") + " of " + plural(l.Cols, "patch", "patches")
	if l.Setting == layout.OnPoint {
		what = "set on point, " + plural(l.Rows, "row", "rows") + " and " + plural(l.Cols, "column", "columns") + " that run aslant"
	}
	if l.GridFound && l.Setting == layout.OnPoint {
		return "Found: " + what + ". The numbers beside it are those of the rows."
	}
	if l.GridFound {
		return "Found: " + what + "."
	}
	return "Taken to be " + what + ", but that is not sure. See whether each line lies on a seam."
}

// gridFlags is what was found as flags of the layout command, ready to copy.
func gridFlags(l *layout.Layout) string {
	s := fmt.Sprintf("--rows %d --cols %d", l.Rows, l.Cols)
	if l.Setting == layout.OnPoint {
		s += " --setting on-point"
	}
	if len(l.Corners) == 4 {
		var c []string
		for _, p := range l.Corners {
			c = append(c, figure(p[0], 0)+","+figure(p[1], 0))
		}
		s += ` --corners "` + strings.Join(c, " ") + `"`
	}
	return s
}

// counted numbers the rows and the columns just outside their first patches, and
// on point the rows only.
func (v *sightView) counted(at map[string][][2]float64, l *layout.Layout) {
	heads := [2]map[int][2]layout.Cell{{}, {}} // by row and by column: the first two patches
	for _, p := range l.Patches {
		c := layout.Cell{p.Row, p.Col}
		if len(at[cellID(c)]) < 3 {
			continue
		}
		for k := range 2 {
			h, ok := heads[k][c[k]]
			switch {
			case !ok:
				h = [2]layout.Cell{c, c}
			case c[1-k] < h[0][1-k]:
				h = [2]layout.Cell{c, h[0]}
			case h[1] == h[0] || c[1-k] < h[1][1-k]:
				h[1] = c
			}
			heads[k][c[k]] = h
		}
	}
	for k, n := range []int{l.Rows, l.Cols} {
		if k == 1 && l.Setting == layout.OnPoint {
			break // both begin at the left edge: the numbers would mix
		}
		for i := 1; i <= n; i++ {
			h, ok := heads[k][i]
			if !ok || !labelled(i, n) {
				continue
			}
			a, b := centroid(at[cellID(h[0])]), centroid(at[cellID(h[1])])
			if h[0] == h[1] { // one patch only: its own side
				lo, _ := raster.Extremes(at[cellID(h[0])])
				b = a
				b[k] += a[k] - lo[k]
				b[1-k] += a[1-k] - lo[1-k]
				b[k] = a[k]
			}
			out := [2]float64{a[0] - .62*(b[0]-a[0]), a[1] - .62*(b[1]-a[1])}
			for j := range out {
				out[j] = min(max(out[j], .015), .985)
			}
			v.Discs = append(v.Discs, disc{X: percentOf(out[0]), Y: percentOf(out[1]), Text: fmt.Sprint(i), W: labelWidth(fmt.Sprint(i), discHeight)})
		}
	}
}

// labelled: so many rows have a number each, more of them every second, every
// fifth or every tenth and the ends: as many as there is room for beside a
// photo 700 pixels wide.
func labelled(i, n int) bool {
	const room = 18
	for _, every := range []int{1, 2, 5, 10} {
		if n/every <= room {
			return i == 1 || i == n || i%every == 0 && n-i >= every
		}
	}
	return i == 1 || i == n
}

// howCounted draws how the rows and the columns of a top on point are counted.
func howCounted(d plot) []diagram {
	draw := func(k int, caption string) diagram {
		first := map[int]layout.Cell{}
		for _, p := range d.l.Patches {
			c := layout.Cell{p.Row, p.Col}
			if f, ok := first[c[k]]; !ok || c[1-k] < f[1-k] {
				first[c[k]] = c
			}
		}
		return d.patches(caption, caption, func(p *layout.Patch, o [][2]float64) diagramCell {
			c := layout.Cell{p.Row, p.Col}
			cell := diagramCell{Class: "cell", Fill: roleGrey(layout.Light)}
			if c[k]%2 == 0 {
				cell.Fill = roleGrey(layout.Medium)
			}
			if first[c[k]] == c && labelled(c[k], [2]int{d.l.Rows, d.l.Cols}[k]) {
				cell = d.text(cell, fmt.Sprint(c[k]), o)
			}
			return cell
		})
	}
	return []diagram{
		draw(0, "The rows: each runs from the left or the bottom edge up to the right. Row 1 is in the top left corner."),
		draw(1, "The patches of a row are counted by these: each runs down to the right. Number 1 is in the bottom left corner."),
	}
}

// shade is how a top without a repeat runs from light to dark, in words; ""
// where it does not: under half of what its lightnesses vary follows a slope
// over the top.
func shade(l *layout.Layout) string {
	w := place{l}
	var x, y, v []float64
	for _, p := range l.Patches {
		if px, py, ok := w.middle(layout.Cell{p.Row, p.Col}); ok {
			x, y, v = append(x, px), append(y, py), append(v, p.Lightness)
		}
	}
	if len(v) < 9 {
		return ""
	}
	slope := fit.NewNormal(3)
	for i := range v {
		slope.Add([]float64{x[i], y[i], 1}, v[i], 1)
	}
	c, err := slope.Solve(nil)
	if err != nil {
		return ""
	}
	left, all, m := 0., 0., mean(v)
	for i := range v {
		off := v[i] - c[0]*x[i] - c[1]*y[i] - c[2]
		left, all = left+off*off, all+(v[i]-m)*(v[i]-m)
	}
	if !(left < all/2) {
		return ""
	}
	a, b := c[0], c[1] // L* across and down
	// A slope counts across or down where it is a third or more of the other.
	words := [2][2]string{{"top", "bottom"}, {"left", "right"}}
	var from, to []string
	for k, s := range []float64{b, a} {
		if math.Abs(s) < math.Max(math.Abs(a), math.Abs(b))/3 {
			continue
		}
		ends := words[k]
		if s > 0 { // lighter downwards or to the right
			slices.Reverse(ends[:])
		}
		from, to = append(from, ends[0]), append(to, ends[1])
	}
	return "It shades from light at the " + strings.Join(from, " ") + " to dark at the " + strings.Join(to, " ") + "."
}

// wantedSays is what would cure a culprit that nothing at hand cures.
func wantedSays(w layout.Wanted) string {
	where := at(w.Patch)
	if w.Piece != "" {
		where = plain(w.Piece)
	}
	if w.Meant == layout.Dark {
		return Capital(where) + " wants a darker cloth than any at hand: of lightness " + figure(w.AtMost, 0) + " or less."
	}
	return Capital(where) + " wants a lighter cloth than any at hand: of lightness " + figure(w.AtLeast, 0) + " or more."
}

// sureWords is a chance as odds, in words; "" where there is none to tell of.
func sureWords(chance float64) string {
	chance = Finite(chance)
	switch {
	case chance <= 0:
		return ""
	case chance >= .95:
		return "as good as sure"
	case chance >= .75:
		return "likely, about " + inWords(int(math.Round(chance/(1-chance)))) + " to one"
	case chance >= .6:
		return "not sure, about " + inWords(int(math.Round(chance/(1-chance)))) + " to one"
	}
	return "not sure, it may as well be otherwise"
}

// doubtedFrom is the chance under which a lost seam's word is doubted where it
// is said: 4 to 1, as for a cloth's pile.
const doubtedFrom = .8
