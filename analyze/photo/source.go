package photo

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
)

// Source is one photo to be opened: a name for the results, and its bytes,
// which are a file's or whatever Reader gives.
type Source struct {
	Name string // the path as it was given; for a folder the folder and the name
	Path string // of the file; not looked at where Reader is set
	// Reader opens the photo's bytes, as often as it is called; nil: Path is a
	// file. No more than Limits.Bytes are read. What it returns is closed.
	Reader func() (io.ReadCloser, error)
}

// SourceOf is a photo that lies in memory, which must not change.
func SourceOf(name string, data []byte) Source {
	return Source{Name: name, Reader: func() (io.ReadCloser, error) { return io.NopCloser(bytes.NewReader(data)), nil }}
}

// open makes the bytes readable anywhere. The errors are *Error without a name.
func (s Source) open(lim Limits, headOnly bool) (*input, error) {
	if s.Reader == nil {
		return openInput(s.Path, lim, headOnly)
	}
	r, err := s.Reader()
	if err != nil {
		return nil, errOpening(err)
	}
	defer r.Close()
	data, err := io.ReadAll(io.LimitReader(r, lim.Bytes+1))
	switch {
	case err != nil:
		return nil, errOpening(err)
	case len(data) == 0:
		return nil, errEmpty()
	case int64(len(data)) > lim.Bytes:
		return nil, errTooLong(int64(len(data)), lim)
	}
	in := bytesInput(data)
	in.headOnly = headOnly
	return in, nil
}

// Sum is the SHA-256 of the photo's bytes in hexadecimal digits: by it a photo
// is known whatever its name. The error is an *Error.
func (s Source) Sum(lim Limits) (string, error) {
	in, err := s.open(lim.withDefaults(), false)
	if err != nil {
		return "", named(s.Name, err)
	}
	defer in.Close()
	h := sha256.New()
	if n, err := io.Copy(h, in.all()); err != nil || n != in.size {
		return "", named(s.Name, errOpening(errors.New("the file shrank")))
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}
