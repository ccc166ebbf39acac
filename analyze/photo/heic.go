package photo

import (
	"bytes"
	"context"
	"encoding/binary"
	"fmt"
	"image"
	"maps"
	"runtime"
	"slices"
	"time"

	"github.com/gen2brain/heic"
	"golang.org/x/sync/errgroup"
)

// A HEIC photo is a grid of tiles, or one piece. This file reads the boxes
// itself and hands the decoder one tile at a time, as a small clean file:
// tiles decode side by side, a stop is honoured between them, no broken box
// reaches the decoder, and memory stays that of a tile. (Given a whole photo
// the decoder takes some 48 bytes a pixel, 2.3 GiB for 48 megapixels.)

const (
	// heicBytesPerPixel is the decoder's memory at its peak, as measured.
	heicBytesPerPixel = 48
	manyTiles         = 2048
	// The decoder lays out planes narrower than 64 samples in a way that its
	// Go side does not know; 49 are rounded up to 64 by both.
	narrowestPlane = 49
)

// heif is a HEIC file's picture as its boxes tell of it.
type heif struct {
	in         *input
	box        *container
	tiles      []int64 // items, row by row
	cols, rows int
	tileW      int
	tileH      int
	chroma     int
	bits       int
	width      int // before cropping and turning
	height     int
	crop       image.Rectangle
}

// scanHEIC reads a HEIC's boxes (ISO/IEC 23008-12).
func scanHEIC(in *input) (*header, error) {
	c, err := readContainer(in)
	if err != nil {
		return nil, err
	}
	f := &heif{in: in, box: c}
	if err := f.layout(); err != nil {
		return nil, err
	}
	h := &header{bits: 8}
	seq, ok := readSequence(parameterSet(c.property(f.tiles[0], "hvcC")))
	if !ok {
		return nil, errDamaged()
	}
	if seq.width != f.tileW || seq.height != f.tileH || seq.codedWidth > f.tileW+256 || seq.coded > f.tileH+256 {
		return nil, errDamaged()
	}
	h.bits, f.bits, f.chroma = seq.bits, seq.bits, seq.chroma
	across := f.tileW
	if f.chroma == 1 || f.chroma == 2 {
		across = (f.tileW + 1) / 2
	}
	if f.chroma == 0 && seq.bits > 8 {
		return nil, errKind("a rare kind of HEIC (grey of more than 8 bits)")
	}
	if across < narrowestPlane || f.tileH < 2 || len(f.tiles) > 1 && (f.tileW%2 != 0 || f.tileH%2 != 0) {
		return nil, errKind("a very narrow or oddly divided HEIC picture")
	}
	if err := f.turn(h); err != nil {
		return nil, err
	}
	f.colours(h, seq)
	f.record(h)
	workers := int64(min(runtime.GOMAXPROCS(0), len(f.tiles)))
	h.memory = 3*int64(f.width)*int64(f.height) + heicBytesPerPixel*workers*int64(f.tileW)*int64(f.tileH)
	h.width, h.height = f.crop.Dx(), f.crop.Dy()
	h.pixels = f.pixels
	return h, nil
}

// layout finds the primary picture and the tiles that it is made of (6.6).
func (f *heif) layout() error {
	c, id := f.box, f.box.primary
	kindOfItem := func(t string) error {
		switch t {
		case "hvc1", "grid":
			return nil
		case "av01":
			return errKind("an AVIF picture")
		case "":
			return errDamaged()
		}
		return errKind(fmt.Sprintf("a rare kind of HEIC (%q)", cleanText(t, 4)))
	}
	if err := kindOfItem(c.items[id]); err != nil {
		return err
	}
	var ok bool
	if c.items[id] == "hvc1" {
		f.tiles, f.cols, f.rows = []int64{id}, 1, 1
		if f.tileW, f.tileH, ok = c.sizeOf(id); !ok {
			return errSizeless()
		}
		f.width, f.height = f.tileW, f.tileH
		return nil
	}
	r := cursor{b: c.bytesOf(f.in, id, 64)}
	r.number(1)
	long := r.number(1)&1 == 1
	f.rows, f.cols = 1+int(r.number(1)), 1+int(r.number(1))
	size := 2
	if long {
		size = 4
	}
	f.width, f.height = int(r.number(size)), int(r.number(size))
	f.tiles = c.from[id]
	if r.past || len(f.tiles) != f.rows*f.cols {
		return errDamaged()
	}
	if f.width == 0 || f.height == 0 {
		return errSizeless()
	}
	if len(f.tiles) > manyTiles {
		return errKind(fmt.Sprintf("a HEIC picture in %d tiles", len(f.tiles)))
	}
	if f.tileW, f.tileH, ok = c.sizeOf(f.tiles[0]); !ok {
		return errDamaged()
	}
	// The tiles cover the picture, none of them in vain.
	if int64(f.cols)*int64(f.tileW) < int64(f.width) || int64(f.cols-1)*int64(f.tileW) >= int64(f.width) ||
		int64(f.rows)*int64(f.tileH) < int64(f.height) || int64(f.rows-1)*int64(f.tileH) >= int64(f.height) {
		return errDamaged()
	}
	first := c.property(f.tiles[0], "hvcC")
	for _, t := range f.tiles {
		if c.items[t] != "hvc1" {
			return kindOfItem(c.items[t])
		}
		if w, h, ok := c.sizeOf(t); !ok || w != f.tileW || h != f.tileH {
			return errDamaged()
		}
		if !bytes.Equal(c.property(t, "hvcC"), first) {
			return errKind("a rare kind of HEIC (tiles of different kinds)")
		}
	}
	return nil
}

