package open

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"

	"greige/analyze/layout"
	"greige/analyze/piles"
	"greige/report"
)

// PageFile is the name of the file in which the page keeps what is no correction:
// what is asked, and what was tried. It lies beside analyze.CorrectionsFile.
const PageFile = "greige-open.json"

const (
	pageSchema    = "greige-open/2"
	firstSchema   = "greige-open/1" // the same without a history
	mostPageBytes = 4 << 20         // some 20000 moves
)

// kept is what PageFile holds. The question names photos where the page has ids.
type kept struct {
	Schema   string   `json:"schema"`
	Question Question `json:"question"`
	Tried    []tries  `json:"tried,omitempty"`
	// History is what can be taken back, and done again, after the next start.
	History *keptHistory `json:"history,omitempty"`
}

// tries are what was tried with one photo, which is known by its bytes. Nothing in
// it is changed in place.
type tries struct {
	Photo   string        `json:"photo"` // its name, for people only
	SHA256  string        `json:"sha256"`
	Hung    [][]hung      `json:"hung,omitempty"`    // of a top, moves in their order
	Dropped []string      `json:"dropped,omitempty"` // colours of a print that do not count, #rrggbb
	Chosen  []chosenCloth `json:"chosen,omitempty"`  // for its middle; none: the program's choice
}

func (t tries) empty() bool { return len(t.Hung) == 0 && len(t.Dropped) == 0 && len(t.Chosen) == 0 }

// hung is a layout.Placement that lasts.
type hung struct {
	To    layout.Cell  `json:"to"`
	From  *layout.Cell `json:"from,omitempty"`
	Cloth *chosenCloth `json:"cloth,omitempty"`
	Turn  int          `json:"turn,omitempty"`
}

// chosenCloth names a cloth so that it is known again when photos have come or
// gone, which changes the numbers of all that follow.
type chosenCloth struct {
	Number string `json:"number"`
	Photo  string `json:"photo,omitempty"`
	Scrap  int    `json:"scrap,omitempty"`
}

// triesOf are those with the photo of a sum.
func (m moment) triesOf(sum string) tries {
	for _, t := range m.tried {
		if t.SHA256 == sum {
			return t
		}
	}
	return tries{SHA256: sum}
}

// with is m with t in place of what was tried with its photo before.
func (m moment) with(t tries) moment {
	m.tried = slices.Clone(m.tried)
	i := slices.IndexFunc(m.tried, func(o tries) bool { return o.SHA256 == t.SHA256 })
	switch {
	case i >= 0 && t.empty():
		m.tried = slices.Delete(m.tried, i, i+1)
	case i >= 0:
		m.tried[i] = t
	case !t.empty():
		m.tried = append(m.tried, t)
	}
	return m
}

// wishes are what was tried, as the jobs take it.
type wishes struct {
	trial   [][]layout.Placement
	without []int
	chosen  []string
}

// wished is what was tried with the question's photo, by the numbers and the
// palette of the last answer. What that has not got is left out.
func (w *workspace) wished() (out wishes) {
	src, ok := w.source(w.question.Photo)
	if !ok || w.question.Kind == "sort" {
		return wishes{}
	}
	sum, err := w.session.Sum(src, w.opt.Settings.Limits)
	if err != nil {
		return wishes{}
	}
	t := w.now().triesOf(sum)
	for _, move := range t.Hung {
		var m []layout.Placement
		for _, h := range move {
			p := layout.Placement{To: h.To, From: h.From, Turn: h.Turn}
			if h.Cloth != nil {
				if p.Stash = w.numberOf(*h.Cloth); p.Stash == "" {
					continue
				}
			}
			m = append(m, p)
		}
		out.trial = append(out.trial, m)
	}
	for _, hex := range t.Dropped {
		if i := slices.Index(w.inks, hex); i >= 0 {
			out.without = append(out.without, i)
		}
	}
	slices.Sort(out.without)
	for _, c := range t.Chosen {
		if id := w.numberOf(c); id != "" {
			out.chosen = append(out.chosen, id)
		}
	}
	return out
}

// numberOf is the number that a cloth has now; "" where it is not there.
func (w *workspace) numberOf(c chosenCloth) string {
	if w.numbers == nil { // nothing was measured yet
		return c.Number
	}
	if slices.Contains(w.numbers, c) {
		return c.Number
	}
	for _, n := range w.numbers {
		if n.Photo == c.Photo && n.Scrap == c.Scrap {
			return n.Number
		}
	}
	return ""
}

// named is a cloth as it is kept.
func (w *workspace) named(f *piles.Fabric) chosenCloth {
	name := f.Photo
	for _, src := range w.photos {
		if src.Name == name {
			name = filepath.Base(name) // the folder may be called another way next time
		}
	}
	return chosenCloth{Number: f.ID, Photo: name, Scrap: f.Scrap}
}

// learn takes from an answer what wished goes by.
func (w *workspace) learn() {
	if w.result == nil {
		return
	}
	if cloths := w.stashOf(); len(cloths) > 0 {
		w.numbers = make([]chosenCloth, len(cloths))
		for i := range cloths {
			w.numbers[i] = w.named(&cloths[i])
		}
	}
	if b := w.result.Border; b != nil {
		w.inks = nil
		for _, c := range b.Palette {
			w.inks = append(w.inks, c.Hex)
		}
	}
}

