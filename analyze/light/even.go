package light

import (
	"math"
	"slices"

	"greige/analyze/camera"
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
	e := evenOut(p, opt, hint, &Even{})
	if e.refusal != nil {
		return nil, e.refusal
	}
	return e, nil
}

// As is what New gives for the same photo and options with another hint: e
// itself where it is what New has found out already. It is quicker, because the
// photo is not read a second time.
func (e *Even) As(hint Hint) *Even {
	if e.Is(hint) {
		return e
	}
	return evenOut(e.Photo, e.options, hint, e)
}

// Is tells whether As would give e itself.
func (e *Even) Is(hint Hint) bool { return hint == e.hint || e.options.Mode == None }

// Copy is e to be changed, by LevelTop or Stand, while e stays as it is. The two
// share the pictures, which nobody changes in place.
func (e *Even) Copy() *Even {
	c := *e
	c.Ignore, c.dark = slices.Clone(e.Ignore), slices.Clone(e.dark)
	c.remarks, c.tips = slices.Clone(e.remarks), slices.Clone(e.tips)
	c.tone.refs = slices.Clone(e.tone.refs)
	if e.Ground != nil {
		g := *e.Ground
		c.Ground = &g
	}
	return &c
}

// cells are those of the photo that may show cloth, to be changed by whoever
// works on them. The photo is reduced once.
func (e *Even) cells() *cells {
	if e.seen == nil {
		e.seen = reduce(e.Photo.Picture)
	}
	c := *e.seen
	c.use = slices.Clone(c.use)
	for i := range c.use {
		if e.ignored(i%c.w*c.k+c.k/2, i/c.w*c.k+c.k/2) {
			c.use[i] = false
		}
	}
	return &c
}

// evenOut does what New promises; before is what an earlier look at the photo
// found, or empty.
func evenOut(p *photo.Photo, opt Options, hint Hint, before *Even) *Even {
	e := &Even{
		Photo:   p,
		Picture: p.Picture,
		Record:  Record{Photo: p.Name, Method: "none", Clipped: clippedShare(p.Picture)},
		Causes:  camera.Causes{Photo: p.Name, Camera: p.Record.Camera},
		options: opt,
		seen:    before.seen,
	}
	e.tone = newTone(opt, p.Record)
	if before.Photo == nil {
		e.Photo = e.tone.straighten(p)
		e.Picture = e.Photo.Picture
	}
	e.hint, e.oneCloth = hint, hint == OneCloth
	e.unknown()
	for _, c := range opt.Cards {
		if card := c.working(p); !card.Empty() {
			e.Ignore = append(e.Ignore, rim(card, p.Picture))
		}
	}
	e.lightness, e.sheetGiven = opt.lightness(), opt.Mode == Sheet
	if opt.Mode == None {
		e.given = true
	} else {
		e.even(opt, hint, before.found)
	}
	e.say()
	return e
}

// pin is a place where the light is known: what the photo shows there of a
// surface whose reflectance is known, or only that it is neutral.
type pin struct {
	at    vector            // basis there
	seen  colorspace.Linear // as the photo shows it
	rho   float64           // its luminance factor, 0..1; 0: only its neutrality is known
	sigma float64           // relative standard uncertainty of the level there
	rough bool              // a sheet of paper tells better
	// clipped is the share of it that stands at an end of the file's scale.
	clipped float64
}

