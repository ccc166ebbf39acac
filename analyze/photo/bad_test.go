package photo

import (
	"bytes"
	"context"
	"encoding/binary"
	"image"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"golang.org/x/image/tiff"
)

// reasonOf opens bytes that cannot be measured, holds the time and the memory
// that it takes against the bounds of one file, and gives the reason.
func reasonOf(t *testing.T, data []byte) string {
	t.Helper()
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	start := time.Now()
	_, err := decode(context.Background(), bytesInput(data), Limits{})
	took := time.Since(start)
	runtime.ReadMemStats(&after)
	var e *Error
	require.ErrorAs(t, err, &e)
	require.NotEmpty(t, e.Reason)
	require.NotEmpty(t, e.Hint)
	require.NotContains(t, e.Reason, "\n")
	require.Less(t, took, 10*time.Second)
	// All that was ever taken, so more than the peak.
	require.Less(t, after.TotalAlloc-before.TotalAlloc, uint64(1<<30))
	return e.Reason
}

// bigHeaders are files that promise 60,000 x 60,000 pixels, or none.
func bigHeaders(t testing.TB, side int) map[string][]byte {
	jpg := jpegBytes(t, quartered(64, 48), 90)
	sof := bytes.Index(jpg, []byte{0xff, 0xc0})
	binary.BigEndian.PutUint16(jpg[sof+5:], uint16(side))
	binary.BigEndian.PutUint16(jpg[sof+7:], uint16(side))
	png := pngBytes(t, quartered(64, 48))
	binary.BigEndian.PutUint32(png[16:], uint32(side))
	binary.BigEndian.PutUint32(png[20:], uint32(side))
	binary.BigEndian.PutUint32(png[29:], crc(png[12:29]))
	tif := tiffBytes(binary.LittleEndian, [][]tiffField{{
		{tag: tagWidth, typ: 4, values: []uint32{uint32(side)}}, {tag: tagLength, typ: 4, values: []uint32{uint32(side)}},
		{tag: tagBits, typ: 3, values: []uint32{8, 8, 8}}, {tag: 262, typ: 3, values: []uint32{2}}, {tag: tagSamples, typ: 3, values: []uint32{3}},
	}}, nil)
	parts := heicFrom(t, "plain.heic")
	parts.cols, parts.rows, parts.gridW, parts.gridH = 2, 2, side, side
	files := map[string][]byte{"JPEG": jpg, "PNG": png, "TIFF": tif, "HEIC": parts.bytes()}
	if side > 0 {
		webp := fixture(t, "alpha.webp")
		x := bytes.Index(webp, []byte("VP8X"))
		copy(webp[x+12:], []byte{byte(side - 1), byte((side - 1) >> 8), 0, byte(side - 1), byte((side - 1) >> 8), 0})
		files["WebP"] = webp
	}
	return files
}

func TestTooLarge(t *testing.T) {
	for format, data := range bigHeaders(t, 60000) {
		reason := reasonOf(t, data)
		if format == "HEIC" {
			require.Equal(t, "the picture is damaged", reason) // its tiles do not cover it
			continue
		}
		require.Equal(t, "the picture has 3600 megapixels and the limit is 100", reason, format)
	}
	for format, data := range bigHeaders(t, 0) {
		require.Equal(t, "the picture has no size", reasonOf(t, data), format)
	}
	// The limit is the user's own.
	data := jpegBytes(t, quartered(400, 300), 90)
	_, err := decode(context.Background(), bytesInput(data), Limits{Megapixels: .1})
	require.EqualError(t, err, `"": the picture has 0.1 megapixels and the limit is 0.1`)
	_, err = decode(context.Background(), bytesInput(data), Limits{Megapixels: .13})
	require.NoError(t, err)
	// What would take too much memory though it has few enough pixels: a
	// progressive JPEG without subsampling keeps 15 bytes a pixel.
	prog := fixture(t, "progressive.jpg")
	sof := bytes.Index(prog, []byte{0xff, 0xc2})
	binary.BigEndian.PutUint16(prog[sof+5:], 9900)
	binary.BigEndian.PutUint16(prog[sof+7:], 10000)
	prog[sof+11] = 0x11
	require.Equal(t, "unpacking this picture would take 1417 MiB of memory and the limit is 1024", reasonOf(t, prog))
}

