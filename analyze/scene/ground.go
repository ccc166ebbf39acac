package scene

import (
	"math"

	"greige/colorspace"
)

// Ground is what lies or hangs behind the cloth.
type Ground string

// The grounds. Each has a usual colour, that a Backdrop can replace.
const (
	Sheet   Ground = ""        // a white sheet or foam board
	Mat     Ground = "mat"     // a cutting mat with pale ruled lines and numbers
	Wood    Ground = "wood"    // a table, with its grain
	Carpet  Ground = "carpet"  // of one colour
	Colour  Ground = "colour"  // a plain coloured sheet
	Flannel Ground = "flannel" // a pale design wall
	Wall    Ground = "wall"    // painted
	Grass   Ground = "grass"
	Floor   Ground = "floor" // boards or tiles, darker lines between them
)

// Backdrop is a ground in a colour of its own.
type Backdrop struct {
	Ground Ground
	Lab    colorspace.Lab // of its plain parts; zero is the usual colour
}

// Usual is the colour of the ground where none is given.
func (g Ground) Usual() colorspace.Lab {
	return map[Ground]colorspace.Lab{
		Sheet: {L: 95}, Mat: {L: 40, A: -18, B: 6}, Wood: {L: 52, A: 13, B: 27}, Carpet: {L: 56, A: 1, B: 6}, Colour: {L: 48, A: 4, B: -28},
		Flannel: {L: 90, B: 3}, Wall: {L: 82, A: 1, B: 6}, Grass: {L: 44, A: -18, B: 30}, Floor: {L: 60, A: 4, B: 12},
	}[g]
}

// ground is a backdrop made ready.
type ground struct {
	kind Ground
	base colorspace.Linear
	line colorspace.Linear // ruled lines, joints
	seed uint64
}

func (b Backdrop) ready(seed uint64) ground {
	l := b.Lab
	if l == (colorspace.Lab{}) {
		l = b.Ground.Usual()
	}
	g := ground{kind: b.Ground, base: Dyed(l).Linear(), seed: seed + 77}
	if l.L > 95 || l.L < 12 { // paper and paint may be what dye cannot
		g.base = l.Linear()
	}
	l.A, l.B = l.A*.4, l.B*.4
	l.L = l.L + .55*(92-l.L)
	g.line = l.Linear()
	return g
}

// at is the ground's reflectance at a place; footprint is the size of a
// pixel. Both in cm.
func (g *ground) at(p point, footprint float64) [3]float32 {
	c := g.base
	f := 1.0   // light and dark places
	hue := 0.0 // darker places are redder, as in wood
	switch g.kind {
	case Sheet, Colour:
		f += .004*octaves(g.seed, p, 12, footprint, .8, 2) + .006*octaves(g.seed, p, .2, footprint, .8, 2)
	case Wall:
		f += .008*octaves(g.seed, p, 25, footprint, .7, 2) + .015*octaves(g.seed, p, .8, footprint, .8, 3)
	case Flannel:
		f += .01*octaves(g.seed, p, 14, footprint, .7, 2) + .025*octaves(g.seed, p, .9, footprint, .9, 4)
	case Carpet:
		f += .05*octaves(g.seed, p, 10, footprint, .7, 2) + .16*octaves(g.seed, p, .8, footprint, .95, 4)
	case Mat:
		f += .02 * octaves(g.seed, p, .3, footprint, .9, 3)
		ink := g.ruled(p, footprint)
		for j := range c {
			c[j] += ink * (g.line[j] - c[j])
		}
	case Wood:
		f, hue = g.wood(p, footprint, 14)
	case Floor:
		f, hue = g.wood(p, footprint, 9)
		f = 1 + (f-1)*.7
	case Grass:
		// Blades lean every way, the upper ones lit: ridges of stretched noise.
		for k := range 4 {
			s, cs := math.Sincos(float64(k)*.8 + .25)
			u, v := cs*p.x+s*p.y, cs*p.y-s*p.x
			blade := 0.0
			if footprint < .3 {
				blade = .8 - 2.2*math.Abs(smooth(g.seed+uint64(k)*17, u/5, v/.55))
			}
			f += .16 * blade
			hue += .1 * smooth(g.seed+uint64(k)*29, u/6, v/.8)
		}
		f += .1 * octaves(g.seed+5, p, 22, footprint, .8, 3)
	}
	f = max(f, .1)
	return [3]float32{float32(c[0] * f * (1 - .5*hue)), float32(c[1] * f), float32(c[2] * f * (1 + .6*hue))}
}

