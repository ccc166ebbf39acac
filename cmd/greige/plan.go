package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"greige/analyze"
	"greige/analyze/layout"
	"greige/analyze/plan"
	"greige/report"
)

// keptCloths are the cloths of the kept stash, with their photos as far as these
// are still where they were.
func keptCloths(ctx context.Context, file string) ([]analyze.PlanCloth, error) {
	kept, err := openStash(file)
	if err != nil {
		return nil, err
	}
	defer kept.Close()
	fabrics, err := kept.Cloths(ctx)
	if err != nil {
		return nil, err
	}
	shapes, err := kept.Shapes(ctx)
	if err != nil {
		return nil, err
	}
	cloths := make([]analyze.PlanCloth, len(fabrics))
	for i, f := range fabrics {
		shape := shapes[f.ID]
		f.Outline = shape.Outline
		cloths[i] = analyze.PlanCloth{Fabric: f, WidthCM: shape.WidthCM}
		if isFile(f.Photo) {
			cloths[i].Path = f.Photo
		}
	}
	return cloths, nil
}

// planFlags are the flags of plan as they are typed.
type planFlags struct {
	block, blocks, patch, setting string
	alternate, sashing            string
	borders, stash                []string
	light, medium, dark           []string
	from, seam, usable, units     string
	stashFile                     string
	people                        int
}

func newPlan() *cobra.Command {
	var f common
	var p planFlags
	var scraps analyze.ScrapsMode
	c := &cobra.Command{
		Use:   "plan",
		Short: "see chosen cloths in a top before you cut, and what to cut",
		Long: `Put chosen cloths in a block and the blocks in a setting, and see the top before a
thread of it is cut: in colour, in grey and from across the room, with the same
verdict that greige layout gives a top on the wall. Then the list to take to the
table: strips, sets, segments, patches and triangles, how much cloth that takes,
which way to press, and the order of work.

Cloths are named by their numbers, or by their pile: --light 3,7 or --light light.
Where none are named, the plan chooses from the stash. Sizes have a unit, such as
2in, "2 1/2in", 5cm or 7.5mm, and are finished sizes, without seam allowances.

The blocks that have a name:
  ` + strings.Join(plan.BlockNames(), "\n  "),
		Example: `  greige plan --stash scraps.json
  greige plan --stash scraps.json --block nine-patch --blocks 5x6 --patch 2in --light 3 --dark 9 --alternate 12
  greige plan --stash scraps.json --setting on-point --alternate 12 --border 4in:9 --people 3
  greige plan --from wall.json --patch 5cm`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			s, err := f.settings(c)
			if err != nil {
				return err
			}
			opt := analyze.PlanOptions{Settings: s, People: p.people, Scraps: scraps}
			inputs, err := p.options(c, &opt)
			if err != nil {
				return err
			}
			return f.carryOut(c, inputs, func(progress func(done, total int)) (*analyze.Result, error) {
				opt.Progress = progress
				r, err := analyze.Plan(c.Context(), opt)
				var wrong *analyze.ErrPlan
				if errors.As(err, &wrong) {
					return r, &usage{wrong.Err}
				}
				return r, err
			})
		},
	}
	f.addForPlan(c)
	p.add(c)
	addScraps(c, &scraps)
	return c
}

// addForPlan adds the flags of measuring commands, but for --light, which
// names cloths here.
func (f *common) addForPlan(c *cobra.Command) {
	f.add(c)
	all := *c.Flags()
	c.ResetFlags()
	c.Flags().SortFlags = false
	for _, name := range []string{"out", "json", "csv", "card", "card-lightness", "camera", "open", "quiet", "jobs", "distance", "width", "max-megapixels", "corrections"} {
		if flag := all.Lookup(name); flag != nil {
			c.Flags().AddFlag(flag)
		}
	}
}

