// Package ground finds what lies behind the cloths of a photo. A picture in
// log luminance and two log chromaticities comes in (see Picture); which of its
// pixels are ground, how far every pixel is from the ground under its light, and
// how sharp its edges are go out. Method: flat regions that run along the photo's
// rim; their light as a smooth field by normalised convolution (Knutsson and
// Westin 1993, CVPR, 515), their spread as a median absolute deviation.
package ground

import (
	"image"
	"math"
	"slices"

	"greige/analyze/fit"
	"greige/analyze/raster"
)

// Lengths are shares of the photo's longer side; what has no source was set on
// real and drawn tables, where twice or half as much changes few pieces.
const (
	speck   = .002 // radius of the median filter: dust, threads and printed lines are thinner
	soften  = .001 // blur before slopes are measured, which takes the sensor's noise away
	reach   = .05  // of the field: shorter than a lamp's slope, longer than a figure of a print
	rimWide = .04  // of the photo's rim, where mostly ground lies
)

const (
	// Seen is the distance from the ground, in its spreads, from which a pixel is
	// none of it: that of 1 in 35 pixels of normal noise in three channels.
	Seen = 3
	// A slope is flat below so many usual slopes, or below leastSlope.
	usualSlopes = 3
	leastSlope  = .25 // about L* a pixel: an eighth of a just visible step over a blurred edge
	// The spread is never less than what lossy compression leaves, about one L*.
	leastSpread = 1
	mostKinds   = 3 // a table, its cloth and the floor; more would take the cloths themselves
	// A region is ground when it runs along the rim: its stretch of rim over the
	// root of its area. A square in a corner has 2, a strip along a side 2 and more; a
	// square that a side cuts has 1, a card lying along it 1.3: cloths of their colour
	// elsewhere would be ground with them.
	runsLeast = 1.5
)

// Picture is a photo in units of about one L* (25 x the natural logarithm of
// light: their slopes agree where the luminance is .27): its luminance, and red
// and blue against green. Each plane is W x H, row by row.
type Picture struct {
	W, H   int
	Planes [3][]float32
}

// black is added to linear light before its logarithm is taken, so that the noise
// of the darkest pixels counts no more than the rest's: 1 % is what a dark cloth
// and the lens's glare send back.
const black = .01

// NewPicture makes a Picture of linear light, three numbers a pixel, whose white
// is near 1.
func NewPicture(linear []float32, w, h int) *Picture {
	p := &Picture{W: w, H: h}
	for k := range p.Planes {
		p.Planes[k] = make([]float32, w*h)
	}
	raster.Bands(h, 16, func(y0, y1 int) {
		for i := y0 * w; i < y1*w; i++ {
			r, g, b := log(linear[3*i]), log(linear[3*i+1]), log(linear[3*i+2])
			// Rounded weights of luminance: between those of Rec. 601 and 709.
			p.Planes[0][i], p.Planes[1][i], p.Planes[2][i] = .25*r+.6*g+.15*b, r-g, b-g
		}
	})
	return p
}

// log is 25 times the natural logarithm of light, black added, to within .002:
// the exponent, and a polynomial of the mantissa.
func log(light float32) float32 {
	bits := math.Float32bits(max(light, 0) + black)
	e := float32(int32(bits>>23) - 127)
	m := math.Float32frombits(bits&0x7fffff|0x3f800000) - 1
	// log2(1+m) on 0..1, Abramowitz and Stegun 1964, 4.1.44 (in natural logarithms).
	ln := m * (.99949556 + m*(-.49190896+m*(.28947478+m*(-.13606275+m*.03215845))))
	return 25 * (math.Ln2*e + ln)
}

// Ground is what lies behind the cloths.
type Ground struct {
	W, H     int
	Member   *raster.Mask   // the pixels that are ground
	Kinds    []*raster.Mask // the same, one mask for each kind of ground, the main one first
	Distance []float32      // of each pixel from the ground, in spreads
	Residual [3][]float32   // what each pixel has more than the ground under its light
	Uneven   *raster.Mask   // the pixels whose slope is not flat
	Lines    *raster.Mask   // the lines that the main kind is ruled with; nil: it is not
	Slope    float32        // the steepest slope that is flat
	Spread   [3]float32     // the greatest of the kinds of ground
}

