package report

import (
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func saying(s string) func(io.Writer) error {
	return func(w io.Writer) error { _, err := io.WriteString(w, s); return err }
}

func TestWriteFile(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, `page "of" mine — стол.html`)
	require.NoError(t, WriteFile(path, saying("one")))
	require.NoError(t, WriteFile(path, saying("two")))
	got, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, "two", string(got))
	onlyFile(t, dir)

	long := filepath.Join(dir, strings.Repeat("x", 200)+".html")
	require.NoError(t, WriteFile(long, saying("long")))
}

func onlyFile(t *testing.T, dir string) {
	t.Helper()
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	assert.Len(t, entries, 1, "no temporary file is left")
}

func TestWriteFileLeavesWhatWasThere(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "page.html")
	require.NoError(t, WriteFile(path, saying("before")))
	broken := errors.New("broken")
	err := WriteFile(path, func(w io.Writer) error {
		_, _ = io.WriteString(w, strings.Repeat("half ", 50000))
		return broken
	})
	require.ErrorIs(t, err, broken)
	assert.Panics(t, func() { _ = WriteFile(path, func(io.Writer) error { panic("gone") }) })
	got, _ := os.ReadFile(path)
	assert.Equal(t, "before", string(got))
	onlyFile(t, dir)
}

func TestWriteFileSaysWhatIsWrong(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "file")
	require.NoError(t, os.WriteFile(file, nil, 0o644))
	protected := filepath.Join(dir, "protected")
	require.NoError(t, os.WriteFile(protected, nil, 0o444))
	for _, c := range []struct{ name, path, says string }{
		{"folder missing", filepath.Join(dir, "none", "page.html"), "does not exist"},
		{"target is a folder", dir, "this is a folder"},
		{"a file as folder", filepath.Join(file, "page.html"), "is not a folder"},
		{"protected", protected, "protected against writing"},
		{"no name", "", "no file name"},
		{"name too long", filepath.Join(dir, strings.Repeat("y", 300)), "too long"},
	} {
		t.Run(c.name, func(t *testing.T) {
			if runtime.GOOS == "windows" && (c.name == "name too long" || c.name == "a file as folder") {
				t.Skip("Windows words these otherwise")
			}
			err := WriteFile(c.path, saying("x"))
			require.ErrorContains(t, err, c.says)
			var e *Error
			require.ErrorAs(t, err, &e)
			assert.NotEmpty(t, e.Hint, "what to do")
			if c.path != "" {
				assert.Contains(t, err.Error(), quote(c.path), "which file")
			}
		})
	}
	assert.ErrorIs(t, fileError("x", fs.ErrPermission), fs.ErrPermission)
}

func TestWriteFileFollowsALink(t *testing.T) {
	dir := t.TempDir()
	real, link := filepath.Join(dir, "real.html"), filepath.Join(dir, "link.html")
	require.NoError(t, os.WriteFile(real, []byte("old"), 0o640))
	if err := os.Symlink(real, link); err != nil {
		t.Skip("no links here")
	}
	require.NoError(t, WriteFile(link, saying("new")))
	got, _ := os.ReadFile(real)
	assert.Equal(t, "new", string(got))
	info, err := os.Lstat(link)
	require.NoError(t, err)
	assert.NotZero(t, info.Mode()&fs.ModeSymlink, "it is still a link")
	if runtime.GOOS != "windows" {
		info, _ = os.Stat(real)
		assert.Equal(t, fs.FileMode(0o640), info.Mode().Perm(), "who may read it stays")
	}
}

func TestWriteFileToADevice(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("no such device")
	}
	require.NoError(t, WriteFile(os.DevNull, saying("x")))
	info, err := os.Stat(os.DevNull)
	require.NoError(t, err)
	assert.False(t, info.Mode().IsRegular(), "it was not replaced by a file")
}
