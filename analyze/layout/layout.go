// Package layout answers whether a block, a design wall or a top reads. The
// measured patches of a grid come in; out come the seams with their verdicts,
// the patches that are the same cloth, the repeat that the lights and darks
// make, the patches that stand against it, and the fewest changes that make
// it read. Clarity is the d' of signal detection on L* at the viewing
// distance; light and dark are judged by the neighbours, never absolutely.
package layout

import (
	"greige/analyze/cloth"
	"greige/colorspace"
)

// Setting is how the patches lie in the top.
type Setting string

const (
	Straight Setting = "straight"
	OnPoint  Setting = "on-point" // turned 45 degrees; triangles fill the edges
)

// Cell names a patch: row and column from 1.
type Cell [2]int

// Role is what a patch does, or is meant to do, beside its neighbours.
type Role string

const (
	Light  Role = "light"
	Medium Role = "medium"
	Dark   Role = "dark"
	Any    Role = "any" // as meant: nothing is asked of it
)

// Patch is one patch of the top.
type Patch struct {
	Row     int          `json:"row"`
	Col     int          `json:"col"`
	Shape   string       `json:"shape,omitempty"` // "triangle" at the edges of a top on point
	Outline [][2]float64 `json:"outline"`         // pixels of the upright photo, clockwise from the top left
	cloth.Cloth
	Reads     Role `json:"reads"`
	Meant     Role `json:"meant"`
	Misplaced bool `json:"misplaced"`
	Fabric    int  `json:"fabric"` // id in Layout.Fabrics
}

// Fabric is the patches that are the same cloth.
type Fabric struct {
	ID      int            `json:"id"`
	Lab     colorspace.Lab `json:"lab"` // the mean, in linear light, of its patches
	Patches []Cell         `json:"patches"`
}

// Verdict is what a viewer at the distance makes of a seam.
type Verdict string

const (
	Clear     Verdict = "clear"
	Soft      Verdict = "soft"
	Lost      Verdict = "lost"
	SameCloth Verdict = "same cloth" // no line is expected there
)

// Meaning is what a seam is for in the pattern.
type Meaning string

const (
	Contrast Meaning = "contrast" // a light meets a dark
	Blend    Meaning = "blend"    // both sides are meant to be alike
	Either   Meaning = "any"
)

// Seam is the line where two neighbouring patches meet.
type Seam struct {
	Between [2]Cell `json:"between"`
	DeltaL  float64 `json:"delta_l"` // |dL*|
	DeltaE  float64 `json:"delta_e"` // CIEDE2000
	Clarity float64 `json:"clarity"` // d' at the viewing distance
	Verdict Verdict `json:"verdict"`
	Meant   Meaning `json:"meant"`
	OK      bool    `json:"ok"` // the verdict serves the meaning
	// ColourAlone: too little value to be seen, but colour keeps it visible.
	ColourAlone bool `json:"colour_alone,omitempty"`
	// Guidance30: the two reflectances (LRV, CIE Y 0..100) are 30 points or
	// more apart, the guidance of BS 8300-2:2018 annex B.
	Guidance30 bool `json:"lrv_30"`
}

// Pattern is the repeat that the lights and darks make.
type Pattern struct {
	Name  string   `json:"name"`            // "none" for a top without a repeat
	Fit   float64  `json:"fit,omitempty"`   // share of the patches that agree with it
	Chart []string `json:"chart,omitempty"` // a line a row, a letter a patch: L M D .
	Given bool     `json:"given,omitempty"` // by the user, not found
}

// Change is one move that makes the top read better.
type Change struct {
	Patch   Cell    `json:"patch"`
	Why     string  `json:"why"`
	Instead string  `json:"instead"` // a fabric id of the stash, or "swap with [r,c]"
	Reads   float64 `json:"reads_after"`
	With    *Cell   `json:"-"` // the patch it is swapped with
}

// Layout is the answer to "does it read, and if not, which patch is it".
type Layout struct {
	Rows      int          `json:"rows"`
	Cols      int          `json:"cols"`
	Setting   Setting      `json:"setting"`
	Corners   [][2]float64 `json:"corners"` // pixels of the upright photo, clockwise from the top left
	GridFound bool         `json:"grid_found"`
	Patches   []Patch      `json:"patches"`
	Fabrics   []Fabric     `json:"fabrics"`
	Seams     []Seam       `json:"seams"`
	Pattern   Pattern      `json:"pattern"`
	Reads     float64      `json:"reads"` // share of the seams meant to contrast that are clear
	Changes   []Change     `json:"changes"`
}
