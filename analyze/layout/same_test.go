package layout

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"greige/analyze/cloth"
	"greige/colorspace"
)

// fabricsOf is the number of the fabric of each patch in reading order.
func fabricsOf(l Layout) []int {
	var out []int
	for _, p := range l.Patches {
		out = append(out, p.Fabric)
	}
	return out
}

func TestSameClothByColour(t *testing.T) {
	blue, rust := colorspace.Lab{L: 40, A: 5, B: -35}, colorspace.Lab{L: 40, A: 35, B: 30}
	in := Input{Rows: 2, Cols: 3, Setting: Straight, Patches: []Patch{
		solid(1, 1, blue), solid(1, 2, rust), solid(1, 3, colorspace.Lab{L: 40.5, A: 5.3, B: -34.6}),
		solid(2, 1, colorspace.Lab{L: 39.4, A: 34.5, B: 30.4}), solid(2, 2, blue), grey(2, 3, 40),
	}}
	out := judged(t, in)
	assert.Equal(t, []int{1, 2, 1, 2, 1, 3}, fabricsOf(out))
	assert.Equal(t, []Cell{{1, 1}, {1, 3}, {2, 2}}, out.Fabrics[0].Patches)
	// The mean of three nearly equal colours is near their arithmetic mean.
	assert.InDelta(t, 40.17, out.Fabrics[0].Lab.L, .02)
}

// The mean of a fabric is that of its light: for L* 20 and 90 (Y .0299 and
// .7628) L* 69.2, where the mean of the figures would be 55.
func TestFabricMeanIsOfLight(t *testing.T) {
	top := &top{patches: []Patch{grey(1, 1, 20), grey(1, 2, 90)}}
	f := top.fabrics([]int{0, 0})
	y := (colorspace.LuminanceOf(20) + colorspace.LuminanceOf(90)) / 2
	assert.InDelta(t, colorspace.Lightness(y), f[0].Lab.L, 1e-6)
	assert.InDelta(t, 69.2, f[0].Lab.L, .1)
}

// A row of cloths, each ever so slightly darker than the one before, is not
// one cloth, though each is near the next: the trap of single linkage.
func TestSameClothChain(t *testing.T) {
	var row []float64
	for i := range 24 {
		row = append(row, 80-2*float64(i))
	}
	out := judged(t, greys(row))
	first, last := map[int]float64{}, map[int]float64{}
	for _, p := range out.Patches {
		if _, ok := first[p.Fabric]; !ok {
			first[p.Fabric] = p.Lightness
		}
		last[p.Fabric] = p.Lightness
	}
	for f := range first {
		assert.LessOrEqual(t, first[f]-last[f], 5., "fabric %d", f)
	}
}

// One cloth all over a top that the lamp lights by a fifth more at one end is one
// cloth where the doubt of the light says that it may be so, and two cloths stay two;
// where the light is said to be known, it is not.
func TestSameClothUnderUnevenLight(t *testing.T) {
	require.Len(t, fabricsUnderUnevenLight(t, 1.5), 2)
	require.Greater(t, len(fabricsUnderUnevenLight(t, .05)), 2)
}

// fabricsUnderUnevenLight are the fabrics of such a top where the light between its
// middle and either end is in doubt by so many L*.
func fabricsUnderUnevenLight(t *testing.T, doubt float64) []Fabric {
	t.Helper()
	in := Input{Rows: 8, Cols: 8, Setting: Straight}
	for r := range 8 {
		for c := range 8 {
			lab := colorspace.Lab{L: 70, A: 12, B: 20}
			if (r+c)%2 == 1 {
				lab = colorspace.Lab{L: 36, A: -8, B: -25}
			}
			light := math.Pow(1+.2*float64(c)/7, 1./3)
			p := solid(r+1, c+1, colorspace.Lab{L: (lab.L+16)*light - 16, A: lab.A * light, B: lab.B * light})
			p.Lit, p.Own = []float64{doubt * (2*float64(c)/7 - 1)}, .2
			in.Patches = append(in.Patches, p)
		}
	}
	return judged(t, in).Fabrics
}

// print2 is a patch of a large print: so much of its figure, on its ground.
func print2(row, col int, ground, figure colorspace.Lab, share float64) Patch {
	g, f := ground.Linear(), figure.Linear()
	for k := range g {
		g[k] += share * (f[k] - g[k])
	}
	p := solid(row, col, g.Lab())
	p.Colours = []cloth.Colour{{Lab: ground, Share: 1 - share}, {Lab: figure, Share: share}}
	p.Spread = .9 * math.Abs(ground.L-figure.L) * math.Sqrt(share*(1-share))
	p.Character = cloth.HighContrastPrint
	return p
}

// Patches of a large print differ by what they show of it; a print of the same
// lightness in other inks is another cloth, and so is a solid of its mean.
func TestSameClothOfLargePrint(t *testing.T) {
	cream, leaf, rose := colorspace.Lab{L: 88, A: 2, B: 12}, colorspace.Lab{L: 42, A: -25, B: 20}, colorspace.Lab{L: 42, A: 45, B: 10}
	in := Input{Rows: 1, Cols: 6, Setting: Straight, Patches: []Patch{
		print2(1, 1, cream, leaf, .3), print2(1, 2, cream, leaf, .45), print2(1, 3, cream, leaf, .25),
		print2(1, 4, cream, rose, .3), print2(1, 5, cream, rose, .4),
		solid(1, 6, print2(1, 1, cream, leaf, .3).Lab),
	}}
	assert.Equal(t, []int{1, 1, 1, 2, 2, 3}, fabricsOf(judged(t, in)))
}

func TestMahalanobis(t *testing.T) {
	// By hand: variance 4+1 along L*, 1 across.
	c := covariance{}
	c.add(vec{2, 0, 0}, 1)
	assert.InDelta(t, 9./5+4, c.distance(vec{3, 2, 0}, 1), 1e-12)
	// A print along (1, 1, 0)/sqrt 2 with variance 8: a step along it counts
	// 1/9, across it 1.
	c = covariance{}
	c.add(vec{2, 2, 0}, 1)
	assert.InDelta(t, 2./9, c.distance(vec{1, 1, 0}, 1), 1e-12)
	assert.InDelta(t, 2, c.distance(vec{1, -1, 0}, 1), 1e-12)
}