// TestPNGMemory: what image/png will take, a byte, or two, a code.
func TestPNGMemory(t *testing.T) {
	r := image.Rect(0, 0, 100, 50)
	key := []byte{0, 1, 0, 2, 0, 3}
	for _, c := range []struct {
		img      image.Image
		key      []byte
		perPixel int64
	}{
		{image.NewGray(r), nil, 1}, {image.NewGray(r), key[:2], 4}, {image.NewGray16(r), nil, 2}, {image.NewGray16(r), key[:2], 8},
		{opaque{image.NewNRGBA(r)}, nil, 4}, {opaque{image.NewNRGBA(r)}, key, 4}, {image.NewNRGBA(r), nil, 4}, {image.NewNRGBA64(r), nil, 8},
	} {
		data := pngBytes(t, c.img)
		if c.key != nil {
			data = pngWith(data, "tRNS", c.key)
		}
		h, err := scanPNG(bytesInput(data))
		require.NoError(t, err)
		require.Equal(t, c.perPixel*100*50, h.memory)
	}
}

// opaque is a picture that says of itself that nothing in it is clear.
type opaque struct{ *image.NRGBA }

func (opaque) Opaque() bool { return true }

// TestCut: every format, cut short anywhere, gives its line; most cuts are
// told as cuts.
func TestCut(t *testing.T) {
	var tf bytes.Buffer
	require.NoError(t, tiff.Encode(&tf, quartered(160, 120), &tiff.Options{Compression: tiff.Deflate}))
	for name, data := range map[string][]byte{
		"JPEG": jpegBytes(t, noisy(160, 120), 90), "progressive": fixture(t, "progressive.jpg"), "PNG": pngBytes(t, noisy(160, 120)),
		"TIFF": tf.Bytes(), "WebP": fixture(t, "lossy.webp"), "lossless": fixture(t, "lossless.webp"), "HEIC": fixture(t, "plain.heic"),
	} {
		t.Run(name, func(t *testing.T) {
			cut := 0
			for _, share := range []float64{.01, .05, .1, .3, .5, .7, .9, .97} {
				n := max(1, int(share*float64(len(data))))
				_, err := decode(context.Background(), bytesInput(data[:n]), Limits{})
				var e *Error
				require.ErrorAs(t, err, &e, "the first %d bytes", n)
				require.NotEmpty(t, e.Reason)
				if e.Reason == "the picture is cut short" {
					cut++
				}
			}
			require.GreaterOrEqual(t, cut, 4)
		})
	}
	require.Equal(t, "the picture is cut short", reasonOf(t, jpegBytes(t, noisy(160, 120), 90)[:3000]))
}

