package light

import (
	"image"
	"slices"

	"greige/analyze/ground"
	"greige/analyze/photo"
	"greige/analyze/raster"
	"greige/colorspace"
)

// Observation is what a photo shows of its light, whatever it is a photo of.
type Observation struct {
	photo   *photo.Photo // straightened by the camera's mean curve
	options Options
	tone    tone
	cells   *cells         // what may be cloth or ground: without the cards
	parts   segments       // of cells
	half    *cells         // at half the resolution, where the lines of a mat are gone
	kinds   []*raster.Mask // of what lies behind the cloths, the main one first
	cards   []reference    // that can be used, the lightest one first
	papers  []*paper       // what may be sheets of white paper, the largest first
	ignore  []image.Rectangle
	said    said
}

// said is what is told about a photo: what was found, and what to do better.
type said struct{ remarks, tips []string }

// with is s with one more remark and tip; either may be "".
func (s said) with(remark, tip string) said {
	if remark != "" {
		s.remarks = append(slices.Clip(s.remarks), remark)
	}
	if tip != "" {
		s.tips = append(slices.Clip(s.tips), tip)
	}
	return s
}

// reference is a place where the light is known: what the photo shows there of a
// surface whose reflectance is known, or only that it is neutral.
type reference struct {
	at    vector            // basis there
	seen  colorspace.Linear // as the photo shows it
	rho   float64           // its luminance factor, 0..1; 0: only its neutrality is known
	sigma float64           // relative standard uncertainty of the level there
	rough bool              // a sheet of paper says better
	// clipped is the share of it that stands at an end of the file's scale.
	clipped float64
}

// Observe looks at a photo. A card that lies outside the photo, that is not plain, or
// a lightness outside 0..100, is an error that says what to do.
func Observe(p *photo.Photo, opt Options) (*Observation, error) {
	if err := opt.check(p); err != nil {
		return nil, err
	}
	o := &Observation{options: opt, tone: newTone(opt, p.Record)}
	o.photo = o.tone.straighten(p)
	for _, c := range opt.Cards {
		if card := c.working(p); !card.Empty() {
			o.ignore = append(o.ignore, rim(card, p.Picture))
		}
	}
	if opt.Mode == None {
		return o, nil
	}
	c := reduce(o.photo.Picture)
	c.off = opt.off
	seen, err := o.seeCards(c)
	if err != nil {
		return nil, err
	}
	o.cards, o.said = seen.cards, seen.said
	o.ignore = append(o.ignore, seen.ignore...)
	o.cells = c.without(c.covered(o.ignore))
	o.half = o.cells.halved()
	parts := o.half.divide()
	o.parts = parts.spread(o.half, o.cells)
	if g := ground.Find(o.cells.picture(), not(o.cells.use)); g != nil && !opt.off.backing {
		o.kinds = g.Kinds
	}
	if !opt.NoPaper && !opt.off.paper && len(o.cards) == 0 {
		o.papers = findPapers(o.cells, o.parts)
	}
	if n := share(c.full); n > tooBright {
		o.said = o.said.with("A good part of the photo is too bright for the camera, and tells nothing.",
			"Take it again a little darker: tap on the brightest part before you press.")
	}
	o.look()
	return o, nil
}

// tooBright is the share of a photo beyond the camera from which on it is said
// (common practice, no source).
const tooBright = .1

// covered are the cells whose middles lie in one of these rectangles of working pixels.
func (c *cells) covered(by []image.Rectangle) []bool {
	in := make([]bool, c.w*c.h)
	for i := range in {
		at := image.Pt(i%c.w*c.k+c.k/2, i/c.w*c.k+c.k/2)
		in[i] = slices.ContainsFunc(by, func(r image.Rectangle) bool { return at.In(r) })
	}
	return in
}

// look shows the cells and what lies behind the cloths.
func (o *Observation) look() {
	c := o.cells
	o.options.Look.At("light: cells", func() image.Image { return raster.Heat(c.mean, c.w, c.h, 0, 1) })
	o.options.Look.At("light: ground", func() image.Image {
		kind := make([]float32, c.w*c.h)
		for k, m := range o.kinds {
			for i, in := range m.In {
				if in {
					kind[i] = float32(len(o.kinds) - k)
				}
			}
		}
		return raster.Heat(kind, c.w, c.h, 0, float32(max(len(o.kinds), 1)))
	})
}
