package open

import (
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"time"
	"unicode"

	"greige/analyze"
	"greige/analyze/numerals"
	"greige/analyze/photo"
	"greige/report"
)

const (
	unfinished = ".greige-incoming-" // how the names of photos begin while they come in
	mostPhotos = 2000                // in a folder: more than anybody looks through
	mostBytes  = 512 << 20           // of one photo, as photo.Limits has it
	mostName   = 100                 // bytes of a name, of the 255 that disks take
)

// removeUnfinished removes what came in when the program was killed.
func removeUnfinished(folder string) {
	names, _ := filepath.Glob(filepath.Join(folder, unfinished+"*.tmp")) // the pattern is sound
	for _, name := range names {
		os.Remove(name)
	}
}

// takePhoto takes the photo that a request brings, one a request. It is in the
// folder, whole, when the answer says so. One that cannot be read is named, and
// nothing of it stays.
func (s *server) takePhoto(w http.ResponseWriter, r *http.Request) {
	name, body := s.incoming(w, r)
	if body == nil {
		return
	}
	defer func() { <-s.intake }()
	if err := s.work.take(r, name, body); err != nil {
		refuse(w, http.StatusUnprocessableEntity, err)
		return
	}
	answer(w, map[string]bool{"taken": true})
}

// incoming is the photo that a request brings, with a harmless name. body is nil
// where it was refused; else the caller gives its place in s.intake back.
func (s *server) incoming(w http.ResponseWriter, r *http.Request) (name string, body io.Reader) {
	// A form of another site cannot send this kind.
	if r.Header.Get("Content-Type") != "application/octet-stream" {
		refuse(w, http.StatusUnsupportedMediaType, &refusal{Reason: "this is no photo"})
		return "", nil
	}
	if r.ContentLength > mostBytes {
		refuse(w, http.StatusRequestEntityTooLarge, &refusal{Reason: fmt.Sprintf("the photo is larger than %d MiB", mostBytes>>20)})
		return "", nil
	}
	select {
	case s.intake <- struct{}{}:
	case <-r.Context().Done():
		return "", nil
	}
	// For one photo, over a slow network; a test's recorder knows no deadlines.
	_ = http.NewResponseController(w).SetReadDeadline(time.Now().Add(photoTime))
	name, err := url.PathUnescape(r.Header.Get("X-Name"))
	if err != nil {
		name = ""
	}
	return safeName(name), http.MaxBytesReader(w, r.Body, mostBytes)
}

// take writes a photo into the folder and measures anew.
func (w *workspace) take(r *http.Request, name string, body io.Reader) error {
	w.mu.Lock()
	full := len(w.photos) >= mostPhotos
	w.mu.Unlock()
	if full {
		return &refusal{Reason: "there are " + numerals.Some(mostPhotos, "photo", "photos") + " already", Hint: "open another folder"}
	}
	temp, sum, err := bringIn(w.opt.Folder, body)
	if err != nil {
		return err
	}
	defer os.Remove(temp)
	if _, err := w.session.Show(r.Context(), analyze.Source{Name: name, Path: temp}, w.opt.Settings.Limits, shownSide); err != nil {
		var bad *photo.Error
		if !errors.As(err, &bad) {
			return err
		}
		w.mu.Lock()
		w.refused = append(w.refused, bad.Skipped)
		w.tell()
		w.mu.Unlock()
		return &refusal{Reason: bad.Reason, Hint: bad.Hint}
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	there, err := place(temp, filepath.Join(w.opt.Folder, name), sum)
	if err != nil {
		return writing(w.opt.Folder, err)
	}
	w.gather()
	if w.question.Photo == "" && len(w.photos) > 0 {
		w.question.Photo = idOf(w.photos[0].Name)
	}
	if !there {
		w.kick()
	}
	return nil
}

// bringIn writes what comes into a file of a folder.
func bringIn(folder string, body io.Reader) (temp string, sum [sha256.Size]byte, err error) {
	f, err := os.CreateTemp(folder, unfinished+"*.tmp")
	if err != nil {
		return "", sum, writing(folder, err)
	}
	h := sha256.New()
	_, err = io.Copy(io.MultiWriter(f, h), body)
	if err == nil {
		err = f.Sync()
	}
	if closed := f.Close(); err == nil {
		err = closed
	}
	if err != nil {
		os.Remove(f.Name())
		var large *http.MaxBytesError
		if errors.As(err, &large) {
			return "", sum, &refusal{Reason: fmt.Sprintf("the photo is larger than %d MiB", mostBytes>>20)}
		}
		return "", sum, writing(folder, err)
	}
	return f.Name(), [sha256.Size]byte(h.Sum(nil)), nil
}

// writing says in words why the folder takes nothing.
func writing(folder string, err error) error {
	e := report.FileError(folder, err)
	return &refusal{Reason: "the photo could not be kept: " + e.Reason, Hint: e.Hint}
}

// place gives a file its name, or another one where a photo has it already;
// there tells that the very same photo has it. No file is written over.
func place(temp, want string, sum [sha256.Size]byte) (there bool, err error) {
	ext := filepath.Ext(want)
	stem := strings.TrimSuffix(want, ext)
	for n := 1; ; n++ {
		path := want
		if n > 1 {
			path = fmt.Sprintf("%s-%d%s", stem, n, ext)
		}
		if err := os.Link(temp, path); err == nil || !errors.Is(err, os.ErrExist) {
			if err != nil { // a disk that knows no links
				err = rename(temp, path)
			}
			if err == nil || !errors.Is(err, os.ErrExist) {
				return false, err
			}
		}
		if data, err := os.ReadFile(path); err == nil && sha256.Sum256(data) == sum {
			return true, nil
		}
	}
}

// rename gives a file a name that no other has.
func rename(temp, path string) error {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
	if err != nil {
		return err
	}
	f.Close()
	return os.Rename(temp, path)
}

// safeName is a name that was sent, as a name of a file in one folder: no way
// to another folder, nothing hidden, nothing that a system takes for a device.
func safeName(name string) string {
	name = name[strings.LastIndexAny(name, `/\`)+1:]
	name = strings.Map(func(r rune) rune {
		if unicode.IsControl(r) || unicode.Is(unicode.Cf, r) || r == unicode.ReplacementChar || strings.ContainsRune(`<>:"|?*`, r) {
			return -1
		}
		return r
	}, strings.ToValidUTF8(name, ""))
	ext := strings.ToLower(filepath.Ext(name))
	stem := strings.Trim(strings.TrimSuffix(name, filepath.Ext(name)), ". ")
	if len(ext) > 6 || len(ext) < 2 {
		stem, ext = strings.Trim(stem+ext, ". "), ".jpg"
	}
	for len(stem) > mostName {
		r := []rune(stem)
		stem = string(r[:len(r)-1])
	}
	switch upper := strings.ToUpper(stem); {
	case stem == "":
		stem = "photo"
	case upper == "CON", upper == "PRN", upper == "AUX", upper == "NUL", // names of devices on Windows
		len(upper) == 4 && (upper[:3] == "COM" || upper[:3] == "LPT"),
		strings.HasPrefix(strings.ToLower(stem), "greige-"):
		stem = "photo-" + stem
	}
	return stem + strings.TrimRight(ext, ". ")
}
