package grid

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"greige/analyze/photo"
	"greige/colorspace"
)

// drawn are tones of what the function shows at each place.
func drawn(w, h int, at func(x, y float64) [3]float64) *tones {
	t := newTones(w, h)
	for y := range h {
		for x := range w {
			for k, v := range at(float64(x)+.5, float64(y)+.5) {
				t.lab[y*w+x][k] = float32(v)
			}
		}
	}
	return t
}

// pictureOf is the picture that has these tones.
func pictureOf(t *tones) *photo.Picture {
	p := photo.New(t.w, t.h)
	for i := range t.w * t.h {
		for k, v := range (colorspace.Lab{L: float64(t.lab[i][0]), A: float64(t.lab[i][1]), B: float64(t.lab[i][2])}).Linear() {
			p.Pix[3*i+k] = float32(v)
		}
	}
	return p
}

// speckle is a number from -1 to 1 that goes with a place.
func speckle(x, y float64) float64 {
	s := math.Sin(127.1*math.Floor(x)+311.7*math.Floor(y)) * 43758.5453
	return 2*(s-math.Floor(s)) - 1
}

// A top with a sag, its own shadow to the right of it, and an arm over its
// lower edge, on grounds plain and rough under a lamp from the left: the sides
// are found to a pixel or two.
func TestOutlineOf(t *testing.T) {
	const w, h = 480, 420
	upper := func(x float64) float64 { return 70 + .05*x + .0003*(x-260)*(x-260) }
	lower := func(x float64) float64 { return 350 - .02*x - .0004*(x-260)*(x-260) }
	left := func(y float64) float64 { return 90 + .06*y }
	right := func(y float64) float64 { return 400 - .04*y }
	for name, rough := range map[string]float64{"wall": .6, "carpet": 6} {
		p := drawn(w, h, func(x, y float64) [3]float64 {
			lamp := 1.1 - .3*x/w
			switch {
			case math.Abs(x-230) < 34 && y > 320:
				return [3]float64{62, 18, 22} // the arm
			case x > left(y) && x < right(y) && y > upper(x) && y < lower(x):
				// Patches of many cloths, some of them nearly as the ground.
				s := speckle(x/37, y/37)
				return [3]float64{lamp * (45 + 32*s), 30 * speckle(x/37+9, y/37), 20 * s}
			}
			l := 66.0
			if x > 300 && x < right(y)+9 && y > upper(x)+9 && y < lower(x) {
				l = 46
			}
			return [3]float64{lamp * (l + rough*speckle(x/2, y/2)), 2 * l / 66, 9 * l / 66}
		})
		o, ok := outlineOf(pictureOf(p), p)
		require.True(t, ok, name)
		for s := .1; s < 1; s += .1 {
			x, y := 120+s*240, 90+s*230
			assert.InDelta(t, upper(x), o.upper.at(x), 1.5, "%s: upper side at %.0f", name, x)
			assert.InDelta(t, lower(x), o.lower.at(x), 1.5, "%s: lower side at %.0f", name, x)
			assert.InDelta(t, left(y), o.left.at(y), 1.5, "%s: left side at %.0f", name, y)
			assert.InDelta(t, right(y), o.right.at(y), 2.5, "%s: right side, with the shadow, at %.0f", name, y)
		}
		// The surface goes through the corners and along the sides.
		at := o.surface()
		for k, c := range [4]Point{{0, 0}, {1, 0}, {1, 1}, {0, 1}} {
			q := at(c)
			assert.InDelta(t, o.corners[k][0], q[0], .01, name)
			assert.InDelta(t, o.corners[k][1], q[1], .01, name)
		}
		q := at(Point{.5, 0})
		assert.InDelta(t, o.upper.at(q[0]), q[1], .5, name)
	}
}

func TestNoOutline(t *testing.T) {
	for name, p := range map[string]*tones{
		"a wall alone":                drawn(300, 200, func(x, y float64) [3]float64 { return [3]float64{60 + speckle(x/2, y), 0, 5} }),
		"a picture too small for one": drawn(40, 30, func(x, y float64) [3]float64 { return [3]float64{60, 0, 5} }),
	} {
		_, ok := outlineOf(pictureOf(p), p)
		assert.False(t, ok, name)
	}
}

// A shadow on the ground is still the ground, another colour is not.
func TestLikeShadow(t *testing.T) {
	ground := [3]float64{60, 3, 12}
	assert.Less(t, likeShadow([3]float64{45, 2.25, 9}, ground), 4.0)
	assert.Greater(t, likeShadow([3]float64{45, 12, -6}, ground), 15.0)
	assert.Greater(t, likeShadow([3]float64{75, 3, 12}, ground), 12.0, "a shadow is not lighter")
	assert.True(t, math.IsInf(hueApart([3]float64{20, 1, 4}, ground), 1))
	assert.InDelta(t, 0, hueApart([3]float64{40, 2, 8}, ground), 1e-9)
}

// A line that is seen over much of its length is not spoken against by where
// like cloths hide it; one that is hardly seen is.
func TestLineWorth(t *testing.T) {
	var half, none lineWorth
	for k := range 10 {
		half.add([2]float64{2, -1.2}[k%2], 10)
		none.add(-1.2, 10)
	}
	assert.InDelta(t, 100, half.total(), 1e-9)
	assert.InDelta(t, -120, none.total(), 1e-9)
	assert.Zero(t, (&lineWorth{}).total())
}
