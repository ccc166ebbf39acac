package light

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// boards are cells of a table of n boards, each with a level of its own, with
// streaks along them, turned by some degrees, under a light that slopes.
func boards(seed, n int, turn float64, slope [2]float64) []sample {
	const across, high = 200, 150
	sin, cos := math.Sincos(turn * math.Pi / 180)
	var out []sample
	for y := 0; y < high; y += 3 {
		for x := 0; x < across; x += 3 {
			u, v := (float64(x)+.5)/across*2-1, (float64(y)+.5)/high*2-1
			t := (cos*float64(y) - sin*float64(x) + 100) * float64(n) / high
			at := basis(u, v)
			s := sample{at: &at, cell: y*across + x}
			s.v[0] = -1 + slope[0]*u + slope[1]*v
			s.v[0] += .16*grain(seed, int(t), 7) + .08*grain(seed+1, int(8*t), x/60) + .04*grain(seed+2, x, y)
			out = append(out, s)
		}
	}
	return out
}

// A few boards, each lighter or darker as a whole, do not pass for a lamp: over
// many tables the slopes' errors are what the fit says they may be, along the
// boards and across. Without strips the slope across
// is out by three times what is said.
func TestBoardsAreNoLamp(t *testing.T) {
	const tables = 60
	var along, across float64
	for i := range tables {
		slope := [2]float64{.15 * grain(5, i, 1), .15 * grain(5, i, 2)}
		samples := boards(100*i, 4+i%5, float64(i%9)-4, slope)
		f := fitField(samples, 1, 200)
		require.NotNil(t, f)
		f.byStrips(samples, 200)
		along += math.Pow(f.coef[0][0]-slope[0], 2) / f.cov[0][0] / tables
		across += math.Pow(f.coef[0][1]-slope[1], 2) / f.cov[1][1] / tables
	}
	for _, z := range []float64{along, across} {
		require.Less(t, z, 1.)
		require.Greater(t, z, .3)
	}
}
