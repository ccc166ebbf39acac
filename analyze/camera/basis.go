package camera

import (
	"math"

	"greige/analyze/fit"
	"greige/colorspace"
)

// Standard deviations of y over s, fitted to eleven sources (testdata/real).
const (
	gammaSigma = 7.7 // of an exponent: y = ln s
	glareSigma = .9  // of veiling glare, a share of white's light that is added to all
	hueSigma   = 1.3 // of a part that goes with a* and with b*, at 50
	satSigma   = .75 // of a part that goes with C*, at 50
	toneSigma  = 2.6 // of the tone curve, free
	localSigma = 2.8 // of the rendering of a colour, free, from C* 40 on
	ownSigma   = 1.4 // of each surface by itself
	ownColour  = 1.1 // the same, more for a colour, from C* 40 on
	ownClipped = 8.  // the same, more for a surface all of which is clipped
)

// How far a free part hangs together: standard deviations of a Gaussian, in L*
// and in a*, b*.
const (
	toneReach  = 25.
	localReach = 30.
)

// The free parts are functions of L* and of a*, b* with a Gaussian covariance.
// Their values at these places stand for the whole function (the Nystrom
// approximation, Rasmussen and Williams 2006, 8.1), half a reach apart or
// nearer in L* and one reach in a*, b*: what lies between is off by less than a
// hundredth of the variance inside the range of a photo's colours.
var (
	toneKnots = func() (k []float64) {
		for l := -5.; l <= 108; l += 12.5 {
			k = append(k, l)
		}
		return k
	}()
	localKnots = func() (k [][2]float64) {
		for a := -4.; a <= 4; a++ {
			for b := -4.; b <= 4; b++ {
				if a*a+b*b <= 17 {
					k = append(k, [2]float64{a * 26, b * 26})
				}
			}
		}
		return k
	}()
	toneRoot = fit.Root(gram(len(toneKnots), func(i, j int) float64 {
		return gaussian(toneKnots[i]-toneKnots[j], 0, toneReach)
	}))
	localRoot = fit.Root(gram(len(localKnots), func(i, j int) float64 {
		p, q := localKnots[i], localKnots[j]
		return gaussian(p[0]-q[0], p[1]-q[1], localReach)
	}))
	dims = 6 + len(toneKnots) + len(localKnots)
	// exposure is the place of the exposure's own basis function: behind the others, so
	// that its part of a doubt is what they leave.
	exposure = dims - 1
)

// glareWeight is the place of the basis function of veiling glare.
const glareWeight = 1

func gram(n int, of func(i, j int) float64) [][]float64 {
	m := make([][]float64, n)
	for i := range m {
		m[i] = make([]float64, n)
		for j := range m[i] {
			m[i][j] = of(i, j)
		}
		m[i][i] += 1e-8 // so that rounding leaves it positive definite
	}
	return m
}

func gaussian(dx, dy, reach float64) float64 {
	return math.Exp(-(dx*dx + dy*dy) / (2 * reach * reach))
}

// basis are the basis functions of a surface, each with a weight of variance 1,
// but for the last: that is the exposure.
func basis(c colorspace.Lab) []float64 {
	s := scale(c.L)
	y := min(max(colorspace.LuminanceOf(min(c.L, 96)), .01), 1)
	glare := (1 - y) / math.Pow(y, 2./3) / 10 // dL* of a hundredth of white's light, but for a factor
	sat := saturation(c)
	phi := make([]float64, 0, dims)
	phi = append(phi, gammaSigma*math.Log(s), glareSigma*glare/s,
		hueSigma*c.A/(50*s), hueSigma*c.B/(50*s), satSigma*c.Chroma()/(50*s))
	tone := forward(toneRoot, len(toneKnots), func(i int) float64 { return gaussian(c.L-toneKnots[i], 0, toneReach) })
	for _, v := range tone {
		phi = append(phi, toneSigma*v/s)
	}
	if sat == 0 {
		phi = phi[:dims]
		phi[exposure] = 1
		return phi
	}
	local := forward(localRoot, len(localKnots), func(i int) float64 {
		return gaussian(c.A-localKnots[i][0], c.B-localKnots[i][1], localReach)
	})
	for _, v := range local {
		phi = append(phi, localSigma*sat*v/s)
	}
	return append(phi, 1)
}

// saturation is how much of a colour's own rendering counts, 0..1.
func saturation(c colorspace.Lab) float64 { return min(1, c.Chroma()/40) }

// noise is the standard deviation of L*, but for dL*/dy over s, that a surface
// has by itself.
func noise(c colorspace.Lab, clipped float64) float64 {
	return math.Sqrt(ownSigma*ownSigma + sq(ownColour*saturation(c)) + sq(ownClipped*clipped))
}

func sq(v float64) float64 { return v * v }

func dot(a, b []float64) (sum float64) {
	for i, v := range a {
		sum += v * b[i]
	}
	return sum
}

func times(m [][]float64, v []float64) []float64 {
	out := make([]float64, len(m))
	for i, row := range m {
		out[i] = dot(row, v)
	}
	return out
}

// forward solves L x = v.
func forward(l [][]float64, n int, v func(i int) float64) []float64 {
	x := make([]float64, n)
	for i := range x {
		x[i] = (v(i) - dot(l[i][:i], x[:i])) / l[i][i]
	}
	return x
}
