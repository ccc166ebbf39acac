package light

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"greige/analyze/fit"
	"greige/colorspace"
)

// The prior of the field's terms is what lamps do. 600 lamps, from close by
// to far away, beside and above a scene of 4 by 3, from a bare bulb to a
// panel, part of their light coming back from the walls, through lenses that
// darken the corners, are worked out by the laws of irradiance and projected
// on the terms; by degree, the prior is between their root mean square and
// three times that.
func TestPriorIsThatOfLamps(t *testing.T) {
	const n, aspect = 12, .75
	var sq, count [degree + 1]float64
	lamps := 0
	for i := 0; lamps < 600; i++ {
		rnd := func(k int) float64 { return (grain(77, i, k) + 1) / 2 }
		h := .8 * math.Pow(8, rnd(0)) // in halves of the scene's width
		off := 3 * h * rnd(1)
		s, c := math.Sincos(2 * math.Pi * rnd(2))
		m, ambient, vignette := 1.5*rnd(3), .1+.6*rnd(4), .15*rnd(5)
		var e [n * n]float64
		mean := 0.0
		place := func(k int) (u, v float64) {
			return (float64(k%n)+.5)/n*2 - 1, (float64(k/n)+.5)/n*2 - 1
		}
		for k := range e {
			u, v := place(k)
			d := math.Hypot(u-off*c, v*aspect-off*s)
			e[k] = math.Pow(h, m+1) / math.Pow(h*h+d*d, (m+3)/2)
			mean += e[k] / (n * n)
		}
		lo, hi := math.Inf(1), 0.0
		for k := range e {
			u, v := place(k)
			e[k] = (e[k]/mean*(1-ambient) + ambient) * (1 - vignette*(u*u+v*v*aspect*aspect)/(1+aspect*aspect))
			lo, hi = min(lo, e[k]), max(hi, e[k])
		}
		if hi/lo > 3 {
			continue
		}
		lamps++
		var coef vector
		for k := range e {
			b := basis(place(k))
			for j := range coef {
				coef[j] += math.Log(e[k]) * b[j] / (n * n)
			}
		}
		j := 0
		for d := 1; d <= degree; d++ {
			for a := d; a >= 0; a-- {
				v := coef[j] * float64((2*a+1)*(2*(d-a)+1)) // Legendre's norm
				sq[d] += v * v
				count[d]++
				j++
			}
		}
	}
	for d := 1; d <= degree; d++ {
		rms := math.Sqrt(sq[d] / count[d])
		require.Greater(t, priorByDegree[d], rms*.9, "degree %d: lamps have %.4f", d, rms)
		require.Less(t, priorByDegree[d], rms*3.2, "degree %d: lamps have %.4f", d, rms)
	}
}

// Chromaticities of real lamps from published tables lie on or off the locus
// as they should: illuminant A and D65, D50 (CIE 15:2018) on it, and the
// sRGB green primary (IEC 61966-2-1) far off.
func TestLampColours(t *testing.T) {
	for _, w := range [][3]float64{{1.0985, 1, .35585}, {.95047, 1, 1.08883}, {.96422, 1, .82521}} {
		require.Less(t, offLocus(colorspace.XYZ{X: w[0], Y: w[1], Z: w[2]}.Linear()), .002)
	}
	require.Greater(t, offLocus(colorspace.Linear{0, 1, 0}), .08)
	// A cutting mat's green, L* 40, a* -18, b* 6, is no lamp's.
	require.Greater(t, offLocus(colorspace.Lab{L: 40, A: -18, B: 6}.Linear()), lampLimit)
}

// A field is found from a margin of 4 % and is right in the middle, where it
// was not seen, for a lamp that is no polynomial; and it says how unsure it is.
func TestFieldAcrossFromAMargin(t *testing.T) {
	light := bulb(2, colorspace.Linear{1, 1, 1})
	p := shot(on(colorspace.Lab{L: 80}), light)
	c := reduce(p.Picture)
	margin := make([]bool, c.w*c.h)
	for i := range margin {
		x, y := i%c.w, i/c.w
		margin[i] = x < 8 || y < 6 || x >= c.w-8 || y >= c.h-6
	}
	f := c.fitSurface(margin)
	require.NotNil(t, f)
	var rel, sigma float64
	n := 0.0
	base := math.NaN()
	for y := -.8; y < .9; y += .2 {
		for x := -.8; x < .9; x += .2 {
			b := basis(x, y)
			d := math.Log(light(x, y).Y()) - f.lnY(&b)
			if math.IsNaN(base) {
				base = d
			}
			rel += (d - base) * (d - base)
			sigma += f.cov.quad(b)
			n++
		}
	}
	require.Less(t, math.Sqrt(rel/n), .012)
	require.Less(t, math.Sqrt(sigma/n), .02)
}