// turn follows the cropping, turning and mirroring that the file asks for, in
// its order (6.5.8 to 6.5.12). EXIF's orientation does not count in HEIC.
func (f *heif) turn(h *header) error {
	f.crop = image.Rect(0, 0, f.width, f.height)
	for _, b := range f.box.propertiesOf(f.box.primary) {
		r := cursor{b: b.body}
		switch b.typ {
		case "irot": // quarters counter-clockwise
			h.orientation = h.orientation.then([4]orientation{1, 8, 3, 6}[r.number(1)&3])
		case "imir": // 0 exchanges top and bottom, 1 left and right
			h.orientation = h.orientation.then([2]orientation{4, 2}[r.number(1)&1])
		case "clap":
			if h.orientation > 1 {
				return errKind("a rare kind of HEIC (cropped after turning)")
			}
			f.crop = cleanAperture(&r, f.width, f.height)
		}
	}
	if f.crop.Empty() {
		return errSizeless()
	}
	return nil
}

// cleanAperture is the part of a picture that "clap" leaves (14496-12,
// 12.1.4): a size, and how far its middle lies from the picture's.
func cleanAperture(r *cursor, w, h int) image.Rectangle {
	ratio := func() float64 {
		n, d := int32(r.number(4)), int32(r.number(4))
		if d == 0 {
			r.past = true
			return 0
		}
		return float64(n) / float64(d)
	}
	cw, ch, dx, dy := ratio(), ratio(), ratio(), ratio()
	full := image.Rect(0, 0, w, h)
	left, top := (float64(w)-cw)/2+dx, (float64(h)-ch)/2+dy
	if r.past || cw < 1 || ch < 1 || left < -.5 || top < -.5 {
		return full
	}
	at := image.Pt(int(left+.5), int(top+.5))
	return image.Rectangle{at, at.Add(image.Pt(int(cw+.5), int(ch+.5)))}.Intersect(full)
}

// colours reads the colour information: the profile, the code points, or what
// the video stream says of itself. Where nothing is said ISO/IEC 23000-22
// (MIAF), 7.3.6.4, takes sRGB and the full range (from memory).
func (f *heif) colours(h *header, seq sequence) {
	primaries, curve := seq.primaries, seq.curve
	matrix, full := seq.matrix, seq.fullRange
	if matrix < 0 {
		matrix = 2
	}
	ids := []int64{f.box.primary, f.tiles[0]}
	for i, id := range ids {
		if i > 0 && id == ids[0] {
			break
		}
		for _, b := range f.box.propertiesOf(id) {
			if b.typ != "colr" || len(b.body) < 4 {
				continue
			}
			switch string(b.body[:4]) {
			case "prof", "rICC":
				if h.profile == nil && len(b.body) <= manyProfileBytes {
					h.profile = b.body[4:]
				}
			case "nclx":
				r := cursor{b: b.body[4:]}
				p, c, m, range_ := r.number(2), r.number(2), r.number(2), r.number(1)
				if r.past {
					continue
				}
				// The picture's own come first; what they leave open the
				// stream may say.
				if i == 0 || primaries == 2 {
					primaries, curve = int(p), int(c)
				}
				if m != 2 {
					matrix, full = int(m), range_&0x80 != 0
				}
			}
		}
	}
	var known bool
	if h.coding, known = codingFor(matrix, full); !known {
		h.note(unknownSpace)
	}
	if h.profile == nil {
		if sp, ok := codePointSpace(primaries, curve); ok {
			h.space = sp
		} else {
			h.note(unknownSpace)
		}
	}
}

