package light

import (
	"image"
	"math"

	"greige/colorspace"
)

// unknownLevel is the standard uncertainty of the luminance, as a share, of a
// photo whose exposure nothing fixes: two thirds of a stop. Auto-exposure
// aims at a mid-grey whatever it sees, so a stop off is no rarity (common
// practice, no source).
const unknownLevel = 0.46

// unknownSlope is the standard uncertainty of the luminance ratio between
// the far ends of a photo whose unevenness nothing tells: one lamp to one
// side makes one corner up to twice as bright as the other.
const unknownSlope = 0.35

// left is the uncertainty that is left after the correction.
type left struct {
	// field is the light that was taken out; nil when none was.
	field *field
	// anchor is where the level was fixed (basis there), and level its
	// relative standard uncertainty there.
	anchor vector
	level  float64
	// anchorY is the luminance of the surface that fixed it, 0..1.
	anchorY float64
	// folds is what they do to the mean light of a piece, see relief.
	folds float64
	// between is the relative standard uncertainty of this photo's exposure
	// against that of the photos it is compared with.
	between float64
	// cast is the colour that the light may still have; nil where it is known.
	cast castDoubt
	// taken is the colour of the light that was taken out, luminance 1; 0 where
	// none was.
	taken colorspace.Linear
	// beside is the mean light of the cloths on a ground, where how much light
	// the camera took is not known: then they stand to each other, and another
	// light shifts them all.
	beside colorspace.Linear
	// spots are the shadows and shines that were found, on cells.
	spots *spots
	cells *cells
	// groundY is the ground's luminance after the correction.
	groundY float64
}

func (e *Even) unknown() {
	e.left = left{level: unknownLevel, folds: e.folds(), cast: doubtCast(witness{})}
	e.LevelSigma, e.SlopeSigma = unknownLevel, unknownSlope
}

// priorCov is the field's uncertainty when nothing tells it: the lamp's own.
var priorCov = func() *matrix {
	var m matrix
	for i, p := range prior(priorByDegree) {
		m[i][i] = 1 / p
	}
	return &m
}()

// curveSigma is the standard uncertainty of the exponent with which a file's
// luminances follow those of the scene. It is about the least by which the two
// curves that files are written with differ from each other between L* 40 and
// 90, that of IEC 61966-2-1 and the plain power of 563/256 of Adobe RGB (1998);
// the curves that phones bend to please differ by no less, and by more in the
// shadows (common practice, no source).
const curveSigma = .01

// toe is ln of how much more light the first of these curves makes of the code
// for a luminance y than the second does: nothing down to L* 42, where they
// cross, and more and more in the shadows, which the first begins with a straight
// line.
func toe(y float64) float64 {
	return max(math.Log(y)-563./256*math.Log(colorspace.EncodeSRGB(y)), 0)
}

// CurveSigma is the relative standard uncertainty, 0 and up, that the camera's
// tone curve leaves on a luminance y which stands on another, from: none where
// they are alike, and more the further they lie apart, like an exponent that is
// a little wrong. In the shadows the interval has to hold both curves, since
// nobody knows which of them a phone comes nearer to.
func CurveSigma(y, from float64) float64 {
	const least = 1e-4 // as good as black: beyond it 8 bits tell nothing
	y, from = max(y, least), max(from, least)
	return math.Hypot(curveSigma*math.Log(y/from), (toe(y)-toe(from))/1.96)
}

// CurveSigma is the same for a luminance y of the evened picture, against the
// surface on which the level stands: a card, a sheet, a paper. It falls alike
// on all that has this lightness, so it is no part of what SigmaOver calls
// apart. Where no surface fixes the level the doubt of that says more than
// enough, and this is 0.
func (e *Even) CurveSigma(y float64) float64 {
	if !e.LevelKnown {
		return 0
	}
	return CurveSigma(y, e.left.anchorY)
}

