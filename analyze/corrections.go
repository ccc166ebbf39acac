package analyze

import (
	"encoding/json"
	"image"
	"io"
	"math"
	"slices"

	"greige/analyze/cloth"
	"greige/analyze/layout"
)

// CorrectionsSchema names the shape of the file of corrections.
const CorrectionsSchema = "greige-corrections/1"

// CorrectionsFile is the name of the file in which the working page keeps them,
// in the folder of the photos.
const CorrectionsFile = "greige-corrections.json"

// Corrections are what the maker has put right by hand. They hold before
// anything that is found. ReadCorrections reads them; Write writes them.
type Corrections struct {
	Photos []PhotoCorrections
}

// PhotoCorrections are those of one photo, which is known by its bytes.
// Lengths are pixels of the upright photo.
type PhotoCorrections struct {
	Photo  string `json:"photo"`  // its name when it was put right: for people only
	SHA256 string `json:"sha256"` // of the photo's bytes, 64 hexadecimal digits
	// Scraps says what the photo shows: one cloth or many; "": found.
	Scraps ScrapsMode `json:"scraps,omitempty"`
	// Card is where a neutral card lies: x, y, width, height; nil: as given
	// for the run. CardLightness is its L*; 0: as given for the run.
	Card          *[4]float64 `json:"card,omitempty"`
	CardLightness float64     `json:"card_lightness,omitempty"`
	// At is the part of the photo that is the print: x, y, width, height.
	At     *[4]float64  `json:"at,omitempty"`
	Pieces []GivenPiece `json:"pieces,omitempty"`
	Grid   *GivenGrid   `json:"grid,omitempty"`
}

// GivenPiece is a piece of cloth, or of what is none, as the maker gave it.
type GivenPiece struct {
	Outline [][2]float64 `json:"outline"` // 3 points or more
	Cloth   bool         `json:"cloth"`
}

// GivenGrid is what the maker said about a top. What is zero or nil is found.
type GivenGrid struct {
	Corners [][2]float64   `json:"corners,omitempty"` // 4, clockwise from the top left
	Rows    int            `json:"rows,omitempty"`    // 1..layout.MaxSide
	Cols    int            `json:"cols,omitempty"`
	Setting layout.Setting `json:"setting,omitempty"`
	Chart   *GivenChart    `json:"chart,omitempty"`
}

// GivenChart is a layout.Chart that JSON writes as its name or its rows.
type GivenChart layout.Chart

// MarshalJSON writes the name, or the rows as a list.
func (c GivenChart) MarshalJSON() ([]byte, error) {
	if len(c.Rows) == 0 {
		return json.Marshal(c.Name)
	}
	return json.Marshal(c.Rows)
}

// Of is what was put right in the photo of this sum, the zero value where
// nothing was. A nil c has none.
func (c *Corrections) Of(sum string) PhotoCorrections {
	if c != nil {
		for _, p := range c.Photos {
			if p.SHA256 == sum {
				return p
			}
		}
	}
	return PhotoCorrections{}
}

// empty: there is no need to know any photo's sum.
func (c *Corrections) empty() bool { return c == nil || len(c.Photos) == 0 }

// With is c with p in place of what it has of the same photo; what says
// nothing is left out. c stays as it is.
func (c *Corrections) With(p PhotoCorrections) *Corrections {
	next, done := &Corrections{}, p.Empty()
	if c != nil {
		for _, q := range c.Photos {
			switch {
			case q.SHA256 != p.SHA256:
				next.Photos = append(next.Photos, q)
			case !done:
				next.Photos = append(next.Photos, p)
				done = true
			}
		}
	}
	if !done {
		next.Photos = append(next.Photos, p)
	}
	return next
}

// Empty tells whether p says nothing about its photo.
func (p PhotoCorrections) Empty() bool {
	return p.Scraps == "" && p.Card == nil && p.CardLightness == 0 && p.At == nil && len(p.Pieces) == 0 && p.Grid == nil
}

// Write writes c as its file, which ReadCorrections reads.
func (c *Corrections) Write(w io.Writer) error {
	object := struct {
		Schema string             `json:"schema"`
		Photos []PhotoCorrections `json:"photos"`
	}{CorrectionsSchema, []PhotoCorrections{}}
	if c != nil && len(c.Photos) > 0 {
		object.Photos = c.Photos
	}
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", " ")
	return enc.Encode(object)
}

// rectangleOf is x, y, width and height in whole pixels.
func rectangleOf(r [4]float64) image.Rectangle {
	n := func(v float64) int { return int(math.Round(v)) }
	return image.Rect(n(r[0]), n(r[1]), n(r[0]+r[2]), n(r[1]+r[3]))
}

// Put is p with pieces put in place of those given before where they are: of
// two given ones that share half of the smaller one's area the later holds.
// width and height are the photo's.
func (p PhotoCorrections) Put(width, height int, pieces ...GivenPiece) PhotoCorrections {
	// Fine enough to tell which outlines lie in one place: 512 pixels.
	k := max(1, float64(max(width, height))/512)
	region := func(outline [][2]float64) cloth.Region {
		return cloth.Polygon(divided(outline, k, k), int(math.Ceil(float64(width)/k)), int(math.Ceil(float64(height)/k)))
	}
	regions := make([]cloth.Region, len(pieces))
	for i, g := range pieces {
		regions[i] = region(g.Outline)
	}
	kept := slices.Clone(p.Pieces)
	p.Pieces = slices.DeleteFunc(kept, func(g GivenPiece) bool {
		old := region(g.Outline)
		return slices.ContainsFunc(regions, func(r cloth.Region) bool { return overlap(r, old) })
	})
	p.Pieces = append(p.Pieces, pieces...)
	return p
}
