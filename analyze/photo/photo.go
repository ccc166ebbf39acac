// Package photo turns a file into an upright picture in linear light. Files
// and folders come in; a Photo comes out, or a Skipped with a reason that a
// person can act on. It decodes JPEG, PNG, TIFF, WebP and HEIC, honours EXIF
// orientation and embedded ICC profiles without clipping, and averages linear
// light (not encoded pixels) down to a working picture of some 2 megapixels.
package photo

// Photo is one photo, upright, reduced to its working picture.
type Photo struct {
	Name          string   // the path as it was given; for a folder the folder and the name
	Width, Height int      // of the upright photo, in pixels of the file
	Picture       *Picture // the working picture
	// Reduction is how many pixels of the upright photo, along each side, are
	// averaged into one of the working picture: working x is photo x / Reduction.
	Reduction int
	Format    string   // "JPEG", "PNG", "TIFF", "WebP", "HEIC", "GIF"
	Space     string   // colour space in words, as found: "sRGB", "Display P3", the profile's own name
	BitDepth  int      // bits a component in the file
	Record    Record   // what the camera wrote
	Notes     []string // what the user should know: an unreadable tag, a first frame taken, CMYK without a profile
}

// Record is the camera's own account of an exposure (EXIF, CIPA DC-008).
// A field that the file does not give is 0 or "".
type Record struct {
	Camera        string  // maker and model
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
}

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
