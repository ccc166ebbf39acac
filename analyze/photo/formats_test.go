package photo

import (
	"bytes"
	"encoding/binary"
	"image"
	"image/color"
	"image/png"
	"testing"

	"github.com/stretchr/testify/require"
	"golang.org/x/image/tiff"

	"greige/colorspace"
)

// TestFormats: the same four quarters out of every kind of file.
func TestFormats(t *testing.T) {
	quad := quartered(160, 120)
	opaque := image.NewRGBA(quad.Rect)
	wide := image.NewRGBA64(quad.Rect)
	palette := image.NewPaletted(quad.Rect, color.Palette{quarters[0], quarters[1], quarters[2], quarters[3]})
	for y := range 120 {
		for x := range 160 {
			opaque.Set(x, y, quad.At(x, y))
			wide.Set(x, y, quad.At(x, y))
			palette.Set(x, y, quad.At(x, y))
		}
	}
	tiffOf := func(m image.Image, c tiff.CompressionType, predictor bool) []byte {
		var b bytes.Buffer
		require.NoError(t, tiff.Encode(&b, m, &tiff.Options{Compression: c, Predictor: predictor}))
		return b.Bytes()
	}
	for _, c := range []struct {
		name, format string
		data         []byte
		bits         int
	}{
		{"JPEG", "JPEG", jpegBytes(t, quad, 95), 8},
		{"JPEG, progressive, 4:2:0", "JPEG", fixture(t, "progressive.jpg"), 8},
		{"JPEG of R, G and B", "JPEG", fixture(t, "rgb.jpg"), 8},
		{"PNG with alpha, none used", "PNG", pngBytes(t, quad), 8},
		{"PNG", "PNG", pngBytes(t, opaque), 8},
		{"PNG of 16 bits", "PNG", pngBytes(t, wide), 16},
		{"PNG with a palette", "PNG", pngBytes(t, palette), 8},
		{"TIFF", "TIFF", tiffOf(opaque, tiff.Uncompressed, false), 8},
		{"TIFF, deflate, predictor", "TIFF", tiffOf(quad, tiff.Deflate, true), 8},
		{"TIFF of 16 bits", "TIFF", tiffOf(wide, tiff.Deflate, false), 16},
		{"TIFF with a palette", "TIFF", tiffOf(palette, tiff.Uncompressed, false), 8},
		{"WebP", "WebP", fixture(t, "lossy.webp"), 8},
		{"WebP, lossless", "WebP", fixture(t, "lossless.webp"), 8},
		{"HEIC", "HEIC", fixture(t, "plain.heic"), 8},
		{"HEIC 4:2:2", "HEIC", fixture(t, "full422.heic"), 8},
		{"HEIC 4:4:4", "HEIC", fixture(t, "full444.heic"), 8},
		{"HEIC of 10 bits", "HEIC", fixture(t, "ten.heic"), 10},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := decodeBytes(t, c.data)
			require.Equal(t, c.format, p.Format)
			require.Equal(t, []int{160, 120, 1, 160, 120}, []int{p.Width, p.Height, p.Reduction, p.Picture.W, p.Picture.H})
			require.Empty(t, p.Notes)
			require.Nil(t, p.Picture.Dark)
			require.Nil(t, p.Picture.Bright)
			requireQuarters(t, p.Picture, quarters)
		})
	}
}

// TestVideoRange: WebP's luma runs from 16 to 235. Taken for 0..255, its white
// would be grey: the quarters above would miss by ten L* and more. Here the
// ends.
func TestVideoRange(t *testing.T) {
	a := newYCbCrAdder(image.NewYCbCr(image.Rect(0, 0, 2, 2), image.YCbCrSubsampleRatio420), video601, srgbSpace(), 4)
	light := func(y, cb, cr uint8) colorspace.Linear {
		a.m.Y = bytes.Repeat([]byte{y}, 4)
		a.m.Cb, a.m.Cr = []byte{cb}, []byte{cr}
		s := make([]sum, 1)
		a.add(0, 2, []int{0, 2}, s)
		return colorspace.Linear{float64(s[0].r) / (4 * one), float64(s[0].g) / (4 * one), float64(s[0].b) / (4 * one)}
	}
	require.Equal(t, colorspace.Linear{}, light(16, 128, 128))
	for _, v := range light(235, 128, 128) {
		require.InDelta(t, 1, v, 1e-6)
	}
	// ITU-R BT.601-7, table 3: 100 % red is Y 81.5, Cb 90.2, Cr 240.
	red := light(82, 90, 240)
	require.InDelta(t, 1, red[0], .02)
	require.InDelta(t, 0, red[1], .003)
	require.InDelta(t, 0, red[2], .003)
}

