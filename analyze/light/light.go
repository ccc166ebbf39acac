// Package light takes out of a photo what the lamp and the camera did to it.
// A photo.Photo and what is known of its light come in (a card's place, a
// plain sheet behind the cloth, the camera's own record); an Even comes out:
// the same picture as under even, neutral light, with what was done said in
// words and with the uncertainty that is left. The model is
// pixel = curve(reflectance x illumination(x, y) x cast x exposure), in linear
// light; the curve is what cameras do on average (analyze/camera). The stages are
// values that do not change: observe (Observation), fit (Fit), apply (Even), doubt
// (Even.Doubt).
package light

import (
	"image"

	"greige/analyze/camera"
	"greige/analyze/photo"
	"greige/analyze/raster"
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
	// Look, if set, is shown the stages: "light: cells", "light: ground", "light:
	// shadows", "light: field".
	Look raster.Look

	off passes
}

// passes are those that are left out, for the ablation.
type passes struct {
	dome, averaging, slow, shadows, paper, texture, pale, mixed, cast, repeats, underWhite, backing bool
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

// Even is a photo whose light has been evened out as far as was possible. It does
// not change: what brings it into another light gives another Even.
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
	// Ground is the plain surface behind the cloth; nil when none was found.
	Ground *Ground

	seen *Observation
	fit  *Fit
	tone tone
	left left
	// exposure is how the photo stands to others, where that was asked; see Stand.
	exposure *Exposure
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

// New evens out the light of p as far as the photo allows. A card that lies
// outside the photo, or a lightness outside 0..100, is an error that says
// what to do.
func New(p *photo.Photo, opt Options, hint Hint) (*Even, error) {
	o, err := Observe(p, opt)
	if err != nil {
		return nil, err
	}
	return o.Fit(hint).Apply(), nil
}

// As is what New gives for the same photo and options with another hint: e
// itself where it is what New has found out already. It is quicker, because the
// photo is not observed a second time.
func (e *Even) As(hint Hint) *Even {
	if e.Is(hint) {
		return e
	}
	return e.seen.Fit(hint).Apply()
}

// Is tells whether As would give e itself.
func (e *Even) Is(hint Hint) bool { return hint == e.fit.hint || e.seen.options.Mode == None }

// PaperGain is by what the photo's light was multiplied where a sheet of white
// paper lies that was found in it, so that it came out white; 0 when none was.
func (e *Even) PaperGain() float64 {
	if e.fit.paper == nil || e.fit.white == nil {
		return 0
	}
	return e.fit.white.rho / e.fit.white.seen.Y()
}
