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
		ps := m.list(1)
		assert.Equal(t, c.number, s.written(&ps[0]), c.name)
	}
}

// The lines of a mat run on from piece to piece; fringes of one colour beside
// many small pieces do not, however much of the photo they cover.
func TestRulingRunsOn(t *testing.T) {
	draw := func(line func(x, y int) bool) *search {
		s := &search{stand: &stand{w: 400, h: 300}, ink: &ruling{l: 15, most: 2.5}}
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

// The flanks of a line are most of it, and have a fraction of the ink that its
// middle has: all of it is ruling.
func TestRulingWithAFullMiddle(t *testing.T) {
	s := &search{stand: &stand{w: 400, h: 300}}
	n := s.w * s.h
	s.dl, s.da, s.db, s.gl, s.class = make([]float32, n), make([]float32, n), make([]float32, n), make([]float32, n), make([]uint8, n)
	ink := [40]float32{19: 5, 20: 19, 21: 5}
	piece := func(x, y int) bool { return x > 90 && x < 170 && y > 106 && y < 150 }
	for i := range n {
		s.gl[i] = 60
		v := max(ink[i%s.w%40], ink[i/s.w%40])
		s.dl[i], s.da[i], s.db[i] = v, 2*v, -v/2
		if piece(i%s.w, i/s.w) {
			s.dl[i], s.da[i], s.db[i] = -20, -30, 5
		}
		if s.dl[i] != 0 {
			s.class[i] = other
		}
	}
	s.ink = s.findRuling()
	assert.NotNil(t, s.ink)
	differ := newMask(s.w, s.h)
	for i, c := range s.class {
		differ.in[i] = c == other
	}
	s.unruled(differ)
	for i, in := range differ.in {
		assert.Equal(t, piece(i%s.w, i/s.w), in, "%d %d", i%s.w, i/s.w)
		if t.Failed() {
			break
		}
	}
}
