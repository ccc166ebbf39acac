package open

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"net/http"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"greige/analyze"
	"greige/analyze/cloth"
	"greige/analyze/piles"
	"greige/analyze/stash"
	"greige/colorspace"
	"greige/report"
)

// atOnce is how many cloths the wall is sent at a time: some screens full. The rest
// comes as she scrolls.
const atOnce = 120

// stashed is what the page is told of the kept stash.
type stashed struct {
	There    bool        `json:"there"` // there is a place for one
	Kept     int         `json:"kept"`  // cloths in it
	Used     bool        `json:"used"`  // its cloths are chosen from
	Trouble  string      `json:"trouble,omitempty"`
	Families [][2]string `json:"families,omitempty"`
	Undo     string      `json:"undo,omitempty"` // what of the wall would be undone, in words
	Redo     string      `json:"redo,omitempty"`
}

// keptQuestion is what is asked of the kept stash; zero values ask nothing.
type keptQuestion struct {
	Piles     []string `json:"piles"`
	From      float64  `json:"from"` // lightness, L*
	To        float64  `json:"to"`
	Name      string   `json:"name"` // a word of the colour's name
	Character string   `json:"character"`
	AtLeast   float64  `json:"at_least"` // cm2 that are left
	Near      string   `json:"near"`     // a number of the stash, or #rrggbb
	// Order is "light", "left" or "number", and "" is "light"; where nearness is asked
	// for, that is the order. Skip is how many are on the wall already.
	Order string `json:"order"`
	Skip  int    `json:"skip"`
}

// wallState is what fits, as the page hangs it.
type wallState struct {
	saying
	All    int            `json:"all"`   // so many fit
	Piles  map[string]int `json:"piles"` // how many of them are in each pile; "": cannot be told
	Cloths []keptState    `json:"cloths"`
}

type keptState struct {
	ID        string   `json:"id"`
	Name      string   `json:"name"`
	Says      string   `json:"says"`
	Photo     string   `json:"photo"`
	Lightness float64  `json:"lightness"`
	Grey      string   `json:"grey"`
	Pile      string   `json:"pile,omitempty"`
	Swing     bool     `json:"swing,omitempty"`
	Untold    bool     `json:"untold,omitempty"` // its level is not known well enough
	Left      *float64 `json:"left,omitempty"`   // cm2
	// Of its picture, in pixels, and what of it is the cloth, 0..1; no size: there is
	// no picture.
	Width  int          `json:"width,omitempty"`
	Height int          `json:"height,omitempty"`
	Shape  [][2]float64 `json:"shape,omitempty"`
}

// saying is an answer in words.
type saying struct {
	Headline string   `json:"headline"`
	More     []string `json:"more"`
}

// openStash opens the kept stash; the error is in words.
func (w *workspace) openStash(create bool) (*stash.Stash, error) {
	if w.opt.Stash == "" {
		return nil, &refusal{Reason: "the system names no folder in which a stash could be kept"}
	}
	open := stash.Open
	if create {
		open = stash.Create
	}
	s, err := open(w.opt.Stash)
	return s, stashWords(err)
}

func inWords(a report.Answer) saying { return saying{onPage(a.Headline), allOnPage(a.More)} }

var errNoStash = &refusal{Reason: "there is no stash yet", Hint: "sort a photo of your cloths, then keep them"}

// stashWords is an error of the stash as the page says it.
func stashWords(err error) error {
	var e *stash.Error
	switch {
	case errors.Is(err, stash.ErrNone):
		return errNoStash
	case errors.As(err, &e):
		r := &refusal{Reason: "your stash: " + e.Reason}
		if !strings.Contains(e.Hint, "--") { // flags help nobody here
			r.Hint = e.Hint
		}
		return r
	}
	return err
}

