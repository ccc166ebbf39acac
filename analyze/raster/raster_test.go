package raster

import (
	"encoding/json"
	"image"
	"math"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"
)

// reference is what OpenCV, SciPy and scikit-image give (testdata/reference.py).
type reference struct {
	Rows               []string
	Sides, Corners     []int
	Filled, Largest    int
	Depth, Height      []float32
	Discs              map[string]struct{ Eroded, Dilated, Opened, Closed int }
	Hull               []Point
	HullArea           float64 `json:"hull_area"`
	Watershed, Markers []int32
	Star, Grid         []Point
	StarArea           float64 `json:"star_area"`
	StarLength         float64 `json:"star_length"`
	StarCentre         Point   `json:"star_centre"`
	InStar             []bool  `json:"in_star"`
}

func published(t *testing.T) (r reference, m *Mask) {
	t.Helper()
	data, err := os.ReadFile("testdata/reference.json")
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(data, &r))
	return r, drawn(image.Pt(-3, 8), r.Rows...)
}

// drawn is the mask whose pixels are drawn as #, its corner at o.
func drawn(o image.Point, rows ...string) *Mask {
	return Where(image.Rect(0, 0, len(rows[0]), len(rows)).Add(o), func(x, y int) bool { return rows[y-o.Y][x-o.X] == '#' })
}

func TestComponentsAgreeWithSciPy(t *testing.T) {
	ref, m := published(t)
	for neighbours, want := range map[int][]int{Sides: ref.Sides, Corners: ref.Corners} {
		cs := m.Components(neighbours, 1)
		var sizes []int
		whole := NewMask(m.Bounds)
		for i := range cs {
			sizes = append(sizes, cs[i].Pixels)
			require.Equal(t, cs[i].Bounds, cs[i].Mask().Extent())
			cs[i].AddTo(whole)
		}
		require.Equal(t, want, sizes)
		require.Equal(t, m, whole)
		label := Labels(m.Bounds, cs)
		for i, in := range m.In {
			require.Equal(t, in, label[i] > 0)
		}
	}
	big, ok := m.Largest(Corners)
	require.True(t, ok)
	require.Equal(t, ref.Largest, big.Pixels)
	_, ok = NewMask(m.Bounds).Largest(Sides)
	require.False(t, ok)
	require.Equal(t, ref.Filled, m.Filled().Count())
}

func TestDepthAndDiscsAgreeWithOpenCV(t *testing.T) {
	ref, m := published(t)
	require.InDeltaSlice(t, ref.Depth, m.Depth(), 1e-5)
	require.Len(t, ref.Discs, 4)
	for r, want := range ref.Discs {
		radius, err := strconv.ParseFloat(r, 64)
		require.NoError(t, err)
		require.Equal(t, want.Eroded, m.Eroded(radius).Count(), r)
		require.Equal(t, want.Dilated, m.Dilated(radius).Within(m.Bounds).Count(), r)
		require.Equal(t, want.Opened, m.Opened(radius).Count(), r)
		require.Equal(t, want.Closed, m.Closed(radius).Count(), r)
	}
	for _, r := range []float64{2.7, 5, 8.4} { // both ways of moving a disc
		require.Equal(t, m.Eroded(r), erodedByDepth(m, r))
		require.Equal(t, m.Dilated(r), dilatedByDepth(m, r))
	}
	one := NewMask(image.Rect(4, 4, 5, 5))
	one.Set(4, 4, true)
	require.Equal(t, 13, one.Dilated(2).Count(), "a disc of radius 2 beyond the bounds of a pixel")
}

func TestHullAgreesWithOpenCV(t *testing.T) {
	ref, m := published(t)
	big, _ := m.Largest(Corners)
	hull := big.Mask().Hull()
	require.InDelta(t, ref.HullArea, Area(hull), 1e-9)
	require.InDelta(t, float64(ref.Largest)/ref.HullArea, big.Mask().Solidity(), 1e-12)
	require.Len(t, hull, len(ref.Hull))
	for _, p := range ref.Hull {
		require.Contains(t, hull, Point{p[0] - 3, p[1] + 8})
	}
	require.InDelta(t, ref.HullArea, Area(ConvexHull(append(hull, Centroid(hull), hull[0]))), 1e-9)
	require.Zero(t, NewMask(m.Bounds).Solidity())
}

