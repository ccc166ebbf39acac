package main

import (
	"fmt"
	"io"
	"os"
	"strings"
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
	began time.Time
}

func newBar(w io.Writer, quiet bool) *bar {
	file, ok := w.(*os.File)
	return &bar{w: w, on: !quiet && ok && term.IsTerminal(int(file.Fd())), began: time.Now()}
}

// step is told how many photos of all are done.
func (b *bar) step(done, total int) {
	if !b.on || total <= fewPhotos {
		return
	}
	const cells = 24
	full := cells * done / total
	fmt.Fprintf(b.w, "\r%s%s %d of %d photos%s\x1b[K", strings.Repeat("#", full), strings.Repeat(".", cells-full), done, total,
		timeLeft(time.Since(b.began), done, total))
	b.shown = true
}

// timeLeft says how long the rest will take if it goes on as it went; nothing
// while there is too little to go by, or next to nothing left.
func timeLeft(gone time.Duration, done, total int) string {
	if done < fewPhotos || gone < 2*time.Second {
		return ""
	}
	left := gone / time.Duration(done) * time.Duration(total-done)
	switch {
	case left < 2*time.Second:
		return ""
	case left < 90*time.Second:
		return fmt.Sprintf(", about %d seconds left", int(left.Round(time.Second).Seconds()))
	}
	return fmt.Sprintf(", about %d minutes left", int(left.Round(time.Minute).Minutes()))
}

// clear takes the bar away.
func (b *bar) clear() {
	if b.shown {
		fmt.Fprint(b.w, "\r\x1b[K")
	}
}
