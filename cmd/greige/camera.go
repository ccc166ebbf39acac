package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"runtime"
	"strings"

	"github.com/spf13/cobra"

	"greige/analyze"
	"greige/analyze/camera"
	"greige/analyze/numerals"
	"greige/analyze/photo"
	"greige/analyze/teach"
)

// camerasFolder is where the learned cameras are kept.
func camerasFolder() (string, error) {
	folder := camera.Place(os.Getenv, runtime.GOOS)
	if folder == "" {
		return "", &hinted{errors.New("the system names no folder in which what is learned could be kept"), "set the variable GREIGE_CAMERAS to a folder"}
	}
	return folder, nil
}

// learnedCameras reads the cameras that a command is to use by its flag --camera; nil
// is none. What cannot be read is said and left alone.
func learnedCameras(choice string, stderr io.Writer) (*camera.Shelf, error) {
	if choice == "none" {
		return nil, nil
	}
	shelf, problems := camera.ReadShelf(camera.Place(os.Getenv, runtime.GOOS))
	complainShelf(stderr, problems)
	if choice == "auto" {
		return shelf, nil
	}
	if shelf.All = shelf.Named(choice); shelf.All == nil {
		have := "none was learned yet; greige camera learn PHOTO... does it"
		if len(shelf.Cameras) > 0 {
			var names []string
			for _, k := range shelf.Cameras {
				names = append(names, k.Name)
			}
			have = "there are: " + strings.Join(names, ", ")
		}
		return nil, &usage{&hinted{fmt.Errorf("--camera: no camera is called %s", quoted(choice)), have}}
	}
	return shelf, nil
}

func complainShelf(w io.Writer, problems []error) {
	for _, p := range problems {
		complain(w, &hinted{p, "it was left as it is: learn the camera again under another --name, or take the file away"})
	}
}

func newCamera() *cobra.Command {
	c := &cobra.Command{
		Use:   "camera",
		Short: "teach it how your own phone bends light and dark",
		Long: `Every phone makes light and dark its own way, the same in all its photos. Teach it
to greige once, and every later photo by that phone is surer.`,
		Example: `  greige camera learn cards.jpg --card 40,60,500,400:95 --card 700,60,500,400:49.5
  greige camera learn chart.jpg
  greige camera learn darker.jpg usual.jpg lighter.jpg
  greige camera list
  greige camera forget pocket-3`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	c.AddCommand(newCameraLearn(), newCameraList(), newCameraForget())
	return c
}

func newCameraLearn() *cobra.Command {
	var opt teach.Options
	var places cards
	var corners points
	c := &cobra.Command{
		Use:   "learn PHOTO...",
		Short: "learn a phone from photos taken for it",
		Long: `Learn what a phone does to light and dark, in one of three ways:

  two cards: a sheet of white paper and a mid-grey card (or a grey scale) side by
    side in one photo, in even light; say where each lies and how light it is with
    --card X,Y,W,H:L, with white paper 95 and an 18 % grey card 49.5;
  a 24-patch chart: it is found by itself, or by its corners with --chart-corners;
  nothing but the phone: one still scene with plain light, middle and dark things,
    three times from a stand: darker, as usual and lighter, by the phone's slider.

Use photos as they come off the phone: a messenger takes away the record by which the
phone is known. Learn it again, another day and in other light, and it adds up.`,
		Example: `  greige camera learn cards.jpg --card 40,60,500,400:95 --card 700,60,500,400:49.5
  greige camera learn chart.jpg --chart-corners "100,80 2900,60 2950,2100 90,2120"
  greige camera learn darker.jpg usual.jpg lighter.jpg --name my-phone`,
		Args: cobra.MinimumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			opt.Cards, opt.Corners = places, corners
			switch {
			case len(places) > 0 && corners != nil:
				return &usage{errors.New("--card and --chart-corners are two ways to learn: give one of them")}
			case len(places) == 1:
				return &usage{&hinted{errors.New("one card shows how a photo was exposed and nothing of the phone"), "give --card twice or more, each with its lightness, such as white paper (95) and a mid-grey card (49.5)"}}
			case opt.Name != "" && !camera.GoodName(opt.Name):
				return &usage{fmt.Errorf("--name takes small letters, digits and hyphens, 40 at the most, and neither auto nor none: not %s", quoted(opt.Name))}
			}
			for i := range opt.Cards {
				if opt.Cards[i].Lightness == 0 {
					return &usage{&hinted{errors.New("each --card needs its lightness here"), "add it after a colon: white paper :95, an 18 % grey card :49.5"}}
				}
			}
			return learnCamera(c, args, opt)
		},
	}
	c.Flags().SortFlags = false
	c.Flags().Var(&places, "card", "where a neutral card lies in every photo, `X,Y,W,H:L` in pixels, with its lightness after a colon; two or more")
	c.Flags().Var(&corners, "chart-corners", "the outer corners of a 24-patch chart's patches, clockwise, `\"X,Y X,Y X,Y X,Y\"` (default: found)")
	c.Flags().StringVar(&opt.Name, "name", "", "what to call the phone, a `WORD` (default: what its record says)")
	return c
}

