package scene

import "math"

// shadow is how much of the surrounding light a thing on the ground keeps
// away from the ground beside it: a dark line where they touch, and a softer
// fall of light further out, both drawn away from the lamp.
type shadow struct {
	near, wide *cover
	away       point // unit vector from the lamp, in the photo
	nearBy     float64
	wideBy     float64
	strength   float32
}

// cover is a blurred picture of where things lie.
type cover struct {
	step  float64 // pixels of the photo
	w, h  int
	value []float32
}

// The height of a piece of cotton's edge above the table is a millimetre or
// so; its shadow is of that size.
const (
	nearCM = .12
	wideCM = .7
)

func (s *stage) newShadow(edges []edge) *shadow {
	sin, cos := math.Sincos(s.take.Light.From * math.Pi / 180)
	sh := &shadow{away: point{-cos, -sin}}
	lifted := false
	for i := range s.shapes {
		lifted = lifted || s.shapes[i].lift > 0
	}
	if !lifted {
		return sh
	}
	sh.strength = 1
	near, wide := nearCM/s.footprint, wideCM/s.footprint
	sh.near, sh.wide = s.cover(edges, near), s.cover(edges, wide)
	sh.nearBy, sh.wideBy = near, wide*.5
	return sh
}

// cover draws what lies on the ground, blurred by sigma pixels.
func (s *stage) cover(edges []edge, sigma float64) *cover {
	step := max(1, math.Floor(sigma/2.5))
	pad := int(math.Ceil(3*sigma/step)) + 1 // the photo's edge is no edge of a thing
	w := int(math.Ceil(float64(s.take.Width)/step)) + 2*pad
	h := int(math.Ceil(float64(s.take.Height)/step)) + 2*pad
	c := &cover{step: step, w: w, h: h, value: make([]float32, w*h)}
	// The rows of the cover are the rows of a smaller, wider photo.
	moved := make([]edge, len(edges))
	for i, e := range edges {
		e.y0, e.y1 = e.y0/step+float64(pad), e.y1/step+float64(pad)
		e.x0 = e.x0/step + float64(pad)
		moved[i] = e
	}
	sc := newScan(s.shapes, moved)
	label := make([]int32, w)
	for y := range h {
		sc.band(float64(y), float64(y+1))
		sc.line(float64(y)+.5, .5, label)
		for x, l := range label {
			if l > 0 {
				c.value[y*w+x] = float32(s.shapes[l-1].lift)
			}
		}
	}
	c.blur(sigma / step)
	c.crop(pad)
	return c
}

// crop cuts the padding off.
func (c *cover) crop(pad int) {
	w, h := c.w-2*pad, c.h-2*pad
	out := make([]float32, w*h)
	for y := range h {
		copy(out[y*w:(y+1)*w], c.value[(y+pad)*c.w+pad:])
	}
	c.w, c.h, c.value = w, h, out
}

// blur is a Gaussian of sigma cells.
func (c *cover) blur(sigma float64) {
	k := gaussian(sigma)
	r := len(k) / 2
	tmp := make([]float32, len(c.value))
	for y := range c.h {
		src, dst := c.value[y*c.w:(y+1)*c.w], tmp[y*c.w:(y+1)*c.w]
		for x := range dst {
			var v float32
			for i, g := range k {
				v += g * src[min(max(x+i-r, 0), c.w-1)]
			}
			dst[x] = v
		}
	}
	clear(c.value)
	for y := range c.h {
		dst := c.value[y*c.w : (y+1)*c.w]
		for i, g := range k {
			from := min(max(y+i-r, 0), c.h-1)
			for x, v := range tmp[from*c.w : (from+1)*c.w] {
				dst[x] += g * v
			}
		}
	}
}

// at looks up between the cells; x and y in pixels of the photo.
func (c *cover) at(x, y float64) float32 {
	x, y = min(max(x/c.step-.5, 0), float64(c.w-1)), min(max(y/c.step-.5, 0), float64(c.h-1))
	i, j := int(x), int(y)
	i1, j1 := min(i+1, c.w-1), min(j+1, c.h-1)
	tx, ty := float32(x)-float32(i), float32(y)-float32(j)
	top := c.value[j*c.w+i]*(1-tx) + c.value[j*c.w+i1]*tx
	bottom := c.value[j1*c.w+i]*(1-tx) + c.value[j1*c.w+i1]*tx
	return top*(1-ty) + bottom*ty
}

// onGround is the share of the light that reaches the ground.
func (s *shadow) onGround(x, y float64) float32 {
	if s.strength == 0 {
		return 1
	}
	near := s.near.at(x-s.away.x*s.nearBy, y-s.away.y*s.nearBy)
	wide := s.wide.at(x-s.away.x*s.wideBy, y-s.away.y*s.wideBy)
	return max((1-.45*near)*(1-.32*wide), .15)
}

// slope is about how far the edge of a piece turns to the lamp, -1..1, 0 in
// its middle.
func (s *shadow) slope(x, y float64) float64 {
	if s.strength == 0 {
		return 0
	}
	d := s.wideBy * 1.5
	return float64(s.wide.at(x-s.away.x*d, y-s.away.y*d) - s.wide.at(x+s.away.x*d, y+s.away.y*d))
}
