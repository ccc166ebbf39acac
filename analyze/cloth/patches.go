package cloth

import (
	"math"

	"greige/analyze/light"
	"greige/colorspace"
)

// SeamAllowance is what each side of a patch loses to its seam, in cm: a
// quarter of an inch. Common practice, no source.
const SeamAllowance = .635

// Finished is the side, in cm, of what shows of a patch cut cm square; a patch
// too small for its seams is taken as it is cut.
func Finished(cm float64) float64 {
	if f := cm - 2*SeamAllowance; f > SeamAllowance {
		return f
	}
	return cm
}

const (
	// leastPatches is how many patches a piece must be worth before it tells
	// how much they differ: the standard deviation of six is itself uncertain
	// by a third (1/sqrt(2 (n-1))).
	leastPatches = 6
	// patchSteps is how many places are tried over the side of a patch.
	patchSteps = 4
	// wholePatch is how much of a square must lie in the piece.
	wholePatch = .97
)

// PatchSpread is how much patches cut from the piece that region covers will
// differ from each other: the standard deviation of the L* of squares of the
// given side, in pixels of the working picture, each averaged in linear light,
// over all places in the piece. The places overlap, so the deviation within
// the piece is brought to that of a whole length of the cloth by the number of
// squares that the piece is worth (Bessel's correction). Unevenness of the
// light that is left counts as the cloth's. ok is false where the piece is too
// small, or the squares too small to be seen, to tell.
func PatchSpread(e *light.Even, region Region, side float64) (spread float64, ok bool) {
	region = region.Without(e.Ignore)
	b := region.Bounds
	n := int(math.Round(side))
	worth := region.Area() / (side * side)
	if !(side >= 3) || worth < leastPatches || n > min(b.Dx(), b.Dy()) {
		return 0, false
	}
	// Sums over all that lies above and to the left (Crow 1984, SIGGRAPH).
	w := b.Dx() + 1
	area, lit := make([]float64, w*(b.Dy()+1)), make([]float64, w*(b.Dy()+1))
	lw := colorspace.LuminanceWeights()
	for y := range b.Dy() {
		var rowArea, rowLit float64
		for x := range b.Dx() {
			a := 1.0
			if region.Weight != nil {
				a = float64(region.Weight[y*b.Dx()+x])
			}
			p := e.Picture.Pix[3*((y+b.Min.Y)*e.Picture.W+x+b.Min.X):]
			rowArea += a
			rowLit += a * (lw[0]*float64(p[0]) + lw[1]*float64(p[1]) + lw[2]*float64(p[2]))
			i := (y+1)*w + x + 1
			area[i], lit[i] = area[i-w]+rowArea, lit[i-w]+rowLit
		}
	}
	square := func(sum []float64, x, y int) float64 {
		return sum[(y+n)*w+x+n] - sum[y*w+x+n] - sum[(y+n)*w+x] + sum[y*w+x]
	}
	var places, mean, m2 float64
	step := max(1, n/patchSteps)
	for y := 0; y+n <= b.Dy(); y += step {
		for x := 0; x+n <= b.Dx(); x += step {
			a := square(area, x, y)
			if a < wholePatch*float64(n*n) {
				continue
			}
			places++
			l := colorspace.Lightness(square(lit, x, y) / a)
			d := l - mean
			mean += d / places
			m2 += d * (l - mean)
		}
	}
	// A piece of an awkward shape has room for few squares.
	if places*float64(step*step) < leastPatches/2*side*side {
		return 0, false
	}
	return math.Sqrt(max(m2, 0) / places * worth / (worth - 1)), true
}
