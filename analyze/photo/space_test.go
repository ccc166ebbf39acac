package photo

import (
	"bytes"
	"encoding/binary"
	"image"
	"image/color"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"greige/colorspace"
)

// flat is one colour of 16 bits a component.
func flat(r, g, b float64) *image.NRGBA64 {
	m := image.NewNRGBA64(image.Rect(0, 0, 8, 6))
	code := func(v float64) uint16 { return uint16(math.Round(v * 65535)) }
	for y := range 6 {
		for x := range 8 {
			m.SetNRGBA64(x, y, color.NRGBA64{code(r), code(g), code(b), 65535})
		}
	}
	return m
}

// pngProfile puts a profile into a PNG.
func pngProfile(t testing.TB, file, profile []byte) []byte {
	t.Helper()
	return pngWith(file, "iCCP", append([]byte("p\x00\x00"), deflate(t, profile)...))
}

// encodedCase is a colour of a table: encoded components, CIELAB under D65 and
// linear light from its sRGB column.
type encodedCase struct {
	code [3]float64
	lab  colorspace.Lab
	srgb [3]float64
}

// The figures of published/01_matrices.txt (colorjs.io 0.7.1 and culori 4.0.2
// agree on all of them).
var (
	p3Cases = []encodedCase{
		{[3]float64{1, 0, 0}, colorspace.Lab{L: 54.9666, A: 94.0925, B: 94.7699}, [3]float64{1.09307, -.22674, -.15013}},
		{[3]float64{0, 1, 0}, colorspace.Lab{L: 86.5901, A: -115.2805, B: 107.6780}, [3]float64{-.51160, 1.01827, -.31067}},
		{[3]float64{.5, .5, .5}, colorspace.Lab{L: 53.3890}, [3]float64{.5, .5, .5}},
		{[3]float64{.8, .4, .2}, colorspace.Lab{L: 55.3592, A: 45.8405, B: 56.2464}, [3]float64{.85957, .37040, .12343}},
		{[3]float64{.2, .6, .4}, colorspace.Lab{L: 55.9339, A: -54.3919, B: 20.0358}, [3]float64{-.19346, .61017, .38143}},
	}
	adobeCases = []encodedCase{
		{[3]float64{0, 1, 0}, colorspace.Lab{L: 83.3035, A: -137.9734, B: 90.8362}, [3]float64{-.66395, 1, -.22916}},
		{[3]float64{.5, .5, .5}, colorspace.Lab{L: 53.7880}, [3]float64{.50399, .50399, .50399}},
		{[3]float64{.8, .4, .2}, colorspace.Lab{L: 58.7740, A: 47.0799, B: 55.1076}, [3]float64{.90780, .40062, .17014}},
	}
)

// TestWideGamut: Display P3 and Adobe RGB by a profile come out as the
// published figures, unclipped. Tolerance: a profile rounds its numbers to
// 1/65536, which its darkest light feels most.
func TestWideGamut(t *testing.T) {
	p3 := rgbProfile(colorspace.DisplayP3, srgbCurveTag(), "Display P3")
	adobe := rgbProfile(colorspace.AdobeRGB, gammaTag(563), "Some camera's own name")
	for _, c := range []struct {
		profile []byte
		name    string
		cases   []encodedCase
	}{{p3, "Display P3", p3Cases}, {adobe, "Adobe RGB (1998)", adobeCases}} {
		for _, e := range c.cases {
			file := pngProfile(t, pngBytes(t, flat(e.code[0], e.code[1], e.code[2])), c.profile)
			p := decodeBytes(t, file)
			require.Empty(t, p.Notes)
			got := p.Picture.At(3, 2)
			requireLab(t, e.lab, got, .02, "%s %v", c.name, e.code)
			for i, v := range e.srgb {
				// Below 0 the published numbers mirror the curve.
				enc := math.Copysign(colorspace.EncodeSRGB(math.Abs(got[i])), got[i])
				require.InDelta(t, v, enc, 3e-4, "%s %v", c.name, e.code)
			}
		}
	}
}

