// Package analyze does the three jobs from end to end: photos come in, and a
// Result comes out that holds the figures of the contract and the pictures
// for the page. Each job is one call (Sort, Layout, Border) that reads photos
// side by side, evens their light, measures the cloth in them and lets the
// decoded pixels go, so that memory does not grow with the number of photos.
// A photo that cannot be measured is skipped with a reason; the rest goes on.
package analyze

import (
	"greige/analyze/border"
	"greige/analyze/cloth"
	"greige/analyze/eye"
	"greige/analyze/layout"
	"greige/analyze/light"
	"greige/analyze/photo"
	"greige/analyze/piles"
	"greige/analyze/plan"
	"greige/analyze/stash"
)

// Result is the outcome of one run. Exactly one of Sort, Layout, Border, Kept and
// Plan is set, by the command; Border may carry a stash of its own.
type Result struct {
	Command string // "sort", "layout", "border", "stash", "plan"
	Skipped []photo.Skipped
	Light   []light.Record // one a photo, in the order of the photos
	Notes   []string       // what was not found, and what to give; in words

	Distance     float64 // metres, where the viewer stands
	WidthCM      float64 // how wide the scene was taken to be; 0: it differs by photo
	WidthAssumed bool    // no width was given: a patch or a scrap of 5 cm was assumed
	Lost, Soft   float64 // the lightness differences that the seams were judged by

	Sort   *piles.Sorted
	Layout *layout.Layout
	Border *border.Border
	Kept   *stash.Answer
	Plan   *plan.Plan

	// PlanScraps are, for a plan, the pictures of the scraps that patches are
	// cut from.
	PlanScraps []PlanScrap

	// Stash is the cloths that were given to a layout to hang instead: the
	// ids in its changes are theirs. Nil when none were given.
	Stash []piles.Fabric
	// PrintStrip is, for border, a piece of the print itself, wide and low
	// (about 4 to 1), to frame the mocked-up block; nil when not made.
	PrintStrip *cloth.Swatch

	// Sights are the pictures of the page: for sort, each photo that shows
	// more than one cloth; for layout, the straightened top as it hangs and,
	// when there are changes, after them; for border, the print; for plan, the
	// finished top.
	Sights []Sight

	// bare are kept cloths of which only what a choice goes by has been read, by
	// their numbers.
	bare map[string]bool
}

// Sight is one picture for the page with the places of its pieces.
type Sight struct {
	Kind  SightKind
	Photo string
	eye.Views
	Marks []Mark
	// Inks, for the print only, says where each colour of the palette lies.
	Inks *Inks

	// late makes the views that are not made yet; nil: all are.
	late *sketch
}

// Inks is which colour of Border.Palette covers each pixel of a picture of
// W x H pixels (which need not be the size of the views; some 800 wide is
// enough for the page), or NoInk where none does.
type Inks struct {
	W, H int
	Of   []uint8 // W*H indexes into Border.Palette
}

// NoInk marks a pixel of Inks that belongs to no colour, such as one on the
// edge between two.
const NoInk = 255

// SightKind says what a picture shows.
type SightKind string

const (
	TableSight SightKind = "table" // a photo with several scraps
	TopSight   SightKind = "top"   // the top straightened, as it hangs
	AfterSight SightKind = "after" // the same after the suggested changes
	PrintSight SightKind = "print" // the border print
	WallSight  SightKind = "wall"  // the photo of the top, with the patches that were found in it
	PlanSight  SightKind = "plan"  // the mock-up of a plan
)

// Mark is a piece in a picture.
type Mark struct {
	ID      string       // of the fabric, or "row,col" of the patch
	Outline [][2]float64 // x and y as shares of the picture's width and height, 0..1
}
