package layout

// fieldTerms is the number of terms of a surface of second order over a top: x, y, xy,
// x^2, y^2.
const fieldTerms = 5

// fieldAt is the surface's terms at a patch, x and y from -1 to 1 over the top.
func (t *top) fieldAt(i int) [fieldTerms]float64 {
	x := 2*float64(t.patches[i].Col-1)/float64(max(t.cols-1, 1)) - 1
	y := 2*float64(t.patches[i].Row-1)/float64(max(t.rows-1, 1)) - 1
	return [fieldTerms]float64{x, y, x * y, x * x, y * y}
}
