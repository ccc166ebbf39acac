// Package stash keeps measured cloths in one file, so that they are measured
// once and found again. Photos with their cloths come in (piles.Fabric, a small
// picture, an area); out come cloths by what is asked: a pile, a colour nearby
// (CIEDE2000), a name, a character, what is left of them. The file is an SQLite
// database, so that a kill or a full disk at any moment leaves the last good
// state, and two programs wait for each other.
package stash

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"time"

	_ "modernc.org/sqlite" // SQLite without C, as the database/sql driver "sqlite"

	"greige/analyze/camera"
)

// Stash is an open stash. Its methods may be called from several goroutines at
// a time, and wait for each other.
type Stash struct {
	db   *sql.DB
	path string
	// empty: the file holds no stash yet, as a program that was stopped while it
	// made one leaves behind.
	empty bool
}

// options are what the tests change.
type options struct {
	wait  time.Duration // how long another program is waited for
	steps []string      // see steps
	// careless: what is written is not awaited on the disk, so that a test takes
	// less time; what a kill leaves is the same.
	careless bool
}

// patience is how long another program is waited for: it writes what it has
// measured all at once, which takes a second where there is much of it.
const patience = 10 * time.Second

// Open opens the stash in the file at path. The error is ErrNone where there
// is no such file, and an *Error where it cannot be opened, is damaged, is no
// stash, or was written by a newer program; such a file is left as it is.
func Open(path string) (*Stash, error) {
	return open(path, false, options{wait: patience, steps: steps})
}

// Create is Open, but makes the file, and the folder that it lies in, where
// there is none.
func Create(path string) (*Stash, error) {
	return open(path, true, options{wait: patience, steps: steps})
}

func open(path string, create bool, o options) (*Stash, error) {
	there, err := look(path)
	switch {
	case err != nil:
		return nil, err
	case !there && !create:
		return nil, ErrNone
	case !there:
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			return nil, &Error{File: path, Reason: "the folder for it cannot be made: " + systemSays(err),
				Hint: "give another place with --stash-file", Err: err}
		}
	}
	// Begun as IMMEDIATE, a transaction that writes waits for its turn before it
	// reads, so that it never has to give up half way. The rollback journal
	// leaves one file; FULL brings each commit to the disk before it is told.
	// What is read is read once: a larger cache than a quarter of a megabyte would only
	// be filled.
	query := url.Values{
		"_txlock": {"immediate"},
		"_pragma": {fmt.Sprintf("busy_timeout(%d)", o.wait.Milliseconds()), "foreign_keys(1)", "cache_size(-256)",
			map[bool]string{false: "synchronous(FULL)", true: "synchronous(OFF)"}[o.careless]},
		"mode": {map[bool]string{false: "rw", true: "rwc"}[create]},
	}
	full, err := filepath.Abs(path)
	if err != nil {
		return nil, told(path, err)
	}
	full = filepath.ToSlash(full)
	if !strings.HasPrefix(full, "/") { // a drive's letter
		full = "/" + full
	}
	db, err := sql.Open("sqlite", (&url.URL{Scheme: "file", Path: full, RawQuery: query.Encode()}).String())
	if err != nil {
		return nil, told(path, err)
	}
	db.SetMaxOpenConns(1)
	s := &Stash{db: db, path: path}
	if err := s.migrate(context.Background(), create, o.steps); err != nil {
		db.Close()
		return nil, told(path, err)
	}
	return s, nil
}

// Close closes the file.
func (s *Stash) Close() error { return s.db.Close() }

// Path is the file's path, as it was given.
func (s *Stash) Path() string { return s.path }

// magic is what every SQLite file begins with (SQLite, Database File Format, 1.3).
const magic = "SQLite format 3\x00"

// look tells whether there is a file at path that may be a stash, before
// anything else touches it.
func look(path string) (there bool, err error) {
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return false, nil
	case err != nil:
		return false, &Error{File: path, Reason: "it cannot be opened: " + systemSays(err), Hint: "look whether you may read it", Err: err}
	case !info.Mode().IsRegular():
		return false, &Error{File: path, Reason: "this is not a file, so it is no stash", Hint: "give the file of a stash with --stash-file"}
	case info.Size() == 0:
		return true, nil
	}
	f, err := os.Open(path)
	if err != nil {
		return false, &Error{File: path, Reason: "it cannot be opened: " + systemSays(err), Hint: "look whether you may read it", Err: err}
	}
	defer f.Close()
	head := make([]byte, len(magic))
	if _, err := io.ReadFull(f, head); err != nil || string(head) != magic {
		return false, foreign(path)
	}
	return true, nil
}

// Place is where the stash of this user lies where nothing else is said: the
// file "stash.db" in the folder "greige" of the data folder that the system
// gives each user. On Linux and its like that is $XDG_DATA_HOME, or
// ~/.local/share (XDG Base Directory Specification 0.8), on macOS
// ~/Library/Application Support, on Windows %LocalAppData%, which unlike
// %AppData% is not copied about with the user's profile. system is as GOOS has
// it.
func Place(env func(string) string, system string) (string, error) {
	folder, err := camera.DataFolder(env, system)
	if err != nil {
		return "", err
	}
	return filepath.Join(folder, "stash.db"), nil
}
