package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"syscall"
	"time"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"greige/analyze"
	"greige/analyze/piles"
	"greige/analyze/stash"
	"greige/report"
)

// carryOut does one job and hands out its answer: the page, the figures, the
// table. inputs are the paths that the job reads, which are never written to.
func (f *common) carryOut(c *cobra.Command, inputs []string, job func(progress func(done, total int)) (*analyze.Result, error)) error {
	if f.corrections != "" {
		inputs = append(slices.Clone(inputs), f.corrections)
	}
	if f.open && f.out == "" {
		f.out = "greige-stash.html"
	}
	if err := f.spare(inputs); err != nil {
		return err
	}
	if f.out != "" {
		go report.Prepare() // one processor is idle while a photo is decoded
	}
	bar := newBar(c.ErrOrStderr(), f.quiet)
	r, err := unawaited(c.Context(), func() (*analyze.Result, error) { return job(bar.step) })
	bar.clear()
	if r != nil {
		complainSkipped(c.ErrOrStderr(), r.Skipped)
	}
	var numbers *analyze.NumbersError
	if errors.As(err, &numbers) {
		return &usage{err}
	}
	if err != nil {
		return err
	}
	// Last look before anything is written: Ctrl-C leaves nothing behind.
	if err := c.Context().Err(); err != nil {
		return err
	}
	written, err := f.write(c, r)
	if err != nil {
		return err
	}
	if !f.quiet {
		// Where standard output carries figures, the words go beside it.
		w := c.OutOrStdout()
		if f.json == "-" || f.csv == "-" {
			w = c.ErrOrStderr()
		}
		o := terminalOptions(w, written)
		o.NoPage = f.out == ""
		if err := report.Terminal(w, r, o); err != nil {
			return standardOutput(err)
		}
	}
	if f.open {
		showPage(c.ErrOrStderr(), f.out)
	}
	if len(r.Skipped) > 0 {
		return errSkipped
	}
	return nil
}

// unawaited does a job and leaves it to itself when ctx ends: a person who
// presses Ctrl-C does not wait for what is in the middle of a large photo, and
// the program's end is the end of it.
func unawaited(ctx context.Context, job func() (*analyze.Result, error)) (*analyze.Result, error) {
	type outcome struct {
		result *analyze.Result
		err    error
	}
	done := make(chan outcome, 1)
	go func() {
		r, err := job()
		done <- outcome{r, err}
	}()
	select {
	case o := <-done:
		return o.result, o.err
	case <-ctx.Done():
		return nil, ctx.Err()
	}
}

// write writes the page and whatever else was asked for, and returns the
// names of the files, the page first.
func (f *common) write(c *cobra.Command, r *analyze.Result) ([]string, error) {
	page := func(w io.Writer) error { return report.WritePage(w, r, version()) }
	figures := func(w io.Writer) error { return report.WriteJSON(w, r, version()) }
	table := func(w io.Writer) error { return report.WriteCSV(w, r) }
	var written []string
	if f.out != "" {
		if err := report.WriteFile(f.out, page); err != nil {
			return nil, err
		}
		written = append(written, f.out)
	}
	for _, o := range []struct {
		path  string
		write func(io.Writer) error
	}{{f.json, figures}, {f.csv, table}} {
		switch o.path {
		case "":
		case "-":
			if err := o.write(c.OutOrStdout()); err != nil {
				return nil, standardOutput(err)
			}
		default:
			if err := report.WriteFile(o.path, o.write); err != nil {
				return nil, err
			}
			written = append(written, o.path)
		}
	}
	return written, nil
}

// standardOutput is an error in writing to standard output.
func standardOutput(err error) error {
	if errors.Is(err, syscall.EPIPE) {
		err = errors.New("what reads it stopped before everything was written")
	}
	return fmt.Errorf("standard output: %w", err)
}

// spare refuses to write over what is read, or two things to one file.
func (f *common) spare(inputs []string) error {
	targets := []string{f.out, f.json, f.csv}
	for i, t := range targets {
		if t == "" || t == "-" {
			continue
		}
		for _, in := range inputs {
			if sameFile(t, in) {
				return &usage{fmt.Errorf("%s is read and would be written over: give the output another name", quoted(t))}
			}
			if info, err := os.Stat(in); err == nil && info.IsDir() && sameFile(filepath.Dir(t), in) {
				if _, err := os.Stat(t); err == nil && !ours(t) {
					return &usage{fmt.Errorf("%s lies among the photos and would be written over: give the output another name", quoted(t))}
				}
			}
		}
		for _, other := range targets[:i] {
			if other != "" && other != "-" && filepath.Clean(other) == filepath.Clean(t) {
				return &usage{fmt.Errorf("%s cannot take two kinds of output: give each a name of its own", quoted(t))}
			}
		}
	}
	return nil
}

// ours: the name is of a kind that this program writes, not of a photo.
func ours(path string) bool {
	switch strings.ToLower(filepath.Ext(path)) {
	case ".html", ".htm", ".json", ".csv":
		return true
	}
	return false
}