// even does what New promises, once the options are known to be good; before as
// for findGround.
func (e *Even) even(opt Options, hint Hint, before *foundGround) {
	c := e.cells()
	e.pinCards(c, opt)
	half := c.halved()
	parts := half.divide(segmentScale)
	s := parts.spread(half, c)
	var g *ground
	if hint != OneCloth || opt.Mode == Sheet {
		e.found = findGround(c, half, parts, hint, before)
		if e.found != nil {
			g = e.found.ground
		}
	}
	var sheet *laid
	if hint != OneCloth && !opt.NoPaper {
		sheet = findLaid(c, s)
	}
	if sheet != nil && sheet.bears && (hint == Top || opt.Mode == Sheet) {
		if f := sheet.ground(c, hint); f != nil {
			e.found, g = f, f.ground
		}
	}
	t := correction{cells: c}
	switch {
	case g != nil:
		e.ground = g
		t.field = g.field
		if hint == Unknown && g.carries(c) {
			hint = ScrapsOnGround
			e.hint = hint
		}
		if e.found.spots == nil {
			sp := g.spots(c)
			e.found.spots = &sp
		}
		sp := e.found.spots
		if sp.hard {
			e.dark = slices.Repeat([]float64{sp.depth}, len(c.use))
			e.leaveAlone("A good part of the photo lies in a deep shadow, "+twoLights, adviceShadow)
			return
		}
		if hint != Top {
			e.spots, t.shade = sp, sp.shade
		}
		e.useGround(c, s, g, sp, opt, hint)
		e.usePaper(c, s, g, g.field, hint, sheet)
	case hint == ScrapsOnGround:
		t.field = c.fitPieces(s)
		e.usePaper(c, s, nil, t.field, hint, sheet)
	case hint == OneCloth:
		fit := func() *field { return fitCloth(c.samples(func(int) bool { return true }, clothSample), c.w) }
		// The lamp must not hide which of the light surfaces is the paper.
		t.field = fit()
		if e.usePaper(c, s, nil, t.field, hint, sheet) {
			t.field = fit()
		}
	default:
		e.usePaper(c, s, nil, nil, hint, sheet)
	}
	if (hint == Top || hint == ScrapsOnGround) && e.sharpShadow(c, hint) {
		return
	}
	if g == nil && t.field != nil && t.field.rms() > evenEnough {
		e.method("slope of the cloth")
	}
	if opt.Mode == Sheet && g == nil {
		e.remark("No plain white sheet was found behind the cloths.")
	}
	e.tooBright(c)
	e.finish(c, t)
}

// tooBright says so when a good part of the photo is beyond the camera.
func (e *Even) tooBright(c *cells) {
	n := 0
	for _, f := range c.full {
		if f {
			n++
		}
	}
	if float64(n) > .1*float64(len(c.full)) {
		e.remark("A good part of the photo is too bright for the camera, and tells nothing.")
		e.tip("Take it again a little darker: tap on the brightest part before you press.")
	}
}

// useGround takes from the ground what it tells besides the unevenness: the
// cast when it is neutral, the level when it is white.
func (e *Even) useGround(c *cells, s segments, g *ground, sp *spots, opt Options, hint Hint) {
	g.verdict = weigh(c, s, g, sp, hint, opt.Mode)
	gr := &g.field.groups[0]
	seen := g.seen()
	if g.white {
		e.method("sheet")
	} else {
		e.method("ground")
		if opt.Mode == Sheet {
			if g.neutral {
				e.remark("Some of what the photo shows is clearly lighter than what lies behind the cloths, so that is not taken for a white sheet.")
				e.tip("If a sheet of white paper lies in the photo, say where with --card X,Y,W,H; or say with --card-lightness how light the ground is.")
			} else {
				e.remark("What lies behind the cloths is too strongly coloured to be a white sheet.")
			}
		}
	}
	switch {
	case e.pin != nil: // a card is better
	case g.white:
		sigma := math.Hypot(opt.sheetSigma(), notWhite*(1-g.sure))
		rho, lowered := colorspace.LuminanceOf(opt.lightness()), 0.
		if opt.Mode == Sheet {
			rho, lowered = g.asWhite(opt.lightness())
		}
		e.pin = &pin{at: gr.centre, seen: seen, rho: rho, sigma: math.Hypot(math.Hypot(sigma, lowered), g.field.meanSigma(gr.weight))}
	case g.pale:
		e.pin = &pin{at: gr.centre, seen: seen, rho: g.paleY, sigma: math.Hypot(levelSigma(paperLightness), g.paleDoubt), rough: true}
	case g.neutral && !g.faint:
		e.pin = &pin{at: gr.centre, seen: seen}
	}
}

