package scraps

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// A stripe along the edge of a narrow piece counts by about the share of it
// that it covers: a rim of more than a pixel or two leaves it out of the mean.
func TestFiguresByTheEdgeCount(t *testing.T) {
	const width, stripe = 14, 4
	for _, degrees := range []float64{0, 30, 45} {
		o := rect(60, 60, 70, width, degrees)
		r := inside(o, 120, 120)
		in, all := 0.0, 0.0
		for i, share := range r.Weight {
			p := point{float64(r.Bounds.Min.X+i%r.Bounds.Dx()) + .5, float64(r.Bounds.Min.Y+i/r.Bounds.Dx()) + .5}
			d := min(toSegment(p, o[0], o[1]), toSegment(p, o[2], o[3]))
			assert.False(t, share > 0 && d < 1, "a pixel %.1f from the edge", d)
			all += float64(share)
			if toSegment(p, o[0], o[1]) < stripe {
				in += float64(share)
			}
		}
		assert.InDelta(t, float64(stripe)/width, in/all, .07, "turned by %v degrees", degrees)
		assert.Greater(t, all, .75*70*width)
	}
}

// What is no wider than its rim has a region all the same.
func TestRegionOfAThread(t *testing.T) {
	for _, width := range []float64{.7, 1.5, 3} {
		r := inside(rect(60, 60.3, 70, width, 4), 120, 120)
		assert.Greater(t, r.Area(), 30., "%v wide", width)
	}
}
