package open

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"mime"
	"net/http"
	"path"
	"strconv"

	"greige/analyze"
	"greige/analyze/cloth"
	"greige/report"
)

// mostJSON is the largest step: an outline of ten thousand points.
const mostJSON = 1 << 20

func (s *server) routes() http.Handler {
	files, err := fs.Sub(pageFiles, "page")
	if err != nil {
		panic(err) // it is in the program: this cannot fail for a user
	}
	mux := http.NewServeMux()
	mux.HandleFunc("GET /{$}", func(w http.ResponseWriter, r *http.Request) { serveFile(w, r, files, "open.html") })
	mux.HandleFunc("GET /page/{name}", func(w http.ResponseWriter, r *http.Request) { serveFile(w, r, files, r.PathValue("name")) })
	mux.HandleFunc("GET /state", func(w http.ResponseWriter, _ *http.Request) { answer(w, s.state()) })
	mux.HandleFunc("GET /events", s.events)
	mux.HandleFunc("GET /photo/{id}/{view}", s.photo)
	mux.HandleFunc("GET /sight/{at}/{view}", s.sight)
	mux.HandleFunc("GET /cloth/{id}/{view}", s.cloth)
	mux.HandleFunc("GET /greige.html", s.wholePage)
	mux.HandleFunc("GET /phone.png", func(w http.ResponseWriter, r *http.Request) { jpeg(w, r, s.phone.code) })
	mux.HandleFunc("POST /photos", s.takePhoto)
	mux.HandleFunc("POST /steps", changes(s, s.work.do))
	mux.HandleFunc("GET /teach", func(w http.ResponseWriter, _ *http.Request) { answer(w, s.work.teaching()) })
	mux.HandleFunc("POST /teach/photos", s.takeLesson)
	mux.HandleFunc("GET /teach/photos/{id}", s.lesson)
	mux.HandleFunc("POST /teach/leave", told(s.work.leaveLesson))
	mux.HandleFunc("POST /teach/learn", told(s.work.learnPhone))
	mux.HandleFunc("POST /teach/forget", told(s.work.forgetPhone))
	mux.HandleFunc("POST /stash", told(s.work.findKept))
	mux.HandleFunc("POST /stash/keep", told(s.work.keepSorted))
	mux.HandleFunc("POST /stash/use", told(s.work.useKept))
	mux.HandleFunc("POST /stash/drop", told(s.work.dropKept))
	mux.HandleFunc("POST /stash/turn", told(s.work.turnBack))
	mux.HandleFunc("GET /stash/{id}/{view}", s.keptCloth)
	mux.HandleFunc("POST /question", changes(s, s.work.ask))
	mux.HandleFunc("POST /snap", told(s.work.snapped))
	mux.HandleFunc("POST /undo", func(w http.ResponseWriter, r *http.Request) { s.reply(w, r, s.work.undo(-1)) })
	mux.HandleFunc("POST /redo", func(w http.ResponseWriter, r *http.Request) { s.reply(w, r, s.work.undo(1)) })
	mux.HandleFunc("POST /keep", func(w http.ResponseWriter, r *http.Request) { s.keepPage(w) })
	mux.HandleFunc("POST /end", func(w http.ResponseWriter, _ *http.Request) {
		answer(w, map[string]bool{"ended": true})
		s.stop()
	})
	return mux
}

// serveFile serves a part of the page out of the program, never off the disk.
func serveFile(w http.ResponseWriter, r *http.Request, files fs.FS, name string) {
	data, err := fs.ReadFile(files, name)
	if err != nil {
		http.NotFound(w, r)
		return
	}
	if name == "open.css" {
		data = append([]byte(report.BaseStyle), data...)
	}
	kind := mime.TypeByExtension(path.Ext(name))
	if path.Ext(name) == ".js" {
		kind = "text/javascript; charset=utf-8" // whatever this computer calls it
	}
	w.Header().Set("Content-Type", kind)
	_, _ = w.Write(data)
}

func answer(w http.ResponseWriter, v any) {
	data, err := json.Marshal(v)
	if err != nil {
		http.Error(w, "a figure is no number", http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "application/json")
	_, _ = w.Write(data)
}

// refusal is what could not be done, in words.
type refusal struct {
	Reason string `json:"reason"`
	Hint   string `json:"hint,omitempty"`
}

func (e *refusal) Error() string { return e.Reason }

func refuse(w http.ResponseWriter, status int, err error) {
	e := &refusal{Reason: err.Error()}
	errors.As(err, &e)
	var r *report.Error
	if errors.As(err, &r) {
		e = &refusal{r.Error(), r.Hint}
	}
	data, _ := json.Marshal(e) // two strings: it cannot fail
	w.Header().Set("Content-Type", "application/json")
	w.WriteHeader(status)
	_, _ = w.Write(data)
}

// read reads a request's JSON, of the expected kind and no larger than it can be.
func read(w http.ResponseWriter, r *http.Request, into any) error {
	if kind, _, _ := mime.ParseMediaType(r.Header.Get("Content-Type")); kind != "application/json" {
		return &refusal{Reason: "this is no JSON"}
	}
	dec := json.NewDecoder(http.MaxBytesReader(w, r.Body, mostJSON))
	dec.DisallowUnknownFields()
	if err := dec.Decode(into); err != nil {
		return &refusal{Reason: "this is no step of the page: " + err.Error()}
	}
	return nil
}

// reply measures again and gives the new state, or says why not.
func (s *server) reply(w http.ResponseWriter, r *http.Request, err error) {
	if err != nil {
		refuse(w, http.StatusConflict, err)
		return
	}
	s.work.settled(r.Context())
	answer(w, s.state())
}

// changes does what the page asks and gives the new state.
func changes[Q any](s *server, job func(context.Context, Q) error) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		var q Q
		if err := read(w, r, &q); err != nil {
			refuse(w, http.StatusBadRequest, err)
			return
		}
		s.reply(w, r, job(r.Context(), q))
	}
}

