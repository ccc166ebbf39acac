package scene

import (
	"math"

	"greige/colorspace"
)

// Kind of a thing that is no cloth.
type Kind string

const (
	Scissors Kind = "scissors"
	Hand     Kind = "hand" // with the forearm
	Foot     Kind = "foot" // in a grey sock
	Clamp    Kind = "clamp"
	Pencil   Kind = "pencil"
)

// Thing is something in the picture that is no cloth, over whatever lies
// there. X and Y are shares of the photo's width and height.
type Thing struct {
	Kind  Kind
	X, Y  float64 // its middle: of a hand the palm, of a foot the toes
	Size  float64 // times its natural size; 0 is 1
	Angle float64 // degrees; at 0 fingers, toes and points are up
}

// limb is one body of a thing with its colour.
type limb struct {
	body [][]point // cm, about the thing's middle
	lab  colorspace.Lab
}

// capsule is a finger: round at both ends, from a to b, of radius r to q.
func capsule(a, b point, r, q float64) [][]point {
	t := math.Atan2(b.y-a.y, b.x-a.x)
	var ps []point
	for i := 0; i <= 12; i++ {
		s, c := math.Sincos(t + math.Pi/2 + math.Pi*float64(i)/12)
		ps = append(ps, point{a.x + r*c, a.y + r*s})
	}
	for i := 0; i <= 12; i++ {
		s, c := math.Sincos(t - math.Pi/2 + math.Pi*float64(i)/12)
		ps = append(ps, point{b.x + q*c, b.y + q*s})
	}
	return [][]point{ps}
}

// ring is an oval with a hole.
func ring(c point, rx, ry, hole, angle float64) [][]point {
	var out [][]point
	for _, f := range []float64{1, hole} {
		var ps []point
		for i := range 36 {
			s, k := math.Sincos(2 * math.Pi * float64(i) / 36)
			ps = append(ps, point{f * rx * k, f * ry * s})
		}
		out = append(out, turned(ps, c, angle))
	}
	return out
}

// limbs are a thing's bodies, bottom to top, in cm, pointing up (-y).
func (k Kind) limbs() []limb {
	steel, handle := colorspace.Lab{L: 68, B: -1}, colorspace.Lab{L: 30, A: 30, B: 14}
	skin, nail := colorspace.Lab{L: 66, A: 14, B: 19}, colorspace.Lab{L: 75, A: 12, B: 12}
	switch k {
	case Scissors:
		blade := func(side float64) [][]point {
			return [][]point{{{side * .15, -11}, {side * 1.1, -1}, {side * .2, 1.2}, {-side * 1.2, 4.4}, {-side * 2, 4}, {-side * .5, .4}, {side * -.1, -1}}}
		}
		return []limb{
			{blade(1), steel}, {ring(point{-2.2, 6.4}, 1.5, 2.4, .66, .25), handle},
			{blade(-1), colorspace.Lab{L: 74, B: -1}}, {ring(point{2.2, 6.8}, 1.6, 2.9, .68, -.25), handle},
			{ring(point{0, .3}, .28, .28, 0, 0), colorspace.Lab{L: 40}},
		}
	case Hand:
		var out []limb
		out = append(out, limb{capsule(point{0, 30}, point{0, 5}, 3.8, 3), skin})
		for i, x := range []float64{-3, -1, 1.1, 3} {
			l := []float64{7.4, 9, 8.4, 6.4}[i]
			out = append(out, limb{capsule(point{x, 0}, point{x * 1.35, -l}, 1, .8), skin},
				limb{capsule(point{x * 1.33, -l + .2}, point{x * 1.35, -l - .15}, .42, .38), nail})
		}
		return append(out, limb{capsule(point{-2.6, 4}, point{-6.4, -1}, 1.4, 1), skin}, limb{capsule(point{0, 4.6}, point{0, -.4}, 4, 4), skin})
	case Foot:
		sock := colorspace.Lab{L: 45, A: 1, B: -2}
		return []limb{{capsule(point{0, 26}, point{0, 12}, 4.2, 3.6), sock}, {capsule(point{0, 14}, point{.4, 0}, 3.4, 4.6), sock}}
	case Clamp:
		dark := colorspace.Lab{L: 25}
		return []limb{
			{[][]point{rectangle(point{0, 0}, 3.4, 6, 0)}, colorspace.Lab{L: 58, A: 45, B: 50}},
			{capsule(point{-1.1, 2.5}, point{-1.9, 8}, .6, .5), dark}, {capsule(point{1.1, 2.5}, point{1.9, 8}, .6, .5), dark},
		}
	case Pencil:
		return []limb{
			{[][]point{rectangle(point{0, 1}, .75, 15, 0)}, colorspace.Lab{L: 66, A: 18, B: 58}},
			{[][]point{{{-.37, -6.5}, {.37, -6.5}, {0, -8.2}}}, colorspace.Lab{L: 76, A: 8, B: 22}},
		}
	}
	return nil
}

// things lays things over the scene.
func (s *stage) things(list []Thing) {
	for _, t := range list {
		size := t.Size
		if size <= 0 {
			size = 1
		}
		mid := s.at(t.X, t.Y)
		for _, l := range t.Kind.limbs() {
			body := make([][]point, len(l.body))
			for i, ps := range l.body {
				scaled := mapped(ps, func(p point) point { return point{p.x * size, p.y * size} })
				body[i] = s.toPixels(turned(scaled, mid, t.Angle*math.Pi/180))
			}
			s.add(shape{bodies: [][][]point{body}, surface: paint(l.lab), lift: 1, wrinkle: .03, curl: .35})
		}
	}
}