// TestTwins: a Display P3 file and its sRGB twin measure the same, within what
// rounding to 8 bits does (half a code of either is at most .7 of a unit of
// CIELAB for codes above 30).
func TestTwins(t *testing.T) {
	toP3 := colorspace.DisplayP3.ToLinearSRGB().Inverse()
	src := image.NewNRGBA(image.Rect(0, 0, 24, 20))
	twin := image.NewNRGBA(src.Rect)
	for i := range 24 * 20 {
		c := color.NRGBA{uint8(40 + i*37%200), uint8(40 + i*71%200), uint8(40 + i*113%200), 255}
		src.SetNRGBA(i%24, i/24, c)
		l := linearOf(c)
		v := toP3.Apply(l)
		var code [3]uint8
		for k := range v {
			code[k] = uint8(math.Round(255 * colorspace.EncodeSRGB(min(max(v[k], 0), 1))))
		}
		twin.SetNRGBA(i%24, i/24, color.NRGBA{code[0], code[1], code[2], 255})
	}
	a := decodeBytes(t, pngBytes(t, src))
	b := decodeBytes(t, pngProfile(t, pngBytes(t, twin), rgbProfile(colorspace.DisplayP3, srgbCurveTag(), "P3")))
	for i := range 24 * 20 {
		requireLab(t, a.Picture.At(i%24, i/24).Lab(), b.Picture.At(i%24, i/24), .8, "pixel %d", i)
	}
	// A whole picture of them is closer by far, and the profile of sRGB
	// itself changes nothing that can be seen.
	requireLab(t, a.Picture.Resample(1, 1).At(0, 0).Lab(), b.Picture.Resample(1, 1).At(0, 0), .05)
	c := decodeBytes(t, pngProfile(t, pngBytes(t, src), rgbProfile(colorspace.SRGB, srgbCurveTag(), "x")))
	for i := range a.Picture.Pix {
		require.InDelta(t, a.Picture.Pix[i], c.Picture.Pix[i], 1e-4)
	}
}

// TestProfileInPieces: a JPEG carries a profile in several segments; one that
// is missing leaves the profile out, with a note.
func TestProfileInPieces(t *testing.T) {
	profile := rgbProfile(colorspace.DisplayP3, srgbCurveTag(), "Display P3")
	plain := jpegBytes(t, quartered(160, 120), 95)
	p := decodeBytes(t, jpegProfile(plain, profile, 200))
	require.Empty(t, p.Notes)
	want := colorspace.DisplayP3.ToLinearSRGB().Apply(linearOf(quarters[0]))
	requireLab(t, colorspace.Linear(want).Lab(), p.Picture.At(40, 30), 1)

	lost := jpegProfile(plain, profile, 200)
	i := bytes.Index(lost, []byte("ICC_PROFILE\x00\x02"))
	lost[i] = 'X'
	p = decodeBytes(t, lost)
	require.Equal(t, []string{brokenProfile}, p.Notes)
	requireQuarters(t, p.Picture, quarters)
}

// TestGreyProfile: a grey's curve is its own, as of a scanner with gamma 1.8.
func TestGreyProfile(t *testing.T) {
	profile := profileBytes("GRAY", "XYZ ", []string{"desc", "wtpt", "kTRC"}, map[string][]byte{
		"desc": nameTag("Grey 1.8"), "wtpt": xyzTag([3]float64{.9642, 1, .8249}), "kTRC": gammaTag(461), // 1.80078125
	})
	m := image.NewGray(image.Rect(0, 0, 256, 2))
	wide := image.NewGray16(m.Rect)
	for x := range 256 {
		for y := range 2 {
			m.SetGray(x, y, color.Gray{Y: uint8(x)})
			wide.SetGray16(x, y, color.Gray16{Y: uint16(x) * 257})
		}
	}
	for _, img := range []image.Image{m, wide} {
		p := decodeBytes(t, pngProfile(t, pngBytes(t, img), profile))
		require.Empty(t, p.Notes)
		for x := range 256 {
			want := math.Pow(float64(x)/255, 461.0/256)
			for c, v := range p.Picture.At(x, 1) {
				require.InDelta(t, want, v, 1e-6, "%T code %d component %d", img, x, c)
			}
		}
	}
	// The profile of three lights on a grey: r = g = b. That of a grey on a
	// picture in colour cannot be meant.
	p := decodeBytes(t, pngProfile(t, pngBytes(t, m), rgbProfile(colorspace.AdobeRGB, gammaTag(563), "")))
	require.InDelta(t, math.Pow(100.0/255, 563.0/256), p.Picture.At(100, 0).Y(), 1e-5)
	p = decodeBytes(t, pngProfile(t, pngBytes(t, quartered(32, 32)), profile))
	require.Len(t, p.Notes, 1)
	requireQuarters(t, p.Picture, quarters)
}

