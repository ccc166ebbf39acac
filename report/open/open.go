// Package open serves the working page: a page for the browser of this
// computer alone, over the same jobs as the commands. A folder of photos comes
// in; what was found is drawn over them, what the maker puts right is kept at
// once in the folder's file of corrections, and the same offline page as the
// commands write comes out. It measures nothing itself: analyze.Session does.
package open

import (
	"context"
	"crypto/rand"
	"embed"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"strconv"
	"sync"
	"time"

	"greige/analyze"
)

//go:embed page
var pageFiles embed.FS

// Options are what Serve takes.
type Options struct {
	Folder   string // where the photos are and what is put right is kept; "": the current one
	Port     int    // 0: a free one
	Phone    bool   // also to phones on the home network
	Settings analyze.Settings
	// Flags are those that Settings came from, for the commands that the page shows.
	Flags []string
	// Stash is the file of the kept stash and Cameras the folder of the learned
	// phones; "": the page is without.
	Stash, Cameras string
	Version        string
	// Command is how the program is called in the commands that the page shows.
	Command string
	// EndWhenClosed ends the server a while after its page was closed: for a
	// program that was started by its icon and has no other way to be ended.
	EndWhenClosed bool
	// Log is told in words what happens: where the page is, when it was closed.
	Log io.Writer
	// Opened is called with the page's address once it is served.
	Opened func(address string)

	home net.IP // this computer's address for phones; nil: found
}

// How long a server waits, and how many photos it takes at a time: two to be
// written while one more is looked at need less than a gigabyte.
const (
	headerTime   = 10 * time.Second // for a request's head; from this computer it is there at once
	photoTime    = 10 * time.Minute // for one photo, over a slow home network
	closedTime   = 5 * time.Second  // a page that is loaded again is back sooner
	endTime      = 60 * time.Second // after which a closed page will not be back
	photosAtOnce = 2
)

// Serve serves the working page until ctx ends or the page asks for the end.
func Serve(ctx context.Context, opt Options) error {
	if opt.Folder == "" {
		opt.Folder = "."
	}
	if opt.Log == nil {
		opt.Log = io.Discard
	}
	if opt.Command == "" {
		opt.Command = "greige"
	}
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	s := &server{opt: opt, stop: stop, key: newKey(), intake: make(chan struct{}, photosAtOnce)}
	var err error
	if s.work, err = newWorkspace(ctx, opt); err != nil {
		return err
	}
	defer s.work.close()
	// Loopback only: no other computer can reach the port.
	l, err := net.Listen("tcp4", net.JoinHostPort("127.0.0.1", strconv.Itoa(opt.Port)))
	if err != nil {
		return fmt.Errorf("port %d cannot be taken: another program may have it", opt.Port)
	}
	s.host = l.Addr().String()
	serving := []*http.Server{serverOf(s.guard(s.routes()))}
	listening := []net.Listener{l}
	if opt.Phone {
		p, pl, err := s.phoneServer()
		if err != nil {
			l.Close()
			return err
		}
		serving, listening = append(serving, p), append(listening, pl)
	}
	failed := make(chan error, len(serving))
	for i := range serving {
		go func() { failed <- serving[i].Serve(listening[i]) }()
	}
	address := "http://" + s.host + "/" + s.key + "/"
	fmt.Fprintf(opt.Log, "greige: the page is at %s\n  press Ctrl-C here, or End on the page, to stop\n", address)
	go s.watch(ctx)
	if opt.Opened != nil {
		opt.Opened(address)
	}
	select {
	case <-ctx.Done():
	case err = <-failed:
	}
	stop()
	var closing sync.WaitGroup
	for _, srv := range serving {
		closing.Go(func() {
			late, cancel := context.WithTimeout(context.Background(), 2*time.Second)
			defer cancel()
			if srv.Shutdown(late) != nil {
				srv.Close()
			}
		})
	}
	closing.Wait()
	if err != nil && !errors.Is(err, http.ErrServerClosed) {
		return err
	}
	if _, err := os.Stat(s.work.right.path); err == nil {
		fmt.Fprintln(opt.Log, "greige: ended; what was put right is kept in "+quoted(s.work.right.path))
	} else {
		fmt.Fprintln(opt.Log, "greige: ended")
	}
	return nil
}

// newKey is 128 random bits: whoever does not know it gets nothing.
func newKey() string {
	b := make([]byte, 16)
	_, _ = rand.Read(b) // it never fails (crypto/rand)
	return hex.EncodeToString(b)
}

func serverOf(h http.Handler) *http.Server {
	return &http.Server{Handler: h, ReadHeaderTimeout: headerTime, IdleTimeout: 2 * time.Minute, MaxHeaderBytes: 16 << 10}
}

// server is one start of the page.
type server struct {
	opt    Options
	work   *workspace
	key    string // of this start, part of every path
	host   string // 127.0.0.1 and the port
	stop   func()
	intake chan struct{} // full while as many photos come in as may
	phone  phoneAccess

	mu      sync.Mutex
	pages   int       // that listen
	left    time.Time // when the last one left; zero before the first
	goodbye bool      // it was said that the page is closed
}

// listens counts the pages that are there.
func (s *server) listens(n int) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.pages += n
	s.left = time.Now()
	if n > 0 && s.goodbye {
		s.goodbye = false
		fmt.Fprintln(s.opt.Log, "greige: the page is open again")
	}
}

// watch says when the page was closed, and ends the server where it is to.
func (s *server) watch(ctx context.Context) {
	tick := time.NewTicker(time.Second)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
		s.mu.Lock()
		gone := time.Duration(0)
		if s.pages == 0 && !s.left.IsZero() {
			gone = time.Since(s.left)
		}
		say := gone > closedTime && !s.goodbye
		s.goodbye = s.goodbye || say
		s.mu.Unlock()
		if say {
			fmt.Fprintf(s.opt.Log, "greige: the page was closed; open it again at http://%s/%s/, or press Ctrl-C to stop\n", s.host, s.key)
		}
		if gone > endTime && s.opt.EndWhenClosed {
			s.stop()
		}
	}
}
