package open

import (
	"cmp"
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strings"

	"greige/analyze"
	"greige/analyze/layout"
	"greige/analyze/photo"
	"greige/analyze/piles"
	"greige/analyze/raster"
	"greige/report"
)

// state is all that the page shows, as it asks for it.
type state struct {
	Rev      int      `json:"rev"`
	Measured bool     `json:"measured"` // the answer is of this rev
	Answer   int      `json:"answer"`   // the rev that the answer is of
	Folder   string   `json:"folder"`
	Kept     string   `json:"kept"` // the file of corrections
	Trouble  string   `json:"trouble,omitempty"`
	Question Question `json:"question"`
	Undo     string   `json:"undo,omitempty"` // what would be undone, in words
	Redo     string   `json:"redo,omitempty"`
	Command  string   `json:"command,omitempty"`
	Answered bool     `json:"answered"`        // there is an answer, and a page of it that can be kept
	Phone    string   `json:"phone,omitempty"` // the address for the phone

	Photos []photoState    `json:"photos"`
	Left   []photo.Skipped `json:"left"` // that were left out, with the reasons

	Headline string   `json:"headline"`
	More     []string `json:"more"`
	Notes    []string `json:"notes"`

	Pieces []pieceState `json:"pieces,omitempty"`
	Cuts   []float64    `json:"cuts,omitempty"`
	Asks   []ask        `json:"asks"`
	Top    *topState    `json:"top,omitempty"`
	Print  *printState  `json:"print,omitempty"`
	Cloths []clothState `json:"cloths,omitempty"` // that could be chosen
	Stash  stashed      `json:"stash"`
	Teach  bool         `json:"teach"` // there is a place for what is learned of a phone
}

type photoState struct {
	ID      string      `json:"id"`
	Name    string      `json:"name"`
	Stamp   string      `json:"stamp,omitempty"` // changes with the photo's bytes
	Reason  string      `json:"reason,omitempty"`
	Width   int         `json:"width,omitempty"`
	Height  int         `json:"height,omitempty"`
	Out     bool        `json:"out,omitempty"`
	Scraps  string      `json:"scraps,omitempty"`
	Card    *[4]float64 `json:"card,omitempty"`
	Light   float64     `json:"light,omitempty"`
	At      *[4]float64 `json:"at,omitempty"`
	Removed []removed   `json:"removed,omitempty"`
	Method  string      `json:"method,omitempty"` // how its light was evened out
	Note    string      `json:"note,omitempty"`
}

// removed is a piece that is put down as no cloth.
type removed struct {
	At      int          `json:"at"`
	Outline [][2]float64 `json:"outline"`
}

type pieceState struct {
	ID          string       `json:"id"`
	Photo       string       `json:"photo"` // id
	Outline     [][2]float64 `json:"outline"`
	Lightness   float64      `json:"lightness"`
	Uncertainty float64      `json:"uncertainty"`
	Pile        string       `json:"pile,omitempty"`
	Swing       bool         `json:"swing,omitempty"`
	Doubtful    bool         `json:"doubtful,omitempty"`
	Given       bool         `json:"given,omitempty"`
	Grey        string       `json:"grey"`
	Says        string       `json:"says"`
}

// ask is one doubt, to be asked about.
type ask struct {
	Key   string `json:"key"`
	Photo string `json:"photo"` // id
	Piece string `json:"piece,omitempty"`
	Says  string `json:"says"`
	Why   string `json:"why,omitempty"`
}

type topState struct {
	Rows    int           `json:"rows"`
	Cols    int           `json:"cols"`
	Setting string        `json:"setting"`
	Corners [][2]float64  `json:"corners"`
	Found   bool          `json:"found"`
	Width   int           `json:"width"` // of the straightened picture
	Height  int           `json:"height"`
	After   bool          `json:"after"` // there is a picture after the changes
	Patches []patchState  `json:"patches"`
	Seams   []seamState   `json:"seams"` // that do not read
	Changes []changeState `json:"changes"`
	Tried   int           `json:"tried"` // moves
	Pattern string        `json:"pattern"`
	Given   bool          `json:"given"` // the chart was given
}

type patchState struct {
	Row       int          `json:"row"`
	Col       int          `json:"col"`
	Outline   [][2]float64 `json:"outline"` // in the photo
	Flat      [][2]float64 `json:"flat"`    // in the straightened picture, 0..1
	Reads     string       `json:"reads"`
	Meant     string       `json:"meant"`
	Misplaced bool         `json:"misplaced,omitempty"`
	Lightness float64      `json:"lightness"`
}

type seamState struct {
	Between [2]layout.Cell `json:"between"`
	Verdict string         `json:"verdict"`
}

type changeState struct {
	Says  string             `json:"says"`
	Moves []layout.Placement `json:"moves"`
	Cells []layout.Cell      `json:"cells"`
}

