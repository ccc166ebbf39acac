package light

import (
	"cmp"
	"errors"
	"fmt"
	"image"
	"math"
	"slices"

	"greige/analyze/photo"
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
	c := patch{clipped: float64(clipped) / (255 * float64(max(n, 1)))}
	if len(lum) == 0 {
		c.clipped = 1
		return c
	}
	mid := median(slices.Clone(lum))
	dev := make([]float32, len(lum))
	for i, v := range lum {
		dev[i] = abs32(v - mid)
	}
	// 1.4826 makes the median deviation a standard deviation (normal law).
	sd := 1.4826 * float64(median(dev))
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

func abs32(v float32) float32 {
	if v < 0 {
		return -v
	}
	return v
}

// median sorts v and returns its middle.
func median(v []float32) float32 {
	slices.Sort(v)
	return v[len(v)/2]
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

// pinCards measures the cards that were given and leaves them out of the cells.
// The lightest that can be used fixes the light; the others tell of the curve.
func (e *Even) pinCards(c *cells, opt Options) {
	e.pin, e.cards = nil, nil
	var pins []pin
	for _, k := range opt.Cards {
		if p := e.card(c, k, opt.of(k)); p != nil {
			pins = append(pins, *p)
		}
	}
	if len(pins) == 0 {
		return
	}
	slices.SortStableFunc(pins, func(a, b pin) int { return cmp.Compare(b.rho, a.rho) })
	for i := 1; i < len(pins); i++ {
		// Twice the light between their places is more than one lamp makes on a table.
		if pins[i].seen.Y() > 2*pins[i-1].seen.Y() {
			e.refusal = fmt.Errorf("the cards contradict each other: the one said to be %.0f light looks darker in the photo than the one said to be %.0f; check their places and their lightness",
				colorspace.Lightness(pins[i-1].rho), colorspace.Lightness(pins[i].rho))
		}
	}
	e.pin, e.cards = &pins[0], pins[1:]
	e.method("card")
}

// notPlain is the relative standard deviation of the light of a card from which
// on it is none: print, a fold or its edge. Noise and a slope of the light across a
// card make a tenth at the most (common practice, no source).
const notPlain = .25

// card measures one card and leaves it out of the cells. It is nil when there is
// none, or none that can be used.
func (e *Even) card(c *cells, card Card, lightness float64) *pin {
	r := card.working(e.Photo)
	if r.Empty() {
		return nil
	}
	m := measureCard(e.Photo.Picture, r)
	switch {
	case m.clipped > .5:
		e.remark("The card is too bright for the camera, so it could not be used.")
		e.tip(adviceDarker)
		return nil
	case !(min(m.light[0], m.light[1], m.light[2]) > 1e-4):
		e.remark("The card is too dark in the photo, so it could not be used. Is its place right?")
		e.tip("Check where the card lies in the photo, and take it again with more light.")
		return nil
	}
	if in := c.extent(r, m.light); in != nil {
		c.leaveOut(in)
		e.Ignore = append(e.Ignore, c.rows(in)...)
	}
	if m.spread > notPlain {
		e.refusal = fmt.Errorf("what lies at the card's place %s is not plain: give a place well inside the card, in pixels of the upright photo", card.where())
	}
	sigma := math.Hypot(levelSigma(lightness), m.sigma)
	if m.clipped > .01 {
		e.remark("Part of the card is too bright for the camera and was left out.")
		e.tip(adviceDarker)
	}
	if m.spread > .1 {
		sigma = math.Hypot(sigma, m.spread/2)
		e.remark("What lies at the card's place is not of one colour: is its place right?")
		e.tip("Check where the card lies in the photo.")
	}
	return &pin{at: basis(c.geometry().uv(m.x, m.y)), seen: m.light, rho: colorspace.LuminanceOf(lightness), sigma: sigma, clipped: m.clipped}
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
	var queue []int
	for y := seed.Min.Y; y < seed.Max.Y; y++ {
		for x := seed.Min.X; x < seed.Max.X; x++ {
			in[y*c.w+x] = true
			queue = append(queue, y*c.w+x)
		}
	}
	for k := 0; k < len(queue); k++ {
		i := queue[k]
		x, y := i%c.w, i/c.w
		for _, p := range [4]image.Point{{x - 1, y}, {x + 1, y}, {x, y - 1}, {x, y + 1}} {
			if !p.In(image.Rect(0, 0, c.w, c.h)) {
				continue
			}
			j := p.Y*c.w + p.X
			if in[j] || !alike(j) {
				continue
			}
			if !p.In(limit) {
				return nil
			}
			in[j] = true
			queue = append(queue, j)
		}
	}
	return c.dilated(in)
}

// dilated is in with one cell all round.
func (c *cells) dilated(in []bool) []bool {
	out := make([]bool, len(in))
	for i, v := range in {
		if !v {
			continue
		}
		x, y := i%c.w, i/c.w
		for dy := max(y-1, 0); dy <= min(y+1, c.h-1); dy++ {
			for dx := max(x-1, 0); dx <= min(x+1, c.w-1); dx++ {
				out[dy*c.w+dx] = true
			}
		}
	}
	return out
}

// rows are rectangles, in working pixels, that cover in row by row of cells;
// rows of the same extent are joined.
func (c *cells) rows(in []bool) []image.Rectangle {
	var out []image.Rectangle
	for y := range c.h {
		for x := 0; x < c.w; x++ {
			if !in[y*c.w+x] {
				continue
			}
			x0 := x
			for x < c.w && in[y*c.w+x] {
				x++
			}
			r := image.Rect(x0*c.k, y*c.k, min(x*c.k, c.pw), min((y+1)*c.k, c.ph))
			if n := len(out); n > 0 && out[n-1].Min.X == r.Min.X && out[n-1].Max.X == r.Max.X && out[n-1].Max.Y == r.Min.Y {
				out[n-1].Max.Y = r.Max.Y
				continue
			}
			out = append(out, r)
		}
	}
	return out
}