const (
	twoLights    = "so that it has two lights, and no figure can say which of them a piece lies in. The light was left as the camera gave it."
	adviceShadow = "Move out of the light's way, or turn the table, and take it again."
)

// leaveAlone gives up: the photo stays as it is, and why is said.
func (e *Even) leaveAlone(why, advice string) {
	e.pin, e.paper, e.ground, e.spots = nil, nil, nil, nil
	e.unknown()
	e.Record.Method = "none"
	e.gaveUp = true
	e.remark(why)
	e.tip(advice)
}

// usePaper looks for a sheet of white paper, where nothing better fixes the
// level, and uses it as a card. f is the light as far as it is known.
func (e *Even) usePaper(c *cells, s segments, g *ground, f *field, hint Hint, sheet *laid) bool {
	if e.options.NoPaper || e.pin != nil && e.pin.rho > 0 && !e.pin.rough {
		return false
	}
	var w *paper
	if sheet != nil {
		w = sheet.paper(c, f)
	}
	if w == nil && (g != nil || hint == ScrapsOnGround || hint == OneCloth) {
		w = findPaper(c, s, g, f, hint)
	}
	if w == nil {
		return false
	}
	if !w.bears {
		c.leaveOut(w.cells)
		e.Ignore = append(e.Ignore, c.rows(w.cells)...)
	}
	e.Paper, e.paper = w.outline, w
	k := float64(max(e.Photo.Reduction, 1))
	for _, p := range w.outline {
		e.Record.Paper = append(e.Record.Paper, [2]float64{p[0] * k, p[1] * k})
	}
	e.method("paper")
	if w.full {
		e.remark("Part of the paper is too bright for the camera and was left out.")
		e.tip(adviceDarker)
	}
	sigma := paperSigma
	if w.cut {
		sigma = boardSigma
	}
	e.pin = &pin{
		at: basis(c.geometry().uv(w.x, w.y)), seen: w.light, rho: colorspace.LuminanceOf(paperLightness),
		sigma: math.Hypot(sigma, w.sigma),
	}
	if sheet != nil && g != nil && &g.member[0] == &sheet.body[0] {
		// Its soft shadows have been left out where the light was fitted to it.
		gr := &g.field.groups[0]
		var lowered float64
		e.pin.rho, lowered = g.asWhite(paperLightness)
		e.pin.at, e.pin.seen, e.pin.sigma = gr.centre, g.seen(), math.Hypot(math.Hypot(sigma, lowered), g.field.meanSigma(gr.weight))
	}
	return true
}

// PaperGain is by what the photo's light was multiplied where a sheet of white
// paper lies that was found in it, so that it came out white; 0 when none was.
func (e *Even) PaperGain() float64 {
	if e.paper == nil || e.pin == nil {
		return 0
	}
	return e.pin.rho / e.pin.seen.Y()
}

// notWhite is how far off the level is, as a share, when a ground that was
// taken for white paper is another pale ground: four L*.
const notWhite = .1

// evenEnough is the rms unevenness, as a share, under which the light is even
// for all that can be seen (a tenth of an L*), and the field not worth a pass
// over the photo.
const evenEnough = .003

