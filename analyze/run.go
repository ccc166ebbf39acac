package analyze

import (
	"context"
	"fmt"
	"math"
	"runtime"
	"sync"

	"greige/analyze/cloth"
	"greige/analyze/eye"
	"greige/analyze/grid"
	"greige/analyze/light"
	"greige/analyze/photo"
)

// Settings are what every job takes.
type Settings struct {
	Light light.Options
	// Jobs is how many photos are worked on at once; 0: one a processor.
	Jobs int
	// Distance is where the viewer stands, in metres, greater than 0.
	Distance float64
	// WidthCM is how wide the scene is, in cm; 0: a patch or a scrap of
	// AssumedCM is assumed.
	WidthCM float64
	Limits  photo.Limits
	// Progress, if set, is told after each photo how many are done. It is
	// called from one goroutine at a time.
	Progress func(done, total int)
}

// AssumedCM is the width of a patch or a scrap, in cm, where nothing is given.
const AssumedCM = 5.0

// each calls work(i) for 0 <= i < n, jobs of them at a time, until ctx ends.
// Then it returns at once, and what is being worked on is left to itself: its
// results must not be looked at. When the program itself fails in one of them,
// the rest goes on and the error says so.
func (s Settings) each(ctx context.Context, n int, work func(i int)) error {
	jobs := s.Jobs
	if jobs < 1 {
		jobs = runtime.GOMAXPROCS(0)
	}
	var mu sync.Mutex
	done := 0
	var fault error
	next := make(chan int)
	var workers sync.WaitGroup
	for range min(jobs, n) {
		workers.Go(func() {
			for i := range next {
				err := guarded(func() { work(i) })
				mu.Lock()
				if err != nil {
					fault = err
				}
				done++
				if s.Progress != nil && ctx.Err() == nil {
					s.Progress(done, n)
				}
				mu.Unlock()
			}
		})
	}
	for i := range n {
		select {
		case next <- i:
		case <-ctx.Done():
			close(next)
			return ctx.Err()
		}
	}
	close(next)
	if err := await(ctx, workers.Wait); err != nil {
		return err
	}
	return fault
}

// await calls work and returns when it is done, or with ctx's error as soon as
// ctx ends: a person who presses Ctrl-C does not wait for a large photo. What
// work is about to write must then not be looked at.
func await(ctx context.Context, work func()) error {
	done := make(chan struct{})
	go func() {
		defer close(done)
		work()
	}()
	select {
	case <-done:
		return ctx.Err()
	case <-ctx.Done():
		return ctx.Err()
	}
}

// alone is the same for work on a single photo; the error is work's, or says
// that the program failed in it, or is ctx's.
func alone(ctx context.Context, work func() error) error {
	var failed error
	err := await(ctx, func() {
		if fault := guarded(func() { failed = work() }); fault != nil {
			failed = fault
		}
	})
	if err != nil {
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

// asSkipped turns an error about one photo into a line about it.
func asSkipped(name string, err error) photo.Skipped {
	switch e := err.(type) {
	case *photo.Error:
		s := e.Skipped
		s.Photo = name
		return s
	case *grid.Error:
		return photo.Skipped{Photo: name, Reason: e.Reason, Hint: e.Hint}
	}
	return photo.Skipped{Photo: name, Reason: err.Error()}
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
	topSide  = 1400
	wallSide = 1000 // only to see the lines by
)

// pagePixels is about how many pixels all the photos of a page may have
// together, so that the page stays light.
const pagePixels = 4 << 20

// meters are those that are free, for the pieces of one photo.
type meters chan *cloth.Meter

func newMeters() meters { return make(meters, runtime.GOMAXPROCS(0)) }

// measure measures a piece with one of them, or with a new one.
func (m meters) measure(e *light.Even, region cloth.Region, view cloth.View) (cloth.Cloth, bool) {
	var meter *cloth.Meter
	select {
	case meter = <-m:
	default:
		meter = new(cloth.Meter)
	}
	c, ok := meter.Measure(e, region, view)
	select {
	case m <- meter:
	default:
	}
	return c, ok
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

// fine tells whether the page shows nearly all of the photo's own pixels.
func (s pagePhoto) fine() bool { return 4*s.small.W >= 3*s.of.W }

// views are those of showPicture but for the few values; pixelsPerDegree is
// that of the photo itself.
func (s pagePhoto) views(pixelsPerDegree float64) eye.Views {
	v := s.plain
	v.AddSquint(s.small, pixelsPerDegree*float64(s.small.W)/float64(s.of.W))
	return v
}

// check says what is wrong with the settings, in words.
func (s Settings) check() error {
	switch {
	case !(s.Distance > 0 && s.Distance <= 1000):
		return fmt.Errorf("the distance is in metres, above 0, not %g", s.Distance)
	case s.WidthCM < 0 || s.WidthCM > 100000:
		return fmt.Errorf("the width is in centimetres, above 0, not %g", s.WidthCM)
	}
	return nil
}
