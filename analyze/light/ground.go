package light

import (
	"image"
	"math"

	"greige/analyze/fit"
	"greige/analyze/raster"
	"greige/colorspace"
)

// backing is the one plain surface that the cloth lies on, hangs on or is framed
// by, as analyze/ground finds it, with its light.
type backing struct {
	member []bool     // by cell: the surface itself, lit as the field says
	field  *field     // its light; one group
	tol    [3]float64 // of membership: ln of luminance, of R/Y and of B/Y
	area   float64    // share of the photo
	border float64    // share of the photo's outermost cells
	things int        // separate things that lie on it
}

// What may be a ground (common practice, no source).
const (
	leastArea    = .04  // share of the photo: a margin of 2 % round a top has 8 %
	leastThing   = .001 // share of the photo that a thing on the ground has
	surfaceCells = 3000 // samples of a surface: more change its light by less than its doubt
)

// backing is the plain surface behind the cloths; nil where there is none that may be
// trusted to be one, for what the photo shows.
func (o *Observation) backing(hint Hint) *backing {
	found := make([]*backing, len(o.kinds))
	raster.Bands(len(found), 1, func(first, last int) {
		for n := first; n < last; n++ {
			from := make([]bool, o.half.w*o.half.h)
			for i := range from {
				from[i] = o.kinds[n].In[i/o.half.w*2*o.cells.w+i%o.half.w*2]
			}
			found[n] = o.cells.backingOf(from, o.half, hint == Top)
		}
	})
	var best *backing
	most := 0.0
	for _, b := range found {
		if b == nil {
			continue
		}
		if v := b.worth(o.cells, hint); v > most {
			best, most = b, v
		}
	}
	return best
}

// backingOf is the surface that some cells are of, those of from among those of at,
// which may be coarser: their light is fitted, and all cells of c, connected or not,
// that this light on that surface explains are taken in; of a margin, only those that
// hang together with the photo's edge. It is nil where
// they say nothing of the light.
func (c *cells) backingOf(from []bool, at *cells, margin bool) *backing {
	b := &backing{member: from}
	if margin {
		b.member = at.alongRim(from)
	}
	// From one end of a narrow margin the light at the other is a guess, which what
	// has been gathered on the way there improves.
	for range gatherRounds {
		inner := at.eroded(b.member, 1) // away from the edges of things, where their shadows lie
		if 3*share(inner) < share(b.member) {
			inner = b.member
		}
		if b.field = at.fitSurface(inner); b.field == nil {
			return nil
		}
		b.tol = at.tolerances(b.field, inner)
		at = c
		off := c.offsets(b.field)
		b.member = make([]bool, len(c.use))
		for i := range b.member {
			o := off(i)
			b.member[i] = c.use[i] && math.Abs(o[0]) < b.tol[0] && math.Abs(o[1]) < b.tol[1] && math.Abs(o[2]) < b.tol[2]
		}
		if margin {
			b.member = c.alongRim(b.member)
		}
	}
	b.area, b.border = share(b.member), c.rimShare(b.member)
	b.things = len(c.components(not(b.member), int(math.Ceil(leastThing*float64(len(c.use))))))
	return b
}

// gatherRounds: after three nothing more is gathered.
const gatherRounds = 3

// fitSurface fits the light to the cells of one surface.
func (c *cells) fitSurface(in []bool) *field {
	s := &solver{across: c.w, channels: 4, surface: true, off: c.off}
	return s.robust(c.samples(in, surfaceCells), 1)
}

// offsets tells how a cell differs from a field's first surface, in ln of luminance,
// of R/Y and of B/Y.
func (c *cells) offsets(f *field) func(i int) [3]float64 {
	l := f.groups[0].level
	fy, fr, fb := c.over(f, 0), c.over(f, 1), c.over(f, 3)
	return func(i int) [3]float64 {
		logs := &c.logs[i]
		return [3]float64{float64(logs[0]-fy[i]) - l[0], float64(logs[1]-fr[i]) - l[1], float64(logs[3]-fb[i]) - l[3]}
	}
}

// Tolerances are so many robust standard deviations of what single cells show, and no
// less than compression leaves, nor so much that other cloth would do: a scrap that
// differs by 30 % of light or by a strong tint.
const (
	tolCells             = 3.5 // one cell in 2000 of a normal distribution
	leastTolY, mostTolY  = .02, .3
	leastTolC, mostTolC  = .02, .15 // of R/Y; of B/Y, which is noisier, twice that
	toleranceSampleCells = 20000    // whose median is known to 1 %
)

// tolerances are those of the surface that the cells of in are of.
func (c *cells) tolerances(f *field, in []bool) [3]float64 {
	off := c.offsets(f)
	var rest [3][]float64
	step := 1 + len(in)/toleranceSampleCells
	for i := 0; i < len(in); i += step {
		if in[i] && c.use[i] {
			for k, o := range off(i) {
				rest[k] = append(rest[k], o)
			}
		}
	}
	_, y := scale(rest[0])
	_, r := fit.Spread(rest[1])
	_, b := fit.Spread(rest[2])
	return [3]float64{
		min(max(tolCells*y, leastTolY), mostTolY),
		min(max(tolCells*r, leastTolC), mostTolC),
		min(max(tolCells*b, 2*leastTolC), 2*mostTolC),
	}
}

// worth is how much like a ground a surface is, above 0, for what the photo shows.
func (b *backing) worth(c *cells, hint Hint) float64 {
	if b.area < leastArea {
		return 0
	}
	several := min(1, float64(b.things)/4)
	switch hint {
	case Top:
		// A frame round the top, not the top itself.
		if b.border > .35 && b.area < .75 && c.middle(b.member) < .3 {
			return b.border + .3*b.area
		}
	case ScrapsOnGround:
		if b.area > .12 && (b.border > .3 || b.things >= 3) {
			return .7*b.area + .5*b.border + .3*several
		}
	default:
		if b.area > .12 && b.area < .97 && b.border > .5 {
			return .7*b.area + .5*b.border + .3*several
		}
	}
	return 0
}

// alongRim are the components of a mask that reach the photo's edge: a margin does, and
// the patches of one cloth that lie about in a top do not.
func (c *cells) alongRim(in []bool) []bool {
	out := c.mask(make([]bool, len(in)))
	for _, p := range c.components(in, 1) {
		if b := p.Bounds; min(b.Min.X, b.Min.Y, c.w-b.Max.X, c.h-b.Max.Y) < 2 { // two cells deep
			p.AddTo(out)
		}
	}
	return out.In
}

// middle is the share of the middle of the photo, where a top is, that lies in a mask.
func (c *cells) middle(in []bool) float64 {
	box := image.Rect(3*c.w/10, 3*c.h/10, 7*c.w/10, 7*c.h/10)
	return c.mask(in).Sums().Mean(box)
}

// seen is the ground's own light as the photo shows it at its middle.
func (b *backing) seen() (seen colorspace.Linear) {
	g := &b.field.groups[0]
	y := g.level[0] + b.field.lnY(&g.centre)
	for k := range 3 {
		seen[k] = math.Exp(y + g.level[k+1] + b.field.channel(k+1, &g.centre))
	}
	return seen
}
