package photo

import (
	"bytes"
	"compress/zlib"
	"context"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"greige/colorspace"
)

// The files in testdata show four plain quarters: their colours, in reading
// order.
var quarters = [4]color.NRGBA{{200, 60, 50, 255}, {70, 150, 80, 255}, {60, 80, 170, 255}, {225, 215, 190, 255}}

// quartered draws them, w x h.
func quartered(w, h int) *image.NRGBA {
	m := image.NewNRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			m.SetNRGBA(x, y, quarters[2*y/h*2+2*x/w])
		}
	}
	return m
}

// noisy is a picture of w x h that has every code, the ends among them, and
// no symmetry.
func noisy(w, h int) *image.NRGBA {
	m := image.NewNRGBA(image.Rect(0, 0, w, h))
	seed := uint32(7)
	next := func() uint8 {
		seed = seed*1664525 + 1013904223
		return uint8(seed >> 24)
	}
	for y := range h {
		for x := range w {
			m.SetNRGBA(x, y, color.NRGBA{next()/2 + uint8(x*127/w), next()/2 + uint8(y*127/h), next(), 255})
		}
	}
	return m
}

func decodeBytes(t testing.TB, data []byte) *Photo {
	t.Helper()
	p, err := decode(context.Background(), bytesInput(data), Limits{})
	require.NoError(t, err)
	return p
}

func fixture(t testing.TB, name string) []byte {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("testdata", name))
	require.NoError(t, err)
	return data
}

func pngBytes(t testing.TB, m image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, png.Encode(&b, m))
	return b.Bytes()
}

func jpegBytes(t testing.TB, m image.Image, quality int) []byte {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, m, &jpeg.Options{Quality: quality}))
	return b.Bytes()
}

// pngWith puts a chunk behind a PNG's header.
func pngWith(file []byte, typ string, data []byte) []byte {
	c := binary.BigEndian.AppendUint32(nil, uint32(len(data)))
	c = append(append(c, typ...), data...)
	c = binary.BigEndian.AppendUint32(c, crc32.ChecksumIEEE(c[4:]))
	const header = 8 + 25
	return bytes.Join([][]byte{file[:header], c, file[header:]}, nil)
}

// jpegWith puts a segment behind a JPEG's first marker.
func jpegWith(file []byte, marker byte, data []byte) []byte {
	s := []byte{0xff, marker}
	s = binary.BigEndian.AppendUint16(s, uint16(len(data)+2))
	return bytes.Join([][]byte{file[:2], s, data, file[2:]}, nil)
}

// tiffField is an entry of a directory for a test: type, values.
type tiffField struct {
	tag, typ uint16
	values   []uint32 // halves of fractions one after the other
	text     string
}

// byteOrder is either of encoding/binary's.
type byteOrder interface {
	binary.ByteOrder
	binary.AppendByteOrder
}

// tiffBytes writes directories: the first is the main one, the others hang on
// the tags of links in it or in the one before, in their order.
func tiffBytes(order byteOrder, dirs [][]tiffField, links []uint16) []byte {
	b := []byte("II*\x00\x08\x00\x00\x00")
	if order.String() == "BigEndian" {
		b = []byte("MM\x00*\x00\x00\x00\x08")
	}
	u16 := func(v uint16) { b = order.AppendUint16(b, v) }
	u32 := func(v uint32) { b = order.AppendUint32(b, v) }
	for i, dir := range dirs {
		n := len(dir)
		linked := i < len(dirs)-1
		if linked {
			n++
		}
		start := len(b)
		data := start + 2 + 12*n + 4
		var tail []byte
		u16(uint16(n))
		put := func(f tiffField) {
			var raw []byte
			for _, v := range f.values {
				switch f.typ {
				case 3:
					raw = order.AppendUint16(raw, uint16(v))
				case 1, 7:
					raw = append(raw, byte(v))
				default:
					raw = order.AppendUint32(raw, v)
				}
			}
			count := len(f.values)
			if f.typ == 2 {
				raw = append([]byte(f.text), 0)
				count = len(raw)
			}
			if f.typ == 5 || f.typ == 10 {
				count /= 2
			}
			u16(f.tag)
			u16(f.typ)
			u32(uint32(count))
			if len(raw) <= 4 {
				b = append(b, append(raw, make([]byte, 4-len(raw))...)...)
				return
			}
			u32(uint32(data + len(tail)))
			tail = append(tail, raw...)
			if len(tail)%2 == 1 {
				tail = append(tail, 0)
			}
		}
		for _, f := range dir {
			put(f)
		}
		var at int
		if linked {
			at = len(b) + 8
			put(tiffField{tag: links[i], typ: 4, values: []uint32{0}})
		}
		u32(0)
		b = append(b, tail...)
		if linked {
			order.PutUint32(b[at:], uint32(len(b)))
		}
	}
	return b
}