// lutTag is a table ('mft1', ICC.1:2022 10.11) with two grid points a channel:
// the CIELAB of every corner, the first channel the slowest.
func lutTag(in int, corners [][3]float64) []byte {
	b := []byte("mft1\x00\x00\x00\x00")
	b = append(b, byte(in), 3, 2, 0)
	for i := range 9 {
		if i%4 == 0 {
			b = append(b, 0, 1, 0, 0)
		} else {
			b = append(b, 0, 0, 0, 0)
		}
	}
	ramp := func() {
		for i := range 256 {
			b = append(b, byte(i))
		}
	}
	for range in {
		ramp()
	}
	for _, c := range corners {
		b = append(b, byte(math.Round(c[0]*2.55)), byte(math.Round(c[1]+128)), byte(math.Round(c[2]+128)))
	}
	for range 3 {
		ramp()
	}
	return b
}

// rgbTable is a made-up scanner: colours that no three lights add up to.
func rgbTable() []byte {
	corners := [][3]float64{{4, 0, 0}, {30, 30, -60}, {55, -50, 40}, {60, -30, -10}, {40, 60, 40}, {45, 65, -30}, {85, 0, 80}, {100, 0, 0}}
	return profileBytes("RGB ", "Lab ", []string{"desc", "wtpt", "A2B0"}, map[string][]byte{
		"desc": nameTag("Table of a scanner"), "wtpt": xyzTag([3]float64{.9642, 1, .8249}), "A2B0": lutTag(3, corners),
	})
}

// under65 is CIELAB under D65 of what is l under D50: CIE 15:2018, 8.2.1, the
// other way round, and Bradford.
func under65(l colorspace.Lab) colorspace.Lab {
	inverse := func(f float64) float64 {
		if f > 6.0/29 {
			return f * f * f
		}
		return 3 * 36.0 / 841 * (f - 4.0/29)
	}
	fy := (l.L + 16) / 116
	x := colorspace.XYZ{X: .9642 * inverse(fy+l.A/500), Y: inverse(fy), Z: .8249 * inverse(fy-l.B/200)}
	return x.Adapt(colorspace.AdaptationBradford(colorspace.WhiteD50(), colorspace.WhiteD65())).Lab()
}

// TestTableProfile: a profile that is a table goes through it, pixel by pixel.
// The figures between the corners are little-cms 2.14's (transicc, relative
// colorimetric, to CIELAB under D50), adapted to D65 by Bradford.
func TestTableProfile(t *testing.T) {
	for _, c := range []struct {
		code [3]float64
		lab  colorspace.Lab
	}{
		{[3]float64{0, 0, 0}, colorspace.Lab{L: 3.9216}},
		{[3]float64{1, 1, 1}, colorspace.Lab{L: 100}},
		{[3]float64{1, 0, 0}, colorspace.Lab{L: 40, A: 60, B: 40}},
		{[3]float64{.8, .4, .2}, tableLCMS[0]},
		{[3]float64{.2, .6, .4}, tableLCMS[1]},
		{[3]float64{.5, .5, .9}, tableLCMS[2]},
	} {
		p := decodeBytes(t, pngProfile(t, pngBytes(t, flat(c.code[0], c.code[1], c.code[2])), rgbTable()))
		require.Empty(t, p.Notes)
		requireLab(t, under65(c.lab), p.Picture.At(2, 2), .02, "%v", c.code)
	}
}

// inkTable is a made-up press, on paper of a white of its own.
func inkTable() []byte {
	var corners [][3]float64
	for i := range 16 {
		c, m, y, k := i>>3&1, i>>2&1, i>>1&1, i&1
		// Made up, of the size of offset inks.
		corners = append(corners, [3]float64{
			max(0, 100-float64(45*c+50*m+10*y+85*k)), float64(-37*c+75*m-5*y) * float64(1-k), float64(-50*c-3*m+93*y) * float64(1-k)})
	}
	return profileBytes("CMYK", "Lab ", []string{"desc", "wtpt", "A2B1"}, map[string][]byte{
		"desc": nameTag("Four inks"), "wtpt": xyzTag([3]float64{.85, .88, .70}), "A2B1": lutTag(4, corners),
	})
}

