package light

import (
	"math"
	"slices"
	"strings"

	"greige/analyze/camera"
	"greige/analyze/photo"
	"greige/colorspace"
)

// Apply takes out of the photo what is known of its light.
func (f *Fit) Apply() *Even {
	o := f.seen
	p := o.photo
	e := &Even{
		Photo: p, Picture: p.Picture, Ignore: f.ignore, seen: o, fit: f, tone: o.tone,
		Record: Record{Photo: p.Name, Method: "none", Clipped: clippedShare(p.Picture)},
		Causes: camera.Causes{Photo: p.Name, Camera: p.Record.Camera},
		left:   f.residual(),
	}
	e.LevelSigma, e.SlopeSigma = UnknownLevel, unknownSlope
	if len(f.methods) > 0 {
		e.Record.Method = strings.Join(f.methods, " + ")
	}
	if f.paper != nil {
		k := float64(max(p.Reduction, 1))
		for _, q := range f.paper.place(f.cells) {
			e.Record.Paper = append(e.Record.Paper, [2]float64{q[0] * k, q[1] * k})
		}
	}
	if o.options.Mode != None {
		f.correct(e)
	}
	e.Record.Note, e.Record.Advice = e.words()
	return e
}

// correct is the work of Apply on a new Even.
func (f *Fit) correct(e *Even) {
	t := correction{field: f.taken, cells: f.cells, gain: [3]float64{1, 1, 1}}
	shaded := f.shadows != nil && f.shadows.shaded
	if f.taken != nil {
		e.Record.Unevenness = f.taken.unevenness()
		if shaded {
			t.shade = f.shadows.depth
		} else if f.taken.rms() < evenEnough {
			t.field = nil
		}
	}
	known := f.white != nil && f.white.rho > 0
	if w := f.white; w != nil {
		y := w.seen.Y()
		t.cast = true
		e.Record.Cast = make([]float64, 3)
		for k := range 3 {
			e.Record.Cast[k] = w.seen[k] / y
			t.gain[k] = y / w.seen[k]
			if t.field != nil {
				t.gain[k] *= math.Exp(t.field.channel(k+1, &w.at))
				if known {
					// The light where the card lies is taken for that of the whole photo, at the
					// file's own exposure; what the card says of that comes after.
					t.gain[k] *= math.Exp(t.field.lnY(&w.at))
				}
			}
		}
	}
	if known {
		e.LevelKnown = true
		e.tone = e.tone.learned(f.references(t.field, t.gain))
	} else {
		t.keepMean(f.cells)
	}
	if t.field == nil && f.white == nil && f.backing == nil {
		e.underWhite()
		return
	}
	if b := f.backing; b != nil {
		if w := f.verdict.cloths; w.n > 0 && !known {
			e.left.beside = w.light()
			for k := range 3 {
				e.left.beside[k] *= t.gain[k]
			}
		}
		l := b.field.groups[0].light()
		for k := range l {
			l[k] *= t.gain[k]
		}
		e.Ground = &Ground{Light: e.tone.last(l), Share: b.area, White: f.verdict.white, Neutral: f.verdict.neutral, Sure: f.verdict.sure}
	}
	e.Picture = e.tone.finish(t.apply(f.seen.photo.Picture), f.seen.photo.Picture)
	if known {
		e.LevelSigma = f.white.sigma
	}
	e.SlopeSigma = e.left.slope()
	e.underWhite()
}

// references are the surfaces of known lightness as the file has them: under
// the light of the place where the first of them lies.
func (f *Fit) references(field *field, gain [3]float64) (refs []camera.Reference) {
	others := f.seen.cards
	if len(others) > 0 {
		others = others[1:] // the first is the reference white
	}
	for i, p := range append([]reference{*f.white}, others...) {
		seen := p.seen
		for k := range seen {
			seen[k] *= gain[k]
		}
		if field != nil {
			seen = seen.Times(math.Exp(-field.lnY(&p.at)))
		}
		r := camera.Reference{Lightness: colorspace.Lightness(p.rho), Sigma: p.sigma * lightnessPerShare(p.rho)}
		r.Clipped = p.clipped
		r.Lab = (&tone{total: f.seen.tone.first, gain: 1}).file(seen).Lab()
		if i == 0 { // it is what the colour of the light was taken from
			r.Lab.A, r.Lab.B = 0, 0
		}
		refs = append(refs, r)
	}
	return refs
}

// clippedShare is the share of the source pixels at either end of the scale.
func clippedShare(p *photo.Picture) float64 {
	sum := 0
	for _, v := range [2][]uint8{p.Dark, p.Bright} {
		for part := range slices.Chunk(v, 1<<16) {
			n := uint32(0)
			for _, x := range part {
				n += uint32(x)
			}
			sum += int(n)
		}
	}
	return float64(sum) / (255 * float64(p.W*p.H))
}