// TestDirectCoding: matrix 0 of H.273 stores green, blue and red as they are.
func TestDirectCoding(t *testing.T) {
	m := image.NewYCbCr(image.Rect(0, 0, 1, 1), image.YCbCrSubsampleRatio444)
	m.Y[0], m.Cb[0], m.Cr[0] = 150, 80, 70
	c, ok := codingFor(0, true)
	require.True(t, ok)
	p, err := reduce(m, &header{width: 1, height: 1, coding: c}, srgbSpace(), 1)
	require.NoError(t, err)
	requireLab(t, linearOf(color.NRGBA{70, 150, 80, 255}).Lab(), p.At(0, 0), 1e-3)
	_, ok = codingFor(99, true)
	require.False(t, ok)
}

// TestGrey: a grey file is grey to the last digit.
func TestGrey(t *testing.T) {
	m := image.NewGray(image.Rect(0, 0, 128, 96))
	for i := range m.Pix {
		m.Pix[i] = uint8(i % 128 * 2)
	}
	wide := image.NewGray16(m.Rect)
	for y := range 96 {
		for x := range 128 {
			wide.Set(x, y, m.At(x, y))
		}
	}
	var tf bytes.Buffer
	require.NoError(t, tiff.Encode(&tf, wide, nil))
	for name, data := range map[string][]byte{
		"JPEG": jpegBytes(t, m, 100), "PNG": pngBytes(t, m), "PNG 16": pngBytes(t, wide), "TIFF 16": tf.Bytes(), "HEIC": fixture(t, "grey.heic"),
	} {
		p := decodeBytes(t, data).Picture
		for i := 0; i < len(p.Pix); i += 3 {
			require.Equal(t, p.Pix[i], p.Pix[i+1], name)
			require.Equal(t, p.Pix[i], p.Pix[i+2], name)
		}
		if name != "JPEG" && name != "HEIC" {
			require.InDelta(t, colorspace.DecodeSRGB(100.0/255), p.At(50, 40)[0], 1e-6, name)
		}
	}
	// 89 is what heif-convert (libheif 1.15) shows in the first quarter.
	p := decodeBytes(t, fixture(t, "grey.heic"))
	require.InDelta(t, colorspace.DecodeSRGB(89.0/255), p.Picture.At(40, 30)[1], .005)
}

// TestSixteenBits: codes between two of 8 bits are kept, and the ends are
// those that round to 0 or 255.
func TestSixteenBits(t *testing.T) {
	m := image.NewGray16(image.Rect(0, 0, 6, 1))
	for x, v := range []uint16{0, 128, 129, 30000, 65406, 65407} {
		m.SetGray16(x, 0, color.Gray16{Y: v})
	}
	p := decodeBytes(t, pngBytes(t, m)).Picture
	require.InDelta(t, colorspace.DecodeSRGB(30000.0/65535), p.At(3, 0)[0], 1e-7)
	require.Equal(t, []uint8{255, 255, 0, 0, 0, 0}, p.Dark)
	require.Equal(t, []uint8{0, 0, 0, 0, 0, 255}, p.Bright)
}

