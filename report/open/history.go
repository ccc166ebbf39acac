package open

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"reflect"
	"slices"

	"greige/analyze"
)

// What of the steps is kept from one start to the next: the newest, as far as they
// fit. A step changes little, so that is a great many.
const (
	mostSteps     = 100
	mostStepBytes = 1 << 20 // of all of them: each is written with every step
)

// keptHistory are the steps that can be taken back, and done again, as PageFile has
// them. Only what is not the present is written: of a step that is done what was
// before it, of one that was taken back what was after it.
type keptHistory struct {
	// Of is the SHA-256 of the file of corrections that these steps lead to. With
	// another file, as after a kill between the two, they lead nowhere.
	Of    string     `json:"of"`
	Done  []keptStep `json:"done,omitempty"`  // in their order
	Taken []keptStep `json:"taken,omitempty"` // back; in their order
}

// keptStep is one step: the other side of it.
type keptStep struct {
	Says   string      `json:"says"`
	Photos []keptPhoto `json:"photos"` // in which it has changed something
}

// keptPhoto is a photo as it is on the other side of a step.
type keptPhoto struct {
	SHA256 string          `json:"sha256"`
	Right  json.RawMessage `json:"right,omitempty"` // a file of corrections; none: as it is
	Tried  *tries          `json:"tried,omitempty"` // none: as it is
}

// changed are the photos that a step changes, as they are in to.
func changed(from, to moment) (out []keptPhoto, err error) {
	var sums []string
	for _, m := range []moment{from, to} {
		if m.corrections != nil {
			for _, p := range m.corrections.Photos {
				sums = append(sums, p.SHA256)
			}
		}
		for _, t := range m.tried {
			sums = append(sums, t.SHA256)
		}
	}
	slices.Sort(sums)
	for _, sum := range slices.Compact(sums) {
		p := keptPhoto{SHA256: sum}
		if is := to.corrections.Of(sum); !reflect.DeepEqual(from.corrections.Of(sum), is) {
			is.SHA256 = sum
			var b, short bytes.Buffer
			if err := (&analyze.Corrections{}).With(is).Write(&b); err != nil {
				return nil, err
			}
			if err := json.Compact(&short, b.Bytes()); err != nil {
				return nil, err
			}
			p.Right = short.Bytes()
		}
		if is := to.triesOf(sum); !reflect.DeepEqual(from.triesOf(sum), is) {
			p.Tried = &is
		}
		if p.Right != nil || p.Tried != nil {
			out = append(out, p)
		}
	}
	return out, nil
}

// through is m on the other side of a step.
func (s keptStep) through(m moment) (moment, error) {
	for _, p := range s.Photos {
		if p.Right != nil {
			c, err := analyze.ReadCorrections(bytes.NewReader(p.Right))
			if err != nil {
				return m, err
			}
			is := c.Of(p.SHA256)
			is.SHA256 = p.SHA256
			m.corrections = m.corrections.With(is)
		}
		if p.Tried != nil {
			t := *p.Tried
			t.SHA256 = p.SHA256
			m = m.with(t)
		}
	}
	return m, nil
}

func (s keptStep) size() (n int) {
	for _, p := range s.Photos {
		n += len(p.Right) + len(p.SHA256)
		if p.Tried != nil {
			data, _ := json.Marshal(p.Tried) // plain data: it cannot fail
			n += len(data)
		}
	}
	return n + len(s.Says)
}

// keptHistory is what of the history is to be kept beside a file of corrections.
func (w *workspace) keptHistory(right []byte) *keptHistory {
	sum := sha256.Sum256(right)
	k := &keptHistory{Of: hex.EncodeToString(sum[:])}
	room, steps := mostStepBytes, mostSteps
	take := func(s keptStep) bool {
		room, steps = room-s.size(), steps-1
		return room >= 0 && steps >= 0
	}
	for i := w.at; i > 0; i-- { // the newest first, while there is room
		s := keptStep{w.history[i].says, w.history[i].back}
		if !take(s) {
			break
		}
		k.Done = append(k.Done, s)
	}
	slices.Reverse(k.Done)
	for i := w.at + 1; i < len(w.history); i++ {
		s := keptStep{w.history[i].says, w.history[i].forth}
		if !take(s) {
			break
		}
		k.Taken = append(k.Taken, s)
	}
	if len(k.Done)+len(k.Taken) == 0 {
		return nil
	}
	return k
}

// remember rebuilds the history round the present moment, w's only one. Steps that do
// not fit the file of corrections are forgotten, and so are those that cannot be read:
// nothing that was put right hangs on them.
func (w *workspace) remember(k *keptHistory) {
	sum := sha256.Sum256(w.right.onDisk)
	if k == nil || k.Of != hex.EncodeToString(sum[:]) {
		return
	}
	now := w.now()
	history := []moment{now}
	for _, s := range slices.Backward(k.Done) {
		before, err := s.through(history[0])
		if err != nil {
			return
		}
		history[0].says, history[0].back = s.Says, s.Photos
		if history[0].forth, err = changed(before, history[0]); err != nil {
			return
		}
		history = append([]moment{before}, history...)
	}
	at := len(history) - 1
	for _, s := range k.Taken {
		last := history[len(history)-1]
		after, err := s.through(last)
		if err != nil {
			return
		}
		after.says, after.forth = s.Says, s.Photos
		if after.back, err = changed(after, last); err != nil {
			return
		}
		history = append(history, after)
	}
	w.history, w.at = history, at
}

// record puts a moment behind the present one.
func (w *workspace) record(m moment) error {
	var err error
	if m.back, err = changed(m, w.now()); err == nil {
		m.forth, err = changed(w.now(), m)
	}
	if err != nil {
		return fmt.Errorf("the step cannot be kept: %w", err)
	}
	w.history = append(w.history[:w.at+1:w.at+1], m)
	w.at++
	return nil
}
