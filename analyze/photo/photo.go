// Package photo turns a file into an upright picture in linear light. Files
// and folders come in; a Photo comes out, or a Skipped with a reason that a
// person can act on. It reads JPEG, PNG, TIFF, WebP and HEIC, honours
// EXIF orientation and embedded ICC profiles without clipping, and averages
// linear light (not encoded pixels; Murray-Davies) down to a working picture
// of some 2 megapixels. No file can make it take more memory than its header
// was seen to need, and no library that it uses can start another program.
package photo

import (
	"context"
	"io"
	"strconv"
)

// Photo is one photo, upright, reduced to its working picture.
type Photo struct {
	Name          string   // the path as it was given; for a folder the folder and the name
	Width, Height int      // of the upright photo, in pixels of the file
	Picture       *Picture // the working picture
	// Reduction is how many pixels of the upright photo, along each side, are
	// averaged into one of the working picture: working x is photo x / Reduction.
	// The last column and row average what is left of the photo.
	Reduction int
	Format    string   // "JPEG", "PNG", "TIFF", "WebP", "HEIC"
	Record    Record   // what the camera wrote
	Notes     []string // what the user should know: an unreadable tag, a first frame taken, CMYK without a profile
}

// Record is the camera's own account of an exposure (EXIF, CIPA DC-008).
// A field that the file does not give is 0 or "".
type Record struct {
	Camera        string  // maker and model
	Make, Model   string  // the same one by one, as written
	Lens          string  // its model: a phone has several
	ExposureTime  float64 // seconds
	FNumber       float64
	Sensitivity   float64 // ISO
	Bias          float64 // EV; HasBias tells 0 from absent
	HasBias       bool
	Brightness    float64 // APEX Bv; HasBrightness tells 0 from absent
	HasBrightness bool
	// FixedWhite is true where the camera says that its white balance was set
	// by hand, so that it is the same in every photo of the set.
	FixedWhite bool
	Taken      string // DateTimeOriginal as written
}

// Limits bound what one file may cost. The zero value means the defaults.
type Limits struct {
	Megapixels float64 // default 100
	Bytes      int64   // default 512 MiB
	// Spare, if set, lends the memory for the working picture.
	Spare *Spare
	// Detail is how fine the working picture has to be.
	Detail Detail
}

// Detail is how fine the working picture has to be, by what is looked for in it.
type Detail int

const (
	// ForPatches is some 2 megapixels.
	ForPatches Detail = iota
	// ForPieces is 1000 to 2000 pixels along the longer side, where the photo
	// has so many: in a gap of a hundredth of it are ten and more. Each pixel
	// may be the mean of half of the photo's pixels in it.
	ForPieces
	// ForOneCloth is 330 to 660 pixels along the longer side, which is enough
	// where nothing in the photo has to be found. Each pixel may be the mean of
	// a quarter of the photo's pixels in it.
	ForOneCloth
)

// FinerAt tells whether the photo, opened with more detail, has more pixels in
// its working picture than this one has.
func (p *Photo) FinerAt(d Detail) bool { return reductionFor(p.Width, p.Height, d) < p.Reduction }

// of4 is how many of every four squares of 2 x 2 pixels are read.
func (d Detail) of4() int {
	switch d {
	case ForPieces:
		return 2
	case ForOneCloth:
		return 1
	}
	return 4
}

func (l Limits) withDefaults() Limits {
	if !(l.Megapixels > 0) {
		l.Megapixels = 100
	}
	if l.Bytes <= 0 {
		l.Bytes = 512 << 20
	}
	return l
}

// memory is what decoding one file may take at its peak, in bytes: 1 GiB for
// 100 megapixels, and more only where the user has asked for larger photos.
func (l Limits) memory() int64 { return int64(max(1, l.Megapixels/100) * (1 << 30)) }

// Skipped is an input that could not be measured. Reason is one clause in
// plain words without the file's name; Hint says what to do.
type Skipped struct {
	Photo  string `json:"photo"`
	Reason string `json:"reason"`
	Hint   string `json:"-"`
}

// Error is what Open returns for a file that cannot be measured: Skipped as
// an error. Its text is the quoted file name, a colon and the reason.
type Error struct{ Skipped }

func (e *Error) Error() string { return strconv.Quote(e.Photo) + ": " + e.Reason }

// SkippedOf is the line about a photo that gave an error.
func SkippedOf(name string, err error) Skipped {
	if e, ok := err.(*Error); ok {
		return Skipped{Photo: name, Reason: e.Reason, Hint: e.Hint}
	}
	return Skipped{Photo: name, Reason: err.Error()}
}

// Open reads the photo in the file at path, see Read.
func Open(ctx context.Context, path string, lim Limits) (*Photo, error) {
	return Read(ctx, Source{Name: path, Path: path}, lim)
}

// Read reads a photo and lets its pixels go again; only the working picture
// stays. One that cannot be measured gives an *Error with a reason and a hint,
// never a panic. When ctx ends, Read returns its error (not an *Error) as soon
// as the decoder asks for more of the file, or a tile of a HEIC is done, and
// leaves nothing at work behind.
func Read(ctx context.Context, src Source, lim Limits) (*Photo, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	lim = lim.withDefaults()
	in, err := src.open(lim, false)
	if err != nil {
		return nil, named(src.Name, err)
	}
	defer in.Close()
	// No decoder can be told to stop, but all of them ask for more bytes.
	in.ReaderAt = stoppable{ctx, in.ReaderAt}
	p, err := decode(ctx, in, lim)
	switch {
	case ctx.Err() != nil:
		return nil, ctx.Err()
	case err != nil:
		return nil, named(src.Name, err)
	}
	p.Name = src.Name
	return p, nil
}

// stoppable is a file that gives no more bytes once ctx ends.
type stoppable struct {
	ctx context.Context
	io.ReaderAt
}

func (s stoppable) ReadAt(p []byte, off int64) (int, error) {
	if err := s.ctx.Err(); err != nil {
		return 0, err
	}
	return s.ReaderAt.ReadAt(p, off)
}

// RecordOf reads only what the camera wrote into a photo, and no farther than
// that. It is the zero Record where the photo gives none or cannot be read; Read
// says why.
func RecordOf(src Source, lim Limits) (r Record) {
	defer func() {
		if recover() != nil {
			r = Record{}
		}
	}()
	in, err := src.open(lim.withDefaults(), true)
	if err != nil {
		return Record{}
	}
	defer in.Close()
	k := sniff(in)
	if k.scan == nil {
		return Record{}
	}
	h, err := k.scan(in)
	if err != nil {
		return Record{}
	}
	read, _ := readRecord(h)
	return read.Record
}

func named(path string, err error) error {
	if e, ok := err.(*Error); ok {
		e.Photo = path
	}
	return err
}
