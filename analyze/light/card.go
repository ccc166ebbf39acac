package light

import (
	"cmp"
	"errors"
	"fmt"
	"image"
	"math"
	"slices"

	"greige/analyze/fit"
	"greige/analyze/photo"
	"greige/analyze/raster"
	"greige/colorspace"
)

// paperLightness is the CIE L* of plain white paper (common practice, no
// source: office papers lie between about 93 and 97).
const paperLightness = 95

// lightness is the card's or the sheet's CIE L*.
func (o Options) lightness() float64 {
	if o.CardLightness == 0 {
		return paperLightness
	}
	return o.CardLightness
}

// check says what is wrong with o for photo p, in words.
func (o Options) check(p *photo.Photo) error {
	if p == nil || p.Picture == nil || p.Picture.W < 1 || p.Picture.H < 1 {
		return errors.New("the photo has no picture")
	}
	if l := o.lightness(); !(l > 0 && l <= 100) {
		return fmt.Errorf("a card's lightness lies above 0 and up to 100, not %g: white paper is about 95, an 18 %% grey card 49.5", l)
	}
	switch o.Mode {
	case "", Auto, Sheet, None:
	default:
		return fmt.Errorf("the light is %q, %q or %q, not %q", Auto, Sheet, None, o.Mode)
	}
	for _, c := range o.Cards {
		if l := o.of(c); !(l > 0 && l <= 100) {
			return fmt.Errorf("a card's lightness lies above 0 and up to 100, not %g: white paper is about 95, an 18 %% grey card 49.5", l)
		}
		inside := c.Place.Intersect(image.Rect(0, 0, p.Width, p.Height))
		if o.Mode != None && area(inside)*2 < area(c.Place) {
			return fmt.Errorf("the card at %s lies outside the photo, which is %d wide and %d high: give its place in pixels of the upright photo",
				c.where(), p.Width, p.Height)
		}
	}
	return nil
}

// of is the lightness of a card.
func (o Options) of(c Card) float64 {
	if c.Lightness == 0 {
		return o.lightness()
	}
	return c.Lightness
}

// where is the card's place as it is given: X,Y,W,H.
func (c Card) where() string {
	return fmt.Sprintf("%d,%d,%d,%d", c.Place.Min.X, c.Place.Min.Y, c.Place.Dx(), c.Place.Dy())
}

func area(r image.Rectangle) int { return r.Dx() * r.Dy() }

// working is the card in pixels of the working picture, at least one pixel large
// when it lies in the photo at all.
func (c Card) working(p *photo.Photo) image.Rectangle {
	if c.Place.Empty() {
		return image.Rectangle{}
	}
	k := max(p.Reduction, 1)
	r := image.Rect(floorDiv(c.Place.Min.X, k), floorDiv(c.Place.Min.Y, k), floorDiv(c.Place.Max.X+k-1, k), floorDiv(c.Place.Max.Y+k-1, k))
	return r.Intersect(image.Rect(0, 0, p.Picture.W, p.Picture.H))
}

func floorDiv(a, b int) int {
	q := a / b
	if a%b < 0 {
		q--
	}
	return q
}

// rim is a card with a rim round it that nobody should take for cloth: its
// edge, its shadow and what the blur of the lens mixes in.
func rim(card image.Rectangle, p *photo.Picture) image.Rectangle {
	d := max(2, min(card.Dx(), card.Dy())/12)
	return card.Inset(-d).Intersect(image.Rect(0, 0, p.W, p.H))
}

// patch is a plain surface of one colour as the photo shows it.
type patch struct {
	light   colorspace.Linear // mean linear light, robust
	x, y    float64           // its centre, working pixels
	clipped float64           // share of its source pixels at the top of the scale
	spread  float64           // robust relative standard deviation of its luminance
	sigma   float64           // relative standard uncertainty of the mean
	n       int               // pixels
}

// measureCard measures card well inside its edges: a fifth of its width is
// left out on each side, then everything that differs from the most of it
// (print, a finger, a spot of gloss) and every clipped pixel.
func measureCard(p *photo.Picture, card image.Rectangle) patch {
	in := image.Rect(card.Min.X+card.Dx()/5, card.Min.Y+card.Dy()/5, card.Max.X-card.Dx()/5, card.Max.Y-card.Dy()/5)
	if in.Empty() {
		in = card
	}
	c := measure(p, func(yield func(x, y int)) {
		for y := in.Min.Y; y < in.Max.Y; y++ {
			for x := in.Min.X; x < in.Max.X; x++ {
				yield(x, y)
			}
		}
	})
	c.x, c.y = float64(in.Min.X+in.Max.X)/2, float64(in.Min.Y+in.Max.Y)/2
	return c
}

