// Command greige measures how light the cloths in photos are and answers a
// patchwork maker's three questions: which are my lights and which are my
// darks, does this layout read, and what goes in the middle of this border.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"syscall"

	"github.com/spf13/cobra"

	"greige/analyze"
	"greige/analyze/photo"
)

// The exit statuses of the contract.
const (
	statusDone        = 0
	statusNothing     = 1 // nothing could be measured, or the output could not be written
	statusUsage       = 2
	statusSkipped     = 3 // done, but some photos were skipped
	statusInterrupted = 130
)

func main() {
	args := os.Args[1:]
	if asksStash(args) {
		useLittle()
	} else {
		useRoom()
	}
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	// A pipe that closes is an output that cannot be written, said in words.
	signal.Ignore(syscall.SIGPIPE)
	cobra.MousetrapHelpText = "" // started by its icon the program serves its page
	if byIcon(args) {
		args = nil
	}
	status := run(ctx, args, os.Stdout, os.Stderr)
	stop()
	os.Exit(status)
}

// hinted is an error with what to do about it on a line of its own.
type hinted struct {
	err  error
	hint string
}

func (e *hinted) Error() string { return e.err.Error() }
func (e *hinted) Unwrap() error { return e.err }

// usage is an error in the command line.
type usage struct{ err error }

func (e *usage) Error() string { return e.err.Error() }
func (e *usage) Unwrap() error { return e.err }

// errSkipped: all done, but some photos were skipped and already named.
var errSkipped = errors.New("some photos were skipped")

// run carries out one command line and returns the exit status.
func run(ctx context.Context, args []string, stdout, stderr io.Writer) int {
	root := newRoot()
	root.SetArgs(args)
	root.SetOut(stdout)
	root.SetErr(stderr)
	err := root.ExecuteContext(ctx)
	var nothing *analyze.ErrNothing
	var wrong *usage
	switch {
	case err == nil:
		return statusDone
	case errors.Is(err, errSkipped):
		return statusSkipped
	case ctx.Err() != nil && errors.Is(err, ctx.Err()):
		fmt.Fprintln(stderr, "greige: stopped; nothing was written")
		return statusInterrupted
	case errors.As(err, &wrong):
		complain(stderr, err)
		fmt.Fprintf(stderr, "  greige --help shows how it is used\n")
		return statusUsage
	case errors.As(err, &nothing):
		complain(stderr, err)
		return statusNothing
	default:
		complain(stderr, err)
		return statusNothing
	}
}

// complain writes one error: lower case, no full stop, the hint on its own line.
func complain(w io.Writer, err error) {
	fmt.Fprintf(w, "greige: %s\n", err)
	if hint := hintOf(err); hint != "" {
		fmt.Fprintf(w, "  %s\n", hint)
	}
}

func complainSkipped(w io.Writer, skipped []photo.Skipped) {
	for _, s := range skipped {
		fmt.Fprintf(w, "greige: %s: %s\n", quoted(s.Photo), s.Reason)
		if s.Hint != "" {
			fmt.Fprintf(w, "  %s\n", s.Hint)
		}
	}
}

func newRoot() *cobra.Command {
	root := &cobra.Command{
		Use:   "greige",
		Short: "see the lights and darks of your cloth",
		Long: `greige (said like "grey") measures how light each cloth in your photos is,
whatever its colour, and answers three questions:

  which of my scraps are lights and which are darks?      greige sort
  does this layout read, and which patch is the culprit?  greige layout
  which of my cloths belong in the middle of this border? greige border

Cloths that are measured once can be kept and found again: greige stash.

And once the cloths are chosen, before they are cut:

  what will it look like, and what do I cut?              greige plan

The answer is a page of pictures that opens in your browser, and a few lines
here. Nothing leaves your computer.`,
		Example: `  greige demo
  greige open scraps/
  greige sort scraps/
  greige layout wall.jpg
  greige border border.jpg --stash scraps/
  greige plan --stash scraps.json`,
		Version:       version(),
		SilenceUsage:  true,
		SilenceErrors: true,
		Args:          cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			if byIcon(os.Args[1:]) {
				return openByIcon(c)
			}
			return c.Help()
		},
	}
	root.SetVersionTemplate("greige {{.Version}}\n")
	root.AddCommand(newSort(), newLayout(), newBorder(), newPlan(), newStash(), newDemo(), newOpen(), newCamera(), newMan())
	speakPlainly(root)
	offerValues(root)
	return root
}
