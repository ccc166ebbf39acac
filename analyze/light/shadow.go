package light

import (
	"image"
	"math"

	"greige/analyze/fit"
	"greige/analyze/ground"
	"greige/analyze/raster"
)

// A hand, a head or a window's bar keeps light away from a part of the scene; a lamp
// that shines back from a glossy board adds some. On the surface behind the cloths
// both are plain to see: it keeps its colour and is darker or brighter than the
// lamp's smooth field. What tells a shadow from a grey scrap is its soft edge: a
// scrap ends within a cell or two, a shadow fades out.

// shadows are ln of the light that a surface shows less than the lamp's field, below
// 0, or more, by cell.
type shadows struct {
	c      *cells
	depth  []float64 // below 0: in a shadow
	shine  []float64 // above 0: in a shine
	seen   []float32 // 0 to 1: how much of depth was seen there, and not carried over from about
	within []bool    // they lie here, as far as they are seen
	// shaded and shining: there is more of it than the noise of the surface makes.
	shaded, shining bool
}

const (
	// A shadow takes no more than three quarters of the light, and a shine adds no more
	// than as much again (analyze/ground has the first; the second is common practice, no
	// source).
	deepestShadow  = 1.39
	brightestShine = .7
	// shadowReach is the deviation, in cells, of the Gaussian over which the surface is
	// averaged: a fiftieth of the photo, half of a hand's soft edge.
	shadowReach = 4
	nearThing   = 3   // cells from a thing in which its own shadow lies and the surface is not heard
	stepRim     = 2   // cells from a step in which it is not heard: the lens blurs a scrap's edge over them
	leastStep   = .1  // ln between neighbouring cells: an edge; a shadow of half the light over ten cells has .07
	leastDepth  = .03 // ln: less is not worth taking out
	leastShadow = .01 // share of the photo that is deeper than the noise
	sureDepth   = 4   // times the noise of the averages, from which on one of them is a shadow
)

// shadowsOn looks for shadows and shines on the surface behind the cloths.
func (b *backing) shadowsOn(c *cells) *shadows {
	off := c.offsets(b.field)
	n := len(b.member)
	rest, like := make([]float32, n), make([]bool, n)
	for i := range like {
		o := off(i)
		rest[i] = float32(o[0])
		wide := 1.5 + max(-o[0], 0) // a shadow's colour is the room's (analyze/ground)
		like[i] = c.use[i] && o[0] > -deepestShadow && o[0] < brightestShine &&
			math.Abs(o[1]) < wide*b.tol[1] && math.Abs(o[2]) < wide*b.tol[2]
	}
	open := b.reached(c, rest, like)
	things := make([]bool, n)
	for i := range things {
		things[i] = !open[i] && !b.member[i] && (c.use[i] || !c.full[i])
	}
	near := c.dilated(things, nearThing)
	for i := range open {
		open[i] = (open[i] || b.member[i]) && c.use[i] && !near[i]
	}
	s := &shadows{c: c, within: make([]bool, n)}
	for i := range open {
		s.within[i] = open[i] && !b.member[i]
	}
	about := ground.NewField([][]float32{rest}, c.mask(open), shadowReach)
	mean := make([]float32, n)
	for y := range c.h {
		about.Row(y, 0, mean[y*c.w:(y+1)*c.w])
	}
	s.seen = about.Seen
	noise := c.unlike(rest, open, b.field)
	deep, bright := 0, 0
	s.depth, s.shine = make([]float64, n), make([]float64, n)
	for i, m := range mean {
		v := float64(m)
		if math.Abs(v) <= noise {
			continue
		}
		kept := v * (1 - noise*noise/(v*v)) // Wiener's filter: what is as small as the noise is none
		least := max(sureDepth*noise, leastDepth)
		if v < 0 {
			s.depth[i] = kept
			if open[i] && v < -least {
				deep++
			}
		} else {
			s.shine[i] = math.Expm1(kept)
			if open[i] && v > least {
				bright++
			}
		}
	}
	s.shaded, s.shining = float64(deep) > leastShadow*float64(n), float64(bright) > leastShadow*float64(n)
	if !s.shaded && !s.shining {
		return nil
	}
	return s
}

