package grid

import (
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"math"

	"golang.org/x/image/font"
	"golang.org/x/image/font/basicfont"
	"golang.org/x/image/math/fixed"

	"greige/analyze/raster"
)

// The pictures of the stages of a search, see Hints.Look.

var (
	markColours = []color.RGBA{{230, 60, 40, 255}, {40, 150, 60, 255}, {50, 90, 230, 255}, {200, 150, 0, 255}} // plain on grey, and apart from each other
	paler       = color.RGBA{120, 170, 255, 255}
)

// canvas is the lightness of a picture to draw on.
func (t *tones) canvas() *image.RGBA {
	out := image.NewRGBA(image.Rect(0, 0, t.w, t.h))
	light := make([]float32, len(t.lab))
	for i, c := range t.lab {
		light[i] = c[0]
	}
	draw.Draw(out, out.Bounds(), raster.Heat(light, t.w, t.h, 0, 100), image.Point{}, draw.Src)
	return out
}

func drawLine(on *image.RGBA, p, q Point, c color.RGBA) {
	n := int(max(abs(q[0]-p[0]), abs(q[1]-p[1]))) + 1
	if n > 1e5 { // a line to beyond the horizon
		return
	}
	for k := range n + 1 {
		at := between(p, q, float64(k)/float64(n))
		on.SetRGBA(int(math.Floor(at[0])), int(math.Floor(at[1])), c)
	}
}

// write puts words on a picture, their lower left corner at p.
func write(on *image.RGBA, p Point, c color.RGBA, words string) {
	d := font.Drawer{Dst: on, Src: image.NewUniform(c), Face: basicfont.Face7x13, Dot: fixed.P(int(p[0]), int(p[1]))}
	d.DrawString(words)
}

// picture is the outline on the picture.
func (o *outline) picture(t *tones) image.Image {
	on, at := t.canvas(), o.surface()
	for k, c := range [4]Point{{0, 0}, {1, 0}, {1, 1}, {0, 1}} {
		next := [4]Point{{1, 0}, {1, 1}, {0, 1}, {0, 0}}[k]
		const steps = 64 // a curve's chords
		for i := range steps {
			drawLine(on, at(between(c, next, float64(i)/steps)), at(between(c, next, float64(i+1)/steps)), markColours[0])
		}
	}
	return on
}

// pictureOfPoses is the segments on the picture, those of each pose in the colours of
// its two vanishing points, of which the direction and the distance, in half longer
// sides from the middle, are written.
func (p *pencils) pictureOfPoses(t *tones, poses []pose) image.Image {
	on := t.canvas()
	at := func(k int) Point { return Point{p.ends[k][0]*p.half + p.centre[0], p.ends[k][1]*p.half + p.centre[1]} }
	for k := range p.mid {
		c := paler
		for i, ps := range poses {
			for j, v := range ps.v {
				if p.off(v, k) < direct && ps.trust[k] > 0 {
					c = markColours[(2*i+j)%len(markColours)]
				}
			}
		}
		drawLine(on, at(2*k), at(2*k+1), c)
	}
	for i, ps := range poses {
		for j, v := range ps.v {
			far := math.Hypot(v[0], v[1]) / max(abs(v[2]), 1e-9)
			write(on, Point{8, float64(16 + 14*(2*i+j))}, markColours[(2*i+j)%len(markColours)], fmt.Sprintf("vanishing point %d: %.0f degrees, %.1f away", 2*i+j+1, math.Atan2(v[1], v[0])*180/math.Pi, far))
		}
	}
	return on
}

// pictureOf is readings on the picture, each in a colour of its own, with their scores.
func (s *search) pictureOf(readings []*guess) image.Image {
	on := s.t.canvas()
	for k, r := range readings {
		c, n := markColours[k%len(markColours)], r.mesh()
		for _, e := range n.seams {
			drawLine(on, r.f.at(n.node[e.from]), r.f.at(n.node[e.to]), c)
		}
		rows, cols := r.counts()
		write(on, Point{8, float64(16 + 14*k)}, c, fmt.Sprintf("%d x %d: likelihood %.0f, %.2f an observation", rows, cols, r.worth, r.plain))
	}
	return on
}
