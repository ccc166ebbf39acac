package photo

import (
	"bytes"
	"encoding/binary"
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// exifOf wraps EXIF fields in a small JPEG.
func exifOf(t testing.TB, order byteOrder, main, exif []tiffField) []byte {
	t.Helper()
	return jpegWith(jpegBytes(t, quartered(64, 48), 90), markAPP1, asExif(tiffBytes(order, [][]tiffField{main, exif}, []uint16{tagExif})))
}

// TestRecord reads what a camera writes, in both byte orders. Numbers of the
// fields: CIPA DC-008 (published/15_exif_tags.csv).
func TestRecord(t *testing.T) {
	main := []tiffField{
		{tag: 0x010f, typ: 2, text: "Maker"}, {tag: 0x0110, typ: 2, text: "maker Phone 12  Pro"},
		{tag: 0x0112, typ: 3, values: []uint32{1}},
	}
	exif := []tiffField{
		{tag: 0x829a, typ: 5, values: []uint32{1, 60}},
		{tag: 0x829d, typ: 5, values: []uint32{28, 10}},
		{tag: 0x8827, typ: 3, values: []uint32{100}},
		{tag: 0x9003, typ: 2, text: "2024:05:01 19:30:00"},
		{tag: 0x9203, typ: 10, values: []uint32{neg(148), 100}},
		{tag: 0x9204, typ: 10, values: []uint32{neg(1), 3}},
		{tag: 0x927c, typ: 7, values: bytes32("MakerNote\x00\xff\xff\xff\xff\xff\xff\xff\xff")},
		{tag: 0xa403, typ: 3, values: []uint32{1}},
		{tag: 0xa434, typ: 2, text: "wide  5.1mm"},
	}
	want := Record{
		Camera: "maker Phone 12 Pro", Make: "Maker", Model: "maker Phone 12 Pro", Lens: "wide 5.1mm", ExposureTime: 1.0 / 60, FNumber: 2.8, Sensitivity: 100,
		Bias: -1.0 / 3, HasBias: true, Brightness: -1.48, HasBrightness: true, FixedWhite: true, Taken: "2024:05:01 19:30:00",
	}
	for _, order := range []byteOrder{binary.LittleEndian, binary.BigEndian} {
		p := decodeBytes(t, exifOf(t, order, main, exif))
		require.Equal(t, want, p.Record)
		require.Empty(t, p.Notes)
	}
}

func neg(v int32) uint32 { return uint32(-v) }

func bytes32(s string) (out []uint32) {
	for i := range len(s) {
		out = append(out, uint32(s[i]))
	}
	return out
}

// TestRecordTwins: figures in APEX serve where the plain ones are missing; a
// sensitivity that does not fit stands elsewhere (EXIF 2.3); unknown and
// senseless ones are absent.
func TestRecordTwins(t *testing.T) {
	read := func(exif ...tiffField) Record {
		return decodeBytes(t, exifOf(t, binary.LittleEndian, nil, exif)).Record
	}
	// published/15_exif_exposure.csv: 1/60 s is Tv 5.90689, F2.8 is Av 2.97085.
	r := read(tiffField{tag: 0x9201, typ: 10, values: []uint32{590689, 100000}}, tiffField{tag: 0x9202, typ: 5, values: []uint32{297085, 100000}})
	require.InDelta(t, 1.0/60, r.ExposureTime, 1e-6)
	require.InDelta(t, 2.8, r.FNumber, 1e-4)
	r = read(tiffField{tag: 0x8827, typ: 3, values: []uint32{65535}}, tiffField{tag: 0x8832, typ: 4, values: []uint32{102400}})
	require.Equal(t, 102400.0, r.Sensitivity)
	require.Equal(t, Record{}, read(
		tiffField{tag: 0x829a, typ: 5, values: []uint32{1, 0}},
		tiffField{tag: 0x829d, typ: 5, values: []uint32{0, 1}},
		tiffField{tag: 0x8827, typ: 3, values: []uint32{0}},
		tiffField{tag: 0x9203, typ: 10, values: []uint32{math.MaxUint32, 100}},
		tiffField{tag: 0x9204, typ: 2, text: "none"},
		tiffField{tag: 0xa403, typ: 3, values: []uint32{0}},
	))
	// A bias of 0 is one.
	require.Equal(t, Record{HasBias: true}, read(tiffField{tag: 0x9204, typ: 10, values: []uint32{0, 6}}))
}

// TestBrokenRecord: none of them fails the photo or takes long.
func TestBrokenRecord(t *testing.T) {
	good := tiffBytes(binary.LittleEndian, [][]tiffField{
		{{tag: tagMake, typ: 2, text: "Maker"}}, {{tag: tagExposureTime, typ: 5, values: []uint32{1, 60}}},
	}, []uint16{tagExif})
	loop := bytes.Clone(good)
	binary.LittleEndian.PutUint32(loop[10+12+8:], 8) // EXIF is the main directory
	wild := bytes.Clone(good)
	binary.LittleEndian.PutUint32(wild[10+12+8:], 0xfffffff0)
	long := bytes.Clone(good)
	binary.LittleEndian.PutUint32(long[10+4:], 0xffffffff) // the maker's name has 4 GiB
	many := append(bytes.Clone(good[:8]), 0xff, 0xff)
	for name, c := range map[string]struct {
		exif  []byte
		notes int
	}{
		"empty": {nil, 0}, "rubbish": {[]byte("rubbish rubbish"), 1}, "cut": {good[:20], 1}, "head": {good[:8], 1},
		"loop": {loop, 0}, "wild": {wild, 1}, "long": {long, 0}, "many": {many, 1},
	} {
		t.Run(name, func(t *testing.T) {
			p := decodeBytes(t, jpegWith(jpegBytes(t, quartered(64, 48), 95), markAPP1, asExif(c.exif)))
			require.Len(t, p.Notes, c.notes)
			requireQuarters(t, p.Picture, quarters)
		})
	}
	// Whatever the orientation says besides 1..8 is nothing.
	for _, v := range []uint32{0, 9, 65535} {
		e := tiffBytes(binary.BigEndian, [][]tiffField{{{tag: tagOrientation, typ: 3, values: []uint32{v}}}}, nil)
		requireQuarters(t, decodeBytes(t, jpegWith(jpegBytes(t, quartered(64, 48), 95), markAPP1, asExif(e))).Picture, quarters)
	}
}

// TestCleanText: names in files can hold anything.
func TestCleanText(t *testing.T) {
	require.Equal(t, "a b", cleanText(" a\t\x1b\x07 b\x00rest", 80))
	require.Equal(t, "ab", cleanText("a\xff\xfeb", 80))
	require.Equal(t, "ÄÖ", cleanText("ÄÖÜ", 2))
	require.Equal(t, "", cleanText("\x00", 5))
	require.Equal(t, "Ab", cleanText("A\u202eb", 80)) // turns the reading direction
}