// measure is the robust mean light over the pixels that each names.
func measure(p *photo.Picture, each func(yield func(x, y int))) patch {
	w := colorspace.LuminanceWeights()
	var light [][3]float32
	var lum []float32
	n, clipped := 0, 0
	each(func(x, y int) {
		i := y*p.W + x
		n++
		if p.Bright != nil {
			clipped += int(p.Bright[i])
			if p.Bright[i] > 25 { // a tenth of what lies under it is clipped
				return
			}
		}
		v := [3]float32(p.Pix[3*i : 3*i+3])
		light = append(light, v)
		lum = append(lum, float32(w[0])*v[0]+float32(w[1])*v[1]+float32(w[2])*v[2])
	})
	c := patch{n: n, clipped: float64(clipped) / (255 * float64(max(n, 1)))}
	if len(lum) == 0 {
		c.clipped = 1
		return c
	}
	mid := fit.Median(slices.Clone(lum))
	dev := make([]float32, len(lum))
	for i, v := range lum {
		dev[i] = abs32(v - mid)
	}
	// 1.4826 makes the median deviation a standard deviation (normal law).
	sd := 1.4826 * float64(fit.Median(dev))
	cut := float32(3*sd + 1e-6)
	var sum [3]float64
	kept := 0
	for i, v := range lum {
		if abs32(v-mid) <= cut {
			for k := range 3 {
				sum[k] += float64(light[i][k])
			}
			kept++
		}
	}
	for k := range 3 {
		c.light[k] = sum[k] / float64(kept)
	}
	if y := c.light.Y(); y > 0 {
		c.spread = sd / y
		// Pixels next to each other share noise (JPEG, demosaicing): count
		// one in sixteen as independent.
		c.sigma = c.spread / math.Sqrt(max(float64(kept)/16, 1))
	}
	return c
}

// statedLightness is the standard uncertainty, in L*, of a card's lightness
// as it is stated: half of the last figure that people give.
const statedLightness = 0.25

// levelSigma is the relative standard uncertainty of a luminance that stands
// on a surface whose L* is stated.
func levelSigma(lightness float64) float64 {
	y := colorspace.LuminanceOf(lightness)
	return (colorspace.LuminanceOf(lightness+statedLightness) - y) / y
}

// sheetSigma is levelSigma of a white sheet. 95 is what anybody says of one that
// nobody measured: then it is as likely any of the papers that are sold.
func (o Options) sheetSigma() float64 {
	if o.lightness() == paperLightness {
		return paperSigma
	}
	return levelSigma(o.lightness())
}

// cardsSeen are the cards of a photo that can be used, the lightest first, and what
// hides no cloth.
type cardsSeen struct {
	cards  []reference
	ignore []image.Rectangle
	said   said
}

// seeCards measures the cards that were given. The error says which of them cannot be.
func (o *Observation) seeCards(c *cells) (s cardsSeen, err error) {
	for _, k := range o.options.Cards {
		if err = o.seeCard(c, k, &s); err != nil {
			return s, err
		}
	}
	slices.SortStableFunc(s.cards, func(a, b reference) int { return cmp.Compare(b.rho, a.rho) })
	for i := 1; i < len(s.cards); i++ {
		// Twice the light between their places is more than one lamp makes on a table.
		if s.cards[i].seen.Y() > 2*s.cards[i-1].seen.Y() {
			return s, fmt.Errorf("the cards contradict each other: the one said to be %.0f light looks darker in the photo than the one said to be %.0f; check their places and their lightness",
				colorspace.Lightness(s.cards[i-1].rho), colorspace.Lightness(s.cards[i].rho))
		}
	}
	return s, nil
}

// notPlain is the relative standard deviation of the light of a card from which
// on it is none: print, a fold or its edge. Noise and a slope of the light across a
// card make a tenth at the most (common practice, no source).
const notPlain, slightlyPlain = .25, .1

