package photo

import (
	"image"
	"image/color"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"greige/colorspace"
)

// testPicture is noise with values below 0 and above 1.
func testPicture(w, h int) *Picture {
	p := New(w, h)
	seed := uint32(3)
	for i := range p.Pix {
		seed = seed*1664525 + 1013904223
		p.Pix[i] = float32(seed>>8)/(1<<24)*1.4 - .2
	}
	return p
}

// meanOf is the mean of a picture's components.
func meanOf(p *Picture) (m [3]float64) {
	for i, v := range p.Pix {
		m[i%3] += float64(v) / float64(p.W*p.H)
	}
	return m
}

// TestResample: areas, in linear light. Whole factors are plain means, other
// ones share pixels out, and no light is lost.
func TestResample(t *testing.T) {
	p := testPicture(12, 9)
	q := p.Resample(4, 3)
	for y := range 3 {
		for x := range 4 {
			for c := range 3 {
				var want float64
				for v := range 3 {
					for u := range 3 {
						want += p.At(3*x+u, 3*y+v)[c] / 9
					}
				}
				require.InDelta(t, want, q.At(x, y)[c], 1e-6)
			}
		}
	}
	// Three pixels to two: the middle one is shared.
	three := New(3, 1)
	copy(three.Pix, []float32{1, 1, 1, 0, 0, 0, .5, .5, .5})
	two := three.Resample(2, 1)
	require.InDelta(t, 2.0/3, two.At(0, 0)[0], 1e-6)
	require.InDelta(t, 1.0/3, two.At(1, 0)[0], 1e-6)
	for _, size := range []image.Point{{1, 1}, {2, 3}, {5, 7}, {11, 8}, {12, 9}} {
		got, want := meanOf(p.Resample(size.X, size.Y)), meanOf(p)
		for c := range 3 {
			require.InDelta(t, want[c], got[c], 1e-5, "%v", size)
		}
	}
	large := testPicture(173, 131)
	require.Equal(t, large.Pix, large.Resample(173, 131).Pix)
}

func TestAreas(t *testing.T) {
	for n := 1; n < 60; n++ {
		for m := 1; m <= n; m++ {
			var total float64
			for i, s := range areas(n, m) {
				var sum float64
				for _, w := range s.weight {
					sum += float64(w)
					require.GreaterOrEqual(t, w, float32(0))
				}
				require.InDelta(t, 1, sum, 1e-5, "%d of %d into %d", i, n, m)
				require.LessOrEqual(t, s.first+len(s.weight), n)
				total += sum
			}
			require.InDelta(t, m, total, 1e-4)
		}
	}
}

func TestWithin(t *testing.T) {
	p := testPicture(100, 40)
	require.Same(t, p, p.Within(100))
	require.Same(t, p, p.Within(0))
	q := p.Within(50)
	require.Equal(t, []int{50, 20}, []int{q.W, q.H})
	q = testPicture(3, 400).Within(50)
	require.Equal(t, []int{1, 50}, []int{q.W, q.H})
}

func TestCrop(t *testing.T) {
	p := testPicture(10, 8)
	p.Dark = make([]uint8, 80)
	p.Dark[3*10+4] = 7
	q := p.Crop(image.Rect(3, 2, 20, 5))
	require.Equal(t, []int{7, 3}, []int{q.W, q.H})
	for y := range 3 {
		for x := range 7 {
			require.Equal(t, p.At(3+x, 2+y), q.At(x, y))
		}
	}
	require.Equal(t, uint8(7), q.Dark[1*7+1])
	require.Nil(t, q.Bright)
	q.Pix[0] = 9
	require.NotEqual(t, float32(9), p.Pix[3*(2*10+3)]) // a copy
	require.Equal(t, 0, p.Crop(image.Rect(50, 50, 60, 60)).W)
}

// TestScreen: for the screen, clipped; grey from CIE Y: for the published
// sRGB red (01_srgb_xyz_lab.csv, Y .21264) that is 127, not 85.
func TestScreen(t *testing.T) {
	p := New(40, 70)
	copy(p.Pix, []float32{1, 0, 0, -.3, 2, float32(math.NaN()), .5, .5, .5})
	m := p.RGBA()
	require.Equal(t, color.RGBA{255, 0, 0, 255}, m.RGBAAt(0, 0))
	require.Equal(t, color.RGBA{0, 255, 0, 255}, m.RGBAAt(1, 0))
	require.Equal(t, color.RGBA{188, 188, 188, 255}, m.RGBAAt(2, 0))
	require.Equal(t, color.RGBA{0, 0, 0, 255}, m.RGBAAt(39, 69))
	g := p.Grey()
	require.Equal(t, uint8(127), g.GrayAt(0, 0).Y)
	require.Equal(t, uint8(188), g.GrayAt(2, 0).Y)
	require.Equal(t, uint8(math.Round(255*colorspace.EncodeSRGB(.2126390059))), g.GrayAt(0, 0).Y)
}
