package analyze

import (
	"context"
	"fmt"
	"image"
	"math"
	"slices"

	"greige/analyze/border"
	"greige/analyze/cloth"
	"greige/analyze/light"
	"greige/analyze/photo"
	"greige/analyze/piles"
	"greige/analyze/stash"
)

// BorderOptions are what Border takes. The zero value takes all of the photo
// for the print and chooses DefaultChoose centre fabrics.
type BorderOptions struct {
	Settings
	At         image.Rectangle // the part of the upright photo that is the print; empty: all of it
	Colours    int             // 0: found
	Choose     int             // how many centre fabrics, 1 to 20; 0: DefaultChoose
	Stash      []string        // photos and folders
	StashKnown []piles.Fabric  // the same, measured before
	Kept       *stash.Stash    // and those that are kept; may be nil
	// StashScraps is what the stash's photos show; "" means ScrapsAuto.
	StashScraps ScrapsMode
	border.Wishes
}

// DefaultChoose is how many centre fabrics are chosen where nothing is said.
const DefaultChoose = 4

// checked is opt with the defaults where it says nothing; the error says what
// is wrong with it and what to give.
func (opt BorderOptions) checked() (BorderOptions, error) {
	if opt.Choose == 0 {
		opt.Choose = DefaultChoose
	}
	switch {
	case opt.Colours < 0 || opt.Colours > 40:
		return opt, fmt.Errorf("the colours are 1 to 40, or 0 where they are to be found, not %d", opt.Colours)
	case opt.Choose < 1 || opt.Choose > 20:
		return opt, fmt.Errorf("the centre fabrics to choose are 1 to 20, not %d", opt.Choose)
	}
	var err error
	opt.Settings, err = opt.Settings.checked()
	return opt, err
}

// inkSide is the longest side, in pixels, of the copy of a print on which its
// inks are looked for. Most working pictures stay as they are: reducing one
// would blur its finest figures once more.
const inkSide = 2400

// Border draws the palette of the print in the photo at path, matches the
// stash to it and chooses centre fabrics. When the print cannot be measured
// the error is an *ErrNothing and the result holds the reason. When ctx ends,
// its error is returned, and nothing is left at work.
func Border(ctx context.Context, path string, opt BorderOptions) (*Result, error) {
	return (*Session)(nil).Border(ctx, Source{Name: path, Path: path}, opt)
}

// Border is the function Border over photos that s knows.
func (s *Session) Border(ctx context.Context, printed Source, opt BorderOptions) (*Result, error) {
	opt, err := opt.checked()
	if err != nil {
		return nil, err
	}
	opt.session = s
	r := &Result{Command: "border", Distance: opt.Distance, WidthCM: opt.WidthCM, WidthAssumed: opt.WidthCM == 0}
	var cloths []piles.Fabric
	var d *drawn
	var noStash, noPrint error
	readStash := func() {
		cloths, noStash = opt.stashOf(ctx, printed.Path, given{opt.Stash, opt.StashKnown, opt.Kept, opt.StashScraps}, r)
	}
	look := func() {
		noPrint = alone(ctx, func() (err error) { d, err = opt.draw(ctx, printed); return err })
	}
	if len(opt.Stash) == 0 {
		photo.Both(readStash, look)
	} else { // one after the other: no more photos are open at a time than Jobs says
		readStash()
		look()
	}
	if noStash != nil {
		return nil, noStash
	}
	if noPrint == nil {
		noPrint = alone(ctx, func() error { return opt.choose(ctx, printed, d, cloths, r) })
	}
	if noPrint != nil {
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		r.Skipped = append(r.Skipped, asSkipped(printed.Name, noPrint))
		return r, &ErrNothing{"the print could not be measured"}
	}
	return r, nil
}

// drawn is a print with its inks and pictures.
type drawn struct {
	record light.Record
	notes  []string
	inks   border.Inks
	sight  Sight
	strip  *cloth.Swatch
}

func (d *drawn) bytes() int64 {
	return squinted{d.sight.Views}.bytes() + int64(len(d.sight.Values)+len(d.sight.Inks.Of)+len(d.inks.Of))
}

