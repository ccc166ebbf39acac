package light

import (
	"math"

	"greige/analyze/photo"
	"greige/colorspace"
)

// New evens out the light of p as far as the photo allows. A card that lies
// outside the photo, or a lightness outside 0..100, is an error that says
// what to do.
func New(p *photo.Photo, opt Options, hint Hint) (*Even, error) {
	if err := opt.check(p); err != nil {
		return nil, err
	}
	e := &Even{
		Photo:   p,
		Picture: p.Picture,
		Record:  Record{Photo: p.Name, Method: "none", Clipped: clippedShare(p.Picture)},
	}
	e.unknown()
	card := opt.cardWorking(p)
	if !card.Empty() {
		e.Ignore = append(e.Ignore, rim(card, p.Picture))
	}
	if opt.Mode == None {
		e.Record.Note = "The light was left as the camera gave it."
		return e, nil
	}
	e.even(opt, hint)
	return e, nil
}

// even does what New promises, once the options are known to be good.
func (e *Even) even(opt Options, hint Hint) {
	pic := e.Photo.Picture
	c := reduce(pic, e.ignored)
	t := correction{gain: [3]float64{1, 1, 1}}

	card, have := e.card(opt)
	if have {
		if in := c.extent(opt.cardWorking(e.Photo), card.light); in != nil {
			c.leaveOut(in)
			e.Ignore = append(e.Ignore, c.rows(in)...)
		}
	}
	var g *ground
	var v verdict
	var s segments
	if hint != OneCloth || opt.Mode == Sheet {
		half := c.halved()
		parts := half.divide(segmentScale)
		s = parts.spread(half, c)
		if g = findGround(c, s, hint); g != nil {
			v = weigh(c, s, g, hint, opt.Mode)
		}
	}
	switch {
	case g != nil:
		t.field = g.field
		t.cast = v.neutral
	case hint == OneCloth:
		t.field = fitCloth(c.samples(func(int) bool { return true }, clothSample), c.w)
	}

	switch {
	case have && g != nil:
		e.Record.Method = "card + sheet"
	case have:
		e.Record.Method = "card"
	case g != nil:
		e.Record.Method = "sheet"
	}
	switch {
	case have:
		e.fixByCard(&t, card, opt.lightness())
	case g != nil && v.white:
		e.fixBySheet(&t, g, v, opt.lightness())
	case g != nil:
		if v.neutral {
			e.takeCast(&t, g.light())
		}
		t.keepMean(c)
		e.left = left{field: g.field, level: unknownLevel, cast: v.neutral}
	case t.field != nil:
		t.keepMean(c)
		e.left = left{field: t.field, level: unknownLevel}
		e.Record.Method = "slope of the cloth"
	}
	if e.Record.Method == "none" {
		e.Record.Note += " Nothing in the photo tells how light it really is, so it was left as the camera gave it."
		e.Record.Advice = adviceSheet
		return
	}
	e.Picture = t.apply(pic)
	if t.field != nil {
		e.Record.Unevenness = t.field.unevenness()
	}
	if g != nil {
		e.Ground = g.result(c, &t, e.Picture, v)
	}
	e.LevelSigma, e.SlopeSigma = e.left.level, e.left.slope()
}

// segmentScale is the allowance of divide for small parts: ten cells may
// differ from their neighbours by a tenth.
const segmentScale = 1

const adviceSheet = "Lay a sheet of white paper in the corner and take it again."

// ignored: the working pixel lies on what is known to be no cloth.
func (e *Even) ignored(x, y int) bool {
	for _, r := range e.Ignore {
		if x >= r.Min.X && x < r.Max.X && y >= r.Min.Y && y < r.Max.Y {
			return true
		}
	}
	return false
}

// takeCast sets the gains that make light grey, its luminance kept.
func (e *Even) takeCast(t *correction, light colorspace.Linear) {
	y := light.Y()
	e.Record.Cast = make([]float64, 3)
	for k := range 3 {
		e.Record.Cast[k] = light[k] / y
		t.gain[k] = y / light[k]
	}
}

// notWhite is how far off the level is, as a share, when a ground that was
// taken for white paper is another pale ground: five L*.
const notWhite = .13

// fixBySheet sets level and cast by a white sheet.
func (e *Even) fixBySheet(t *correction, g *ground, v verdict, lightness float64) {
	light := g.light()
	e.takeCast(t, light)
	rho := colorspace.LuminanceOf(lightness)
	for k := range 3 {
		t.gain[k] *= rho / light.Y()
	}
	e.LevelKnown = true
	gr := &g.field.groups[0]
	e.left = left{
		field:  g.field,
		cast:   true,
		anchor: gr.centre,
		level:  math.Hypot(math.Hypot(levelSigma(lightness), notWhite*(1-v.sure)), g.field.meanSigma(gr.weight)),
	}
}

// unevenness is the brightest part of the light over the dimmest.
func (f *field) unevenness() float64 {
	lo, hi := math.Inf(1), math.Inf(-1)
	for j := range 21 {
		for i := range 21 {
			b := basis(float64(i)/10-1, float64(j)/10-1)
			y := f.lnY(&b)
			lo, hi = min(lo, y), max(hi, y)
		}
	}
	return math.Exp(hi - lo)
}

// result is what other rooms may know of the ground.
func (g *ground) result(c *cells, t *correction, even *photo.Picture, v verdict) *Ground {
	light := g.light()
	o := &Ground{Share: g.area, White: v.white, Neutral: v.neutral, Sure: v.sure}
	for k := range 3 {
		o.Light[k] = light[k] * t.gain[k]
	}
	o.Mask, o.Spread = g.mask(c, even, o.Light)
	return o
}

// mask finds the ground's pixels in the evened picture. A pixel is noisier
// than a cell, so its own tolerance is measured first, on the cells that are
// ground for sure.
func (g *ground) mask(c *cells, even *photo.Picture, light colorspace.Linear) ([]uint8, float64) {
	mask := make([]uint8, even.W*even.H)
	y0 := float32(light.Y())
	inv := [3]float32{float32(1 / light[0]), float32(1 / light[1]), float32(1 / light[2])}
	// Spread by the median deviation over every 7th row's pixels.
	var dev []float32
	for y := 3; y < even.H; y += 7 {
		for x := 3; x < even.W; x += 7 {
			if g.member[y/c.k*c.w+x/c.k] {
				i := 3 * (y*even.W + x)
				dev = append(dev, abs32(yOf(even.Pix[i], even.Pix[i+1], even.Pix[i+2])/y0-1))
			}
		}
	}
	if len(dev) == 0 {
		return mask, 0
	}
	sd := 1.4826 * median(dev)
	tol := max(4*sd, float32(g.tolY))
	tint := max(2*tol, float32(2*g.tolB))
	bands(even.H, func(r0, r1 int) {
		for y := r0; y < r1; y++ {
			cell := y / c.k * c.w
			for x := range even.W {
				i := y*even.W + x
				r, gr, b := even.Pix[3*i], even.Pix[3*i+1], even.Pix[3*i+2]
				q := yOf(r, gr, b) / y0
				if abs32(q-1) > tol {
					continue
				}
				if g.member[cell+x/c.k] || (abs32(r*inv[0]-q) < tint && abs32(b*inv[2]-q) < tint) {
					mask[i] = 255
				}
			}
		}
	})
	return mask, float64(sd)
}

var lumR, lumG, lumB = func() (r, g, b float32) {
	w := colorspace.LuminanceWeights()
	return float32(w[0]), float32(w[1]), float32(w[2])
}()

func yOf(r, g, b float32) float32 { return lumR*r + lumG*g + lumB*b }
