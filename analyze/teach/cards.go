package teach

import (
	"cmp"
	"errors"
	"image"
	"math"
	"slices"

	"greige/analyze/camera"
	"greige/analyze/grid"
	"greige/analyze/light"
	"greige/analyze/photo"
	"greige/colorspace"
)

// Cards returns neutral cards of known lightness as the file of p has them, in the
// light where the lightest of them lies. Two at least must be good, or the error says
// what to do.
func Cards(p *photo.Photo, cards []light.Card) ([]camera.Reference, error) {
	e, err := light.New(p, light.Options{Cards: cards}, light.Unknown)
	if err != nil {
		return nil, err
	}
	refs := e.CardsSeen()
	if len(refs) < 2 {
		return nil, refuse("fewer than two of the cards can be used, as they are too bright or too dark in the photo", "check their places, and take it again with the cards in good light and without glare")
	}
	l := func(a, b camera.Reference) int { return cmp.Compare(a.Lightness, b.Lightness) }
	if slices.MaxFunc(refs, l).Lightness-slices.MinFunc(refs, l).Lightness < 5 {
		// A surface has 1.4 L* of its own (camera's ownSigma): steps under three times
		// that say nothing of a curve.
		return nil, refuse("the cards are all of one lightness, so they show nothing of the camera", "give the lightness of each after a colon, such as --card 40,60,300,200:95 --card 400,60,300,200:49.5")
	}
	return refs, nil
}

// patchInset is how much of a chart's patch is left out along each side: its cell has
// the gap to the next patch in it, a tenth or two of the cell, and corners that were
// given by hand lie off by about as much.
const patchInset = .32

// publishedSigma is the standard uncertainty, in L*, of a patch of a chart about its
// published value: age, print run and D50 against D65 make .5 to 1.5.
const publishedSigma = .7

// farthestPatch is the root mean square CIELAB distance of the 24 patches from their
// published colours, after the white patch has been set right, above which the thing
// is no such chart or lies the other way round. Of testdata/real the plain photos lie
// between 8.6 and 18.5, those in hard light up to 38, the wrong way round 66 and more.
const farthestPatch = 28

// The chart's patches lie in 4 rows of 6, or in 6 of 4.
var (
	upright   = [2]int{colorspace.ChartRows, colorspace.ChartCols}
	onItsSide = [2]int{colorspace.ChartCols, colorspace.ChartRows}
)

// errNoChart says that no chart was found by itself.
var errNoChart = errors.New("no 24-patch chart was found in it")

// Chart returns the patches of a 24-patch chart as the file of p has them. corners are
// as in Options. Which way round it lies is found by its colours. thorough looks for
// it by its 4 x 6 patches too where no such grid meets the eye, which takes some
// seconds. The error is a *photo.Error or a *grid.Error.
func Chart(p *photo.Photo, corners []grid.Point, thorough bool) ([]camera.Reference, error) {
	k := float64(max(p.Reduction, 1))
	var own []grid.Point
	for _, c := range corners {
		own = append(own, grid.Point{c[0] / k, c[1] / k})
	}
	var best []int // the grid's place of each patch
	var lies *grid.Grid
	least := float64(farthestPatch)
	var failed error
	try := func(rows, cols int) {
		var g *grid.Grid
		var err error
		if own != nil {
			g, err = grid.FromCorners(p.Picture.W, p.Picture.H, own, rows, cols, grid.Straight)
		} else {
			g, err = grid.Find(p.Picture, grid.Hints{Rows: rows, Cols: cols, Setting: grid.Straight})
		}
		if err != nil {
			failed = err
			return
		}
		if n := [2]int{g.Rows, g.Cols}; n != upright && n != onItsSide {
			return
		}
		for _, order := range turns(g.Rows, g.Cols) {
			if far := distance(p.Picture, g, order); far < least {
				best, lies, least = order, g, far
			}
		}
	}
	if own == nil {
		try(0, 0)
	}
	if best == nil && (own != nil || thorough) {
		try(upright[0], upright[1])
		try(onItsSide[0], onItsSide[1])
	}
	switch {
	case best != nil:
		return readChart(p, lies, best)
	case own == nil:
		return nil, errNoChart
	case failed != nil:
		return nil, failed
	}
	return nil, refuse("what lies there does not have the colours of the 24-patch chart", "give the outer corners of its patches, clockwise, with --chart-corners, and mind that no shadow lies over it")
}

