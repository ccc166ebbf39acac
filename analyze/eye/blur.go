package eye

import (
	"math"

	"greige/analyze/photo"
	"greige/colorspace"
)

// narrowest is the standard deviation, in pixels, that the eye's narrowest
// blur should have on a grid: fine enough to be sampled well, coarse enough
// that nothing is computed twice.
const narrowest = 0.9

// SamplesPerDegree is the sampling at which the eye's narrowest blur is
// narrowest pixels wide. A picture with more pixels to the degree can be
// averaged down to this before it is blurred, and shows the same.
func SamplesPerDegree() float64 {
	n := math.Inf(1)
	for _, channel := range colorspace.SpatialKernels() {
		for _, k := range channel {
			n = min(n, k.SpreadDegrees/math.Sqrt2)
		}
	}
	return narrowest / n
}

// PixelsPerDegree is how many pixels one degree of the viewer's sight covers
// for a scene in which one pixel is cm wide, seen from metres away. As in
// S-CIELAB, a degree is the length distance x tan 1 degree.
func PixelsPerDegree(cmPerPixel, metres float64) float64 {
	return metres * 100 * math.Tan(math.Pi/180) / cmPerPixel
}

// blur is p as the eye receives it when pixelsPerDegree of its pixels cover
// one degree: each opponent channel (light-dark, red-green, blue-yellow)
// blurred by its own sum of Gaussians (Zhang and Wandell 1996), the kernels
// given. weight says how much of each pixel belongs to the piece, 0..1, W*H; nil
// for all. What lies outside has no part in the blur, so that a neighbour never
// leaks in; pixels of no weight come out black. had is the variance, in square
// pixels, of the blur that p has had already, by averaging down.
func blur(p *photo.Picture, weight []float32, pixelsPerDegree float64, spatial [3][]colorspace.Kernel, had float64) *photo.Picture {
	out := new(Room).blurred(p, weight, pixelsPerDegree, spatial, had)
	toOpponent := colorspace.XYZToOpponent().Mul(colorspace.LinearToXYZ())
	back := toOpponent.Inverse()
	q := photo.New(p.W, p.H)
	for i := range out[0] {
		if weight != nil && weight[i] == 0 {
			continue
		}
		for r := range 3 {
			q.Pix[3*i+r] = float32(back[r][0])*out[0][i] + float32(back[r][1])*out[1][i] + float32(back[r][2])*out[2][i]
		}
	}
	return q
}

// Room is memory that one piece after another is looked at in: new memory for
// each takes time, and more of it. Its zero value is ready. One goroutine at a
// time may use it.
type Room struct {
	light, share workspace // for the channels, and for the part of the kernel on the piece
	channel      []float32
	channels     [3][]float32
}

// blurred are the blurred opponent channels of p, until the next call. Where
// weight is 0 they are of no use.
func (ro *Room) blurred(p *photo.Picture, weight []float32, pixelsPerDegree float64, spatial [3][]colorspace.Kernel, had float64) (out [3][]float32) {
	toOpponent := colorspace.XYZToOpponent().Mul(colorspace.LinearToXYZ())
	n := p.W * p.H
	channel := room(&ro.channel, n)
	for c, kernels := range spatial {
		m := [3]float32{float32(toOpponent[c][0]), float32(toOpponent[c][1]), float32(toOpponent[c][2])}
		for i := range channel {
			v := p.Pix[3*i : 3*i+3 : 3*i+3]
			channel[i] = m[0]*v[0] + m[1]*v[1] + m[2]*v[2]
		}
		for i, w := range weight {
			channel[i] *= w
		}
		out[c] = room(&ro.channels[c], n)
		clear(out[c])
		for _, k := range kernels {
			sigma := k.SpreadDegrees / math.Sqrt2 * pixelsPerDegree
			sigma = math.Sqrt(max(sigma*sigma-had, 0))
			soft := ro.light.gaussian(plane{channel, p.W, p.H, 1}, sigma)
			if weight != nil {
				soft.divide(ro.share.gaussian(plane{weight, p.W, p.H, 1}, sigma))
			}
			a := float32(k.Weight)
			for i, v := range ro.light.stretched(soft, p.W, p.H).v {
				out[c][i] += a * v
			}
		}
	}
	return out
}

