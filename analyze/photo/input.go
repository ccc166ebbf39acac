package photo

import (
	"bytes"
	"errors"
	"io"
	"io/fs"
	"os"
)

// input is the bytes of one file, readable anywhere.
type input struct {
	io.ReaderAt
	size  int64
	close func() error
	// headOnly: only what stands before the pixels is wanted.
	headOnly bool
}

func bytesInput(data []byte) *input {
	return &input{ReaderAt: bytes.NewReader(data), size: int64(len(data))}
}

// openInput opens a file that is worth reading: there, a file, not empty, not
// too large. The errors are *Error without a name.
func openInput(path string, lim Limits, headOnly bool) (*input, error) {
	// Look before opening: a pipe would make us wait for ever.
	info, err := os.Stat(path)
	if err != nil {
		return nil, errOpening(err)
	}
	if info.IsDir() {
		return nil, skip("this is a folder, not a photo", "give the folder by itself, or a photo in it")
	}
	if !info.Mode().IsRegular() {
		return nil, skip("this is not a file", "give a photo that is saved as a file")
	}
	if info.Size() == 0 {
		return nil, errEmpty()
	}
	if info.Size() > lim.Bytes {
		return nil, errTooLong(info.Size(), lim)
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, errOpening(err)
	}
	// It is read piece by piece, so that it does not add to its pixels in memory.
	return &input{f, info.Size(), f.Close, headOnly}, nil
}

// Close lets the file go.
func (in *input) Close() error {
	if in.close == nil {
		return nil
	}
	return in.close()
}

// section is a reader of n bytes from off on, cut to the file.
func (in *input) section(off, n int64) *io.SectionReader {
	off = min(max(off, 0), in.size)
	return io.NewSectionReader(in, off, min(max(n, 0), in.size-off))
}

func (in *input) all() *io.SectionReader { return in.section(0, in.size) }

// bytes are the n bytes from off on, or nil when the file does not hold them.
// The caller has bounded n.
func (in *input) bytes(off, n int64) []byte {
	if off < 0 || n < 0 || off > in.size || n > in.size-off {
		return nil
	}
	b := make([]byte, n)
	if _, err := in.ReadAt(b, off); err != nil && !errors.Is(err, io.EOF) {
		return nil
	}
	return b
}

func errOpening(err error) *Error {
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return skip("there is no such file", "check the name and the folder")
	case errors.Is(err, fs.ErrPermission):
		return skip("the file may not be read", "give yourself the right to read it, or copy it to a folder of your own")
	}
	return skip("the file cannot be read", "copy it to this computer again")
}
