package main

import (
	"errors"
	"fmt"
	"os"
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
			if err := doc.GenManTree(c.Root(), header, args[0]); err != nil {
				return errors.Join(fmt.Errorf("%s: the manual pages cannot be written", quoted(args[0])), err)
			}
			return nil
		},
	}
}
