package analyze

import (
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"fmt"
	"image"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync/atomic"

	"greige/analyze/cloth"
	"greige/analyze/eye"
	"greige/analyze/light"
	"greige/analyze/numerals"
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

// SortOptions are what Sort takes. The zero value sorts into three piles.
type SortOptions struct {
	Settings
	Piles   int        // 2 or 3; 0: 3
	Scraps  ScrapsMode // "": ScrapsAuto
	PatchCM float64    // the size patches will be cut; 0: not asked
	Numbers Numbers    // what is put right by number

	// The page shows the photos of the cloths, so that they need no swatches.
	shown bool
}

// checked is opt with the defaults where it says nothing; the error says what
// is wrong with it and what to give.
func (opt SortOptions) checked() (SortOptions, error) {
	if opt.Piles == 0 {
		opt.Piles = 3
	}
	if opt.Scraps == "" {
		opt.Scraps = ScrapsAuto
	}
	switch {
	case opt.Piles != 2 && opt.Piles != 3:
		return opt, fmt.Errorf("the piles are 2 or 3, not %d", opt.Piles)
	case opt.Scraps != ScrapsAuto && opt.Scraps != ScrapsOne && opt.Scraps != ScrapsMany:
		return opt, fmt.Errorf("the scraps are auto, one or many, not %q", string(opt.Scraps))
	case !(opt.PatchCM >= 0 && opt.PatchCM <= 1000):
		return opt, fmt.Errorf("the patches are cut in centimetres, above 0 and up to 1000, or 0 where that is not asked, not %g", opt.PatchCM)
	}
	var err error
	opt.Settings, err = opt.Settings.checked()
	return opt, err
}

// Sort measures every cloth in the photos and folders of inputs, ranks them
// by lightness and makes the piles. Photos that cannot be measured are in the
// result's Skipped. When none could, the error is an *ErrNothing and the
// result holds the reasons. When ctx ends, its error is returned, and nothing
// is left at work.
func Sort(ctx context.Context, inputs []string, opt SortOptions) (*Result, error) {
	return (*Session)(nil).Sort(ctx, inputs, opt)
}

// SortPhotos is Sort for photos that need not be files.
func SortPhotos(ctx context.Context, photos []Source, opt SortOptions) (*Result, error) {
	return (*Session)(nil).SortPhotos(ctx, photos, opt)
}

// Sort is the function Sort over photos that s knows.
func (s *Session) Sort(ctx context.Context, inputs []string, opt SortOptions) (*Result, error) {
	sources, skipped := photo.Gather(inputs)
	sources, same := distinct(sources, opt.Limits)
	same = append(givenTwice(inputs), same...)
	r, err := s.sort(ctx, sources, skipped, opt)
	if r != nil {
		r.Notes = append(r.Notes, same...)
	}
	return r, err
}

// SortPhotos is the function SortPhotos over photos that s knows.
func (s *Session) SortPhotos(ctx context.Context, photos []Source, opt SortOptions) (*Result, error) {
	return s.sort(ctx, photos, nil, opt)
}

func (s *Session) sort(ctx context.Context, sources []Source, skipped []photo.Skipped, opt SortOptions) (*Result, error) {
	opt, err := opt.checked()
	if err != nil {
		return nil, err
	}
	opt.session, opt.shown = s, true
	if opt.Numbers.empty() {
		return opt.sort(ctx, sources, skipped)
	}
	// The numbers are those of what is found without them. It is measured once.
	if opt.session == nil {
		opt.session = NewSession(0)
	}
	plain := opt
	plain.Numbers = Numbers{}
	r, err := plain.sort(ctx, sources, skipped)
	if err != nil {
		return r, err
	}
	sums := map[string]string{}
	for _, src := range sources {
		if sums[src.Name], err = opt.session.sum(src, opt.Limits); err != nil {
			continue // it was skipped
		}
	}
	if plain.Corrections, err = r.corrected(opt.Corrections, opt.Numbers, sums); err != nil {
		return nil, err
	}
	plain.Progress = nil // it was told already
	return plain.sort(ctx, sources, skipped)
}

func (opt SortOptions) sort(ctx context.Context, sources []Source, skipped []photo.Skipped) (*Result, error) {
	r := &Result{Command: "sort", Distance: opt.Distance, WidthCM: opt.WidthCM, WidthAssumed: opt.WidthCM == 0}
	r.Skipped = append(r.Skipped, skipped...)
	found, err := opt.cloths(ctx, sources, r)
	if err != nil {
		return nil, err
	}
	if len(found) == 0 {
		return r, &ErrNothing{"no cloth could be measured"}
	}
	r.Sort = piles.Sort(found, opt.Piles)
	if moved := r.Sort.Otherwise(); len(moved) > 0 {
		r.Notes = append(r.Notes, otherPiles(r.Sort.OtherCuts, moved))
	}
	r.Notes = append(r.Notes, opt.patchNotes(r.Sort.Fabrics)...)
	for i := range r.Sights {
		_ = r.Sights[i].FewValues(r.Sort.Cuts) // see showPicture
	}
	return r, nil
}

// movedNamed is how many cloths are named in a sentence at most.
const movedNamed = 5

// otherPiles says where piles could be cut as well, and which cloths would lie
// in another one.
func otherPiles(cuts []float64, moved []string) string {
	says := fmt.Sprintf("Other piles would be about as natural: lights down to a lightness of %.0f", cuts[0])
	if len(cuts) > 1 {
		says += fmt.Sprintf(" and darks from %.0f down", cuts[1])
	}
	which := strings.Join(moved[:min(len(moved), movedNamed)], ", ")
	if more := len(moved) - movedNamed; more > 0 {
		which += " and " + numerals.InWords(more) + " more"
	} else if at := strings.LastIndex(which, ", "); at >= 0 {
		which = which[:at] + " and " + which[at+2:]
	}
	return says + "; then numbers " + which + " would lie in another pile. Look at them and go by your eye."
}

// clothPhoto is what one photo of cloths gave.
type clothPhoto struct {
	fabrics []piles.Fabric
	numbers []int        // of the fabrics, as they were found in the photo; 0: not found
	found   int          // how many were found, of which some may be put down as no cloth
	cloths  int          // how many of these were taken for cloth: they have the lower numbers
	record  light.Record // by itself: what points into an Even keeps its picture
	sight   *Sight
	notes   []string
	skipped *photo.Skipped
	// set numbers the photos, from 1, whose light has one colour, not known
	// yet and left out of the fabrics' doubt; 0: there is nothing to find.
	set int
	// shows is what the photo was taken to show; paper is by what its light was
	// multiplied so that a sheet of paper that was found in it came out white,
	// 0 where none was.
	shows shows
	paper float64
	// given: what it shows was put right by hand.
	given bool
	// adrift: nothing tells how light its cloths are against those of other photos.
	adrift bool
}

// stash measures every cloth in the inputs, in their order, but not the photo
// except where it only lies in one of the folders, and numbers them from 1.
// What was skipped, the light and the pictures go to r.
func (opt SortOptions) stash(ctx context.Context, inputs []string, except string, r *Result) ([]piles.Fabric, error) {
	sources, skipped := photo.Gather(inputs)
	if !slices.ContainsFunc(inputs, func(in string) bool { return sameFile(in, except) }) {
		sources = slices.DeleteFunc(sources, func(s Source) bool { return sameFile(s.Path, except) })
	}
	r.Skipped = append(r.Skipped, skipped...)
	sources, same := distinct(sources, opt.Limits)
	r.Notes = append(r.Notes, givenTwice(inputs)...)
	r.Notes = append(r.Notes, same...)
	return opt.cloths(ctx, sources, r)
}

// cloths measures every cloth in the photos, in their order, and numbers them
// from 1: first what was found, so that what is put right moves no number, then
// what was not found but given. The rest goes to r.
func (opt SortOptions) cloths(ctx context.Context, sources []Source, r *Result) ([]piles.Fabric, error) {
	if opt.session == nil {
		opt.Limits.Spare = &photo.Spare{}
	}
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
	differ, err := opt.agree(ctx, sources, footings, got)
	if err != nil {
		return nil, err
	}
	r.Notes = append(r.Notes, differ...)
	if n := needs(got); n != "" {
		r.Notes = append(r.Notes, n)
	}
	shareLight(got)
	number(got)
	var found []piles.Fabric
	var notes []string
	for _, g := range got {
		if g.skipped != nil {
			r.Skipped = append(r.Skipped, *g.skipped)
			continue
		}
		r.Light = append(r.Light, g.record)
		found = append(found, g.fabrics...)
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
	slices.SortStableFunc(found, func(a, b piles.Fabric) int {
		return cmp.Or(cmp.Compare(len(a.ID), len(b.ID)), cmp.Compare(a.ID, b.ID))
	})
	return found, nil
}

// number gives the fabrics of all photos their ids: the cloths of all photos in
// their order, then what may be no cloth, then what was not found but given.
func number(got []clothPhoto) {
	name := func(g *clothPhoto, i, n int) {
		g.fabrics[i].ID = strconv.Itoa(n)
		if g.sight != nil {
			g.sight.Marks[i].ID = g.fabrics[i].ID
		}
	}
	next := 1
	for _, cloths := range []bool{true, false} { // of all photos, what may be no cloth comes last
		for p := range got {
			g := &got[p]
			from, to := 0, g.cloths
			if !cloths {
				from, to = g.cloths, g.found
			}
			for i, n := range g.numbers {
				if n > from && n <= to {
					name(g, i, next+n-1-from)
				}
			}
			next += to - from
		}
	}
	for p := range got {
		for i, n := range got[p].numbers {
			if n == 0 {
				name(&got[p], i, next)
				next++
			}
		}
	}
}

// givenTwice says which files are named twice among the inputs, which counts once.
func givenTwice(inputs []string) (notes []string) {
	times := map[string]int{}
	for _, in := range inputs {
		path := filepath.Clean(in)
		if times[path]++; times[path] != 2 {
			continue
		}
		if info, err := os.Stat(in); err == nil && !info.IsDir() {
			notes = append(notes, fmt.Sprintf("%q is given twice: it was measured once", in))
		}
	}
	return notes
}

// distinct leaves out photos that are byte for byte the same as one before them,
// and says so. Only files of one size are read for it.
func distinct(sources []Source, lim photo.Limits) (kept []Source, notes []string) {
	bySize := map[int64][]Source{}
	sums := map[string]string{} // by name
	sum := func(s Source) string {
		if _, ok := sums[s.Name]; !ok {
			sums[s.Name], _ = s.Sum(lim) // what cannot be read is said when it is measured
		}
		return sums[s.Name]
	}
	for _, s := range sources {
		info, err := os.Stat(s.Path)
		if s.Reader != nil || err != nil {
			kept = append(kept, s)
			continue
		}
		same := bySize[info.Size()]
		at := slices.IndexFunc(same, func(o Source) bool { return sum(o) != "" && sum(o) == sum(s) })
		if at >= 0 {
			notes = append(notes, fmt.Sprintf("%q is the same photo as %q: it was measured once", s.Name, same[at].Name))
			continue
		}
		bySize[info.Size()] = append(same, s)
		kept = append(kept, s)
	}
	return kept, notes
}

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
func (opt SortOptions) footings(sources []Source) []light.Exposure {
	if opt.Light.Mode == light.None {
		return make([]light.Exposure, len(sources))
	}
	records := make([]photo.Record, len(sources))
	for i, src := range sources {
		records[i] = photo.RecordOf(src, opt.Limits)
	}
	return light.Exposures(records)
}

// clothJob is one photo of cloths to be measured, with the options as they hold
// for it.
type clothJob struct {
	SortOptions
	src     Source
	sum     string           // "" where nobody asks for it
	given   PhotoCorrections // what was put right
	kind    ScrapsMode       // what it shows, as given
	footing light.Exposure
	side    int    // the longest side that it may have on the page
	key     string // of what the session keeps of it
}

// measurePhoto reads one photo of cloth, evens its light and measures what is
// in it. Without a session nothing of the photo is kept but the figures and
// small pictures, for which side is the longest side that a photo may have on
// the page.
func (opt SortOptions) measurePhoto(ctx context.Context, src Source, footing light.Exposure, side int) clothPhoto {
	j := clothJob{SortOptions: opt, src: src, kind: opt.Scraps, footing: footing, side: side}
	var err error
	if j.sum, j.given, err = opt.known(src); err == nil {
		j.Settings = opt.hold(j.given)
		if j.given.Scraps != "" {
			j.kind = j.given.Scraps
		}
		j.key = fmt.Sprintf("%s %q %s %s %v", j.sum, src.Name, opt.Scraps, j.kind, j.Light)
		var g clothPhoto
		if g, err = j.measure(ctx); err == nil {
			return g
		}
	}
	s := asSkipped(src.Name, err)
	return clothPhoto{skipped: &s}
}

func (j *clothJob) measure(ctx context.Context) (g clothPhoto, err error) {
	v, err := remember(ctx, j.session, fmt.Sprintf("look %s %d", j.key, j.side), func() (*lookedAt, error) { return j.look(ctx) })
	if err != nil {
		return g, err
	}
	p := v.photo
	defer j.letGo(p)
	g.given = j.given.Scraps != "" || len(j.given.Pieces) > 0
	g.shows.score = v.found.Score
	for _, n := range slices.Concat(p.Notes, nature(p, len(j.Light.Cards) > 0)) {
		g.notes = append(g.notes, fmt.Sprintf("%s: %s", j.src.Name, n))
	}
	g.notes = append(g.notes, v.found.Notes...)
	pieces, numbers, cloths := putRight(v.found.Pieces, j.given.Pieces, p, v.ignore)
	// What the photo is known to show now.
	hint := light.OneCloth
	switch {
	case j.kind == ScrapsOne && len(j.given.Pieces) == 0:
	case len(pieces) > 0:
		// Pieces were found: what they lie on may be trusted as a ground.
		hint = light.ScrapsOnGround
	case len(v.found.Pieces) > 0 || len(j.given.Pieces) > 0:
		return g, &photo.Error{Skipped: photo.Skipped{Reason: "all that was found in it is put down as no cloth", Hint: "leave the photo out, or put right what is cloth"}}
	case j.kind == ScrapsMany:
		return g, errors.New("no scraps could be found on a plain ground")
	}
	settled, err := j.settle(ctx, v, hint)
	if err != nil {
		return g, err
	}
	even := settled.Even
	if hint == light.OneCloth {
		g.set = settled.set
	}
	g.record, g.paper = even.Record, even.PaperGain()
	g.adrift = !even.LevelKnown && !j.footing.Known && j.Light.Mode != light.None
	if hint == light.OneCloth {
		if g, err = j.oneCloth(ctx, g, settled); err != nil {
			return g, err
		}
	} else {
		g.found, g.cloths = numbers, cloths
		g = j.manyScraps(ctx, g, settled, pieces, v.shown)
		g.shows.pieces = counted(g.fabrics)
	}
	if err := tooLight(j.Light, g.fabrics); err != nil {
		return g, err
	}
	for i := range g.fabrics {
		if !even.LevelKnown {
			g.fabrics[i].Group = j.footing.Group
		}
		g.fabrics[i].AreaCM2 = areaCM2(&g.fabrics[i], j.WidthCM/float64(p.Width))
	}
	return g, nil
}

// tooLight is the error of a card that makes cloth lighter than white; nil where
// it does not, or where there is no card.
func tooLight(opt light.Options, fabrics []piles.Fabric) error {
	for _, f := range fabrics {
		if f.TooLight && !f.Doubtful && len(opt.Cards) > 0 && opt.Mode != light.None {
			return cardTooDark("one of its cloths")
		}
	}
	return nil
}

// cardTooDark says that the card makes something lighter than white.
func cardTooDark(what string) error {
	return fmt.Errorf("by the card, %s would be lighter than white: what lies at the card's place is darker than the card is said to be; check its place and its lightness (white paper 95, an 18 %% grey card 49.5)", what)
}

// letGo lends the memory of a working picture that nobody looks at any more.
func (j *clothJob) letGo(p *photo.Photo) {
	if j.session == nil {
		j.Limits.Spare.Keep(p.Picture)
	}
}

// lookedAt is a photo of cloth, and where the cloth lies in it.
type lookedAt struct {
	photo  *photo.Photo
	even   atomic.Pointer[light.Even] // in the light that it was looked at in; taken by whoever comes first
	ignore []image.Rectangle          // what is known to be no cloth, in working pixels
	found  scraps.Found
	shown  pagePhoto // as far as it is made
}

func (v *lookedAt) bytes() int64 {
	n := pictureBytes(v.photo.Picture) // of the even one, till it is taken; the photo's own counts for itself
	if v.shown.small != nil {
		n += pictureBytes(v.shown.small)
	}
	for _, s := range v.found.Pieces {
		n += int64(4*len(s.Region.Weight) + 16*len(s.Outline))
	}
	return n
}

// look opens the photo, evens its light and finds what is in it; where the
// pieces are small, once more and closely.
func (j *clothJob) look(ctx context.Context) (*lookedAt, error) {
	how := scraps.How{Known: j.kind == ScrapsMany, Look: j.watch(j.src.Name)}
	v, err := j.lookAt(ctx, how)
	if err != nil {
		return nil, err
	}
	if v.found.Small && v.photo.FinerAt(photo.ForPatches) {
		// Of so many small ones time matters less than that none is missed.
		how.Closely = true
		if closer, err := j.lookAt(ctx, how); err == nil && len(closer.found.Pieces) > 0 {
			j.letGo(v.photo)
			v = closer
		}
	}
	return v, ctx.Err()
}

// lookAt opens the photo, evens its light and finds what is in it. How fine
// the picture is goes by what was said of all photos: a photo that was put right
// is not decoded again.
func (j *clothJob) lookAt(ctx context.Context, how scraps.How) (*lookedAt, error) {
	limits := j.Limits
	switch {
	case j.Scraps == ScrapsOne:
		limits.Detail = photo.ForOneCloth
	case how.Closely:
		limits.Detail = photo.ForPatches
	default:
		limits.Detail = photo.ForPieces
	}
	p, err := j.session.read(ctx, j.src, j.sum, limits)
	if err != nil {
		return nil, err
	}
	v := &lookedAt{photo: p}
	// What lies in the photo is looked for in the light that it was taken in,
	// so that both can begin at once.
	var look *scraps.Look
	var seen *light.Observation
	photo.Both(func() { seen, err = light.Observe(p, j.lightOf(j.src.Name)) }, func() {
		if j.kind != ScrapsOne && len(j.Light.Cards) == 0 {
			look = scraps.LookAt(p, how)
		}
	})
	if err == nil {
		err = ctx.Err()
	}
	if err != nil {
		return nil, err
	}
	hint := j.first()
	if look != nil && look.OneCloth() {
		hint = light.OneCloth
	}
	// Not all of looking for pieces keeps two processors busy, so that the light is
	// evened out and the page's pictures are made meanwhile, as far as they can be:
	// where there is a ground there will be pieces on it.
	var found scraps.Found
	var even *light.Even
	photo.Both(func() {
		if look != nil {
			found = look.Find()
		}
	}, func() {
		even = seen.Fit(hint).Apply()
		if j.kind != ScrapsOne && even.Ground != nil && even.Is(light.ScrapsOnGround) { // else its light may change yet
			v.shown = newPagePhoto(even.Picture, j.side)
		}
	})
	v.even.Store(even)
	v.ignore = even.Ignore
	if j.kind == ScrapsOne {
		return v, nil
	}
	if look == nil {
		found = scraps.Find(even, how)
	}
	v.found = found.With(keepPlainCloths(found.Pieces, even.Picture))
	return v, nil
}

// first is what is known of the photo before anything is found in it.
func (j *clothJob) first() light.Hint {
	switch j.kind {
	case ScrapsOne:
		return light.OneCloth
	case ScrapsMany:
		return light.ScrapsOnGround
	}
	return light.Unknown
}

// settled is a photo in its final light.
type settled struct {
	*light.Even
	key string // of what the session keeps of it
	set int    // see clothPhoto
}

func (s settled) bytes() int64 { return pictureBytes(s.Picture) }

// settle evens out the photo's light for good, now that it is known what it
// shows. What it was looked at in is let go, so that its picture is not kept beside.
func (j *clothJob) settle(ctx context.Context, v *lookedAt, hint light.Hint) (settled, error) {
	key := fmt.Sprintf("even %s %d %s %v", j.key, v.photo.Reduction, hint, j.footing)
	return remember(ctx, j.session, key, func() (settled, error) {
		even := v.even.Swap(nil)
		if even == nil {
			var err error
			if even, err = light.New(v.photo, j.lightOf(j.src.Name), j.first()); err != nil {
				return settled{}, err
			}
		}
		s := settled{Even: even.As(hint), key: key}
		s.Even = s.Stand(j.footing)
		if hint == light.OneCloth && j.footing.OneWhite {
			if without, ok := s.WithoutCast(); ok {
				s.Even, s.set = without, j.footing.Group
			}
		}
		return s, nil
	})
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

func relit(c colorspace.Linear, gain [3]float64) colorspace.Linear {
	return colorspace.Linear{c[0] * gain[0], c[1] * gain[1], c[2] * gain[2]}
}

func (j *clothJob) oneCloth(ctx context.Context, g clothPhoto, s settled) (clothPhoto, error) {
	p, even := s.Photo, s.Even
	cm := j.WidthCM
	if cm == 0 {
		cm = AssumedCM
	}
	view := cloth.View{PixelsPerDegree: j.viewScale(cm, float64(even.Picture.W))}
	whole := cloth.Whole(even.Picture.W, even.Picture.H)
	m, _ := remember(ctx, j.session, fmt.Sprintf("piece %s %v %g %g", s.key, view, j.PatchCM, j.WidthCM), func() (m measured, err error) {
		if m.Cloth, m.ok = cloth.Measure(even, whole, view); m.ok {
			m.large = j.patches(&m.Cloth, even, whole)
		}
		return m, nil
	})
	if !m.ok {
		return g, &photo.Error{Skipped: photo.Skipped{Photo: p.Name, Reason: "the card covers all of the photo", Hint: "check --card X,Y,W,H"}}
	}
	if !m.large {
		g.notes = append(g.notes, fmt.Sprintf("%s: it shows too little of the cloth to tell how much patches cut %g cm square will differ.", p.Name, j.PatchCM))
	}
	w, h := float64(p.Width), float64(p.Height)
	g.fabrics = []piles.Fabric{{
		Photo: p.Name, Scrap: 1, Cloth: m.Cloth,
		Outline: [][2]float64{{0, 0}, {w, 0}, {w, h}, {0, h}},
	}}
	g.numbers, g.found, g.cloths = []int{1}, 1, 1
	return g, nil
}

// measured is what one piece of a table photo gave.
type measured struct {
	cloth.Cloth
	ok    bool // there was something of it to measure
	large bool // enough for what patches cut from it will differ by, where that is asked for
}

func (m measured) bytes() int64 {
	n := 1024 // figures and colours
	if m.Swatch != nil {
		n += len(m.Swatch.Colour) + len(m.Swatch.Grey)
	}
	return int64(n)
}

// squinted is a page's photo with its views, of which Values is none.
type squinted struct{ eye.Views }

func (s squinted) bytes() int64 { return int64(len(s.Colour) + len(s.Grey) + len(s.Squint)) }

// manyScraps measures the pieces of a table photo, as many at a time as there
// are processors.
func (j *clothJob) manyScraps(ctx context.Context, g clothPhoto, s settled, pieces []piece, shown pagePhoto) clothPhoto {
	even, p := s.Even, s.Photo
	ppd := j.piecesScale(even, pieces)
	sight := &Sight{Kind: TableSight, Photo: p.Name}
	fine := fineAt(even.Picture, j.side)
	view := cloth.View{PixelsPerDegree: ppd, Shown: j.shown && fine}
	cloths := make([]measured, len(pieces))
	meters := newMeters()
	// The squinted picture for the page is one more thing to do, and the longest.
	photo.Bands(len(pieces)+1, 1, func(from, to int) {
		for i := from; i < to; i++ {
			if i == 0 {
				views, _ := remember(ctx, j.session, fmt.Sprintf("views %s %d %g", s.key, j.side, ppd), func() (squinted, error) {
					if shown.of != even.Picture { // its light has changed since
						shown = newPagePhoto(even.Picture, j.side)
					}
					return squinted{shown.views(ppd)}, nil
				})
				sight.Views = views.Views
				continue
			}
			region := pieces[i-1].Region
			key := fmt.Sprintf("piece %s %v %g %g %x", s.key, view, j.PatchCM, j.WidthCM, regionSum(j.session, region))
			cloths[i-1], _ = remember(ctx, j.session, key, func() (m measured, err error) {
				if m.Cloth, m.ok = meters.measure(even, region, view); m.ok {
					m.large = j.patches(&m.Cloth, even, region)
				}
				return m, nil
			})
		}
	})
	g.sight = sight
	return j.collect(g, even, pieces, cloths)
}

// piecesScale is the pixels of the working picture to a degree of sight.
func (opt SortOptions) piecesScale(even *light.Even, pieces []piece) float64 {
	if opt.WidthCM > 0 {
		return opt.viewScale(opt.WidthCM, float64(even.Picture.W))
	}
	sides := make([]float64, len(pieces))
	for i, s := range pieces {
		sides[i] = math.Sqrt(s.Region.Area())
	}
	slices.Sort(sides)
	return opt.viewScale(AssumedCM, sides[len(sides)/2])
}

// regionSum tells regions apart, for a session.
func regionSum(s *Session, r cloth.Region) []byte {
	if s == nil {
		return nil
	}
	h := sha256.New()
	fmt.Fprint(h, r.Bounds)
	row := make([]byte, 4*r.Bounds.Dx())
	for y := 0; r.Weight != nil && y < r.Bounds.Dy(); y++ {
		for x, w := range r.Weight[y*r.Bounds.Dx() : (y+1)*r.Bounds.Dx()] {
			binary.LittleEndian.PutUint32(row[4*x:], math.Float32bits(w))
		}
		h.Write(row)
	}
	return h.Sum(nil)
}

// collect turns what was measured of the pieces into fabrics and marks.
func (opt SortOptions) collect(g clothPhoto, even *light.Even, pieces []piece, cloths []measured) clothPhoto {
	p := even.Photo
	k := float64(max(p.Reduction, 1))
	small, next := 0, g.found
	for i, s := range pieces {
		m := &cloths[i]
		if !m.ok {
			continue
		}
		if !m.large && !s.Doubtful {
			small++
		}
		f := piles.Fabric{Photo: p.Name, Scrap: s.number, Cloth: m.Cloth, Doubtful: s.Doubtful, Note: s.Note, Given: s.given}
		if s.number == 0 {
			next++
			f.Scrap = next
		}
		if f.Swatch != nil {
			swatch := *f.Swatch // a session may keep the other
			swatch.Shape = s.Region.Shape(s.Outline, even.Ignore)
			f.Swatch = &swatch
		}
		f.Outline = enlarged(s.Outline, k)
		mark := Mark{Outline: divided(s.Outline, float64(even.Picture.W), float64(even.Picture.H))}
		for _, hole := range s.Holes {
			f.Holes = append(f.Holes, enlarged(hole, k))
		}
		g.fabrics, g.numbers = append(g.fabrics, f), append(g.numbers, s.number)
		g.sight.Marks = append(g.sight.Marks, mark)
	}
	if small > 0 {
		g.notes = append(g.notes, fmt.Sprintf("%s: %s too small to tell how much patches cut %g cm square will differ.", p.Name, numerals.Some(small, "of its pieces is", "of its pieces are"), opt.PatchCM))
	}
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

// areaCM2 is the area of a cloth whose outline is in pixels of cm each, its holes
// left out, to a tenth; 0 where cm is 0.
func areaCM2(f *piles.Fabric, cm float64) float64 {
	pixels := area(f.Outline)
	for _, h := range f.Holes {
		pixels -= area(h)
	}
	return math.Round(max(pixels, 0)*cm*cm*10) / 10
}

// round2 keeps two places: a hundredth of a pixel.
func round2(v float64) float64 { return math.Round(v*100) / 100 }