// seeCard measures one card and adds it to s where it can be used.
func (o *Observation) seeCard(c *cells, card Card, s *cardsSeen) error {
	r := card.working(o.photo)
	if r.Empty() {
		return nil
	}
	lightness := o.options.of(card)
	m := measureCard(o.photo.Picture, r)
	switch {
	case m.clipped > .5: // most of it
		s.said = s.said.with("The card is too bright for the camera, so it could not be used.", adviceDarker)
		return nil
	case !(min(m.light[0], m.light[1], m.light[2]) > 1e-4): // the camera's black
		s.said = s.said.with("The card is too dark in the photo, so it could not be used. Is its place right?",
			"Check where the card lies in the photo, and take it again with more light.")
		return nil
	}
	if in := c.extent(r, m.light); in != nil {
		s.ignore = append(s.ignore, c.rows(in)...)
	}
	if m.spread > notPlain {
		return fmt.Errorf("what lies at the card's place %s is not plain: give a place well inside the card, in pixels of the upright photo", card.where())
	}
	sigma := math.Hypot(levelSigma(lightness), m.sigma)
	if m.clipped > .01 {
		s.said = s.said.with("Part of the card is too bright for the camera and was left out.", adviceDarker)
	}
	if m.spread > slightlyPlain {
		sigma = math.Hypot(sigma, m.spread/2)
		s.said = s.said.with("What lies at the card's place is not of one colour: is its place right?", "Check where the card lies in the photo.")
	}
	s.cards = append(s.cards, reference{at: basis(c.geometry().uv(m.x, m.y)), seen: m.light, rho: colorspace.LuminanceOf(lightness), sigma: sigma, clipped: m.clipped})
	return nil
}

const adviceDarker = "Take it again a little darker, with no glare on the card."

// extent is the card's real extent on the cells: what is connected to the
// place that was given and looks like the card, with one cell all round for
// its edge and shadow. People give a place well inside a card, or an upright
// one of a card that lies askew. It returns nil where the surroundings look
// like the card: then nothing can be told apart, and nothing is spoilt.
func (c *cells) extent(card image.Rectangle, light colorspace.Linear) []bool {
	y := light.Y()
	want := [4]float64{math.Log(max(y, tooDark))}
	for k := range 3 {
		want[k+1] = math.Log(max(light[k], y/50) / max(y, tooDark))
	}
	alike := func(i int) bool {
		l := &c.logs[i]
		return math.Abs(float64(l[0])-want[0]) < .1 && math.Abs(float64(l[1])-want[1]) < .06 && math.Abs(float64(l[3])-want[3]) < .12
	}
	seed := image.Rect(card.Min.X/c.k, card.Min.Y/c.k, (card.Max.X+c.k-1)/c.k, (card.Max.Y+c.k-1)/c.k).Intersect(image.Rect(0, 0, c.w, c.h))
	reach := max(seed.Dx(), seed.Dy()) + 2
	limit := seed.Inset(-reach).Intersect(image.Rect(0, 0, c.w, c.h))
	in := make([]bool, c.w*c.h)
	for y := limit.Min.Y; y < limit.Max.Y; y++ {
		for x := limit.Min.X; x < limit.Max.X; x++ {
			in[y*c.w+x] = image.Pt(x, y).In(seed) || alike(y*c.w+x)
		}
	}
	for _, p := range c.components(in, 1) {
		if !p.Mask().Has(seed.Min.X, seed.Min.Y) {
			continue
		}
		// It runs on beyond the limit, where that is not the photo's edge.
		if b := p.Bounds; b.Min.X == limit.Min.X && b.Min.X > 0 || b.Min.Y == limit.Min.Y && b.Min.Y > 0 ||
			b.Max.X == limit.Max.X && b.Max.X < c.w || b.Max.Y == limit.Max.Y && b.Max.Y < c.h {
			return nil
		}
		m := raster.NewMask(image.Rect(0, 0, c.w, c.h))
		p.AddTo(m)
		return c.dilated(m.In, 1)
	}
	return nil
}

// measureCells is the robust mean light over the pixels of the cells in.
func (c *cells) measureCells(in []bool) patch {
	var x, y, n float64
	m := measure(c.pic, func(yield func(x, y int)) {
		for i, v := range in {
			if !v {
				continue
			}
			x0, y0 := i%c.w*c.k, i/c.w*c.k
			x, y, n = x+float64(x0)+float64(c.k)/2, y+float64(y0)+float64(c.k)/2, n+1
			for y := y0; y < min(y0+c.k, c.ph); y++ {
				for x := x0; x < min(x0+c.k, c.pw); x++ {
					yield(x, y)
				}
			}
		}
	})
	m.x, m.y = x/max(n, 1), y/max(n, 1)
	return m
}
