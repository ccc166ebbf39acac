package main

import (
	"fmt"
	"io"
	"os"
	"strings"

	"golang.org/x/term"
)

// fewPhotos are done before a bar is of any use.
const fewPhotos = 3

// bar is a progress bar on a terminal; elsewhere it shows nothing.
type bar struct {
	w     io.Writer
	on    bool
	shown bool
}

func newBar(w io.Writer, quiet bool) *bar {
	file, ok := w.(*os.File)
	return &bar{w: w, on: !quiet && ok && term.IsTerminal(int(file.Fd()))}
}

// step is told how many photos of all are done.
func (b *bar) step(done, total int) {
	if !b.on || total <= fewPhotos {
		return
	}
	const cells = 24
	full := cells * done / total
	fmt.Fprintf(b.w, "\r%s%s %d of %d photos", strings.Repeat("#", full), strings.Repeat(".", cells-full), done, total)
	b.shown = true
}

// clear takes the bar away.
func (b *bar) clear() {
	if b.shown {
		fmt.Fprint(b.w, "\r\x1b[K")
	}
}
