package analyze

import (
	"context"
	"fmt"
	"math"
	"os"
	"slices"
	"strconv"

	"greige/analyze/cloth"
	"greige/analyze/light"
	"greige/analyze/photo"
	"greige/analyze/piles"
	"greige/analyze/scraps"
	"greige/colorspace"
)

// ScrapsMode is what the photos of a sort show (the flag --scraps).
type ScrapsMode string

const (
	ScrapsAuto ScrapsMode = "auto" // decided for each photo, and said
	ScrapsOne  ScrapsMode = "one"  // one cloth, edge to edge, or beside its card
	ScrapsMany ScrapsMode = "many" // scraps apart from each other on a plain ground
)

// SortOptions are what Sort takes.
type SortOptions struct {
	Settings
	Piles   int // 2 or 3
	Scraps  ScrapsMode
	PatchCM float64 // the size patches will be cut; 0: not asked

	// The page shows the photos of the cloths, so that they need no swatches.
	shown bool
}

// Sort measures every cloth in the photos and folders of inputs, ranks them
// by lightness and makes the piles. Photos that cannot be measured are in the
// result's Skipped. When none could, the error is an *ErrNothing and the
// result holds the reasons. When ctx ends, its error is returned.
func Sort(ctx context.Context, inputs []string, opt SortOptions) (*Result, error) {
	if err := opt.check(); err != nil {
		return nil, err
	}
	opt.shown = true
	r := &Result{Command: "sort", Distance: opt.Distance, WidthCM: opt.WidthCM, WidthAssumed: opt.WidthCM == 0}
	found, err := opt.stash(ctx, inputs, "", r)
	if err != nil {
		return nil, err
	}
	if len(found) == 0 {
		return r, &ErrNothing{"no cloth could be measured"}
	}
	r.Sort = piles.Sort(found, opt.Piles)
	if n := r.Sort.Otherwise(); n > 0 {
		r.Notes = append(r.Notes, otherPiles(r.Sort.OtherCuts, n))
	}
	r.Notes = append(r.Notes, opt.patchNotes(r.Sort.Fabrics)...)
	for i := range r.Sights {
		_ = r.Sights[i].FewValues(r.Sort.Cuts) // see showPicture
	}
	return r, nil
}

// otherPiles says where piles could be cut as well, and how many cloths would
// lie in another one.
func otherPiles(cuts []float64, moved int) string {
	says := fmt.Sprintf("Other piles would be about as natural: lights down to a lightness of %.0f", cuts[0])
	if len(cuts) > 1 {
		says += fmt.Sprintf(" and darks from %.0f down", cuts[1])
	}
	return says + fmt.Sprintf("; %d cloths would lie in another pile. Look at the cloths near the cuts and go by your eye.", moved)
}

// clothPhoto is what one photo of cloths gave.
type clothPhoto struct {
	fabrics []piles.Fabric
	record  light.Record // by itself: what points into an Even keeps its picture
	sight   *Sight
	notes   []string
	skipped *photo.Skipped
	// set numbers the photos, from 1, whose light has one colour, not known
	// yet and left out of the fabrics' doubt; 0: there is nothing to find.
	set int
}

// stash measures every cloth in the inputs, in their order, but not the photo
// except where it only lies in one of the folders, and numbers them from 1. What was skipped, the light and the pictures
// go to r.
func (opt SortOptions) stash(ctx context.Context, inputs []string, except string, r *Result) ([]piles.Fabric, error) {
	sources, skipped := photo.Gather(inputs)
	if !slices.ContainsFunc(inputs, func(in string) bool { return sameFile(in, except) }) {
		sources = slices.DeleteFunc(sources, func(s photo.Source) bool { return sameFile(s.Path, except) })
	}
	r.Skipped = append(r.Skipped, skipped...)
	return opt.cloths(ctx, sources, r)
}

