package photo

import (
	"bytes"
	"compress/zlib"
	"context"
	"encoding/binary"
	"image"
	"image/png"
	"io"
)

const (
	pngSignature = "\x89PNG\r\n\x1a\n"
	// Files have a chunk for every 8 KiB or more; only one made to keep us
	// busy has more than this.
	manyChunks = 1 << 17
	// No profile and no camera's record is as large as this.
	manyProfileBytes = 8 << 20
	manyExifBytes    = 1 << 20
)

// scanPNG walks the chunks of a PNG (PNG third edition, clause 5) and reads
// those that say how it is to be understood.
func scanPNG(in *input) (*header, error) {
	h := &header{exifTurns: true, coding: jfif}
	h.pixels = func(context.Context) (image.Image, error) { return png.Decode(in.all()) }
	var grey bool
	var points []byte // of ITU-T H.273
	off := int64(len(pngSignature))
	for range manyChunks {
		head := in.bytes(off, 8)
		if head == nil {
			return nil, errCut()
		}
		size, typ := int64(binary.BigEndian.Uint32(head)), string(head[4:])
		if size > in.size-off-12 {
			return nil, errCut()
		}
		if (typ == "IHDR") != (h.bits == 0) {
			return nil, errDamaged() // it comes first, and once
		}
		data := func(most int64) []byte { return in.bytes(off+8, min(size, most)) }
		switch typ {
		case "IHDR":
			b := data(13)
			if err := pngHeader(h, b); err != nil {
				return nil, err
			}
			grey = b[9] == 0
		case "iCCP":
			if h.profile = inflateProfile(data(manyProfileBytes)); h.profile == nil {
				h.note(brokenProfile)
			}
		case "eXIf":
			if size <= manyExifBytes {
				h.exif = bytesInput(data(size))
			}
		case "acTL":
			h.note("animated: the first frame was measured")
		case "tRNS":
			if grey && !h.alpha {
				h.memory *= 4 // one code becomes four
			}
			h.alpha = true
		case "cICP":
			points = data(4)
		case "IEND":
			if len(points) == 4 { // they count before a profile: clause 4.3, table 1
				sp, ok := codePointSpace(int(points[0]), int(points[1]))
				if h.space = sp; sp != nil {
					h.profile = nil
				}
				if !ok {
					h.note(unknownSpace)
				}
			}
			return h, nil
		}
		off += size + 12
	}
	return nil, errDamaged()
}

// pngHeader reads IHDR and tells what image/png will make of it.
func pngHeader(h *header, b []byte) error {
	if len(b) < 13 {
		return errDamaged()
	}
	w, ht := binary.BigEndian.Uint32(b), binary.BigEndian.Uint32(b[4:])
	if w == 0 || ht == 0 || w > 1<<31-1 || ht > 1<<31-1 {
		return errSizeless()
	}
	h.width, h.height, h.bits = int(w), int(ht), int(b[8])
	perPixel := 1.0
	switch b[9] { // colour type
	case 0:
	case 2:
		perPixel = 4
	case 3:
		h.bits = 8 // of the palette's colours
		h.alpha = true
	case 4, 6:
		h.alpha = true
		perPixel = 4
	default:
		return errDamaged()
	}
	if h.bits == 0 {
		return errDamaged()
	}
	if b[8] == 16 {
		perPixel *= 2
	}
	if b[12] == 1 {
		perPixel *= 1.5 // interlaced: a pass of up to half of it beside the picture
	}
	h.memory = int64(perPixel * float64(h.width) * float64(h.height))
	return nil
}

// inflateProfile unpacks what an iCCP chunk holds: a name, a method, ICC.
func inflateProfile(b []byte) []byte {
	i := bytes.IndexByte(b, 0)
	if i < 0 || i > 79 || i+2 > len(b) || b[i+1] != 0 {
		return nil
	}
	z, err := zlib.NewReader(bytes.NewReader(b[i+2:]))
	if err != nil {
		return nil
	}
	defer z.Close()
	p, err := io.ReadAll(io.LimitReader(z, manyProfileBytes+1))
	if err != nil || len(p) > manyProfileBytes {
		return nil
	}
	return p
}
