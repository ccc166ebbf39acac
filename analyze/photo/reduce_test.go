package photo

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"runtime"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"greige/colorspace"
)

// slowReduce is the reduction written out: every pixel by way of image.At,
// each box in floating point.
func slowReduce(m image.Image, k int) (pix [][3]float64, dark, bright []float64) {
	b := m.Bounds()
	for y := b.Min.Y; y < b.Max.Y; y += k {
		for x := b.Min.X; x < b.Max.X; x += k {
			var sum [3]float64
			var n, nd, nb float64
			for v := y; v < min(y+k, b.Max.Y); v++ {
				for u := x; u < min(x+k, b.Max.X); u++ {
					c := straight(m.At(u, v))
					codes := [3]uint16{c.R, c.G, c.B}
					if _, ok := m.(*image.YCbCr); ok {
						// Go hands out more than 8 bits, made with factors
						// that are rounded down: take JFIF's own.
						y := m.At(u, v).(color.YCbCr)
						codes = jfifCodes(y.Y, y.Cb, y.Cr)
					}
					for i, code := range codes {
						sum[i] += colorspace.DecodeSRGB(float64(code) / 65535)
					}
					n++
					if min(codes[0], codes[1], codes[2]) < 128 {
						nd++
					}
					if max(codes[0], codes[1], codes[2]) > 65535-129 {
						nb++
					}
				}
			}
			pix = append(pix, [3]float64{sum[0] / n, sum[1] / n, sum[2] / n})
			dark, bright = append(dark, nd/n), append(bright, nb/n)
		}
	}
	return pix, dark, bright
}

// jfifCodes is ITU-T T.871, clause 7, in floating point, rounded to 8 bits and
// written in 16.
func jfifCodes(y, cb, cr uint8) [3]uint16 {
	u, v := float64(cb)-128, float64(cr)-128
	var out [3]uint16
	for i, c := range []float64{float64(y) + 1.402*v, float64(y) - .344136286*u - .714136286*v, float64(y) + 1.772*u} {
		out[i] = uint16(math.Round(min(max(c, 0), 255))) * 257
	}
	return out
}

// requireSame compares a reduced picture with the slow way. The fast ways sum
// in whole numbers of 2^-24; codes that lie within a hair of a half may round
// to either side, which a few pixels show.
func requireSame(t *testing.T, m image.Image, p *Picture, k int) {
	t.Helper()
	pix, dark, bright := slowReduce(m, k)
	require.Len(t, p.Pix, 3*len(pix))
	off := 0
	for i, want := range pix {
		for c := range 3 {
			if math.Abs(float64(p.Pix[3*i+c])-want[c]) > 1e-6 {
				off++
				require.InDelta(t, want[c], p.Pix[3*i+c], .01, "pixel %d", i)
			}
		}
		d, b := 0.0, 0.0
		if p.Dark != nil {
			d = float64(p.Dark[i]) / 255
		}
		if p.Bright != nil {
			b = float64(p.Bright[i]) / 255
		}
		require.InDelta(t, dark[i], d, .003, "dark of %d", i)
		require.InDelta(t, bright[i], b, .003, "bright of %d", i)
	}
	require.LessOrEqual(t, off, len(pix)/100)
}

var subsamplings = []image.YCbCrSubsampleRatio{
	image.YCbCrSubsampleRatio444, image.YCbCrSubsampleRatio422, image.YCbCrSubsampleRatio420,
	image.YCbCrSubsampleRatio440, image.YCbCrSubsampleRatio411, image.YCbCrSubsampleRatio410,
}

// TestReduceKinds: every kind of picture that a decoder gives, odd sizes, and
// boxes that do and do not fit agree with the slow way.
func TestReduceKinds(t *testing.T) {
	for _, size := range []image.Point{{1, 1}, {2, 2}, {7, 5}, {16, 12}, {33, 18}, {64, 1}, {1, 40}} {
		r := image.Rectangle{Max: size}
		src := noisy(size.X, size.Y)
		var kinds []image.Image
		for _, s := range subsamplings {
			m := image.NewYCbCr(r, s)
			copyCodes := func(dst []byte, c int) {
				for i := range dst {
					dst[i] = src.Pix[(4*i+c)%len(src.Pix)]
				}
			}
			copyCodes(m.Y, 0)
			copyCodes(m.Cb, 1)
			copyCodes(m.Cr, 2)
			kinds = append(kinds, m)
		}
		rgba, grey, grey16 := image.NewRGBA(r), image.NewGray(r), image.NewGray16(r)
		rgba64, nrgba64 := image.NewRGBA64(r), image.NewNRGBA64(r)
		paletted := image.NewPaletted(r, color.Palette{color.Black, color.White, quarters[0], quarters[1], color.Gray16{Y: 1000}})
		for y := range size.Y {
			for x := range size.X {
				c := src.NRGBAAt(x, y)
				rgba.Set(x, y, c)
				grey.SetGray(x, y, color.Gray{Y: c.B})
				wide := color.NRGBA64{R: uint16(c.R)<<8 | uint16(c.B), G: uint16(c.G)<<8 | uint16(c.R), B: uint16(c.B)<<8 | uint16(c.G), A: 65535}
				grey16.SetGray16(x, y, color.Gray16{Y: wide.R})
				rgba64.Set(x, y, wide)
				nrgba64.SetNRGBA64(x, y, wide)
				paletted.SetColorIndex(x, y, c.B%5)
			}
		}
		kinds = append(kinds, rgba, src, grey, grey16, rgba64, nrgba64, paletted)
		for _, m := range kinds {
			for _, k := range []int{1, 2, 3, 4, 7} {
				t.Run(fmt.Sprintf("%T%v/%d", m, size, k), func(t *testing.T) {
					h := &header{width: size.X, height: size.Y, coding: jfif}
					p, err := reduce(m, h, srgbSpace(), k)
					require.NoError(t, err)
					require.Equal(t, (size.X+k-1)/k, p.W)
					require.Equal(t, (size.Y+k-1)/k, p.H)
					requireSame(t, m, p, k)
				})
			}
		}
	}
}