func TestWatershedAgreesWithScikitImage(t *testing.T) {
	ref, m := published(t)
	label := ref.Markers
	Watershed(ref.Height, m.Bounds.Dx(), m.Bounds.Dy(), label, nil)
	require.Equal(t, ref.Watershed, label)
	closed := make([]bool, len(label))
	again := make([]int32, len(label))
	again[7], closed[7], closed[8] = 5, true, true
	Watershed(ref.Height, m.Bounds.Dx(), m.Bounds.Dy(), again, closed)
	require.Equal(t, int32(5), again[8])
	require.Zero(t, again[9], "not open")
}

func TestPolygonsAgreeWithOpenCV(t *testing.T) {
	ref, _ := published(t)
	require.InDelta(t, ref.StarArea, math.Abs(Area(ref.Star)), 1e-4) // OpenCV's in single precision
	require.InDelta(t, ref.StarLength, Perimeter(ref.Star), 1e-4)
	c := Centroid(ref.Star)
	require.InDeltaSlice(t, ref.StarCentre[:], c[:], 1e-4)
	filled := Fill(ref.Star, image.Rect(-2, -2, 30, 30))
	for i, p := range ref.Grid {
		require.Equal(t, ref.InStar[i], Contains(ref.Star, p), p)
	}
	filled.Each(func(x, y int) { require.True(t, Contains(ref.Star, Point{float64(x) + .5, float64(y) + .5})) })
	require.InDelta(t, math.Abs(Area(ref.Star)), filled.Count(), 6)
}

func TestContourGoesRoundTheOutside(t *testing.T) {
	m := drawn(image.Pt(20, 30), ".##..", ".##..", "...#.")
	c := m.Contour()
	least, greatest := Extremes(c)
	require.Equal(t, Point{21, 30}, least)
	require.Equal(t, Point{24, 33}, greatest)
	require.Len(t, c, 12, "the sides of both, which touch by a corner")
	require.Positive(t, Area(c), "clockwise on a picture")
	require.Nil(t, NewMask(m.Bounds).Contour())
}

func TestSimplifyAndResampleKeepTheShape(t *testing.T) {
	square := []Point{{0, 0}, {10, 0}, {10, 10}, {0, 10}}
	walk := Resample(square, 400)
	require.Len(t, walk, 400)
	require.InDelta(t, 100, Area(walk), 1e-6)
	corners := Simplify(walk, .05)
	require.Len(t, corners, 4)
	for i, p := range square {
		require.InDeltaSlice(t, p[:], corners[i][:], 1e-9)
	}
	require.Len(t, Simplify(square[:3], 1), 3)
}

func TestSetsOfPixels(t *testing.T) {
	a, b := drawn(image.Pt(0, 0), "##", "##"), drawn(image.Pt(1, 1), "##", "##")
	require.Equal(t, 1, a.Shared(b))
	all := a.Within(image.Rect(-1, -1, 4, 4))
	all.Add(b)
	require.Equal(t, 7, all.Count())
	require.Equal(t, image.Rect(0, 0, 3, 3), all.Extent())
	all.Remove(a)
	require.Equal(t, 3, all.Count())
	all.Keep(drawn(image.Pt(2, 0), "#", "#", "#"))
	require.Equal(t, 2, all.Count())
	require.False(t, all.Has(-5, 2))
	require.True(t, all.Has(2, 2))
	ring := Where(image.Rect(0, 0, 5, 5), func(x, y int) bool { return true }).Border()
	require.Equal(t, 16, ring.Count())
	require.False(t, ring.Has(2, 2))
}

func TestSumsAgreeWithAdding(t *testing.T) {
	ref, m := published(t)
	w, h := m.Bounds.Dx(), m.Bounds.Dy()
	s, n := NewSums(ref.Height, w, h), m.Sums()
	for _, r := range []image.Rectangle{image.Rect(0, 0, w, h), image.Rect(3, 5, 20, 9), image.Rect(-4, 30, 12, 90)} {
		sum, in := 0.0, 0.0
		for y := max(r.Min.Y, 0); y < min(r.Max.Y, h); y++ {
			for x := max(r.Min.X, 0); x < min(r.Max.X, w); x++ {
				sum += float64(ref.Height[y*w+x])
				if m.In[y*w+x] {
					in++
				}
			}
		}
		require.InDelta(t, sum, s.Over(r), 1e-6)
		require.Equal(t, in, n.Over(r))
	}
	require.Zero(t, s.Mean(image.Rect(-9, -9, 0, 0)))
	require.InDelta(t, float64(ref.Height[0]), s.Mean(image.Rect(0, 0, 1, 1)), 1e-7)
}