// record finds the camera's record, and notes what is left out.
func (f *heif) record(h *header) {
	ids := slices.Sorted(maps.Keys(f.box.describes))
	for _, id := range ids {
		if f.box.items[id] != "Exif" || f.box.describes[id] != f.box.primary || h.exif != nil {
			continue
		}
		// Four bytes tell how far behind them TIFF's structure begins (A.2.1).
		b := f.box.bytesOf(f.in, id, manyExifBytes)
		if len(b) < 4 {
			continue
		}
		if skip := int64(binary.BigEndian.Uint32(b)); skip < int64(len(b)-4) {
			h.exif = bytesInput(b[4+skip:])
		}
	}
	for _, b := range f.box.properties {
		if b.typ == "auxC" && (bytes.Contains(b.body, []byte("auxid:1")) || bytes.Contains(b.body, []byte("auxiliary:alpha"))) {
			h.note("parts of the picture are marked as clear; they were measured like the rest")
		}
	}
}

func (f *heif) pixels(ctx context.Context) (image.Image, error) {
	d := heicDecoding{f: f}
	if f.chroma == 0 {
		d.grey = image.NewGray(image.Rect(0, 0, f.cols*f.tileW, f.rows*f.tileH))
	} else {
		ratio := [4]image.YCbCrSubsampleRatio{1: image.YCbCrSubsampleRatio420, 2: image.YCbCrSubsampleRatio422, 3: image.YCbCrSubsampleRatio444}[f.chroma]
		d.colour = image.NewYCbCr(image.Rect(0, 0, f.cols*f.tileW, f.rows*f.tileH), ratio)
	}
	if err := d.run(ctx); err != nil {
		return nil, err
	}
	if d.grey != nil {
		return d.grey.SubImage(f.crop), nil
	}
	return d.colour.SubImage(f.crop), nil
}

// heicDecoding is the work on one photo's tiles.
type heicDecoding struct {
	f      *heif
	colour *image.YCbCr // one of the two
	grey   *image.Gray
}

// run decodes the tiles side by side, until ctx ends or one of them is damaged.
func (d *heicDecoding) run(ctx context.Context) error {
	g, ctx := errgroup.WithContext(ctx)
	g.SetLimit(runtime.GOMAXPROCS(0))
	for i := range d.f.tiles {
		g.Go(func() error {
			if err := ctx.Err(); err != nil {
				return err
			}
			return d.tile(i)
		})
	}
	return g.Wait()
}

func (d *heicDecoding) tile(i int) error {
	f := d.f
	// Even without any loss a pixel takes fewer than 8 bytes.
	data := f.box.bytesOf(f.in, f.tiles[i], 8*int64(f.tileW)*int64(f.tileH)+1<<16)
	if len(data) == 0 {
		return errCut()
	}
	img, err := decodeTile(f.tileFile(data), f.tileW*f.tileH)
	if err != nil {
		return err
	}
	if img.Bounds() != image.Rect(0, 0, f.tileW, f.tileH) {
		return errDamaged()
	}
	x, y := i%f.cols*f.tileW, i/f.cols*f.tileH
	switch m := img.(type) {
	case *image.Gray:
		if d.grey == nil {
			return errDamaged()
		}
		mendStart(m.Pix, m.Stride, f.tileW)
		copyPlane(d.grey.Pix[d.grey.PixOffset(x, y):], d.grey.Stride, m.Pix, m.Stride, f.tileW, f.tileH)
	case *image.YCbCr:
		if d.colour == nil || d.colour.SubsampleRatio != m.SubsampleRatio {
			return errDamaged()
		}
		c := d.colour
		mendStart(m.Y, m.YStride, f.tileW)
		copyPlane(c.Y[c.YOffset(x, y):], c.YStride, m.Y, m.YStride, f.tileW, f.tileH)
		w, h := f.tileW, f.tileH
		if f.chroma < 3 {
			w = (w + 1) / 2
		}
		if f.chroma == 1 {
			h = (h + 1) / 2
			mendBorder(m.Cb, m.CStride, w, h)
			mendBorder(m.Cr, m.CStride, w, h)
		}
		copyPlane(c.Cb[c.COffset(x, y):], c.CStride, m.Cb, m.CStride, w, h)
		copyPlane(c.Cr[c.COffset(x, y):], c.CStride, m.Cr, m.CStride, w, h)
	default:
		return errDamaged()
	}
	return nil
}

