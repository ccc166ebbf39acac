package light

import "math"

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

// leastTexture is how many pairs of cells tell a texture.
const leastTexture = 60

// texture is that of the ground; negative where too little of it is seen.
func (g *ground) texture(c *cells) float64 {
	fy := c.over(g.field, 0)
	rest := make([]float64, len(fy))
	for i := range rest {
		rest[i] = float64(c.logs[i][0] - fy[i])
	}
	return c.texture(rest, c.eroded(g.member))
}

// texture is the relative standard deviation of a surface's own light from one
// place to another near by, for the cells in and ln of what they send back;
// negative where they are too few. What two neighbouring cells share is the
// surface's, what they do not is mostly the camera's noise: with a and b their
// two deviations, the variance of a + b less that of a - b is four times what
// they share.
func (c *cells) texture(rest []float64, in []bool) float64 {
	near := c.sumsOf(rest, in)
	// dev is how far cell i lies from the mean of those about it.
	dev := func(i int) float64 {
		mean, _ := near.about(i, textureReach)
		return rest[i] - mean
	}
	var both, apart []float32
	for i := range in {
		if i%c.w+1 < c.w && in[i] && in[i+1] {
			a, b := dev(i), dev(i+1)
			both = append(both, abs32(float32(a+b)))
			apart = append(apart, abs32(float32(a-b)))
		}
	}
	if len(both) < leastTexture {
		return -1
	}
	p, q := 1.4826*float64(median(both)), 1.4826*float64(median(apart))
	return math.Sqrt(max(p*p-q*q, 0)) / 2
}

// sums are, of a figure by cell, the sums and counts over all that is counted
// above and to the left of each cell.
type sums struct {
	w, h  int
	sum   []float64
	count []int32
}

// sumsOf sums v where in.
func (c *cells) sumsOf(v []float64, in []bool) sums {
	w, h := c.w, c.h
	s := sums{w, h, make([]float64, (w+1)*(h+1)), make([]int32, (w+1)*(h+1))}
	for y := range h {
		row, n := 0.0, int32(0)
		for x := range w {
			if i := y*w + x; in[i] {
				row, n = row+v[i], n+1
			}
			j := (y+1)*(w+1) + x + 1
			s.sum[j], s.count[j] = s.sum[j-w-1]+row, s.count[j-w-1]+n
		}
	}
	return s
}

// about is the mean over the square of 2 reach + 1 cells about cell i, and over
// how many.
func (s *sums) about(i, reach int) (mean float64, n int) {
	x, y := i%s.w, i/s.w
	x0, x1, y0, y1 := max(x-reach, 0), min(x+reach+1, s.w), max(y-reach, 0), min(y+reach+1, s.h)
	a, b, c, d := y1*(s.w+1)+x1, y0*(s.w+1)+x1, y1*(s.w+1)+x0, y0*(s.w+1)+x0
	n = int(s.count[a] - s.count[b] - s.count[c] + s.count[d])
	return (s.sum[a] - s.sum[b] - s.sum[c] + s.sum[d]) / float64(max(n, 1)), n
}

// wovenLikes is how likely a texture is on brushed or woven cloth, and
// smoothLikes on paper, board and paint, up to a factor they share. A texture
// that is not known is as likely on either.
func wovenLikes(texture float64) float64 {
	if texture < 0 {
		return 1
	}
	return likelyTexture(min(texture/wovenTexture, 1)) // folds know no upper end
}

func smoothLikes(texture float64) float64 {
	if texture < 0 {
		return 1
	}
	return likelyTexture(max(texture/smoothTexture, 1)) // nor blank paper a lower
}

func likelyTexture(ratio float64) float64 {
	d := math.Log(max(ratio, 1e-3)) / textureSpread
	return math.Exp(-d * d / 2)
}
