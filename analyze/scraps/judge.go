package scraps

import (
	"math"

	"greige/analyze/fit"
	"greige/analyze/photo"
	"greige/analyze/raster"
)

// record is all that is known of a proposal: from it alone it is decided whether
// it is cloth.
type record struct {
	area, hull    float64 // square pixels of the working picture
	pixels        float64 // of the small picture
	radius        float64 // of the largest disc within, in pixels of the small picture
	keen          float64 // sharpness of its outline, the median: 1 where it is as sharp as edges get in this photo
	distance      float64 // from the ground, in spreads, that a tenth of its pixels exceed
	solidity      float64 // share of its convex hull that it covers
	rim           float64 // share of its outline that lies along the photo's border
	relative      float64 // its radius over that of the usual piece
	hole, holes   float64 // share of it, holes filled, that its largest hole is, and that all are
	length, width float64 // of the least rectangle round it
	box           float64 // area of that rectangle
	corners       float64 // how far its outline is from the four-cornered figure that fits it best, in pixels, at most but for a tenth of it
	border        float64 // length of the photo's border that it covers
	l, a, b       float64 // mean colour, CIELAB with the photo's brightest at about L* 95
	rough         float64 // standard deviation of L* within it
	grain         float64 // that of L* between pixels next to each other
}

// recordOf measures a piece by its mask in the small picture and its traced
// outline in the working one.
func (s *search) recordOf(m *raster.Mask, outline []point, picture *photo.Picture) record {
	k := s.maskRecord(m)
	hull := raster.ConvexHull(outline)
	k.area, k.hull = math.Abs(raster.Area(outline)), math.Abs(raster.Area(hull))
	k.rectangle(hull)
	k.corners = offCorners(hull, outline)
	w, h := float64(picture.W), float64(picture.H)
	for i, q := range outline {
		r := outline[(i+1)%len(outline)]
		if max(q[0], r[0]) <= byBorder || min(q[0], r[0]) >= w-byBorder || max(q[1], r[1]) <= byBorder || min(q[1], r[1]) >= h-byBorder {
			k.border += math.Hypot(r[0]-q[0], r[1]-q[1])
		}
	}
	return k
}

// maskRecord measures a piece by its mask alone.
func (s *search) maskRecord(m *raster.Mask) record {
	k := record{pixels: float64(m.Count()), solidity: m.Solidity(), radius: radiusOf(m)}
	rim := m.Border()
	k.keen = float64(fit.Median(s.along(s.keen, rim)))
	k.distance = float64(fit.Quantile(s.along(s.g.Distance, m), .9))
	onRim := 0
	rim.Each(func(x, y int) {
		if min(x, y, s.w-1-x, s.h-1-y) < onBorder {
			onRim++
		}
	})
	k.rim = float64(onRim) / float64(max(rim.Count(), 1))
	k.hole, k.holes = s.holesOf(m)
	s.colour(&k, m)
	return k
}

// onBorder is how near to the small picture's border, in pixels, a piece lies along it:
// its filters leave an edge unseen there.
const onBorder = 3

// colour sets a record's colour and texture by the pixels well inside it.
func (s *search) colour(k *record, m *raster.Mask) {
	for r := 2.; r >= 1; r-- {
		if core := m.Eroded(r); core.Count() >= 16 { // fewer have no texture
			m = core
			break
		}
	}
	sm := s.sm
	var n, sum, square float64
	var steps []float64
	m.Each(func(x, y int) {
		i := y*s.w + x
		n++
		k.l, k.a, k.b = k.l+float64(sm.l[i]), k.a+float64(sm.a[i]), k.b+float64(sm.b[i])
		light := float64(s.g.Residual[0][i])
		sum, square = sum+light, square+light*light
		if m.Has(x+1, y) {
			steps = append(steps, math.Abs(float64(sm.l[i+1]-sm.l[i])))
		}
	})
	if n == 0 {
		return
	}
	k.l, k.a, k.b = k.l/n, k.a/n, k.b/n
	// In L*, without the lamp's slope: L*+16 goes with the cube root of light.
	k.rough = math.Sqrt(max(square/n-sq(sum/n), 0)) * (k.l + 16) / (3 * 25)
	k.grain = 1.4826 / math.Sqrt2 * fit.Median(steps)
}

// byBorder is how near to the photo's border, in pixels, an outline follows
// it.
const byBorder = 3

// rectangle finds the least rectangle round a convex hull, which lies along
// one of its sides.
func (k *record) rectangle(hull []point) {
	k.box = math.Inf(1)
	for i, p := range hull {
		q := hull[(i+1)%len(hull)]
		d := math.Hypot(q[0]-p[0], q[1]-p[1])
		if d == 0 {
			continue
		}
		c, s := (q[0]-p[0])/d, (q[1]-p[1])/d
		a0, a1, b0, b1 := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
		for _, r := range hull {
			u, v := c*r[0]+s*r[1], c*r[1]-s*r[0]
			a0, a1, b0, b1 = min(a0, u), max(a1, u), min(b0, v), max(b1, v)
		}
		if box := (a1 - a0) * (b1 - b0); box < k.box {
			k.box = box
			k.length, k.width = max(a1-a0, b1-b0), min(a1-a0, b1-b0)
		}
	}
	if math.IsInf(k.box, 1) {
		k.box = 0
	}
}

