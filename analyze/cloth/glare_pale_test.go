package cloth

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"greige/colorspace"
)

// A pale cloth under a lamp to one side that is burnt out where the lamp is
// nearest: its mean is at least that of what can be seen of it with the rest at
// the top of the scale, and the figure says that it is a bound.
func TestBurntPaleClothIsABound(t *testing.T) {
	light := func(x int) float64 { return .74 + .45*float64(x)/400 }
	p := painted(400, 300, func(x, y int) float64 { return min(light(x), 1) })
	p.Bright = make([]uint8, 400*300)
	burnt := 0.
	for i := range p.Bright {
		if light(i%400) >= 1 {
			p.Bright[i] = 255
			burnt++
		}
	}
	c := measure(t, p)
	assert.Greater(t, burnt/(400*300), .14)
	truth := colorspace.Lightness(.74 + .45/2)
	assert.Greater(t, c.Lightness, truth-3)
	assert.Less(t, c.Lightness, truth+.5)
	assert.Equal(t, "above", c.Bound)
	assert.Contains(t, c.Remark, "may be lighter")
}
