package analyze

import (
	"context"
	"fmt"
	"image"
	"math"

	"greige/analyze/border"
	"greige/analyze/cloth"
	"greige/analyze/light"
	"greige/analyze/photo"
	"greige/analyze/piles"
	"greige/analyze/stash"
)

// BorderOptions are what Border takes.
type BorderOptions struct {
	Settings
	At         image.Rectangle // the part of the upright photo that is the print; empty: all of it
	Colours    int             // 0: found
	Choose     int             // how many centre fabrics
	Stash      []string        // photos and folders
	StashKnown []piles.Fabric  // the same, measured before
	Kept       *stash.Stash    // and those that are kept; may be nil
}

// inkSide is the longest side, in pixels, of the copy of a print on which its
// inks are looked for. Most working pictures stay as they are: reducing one
// would blur its finest figures once more.
const inkSide = 2400

// Border draws the palette of the print in the photo at path, matches the
// stash to it and chooses centre fabrics. When the print cannot be measured
// the error is an *ErrNothing and the result holds the reason. When ctx ends,
// its error is returned.
func Border(ctx context.Context, path string, opt BorderOptions) (*Result, error) {
	if err := opt.check(); err != nil {
		return nil, err
	}
	r := &Result{Command: "border", Distance: opt.Distance, WidthCM: opt.WidthCM, WidthAssumed: opt.WidthCM == 0}
	cloths, err := opt.stashOf(ctx, path, given{opt.Stash, opt.StashKnown, opt.Kept}, r)
	if err != nil {
		return nil, err
	}
	fail := func(err error) (*Result, error) {
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		r.Skipped = append(r.Skipped, asSkipped(path, err))
		return r, &ErrNothing{"the print could not be measured"}
	}
	if err := alone(ctx, func() error { return opt.draw(ctx, path, cloths, r) }); err != nil {
		return fail(err)
	}
	return r, nil
}

// draw draws the print's palette and chooses from the cloths, into r.
func (opt BorderOptions) draw(ctx context.Context, path string, cloths []piles.Fabric, r *Result) error {
	p, err := photo.Open(ctx, path, opt.Limits)
	if err != nil {
		return err
	}
	p.Name = path
	for _, n := range p.Notes {
		r.Notes = append(r.Notes, fmt.Sprintf("%s: %s", path, n))
	}
	hint := light.OneCloth
	if !opt.At.Empty() {
		hint = light.Unknown
	}
	even, err := light.New(p, opt.Light, hint)
	if err != nil {
		return err
	}
	region, err := opt.printRegion(even)
	if err != nil {
		return err
	}
	picture, inside := printPicture(even, region)
	inks, of := cloth.MapInks(picture, inside, cloth.InkOptions{Count: opt.Colours, Fine: true})
	if len(inks) == 0 {
		return fmt.Errorf("the card covers all of the print")
	}
	b := border.Find(border.Inks{Colours: inks, W: picture.W, H: picture.H, Of: of}, cloths, opt.Choose)
	if err := narrow(ctx, &b, opt.Kept); err != nil {
		return err
	}
	r.Border = &b
	r.Light = append([]light.Record{even.Record}, r.Light...)
	r.Sights = []Sight{opt.printSight(even, region, of, picture.W, picture.H, b)}
	r.PrintStrip = printStrip(picture, inside)
	return nil
}

// printRegion is the part of the working picture that is the print.
func (opt BorderOptions) printRegion(even *light.Even) (cloth.Region, error) {
	p, q := even.Photo, even.Picture
	region := cloth.Whole(q.W, q.H)
	if !opt.At.Empty() {
		if opt.At.Intersect(image.Rect(0, 0, p.Width, p.Height)).Empty() {
			return region, fmt.Errorf("the place given with --at lies outside the photo, which is %d wide and %d high", p.Width, p.Height)
		}
		k := float64(max(p.Reduction, 1))
		at := func(v int, round func(float64) float64) int { return int(round(float64(v) / k)) }
		region.Bounds = image.Rect(
			at(opt.At.Min.X, math.Floor), at(opt.At.Min.Y, math.Floor),
			at(opt.At.Max.X, math.Ceil), at(opt.At.Max.Y, math.Ceil)).Intersect(region.Bounds)
	}
	return region.Without(even.Ignore), nil
}

// printPicture is the print alone, small enough to look for inks in, with
// which of its pixels are print; nil: all.
func printPicture(even *light.Even, region cloth.Region) (*photo.Picture, []bool) {
	p, weight := region.Cut(even.Picture, inkSide)
	return p, cloth.Inside(weight)
}

// assumedPrintCM is how much of a border print a photo of it shows from left
// to right, in cm, where no width is given: about two repeats (common practice,
// no source). Only how the print is shown depends on it, no figure.
const assumedPrintCM = 30

// printSight is the print for the page, with where each ink lies by a map of
// w x h. A card that lies on the print is shown too: it is in the photo.
func (opt BorderOptions) printSight(even *light.Even, region cloth.Region, of []uint8, w, h int, b border.Border) Sight {
	cm := opt.WidthCM
	if cm == 0 {
		cm = assumedPrintCM
	}
	p := even.Picture.Crop(region.Bounds)
	ppd := opt.viewScale(cm, float64(even.Picture.W))
	var inks []float64
	for _, k := range b.Palette {
		inks = append(inks, k.Lab.L)
	}
	s := Sight{Kind: PrintSight, Photo: even.Photo.Name, Views: showPicture(p, pageSide, ppd, piles.Cuts(inks, 3))}
	s.Inks = inkMap(w, h, of)
	return s
}

// inkMapSide is the longest side of the page's map of inks.
const inkMapSide = 800

// inkMap is the map of inks at the size the page needs: every pixel takes
// the ink in the middle of what it covers.
func inkMap(w, h int, of []uint8) *Inks {
	step := max(1, int(math.Ceil(float64(max(w, h))/inkMapSide)))
	m := &Inks{W: w / step, H: h / step}
	for y := range m.H {
		for x := range m.W {
			m.Of = append(m.Of, of[(y*step+step/2)*w+x*step+step/2])
		}
	}
	return m
}

// printStrip is a piece of the print four times as wide as high, cut where
// it holds most print and, of those, from the middle; nil when the print is
// too small to cut one.
func printStrip(p *photo.Picture, inside []bool) *cloth.Swatch {
	h := min(p.H, p.W/4)
	w := 4 * h
	if h < 8 {
		return nil
	}
	whole := func(x, y int) int {
		n := 0
		for j := y; j < y+h; j += 4 {
			for i := x; i < x+w; i += 4 {
				if inside == nil || inside[j*p.W+i] {
					n++
				}
			}
		}
		return n
	}
	best, at := math.MinInt, image.Point{}
	const tries = 8
	for i := range tries + 1 {
		for j := range tries + 1 {
			q := image.Pt((p.W-w)*i/tries, (p.H-h)*j/tries)
			// Of places that hold about as much, the middle: a step away from
			// it counts as much as a hundredth of the strip.
			n := whole(q.X, q.Y) - (abs(2*i-tries)+abs(2*j-tries))*w*h/1600
			if n > best {
				best, at = n, q
			}
		}
	}
	strip := p.Crop(image.Rect(at.X, at.Y, at.X+w, at.Y+h))
	return cloth.NewSwatch(strip, nil, 560)
}

func abs(n int) int { return max(n, -n) }
