package main

import (
	"errors"
	"fmt"
	"image"
	"math"
	"os"
	"strconv"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"greige/analyze"
	"greige/analyze/light"
	"greige/analyze/numerals"
	"greige/analyze/photo"
)

// common are the flags that every measuring command takes.
type common struct {
	out, json, csv string
	light          string
	cards          cards
	cardLightness  float64
	open, quiet    bool
	jobs           int
	distance       float64
	width          float64
	megapixels     float64
	corrections    string
	pageIfAsked    bool // the page is written only where --out or --open asks for it
	camera         string
	stages         string
}

func (f *common) add(c *cobra.Command) {
	fs := c.Flags()
	fs.SortFlags = false
	fs.StringVar(&f.out, "out", "greige-"+c.Name()+".html", "the page to write, `FILE`")
	fs.StringVar(&f.json, "json", "", "write the figures as JSON to `FILE`, - for standard output")
	fs.StringVar(&f.csv, "csv", "", "write the main table as CSV to `FILE`, - for standard output")
	f.addLight(fs)
	fs.Var(&f.cards, "card", "where a neutral card lies in the photo, `X,Y,W,H[:L]` in pixels, with its lightness after a colon; may be given again")
	fs.Float64Var(&f.cardLightness, "card-lightness", 95, "the card's or the sheet's lightness `L`, 0 to 100: white paper 95, an 18 % grey card 49.5")
	fs.BoolVar(&f.open, "open", false, "open the page in the browser")
	fs.BoolVar(&f.quiet, "quiet", false, "no progress, no table")
	fs.IntVar(&f.jobs, "jobs", 0, "photos to work on at once, `N` (default: the number of processors)")
	f.addView(fs)
	fs.StringVar(&f.camera, "camera", "auto", "the learned phone that took the photos, `auto|none|NAME` (auto: the one that each file names; see greige camera)")
	f.addMegapixels(fs)
	fs.StringVar(&f.corrections, "corrections", "", "what was put right by hand, a `FILE` that greige open keeps; holds before anything that is found")
	fs.StringVar(&f.stages, "stages", "", "write the picture of every stage of the search into `FOLDER`")
	_ = fs.MarkHidden("stages")
}

// withoutFlags is what the flags say where a command does not have them.
func withoutFlags() common {
	return common{light: "auto", camera: "auto", cardLightness: 95, distance: 2.5, megapixels: 100, pageIfAsked: true}
}

func (f *common) addLight(fs *pflag.FlagSet) {
	fs.StringVar(&f.light, "light", "auto", "how to even out the light: `auto|sheet|none` (sheet: the cloth lies on one plain white sheet; none: take the photo as it is)")
}

func (f *common) addView(fs *pflag.FlagSet) {
	fs.Float64Var(&f.distance, "distance", 2.5, "how far away the viewer stands, in `METRES`")
	fs.Float64Var(&f.width, "width", 0, "how wide the scene really is, in `CM` (default: a patch or a scrap is taken to be 5 cm)")
}

func (f *common) addMegapixels(fs *pflag.FlagSet) {
	fs.Float64Var(&f.megapixels, "max-megapixels", 100, "the largest photo to read, `N` megapixels")
}

// settings checks the flags and turns them into what the jobs take.
func (f *common) settings(c *cobra.Command) (analyze.Settings, error) {
	var s analyze.Settings
	switch mode := light.Mode(f.light); mode {
	case light.Auto, light.Sheet, light.None:
		s.Light.Mode = mode
	default:
		return s, &usage{fmt.Errorf("--light is auto, sheet or none, not %s", quoted(f.light))}
	}
	switch {
	case !(f.cardLightness > 0 && f.cardLightness <= 100):
		return s, &usage{fmt.Errorf("--card-lightness is above 0 and up to 100, not %g", f.cardLightness)}
	case !(f.distance > 0 && f.distance <= 1000):
		return s, &usage{fmt.Errorf("--distance is in metres, above 0, not %g", f.distance)}
	case c.Flags().Changed("width") && !(f.width > 0 && f.width <= 100000):
		return s, &usage{fmt.Errorf("--width is in centimetres, above 0, not %g", f.width)}
	case !(f.megapixels > 0 && f.megapixels <= 10000):
		return s, &usage{fmt.Errorf("--max-megapixels is above 0, not %g", f.megapixels)}
	case f.jobs < 0 || c.Flags().Changed("jobs") && f.jobs == 0:
		return s, &usage{fmt.Errorf("--jobs is 1 or more, not %d", f.jobs)}
	case f.json == "-" && f.csv == "-":
		return s, &usage{errors.New("--json and --csv cannot both go to standard output")}
	case f.out == "-" || f.out == "" && !f.pageIfAsked:
		return s, &usage{errors.New("--out is the name of a file for the page")}
	}
	s.Light.Cards, s.Light.CardLightness = f.cards, f.cardLightness
	s.Jobs, s.Distance, s.WidthCM = f.jobs, f.distance, f.width
	s.Limits = photo.Limits{Megapixels: f.megapixels}
	var err error
	if s.Light.Learned, err = learnedCameras(f.camera, c.ErrOrStderr()); err != nil {
		return s, err
	}
	if f.stages != "" {
		st, err := newStages(f.stages, c.ErrOrStderr())
		if err != nil {
			return s, err
		}
		s.Stages = st.of
	}
	s.Corrections, err = readCorrections(f.corrections)
	return s, err
}