func TestNoPicture(t *testing.T) {
	for data, want := range map[string]string{
		"Dear diary, the top is on the wall":                   "this is no picture",
		"BM\x00\x00\x00\x00":                                   "this is a BMP picture, which is not read",
		"%PDF-1.4":                                             "this is a PDF document, which is not read",
		strings.Repeat("\x00", 5000):                           "the file holds nothing but zeros",
		"\x00\x00\x00\x14ftypqt  \x00\x00\x00\x00qt  ":         "this is a film or a sound, no photo",
		"\x00\x00\x00\x18ftypavif\x00\x00\x00\x00mif1avif":     "this is an AVIF picture, which is not read",
		"II*\x00\x10\x00\x00\x00CR\x02\x00":                    "this is a camera's raw file, which is not read",
		"\xff\xd8\xff\xe0":                                     "the picture is cut short",
		"\xff\xd8\xff\xd9":                                     "the picture has no size",
		"GIF89a":                                               "this is a GIF picture, which is not read",
		"RIFF\x04\x00\x00\x00WEBP":                             "the picture is damaged",
		"\x89PNG\r\n\x1a\n":                                    "the picture is cut short",
		"II*\x00\x08\x00\x00\x00":                              "the picture is cut short",
		"\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic":     "the picture is cut short",
		"\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic\x00": "the picture is cut short",
	} {
		require.Equal(t, want, reasonOf(t, []byte(data)), "%.20q", data)
	}
	require.Equal(t, "the file is empty", reasonOf(t, nil))
	require.Equal(t, "this is a rare kind of JPEG (lossless, arithmetic or hierarchical), which is not read", reasonOf(t, fixture(t, "arithmetic.jpg")))
	twelve := jpegBytes(t, quartered(64, 48), 90)
	twelve[bytes.Index(twelve, []byte{0xff, 0xc0})+4] = 12
	require.Equal(t, "this is a rare kind of JPEG (12 bits a component), which is not read", reasonOf(t, twelve))
	raw := tiffBytes(binary.LittleEndian, [][]tiffField{{
		{tag: tagWidth, typ: 3, values: []uint32{8}}, {tag: tagLength, typ: 3, values: []uint32{8}}, {tag: tagDNGVersion, typ: 1, values: []uint32{1, 4, 0, 0}},
	}}, nil)
	require.Equal(t, "this is a camera's raw file, which is not read", reasonOf(t, raw))
	planes := tiffBytes(binary.LittleEndian, [][]tiffField{{
		{tag: tagWidth, typ: 3, values: []uint32{8}}, {tag: tagLength, typ: 3, values: []uint32{8}}, {tag: tagPlanar, typ: 3, values: []uint32{2}},
	}}, nil)
	require.Equal(t, "this is a rare kind of TIFF (colours one after the other), which is not read", reasonOf(t, planes))
	inks := tiffBytes(binary.LittleEndian, [][]tiffField{{
		{tag: tagWidth, typ: 3, values: []uint32{8}}, {tag: tagLength, typ: 3, values: []uint32{8}}, {tag: tagBits, typ: 3, values: []uint32{8, 8, 8, 8}},
		{tag: 262, typ: 3, values: []uint32{5}}, {tag: tagSamples, typ: 3, values: []uint32{4}},
	}}, nil)
	require.Equal(t, "this is a rare kind of TIFF (color model), which is not read", reasonOf(t, inks))
}

// TestManyScans: a progressive JPEG with thousands of scans is not begun.
func TestManyScans(t *testing.T) {
	file := fixture(t, "progressive.jpg")
	sos := bytes.LastIndex(file, []byte{0xff, 0xda})
	last := file[sos : len(file)-2]
	var b bytes.Buffer
	b.Write(file[:len(file)-2])
	for range 5000 {
		b.Write(last)
	}
	b.Write([]byte{0xff, 0xd9})
	require.Contains(t, reasonOf(t, b.Bytes()), "passes, more than any camera makes")
	// In a large picture fewer are enough; the usual ten never are.
	require.NotPanics(t, func() { decodeBytes(t, file) })
	large := append(bytes.Repeat(last, 30), 0xff, 0xd9)
	large = append(bytes.Clone(file[:len(file)-2]), large...)
	sof := bytes.Index(large, []byte{0xff, 0xc2})
	binary.BigEndian.PutUint16(large[sof+5:], 6000)
	binary.BigEndian.PutUint16(large[sof+7:], 8000)
	require.Contains(t, reasonOf(t, large), "passes, more than any camera makes")
}