// finish takes the field and what the pin tells out of the photo.
func (e *Even) finish(c *cells, t correction) {
	e.Picture, e.tone.gain = e.Photo.Picture, 1
	defer e.underWhite()
	t.gain = [3]float64{1, 1, 1}
	e.left = left{field: t.field, folds: e.folds(), cast: doubtCast(e.witness(c))}
	if t.field != nil {
		e.Record.Unevenness = t.field.unevenness()
		if t.field.rms() < evenEnough && t.shade == nil {
			t.field = nil
		}
	}
	if p := e.pin; p != nil {
		y := p.seen.Y()
		t.cast = true
		e.Record.Cast = make([]float64, 3)
		for k := range 3 {
			e.Record.Cast[k] = p.seen[k] / y
			t.gain[k] = y / p.seen[k]
			if t.field != nil {
				t.gain[k] *= math.Exp(t.field.channel(k+1, &p.at))
			}
		}
		e.left.cast, e.left.taken = nil, colorspace.Linear(e.Record.Cast)
		if g := e.ground; g != nil && (p.rho == 0 || p.rough) {
			// If the ground is not neutral after all, only the cloths tell.
			e.left.cast = doubtNeutral(g.cloths, colorspace.Linear(e.Record.Cast), g.prior)
		}
	}
	if p := e.pin; p != nil && p.rho > 0 {
		// The light where the card lies is taken for that of the whole photo, at the
		// file's own exposure; what the card tells of that comes after.
		if t.field != nil {
			for k := range 3 {
				t.gain[k] *= math.Exp(t.field.lnY(&p.at))
			}
		}
		e.LevelKnown = true
		e.left.anchor = p.at
		e.tone.learn(e.references(t.field, t.gain))
	} else {
		t.keepMean(c)
	}
	if t.field == nil && e.pin == nil && e.ground == nil {
		return
	}
	if w := e.groundCloths(); w.n > 0 && !e.LevelKnown {
		e.left.beside = w.light()
		for k := range 3 {
			e.left.beside[k] *= t.gain[k]
		}
	}
	e.Picture = e.tone.finish(t.apply(e.Photo.Picture), e.Photo.Picture)
	if e.ground != nil {
		e.Ground = e.ground.result(t.gain)
		e.Ground.Light = e.tone.last(e.Ground.Light)
	}
	e.LevelSigma, e.SlopeSigma = e.levelSigma(), e.left.slope()
	if e.spots != nil && (e.spots.shade != nil || e.spots.gloss != nil) {
		e.left.spots, e.left.cells = e.spots, c
		e.left.groundY = e.Ground.Light.Y()
	}
}

// groundCloths is what the cloths on a ground show of the light's colour.
func (e *Even) groundCloths() witness {
	if e.ground == nil {
		return witness{}
	}
	return e.ground.cloths
}

// witness is what the photo's cloths show of the light's colour, as long as
// it has not been taken out.
func (e *Even) witness(c *cells) witness {
	switch {
	case e.pin != nil:
		return witness{}
	case e.ground != nil:
		return e.ground.cloths
	}
	w := witness{n: fewCloths}
	if e.oneCloth {
		w.n = 1
	}
	n := 0.0
	for i, l := range c.logs {
		if c.use[i] {
			w.r, w.b, n = w.r+math.Exp(float64(l[1])), w.b+math.Exp(float64(l[3])), n+1
		}
	}
	if n == 0 {
		return witness{}
	}
	w.r, w.b = math.Log(w.r/n), math.Log(w.b/n)
	return w
}

// segmentScale is the allowance of divide for small parts: ten cells may
// differ from their neighbours by a tenth.
const segmentScale = 1

// ignored: the working pixel lies on what is known to be no cloth.
func (e *Even) ignored(x, y int) bool {
	for _, r := range e.Ignore {
		if x >= r.Min.X && x < r.Max.X && y >= r.Min.Y && y < r.Max.Y {
			return true
		}
	}
	return false
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
func (g *ground) result(gain [3]float64) *Ground {
	light := g.light()
	o := &Ground{Share: g.area, White: g.white, Neutral: g.neutral, Sure: g.sure}
	for k := range 3 {
		o.Light[k] = light[k] * gain[k]
	}
	return o
}

var lumR, lumG, lumB = func() (r, g, b float32) {
	w := colorspace.LuminanceWeights()
	return float32(w[0]), float32(w[1]), float32(w[2])
}()

func yOf(r, g, b float32) float32 { return lumR*r + lumG*g + lumB*b }
