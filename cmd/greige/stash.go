package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"greige/analyze"
	"greige/analyze/numerals"
	"greige/analyze/piles"
	"greige/analyze/stash"
	"greige/colorspace"
	"greige/report"
)

// stashVariable names the stash's file where --stash-file does not.
const stashVariable = "GREIGE_STASH"

func addStashFile(c *cobra.Command, file *string) {
	c.Flags().StringVar(file, "stash-file", "", "the `FILE` of the kept stash (default: $"+stashVariable+", or stash.db in greige's folder among your data)")
}

// errNoPlace: the system gives this user no folder for data.
var errNoPlace = errors.New("there is no place for the stash")

// stashPath is the file of the kept stash.
func stashPath(given string) (string, error) {
	if given != "" {
		return given, nil
	}
	if path := os.Getenv(stashVariable); path != "" {
		return path, nil
	}
	path, err := stash.Place(os.Getenv, runtime.GOOS)
	if err != nil {
		return "", &hinted{fmt.Errorf("%w: %v", errNoPlace, err), "name a file with --stash-file"}
	}
	return path, nil
}

// openStash opens the kept stash, which must be there.
func openStash(given string) (*stash.Stash, error) {
	path, err := stashPath(given)
	if err != nil {
		return nil, err
	}
	s, err := stash.Open(path)
	return s, stashError(path, err)
}

// stashError is what is wrong with the stash, with the name of its file.
func stashError(path string, err error) error {
	var e *stash.Error
	switch {
	case err == nil:
		return nil
	case errors.Is(err, stash.ErrNone):
		return &hinted{fmt.Errorf("%s: %w", quoted(path), err), "greige stash add PHOTO|FOLDER makes one"}
	case errors.As(err, &e) && e.File != "":
		return &hinted{fmt.Errorf("%s: %w", quoted(path), err), e.Hint}
	}
	return err
}

func newStash() *cobra.Command {
	c := &cobra.Command{
		Use:   "stash add|find|show|use|drop|save|load",
		Short: "keep the cloths you own, measured once and found again",
		Long: `Keep the cloths you own in one file on your computer, measured once, and find them
again: a light near this pink, every dark solid of which a hand's breadth is left.
greige border and greige layout take them with --stash kept.

The file is stash.db in the folder greige among your data (on Linux ~/.local/share, on
macOS ~/Library/Application Support, on Windows %LocalAppData%), or what --stash-file or
$` + stashVariable + ` names.`,
		Example: `  greige stash add scraps/ --width 60
  greige stash find --light --near pink
  greige border border.jpg --stash kept`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	c.AddCommand(newStashAdd(), newStashFind(), newStashShow(), newStashUse(), newStashDrop(), newStashSave(), newStashLoad())
	return c
}

// keeper is what the commands of the stash share.
type keeper struct {
	common
	file  string
	asked analyze.Settings // by the flags, once they are read
}

// outputs adds the flags of a command that measures nothing, and has them checked
// before it runs.
func (k *keeper) outputs(c *cobra.Command) {
	k.common = withoutFlags()
	c.PreRunE = func(c *cobra.Command, _ []string) (err error) {
		k.asked, err = k.settings(c)
		return err
	}
	fs := c.Flags()
	fs.SortFlags = false
	fs.StringVar(&k.out, "out", "", "the page to write, `FILE` (default: none)")
	fs.StringVar(&k.json, "json", "", "write the figures as JSON to `FILE`, - for standard output")
	fs.StringVar(&k.csv, "csv", "", "write the main table as CSV to `FILE`, - for standard output")
	fs.BoolVar(&k.open, "open", false, "open the page in the browser")
	fs.BoolVar(&k.quiet, "quiet", false, "no progress, no table")
	addStashFile(c, &k.file)
}

// in opens the stash, does job in it, and hands out the answer. inputs are the
// paths that the job reads.
func (k *keeper) in(c *cobra.Command, create bool, inputs []string, job func(s *stash.Stash, progress func(done, total int)) (*analyze.Result, error)) error {
	path, err := stashPath(k.file)
	if err != nil {
		return err
	}
	if err := k.spare(append(slices.Clone(inputs), path)); err != nil {
		return err
	}
	open := stash.Open
	if create {
		open = stash.Create
	}
	s, err := open(path)
	if err != nil {
		return stashError(path, err)
	}
	defer s.Close()
	return k.carryOut(c, append(slices.Clone(inputs), path), func(progress func(done, total int)) (*analyze.Result, error) {
		r, err := job(s, progress)
		return r, stashError(path, err)
	})
}

func newStashAdd() *cobra.Command {
	k := &keeper{}
	var opt analyze.KeepOptions
	c := &cobra.Command{
		Use:   "add PHOTO|FOLDER|JSON...",
		Short: "measure cloths and keep them",
		Long: `Measure the cloths in the photos and keep them. A photo that is in the stash already
is known by what is in the file, whatever it is called, and is not measured again.
JSON is what greige sort --json wrote.

Give --width to keep how much there is of each cloth. Lay a sheet of white paper in
each photo: cloths of different photos can only be set against each other as far as
each photo's light is known.`,
		Example: `  greige stash add scraps/ --width 60
  greige stash add blue.jpg --scraps one --card 40,60,500,400
  greige stash add basket.json`,
		Args: cobra.MinimumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			s, err := k.settings(c)
			if err != nil {
				return err
			}
			opt.Settings, opt.Piles, opt.Now = s, 3, time.Now()
			var photos []string
			for _, in := range args {
				if !strings.EqualFold(filepath.Ext(in), ".json") {
					photos = append(photos, in)
					continue
				}
				fabrics, _, err := readFigures(in)
				if err != nil {
					return err
				}
				opt.Figures = append(opt.Figures, analyze.Figures{File: in, Fabrics: fabrics})
			}
			return k.in(c, true, args, func(s *stash.Stash, progress func(done, total int)) (*analyze.Result, error) {
				opt.Progress = progress
				return analyze.Keep(c.Context(), s, photos, opt)
			})
		},
	}
	k.add(c)
	k.pageIfAsked, k.out = true, ""
	out := c.Flags().Lookup("out")
	out.DefValue, out.Usage = "", "the page to write, `FILE` (default: none)"
	addScraps(c, &opt.Scraps)
	addStashFile(c, &k.file)
	return c
}

