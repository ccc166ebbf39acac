package photo

import (
	"bytes"
	"context"
	"encoding/binary"
	"image"
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"golang.org/x/image/tiff"

	"greige/colorspace"
)

// The fuzz targets: the whole way from bytes to picture, and each reader of
// our own. What is wanted everywhere: no panic, an end, no memory beyond the
// bounds, and figures that are numbers.

// fuzzLimits keep one run short.
var fuzzLimits = Limits{Megapixels: .2, Bytes: 1 << 20}

func seeds(f *testing.F) map[string][]byte {
	var tf bytes.Buffer
	require.NoError(f, tiff.Encode(&tf, quartered(20, 16), &tiff.Options{Compression: tiff.Deflate, Predictor: true}))
	exif := exifOf(f, binary.LittleEndian, []tiffField{{tag: tagOrientation, typ: 3, values: []uint32{6}}},
		[]tiffField{{tag: tagExposureTime, typ: 5, values: []uint32{1, 60}}})
	m := map[string][]byte{
		"tiff": tf.Bytes(), "exif": exif,
		"grey":  pngBytes(f, image.NewGray16(image.Rect(0, 0, 9, 7))),
		"png":   pngProfile(f, pngBytes(f, quartered(20, 16)), rgbProfile(colorspace.DisplayP3, srgbCurveTag(), "P3")),
		"table": pngProfile(f, pngBytes(f, quartered(20, 16)), rgbTable()),
		"jpeg":  jpegProfile(jpegBytes(f, quartered(20, 16), 90), rgbProfile(colorspace.AdobeRGB, gammaTag(563), "A"), 300),
		"apng":  pngWith(pngBytes(f, quartered(8, 8)), "acTL", make([]byte, 8)),
	}
	for _, name := range []string{"progressive.jpg", "cmyk.jpg", "rgb.jpg", "lossy.webp", "lossless.webp", "alpha.webp", "animated.webp", "plain.heic"} {
		m[name] = fixture(f, name)
	}
	return m
}

func FuzzDecode(f *testing.F) {
	for _, data := range seeds(f) {
		f.Add(data)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		if kindOf(data).format == "HEIC" {
			return // FuzzHEIC; its decoder is a sandbox, and slow
		}
		p, err := decode(context.Background(), bytesInput(data), fuzzLimits)
		if err != nil {
			var e *Error
			require.ErrorAs(t, err, &e)
			require.NotEmpty(t, e.Reason)
			require.NotEmpty(t, e.Hint)
			return
		}
		require.Len(t, p.Picture.Pix, 3*p.Picture.W*p.Picture.H)
		require.LessOrEqual(t, float64(p.Width)*float64(p.Height), 1e6*fuzzLimits.Megapixels)
		for _, v := range p.Picture.Pix {
			if math.IsNaN(float64(v)) || math.Abs(float64(v)) > 1e6 {
				t.Fatalf("light of %v", v)
			}
		}
	})
}

// fuzzScan is the target of one format's header reader.
func fuzzScan(f *testing.F, format string, scan func(*input) (*header, error)) {
	for _, data := range seeds(f) {
		if kindOf(data).format == format {
			f.Add(data)
		}
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		h, err := scan(bytesInput(data))
		if err != nil {
			require.Nil(t, h)
			return
		}
		require.NotNil(t, h.pixels)
		if h.check(Limits{}.withDefaults()) == nil {
			require.Positive(t, h.width)
			require.Positive(t, h.height)
			require.GreaterOrEqual(t, h.memory, int64(0))
		}
		readRecord(h)
	})
}

func FuzzJPEG(f *testing.F) { fuzzScan(f, "JPEG", scanJPEG) }
func FuzzPNG(f *testing.F)  { fuzzScan(f, "PNG", scanPNG) }
func FuzzWebP(f *testing.F) { fuzzScan(f, "WebP", scanWebP) }
func FuzzTIFF(f *testing.F) { fuzzScan(f, "TIFF", scanTIFF) }

func FuzzHEIC(f *testing.F) {
	grid := heicFrom(f, "plain.heic")
	grid.cols, grid.rows, grid.gridW, grid.gridH = 2, 2, 300, 200
	grid.exif = orientationExif(6)
	grid.properties = [][]byte{colr(12, 13, 6, true), boxOf("irot", []byte{1}), boxOf("clap", be32(80, 1, 60, 1, 0, 1, 0, 1))}
	f.Add(grid.bytes())
	for _, name := range []string{"odd.heic", "video709.heic", "alpha.heic", "ten.heic"} {
		f.Add(fixture(f, name))
	}
	fuzzScan(f, "HEIC", scanHEIC)
}

func FuzzSequence(f *testing.F) {
	for _, name := range []string{"plain.heic", "video709.heic", "ten.heic", "grey.heic"} {
		f.Add(heicFrom(f, name).config)
	}
	f.Fuzz(func(t *testing.T, record []byte) {
		if s, ok := readSequence(parameterSet(record)); ok {
			require.Positive(t, s.width)
			require.Positive(t, s.height)
		}
	})
}

func FuzzRecord(f *testing.F) {
	for o := 1; o <= 8; o++ {
		f.Add(orientationExif(o))
	}
	f.Add(tiffBytes(binary.BigEndian, [][]tiffField{
		{{tag: tagMake, typ: 2, text: "Maker"}},
		{{tag: tagExposureTime, typ: 5, values: []uint32{1, 60}}, {tag: tagBrightnessValue, typ: 10, values: []uint32{1, 60}}},
		{{tag: tagInteroperabilityID, typ: 2, text: "R03"}},
	}, []uint16{tagExif, tagInteroperability}))
	f.Fuzz(func(t *testing.T, exif []byte) {
		r, turned := readRecord(&header{exif: bytesInput(exif)})
		if turned {
			require.True(t, r.orientation >= 1 && r.orientation <= 8)
		}
		for _, v := range []float64{r.ExposureTime, r.FNumber, r.Sensitivity, r.Bias, r.Brightness} {
			require.False(t, math.IsNaN(v) || math.IsInf(v, 0))
		}
	})
}

func FuzzProfile(f *testing.F) {
	f.Add(rgbProfile(colorspace.DisplayP3, srgbCurveTag(), "P3"))
	f.Add(rgbProfile(colorspace.AdobeRGB, gammaTag(563), "A"))
	f.Add(rgbTable())
	f.Add(inkTable())
	f.Fuzz(func(t *testing.T, profile []byte) {
		for _, channels := range []int{1, 3, 4} {
			sp, err := profileSpace(profile, channels)
			if err != nil {
				continue
			}
			if sp.converter != nil {
				convert := sp.converter()
				for _, v := range []float64{0, .3, 1} {
					func() {
						// reduce catches what a profile does later.
						defer func() { _ = recover() }()
						for _, l := range convert(&[4]float64{v, 1 - v, v, v}) {
							fixed(l)
						}
					}()
				}
				continue
			}
			for c := range 3 {
				fixed(sp.curve[c](.5))
			}
		}
	})
}

func FuzzWindow(f *testing.F) {
	f.Add(be32(80, 1, 60, 1, 0, 1, 0, 1), 160, 120)
	f.Fuzz(func(t *testing.T, b []byte, w, h int) {
		if w < 1 || h < 1 || w > 1<<20 || h > 1<<20 {
			return
		}
		r := cleanAperture(&cursor{b: b}, w, h)
		require.True(t, r.Empty() || r.In(image.Rect(0, 0, w, h)))
	})
}
