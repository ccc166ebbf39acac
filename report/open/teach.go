package open

import (
	"context"
	"errors"
	"fmt"
	"image"
	"io"
	"math"
	"net/http"
	"os"
	"slices"
	"strings"
	"sync"

	"greige/analyze"
	"greige/analyze/camera"
	"greige/analyze/grid"
	"greige/analyze/light"
	"greige/analyze/numerals"
	"greige/analyze/photo"
	"greige/analyze/teach"
	"greige/report"
)

// mostLessons is up to how many photos teach at a time: more exposures of one scene
// tell nothing new.
const mostLessons = 12

// school keeps the photos that are to teach a phone: in a folder of their own, for as
// long as the program runs, since they show no cloth.
type school struct {
	folder  string // "" until the first comes
	lessons []lesson
	busy    sync.Mutex // one learning at a time: each builds on the one before
}

type lesson struct {
	ID     string `json:"id"`
	Name   string `json:"name"`
	Width  int    `json:"width"`
	Height int    `json:"height"`
	source analyze.Source
}

func (s *school) close() {
	if s.folder != "" {
		os.RemoveAll(s.folder)
	}
}

// teachState is what the page shows of teaching.
type teachState struct {
	Photos   []lesson     `json:"photos"`
	Cameras  []phoneState `json:"cameras"` // that were learned
	Problems []string     `json:"problems"`
}

type phoneState struct {
	Name string `json:"name"`
	Says string `json:"says"`
}

func (w *workspace) teaching() teachState {
	w.mu.Lock()
	defer w.mu.Unlock()
	v := teachState{Photos: append([]lesson{}, w.school.lessons...), Cameras: []phoneState{}, Problems: []string{}}
	shelf, problems := camera.ReadShelf(w.opt.Cameras)
	for _, p := range problems {
		v.Problems = append(v.Problems, p.Error()+": it was left as it is")
	}
	for _, k := range shelf.Cameras {
		v.Cameras = append(v.Cameras, phoneState{k.Name, fmt.Sprintf("%s, learned from %s: %.0f %% surer beside a white card", k.Identity, numerals.Some(len(k.Photos), "photo", "photos"), 100*(1-k.Learned.Gain()))})
	}
	return v
}

// takeLesson takes a photo that is to teach.
func (s *server) takeLesson(w http.ResponseWriter, r *http.Request) {
	name, body := s.incoming(w, r)
	if body == nil {
		return
	}
	defer func() { <-s.intake }()
	if err := s.work.takeLesson(r.Context(), name, body); err != nil {
		refuse(w, http.StatusUnprocessableEntity, err)
		return
	}
	answer(w, s.work.teaching())
}

func (w *workspace) takeLesson(ctx context.Context, name string, body io.Reader) error {
	w.mu.Lock()
	full := len(w.school.lessons) >= mostLessons
	var err error
	if w.school.folder == "" && !full {
		w.school.folder, err = os.MkdirTemp("", "greige-teach-")
	}
	folder := w.school.folder
	w.mu.Unlock()
	switch {
	case full:
		return &refusal{Reason: "there are " + numerals.Some(mostLessons, "photo", "photos") + " already", Hint: "take one away first"}
	case err != nil:
		return writing("", err)
	}
	path, sum, err := bringIn(folder, body)
	if err != nil {
		return err
	}
	l := lesson{ID: fmt.Sprintf("%x", sum[:8]), Name: name, source: analyze.Source{Name: name, Path: path}}
	shown, err := w.session.Show(ctx, l.source, w.opt.Settings.Limits, shownSide)
	w.mu.Lock()
	defer w.mu.Unlock()
	there := slices.ContainsFunc(w.school.lessons, func(o lesson) bool { return o.ID == l.ID })
	var bad *photo.Error
	if errors.As(err, &bad) {
		err = &refusal{Reason: bad.Reason, Hint: bad.Hint}
	}
	if err != nil || there {
		os.Remove(path)
		return err
	}
	l.Width, l.Height = shown.Width, shown.Height
	w.school.lessons = append(w.school.lessons, l)
	return nil
}

