package photo

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"testing"

	"github.com/stretchr/testify/require"
)

// benchJPEG is a photo-like JPEG of 12 megapixels, 4:2:0: slow shades with a
// weave and the noise of a phone.
func benchJPEG(b *testing.B) []byte {
	const w, h = 4032, 3024
	m := image.NewRGBA(image.Rect(0, 0, w, h))
	seed := uint32(1)
	for y := range h {
		for x := range w {
			seed = seed*1664525 + 1013904223
			n := int(seed>>24)/16 - 8 + (x/3+y/3)%2*10
			i := m.PixOffset(x, y)
			m.Pix[i] = uint8(40 + x*150/w + n)
			m.Pix[i+1] = uint8(60 + y*120/h + n)
			m.Pix[i+2] = uint8(200 - x*100/w + n)
			m.Pix[i+3] = 255
		}
	}
	var buf bytes.Buffer
	require.NoError(b, jpeg.Encode(&buf, m, &jpeg.Options{Quality: 90}))
	return buf.Bytes()
}

// BenchmarkJPEG12 tells the stages of one 12-megapixel photo: decoding alone,
// the reduction alone (wanted: at most 0.15 of decoding) and all of it.
func BenchmarkJPEG12(b *testing.B) {
	data := benchJPEG(b)
	img, err := jpeg.Decode(bytes.NewReader(data))
	require.NoError(b, err)
	b.Run("decode", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			if _, err := jpeg.Decode(bytes.NewReader(data)); err != nil {
				b.Fatal(err)
			}
		}
	})
	for _, k := range []int{2, 4} {
		b.Run(fmt.Sprintf("reduce/%d", k), func(b *testing.B) {
			h, err := scanJPEG(bytesInput(data))
			require.NoError(b, err)
			h.spare = &Spare{}
			b.ReportAllocs()
			for b.Loop() {
				p, err := reduce(img, h, srgbSpace(), k)
				if err != nil {
					b.Fatal(err)
				}
				h.spare.Keep(p)
			}
		})
	}
	b.Run("scan", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			if _, err := scanJPEG(bytesInput(data)); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("whole", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			if _, err := decode(context.Background(), bytesInput(data), Limits{}); err != nil {
				b.Fatal(err)
			}
		}
	})
}

// BenchmarkReduce tells the reduction of 3 megapixels of each kind of decoded
// picture.
func BenchmarkReduce(b *testing.B) {
	r := image.Rect(0, 0, 2016, 1512)
	ycbcr := func(s image.YCbCrSubsampleRatio) image.Image {
		m := image.NewYCbCr(r, s)
		for i := range m.Y {
			m.Y[i] = uint8(i * 7)
		}
		for i := range m.Cb {
			m.Cb[i], m.Cr[i] = uint8(100+i%50), uint8(110+i%40)
		}
		return m
	}
	paletted := image.NewPaletted(r, color.Palette{color.Black, color.White})
	for _, c := range []struct {
		name string
		img  image.Image
	}{
		{"YCbCr420", ycbcr(image.YCbCrSubsampleRatio420)},
		{"YCbCr422", ycbcr(image.YCbCrSubsampleRatio422)},
		{"YCbCr444", ycbcr(image.YCbCrSubsampleRatio444)},
		{"RGBA", image.NewRGBA(r)},
		{"Gray", image.NewGray(r)},
		{"NRGBA", image.NewNRGBA(r)},
		{"RGBA64", image.NewRGBA64(r)},
		{"CMYK", image.NewCMYK(r)},
		{"Paletted", paletted},
	} {
		for _, k := range []int{1, 2, 5} {
			b.Run(c.name+"/"+string(rune('0'+k)), func(b *testing.B) {
				h := &header{width: r.Dx(), height: r.Dy(), coding: jfif}
				_, h.alpha = c.img.(*image.NRGBA)
				sp := usualSpace(c.img)
				b.ReportAllocs()
				b.SetBytes(int64(r.Dx() * r.Dy()))
				for b.Loop() {
					if _, err := reduce(c.img, h, sp, k); err != nil {
						b.Fatal(err)
					}
				}
			})
		}
	}
}

// BenchmarkShow tells what the page needs of a working picture of 2
// megapixels.
func BenchmarkShow(b *testing.B) {
	p := testPicture(1600, 1200)
	b.Run("Within", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			p.Within(1000)
		}
	})
	b.Run("RGBA", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			p.RGBA()
		}
	})
	b.Run("Grey", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			p.Grey()
		}
	})
}

// BenchmarkHEIC tells one HEIC of 1,600 x 1,200 pixels in 100 tiles.
func BenchmarkHEIC(b *testing.B) {
	parts := heicFrom(b, "plain.heic")
	parts.cols, parts.rows, parts.gridW, parts.gridH = 10, 10, 1600, 1200
	data := parts.bytes()
	b.ReportAllocs()
	for b.Loop() {
		if _, err := decode(context.Background(), bytesInput(data), Limits{}); err != nil {
			b.Fatal(err)
		}
	}
}