// countStash looks how much there is in the stash.
func (w *workspace) countStash(ctx context.Context) {
	w.stashed = stashed{There: w.opt.Stash != "", Families: report.Families(), Undo: w.acts.undo(), Redo: w.acts.redo()}
	if !w.stashed.There {
		return
	}
	s, err := w.openStash(false)
	if err == nil {
		defer s.Close()
		w.stashed.Kept, _, err = s.Count(ctx)
	}
	if err = stashWords(err); err != nil && !errors.Is(err, errNoStash) {
		w.stashed.Trouble = err.Error()
	}
}

// usesKept tells whether the kept stash is chosen from: where it is asked for and,
// as by the command, for a border where there are no other cloths.
func (w *workspace) usesKept() bool {
	return w.stashed.Kept > 0 && w.question.Kind != "sort" && (w.question.Kept || w.question.Kind == "border" && !w.question.Stash)
}

// withStash is a job that may take the kept stash.
func (w *workspace) withStash(used bool, job func(context.Context, *stash.Stash) (*analyze.Result, error)) func(context.Context) (*analyze.Result, error) {
	return func(ctx context.Context) (*analyze.Result, error) {
		if !used {
			return job(ctx, nil)
		}
		s, err := w.openStash(false)
		if err != nil {
			return nil, err
		}
		defer s.Close()
		r, err := job(ctx, s)
		return r, stashWords(err)
	}
}

// query is q as the stash takes it.
func (q keptQuestion) query(ctx context.Context, s *stash.Stash) (out stash.Query, err error) {
	switch {
	case !(q.From >= 0 && q.From <= 100 && q.To >= 0 && q.To <= 100):
		return out, &refusal{Reason: "lightness runs from 0 to 100"}
	case !(q.AtLeast >= 0 && q.AtLeast <= 1e7):
		return out, &refusal{Reason: "what is left is asked for in square centimetres"}
	}
	out = stash.Query{From: min(q.From, q.To), To: max(q.From, q.To), Name: q.Name, Character: q.Character, AtLeastCM2: q.AtLeast}
	if out.From == 0 && out.To == 100 {
		out.To = 0 // all of it
	}
	for _, p := range q.Piles {
		switch piles.Pile(p) {
		case piles.Light, piles.Medium, piles.Dark:
			out.Piles = append(out.Piles, piles.Pile(p))
		default:
			return out, &refusal{Reason: "the piles are light, medium and dark"}
		}
	}
	switch colour, ok := colorspace.OfHex(q.Near); {
	case q.Near == "":
	case ok:
		out.Near = []stash.Target{{Lab: colour.Lab()}}
	case strings.HasPrefix(q.Near, "#"):
		return out, &refusal{Reason: "a colour is #rrggbb"}
	default:
		out.Near, err = s.Targets(ctx, []string{q.Near})
	}
	return out, err
}

// findKept is what fits q.
func (w *workspace) findKept(ctx context.Context, q keptQuestion) (*wallState, error) {
	s, err := w.openStash(false)
	if errors.Is(err, errNoStash) {
		return &wallState{saying: saying{"Your stash is empty.", []string{}}, Cloths: []keptState{}}, nil
	}
	if err != nil {
		return nil, err
	}
	defer s.Close()
	query, err := q.query(ctx, s)
	if err != nil {
		return nil, stashWords(err)
	}
	found, err := s.Find(ctx, query)
	if err != nil {
		return nil, stashWords(err)
	}
	v := &wallState{All: len(found.Hits), Piles: map[string]int{}, Cloths: []keptState{}}
	for _, h := range found.Hits {
		v.Piles[pileOnWall(h.Pile, h.Untold)]++
	}
	if q.Near == "" {
		hang(found.Hits, q.Order)
	}
	found.Hits = found.Hits[min(max(q.Skip, 0), v.All):]
	found.Hits = found.Hits[:min(len(found.Hits), atOnce)]
	a, err := s.Answer(ctx, found, false)
	if err != nil {
		return nil, stashWords(err)
	}
	v.saying = inWords(report.AnswerOf(&analyze.Result{Command: "stash", Kept: a}))
	if v.All > len(found.Hits) {
		v.Headline = fmt.Sprintf("%d of your %d cloths.", v.All, found.Kept)
		if v.All == found.Kept {
			v.Headline = fmt.Sprintf("All your %d cloths.", v.All)
		}
	}
	for i := range a.Fabrics {
		f := &a.Fabrics[i]
		k := keptState{ID: f.ID, Name: f.Name, Says: onPage(report.DescribeKept(f)), Photo: filepath.Base(f.Photo), Lightness: report.Finite(f.Lightness),
			Grey: report.GreyHex(f.Lightness), Pile: pileOnWall(f.Pile, f.Untold), Swing: f.Swings(), Untold: f.Untold, Left: f.LeftCM2}
		p, err := s.Picture(ctx, f.ID)
		if err != nil {
			return nil, stashWords(err)
		}
		if p != nil {
			k.Width, k.Height, k.Shape = p.W, p.H, p.Shape
		}
		v.Cloths = append(v.Cloths, k)
	}
	return v, nil
}

