package scraps

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// A number printed on a mat is thin strokes with much of the lines' ink; a
// small pale scrap has the ink's colour, perhaps, but no strokes, and one of
// another colour has none of the ink.
func TestWritten(t *testing.T) {
	const w, h, x0, y0 = 400, 300, 100, 100
	seven := []string{
		"##########",
		"##########",
		"........##",
		".......##.",
		"......##..",
		".....##...",
		"....##....",
		"...##.....",
		"..##......",
		".##.......",
	}
	blurred := []string{ // with some of its ink between the strokes
		"########",
		"########",
		"++++++##",
		"+++++##.",
		"++++##..",
		"+++##...",
		"++##....",
		"+##.....",
	}
	strip := []string{"##########", "##########"}
	block := []string{"#########", "#########", "#########", "#########", "#########", "#########", "#########", "#########"}
	for _, c := range []struct {
		name   string
		shape  []string
		l, a   float32 // of its pixels, off the ground
		ruled  bool
		number bool
	}{
		{"a number", seven, 30, -4, true, true},
		{"a scrap of the ink's colour", block, 30, -4, true, false},
		{"a blurred number", blurred, 30, -4, true, true},
		{"a strip", strip, 30, -4, true, false},
		{"of another colour", seven, 10, 40, true, false},
		{"darker than the ground", seven, -20, 3, true, false},
		{"on a table without lines", seven, 30, -4, false, false},
	} {
		st := &stand{w: w, h: h, dl: make([]float32, w*h), da: make([]float32, w*h), db: make([]float32, w*h)}
		s := &search{stand: st}
		if c.ruled {
			s.ink = &ruling{l: 15, a: -2}
		}
		m := newMask(w, h)
		for y, row := range c.shape {
			for x, v := range row {
				i := (y0+y)*w + x0 + x
				switch v {
				case '#':
					m.in[i], st.dl[i], st.da[i] = true, c.l, c.a
				case '+':
					m.in[i], st.dl[i], st.da[i] = true, .3*c.l, .3*c.a
				}
			}
		}
		ps, _ := m.parts(1)
		assert.Equal(t, c.number, s.written(&ps[0]), c.name)
	}
}

// The lines of a mat run on from piece to piece; fringes of one colour beside
// many small pieces do not, however much of the photo they cover.
func TestRulingRunsOn(t *testing.T) {
	draw := func(line func(x, y int) bool) *search {
		s := &search{stand: &stand{w: 400, h: 300}, ink: &ruling{l: 15}}
		n := s.w * s.h
		s.dl, s.da, s.db, s.class = make([]float32, n), make([]float32, n), make([]float32, n), make([]uint8, n)
		for i := range n {
			if line(i%s.w, i/s.w) {
				s.dl[i], s.class[i] = 15, other
			}
		}
		return s
	}
	assert.True(t, draw(func(x, y int) bool { return (x%40 < 2 || y%40 < 2) && (x/80+y/80)%2 == 0 }).runs())
	assert.False(t, draw(func(x, y int) bool { return y%12 < 2 && x%40 < 20 }).runs())
}
