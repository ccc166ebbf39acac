package report

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"syscall"
)

// WriteFile writes a file whole or not at all: write fills a temporary file
// beside the target, which then takes the target's name. What was there
// before stays until that moment, and stays for good when write fails. A link
// is followed; a device or a pipe is written to as it is. What goes wrong
// with the file is an *Error; what write returns is returned as it is.
func WriteFile(path string, write func(io.Writer) error) error { return writeFile(path, false, write) }

// KeepFile is WriteFile for what must not be lost: when it returns, the file is
// on the disk itself and outlasts a loss of power.
func KeepFile(path string, write func(io.Writer) error) error { return writeFile(path, true, write) }

func writeFile(path string, keep bool, write func(io.Writer) error) error {
	if path == "" {
		return &Error{Reason: "no file name was given", Hint: "give the name of the file to write"}
	}
	target := path
	if real, err := filepath.EvalSymlinks(path); err == nil {
		target = real // so that a link keeps pointing where it did
	}
	mode := fs.FileMode(0o666) // less what the user's umask takes
	switch info, err := os.Stat(target); {
	case err == nil && info.IsDir():
		return &Error{File: path, Reason: "this is a folder, not a file", Hint: "give a file name inside it", Err: syscall.EISDIR}
	case err == nil && !info.Mode().IsRegular():
		return writeThrough(path, write)
	case err == nil:
		mode = info.Mode().Perm()
		if mode&0o200 == 0 {
			// Taking its name would get round the protection.
			return &Error{File: path, Reason: "it is protected against writing", Hint: "give another name, or take the protection off", Err: fs.ErrPermission}
		}
	}
	f, err := tempBeside(target, mode)
	if err != nil {
		return fileError(path, err)
	}
	temp := f.Name()
	done := false
	defer func() { // also when write panics
		if !done {
			f.Close()
			os.Remove(temp)
		}
	}()
	own, err := fill(f, write)
	if err != nil {
		if own {
			return fileError(path, err)
		}
		return err
	}
	if keep {
		if err := f.Sync(); err != nil && !errors.Is(err, errors.ErrUnsupported) && !errors.Is(err, syscall.EINVAL) {
			return fileError(path, err)
		}
	}
	if err := f.Close(); err != nil {
		return fileError(path, err)
	}
	if err := os.Rename(temp, target); err != nil {
		return fileError(path, err)
	}
	done = true
	if keep {
		syncFolder(filepath.Dir(target))
	}
	return nil
}

// syncFolder makes a new name in a folder last a loss of power, where the system
// can. The file itself is on the disk already.
func syncFolder(dir string) {
	if d, err := os.Open(dir); err == nil {
		_ = d.Sync()
		d.Close()
	}
}

// fill runs write on a buffer before f. own says that the error is f's, not
// write's.
func fill(f *os.File, write func(io.Writer) error) (own bool, err error) {
	b := bufio.NewWriterSize(f, 1<<16)
	err = write(b)
	if flushed := b.Flush(); flushed != nil {
		return true, flushed // a full disk shows here first, or made write fail
	}
	return false, err
}

// tempBeside makes a new file in the folder of target, of a name that no
// other file has. It is hidden where a leading dot hides.
func tempBeside(target string, mode fs.FileMode) (*os.File, error) {
	dir, base := filepath.Split(target)
	if len(base) > 100 { // a name may be near its greatest length already
		base = base[:100]
	}
	for i := 0; ; i++ {
		name := fmt.Sprintf("%s.%s.%d-%d.tmp", dir, base, os.Getpid(), i)
		f, err := os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, mode)
		if err == nil || !errors.Is(err, fs.ErrExist) || i > 1000 {
			return f, err
		}
	}
}

func writeThrough(path string, write func(io.Writer) error) error {
	f, err := os.OpenFile(path, os.O_WRONLY, 0)
	if err != nil {
		return fileError(path, err)
	}
	own, err := fill(f, write)
	if closed := f.Close(); err == nil && closed != nil {
		own, err = true, closed
	}
	if own && err != nil {
		return fileError(path, err)
	}
	return err
}

// FileError says in plain words what the system said about a file or a folder.
func FileError(path string, err error) *Error {
	var e *Error
	errors.As(fileError(path, err), &e)
	return e
}

// fileError says in plain words what the system said, and what to do.
func fileError(path string, err error) error {
	e := &Error{File: path, Err: err}
	dir := filepath.Dir(path)
	var p *fs.PathError
	switch {
	case errors.Is(err, fs.ErrNotExist):
		e.Reason = "the folder " + quote(dir) + " does not exist"
		e.Hint = "make the folder first, or give another place"
	case errors.Is(err, syscall.ENOTDIR):
		e.Reason = quote(dir) + " is not a folder"
		e.Hint = "give another place"
	case errors.Is(err, fs.ErrPermission), errors.Is(err, syscall.EROFS):
		e.Reason = "writing is not allowed in the folder " + quote(dir)
		e.Hint = "give a place where you may write, such as your own folder"
	case errors.Is(err, syscall.ENOSPC):
		e.Reason = "the disk is full"
		e.Hint = "make room, or give a place on another disk"
	case errors.Is(err, syscall.ENAMETOOLONG):
		e.Reason = "the name is too long"
		e.Hint = "give a shorter name"
	case errors.As(err, &p):
		e.Reason = "it could not be written: " + plain(p.Err.Error())
		e.Hint = "give another place"
	default:
		e.Reason = "it could not be written: " + plain(err.Error())
		e.Hint = "give another place"
	}
	return e
}