func (w *workspace) lesson(id string) (lesson, bool) {
	w.mu.Lock()
	defer w.mu.Unlock()
	i := slices.IndexFunc(w.school.lessons, func(l lesson) bool { return l.ID == id })
	if i < 0 {
		return lesson{}, false
	}
	return w.school.lessons[i], true
}

func (s *server) lesson(w http.ResponseWriter, r *http.Request) {
	l, ok := s.work.lesson(r.PathValue("id"))
	if !ok {
		http.NotFound(w, r)
		return
	}
	shown, err := s.work.session.Show(r.Context(), l.source, s.work.opt.Settings.Limits, shownSide)
	if err != nil {
		http.NotFound(w, r)
		return
	}
	jpeg(w, r, shown.Colour)
}

// named is a photo that teaches, or a phone, by what the page calls it.
type named struct {
	ID   string `json:"id"`
	Name string `json:"name"`
}

// leaveLesson takes a photo away again.
func (w *workspace) leaveLesson(_ context.Context, which named) (teachState, error) {
	w.mu.Lock()
	w.school.lessons = slices.DeleteFunc(w.school.lessons, func(l lesson) bool {
		if l.ID == which.ID {
			os.Remove(l.source.Path)
		}
		return l.ID == which.ID
	})
	w.mu.Unlock()
	return w.teaching(), nil
}

// instruction is what the photos show, as she has shown it.
type instruction struct {
	Way    string   `json:"way"` // "cards", "chart" or "scene"
	Photos []string `json:"photos"`
	Cards  []struct {
		Box   [4]float64 `json:"box"` // x, y, width, height, pixels of the upright photo
		Light float64    `json:"light"`
	} `json:"cards"`
	Corners [][2]float64 `json:"corners"` // of the chart; none: found
}

// learnt is what came of it.
type learnt struct {
	saying
	Kept  bool       `json:"kept"`
	Teach teachState `json:"teach"`
}

// options are how as the room for teaching takes it.
func (how *instruction) options(lim photo.Limits) (teach.Options, error) {
	opt := teach.Options{Limits: lim}
	switch {
	case how.Way == "cards":
		if len(how.Photos) != 1 || len(how.Cards) < 2 || len(how.Cards) > 40 {
			return opt, &refusal{Reason: "it takes one photo and the places of two cards in it", Hint: "show where the white paper lies, and where the grey card"}
		}
		for _, c := range how.Cards {
			if !(c.Light > 0 && c.Light <= 100) {
				return opt, &refusal{Reason: "a card's lightness lies above 0 and up to 100", Hint: "white paper is about 95, an 18 % grey card 49.5"}
			}
			for _, v := range c.Box {
				if !(math.Abs(v) <= 1e6) {
					return opt, &refusal{Reason: "a card lies in the photo"}
				}
			}
			x, y := int(math.Round(c.Box[0])), int(math.Round(c.Box[1]))
			opt.Cards = append(opt.Cards, light.Card{Place: image.Rect(x, y, x+int(math.Round(c.Box[2])), y+int(math.Round(c.Box[3]))), Lightness: c.Light})
		}
	case how.Way == "chart":
		if len(how.Photos) != 1 || len(how.Corners) != 0 && len(how.Corners) != 4 {
			return opt, &refusal{Reason: "it takes one photo of the chart"}
		}
		for _, c := range how.Corners {
			opt.Corners = append(opt.Corners, grid.Point(c))
		}
	case how.Way == "scene":
		if len(how.Photos) < 3 {
			return opt, &refusal{Reason: "it takes three photos or more of one scene", Hint: "take it darker, as usual and lighter"}
		}
	default:
		return opt, &refusal{Reason: "there is no such way to teach it"}
	}
	return opt, nil
}