// misfit is the share of a lamp's unevenness that a polynomial of degree 4
// cannot follow: rms beyond degree 4 over rms of all, for the lamps of
// priorByDegree.
const misfit = .05

// relief is what folds, curl and weave do to the mean light of a piece that
// does not lie quite flat: two thirds of a degree of tilt, under a lamp half way
// up, are a hundredth and a little more of its light (Lambert's cosine law:
// d ln cos 45 degrees = tilt). That cloth lies so flat is common practice, no
// source.
const relief = .012

// wholeRelief is the same for a cloth that fills the photo: two and more times
// as wide and as high as a scrap, it shows four folds and more where a scrap
// shows one, and tilts that do not hang together leave half of it in the mean.
const wholeRelief = relief / 2

// folds is the one or the other of these for the pieces of e.
func (e *Even) folds() float64 {
	if e.oneCloth {
		return wholeRelief
	}
	return relief
}

func (l *left) cov() *matrix {
	if l.field == nil {
		return priorCov
	}
	return &l.field.cov
}

// extra is the variance of what no field of this kind can follow.
func (l *left) extra() float64 {
	if l.field == nil {
		return 0
	}
	r := misfit * l.field.rms()
	return r * r
}

// SigmaOver is the relative standard uncertainty, 0 and up, of the mean
// luminance over a piece with these bounds in pixels of the working picture.
// common is the part that all places share, apart the part that two places do
// not: when two pieces of one photo are compared, only their apart counts; for
// a figure by itself both do, as the root of the sum of their squares. Noise
// and clipping of the piece itself come on top.
func (e *Even) SigmaOver(r image.Rectangle) (common, apart float64) {
	const n = 6
	var mean vector
	g := e.geometry()
	for j := range n {
		for i := range n {
			b := basis(g.uv(float64(r.Min.X)+(float64(i)+.5)/n*float64(r.Dx()), float64(r.Min.Y)+(float64(j)+.5)/n*float64(r.Dy())))
			for k, v := range b {
				mean[k] += v / (n * n)
			}
		}
	}
	common, apart = e.left.at(mean)
	return common, math.Hypot(apart, e.near(r))
}

// Shares of a shadow's depth that it may be out by where it was seen, and of
// a shine's light, which is more on glossy ground than on cloth.
const (
	shadeSeen  = .05
	shineShare = 1
)

// near is the relative standard uncertainty that shadows, shines and the
// colour of the light leave on a piece with these bounds in working pixels.
func (e *Even) near(r image.Rectangle) float64 {
	l := &e.left
	mean := e.glance(r)
	v := l.cast.effect(mean)
	mix := 0.0
	if l.taken.Y() > 0 {
		mix = mixed(l.taken, mean)
	}
	if l.beside.Y() > 0 {
		v = max(v, l.cast.effectBeside(mean, l.beside))
		if l.taken.Y() > 0 {
			mix = max(math.Abs(mix), math.Abs(mix-mixed(l.taken, l.beside)))
		}
	}
	v = math.Hypot(v, mix/1.96) // the interval holds it
	if e.dark != nil {
		// All of the light that may be missing lies inside the interval of 95 %.
		sum, n := 0.0, 0.0
		c := e.seen
		c.each(c.under(r), func(i int) { sum, n = sum+e.dark[i], n+1 })
		v = math.Hypot(v, sum/max(n, 1)/1.96)
	}
	if l.spots == nil || l.cells == nil {
		return v
	}
	c := l.cells
	box := c.under(r)
	if l.spots.shade != nil {
		v = math.Hypot(v, l.spots.doubt(c, box))
	}
	if l.spots.gloss != nil { // its peak may lie anywhere on the piece
		shine := 0.0
		c.each(box, func(i int) { shine = max(shine, l.spots.gloss[i]) })
		v = math.Hypot(v, shineShare*shine*l.groundY/max(mean.Y(), .01))
	}
	return v
}

