package scene

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"os"
	"path/filepath"

	"greige/colorspace"
)

// Write puts the photos into a folder under their names. The folder is made
// if it is missing; files of the same name are replaced.
func Write(dir string, shots ...Shot) error {
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return err
	}
	for _, s := range shots {
		if s.Name == "" || filepath.Base(s.Name) != s.Name {
			return fmt.Errorf("scene: %q is no file name", s.Name)
		}
		if err := os.WriteFile(filepath.Join(dir, s.Name), s.Data, 0o666); err != nil {
			return err
		}
	}
	return nil
}

// encode turns the upright picture into the camera's file.
func (c Camera) encode(upright image.Image, e exposure) ([]byte, error) {
	stored := oriented(upright, c.Orientation)
	exif := c.exif(e, stored.Bounds().Dx(), stored.Bounds().Dy())
	var icc []byte
	if c.Space == colorspace.DisplayP3 {
		icc = profile("Display P3", c.Space)
	}
	var out bytes.Buffer
	if c.Format == JPEG {
		q := c.Quality
		if q == 0 {
			q = 92
		}
		if err := jpeg.Encode(&out, stored, &jpeg.Options{Quality: q}); err != nil {
			return nil, err
		}
		return withSegments(out.Bytes(), exif, icc), nil
	}
	if err := (&png.Encoder{CompressionLevel: png.BestSpeed}).Encode(&out, stored); err != nil {
		return nil, err
	}
	return withChunks(out.Bytes(), exif, icc), nil
}

// withSegments puts EXIF (APP1) and profile (APP2) behind a JPEG's first
// marker.
func withSegments(file, exif, icc []byte) []byte {
	out := append([]byte(nil), file[:2]...)
	segment := func(marker byte, head string, data []byte) {
		if data == nil {
			return
		}
		out = append(out, 0xFF, marker)
		out = binary.BigEndian.AppendUint16(out, uint16(2+len(head)+len(data)))
		out = append(append(out, head...), data...)
	}
	segment(0xE1, "Exif\x00\x00", exif)
	segment(0xE2, "ICC_PROFILE\x00\x01\x01", icc)
	return append(out, file[2:]...)
}

// withChunks puts the profile (iCCP) and EXIF (eXIf) behind a PNG's header.
func withChunks(file, exif, icc []byte) []byte {
	const header = 8 + 25 // signature and IHDR
	out := append([]byte(nil), file[:header]...)
	chunk := func(kind string, data []byte) {
		out = binary.BigEndian.AppendUint32(out, uint32(len(data)))
		body := append([]byte(kind), data...)
		out = binary.BigEndian.AppendUint32(append(out, body...), crc32.ChecksumIEEE(body))
	}
	if icc != nil {
		var packed bytes.Buffer
		packed.WriteString("Display P3\x00\x00")
		z := zlib.NewWriter(&packed)
		z.Write(icc) // into memory: cannot fail
		z.Close()
		chunk("iCCP", packed.Bytes())
	}
	if exif != nil {
		chunk("eXIf", exif)
	}
	return append(out, file[header:]...)
}

// oriented is the picture as a camera held another way would store it, so
// that a reader who honours the EXIF orientation sees it upright.
func oriented(upright image.Image, orientation int) image.Image {
	if orientation <= 1 || orientation > 8 {
		return upright
	}
	b := upright.Bounds()
	w, h := b.Dx(), b.Dy()
	// from gives the upright place of a stored pixel.
	from := [9]func(x, y int) (int, int){
		2: func(x, y int) (int, int) { return w - 1 - x, y },
		3: func(x, y int) (int, int) { return w - 1 - x, h - 1 - y },
		4: func(x, y int) (int, int) { return x, h - 1 - y },
		5: func(x, y int) (int, int) { return y, x },
		6: func(x, y int) (int, int) { return w - 1 - y, x },
		7: func(x, y int) (int, int) { return w - 1 - y, h - 1 - x },
		8: func(x, y int) (int, int) { return y, h - 1 - x },
	}[orientation]
	bounds := image.Rect(0, 0, w, h)
	if orientation >= 5 {
		bounds = image.Rect(0, 0, h, w)
	}
	return view{upright, bounds, from}
}

// view is a picture whose pixels lie elsewhere in another.
type view struct {
	image.Image
	bounds image.Rectangle
	from   func(x, y int) (int, int)
}

func (v view) Bounds() image.Rectangle { return v.bounds }
func (v view) At(x, y int) color.Color { return v.Image.At(v.from(x, y)) }
