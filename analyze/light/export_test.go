package light

import (
	"image"
	"math"

	"greige/analyze/camera"
)

// Straight is a camera that bends nothing, for tests of what the lamp does.
var Straight = camera.Exact(UnknownLevel)

// SigmaOver is the relative standard uncertainty of the luminance over r: the
// part that all pieces of the photo share, and the part of each.
func (e *Even) SigmaOver(r image.Rectangle) (common, apart float64) {
	mean := e.glance(r)
	d, own := e.Doubt(r, mean, 0, 0)
	_, slope := e.tone.belief.Lightness(e.Seen(mean, 0).Lab)
	apart = math.Sqrt(own*own + e.left.cov().quad(e.basisOver(r)))
	total := d.Scale() / (slope * camera.PerShare)
	return math.Sqrt(max(total*total-apart*apart, 0)), min(apart, total)
}

// Passes are the names of what Without can leave out.
var Passes = []string{"the ground", "shadows", "paper", "texture", "pale grounds", "averaging", "the dome", "slow noise", "repeats", "colours' mixture", "the cast's doubt", "white's limit"}

// Without is opt with one of Passes left out.
func Without(opt Options, pass string) Options {
	o := &opt.off
	for i, is := range []*bool{&o.backing, &o.shadows, &o.paper, &o.texture, &o.pale, &o.averaging, &o.dome, &o.slow, &o.repeats, &o.mixed, &o.cast, &o.underWhite} {
		*is = Passes[i] == pass
	}
	return opt
}
