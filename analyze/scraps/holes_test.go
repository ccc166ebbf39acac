package scraps

import (
	"image"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"greige/analyze/raster"
	"greige/colorspace"
)

// pierce cuts a hole into the last piece: the ground shows through, in the
// cloth's shadow.
func (t *table) pierce(outline []point, ground paint) {
	t.cover(outline, ground)
	t.shadeWithin(outline, .35, 4)
}

// shadeWithin is the contact shadow that falls into a hole.
func (t *table) shadeWithin(outline []point, depth, reach float64) {
	for _, c := range raster.Fill(outline, t.bounds()).Components(raster.Corners, 1) {
		c.Mask().Each(func(x, y int) {
			d := math.Inf(1)
			for i, a := range outline {
				d = min(d, toSegment(point{float64(x) + .5, float64(y) + .5}, a, outline[(i+1)%len(outline)]))
			}
			t.set(x, y, colorspace.Linear{}, depth*math.Exp(-d/reach))
		})
	}
}

// A hole is found where it lies, with little more round it and nothing less, on
// cloths of all kinds; cloths without one have none, and nor have prints whose
// figures are of the ground's colour.
func TestHolesAreFoundWhereTheyLie(t *testing.T) {
	for name, ground := range map[string]paint{"sheet": sheet, "grey": plainOf(50, 0, 0), "wood": wood} {
		b := basket(1200, 900, 4, 3, 30, ground)
		holes := map[int][]point{
			1: rect(455, 160, 60, 40, 10),
			6: rect(740, 450, 24, 24, 30),
			8: rect(180, 750, 90, 20, -20),
		}
		for _, h := range holes {
			b.pierce(h, ground)
		}
		f := Find(b.shoot(), How{Known: true})
		require.GreaterOrEqual(t, len(f.Pieces), 11, name)
		seen := 0
		for _, p := range f.Pieces {
			var mine []point
			for _, h := range holes {
				if raster.Contains(p.Outline, raster.Centroid(h)) {
					mine = h
				}
			}
			if mine == nil {
				assert.Empty(t, p.Holes, "%s: a hole where there is none", name)
				continue
			}
			seen++
			if !assert.Len(t, p.Holes, 1, name) {
				continue
			}
			found, laid := raster.Fill(p.Holes[0], b.bounds()), raster.Fill(mine, b.bounds())
			assert.Greater(t, found.Shared(laid), laid.Count()*92/100, name)
			assert.Less(t, found.Count(), laid.Count()*14/10, name)
		}
		assert.GreaterOrEqual(t, seen, 2, name) // a cloth may be missed on grey
	}
	b := newTable(480, 360, sheet)
	b.lay(rect(130, 170, 150, 200, 6), dots(colorspace.Lab{L: 30, A: 30, B: -10}, colorspace.Lab{L: 94}, 34, .3))
	b.lay(rect(350, 170, 130, 180, -8), plainOf(70, -20, 30))
	for _, p := range Find(b.shoot(), How{}).Pieces {
		assert.Empty(t, p.Holes)
	}
}

func (t *table) bounds() image.Rectangle { return image.Rect(0, 0, t.p.W, t.p.H) }