// finding are the flags of greige stash find.
type finding struct {
	light, medium, dark              bool
	near, lightness, name, character string
	atLeast                          float64
}

func newStashFind() *cobra.Command {
	k := &keeper{}
	var f finding
	c := &cobra.Command{
		Use:   "find",
		Short: "find kept cloths: by pile, lightness, colour, character, or what is left",
		Long: `Find kept cloths. Without a flag all of them are listed, from light to dark; with several,
those that fit all of them. The piles are those of the whole stash.

--near takes a colour (a name such as "pink" or "deep purplish red", #rrggbb, or L,a,b),
the number of a kept cloth, or a photo, and lists the nearest first, by the cloth as a
whole or by any of its inks.

A cloth whose photo does not show how bright its light was cannot be set against cloths
of other photos: such ones come last, and the photo to take again is named.`,
		Example: `  greige stash find --light --near pink
  greige stash find --dark --character solid --at-least 80
  greige stash find --near border.jpg --out stash.html`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			q, asked, err := f.query(c)
			if err != nil {
				return err
			}
			var inputs []string
			if isFile(f.near) {
				inputs = []string{f.near}
			}
			return k.in(c, false, inputs, func(kept *stash.Stash, _ func(done, total int)) (*analyze.Result, error) {
				r := &analyze.Result{Command: "stash", Distance: k.distance}
				if c.Flags().Changed("near") {
					opt := analyze.SortOptions{Settings: k.asked, Piles: 3, Scraps: analyze.ScrapsAuto}
					if q.Near, r, err = nearTo(c.Context(), kept, f.near, opt); err != nil {
						return r, err
					}
				}
				found, err := kept.Find(c.Context(), q)
				if err != nil {
					return r, err
				}
				r.Kept, err = kept.Answer(c.Context(), found, k.out != "")
				if err == nil {
					r.Kept.Asked = asked
				}
				return r, err
			})
		},
	}
	k.outputs(c)
	fs := c.Flags()
	fs.BoolVar(&f.light, "light", false, "the lights")
	fs.BoolVar(&f.medium, "medium", false, "the mediums")
	fs.BoolVar(&f.dark, "dark", false, "the darks")
	fs.StringVar(&f.near, "near", "", "nearest first to this `COLOUR|ID|PHOTO`")
	fs.StringVar(&f.lightness, "lightness", "", "of a lightness between `L-L`, such as 60-80")
	fs.StringVar(&f.name, "name", "", "whose colour is called so: `WORD`, such as pink")
	fs.StringVar(&f.character, "character", "", "of this kind: `WORD`: solid, tone-on-tone, print or high-contrast print")
	fs.Float64Var(&f.atLeast, "at-least", 0, "of which so many `CM2` are left")
	fs.Var(&k.cards, "card", "where a neutral card lies in the photo given with --near, `X,Y,W,H[:L]` in pixels")
	fs.Float64Var(&k.cardLightness, "card-lightness", 95, "that card's lightness `L`, 0 to 100")
	return c
}

