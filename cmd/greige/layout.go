package main

import (
	"errors"
	"fmt"
	"os"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"greige/analyze"
	"greige/analyze/layout"
)

func newLayout() *cobra.Command {
	var f common
	var opt analyze.LayoutOptions
	var corners points
	var setting, chart string
	var stash []string
	var stashFile string
	c := &cobra.Command{
		Use:   "layout PHOTO",
		Short: "does this layout read, and which patch is the culprit?",
		Long: `Find the patches of a block, a design wall or a top, compare every pair of
neighbours, and say whether the pattern reads from where the viewer stands, where
it does not, and what to hang there instead.

A chart is a plain text file, a line a row and a letter a patch: L light, M medium,
D dark, . anything; a small one repeats over the top. The charts with a name are:
  ` + strings.Join(layout.ChartNames(), "\n  "),
		Example: `  greige layout wall.jpg
  greige layout wall.jpg --rows 9 --cols 9 --corners "310,220 2790,240 2760,2680 330,2650"
  greige layout wall.jpg --chart nine-patch.txt --stash scraps.json --open`,
		Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			s, err := f.settings(c)
			if err != nil {
				return err
			}
			opt.Settings = s
			opt.Corners = corners
			switch opt.Setting = layout.Setting(setting); opt.Setting {
			case "", layout.Straight, layout.OnPoint:
			default:
				return &usage{fmt.Errorf("--setting is straight or on-point, not %s", quoted(setting))}
			}
			for _, name := range []string{"rows", "cols"} {
				n, _ := c.Flags().GetInt(name)
				if c.Flags().Changed(name) && (n < 1 || n > layout.MaxSide) {
					return &usage{fmt.Errorf("--%s is 1 to %d, not %d", name, layout.MaxSide, n)}
				}
			}
			if !(opt.Lost >= 0 && opt.Soft >= opt.Lost && opt.Soft <= 100) {
				return &usage{errors.New("--lost and --soft are lightness differences: 0 or more, and soft no less than lost")}
			}
			if opt.Chart, err = chartOf(chart); err != nil {
				return err
			}
			from, err := readStash(stash, stashFile, false)
			if err != nil {
				return err
			}
			defer from.close()
			opt.Stash, opt.StashKnown, opt.Kept = from.photos, from.known, from.kept
			inputs := slices.Concat(args, stash, from.files())
			if chart != "" {
				inputs = append(inputs, chart)
			}
			return f.carryOut(c, inputs, func(progress func(done, total int)) (*analyze.Result, error) {
				opt.Progress = progress
				return analyze.Layout(c.Context(), args[0], opt)
			})
		},
	}
	f.add(c)
	fs := c.Flags()
	fs.IntVar(&opt.Rows, "rows", 0, "rows of patches, `N` (default: found)")
	fs.IntVar(&opt.Cols, "cols", 0, "columns of patches, `N` (default: found)")
	fs.Var(&corners, "corners", "the outer corners of the patches in the photo, clockwise from the top left (default: found)")
	fs.StringVar(&setting, "setting", "", "how the patches lie: `straight|on-point` (default: found)")
	fs.StringVar(&chart, "chart", "", "what each patch is meant to be: `FILE|NAME` (default: found)")
	fs.StringArrayVar(&stash, "stash", nil, "cloths that could be hung instead: `PHOTO|FOLDER|JSON|kept` (kept: the stash that greige stash keeps); may be given again")
	addStashFile(c, &stashFile)
	addScraps(c, &opt.StashScraps)
	fs.Float64Var(&opt.Lost, "lost", layout.DefaultLost, "the lightness difference `L` under which a seam is lost")
	fs.Float64Var(&opt.Soft, "soft", layout.DefaultSoft, "the lightness difference `L` under which a seam is only soft")
	return c
}

// chartOf is the chart in a file or of a name; "" is none.
func chartOf(nameOrFile string) (*layout.Chart, error) {
	if nameOrFile == "" {
		return nil, nil
	}
	if _, err := os.Stat(nameOrFile); err != nil {
		if chart, err := layout.ChartByName(nameOrFile); err == nil {
			return &chart, nil
		}
		return nil, &usage{&hinted{
			fmt.Errorf("%s: neither a file nor the name of a chart", quoted(nameOrFile)),
			"the names are " + strings.Join(layout.ChartNames(), ", ")}}
	}
	file, err := os.Open(nameOrFile)
	if err != nil {
		return nil, &usage{fmt.Errorf("%s: the chart cannot be read", quoted(nameOrFile))}
	}
	defer file.Close()
	chart, err := layout.ParseChart(file)
	if err != nil {
		return nil, &usage{fmt.Errorf("%s: %w", quoted(nameOrFile), err)}
	}
	return &chart, nil
}
