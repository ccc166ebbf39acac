package photo

import (
	"bufio"
	"bytes"
	"context"
	"fmt"
	"image"
	"image/jpeg"
	"io"
)

// JPEG markers, ITU-T T.81 table B.1.
const (
	markSOI   = 0xd8
	markEOI   = 0xd9
	markSOS   = 0xda
	markAPP1  = 0xe1
	markAPP2  = 0xe2
	markAPP14 = 0xee
)

// A progressive JPEG is decoded in scans, each of which goes over the whole
// picture; usual files have about ten. These bounds let through what cameras
// and editors write and stop files made to keep a decoder busy.
const (
	manyScans      = 500
	manyScanPixels = 1e9 // from the twentieth scan on, scans x pixels
)

// scanJPEG walks the segments of a JPEG up to its end, or up to its pixels
// when only its head is wanted, decoding nothing.
func scanJPEG(in *input) (*header, error) {
	s := &jpegScan{r: bufio.NewReaderSize(in.all(), 64<<10), headOnly: in.headOnly, h: &header{bits: 8, exifTurns: true, coding: jfif}}
	s.h.pixels = func(context.Context) (image.Image, error) { return jpeg.Decode(in.all()) }
	if err := s.walk(); err != nil {
		return nil, err
	}
	if s.h.width == 0 || s.h.height == 0 {
		return nil, errSizeless()
	}
	if s.scans > manyScans || s.scans > 20 && float64(s.scans)*float64(s.h.width)*float64(s.h.height) > manyScanPixels {
		return nil, skip(fmt.Sprintf("the picture is stored in %d passes, more than any camera makes", s.scans),
			"save the photo again as an ordinary JPEG")
	}
	s.h.profile = s.profile()
	s.h.memory = s.memory()
	return s.h, nil
}

type jpegScan struct {
	r        *bufio.Reader
	h        *header
	headOnly bool
	scans    int
	pieces   map[byte][]byte // of the profile, by number
	total    int             // pieces there should be

	progressive bool
	components  []byte // of the frame: number, sampling, table, one after the other
	adobe       []byte // APP14
}

// walk goes from marker to marker (T.81, B.1.1).
func (s *jpegScan) walk() error {
	s.r.Discard(2) // SOI, seen before
	for {
		marker, err := s.next()
		if err != nil {
			return err
		}
		switch {
		case marker == markEOI:
			return nil
		case marker == 0x01 || marker >= 0xd0 && marker <= markSOI:
			continue // they have no length
		}
		size, err := s.length()
		if err != nil {
			return err
		}
		switch {
		case marker == markSOS:
			s.scans++
			if s.h.width == 0 {
				return errDamaged() // pixels before the frame's header
			}
			if s.headOnly {
				return nil
			}
		case marker == markAPP1, marker == markAPP2, marker == markAPP14, isFrame(marker):
			data := make([]byte, size) // below 64 KiB
			if _, err := io.ReadFull(s.r, data); err != nil {
				return err
			}
			if err := s.segment(marker, data); err != nil {
				return err
			}
			continue
		}
		if n, err := s.r.Discard(size); n < size {
			return err
		}
	}
}

// next finds the next marker, over entropy-coded data and stray bytes alike.
func (s *jpegScan) next() (byte, error) {
	for {
		if _, err := s.r.ReadSlice(0xff); err == bufio.ErrBufferFull {
			continue
		} else if err != nil {
			return 0, err
		}
		b := byte(0xff)
		for b == 0xff {
			var err error
			if b, err = s.r.ReadByte(); err != nil {
				return 0, err
			}
		}
		if b != 0 && (b < 0xd0 || b > 0xd7) { // stuffing, restart
			return b, nil
		}
	}
}

// length reads a segment's length, without its own two bytes.
func (s *jpegScan) length() (int, error) {
	var b [2]byte
	if _, err := io.ReadFull(s.r, b[:]); err != nil {
		return 0, err
	}
	n := int(b[0])<<8 | int(b[1])
	if n < 2 {
		return 0, errDamaged()
	}
	return n - 2, nil
}

