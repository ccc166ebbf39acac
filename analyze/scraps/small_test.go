package scraps

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// A strip that lies aslant, three or four pixels of the small picture wide, is
// narrower than a square of three by its diagonal; and its corners are nearer to
// each other than an outline's points once were. It is found, counted or not.
func TestNarrowStripsAslant(t *testing.T) {
	for _, degrees := range []float64{0, 20, 45, 70} {
		board := plainOf(45, -8, 6)
		d := basket(900, 675, 4, 3, 40, board)
		d.pieces = nil
		d.cover(rect(450, 337, 460, 225, 0), board)
		for i, w := range []float64{34, 44} {
			d.lay(rect(400+float64(i)*100, 330, w, 3.5, degrees), plainOf(88, 6, 8))
		}
		f := Find(d.shoot(), nil, How{Known: true})
		for i, truth := range d.pieces {
			best := 0.0
			for _, p := range f.Pieces {
				best = max(best, overlap(truth, p.Outline, d.p.W, d.p.H))
			}
			assert.GreaterOrEqual(t, best, .8, "strip %d, turned by %v degrees", i, degrees)
		}
	}
}

// What half of the pixels of a part tell by themselves is no fragment of a
// cloth of the ground's colour; what only their means tell may be.
func TestFaintParts(t *testing.T) {
	for _, c := range []struct {
		l, a  float32
		faint bool
	}{{0, 0, true}, {0, 4, true}, {5.5, 0, true}, {-6, 0, true}, {0, 8, false}, {9, 0, false}, {-14, 0, false}, {-6, 12, false}} {
		s := &search{stand: &stand{w: 10, h: 1, sd: [3]float64{1, 1, 1}, gl: make([]float32, 10), dl: make([]float32, 10), da: make([]float32, 10), db: make([]float32, 10)}}
		var p part
		for i := range 10 {
			s.gl[i], s.dl[i], s.da[i] = 100, c.l, c.a
			p.px = append(p.px, int32(i))
		}
		assert.Equal(t, c.faint, s.faint(&p), "%v L*, %v a*", c.l, c.a)
	}
}
