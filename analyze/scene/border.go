package scene

import (
	"image"
	"math"
)

// Border is a photo of a border print: filling the photo, or lying on a
// ground beside other cloth.
type Border struct {
	Take
	Print   Cloth
	WidthCM float64 // of the photo; 0 shows the whole width of the print
	Turn    float64 // of the print's length, degrees
	Lying   bool    // on the ground; else it fills the photo
	Ground  Backdrop
	Beside  []Cloth // lying: other cloths, a piece each
	Cards   []Paper
}

// Shoot takes the photo. Truth.Pieces[0] is the print; for one that lies,
// Truth.Print is a part of it.
func (b Border) Shoot() (Shot, error) {
	const size = .6 // lying: its share of the photo's width and height
	b.Take = b.sized(3. / 4)
	width := b.WidthCM
	if width <= 0 {
		width = b.Print.scale() * float64(b.Width) / float64(b.Height)
		if b.Lying {
			width /= size
		}
	}
	if !b.Lying {
		return Closeup{Take: b.Take, Cloth: b.Print, WidthCM: width, Turn: b.Turn, Cards: b.Cards, Wrinkle: .02}.Shoot()
	}
	// Beside the middle, so that there is one large place for the rest.
	w, h := size*width, size*width*float64(b.Height)/float64(b.Width)
	t := Table{
		Take: b.Take, WidthCM: width, Ground: b.Ground, Cloths: append([]Cloth{b.Print}, b.Beside...), Gap: .03,
		Scraps: []Scrap{{Cut: Square, X: .04 + size/2, Y: .04 + size/2, W: w, H: h, Angle: b.Turn}},
		Cards:  b.Cards,
	}
	shot, err := t.Shoot()
	if err != nil {
		return Shot{}, err
	}
	var px []point
	for _, p := range shot.Truth.Pieces[0].Outline {
		px = append(px, point{math.Min(math.Max(p[0], 0), float64(b.Width)), math.Min(math.Max(p[1], 0), float64(b.Height))})
	}
	shot.Truth.Print = inside(px, b.Width, b.Height).Intersect(image.Rect(0, 0, b.Width, b.Height))
	shot.Truth.PrintIs = shot.Measure(0, shot.Truth.Print)
	return shot, nil
}