type printState struct {
	Width   int           `json:"width"`
	Height  int           `json:"height"`
	Colours []colourState `json:"colours"`
	Chosen  []chosenState `json:"chosen"`
	Own     bool          `json:"own"` // the cloths were chosen by hand
	Covers  float64       `json:"covers"`
	Missing []string      `json:"missing"`
}

type colourState struct {
	Hex   string   `json:"hex"`
	Name  string   `json:"name"`
	Share float64  `json:"share"`
	Out   bool     `json:"out,omitempty"`
	Near  []string `json:"near"`
}

type chosenState struct {
	ID  string `json:"id"`
	Why string `json:"why"`
}

type clothState struct {
	ID        string  `json:"id"`
	Name      string  `json:"name"`
	Lightness float64 `json:"lightness"`
}

func (s *server) state() state {
	v := s.work.state()
	v.Phone = s.phone.address
	return v
}

func (w *workspace) state() state {
	w.mu.Lock()
	defer w.mu.Unlock()
	now := w.now()
	v := state{Rev: w.rev, Measured: w.measured == w.rev, Answer: w.measured, Folder: folderName(w.opt.Folder), Kept: w.right.path, Trouble: w.trouble(), Question: w.question, Stash: w.stashed, Teach: w.opt.Cameras != "",
		Photos: []photoState{}, Left: []photo.Skipped{}, More: []string{}, Notes: []string{}, Asks: []ask{}}
	if w.at > 0 {
		v.Undo = now.says
	}
	if w.at+1 < len(w.history) {
		v.Redo = w.history[w.at+1].says
	}
	v.Stash.Used = w.usesKept()
	v.Left = append(append(v.Left, w.skipped...), w.refused...)
	w.photoStates(&v, now)
	switch {
	case len(w.photos) == 0:
		v.Headline = "Put in a photo of your cloths."
		v.More = append(v.More, "Scraps spread apart on one plain sheet, a top on the wall, or a border print: a phone's photo will do.")
		return v
	case w.result == nil || w.asked.Kind != w.question.Kind || w.asked.Photo != w.question.Photo:
		v.Headline = "Looking at your photos."
		if w.failed != "" {
			v.Headline = report.Capital(w.failed) + "."
		}
		return v
	}
	v.Command = w.command()
	v.Answered = w.result.Sort != nil || w.result.Layout != nil || w.result.Border != nil
	a := report.AnswerOf(w.result)
	v.Headline, v.More = onPage(a.Headline), allOnPage(a.More)
	v.Notes = append(v.Notes, w.notes...)
	for _, n := range w.result.Notes { // the folder stands above already
		for _, src := range w.photos {
			n = strings.TrimPrefix(n, strings.TrimSuffix(src.Name, filepath.Base(src.Name)))
		}
		v.Notes = append(v.Notes, onPage(n))
	}
	switch {
	case w.result.Sort != nil:
		w.sortState(&v)
	case w.result.Layout != nil:
		w.layoutState(&v)
	case w.result.Border != nil:
		w.borderState(&v)
	}
	for _, f := range w.stashOf() {
		if !f.Doubtful {
			v.Cloths = append(v.Cloths, clothState{f.ID, report.ColourName(f.Name), report.Finite(f.Lightness)})
		}
	}
	return v
}

func (w *workspace) stashOf() []piles.Fabric {
	if w.result.Border != nil {
		return w.result.Border.Stash
	}
	return w.result.Stash
}

func folderName(folder string) string {
	if full, err := filepath.Abs(folder); err == nil {
		return full
	}
	return folder
}

// photoStates are the photos, with what was put right in each.
func (w *workspace) photoStates(v *state, now moment) {
	skipped := map[string]string{}
	methods, notes := map[string]string{}, map[string]string{}
	if w.result != nil {
		for _, s := range w.result.Skipped {
			skipped[s.Photo] = s.Reason
			if s.Hint != "" {
				skipped[s.Photo] += "; " + s.Hint
			}
			skipped[s.Photo] = onPage(skipped[s.Photo])
		}
		for _, l := range w.result.Light {
			methods[l.Photo], notes[l.Photo] = l.Method, onPage(l.Note)
		}
	}
	for _, src := range w.photos {
		p := photoState{ID: idOf(src.Name), Name: filepath.Base(src.Name), Reason: skipped[src.Name], Method: methods[src.Name], Note: notes[src.Name]}
		if p.Reason == "" {
			p.Reason = w.unread[src.Name]
		}
		p.Out = slices.Contains(w.question.Out, p.ID)
		if width, height, sum, ok := w.session.Size(src); ok {
			p.Width, p.Height, p.Stamp = width, height, sum[:12]
			c := now.corrections.Of(sum)
			p.Scraps, p.Card, p.Light, p.At = string(c.Scraps), c.Card, c.CardLightness, c.At
			for i, g := range c.Pieces {
				if !g.Cloth {
					p.Removed = append(p.Removed, removed{i, g.Outline})
				}
			}
		}
		v.Photos = append(v.Photos, p)
	}
}

