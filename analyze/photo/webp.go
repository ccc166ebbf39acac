package photo

import (
	"bytes"
	"context"
	"encoding/binary"
	"image"
	"image/draw"
	"io"

	"golang.org/x/image/webp"
)

// chunk is a piece of a RIFF file: its name and where its data lie.
type chunk struct {
	name      string
	off, size int64
}

// riffChunks lists the chunks between two offsets, at most most of them. A
// chunk that runs past the end is an error: the file is cut short.
func riffChunks(in *input, off, end int64, most int) ([]chunk, error) {
	var list []chunk
	for off+8 <= end && len(list) < most {
		head := in.bytes(off, 8)
		if head == nil {
			return list, errCut()
		}
		c := chunk{string(head[:4]), off + 8, int64(binary.LittleEndian.Uint32(head[4:]))}
		if c.size > end-c.off {
			return list, errCut()
		}
		list = append(list, c)
		off = c.off + c.size + c.size&1
	}
	return list, nil
}

// webpFrame is one picture of a WebP file.
type webpFrame struct {
	alpha, image  chunk // alpha has no name when there is none
	width, height int
	clear         bool // some of it may be clear
	at            image.Point
}

// scanWebP reads a WebP's chunks (RFC 9649).
func scanWebP(in *input) (*header, error) {
	head := in.bytes(0, 12)
	if head == nil {
		return nil, errCut()
	}
	end := int64(binary.LittleEndian.Uint32(head[4:])) + 8
	if end > in.size+1 { // some writers leave out the last padding byte
		return nil, errCut()
	}
	chunks, err := riffChunks(in, 12, min(end, in.size), 4096)
	if err != nil {
		return nil, err
	}
	h := &header{bits: 8, exifTurns: true, coding: video601}
	var frame *webpFrame
	var stills []chunk
	for _, c := range chunks {
		switch c.name {
		case "VP8X":
			b := in.bytes(c.off, min(c.size, 10))
			if len(b) < 10 {
				return nil, errDamaged()
			}
			h.width, h.height = 1+uint24(b[4:]), 1+uint24(b[7:])
		case "ICCP":
			if c.size > manyProfileBytes {
				h.note(brokenProfile)
				break
			}
			h.profile = in.bytes(c.off, c.size)
		case "EXIF":
			if c.size <= manyExifBytes {
				b := in.bytes(c.off, c.size)
				if bytes.HasPrefix(b, exifPrefix) && len(b) > 6 {
					b = b[6:] // as in JPEG; not by the book, but met with
				}
				h.exif = bytesInput(b)
			}
		case "ANMF":
			if frame == nil {
				if frame, err = webpAnimation(in, c); err != nil {
					return nil, err
				}
			} else {
				h.note(firstFrame)
			}
		case "ALPH", "VP8 ", "VP8L":
			stills = append(stills, c)
		}
	}
	if frame == nil {
		if frame, err = webpStill(in, stills); err != nil {
			return nil, err
		}
	}
	if h.width == 0 {
		h.width, h.height = frame.width, frame.height
	}
	if frame.at.X+frame.width > h.width || frame.at.Y+frame.height > h.height {
		return nil, errDamaged()
	}
	full := frame.width == h.width && frame.height == h.height
	h.alpha = frame.clear || !full
	h.memory = frame.perPixel(full) * int64(h.width) * int64(h.height)
	h.pixels = func(context.Context) (image.Image, error) {
		img, err := webp.Decode(frame.file(in))
		if err != nil || full {
			return img, err
		}
		return placeWebP(img, frame.at, h), nil
	}
	return h, nil
}

// perPixel is the bytes of memory that decoding takes for a pixel; full tells
// whether the frame fills the picture.
func (f *webpFrame) perPixel(full bool) int64 {
	// VP8L keeps two pictures of 4 bytes while it undoes its transforms, and
	// alpha is packed the same way.
	n := int64(2)
	if f.image.name == "VP8L" || f.alpha.name != "" {
		n += 12
	}
	if !full {
		n += 4
	}
	return n
}

func uint24(b []byte) int { return int(b[0]) | int(b[1])<<8 | int(b[2])<<16 }

