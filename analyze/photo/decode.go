package photo

import (
	"context"
	"fmt"
	"image"
	"math"
	"runtime"
	"slices"
	"sync/atomic"
)

// header is what a file says about itself before any memory is taken for its
// pixels.
type header struct {
	width, height int   // as the pixels lie in the file
	bits          int   // a component
	memory        int64 // bytes that decoding takes at its peak, pixels included
	alpha         bool  // some pixels may be clear
	orientation   orientation
	exif          *input // a TIFF structure that holds EXIF; nil when there is none
	exifTurns     bool   // EXIF's orientation counts; HEIC has its own
	profile       []byte // ICC; nil when there is none
	space         *space // named by other means than a profile; nil when not
	coding        coding // how luma and chroma make R, G, B
	notes         []string
	sawClear      atomic.Bool     // a pixel was clear, known after reducing
	spare         *Spare          // where the working picture's memory may come from
	detail        Detail          // of the working picture
	done          <-chan struct{} // closed when nobody wants the picture any more
	// pixels decodes the picture, which has the size of the header.
	pixels func(context.Context) (image.Image, error)
}

// note adds what the user should know, once.
func (h *header) note(n string) {
	if !slices.Contains(h.notes, n) {
		h.notes = append(h.notes, n)
	}
}

func (h *header) check(lim Limits) error {
	if h.width <= 0 || h.height <= 0 {
		return errSizeless()
	}
	if mp := float64(h.width) * float64(h.height) / 1e6; mp > lim.Megapixels {
		return skip(fmt.Sprintf("the picture has %s megapixels and the limit is %s", megapixels(mp), megapixels(lim.Megapixels)),
			"save it smaller, or raise the limit with --max-megapixels")
	}
	if h.memory > lim.memory() {
		return skip(fmt.Sprintf("unpacking this picture would take %s MiB of memory and the limit is %s",
			mebibytes((h.memory+1<<20-1)>>20<<20), mebibytes(lim.memory())),
			"save it as an ordinary JPEG, or raise the limit with --max-megapixels")
	}
	return nil
}

// megapixels says a number of them as people do: whole, or to one place when
// there are few.
func megapixels(mp float64) string {
	if mp < 9.95 && mp != math.Trunc(mp) {
		return fmt.Sprintf("%.1f", mp)
	}
	return fmt.Sprintf("%.0f", mp)
}

// largePicture is the memory from which on a decoded picture is given back at
// once; smaller ones can wait for the collector's own time.
const largePicture = 128 << 20

// decode turns the bytes of one file into a Photo without a name. Errors are
// *Error without a name, or ctx's own.
func decode(ctx context.Context, in *input, lim Limits) (p *Photo, err error) {
	defer func() {
		// The decoders are others' code and the files are anybody's.
		if r := recover(); r != nil {
			p, err = nil, errDamaged()
		}
	}()
	lim = lim.withDefaults()
	k := sniff(in)
	if k.scan == nil {
		return nil, k.reason
	}
	h, err := k.scan(in)
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	if err != nil {
		return nil, errDecoder(err)
	}
	h.spare, h.detail, h.done = lim.Spare, lim.Detail, ctx.Done()
	if err := h.check(lim); err != nil {
		return nil, err
	}
	record, turned := readRecord(h)
	if turned && h.exifTurns {
		h.orientation = record.orientation
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	img, err := h.pixels(ctx)
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	if err != nil {
		return nil, errDecoder(err)
	}
	if b := img.Bounds(); b.Dx() != h.width || b.Dy() != h.height {
		return nil, errDamaged()
	}
	width, height := h.orientation.size(h.width, h.height)
	p = &Photo{
		Width: width, Height: height,
		Reduction: reductionFor(width, height, lim.Detail),
		Format:    k.format,
		Record:    record.Record,
	}
	if p.Picture, err = h.measure(img, p.Reduction); err != nil {
		return nil, err
	}
	if err := ctx.Err(); err != nil {
		return nil, err // some of the picture was left out
	}
	p.Notes = h.notes
	if h.memory > largePicture {
		img = nil
		runtime.GC()
	}
	return p, nil
}

// piecesSide and clothSide are the least lengths of the working picture's
// longer side where the photo has more: pieces are looked for in half of the
// first and more, and the inks of a cloth in no more than the second.
const (
	piecesSide = 1000
	clothSide  = 330
)

// reductionFor is how many pixels a side go into one of a working picture of
// some 2 megapixels: round(sqrt(megapixels/2)), at least 1. One for pieces is
// piecesSide long or longer. One for a cloth is clothSide long or longer, and
// has an even number of the photo's pixels in each of its own, as the samples
// of chroma lie, and twice an even one where that leaves enough.
func reductionFor(width, height int, detail Detail) int {
	long := max(width, height)
	switch detail {
	case ForPieces:
		return max(1, long/piecesSide)
	case ForOneCloth:
		k := long / clothSide
		if k > 8 {
			return k &^ 3
		}
		return max(1, k&^1)
	}
	pixels := float64(width) * float64(height)
	return max(1, int(math.Round(math.Sqrt(pixels/2e6))))
}

// measure reduces the decoded picture in the space that the file names, or in
// the usual one when what it names cannot be used.
func (h *header) measure(img image.Image, k int) (*Picture, error) {
	pic, err := reduce(img, h, h.spaceFor(img), k)
	if err != nil {
		// A profile that failed on a colour of this very picture.
		h.note("the colour profile is damaged and was left out")
		if pic, err = reduce(img, h, usualSpace(img), k); err != nil {
			return nil, errDamaged()
		}
	}
	if h.sawClear.Load() {
		h.note("parts of the picture are clear; they were laid on white and are in no figure")
	}
	return pic, nil
}
