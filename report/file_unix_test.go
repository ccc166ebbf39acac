//go:build unix

package report

// What Windows has not, or words otherwise.

import (
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestWriteFileSaysWhatIsWrongWithAName(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "file")
	require.NoError(t, os.WriteFile(file, nil, 0o644))
	refusesToWrite(t, filepath.Join(file, "page.html"), "is not a folder")
	refusesToWrite(t, filepath.Join(dir, strings.Repeat("y", 300)), "too long")
}

func TestWriteFileFollowsALink(t *testing.T) {
	dir := t.TempDir()
	real, link := filepath.Join(dir, "real.html"), filepath.Join(dir, "link.html")
	require.NoError(t, os.WriteFile(real, []byte("old"), 0o640))
	require.NoError(t, os.Symlink(real, link))
	require.NoError(t, WriteFile(link, saying("new")))
	got, _ := os.ReadFile(real)
	assert.Equal(t, "new", string(got))
	info, err := os.Lstat(link)
	require.NoError(t, err)
	assert.NotZero(t, info.Mode()&fs.ModeSymlink, "it is still a link")
	info, err = os.Stat(real)
	require.NoError(t, err)
	assert.Equal(t, fs.FileMode(0o640), info.Mode().Perm(), "who may read it stays")
}

func TestWriteFileToADevice(t *testing.T) {
	require.NoError(t, WriteFile(os.DevNull, saying("x")))
	info, err := os.Stat(os.DevNull)
	require.NoError(t, err)
	assert.False(t, info.Mode().IsRegular(), "it was not replaced by a file")
}