func isFile(path string) bool {
	info, err := os.Stat(path)
	return err == nil && info.Mode().IsRegular()
}

// characters are what a cloth can be.
var characters = []string{"solid", "tone-on-tone", "print", "high-contrast print"}

// query is what the flags ask, and the same in words; what it is to be near to
// is left out.
func (f *finding) query(c *cobra.Command) (q stash.Query, asked string, err error) {
	var words []string
	for _, p := range []struct {
		on   bool
		pile piles.Pile
	}{{f.light, piles.Light}, {f.medium, piles.Medium}, {f.dark, piles.Dark}} {
		if p.on {
			q.Piles = append(q.Piles, p.pile)
			words = append(words, string(p.pile))
		}
	}
	if len(words) > 1 {
		words = []string{strings.Join(words, " or ")}
	}
	if f.lightness != "" {
		if q.From, q.To, err = span(f.lightness); err != nil {
			return q, "", err
		}
		words = append(words, fmt.Sprintf("of lightness %g to %g", q.From, q.To))
	}
	if c.Flags().Changed("character") {
		q.Character = strings.ToLower(strings.TrimSpace(f.character))
		if !slices.Contains(characters, q.Character) {
			return q, "", &usage{fmt.Errorf("--character is %s, not %s", strings.Join(characters, ", "), quoted(f.character))}
		}
		words = append(words, q.Character)
	}
	if c.Flags().Changed("name") {
		if q.Name = strings.TrimSpace(f.name); q.Name == "" {
			return q, "", &usage{errors.New("--name is a word, such as pink")}
		}
		words = append(words, "called "+q.Name)
	}
	if c.Flags().Changed("at-least") {
		if q.AtLeastCM2 = f.atLeast; !(f.atLeast > 0 && f.atLeast <= 1e7) {
			return q, "", &usage{fmt.Errorf("--at-least is in square centimetres, above 0, not %g", f.atLeast)}
		}
		words = append(words, fmt.Sprintf("with %g cm2 left", f.atLeast))
	}
	if c.Flags().Changed("near") {
		if strings.TrimSpace(f.near) == "" {
			return q, "", &usage{errors.New("--near is a colour, the number of a kept cloth, or a photo")}
		}
		words = append(words, "near "+f.near)
	}
	return q, strings.Join(words, ", "), nil
}

// span is two lightnesses with a dash between them, the lower one first.
func span(s string) (from, to float64, err error) {
	a, b, ok := strings.Cut(strings.TrimSpace(s), "-")
	from, err1 := strconv.ParseFloat(strings.TrimSpace(a), 64)
	to, err2 := strconv.ParseFloat(strings.TrimSpace(b), 64)
	from, to = min(from, to), max(from, to)
	if !ok || err1 != nil || err2 != nil || !(from >= 0 && to <= 100 && to > from) {
		return 0, 0, &usage{fmt.Errorf("--lightness is two lightnesses from 0 to 100, such as 60-80, not %s", quoted(s))}
	}
	return from, to, nil
}

// nearTo is what a user means to be near to: the number of a kept cloth, a photo,
// or a colour.
func nearTo(ctx context.Context, kept *stash.Stash, what string, opt analyze.SortOptions) ([]stash.Target, *analyze.Result, error) {
	none := &analyze.Result{Command: "stash", Distance: opt.Distance}
	what = strings.TrimSpace(what)
	if _, err := strconv.ParseUint(what, 10, 63); err == nil {
		targets, err := kept.Targets(ctx, []string{what})
		return targets, none, err
	}
	if isFile(what) {
		return analyze.Near(ctx, kept, what, opt)
	}
	colours, err := coloursOf(what)
	if err != nil {
		return nil, none, err
	}
	targets := make([]stash.Target, len(colours))
	for i, c := range colours {
		targets[i].Lab = c
	}
	return targets, none, nil
}

