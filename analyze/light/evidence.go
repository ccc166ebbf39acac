package light

import (
	"math"
	"slices"

	"greige/colorspace"
)

// verdict is what a ground is believed to be.
type verdict struct {
	neutral bool      // its colour is that of the light
	white   bool      // it is the white sheet, so that it fixes the level
	sure    float64   // 0..1, of the above
	prior   float64   // 0..1, that such a ground is neutral, before the colours of the cloths are asked
	cloths  greyWorld // what lies on it, of the light's colour
	top     float64   // ln of how much more light the lightest thing on it sends back
	faint   bool      // its colour is so slight that nothing hangs on whose it is
	// pale: it is white or nearly so, but what of is not known, so that it
	// fixes the level roughly: its luminance factor, and the relative standard
	// uncertainty of that.
	pale             bool
	paleY, paleDoubt float64
}

// thing is one thing that lies on a ground: its light against the ground's,
// under the fitted field.
type thing struct {
	y, r, b float64 // ln of luminance ratio, of R/Y and B/Y relative to the file's own white
	top     float64 // ln of how much more light it sends back than the ground (see brighter)
	cells   int
}

// leastCells is how many cells of a thing show its colour: their mean is known to a
// third of what one of them is.
const leastCells = 12

// thingsOn collects what lies on the ground, segment by segment.
func thingsOn(c *cells, s segments, g *backing, skip []bool) []thing {
	off := c.offsets(g.field)
	type sum struct {
		y, r, g, b float64
		n          int
	}
	sums := make([]sum, len(s.size))
	l := &g.field.groups[0].level
	tolR, tolB := max(1.5*g.tol[1], .04), max(1.5*g.tol[2], .08)
	for i, label := range s.label {
		if label < 0 || g.member[i] || skip != nil && skip[i] || s.size[label] < leastCells {
			continue
		}
		o := off(i)
		y, r, b := o[0], o[1], o[2]
		if y < 0 && math.Abs(r) < tolR && math.Abs(b) < tolB {
			continue // the ground itself in shadow, or too like it to say anything
		}
		u := &sums[label]
		u.y += y
		u.r += r + l[1]
		u.g += float64(c.logs[i][2])
		u.b += b + l[3]
		u.n++
	}
	var out []thing
	for _, u := range sums {
		if u.n < leastCells {
			continue
		}
		n := float64(u.n)
		t := thing{y: u.y / n, r: u.r / n, b: u.b / n, cells: u.n}
		t.top = brighter([4]float64{t.y, t.r, u.g / n, t.b}, [4]float64{0, l[1], l[2], l[3]})
		// Two patches of one cloth are one piece of evidence.
		same := slices.IndexFunc(out, func(o thing) bool {
			return math.Abs(t.y-o.y) < .1 && math.Abs(t.r-o.r) < .06 && math.Abs(t.b-o.b) < .12
		})
		if same < 0 {
			out = append(out, t)
		} else {
			out[same].cells += t.cells
		}
	}
	return out
}

// How the colours of cloth scatter about grey, as standard deviations of
// ln R/Y and ln B/Y (common practice, no source: pinks to greens, yellows to
// blues); and how far the average of one maker's basket may lie from grey.
const (
	clothR, clothB   = .45, .6
	basketR, basketB = .15, .25
)

// offLocus is how far, in CIE 1960 u, v, a light of this colour lies from the
// colours of lamps: black bodies up to 4000 K, daylight above (CIE 15:2018).
func offLocus(c colorspace.Linear) float64 {
	x, y := c.XYZ().Chromaticity()
	u, v := uv60(x, y)
	best := math.Inf(1)
	for _, p := range locus {
		best = min(best, math.Hypot(u-p[0], v-p[1]))
	}
	return best
}

func uv60(x, y float64) (u, v float64) {
	d := -2*x + 12*y + 3
	return 4 * x / d, 6 * y / d
}

var locus = func() (ps [][2]float64) {
	// 10000 K to 2500 K: bluer than the open sky in shade, and redder than a
	// dimmed bulb, nobody sorts cloth.
	for mired := 100.0; mired <= 400; mired += 5 {
		k := 1e6 / mired
		at := colorspace.PlanckianChromaticity
		if k >= 4000 {
			at = colorspace.DaylightChromaticity
		}
		u, v := uv60(at(k))
		ps = append(ps, [2]float64{u, v})
	}
	return ps
}()

// lampLimit is how far from the locus a lamp may lie: a tube or a mixed light
// with a green or pink tint that the camera has left in.
const lampLimit = .02