// readCorrections reads what was put right; "" is nothing.
func readCorrections(path string) (*analyze.Corrections, error) {
	if path == "" {
		return nil, nil
	}
	file, err := os.Open(path)
	if err != nil {
		return nil, &usage{&hinted{fmt.Errorf("%s: the corrections cannot be read", quoted(path)), "check the name; greige open keeps them in " + analyze.CorrectionsFile}}
	}
	defer file.Close()
	c, err := analyze.ReadCorrections(file)
	if err != nil {
		return nil, &usage{&hinted{fmt.Errorf("%s: %w", quoted(path), err), "mend the line, or leave the file out; nothing was measured"}}
	}
	return c, nil
}

// rectangle is a flag X,Y,W,H in pixels.
type rectangle struct{ image.Rectangle }

func (r *rectangle) Type() string { return "X,Y,W,H" }

func (r *rectangle) String() string {
	if r.Empty() {
		return ""
	}
	return fmt.Sprintf("%d,%d,%d,%d", r.Min.X, r.Min.Y, r.Dx(), r.Dy())
}

func (r *rectangle) Set(s string) error {
	v, err := numbers(s, 4)
	if err != nil {
		return fmt.Errorf("give X,Y,W,H in pixels of the upright photo, such as 40,60,300,200: %w", err)
	}
	if v[2] < 1 || v[3] < 1 {
		return errors.New("width and height are 1 or more")
	}
	n := func(i int) int { return int(math.Round(v[i])) }
	r.Rectangle = image.Rect(n(0), n(1), n(0)+n(2), n(1)+n(3))
	return nil
}

// cards is a flag X,Y,W,H[:L] that may be given again.
type cards []light.Card

func (c *cards) Type() string { return "X,Y,W,H[:L]" }

func (c *cards) String() string {
	var all []string
	for _, k := range *c {
		s := (&rectangle{k.Place}).String()
		if k.Lightness > 0 {
			s += fmt.Sprintf(":%g", k.Lightness)
		}
		all = append(all, s)
	}
	return strings.Join(all, " ")
}

func (c *cards) Set(s string) error {
	place, lightness, given := strings.Cut(s, ":")
	var r rectangle
	if err := r.Set(place); err != nil {
		return err
	}
	k := light.Card{Place: r.Rectangle}
	if given {
		l, err := strconv.ParseFloat(strings.TrimSpace(lightness), 64)
		if err != nil || !(l > 0 && l <= 100) {
			return fmt.Errorf("a card's lightness lies above 0 and up to 100, not %q: white paper is about 95, an 18 %% grey card 49.5", lightness)
		}
		k.Lightness = l
	}
	*c = append(*c, k)
	return nil
}

// scrapsMode is a flag of what the photos of cloths show.
type scrapsMode struct{ mode *analyze.ScrapsMode }

// addScraps adds the flag --scraps to c, which sets mode.
func addScraps(c *cobra.Command, mode *analyze.ScrapsMode) {
	*mode = analyze.ScrapsAuto
	c.Flags().Var(scrapsMode{mode}, "scraps", "what each photo of cloths shows: `auto|one|many` (one: one cloth edge to edge, or beside its card; many: scraps on a plain ground)")
}

func (m scrapsMode) Type() string { return "auto|one|many" }

func (m scrapsMode) String() string {
	if m.mode == nil {
		return ""
	}
	return string(*m.mode)
}

func (m scrapsMode) Set(s string) error {
	switch v := analyze.ScrapsMode(s); v {
	case analyze.ScrapsAuto, analyze.ScrapsOne, analyze.ScrapsMany:
		*m.mode = v
		return nil
	}
	return errors.New("it is auto, one or many")
}

// points is a flag of four corners "X,Y X,Y X,Y X,Y".
type points [][2]float64

func (p *points) Type() string { return `"X,Y X,Y X,Y X,Y"` }

func (p *points) String() string {
	var s []string
	for _, q := range *p {
		s = append(s, fmt.Sprintf("%g,%g", q[0], q[1]))
	}
	return strings.Join(s, " ")
}

func (p *points) Set(s string) error {
	fields := strings.Fields(s)
	if len(fields) != 4 {
		return fmt.Errorf("give four corners, clockwise from the top left, such as \"100,80 2900,60 2950,2100 90,2120\"; there are %s", numerals.InWords(len(fields)))
	}
	*p = nil
	for _, f := range fields {
		v, err := numbers(f, 2)
		if err != nil {
			return err
		}
		*p = append(*p, [2]float64{v[0], v[1]})
	}
	return nil
}

// numbers reads n numbers with commas between them.
func numbers(s string, n int) ([]float64, error) {
	fields := strings.Split(s, ",")
	if len(fields) != n {
		return nil, fmt.Errorf("%q has %s instead of %s", s, numerals.Some(len(fields), "number", "numbers"), numerals.InWords(n))
	}
	v := make([]float64, n)
	for i, f := range fields {
		x, err := strconv.ParseFloat(strings.TrimSpace(f), 64)
		if err != nil || math.IsNaN(x) || math.Abs(x) > 1e6 {
			return nil, fmt.Errorf("%q is no number of pixels", f)
		}
		v[i] = x
	}
	return v, nil
}
