package photo

import (
	"bytes"
	"encoding/binary"
	"image"
	"image/color"
	"math"
	"testing"

	"github.com/gen2brain/heic"
	"github.com/stretchr/testify/require"

	"greige/colorspace"
)

// boxOf writes a box.
func boxOf(typ string, parts ...[]byte) []byte {
	body := bytes.Join(parts, nil)
	return append(append(binary.BigEndian.AppendUint32(nil, uint32(8+len(body))), typ...), body...)
}

func be16(v ...int) (b []byte) {
	for _, x := range v {
		b = binary.BigEndian.AppendUint16(b, uint16(x))
	}
	return b
}

func be32(v ...int) (b []byte) {
	for _, x := range v {
		b = binary.BigEndian.AppendUint32(b, uint32(x))
	}
	return b
}

// heicParts are what a HEIC file for a test is put together of.
type heicParts struct {
	config, tile []byte // of a file with one piece
	w, h         int    // of a tile
	cols, rows   int    // 0: one piece
	gridW, gridH int
	properties   [][]byte // of the primary picture, besides its size
	exif         []byte
}

// heicFrom takes the parts out of a file of testdata.
func heicFrom(t testing.TB, name string) heicParts {
	t.Helper()
	in := bytesInput(fixture(t, name))
	c, err := readContainer(in)
	require.NoError(t, err)
	require.Equal(t, "hvc1", c.items[1])
	p := heicParts{config: c.property(1, "hvcC"), tile: c.bytesOf(in, 1, 1<<20)}
	var ok bool
	p.w, p.h, ok = c.sizeOf(1)
	require.True(t, ok)
	require.NotEmpty(t, p.tile)
	return p
}

// bytes writes the file: a grid's tiles are all the same item's data.
func (p heicParts) bytes() []byte {
	n := max(1, p.cols*p.rows)
	primary := 1
	infe := func(id int, typ string) []byte {
		return boxOf("infe", []byte{2, 0, 0, 0}, be16(id, 0), []byte(typ+"\x00"))
	}
	var items, assoc [][]byte
	for i := range n {
		items = append(items, infe(i+1, "hvc1"))
	}
	type run struct{ off, size int }
	data := p.tile
	runs := make([]run, n)
	for i := range runs {
		runs[i] = run{0, len(p.tile)}
	}
	props := append([][]byte{boxOf("hvcC", p.config), boxOf("ispe", be32(0, p.w, p.h))}, p.properties...)
	refs := []byte{}
	own := []byte{}
	for i := range p.properties {
		own = append(own, byte(0x80+3+i))
	}
	if p.cols > 0 {
		primary = n + 1
		items = append(items, infe(primary, "grid"))
		grid := append([]byte{0, 1, byte(p.rows - 1), byte(p.cols - 1)}, be32(p.gridW, p.gridH)...)
		runs = append(runs, run{len(data), len(grid)})
		data = append(bytes.Clone(data), grid...)
		props = append(props, boxOf("ispe", be32(0, p.gridW, p.gridH)))
		ids := make([]int, n)
		for i := range ids {
			ids[i] = i + 1
		}
		refs = append(refs, boxOf("dimg", be16(primary, n), be16(ids...))...)
		for i := range n {
			assoc = append(assoc, be16(i+1), []byte{2, 0x81, 2})
		}
		assoc = append(assoc, be16(primary), []byte{byte(1 + len(own)), byte(len(props))}, own)
	} else {
		assoc = append(assoc, be16(1), []byte{byte(2 + len(own)), 0x81, 2}, own)
	}
	if p.exif != nil {
		id := primary + 1
		items = append(items, infe(id, "Exif"))
		runs = append(runs, run{len(data), len(p.exif) + 10})
		data = append(append(bytes.Clone(data), be32(6)...), "Exif\x00\x00"...)
		data = append(data, p.exif...)
		refs = append(refs, boxOf("cdsc", be16(id, 1, primary))...)
	}
	head := boxOf("ftyp", []byte("heic\x00\x00\x00\x00mif1heic"))
	meta := func(base int) []byte {
		iloc := append([]byte{0, 0, 0, 0, 0x44, 0}, be16(len(runs))...)
		for i, r := range runs {
			iloc = append(append(iloc, be16(i+1, 0, 1)...), be32(base+r.off, r.size)...)
		}
		return boxOf("meta", be32(0),
			boxOf("hdlr", be32(0, 0), []byte("pict"), make([]byte, 13)),
			boxOf("pitm", be32(0), be16(primary)),
			boxOf("iloc", iloc),
			boxOf("iinf", be32(0), be16(len(items)), bytes.Join(items, nil)),
			boxOf("iref", be32(0), refs),
			boxOf("iprp", boxOf("ipco", props...), boxOf("ipma", be32(0, len(runs)-btoi(p.exif != nil)), bytes.Join(assoc, nil))))
	}
	m := meta(len(head) + len(meta(0)) + 8)
	return bytes.Join([][]byte{head, m, boxOf("mdat", data)}, nil)
}