// cloths is stash for photos that have been gathered.
func (opt SortOptions) cloths(ctx context.Context, sources []photo.Source, r *Result) ([]piles.Fabric, error) {
	opt.Limits.Spare = &photo.Spare{}
	footings := opt.footings(sources)
	got := make([]clothPhoto, len(sources))
	err := opt.each(ctx, len(sources), func(i int) {
		if err := guarded(func() { got[i] = opt.measurePhoto(ctx, sources[i], footings[i], sideAmong(len(sources))) }); err != nil {
			s := asSkipped(sources[i].Name, err)
			got[i] = clothPhoto{skipped: &s}
		}
	})
	if err != nil {
		return nil, err
	}
	shareLight(got)
	var found []piles.Fabric
	var notes []string
	for _, g := range got {
		if g.skipped != nil {
			r.Skipped = append(r.Skipped, *g.skipped)
			continue
		}
		r.Light = append(r.Light, g.record)
		for i := range g.fabrics {
			id := strconv.Itoa(len(found) + 1)
			if g.sight != nil {
				g.sight.Marks[i].ID = id
			}
			g.fabrics[i].ID = id
			found = append(found, g.fabrics[i])
		}
		if g.sight != nil {
			r.Sights = append(r.Sights, *g.sight)
		}
		for _, n := range g.notes {
			if !slices.Contains(notes, n) {
				notes = append(notes, n)
			}
		}
	}
	r.Notes = append(r.Notes, notes...)
	return found, nil
}

// sameFile tells whether two paths lead to one file that is there.
func sameFile(a, b string) bool {
	x, err := os.Stat(a)
	if err != nil {
		return false
	}
	y, err := os.Stat(b)
	return err == nil && os.SameFile(x, y)
}

// footings is how the exposures of the photos stand to each other, by the
// cameras' own records, where the light is to be evened out by whatever there
// is. Taken as they are (--light none), photos stand on one footing.
func (opt SortOptions) footings(sources []photo.Source) []light.Footing {
	if opt.Light.Mode == light.None {
		return make([]light.Footing, len(sources))
	}
	records := make([]photo.Record, len(sources))
	for i, src := range sources {
		records[i] = photo.RecordOf(src.Path, opt.Limits)
	}
	return light.Footings(records)
}

// measurePhoto reads one photo of cloth, evens its light and measures what is
// in it. Nothing of the photo is kept but the figures and small pictures, for
// which side is the longest side that a photo may have on the page.
func (opt SortOptions) measurePhoto(ctx context.Context, src photo.Source, footing light.Footing, side int) clothPhoto {
	fail := func(err error) clothPhoto {
		s := asSkipped(src.Name, err)
		return clothPhoto{skipped: &s}
	}
	how := scraps.How{Known: opt.Scraps == ScrapsMany}
	v, err := opt.lookAt(ctx, src, how, side)
	if err != nil {
		return fail(err)
	}
	if v.found.Small && v.even.Photo.FinerAt(photo.ForPatches) {
		// Of so many small ones time matters less than that none is missed.
		how.Closely = true
		if closer, err := opt.lookAt(ctx, src, how, side); err == nil && len(closer.found.Pieces) > 0 {
			opt.Limits.Spare.Keep(v.even.Photo.Picture)
			v = closer
		}
	}
	even, pieces, shown := v.even, v.found.Pieces, v.shown
	p := even.Photo
	defer opt.Limits.Spare.Keep(p.Picture)
	var g clothPhoto
	for _, n := range p.Notes {
		g.notes = append(g.notes, fmt.Sprintf("%s: %s", src.Name, n))
	}
	g.notes = append(g.notes, v.found.Notes...)
	switch {
	case opt.Scraps == ScrapsOne:
	case len(pieces) > 0:
		// Pieces were found: what they lie on may be trusted as a ground.
		even = even.As(light.ScrapsOnGround)
	case opt.Scraps == ScrapsMany:
		return fail(fmt.Errorf("no scraps could be found on a plain ground"))
	default:
		// One cloth edge to edge: its own evenness may now be used.
		even = even.As(light.OneCloth)
	}
	if opt.Light.Mode != light.None {
		even.Stand(footing)
	}
	if len(pieces) == 0 && footing.OneWhite && even.LeaveCast() {
		g.set = footing.Group
	}
	g.record = even.Record
	if len(pieces) == 0 {
		g = opt.oneCloth(g, even)
	} else {
		if shown.of != even.Picture { // its light has changed since
			shown = newPagePhoto(even.Picture, side)
		}
		g = opt.manyScraps(g, even, pieces, shown)
	}
	for i := range g.fabrics {
		if !even.LevelKnown {
			g.fabrics[i].Group = footing.Group
		}
		g.fabrics[i].AreaCM2 = areaCM2(g.fabrics[i].Outline, opt.WidthCM/float64(p.Width))
	}
	return g
}

// lookedAt is a photo of cloth in even light, and where the cloth lies in it.
type lookedAt struct {
	even  *light.Even
	found scraps.Found
	shown pagePhoto // as far as it is made
}

