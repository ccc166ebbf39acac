package grid

// What the tests of the package from without see of its plane geometry.

type Homography = homography

// Through is the one homography that takes four points to four others, scaled
// so that its last element is 1, by the two that grids are made of. It is false where
// three of either four lie on a line, so that there is none. Method: Heckbert 1989, Fundamentals of
// Texture Mapping and Image Warping, section 2.2.3 (square to quadrilateral in
// closed form, twice).
func Through(from, to [4]Point) (homography, bool) {
	a, okA := quadFromSquare(from).Inverse()
	b := quadFromSquare(to)
	_, okB := b.Inverse()
	if !okA || !okB {
		return identity, false
	}
	h := b.After(a)
	last := h[8]
	for i := range h {
		h[i] /= last
	}
	return h, last != 0
}