func btoi(b bool) int {
	if b {
		return 1
	}
	return 0
}

func colr(primaries, curve, matrix int, full bool) []byte {
	return boxOf("colr", []byte("nclx"), be16(primaries, curve, matrix), []byte{byte(btoi(full) << 7)})
}

// wholeHEIC decodes a file by the library alone, turned by the library, and
// reduces it by 1.
func wholeHEIC(t *testing.T, data []byte) *Picture {
	t.Helper()
	img, err := heic.Decode(bytes.NewReader(data))
	require.NoError(t, err)
	p, err := reduce(img, &header{width: img.Bounds().Dx(), height: img.Bounds().Dy(), coding: jfif}, srgbSpace(), 1)
	require.NoError(t, err)
	return p
}

// requireAlike wants the same pixels but for the borders of tiles, which we
// mend and the library leaves wrong.
func requireAlike(t *testing.T, want, got *Picture) {
	t.Helper()
	require.Equal(t, []int{want.W, want.H}, []int{got.W, got.H})
	off := 0
	for i := range want.Pix {
		if math.Abs(float64(want.Pix[i]-got.Pix[i])) > 1e-6 {
			off++
		}
	}
	require.Less(t, float64(off)/float64(len(want.Pix)), .08)
}

// TestHEICTurning: the file's own turning and mirroring, as libheif 1.18 does
// it when it is given the file as a whole, which is the reference here. EXIF
// must not turn the picture again.
func TestHEICTurning(t *testing.T) {
	irot := func(n byte) []byte { return boxOf("irot", []byte{n}) }
	imir := func(n byte) []byte { return boxOf("imir", []byte{n}) }
	for _, c := range []struct {
		properties [][]byte
		want       [4]int // the quarters, in reading order
	}{
		{nil, [4]int{0, 1, 2, 3}},
		{[][]byte{irot(1)}, [4]int{1, 3, 0, 2}}, // counter-clockwise
		{[][]byte{irot(2)}, [4]int{3, 2, 1, 0}},
		{[][]byte{irot(3)}, [4]int{2, 0, 3, 1}},
		{[][]byte{imir(0)}, [4]int{2, 3, 0, 1}},
		{[][]byte{imir(1)}, [4]int{1, 0, 3, 2}},
		{[][]byte{irot(1), imir(0)}, [4]int{0, 2, 1, 3}},
		{[][]byte{imir(0), irot(1)}, [4]int{3, 1, 2, 0}},
	} {
		parts := heicFrom(t, "plain.heic")
		parts.properties = c.properties
		reference := wholeHEIC(t, parts.bytes())
		parts.exif = orientationExif(6)
		p := decodeBytes(t, parts.bytes())
		requireAlike(t, reference, p.Picture)
		want := [4]color.NRGBA{}
		for i, q := range c.want {
			want[i] = quarters[q]
		}
		requireQuarters(t, p.Picture, want)
		require.Empty(t, p.Notes)
	}
}

// TestHEICCrop: the clean aperture.
func TestHEICCrop(t *testing.T) {
	parts := heicFrom(t, "plain.heic")
	// 80 x 60 from (40, 30) on; and off the middle by (20, -10): from (60, 20).
	for _, c := range []struct{ dx, dy, x, y int }{{0, 0, 40, 30}, {20, -10, 60, 20}} {
		parts.properties = [][]byte{boxOf("clap", be32(80, 1, 60, 1, c.dx, 1, c.dy, 1))}
		p := decodeBytes(t, parts.bytes())
		require.Equal(t, []int{80, 60}, []int{p.Width, p.Height})
		want := decodeBytes(t, fixture(t, "plain.heic")).Picture.Crop(image.Rect(c.x, c.y, c.x+80, c.y+60))
		requireAlike(t, want, p.Picture)
	}
}

