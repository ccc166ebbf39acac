package analyze

import (
	"context"
	"fmt"
	"math"
	"runtime"
	"strings"
	"sync"

	"golang.org/x/sync/errgroup"

	"greige/analyze/cloth"
	"greige/analyze/eye"
	"greige/analyze/grid"
	"greige/analyze/light"
	"greige/analyze/photo"
	"greige/analyze/raster"
)

// Settings are what every job takes.
type Settings struct {
	Light light.Options
	// Jobs is how many photos are worked on at once; 0: one a processor.
	Jobs int
	// Distance is where the viewer stands, in metres; 0: DefaultDistance.
	Distance float64
	// WidthCM is how wide the scene is, in cm; 0: a patch or a scrap of
	// AssumedCM is assumed.
	WidthCM float64
	Limits  photo.Limits
	// Corrections are what was put right by hand; nil: nothing.
	Corrections *Corrections
	// Progress, if set, is told after each photo how many are done. It is
	// called from one goroutine at a time.
	Progress func(done, total int)
	// Stages, if set, gives what is shown the picture of every stage of the work on
	// a photo, by the photo's name. It may be called from several goroutines.
	Stages func(photo string) raster.Look
	// Late puts off making the pictures of a top until they are asked for, by
	// Sight.View one at a time or by Result.Drawn all at once.
	Late bool

	session *Session // what is kept from job to job; nil: nothing
}

// watch is what is shown the stages of the work on a photo; nil: nothing.
func (s Settings) watch(photo string) raster.Look {
	if s.Stages == nil {
		return nil
	}
	return s.Stages(photo)
}

// lightOf is what is known of a photo's light, with who is shown its stages.
func (s Settings) lightOf(photo string) light.Options {
	opt := s.Light
	opt.Look = s.watch(photo)
	return opt
}

// AssumedCM is the width of a patch or a scrap, in cm, where nothing is given.
const AssumedCM = 5.0

// each calls work(i) for 0 <= i < n, jobs of them at a time, until ctx ends;
// then it waits for those that are being worked on, so that nothing is left
// behind, and returns ctx's error. When the program itself fails in one of
// them, the rest goes on and the error says so.
func (s Settings) each(ctx context.Context, n int, work func(i int)) error {
	jobs := s.Jobs
	if jobs < 1 {
		jobs = runtime.GOMAXPROCS(0)
	}
	var mu sync.Mutex
	done := 0
	var g errgroup.Group
	g.SetLimit(jobs)
	for i := range n {
		g.Go(func() error {
			if ctx.Err() != nil {
				return nil
			}
			fault := guarded(func() { work(i) })
			mu.Lock()
			defer mu.Unlock()
			done++
			if s.Progress != nil && ctx.Err() == nil {
				s.Progress(done, n)
			}
			return fault
		})
	}
	fault := g.Wait()
	if err := ctx.Err(); err != nil {
		return err
	}
	return fault
}

