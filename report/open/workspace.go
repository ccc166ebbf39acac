package open

import (
	"bytes"
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"sync"

	"greige/analyze"
	"greige/analyze/border"
	"greige/analyze/photo"
	"greige/analyze/piles"
	"greige/analyze/stash"
	"greige/report"
)

// shownSide is the longest side of a photo on the page: a screen's width.
const shownSide = 1600

// Question is what the page asks of the photos.
type Question struct {
	Kind  string   `json:"kind"`            // "sort", "layout" or "border"
	Photo string   `json:"photo,omitempty"` // id of the top's or the print's
	Out   []string `json:"out,omitempty"`   // ids of the photos that are left out
	Stash bool     `json:"stash,omitempty"` // the other photos are cloths to choose from
	Kept  bool     `json:"kept,omitempty"`  // so is the kept stash
	Piles int      `json:"piles,omitempty"` // 2 or 3; 0: 3
}

// moment is all that a step can change; what is in it is never changed in place.
type moment struct {
	corrections *analyze.Corrections
	tried       []tries // by photo
	says        string  // the step that led here, in words
	// back and forth are what that step has changed: as it was before, and as it is.
	back, forth []keptPhoto
}

// workspace is a folder of photos, what was put right in them, and the answer.
type workspace struct {
	opt     Options
	ctx     context.Context // of the server
	session *analyze.Session
	right   keptFile // the corrections
	page    keptFile // what is asked and tried

	mu       sync.Mutex
	photos   []analyze.Source
	skipped  []photo.Skipped // of the folder
	refused  []photo.Skipped // that were sent and cannot be read
	sums     map[string]string
	unread   map[string]string // why a photo cannot be shown, by its name
	looked   int               // photos that were looked at beside the answer
	question Question
	history  []moment
	at       int // in history
	notes    []string
	numbers  []chosenCloth // of the cloths that could be chosen, as last measured
	inks     []string      // the print's palette, as last measured, #rrggbb
	stashed  stashed
	acting   sync.Mutex // one step on the wall at a time
	acts     acts
	school   school

	rev      int      // of all of this
	measured int      // the rev that the answer is of
	asked    Question // that the answer is of
	result   *analyze.Result
	failed   string
	done     int // photos measured of total
	total    int
	stopRun  context.CancelFunc
	settle   *sync.Cond
	running  bool
	ears     map[chan struct{}]bool
}

func newWorkspace(ctx context.Context, opt Options) (*workspace, error) {
	w := &workspace{opt: opt, ctx: ctx, session: analyze.NewSession(0),
		right: keptFile{path: filepath.Join(opt.Folder, analyze.CorrectionsFile)}, page: keptFile{path: filepath.Join(opt.Folder, PageFile)},
		sums: map[string]string{}, unread: map[string]string{}, question: Question{Kind: "sort"}, ears: map[chan struct{}]bool{}}
	w.settle = sync.NewCond(&w.mu)
	if info, err := os.Stat(opt.Folder); err != nil || !info.IsDir() {
		return nil, &report.Error{File: opt.Folder, Reason: "there is no such folder", Hint: "make the folder first, or give another one"}
	}
	removeUnfinished(opt.Folder)
	c, data, err := readFile(w.right.path)
	if err != nil {
		return nil, err
	}
	w.history, w.right.onDisk = []moment{{corrections: c}}, data
	w.gather()
	w.countStash(ctx)
	if err := w.recall(); err != nil {
		return nil, err
	}
	w.kick()
	return w, nil
}

// readFile reads the file of corrections, which need not be there.
func readFile(path string) (*analyze.Corrections, []byte, error) {
	data, err := os.ReadFile(path)
	if errors.Is(err, os.ErrNotExist) {
		return nil, nil, nil
	}
	if err != nil {
		return nil, nil, &report.Error{File: path, Reason: "what was put right before cannot be read", Hint: "give yourself the right to read it", Err: err}
	}
	c, err := analyze.ReadCorrections(bytes.NewReader(data))
	if err != nil {
		return nil, nil, &report.Error{File: path, Reason: err.Error(), Hint: "mend the line, or give the file another name to begin anew"}
	}
	return c, data, nil
}

func (w *workspace) close() {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.stopRun != nil {
		w.stopRun()
	}
	for w.running {
		w.settle.Wait()
	}
	w.school.close()
}

