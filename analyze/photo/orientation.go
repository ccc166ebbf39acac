package photo

// orientation is how the stored picture is turned to stand upright: one of
// the eight of EXIF (CIPA DC-008, tag 274). The zero value means 1.
type orientation uint8

// stored says where a pixel of the upright picture lies in the stored one,
// both counted from their middles: (u, v) = m (x, y). The rows follow the
// table of tag 274: "the 0th row is at the visual ...".
var stored = [9][2][2]int{
	0: {{1, 0}, {0, 1}},
	1: {{1, 0}, {0, 1}},
	2: {{-1, 0}, {0, 1}},  // mirrored left to right
	3: {{-1, 0}, {0, -1}}, // upside down
	4: {{1, 0}, {0, -1}},  // mirrored top to bottom
	5: {{0, 1}, {1, 0}},   // mirrored over the main diagonal
	6: {{0, 1}, {-1, 0}},  // to be turned a quarter clockwise
	7: {{0, -1}, {-1, 0}}, // mirrored over the other diagonal
	8: {{0, -1}, {1, 0}},  // to be turned a quarter counter-clockwise
}

// then is the orientation that does o first and p after it.
func (o orientation) then(p orientation) orientation {
	a, b := stored[o], stored[p]
	var m [2][2]int
	for i := range 2 {
		for j := range 2 {
			m[i][j] = a[i][0]*b[0][j] + a[i][1]*b[1][j]
		}
	}
	for i := 1; i <= 8; i++ {
		if stored[i] == m {
			return orientation(i)
		}
	}
	return 1 // not reached: the eight are a group
}

func (o orientation) swaps() bool { return stored[o][0][0] == 0 }

// size is the upright size of a stored picture of w x h.
func (o orientation) size(w, h int) (int, int) {
	if o.swaps() {
		return h, w
	}
	return w, h
}

// reversed reports, for the stored picture's columns and rows, whether they
// run against the upright axis that they lie along.
func (o orientation) reversed() (columns, rows bool) {
	m := stored[o]
	return m[0][0]+m[0][1] < 0, m[1][0]+m[1][1] < 0
}

// path tells where the pixels of a stored picture of w x h go in the upright
// one: the first at first, its neighbour to the right across further on, the
// one below it down further on.
func (o orientation) path(w, h int) (first, across, down int) {
	m := stored[o]
	uw, uh := o.size(w, h)
	// From stored to upright is the transpose of m.
	across = m[0][0] + m[0][1]*uw
	down = m[1][0] + m[1][1]*uw
	x, y := 0, 0
	if m[0][0]+m[1][0] < 0 {
		x = uw - 1
	}
	if m[0][1]+m[1][1] < 0 {
		y = uh - 1
	}
	return y*uw + x, across, down
}