// isFrame tells the markers SOF0 to SOF15 from DHT, JPG and DAC among them.
func isFrame(m byte) bool { return m >= 0xc0 && m <= 0xcf && m != 0xc4 && m != 0xc8 && m != 0xcc }

var (
	exifPrefix    = []byte("Exif\x00")
	profilePrefix = []byte("ICC_PROFILE\x00")
)

func (s *jpegScan) segment(marker byte, data []byte) error {
	switch {
	case isFrame(marker):
		if s.h.width != 0 {
			return errDamaged() // a second frame
		}
		return s.frame(marker, data)
	case marker == markAPP14 && bytes.HasPrefix(data, []byte("Adobe")):
		s.adobe = data
	case marker == markAPP1 && bytes.HasPrefix(data, exifPrefix) && len(data) > 6 && s.h.exif == nil:
		s.h.exif = bytesInput(data[6:])
	case marker == markAPP2 && bytes.HasPrefix(data, profilePrefix) && len(data) > 14:
		// ICC.1:2022, annex B.4: a number, how many there are, a piece.
		if s.pieces == nil {
			s.pieces = map[byte][]byte{}
			s.total = int(data[13])
		}
		if _, twice := s.pieces[data[12]]; !twice {
			s.pieces[data[12]] = data[14:]
		}
	}
	return nil
}

// frame reads the frame's header (T.81, B.2.2).
func (s *jpegScan) frame(marker byte, data []byte) error {
	if len(data) < 6 {
		return errDamaged()
	}
	bits, n := int(data[0]), int(data[5])
	height, width := int(data[1])<<8|int(data[2]), int(data[3])<<8|int(data[4])
	switch {
	case width == 0 || height == 0:
		return errSizeless()
	case marker > 0xc2:
		return errKind("a rare kind of JPEG (lossless, arithmetic or hierarchical)")
	case bits != 8:
		return errKind(fmt.Sprintf("a rare kind of JPEG (%d bits a component)", bits))
	case n != 1 && n != 3 && n != 4:
		return errKind(fmt.Sprintf("a rare kind of JPEG (%d components)", n))
	case len(data) < 6+3*n:
		return errDamaged()
	}
	s.h.width, s.h.height = width, height
	s.progressive = marker == 0xc2
	s.components = data[6 : 6+3*n]
	for i := range n {
		if hv := s.components[3*i+1]; hv>>4 == 0 || hv&15 == 0 {
			return errDamaged()
		}
	}
	return nil
}

// memory is what image/jpeg takes: a byte a sample, 32 bits more for the
// coefficient of each in a progressive file, and a second picture of four
// bytes a pixel when the components are inks or red, green and blue.
func (s *jpegScan) memory() int64 {
	// How many samples there are for a pixel: each component against the
	// most finely sampled one.
	var most, sum int
	n := len(s.components) / 3
	ids := make([]byte, n)
	for i := range n {
		hv := s.components[3*i+1]
		a := int(hv>>4) * int(hv&15)
		most, sum = max(most, a), sum+a
		ids[i] = s.components[3*i]
	}
	perPixel := 1.0
	if n > 1 {
		perPixel = float64(sum) / float64(most)
	}
	if s.progressive {
		perPixel *= 5
	}
	if n == 4 || string(ids) == "RGB" || n == 3 && len(s.adobe) >= 12 && s.adobe[11] == 0 {
		perPixel += 4
	}
	return int64(perPixel * float64(s.h.width) * float64(s.h.height))
}

func (s *jpegScan) profile() []byte {
	if s.pieces == nil {
		return nil
	}
	var p []byte
	for i := 1; i <= s.total; i++ {
		piece, ok := s.pieces[byte(i)]
		if !ok || i > 255 {
			s.h.note(brokenProfile)
			return nil
		}
		p = append(p, piece...)
	}
	return p
}