// pileOnWall is the pile in which a cloth hangs; "" for those that cannot be told.
func pileOnWall(p piles.Pile, untold bool) string {
	if untold {
		return ""
	}
	return string(p)
}

// hang puts hits, which come by lightness, in an order of the wall. What is left of a
// cloth and its number are known where its level is not.
func hang(hits []stash.Hit, order string) {
	left := func(h *stash.Hit) float64 {
		if math.IsNaN(h.Left) {
			return -1
		}
		return h.Left
	}
	switch order {
	case "left":
		slices.SortStableFunc(hits, func(a, b stash.Hit) int { return cmp.Compare(left(&b), left(&a)) })
	case "number": // the newest first
		slices.SortStableFunc(hits, func(a, b stash.Hit) int { return cmp.Compare(b.Number, a.Number) })
	}
}

// keptPicture is the small picture of a cloth of the kept stash; nil where there is
// none.
func (w *workspace) keptPicture(ctx context.Context, id string) *cloth.Swatch {
	kept, err := w.openStash(false)
	if err != nil {
		return nil
	}
	defer kept.Close()
	picture, err := kept.Picture(ctx, id)
	if err != nil {
		return nil
	}
	return picture
}

func (s *server) keptCloth(w http.ResponseWriter, r *http.Request) {
	swatch(w, r, s.work.keptPicture(r.Context(), r.PathValue("id")))
}

// keeping is how a sort is kept.
type keeping struct {
	WidthCM float64 `json:"width"` // of each photo's scene; 0: as the program was told
}

// keepSorted keeps the cloths of the sort as they are put right now.
func (w *workspace) keepSorted(ctx context.Context, how keeping) (*saying, error) {
	w.settled(ctx)
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	if !(how.WidthCM >= 0 && how.WidthCM <= 1e5) {
		return nil, &refusal{Reason: "the width is in centimetres"}
	}
	w.mu.Lock()
	sorted := w.question.Kind == "sort" && w.result != nil && w.result.Sort != nil
	settings, inputs := w.opt.Settings, w.inputs("")
	settings.Corrections = w.now().corrections
	w.mu.Unlock()
	if !sorted {
		return nil, &refusal{Reason: "there is no sort whose cloths could be kept", Hint: "ask for your lights and darks first"}
	}
	if how.WidthCM > 0 {
		settings.WidthCM = how.WidthCM
	}
	into, err := w.openStash(true)
	if err != nil {
		return nil, err
	}
	defer into.Close()
	r, err := w.session.Keep(ctx, into, inputs, analyze.KeepOptions{SortOptions: analyze.SortOptions{Settings: settings, Piles: 3}, Now: time.Now()})
	if err != nil {
		return nil, stashWords(err)
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	w.countStash(ctx)
	w.looked++ // the answer is the same, but the page has to look again
	w.tell()
	a := inWords(report.AnswerOf(r))
	return &a, nil
}
