package colorspace

// Kernel is one Gaussian of a channel's blur: Weight times exp(-(r/s)^2),
// where r is the distance from the centre in degrees of visual angle and s is
// SpreadDegrees, itself scaled to add up to 1 over the plane. Its standard
// deviation is SpreadDegrees / sqrt 2.
type Kernel struct{ Weight, SpreadDegrees float64 }

// SpatialKernels are the blurs that the eye lays over the three opponent
// channels: luminance, red-green and blue-yellow, in this order. The weights
// of one channel add up to 1, so that a plain area keeps its colour. The
// third Gaussian of luminance is broad and negative: it takes away the slow
// changes, which the eye discounts.
//
// Source: Zhang and Wandell 1996, "A spatial extension of CIELAB for digital
// color image reproduction", SID Digest 27, whose weights (.921 .105
// -.108, .531 .330, .488 .371) are divided by their sums here.
func SpatialKernels() [3][]Kernel {
	kernels := [3][]Kernel{
		{{.921, .0283}, {.105, .133}, {-.108, 4.336}},
		{{.531, .0392}, {.330, .494}},
		{{.488, .0536}, {.371, .386}},
	}
	for _, channel := range kernels {
		var sum float64
		for _, k := range channel {
			sum += k.Weight
		}
		for i := range channel {
			channel[i].Weight /= sum
		}
	}
	return kernels
}

// XYZToOpponent is the matrix from tristimulus values to the opponent
// channels luminance, red-green and blue-yellow, in which the eye's blur is
// applied; its Inverse leads back.
// Source: Zhang and Wandell 1996, after Poirson and Wandell 1993.
func XYZToOpponent() Matrix {
	return Matrix{
		{.2787336, .7218031, -.106552},
		{-.4487736, .2898056, .0771569},
		{.0859513, -.5899859, .5011089},
	}
}