// webpAnimation reads the first frame of an animation (RFC 9649, 2.7.1.1).
func webpAnimation(in *input, c chunk) (*webpFrame, error) {
	b := in.bytes(c.off, min(c.size, 16))
	if len(b) < 16 {
		return nil, errDamaged()
	}
	chunks, err := riffChunks(in, c.off+16, c.off+c.size, 64)
	if err != nil {
		return nil, err
	}
	f, err := webpStill(in, chunks)
	if err != nil {
		return nil, err
	}
	f.at = image.Pt(2*uint24(b), 2*uint24(b[3:]))
	if f.width != 1+uint24(b[6:]) || f.height != 1+uint24(b[9:]) {
		return nil, errDamaged()
	}
	return f, nil
}

// webpStill finds the picture and its alpha among chunks, and its size.
func webpStill(in *input, chunks []chunk) (*webpFrame, error) {
	f := &webpFrame{}
	for _, c := range chunks {
		switch c.name {
		case "ALPH":
			f.alpha = c
		case "VP8 ", "VP8L":
			f.image = c
			b := in.bytes(c.off, min(c.size, 10))
			switch {
			case c.name == "VP8 " && len(b) == 10 && b[0]&1 == 0 && bytes.Equal(b[3:6], []byte{0x9d, 0x01, 0x2a}):
				f.width = int(binary.LittleEndian.Uint16(b[6:])) & 0x3fff // RFC 6386, 9.1
				f.height = int(binary.LittleEndian.Uint16(b[8:])) & 0x3fff
				f.clear = f.alpha.name != ""
			case c.name == "VP8L" && len(b) >= 5 && b[0] == 0x2f:
				bits := binary.LittleEndian.Uint32(b[1:]) // RFC 9649, 3.4
				f.width, f.height = 1+int(bits&0x3fff), 1+int(bits>>14&0x3fff)
				f.clear = bits>>28&1 == 1
				f.alpha = chunk{}
			default:
				return nil, errDamaged()
			}
			if f.width == 0 || f.height == 0 {
				return nil, errSizeless()
			}
			return f, nil
		}
	}
	return nil, errDamaged()
}

// file is the frame as a WebP file of its own, without anything else that
// stood in its file.
func (f *webpFrame) file(in *input) io.Reader {
	var head []byte
	var parts []io.Reader
	add := func(c chunk) {
		head = append(head, c.name...)
		head = binary.LittleEndian.AppendUint32(head, uint32(c.size))
		parts = append(parts, bytes.NewReader(head), in.section(c.off, c.size))
		head = make([]byte, c.size&1)
	}
	size := 4 + 8 + f.image.size + f.image.size&1
	head = append(head, "WEBPVP8X\x0a\x00\x00\x00\x10\x00\x00\x00"...)
	for _, v := range []int{f.width - 1, f.height - 1} {
		head = append(head, byte(v), byte(v>>8), byte(v>>16))
	}
	if f.alpha.name == "" {
		head = []byte("WEBP")
	} else {
		size += 18 + 8 + f.alpha.size + f.alpha.size&1
		add(f.alpha)
	}
	add(f.image)
	riff := binary.LittleEndian.AppendUint32([]byte("RIFF"), uint32(size))
	return io.MultiReader(append(append([]io.Reader{bytes.NewReader(riff)}, parts...), bytes.NewReader(head))...)
}

// placeWebP lays a frame that does not fill the picture on a clear ground.
// Its colours are made here: image/draw would take the video range of WebP's
// luma for the full range of JPEG's.
func placeWebP(img image.Image, at image.Point, h *header) image.Image {
	canvas := image.NewNRGBA(image.Rect(0, 0, h.width, h.height))
	b := img.Bounds()
	dst := image.Rectangle{at, at.Add(b.Size())}
	if m, ok := img.(*image.NRGBA); ok {
		draw.Draw(canvas, dst, m, b.Min, draw.Src)
		return canvas
	}
	rows := rowsOf(img, h)
	codes := make([]uint16, 4*b.Dx())
	alpha := make([]uint16, b.Dx())
	for x := range alpha {
		alpha[x] = 255
	}
	for y := range b.Dy() {
		rows.read(y, codes, alpha)
		o := canvas.PixOffset(at.X, at.Y+y)
		for x := range b.Dx() {
			canvas.Pix[o] = uint8(codes[4*x])
			canvas.Pix[o+1] = uint8(codes[4*x+1])
			canvas.Pix[o+2] = uint8(codes[4*x+2])
			canvas.Pix[o+3] = uint8(alpha[x])
			o += 4
		}
	}
	return canvas
}
