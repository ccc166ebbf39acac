// Package scene makes photo-like pictures whose truth is known: for the demo,
// the tests and the benchmarks. A Closeup, Table, Top, Border or Chart comes
// in, plain data with a seed; a Shot comes out: the camera's file and what is
// true of it. Cloths are functions of centimetres, sampled in linear light;
// pixel = reflectance x illumination(x, y) x cast x exposure, then lens,
// glare, sensor noise, colour rendering, tone curve, encoding (IEC 61966-2-1), EXIF and ICC profile.
// The same seed gives the same bytes.
package scene

import (
	"image"

	"greige/colorspace"
)

// Shot is one photo and what is true of it.
type Shot struct {
	Name  string // of the file, "wall.jpg"
	Data  []byte // the file
	Truth Truth
	stage *stage
}

// Truth is what a photo shows. All places are pixels of the upright photo, x
// to the right, y down, the first pixel's corner at 0, 0.
type Truth struct {
	Width, Height int
	Pieces        []Piece // loose pieces, or the one cloth of a close-up, in the order they were given or laid
	Grid          *Grid   // of a top or a chart
	Cards         []Card
	Print         image.Rectangle // of a Border that does not fill the photo: a rectangle inside the print, for --at
	PrintIs       Measure         // what is true of that part
	Light         Field           // illumination, mean 1
	Cast          [3]float64      // what the light and the white balance make of a perfect white, luminance 1
	Exposure      float64         // signal of a perfect white under the mean light, before the camera's rendering; over 1 it clips
}

// Measure is what is true of a piece of cloth as it lies in the photo:
// averages over all of it that can be seen, in linear light, before lamp and
// camera.
type Measure struct {
	Reflectance colorspace.Linear
	Lab         colorspace.Lab // of Reflectance
	Inks        []Ink          // with their shares of what can be seen; inks of no share are left out
	Pixels      float64        // area
}

// Piece is one piece of cloth.
type Piece struct {
	Measure
	Cloth    int          // index into the cloths that were given
	Outline  [][2]float64 // as it was cut, also where something lies over it
	Covered  bool         // something lies over a part of it
	FromEdge bool         // it reaches over the photo's edge
}

// Card is a sheet of paper or a grey card.
type Card struct {
	Inside image.Rectangle // the largest upright rectangle well inside it: for --card
	Lab    colorspace.Lab
}

// Grid is the truth of a top.
type Grid struct {
	Rows, Cols int
	OnPoint    bool
	Corners    [][2]float64 // clockwise from the top left: of the grid in a straight set, of the whole top on point; a border is outside
	Patches    []Patch      // row by row
	Pattern    string       // "nine patch", ..., "none"
	Chart      []string     // what each patch is meant to be: L M D, '.' any, ' ' no patch; a line a row
}

// Patch is one patch of a top. Rows and columns count from 1.
type Patch struct {
	Measure
	Row, Col  int
	Cloth     int    // index into the cloths that were given
	Meant     string // "light", "medium", "dark" or "any"
	Outline   [][2]float64
	Triangle  bool // at the edge of a top on point
	Misplaced bool // planted: it stands against the pattern
}

// Patch finds a patch by row and column from 1; nil where there is none.
func (g *Grid) Patch(row, col int) *Patch {
	for i := range g.Patches {
		if g.Patches[i].Row == row && g.Patches[i].Col == col {
			return &g.Patches[i]
		}
	}
	return nil
}

// Take is what every photo has.
type Take struct {
	Name          string // of the file; "" is "photo" with the format's ending
	Seed          uint64
	Width, Height int // pixels of the upright photo; 0 is 1600 wide and as high as fits
	View          View
	Light         Light
	Camera        Camera
	Workers       int // rows worked on at once; 0 is one for each processor. Has no influence on the bytes
}

// sized is the take with a size where it gives none: high is the height of a
// photo for its width, 0 where that is found later.
func (t Take) sized(high float64) Take {
	if t.Width == 0 {
		t.Width = 1600
	}
	if t.Height == 0 {
		t.Height = int(float64(t.Width) * high)
	}
	return t
}
