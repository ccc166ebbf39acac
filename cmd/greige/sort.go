package main

import (
	"fmt"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"greige/analyze"
)

func newSort() *cobra.Command {
	var f common
	var opt analyze.SortOptions
	var put numbersFlags
	c := &cobra.Command{
		Use:   "sort PHOTO|FOLDER...",
		Short: "which of my cloths are lights and which are darks?",
		Long: `Measure every cloth in the photos, rank them from light to dark, and make the
light, medium and dark piles.

A photo shows one cloth edge to edge, or scraps spread on a plain ground. Close-ups
can be compared only when each has a card in it, or when the phone wrote down its
exposure: lay the same sheet of white paper beside each cloth, and give its place with
--card where it is not found.`,
		Example: `  greige sort scraps/
  greige sort table.jpg --light sheet --open
  greige sort blue.jpg red.jpg --scraps one --card 40,60,500,400`,
		Args: cobra.MinimumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			s, err := f.settings(c)
			if err != nil {
				return err
			}
			opt.Settings = s
			if opt.Piles != 2 && opt.Piles != 3 {
				return &usage{fmt.Errorf("--piles is 2 or 3, not %d", opt.Piles)}
			}
			if c.Flags().Changed("patch") && !(opt.PatchCM > 0 && opt.PatchCM <= 1000) {
				return &usage{fmt.Errorf("--patch is in centimetres, above 0, not %g", opt.PatchCM)}
			}
			if opt.Numbers, err = put.numbers(); err != nil {
				return err
			}
			return f.carryOut(c, args, func(progress func(done, total int)) (*analyze.Result, error) {
				opt.Progress = progress
				return analyze.Sort(c.Context(), args, opt)
			})
		},
	}
	f.add(c)
	c.Flags().IntVar(&opt.Piles, "piles", 3, "how many piles, `2|3`")
	addScraps(c, &opt.Scraps)
	c.Flags().Float64Var(&opt.PatchCM, "patch", 0, "the size patches will be cut, in `CM`, to tell how much they will differ")
	put.add(c)
	return c
}

// numbersFlags put right by number what was found.
type numbersFlags struct{ cloth, notCloth, join []string }

func (f *numbersFlags) add(c *cobra.Command) {
	fs := c.Flags()
	fs.StringSliceVar(&f.cloth, "cloth", nil, "the pieces of these numbers are cloth, `N,N`")
	fs.StringSliceVar(&f.notCloth, "not-cloth", nil, "the pieces of these numbers are no cloth, `N,N`")
	fs.StringSliceVar(&f.join, "join", nil, "the pieces of these numbers are one, `N+N`; the other numbers stay as they are")
}

func (f *numbersFlags) numbers() (n analyze.Numbers, err error) {
	if n.Cloth, err = pieceNumbers("cloth", f.cloth); err != nil {
		return n, err
	}
	if n.NotCloth, err = pieceNumbers("not-cloth", f.notCloth); err != nil {
		return n, err
	}
	for _, join := range f.join {
		ids, err := pieceNumbers("join", strings.Split(join, "+"))
		if err != nil {
			return n, err
		}
		if len(ids) < 2 {
			return n, &usage{fmt.Errorf("--join takes two numbers or more with + between them, such as 4+7, not %s", quoted(join))}
		}
		n.Join = append(n.Join, ids)
	}
	return n, nil
}

// pieceNumbers reads the numbers of pieces, which are 1 or more.
func pieceNumbers(flag string, words []string) (ids []int, err error) {
	for _, w := range words {
		id, err := strconv.Atoi(strings.TrimSpace(w))
		if err != nil || id < 1 {
			return nil, &usage{fmt.Errorf("--%s takes the numbers of pieces, not %s", flag, quoted(w))}
		}
		ids = append(ids, id)
	}
	return ids, nil
}
