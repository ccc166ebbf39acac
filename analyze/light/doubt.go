package light

import (
	"image"
	"math"

	"greige/analyze/camera"
	"greige/analyze/fit"
	"greige/colorspace"
)

// UnknownLevel is the standard uncertainty of the luminance, as a share, of a
// photo whose exposure nothing fixes: two thirds of a stop. Auto-exposure
// aims at a mid-grey whatever it sees, so a stop off is no rarity (common
// practice, no source).
const UnknownLevel = 0.46

// unknownSlope is the standard uncertainty of the luminance ratio between
// the far ends of a photo whose unevenness nothing tells: one lamp to one
// side makes one corner up to twice as bright as the other.
const unknownSlope = 0.35

// left is the uncertainty that is left after the correction.
type left struct {
	// field is the light that was taken out; nil when none was.
	field *field
	// anchor is where the level was fixed: basis there.
	anchor vector
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
}

// residual is the uncertainty that a fit leaves.
func (f *Fit) residual() left {
	l := left{field: f.field, folds: relief}
	if f.hint == OneCloth {
		l.folds = wholeRelief
	}
	w := f.white
	switch {
	case f.seen.options.off.cast:
	case w == nil:
		l.cast = doubtCast(f.greyWorld())
	case f.backing != nil && (w.rho == 0 || w.rough):
		// If the ground is not neutral after all, only the cloths tell.
		l.cast = doubtNeutral(f.verdict.cloths, w.seen.Times(1/w.seen.Y()), f.verdict.prior)
	}
	if w != nil {
		l.taken = w.seen.Times(1 / w.seen.Y())
		if w.rho > 0 {
			l.anchor = w.at
		}
	}
	return l
}

// priorCov is the field's uncertainty when nothing tells it: the lamp's own.
var priorCov = func() *matrix {
	var m matrix
	for j, p := range powers {
		by := priorByDegree[p[0]+p[1]]
		m[j*terms+j] = by * by
	}
	return &m
}()

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

// Doubt is how unsure the lightness of a piece with these bounds in working
// pixels is, and what it shares with others. mean is its mean light in the
// finished picture, clipped the share of it at an end of the file's scale, noise the
// relative standard uncertainty of its mean by itself. own is what of it lies on
// this piece alone and is not the camera's, as a relative standard uncertainty of
// the luminance.
func (e *Even) Doubt(r image.Rectangle, mean colorspace.Linear, clipped, noise float64) (d camera.Doubt, own float64) {
	seen := e.Seen(mean, clipped)
	lightness, slope := e.tone.belief.Lightness(seen.Lab)
	if e.tone.first == nil { // figures are the file's own
		slope = camera.Slope(seen.L)
	}
	at := e.basisOver(r)
	l := &e.left
	own = math.Sqrt(l.extra() + sq(l.folds) + sq(e.near(r)) + sq(noise))
	d = e.tone.belief.Doubt(seen, e.Causes, slope, own)
	// The field's doubt against the place where the level was fixed is shared as
	// far as two pieces lie in one part of the photo.
	for i := range at {
		at[i] -= l.anchor[i]
	}
	share := slope * camera.PerShare
	d.Parts = append(d.Parts, camera.Part{Cause: e.lightOver(), Vector: l.shape(at, share)})
	if l.between > 0 {
		d.Parts = append(d.Parts, camera.Part{Cause: "record of " + e.Causes.Photo, Vector: []float64{share * l.between}})
	}
	if e.tone.first == nil {
		// The mean curve was not taken out, so all of it is in doubt.
		d.Parts = append(d.Parts, camera.Part{Cause: "curve of " + e.Causes.Photo, Vector: []float64{lightness - seen.L}})
	}
	return d, own
}

// lightOver is the cause of what the light over the photo leaves in doubt.
func (e *Even) lightOver() string { return "light over " + e.Causes.Photo }

// Lit is the part of a doubt that the light over the photo leaves: what two pieces
// differ by is that far in doubt, by the difference of their vectors.
func (e *Even) Lit(d camera.Doubt) []float64 { return d.Under(e.lightOver()) }

// basisOver is the mean of the basis over a rectangle of working pixels.
func (e *Even) basisOver(r image.Rectangle) (mean vector) {
	const n = 6
	g := e.geometry()
	for j := range n {
		for i := range n {
			b := basis(g.uv(float64(r.Min.X)+(float64(i)+.5)/n*float64(r.Dx()), float64(r.Min.Y)+(float64(j)+.5)/n*float64(r.Dy())))
			for k, v := range b {
				mean[k] += v / (n * n)
			}
		}
	}
	return mean
}

// shape is the field's covariance as a vector: the product of those of two places
// is the covariance of its logarithm there, times share squared.
func (l *left) shape(at vector, share float64) []float64 {
	cov := *l.cov()
	root, err := fit.NewCholesky(cov[:], terms)
	if err != nil {
		return []float64{share * math.Sqrt(max(l.cov().quad(at), 0))}
	}
	out := root.Transposed(at[:])
	for i := range out {
		out[i] *= share
	}
	return out
}

// near is the relative standard uncertainty that shadows, shines and the
// colour of the light leave on a piece with these bounds in working pixels.
func (e *Even) near(r image.Rectangle) float64 {
	l := &e.left
	mean := e.glance(r)
	v := l.cast.effect(mean)
	mix := 0.0
	if l.taken.Y() > 0 {
		mix = e.mixed(mean)
	}
	if l.beside.Y() > 0 {
		v = max(v, l.cast.effectBeside(mean, l.beside))
		if l.taken.Y() > 0 {
			mix = max(math.Abs(mix), math.Abs(mix-e.mixed(l.beside)))
		}
	}
	v = math.Hypot(v, mix/1.96) // the interval holds it
	if s := e.fit.shadows; s != nil && e.Ground != nil {
		v = math.Hypot(v, s.doubt(s.c.under(r), e.Ground.Light.Y()/max(mean.Y(), .01)))
	}
	return v
}

// mixed is the function mixed for the light that was taken out.
func (e *Even) mixed(c colorspace.Linear) float64 {
	if e.seen.options.off.mixed {
		return 0
	}
	return mixed(e.left.taken, c)
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

func sq(v float64) float64 { return v * v }

// lightnessPerShare is how much L* changes when the luminance y changes by its own
// share: dL*/d ln Y.
func lightnessPerShare(y float64) float64 {
	if y > 216.0/24389 {
		return 116.0 / 3 * math.Cbrt(y)
	}
	return y * 24389 / 27
}