// lookAt opens a photo, evens its light and finds what is in it. side is as for
// measurePhoto.
func (opt SortOptions) lookAt(ctx context.Context, src photo.Source, how scraps.How, side int) (v lookedAt, err error) {
	limits := opt.Limits
	hint := light.Unknown
	switch {
	case opt.Scraps == ScrapsOne:
		limits.Detail, hint = photo.ForOneCloth, light.OneCloth
	case how.Closely:
		limits.Detail = photo.ForPatches
	default:
		limits.Detail = photo.ForPieces
	}
	if opt.Scraps == ScrapsMany {
		hint = light.ScrapsOnGround
	}
	p, err := photo.Open(ctx, src.Path, limits)
	if err != nil {
		return v, err
	}
	p.Name = src.Name
	// What lies in the photo is looked for in the light that it was taken in,
	// so that both can begin at once.
	var look *scraps.Look
	photo.Both(func() { v.even, err = light.New(p, opt.Light, hint) }, func() {
		if opt.Scraps != ScrapsOne && opt.Light.Card.Empty() {
			look = scraps.LookAt(p, how)
		}
	})
	if err != nil || opt.Scraps == ScrapsOne {
		return v, err
	}
	// Where there is a ground there will be pieces on it. Not all of looking
	// for them keeps two processors busy, so that the page's pictures are
	// made meanwhile, as far as they can be.
	photo.Both(func() { v.found = scraps.Find(v.even, look, how) }, func() {
		if v.even.Ground != nil && v.even.Is(light.ScrapsOnGround) { // else its light may change yet
			v.shown = newPagePhoto(v.even.Picture, side)
		}
	})
	return v, nil
}

// shareLight finds the colour of the light that photos of single cloths share,
// by all their cloths together, and takes it out of their figures: a mean of
// linear light can be corrected when it is measured, so that no photo has to
// be kept or read again.
func shareLight(got []clothPhoto) {
	cloths := map[int][]colorspace.Linear{}
	for _, g := range got {
		if g.set > 0 && g.skipped == nil {
			cloths[g.set] = append(cloths[g.set], g.fabrics[0].Lab.Linear())
		}
	}
	lights := map[int]light.SetLight{}
	for set, seen := range cloths {
		lights[set] = light.LightOfSet(seen)
	}
	for i := range got {
		g := &got[i]
		if g.set == 0 || g.skipped != nil {
			continue
		}
		l := lights[g.set]
		f := &g.fabrics[0]
		f.Cloth = f.Relit(l.Gain(), l.Doubt(relit(f.Lab.Linear(), l.Gain())))
		l.Tell(&g.record)
	}
}

// relit is light with each component multiplied.
func relit(c colorspace.Linear, gain [3]float64) colorspace.Linear {
	return colorspace.Linear{c[0] * gain[0], c[1] * gain[1], c[2] * gain[2]}
}

// oneCloth measures a photo that one cloth fills.
func (opt SortOptions) oneCloth(g clothPhoto, even *light.Even) clothPhoto {
	p := even.Photo
	cm := opt.WidthCM
	if cm == 0 {
		cm = AssumedCM
	}
	view := cloth.View{PixelsPerDegree: opt.viewScale(cm, float64(even.Picture.W))}
	c, ok := cloth.Measure(even, cloth.Whole(even.Picture.W, even.Picture.H), view)
	if !ok {
		return clothPhoto{skipped: &photo.Skipped{Photo: p.Name, Reason: "the card covers all of the photo", Hint: "check --card X,Y,W,H"}}
	}
	if !opt.patches(&c, even, cloth.Whole(even.Picture.W, even.Picture.H)) {
		g.notes = append(g.notes, fmt.Sprintf("%s: it shows too little of the cloth to tell how much patches cut %g cm square will differ.", p.Name, opt.PatchCM))
	}
	w, h := float64(p.Width), float64(p.Height)
	g.fabrics = []piles.Fabric{{
		Photo: p.Name, Scrap: 1, Cloth: c,
		Outline: [][2]float64{{0, 0}, {w, 0}, {w, h}, {0, h}},
	}}
	return g
}

// measured is what one piece of a table photo gave.
type measured struct {
	cloth.Cloth
	ok    bool // there was something of it to measure
	large bool // enough for what patches cut from it will differ by, where that is asked for
}

