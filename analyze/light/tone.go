package light

import (
	"math"
	"slices"

	"greige/analyze/camera"
	"greige/analyze/photo"
	"greige/colorspace"
)

// tone is what the camera's curve did to a photo, and how far it is undone: the
// mean curve before anything is made of the photo, what surfaces of known
// lightness tell of this photo's own after its light has been evened out.
type tone struct {
	usual  *camera.Belief // of the camera
	belief *camera.Belief // of this photo
	first  *camera.Curve  // that the photo was straightened by; nil: it was left as it is
	second *camera.Curve  // after the light was evened out; nil: none
	total  *camera.Curve  // both
	gain   float64        // of the luminance, after both
	kept   *camera.Kept   // that usual was learned as; nil: it was not
	refs   []camera.Reference
}

func newTone(opt Options, r photo.Record) tone {
	t := tone{usual: opt.Camera, gain: 1}
	if t.usual == nil && opt.Mode != None {
		t.kept = opt.Learned.For(IdentityOf(r))
	}
	switch {
	case t.kept != nil:
		t.usual = t.kept.Learned.Belief(UnknownLevel)
	case t.usual == nil:
		t.usual = camera.Usual(UnknownLevel)
	}
	t.belief = t.usual
	if opt.Mode == None {
		t.total = camera.Flat(1)
		return t
	}
	t.first = t.usual.Curve()
	t.total = t.first
	return t
}

// IdentityOf is what a photo's record calls the camera that took it.
func IdentityOf(r photo.Record) camera.Identity {
	return camera.Identity{Make: r.Make, Model: r.Model, Lens: r.Lens}
}

// straighten is p with its picture in the light of the scene, as far as the mean
// curve gives it.
func (t *tone) straighten(p *photo.Photo) *photo.Photo {
	if t.first == nil || t.first.Plain() {
		return p
	}
	q := *p
	q.Picture = toned(t.first, p.Picture, nil)
	return &q
}

// toned is p through a curve, in the memory of into where it is given.
func toned(c *camera.Curve, p, into *photo.Picture) *photo.Picture {
	if into == nil {
		into = &photo.Picture{W: p.W, H: p.H, Pix: make([]float32, len(p.Pix)), Dark: p.Dark, Bright: p.Bright}
	}
	photo.Bands(p.H, 16, func(y0, y1 int) {
		c.Apply(into.Pix[3*y0*p.W:3*y1*p.W], p.Pix[3*y0*p.W:3*y1*p.W])
	})
	return into
}

// learned is t with what surfaces of known lightness tell.
func (t tone) learned(refs []camera.Reference) tone {
	t.refs = refs
	t.belief = t.usual.Observe(refs...)
	t.total = t.belief.Curve()
	t.second = t.total.After(t.first)
	return t
}

// finish is an evened picture with what was learned; own is the photo's, which
// must stay as it is.
func (t *tone) finish(p, own *photo.Picture) *photo.Picture {
	switch {
	case t.second == nil:
		return p
	case p == own:
		return toned(t.second, p, nil)
	}
	return toned(t.second, p, p)
}

// last is a light of the evened picture with what was learned.
func (t *tone) last(l colorspace.Linear) colorspace.Linear {
	if y := l.Y(); t.second != nil && y > 0 {
		return l.Times(t.second.Scene(y) / y)
	}
	return l
}

// lightestShare is the share of the photo, of what is not burnt out, that is
// lighter than what counts as its lightest: a scrap or a patch is larger, a shine and
// a lamp are mostly smaller or burnt out.
const lightestShare = .005

// underWhite makes a new Even darker of which more than a speck would be lighter than
// white: nothing told how it was exposed, and no cloth is lighter than that.
func (e *Even) underWhite() {
	if e.LevelKnown || e.tone.first == nil || e.seen.options.off.underWhite {
		return
	}
	p := e.Picture
	step := max(1, max(p.W, p.H)/cellsAcross)
	var y []float32
	for v := step / 2; v < p.H; v += step {
		for u := step / 2; u < p.W; u += step {
			i := v*p.W + u
			if p.Bright == nil || p.Bright[i] == 0 {
				y = append(y, yOf(p.Pix[3*i], p.Pix[3*i+1], p.Pix[3*i+2]))
			}
		}
	}
	if len(y) == 0 {
		return
	}
	slices.Sort(y)
	if lightest := float64(y[int(float64(len(y)-1)*(1-lightestShare))]); lightest > 1 && !math.IsInf(lightest, 1) {
		e.brighten(colorspace.LuminanceOf(camera.Lightest) / lightest)
	}
}

// brighten multiplies all light of a new Even's picture.
func (e *Even) brighten(gain float64) {
	if gain == 1 {
		return
	}
	e.Picture = scaled(e.Picture, [3]float64{gain, gain, gain})
	e.tone.gain *= gain
	if e.Ground != nil {
		g := *e.Ground
		g.Light = g.Light.Times(gain)
		e.Ground = &g
	}
}

// file is a light of the finished picture as the file has it, without the colour
// of the lamp.
func (t *tone) file(l colorspace.Linear) colorspace.Linear {
	if y := l.Y(); y > 0 {
		return l.Times(t.total.File(y/t.gain) / y)
	}
	return l
}

// Seen is a light of the finished picture as the file has it.
func (e *Even) Seen(l colorspace.Linear, clipped float64) camera.Seen {
	if y := l.Y(); !(y > 0) || math.IsInf(y, 1) {
		l = colorspace.Linear{} // black, or no light that a camera could send
	}
	return camera.Seen{Lab: e.tone.file(l).Lab(), Clipped: clipped}
}

// Rendered is a light of the finished picture with what the camera does to
// colours taken out as well, as far as is known of it, and no lighter than cloth
// can be where the level is known. It is what a cloth's figures are made of.
func (e *Even) Rendered(l colorspace.Linear) colorspace.Linear {
	y := l.Y()
	if e.tone.first == nil || y <= 0 {
		return l
	}
	seen := e.tone.file(l).Lab()
	grey := seen
	grey.A, grey.B = 0, 0
	if seen.L > 0 && seen.Chroma() > 0 {
		colour, _ := e.tone.belief.Lightness(seen)
		plain, _ := e.tone.belief.Lightness(grey)
		if colour > 0 && plain > 0 {
			l = l.Times(colorspace.LuminanceOf(colour) / colorspace.LuminanceOf(plain))
		}
	}
	most := colorspace.LuminanceOf(camera.Lightest)
	if !e.LevelKnown {
		most = 1
	}
	if l.Y() > most {
		l = l.Times(most / l.Y())
	}
	return l
}

// beyond is how many half intervals above white a lightness is no cloth's. On real
// charts with a grey card the white patch came out one above (testdata/real); a grey
// thing that is said to be white puts white cloth twice as far and more.
const beyond = 1.5

// TooLight tells that a light of the finished picture is lighter than white by
// more than its doubt: then what the level stands on is no such card.
func (e *Even) TooLight(l colorspace.Linear, d camera.Doubt) bool {
	return e.LevelKnown && colorspace.Lightness(l.Y()) > 100+beyond*d.Half(1)
}

// References is how many surfaces of known lightness the level stands on.
func (e *Even) References() int { return e.tone.belief.Known() }

// CardsSeen returns the cards that were given, and could be used, as the file has
// them under the light where the first of them lies: the lightest one first.
func (e *Even) CardsSeen() []camera.Reference {
	if len(e.seen.cards) == 0 {
		return nil
	}
	return e.tone.refs
}