// TestInkProfile: four inks with a table of their own; white is the paper.
func TestInkProfile(t *testing.T) {
	profile := inkTable()
	sp, err := profileSpace(profile, 4)
	require.NoError(t, err)
	m := image.NewCMYK(image.Rect(0, 0, 6, 1))
	for x, c := range []color.CMYK{{}, {C: 255}, {M: 255, Y: 255}, {K: 255}, {C: 102, M: 51, Y: 204, K: 51}, {C: 255, M: 255, Y: 255}} {
		m.SetCMYK(x, 0, c)
	}
	p, err := reduce(m, &header{width: 6, height: 1}, sp, 1)
	require.NoError(t, err)
	requireLab(t, under65(colorspace.Lab{L: 100}), p.At(0, 0), .02)
	requireLab(t, under65(colorspace.Lab{L: 55, A: -37, B: -50}), p.At(1, 0), .3) // 8 bits of the table
	requireLab(t, under65(colorspace.Lab{L: 40, A: 70, B: 90}), p.At(2, 0), .3)
	requireLab(t, under65(colorspace.Lab{L: 15}), p.At(3, 0), .3)
	requireLab(t, under65(inkLCMS), p.At(4, 0), .02)
	// Bare paper is the top of the scale; full black and three full inks the
	// bottom; a missing ink is neither.
	require.Equal(t, []uint8{255, 0, 0, 0, 0, 0}, p.Bright)
	require.Equal(t, []uint8{0, 0, 0, 255, 0, 255}, p.Dark)

	// In a JPEG, and without a profile: the colours are near and it is said.
	withProfile := decodeBytes(t, jpegProfile(fixture(t, "cmyk.jpg"), profile, 1<<15))
	require.Empty(t, withProfile.Notes)
	without := decodeBytes(t, fixture(t, "cmyk.jpg"))
	require.Len(t, without.Notes, 1)
	requireQuarters(t, without.Picture, quarters)
}

// TestChunkSpaces: what a PNG's own chunks say of its colours.
func TestChunkSpaces(t *testing.T) {
	p3 := p3Cases[3]
	as := linearOf(flat(p3.code[0], p3.code[1], p3.code[2]).At(0, 0)).Lab()
	for _, c := range []struct {
		name, chunk string
		data        []byte
		space       string
		want        colorspace.Lab
		notes       int
	}{
		{"sRGB", "sRGB", []byte{0}, "sRGB", as, 0},
		{"code points of Display P3", "cICP", []byte{12, 13, 0, 1}, "Display P3", p3.lab, 0},
		{"code points of sRGB", "cICP", []byte{1, 13, 0, 1}, "sRGB", as, 0},
		{"unknown code points", "cICP", []byte{77, 13, 0, 1}, "sRGB", as, 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := decodeBytes(t, pngWith(pngBytes(t, flat(p3.code[0], p3.code[1], p3.code[2])), c.chunk, c.data))
			require.Len(t, p.Notes, c.notes)
			requireLab(t, c.want, p.Picture.At(1, 1), .01)
		})
	}
}

// TestCodePoints: SMPTE ST 2084 gives 203 cd/m2, the white of paper in ITU-R
// BT.2408, at a signal of 58 %; so white is 1 there.
func TestCodePoints(t *testing.T) {
	require.InDelta(t, 1, perceptualQuantizer(.58), .01)
	require.InDelta(t, 10000.0/203, perceptualQuantizer(1), 1e-9)
	require.Zero(t, perceptualQuantizer(0))
	for p := range 256 {
		for c := range 256 {
			sp, ok := codePointSpace(p, c)
			if sp != nil {
				require.True(t, ok)
				white := sp.matrix.Apply([3]float64{1, 1, 1})
				for _, v := range white {
					require.InDelta(t, 1, v, 1e-9)
				}
			}
		}
	}
}

// TestAdobeCamera: a camera that is set to Adobe RGB and embeds no profile
// says so in EXIF (DCF 2.0: R03).
func TestAdobeCamera(t *testing.T) {
	exif := tiffBytes(binary.LittleEndian, [][]tiffField{
		{{tag: tagOrientation, typ: 3, values: []uint32{1}}},
		{{tag: 40961, typ: 3, values: []uint32{65535}}},
		{{tag: tagInteroperabilityID, typ: 2, text: "R03"}},
	}, []uint16{tagExif, tagInteroperability})
	e := adobeCases[2]
	p := decodeBytes(t, pngWith(pngBytes(t, flat(e.code[0], e.code[1], e.code[2])), "eXIf", exif))
	requireLab(t, e.lab, p.Picture.At(0, 0), .01)
}

