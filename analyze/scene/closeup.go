package scene

import (
	"image"
	"math"

	"greige/colorspace"
)

// Closeup is a photo of one cloth, edge to edge, or edge to edge beside a
// card.
type Closeup struct {
	Take
	Cloth   Cloth
	WidthCM float64 // of the photo, on the cloth; 0 is 20
	Turn    float64 // of the cloth, degrees
	Cards   []Paper
	Wrinkle float64 // contrast of its folds; 0 is smooth, .02 a cloth that has been ironed
}

// Paper is a flat card lying on the scene, a sheet of white paper if no
// colour is given. X and Y are the place of its middle as shares of the
// photo's width and height.
type Paper struct {
	X, Y  float64
	W, H  float64 // cm
	Angle float64 // degrees
	Lab   colorspace.Lab
}

// GreyCard is the colour of an 18 % grey card.
func GreyCard() colorspace.Lab { return colorspace.Lab{L: colorspace.Lightness(.18)} }

// Shoot takes the photo.
func (c Closeup) Shoot() (Shot, error) {
	t := c.Take.sized(3. / 4)
	width := c.WidthCM
	if width <= 0 {
		width = 20
	}
	s := newStage(t, centred(t, width), Backdrop{}.ready(t.Seed))
	cut := s.from(c.Cloth, 0, point{}, c.Turn*math.Pi/180)
	f := c.Cloth.fabric(s.footprint / 2)
	w, h := float64(t.Width), float64(t.Height)
	whole := []point{{0, 0}, {w, 0}, {w, h}, {0, h}}
	s.add(shape{bodies: [][][]point{{whole}}, surface: s.lay(f, c.Turn*math.Pi/180, cut.x, cut.y), wrinkle: c.Wrinkle})
	cards := s.papers(c.Cards)
	shot, m, err := s.shoot()
	if err != nil {
		return Shot{}, err
	}
	shot.Truth.Cards = cards
	shot.Truth.Pieces = []Piece{{Measure: m[0], Outline: pairs(whole), Covered: len(c.Cards) > 0, FromEdge: true}}
	return shot, nil
}

// shift is a place on the bolt, in cm, that the n-th piece is cut from.
func (s *stage) shift(n int) point {
	return point{lattice(s.take.Seed, n, 101) * 500, lattice(s.take.Seed, n, 202) * 500}
}

// from is where the n-th piece, whose middle lies at mid, turned by angle, is
// cut from its cloth: anywhere, but a border print's middle is kept.
func (s *stage) from(c Cloth, n int, mid point, angle float64) point {
	p := s.shift(n)
	if c.Pattern == BorderPrint {
		sin, cos := math.Sincos(angle)
		p.y = c.scale()/2 - (cos*mid.y - sin*mid.x)
	}
	return p
}

// at is a place given in shares of the photo's width and height, on the
// plane.
func (s *stage) at(x, y float64) point {
	return s.toPlane.apply(point{x * float64(s.take.Width), y * float64(s.take.Height)})
}

// toPixels maps outlines from the plane to the photo.
func (s *stage) toPixels(ps []point) []point { return mapped(ps, s.toPhoto.apply) }

// papers lays cards on the scene.
func (s *stage) papers(cards []Paper) []Card {
	var out []Card
	for _, c := range cards {
		lab := c.Lab
		if lab == (colorspace.Lab{}) {
			lab = colorspace.Lab{L: 95}
		}
		px := s.toPixels(rectangle(s.at(c.X, c.Y), c.W, c.H, c.Angle*math.Pi/180))
		// A wide shadow would reach far onto the cloth: paper is thin.
		s.add(shape{bodies: [][][]point{{px}}, surface: paint(lab), lift: .3})
		out = append(out, Card{Inside: inside(px, s.take.Width, s.take.Height), Lab: lab})
	}
	return out
}

// inside is an upright rectangle well inside a card with four corners: it
// shares the card's middle and is as large as fits, less a tenth.
func inside(px []point, width, height int) image.Rectangle {
	lo, hi := point{math.Inf(1), math.Inf(1)}, point{math.Inf(-1), math.Inf(-1)}
	for _, p := range px {
		p = point{min(max(p.x, 0), float64(width)), min(max(p.y, 0), float64(height))}
		lo = point{min(lo.x, p.x), min(lo.y, p.y)}
		hi = point{max(hi.x, p.x), max(hi.y, p.y)}
	}
	mid := point{(lo.x + hi.x) / 2, (lo.y + hi.y) / 2}
	for f := 1.0; f > .1; f -= .02 {
		w, h := (hi.x-lo.x)/2*f, (hi.y-lo.y)/2*f
		all := true
		for _, q := range []point{{mid.x - w, mid.y - h}, {mid.x + w, mid.y - h}, {mid.x + w, mid.y + h}, {mid.x - w, mid.y + h}} {
			all = all && contains(px, q)
		}
		if all || f <= .12 {
			w, h = w*.9, h*.9
			return image.Rect(int(math.Ceil(mid.x-w)), int(math.Ceil(mid.y-h)), int(mid.x+w), int(mid.y+h))
		}
	}
	return image.Rectangle{}
}

// contains tells whether q lies in an outline.
func contains(ps []point, q point) bool {
	in := false
	for i, a := range ps {
		b := ps[(i+1)%len(ps)]
		if (a.y > q.y) != (b.y > q.y) && q.x < a.x+(q.y-a.y)*(b.x-a.x)/(b.y-a.y) {
			in = !in
		}
	}
	return in
}