// wood is planks of a width along x, with streaks, rings and joints.
func (g *ground) wood(p point, footprint, width float64) (f, hue float64) {
	plank := int(math.Floor(p.y / width))
	s := g.seed + uint64(int64(plank))*1013
	x := p.x + 200*lattice(s, 3, 0)
	bend := 2.2*smooth(s, x/40, p.y/9) + .5*smooth(s+1, x/13, p.y/3)
	ring := math.Sin((p.y + bend) * (2.4 + lattice(s, 1, 0)))
	streak := octaves(s+2, point{x / 28, p.y}, .45, footprint, .8, 4)
	f = 1 + .16*lattice(s, 0, 0) + .07*ring + .11*streak
	hue = .08*lattice(s, 0, 1) - .05*ring - .05*streak
	if d := math.Abs(p.y - width*math.Round(p.y/width)); d < .5 {
		f *= 1 - .6*covered(d, .06, footprint)
	}
	return f, hue
}

// covered is the share of a pixel that a line covers at distance d from its
// middle.
func covered(d, width, footprint float64) float64 {
	return min(max(width/2+footprint/2-math.Abs(d), 0)/footprint, 1, width/footprint)
}

// ruled is how much of a place is a mat's ruling: thin lines every cm, wider
// ones every five, numbers beside those along two lines of each metre.
func (g *ground) ruled(p point, footprint float64) float64 {
	ink := 0.0
	for _, v := range [2]float64{p.x, p.y} {
		d := v - math.Round(v)
		ink = max(ink, .45*covered(d, .03, footprint))
		d = v - 5*math.Round(v/5)
		ink = max(ink, .9*covered(d, .07, footprint))
	}
	return max(ink, .95*numbers(p, footprint), .95*numbers(point{p.y, -p.x}, footprint))
}

// numbers stand above every fifth centimetre of the lines y = ..., -25, 25,
// 75, ...
func numbers(p point, footprint float64) float64 {
	const height, width = .62, .36
	y := (25 + 50*math.Floor((p.y+25)/50) - p.y) / height // up from the line
	n := int(math.Round(p.x/5)) * 5
	x := (p.x-float64(n))/width - .4
	if y < .25 || y > 1.35 || x < -.1 || x > 2.6 {
		return 0
	}
	n = wrap(n, 100)
	digits := []int{n / 10, n % 10}
	i := int(max(x, 0) / 1.25)
	if i > 1 {
		return 0
	}
	q := point{x - 1.25*float64(i), 1.3 - y}
	best := math.Inf(1)
	stroke := strokes[digits[i]]
	for k := 0; k+1 < len(stroke); k++ {
		best = min(best, toSegment(q, stroke[k], stroke[k+1]))
	}
	return covered(best*height*.8, .07, footprint)
}

// strokes are the digits as drawn with a pen, in a box of width 1, height 1.
var strokes = [10][]point{
	{{.2, 0}, {.8, 0}, {.9, .5}, {.8, 1}, {.2, 1}, {.1, .5}, {.2, 0}},
	{{.2, .25}, {.55, 0}, {.55, 1}},
	{{.1, .2}, {.3, 0}, {.75, 0}, {.9, .3}, {.1, 1}, {.9, 1}},
	{{.1, .1}, {.5, 0}, {.85, .2}, {.4, .47}, {.9, .75}, {.5, 1}, {.1, .9}},
	{{.7, 1}, {.7, 0}, {.1, .7}, {.95, .7}},
	{{.85, 0}, {.2, 0}, {.15, .45}, {.6, .4}, {.9, .7}, {.6, 1}, {.1, .92}},
	{{.75, 0}, {.3, .3}, {.1, .7}, {.45, 1}, {.85, .8}, {.6, .5}, {.15, .65}},
	{{.1, 0}, {.9, 0}, {.4, 1}},
	{{.5, .47}, {.15, .22}, {.5, 0}, {.85, .22}, {.5, .47}, {.1, .76}, {.5, 1}, {.9, .76}, {.5, .47}},
	{{.25, 1}, {.7, .7}, {.9, .3}, {.55, 0}, {.15, .2}, {.4, .5}, {.85, .35}},
}

// toSegment is the distance from p to the line from a to b.
func toSegment(p, a, b point) float64 {
	dx, dy := b.x-a.x, b.y-a.y
	t := min(max(((p.x-a.x)*dx+(p.y-a.y)*dy)/(dx*dx+dy*dy), 0), 1)
	return math.Hypot(p.x-a.x-t*dx, p.y-a.y-t*dy)
}