// turns are the two ways in which a chart's patches lie in a grid of rows x cols: at
// 4 x 6 upright or head down, at 6 x 4 turned either way. Each gives the grid's place
// of each patch, by rows.
func turns(rows, cols int) (out [2][]int) {
	n := rows * cols
	for i := range n {
		at := i
		if rows > cols { // the chart's rows run down the grid's columns, from the right
			r, c := i/rows, i%rows
			at = c*cols + cols - 1 - r
		}
		out[0] = append(out[0], at)
		out[1] = append(out[1], n-1-at)
	}
	return out
}

// A patch whose luminance varies by more than plainPatch, as a relative standard
// deviation, has the frame or a neighbour in it, or a glint: noise of the darkest makes
// a tenth. Where more than fewUneven of the patches do, the grid does not lie on them.
const (
	plainPatch = .15
	fewUneven  = 2
)

// distance is the root mean square CIELAB distance of the patches in an order from
// their published colours, once the white one has been set right.
func distance(p *photo.Picture, g *grid.Grid, order []int) float64 {
	published := colorspace.ChartPatches()
	white := measure(p, g.Inner(g.Patches[order[colorspace.ChartWhite]], patchInset)).light
	if !(min(white[0], white[1], white[2]) > 0) {
		return math.Inf(1)
	}
	want := colorspace.LuminanceOf(published[colorspace.ChartWhite].L)
	far, uneven := 0., 0
	for i, l := range published {
		m := measure(p, g.Inner(g.Patches[order[i]], patchInset))
		if m.spread > plainPatch {
			uneven++
		}
		v := m.light
		for j := range v {
			v[j] *= want / white[j]
		}
		lab := v.Lab()
		far += sq(lab.L-l.L) + sq(lab.A-l.A) + sq(lab.B-l.B)
	}
	if uneven > fewUneven {
		return math.Inf(1)
	}
	return root(far / float64(len(published)))
}

// readChart returns the patches, the white one first, under the light where the white
// one lies: evened out as that of every photo is, so that what is left of the lamp is
// not taken for the camera's.
func readChart(p *photo.Photo, g *grid.Grid, order []int) ([]camera.Reference, error) {
	published := colorspace.ChartPatches()
	raw := measure(p.Picture, g.Inner(g.Patches[order[colorspace.ChartWhite]], patchInset))
	switch {
	case raw.clipped > .1:
		return nil, refuse("the white patch of the chart is too bright for the camera", "take it again a little darker, with no glare on the chart")
	case raw.light.Lab().L < 35:
		// White that is under a tenth of the scale's light leaves the dark patches
		// in the last steps of 8 bits.
		return nil, refuse("the chart is too dark in the photo", "take it again with more light")
	}
	white := light.Card{Place: box(g.Inner(g.Patches[order[colorspace.ChartWhite]], .2), max(p.Reduction, 1)), Lightness: published[colorspace.ChartWhite].L}
	e, err := light.New(p, light.Options{Cards: []light.Card{white}, NoPaper: true}, light.Top)
	if err != nil {
		return nil, err
	}
	var refs []camera.Reference
	for i, l := range published {
		outline := g.Inner(g.Patches[order[i]], patchInset)
		clipped := measure(p.Picture, outline).clipped
		s := e.Seen(measure(e.Picture, outline).light, clipped)
		if i == colorspace.ChartWhite { // the colour of the light was taken from it
			s.A, s.B = 0, 0
		}
		// What unevenness may be left, as L*: the luminance's share over a third of L* + 16.
		left := e.SlopeSigma * (l.L + 16) / 3
		refs = append(refs, camera.Reference{Seen: s, Lightness: l.L, Sigma: math.Hypot(publishedSigma, left)})
	}
	refs[0], refs[colorspace.ChartWhite] = refs[colorspace.ChartWhite], refs[0]
	return refs, nil
}

// box is the upright rectangle round an outline, in pixels of a photo k times as large.
func box(outline []grid.Point, k int) image.Rectangle {
	var r image.Rectangle
	for i, q := range outline {
		at := image.Pt(int(q[0])*k, int(q[1])*k)
		one := image.Rectangle{at, at.Add(image.Pt(1, 1))}
		if r = r.Union(one); i == 0 {
			r = one
		}
	}
	return r
}