// TestAlpha: clear parts show white, count as the top of the scale and are
// said; half-clear ones mix in light, not in codes.
func TestAlpha(t *testing.T) {
	const note = "parts of the picture are clear; they were laid on white and are in no figure"
	m := image.NewNRGBA(image.Rect(0, 0, 4, 1))
	m.SetNRGBA(0, 0, color.NRGBA{100, 100, 100, 255})
	m.SetNRGBA(1, 0, color.NRGBA{9, 200, 0, 0})
	m.SetNRGBA(2, 0, color.NRGBA{100, 50, 20, 204})
	m.SetNRGBA(3, 0, color.NRGBA{100, 50, 20, 51})
	wide := image.NewNRGBA64(m.Rect)
	for x := range 4 {
		wide.Set(x, 0, straight(m.At(x, 0)))
	}
	var tf bytes.Buffer
	require.NoError(t, tiff.Encode(&tf, m, nil))
	for name, data := range map[string][]byte{"PNG": pngBytes(t, m), "PNG 16": pngBytes(t, wide), "TIFF": tf.Bytes()} {
		p := decodeBytes(t, data)
		require.Equal(t, []string{note}, p.Notes, name)
		require.InDelta(t, colorspace.DecodeSRGB(100.0/255), p.Picture.At(0, 0)[1], 1e-6, name)
		require.Equal(t, []float32{1, 1, 1}, p.Picture.Pix[3:6], name)
		for c, code := range []float64{100, 50, 20} {
			require.InDelta(t, .8*colorspace.DecodeSRGB(code/255)+.2, p.Picture.At(2, 0)[c], 1e-4, name)
			require.InDelta(t, .2*colorspace.DecodeSRGB(code/255)+.8, p.Picture.At(3, 0)[c], 1e-4, name)
		}
		require.Equal(t, []uint8{0, 255, 0, 255}, p.Picture.Bright, name)
		require.Nil(t, p.Picture.Dark, name)
	}
	// A palette's clear colour, and WebP's alpha beside lossy colours: the
	// last quarter of the file is clear.
	pal := image.NewPaletted(image.Rect(0, 0, 2, 1), color.Palette{quarters[1], color.NRGBA{}})
	pal.Pix[1] = 1
	p := decodeBytes(t, pngBytes(t, pal))
	require.Equal(t, []string{note}, p.Notes)
	require.Equal(t, []float32{1, 1, 1}, p.Picture.Pix[3:])
	p = decodeBytes(t, fixture(t, "alpha.webp"))
	require.Equal(t, []string{note}, p.Notes)
	requireQuarters(t, p.Picture, [4]color.NRGBA{quarters[0], quarters[1], quarters[2], {255, 255, 255, 255}})
	require.Equal(t, uint8(255), p.Picture.Bright[90*160+120])
	require.Zero(t, p.Picture.Bright[30*160+40])
	// White that is laid under is white in a wide space too.
	p3 := decodeBytes(t, pngProfile(t, pngBytes(t, m), rgbProfile(colorspace.DisplayP3, srgbCurveTag(), "")))
	require.InDelta(t, 1, p3.Picture.Pix[3], 1e-5)
	require.InDelta(t, 1, p3.Picture.Pix[5], 1e-5)
	// A PNG's key colour (tRNS) of a picture without alpha.
	grey := image.NewGray(image.Rect(0, 0, 2, 1))
	grey.Pix = []byte{77, 90}
	p = decodeBytes(t, pngWith(pngBytes(t, grey), "tRNS", []byte{0, 77}))
	require.Equal(t, []uint8{255, 0}, p.Picture.Bright)
}

// TestAnimated: of a PNG the first frame is measured, and said so; an animated WebP is
// refused by name.
func TestAnimated(t *testing.T) {
	p := decodeBytes(t, pngWith(pngBytes(t, quartered(64, 48)), "acTL", make([]byte, 8)))
	require.Equal(t, []string{"animated: the first frame was measured"}, p.Notes)
	requireQuarters(t, p.Picture, quarters)
	require.Equal(t, "this is an animated WebP picture, which is not read", reasonOf(t, fixture(t, "animated.webp")))
}

