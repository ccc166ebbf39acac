// Package teach learns what one camera does to light and dark from photos that were
// taken for it: of known greys, of the 24-patch chart, or of one still scene at three
// or more exposures. Photos come in; a camera.Learned comes out for each camera that
// their records name, or a reason why a photo teaches nothing.
package teach

import (
	"context"
	"errors"
	"fmt"
	"os"
	"slices"
	"strings"

	"greige/analyze/camera"
	"greige/analyze/grid"
	"greige/analyze/light"
	"greige/analyze/photo"
)

// Options say what the photos show.
type Options struct {
	// Cards are two or more neutral cards of known lightness, in every photo.
	Cards []light.Card
	// Corners are the outer corners of a 24-patch chart's patches in pixels of the
	// upright photo, clockwise from any of them, in every photo; nil: found.
	Corners []grid.Point
	// Name is what a new camera is to be called; "": by its record.
	Name   string
	Limits photo.Limits
}

// Outcome is what became of one camera.
type Outcome struct {
	Kept *camera.Kept // nil where nothing is to be kept
	// Photos are those that taught it now, Gain by how much the interval of its tone
	// curve is narrower beside a white card than that of a camera of which nothing is
	// known (camera.Learned.Gain).
	Photos []camera.Taught
	Gain   float64
	By     camera.Identity
}

// Useless tells that photos were understood, but that they make the program no surer.
func (o *Outcome) Useless() bool { return o.Kept == nil }

// ErrInTheWay says that a file which cannot be used has the camera's name.
var ErrInTheWay = errors.New("a file of that name is there and cannot be used, so nothing was written over it")

// Keep writes what was learned into the folder of the learned cameras; shelf is what
// was read from there. The error is ErrInTheWay or the system's.
func (o *Outcome) Keep(folder string, shelf *camera.Shelf) error {
	if _, err := os.Lstat(o.Kept.Path(folder)); err == nil && shelf.Named(o.Kept.Name) == nil {
		return ErrInTheWay
	}
	return o.Kept.Write(folder)
}

// Surer is by how much the greys of the camera's photos are surer beside a white card
// than those of a camera of which nothing was learned, in percent.
func (o *Outcome) Surer() float64 { return 100 * (1 - o.Gain) }

// lesson is what photos of one camera tell.
type lesson struct {
	by     camera.Identity
	photos []camera.Taught
	names  []string
	refs   []camera.Reference
	steps  []camera.Step
}

// pupil is a photo that was read.
type pupil struct {
	*photo.Photo
	sum string
}

// Learn learns from the photos of sources, each camera for itself, on top of what the
// shelf has of it, which it does not change. Photos that teach nothing are skipped with
// the reason. The error is ctx's, or says what is wrong with the options.
func Learn(ctx context.Context, sources []photo.Source, opt Options, shelf *camera.Shelf) (done []Outcome, skipped []photo.Skipped, err error) {
	if opt.Name != "" && !camera.GoodName(opt.Name) {
		return nil, nil, fmt.Errorf("a camera's name has small letters, digits and hyphens, 40 at the most, and is not auto or none: not %q", opt.Name)
	}
	if len(opt.Cards) == 1 {
		return nil, nil, fmt.Errorf("one card shows how a photo was exposed and nothing of the camera: give two or more places of different lightness, such as white paper and a mid-grey card")
	}
	var photos []pupil
	for _, s := range sources {
		p, err := read(ctx, s, opt.Limits, shelf)
		if ctx.Err() != nil {
			return nil, nil, ctx.Err()
		}
		if err != nil {
			skipped = append(skipped, asSkipped(s.Name, err))
			continue
		}
		photos = append(photos, p)
	}
	lessons, more := lessonsOf(photos, opt)
	skipped = append(skipped, more...)
	done, more = learnAll(lessons, opt, shelf)
	return done, append(skipped, more...), ctx.Err()
}

