package main

import (
	"fmt"
	"io"
	"os"
	"strings"
	"sync"
	"time"

	"golang.org/x/term"
)

// fewPhotos are done before a bar is of any use.
const fewPhotos = 3

// bar is a progress bar on a terminal; elsewhere it shows nothing.
type bar struct {
	w     io.Writer
	on    bool
	shown bool
	// counts: photos are counted, which tells more than seconds do.
	counts bool
	began  time.Time
	mu     sync.Mutex
	ended  chan struct{}
}

func newBar(w io.Writer, quiet bool) *bar {
	file, ok := w.(*os.File)
	b := &bar{w: w, on: !quiet && ok && term.IsTerminal(int(file.Fd())), began: time.Now(), ended: make(chan struct{})}
	if b.on {
		go b.wait(b.ended, 2*time.Second, time.Second)
	}
	return b
}

// wait shows after a while, and then every so often, that the program is at
// work: a single large photo has no steps to count.
func (b *bar) wait(ended <-chan struct{}, first, every time.Duration) {
	timer := time.NewTimer(first)
	defer timer.Stop()
	for {
		select {
		case <-ended:
			return
		case <-timer.C:
			b.mu.Lock()
			if !b.counts {
				fmt.Fprintf(b.w, "\rmeasuring, %d seconds so far\x1b[K", int(time.Since(b.began).Seconds()))
				b.shown = true
			}
			b.mu.Unlock()
			timer.Reset(every)
		}
	}
}

// step is told how many photos of all are done.
func (b *bar) step(done, total int) {
	if !b.on || total <= fewPhotos {
		return
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	b.counts = true
	const cells = 24
	full := cells * done / total
	fmt.Fprintf(b.w, "\r%s%s %d of %d photos\x1b[K", strings.Repeat("#", full), strings.Repeat(".", cells-full), done, total)
	b.shown = true
}

// clear takes the bar away.
func (b *bar) clear() {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.ended != nil {
		close(b.ended)
		b.ended = nil
	}
	if b.shown {
		fmt.Fprint(b.w, "\r\x1b[K")
	}
}