// offCorners fits a figure of four corners to an outline, whose convex hull is
// hull, and tells how far the outline is from it, in pixels, at most but for a
// tenth of it. A sheet seen at a slant is no rectangle, but it keeps four
// straight sides.
func offCorners(hull, outline []point) float64 {
	quad := hull
	for len(quad) > 4 { // without the corner that cuts off least
		least, at := math.Inf(1), 0
		for i, p := range quad {
			a, b := quad[(i+len(quad)-1)%len(quad)], quad[(i+1)%len(quad)]
			if cut := math.Abs(raster.Area([]point{a, p, b})); cut < least {
				least, at = cut, i
			}
		}
		quad = append(quad[:at:at], quad[at+1:]...)
	}
	if len(quad) < 4 {
		return math.Inf(1)
	}
	var off []float64
	for _, p := range raster.Resample(outline, 100) {
		near := math.Inf(1)
		for i, a := range quad {
			near = min(near, toSegment(p, a, quad[(i+1)%len(quad)]))
		}
		off = append(off, near)
	}
	return fit.Quantile(off, .9)
}

// toSegment is the distance of p from the line between a and b.
func toSegment(p, a, b point) float64 {
	ux, uy := b[0]-a[0], b[1]-a[1]
	t := ux*ux + uy*uy
	if t > 0 {
		t = min(max(((p[0]-a[0])*ux+(p[1]-a[1])*uy)/t, 0), 1)
	}
	return math.Hypot(p[0]-a[0]-t*ux, p[1]-a[1]-t*uy)
}

// Limits beyond which a thing may be no cloth. They are common practice and
// have no source: what scraps are like, and paper, tools and hands.
const (
	// A sheet of paper or a card: four straight sides, one even colour, longer
	// than wide (A-series 1.41, Letter 1.29, photo paper 1.5, bank card 1.59).
	// White paper is as light as anything in the photo, whatever the lamp's
	// hue; a grey card is neutral.
	paperFill     = .85  // of the least rectangle round it: seen at a slant
	paperCorners  = .025 // of its length
	paperRough    = 4.5
	paperGrain    = .62
	paperLongest  = 1.9
	paperShortest = 1.15
	whiteLeast    = 88 // L*
	whiteChroma   = 26
	// In the light of a bulb that the camera balances by half, white is a warm
	// hue of this chroma (illuminant A of CIE 15, half way to D65 in logarithms).
	bulbChroma      = 36
	bulbLow, bulbUp = 55, 90 // degrees
	greyChroma      = 4
	// Scissors and other tools have arms; offcuts have a corner taken out.
	toolFill = .6
	// A handle is a ring for fingers: a hole, that one looks through to the
	// table, takes much of it; of two rings side by side, half as much each.
	// The figures of a print are smaller beside a scrap.
	ringHole = .28
	ringFill = .85
	// What has holes and arms is a tool before either would be enough.
	armsFill, armsHoles = .68, .1
	// Figures on a mat, knots in a plank and the figures of a print on a cloth
	// of the ground's colour are much smaller than scraps.
	tinyShare  = .06 // of the usual area
	speckShare = .02 // of the area that covers most of the table
	// Threads, pencils and rulers are long and thin.
	threadRatio = 13
	threadWidth = .014 // of the photo's longer side
	// A hand reaches in over the border and has the hue of skin.
	skinLow, skinHigh           = 20, 80 // degrees
	skinLeast, skinMost         = 6, 45  // chroma
	skinContact                 = .03    // of the photo's longer side
	skinFill                    = .9     // fingers and a wrist
	skinRough                   = 12     // with its nails and its folds
	bigOverBorder       float64 = 4      // times the usual area of a scrap
)

// tool tells whether the thing has the shape of a tool with rings for handles,
// or of one of these.
func (k *record) tool() bool {
	return k.hole > ringHole/2 && k.holes > ringHole && k.solidity > ringFill || k.area < armsFill*k.hull && k.holes > armsHoles
}

// doubt says why a thing may be no cloth; "" when it is cloth. long is the
// photo's longer side in working pixels, usual the median area of the pieces,
// big the area that covers most of the table (see usualArea).
func (k *record) doubt(long, usual, big float64) string {
	ratio := k.length / max(k.width, 1)
	chroma, hue := math.Hypot(k.a, k.b), math.Mod(math.Atan2(k.b, k.a)*180/math.Pi+360, 360)
	switch {
	case k.border == 0 && k.area > paperFill*k.box && k.corners < max(paperCorners*k.length, 1.5) &&
		(k.l > whiteLeast && (chroma < whiteChroma || chroma < bulbChroma && hue > bulbLow && hue < bulbUp) || chroma < greyChroma) &&
		k.rough < paperRough && k.grain < paperGrain && ratio > paperShortest && ratio < paperLongest:
		return "a plain rectangle without colour: it may be paper or a card"
	case k.area < max(tinyShare*usual, speckShare*big):
		return "tiny beside the rest: it may be a mark on the table"
	case k.tool():
		return "it has holes like the handles of a tool: it may be scissors"
	case k.area < toolFill*k.hull && k.border < skinContact*long:
		return "its shape is no scrap's: it may be scissors or another tool"
	case ratio > threadRatio && k.width < threadWidth*long:
		return "very long and thin: it may be a thread, a pencil or a tape"
	case k.border > skinContact*long && hue > skinLow && hue < skinHigh && chroma > skinLeast && chroma < skinMost &&
		k.rough < skinRough && (k.solidity < skinFill || k.area > bigOverBorder*usual):
		return "it reaches in over the photo's edge and has the colour of skin: it may be a hand"
	case k.border > skinContact*long && k.area > bigOverBorder*usual && usual > 0:
		return "it reaches in over the photo's edge and is much larger than the rest: it may be something else than a scrap"
	}
	return ""
}