func sameFile(a, b string) bool {
	if filepath.Clean(a) == filepath.Clean(b) {
		return true
	}
	x, err := os.Stat(a)
	if err != nil {
		return false
	}
	y, err := os.Stat(b)
	return err == nil && os.SameFile(x, y)
}

// kept is what names the kept stash where cloths are asked for.
const kept = "kept"

// cloths are those that a job may choose from, out of the photos, folders,
// figures and "kept" that a user names.
type cloths struct {
	photos []string
	known  []piles.Fabric
	kept   *stash.Stash // nil: not asked for
}

// files are what is read beside the inputs, and must not be written over.
func (c *cloths) files() []string {
	if c.kept == nil {
		return nil
	}
	return []string{c.kept.Path()}
}

func (c *cloths) close() {
	if c.kept != nil {
		c.kept.Close()
	}
}

// readStash tells the figures of earlier sorts among the inputs, and reads
// them, from photos and folders, and opens the kept stash where it is among
// them. Where nothing is named and byItself is set, it is taken if there is one.
func readStash(inputs []string, file string, byItself bool) (*cloths, error) {
	c := &cloths{}
	for _, in := range inputs {
		switch {
		case in == kept:
			if c.kept != nil {
				continue
			}
			var err error
			if c.kept, err = openStash(file); err != nil {
				return nil, err
			}
		case strings.EqualFold(filepath.Ext(in), ".json"):
			fabrics, _, err := readFigures(in)
			if err != nil {
				return nil, err
			}
			c.known = append(c.known, fabrics...)
		default:
			c.photos = append(c.photos, in)
		}
	}
	if len(inputs) == 0 && byItself {
		var err error
		if c.kept, err = openStash(file); err != nil && !errors.Is(err, stash.ErrNone) && !errors.Is(err, errNoPlace) {
			return nil, err
		}
	}
	return c, nil
}

// readFigures reads the cloths of an earlier sort, and how wide, in cm, their scenes
// were said to be.
func readFigures(path string) (fabrics []piles.Fabric, widthCM float64, err error) {
	file, err := os.Open(path)
	if err != nil {
		return nil, 0, &hinted{fmt.Errorf("%s: the stash cannot be read", quoted(path)), "check the name; greige sort --json FILE writes such a file"}
	}
	defer file.Close()
	if fabrics, widthCM, err = report.ReadStash(file); err != nil {
		return nil, 0, &hinted{fmt.Errorf("%s: %w", quoted(path), err), hintOf(err)}
	}
	return fabrics, widthCM, nil
}

func hintOf(err error) string {
	var h *hinted
	if errors.As(err, &h) {
		return h.hint
	}
	var e *report.Error
	if errors.As(err, &e) {
		return e.Hint
	}
	var kept *stash.Error
	if errors.As(err, &kept) {
		return kept.Hint
	}
	return ""
}

// quoted is a name in double quotes that a terminal shows and does not act on.
func quoted(name string) string {
	q := fmt.Sprintf("%+q", name)
	if q == `"`+name+`"` {
		return q
	}
	return fmt.Sprintf("%q", name)
}

// terminalOptions say what the terminal behind w, if it is one, can show.
func terminalOptions(w io.Writer, files []string) report.TerminalOptions {
	o := report.TerminalOptions{Files: files}
	file, ok := w.(*os.File)
	isTerminal := ok && term.IsTerminal(int(file.Fd()))
	o.Depth = report.ColourDepth(os.Getenv, isTerminal)
	if isTerminal {
		if width, _, err := term.GetSize(int(file.Fd())); err == nil {
			o.Width = width
		}
	}
	return o
}

// showPage opens a page in the browser, or says that it could not: all is done
// and written by then, so that this alone is no failure.
func showPage(complaints io.Writer, path string) {
	if err := openInBrowser(path); err != nil {
		complain(complaints, &hinted{fmt.Errorf("%s: the browser could not be started", quoted(path)), "the page is written: open the file yourself"})
	}
}

// openInBrowser hands the page to the desktop, which picks the browser.
func openInBrowser(path string) error {
	full, err := filepath.Abs(path)
	if err != nil {
		return err
	}
	return openAddress(full)
}

// openAddress hands an address or a file to the desktop.
func openAddress(address string) error {
	name, args := "xdg-open", []string{address}
	switch runtime.GOOS {
	case "windows":
		name, args = "rundll32", []string{"url.dll,FileProtocolHandler", address}
	case "darwin":
		name = "open"
	}
	opener := exec.Command(name, args...)
	return started(opener)
}

// startsWithin is how long what opens a browser may take to fail: where there
// is no browser it says so at once, and where there is one it may stay.
const startsWithin = 2 * time.Second

// started starts a program and returns its error when it fails at once. It is
// waited for, so that nothing of it is left while a page is served.
func started(c *exec.Cmd) error {
	if err := c.Start(); err != nil {
		return err
	}
	failed := make(chan error, 1)
	go func() { failed <- c.Wait() }()
	select {
	case err := <-failed:
		return err
	case <-time.After(startsWithin):
		return nil
	}
}