// reached are the cells of like that hang together with the surface without a step.
func (b *backing) reached(c *cells, rest []float32, like []bool) []bool {
	step := max(leastStep, 1.5*b.tol[0])
	steps := make([]bool, len(like))
	for i, is := range like {
		if !is {
			continue
		}
		for _, j := range [2]int{i + 1, i + c.w} {
			if j < len(like) && (j != i+1 || j%c.w > 0) && (like[j] || b.member[j]) && math.Abs(float64(rest[i]-rest[j])) >= step {
				steps[i], steps[j] = true, true
			}
		}
	}
	near := c.dilated(steps, stepRim)
	free := make([]bool, len(like))
	for i := range free {
		free[i] = (like[i] || b.member[i]) && !near[i]
	}
	out := make([]bool, len(like))
	for _, p := range c.components(free, 1) {
		in := c.indices(&p)
		own := 0
		for _, i := range in {
			if b.member[i] {
				own++
			}
		}
		if own > 0 {
			for _, i := range in {
				out[i] = true
			}
		}
	}
	return out
}

// unlike is what averages over cells scatter by where there is no shadow: what
// averages over squares as far apart as they are wide differ by, the median of all.
func (c *cells) unlike(v []float32, in []bool, f *field) float64 {
	const side = 2 * shadowReach
	value, count := make([]float32, len(v)), make([]float32, len(v))
	for i, is := range in {
		if is {
			value[i], count[i] = v[i], 1
		}
	}
	sums, counts := raster.NewSums(value, c.w, c.h), raster.NewSums(count, c.w, c.h)
	at := func(x, y int) (float64, bool) {
		r := image.Rect(x, y, x+side, y+side)
		n := counts.Over(r)
		return sums.Over(r) / max(n, 1), n > side*side/2
	}
	var steps []float64
	for y := 0; y+side <= c.h; y += side / 2 {
		for x := 0; x+side <= c.w; x += side / 2 {
			a, ok := at(x, y)
			if !ok {
				continue
			}
			if b, ok := at(x+side, y); ok {
				steps = append(steps, math.Abs(a-b))
			}
			if b, ok := at(x, y+side); ok {
				steps = append(steps, math.Abs(a-b))
			}
		}
	}
	// 1.4826: of a normal distribution's median deviation; the difference of two has
	// twice the variance.
	return max(1.4826/math.Sqrt2*fit.Median(steps), max(misfit*f.rms(), minNoise))
}

// Shares of a shadow's depth that it may be out by where it was seen, and of a
// shine's light, which is more on glossy ground than on cloth (common practice, no
// source).
const (
	shadeSeen  = .05
	shineShare = 1
)

// doubt is the standard uncertainty that the shadows leave on the mean of ln Y over a
// box of cells. Where the surface shows a shadow, it is a share of its depth. Across a
// piece nobody sees where it ends, nor whether the piece casts it itself and lies in
// the full light: the light there may be anything between the full light and the deepest
// shadow about the piece (a rectangular distribution, JCGM 100:2008, 4.3.7). part is
// the share of a shine's light that the piece's own is of the surface's.
func (s *shadows) doubt(box image.Rectangle, part float64) float64 {
	depth, n, carried, shine := 0.0, 0.0, 0.0, 0.0
	s.c.each(box, func(i int) {
		n++
		depth -= s.depth[i]
		carried += 1 - min(float64(s.seen[i]), 1)
		shine = max(shine, s.shine[i]) // its peak may lie anywhere on the piece
	})
	if n == 0 {
		return 0
	}
	deepest := 0.0
	s.c.each(box.Inset(-nearThing-2), func(i int) { deepest = max(deepest, -s.depth[i]) })
	v := math.Hypot(shadeSeen*depth/n, carried/n*deepest/math.Sqrt(12))
	return math.Hypot(v, shineShare*shine*part)
}