func (p *planFlags) add(c *cobra.Command) {
	fs := c.Flags()
	fs.StringVar(&p.block, "block", "nine-patch", "the block: `NAME|CHART`, a chart being a plain text file, a line a row and a letter a patch")
	fs.StringVar(&p.blocks, "blocks", "4x5", "how many blocks, across and down: `COLSxROWS`")
	fs.StringVar(&p.patch, "patch", "2in", "the finished `SIZE` of a patch, such as 2in or 5cm")
	fs.StringVar(&p.setting, "setting", "straight", "how the blocks stand: `straight|on-point`")
	fs.StringVar(&p.alternate, "alternate", "none", "plain squares between the blocks, out of cloth `ID|none`")
	fs.StringVar(&p.sashing, "sashing", "", "strips between the blocks, `SIZE:ID`")
	fs.StringArrayVar(&p.borders, "border", nil, "a border, `SIZE:ID`; may be given again, from the inside out")
	fs.StringSliceVar(&p.light, "light", nil, "the light cloths, `IDS` with commas between, or a pile (default: chosen)")
	fs.StringSliceVar(&p.medium, "medium", nil, "the medium cloths, `IDS` (default: chosen)")
	fs.StringSliceVar(&p.dark, "dark", nil, "the dark cloths, `IDS` (default: chosen)")
	addStashFile(c, &p.stashFile)
	fs.StringArrayVar(&p.stash, "stash", nil, "the cloths: `PHOTO|FOLDER|JSON|kept`; may be given again")
	fs.StringVar(&p.from, "from", "", "plan the top that hangs, out of what greige layout --json wrote: `FILE`")
	fs.StringVar(&p.seam, "seam", "", "the width of your seam, `SIZE` (default: 1/4in, or 7.5mm where sizes are metric)")
	fs.StringVar(&p.usable, "usable-width", "", "of cloth off the bolt, without its selvages, `SIZE` (default: 40in)")
	fs.IntVar(&p.people, "people", 1, "share the work between `N` people")
	fs.StringVar(&p.units, "units", "", "the ruler, `in|cm` (default: as --patch is given)")
}

// options turns the flags into opt, and returns the paths that are read.
func (p *planFlags) options(c *cobra.Command, opt *analyze.PlanOptions) (inputs []string, err error) {
	if err := p.sizes(opt); err != nil {
		return nil, &usage{err}
	}
	switch layout.Setting(p.setting) {
	case layout.Straight:
	case layout.OnPoint:
		opt.OnPoint = true
	default:
		return nil, &usage{fmt.Errorf("--setting is straight or on-point, not %s", quoted(p.setting))}
	}
	if p.people < 1 || p.people > 50 {
		return nil, &usage{fmt.Errorf("--people is 1 to 50, not %d", p.people)}
	}
	if p.from != "" {
		if len(p.stash) > 0 {
			return nil, &usage{errors.New("--from and --stash do not go together: the cloths are those of the top that hangs")}
		}
		for _, name := range []string{"block", "blocks", "setting", "alternate", "sashing", "light", "medium", "dark", "people"} {
			if c.Flags().Changed(name) {
				return nil, &usage{fmt.Errorf("--from plans the top as it hangs: leave out --%s", name)}
			}
		}
		return []string{p.from}, p.readTop(opt)
	}
	if p.alternate != "none" {
		opt.Alternate = p.alternate
	}
	opt.Light, opt.Medium, opt.Dark = trimmed(p.light), trimmed(p.medium), trimmed(p.dark)
	if opt.Design, err = designOf(p.block); err != nil {
		return nil, err
	}
	if _, err := os.Stat(p.block); err == nil {
		inputs = append(inputs, p.block)
	}
	if opt.Cols, opt.Rows, err = countsOf(p.blocks); err != nil {
		return nil, &usage{err}
	}
	if len(p.stash) == 0 {
		return nil, &usage{&hinted{errors.New("no cloths are given"), "give --stash PHOTO|FOLDER|JSON, or --from FILE for a top that hangs"}}
	}
	return slices.Concat(inputs, p.stash), p.readStash(c.Context(), opt)
}

func trimmed(list []string) []string {
	var out []string
	for _, s := range list {
		if s = strings.TrimSpace(s); s != "" {
			out = append(out, s)
		}
	}
	return out
}

// sizes reads the sizes and settles the ruler.
func (p *planFlags) sizes(opt *analyze.PlanOptions) (err error) {
	metric := false
	if opt.Patch, metric, err = plan.ParseLength(p.patch); err != nil {
		return fmt.Errorf("--patch: %w", err)
	}
	switch p.units {
	case "":
	case "in", "cm":
		metric = p.units == "cm"
	default:
		return fmt.Errorf("--units is in or cm, not %s", quoted(p.units))
	}
	opt.Seam, opt.Usable = plan.Inch/4, 40*plan.Inch
	if metric {
		opt.Seam = 15 * plan.Millimetre / 2
	}
	if p.seam != "" {
		if opt.Seam, _, err = plan.ParseLength(p.seam); err != nil {
			return fmt.Errorf("--seam: %w", err)
		}
	}
	if opt.Seam > plan.Inch {
		return fmt.Errorf("--seam: %s is no seam: give up to an inch", quoted(p.seam))
	}
	if p.usable != "" {
		if opt.Usable, _, err = plan.ParseLength(p.usable); err != nil {
			return fmt.Errorf("--usable-width: %w", err)
		}
	}
	if opt.Ruler, err = plan.NewRuler(metric, opt.Seam); err != nil {
		return err
	}
	if p.sashing != "" {
		s, err := sizedOf(p.sashing, "sashing")
		if err != nil {
			return err
		}
		opt.Sashing = &s
	}
	for _, b := range p.borders {
		s, err := sizedOf(b, "border")
		if err != nil {
			return err
		}
		opt.Borders = append(opt.Borders, s)
	}
	return nil
}