// coloursOf are the colours that are called so: #rrggbb of a screen (sRGB), L,a,b,
// or a name or part of a name of the ISCC-NBS system.
func coloursOf(s string) ([]colorspace.Lab, error) {
	if colour, ok := colorspace.OfHex(s); ok {
		return []colorspace.Lab{colour.Lab()}, nil
	}
	if v, err := numbers(s, 3); err == nil {
		if !(v[0] >= 0 && v[0] <= 100 && math.Abs(v[1]) <= 200 && math.Abs(v[2]) <= 200) {
			return nil, &usage{fmt.Errorf("--near: %s is no colour: L is 0 to 100, a and b are -200 to 200", quoted(s))}
		}
		return []colorspace.Lab{{L: v[0], A: v[1], B: v[2]}}, nil
	}
	if named := colorspace.Centroids(s); named != nil {
		return named, nil
	}
	return nil, &usage{&hinted{fmt.Errorf("--near: %s is neither the number of a kept cloth, nor a photo, nor a colour", quoted(s)),
		`give a name such as "pink" or "dark blue", #rrggbb, or L,a,b`}}
}

func newStashShow() *cobra.Command {
	k := &keeper{}
	c := &cobra.Command{
		Use:     "show ID...",
		Short:   "all that is known of a kept cloth",
		Example: `  greige stash show 12 --out number-12.html`,
		Args:    cobra.MinimumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			return k.touch(c, stash.ToShow, args, func(*stash.Stash) error { return nil })
		},
	}
	k.outputs(c)
	return c
}

// touch does work on the cloths with these numbers and shows them.
func (k *keeper) touch(c *cobra.Command, action stash.Action, ids []string, work func(s *stash.Stash) error) error {
	ids = unique(ids)
	return k.in(c, false, nil, func(s *stash.Stash, _ func(done, total int)) (*analyze.Result, error) {
		if err := work(s); err != nil {
			return nil, err
		}
		found, err := s.Find(c.Context(), stash.Query{})
		if err != nil {
			return nil, err
		}
		if _, err := s.Get(c.Context(), ids); err != nil { // one that is not there
			return nil, err
		}
		found.Only(func(id string) bool { return slices.Contains(ids, id) })
		r := &analyze.Result{Command: "stash", Distance: k.distance}
		if r.Kept, err = s.Answer(c.Context(), found, k.out != ""); err == nil {
			r.Kept.Action = action
		}
		return r, err
	})
}

func unique(ids []string) []string {
	var out []string
	for _, id := range ids {
		if !slices.Contains(out, id) {
			out = append(out, id)
		}
	}
	return out
}

func newStashUse() *cobra.Command {
	k := &keeper{}
	var area, patch float64
	var patches int
	c := &cobra.Command{
		Use:   "use ID --area CM2 | --patches N --patch CM",
		Short: "say what has been cut from a kept cloth",
		Long: `Say what has been cut from a kept cloth, so that what is left can be asked for. An area
below 0 puts back what was said by mistake.`,
		Example: `  greige stash use 12 --patches 8 --patch 6.5
  greige stash use 12 --area 340`,
		Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			given := c.Flags().Changed
			switch {
			case given("area") == (given("patches") || given("patch")) || given("patches") != given("patch"):
				return &usage{errors.New("give either --area CM2, or --patches N and --patch CM")}
			case given("area") && (area == 0 || !(math.Abs(area) <= 1e6)):
				return &usage{fmt.Errorf("--area is in square centimetres, not %g", area)}
			case given("patches") && (patches < 1 || patches > 1e6):
				return &usage{fmt.Errorf("--patches is 1 or more, not %d", patches)}
			case given("patch") && !(patch > 0 && patch <= 1000):
				return &usage{fmt.Errorf("--patch is in centimetres, above 0, not %g", patch)}
			}
			if given("patches") {
				area = float64(patches) * patch * patch
			}
			return k.touch(c, stash.ToUse, args, func(s *stash.Stash) error { return s.Use(c.Context(), args[0], area) })
		},
	}
	fs := c.Flags()
	k.outputs(c)
	fs.Float64Var(&area, "area", 0, "how much was cut, in `CM2`")
	fs.IntVar(&patches, "patches", 0, "how many patches were cut, `N`")
	fs.Float64Var(&patch, "patch", 0, "their side as cut, in `CM`")
	return c
}