func TestFiltersKeepAConstantAndASum(t *testing.T) {
	const w, h = 23, 17
	flat, one := make([]float32, w*h), make([]float32, w*h)
	for i := range flat {
		flat[i] = 3
	}
	one[8*w+11] = 1
	for _, v := range Blur(flat, w, h, 2.2) {
		require.InDelta(t, 3, v, 1e-5)
	}
	blurred := Blur(one, w, h, 1.5)
	// A Gaussian's height: 1 / (2 pi sigma^2), on pixels and cut off at 3 sigma.
	require.InDelta(t, 1/(2*math.Pi*1.5*1.5), blurred[8*w+11], 2e-3)
	require.InDelta(t, math.Exp(-1/(2*1.5*1.5)), blurred[8*w+12]/blurred[8*w+11], 1e-4)
	cells, across, down := Shrink(flat, w, h, 4)
	require.Equal(t, []int{6, 5}, []int{across, down})
	for _, v := range cells {
		require.InDelta(t, 3, v, 1e-6)
	}
}

func TestAPanicInABandReachesTheCaller(t *testing.T) {
	require.PanicsWithValue(t, "row 40", func() {
		Bands(64, 8, func(from, to int) {
			if from == 40 {
				panic("row 40")
			}
		})
	})
	seen := make([]int, 100)
	Bands(100, 7, func(from, to int) {
		for i := from; i < to; i++ {
			seen[i]++
		}
	})
	for _, n := range seen {
		require.Equal(t, 1, n)
	}
}

func TestRankFiltersAndGradient(t *testing.T) {
	const w, h = 12, 9
	v := make([]float32, w*h)
	v[4*w+6] = 5
	top := Max(v, w, h, 2)
	n := 0
	for i, m := range top {
		if m == 5 {
			n++
			require.LessOrEqual(t, max(i%w-6, 6-i%w, i/w-4, 4-i/w), 2)
		}
	}
	require.Equal(t, 25, n)
	require.NotContains(t, Median(v, w, h, 1), float32(5), "a speck is no median")
	ramp := make([]float32, w*h)
	for i := range ramp {
		ramp[i] = float32(2*(i%w) - 3*(i/w))
	}
	require.Equal(t, ramp[4*w+5], Median(ramp, w, h, 2)[4*w+5])
	// Of three planes alike, the root of three times 2 squared and 3 squared.
	require.InDelta(t, math.Sqrt(3*(4+9)), Gradient([3][]float32{ramp, ramp, ramp}, w, h)[4*w+5], 1e-5)
}

func BenchmarkEroded(b *testing.B) {
	m := Where(image.Rect(0, 0, 1000, 750), func(x, y int) bool { return (x/50+y/40)%2 == 0 })
	for name, by := range map[string]func(*Mask, float64) *Mask{"bits": (*Mask).erodedByBits, "depth": erodedByDepth} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				by(m, smallDisc)
			}
		})
	}
}

// Two flat halves are two parts, a slope of small steps is one, and pixels that may not
// be joined to any are parts of their own.
func TestSegments(t *testing.T) {
	const w, h = 8, 4
	at := func(i int) float32 {
		if x := i % w; x >= w/2 {
			return 5 + .1*float32(x)
		}
		return 0
	}
	label, size := Segments(w, h, .5, func(i, j int) (float32, bool) {
		return max(at(i)-at(j), at(j)-at(i)), i != 0 && j != 0
	})
	require.Equal(t, []int32{1, w*h/2 - 1, w * h / 2}, size)
	for i, l := range label {
		want := int32(1)
		if i%w >= w/2 {
			want = 2
		}
		if i == 0 {
			want = 0
		}
		require.Equal(t, want, l, "%d", i)
	}
}
