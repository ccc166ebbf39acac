package eye

import (
	"greige/analyze/photo"
	"greige/colorspace"
)

// Squinting is how many times farther away a scene seems through half closed
// eyes: they see about a fifth as sharply (common practice, no source).
const Squinting = 5

// SquintKernels are the blurs of a squinted picture: those of S-CIELAB by
// which detail is lost, with weights that add up to 1 in each channel. The
// broad negative Gaussian is left out. It stands for the eye's discounting of
// slow changes, and whoever looks at the picture does that with her own eyes;
// drawn into the picture it would turn dark cloth black.
func SquintKernels() [3][]colorspace.Kernel {
	var out [3][]colorspace.Kernel
	for c, kernels := range colorspace.SpatialKernels() {
		sum := 0.0
		for _, k := range kernels {
			if k.Weight > 0 {
				out[c] = append(out[c], k)
				sum += k.Weight
			}
		}
		for i := range out[c] {
			out[c][i].Weight /= sum
		}
	}
	return out
}

// Squint is p as it is left when the eyes are half closed, for showing: p
// blurred as the eye blurs it from Squinting times the distance, where
// pixelsPerDegree of p's pixels cover one degree of sight from the distance
// itself. A fine pattern turns to the mean of its light and a plain area stays
// what it is. The result may have fewer pixels than p.
func Squint(p *photo.Picture, pixelsPerDegree float64) *photo.Picture {
	ppd := pixelsPerDegree * Squinting
	w, h, had := sampled(p, ppd)
	ppd *= float64(w) / float64(p.W)
	p, _ = Shrink(p, nil, w, h)
	return blur(p, nil, ppd, SquintKernels(), had)
}