// TestHEICGrid: tiles side by side, the last ones cut off, equal to what the
// library makes of the whole.
func TestHEICGrid(t *testing.T) {
	for _, name := range []string{"plain.heic", "full444.heic", "full422.heic"} {
		parts := heicFrom(t, name)
		parts.cols, parts.rows, parts.gridW, parts.gridH = 3, 2, 431, 207
		data := parts.bytes()
		p := decodeBytes(t, data)
		require.Equal(t, []int{431, 207}, []int{p.Width, p.Height})
		require.Empty(t, p.Notes)
		requireAlike(t, wholeHEIC(t, data), p.Picture)
		requireLab(t, linearOf(quarters[3]).Lab(), p.Picture.At(160+120, 120+70), 2)
	}
}

// TestHEICOddSize: a size that the codec cannot code and cuts off.
func TestHEICOddSize(t *testing.T) {
	p := decodeBytes(t, fixture(t, "odd.heic"))
	require.Equal(t, []int{161, 121}, []int{p.Width, p.Height})
	requireAlike(t, wholeHEIC(t, fixture(t, "odd.heic")), p.Picture)
	requireQuarters(t, p.Picture, quarters)
}

// TestHEICColours: the profile, the code points, and what the stream says.
func TestHEICColours(t *testing.T) {
	p3 := func(c color.NRGBA) colorspace.Lab {
		return colorspace.Linear(colorspace.DisplayP3.ToLinearSRGB().Apply(linearOf(c))).Lab()
	}
	parts := heicFrom(t, "plain.heic")
	for name, properties := range map[string][][]byte{
		"profile":     {boxOf("colr", []byte("prof"), rgbProfile(colorspace.DisplayP3, srgbCurveTag(), "P3"))},
		"both":        {boxOf("colr", []byte("prof"), rgbProfile(colorspace.DisplayP3, srgbCurveTag(), "P3")), colr(1, 13, 6, true)},
		"code points": {colr(12, 13, 6, true)},
	} {
		t.Run(name, func(t *testing.T) {
			q := parts
			q.properties = properties
			p := decodeBytes(t, q.bytes())
			require.Empty(t, p.Notes)
			requireLab(t, p3(quarters[0]), p.Picture.At(40, 30), 2)
			requireLab(t, p3(quarters[1]), p.Picture.At(120, 30), 2)
		})
	}
	// The stream of video709.heic says BT.709 and the range of video; its
	// codes are those of plain.heic. heif-convert (libheif 1.15) makes 227,
	// 68, 38 of the first quarter.
	want := linearOf(color.NRGBA{227, 68, 38, 255}).Lab()
	requireLab(t, want, decodeBytes(t, fixture(t, "video709.heic")).Picture.At(40, 30), 1)
	// The same by code points, which count before the stream's.
	q := parts
	q.properties = [][]byte{colr(1, 13, 1, false)}
	requireLab(t, want, decodeBytes(t, q.bytes()).Picture.At(40, 30), 1)
	q = heicFrom(t, "video709.heic")
	q.properties = [][]byte{colr(1, 13, 6, true)}
	requireQuarters(t, decodeBytes(t, q.bytes()).Picture, quarters)
	// A broken profile leaves the picture.
	q = parts
	q.properties = [][]byte{boxOf("colr", []byte("prof"), []byte("rubbish"))}
	p := decodeBytes(t, q.bytes())
	require.Equal(t, []string{brokenProfile}, p.Notes)
	requireQuarters(t, p.Picture, quarters)
}

// TestHEICRecord: EXIF in HEIC.
func TestHEICRecord(t *testing.T) {
	parts := heicFrom(t, "plain.heic")
	parts.exif = tiffBytes(binary.BigEndian, [][]tiffField{
		{{tag: tagMake, typ: 2, text: "Maker"}, {tag: tagModel, typ: 2, text: "Phone 1"}},
		{{tag: tagExposureTime, typ: 5, values: []uint32{1, 60}}},
	}, []uint16{tagExif})
	p := decodeBytes(t, parts.bytes())
	require.Equal(t, Record{Camera: "Maker Phone 1", Make: "Maker", Model: "Phone 1", ExposureTime: 1.0 / 60}, p.Record)
	parts.exif = []byte("nothing of use")
	p = decodeBytes(t, parts.bytes())
	require.Len(t, p.Notes, 1)
	requireQuarters(t, p.Picture, quarters)
}