// TestReduceJPEGFiles: files of each subsampling and of odd sizes, through
// the decoder, agree with the slow way on what the decoder gives.
func TestReduceJPEGFiles(t *testing.T) {
	for _, size := range []image.Point{{1, 1}, {15, 9}, {16, 16}, {101, 67}} {
		data := jpegBytes(t, noisy(size.X, size.Y), 90)
		m, err := jpeg.Decode(bytes.NewReader(data))
		require.NoError(t, err)
		p := decodeBytes(t, data)
		require.Equal(t, "JPEG", p.Format)
		requireSame(t, m, p.Picture, 1)
	}
	for _, name := range []string{"progressive.jpg", "rgb.jpg"} {
		m, err := jpeg.Decode(bytes.NewReader(fixture(t, name)))
		require.NoError(t, err)
		requireSame(t, m, decodeBytes(t, fixture(t, name)).Picture, 1)
	}
}

// TestReduceSubImage: a picture cut out of a larger one, also where its first
// chroma sample is a part of one.
func TestReduceSubImage(t *testing.T) {
	for _, s := range subsamplings {
		m := image.NewYCbCr(image.Rect(0, 0, 40, 30), s)
		for i := range m.Y {
			m.Y[i] = uint8(i * 37)
		}
		for i := range m.Cb {
			m.Cb[i], m.Cr[i] = uint8(i*11), uint8(i*29)
		}
		for _, r := range []image.Rectangle{image.Rect(4, 4, 30, 20), image.Rect(3, 5, 30, 20), image.Rect(2, 1, 21, 28)} {
			sub := m.SubImage(r)
			p, err := reduce(sub, &header{width: r.Dx(), height: r.Dy(), coding: jfif}, srgbSpace(), 2)
			require.NoError(t, err)
			requireSame(t, sub, p, 2)
		}
	}
}

// TestReduceIsDeterministic: the same bytes whatever the number of processors.
func TestReduceIsDeterministic(t *testing.T) {
	data := jpegBytes(t, noisy(403, 301), 90)
	want := decodeBytes(t, data)
	for _, n := range []int{1, 2, 8} {
		old := runtime.GOMAXPROCS(n)
		got := decodeBytes(t, data)
		runtime.GOMAXPROCS(old)
		require.Equal(t, want, got, "%d processors", n)
	}
}

// TestMurrayDavies: a fine check of black and white reflects half the light of
// white (Murray 1936, R = a R_ink + (1-a) R_ground), Y = .5, L* = 76.07,
// whether the averaging is ours or the eye's.
func TestMurrayDavies(t *testing.T) {
	const w, h = 2400, 1900 // 4.6 megapixels: boxes of 2
	m := image.NewGray(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			if (x+y)%2 == 0 {
				m.Pix[y*m.Stride+x] = 255
			}
		}
	}
	p := decodeBytes(t, jpegBytes(t, m, 100))
	require.Equal(t, 2, p.Reduction)
	var y float64
	for i, v := range p.Picture.Pix {
		require.InDelta(t, .5, v, .006, "component %d", i)
		y += float64(v)
	}
	y /= float64(len(p.Picture.Pix))
	require.InDelta(t, .5, y, .006)
	require.InDelta(t, 76.07, colorspace.Lightness(y), .5)
	// And left for others to average, at full size.
	small := image.NewRGBA(image.Rect(0, 0, 200, 160))
	for i := range small.Pix {
		small.Pix[i] = m.Pix[i/4/200*m.Stride+i/4%200]
		if i%4 == 3 {
			small.Pix[i] = 255
		}
	}
	q := decodeBytes(t, jpegBytes(t, small, 95)).Picture.Resample(1, 1)
	require.InDelta(t, .5, q.At(0, 0).Y(), .006)
}

