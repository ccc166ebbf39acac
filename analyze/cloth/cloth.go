// Package cloth turns a piece of an evened picture into a Cloth: its value,
// how busy it is from where one stands, its colours and its character.
// A light.Even and a Region come in. Linear light is averaged before it is
// converted (Murray-Davies); spread is what is left of L* after the eye's
// blur (S-CIELAB, Zhang and Wandell 1997). Every lightness carries half of a
// 95 % interval.
package cloth

import (
	"greige/analyze/camera"
	"greige/colorspace"
)

// Cloth is what is known of one piece of cloth.
type Cloth struct {
	// Lab is the light that the whole piece sends to the eye.
	Lab       colorspace.Lab `json:"lab"`
	Lightness float64        `json:"lightness"` // CIE L*, 0..100; the same as Lab.L
	// Uncertainty is half of a 95 % interval on Lightness, from all causes.
	// Apart is the same for two pieces of one cloth in one photo, which the camera
	// treats alike. Doubt is what different cloths are compared by.
	Uncertainty float64      `json:"uncertainty"`
	Apart       float64      `json:"uncertainty_apart"`
	Doubt       camera.Doubt `json:"-"`
	// Lit and Own are the parts of Apart, in L*: that of the light over the photo,
	// which differs little from one piece to the next beside it, as a vector of
	// which the differences count; and that of the piece alone, a standard
	// uncertainty.
	Lit []float64 `json:"-"`
	Own float64   `json:"-"`
	// TooLight: it comes out lighter than white, so that what the level stands on
	// is not as light as it was said to be.
	TooLight     bool                   `json:"-"`
	MunsellValue float64                `json:"munsell_value"` // 0..10, ASTM D1535
	Spread       float64                `json:"spread"`        // standard deviation of L* at the viewing distance
	Character    Character              `json:"character"`
	Temperature  colorspace.Temperature `json:"temperature"`
	Name         string                 `json:"name"`    // ISCC-NBS
	Colours      []Colour               `json:"colours"` // largest share first
	// LooksLike is the L* of the grey that looks as light as this colour
	// (Fairchild and Pirrotta 1991): above Lightness for saturated cloth.
	LooksLike float64 `json:"looks_like"`
	// PatchSpread is how much patches of the size that was asked for will
	// differ, see the function PatchSpread; nil when it was not asked for or
	// cannot be told.
	PatchSpread *float64 `json:"patch_spread,omitempty"`
	Clipped     float64  `json:"clipped"` // share of its pixels at either end of the scale, 0..1
	// Bound is "above" where the cloth may be lighter than its figure by what is
	// burnt out, and "below" where it may be darker; "" elsewhere.
	Bound  string `json:"bound,omitempty"`
	Remark string `json:"remark,omitempty"` // what makes the figures doubtful, in words
	// Swatch is a small picture of the cloth itself, for the report; nil where
	// none is needed, see View.
	Swatch *Swatch `json:"-"`
}

// Character is how a cloth behaves in a patch.
type Character string

const (
	Solid             Character = "solid"
	ToneOnTone        Character = "tone-on-tone" // reads as a solid
	Print             Character = "print"
	HighContrastPrint Character = "high-contrast print" // its own figure competes with the seams
)

// Colour is one ink of a cloth.
type Colour struct {
	Lab   colorspace.Lab `json:"lab"`
	Hex   string         `json:"hex"`   // for display, clipped to sRGB
	Share float64        `json:"share"` // of the cloth's area; all shares of a cloth add up to 1
	Name  string         `json:"name"`  // ISCC-NBS
}

// Swatch is a small cut-out of a cloth's real texture, ready for the page.
type Swatch struct {
	W, H   int
	Colour []byte // JPEG, sRGB
	Grey   []byte // JPEG, one component: the same by CIE Y
	// Shape is the outline of the piece within the swatch, x and y 0..1;
	// nil when the piece fills it.
	Shape [][2]float64
}