// gather looks for the photos in the folder.
func (w *workspace) gather() {
	sources, skipped := photo.Gather([]string{w.opt.Folder})
	w.photos, w.skipped = sources, nil
	for _, s := range skipped {
		// An empty folder is no fault here, nor a photo that is coming in.
		if s.Photo != w.opt.Folder && !strings.HasPrefix(filepath.Base(s.Photo), unfinished) {
			w.skipped = append(w.skipped, s)
		}
	}
}

// idOf names a photo in the page's addresses: it tells nothing of the disk.
func idOf(name string) string {
	sum := sha256.Sum256([]byte(name))
	return hex.EncodeToString(sum[:8])
}

// source is the photo of an id. Only what was put in has one.
func (w *workspace) source(id string) (analyze.Source, bool) {
	for _, s := range w.photos {
		if idOf(s.Name) == id {
			return s, true
		}
	}
	return analyze.Source{}, false
}

func (w *workspace) show(ctx context.Context, id string) (analyze.Shown, error) {
	w.mu.Lock()
	src, ok := w.source(id)
	w.mu.Unlock()
	if !ok {
		return analyze.Shown{}, errors.New("there is no such photo")
	}
	return w.session.Show(ctx, src, w.opt.Settings.Limits, shownSide)
}

func (w *workspace) now() moment { return w.history[w.at] }

// kick measures anew; what is being measured for an older state is given up.
// w is locked.
func (w *workspace) kick() {
	w.rev++
	if w.stopRun != nil {
		w.stopRun()
	}
	w.tell()
	if !w.running {
		w.running = true
		go w.run()
	}
}

// run measures until the answer is that of the newest state.
func (w *workspace) run() {
	w.mu.Lock()
	defer w.mu.Unlock()
	again := 0
	for w.measured != w.rev && w.ctx.Err() == nil {
		rev, wished := w.rev, w.wished()
		ctx, stop := context.WithCancel(w.ctx)
		w.stopRun = stop
		job, asked := w.job(rev, wished), w.question
		w.mu.Unlock()
		result, err := job(ctx)
		stop()
		w.mu.Lock()
		if rev != w.rev {
			continue // something newer is asked
		}
		w.result, w.asked = result, asked
		w.learn()
		if again++; again < 3 && !reflect.DeepEqual(wished, w.wished()) {
			continue // the numbers, or the palette, are others than before
		}
		again = 0
		w.measured, w.failed, w.done, w.total = rev, "", 0, 0
		w.noteChanged()
		if err != nil && (result == nil || result.Sort == nil && result.Layout == nil && result.Border == nil) {
			w.result = nil
			w.failed = err.Error()
			if result != nil && len(result.Skipped) > 0 {
				w.failed = ""
				w.result = result
			}
		}
	}
	w.running = false
	w.stopRun = nil
	w.tell()
	w.settle.Broadcast()
	go w.lookAtRest()
}

// lookAtRest looks at the photos that no answer needed, so that the page can
// show them, or say why not.
func (w *workspace) lookAtRest() {
	w.mu.Lock()
	photos := slices.Clone(w.photos)
	w.mu.Unlock()
	for _, src := range photos {
		w.mu.Lock()
		_, _, _, known := w.session.Size(src)
		known = known || w.unread[src.Name] != ""
		w.mu.Unlock()
		if known || w.ctx.Err() != nil {
			continue
		}
		_, err := w.session.Show(w.ctx, src, w.opt.Settings.Limits, shownSide)
		w.mu.Lock()
		var bad *photo.Error
		if errors.As(err, &bad) {
			w.unread[src.Name] = bad.Reason
		}
		w.looked++
		w.tell()
		w.mu.Unlock()
	}
}

// noteChanged says which photos have other bytes than when they were last
// measured: what was put right in them was put right in another picture.
func (w *workspace) noteChanged() {
	for _, src := range w.photos {
		sum, err := w.session.Sum(src, w.opt.Settings.Limits)
		if err != nil {
			continue
		}
		if before := w.sums[src.Name]; before != "" && before != sum {
			w.notes = append(w.notes, fmt.Sprintf("%s was changed on the disk and was read again. What you put right in it before is kept, and holds for the photo as it was.", quoted(filepath.Base(src.Name))))
		}
		w.sums[src.Name] = sum
	}
}

// settled waits until the newest state is measured, or ctx ends.
func (w *workspace) settled(ctx context.Context) {
	stop := context.AfterFunc(ctx, w.settle.Broadcast)
	defer stop()
	w.mu.Lock()
	defer w.mu.Unlock()
	for w.running && ctx.Err() == nil {
		w.settle.Wait()
	}
}