// TestBombs: small files that unpack to much, or keep a reader busy.
func TestBombs(t *testing.T) {
	// A TIFF of a million tiles that all are the same bytes, and one whose
	// tile is far larger than its picture.
	tiled := func(w, h, tw, th uint32) []byte {
		return tiffBytes(binary.LittleEndian, [][]tiffField{{
			{tag: tagWidth, typ: 4, values: []uint32{w}}, {tag: tagLength, typ: 4, values: []uint32{h}},
			{tag: tagBits, typ: 3, values: []uint32{8}}, {tag: tagCompression, typ: 3, values: []uint32{8}}, {tag: 262, typ: 3, values: []uint32{1}},
			{tag: tagTileWidth, typ: 4, values: []uint32{tw}}, {tag: tagTileLength, typ: 4, values: []uint32{th}},
		}}, nil)
	}
	require.Equal(t, "the picture is damaged", reasonOf(t, tiled(9000, 9000, 8, 8)))
	require.Equal(t, "the picture is damaged", reasonOf(t, tiled(1, 90_000_000, 1024, 8)))
	require.Equal(t, "the picture is damaged", reasonOf(t, tiled(64, 64, 1<<31, 1<<31)))
	// One strip that may unpack to eight times what its picture holds.
	strip := tiffBytes(binary.LittleEndian, [][]tiffField{{
		{tag: tagWidth, typ: 4, values: []uint32{10000}}, {tag: tagLength, typ: 4, values: []uint32{9900}},
		{tag: tagBits, typ: 3, values: []uint32{8}}, {tag: tagCompression, typ: 3, values: []uint32{8}}, {tag: 262, typ: 3, values: []uint32{1}},
	}}, nil)
	require.Contains(t, reasonOf(t, strip), "of memory and the limit is 1024")
	// A PNG of nothing but empty chunks, and one whose chunk claims 2 GiB.
	file := pngBytes(t, quartered(64, 48))
	empty := []byte{0, 0, 0, 0, 't', 'E', 'X', 't', 0, 0, 0, 0}
	require.Equal(t, "the picture is damaged", reasonOf(t, append(file[:33:33], bytes.Repeat(empty, 200_000)...)))
	require.Equal(t, "the picture is cut short", reasonOf(t, append(file[:33:33], 0x7f, 0xff, 0xff, 0xff, 'i', 'C', 'C', 'P', 0, 0, 0, 0)))
	// A WebP whose piece claims more than there is.
	w := fixture(t, "lossy.webp")
	binary.LittleEndian.PutUint32(w[16:], 1<<31-20)
	require.Equal(t, "the picture is cut short", reasonOf(t, w))
	// One whose picture has no width: its alpha was once unpacked for 2^24.
	w = fixture(t, "alpha.webp")
	copy(w[bytes.Index(w, []byte{0x9d, 0x01, 0x2a})+3:], []byte{0, 0})
	require.Equal(t, "the picture has no size", reasonOf(t, w))
	// HEIC: places without bytes by the million, boxes in boxes without end,
	// tiles without number.
	iloc := append([]byte{1, 0, 0, 0, 0, 0, 0xff, 0xff}, bytes.Repeat([]byte{0, 1, 0, 0, 0, 0, 0xff, 0xff}, 60000)...)
	reasonOf(t, bytes.Join([][]byte{boxOf("ftyp", []byte("heic\x00\x00\x00\x00mif1heic")), boxOf("meta", be32(0), boxOf("iloc", iloc))}, nil))
	reasonOf(t, append(boxOf("ftyp", []byte("heic\x00\x00\x00\x00mif1heic")), bytes.Repeat([]byte{0, 0, 0, 8, 'f', 'r', 'e', 'e'}, 100_000)...))
	many := heicFrom(t, "plain.heic")
	many.cols, many.rows, many.gridW, many.gridH = 100, 50, 16000, 6000
	require.Equal(t, "this is a HEIC picture in 5000 tiles, which is not read", reasonOf(t, many.bytes()))
	// Its video stream broken in every place: never a panic, always an end.
	parts := heicFrom(t, "plain.heic")
	for i := 0; i < len(parts.tile); i += len(parts.tile)/12 + 1 {
		broken := parts
		broken.tile = bytes.Clone(parts.tile)
		broken.tile[i] ^= 0xff
		_, _ = decode(context.Background(), bytesInput(broken.bytes()), Limits{})
	}
	for i := 0; i < len(parts.config); i += 7 {
		broken := parts
		broken.config = bytes.Clone(parts.config)
		broken.config[i] ^= 0x5a
		_, _ = decode(context.Background(), bytesInput(broken.bytes()), Limits{})
	}
}