func read(ctx context.Context, s photo.Source, lim photo.Limits, shelf *camera.Shelf) (p pupil, err error) {
	if p.Photo, err = photo.Read(ctx, s, lim); err != nil {
		return p, err
	}
	by := light.IdentityOf(p.Record)
	if !by.Known() {
		return p, refuse("the file does not say which camera took it", "a photo that came by a messenger has lost that record: take the file off the phone itself, by cable or as an original")
	}
	if p.sum, err = s.Sum(lim); err != nil {
		return p, err
	}
	if k := shelf.For(by); k != nil && k.From(p.sum) {
		return p, refuse("the camera "+k.Name+" has learned from this photo already", "take another one; the same photo again tells nothing new")
	}
	return p, nil
}

func refuse(reason, hint string) error {
	return &photo.Error{Skipped: photo.Skipped{Reason: reason, Hint: hint}}
}

func asSkipped(name string, err error) photo.Skipped {
	if e, ok := err.(*grid.Error); ok {
		return photo.Skipped{Photo: name, Reason: e.Reason, Hint: strings.ReplaceAll(e.Hint, "--corners", "--chart-corners")}
	}
	return photo.SkippedOf(name, err)
}

func (p pupil) taught(by string) camera.Taught {
	t := camera.Taught{Photo: p.Name, SHA256: p.sum, By: by}
	// EXIF writes 2024:03:09 19:41:07.
	if d := p.Record.Taken; len(d) >= 10 && d[4] == ':' && d[7] == ':' {
		t.Date = strings.ReplaceAll(d[:10], ":", "-")
	}
	return t
}

// lessonsOf looks what the photos show: the cards that were given, a chart, or one
// still scene.
func lessonsOf(photos []pupil, opt Options) (lessons []lesson, skipped []photo.Skipped) {
	var bare []pupil // neither cards nor a chart
	for _, p := range photos {
		by, refs, err := "chart", []camera.Reference(nil), error(nil)
		if len(opt.Cards) > 0 {
			by = "cards"
			refs, err = Cards(p.Photo, opt.Cards)
		} else {
			refs, err = Chart(p.Photo, opt.Corners, len(photos) < fewestPhotos)
		}
		switch {
		case err == nil:
			lessons = append(lessons, lesson{by: light.IdentityOf(p.Record), photos: []camera.Taught{p.taught(by)}, names: []string{p.Name}, refs: refs})
		case !errors.Is(err, errNoChart):
			skipped = append(skipped, asSkipped(p.Name, err))
		default:
			bare = append(bare, p)
		}
	}
	if len(lessons) > 0 || len(bare) < fewestPhotos {
		for _, p := range bare {
			skipped = append(skipped, photo.Skipped{Photo: p.Name, Reason: "no 24-patch chart was found in it",
				Hint: `give its corners with --chart-corners, or two cards of known lightness with --card X,Y,W,H:L, or three photos and more of one still scene at different exposures`})
		}
		return lessons, skipped
	}
	l, more := stillScene(bare)
	if l != nil {
		lessons = append(lessons, *l)
	}
	return lessons, append(skipped, more...)
}

func stillScene(photos []pupil) (*lesson, []photo.Skipped) {
	var plain []*photo.Photo
	for _, p := range photos {
		plain = append(plain, p.Photo)
	}
	steps, used, skipped := Exposures(plain)
	if steps == nil {
		return nil, skipped
	}
	l := &lesson{steps: steps}
	for _, p := range photos {
		if slices.Contains(used, p.Photo) {
			l.by = light.IdentityOf(p.Record)
			l.photos = append(l.photos, p.taught("exposures"))
			l.names = append(l.names, p.Name)
		}
	}
	return l, skipped
}

