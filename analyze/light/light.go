// Package light takes out of a photo what the lamp and the camera did to it.
// A photo.Photo and what is known of its light come in (a card's place, a
// plain sheet behind the cloth, the camera's own record); an Even comes out:
// the same picture as under even, neutral light, with what was done said in
// words and with the uncertainty that is left. The model is
// pixel = curve(reflectance x illumination(x, y) x cast x exposure), in linear
// light; the curve is what cameras do on average (analyze/camera).
package light

import (
	"encoding/binary"
	"image"

	"greige/analyze/camera"
	"greige/analyze/photo"
	"greige/colorspace"
)

// Mode is what the user says about the light (the flag --light).
type Mode string

const (
	Auto  Mode = "auto"  // use whatever is there
	Sheet Mode = "sheet" // what lies behind the cloth is one plain white sheet
	None  Mode = "none"  // take the photo as it is
)

// Options say what is known of the light. The zero value means Auto, no card.
type Options struct {
	Mode Mode
	// Cards are the neutral cards that lie in the photo.
	Cards []Card
	// CardLightness is the CIE L*, 0 < L* <= 100, of a card without one of its own
	// and of the sheet; 0 means plain white paper, 95.
	CardLightness float64
	// Camera, if set, is what is known of the camera that took the photo, instead of
	// what is known of any.
	Camera *camera.Belief
	// Learned, if set, are the cameras that were learned: the one that the photo's
	// record names is taken instead of any camera, unless Camera is set.
	Learned *camera.Shelf
	// NoPaper: nothing in the photo is to be taken for a sheet of white paper.
	NoPaper bool
}

// Card is a neutral card.
type Card struct {
	Place     image.Rectangle // pixels of the upright photo; empty: no card
	Lightness float64         // CIE L*; 0: Options.CardLightness
}

// Hint is what the photo is known to show. It says which surfaces may be
// trusted to be alike all over.
type Hint string

const (
	Unknown        Hint = ""          // nothing is known
	OneCloth       Hint = "one cloth" // one cloth edge to edge, or edge to edge beside its card
	ScrapsOnGround Hint = "scraps"    // pieces apart from each other on a plain ground
	Top            Hint = "top"       // a pieced top, block or design wall, with or without a margin
)

// Even is a photo whose light has been evened out as far as was possible.
type Even struct {
	Photo *photo.Photo
	// Picture has the size of the photo's working picture. Where the level is
	// known, 1 is a perfect white; where not, it is the photo's own white. It
	// is the photo's own picture, shared, when nothing was changed.
	Picture *photo.Picture
	Record  Record
	// Causes are what the photo's lightnesses share their doubt by.
	Causes camera.Causes
	// LevelKnown: the lightness has a footing (a card, a white sheet or, less
	// surely, a ground that is nearly white) and can be compared with that of
	// other photos.
	LevelKnown bool
	// LevelSigma is the standard uncertainty of the level, as a share of the
	// luminance, common to the whole photo; SlopeSigma the same for what
	// unevenness may be left between its far ends.
	LevelSigma, SlopeSigma float64
	// Ignore is what is known to be no cloth (a card with a rim round it), in
	// pixels of the working picture.
	Ignore []image.Rectangle
	// Paper is the outline, in working pixels, of a sheet of white paper that
	// was found in the photo and used as a card; nil when none was. It is in
	// Ignore too.
	Paper [][2]float64
	// Ground is the plain surface behind the cloth; nil when none was found.
	Ground *Ground

	options Options
	hint    Hint   // what the photo shows, as given or found out
	seen    *cells // the photo reduced, before anything is made of it
	left    left
	tone    tone
	pin     *pin
	refusal error        // why the cards cannot be used
	cards   []pin        // further cards, darker or lighter than that of pin
	paper   *paper       // that the pin is, or nil
	found   *foundGround // the ground as it was found, for a second look
	ground  *ground
	spots   *spots
	// dark is ln of the light that sharp shadows may keep out, by cell; nil
	// when there are none.
	dark []float64
	story
}

// story is what say needs to know.
type story struct {
	remarks, tips []string // what was found about the card and the like
	given         bool     // --light none
	gaveUp        bool     // the light is such that nothing can be trusted
	oneCloth      bool
	sheetGiven    bool    // --light sheet
	lightness     float64 // of the card or the sheet
	topGraded     bool    // the top itself runs from light to dark
	footing       string  // what the camera's record tells
}

// Ground is the one plain surface that the cloth lies on or hangs on.
type Ground struct {
	// Light is its colour as it stands in the evened picture.
	Light colorspace.Linear
	Share float64 // of the photo, 0..1
	White bool    // taken to be the white sheet
	// Neutral: taken to be without a colour of its own.
	Neutral bool
	Sure    float64 // of Neutral and White, 0..1
}

// Record says what was done about the light of one photo.
type Record struct {
	Photo  string `json:"photo"`
	Method string `json:"method"` // "card", "sheet", "paper", "ground", "slope of the cloth", "exposure record", "repeated cloths", "none", or several joined by " + "
	// Cast is the colour of the light that was taken out: linear R, G, B,
	// scaled so that its luminance is 1; left out where nothing is known.
	Cast []float64 `json:"cast,omitempty"`
	// Unevenness is the brightest part of the light divided by the dimmest,
	// over the photo; 1 is even; left out where it is not known.
	Unevenness float64 `json:"unevenness,omitempty"`
	Clipped    float64 `json:"clipped"`        // share of the photo's pixels at either end of the scale
	Note       string  `json:"note,omitempty"` // in words, for the report and the terminal
	// Paper is the outline of the sheet of white paper that was found and taken
	// for the reference, in pixels of the upright photo.
	Paper [][2]float64 `json:"paper,omitempty"`
	// Advice is how to take a better photo next time; "" when it was good.
	Advice string `json:"advice,omitempty"`
}

// clippedShare is the share of the source pixels at either end of the scale.
func clippedShare(p *photo.Picture) float64 {
	return float64(sumOf(p.Dark)+sumOf(p.Bright)) / (255 * float64(p.W*p.H))
}

// sumOf is the sum of v, most of which is 0.
func sumOf(v []uint8) int {
	sum := 0
	for len(v) >= 8 {
		if binary.NativeEndian.Uint64(v) != 0 {
			for _, x := range v[:8] {
				sum += int(x)
			}
		}
		v = v[8:]
	}
	for _, x := range v {
		sum += int(x)
	}
	return sum
}