// TestOpen: a path that cannot be opened gives one clear line.
func TestOpen(t *testing.T) {
	dir := t.TempDir()
	write := func(name string, data []byte) string {
		path := filepath.Join(dir, name)
		require.NoError(t, os.WriteFile(path, data, 0o644))
		return path
	}
	good := write("good.jpg", jpegBytes(t, quartered(64, 48), 95))
	p, err := Open(context.Background(), good, Limits{})
	require.NoError(t, err)
	require.Equal(t, good, p.Name)
	requireQuarters(t, p.Picture, quarters)
	for path, want := range map[string]string{
		filepath.Join(dir, "none.jpg"): "there is no such file",
		filepath.Join(good, "inside"):  "the file cannot be read",
		dir:                            "this is a folder, not a photo",
		write("empty.jpg", nil):        "the file is empty",
		write("text.jpg", []byte("not a picture")):     "this is no picture",
		write("cut \"1\".jpg", []byte("\xff\xd8\xff")): "the picture is cut short",
	} {
		_, err := Open(context.Background(), path, Limits{})
		var e *Error
		require.ErrorAs(t, err, &e)
		require.Equal(t, want, e.Reason)
		require.Equal(t, path, e.Photo)
		require.NotEmpty(t, e.Hint)
		require.True(t, strings.HasPrefix(err.Error(), `"`), err.Error())
		require.True(t, strings.HasSuffix(err.Error(), `": `+want), err.Error())
	}
	_, err = Open(context.Background(), good, Limits{Bytes: 100})
	require.ErrorContains(t, err, "MiB and the limit is 0.0")
	if runtime.GOOS != "windows" {
		require.NoError(t, os.Symlink(filepath.Join(dir, "b"), filepath.Join(dir, "a")))
		require.NoError(t, os.Symlink(filepath.Join(dir, "a"), filepath.Join(dir, "b")))
		_, err = Open(context.Background(), filepath.Join(dir, "a"), Limits{})
		require.ErrorContains(t, err, "the file cannot be read")
		_, err = Open(context.Background(), os.DevNull, Limits{})
		require.ErrorContains(t, err, "this is not a file")
	}
}

// TestLargeFile: a file is read where it lies, however much lies behind its picture.
func TestLargeFile(t *testing.T) {
	path := filepath.Join(t.TempDir(), "large.tif")
	var b bytes.Buffer
	require.NoError(t, tiff.Encode(&b, quartered(96, 64), nil))
	require.NoError(t, os.WriteFile(path, b.Bytes(), 0o644))
	require.NoError(t, os.Truncate(path, 65<<20)) // zeros behind, taking no room
	p, err := Open(context.Background(), path, Limits{})
	require.NoError(t, err)
	requireQuarters(t, p.Picture, quarters)
}

// TestCancel: a stop is honoured before, and while decoding.
func TestCancel(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.jpg")
	require.NoError(t, os.WriteFile(path, jpegBytes(t, image.NewGray(image.Rect(0, 0, 4000, 3000)), 90), 0o644))
	ctx, cancel := context.WithCancel(context.Background())
	go func() {
		time.Sleep(time.Millisecond)
		cancel()
	}()
	_, err := Open(ctx, path, Limits{})
	require.ErrorIs(t, err, context.Canceled)
	_, err = Open(ctx, path, Limits{})
	require.ErrorIs(t, err, context.Canceled)
}

// TestStartsNothing: nothing that this package is built of can start another
// program.
func TestStartsNothing(t *testing.T) {
	out, err := exec.Command("go", "list", "-tags", "nodynamic", "-deps", ".").CombinedOutput()
	require.NoError(t, err, "%s", out)
	deps := strings.Fields(string(out))
	require.Contains(t, deps, "github.com/gen2brain/heic")
	require.NotContains(t, deps, "os/exec")
	for _, d := range deps {
		require.NotContains(t, d, "magick")
	}
}
