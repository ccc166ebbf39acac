package plan

import (
	"fmt"
	"slices"

	"greige/analyze/layout"
)

// steps are the order of work, as a list to tick off.
func (t *top) steps(p *Plan) []string {
	r := t.in.Ruler
	out := []string{"Press the cloth, and take off the selvages."}
	if slices.ContainsFunc(p.Sheets, func(s Sheet) bool { return len(s.Scraps) > 0 }) {
		out = append(out, "Hand each scrap whole to the person on whose sheet it stands: she cuts it for all, and hands the patches on.")
	}
	if len(p.Scraps) > 0 {
		out = append(out, "Chalk the cuts on each scrap as they are drawn, and count the patches before the first cut.")
	} else {
		out = append(out, "Count the strips on the list before the first cut.")
	}
	if p.Strips {
		out = append(out,
			"Cut the strips of one set of each kind, sew them, press, and cut the segments of one block.",
			fmt.Sprintf("Sew one block and measure it: with its seam allowances it should be %s by %s. If it is not, your own seam is wider or narrower: put that right before you cut the rest.", r.Say(p.BlockW+2*p.Seam), r.Say(p.BlockH+2*p.Seam)),
			"Cut all the strips. Sew the strip sets, and press them.",
			"Cut the segments.",
			"Sew the segments to blocks, and press.")
	} else if len(t.blocks) > 0 {
		out = append(out,
			fmt.Sprintf("Cut the patches of one block, sew it and measure it: with its seam allowances it should be %s by %s. If it is not, your own seam is wider or narrower: put that right before you cut the rest.", r.Say(p.BlockW+2*p.Seam), r.Say(p.BlockH+2*p.Seam)),
			"Cut all the patches.",
			"Lay each block out, sew its rows, press them, and join the rows.")
	} else {
		out = append(out,
			fmt.Sprintf("Cut four patches, sew them together and measure: with its seam allowances it should be %s square. If it is not, your own seam is wider or narrower: put that right before you cut the rest.", r.Say(2*p.Patch+2*p.Seam)),
			"Cut all the patches, and lay them out as the top hangs, row by row.")
	}
	has := func(part Part) bool {
		return slices.ContainsFunc(p.CutList, func(c Cut) bool { return c.Part == part })
	}
	if has(Plain) {
		out = append(out, "Cut the plain squares, to the size of your blocks.")
	}
	if has(SideTri) || has(CornerTri) {
		out = append(out, "Cut the squares for the triangles across, and handle their short sides as little as you can.")
	}
	if t.in.People > 1 {
		out = append(out, "Bring the blocks together, and measure them against each other.")
	}
	out = append(out, "Lay all of it out as in the picture. Step back, half close your eyes, and look whether it reads.")
	switch {
	case p.Setting == layout.OnPoint && has(Sash):
		out = append(out, "Sew the diagonal rows, with a short strip of sashing before, between and behind the blocks, and press towards the strips.",
			"Sew a long strip to each row, on the side that looks away from the middle of the top; the longest row gets one on either side.",
			"Sew a triangle to either end of each row, over the end of its long strip. Where that strip belongs to the next row, leave the last bit of the seam, as wide as the strip, open until the rows are joined.",
			"Join the rows, and sew the corners on last.")
	case p.Setting == layout.OnPoint:
		out = append(out, "Sew the diagonal rows, with a triangle at either end, and press the rows to the left and to the right by turns.",
			"Join the rows, and sew the corners on last.")
	case has(Sash):
		out = append(out, "Sew the short strips of sashing between the blocks of each row, and press towards the sashing.",
			"Measure the rows, cut the long strips to the middle of these measures, and join rows and strips.")
	default:
		out = append(out, "Sew the rows, press them to the left and to the right by turns, and join them.")
	}
	if has(Border) {
		out = append(out, "Measure the top through the middle, cut the side borders to that length, and sew them on; then the same above and below.")
	}
	return append(out, "Join the binding strips with diagonal seams, fold the strip lengthwise, and sew it on when the top is quilted.")
}