// weigh decides what the ground is. The things on it are the evidence: a
// coloured light colours them all, a coloured ground does not; and of all
// lightnesses that the ground may have, the things must stay possible cloth.
func weigh(c *cells, s segments, g *backing, shaded []bool, hint Hint, opt *Options) verdict {
	var v verdict
	things := thingsOn(c, s, g, shaded)
	light := colorspace.Linear(g.field.groups[0].light())
	tint := light.Times(1 / light.Y())
	limit := lampLimit
	if opt.Mode == Sheet {
		limit *= 2 // she says that it is white
	}
	r, b := math.Log(max(tint[0], .02)), math.Log(max(tint[2], .02)) // .02: no lamp is without red or blue
	lined := hint == ScrapsOnGround && g.lined(c)
	odds := priorOdds(things, lined, hint, opt.Mode)
	v.prior = 1 / (1 + math.Exp(-odds))
	v.cloths = greyWorldOf(things)
	if w := &v.cloths; w.n > 0 {
		odds += (2*w.r*r - r*r) / (2 * (clothR*clothR/w.n + basketR*basketR))
		odds += (2*w.b*b - b*b) / (2 * (clothB*clothB/w.n + basketB*basketB))
		// The inks of one cloth are one piece of evidence for what the light does.
		w.n = min(w.n, max(float64(g.things), fewCloths))
	}
	v.sure = 1 / (1 + math.Exp(-math.Abs(odds)))
	// A slight colour may be the wall's or the light's: that does little
	// harm. To take much out needs four to one.
	need := math.Log(4)
	if math.Abs(r) < slightR && math.Abs(b) < 2*slightR {
		need, v.faint = 0, true
	}
	v.neutral = odds > need && offLocus(tint) <= limit
	for _, t := range things {
		v.top = max(v.top, t.top)
	}
	switch {
	case opt.Mode == Sheet:
		v.white = v.neutral && v.top < noSheet
	case v.neutral && hint == ScrapsOnGround:
		texture := -1.
		if !opt.off.texture {
			texture = g.texture(c)
		}
		v.level(groundsWith(things, lined, texture), opt)
	}
	return v
}

// slightR is ln R/Y of a colour so slight that nothing hangs on whose it is: a creamy
// wall's; of ln B/Y, twice that.
const slightR = .1

// level sets what the lightnesses that a ground may have say of its level.
func (v *verdict) level(may guesses, opt *Options) {
	p := may.from(whiteFrom)
	switch v.white = p > surelyWhite; {
	case v.white:
		v.sure = p
	case may.from(paleFrom) > surelyPale && !opt.off.pale:
		v.pale = true
		v.paleY, v.paleDoubt = may.spread(paleFrom)
	}
}

// priorOdds are the log odds, before the colours of the cloths are asked, that a ground
// is neutral and the light coloured, against a coloured ground under a light that the
// camera has balanced (common practice, no source: scraps lie on white sheets and grey
// mats, tops hang on walls).
func priorOdds(things []thing, lined bool, hint Hint, mode Mode) float64 {
	switch {
	case mode == Sheet:
		return 8
	case hint == ScrapsOnGround:
		return 1.5 + paleness(things, lined)
	case hint == Top:
		return .5
	}
	return 0
}

// wholeThing is how many cells of a thing make it a whole piece of evidence.
const wholeThing = 60

// greyWorldOf is what the things on a ground show of the light's colour. A large thing
// is one piece of evidence, not many; a tiny one is less than one.
func greyWorldOf(things []thing) (w greyWorld) {
	for _, t := range things {
		k := min(1, float64(t.cells)/wholeThing)
		w.r += k * math.Exp(t.r)
		w.b += k * math.Exp(t.b)
		w.n += k
	}
	if w.n > 0 {
		w.r, w.b = math.Log(w.r/w.n), math.Log(w.b/w.n)
	}
	return w
}

// From which L* a ground is white or pale, and how probable that has to be
// before the level is taken from it. To take it from a white sheet as surely
// as from paper needs four to one.
const (
	whiteFrom, surelyWhite = 94, .8
	paleFrom, surelyPale   = 80, .9
)

// noSheet is ln of how much more light a thing sends back than what it lies on,
// from which on that is no white sheet, whoever says so: white cloth against
// light grey (L* 96 against 86), more than the light is misjudged by.
const noSheet = .27

// whitest is the L* of the whitest cloth, and a little for the light.
const whitest = 98

// asWhite is the luminance factor of a ground that is said to have lightness l,
// and how far, in ln, that had to be lowered so that nothing that lies on it
// comes out lighter than white.
func (v *verdict) asWhite(l float64) (rho, lowered float64) {
	rho = colorspace.LuminanceOf(l)
	lowered = max(0, math.Log(rho/colorspace.LuminanceOf(whitest))+v.top)
	return rho * math.Exp(-lowered), lowered
}

