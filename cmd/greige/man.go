package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/cobra/doc"
)

// newMan writes the manual pages, for those who package the program.
func newMan() *cobra.Command {
	return &cobra.Command{
		Use:    "man FOLDER",
		Short:  "write the manual pages into a folder",
		Hidden: true,
		Args:   cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			if err := os.MkdirAll(args[0], 0o755); err != nil {
				return fmt.Errorf("%s: the folder cannot be made", quoted(args[0]))
			}
			// A fixed day, so that the same program writes the same pages.
			day := time.Date(2026, time.January, 1, 0, 0, 0, 0, time.UTC)
			header := &doc.GenManHeader{Title: "GREIGE", Section: "1", Source: "greige " + version(), Manual: "greige", Date: &day}
			c.Root().DisableAutoGenTag = true // no line about the generator
			err := doc.GenManTree(c.Root(), header, args[0])
			if err == nil {
				err = addStatuses(args[0])
			}
			if err != nil {
				return errors.Join(fmt.Errorf("%s: the manual pages cannot be written", quoted(args[0])), err)
			}
			return nil
		},
	}
}

// statuses are the exit statuses, as a section of a manual page.
const statuses = `.SH EXIT STATUS
.TP
0
All done.
.TP
1
Nothing could be measured, or the output could not be written.
.TP
2
The command line is wrong.
.TP
3
Done, but some photos were skipped; each is named with the reason.
.TP
130
Stopped by Ctrl-C; nothing is left half written.

`

// addStatuses puts the exit statuses into the manual pages in a folder, before
// their last section.
func addStatuses(folder string) error {
	pages, err := filepath.Glob(filepath.Join(folder, "greige*.1"))
	if err != nil {
		return err
	}
	for _, name := range pages {
		text, err := os.ReadFile(name)
		if err != nil {
			return err
		}
		before, after, _ := strings.Cut(string(text), ".SH SEE ALSO")
		if after != "" {
			after = ".SH SEE ALSO" + after
		}
		if err := os.WriteFile(name, []byte(before+statuses+after), 0o644); err != nil {
			return err
		}
	}
	return nil
}