// mendStart puts right the first pixels of a tile: the decoder gives back
// memory that it has freed, and the allocator has written the 24 bytes of a
// free block over them. The row below stands in.
func mendStart(pix []byte, stride, w int) {
	copy(pix[:min(24, w)], pix[stride:])
}

// mendBorder puts right the outermost samples of a tile's 4:2:0 chroma. The
// decoder's libheif (1.18) doubles chroma and halves it again on the way out,
// and takes the wrong neighbour along the border; those inside stand in.
func mendBorder(pix []byte, stride, w, h int) {
	if w < 2 || h < 2 {
		return
	}
	copy(pix[:w], pix[stride:])
	copy(pix[(h-1)*stride:(h-1)*stride+w], pix[(h-2)*stride:])
	for y := range h {
		row := pix[y*stride : y*stride+w]
		row[0], row[w-1] = row[1], row[w-2]
	}
}

func copyPlane(dst []byte, dstStride int, src []byte, srcStride, w, h int) {
	for y := range h {
		copy(dst[y*dstStride:y*dstStride+w], src[y*srcStride:])
	}
}

// decodeTile decodes a small HEIC file. The decoder cannot be stopped; one
// that hangs on a broken stream is left behind, after a time that even a slow
// computer does not need.
func decodeTile(file []byte, pixels int) (image.Image, error) {
	type outcome struct {
		img image.Image
		err error
	}
	done := make(chan outcome, 1)
	go func() {
		defer func() {
			if r := recover(); r != nil {
				done <- outcome{nil, errDamaged()}
			}
		}()
		img, err := heic.Decode(bytes.NewReader(file))
		if err != nil {
			err = errDamaged()
		}
		done <- outcome{img, err}
	}()
	patience := time.NewTimer(10*time.Second + time.Duration(pixels)*3*time.Microsecond)
	defer patience.Stop()
	select {
	case o := <-done:
		return o.img, o.err
	case <-patience.C:
		return nil, errDamaged()
	}
}

// tileFile is a HEIC file of one tile and nothing else.
func (f *heif) tileFile(data []byte) []byte {
	mk := func(typ string, parts ...[]byte) []byte {
		body := bytes.Join(parts, nil)
		b := binary.BigEndian.AppendUint32(nil, uint32(8+len(body)))
		return append(append(b, typ...), body...)
	}
	size := binary.BigEndian.AppendUint32(make([]byte, 4), uint32(f.tileW))
	size = binary.BigEndian.AppendUint32(size, uint32(f.tileH))
	depths := []byte{0, 0, 0, 0, 1, byte(f.bits)}
	if f.chroma > 0 {
		depths = []byte{0, 0, 0, 0, 3, byte(f.bits), byte(f.bits), byte(f.bits)}
	}
	meta := func(off int) []byte {
		place := []byte{0, 0, 0, 0, 0x44, 0, 0, 1, 0, 1, 0, 0, 0, 1}
		place = binary.BigEndian.AppendUint32(place, uint32(off))
		place = binary.BigEndian.AppendUint32(place, uint32(len(data)))
		return mk("meta", make([]byte, 4),
			mk("hdlr", make([]byte, 8), []byte("pict"), make([]byte, 13)),
			mk("pitm", []byte{0, 0, 0, 0, 0, 1}),
			mk("iloc", place),
			mk("iinf", []byte{0, 0, 0, 0, 0, 1}, mk("infe", []byte{2, 0, 0, 0, 0, 1, 0, 0}, []byte("hvc1\x00"))),
			mk("iprp",
				mk("ipco", mk("hvcC", f.box.property(f.tiles[0], "hvcC")), mk("ispe", size), mk("pixi", depths)),
				mk("ipma", []byte{0, 0, 0, 0, 0, 0, 0, 1, 0, 1, 3, 0x81, 2, 3})))
	}
	head := mk("ftyp", []byte("heic\x00\x00\x00\x00mif1heic"))
	m := meta(len(head) + len(meta(0)) + 8)
	return bytes.Join([][]byte{head, m, mk("mdat", data)}, nil)
}