// Nothing but noise gives no field.
func TestFieldOfNoise(t *testing.T) {
	p := plain(testW, testH, func(x, y int) colorspace.Linear {
		v := .3 * (1 + .3*grain(1, x/9, y/9))
		return colorspace.Linear{v, v, v}
	})
	c := reduce(p.Picture)
	f := c.fitCloth()
	require.NotNil(t, f)
	require.Less(t, f.rms(), .02)
}

// A faint lamp that the samples can hardly tell from noise: whatever the field
// makes of it, its covariance holds the truth. The coefficients' errors, by the
// inverse of their covariance, are squares of standard normals, whose mean is
// 1; a field that took its likeliest prior for the only one would be at 1.8.
func TestAverageDoubtsHowFarThePriorIsDrawnIn(t *testing.T) {
	const draws, precision = 300, 1 / (.012 * .012)
	sum := 0.0
	for n := range draws {
		var info information
		var truth vector
		// Of an even light, three of four times, and of a lens that darkens its
		// corners by a tenth.
		truth[2], truth[4] = -.04, -.025
		for j := range terms {
			info.a[j*terms+j] = precision
			noise := 0.0 // twelve even ones make about a normal one
			for k := range 12 {
				noise += grain(n, j, k) / 2
			}
			info.b[j] = precision * (truth[j] + noise*.012)
		}
		p, ok := info.average(&lampFamily)
		require.True(t, ok)
		for j := range truth {
			p.mean[j] -= truth[j]
		}
		of, err := fit.NewCholesky(p.cov[:], terms)
		require.NoError(t, err)
		for j, z := range of.Solve(p.mean[:]) {
			sum += z * p.mean[j] / terms / draws
		}
	}
	require.Less(t, sum, 1.3)
}

// One large piece whose own print slopes, among small ones that show the even
// light: the field may be drawn to it, but then its doubt must hold the truth.
func TestALargePieceDoesNotVouchForItself(t *testing.T) {
	var samples []sample
	add := func(group int, u0, u1, v0, v1 float64, n int, slope float64) {
		for j := range n {
			for i := range n {
				u, v := u0+(u1-u0)*float64(i)/float64(n-1), v0+(v1-v0)*float64(j)/float64(n-1)
				at := basis(u, v)
				s := sample{at: &at, group: group, cell: len(samples)}
				s.v[0] = slope*u + .004*grain(3, i, j+97*group)
				samples = append(samples, s)
			}
		}
	}
	add(0, -.9, .6, -.9, .3, 30, .1)
	for k := range 8 {
		x := -.9 + .22*float64(k)
		add(k+1, x, x+.15, .6, .8, 7, 0)
	}
	f := (&solver{across: 200, channels: 4}).robust(samples, 9)
	require.NotNil(t, f)
	require.Less(t, math.Abs(f.coef[0][0]), 2*math.Sqrt(f.cov[0]))
}

// From a narrow margin one sees well whether the light bends alike in both
// directions, and badly how much. That the difference is small says nothing
// about the sum: its doubt has to hold a lens and a lamp that darken all corners.
func TestNarrowMarginLeavesTheDomeInDoubt(t *testing.T) {
	var info information
	for j := range terms {
		info.a[j*terms+j] = 1 / (.01 * .01)
	}
	const sharp, dull = 1 / (.01 * .01), 1 / (.1 * .1)
	a, b := domed[0], domed[1]
	info.a[a*terms+a], info.a[b*terms+b] = (sharp+dull)/2, (sharp+dull)/2
	info.a[a*terms+b], info.a[b*terms+a] = (dull-sharp)/2, (dull-sharp)/2
	truth := vector{0: .1, 2: -.07, 4: -.06}
	for j := range terms {
		for k := range terms {
			info.b[j] += info.a[j*terms+k] * truth[k]
		}
	}
	off := func(f family) float64 {
		p, ok := info.average(&f)
		require.True(t, ok)
		return math.Abs(p.mean[a]+p.mean[b]-truth[a]-truth[b]) / math.Sqrt(p.cov[a*terms+a]+p.cov[b*terms+b]+2*p.cov[a*terms+b])
	}
	require.Less(t, off(lampFamily), 2.)
	require.Greater(t, off(*(&passes{dome: true}).family()), 2.)
}