// manyScraps measures the pieces of a table photo, as many at a time as there
// are processors.
func (opt SortOptions) manyScraps(g clothPhoto, even *light.Even, pieces []scraps.Piece, shown pagePhoto) clothPhoto {
	p := even.Photo
	k := float64(max(p.Reduction, 1))
	ppd := opt.viewScale(opt.WidthCM, float64(even.Picture.W))
	if opt.WidthCM == 0 {
		sides := make([]float64, len(pieces))
		for i, s := range pieces {
			sides[i] = math.Sqrt(s.Region.Area())
		}
		slices.Sort(sides)
		ppd = opt.viewScale(AssumedCM, sides[len(sides)/2])
	}
	sight := &Sight{Kind: TableSight, Photo: p.Name}
	view := cloth.View{PixelsPerDegree: ppd, Shown: opt.shown && shown.fine()}
	cloths := make([]measured, len(pieces))
	meters := newMeters()
	// The squinted picture for the page is one more thing to do, and the longest.
	photo.Bands(len(pieces)+1, 1, func(from, to int) {
		for i := from; i < to; i++ {
			if i == 0 {
				sight.Views = shown.views(ppd)
				continue
			}
			m, region := &cloths[i-1], pieces[i-1].Region
			if m.Cloth, m.ok = meters.measure(even, region, view); m.ok {
				m.large = opt.patches(&m.Cloth, even, region)
			}
		}
	})
	small := 0
	for i, s := range pieces {
		m := &cloths[i]
		if !m.ok {
			continue
		}
		if !m.large && !s.Doubtful {
			small++
		}
		f := piles.Fabric{Photo: p.Name, Scrap: len(g.fabrics) + 1, Cloth: m.Cloth, Doubtful: s.Doubtful, Note: s.Note}
		if f.Swatch != nil {
			f.Swatch.Shape = s.Region.Shape(s.Outline, even.Ignore)
		}
		mark := Mark{}
		for _, q := range s.Outline {
			f.Outline = append(f.Outline, [2]float64{round2(q[0] * k), round2(q[1] * k)})
			mark.Outline = append(mark.Outline, [2]float64{q[0] / float64(even.Picture.W), q[1] / float64(even.Picture.H)})
		}
		g.fabrics = append(g.fabrics, f)
		sight.Marks = append(sight.Marks, mark)
	}
	if small > 0 {
		g.notes = append(g.notes, fmt.Sprintf("%s: %d of its pieces are too small to tell how much patches cut %g cm square will differ.", p.Name, small, opt.PatchCM))
	}
	g.sight = sight
	return g
}

// patches measures how much patches cut from c will differ, where that is
// asked for and the scale is known. It is false where the piece is too small
// to tell.
func (opt SortOptions) patches(c *cloth.Cloth, even *light.Even, region cloth.Region) bool {
	if opt.PatchCM <= 0 || opt.WidthCM <= 0 {
		return true
	}
	side := cloth.Finished(opt.PatchCM) * float64(even.Picture.W) / opt.WidthCM
	spread, ok := cloth.PatchSpread(even, region, side)
	if ok {
		c.PatchSpread = &spread
	}
	return ok
}

// patchNotes says which cloths' patches will differ so that it shows: by more
// than the just noticeable difference (Mahy and others 1994: 2.3 CIELAB).
func (opt SortOptions) patchNotes(fabrics []piles.Fabric) []string {
	if opt.PatchCM <= 0 {
		return nil
	}
	if opt.WidthCM <= 0 {
		return []string{"To tell how much patches will differ, the photo's scale has to be known: give the width of what it shows with --width CM."}
	}
	const seen = 2.3
	var notes []string
	for _, f := range fabrics {
		if f.PatchSpread != nil && *f.PatchSpread >= seen && !f.Doubtful {
			notes = append(notes, fmt.Sprintf("Cut %g cm square, patches of number %s will differ among themselves: nineteen in twenty within %.0f L* of its %.0f. Sort them again once they are cut.",
				opt.PatchCM, f.ID, 1.96**f.PatchSpread, f.Lightness))
		}
	}
	return notes
}

// areaCM2 is the area inside an outline in pixels of cm each (the shoelace
// formula), to a tenth; 0 where cm is 0.
func areaCM2(outline [][2]float64, cm float64) float64 {
	twice := 0.0
	for i, p := range outline {
		q := outline[(i+1)%len(outline)]
		twice += p[0]*q[1] - q[0]*p[1]
	}
	return math.Round(math.Abs(twice)/2*cm*cm*10) / 10
}

// round2 keeps two places: a hundredth of a pixel.
func round2(v float64) float64 { return math.Round(v*100) / 100 }