// TestWebPExtras: a profile and EXIF in WebP's own chunks.
func TestWebPExtras(t *testing.T) {
	file := fixture(t, "lossy.webp")
	chunk := func(name string, data []byte) []byte {
		b := binary.LittleEndian.AppendUint32([]byte(name), uint32(len(data)))
		b = append(b, data...)
		if len(data)%2 == 1 {
			b = append(b, 0)
		}
		return b
	}
	for _, prefix := range []string{"", "Exif\x00\x00"} {
		body := bytes.Join([][]byte{[]byte("WEBP"),
			chunk("VP8X", []byte{1<<5 | 1<<3, 0, 0, 0, 159, 0, 0, 119, 0, 0}),
			chunk("ICCP", rgbProfile(colorspace.DisplayP3, srgbCurveTag(), "P3")),
			file[12:],
			chunk("EXIF", append([]byte(prefix), orientationExif(6)...)),
		}, nil)
		p := decodeBytes(t, append(binary.LittleEndian.AppendUint32([]byte("RIFF"), uint32(len(body))), body...))
		require.Equal(t, []int{120, 160}, []int{p.Width, p.Height})
		want := colorspace.Linear(colorspace.DisplayP3.ToLinearSRGB().Apply(linearOf(quarters[0])))
		requireLab(t, want.Lab(), p.Picture.At(90, 40), 2) // its top left, turned a quarter clockwise
	}
}

// TestTIFFExtras: a TIFF's own profile, orientation and EXIF.
func TestTIFFExtras(t *testing.T) {
	profile := rgbProfile(colorspace.AdobeRGB, gammaTag(563), "x")
	const w, h = 12, 8
	pix := bytes.Repeat([]byte{204, 102, 51}, w*h)
	u32 := func(b []byte) (out []uint32) {
		for _, v := range b {
			out = append(out, uint32(v))
		}
		return out
	}
	for _, order := range []byteOrder{binary.LittleEndian, binary.BigEndian} {
		dir := []tiffField{
			{tag: tagWidth, typ: 3, values: []uint32{w}}, {tag: tagLength, typ: 4, values: []uint32{h}},
			{tag: tagBits, typ: 3, values: []uint32{8, 8, 8}}, {tag: tagCompression, typ: 3, values: []uint32{1}},
			{tag: 262, typ: 3, values: []uint32{2}}, {tag: 273, typ: 4, values: []uint32{0}},
			{tag: tagOrientation, typ: 3, values: []uint32{8}}, {tag: tagSamples, typ: 3, values: []uint32{3}},
			{tag: 279, typ: 4, values: []uint32{uint32(len(pix))}},
			{tag: tagProfile, typ: 7, values: u32(profile)},
		}
		links := []uint16{tagExif}
		exif := []tiffField{{tag: tagExposureTime, typ: 5, values: []uint32{1, 125}}}
		// The tags have to be in order: EXIF's own stands before the profile's.
		dir[9].tag, links[0] = tagProfile, tagExif
		b := tiffBytes(order, [][]tiffField{dir, exif}, links)
		swapEntries(b, order, 9, 10)
		at := 8 + 2 + 5*12 + 8
		order.PutUint32(b[at:], uint32(len(b)))
		p := decodeBytes(t, append(b, pix...))
		require.Equal(t, []int{h, w}, []int{p.Width, p.Height})
		require.InDelta(t, .008, p.Record.ExposureTime, 1e-9)
		require.Empty(t, p.Notes)
		requireLab(t, adobeCases[2].lab, p.Picture.At(3, 3), .02)
	}
}

// swapEntries exchanges two entries of a TIFF's first directory.
func swapEntries(b []byte, _ binary.ByteOrder, i, j int) {
	x, y := b[10+12*i:22+12*i], b[10+12*j:22+12*j]
	for k := range x {
		x[k], y[k] = y[k], x[k]
	}
}

// TestInterlaced: Go writes no interlaced PNG; a picture of one pixel needs
// but its first pass, so the flag alone makes one.
func TestInterlaced(t *testing.T) {
	file := pngBytes(t, image.NewGray(image.Rect(0, 0, 1, 1)))
	file[8+8+12] = 1
	binary.BigEndian.PutUint32(file[8+8+13:], crc(file[12:29]))
	_, err := png.Decode(bytes.NewReader(file))
	require.NoError(t, err)
	p := decodeBytes(t, file)
	require.Equal(t, []uint8{255}, p.Picture.Dark)
}