// inputs are the photos of the question as a command names them: the folder
// where all of it is meant. own is the top's or the print's.
func (w *workspace) inputs(own string) []string {
	var names []string
	for _, s := range w.photos {
		if !slices.Contains(w.question.Out, idOf(s.Name)) && s.Name != own {
			names = append(names, s.Name)
		}
	}
	rest := len(w.photos)
	if own != "" {
		rest--
	}
	if len(names) == rest && (rest > 0 || own == "") {
		return []string{w.opt.Folder}
	}
	return names
}

// job is what answers the question as it stands now.
func (w *workspace) job(rev int, wished wishes) func(context.Context) (*analyze.Result, error) {
	now, q := w.now(), w.question
	settings := w.opt.Settings
	settings.Corrections, settings.Late = now.corrections, true
	settings.Progress = func(done, total int) {
		w.mu.Lock()
		defer w.mu.Unlock()
		if rev == w.rev {
			w.done, w.total = done, total
			w.tell()
		}
	}
	var own analyze.Source // a sort takes all photos
	if q.Kind != "sort" {
		own, _ = w.source(q.Photo)
	}
	if len(w.photos) == 0 || q.Kind != "sort" && own.Name == "" {
		return func(context.Context) (*analyze.Result, error) { return nil, errors.New("") }
	}
	inputs := w.inputs(own.Name)
	if q.Kind != "sort" && !q.Stash {
		inputs = nil
	}
	used := w.usesKept()
	switch q.Kind {
	case "layout":
		opt := analyze.LayoutOptions{Settings: settings, Stash: inputs, Trial: wished.trial}
		return w.withStash(used, func(ctx context.Context, s *stash.Stash) (*analyze.Result, error) {
			opt.Kept = s
			return w.session.Layout(ctx, own, opt)
		})
	case "border":
		opt := analyze.BorderOptions{Settings: settings, Stash: inputs, Wishes: border.Wishes{Without: wished.without, Chosen: wished.chosen}}
		return w.withStash(used, func(ctx context.Context, s *stash.Stash) (*analyze.Result, error) {
			opt.Kept = s
			return w.session.Border(ctx, own, opt)
		})
	}
	return func(ctx context.Context) (*analyze.Result, error) {
		return w.session.Sort(ctx, inputs, analyze.SortOptions{Settings: settings, Piles: q.Piles})
	}
}

// fitting is q with what it leaves open; the error says what is wrong with it.
func (w *workspace) fitting(q Question) (Question, error) {
	switch {
	case q.Kind != "sort" && q.Kind != "layout" && q.Kind != "border":
		return q, &refusal{Reason: "there is no such question"}
	case q.Piles != 0 && q.Piles != 2 && q.Piles != 3:
		return q, &refusal{Reason: "the piles are two or three"}
	}
	if _, ok := w.source(q.Photo); q.Photo != "" && !ok {
		return q, &refusal{Reason: "there is no such photo"}
	}
	if q.Kind != "sort" && q.Photo == "" && len(w.photos) > 0 {
		q.Photo = idOf(w.photos[0].Name)
	}
	return q, nil
}

// ask asks another question, or the same of other photos.
func (w *workspace) ask(_ context.Context, q Question) error {
	w.mu.Lock()
	defer w.mu.Unlock()
	q, err := w.fitting(q)
	if err != nil {
		return err
	}
	w.question = q
	w.save()
	w.kick()
	return nil
}

// undo goes a step back, or forth.
func (w *workspace) undo(by int) error {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.at+by < 0 || w.at+by >= len(w.history) {
		return &refusal{Reason: "there is no step to go to"}
	}
	w.at += by
	w.save()
	w.kick()
	return nil
}

// save keeps what was put right, and what is asked and tried.
func (w *workspace) save() {
	var b bytes.Buffer
	right := w.right.onDisk
	if err := w.now().corrections.Write(&b); err != nil {
		w.right.trouble = err.Error()
	} else if c := w.now().corrections; w.right.onDisk != nil || c != nil && len(c.Photos) > 0 {
		right = b.Bytes()
		w.right.keep(right)
	}
	if data, err := w.pageBytes(right); err != nil {
		w.page.trouble = err.Error()
	} else if data != nil {
		w.page.keep(data)
	}
}

// trouble is why something could not be kept, in words.
func (w *workspace) trouble() string { return cmp.Or(w.right.trouble, w.page.trouble) }

// keptFile is a file in which the page keeps what she does.
type keptFile struct {
	path    string
	onDisk  []byte // as it was last read or written; nil: it is not there
	trouble string // why it could not be kept, in words
}

