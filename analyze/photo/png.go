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
	var c pngColour
	var grey bool
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
			h.note(firstFrame)
		case "tRNS":
			if grey && !h.alpha {
				h.memory *= 4 // one code becomes four
			}
			h.alpha = true
		case "cICP", "sRGB", "gAMA", "cHRM":
			c.chunk(typ, data(32))
		case "IEND":
			if h.profile == nil || c.cicp != nil {
				// The order in which they count: clause 4.3, table 1.
				h.space = c.space(h)
				if h.space != nil {
					h.profile = nil
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

// pngColour is what a PNG's own chunks say of its colours.
type pngColour struct {
	cicp  []byte
	srgb  bool
	gamma float64    // the decoding exponent; 0 when not given
	lines *[8]uint32 // white, red, green, blue; x, y times 100,000
}

func (c *pngColour) chunk(typ string, b []byte) {
	switch {
	case typ == "cICP" && len(b) >= 4:
		c.cicp = b[:4]
	case typ == "sRGB":
		c.srgb = true
	case typ == "gAMA" && len(b) >= 4:
		if g := binary.BigEndian.Uint32(b); g >= 10000 && g <= 1000000 {
			c.gamma = 100000 / float64(g)
		}
	case typ == "cHRM" && len(b) >= 32:
		c.lines = new([8]uint32)
		for i := range c.lines {
			c.lines[i] = binary.BigEndian.Uint32(b[4*i:])
		}
	}
}

// space is what the chunks amount to; nil for sRGB or when they say nothing.
func (c *pngColour) space(h *header) *space {
	if c.cicp != nil {
		if sp, ok := codePointSpace(int(c.cicp[0]), int(c.cicp[1])); ok {
			return sp
		}
		h.note(unknownSpace)
	}
	if c.srgb || c.gamma == 0 && c.lines == nil {
		return nil
	}
	var p primariesXY
	if c.lines != nil {
		for i, v := range c.lines {
			p[i/2][i%2] = float64(v) / 100000
		}
	}
	sp, ok := chunkSpace(c.gamma, p)
	if !ok {
		h.note(unknownSpace)
	}
	return sp
}
