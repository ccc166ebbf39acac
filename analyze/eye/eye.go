// Package eye is what a viewer sees: a picture blurred as the eye blurs it
// from a distance (S-CIELAB, Zhang and Wandell 1996), its honest grey, what
// squinting leaves of it, and a few values. A photo.Picture and a scale come
// in; pictures and figures come out. Everything is computed on linear light.
package eye

// Views is one picture in the views that the page is made with; the page
// computes the others from Colour. A view that was not made is nil.
type Views struct {
	W, H int // of Colour, Grey and Values, in pixels
	// PixelsPerDegree is how many of them cover one degree of sight from the
	// run's distance; 0 when it is not known.
	PixelsPerDegree float64
	Colour          []byte // JPEG, sRGB
	Grey            []byte // JPEG: the grey of each pixel's CIE Y
	Squint          []byte // JPEG: the grey of what squinting leaves (Squint), W x H or smaller
	Values          []byte // PNG: Squint in a few greys, see FewValues
}
