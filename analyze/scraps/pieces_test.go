package scraps

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"github.com/stretchr/testify/require"
	"greige/colorspace"
)

// A print's dim ground and the shadow that it and its neighbour cast into the
// gap between them are one part: its edge is where the lines of depth are
// steep, whatever the shadow's are.
func TestEdgeOfADimClothInShadow(t *testing.T) {
	const (
		cloth, shadow = 18., 9. // L* darker than the ground
		edge, next    = 60, 84  // the cloth ends and its neighbour begins
	)
	draw := func(depth func(x int) float64) (*search, *part, []int32) {
		s := &search{stand: &stand{w: 120, h: 60, dl: make([]float32, 120*60), gl: make([]float32, 120*60)}, reach: 10}
		label := make([]int32, s.w*s.h)
		m := newMask(s.w, s.h)
		for y := range s.h {
			for x := range s.w {
				i := y*s.w + x
				s.gl[i] = 111
				switch figure := x >= 30 && x < 40 && y >= 20 && y < 40; {
				case figure:
					label[i], s.dl[i] = 1, -50
				case x >= next && x < 110:
					label[i], s.dl[i] = 2, -60
				default:
					s.dl[i] = float32(-depth(x))
					m.in[i] = depth(x) > slight*111
				}
			}
		}
		ps := m.list(12)
		return s, &ps[0], label
	}
	fades := func(x int) float64 {
		return shadow * (math.Exp(-float64(x-edge)/20) + math.Exp(-float64(next-x)/20)) / 1.3
	}
	s, p, label := draw(func(x int) float64 {
		switch {
		case x >= next:
			return 0
		case x < edge-1:
			return cloth
		case x < edge+2: // the lens's blur
			u := float64(x-edge+2) / 4
			return cloth - (cloth-fades(edge+2))*u*u*(3-2*u)
		}
		return fades(x)
	})
	require.Equal(t, 2, s.neighboured(p, label))
	level := s.edgeLevel(p, label)
	require.Greater(t, level, float32(shadow))
	require.LessOrEqual(t, level, float32(cloth))
	// One thing by itself joins nothing.
	for i := range label {
		label[i] = min(label[i], 1)
	}
	require.Zero(t, s.edgeLevel(p, label))
}

// A patch of light on the ground fades all round; a cloth as little lighter
// ends within the lens's blur.
func TestPatchOfLight(t *testing.T) {
	draw := func(blur float64) (*search, *part) {
		s := &search{stand: &stand{w: 120, h: 90, sd: [3]float64{.4, .2, .2}}, reach: 10}
		n := s.w * s.h
		s.dl, s.da, s.db, s.gl = make([]float32, n), make([]float32, n), make([]float32, n), make([]float32, n)
		m := newMask(s.w, s.h)
		for i := range n {
			s.gl[i] = 106
			far := math.Hypot(float64(i%s.w)-60, float64(i/s.w)-45) - 25
			s.dl[i] = float32(5 / (1 + math.Exp(far/blur)))
			m.in[i] = s.dl[i] > 2
		}
		ps := m.list(1)
		return s, &ps[0]
	}
	s, p := draw(.7)
	require.False(t, s.edgeless(p))
	s, p = draw(5)
	require.True(t, s.edgeless(p))
	for i := range s.da {
		s.da[i] = 6 * s.dl[i] / 5
	}
	require.False(t, s.edgeless(p), "another colour is no light")
}

// A figure of the ground's hue, darker than it, that parts a print's other
// figures is no shadow between two pieces: it is much deeper than theirs.
func TestDarkFigureBetweenOthers(t *testing.T) {
	print := func(x, y int) colorspace.Lab {
		switch {
		case x < 250:
			return colorspace.Lab{L: 70, A: 25, B: 10}
		case x < 264:
			return colorspace.Lab{L: 29}
		}
		return colorspace.Lab{L: 60, A: -20, B: 40}
	}
	b := newTable(750, 560, plainOf(42, 0, 0))
	for _, o := range [][]point{rect(250, 250, 140, 150, 0), rect(500, 200, 150, 150, 8), rect(500, 400, 150, 130, -5), rect(250, 440, 150, 120, 3)} {
		b.shade(o, .1, 4)
		b.cover(o, print)
		b.pieces = append(b.pieces, o)
	}
	found, extra := b.check(t, Find(b.shoot(), nil, How{Known: true}))
	assert.Equal(t, 4, found)
	assert.Zero(t, extra)
}
