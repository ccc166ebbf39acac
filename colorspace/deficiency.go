package colorspace

// Deficiency is a kind of colour-vision deficiency, named by the cone whose
// signal is lost.
type Deficiency uint8

// The three deficiencies at severity 1, the lost cone's full absence.
const (
	Protan Deficiency = iota // the long-wave cone: reds go dark, red and green are confused
	Deutan                   // the middle-wave cone: red and green are confused; the commonest
	Tritan                   // the short-wave cone: blue and green are confused; rare
)

// Simulate is what is left of c, linear light of the sRGB primaries, for a
// viewer with deficiency d at severity 1, see Matrix. The result is not clipped.
func Simulate(c Linear, d Deficiency) Linear { return d.Matrix().Apply(c) }

// Matrix turns linear light of the sRGB primaries into what is left of it for a viewer
// with deficiency d at severity 1. It is for linear light, as the model's derivation
// has it, though many programs apply the matrices to encoded values. Greys stay what
// they are; an unknown d leaves all colours as they are.
//
// Source: Machado, Oliveira and Fernandes 2009, "A physiologically-based
// model for simulation of color vision deficiency", IEEE Trans. Visualization
// and Computer Graphics 15(6):1291, the matrices of severity 1.0.
func (d Deficiency) Matrix() Matrix {
	switch d {
	case Protan:
		return Matrix{
			{0.152286, 1.052583, -0.204868},
			{0.114503, 0.786281, 0.099216},
			{-0.003882, -0.048116, 1.051998},
		}
	case Deutan:
		return Matrix{
			{0.367322, 0.860646, -0.227968},
			{0.280085, 0.672501, 0.047413},
			{-0.011820, 0.042940, 0.968881},
		}
	case Tritan:
		return Matrix{
			{1.255528, -0.076749, -0.178779},
			{-0.078411, 0.930809, 0.147602},
			{0.004733, 0.691367, 0.303900},
		}
	}
	return Matrix{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}
}
