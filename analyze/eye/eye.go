// Package eye is what a viewer sees: a picture blurred as the eye blurs it
// from a distance (S-CIELAB, Zhang and Wandell 1997), its honest grey, a few
// values, and what a red-green-weak viewer is left with (Machado and others
// 2009). A photo.Picture and a scale come in; pictures and figures come out.
// Everything is computed on linear light.
package eye

// Views is one picture in the views that the page switches between. Each is
// a JPEG of W x H pixels; a view that was not made is nil.
type Views struct {
	W, H   int
	Colour []byte
	Grey   []byte // by CIE Y
	Squint []byte // grey, with the eye's blur at the run's distance
	Values []byte // grey in three values, cut where the run's piles are cut
}
