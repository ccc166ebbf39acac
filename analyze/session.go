package analyze

import (
	"context"
	"fmt"
	"os"
	"sync"
	"time"

	"greige/analyze/eye"
	"greige/analyze/photo"
)

// Source is one photo: a name for the results, and a file or a reader.
type Source = photo.Source

// Session does the jobs again and again over the same photos and keeps what
// was measured of each: the decoded working picture, its even light, where its
// pieces or its patches lie and their figures. A job that is done again after
// something was put right decodes nothing again and measures only what is new;
// its result is the one that a job without a session gives, to the byte. A
// photo is known by its bytes. Several goroutines may use one Session.
type Session struct {
	budget int64

	mu    sync.Mutex
	kept  map[string]*kept
	size  int64 // bytes of all that is kept
	clock int64 // of uses

	sums  map[string]stamped // by path
	sizes map[string][2]int  // by sum
}

// kept is one thing that was measured, or is being measured.
type kept struct {
	ready chan struct{} // closed when it is measured, or could not be
	value any
	err   error
	size  int64
	used  int64
}

// stamped is the sum of a file as it was.
type stamped struct {
	size     int64
	modified time.Time
	sum      string
}

// keptBytes is what a Session keeps where nothing is said: some ten photos
// with all that was measured of them (24 MB a working picture of 2 megapixels,
// and as much again in even light), and a thousand with their figures only.
const keptBytes = 768 << 20

// NewSession is a Session that keeps up to so many bytes, 0 meaning 768 MiB.
// What was not used for the longest time goes first and is measured again when
// it is wanted.
func NewSession(bytes int64) *Session {
	if bytes <= 0 {
		bytes = keptBytes
	}
	return &Session{budget: bytes, kept: map[string]*kept{}, sums: map[string]stamped{}, sizes: map[string][2]int{}}
}

// sized is a kept thing that knows how many bytes it holds.
type sized interface{ bytes() int64 }

// remember gives what s keeps under a key, or makes it and keeps it. What
// cannot be made is not kept. A nil s keeps nothing.
func remember[T sized](ctx context.Context, s *Session, key string, create func() (T, error)) (T, error) {
	var none T
	if s == nil {
		return create()
	}
	for {
		s.mu.Lock()
		k := s.kept[key]
		if k == nil {
			k = &kept{ready: make(chan struct{})}
			s.kept[key] = k
			s.mu.Unlock()
			return fill(s, key, k, create)
		}
		s.clock++
		k.used = s.clock
		s.mu.Unlock()
		select {
		case <-k.ready:
		case <-ctx.Done():
			return none, ctx.Err()
		}
		if k.err == nil {
			return k.value.(T), nil
		}
		if ctx.Err() != nil { // it may have failed because another was stopped
			return none, ctx.Err()
		}
	}
}

// fill makes k's value. Whatever happens, nobody waits for it for ever.
func fill[T sized](s *Session, key string, k *kept, create func() (T, error)) (v T, err error) {
	k.err = context.Canceled // should create panic
	defer func() {
		s.mu.Lock()
		defer s.mu.Unlock()
		close(k.ready)
		if k.err != nil {
			delete(s.kept, key)
			return
		}
		s.clock++
		k.used, k.size = s.clock, k.value.(T).bytes()+int64(len(key))
		s.size += k.size
		s.forget()
	}()
	v, err = create()
	k.value, k.err = v, err
	return v, err
}

// forget lets go what was not used for the longest time, until the rest fits.
func (s *Session) forget() {
	for s.size > s.budget {
		oldest := ""
		for key, k := range s.kept {
			if k.size > 0 && (oldest == "" || k.used < s.kept[oldest].used) {
				oldest = key
			}
		}
		if oldest == "" {
			return
		}
		s.size -= s.kept[oldest].size
		delete(s.kept, oldest)
	}
}

// sum is src.Sum, worked out once while the file stays as it is. A nil s works
// it out each time.
func (s *Session) sum(src Source, lim photo.Limits) (string, error) {
	if s == nil || src.Reader != nil {
		return src.Sum(lim)
	}
	info, err := os.Stat(src.Path)
	if err != nil {
		return src.Sum(lim)
	}
	s.mu.Lock()
	known, ok := s.sums[src.Path]
	s.mu.Unlock()
	if ok && known.size == info.Size() && known.modified.Equal(info.ModTime()) {
		return known.sum, nil
	}
	sum, err := src.Sum(lim)
	if err != nil {
		return "", err
	}
	s.mu.Lock()
	s.sums[src.Path] = stamped{info.Size(), info.ModTime(), sum}
	s.mu.Unlock()
	return sum, nil
}

// keptPhoto is a photo that is kept.
type keptPhoto struct{ *photo.Photo }

func (p keptPhoto) bytes() int64 { return pictureBytes(p.Picture) }

func pictureBytes(p *photo.Picture) int64 {
	return int64(4*cap(p.Pix) + cap(p.Dark) + cap(p.Bright))
}

// read reads a photo whose sum is known, or gives the one that s keeps, under
// the name that it has now.
func (s *Session) read(ctx context.Context, src Source, sum string, lim photo.Limits) (*photo.Photo, error) {
	if s != nil {
		lim.Spare = nil // what is kept cannot be lent
	}
	p, err := remember(ctx, s, fmt.Sprintf("photo %s %d %g", sum, lim.Detail, lim.Megapixels), func() (keptPhoto, error) {
		p, err := photo.Read(ctx, src, lim)
		return keptPhoto{p}, err
	})
	if s != nil && err == nil {
		s.mu.Lock()
		s.sizes[sum] = [2]int{p.Width, p.Height}
		s.mu.Unlock()
	}
	if err != nil || p.Name == src.Name {
		return p.Photo, renamed(err, src.Name)
	}
	named := *p.Photo
	named.Name = src.Name
	return &named, nil
}

func renamed(err error, name string) error {
	if e, ok := err.(*photo.Error); ok {
		e = &photo.Error{Skipped: e.Skipped}
		e.Photo = name
		return e
	}
	return err
}

// Shown is a photo as it was taken, for the screen.
type Shown struct {
	eye.Views         // colour and grey
	Width, Height int // of the upright photo, in its own pixels
	SHA256        string
}

func (s Shown) bytes() int64 { return int64(len(s.Colour) + len(s.Grey)) }

// Show gives the photo for the screen, at most side pixels along its longer
// side. The error is a *photo.Error, or ctx's.
func (s *Session) Show(ctx context.Context, src Source, lim photo.Limits, side int) (Shown, error) {
	sum, err := s.sum(src, lim)
	if err != nil {
		return Shown{}, err
	}
	return remember(ctx, s, fmt.Sprintf("shown %s %d %g", sum, side, lim.Megapixels), func() (shown Shown, err error) {
		lim.Detail = photo.ForPieces
		p, err := s.read(ctx, src, sum, lim)
		if err != nil {
			return shown, err
		}
		err = guarded(func() {
			shown = Shown{eye.PlainViews(p.Picture.Within(side)), p.Width, p.Height, sum}
		})
		return shown, err
	})
}

// Size is what s knows of a photo that it has read: its width and height in its
// own pixels, upright, and the sum of its bytes.
func (s *Session) Size(src Source) (width, height int, sum string, ok bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	sum = s.sums[src.Path].sum
	size, ok := s.sizes[sum]
	return size[0], size[1], sum, ok
}

// Sum is src.Sum, worked out anew only where the file looks changed.
func (s *Session) Sum(src Source, lim photo.Limits) (string, error) { return s.sum(src, lim) }