// Find finds the ground of a picture. gone are pixels known to be neither cloth
// nor ground; nil: none. It returns nil where nothing runs along the rim.
func Find(p *Picture, gone []bool) *Ground {
	long := float64(max(p.W, p.H))
	var m [3][]float32
	for k, v := range p.Planes {
		m[k] = raster.Blur(raster.Median(v, p.W, p.H, max(1, int(speck*long))), p.W, p.H, max(soften*long, .5))
	}
	slopes := raster.Gradient(m, p.W, p.H)
	f := &finder{w: p.W, h: p.H, m: m, sigma: reach * long}
	g := &Ground{W: p.W, H: p.H, Slope: f.flat(slopes)}
	bounds := image.Rect(0, 0, p.W, p.H)
	even := raster.NewMask(bounds)
	g.Uneven = raster.NewMask(bounds)
	for i, s := range slopes {
		even.In[i] = s < g.Slope && (gone == nil || !gone[i])
		g.Uneven.In[i] = s >= g.Slope
	}
	kinds, lined := f.kinds(even)
	if len(kinds) == 0 {
		return nil
	}
	kinds = f.gather(kinds, gone)
	g.Kinds = kinds
	g.Member = raster.NewMask(bounds)
	var fields []field
	for _, k := range kinds {
		g.Member.Add(k)
		fields = append(fields, f.field(k))
	}
	for _, k := range fields {
		for c, s := range k.spread {
			g.Spread[c] = max(g.Spread[c], s)
		}
	}
	for c := range g.Residual {
		g.Residual[c] = make([]float32, p.W*p.H)
	}
	if lined {
		g.Lines = f.lines(g.Member)
	}
	g.Distance, _ = f.nearest(fields, &g.Residual)
	for i, d := range g.Distance {
		g.Distance[i] = float32(math.Sqrt(float64(d)))
	}
	return g
}

// A shadow takes up to three quarters of the light (a curled edge close to the
// table), and its colour is the room's instead of the lamp's: off by up to a
// fifth of its depth (daylight against a bulb in a room that scatters both).
const (
	deepest = 35 // 25 ln 4
	tint    = .2
)

// Shaded tells whether pixel i may be ground in a shadow, or in its own light.
func (g *Ground) Shaded(i int) bool {
	depth := -g.Residual[0][i]
	if depth > deepest || depth < -Seen*g.Spread[0] {
		return false
	}
	wide := tint * max(depth, 0)
	for c := 1; c < 3; c++ {
		if r := g.Residual[c][i]; max(r, -r) > Seen*g.Spread[c]+wide {
			return false
		}
	}
	return true
}

// finder holds what the steps of Find share.
type finder struct {
	w, h  int
	m     [3][]float32 // the picture, its specks taken away
	sigma float64      // of the field, in pixels
}

// flat is the steepest slope that is flat.
func (f *finder) flat(slopes []float32) float32 {
	e := int(rimWide * float64(max(f.w, f.h)))
	var all, rim []float32
	for y := 0; y < f.h; y += 2 { // every fourth pixel tells enough
		for x := 0; x < f.w; x += 2 {
			s := slopes[y*f.w+x]
			all = append(all, s)
			if min(x, y, f.w-1-x, f.h-1-y) < e {
				rim = append(rim, s)
			}
		}
	}
	return max(usualSlopes*fit.Median(all), usualSlopes*fit.Median(rim), leastSlope)
}

const (
	leastArea = .004 // of the photo, that a region of ground has
	leastRun  = .02  // of the photo's rim
)

// kinds are the kinds of ground: the largest flat region, by its area, its extent
// and its stretch of the rim, and all others that run along the rim. A region
// like one that is known shares its field. The second result is whether lines part the first.
func (f *finder) kinds(even *raster.Mask) ([]*raster.Mask, bool) {
	cs := slices.DeleteFunc(f.regions(even), func(c region) bool { return c.Pixels < int(leastArea*float64(f.w*f.h)) })
	runs := make([]float64, len(cs))
	best, most := -1, 0.
	for i, c := range cs {
		runs[i] = f.alongRim(&c.Component)
		if v := float64(c.Pixels) * float64(c.Bounds.Dx()) * float64(c.Bounds.Dy()) * (runs[i] + 1); v > most {
			best, most = i, v
		}
	}
	// What is no wider than the lines that part the first is no ground by itself.
	lined := best >= 0 && cs[best].Pixels > 2*cs[best].largest
	wide := func(c *raster.Component) bool {
		return !lined || 2*c.Mask().Opened(f.lineWidth()/2).Count() > c.Pixels
	}
	var order []int
	for i, c := range cs {
		if i == best || runs[i] > leastRun*2*float64(f.w+f.h) && runs[i] > runsLeast*math.Sqrt(float64(c.Pixels)) && wide(&c.Component) {
			order = append(order, i)
		}
	}
	slices.SortStableFunc(order, func(i, j int) int {
		if (i == best) != (j == best) {
			if i == best {
				return -1
			}
			return 1
		}
		return cs[j].Pixels - cs[i].Pixels
	})
	var kinds []*raster.Mask
	var fields []field
	for _, i := range order {
		at := -1
		for k := range fields {
			if f.medianDistance(&fields[k], &cs[i].Component) < 2*Seen {
				at = k
				break
			}
		}
		switch {
		case at >= 0:
			cs[i].AddTo(kinds[at])
			fields[at] = f.field(kinds[at])
		case len(kinds) < mostKinds:
			k := raster.NewMask(even.Bounds)
			cs[i].AddTo(k)
			kinds, fields = append(kinds, k), append(fields, f.field(k))
		}
	}
	return kinds, lined
}

