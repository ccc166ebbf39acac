package colorspace

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestCIEDE2000OfThe34Pairs(t *testing.T) {
	rows := table(t, published(t, "02_ciede2000_sharma34.csv"))
	require.Len(t, rows, 34)
	for _, r := range rows {
		a, b := r.lab(t, "L1", "a1", "b1"), r.lab(t, "L2", "a2", "b2")
		for _, have := range []float64{CIEDE2000(a, b), CIEDE2000(b, a)} {
			require.InDelta(t, r.num(t, "dE00_published"), have, 5.1e-5, "pair %s", r["pair"])
			require.InDelta(t, r.num(t, "culori"), have, 5.1e-7, "pair %s", r["pair"])
		}
	}
}

// byAngles is CIEDE2000 as the paper writes it, equation by equation, to
// check the version that works with vectors.
func byAngles(p, q Lab) float64 {
	const deg = math.Pi / 180
	gate := func(c float64) float64 { return math.Sqrt(math.Pow(c, 7) / (math.Pow(c, 7) + math.Pow(25, 7))) }
	hue := func(b, a float64) float64 {
		if a == 0 && b == 0 {
			return 0
		}
		return math.Mod(math.Atan2(b, a)/deg+360, 360)
	}
	g := .5 * (1 - gate((p.Chroma()+q.Chroma())/2))
	a1, a2 := (1+g)*p.A, (1+g)*q.A
	c1, c2 := math.Hypot(a1, p.B), math.Hypot(a2, q.B)
	h1, h2 := hue(p.B, a1), hue(q.B, a2)
	dh, h := h2-h1, h1+h2
	switch {
	case c1*c2 == 0:
		dh = 0
	case math.Abs(dh) <= 180+1e-9:
		h /= 2
	case h < 360:
		dh, h = dh-math.Copysign(360, dh), (h+360)/2
	default:
		dh, h = dh-math.Copysign(360, dh), (h-360)/2
	}
	dH := 2 * math.Sqrt(c1*c2) * math.Sin(dh/2*deg)
	l, c := (p.L+q.L)/2, (c1+c2)/2
	t := 1 - .17*math.Cos((h-30)*deg) + .24*math.Cos(2*h*deg) + .32*math.Cos((3*h+6)*deg) - .20*math.Cos((4*h-63)*deg)
	sl, sc, sh := 1+.015*(l-50)*(l-50)/math.Sqrt(20+(l-50)*(l-50)), 1+.045*c, 1+.015*c*t
	rt := -math.Sin(2*30*math.Exp(-(h-275)/25*(h-275)/25)*deg) * 2 * gate(c)
	x, y, z := (q.L-p.L)/sl, (c2-c1)/sc, dH/sh
	return math.Sqrt(x*x + y*y + z*z + rt*y*z)
}

func TestCIEDE2000ByVectorsIsCIEDE2000ByAngles(t *testing.T) {
	var colours []Lab
	cube(6, func(c Linear) { colours = append(colours, c.Lab()) })
	for _, l := range []float64{0, 30, 100} { // greys, opposite hues, hues near the seam at 0, near-equal colours
		for _, ab := range [][2]float64{{0, 0}, {1e-12, 0}, {3, 4}, {-3, -4}, {-3, -4.0000001}, {-3, -4.00000000001}, {-3, -3.99999999999}, {20, -1e-9}, {20, 1e-9}, {0, -60}, {1, -60}} {
			colours = append(colours, Lab{l, ab[0], ab[1]})
		}
	}
	for _, a := range colours {
		for _, b := range colours {
			require.InDelta(t, byAngles(a, b), CIEDE2000(a, b), 1e-9, "%v %v", a, b)
			require.Equal(t, CIEDE2000(a, b), CIEDE2000(b, a), "%v %v", a, b)
		}
		require.Equal(t, 0., CIEDE2000(a, a))
	}
}

func TestCIEDE2000AllocatesNothing(t *testing.T) {
	require.Zero(t, testing.AllocsPerRun(100, func() { sink = CIEDE2000(Lab{50, 2, -80}, Lab{60, 0, -82}) }))
}

var sink float64 // keeps results from being optimised away

func BenchmarkCIEDE2000(b *testing.B) {
	var colours []Lab
	cube(5, func(c Linear) { colours = append(colours, c.Lab()) })
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		sink = CIEDE2000(colours[i%125], colours[i*7%125])
	}
}

// BenchmarkCIEDE2000ByAngles is the paper's form, for comparison.
func BenchmarkCIEDE2000ByAngles(b *testing.B) {
	var colours []Lab
	cube(5, func(c Linear) { colours = append(colours, c.Lab()) })
	for i := 0; b.Loop(); i++ {
		sink = byAngles(colours[i%125], colours[i*7%125])
	}
}

// What is passed over because it is too far off in lightness alone is too far off
// by CIEDE2000 too.
func TestLightnessAloneBoundsTheDifference(t *testing.T) {
	r := rand.New(rand.NewPCG(31, 32))
	any := func() Lab {
		return Lab{L: 100 * r.Float64(), A: 200*r.Float64() - 100, B: 200*r.Float64() - 100}
	}
	for range 200_000 {
		a, b := any(), any()
		if r.IntN(4) == 0 { // greys and near-greys, where little else is in it
			a.A, a.B, b.A, b.B = a.A/100, a.B/100, b.A/100, b.B/100
		}
		require.False(t, Beyond(a, b, CIEDE2000(a, b)+1e-9))
	}
}