// told answers a question of the page that changes no state of it.
func told[Q, A any](job func(context.Context, Q) (A, error)) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		var q Q
		if err := read(w, r, &q); err != nil {
			refuse(w, http.StatusBadRequest, err)
			return
		}
		a, err := job(r.Context(), q)
		if err != nil {
			refuse(w, http.StatusConflict, err)
			return
		}
		answer(w, a)
	}
}

func jpeg(w http.ResponseWriter, r *http.Request, data []byte) {
	if len(data) == 0 {
		http.NotFound(w, r)
		return
	}
	w.Header().Set("Content-Type", http.DetectContentType(data))
	w.Header().Set("Cache-Control", "private, max-age=3600") // its address changes with it
	_, _ = w.Write(data)
}

// photo is a photo that was put in, as it was taken.
func (s *server) photo(w http.ResponseWriter, r *http.Request) {
	views, err := s.work.show(r.Context(), r.PathValue("id"))
	if err != nil {
		http.NotFound(w, r)
		return
	}
	data := views.Colour
	if r.PathValue("view") == "grey" {
		data = views.Grey
	}
	jpeg(w, r, data)
}

// sight is a picture of the last answer.
func (s *server) sight(w http.ResponseWriter, r *http.Request) {
	result := s.work.answered()
	i, err := strconv.Atoi(r.PathValue("at"))
	if err != nil || result == nil || i < 0 || i >= len(result.Sights) {
		http.NotFound(w, r)
		return
	}
	jpeg(w, r, result.Sights[i].View(analyze.View(r.PathValue("view"))))
}

// cloth is the picture of a cloth that could be chosen.
func (s *server) cloth(w http.ResponseWriter, r *http.Request) {
	for _, f := range s.work.stash() {
		if f.ID != r.PathValue("id") {
			continue
		}
		if f.Swatch == nil {
			f.Swatch = s.work.keptPicture(r.Context(), f.ID)
		}
		if f.Swatch == nil { // it was kept from figures alone: its colour is all that is known
			colour := f.Lab.Linear().Hex()
			if r.PathValue("view") == "grey" {
				colour = report.GreyHex(f.Lightness)
			}
			w.Header().Set("Content-Type", "image/svg+xml")
			fmt.Fprintf(w, `<svg xmlns="http://www.w3.org/2000/svg" width="64" height="64"><rect width="64" height="64" fill="%s"/></svg>`, colour)
			return
		}
		swatch(w, r, f.Swatch)
		return
	}
	http.NotFound(w, r)
}

func swatch(w http.ResponseWriter, r *http.Request, c *cloth.Swatch) {
	if c == nil {
		http.NotFound(w, r)
		return
	}
	data := c.Colour
	if r.PathValue("view") == "grey" {
		data = c.Grey
	}
	jpeg(w, r, data)
}

// wholePage is the offline page of the last answer. It brings its own policy,
// which lets in its style and script by their hashes.
func (s *server) wholePage(w http.ResponseWriter, r *http.Request) {
	result := s.work.answered()
	if result == nil {
		http.NotFound(w, r)
		return
	}
	w.Header().Set("Content-Security-Policy", "frame-ancestors 'none'")
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	_ = report.WritePage(w, result.Drawn(), s.opt.Version)
}

// keepPage writes the offline page into the folder.
func (s *server) keepPage(w http.ResponseWriter) {
	path, err := s.work.keepPage(s.opt.Version)
	if err != nil {
		refuse(w, http.StatusConflict, err)
		return
	}
	answer(w, map[string]string{"file": path})
}

// events tells the page when there is something new: the number of the state
// and how far the measuring is. The page then asks for the state itself.
func (s *server) events(w http.ResponseWriter, r *http.Request) {
	flush, ok := w.(http.Flusher)
	if !ok {
		http.Error(w, "no events", http.StatusNotImplemented)
		return
	}
	w.Header().Set("Content-Type", "text/event-stream")
	news, leave := s.work.listen()
	defer leave()
	s.listens(1)
	defer s.listens(-1)
	for {
		n := s.work.news()
		data, _ := json.Marshal(n) // four numbers: it cannot fail
		if _, err := fmt.Fprintf(w, "data: %s\n\n", data); err != nil {
			return
		}
		flush.Flush()
		select {
		case <-news:
		case <-r.Context().Done():
			return
		case <-s.work.ctx.Done():
			return
		}
	}
}