func newStashDrop() *cobra.Command {
	k := &keeper{}
	c := &cobra.Command{
		Use:   "drop ID|PHOTO...",
		Short: "take cloths out of the stash",
		Long: `Take cloths out of the stash, by their numbers, or all of a photo by its name or its
file. Their numbers are not given again. Once its last cloth is gone a photo can be
added anew.`,
		Example: `  greige stash drop 12 15
  greige stash drop scraps/IMG_0412.jpg`,
		Args: cobra.MinimumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			return k.in(c, false, nil, func(s *stash.Stash, _ func(done, total int)) (*analyze.Result, error) {
				ids, err := droppedBy(c.Context(), s, args)
				if err != nil {
					return nil, err
				}
				if _, err := s.Drop(c.Context(), ids); err != nil {
					return nil, err
				}
				return counted(c.Context(), s, stash.Answer{Action: stash.ToDrop, Dropped: ids})
			})
		},
	}
	k.outputs(c)
	return c
}

// counted is a with how much there is in the stash now.
func counted(ctx context.Context, s *stash.Stash, a stash.Answer) (*analyze.Result, error) {
	var err error
	a.Kept, a.Photos, err = s.Count(ctx)
	return &analyze.Result{Command: "stash", Kept: &a}, err
}

// droppedBy are the numbers that arguments name, by themselves or by a photo.
func droppedBy(ctx context.Context, s *stash.Stash, args []string) ([]string, error) {
	var ids []string
	for _, arg := range args {
		of, err := s.PhotoNamed(ctx, arg)
		if err != nil {
			return nil, err
		}
		if hash, err := stash.HashFile(arg); err == nil && of == nil {
			known, err := s.Known(ctx, []stash.Hash{hash})
			if err != nil {
				return nil, err
			}
			of = known[hash].IDs
		}
		if of == nil {
			of = []string{arg}
		}
		ids = append(ids, of...)
	}
	return unique(ids), nil
}

func newStashSave() *cobra.Command {
	k := &keeper{}
	c := &cobra.Command{
		Use:   "save FILE",
		Short: "write the whole stash, pictures included, as JSON",
		Long: `Write the whole stash, pictures included, as JSON: a copy to put away, or to load on
another computer. - writes to standard output.`,
		Example: `  greige stash save stash-in-march.json`,
		Args:    cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			if path, err := stashPath(k.file); err == nil && sameFile(path, args[0]) {
				return &usage{fmt.Errorf("%s is the stash itself: give the copy another name", quoted(args[0]))}
			}
			return k.in(c, false, nil, func(s *stash.Stash, _ func(done, total int)) (*analyze.Result, error) {
				copied := 0
				save := func(w io.Writer) (err error) {
					copied, err = s.Save(c.Context(), w, version())
					return err
				}
				var err error
				if args[0] == "-" {
					k.quiet = true
					err = save(c.OutOrStdout())
				} else {
					err = report.WriteFile(args[0], save)
				}
				if err != nil {
					return nil, err
				}
				return counted(c.Context(), s, stash.Answer{Action: stash.ToSave, Copied: copied})
			})
		},
	}
	k.outputs(c)
	return c
}

func newStashLoad() *cobra.Command {
	k := &keeper{}
	c := &cobra.Command{
		Use:   "load FILE",
		Short: "put in what greige stash save wrote",
		Long: `Put into the stash what greige stash save wrote: all of it or, where anything is wrong
with the file, nothing. Photos that are there already stay as they are. - reads from
standard input.`,
		Example: `  greige stash load stash-in-march.json`,
		Args:    cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			from := c.InOrStdin()
			if args[0] != "-" {
				file, err := os.Open(args[0])
				if err != nil {
					return &hinted{fmt.Errorf("%s: it cannot be read", quoted(args[0])), "check the name; greige stash save FILE writes such a file"}
				}
				defer file.Close()
				from = file
			}
			return k.in(c, true, args, func(s *stash.Stash, _ func(done, total int)) (*analyze.Result, error) {
				l, err := s.Load(c.Context(), from)
				var e *stash.Error
				if errors.As(err, &e) && e.File == "" {
					return nil, &hinted{fmt.Errorf("%s: %w", quoted(args[0]), err), e.Hint}
				}
				if err != nil {
					return nil, err
				}
				r, err := counted(c.Context(), s, stash.Answer{Action: stash.ToLoad, Copied: l.Cloths, Renumbered: l.Renumbered})
				if l.Known > 0 {
					r.Notes = append(r.Notes, fmt.Sprintf("%s in it were in the stash already and stay as they are", numerals.Some(l.Known, "photo", "photos")))
				}
				return r, err
			})
		},
	}
	k.outputs(c)
	return c
}