// scaled is p with one gain a channel.
func scaled(p *photo.Picture, gain [3]float64) *photo.Picture {
	q := &photo.Picture{W: p.W, H: p.H, Pix: make([]float32, len(p.Pix)), Dark: p.Dark, Bright: p.Bright}
	r, g, b := float32(gain[0]), float32(gain[1]), float32(gain[2])
	photo.Bands(p.H, 16, func(y0, y1 int) {
		src, dst := p.Pix[3*y0*p.W:3*y1*p.W], q.Pix[3*y0*p.W:3*y1*p.W]
		for i := 0; i+2 < len(src); i += 3 {
			dst[i], dst[i+1], dst[i+2] = src[i]*r, src[i+1]*g, src[i+2]*b
		}
	})
	return q
}

// nodes is how many places along the longer side of a photo a field of gains
// is worked out at; between them it is interpolated. A field of degree 4 bends
// by less than 1e-4 from one to the next.
const nodes = 64

// gained is p times the gains at nodes that lie step pixels apart, across in
// a row, the first at the photo's corner.
func gained(p *photo.Picture, gains [][3]float32, across, step int) *photo.Picture {
	q := &photo.Picture{W: p.W, H: p.H, Pix: make([]float32, len(p.Pix)), Dark: p.Dark, Bright: p.Bright}
	inv := 1 / float32(step)
	type place struct { // of a pixel in a row: behind a node, by a share of the way to the next
		node  int32
		share float32
	}
	columns := make([]place, p.W)
	for x := range columns {
		columns[x] = place{int32(x / step), (float32(x%step) + .5) * inv}
	}
	photo.Bands(p.H, 16, func(y0, y1 int) {
		line := make([][3]float32, across)
		for y := y0; y < y1; y++ {
			t := (float32(y%step) + .5) * inv
			top, low := gains[y/step*across:(y/step+1)*across], gains[(y/step+1)*across:(y/step+2)*across]
			for i := range line {
				for k := range 3 {
					line[i][k] = top[i][k] + t*(low[i][k]-top[i][k])
				}
			}
			src, dst := p.Pix[3*y*p.W:3*(y+1)*p.W], q.Pix[3*y*p.W:3*(y+1)*p.W]
			for _, c := range columns {
				a, b := &line[c.node], &line[c.node+1]
				in, out := src[:3:3], dst[:3:3]
				out[0] = in[0] * (a[0] + c.share*(b[0]-a[0]))
				out[1] = in[1] * (a[1] + c.share*(b[1]-a[1]))
				out[2] = in[2] * (a[2] + c.share*(b[2]-a[2]))
				src, dst = src[3:], dst[3:]
			}
		}
	})
	return q
}

// correction is what is taken out of a photo: a field, or none, and the gain
// of each channel where the field is 0.
type correction struct {
	field *field
	cast  bool // the field's colour is taken out as well as its brightness
	gain  [3]float64
	// shade is a shadow's ln, by cell of cells; nil when there is none.
	shade []float64
	cells *cells
}

func (t *correction) apply(p *photo.Picture) *photo.Picture {
	if t.field == nil && t.gain == [3]float64{1, 1, 1} {
		return p
	}
	if t.field == nil {
		return scaled(p, t.gain)
	}
	n := nodes
	if t.shade != nil { // a shadow's edge is a few cells wide
		n = cellsAcross
	}
	step := max(4, max(p.W, p.H)/n)
	gains, across := t.gains(geometry{float64(p.W), float64(p.H)}, step)
	return gained(p, gains, across, step)
}

// gains are the gains on a lattice of places step pixels apart that covers
// the photo.
func (t *correction) gains(g geometry, step int) (gains [][3]float32, across int) {
	us := make([]float64, (int(g.w)+step-1)/step+1)
	vs := make([]float64, (int(g.h)+step-1)/step+1)
	for i := range us {
		us[i], _ = g.uv(float64(i*step), 0)
	}
	for i := range vs {
		_, vs[i] = g.uv(0, float64(i*step))
	}
	y := t.field.over(0, us, vs)
	var tint [3][]float32
	if t.cast {
		for k := range tint {
			tint[k] = t.field.over(k+1, us, vs)
		}
	}
	gains = make([][3]float32, len(y))
	for i := range gains {
		e := float64(y[i])
		if t.shade != nil {
			e += t.cells.between(t.shade, float64(i%len(us)*step), float64(i/len(us)*step))
		}
		all := math.Exp(-e)
		for k := range 3 {
			x := all
			if t.cast {
				x *= math.Exp(-float64(tint[k][i]))
			}
			gains[i][k] = float32(t.gain[k] * x)
		}
	}
	return gains, len(us)
}

// keepMean scales the gains so that evening out the brightness leaves the
// mean luminance of the photo what it was.
func (t *correction) keepMean(c *cells) {
	if t.field == nil {
		return
	}
	y := c.over(t.field, 0)
	var before, after float64
	for i, m := range c.mean {
		e := float64(y[i])
		if t.shade != nil {
			e += t.shade[i]
		}
		before += float64(m)
		after += float64(m) * math.Exp(-e)
	}
	if before > 0 && after > 0 {
		for k := range t.gain {
			t.gain[k] *= before / after
		}
	}
}

var lumR, lumG, lumB = func() (r, g, b float32) {
	w := colorspace.LuminanceWeights()
	return float32(w[0]), float32(w[1]), float32(w[2])
}()

func yOf(r, g, b float32) float32 { return lumR*r + lumG*g + lumB*b }
