package photo

import (
	"encoding/csv"
	"fmt"
	"image"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"
)

// side tells, for the word of the table, whether the visual side lies along
// columns (left, right) and whether it is the far one.
func side(t *testing.T, word string) (column, far bool) {
	switch word {
	case "top":
		return false, false
	case "bottom":
		return false, true
	case "left":
		return true, false
	case "right":
		return true, true
	}
	t.Fatalf("no side %q", word)
	return
}

// asStored turns an upright picture into the way in which it is stored,
// straight from the words of CIPA DC-008, tag 274: which visual side the
// stored row 0 and the stored column 0 are.
func asStored(t *testing.T, up *image.NRGBA, row0, col0 string) *image.NRGBA {
	rowIsColumn, rowFar := side(t, row0)
	colIsColumn, colFar := side(t, col0)
	require.NotEqual(t, rowIsColumn, colIsColumn)
	w, h := up.Rect.Dx(), up.Rect.Dy()
	sw, sh := w, h
	if rowIsColumn {
		sw, sh = h, w
	}
	m := image.NewNRGBA(image.Rect(0, 0, sw, sh))
	for v := range sh {
		for u := range sw {
			// Row v lies v pixels in from the visual side of row 0.
			r, c := v, u
			if rowFar {
				r = sh - 1 - v
			}
			if colFar {
				c = sw - 1 - u
			}
			x, y := c, r
			if rowIsColumn {
				x, y = r, c
			}
			m.SetNRGBA(u, v, up.NRGBAAt(x, y))
		}
	}
	return m
}

// TestOrientations: one picture, eight files, one answer. The table is CIPA
// DC-008 (EXIF 2.3), tag 274.
func TestOrientations(t *testing.T) {
	f, err := os.Open("testdata/exif_orientation.csv")
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	require.Len(t, rows, 9)
	up := noisy(47, 31)
	want := decodeBytes(t, pngBytes(t, up)).Picture
	quad := quartered(96, 64)
	for _, row := range rows[1:] {
		n, err := strconv.Atoi(row[0])
		require.NoError(t, err)
		stored := asStored(t, up, row[1], row[2])
		// A PNG holds the very codes; the answer is the very same.
		p := decodeBytes(t, pngWith(pngBytes(t, stored), "eXIf", orientationExif(n)))
		require.Equal(t, []int{47, 31}, []int{p.Width, p.Height}, "orientation %d", n)
		require.Equal(t, want, p.Picture, "orientation %d", n)
		// A JPEG, and a TIFF's own tag.
		q := asStored(t, quad, row[1], row[2])
		p = decodeBytes(t, jpegWith(jpegBytes(t, q, 95), markAPP1, asExif(orientationExif(n))))
		require.Equal(t, []int{96, 64}, []int{p.Width, p.Height})
		requireQuarters(t, p.Picture, quarters)
		// Boxes that do not fit: they begin at the upright picture's corner.
		for _, k := range []int{2, 3, 5} {
			h := &header{width: stored.Rect.Dx(), height: stored.Rect.Dy(), alpha: true, orientation: orientation(n)}
			got, err := reduce(stored, h, srgbSpace(), k)
			require.NoError(t, err)
			plain, err := reduce(up, &header{width: 47, height: 31, alpha: true}, srgbSpace(), k)
			require.NoError(t, err)
			require.Equal(t, plain, got, "orientation %d, boxes of %d", n, k)
		}
	}
}

// TestOrientationThen: doing one and then the other is the same as doing what
// then gives, for all 64 pairs.
func TestOrientationThen(t *testing.T) {
	turn := func(o orientation, m [][]int) [][]int {
		w, h := len(m[0]), len(m)
		uw, uh := o.size(w, h)
		out := make([][]int, uh)
		for y := range out {
			out[y] = make([]int, uw)
		}
		first, across, down := o.path(w, h)
		for j := range m {
			for i := range m[j] {
				at := first + i*across + j*down
				out[at/uw][at%uw] = m[j][i]
			}
		}
		return out
	}
	m := [][]int{{1, 2, 3}, {4, 5, 6}}
	seen := map[string]orientation{}
	for a := orientation(1); a <= 8; a++ {
		if b, twice := seen[fmt.Sprint(turn(a, m))]; twice {
			t.Errorf("%d and %d do the same", a, b)
		}
		seen[fmt.Sprint(turn(a, m))] = a
		for b := orientation(1); b <= 8; b++ {
			require.Equal(t, turn(b, turn(a, m)), turn(a.then(b), m), "%d then %d", a, b)
		}
	}
	require.Equal(t, m, turn(0, m), "no orientation")
}
