package report

import (
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
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
	protected := filepath.Join(dir, "protected")
	require.NoError(t, os.WriteFile(protected, nil, 0o444))
	for _, c := range []struct{ name, path, says string }{
		{"folder missing", filepath.Join(dir, "none", "page.html"), "does not exist"},
		{"target is a folder", dir, "this is a folder"},
		{"protected", protected, "protected against writing"},
		{"no name", "", "no file name"},
	} {
		t.Run(c.name, func(t *testing.T) {
			refusesToWrite(t, c.path, c.says)
		})
	}
	assert.ErrorIs(t, fileError("x", fs.ErrPermission), fs.ErrPermission)
}

// refusesToWrite: nothing can be written at path, and the error names it, says
// why and what to do.
func refusesToWrite(t *testing.T, path, says string) {
	t.Helper()
	err := WriteFile(path, saying("x"))
	require.ErrorContains(t, err, says)
	var e *Error
	require.ErrorAs(t, err, &e)
	assert.NotEmpty(t, e.Hint, "what to do")
	if path != "" {
		assert.Contains(t, err.Error(), quote(path), "which file")
	}
}