// alone does work on a single photo; the error is work's, or says that the
// program failed in it, or is ctx's.
func alone(ctx context.Context, work func() error) error {
	var failed error
	if fault := guarded(func() { failed = work() }); fault != nil {
		failed = fault
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	return failed
}

// guarded does work on one photo. Should the program itself fail on it, that
// is an error about this photo and the others go on.
func guarded(work func()) (err error) {
	defer func() {
		if recover() != nil {
			err = &photo.Error{Skipped: photo.Skipped{
				Reason: "greige itself failed on this photo; the fault is the program's",
				Hint:   "leave it out, and show it to those who make greige",
			}}
		}
	}()
	work()
	return nil
}

// ErrNothing says that not one photo could be measured; Result.Skipped of the
// result that comes with it says why.
type ErrNothing struct{ What string }

func (e *ErrNothing) Error() string { return e.What }

func asSkipped(name string, err error) photo.Skipped {
	if e, ok := err.(*grid.Error); ok {
		return photo.Skipped{Photo: name, Reason: e.Reason, Hint: strings.TrimSuffix(e.Hint, ".") + "; for loose scraps, greige sort is the command"}
	}
	return photo.SkippedOf(name, err)
}

// viewScale is the pixels of the working picture to a degree of sight, for a
// piece that is px of them wide and cm in truth.
func (s Settings) viewScale(cm, px float64) float64 {
	return eye.PixelsPerDegree(cm/px, s.Distance)
}

// The longest side, in pixels, of a photo on the page, which can be looked at
// closely there, and of a straightened top, which the photo shows smaller.
const (
	pageSide = 1600
	topSide  = 1200 // a page's column
	wallSide = 1000 // only to see the lines by
)

// pagePixels is about how many pixels all the photos of a page may have
// together, so that the page stays light.
const pagePixels = 4 << 20

// meters are those that are free, for the pieces of one photo.
type meters struct{ sync.Pool }

func newMeters() *meters { return &meters{sync.Pool{New: func() any { return new(cloth.Meter) }}} }

func (m *meters) measure(e *light.Even, region cloth.Region, view cloth.View) (cloth.Cloth, bool) {
	meter := m.Get().(*cloth.Meter)
	defer m.Put(meter)
	return meter.Measure(e, region, view)
}

// sideAmong is the longest side of a photo on the page when it is one of n.
func sideAmong(n int) int {
	side := int(math.Sqrt(pagePixels / .75 / float64(max(n, 1))))
	return max(min(side, pageSide), 480)
}

// showPicture is p at the size that the page shows, with its views: in a few
// values where cuts says at which lightnesses. pixelsPerDegree is p's own.
func showPicture(p *photo.Picture, side int, pixelsPerDegree float64, cuts []float64) eye.Views {
	q := p.Within(side)
	v := eye.NewViews(q, pixelsPerDegree*float64(q.W)/float64(p.W))
	// It fails only on a picture that could not be written just now; the page
	// does without.
	_ = v.FewValues(cuts)
	return v
}

// pagePhoto is a photo for the page, as far as it can be made before it is
// known how large it is to the eye.
type pagePhoto struct {
	of    *photo.Picture
	small *photo.Picture // of, at the size that the page shows
	plain eye.Views
}

func newPagePhoto(p *photo.Picture, side int) pagePhoto {
	q := p.Within(side)
	return pagePhoto{of: p, small: q, plain: eye.PlainViews(q)}
}

// fineAt tells whether a page whose photos have at most side pixels along the
// longer side shows nearly all of p's own pixels.
func fineAt(p *photo.Picture, side int) bool { return 4*min(side, max(p.W, p.H)) >= 3*max(p.W, p.H) }

// views are those of showPicture but for the few values; pixelsPerDegree is
// that of the photo itself.
func (s pagePhoto) views(pixelsPerDegree float64) eye.Views {
	v := s.plain
	v.AddSquint(s.small, pixelsPerDegree*float64(s.small.W)/float64(s.of.W))
	return v
}

// DefaultDistance is where the viewer stands, in metres, where nothing is
// said: across a room (common practice, no source).
const DefaultDistance = 2.5

// checked is s with the defaults where it says nothing; the error says what is
// wrong with it and what to give.
func (s Settings) checked() (Settings, error) {
	if s.Distance == 0 {
		s.Distance = DefaultDistance
	}
	if s.Light.Mode == "" {
		s.Light.Mode = light.Auto
	}
	switch {
	case !(s.Distance > 0 && s.Distance <= 1000):
		return s, fmt.Errorf("the distance is in metres, above 0 and up to 1000, not %g", s.Distance)
	case !(s.WidthCM >= 0 && s.WidthCM <= 100000):
		return s, fmt.Errorf("the width is in centimetres, above 0, or 0 where it is not known, not %g", s.WidthCM)
	case s.Jobs < 0:
		return s, fmt.Errorf("the jobs are 1 or more, or 0 for one a processor, not %d", s.Jobs)
	case s.Light.Mode != light.Auto && s.Light.Mode != light.Sheet && s.Light.Mode != light.None:
		return s, fmt.Errorf("the light is auto, sheet or none, not %q", string(s.Light.Mode))
	}
	return s, nil
}
