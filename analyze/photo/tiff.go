package photo

import (
	"context"
	"fmt"
	"image"

	"golang.org/x/image/tiff"
)

// Fields of a TIFF's own, by their numbers in TIFF 6.0 and its supplements.
const (
	tagSubfile       = 254
	tagWidth         = 256
	tagLength        = 257
	tagBits          = 258
	tagCompression   = 259
	tagRowsPerStrip  = 278
	tagPlanar        = 284
	tagTileWidth     = 322
	tagTileLength    = 323
	tagProfile       = 34675
	tagDNGVersion    = 50706
	manyTIFFPieces   = 1 << 17
	tiffPieceOverlap = 4 // tiles may reach this many times over the picture
)

// scanTIFF reads the first directory of a TIFF.
func scanTIFF(in *input) (*header, error) {
	d, ok := openDirectories(in)
	if !ok {
		return nil, errDamaged()
	}
	dir, ok := d.at(d.first)
	if !ok {
		return nil, errCut()
	}
	get := func(tag uint16, otherwise int64) int64 {
		if v, ok := d.whole(dir, tag); ok {
			return v
		}
		return otherwise
	}
	if _, dng := dir[tagDNGVersion]; dng || get(tagSubfile, 0)&1 != 0 {
		// The first picture of a raw file is a small preview.
		return nil, errKind("a camera's raw file")
	}
	if get(tagPlanar, 1) != 1 {
		return nil, errKind("a rare kind of TIFF (colours one after the other)")
	}
	w, h := get(tagWidth, 0), get(tagLength, 0)
	// The decoder counts the components by their depths.
	bits, samples := get(tagBits, 1), max(1, int64(dir[tagBits].count))
	if w <= 0 || h <= 0 || w > 1<<31-1 || h > 1<<31-1 {
		return nil, errSizeless()
	}
	if bits > 64 || samples > 64 {
		return nil, errKind(fmt.Sprintf("a rare kind of TIFF (%d components of %d bits)", samples, bits))
	}
	hd := &header{
		width: int(w), height: int(h), bits: int(bits), alpha: samples == 4,
		exif: in, exifTurns: true, coding: jfif,
	}
	if f, ok := dir[tagProfile]; ok {
		if f.count > manyProfileBytes {
			hd.note(brokenProfile)
		} else if hd.profile = d.values(f, manyProfileBytes); hd.profile == nil {
			hd.note(brokenProfile)
		}
	}
	memory, err := tiffMemory(w, h, bits, samples, in.size, get)
	if err != nil {
		return nil, err
	}
	hd.memory = memory
	// x/image/tiff wants a reader that can read anywhere; a section is one.
	hd.pixels = func(context.Context) (image.Image, error) { return tiff.Decode(in.all()) }
	return hd, nil
}

// tiffMemory is what x/image/tiff will take: the picture, and the pieces
// (strips or tiles) one at a time, in a buffer that grows by doubling. It lets
// a packed piece unpack to 8 bytes a pixel whatever it should hold. A file of
// absurdly many or large pieces is an error.
func tiffMemory(w, h, bits, samples, size int64, get func(uint16, int64) int64) (int64, error) {
	pieceW, pieceH := w, min(max(1, get(tagRowsPerStrip, h)), h)
	if tw := get(tagTileWidth, 0); tw > 0 {
		pieceW, pieceH = tw, get(tagTileLength, 0)
		if pieceH < 1 || pieceW > 1<<20 || pieceH > 1<<20 {
			return 0, errDamaged()
		}
	}
	pieces := ((w + pieceW - 1) / pieceW) * ((h + pieceH - 1) / pieceH)
	if pieces > manyTIFFPieces || float64(pieces)*float64(pieceW)*float64(pieceH) > tiffPieceOverlap*float64(w)*float64(h)+1<<22 {
		return 0, errDamaged()
	}
	perPixel := 1.0
	if samples > 1 {
		perPixel = 4
	}
	if bits > 8 {
		perPixel *= 2
	}
	piece := 8 * float64(pieceW) * float64(pieceH)
	if c := get(tagCompression, 1); c <= 1 {
		piece = min(piece, float64(size))
	}
	memory := perPixel*float64(w)*float64(h) + 2.25*piece
	return int64(min(memory, 1<<60)), nil
}