// TestHEICLeftOut: kinds that are not read, each with its reason.
func TestHEICLeftOut(t *testing.T) {
	grid := heicFrom(t, "plain.heic")
	grid.cols, grid.rows, grid.gridW, grid.gridH = 2, 2, 1000, 240
	few := heicFrom(t, "plain.heic")
	few.cols, few.rows, few.gridW, few.gridH = 2, 2, 160, 120 // most tiles in vain
	overlay := bytes.Replace(grid.bytes(), []byte("grid\x00"), []byte("iovl\x00"), 1)
	noPrimary := bytes.Replace(fixture(t, "plain.heic"), []byte("pitm"), []byte("xitm"), 1)
	noConfig := bytes.Replace(fixture(t, "plain.heic"), []byte("hvcC"), []byte("xxxx"), 1)
	other := heicFrom(t, "plain.heic")
	other.w, other.h = 3200, 2400 // the boxes lie about the size
	for name, c := range map[string]struct {
		data   []byte
		reason string
	}{
		"narrow":     {fixture(t, "narrow.heic"), ""},
		"AVIF":       {fixture(t, "small.avif"), "this is an AVIF picture, which is not read"},
		"gaps":       {grid.bytes(), "the picture is damaged"},
		"vain":       {few.bytes(), "the picture is damaged"},
		"overlay":    {overlay, `this is a rare kind of HEIC ("iovl"), which is not read`},
		"no primary": {noPrimary, "the picture is damaged"},
		"no config":  {noConfig, "the picture is damaged"},
		"lying":      {other.bytes(), "the picture is damaged"},
	} {
		_, err := decode(t.Context(), bytesInput(c.data), Limits{})
		var e *Error
		require.ErrorAs(t, err, &e, name)
		if c.reason != "" {
			require.Equal(t, c.reason, e.Reason, name)
		}
		require.NotEmpty(t, e.Hint, name)
	}
	p := decodeBytes(t, fixture(t, "alpha.heic"))
	require.Equal(t, []string{"parts of the picture are marked as clear; they were measured like the rest"}, p.Notes)
}

// TestSequence reads the parameter sets of the test files, whose figures are
// those that x265 3.5 was given.
func TestSequence(t *testing.T) {
	for _, c := range []struct {
		name string
		want sequence
	}{
		{"plain.heic", sequence{width: 160, height: 120, chroma: 1, bits: 8, fullRange: true, primaries: 2, curve: 2, matrix: 6, codedWidth: 160, coded: 120}},
		{"ten.heic", sequence{width: 160, height: 120, chroma: 1, bits: 10, fullRange: true, primaries: 2, curve: 2, matrix: 6, codedWidth: 160, coded: 120}},
		{"full444.heic", sequence{width: 160, height: 120, chroma: 3, bits: 8, fullRange: true, primaries: 2, curve: 2, matrix: 6, codedWidth: 160, coded: 120}},
		{"video709.heic", sequence{width: 160, height: 120, chroma: 1, bits: 8, primaries: 2, curve: 2, matrix: 1, codedWidth: 160, coded: 120}},
		{"odd.heic", sequence{width: 162, height: 122, chroma: 1, bits: 8, fullRange: true, primaries: 2, curve: 2, matrix: 6, codedWidth: 168, coded: 128}},
		{"grey.heic", sequence{width: 160, height: 120, bits: 8, fullRange: true, primaries: 2, curve: 2, matrix: 2, codedWidth: 160, coded: 120}},
	} {
		s, ok := readSequence(parameterSet(heicFrom(t, c.name).config))
		require.True(t, ok, c.name)
		require.Equal(t, c.want, s, c.name)
	}
}

// TestHEICBorders: the borders of tiles, which the library leaves wrong, show
// the colours of their quarters. heif-convert (libheif 1.15) shows them so.
func TestHEICBorders(t *testing.T) {
	p := decodeBytes(t, fixture(t, "plain.heic")).Picture
	for _, at := range []image.Point{{0, 0}, {5, 0}, {23, 0}, {24, 0}, {159, 0}, {0, 119}, {159, 119}, {100, 119}, {0, 70}, {159, 70}} {
		c := quarters[at.Y/60*2+at.X/80]
		requireLab(t, linearOf(c).Lab(), p.At(at.X, at.Y), 2, "%v", at)
	}
}
