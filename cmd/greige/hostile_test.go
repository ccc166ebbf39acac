package main

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/jpeg"
	"os"

	"github.com/rogpeppe/go-internal/testscript"
)

// breakPhoto writes a file of a kind that a program for photos must bear.
func breakPhoto(ts *testscript.TestScript, _ bool, args []string) {
	make, ok := map[string]func() []byte{
		"nothing":            func() []byte { return nil },
		"huge-png":           hugePNG,
		"huge-jpeg":          hugeJPEG,
		"huge-tiff":          hugeTIFF,
		"exif-loop":          func() []byte { return withSegment(0xe1, exifLoop()) },
		"wild-profile":       func() []byte { return withSegment(0xe2, wildProfile()) },
		"broken-heic":        brokenHEIC,
		"thousands-of-scans": thousandsOfScans,
		"gif":                func() []byte { return []byte("GIF89a\x01\x00\x01\x00") },
	}[args[1]]
	if !ok {
		ts.Fatalf("no file is broken that way: %s", args[1])
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), make(), 0o644))
}

// hugePNG is a PNG whose header promises 60,000 x 60,000 pixels.
func hugePNG() []byte {
	out := []byte("\x89PNG\r\n\x1a\n")
	chunk := func(kind string, body ...byte) {
		out = binary.BigEndian.AppendUint32(out, uint32(len(body)))
		body = append([]byte(kind), body...)
		out = binary.BigEndian.AppendUint32(append(out, body...), crc32.ChecksumIEEE(body))
	}
	chunk("IHDR", 0, 0, 0xea, 0x60, 0, 0, 0xea, 0x60, 8, 2, 0, 0, 0)
	chunk("IDAT", 0x78, 0x9c, 3, 0, 0, 0, 0, 1)
	chunk("IEND")
	return out
}

// hugeJPEG is a JPEG whose frame header does.
func hugeJPEG() []byte {
	data := small()
	at := bytes.Index(data, []byte{0xff, 0xc0})
	binary.BigEndian.PutUint16(data[at+5:], 60000)
	binary.BigEndian.PutUint16(data[at+7:], 60000)
	return data
}

// hugeTIFF is a TIFF whose directory does.
func hugeTIFF() []byte {
	var b bytes.Buffer
	b.WriteString("II*\x00\x08\x00\x00\x00")
	entries := [][2]uint32{{256, 60000}, {257, 60000}, {258, 8}, {259, 1}, {262, 1}, {273, 8}, {277, 1}, {278, 60000}, {279, 1 << 31}}
	binary.Write(&b, binary.LittleEndian, uint16(len(entries)))
	for _, e := range entries {
		binary.Write(&b, binary.LittleEndian, []uint16{uint16(e[0]), 4})
		binary.Write(&b, binary.LittleEndian, []uint32{1, e[1]})
	}
	binary.Write(&b, binary.LittleEndian, uint32(0))
	return b.Bytes()
}

// small is a sound JPEG of one grey.
func small() []byte {
	img := image.NewYCbCr(image.Rect(0, 0, 360, 280), image.YCbCrSubsampleRatio420)
	for i := range img.Y {
		img.Y[i] = 118
	}
	for i := range img.Cb {
		img.Cb[i], img.Cr[i] = 128, 128
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, nil); err != nil {
		panic(err)
	}
	return b.Bytes()
}

// withSegment is small with one more segment behind its first marker.
func withSegment(marker byte, body []byte) []byte {
	data := small()
	out := append([]byte{}, data[:2]...)
	out = append(out, 0xff, marker)
	out = binary.BigEndian.AppendUint16(out, uint16(len(body)+2))
	return append(append(out, body...), data[2:]...)
}

// exifLoop is a record whose directory names itself as the next one and as
// its own part.
func exifLoop() []byte {
	tiff := []byte("II*\x00\x08\x00\x00\x00\x01\x00")
	tiff = binary.LittleEndian.AppendUint16(tiff, 0x8769) // the EXIF directory
	tiff = binary.LittleEndian.AppendUint16(tiff, 4)
	tiff = binary.LittleEndian.AppendUint32(tiff, 1)
	tiff = binary.LittleEndian.AppendUint32(tiff, 8)
	tiff = binary.LittleEndian.AppendUint32(tiff, 8)
	return append([]byte("Exif\x00\x00"), tiff...)
}

// wildProfile is a colour profile whose tags lie far outside it.
func wildProfile() []byte {
	p := make([]byte, 128)
	copy(p[12:], "mntrRGB XYZ ")
	copy(p[36:], "acsp")
	p[8] = 4
	p = binary.BigEndian.AppendUint32(p, 3)
	for _, tag := range []string{"rXYZ", "gXYZ", "bTRC"} {
		p = append(p, tag...)
		p = binary.BigEndian.AppendUint32(p, 0xfffffff0)
		p = binary.BigEndian.AppendUint32(p, 0xffffff00)
	}
	binary.BigEndian.PutUint32(p, uint32(len(p)))
	return append([]byte("ICC_PROFILE\x00\x01\x01"), p...)
}

// brokenHEIC begins as one and then promises boxes that are not there.
func brokenHEIC() []byte {
	out := append([]byte{0, 0, 0, 24}, "ftypheic\x00\x00\x00\x00mif1heic"...)
	out = append(out, 0, 0, 0, 1) // the length follows in 64 bits
	out = append(out, "meta"...)
	return append(out, 0x7f, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xf0, 0, 0, 0, 0)
}

// thousandsOfScans is a JPEG that draws itself again and again.
func thousandsOfScans() []byte {
	data := small()
	at := bytes.Index(data, []byte{0xff, 0xda})
	scan := data[at : len(data)-2]
	out := append([]byte{}, data[:at]...)
	frame := bytes.Index(out, []byte{0xff, 0xc0})
	out[frame+1] = 0xc2 // progressive
	for range 20000 {
		out = append(out, scan...)
	}
	return append(out, 0xff, 0xd9)
}
