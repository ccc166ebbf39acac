package eye

import "math"

// longestFIR is the widest Gaussian, in pixels, that is convolved directly.
// Wider ones are three running means, whose cost does not grow with width
// and whose shape is within 3 % of the Gaussian's peak (central limit).
const longestFIR = 6

// gaussian blurs planes of one size. At the picture's edge it divides by the
// part of the kernel that lies inside, so that a constant stays a constant.
type gaussian struct {
	w, h    int
	weights map[float64][]float32 // blurred weights by sigma: the channels share them
}

func newGaussian(w, h int) *gaussian {
	return &gaussian{w: w, h: h, weights: map[float64][]float32{}}
}

// weightBlur is blur of the piece's weight, kept, since channels share sigmas.
func (g *gaussian) weightBlur(weight []float32, sigma float64) []float32 {
	if b, ok := g.weights[sigma]; ok {
		return b
	}
	b := g.blur(weight, sigma)
	g.weights[sigma] = b
	return b
}

// blur convolves src (w*h) with exp(-r^2 / 2 sigma^2), normalised.
func (g *gaussian) blur(src []float32, sigma float64) []float32 {
	across, along := make([]float32, len(src)), make([]float32, len(src))
	if sigma <= longestFIR {
		k := taps(sigma)
		g.convolve(across, src, k, g.h, g.w, g.w, 1)
		g.convolve(along, across, k, g.w, g.h, 1, g.w)
		return along
	}
	copy(along, src)
	for _, radius := range boxes(sigma) {
		g.box(across, along, radius, g.h, g.w, g.w, 1)
		g.box(along, across, radius, g.w, g.h, 1, g.w)
	}
	return along
}

// taps are one side of a Gaussian from its centre out to 4 sigma, unnormalised.
func taps(sigma float64) []float32 {
	k := []float32{1}
	for i := 1; float64(i) <= 4*sigma; i++ {
		k = append(k, float32(math.Exp(-float64(i*i)/(2*sigma*sigma))))
	}
	return k
}

// convolve runs the symmetric kernel k along lines of n pixels that lie step
// apart; line j starts at j*stride.
func (g *gaussian) convolve(dst, src, k []float32, lines, n, stride, step int) {
	r := len(k) - 1
	norm := make([]float32, n) // the part of the kernel that lies inside
	for i := range norm {
		for d := -r; d <= r; d++ {
			if i+d >= 0 && i+d < n {
				norm[i] += k[max(d, -d)]
			}
		}
	}
	line := make([]float32, n)
	for j := range lines {
		at := j * stride
		for i := range line {
			line[i] = src[at+i*step]
		}
		for i := range n {
			sum := k[0] * line[i]
			for d := 1; d <= r; d++ {
				if i-d >= 0 {
					sum += k[d] * line[i-d]
				}
				if i+d < n {
					sum += k[d] * line[i+d]
				}
			}
			dst[at+i*step] = sum / norm[i]
		}
	}
}

// boxes are the radii of three running means that together have the variance
// of a Gaussian: n passes of width w have variance n (w^2 - 1) / 12.
func boxes(sigma float64) [3]int {
	const n = 3
	narrow := int(math.Sqrt(12*sigma*sigma/n + 1))
	if narrow%2 == 0 {
		narrow--
	}
	w := float64(narrow)
	m := int(math.Round((12*sigma*sigma - n*w*w - 4*n*w - 3*n) / (-4*w - 4)))
	var r [3]int
	for i := range r {
		r[i] = narrow / 2
		if i >= m {
			r[i]++
		}
	}
	return r
}

// box is the running mean of 2*radius+1 pixels along lines laid out as in
// convolve, over what lies inside the picture.
func (g *gaussian) box(dst, src []float32, radius, lines, n, stride, step int) {
	for j := range lines {
		at := j * stride
		var sum float64 // in float64: a running sum in float32 drifts
		for i := range min(radius, n) {
			sum += float64(src[at+i*step])
		}
		for i := range n {
			if in := i + radius; in < n {
				sum += float64(src[at+in*step])
			}
			if out := i - radius - 1; out >= 0 {
				sum -= float64(src[at+out*step])
			}
			count := min(i+radius, n-1) - max(i-radius, 0) + 1
			dst[at+i*step] = float32(sum / float64(count))
		}
	}
}
