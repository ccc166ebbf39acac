package light

import (
	"image"
	"math"

	"greige/analyze/fit"
	"greige/analyze/raster"
)

// What a white ground is made of shows in its texture, from one two-hundredth
// of the photo to the next. Paper, board and paint are smooth: noise aside they
// vary by a few thousandths. Brushed and woven cloth has nap, slubs and folds,
// which make a hundredth and more (common practice, no source). From one piece
// to the next both differ by a factor of so many e-folds.
const (
	smoothTexture = .002
	wovenTexture  = .011
	textureSpread = .5
)

// textureReach is half the side, in cells, of the square over which a ground's
// light is averaged before its texture is looked at: shadows and what the
// field could not follow are wider.
const textureReach = 4

// leastTexture is how many pairs of cells tell a texture: its standard deviation to a
// tenth.
const leastTexture = 60

// texture is that of the surface; negative where too little of it is seen.
func (b *backing) texture(c *cells) float64 {
	off := c.offsets(b.field)
	rest := make([]float64, len(b.member))
	for i := range rest {
		rest[i] = off(i)[0]
	}
	return c.texture(rest, c.eroded(b.member, 1))
}

// texture is the relative standard deviation of a surface's own light from one
// place to another near by, for the cells in and ln of what they send back;
// negative where they are too few. What two neighbouring cells share is the
// surface's, what they do not is mostly the camera's noise: with a and b their
// two deviations, the variance of a + b less that of a - b is four times what
// they share.
func (c *cells) texture(rest []float64, in []bool) float64 {
	near := c.sumsOf(rest, in)
	var together, apart []float64
	for i := range in {
		if i%c.w+1 < c.w && in[i] && in[i+1] {
			a, b := rest[i]-near.about(i), rest[i+1]-near.about(i+1)
			together = append(together, math.Abs(a+b))
			apart = append(apart, math.Abs(a-b))
		}
	}
	if len(together) < leastTexture {
		return -1
	}
	p, q := 1.4826*fit.Median(together), 1.4826*fit.Median(apart) // of a normal distribution's median deviation
	return math.Sqrt(max(p*p-q*q, 0)) / 2
}

// localMeans are means of a figure by cell over squares of textureReach.
type localMeans struct {
	w           int
	sum, counts *raster.Sums
}

func (c *cells) sumsOf(v []float64, in []bool) localMeans {
	value := make([]float32, len(v))
	for i, is := range in {
		if is {
			value[i] = float32(v[i])
		}
	}
	return localMeans{c.w, raster.NewSums(value, c.w, c.h), c.mask(in).Sums()}
}

// about is the mean over the square about cell i.
func (s *localMeans) about(i int) float64 {
	x, y := i%s.w, i/s.w
	r := image.Rect(x-textureReach, y-textureReach, x+textureReach+1, y+textureReach+1)
	return s.sum.Over(r) / max(s.counts.Over(r), 1)
}

// likelyTexture is how likely a texture is on a surface of this kind, up to a factor
// that both kinds share; one that is not known is as likely on either. Folds know no
// upper end, nor blank paper a lower.
func likelyTexture(texture float64, woven bool) float64 {
	if texture < 0 {
		return 1
	}
	ratio := max(texture/smoothTexture, 1)
	if woven {
		ratio = max(min(texture/wovenTexture, 1), 1e-3)
	}
	d := math.Log(ratio) / textureSpread
	return math.Exp(-d * d / 2)
}