// tagSamples is TIFF's number of components.
const tagSamples = 277

// orientationExif is EXIF with an orientation and nothing else.
func orientationExif(o int) []byte {
	return tiffBytes(binary.LittleEndian, [][]tiffField{{{tag: tagOrientation, typ: 3, values: []uint32{uint32(o)}}}}, nil)
}

// asExif is what a JPEG's APP1 holds.
func asExif(tiff []byte) []byte { return append([]byte("Exif\x00\x00"), tiff...) }

// requireLab wants a colour within d in L*, a* and b*.
func requireLab(t testing.TB, want colorspace.Lab, got colorspace.Linear, d float64, msg ...any) {
	t.Helper()
	lab := got.Lab()
	require.InDelta(t, want.L, lab.L, d, msg...)
	require.InDelta(t, want.A, lab.A, d, msg...)
	require.InDelta(t, want.B, lab.B, d, msg...)
}

// linearOf is the linear light of an sRGB code.
func linearOf(c color.Color) colorspace.Linear {
	n := straight(c)
	return colorspace.Linear{colorspace.DecodeSRGB(float64(n.R) / 65535), colorspace.DecodeSRGB(float64(n.G) / 65535), colorspace.DecodeSRGB(float64(n.B) / 65535)}
}

// requireQuarters wants the four colours in the middles of p's quarters, as
// seen by lossy codecs at high quality: within 2 in L*, a*, b*.
func requireQuarters(t testing.TB, p *Picture, want [4]color.NRGBA) {
	t.Helper()
	for i, c := range want {
		x, y := p.W/4+i%2*p.W/2, p.H/4+i/2*p.H/2
		requireLab(t, linearOf(c).Lab(), p.At(x, y), 2, "quarter %d of %v", i, want)
	}
}

// profileBytes writes an ICC profile of version 4 (ICC.1:2022): tags by name.
func profileBytes(space, pcs string, names []string, tags map[string][]byte) []byte {
	b := make([]byte, 128)
	copy(b[8:], []byte{4, 0x30, 0, 0})
	copy(b[12:], "mntr")
	copy(b[16:], space)
	copy(b[20:], pcs)
	copy(b[36:], "acsp")
	// The illuminant of the connection space, ICC.1:2022 7.2.16.
	copy(b[68:], []byte{0, 0, 0xf6, 0xd6, 0, 1, 0, 0, 0, 0, 0xd3, 0x2d})
	b = binary.BigEndian.AppendUint32(b, uint32(len(names)))
	off := len(b) + 12*len(names)
	var data []byte
	for _, n := range names {
		t := tags[n]
		b = append(b, n...)
		b = binary.BigEndian.AppendUint32(b, uint32(off+len(data)))
		b = binary.BigEndian.AppendUint32(b, uint32(len(t)))
		data = append(data, t...)
		for len(data)%4 != 0 {
			data = append(data, 0)
		}
	}
	b = append(b, data...)
	binary.BigEndian.PutUint32(b, uint32(len(b)))
	return b
}

