package eye

import "math"

// Noise is s0 of Clarity in L*: what the eye itself adds to the spread of two
// cloths. Common practice, no source.
const Noise = 2

// Clear is the clarity under which a seam is no more than soft: the d' at
// which an ideal observer tells the two sides apart five times in six
// (Green and Swets 1966; Phi(2/2) = 0.84).
const Clear = 2

// Clarity is the d' of signal detection of the seam between two cloths:
// |l1 - l2| / sqrt((s1^2 + s2^2)/2 + Noise^2), with their L* and the standard
// deviations of L* within them at the viewing distance. 0 and up.
func Clarity(l1, s1, l2, s2 float64) float64 {
	return math.Abs(l1-l2) / math.Sqrt((s1*s1+s2*s2)/2+Noise*Noise)
}
