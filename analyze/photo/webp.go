package photo

import (
	"bytes"
	"context"
	"encoding/binary"
	"image"

	"golang.org/x/image/webp"
)

// manyWebPChunks is more than any writer of a still picture makes.
const manyWebPChunks = 4096

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
	end = min(end, in.size)
	h := &header{bits: 8, exifTurns: true, coding: video601}
	h.pixels = func(context.Context) (image.Image, error) { return webp.Decode(in.all()) }
	perPixel := int64(0)
	off := int64(12)
	for n := 0; off+8 <= end && n < manyWebPChunks; n++ {
		head := in.bytes(off, 8)
		if head == nil {
			return nil, errCut()
		}
		name, size := string(head[:4]), int64(binary.LittleEndian.Uint32(head[4:]))
		off += 8
		if size > end-off {
			return nil, errCut()
		}
		switch name {
		case "ANMF":
			return nil, errKind("an animated WebP picture")
		case "VP8X":
			b := in.bytes(off, min(size, 10))
			if len(b) < 10 {
				return nil, errDamaged()
			}
			// The decoder holds this size against the picture's own.
			h.width, h.height = 1+uint24(b[4:]), 1+uint24(b[7:])
		case "ICCP":
			if size > manyProfileBytes {
				h.note(brokenProfile)
				break
			}
			h.profile = in.bytes(off, size)
		case "EXIF":
			if size <= manyExifBytes {
				b := in.bytes(off, size)
				if bytes.HasPrefix(b, exifPrefix) && len(b) > 6 {
					b = b[6:] // as in JPEG; not by the book, but met with
				}
				h.exif = bytesInput(b)
			}
		case "ALPH":
			h.alpha = true
		case "VP8 ", "VP8L":
			if err := h.webpFrame(name, in.bytes(off, min(size, 10))); err != nil {
				return nil, err
			}
			perPixel = 2
			if name == "VP8L" || h.alpha {
				// VP8L keeps two pictures of 4 bytes while it undoes its transforms,
				// and alpha is packed the same way.
				perPixel += 12
			}
		}
		off += size + size&1
	}
	if perPixel == 0 {
		return nil, errDamaged()
	}
	h.memory = perPixel * int64(h.width) * int64(h.height)
	return h, nil
}

func uint24(b []byte) int { return int(b[0]) | int(b[1])<<8 | int(b[2])<<16 }

// webpFrame reads the size of a picture, where no chunk before it gave one, and
// whether some of it may be clear.
func (h *header) webpFrame(name string, b []byte) error {
	var width, height int
	switch {
	case name == "VP8 " && len(b) == 10 && b[0]&1 == 0 && bytes.Equal(b[3:6], []byte{0x9d, 0x01, 0x2a}):
		width = int(binary.LittleEndian.Uint16(b[6:])) & 0x3fff // RFC 6386, 9.1
		height = int(binary.LittleEndian.Uint16(b[8:])) & 0x3fff
	case name == "VP8L" && len(b) >= 5 && b[0] == 0x2f:
		bits := binary.LittleEndian.Uint32(b[1:]) // RFC 9649, 3.4
		width, height = 1+int(bits&0x3fff), 1+int(bits>>14&0x3fff)
		h.alpha = bits>>28&1 == 1
	default:
		return errDamaged()
	}
	if width == 0 || height == 0 {
		return errSizeless()
	}
	if h.width == 0 {
		h.width, h.height = width, height
	}
	return nil
}
