package stash

import (
	"context"
	"errors"
	"io/fs"
	"strings"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

// ErrNone says that there is no stash yet.
var ErrNone = errors.New("there is no stash yet")

// Error is what is wrong with a stash, in words. Its text does not name the
// file.
type Error struct {
	File   string // of the stash, or of what was to be loaded
	Reason string
	Hint   string // what to do
	Err    error  // what the system or the database said; may be nil
}

func (e *Error) Error() string { return e.Reason }
func (e *Error) Unwrap() error { return e.Err }

const damagedHint = "it was left as it is: move it away and load what greige stash save wrote, or add the photos again"

func damaged(path string, err error) error {
	return &Error{File: path, Reason: "the stash's file is damaged", Hint: damagedHint, Err: err}
}

func foreign(path string) error {
	return &Error{File: path, Reason: "this file is no stash of greige's", Hint: "it was left as it is: give another file with --stash-file"}
}

// told puts what the database said into words. What is in words already, and
// the end of a context, stays as it is.
func told(path string, err error) error {
	var known *Error
	var e *sqlite.Error
	switch {
	case err == nil, errors.As(err, &known), errors.Is(err, ErrNone),
		errors.Is(err, context.Canceled), errors.Is(err, context.DeadlineExceeded):
		return err
	case !errors.As(err, &e):
		return &Error{File: path, Reason: "the stash cannot be used: " + systemSays(err), Hint: "try again; if it stays so, give another place with --stash-file", Err: err}
	}
	switch e.Code() & 0xff { // the rest says where it happened
	case sqlite3.SQLITE_CORRUPT:
		return damaged(path, err)
	case sqlite3.SQLITE_NOTADB:
		return foreign(path)
	case sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED:
		return &Error{File: path, Reason: "another program is using the stash", Hint: "wait until it is done, and try again", Err: err}
	case sqlite3.SQLITE_FULL:
		return &Error{File: path, Reason: "the disk is full; the stash is as it was before", Hint: "make room, and try again", Err: err}
	case sqlite3.SQLITE_IOERR:
		return &Error{File: path, Reason: "the disk did not take or give what was asked; the stash is as it was before", Hint: "look whether the disk is full or has gone away, and try again", Err: err}
	case sqlite3.SQLITE_READONLY, sqlite3.SQLITE_PERM, sqlite3.SQLITE_AUTH:
		return &Error{File: path, Reason: "the stash's file may not be written", Hint: "take the protection off it, or give another place with --stash-file", Err: err}
	case sqlite3.SQLITE_CANTOPEN:
		return &Error{File: path, Reason: "the stash's file cannot be opened or made there", Hint: "look whether you may write in its folder, or give another place with --stash-file", Err: err}
	case sqlite3.SQLITE_INTERRUPT:
		return context.Canceled
	}
	return &Error{File: path, Reason: "the stash cannot be used: " + systemSays(err), Hint: "try again; if it stays so, give another place with --stash-file", Err: err}
}

// systemSays is what the system said of a file, without the file's name.
func systemSays(err error) string {
	var p *fs.PathError
	if errors.As(err, &p) {
		err = p.Err
	}
	return strings.TrimSpace(err.Error())
}