// sizedOf reads SIZE:ID.
func sizedOf(s, flag string) (analyze.PlanSized, error) {
	i := strings.IndexByte(s, ':')
	if i < 0 || strings.TrimSpace(s[i+1:]) == "" {
		return analyze.PlanSized{}, fmt.Errorf("--%s: %s names no cloth: give the size and the cloth's number, such as 4in:9", flag, quoted(s))
	}
	l, _, err := plan.ParseLength(s[:i])
	if err != nil {
		return analyze.PlanSized{}, fmt.Errorf("--%s: %w", flag, err)
	}
	return analyze.PlanSized{Size: l, ID: strings.TrimSpace(s[i+1:])}, nil
}

// countsOf reads COLSxROWS.
func countsOf(s string) (cols, rows int, err error) {
	a, b, ok := strings.Cut(strings.ToLower(s), "x")
	cols, errCols := strconv.Atoi(strings.TrimSpace(a))
	rows, errRows := strconv.Atoi(strings.TrimSpace(b))
	if !ok || errCols != nil || errRows != nil || cols < 1 || rows < 1 || cols > 100 || rows > 100 {
		return 0, 0, fmt.Errorf("--blocks: give how many across and down, each 1 to 100, such as 4x5, not %s", quoted(s))
	}
	return cols, rows, nil
}

// designOf is the block in a chart's file or of a name.
func designOf(nameOrFile string) (plan.Design, error) {
	if _, err := os.Stat(nameOrFile); err != nil {
		d, err := plan.DesignByName(nameOrFile)
		if err != nil {
			return d, &usage{&hinted{fmt.Errorf("--block: %s is neither a file nor the name of a block", quoted(nameOrFile)),
				"the names are " + strings.Join(plan.BlockNames(), ", ")}}
		}
		return d, nil
	}
	chart, err := chartOf(nameOrFile)
	if err != nil {
		return plan.Design{}, err
	}
	d, err := plan.DesignOf(*chart)
	if err != nil {
		return d, &usage{fmt.Errorf("%s: %w", quoted(nameOrFile), err)}
	}
	return d, nil
}

// readStash reads the cloths: those measured before with the width of their
// scene, and the photos and folders that are still to be measured.
func (p *planFlags) readStash(ctx context.Context, opt *analyze.PlanOptions) error {
	for _, in := range p.stash {
		if in == "kept" {
			kept, err := keptCloths(ctx, p.stashFile)
			if err != nil {
				return err
			}
			opt.Known = append(opt.Known, kept...)
			continue
		}
		if !strings.EqualFold(filepath.Ext(in), ".json") {
			opt.Stash = append(opt.Stash, in)
			continue
		}
		fabrics, width, err := readFigures(in)
		if err != nil {
			return err
		}
		if opt.WidthCM > 0 {
			width = opt.WidthCM
		}
		for _, f := range fabrics {
			opt.Known = append(opt.Known, analyze.PlanCloth{Fabric: f, Path: analyze.FindPhoto(f.Photo, in), WidthCM: width})
		}
	}
	return nil
}

// readTop reads the top that hangs.
func (p *planFlags) readTop(opt *analyze.PlanOptions) error {
	file, err := os.Open(p.from)
	if err != nil {
		return &hinted{fmt.Errorf("%s: the top cannot be read", quoted(p.from)), "check the name; greige layout --json FILE writes such a file"}
	}
	defer file.Close()
	l, photo, err := report.ReadLayout(file)
	if err != nil {
		return &hinted{fmt.Errorf("%s: %w", quoted(p.from), err), hintOf(err)}
	}
	opt.From, opt.FromPhoto = l, analyze.FindPhoto(photo, p.from)
	return nil
}
