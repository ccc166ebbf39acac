package light

import (
	"image"
	"math"
	"slices"

	"greige/analyze/raster"
	"greige/colorspace"
)

// Fit is the light over a photo as far as the photo shows it.
type Fit struct {
	seen    *Observation
	hint    Hint // what the photo shows, as given or found out
	cells   *cells
	backing *backing
	verdict verdict
	field   *field     // what is known of how even the light is; nil: nothing
	taken   *field     // what of it is taken out; nil: nothing
	shadows *shadows   // nil: there are none
	white   *reference // where level or cast are known; nil: nowhere
	paper   *paper     // that white is; nil: it is none
	methods []string
	ignore  []image.Rectangle
	said    said
	// graded: the top itself runs from light to dark.
	graded bool
}

// Fit fits the light to what a photo of this kind shows.
func (o *Observation) Fit(hint Hint) *Fit {
	f := &Fit{seen: o, hint: hint, cells: o.cells, ignore: o.ignore, said: o.said}
	if o.options.Mode == None {
		return f
	}
	if len(o.cards) > 0 {
		f.white = &o.cards[0]
		f.methods = append(f.methods, "card")
	}
	if hint != OneCloth || o.options.Mode == Sheet {
		f.backing = o.backing(hint)
	}
	sheet, onPaper := f.sheet(), false
	if sheet != nil && sheet.bears && (hint == Top || o.options.Mode == Sheet) {
		if b := o.cells.backingOf(sheet.body, o.cells, false); b != nil {
			f.backing, onPaper = b, true
		}
	}
	switch {
	case f.backing != nil:
		f.onBacking()
	case hint == OneCloth:
		f.field = o.cells.fitCloth()
	}
	if sheet != nil && f.usePaper(sheet, onPaper) && hint == OneCloth && f.backing == nil {
		f.field = f.cells.fitCloth()
	}
	if f.backing == nil && f.field != nil && f.field.rms() > evenEnough {
		f.methods = append(f.methods, "slope of the cloth")
	}
	if o.options.Mode == Sheet && f.backing == nil {
		f.said = f.said.with("No plain white sheet was found behind the cloths.", "")
	}
	f.taken = f.field
	f.look()
	return f
}

// evenEnough is the rms unevenness, as a share, under which the light is even
// for all that can be seen (a tenth of an L*), and the field not worth a pass
// over the photo.
const evenEnough = .003

// onBacking takes from the surface behind the cloths how even the light is, its cast
// when it is neutral, and its level when it is white.
func (f *Fit) onBacking() {
	b, opt := f.backing, &f.seen.options
	f.field = b.field
	if f.hint == Unknown && b.carries(f.cells) {
		f.hint = ScrapsOnGround
	}
	var shaded []bool
	if f.hint != Top && !opt.off.shadows {
		if f.shadows = b.shadowsOn(f.cells); f.shadows != nil {
			shaded = f.shadows.within
		}
	}
	f.verdict = weigh(f.cells, f.seen.parts, b, shaded, f.hint, opt)
	v := &f.verdict
	if v.white {
		f.methods = append(f.methods, "sheet")
	} else {
		f.methods = append(f.methods, "ground")
	}
	switch {
	case opt.Mode != Sheet || v.white:
	case v.neutral:
		f.said = f.said.with("Some of what the photo shows is clearly lighter than what lies behind the cloths, so that is not taken for a white sheet.",
			"If a sheet of white paper lies in the photo, say where with --card X,Y,W,H; or say with --card-lightness how light the ground is.")
	default:
		f.said = f.said.with("What lies behind the cloths is too strongly coloured to be a white sheet.", "")
	}
	if f.white == nil { // a card is better
		f.white = b.reference(v, opt)
	}
}

// reference is what the surface behind the cloths says of level and cast; nil: nothing.
func (b *backing) reference(v *verdict, opt *Options) *reference {
	g := &b.field.groups[0]
	r := &reference{at: g.centre, seen: b.seen()}
	switch {
	case v.white:
		lowered := 0.
		r.rho = colorspace.LuminanceOf(opt.lightness())
		if opt.Mode == Sheet {
			r.rho, lowered = v.asWhite(opt.lightness())
		}
		sigma := math.Hypot(opt.sheetSigma(), notWhite*(1-v.sure))
		r.sigma = math.Hypot(math.Hypot(sigma, lowered), b.field.meanSigma(g.weight))
	case v.pale:
		r.rho, r.sigma, r.rough = v.paleY, math.Hypot(levelSigma(paperLightness), v.paleDoubt), true
	case !v.neutral || v.faint:
		return nil
	}
	return r
}