// learnCamera learns and keeps what is worth keeping.
func learnCamera(c *cobra.Command, args []string, opt teach.Options) error {
	folder, err := camerasFolder()
	if err != nil {
		return err
	}
	shelf, problems := camera.ReadShelf(folder)
	complainShelf(c.ErrOrStderr(), problems)
	sources, skipped := photo.Gather(args)
	done, more, err := teach.Learn(c.Context(), sources, opt, shelf)
	if err != nil {
		return err
	}
	skipped = append(skipped, more...)
	complainSkipped(c.ErrOrStderr(), skipped)
	out := c.OutOrStdout()
	kept := 0
	for _, o := range done {
		if o.Useless() {
			fmt.Fprintf(out, "%s: learned nothing that would make its photos surer, so nothing was kept.\n  Try a chart or cards that reach from light to dark, in even light.\n", o.By)
			continue
		}
		switch err := o.Keep(folder, shelf); {
		case errors.Is(err, teach.ErrInTheWay):
			return &hinted{fmt.Errorf("%s is there and cannot be used, so nothing was written over it", quoted(o.Kept.Path(folder))), "give the phone another --name, or take the file away"}
		case err != nil:
			return &hinted{fmt.Errorf("what was learned could not be kept in %s: %w", quoted(folder), err), "check that the folder may be written to, or set GREIGE_CAMERAS to another one"}
		}
		kept++
		fmt.Fprintf(out, "%s (%s): learned from %s.\n  Beside a white card its greys are now %.0f %% surer than a strange phone's.\n  It is used from now on for every photo by this phone; --camera none leaves it out.\n",
			o.Kept.Name, o.By, numerals.Some(len(o.Kept.Photos), "photo", "photos"), o.Surer())
	}
	switch {
	case len(done) == 0:
		return &analyze.ErrNothing{What: "nothing was learned"}
	case kept == 0:
		return &analyze.ErrNothing{What: "nothing was kept"}
	case len(skipped) > 0:
		return errSkipped
	}
	return nil
}

func newCameraList() *cobra.Command {
	return &cobra.Command{
		Use:     "list",
		Short:   "show which phones were learned",
		Example: `  greige camera list`,
		Args:    cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			folder, err := camerasFolder()
			if err != nil {
				return err
			}
			shelf, problems := camera.ReadShelf(folder)
			complainShelf(c.ErrOrStderr(), problems)
			out := c.OutOrStdout()
			if len(shelf.Cameras) == 0 {
				fmt.Fprintln(out, "No phone was learned yet. greige camera learn PHOTO... does it.")
			}
			for _, k := range shelf.Cameras {
				fmt.Fprintf(out, "%s: %s, %.0f %% surer beside a white card\n", k.Name, k.Identity, 100*(1-k.Learned.Gain()))
				for _, p := range k.Photos {
					fmt.Fprintf(out, "  %s  %s (%s)\n", dated(p.Date), p.Photo, p.By)
				}
			}
			return nil
		},
	}
}

func dated(date string) string {
	if date == "" {
		return "no date   "
	}
	return date
}

func newCameraForget() *cobra.Command {
	return &cobra.Command{
		Use:     "forget NAME",
		Short:   "forget what was learned of a phone",
		Example: `  greige camera forget pocket-3`,
		Args:    cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			folder, err := camerasFolder()
			if err != nil {
				return err
			}
			shelf, _ := camera.ReadShelf(folder)
			k := shelf.Named(args[0])
			if k == nil {
				return &usage{&hinted{fmt.Errorf("no camera is called %s", quoted(args[0])), "greige camera list shows their names"}}
			}
			if err := os.Remove(k.Path(folder)); err != nil {
				return fmt.Errorf("%s could not be taken away: %w", quoted(k.Path(folder)), err)
			}
			fmt.Fprintf(c.OutOrStdout(), "%s is forgotten; its photos are measured like those of any phone.\n", k.Name)
			return nil
		},
	}
}
