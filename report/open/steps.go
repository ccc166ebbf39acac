package open

import (
	"bytes"
	"context"
	"fmt"

	"greige/analyze"
	"greige/analyze/layout"
	"greige/report"
)

// Step is one thing that is put right, or tried. Lengths are pixels of the
// upright photo.
type Step struct {
	Kind  string `json:"kind"`
	Photo string `json:"photo,omitempty"` // id
	// Pieces are the numbers of what was found or given.
	Pieces []string `json:"pieces,omitempty"`
	// Removed is which of the photo's given pieces, from 0, is meant.
	Removed *int         `json:"removed,omitempty"`
	Outline [][2]float64 `json:"outline,omitempty"`
	Line    [][2]float64 `json:"line,omitempty"` // 2 points
	Scraps  string       `json:"scraps,omitempty"`
	Box     *[4]float64  `json:"box,omitempty"` // x, y, width, height
	Light   float64      `json:"light,omitempty"`
	Corners [][2]float64 `json:"corners,omitempty"`
	Rows    int          `json:"rows,omitempty"`
	Cols    int          `json:"cols,omitempty"`
	Setting string       `json:"setting,omitempty"`
	Chart   []string     `json:"chart,omitempty"`
	// A trial: what hangs in From, or a cloth of the stash, is hung in To.
	To     *layout.Cell `json:"to,omitempty"`
	From   *layout.Cell `json:"from,omitempty"`
	Cloth  string       `json:"cloth,omitempty"`
	Colour *int         `json:"colour,omitempty"`
	Change *int         `json:"change,omitempty"` // which of the changes, from 0
	Chosen []string     `json:"chosen,omitempty"`
}

