package camera

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"greige/colorspace"
)

// chart is one photo of the 24-patch chart: its file's colours, and its number
// of photos in the source it comes from.
type chart struct {
	photo string
	light [25]colorspace.Linear
	clip  [25]float64
}

// charts are the photos of testdata/real.
func charts(t *testing.T) (all []*chart) {
	f, err := os.Open("../../testdata/real/chart_patches.csv")
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	at := map[string]*chart{}
	for _, row := range rows[1:] {
		c := at[row[0]]
		if c == nil {
			c = &chart{photo: row[0]}
			at[row[0]] = c
			all = append(all, c)
		}
		num := func(i int) float64 {
			v, err := strconv.ParseFloat(row[i], 64)
			require.NoError(t, err)
			return v
		}
		n := int(num(1))
		c.light[n] = colorspace.Linear{num(2), num(3), num(4)}
		c.clip[n] = max(num(5), num(6))
	}
	return all
}

// published is the chart's L*, D50, of 2005.
func published(t *testing.T) (l [25]float64) {
	f, err := os.Open("../../testdata/published/04_colour_rendition_chart.csv")
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	col := -1
	for i, h := range rows[0] {
		if h == "L_D50_2005" {
			col = i
		}
	}
	require.GreaterOrEqual(t, col, 0)
	for i, row := range rows[1:] {
		v, err := strconv.ParseFloat(row[col], 64)
		require.NoError(t, err)
		l[i+1] = v
	}
	return l
}

// seen is patch n with the colour of the light taken out by the reference, at
// the file's exposure.
func (c *chart) seen(n, reference int) Seen {
	v := c.light[n]
	if reference > 0 {
		r := c.light[reference]
		for k := range v {
			v[k] = v[k] / r[k] * r.Y()
		}
	}
	return Seen{Lab: v.Lab(), Clipped: c.clip[n]}
}

// under is the belief with the patches refs known.
func (c *chart) under(b *Belief, l [25]float64, refs ...int) *Belief {
	var known []Reference
	for _, n := range refs {
		known = append(known, Reference{Seen: c.seen(n, refs[0]), Lightness: l[n]})
	}
	return b.Observe(known...)
}

func TestVectorsOfTheErrorModel(t *testing.T) {
	l := published(t)
	var c *chart
	for _, k := range charts(t) {
		if k.photo == "JTvD_color_checker_1.jpg" {
			c = k
		}
	}
	require.NotNil(t, c)
	type want struct {
		patch    int
		l, scale float64
	}
	for _, k := range []struct {
		refs []int
		want []want
	}{
		{[]int{19}, []want{{1, 36.01, 6.36}, {13, 25.16, 7.44}, {9, 49.94, 6.25}, {15, 44.41, 6.75}, {20, 82.93, 2.49}}},
		{[]int{22}, []want{{1, 36.22, 3.92}, {20, 83.26, 6.45}}},
		{[]int{19, 22}, []want{{1, 36.21, 3.56}, {9, 50.11, 4.23}, {20, 82.98, 2.08}}},
	} {
		b := c.under(From(Charts(), 5.5), l, k.refs...)
		doubts := map[int]Doubt{}
		for _, w := range k.want {
			s := c.seen(w.patch, k.refs[0])
			got, slope := b.Lightness(s.Lab)
			doubts[w.patch] = b.Doubt(s, Causes{Photo: "p"}, slope, 0)
			assert.InDelta(t, w.l, got, .1, "patch %d by %v", w.patch, k.refs)
			assert.InDelta(t, w.scale, doubts[w.patch].Scale(), .1, "patch %d by %v", w.patch, k.refs)
		}
		if len(k.refs) == 1 && k.refs[0] == 19 {
			assert.InDelta(t, 3.18, Difference(doubts[9], doubts[15]), .1)
			assert.InDelta(t, 5.32, Difference(doubts[1], doubts[13]), .1)
		}
	}
}