func fixed16(v float64) []byte {
	return binary.BigEndian.AppendUint32(nil, uint32(int32(math.Round(v*65536))))
}

func xyzTag(v [3]float64) []byte {
	b := []byte("XYZ \x00\x00\x00\x00")
	for _, c := range v {
		b = append(b, fixed16(c)...)
	}
	return b
}

// srgbCurveTag is the curve of IEC 61966-2-1 as ICC.1 writes it.
func srgbCurveTag() []byte {
	b := []byte("para\x00\x00\x00\x00\x00\x03\x00\x00")
	for _, v := range []float64{2.4, 1 / 1.055, .055 / 1.055, 1 / 12.92, .04045} {
		b = append(b, fixed16(v)...)
	}
	return b
}

// gammaTag is a curve with an exponent in 1/256.
func gammaTag(n uint16) []byte {
	b := []byte("curv\x00\x00\x00\x00\x00\x00\x00\x01")
	return binary.BigEndian.AppendUint16(b, n)
}

// nameTag is a text in one language.
func nameTag(s string) []byte {
	b := []byte("mluc\x00\x00\x00\x00\x00\x00\x00\x01\x00\x00\x00\x0cenUS")
	b = binary.BigEndian.AppendUint32(b, uint32(2*len(s)))
	b = binary.BigEndian.AppendUint32(b, 28)
	for _, c := range s {
		b = append(b, 0, byte(c))
	}
	return b
}

// rgbProfile is a profile of three lights, given by their chromaticities
// under D65, and a curve.
func rgbProfile(space colorspace.Space, curve []byte, name string) []byte {
	m := colorspace.AdaptationBradford(colorspace.WhiteD65(), colorspace.WhiteD50()).Mul(space.ToXYZ())
	col := func(c int) []byte { return xyzTag([3]float64{m[0][c], m[1][c], m[2][c]}) }
	return profileBytes("RGB ", "XYZ ", []string{"desc", "wtpt", "rXYZ", "gXYZ", "bXYZ", "rTRC", "gTRC", "bTRC"}, map[string][]byte{
		"desc": nameTag(name), "wtpt": xyzTag([3]float64{.9642, 1, .8249}),
		"rXYZ": col(0), "gXYZ": col(1), "bXYZ": col(2), "rTRC": curve, "gTRC": curve, "bTRC": curve,
	})
}

// jpegProfile puts a profile into a JPEG, in pieces of n bytes.
func jpegProfile(file, profile []byte, n int) []byte {
	var parts [][]byte
	for len(profile) > 0 {
		m := min(n, len(profile))
		parts = append(parts, profile[:m])
		profile = profile[m:]
	}
	for i := len(parts) - 1; i >= 0; i-- {
		head := append([]byte("ICC_PROFILE\x00"), byte(i+1), byte(len(parts)))
		file = jpegWith(file, markAPP2, append(head, parts[i]...))
	}
	return file
}

// deflate packs b as zlib does.
func deflate(t testing.TB, b []byte) []byte {
	t.Helper()
	var out bytes.Buffer
	w := zlib.NewWriter(&out)
	_, err := w.Write(b)
	require.NoError(t, err)
	require.NoError(t, w.Close())
	return out.Bytes()
}

func crc(b []byte) uint32 { return crc32.ChecksumIEEE(b) }

// straight is a colour in 16 bits that alpha has not been multiplied into.
func straight(c color.Color) color.NRGBA64 {
	if n, ok := c.(color.NRGBA); ok {
		// Its own codes: by way of RGBA they would lose digits to alpha.
		return color.NRGBA64{R: uint16(n.R) * 257, G: uint16(n.G) * 257, B: uint16(n.B) * 257, A: uint16(n.A) * 257}
	}
	return color.NRGBA64Model.Convert(c).(color.NRGBA64)
}