func (w *workspace) sortState(v *state) {
	s := w.result.Sort
	v.Cuts = s.Cuts
	type doubt struct {
		ask
		size float64
	}
	var doubts []doubt
	for i := range s.Fabrics {
		f := &s.Fabrics[i]
		p := pieceState{ID: f.ID, Photo: idOf(f.Photo), Outline: f.Outline, Lightness: report.Finite(f.Lightness), Uncertainty: report.Finite(f.Uncertainty),
			Pile: string(f.Pile), Swing: f.Swings(), Doubtful: f.Doubtful, Given: f.Given, Grey: report.GreyHex(f.Lightness), Says: report.Describe(f, s)}
		v.Pieces = append(v.Pieces, p)
		if f.Doubtful {
			doubts = append(doubts, doubt{ask{Key: f.Photo + " " + fmt.Sprint(f.Outline[0]), Photo: p.Photo, Piece: f.ID,
				Says: "Is number " + f.ID + " a piece of cloth?", Why: onPage(report.Capital(f.Note))}, math.Abs(raster.Area(f.Outline))})
		}
	}
	// What covers more matters more.
	slices.SortStableFunc(doubts, func(a, b doubt) int { return cmp.Compare(b.size, a.size) })
	for _, d := range doubts {
		v.Asks = append(v.Asks, d.ask)
	}
}

func (w *workspace) layoutState(v *state) {
	l := w.result.Layout
	t := &topState{Rows: l.Rows, Cols: l.Cols, Setting: string(l.Setting), Corners: l.Corners, Found: l.GridFound,
		Patches: []patchState{}, Seams: []seamState{}, Changes: []changeState{}, Tried: len(w.wished().trial), Pattern: l.Pattern.Name, Given: l.Pattern.Given}
	flat := map[string][][2]float64{}
	for i, s := range w.result.Sights {
		switch {
		case s.Kind == analyze.AfterSight:
			t.After = true
		case i == 0:
			t.Width, t.Height = s.W, s.H
			for _, m := range s.Marks {
				flat[m.ID] = m.Outline
			}
		}
	}
	for _, p := range l.Patches {
		t.Patches = append(t.Patches, patchState{p.Row, p.Col, p.Outline, flat[fmt.Sprintf("%d,%d", p.Row, p.Col)],
			string(p.Reads), string(p.Meant), p.Misplaced, report.Finite(p.Lightness)})
	}
	for _, s := range l.Seams {
		if s.Meant != layout.Blend && (s.Verdict == layout.Lost || s.Verdict == layout.Soft) && (s.Meant == layout.Contrast || l.Pattern.Name == "none") {
			t.Seams = append(t.Seams, seamState{s.Between, string(s.Verdict)})
		}
	}
	for _, c := range l.Changes[:min(5, len(l.Changes))] { // no more at once
		s := changeState{Says: c.Why, Moves: c.Placements}
		for _, p := range c.Placements {
			s.Cells = append(s.Cells, p.To)
		}
		t.Changes = append(t.Changes, s)
	}
	if !l.GridFound {
		v.Asks = append(v.Asks, ask{Key: "grid", Photo: w.question.Photo,
			Says: fmt.Sprintf("Are these the patches: %d rows and %d columns?", l.Rows, l.Cols),
			Why:  onPage(strings.Join(w.result.Notes, " "))})
	}
	v.Top = t
}

func (w *workspace) borderState(v *state) {
	b, wished := w.result.Border, w.wished()
	p := &printState{Colours: []colourState{}, Chosen: []chosenState{}, Missing: []string{}, Own: len(wished.chosen) > 0}
	if len(w.result.Sights) > 0 {
		p.Width, p.Height = w.result.Sights[0].W, w.result.Sights[0].H
	}
	for i, c := range b.Palette {
		k := colourState{Hex: c.Hex, Name: report.ColourName(c.Name), Share: report.Finite(c.Share), Out: slices.Contains(wished.without, i), Near: []string{}}
		if i < len(b.Matches) {
			for _, n := range b.Matches[i].Fabrics[:min(4, len(b.Matches[i].Fabrics))] {
				k.Near = append(k.Near, n.ID)
			}
		}
		p.Colours = append(p.Colours, k)
	}
	if b.Choice != nil {
		p.Covers = report.Finite(b.Choice.Covers)
		for _, c := range b.Choice.Fabrics {
			p.Chosen = append(p.Chosen, chosenState{c.ID, report.ColourName(c.Why)})
		}
	}
	for _, m := range b.Missing {
		p.Missing = append(p.Missing, report.Capital(report.ColourName(m.Say))+".")
	}
	v.Print = p
}
