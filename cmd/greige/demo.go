package main

import (
	"context"
	"fmt"
	"image"
	"io"
	"path/filepath"

	"github.com/spf13/cobra"

	"greige/analyze"
	"greige/analyze/light"
	"greige/analyze/piles"
	"greige/analyze/plan"
	"greige/analyze/scene"
	"greige/report"
)

func newDemo() *cobra.Command {
	var quiet, open bool
	c := &cobra.Command{
		Use:   "demo [FOLDER]",
		Short: "make the demo scene's photos, do all the jobs on them, write one page",
		Long: `Make the photos of an invented scene (a basket of scraps, a top on the wall, a
border print and a stash of cloths), do all the jobs on them, plan a top out of the
stash, and write one page with what was found. The folder is "greige-demo" unless you name another.`,
		Example: `  greige demo
  greige demo try-out --open`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			folder := "greige-demo"
			if len(args) > 0 {
				folder = args[0]
			}
			d := demo{c: c, folder: folder, quiet: quiet}
			if err := d.run(); err != nil {
				return err
			}
			if open {
				showPage(c.ErrOrStderr(), d.page())
			}
			return nil
		},
	}
	c.Flags().BoolVar(&open, "open", false, "open the page in the browser")
	c.Flags().BoolVar(&quiet, "quiet", false, "say nothing")
	return c
}

type demo struct {
	c      *cobra.Command
	folder string
	quiet  bool
}

func (d demo) page() string { return filepath.Join(d.folder, "greige-demo.html") }

func (d demo) say(format string, a ...any) {
	if !d.quiet {
		fmt.Fprintf(d.c.OutOrStdout(), format+"\n", a...)
	}
}

// run makes the photos and does the jobs as a person would: where a card lies
// is given by a flag; the scraps and the patches are found.
func (d demo) run() error {
	d.say("Making the photos ...")
	shots, err := scene.Demo(1, 0)
	if err != nil {
		return err
	}
	if err := d.c.Context().Err(); err != nil {
		return err
	}
	if err := scene.Write(d.folder, shots...); err != nil {
		return &hinted{fmt.Errorf("%s: the photos cannot be written there", quoted(d.folder)), "name another folder: greige demo FOLDER"}
	}
	d.say("Looking at them ...\n")
	var basket, wall, print scene.Shot
	var stash []string
	for _, s := range shots {
		switch {
		case s.Name == "basket.jpg":
			basket = s
		case s.Name == "wall.jpg":
			wall = s
		case s.Name == "border.jpg":
			print = s
		default:
			stash = append(stash, filepath.Join(d.folder, s.Name))
		}
	}
	settings := analyze.Settings{Distance: 2.5}
	settings.Light.CardLightness = 95

	ctx := d.c.Context()
	sorting := analyze.SortOptions{Settings: settings, Piles: 3, Scraps: analyze.ScrapsAuto}
	sorting.Light.Cards = []light.Card{{Place: cardOf(basket)}}
	go report.Prepare() // see carryOut
	sorted, err := analyze.Sort(ctx, []string{filepath.Join(d.folder, basket.Name)}, sorting)
	if err != nil {
		return d.failed(sorted, err)
	}
	hanging := analyze.LayoutOptions{Settings: settings, StashKnown: sorted.Sort.Fabrics}
	judged, err := analyze.Layout(ctx, filepath.Join(d.folder, wall.Name), hanging)
	if err != nil {
		return d.failed(judged, err)
	}
	drawing := analyze.BorderOptions{Settings: settings, Stash: stash, Choose: 4}
	drawing.Light.Cards = []light.Card{{Place: cardOf(print)}}
	drawn, err := analyze.Border(ctx, filepath.Join(d.folder, print.Name), drawing)
	if err != nil {
		return d.failed(drawn, err)
	}
	planned, err := d.plan(ctx, settings, drawn.Border.Stash)
	if err != nil {
		return d.failed(planned, err)
	}

	results := report.Demo{
		Title:    "The raffle top",
		Intro:    "A village hall raffles a top every winter. This one is invented, and so are its photos; what is said about them was measured.",
		Chapters: []*analyze.Result{sorted, judged, drawn, planned},
	}
	if err := report.WriteFile(d.page(), func(w io.Writer) error { return report.WriteDemo(w, results, version()) }); err != nil {
		return err
	}
	for _, r := range results.Chapters {
		name := filepath.Join(d.folder, "greige-"+r.Command+".json")
		if err := report.WriteFile(name, func(w io.Writer) error { return report.WriteJSON(w, r, version()) }); err != nil {
			return err
		}
		a := report.AnswerOf(r)
		d.say("%s", a.Headline)
		for _, s := range a.More {
			d.say("%s", s)
		}
		d.say("")
	}
	d.say("page  %s", d.page())
	return nil
}

// plan puts cloths of the stash in nine patches on point: plain squares of the
// palest between them, and a border of the wine garden.
func (d demo) plan(ctx context.Context, settings analyze.Settings, stash []piles.Fabric) (*analyze.Result, error) {
	block, err := plan.DesignByName("nine-patch")
	if err != nil {
		return nil, err
	}
	seam := plan.Inch / 4
	ruler, err := plan.NewRuler(false, seam)
	if err != nil {
		return nil, err
	}
	opt := analyze.PlanOptions{Settings: settings, Design: block, Cols: 3, Rows: 4, Patch: 2 * plan.Inch, Seam: seam, Ruler: ruler,
		Usable: 40 * plan.Inch, OnPoint: true, Alternate: "1", People: 1, Borders: []analyze.PlanSized{{Size: 3 * plan.Inch, ID: "8"}}}
	for _, f := range stash {
		opt.Known = append(opt.Known, analyze.PlanCloth{Fabric: f, Path: analyze.FindPhoto(f.Photo, d.page()), WidthCM: scene.DemoStashCM})
	}
	return analyze.Plan(ctx, opt)
}

func (d demo) failed(r *analyze.Result, err error) error {
	if r != nil {
		complainSkipped(d.c.ErrOrStderr(), r.Skipped)
	}
	return err
}

// cardOf is where a photo's card lies, in whole pixels, as one would give it.
func cardOf(s scene.Shot) image.Rectangle {
	if len(s.Truth.Cards) == 0 {
		return image.Rectangle{}
	}
	return s.Truth.Cards[0].Inside
}