func TestStudentsDistribution(t *testing.T) {
	// Tables of Student's t, six degrees of freedom (any handbook): one-sided
	// points of 10, 5, 2.5, 1 and .5 %.
	for p, q := range map[float64]float64{.9: 1.440, .95: 1.943, .975: 2.447, .99: 3.143, .995: 3.707} {
		assert.InDelta(t, p, student6(q), 1e-4)
		assert.InDelta(t, 1-p, student6(-q), 1e-4)
	}
	assert.Equal(t, .5, Order(0, 1))
	assert.InDelta(t, .95, Within(0, 1, 2.447), 1e-4)
}

// The free parts keep their covariance between the places that stand for them.
func TestBasisKeepsTheCovariance(t *testing.T) {
	worst := 0.
	for l1 := 5.; l1 <= 100; l1 += 6 {
		for a := -60.; a <= 70; a += 26 {
			for b := -60.; b <= 90; b += 26 {
				p := colorspace.Lab{L: l1, A: a, B: b}
				q := colorspace.Lab{L: 50, A: 20, B: 10}
				got := dot(basis(p)[5:exposure], basis(q)[5:exposure])
				want := toneSigma*toneSigma*gaussian(p.L-q.L, 0, toneReach) +
					localSigma*localSigma*saturation(p)*saturation(q)*gaussian(p.A-q.A, p.B-q.B, localReach)
				want /= scale(p.L) * scale(q.L)
				worst = max(worst, math.Abs(got-want)/(toneSigma*toneSigma+localSigma*localSigma)*scale(p.L)*scale(q.L))
			}
		}
	}
	assert.Less(t, worst, .01)
}

func TestCurveHasAnInverse(t *testing.T) {
	for _, c := range []*Curve{Usual(.46).Curve(), Flat(2),
		Usual(.46).Observe(Reference{Seen: Seen{Lab: colorspace.Lab{L: 90}}, Lightness: 95, Sigma: 1}).Curve(),
		Usual(.46).Observe(Reference{Seen: Seen{Lab: colorspace.Lab{L: 90}}, Lightness: 95}, Reference{Seen: Seen{Lab: colorspace.Lab{L: 40}}, Lightness: 50}).Curve()} {
		last := 0.
		for y := 1e-5; y < 2; y *= 1.03 {
			s := c.Scene(y)
			assert.Greater(t, s, last)
			assert.InEpsilon(t, y, c.File(s), 1e-6)
			assert.InEpsilon(t, s, float64(c.factor(float32(y)))*y, .004, "y %g", y)
			last = s
		}
	}
	assert.Zero(t, Usual(.46).Curve().Scene(0))
}

// What two lightnesses share is no part of their difference, nor of what one of
// them is against the mean of both.
func TestDoubtOfDifferencesAndMeans(t *testing.T) {
	a := Doubt{Own: 1, Parts: []Part{{"x", []float64{3, 0}}, {"y", []float64{2}}}}
	b := Doubt{Own: 2, Parts: []Part{{"x", []float64{3, 1}}, {"z", []float64{5}}}}
	assert.InDelta(t, math.Sqrt(1+9+4), a.Scale(), 1e-12)
	assert.InDelta(t, 9, Covariance(a, b), 1e-12)
	assert.InDelta(t, math.Sqrt(1+4+1+4+25), Difference(a, b), 1e-12)
	m := Common([]Doubt{a, b})
	assert.InDelta(t, math.Sqrt(.25+1+9+.25+1+6.25), m.Scale(), 1e-12)
	assert.InDelta(t, 2*a.Scale(), a.Times(2).Scale(), 1e-12)
	alone := Alone(9)
	assert.InDelta(t, 9, alone.Half(0), 1e-12)
	assert.InDelta(t, 9, alone.Shared("x", 1).Half(0), 1e-12)
	assert.InDelta(t, math.Sqrt2, Difference(alone.Shared("x", 1), alone.Shared("x", 1)), 1e-12)
}