// notWhite is how far off the level is, as a share, when a ground that was
// taken for white paper is another pale ground: four L*.
const notWhite = .1

// usePaper takes the sheet of white paper as a card, where nothing better fixes the
// level, and tells whether it did. onPaper: the cloths lie on it.
func (f *Fit) usePaper(p *paper, onPaper bool) bool {
	if f.white != nil && f.white.rho > 0 && !f.white.rough {
		return false
	}
	r := p.reference(f.cells, f.field)
	if r == nil {
		return false
	}
	if onPaper {
		// Its soft shadows have been left out where the light was fitted to it.
		g := &f.field.groups[0]
		var lowered float64
		r.rho, lowered = f.verdict.asWhite(paperLightness)
		r.at, r.seen, r.sigma = g.centre, f.backing.seen(), math.Hypot(math.Hypot(r.sigma, lowered), f.field.meanSigma(g.weight))
	}
	if !p.bears {
		whole := f.cells.dilated(p.whole, 1)
		f.ignore = append(slices.Clip(f.ignore), f.cells.rows(whole)...)
		f.cells = f.cells.without(whole)
	}
	f.white, f.paper = r, p
	f.methods = append(f.methods, "paper")
	if p.full {
		f.said = f.said.with("Part of the paper is too bright for the camera and was left out.", adviceDarker)
	}
	return true
}

// look shows the shadows and the field.
func (f *Fit) look() {
	c := f.seen.cells
	if f.shadows != nil {
		f.seen.options.Look.At("light: shadows", func() image.Image { return raster.Heat(f.shadows.depth, c.w, c.h, -1, 0) })
	}
	if f.field != nil {
		f.seen.options.Look.At("light: field", func() image.Image { return raster.Heat(c.over(f.field, 0), c.w, c.h, -.7, .7) }) // half to twice the light
	}
}

// greyWorld is what the photo's cloths show of the light's colour, as long as it has
// not been taken out.
func (f *Fit) greyWorld() greyWorld {
	c := f.cells
	switch {
	case f.backing != nil:
		return f.verdict.cloths
	case c == nil:
		return greyWorld{}
	}
	w := greyWorld{n: fewCloths}
	if f.hint == OneCloth {
		w.n = 1
	}
	n := 0.0
	for i, l := range c.logs {
		if c.use[i] {
			w.r, w.b, n = w.r+math.Exp(float64(l[1])), w.b+math.Exp(float64(l[3])), n+1
		}
	}
	if n == 0 {
		return greyWorld{}
	}
	w.r, w.b = math.Log(w.r/n), math.Log(w.b/n)
	return w
}

// sheet is the largest sheet of white paper that things lie on or that lies by itself;
// nil: there is none.
func (f *Fit) sheet() *paper {
	for _, p := range f.seen.papers {
		switch {
		case f.hint == OneCloth: // nothing else in the photo is plain
			return p
		case p.texture > creasedTexture || f.cells.small(p) && p.texture > plainTexture: // cloth
		case p.bears || f.apart(p):
			return p
		}
	}
	return nil
}

// apart tells whether a sheet lies by itself on what is behind the cloths, and is no
// patch among patches or figure of a print: most of what is two cells outside it is
// that, or the photo's edge.
func (f *Fit) apart(p *paper) bool {
	c := f.cells
	if !c.small(p) || f.backing == nil && f.hint == ScrapsOnGround {
		return true // its shape has told
	}
	if f.backing == nil {
		return false
	}
	near := c.dilated(p.whole, 2)
	n, on := 0, 0
	for i, in := range c.dilated(near, 1) {
		if in && !near[i] {
			n++
			if f.backing.member[i] {
				on++
			}
		}
	}
	return float64(on) >= leastBeside*float64(n)
}

// leastBeside is the share of a sheet's rim that lies on what is behind it; a scrap or
// two may touch it (common practice, no source).
const leastBeside = .6