// keep writes the file: whole, on the disk itself, before anybody is told that it
// is kept. What cannot be kept stays in the program and is tried again with the
// next step.
func (k *keptFile) keep(data []byte) {
	if k.trouble == "" && bytes.Equal(data, k.onDisk) {
		return
	}
	disk, err := os.ReadFile(k.path)
	if err == nil && k.onDisk != nil && !bytes.Equal(disk, k.onDisk) {
		k.trouble = "Another program has changed " + quoted(k.path) + ". What you put right is held here and not kept: move that file elsewhere, then take another step."
		return
	}
	err = report.KeepFile(k.path, func(to io.Writer) error {
		_, err := to.Write(data)
		return err
	})
	var e *report.Error
	switch {
	case errors.As(err, &e):
		k.trouble = fmt.Sprintf("What you put right is held here and not kept: %s. %s, then take another step.", e.Reason, report.Capital(e.Hint))
	case err != nil:
		k.trouble = "What you put right is held here and not kept: " + err.Error()
	default:
		k.trouble, k.onDisk = "", bytes.Clone(data)
	}
}

// answered is the last answer, nil while there is none.
func (w *workspace) answered() *analyze.Result {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.result == nil || w.result.Sort == nil && w.result.Layout == nil && w.result.Border == nil {
		return nil
	}
	return w.result
}

// stash are the cloths that could be chosen.
func (w *workspace) stash() []piles.Fabric {
	r := w.answered()
	switch {
	case r == nil:
		return nil
	case r.Border != nil:
		return r.Border.Stash
	}
	return r.Stash
}

// keepPage writes the page of the answer, under the command's own name.
func (w *workspace) keepPage(version string) (string, error) {
	r := w.answered()
	if r == nil {
		return "", &refusal{Reason: "there is no answer to keep yet"}
	}
	path := filepath.Join(w.opt.Folder, "greige-"+r.Command+".html")
	r = r.Drawn()
	return path, report.WriteFile(path, func(to io.Writer) error { return report.WritePage(to, r, version) })
}

// listen tells of each change by way of a channel.
func (w *workspace) listen() (news chan struct{}, leave func()) {
	w.mu.Lock()
	defer w.mu.Unlock()
	news = make(chan struct{}, 1)
	w.ears[news] = true
	return news, func() {
		w.mu.Lock()
		defer w.mu.Unlock()
		delete(w.ears, news)
	}
}

// tell tells those that listen. w is locked.
func (w *workspace) tell() {
	for ear := range w.ears {
		select {
		case ear <- struct{}{}:
		default: // it was told and has not looked yet
		}
	}
}

// news is how far it is.
type news struct {
	Rev      int  `json:"rev"`
	Done     int  `json:"done"`
	Total    int  `json:"total"`
	Measured bool `json:"measured"`
	Refused  int  `json:"refused"`
	Looked   int  `json:"looked"`
}

func (w *workspace) news() news {
	w.mu.Lock()
	defer w.mu.Unlock()
	return news{w.rev, w.done, w.total, !w.running, len(w.refused), w.looked}
}

// command is what gives the same answer in a terminal.
func (w *workspace) command() string {
	own, _ := w.source(w.question.Photo)
	words := []string{w.opt.Command, w.question.Kind}
	switch {
	case w.question.Kind == "sort":
		words = append(words, w.inputs("")...)
		if w.question.Piles == 2 {
			words = append(words, "--piles", "2")
		}
	default:
		words = append(words, own.Name)
		if w.question.Stash {
			for _, in := range w.inputs(own.Name) {
				words = append(words, "--stash", in)
			}
		}
		if w.usesKept() && (w.question.Kept || w.question.Stash) {
			words = append(words, "--stash", "kept")
		}
	}
	words = append(words, w.opt.Flags...)
	if c := w.now().corrections; c != nil && len(c.Photos) > 0 {
		words = append(words, "--corrections", w.right.path)
	}
	for i, word := range words {
		words[i] = shellWord(word)
	}
	return strings.Join(words, " ")
}

// shellWord is a word as a shell takes it whole.
func shellWord(s string) string {
	plain := s != "" && strings.IndexFunc(s, func(r rune) bool {
		return !(r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || strings.ContainsRune("-_./\\:+", r))
	}) < 0
	if plain {
		return s
	}
	return strconv.Quote(s)
}

func quoted(name string) string { return strconv.Quote(name) }
