package main

import (
	"fmt"
	"slices"

	"github.com/spf13/cobra"

	"greige/analyze"
	"greige/analyze/numerals"
)

func newBorder() *cobra.Command {
	var f common
	var opt analyze.BorderOptions
	var at rectangle
	var stash []string
	var stashFile string
	c := &cobra.Command{
		Use:   "border PHOTO --stash PHOTO|FOLDER...",
		Short: "which of my cloths belong in the middle of this border print?",
		Long: `Draw the colours and their shares from a border print, show which cloths of the
stash come near each, and choose a handful that cover light to dark for the centre.

The stash is photos of cloth, folders of them, the JSON of an earlier greige sort, or
"kept": the stash that greige stash keeps, which is also taken where you name none.
Without a stash the palette alone is shown.`,
		Example: `  greige border border.jpg --stash scraps/
  greige border border.jpg --stash scraps.json --choose 5 --open
  greige border bolt.jpg --at 200,150,2400,700`,
		Args: cobra.MinimumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			s, err := f.settings(c)
			if err != nil {
				return err
			}
			opt.Settings = s
			// What follows the print without a flag of its own is stash too, so
			// that a shell's *.jpg after --stash does what it looks like.
			stash = append(stash, args[1:]...)
			if len(args) > 1 && !c.Flags().Changed("stash") {
				return &usage{fmt.Errorf("one photo of a print, not %s: give the cloths with --stash", numerals.InWords(len(args)))}
			}
			if c.Flags().Changed("colours") && (opt.Colours < 1 || opt.Colours > 40) {
				return &usage{fmt.Errorf("--colours is 1 to 40, not %d", opt.Colours)}
			}
			if opt.Choose < 1 || opt.Choose > 20 {
				return &usage{fmt.Errorf("--choose is 1 to 20, not %d", opt.Choose)}
			}
			opt.At = at.Rectangle
			from, err := readStash(stash, stashFile, true)
			if err != nil {
				return err
			}
			defer from.close()
			opt.Stash, opt.StashKnown, opt.Kept = from.photos, from.known, from.kept
			return f.carryOut(c, slices.Concat(args[:1], stash, from.files()), func(progress func(done, total int)) (*analyze.Result, error) {
				opt.Progress = progress
				return analyze.Border(c.Context(), args[0], opt)
			})
		},
	}
	f.add(c)
	fs := c.Flags()
	fs.StringArrayVar(&stash, "stash", nil, "the cloths to choose from: `PHOTO|FOLDER|JSON|kept`; may be given again (default: the kept stash, where there is one)")
	addStashFile(c, &stashFile)
	addScraps(c, &opt.StashScraps)
	fs.Var(&at, "at", "the part of the photo that is the print, `X,Y,W,H` in pixels (default: all of it)")
	fs.IntVar(&opt.Colours, "colours", 0, "how many colours to draw, `N` (default: found)")
	fs.IntVar(&opt.Choose, "choose", 4, "how many centre fabrics to choose, `N`")
	return c
}