// TestBrokenProfiles: none of them fails the photo, and none takes memory for
// what it claims.
func TestBrokenProfiles(t *testing.T) {
	good := rgbProfile(colorspace.DisplayP3, srgbCurveTag(), "P3")
	change := func(f func(b []byte)) []byte {
		b := bytes.Clone(good)
		f(b)
		return b
	}
	curveAt := bytes.Index(good, []byte("para"))
	table := rgbTable()
	for name, profile := range map[string][]byte{
		"short":          good[:100],
		"cut":            good[:len(good)-30],
		"no signature":   change(func(b []byte) { b[36] = 'x' }),
		"many tags":      change(func(b []byte) { binary.BigEndian.PutUint32(b[128:], 0xffffffff) }),
		"wild offset":    change(func(b []byte) { binary.BigEndian.PutUint32(b[136:], 0xfffffff0) }),
		"wild size":      change(func(b []byte) { binary.BigEndian.PutUint32(b[140:], 0xfffffff0) }),
		"huge curve":     change(func(b []byte) { copy(b[curveAt:], "curv\x00\x00\x00\x00\x7f\xff\xff\xff") }),
		"unknown curve":  change(func(b []byte) { b[curveAt+9] = 9 }),
		"no lights":      change(func(b []byte) { copy(b[bytes.Index(b, []byte("rXYZ")):], "xxxx") }),
		"other space":    change(func(b []byte) { copy(b[16:], "HSV ") }),
		"black":          change(func(b []byte) { blank(b, good, "XYZ \x00\x00\x00\x00") }),
		"cut table":      table[:len(table)-900],
		"huge grid":      bytes.Replace(table, []byte{3, 3, 2, 0}, []byte{3, 3, 255, 0}, 1),
		"no grid":        bytes.Replace(table, []byte{3, 3, 2, 0}, []byte{3, 3, 1, 0}, 1),
		"many channels":  bytes.Replace(table, []byte{3, 3, 2, 0}, []byte{15, 3, 2, 0}, 1),
		"wrong channels": bytes.Replace(table, []byte{3, 3, 2, 0}, []byte{3, 1, 2, 0}, 1),
	} {
		t.Run(name, func(t *testing.T) {
			p := decodeBytes(t, jpegProfileWhole(jpegBytes(t, quartered(64, 48), 95), profile))
			require.Len(t, p.Notes, 1)
			requireQuarters(t, p.Picture, quarters)
		})
	}
	// And the packing of a PNG's: a bomb, rubbish, no end to the name.
	for name, chunk := range map[string][]byte{
		"bomb":    append([]byte("p\x00\x00"), deflate(t, make([]byte, 64<<20))...),
		"rubbish": []byte("p\x00\x00xxxxxxxxxxxxxx"),
		"name":    bytes.Repeat([]byte("p"), 200),
		"method":  []byte("p\x00\x07abc"),
		"nothing": {},
	} {
		t.Run(name, func(t *testing.T) {
			p := decodeBytes(t, pngWith(pngBytes(t, quartered(64, 48)), "iCCP", chunk))
			require.Equal(t, []string{brokenProfile}, p.Notes)
			requireQuarters(t, p.Picture, quarters)
		})
	}
}

// blank zeroes the numbers behind every occurrence of a mark.
func blank(b, in []byte, mark string) {
	for i := 0; ; {
		j := bytes.Index(in[i:], []byte(mark))
		if j < 0 {
			return
		}
		i += j + len(mark)
		clear(b[i : i+12])
	}
}

// jpegProfileWhole is jpegProfile in one piece, also for an empty profile.
func jpegProfileWhole(file, profile []byte) []byte {
	return jpegWith(file, markAPP2, append([]byte("ICC_PROFILE\x00\x01\x01"), profile...))
}

// What little-cms 2.14 (transicc -t 1) gives for the two made-up tables.
var (
	tableLCMS = [3]colorspace.Lab{{L: 53.8048, A: 24, B: 32}, {L: 44.5502, A: -16, B: 6}, {L: 62.4704, A: 12, B: -24}}
	inkLCMS   = colorspace.Lab{L: 59.5453, A: -14.8405, B: 39.8015}
)