// loads is how likely things of these lightnesses lie on a ground of lightness
// l, up to a factor. Cloth may have any L* from 12 to 96; a lower ground
// squeezes all things on it into a smaller range, and what would have to send
// back more light than falls on it rules it out.
func loads(things []thing) func(l float64) float64 {
	// The lightest things; the very lightest may be gloss, so it has to have
	// company.
	tops := make([]float64, 0, len(things))
	for _, t := range things {
		tops = append(tops, t.top)
	}
	slices.Sort(tops)
	lightest := math.Inf(-1)
	if n := len(tops); n >= 3 {
		lightest = tops[n-2]
	}
	n := min(float64(len(things)), 6)
	return func(l float64) float64 {
		y := colorspace.LuminanceOf(l)
		p := math.Pow(y, n/3)
		// 96 L* is the whitest cloth; a soft wall above it.
		if over := lightest + math.Log(y) - math.Log(colorspace.LuminanceOf(96)); over > 0 {
			p *= math.Exp(-over * over / (2 * .05 * .05))
		}
		return p
	}
}

// paleness is what the things on a ground say of its having no colour, as log
// odds: most neutral grounds are white sheets, and no cloth is lighter than
// that; dyed and painted ones may have any L* from 30 to 90, and on most of
// them some cloth is lighter than they are.
func paleness(things []thing, lined bool) float64 {
	loads := loads(things)
	var neutral, coloured float64
	for _, g := range neutrals(lined) {
		neutral += g.p * loads(g.l)
	}
	const from, to, step = 30., 90., 5.
	for l := from; l <= to; l += step {
		coloured += loads(l) * step / (to - from + step)
	}
	return math.Log(max(neutral, 1e-9) / max(coloured, 1e-9))
}

// guess is a ground without colour that there may be.
type guess struct {
	l, p  float64 // its L* and its probability
	woven float64 // how probable it is that it is of cloth, 0..1
}

type guesses []guess

// neutrals are the lightnesses that a ground without colour may have, each
// with its probability (common practice, no source): a white sheet, of paper,
// board or linen; flannel or batting; a pale board or table; a grey mat. Lines
// paler than the ground make it a cutting mat.
func neutrals(lined bool) guesses {
	white := 1.
	if lined {
		white = .1
	}
	all := guesses{{95, .65 * white, 0}, {95, .1 * white, 1}}
	for l := 83.0; l <= 93; l += 2 {
		all = append(all, guess{l, .12 / 6, 1})
	}
	for l := 80.0; l <= 92; l += 3 {
		all = append(all, guess{l, .08 / 5, 0})
	}
	for l := 30.0; l <= 78; l += 4 {
		all = append(all, guess{l, .15 / 13, .5})
	}
	return all
}

// groundsWith are the grounds that a neutral one with these things on it and this
// texture may be.
func groundsWith(things []thing, lined bool, texture float64) guesses {
	loads, woven, smooth := loads(things), likelyTexture(texture, true), likelyTexture(texture, false)
	may := neutrals(lined)
	all := 0.0
	for i := range may {
		m := &may[i]
		m.p *= loads(m.l) * (m.woven*woven + (1-m.woven)*smooth)
		all += m.p
	}
	for i := range may {
		may[i].p /= max(all, 1e-300)
	}
	return may
}

// from is the probability of a ground of lightness l or more.
func (may guesses) from(l float64) float64 {
	p := 0.0
	for _, m := range may {
		if m.l >= l {
			p += m.p
		}
	}
	return p
}

// spread is the mean luminance factor, by its logarithm, of the grounds of
// lightness l or more, and its relative standard uncertainty.
func (may guesses) spread(l float64) (y, doubt float64) {
	mean, p := 0.0, may.from(l)
	for _, m := range may {
		if m.l >= l {
			mean += m.p / p * math.Log(colorspace.LuminanceOf(m.l))
		}
	}
	var away mixtureOf
	for _, m := range may {
		if m.l >= l {
			away = append(away, chance{math.Abs(math.Log(colorspace.LuminanceOf(m.l)) - mean), m.p / p})
		}
	}
	return math.Exp(mean), away.sigma()
}

// lined: fine things brighter than the ground run all over it.
func (g *backing) lined(c *cells) bool {
	n, with := 0, 0
	for i, m := range g.member {
		if m {
			n++
			if c.odd[i] > .03 {
				with++
			}
		}
	}
	return float64(with) > .15*float64(n)
}

// carries: what lies on the ground is a moderate number of large things, like
// scraps on a table, and not the many small figures of a print on its ground: of 2 to
// 80 that take four thousandths of the photo each, and seven tenths of all that lies
// there (common practice, no source).
//
// Scraps laid close hang together by the shadows in the gaps, which are taken off
// where the ground is seen nearly all round, as no print's is that runs on beyond the
// photo.
func (b *backing) carries(c *cells) bool {
	on := not(b.member)
	for range 1 + gapCells {
		large, in, all := 0, 0, 0
		for _, p := range c.components(on, 1) {
			all += p.Pixels
			if float64(p.Pixels) >= .004*float64(len(on)) {
				large++
				in += p.Pixels
			}
		}
		if large >= 2 && large <= 80 && float64(in) > .7*float64(all) {
			return true
		}
		if b.border < .9 {
			return false
		}
		on = c.eroded(on, 1)
	}
	return false
}

// gapCells is how many cells from either side the shadows between two scraps are
// taken off: a fiftieth of the photo.
const gapCells = 4