// TestReductionFor: k = round(sqrt(megapixels / 2)), at least 1; for pieces
// 1000 pixels are left along the longer side, for a cloth 330, and it is even.
func TestReductionFor(t *testing.T) {
	for _, c := range []struct{ w, h, k int }{
		{1, 1, 1}, {640, 480, 1}, {1920, 1080, 1}, {2600, 1950, 2}, {4000, 3000, 2}, {4032, 3024, 2},
		{5712, 4284, 3}, {8064, 6048, 5}, {12000, 8000, 7}, {60000, 1, 1},
	} {
		require.Equal(t, c.k, reductionFor(c.w, c.h, ForPatches), "%d x %d", c.w, c.h)
	}
	for _, c := range []struct{ w, h, k int }{
		{1, 1, 1}, {1999, 1900, 1}, {2000, 1500, 2}, {3024, 4032, 4}, {4000, 3000, 4}, {8064, 6048, 8},
	} {
		k := reductionFor(c.w, c.h, ForPieces)
		require.Equal(t, c.k, k, "%d x %d", c.w, c.h)
		require.True(t, k == 1 || max(c.w, c.h)/k >= 1000 && max(c.w, c.h)/k < 2000)
	}
	for _, c := range []struct{ w, h, k int }{
		{1, 1, 1}, {640, 480, 1}, {659, 659, 1}, {660, 500, 2}, {2448, 3264, 8}, {3400, 3400, 8}, {4032, 3024, 12}, {8064, 6048, 24},
	} {
		k := reductionFor(c.w, c.h, ForOneCloth)
		require.Equal(t, c.k, k, "%d x %d", c.w, c.h)
		require.True(t, k == 1 || max(c.w, c.h)/k >= 330)
	}
}

// TestCuts: boxes cover a side once, and the odd one is the last of the
// upright picture.
func TestCuts(t *testing.T) {
	require.Equal(t, []int{0, 3, 6, 7}, cuts(7, 3, false))
	require.Equal(t, []int{0, 1, 4, 7}, cuts(7, 3, true))
	require.Equal(t, []int{0, 3, 6}, cuts(6, 3, true))
	require.Equal(t, []int{0, 1}, cuts(1, 3, false))
	require.Equal(t, []int{0, 1}, cuts(1, 3, true))
}

// A coarse picture takes a half or a quarter of the pixels for all of them. A plain picture
// loses nothing by that, ends of the scale included, and squares that lie as
// on a chessboard, with which every regular choice keeps time, stay the mean
// of both colours.
func TestReduceBySomeOfThePixels(t *testing.T) {
	const side, k = 512, 8
	m := image.NewYCbCr(image.Rect(0, 0, side, side), image.YCbCrSubsampleRatio420)
	reduced := func(detail Detail, luma func(x, y int) uint8) *Picture {
		for i := range m.Y {
			m.Y[i] = luma(i%side/2, i/side/2)
		}
		for i := range m.Cb {
			m.Cb[i], m.Cr[i] = 128, 128
		}
		p, err := reduce(m, &header{width: side, height: side, coding: jfif, detail: detail}, srgbSpace(), k)
		require.NoError(t, err)
		return p
	}
	for _, code := range []uint8{0, 97, 255} {
		plain := func(int, int) uint8 { return code }
		require.Equal(t, reduced(ForPatches, plain), reduced(ForPieces, plain))
		require.Equal(t, reduced(ForPatches, plain), reduced(ForOneCloth, plain))
	}
	mean := func(p *Picture) (sum float64) {
		for _, v := range p.Pix {
			sum += float64(v) / float64(len(p.Pix))
		}
		return sum
	}
	for _, squares := range []int{1, 3} {
		board := func(x, y int) uint8 { return []uint8{40, 230}[(x/squares+y/squares)&1] }
		all := reduced(ForPatches, board)
		for _, detail := range []Detail{ForPieces, ForOneCloth} {
			some := reduced(detail, board)
			require.False(t, slices.Equal(all.Pix, some.Pix))
			require.InEpsilon(t, mean(all), mean(some), .02, "squares of %d", squares)
		}
	}

	// Sides that no box divides, from either end.
	for _, size := range []image.Point{{61, 13}, {64, 61}, {97, 50}} {
		for o := orientation(1); o <= 8; o++ {
			m := image.NewYCbCr(image.Rectangle{Max: size}, image.YCbCrSubsampleRatio420)
			for i := range m.Y {
				m.Y[i] = 150
			}
			for i := range m.Cb {
				m.Cb[i], m.Cr[i] = 90, 170
			}
			h := &header{width: size.X, height: size.Y, coding: jfif, orientation: o}
			all, err := reduce(m, h, srgbSpace(), 12)
			require.NoError(t, err)
			for _, detail := range []Detail{ForPieces, ForOneCloth} {
				h.detail = detail
				some, err := reduce(m, h, srgbSpace(), 12)
				require.NoError(t, err)
				require.Equal(t, all, some)
			}
		}
	}
}