// do takes a step. What it puts right is on the disk when do returns.
func (w *workspace) do(ctx context.Context, s Step) error {
	w.settled(ctx) // the numbers in s are those of the answer to the last step
	if err := ctx.Err(); err != nil {
		return err
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	next := w.now()
	if tried, err := w.tried(&next, s); tried || err != nil {
		if err == nil {
			err = w.record(next)
		}
		if err == nil {
			w.save()
			w.kick()
		}
		return err
	}
	src, ok := w.source(s.Photo)
	if !ok {
		return &refusal{Reason: "there is no such photo"}
	}
	w.mu.Unlock()
	shown, err := w.session.Show(ctx, src, w.opt.Settings.Limits, shownSide)
	w.mu.Lock()
	if err != nil {
		return err
	}
	p := next.corrections.Of(shown.SHA256)
	p.Photo, p.SHA256 = src.Name, shown.SHA256
	if next.says, err = w.putRight(&p, s, src.Name, shown); err != nil {
		return err
	}
	next.corrections = next.corrections.With(p)
	// Nothing is kept that could not be read again.
	var b bytes.Buffer
	if err := next.corrections.Write(&b); err != nil {
		return err
	}
	if _, err := analyze.ReadCorrections(&b); err != nil {
		return &refusal{Reason: "this cannot be kept: " + err.Error()}
	}
	if err := w.record(next); err != nil {
		return err
	}
	w.save()
	w.kick()
	return nil
}

// putRight changes p by a step and says in words what was done.
func (w *workspace) putRight(p *analyze.PhotoCorrections, s Step, name string, shown analyze.Shown) (string, error) {
	switch s.Kind {
	case "cloth", "not-cloth", "split", "join", "draw", "back":
		return w.putPieces(p, s, name, shown)
	case "scraps":
		p.Scraps = analyze.ScrapsMode(s.Scraps)
		switch p.Scraps {
		case analyze.ScrapsOne:
			p.Pieces = nil // one cloth has no pieces
			return "the whole photo is one cloth", nil
		case analyze.ScrapsMany:
			return "the photo shows several cloths", nil
		case "":
			return "what the photo shows is found", nil
		}
		return "", &refusal{Reason: "a photo shows one cloth or many"}
	case "card":
		p.Card, p.CardLightness = s.Box, s.Light
		if s.Box == nil {
			p.CardLightness = 0
			return "no card is given", nil
		}
		return "the card's place", nil
	case "at":
		p.At = s.Box
		return "the part that is the print", nil
	case "grid", "chart":
		return putGrid(p, s)
	case "anew":
		*p = analyze.PhotoCorrections{Photo: p.Photo, SHA256: p.SHA256}
		return "all of a photo as it was found", nil
	}
	return "", &refusal{Reason: fmt.Sprintf("there is no step %q", s.Kind)}
}

func putGrid(p *analyze.PhotoCorrections, s Step) (string, error) {
	g := analyze.GivenGrid{}
	if p.Grid != nil {
		g = *p.Grid
	}
	says := "where the patches are"
	if s.Kind == "chart" {
		says = "what the patches are meant to be"
		g.Chart = nil
		if len(s.Chart) > 0 {
			g.Chart = &analyze.GivenChart{Rows: s.Chart}
		}
	} else {
		if s.Rows != g.Rows || s.Cols != g.Cols || layout.Setting(s.Setting) != g.Setting {
			g.Chart = nil // it was of other patches
		}
		g.Corners, g.Rows, g.Cols, g.Setting = s.Corners, s.Rows, s.Cols, layout.Setting(s.Setting)
	}
	p.Grid = &g
	if len(g.Corners) == 0 && g.Rows == 0 && g.Cols == 0 && g.Setting == "" && g.Chart == nil {
		p.Grid = nil
	}
	return says, nil
}

// outlines are those of the numbers of a step, in one photo.
func (w *workspace) outlines(s Step, name string) (out [][][2]float64, err error) {
	if w.result == nil || w.result.Sort == nil {
		return nil, &refusal{Reason: "there are no pieces yet"}
	}
	for _, id := range s.Pieces {
		found := false
		for _, f := range w.result.Sort.Fabrics {
			if f.ID == id && f.Photo == name {
				out, found = append(out, f.Outline), true
			}
		}
		if !found {
			return nil, &refusal{Reason: "there is no piece " + id + " in this photo"}
		}
	}
	return out, nil
}

func (w *workspace) putPieces(p *analyze.PhotoCorrections, s Step, name string, shown analyze.Shown) (says string, err error) {
	given, err := w.outlines(s, name)
	if err != nil {
		return "", err
	}
	var pieces []analyze.GivenPiece
	switch {
	case s.Kind == "draw":
		if len(s.Outline) < 3 {
			return "", &refusal{Reason: "an outline takes three points or more"}
		}
		pieces, says = []analyze.GivenPiece{{Outline: s.Outline, Cloth: true}}, "a piece that was missed"
	case s.Kind == "back":
		if s.Removed == nil || *s.Removed < 0 || *s.Removed >= len(p.Pieces) {
			return "", &refusal{Reason: "there is no such piece"}
		}
		pieces, says = []analyze.GivenPiece{{Outline: p.Pieces[*s.Removed].Outline, Cloth: true}}, "a piece is cloth after all"
	case s.Kind == "join" && len(given) > 1:
		outline := given[0]
		for _, o := range given[1:] {
			outline = analyze.Joined(outline, o)
		}
		pieces, says = []analyze.GivenPiece{{Outline: outline, Cloth: true}}, "numbers "+report.List(s.Pieces)+" are one"
	case s.Kind == "split" && len(given) == 1 && len(s.Line) == 2:
		left, right := analyze.Split(given[0], s.Line[0], s.Line[1])
		if left == nil || right == nil {
			return "", &refusal{Reason: "the line does not cross the piece", Hint: "draw it from one side to the other"}
		}
		if comesFirst(right, left) { // the first in reading order keeps the number
			left, right = right, left
		}
		pieces, says = []analyze.GivenPiece{{Outline: left, Cloth: true}, {Outline: right, Cloth: true}}, "number "+s.Pieces[0]+" is two"
	case (s.Kind == "cloth" || s.Kind == "not-cloth") && len(given) > 0:
		for _, o := range given {
			pieces = append(pieces, analyze.GivenPiece{Outline: o, Cloth: s.Kind == "cloth"})
		}
		says = "number " + report.List(s.Pieces) + " is " + map[bool]string{true: "cloth", false: "no cloth"}[s.Kind == "cloth"]
	default:
		return "", &refusal{Reason: "this step takes other pieces"}
	}
	if p.Scraps == analyze.ScrapsOne {
		p.Scraps = ""
	}
	*p = p.Put(shown.Width, shown.Height, pieces...)
	return says, nil
}

// outlined is an outline, as an answer.
type outlined struct {
	Outline [][2]float64 `json:"outline"`
}

// snapped moves a drawn outline to the edges nearby.
func (w *workspace) snapped(ctx context.Context, s Step) (*outlined, error) {
	w.mu.Lock()
	src, ok := w.source(s.Photo)
	w.mu.Unlock()
	if !ok || len(s.Outline) < 3 || len(s.Outline) > 2000 {
		return nil, &refusal{Reason: "an outline takes three points or more"}
	}
	outline, err := w.session.Snapped(ctx, src, w.opt.Settings.Limits, s.Outline)
	return &outlined{outline}, err
}

// comesFirst: of two halves, the one further to the top left is read first.
func comesFirst(a, b [][2]float64) bool {
	place := func(outline [][2]float64) (sum float64) {
		for _, p := range outline {
			sum += (p[0] + p[1]) / float64(len(outline))
		}
		return sum
	}
	return place(a) < place(b)
}
