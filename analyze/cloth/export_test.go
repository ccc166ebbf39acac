package cloth

import "greige/analyze/photo"

// Inks are those of MapInks without their places.
func Inks(p *photo.Picture, inside []bool, opt InkOptions) []Colour {
	colours, _ := MapInks(p, inside, opt)
	return colours
}