// alongRim is the number of the photo's outermost pixels in a component.
func (f *finder) alongRim(c *raster.Component) (n float64) {
	for _, r := range c.Runs {
		if r.Y == 0 {
			n += float64(r.X1 - r.X0)
		}
		if r.Y == f.h-1 {
			n += float64(r.X1 - r.X0)
		}
		if r.X0 == 0 {
			n++
		}
		if r.X1 == f.w {
			n++
		}
	}
	return n
}

// leastPatch is the share of the photo from which a region of the ground's colour
// is ground although it touches none that is known: ground between the cloths.
const leastPatch = .01

// gather takes into the kinds all that is near one of them and touches it or is
// large.
func (f *finder) gather(kinds []*raster.Mask, gone []bool) []*raster.Mask {
	bounds := kinds[0].Bounds
	for range 2 {
		fields := make([]field, len(kinds))
		for k, m := range kinds {
			fields[k] = f.field(m)
		}
		d, own := f.nearest(fields, nil)
		near := raster.NewMask(bounds)
		for i, v := range d {
			near.In[i] = v < Seen*Seen && (gone == nil || !gone[i])
		}
		known := raster.NewMask(bounds)
		for _, k := range kinds {
			known.Add(k)
		}
		next := make([]*raster.Mask, len(kinds))
		for k := range next {
			next[k] = raster.NewMask(bounds)
		}
		for _, c := range near.Components(raster.Sides, 1) {
			if float64(c.Pixels) <= leastPatch*float64(f.w*f.h) && !touches(&c, known) {
				continue
			}
			for _, r := range c.Runs {
				for i := r.Y*f.w + r.X0; i < r.Y*f.w+r.X1; i++ {
					next[own[i]].In[i] = true
				}
			}
		}
		next = slices.DeleteFunc(next, func(m *raster.Mask) bool { return !slices.Contains(m.In, true) })
		if len(next) > 0 {
			kinds = next
		}
	}
	return kinds
}

// touches tells whether a component shares a pixel with m.
func touches(c *raster.Component, m *raster.Mask) bool {
	for _, r := range c.Runs {
		if slices.Contains(m.Row(r.Y)[r.X0:r.X1], true) {
			return true
		}
	}
	return false
}

// field is the light on one kind of ground, and the kind's spread.
type field struct {
	*Field
	spread [3]float32
}

func (f *finder) field(m *raster.Mask) field {
	out := field{Field: NewField(f.m[:], m, f.sigma)}
	f.measure(&out, m)
	return out
}

// measure sets a field's spread by the pixels of m.
func (f *finder) measure(out *field, m *raster.Mask) {
	var off [3][]float32
	step := max(1, m.Count()/20000) // the median of 20,000 is known to 1 %
	n := 0
	m.Each(func(x, y int) {
		if n++; n%step == 0 {
			for c, v := range out.At(float64(x)+.5, float64(y)+.5) {
				off[c] = append(off[c], float32(math.Abs(float64(f.m[c][y*f.w+x]-v))))
			}
		}
	})
	for c := range off {
		out.spread[c] = max(1.4826*fit.Median(off[c]), leastSpread)
	}
}

// medianDistance is the median distance of a component's pixels from a field.
func (f *finder) medianDistance(to *field, c *raster.Component) float32 {
	step := max(1, c.Pixels/4000) // the median of 4,000 is known to 2 %
	var d []float32
	n := 0
	for _, r := range c.Runs {
		for x := r.X0; x < r.X1; x++ {
			if n++; n%step == 0 {
				d = append(d, to.distance(f, x, r.Y))
			}
		}
	}
	return fit.Median(d)
}

func (to *field) distance(f *finder, x, y int) float32 {
	sum := float32(0)
	for c, v := range to.At(float64(x)+.5, float64(y)+.5) {
		d := (f.m[c][y*f.w+x] - v) / to.spread[c]
		sum += d * d
	}
	return float32(math.Sqrt(float64(sum)))
}

// nearest is, for each pixel, its squared distance from the nearest field and which
// field that is. residual, where it is not nil, is set to what it has more than that
// field.
func (f *finder) nearest(fields []field, residual *[3][]float32) (d []float32, own []uint8) {
	n := f.w * f.h
	d, own = make([]float32, n), make([]uint8, n)
	raster.Bands(f.h, 16, func(y0, y1 int) {
		sum := make([]float32, f.w)
		var off [3][]float32
		for c := range off {
			off[c] = make([]float32, f.w)
		}
		for y := y0; y < y1; y++ {
			for k := range fields {
				clear(sum)
				for c, o := range off {
					fields[k].Row(y, c, o)
					per := sq(1 / fields[k].spread[c])
					for x, v := range f.m[c][y*f.w : (y+1)*f.w] {
						r := v - o[x]
						o[x] = r
						sum[x] += r * r * per
					}
				}
				for x, s := range sum {
					i := y*f.w + x
					if k > 0 && s >= d[i] {
						continue
					}
					d[i], own[i] = s, uint8(k)
					if residual != nil {
						residual[0][i], residual[1][i], residual[2][i] = off[0][x], off[1][x], off[2][x]
					}
				}
			}
		}
	})
	return d, own
}

func sq(v float32) float32 { return v * v }