// learnPhone learns from the photos and keeps what is worth keeping.
func (w *workspace) learnPhone(ctx context.Context, how instruction) (*learnt, error) {
	opt, err := how.options(w.opt.Settings.Limits)
	if err != nil {
		return nil, err
	}
	var sources []analyze.Source
	for _, id := range how.Photos {
		l, ok := w.lesson(id)
		if !ok {
			return nil, &refusal{Reason: "there is no such photo"}
		}
		sources = append(sources, l.source)
	}
	w.school.busy.Lock()
	defer w.school.busy.Unlock()
	shelf, _ := camera.ReadShelf(w.opt.Cameras)
	done, skipped, err := teach.Learn(ctx, sources, opt, shelf)
	if err != nil {
		return nil, err
	}
	v := &learnt{saying: saying{Headline: "Nothing was learned.", More: []string{}}}
	for i := range done {
		if err := w.keepPhone(&done[i], shelf, v); err != nil {
			return nil, err
		}
	}
	for _, s := range skipped {
		says := quoted(s.Photo) + ": " + s.Reason + "."
		if s.Hint != "" && !strings.Contains(s.Hint, "--") && !strings.Contains(s.Hint, "greige ") { // no flag or command helps here
			says += " " + report.Capital(s.Hint) + "."
		}
		v.More = append(v.More, says)
	}
	if len(skipped) > 0 && !v.Kept {
		v.More = append(v.More, map[string]string{
			"cards": "See that each box lies well inside its card, in even light and without glare.",
			"chart": "Show where the chart lies by its corners, or teach the phone in another way.",
			"scene": "Keep the phone still on a stand, and change nothing but how light the photo is.",
		}[how.Way])
	}
	if v.Kept {
		w.relearn()
	}
	v.Teach = w.teaching()
	return v, nil
}

// keepPhone keeps what was learned of a phone and says what that is worth.
func (w *workspace) keepPhone(o *teach.Outcome, shelf *camera.Shelf, v *learnt) error {
	if o.Useless() {
		v.Headline = "Nothing was kept."
		v.More = append(v.More, fmt.Sprintf("%s: what was learned would make its photos no surer.", o.By), "Try a chart or cards that reach from light to dark, in even light.")
		return nil
	}
	switch err := o.Keep(w.opt.Cameras, shelf); {
	case errors.Is(err, teach.ErrInTheWay):
		return &refusal{Reason: quoted(o.Kept.Path(w.opt.Cameras)) + " is there and cannot be used, so nothing was written over it", Hint: "take that file away, then try again"}
	case err != nil:
		e := report.FileError(w.opt.Cameras, err)
		return &refusal{Reason: "what was learned could not be kept: " + e.Reason, Hint: e.Hint}
	}
	v.Kept = true
	v.Headline = fmt.Sprintf("Your phone is learned: its greys are %.0f %% surer beside a white card.", o.Surer())
	v.More = append(v.More, fmt.Sprintf("%s, kept as %s, from %s so far. It is used from now on for every photo by this phone.", o.By, o.Kept.Name, numerals.Some(len(o.Kept.Photos), "photo", "photos")))
	return nil
}

// relearn measures by the phones that are learned now.
func (w *workspace) relearn() {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.opt.Settings.Light.Learned, _ = camera.ReadShelf(w.opt.Cameras)
	w.kick()
}

// forgetPhone forgets a phone.
func (w *workspace) forgetPhone(_ context.Context, which named) (teachState, error) {
	shelf, _ := camera.ReadShelf(w.opt.Cameras)
	k := shelf.Named(which.Name) // what is on the shelf, and no path from outside
	if k == nil {
		return teachState{}, &refusal{Reason: "no phone of that name was learned"}
	}
	if err := os.Remove(k.Path(w.opt.Cameras)); err != nil {
		return teachState{}, &refusal{Reason: quoted(k.Path(w.opt.Cameras)) + " could not be taken away"}
	}
	w.relearn()
	return w.teaching(), nil
}
