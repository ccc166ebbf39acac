package grid

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// A board on white paper on a dark mat: a row more beyond it is half paper and half mat,
// and is none. Where strips lie across every patch they say nothing.
func TestTwofold(t *testing.T) {
	for name, c := range map[string]struct {
		first   int // row of the reading
		striped bool
		is      bool
	}{"the board": {first: 1}, "and a row of paper and mat": {is: true}, "strips in every patch": {striped: true}} {
		p := drawn(400, 400, func(x, y float64) [3]float64 {
			i, j := int((x-60)/40), int((y-60)/40)
			switch {
			case y < 80 && !c.striped:
				return [3]float64{20 + speckle(x, y), 0, 0}
			case x < 60 || y < 60 || i >= 7 || j >= 7:
				return [3]float64{88 + speckle(x, y), 0, 0}
			case j == 0 && !c.striped:
				return [3]float64{88 - 20*float64(i%2)*(y-60)/40 + speckle(x, y), 0, 0} // seams that go on a little
			case c.striped && int(y-60)%40 < 18:
				return [3]float64{55 + speckle(x, y), 0, 20}
			}
			return [3]float64{88 - 60*float64((i+j)%2) + speckle(x, y), 0, 0}
		})
		g := linesAt(p, 0, 0, c.first, 0)
		g.cols, g.rows = g.xs, g.ys
		assert.Equal(t, c.is, g.twofold(p), name)
	}
}