// draw draws the print's palette.
func (opt BorderOptions) draw(ctx context.Context, printed Source) (*drawn, error) {
	sum, given, err := opt.known(printed)
	if err != nil {
		return nil, err
	}
	opt.Settings = opt.hold(given)
	if given.At != nil && opt.At.Empty() {
		opt.At = rectangleOf(*given.At)
	}
	key := fmt.Sprintf("print %s %q %v %v %d %g %g", sum, printed.Name, opt.Light, opt.At, opt.Colours, opt.WidthCM, opt.Distance)
	return remember(ctx, opt.session, key, func() (*drawn, error) { return opt.lookAt(ctx, printed, sum) })
}

// choose chooses from the stash for a print, into r.
func (opt BorderOptions) choose(ctx context.Context, printed Source, d *drawn, cloths []piles.Fabric, r *Result) error {
	for _, n := range d.notes {
		r.Notes = append(r.Notes, fmt.Sprintf("%s: %s", printed.Name, n))
	}
	b := border.Find(d.inks, cloths, opt.Choose, opt.Wishes)
	if err := narrow(ctx, &b, opt.Kept, r.bare); err != nil {
		return err
	}
	r.Border = &b
	r.Light = append([]light.Record{d.record}, r.Light...)
	r.Sights = []Sight{d.sight}
	r.PrintStrip = d.strip
	return nil
}

