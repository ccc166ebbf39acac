package photo

import (
	"bufio"
	"context"
	"image"
	"image/draw"
	"image/gif"
	"io"
)

const firstFrame = "animated: the first frame was measured"

// scanGIF reads a GIF's screen and looks for a second frame (GIF89a, clauses
// 18 to 24).
func scanGIF(in *input) (*header, error) {
	r := bufio.NewReaderSize(in.all(), 64<<10)
	var b [13]byte
	if _, err := readFull(r, b[:]); err != nil {
		return nil, err
	}
	h := &header{bits: 8, alpha: true, coding: jfif,
		width: int(b[6]) | int(b[7])<<8, height: int(b[8]) | int(b[9])<<8}
	// An index a pixel, and R, G, B and alpha where the frame does not fill
	// the screen.
	h.memory = 5 * int64(h.width) * int64(h.height)
	h.pixels = func(context.Context) (image.Image, error) {
		img, err := gif.Decode(bufio.NewReader(in.all()))
		if err != nil {
			return nil, err
		}
		return onCanvas(img, h.width, h.height), nil
	}
	if n, err := gifFrames(r, b[10]); err != nil && n == 0 {
		return nil, err
	} else if n > 1 {
		h.note(firstFrame)
	}
	return h, nil
}

// gifFrames counts the frames, up to two.
func gifFrames(r *bufio.Reader, flags byte) (n int, err error) {
	if err := skipTable(r, flags); err != nil {
		return n, err
	}
	for n < 2 {
		b, err := r.ReadByte()
		if err != nil {
			return n, err
		}
		switch b {
		case 0x21: // an extension: a label, then blocks
			if _, err := r.Discard(1); err != nil {
				return n, err
			}
		case 0x2c: // a frame
			n++
			var d [9]byte
			if _, err := readFull(r, d[:]); err != nil {
				return n, err
			}
			if err := skipTable(r, d[8]); err != nil {
				return n, err
			}
			if _, err := r.Discard(1); err != nil { // the code size
				return n, err
			}
		default: // the trailer, or rubbish behind the picture
			return n, nil
		}
		if err := skipBlocks(r); err != nil {
			return n, err
		}
	}
	return n, nil
}

// skipTable passes over a colour table, if the flags tell of one.
func skipTable(r *bufio.Reader, flags byte) error {
	if flags&0x80 == 0 {
		return nil
	}
	_, err := r.Discard(3 << (flags&7 + 1))
	return err
}

// skipBlocks passes over data sub-blocks up to the empty one.
func skipBlocks(r *bufio.Reader) error {
	for {
		n, err := r.ReadByte()
		if err != nil || n == 0 {
			return err
		}
		if _, err := r.Discard(int(n)); err != nil {
			return err
		}
	}
}

// onCanvas lays a frame that does not fill the picture on a clear ground.
func onCanvas(img image.Image, w, h int) image.Image {
	r := image.Rect(0, 0, w, h)
	if img.Bounds() == r {
		return img
	}
	canvas := image.NewNRGBA(r)
	draw.Draw(canvas, img.Bounds(), img, img.Bounds().Min, draw.Src)
	return canvas
}

// readFull is io.ReadFull with one error for data that ends early.
func readFull(r io.Reader, b []byte) (int, error) {
	n, err := io.ReadFull(r, b)
	if err == io.EOF {
		err = io.ErrUnexpectedEOF
	}
	return n, err
}