// tried changes m by a step that only tries something, and tells whether s is
// one.
func (w *workspace) tried(m *moment, s Step) (bool, error) {
	switch s.Kind {
	case "hang", "change", "hang-back", "colour", "choose":
	default:
		return false, nil
	}
	src, ok := w.source(w.question.Photo)
	if !ok || w.result == nil || w.result.Layout == nil && w.result.Border == nil {
		return true, &refusal{Reason: "there is no top and no print to try it with"}
	}
	sum, err := w.session.Sum(src, w.opt.Settings.Limits)
	if err != nil {
		return true, err
	}
	t := m.triesOf(sum)
	t.Photo = filepath.Base(src.Name)
	says, err := w.try(&t, s)
	if err != nil {
		return true, err
	}
	*m = m.with(t)
	m.says = says
	return true, nil
}

// try changes t by a step and says in words what was done.
func (w *workspace) try(t *tries, s Step) (string, error) {
	l, b := w.result.Layout, w.result.Border
	switch {
	case s.Kind == "hang-back":
		t.Hung = nil
		return "the top as it hangs", nil
	case s.Kind == "hang" && l != nil && s.To != nil && s.From != nil: // they change places
		t.Hung = append(slices.Clone(t.Hung), []hung{{To: *s.To, From: s.From}, {To: *s.From, From: s.To}})
		return "two patches changed places", nil
	case s.Kind == "hang" && l != nil && s.To != nil:
		c, err := w.clothOf(s.Cloth)
		t.Hung = append(slices.Clone(t.Hung), []hung{{To: *s.To, Cloth: c}})
		return fmt.Sprintf("another cloth in row %d, patch %d", s.To[0], s.To[1]), err
	case s.Kind == "change" && l != nil && s.Change != nil && *s.Change >= 0 && *s.Change < len(l.Changes):
		var move []hung
		for _, p := range l.Changes[*s.Change].Placements {
			h := hung{To: p.To, From: p.From, Turn: p.Turn}
			if p.From == nil {
				var err error
				if h.Cloth, err = w.clothOf(p.Stash); err != nil {
					return "", err
				}
			}
			move = append(move, h)
		}
		t.Hung = append(slices.Clone(t.Hung), move)
		return "a change was tried", nil
	case s.Kind == "colour" && b != nil && s.Colour != nil && *s.Colour >= 0 && *s.Colour < len(b.Palette):
		hex := b.Palette[*s.Colour].Hex
		if i := slices.Index(t.Dropped, hex); i >= 0 {
			t.Dropped = slices.Delete(slices.Clone(t.Dropped), i, i+1)
			return "a colour that counts", nil
		}
		t.Dropped = append(slices.Clone(t.Dropped), hex)
		return "a colour that does not count", nil
	case s.Kind == "choose" && b != nil:
		t.Chosen = nil
		for _, id := range s.Chosen {
			c, err := w.clothOf(id)
			if err != nil {
				return "", err
			}
			t.Chosen = append(t.Chosen, *c)
		}
		return "other cloths in the middle", nil
	}
	return "", &refusal{Reason: "there is nothing here that this could be tried with"}
}

// clothOf is the cloth of a number among those that could be chosen.
func (w *workspace) clothOf(id string) (*chosenCloth, error) {
	cloths := w.stashOf()
	for i := range cloths {
		if cloths[i].ID == id {
			c := w.named(&cloths[i])
			return &c, nil
		}
	}
	return nil, &refusal{Reason: "there is no cloth of that number"}
}

// pageBytes is PageFile as it is to be now beside a file of corrections; nil where
// there is nothing to keep.
func (w *workspace) pageBytes(right []byte) ([]byte, error) {
	k := kept{Schema: pageSchema, Question: w.question, Tried: w.now().tried, History: w.keptHistory(right)}
	k.Question.Photo, k.Question.Out = "", nil
	for _, src := range w.photos {
		switch id := idOf(src.Name); {
		case id == w.question.Photo:
			k.Question.Photo = filepath.Base(src.Name)
		case slices.Contains(w.question.Out, id):
			k.Question.Out = append(k.Question.Out, filepath.Base(src.Name))
		}
	}
	if len(k.Tried) == 0 && k.History == nil && k.Question.Kind == "sort" && k.Question.Piles%3 == 0 && len(k.Question.Out) == 0 && w.page.onDisk == nil {
		return nil, nil
	}
	data, err := json.Marshal(k) // in one line: indented, outlines take three times the room
	return append(data, '\n'), err
}

// recall takes up what PageFile keeps; the photos are known already.
func (w *workspace) recall() error {
	data, err := os.ReadFile(w.page.path)
	if errors.Is(err, os.ErrNotExist) {
		return nil
	}
	unfit := func(why string) error {
		return &report.Error{File: w.page.path, Reason: "what was asked and tried before cannot be read: " + why, Hint: "give the file another name to begin anew", Err: err}
	}
	if err != nil {
		return unfit("you may not read it")
	}
	if len(data) > mostPageBytes {
		return unfit(fmt.Sprintf("it is larger than %d MiB", mostPageBytes>>20))
	}
	var k kept
	dec := json.NewDecoder(bytes.NewReader(data))
	dec.DisallowUnknownFields()
	if err = dec.Decode(&k); err != nil {
		return unfit(err.Error())
	}
	if k.Schema != pageSchema && k.Schema != firstSchema {
		return unfit(fmt.Sprintf("its schema is %q, and this program reads %q", k.Schema, pageSchema))
	}
	w.page.onDisk = data
	w.history[0].tried = k.Tried
	w.remember(k.History)
	q := k.Question
	q.Photo, q.Out = "", nil
	for _, src := range w.photos {
		switch base := filepath.Base(src.Name); {
		case base == k.Question.Photo:
			q.Photo = idOf(src.Name)
		case slices.Contains(k.Question.Out, base):
			q.Out = append(q.Out, idOf(src.Name))
		}
	}
	if q, err = w.fitting(q); err != nil {
		return unfit(err.Error())
	}
	w.question = q
	return nil
}