// doubt is the standard uncertainty that a shadow leaves on the mean of ln Y
// over a box of cells. Where the ground shows the shadow, it is a share of
// its depth. Across a piece nobody sees where it ends: the light there may be
// anything between the lightest and the deepest shadow seen around the piece
// (a rectangular distribution, JCGM 100:2008, 4.3.7).
func (sp *spots) doubt(c *cells, box image.Rectangle) float64 {
	depth, n, drawn := 0.0, 0.0, 0.0
	c.each(box, func(i int) {
		n++
		depth += math.Abs(sp.shade[i])
		if !sp.known[i] {
			drawn++
		}
	})
	if n == 0 {
		return 0
	}
	lo, hi := math.Inf(1), math.Inf(-1)
	// nearThing cells from the piece the ground is heard again.
	c.each(box.Inset(-nearThing-2), func(i int) { lo, hi = min(lo, sp.shade[i]), max(hi, sp.shade[i]) })
	c.each(box, func(i int) {
		if sp.own[i] { // nothing of the shadow, or all
			lo, hi = min(lo, 2*sp.shade[i]), max(hi, 0)
		}
	})
	return math.Hypot(shadeSeen*depth/n, drawn/n*(hi-lo)/math.Sqrt(12))
}

// under is the box of the cells that lie under a rectangle of working pixels.
func (c *cells) under(r image.Rectangle) image.Rectangle {
	return image.Rect(r.Min.X/c.k, r.Min.Y/c.k, (r.Max.X-1)/c.k+1, (r.Max.Y-1)/c.k+1)
}

// each calls do for every cell of a box that lies in the photo.
func (c *cells) each(box image.Rectangle, do func(i int)) {
	box = box.Intersect(image.Rect(0, 0, c.w, c.h))
	for y := box.Min.Y; y < box.Max.Y; y++ {
		for x := box.Min.X; x < box.Max.X; x++ {
			do(y*c.w + x)
		}
	}
}

// glance is about the mean light of a piece with these bounds in the evened
// picture. Only their middle half is looked at: round a piece that lies askew
// the rest is another surface.
func (e *Even) glance(r image.Rectangle) colorspace.Linear {
	const n = 16
	var mean colorspace.Linear
	dx, dy := r.Dx()/4, r.Dy()/4
	r = image.Rect(r.Min.X+dx, r.Min.Y+dy, r.Max.X-dx, r.Max.Y-dy).Intersect(image.Rect(0, 0, e.Picture.W, e.Picture.H))
	if r.Empty() {
		return mean
	}
	for j := range n {
		for i := range n {
			c := e.Picture.At(r.Min.X+(2*i+1)*r.Dx()/(2*n), r.Min.Y+(2*j+1)*r.Dy()/(2*n))
			for k := range mean {
				mean[k] += c[k] / (n * n)
			}
		}
	}
	return mean
}

func (e *Even) geometry() geometry {
	return geometry{float64(e.Picture.W), float64(e.Picture.H)}
}

func (l *left) at(b vector) (common, apart float64) {
	cov := l.cov()
	var d vector
	for i := range d {
		d[i] = b[i] - l.anchor[i]
	}
	extra := l.extra() + l.between*l.between + l.folds*l.folds
	total := l.level*l.level + cov.quad(d) + extra
	a := min(cov.quad(b)+extra, total)
	return math.Sqrt(total - a), math.Sqrt(a)
}

// slope is the relative standard uncertainty of the ratio of the light
// between the photo's far ends: the worse of its two diagonals.
func (l *left) slope() float64 {
	worst := 0.0
	for _, s := range [2]float64{1, -1} {
		p, q := basis(-1, -s), basis(1, s)
		for i := range p {
			p[i] -= q[i]
		}
		worst = max(worst, l.cov().quad(p))
	}
	return math.Sqrt(worst + 2*l.extra())
}

// meanSigma is the relative standard uncertainty of a surface's level that
// was seen in n cells.
func (f *field) meanSigma(n float64) float64 {
	return math.Sqrt(f.vari[0] / max(n, 1))
}