// divide divides p by the share of the kernel that lies on the piece, where any does.
func (p plane) divide(share plane) {
	for i, v := range share.v {
		if v > 0 {
			p.v[i] /= v
		}
	}
}

// Spread is the standard deviation of L* over the piece that is left after
// the eye's blur: how busy the cloth is from where the viewer stands. The
// arguments are those of blur; a piece of no weight has spread 0.
func (ro *Room) Spread(p *photo.Picture, weight []float32, pixelsPerDegree float64) float64 {
	w, h, had := sampled(p, pixelsPerDegree)
	pixelsPerDegree *= float64(w) / float64(p.W)
	p, weight = Shrink(p, weight, w, h)
	channels := ro.blurred(p, weight, pixelsPerDegree, colorspace.SpatialKernels(), had)
	toY := colorspace.XYZToOpponent().Inverse()[1]
	var sum, mean, m2 float64
	for i := range p.W * p.H {
		a := 1.0
		if weight != nil {
			a = float64(weight[i])
		}
		if a == 0 {
			continue
		}
		y := toY[0]*float64(channels[0][i]) + toY[1]*float64(channels[1][i]) + toY[2]*float64(channels[2][i])
		// Weighted variance in one pass: West 1979, Comm. ACM 22(9):532.
		l := float64(colorspace.Lightness32(float32(y)))
		sum += a
		d := l - mean
		mean += d * a / sum
		m2 += a * d * (l - mean)
	}
	if sum == 0 {
		return 0
	}
	return math.Sqrt(max(m2/sum, 0))
}

// sampled is the size down to which p can be averaged before it is blurred at
// pixelsPerDegree, its own if nothing would be won, and the variance in square
// pixels of the blur that it gets by that.
func sampled(p *photo.Picture, pixelsPerDegree float64) (w, h int, had float64) {
	f := SamplesPerDegree() / pixelsPerDegree
	if !(f < 0.75) {
		return p.W, p.H, 0
	}
	// A square of one pixel, less the squares that it is the mean of.
	return max(1, int(float64(p.W)*f+.5)), max(1, int(float64(p.H)*f+.5)), (1 - f*f) / 12
}

// Shrink averages a piece by areas down to w x h pixels: its light by its
// weight, so that what lies outside the piece does not mix in, and the weight
// itself. weight is as in blur; a nil weight stays nil.
func Shrink(p *photo.Picture, weight []float32, w, h int) (*photo.Picture, []float32) {
	if w >= p.W && h >= p.H {
		return p, weight
	}
	w, h = min(w, p.W), min(h, p.H)
	if weight == nil {
		return p.Resample(w, h), nil
	}
	// Premultiplied light, then the weight itself in a picture of its own.
	light, cover := photo.New(p.W, p.H), photo.New(p.W, p.H)
	for i, a := range weight {
		light.Pix[3*i], light.Pix[3*i+1], light.Pix[3*i+2] = a*p.Pix[3*i], a*p.Pix[3*i+1], a*p.Pix[3*i+2]
		cover.Pix[3*i] = a
	}
	light, cover = light.Resample(w, h), cover.Resample(w, h)
	small := make([]float32, w*h)
	for i := range small {
		a := cover.Pix[3*i]
		small[i] = a
		if a > 0 {
			light.Pix[3*i], light.Pix[3*i+1], light.Pix[3*i+2] = light.Pix[3*i]/a, light.Pix[3*i+1]/a, light.Pix[3*i+2]/a
		}
	}
	return light, small
}
