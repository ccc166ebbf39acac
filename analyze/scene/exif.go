package scene

import (
	"encoding/binary"
	"math"
	"sort"

	"greige/colorspace"
)

// EXIF tags that are written (CIPA DC-008, TIFF 6.0).
const (
	tagMake         = 0x010F
	tagModel        = 0x0110
	tagOrientation  = 0x0112
	tagExifIFD      = 0x8769
	tagExposureTime = 0x829A
	tagFNumber      = 0x829D
	tagProgram      = 0x8822
	tagSensitivity  = 0x8827
	tagVersion      = 0x9000
	tagTaken        = 0x9003
	tagShutter      = 0x9201
	tagAperture     = 0x9202
	tagBrightness   = 0x9203
	tagBias         = 0x9204
	tagMetering     = 0x9207
	tagColorSpace   = 0xA001
	tagPixelX       = 0xA002
	tagPixelY       = 0xA003
	tagExposureMode = 0xA402
	tagWhiteBalance = 0xA403
	tagLens         = 0xA434
)

// entry is one field of an image file directory, its value in bytes.
type entry struct {
	tag, kind uint16
	count     uint32
	value     []byte
}

var le = binary.LittleEndian

func ascii(tag uint16, s string) entry {
	return entry{tag, 2, uint32(len(s) + 1), append([]byte(s), 0)}
}

func short(tag uint16, v int) entry {
	return entry{tag, 3, 1, le.AppendUint16(nil, uint16(v))}
}

func long(tag uint16, v int) entry {
	return entry{tag, 4, 1, le.AppendUint32(nil, uint32(v))}
}

func rational(tag uint16, num, den int) entry {
	return entry{tag, 5, 1, le.AppendUint32(le.AppendUint32(nil, uint32(num)), uint32(den))}
}

// signed is a signed rational to four decimals.
func signed(tag uint16, v float64) entry {
	return entry{tag, 10, 1, le.AppendUint32(le.AppendUint32(nil, uint32(int32(math.Round(v*1e4)))), 10000)}
}

// directory lays out entries at an offset of the TIFF block, long values
// after them.
func directory(offset int, entries []entry) []byte {
	sort.Slice(entries, func(i, j int) bool { return entries[i].tag < entries[j].tag })
	out := le.AppendUint16(nil, uint16(len(entries)))
	spill := offset + 2 + 12*len(entries) + 4
	var more []byte
	for _, e := range entries {
		out = le.AppendUint16(out, e.tag)
		out = le.AppendUint16(out, e.kind)
		out = le.AppendUint32(out, e.count)
		if len(e.value) <= 4 {
			out = append(out, append(e.value, 0, 0, 0, 0)[:4]...)
			continue
		}
		out = le.AppendUint32(out, uint32(spill+len(more)))
		more = append(more, e.value...)
		if len(more)%2 == 1 {
			more = append(more, 0)
		}
	}
	return append(append(out, 0, 0, 0, 0), more...) // no further directory
}

// exif is the TIFF block of a photo's EXIF record; nil where the camera
// writes none. width and height are those of the file's pixels.
func (c Camera) exif(e exposure, width, height int) []byte {
	orientation := max(c.Orientation, 1)
	if c.Make == "" && c.Model == "" && orientation == 1 && c.Taken == "" {
		return nil
	}
	space := 1
	if c.Space != colorspace.SRGB {
		space = 0xFFFF // uncalibrated: see the profile
	}
	sub := []entry{
		{tagVersion, 7, 4, []byte("0230")},
		short(tagColorSpace, space), long(tagPixelX, width), long(tagPixelY, height),
	}
	if c.Lens != "" {
		sub = append(sub, ascii(tagLens, c.Lens))
	}
	if c.Taken != "" {
		sub = append(sub, ascii(tagTaken, c.Taken))
	}
	if e.seconds[1] > 0 {
		t := float64(e.seconds[0]) / float64(e.seconds[1])
		white, mode, program := 0, 0, 2
		if c.FixedWhite {
			white = 1
		}
		if c.Auto == 0 {
			mode, program = 1, 1
		}
		sub = append(sub,
			rational(tagExposureTime, e.seconds[0], e.seconds[1]),
			rational(tagFNumber, int(math.Round(e.fNumber*100)), 100),
			short(tagProgram, program), short(tagSensitivity, e.iso),
			signed(tagShutter, -math.Log2(t)),                                         // Tv
			rational(tagAperture, int(math.Round(2*math.Log2(e.fNumber)*1e4)), 10000), // Av
			// Bv = log2(L S / K) at ISO 3.125, where Sv is 0: L = K 2^Bv / 3.125.
			signed(tagBrightness, math.Log2(e.luminance*3.125/meterConstant)),
			signed(tagBias, c.Bias), short(tagMetering, 1),
			short(tagExposureMode, mode), short(tagWhiteBalance, white))
	}
	var first []entry
	if c.Make != "" {
		first = append(first, ascii(tagMake, c.Make))
	}
	if c.Model != "" {
		first = append(first, ascii(tagModel, c.Model))
	}
	first = append(first, short(tagOrientation, orientation), long(tagExifIFD, 0))
	at := 8 + len(directory(8, append([]entry(nil), first...)))
	first[len(first)-1] = long(tagExifIFD, at)
	block := append([]byte("II*\x00"), 8, 0, 0, 0)
	block = append(block, directory(8, first)...)
	return append(block, directory(at, sub)...)
}
