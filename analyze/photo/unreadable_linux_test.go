package photo

import (
	"context"
	"os"
	"path/filepath"
	"runtime"
	"syscall"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestUnreadable: files and folders that this user may not read. Root may
// read all, so the test gives that up for its own thread.
func TestUnreadable(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "secret.jpg")
	folder := filepath.Join(dir, "secret")
	inside := filepath.Join(dir, "album")
	require.NoError(t, os.WriteFile(file, jpegBytes(t, quartered(64, 48), 90), 0o000))
	require.NoError(t, os.Mkdir(folder, 0o000))
	require.NoError(t, os.Mkdir(inside, 0o755))
	require.NoError(t, os.Link(file, filepath.Join(inside, "a.jpg")))
	for d := dir; d != "/"; d = filepath.Dir(d) {
		if info, err := os.Stat(d); err == nil && info.Mode().Perm()&0o055 != 0o055 {
			require.NoError(t, os.Chmod(d, info.Mode().Perm()|0o055))
		}
	}
	if os.Geteuid() == 0 {
		runtime.LockOSThread()
		const nobody = 65534
		require.NoError(t, syscall.Setfsuid(nobody))
		defer func() {
			require.NoError(t, syscall.Setfsuid(0))
			runtime.UnlockOSThread()
		}()
	}
	_, err := Open(context.Background(), file, Limits{})
	var e *Error
	require.ErrorAs(t, err, &e)
	require.Equal(t, "the file may not be read", e.Reason)
	sources, skipped := Gather([]string{folder, inside})
	require.Empty(t, sources)
	require.Len(t, skipped, 2)
	require.Equal(t, "the folder may not be read", skipped[0].Reason)
	require.Equal(t, folder, skipped[0].Photo)
	require.Equal(t, "the file may not be read", skipped[1].Reason)
	require.Equal(t, filepath.Join(inside, "a.jpg"), skipped[1].Photo)
}
