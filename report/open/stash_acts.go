package open

import (
	"context"
	"fmt"
	"strings"

	"greige/analyze/stash"
	"greige/report"
)

// mostActs is how many steps on the wall can be taken back: with the pictures of what
// was dropped they lie in memory.
const mostActs = 100

// act is something done to the kept stash, and done again by doing it once more.
type act struct {
	says string // in words
	do   func(context.Context, *stash.Stash) error
	undo func(context.Context, *stash.Stash) error
}

// acts are the steps on the wall since the program began. The stash is not the
// folder's: its steps are no part of the folder's history.
type acts struct {
	list []*act
	at   int // so many of them are done
}

func (a *acts) undo() string {
	if a.at == 0 {
		return ""
	}
	return a.list[a.at-1].says
}

func (a *acts) redo() string {
	if a.at == len(a.list) {
		return ""
	}
	return a.list[a.at].says
}

// push puts a step behind those that are done.
func (a *acts) push(next *act) {
	a.list = append(a.list[:a.at:a.at], next)
	a.list = a.list[max(len(a.list)-mostActs, 0):]
	a.at = len(a.list)
}

// cutting is what was cut from a cloth: an area, or so many square patches.
type cutting struct {
	ID      string  `json:"id"`
	Area    float64 `json:"area"`    // cm2
	Patches float64 `json:"patches"` // how many
	Side    float64 `json:"side"`    // of each as cut, cm
}

// useKept says what was cut from a cloth of the stash.
func (w *workspace) useKept(ctx context.Context, c cutting) (*saying, error) {
	area := c.Area
	if c.Patches != 0 || c.Side != 0 {
		area = c.Patches * c.Side * c.Side
	}
	if !(area > 0 && area <= 1e6) {
		return nil, &refusal{Reason: "what was cut is so many patches of so many centimetres, or square centimetres"}
	}
	by := func(area float64) func(context.Context, *stash.Stash) error {
		return func(ctx context.Context, s *stash.Stash) error { return s.Use(ctx, c.ID, area) }
	}
	return w.actOn(ctx, &act{says: fmt.Sprintf("%.4g square centimetres cut from number %s", area, c.ID), do: by(area), undo: by(-area)})
}

// dropping is what is taken out of the stash.
type dropping struct {
	IDs []string `json:"ids"`
}

// dropKept takes cloths out of the stash.
func (w *workspace) dropKept(ctx context.Context, d dropping) (*saying, error) {
	if len(d.IDs) == 0 {
		return nil, &refusal{Reason: "choose a cloth first"}
	}
	var gone *stash.Dropped
	return w.actOn(ctx, &act{says: "number " + report.List(d.IDs) + " taken out of your stash",
		do: func(ctx context.Context, s *stash.Stash) (err error) {
			gone, err = s.Drop(ctx, d.IDs)
			return err
		},
		undo: func(ctx context.Context, s *stash.Stash) error { return s.Restore(ctx, gone) }})
}

// actOn takes a step on the wall.
func (w *workspace) actOn(ctx context.Context, a *act) (*saying, error) {
	w.acting.Lock()
	defer w.acting.Unlock()
	if err := w.onStash(ctx, a.do); err != nil {
		return nil, err
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	w.acts.push(a)
	return w.acted(ctx, report.Capital(a.says)+". Undo takes that back."), nil
}

// turning is which way to go among the steps on the wall: -1 back, 1 forth.
type turning struct {
	By int `json:"by"`
}

// turnBack undoes the last step on the wall, or does it again.
func (w *workspace) turnBack(ctx context.Context, t turning) (*saying, error) {
	w.acting.Lock()
	defer w.acting.Unlock()
	a, at := &w.acts, w.acts.at
	if t.By < 0 && at == 0 || t.By >= 0 && at == len(a.list) {
		return nil, &refusal{Reason: "there is no step to go to"}
	}
	words, to := "Done again: ", at+1
	if t.By < 0 {
		words, to = "Taken back: ", at-1
	}
	turned := a.list[min(at, to)]
	step := turned.do
	if t.By < 0 {
		step = turned.undo
	}
	if err := w.onStash(ctx, step); err != nil {
		return nil, err
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	a.at = to
	return w.acted(ctx, words+turned.says+"."), nil
}

// onStash does something to the kept stash.
func (w *workspace) onStash(ctx context.Context, do func(context.Context, *stash.Stash) error) error {
	s, err := w.openStash(false)
	if err != nil {
		return err
	}
	defer s.Close()
	return stashWords(do(ctx, s))
}

// acted tells the page that the stash is another, and measures anew what chooses from
// it. w is locked.
func (w *workspace) acted(ctx context.Context, says string) *saying {
	w.countStash(ctx)
	w.looked++
	if w.usesKept() {
		w.kick()
	}
	w.tell()
	return &saying{Headline: strings.TrimSpace(says), More: []string{}}
}