// learnAll adds each lesson to its camera.
func learnAll(lessons []lesson, opt Options, shelf *camera.Shelf) (done []Outcome, skipped []photo.Skipped) {
	at := map[camera.Identity]int{}
	for _, l := range lessons {
		i, ok := at[l.by]
		if !ok {
			o := Outcome{By: l.by}
			if k := shelf.For(l.by); k != nil {
				own := *k
				own.Photos = slices.Clone(k.Photos)
				o.Kept = &own
			} else {
				name, err := newName(l.by, opt.Name, shelf, done)
				if err != nil {
					skipped = append(skipped, l.skip(err)...)
					continue
				}
				o.Kept = &camera.Kept{Name: name, Identity: l.by, Learned: camera.Nothing()}
			}
			i = len(done)
			at[l.by] = i
			done = append(done, o)
		}
		if err := done[i].add(l); err != nil {
			skipped = append(skipped, l.skip(err)...)
		}
	}
	done = slices.DeleteFunc(done, func(o Outcome) bool { return len(o.Photos) == 0 })
	for i := range done {
		o := &done[i]
		if o.Gain = o.Kept.Learned.Gain(); o.Gain > camera.NoGain {
			o.Kept = nil
		}
	}
	return done, skipped
}

func newName(by camera.Identity, asked string, shelf *camera.Shelf, done []Outcome) (string, error) {
	taken := func(name string) bool {
		return shelf.Named(name) != nil || slices.ContainsFunc(done, func(o Outcome) bool { return o.Kept != nil && o.Kept.Name == name })
	}
	if asked != "" {
		if taken(asked) {
			return "", refuse("the name "+asked+" belongs to another camera", "give this one another --name, or forget the other with greige camera forget "+asked)
		}
		return asked, nil
	}
	name := camera.NameFor(by)
	if !taken(name) {
		return name, nil
	}
	for n := 2; ; n++ {
		if s := fmt.Sprintf("%s-%d", name[:min(len(name), 36)], n); !taken(s) {
			return s, nil
		}
	}
}

func (l *lesson) skip(err error) (out []photo.Skipped) {
	for _, n := range l.names {
		out = append(out, asSkipped(n, err))
	}
	return out
}

// add takes a lesson in, unless it contradicts what is known.
func (o *Outcome) add(l lesson) error {
	k := o.Kept
	agrees := 0.
	if l.steps != nil {
		agrees = k.Learned.AgreesWithSteps(l.steps)
	} else {
		agrees = k.Learned.Agrees(l.refs)
	}
	if agrees > camera.Disagreement && len(k.Photos) > 0 {
		return refuse(fmt.Sprintf("it contradicts what was learned of the camera %s before, so it was not added", k.Name),
			"was it taken with another setting, such as a portrait or night mode, or changed afterwards? If the earlier ones were wrong, forget them with greige camera forget "+k.Name+" and begin again")
	}
	next, err := l.teach(k.Learned, agrees)
	if err != nil {
		return err
	}
	k.Learned = next
	k.Photos, o.Photos = append(k.Photos, l.photos...), append(o.Photos, l.photos...)
	return nil
}

func (l *lesson) teach(before *camera.Learned, agrees float64) (*camera.Learned, error) {
	if l.steps == nil {
		if agrees > camera.Disagreement {
			return nil, refuse("no camera makes such greys of surfaces of that lightness",
				"check the places and the lightness of the cards, or the corners of the chart, and that no shadow lies over a part of them")
		}
		return before.FromGreys(l.refs)
	}
	next, misfit, err := before.FromSteps(l.steps)
	if err != nil {
		return nil, refuse("too little of the scene is plain and well exposed in two of the photos", adviceStill)
	}
	if misfit > camera.LargestMisfit || agrees > camera.Disagreement {
		return nil, refuse("no one tone curve made these photos: this phone merges several exposures into one photo, or changes contrast by itself",
			"switch off HDR and scene modes where the phone allows it; or teach it with white paper and a mid-grey card, or a chart, in one photo")
	}
	return next, nil
}