func (opt BorderOptions) lookAt(ctx context.Context, printed Source, sum string) (*drawn, error) {
	p, err := opt.session.read(ctx, printed, sum, opt.Limits)
	if err != nil {
		return nil, err
	}
	hint := light.OneCloth
	if !opt.At.Empty() {
		hint = light.Unknown
	}
	even, err := light.New(p, opt.lightOf(printed.Name), hint)
	if err != nil {
		return nil, err
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	region, err := opt.printRegion(even)
	if err != nil {
		return nil, err
	}
	picture, inside := printPicture(even, region)
	inks, of := cloth.MapInks(picture, inside, cloth.InkOptions{Count: opt.Colours, Fine: true})
	if len(inks) == 0 {
		return nil, fmt.Errorf("the card covers all of the print")
	}
	cloth.Render(inks, even)
	d := &drawn{record: even.Record, notes: p.Notes, inks: border.Inks{Colours: inks, W: picture.W, H: picture.H, Of: of}}
	photo.Both(func() { d.sight = opt.printSight(even, region, d.inks) }, func() { d.strip = printStrip(picture, inside) })
	return d, nil
}

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

// printSight is the print for the page, with where each ink lies. A card that
// lies on the print is shown too: it is in the photo.
func (opt BorderOptions) printSight(even *light.Even, region cloth.Region, at border.Inks) Sight {
	cm := opt.WidthCM
	if cm == 0 {
		cm = assumedPrintCM
	}
	p := even.Picture
	if region.Bounds != image.Rect(0, 0, p.W, p.H) {
		p = p.Crop(region.Bounds)
	}
	ppd := opt.viewScale(cm, float64(even.Picture.W))
	var inks []float64
	for _, k := range at.Colours {
		inks = append(inks, k.Lab.L)
	}
	s := Sight{Kind: PrintSight, Photo: even.Photo.Name, Views: showPicture(p, pageSide, ppd, piles.Cuts(inks, 3))}
	s.Inks = inkMap(at.W, at.H, at.Of)
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

// printStrip is the whole print, straight and with its length lying across: the
// rectangle along the main axis of what lies inside. inside is nil where the
// print fills the picture. nil when there is next to nothing of it.
func printStrip(p *photo.Picture, inside []bool) *cloth.Swatch {
	mx, my, tilt := float64(p.W)/2, float64(p.H)/2, 0.
	lo, hi := [2]float64{-mx, -my}, [2]float64{mx, my}
	if inside != nil {
		var ok bool
		if mx, my, tilt, ok = mainAxis(inside, p.W); !ok {
			return nil
		}
		lo, hi = extent(inside, p.W, mx, my, tilt)
	}
	if hi[1]-lo[1] > hi[0]-lo[0] { // its length stands upright: turn it
		tilt += math.Pi / 2
		lo, hi = [2]float64{lo[1], -hi[0]}, [2]float64{hi[1], -lo[0]}
	}
	w := min(int(hi[0]-lo[0]), 2*stripSide)
	if w < 8 || hi[1]-lo[1] < 8 {
		return nil
	}
	k := (hi[0] - lo[0]) / float64(w)
	sin, cos := math.Sincos(tilt)
	at := func(x, y int) (int, int) { // of the picture
		u, v := lo[0]+(float64(x)+.5)*k, lo[1]+(float64(y)+.5)*k
		return min(max(int(mx+u*cos-v*sin), 0), p.W-1), min(max(int(my+u*sin+v*cos), 0), p.H-1)
	}
	h := max(int((hi[1]-lo[1])/k), 1)
	from, to := withoutGaps(w, h, func(x, y int) bool {
		sx, sy := at(x, y)
		return inside == nil || inside[sy*p.W+sx]
	})
	q := photo.New(to-from, h)
	for y := range q.H {
		for x := range q.W {
			sx, sy := at(x+from, y)
			c := p.At(sx, sy)
			for i := range c {
				q.Pix[3*(y*q.W+x)+i] = float32(c[i])
			}
		}
	}
	return cloth.NewSwatch(q, nil, stripSide)
}

// withoutGaps is the longest run of columns, the last excluded, in which next to
// all is inside, so that no card shows in the print; all of them where that is
// less than two fifths of the print.
func withoutGaps(w, h int, inside func(x, y int) bool) (from, to int) {
	begin := 0
	for x := range w + 1 {
		whole := x < w
		if whole {
			n := 0
			for y := range h {
				if inside(x, y) {
					n++
				}
			}
			whole = 100*n >= 95*h
		}
		if !whole {
			if x-begin > to-from {
				from, to = begin, x
			}
			begin = x + 1
		}
	}
	if 5*(to-from) < 2*w {
		return 0, w
	}
	return from, to
}

// stripSide is the longer side, in pixels, of the print in the mock-up.
const stripSide = 560

// mainAxis is the centre of what lies inside a picture w wide, and the angle of
// its upper and lower edge against the horizontal, in radians: the median of the
// slopes of pieces of them (Sen 1968, J. Am. Stat. Assoc. 63:1379), which a card
// that lies on the print does not turn. Not ok where nothing is inside.
func mainAxis(inside []bool, w int) (mx, my, tilt float64, ok bool) {
	first, last := make([]int, w), make([]int, w)
	for x := range first {
		first[x] = -1
	}
	var count, across, down int // the sums of x and of y
	for y := range len(inside) / w {
		for x, in := range inside[y*w : (y+1)*w] {
			if !in {
				continue
			}
			count, across, down = count+1, across+x, down+y
			if first[x] < 0 {
				first[x] = y
			}
			last[x] = y
		}
	}
	if count == 0 {
		return 0, 0, 0, false
	}
	var slopes []float64
	for x := range w - w/4 {
		if to := x + w/4; first[x] >= 0 && first[to] >= 0 {
			slopes = append(slopes, float64(first[to]-first[x])/float64(w/4), float64(last[to]-last[x])/float64(w/4))
		}
	}
	if len(slopes) > 0 {
		slices.Sort(slopes)
		tilt = math.Atan(slopes[len(slopes)/2])
	}
	if math.Abs(tilt) > math.Pi/6 { // no edge that is meant to be level
		tilt = 0
	}
	return float64(across) / float64(count), float64(down) / float64(count), tilt, true
}

// extent is how far what lies inside reaches from its centre along an axis and
// across it, to a sixteenth of a pixel, but for the last hundredth at each end,
// which is ragged. The pixels are counted by where they lie: to sort them takes ten
// times as long.
func extent(inside []bool, w int, mx, my, tilt float64) (lo, hi [2]float64) {
	const parts = 16 // of a pixel
	h := len(inside) / w
	reach := math.Ceil(math.Hypot(float64(w), float64(h)))
	sin, cos := math.Sincos(tilt)
	var count [2][]int
	for k := range count {
		count[k] = make([]int, int(2*reach*parts)+1)
	}
	n := 0
	for y := range h {
		for x, in := range inside[y*w : (y+1)*w] {
			if !in {
				continue
			}
			dx, dy := float64(x)-mx, float64(y)-my
			count[0][int((dx*cos+dy*sin+reach)*parts)]++
			count[1][int((dy*cos-dx*sin+reach)*parts)]++
			n++
		}
	}
	for k, c := range count {
		at := func(i int) float64 { return (float64(i)+.5)/parts - reach }
		for i, sum := 0, 0; i < len(c); i++ {
			if sum += c[i]; sum > n/100 {
				lo[k] = at(i)
				break
			}
		}
		for i, sum := len(c)-1, 0; i >= 0; i-- {
			if sum += c[i]; sum > n/100 {
				hi[k] = at(i)
				break
			}
		}
	}
	return lo, hi
}
