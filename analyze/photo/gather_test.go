package photo

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

// inFolder makes files, by name and content, in a fresh folder and goes there.
func inFolder(t *testing.T, files map[string]string) {
	t.Helper()
	t.Chdir(t.TempDir())
	for name, content := range files {
		require.NoError(t, os.MkdirAll(filepath.Dir(name), 0o755))
		require.NoError(t, os.WriteFile(name, []byte(content), 0o644))
	}
}

func names(sources []Source) (list []string) {
	for _, s := range sources {
		list = append(list, s.Name)
	}
	return list
}

func reasons(skipped []Skipped) map[string]string {
	m := map[string]string{}
	for _, s := range skipped {
		m[s.Photo] = s.Reason
	}
	return m
}

const (
	aJPEG = "\xff\xd8\xff\xe0 as far as its first bytes go"
	aPNG  = "\x89PNG\r\n\x1a\n likewise"
)

// TestGather: folders in the order of names, not into their folders, what is
// a picture by its content; all else is named.
func TestGather(t *testing.T) {
	inFolder(t, map[string]string{
		"photos/b.jpg": aJPEG + "b", "photos/a.png": aPNG + "a", "photos/C.JPG": aJPEG + "C", "photos/no-ending": aJPEG + "n",
		"photos/notes.txt": "cut 2 1/2 inches", "photos/fake.jpg": "text", "photos/empty.jpg": "", "photos/live.mov": "\x00\x00\x00\x14ftypqt  \x00\x00\x00\x00qt  ",
		"photos/inner/d.jpg": aJPEG + "d", "photos/.DS_Store": "litter", "photos/._b.jpg": "\x00\x05\x16\x07", "photos/Thumbs.db": "litter",
		"photos/.trashed-1.jpg": aJPEG + "t", "photos/.hidden/e.jpg": aJPEG, "photos/greige-sort.html": "<!doctype html>",
		"single.jpg": aJPEG + "s",
	})
	sources, skipped := Gather([]string{"single.jpg", "photos", "missing.jpg"})
	require.Equal(t, []string{"single.jpg", "photos/C.JPG", "photos/a.png", "photos/b.jpg", "photos/no-ending"}, names(sources))
	for _, s := range sources {
		require.Equal(t, s.Name, s.Path)
	}
	require.Equal(t, map[string]string{
		"photos/notes.txt": "this is no picture", "photos/fake.jpg": "this is no picture", "photos/empty.jpg": "the file is empty",
		"photos/live.mov":       "this is a film or a sound, no photo",
		"photos/inner":          "this is a folder inside the folder, which is not looked into",
		"photos/.trashed-1.jpg": "this is a hidden file",
		"missing.jpg":           "there is no such file",
	}, reasons(skipped))
	for _, s := range skipped {
		require.NotEmpty(t, s.Hint, s.Photo)
	}
	// In order: those of the folder before what came after it.
	require.Equal(t, "missing.jpg", skipped[len(skipped)-1].Photo)
	// A hidden photo that is asked for is taken, and so is a file that is
	// none: opening it tells.
	sources, skipped = Gather([]string{"photos/.trashed-1.jpg", "photos/notes.txt"})
	require.Equal(t, []string{"photos/.trashed-1.jpg", "photos/notes.txt"}, names(sources))
	require.Empty(t, skipped)
}

// TestGatherNames: the path as it was given; for a folder the folder and the
// name.
func TestGatherNames(t *testing.T) {
	inFolder(t, map[string]string{"photos/a.jpg": aJPEG})
	for folder, want := range map[string]string{
		"photos": "photos/a.jpg", "photos/": "photos/a.jpg", "./photos": "./photos/a.jpg", "photos/../photos": "photos/../photos/a.jpg",
	} {
		sources, skipped := Gather([]string{folder})
		require.Empty(t, skipped)
		require.Equal(t, []Source{{Name: want, Path: want}}, sources)
	}
	t.Chdir("photos")
	sources, _ := Gather([]string{"."})
	require.Equal(t, []string{"./a.jpg"}, names(sources))
}

// TestGatherTwice: the same file is measured once, where it comes first;
// another file with the same bytes is another photo.
func TestGatherTwice(t *testing.T) {
	inFolder(t, map[string]string{"photos/a.jpg": aJPEG, "photos/b.jpg": aJPEG, "other.jpg": aJPEG})
	require.NoError(t, os.Symlink("photos/a.jpg", "link.jpg"))
	require.NoError(t, os.Link("photos/b.jpg", "hard.jpg"))
	abs, err := filepath.Abs("photos/b.jpg")
	require.NoError(t, err)
	sources, skipped := Gather([]string{"photos/b.jpg", "./photos/b.jpg", "photos", "link.jpg", "hard.jpg", abs, "photos/", "other.jpg"})
	require.Empty(t, skipped)
	require.Equal(t, []string{"photos/b.jpg", "photos/a.jpg", "other.jpg"}, names(sources))
	// A folder that holds nothing new is no empty folder.
	_, skipped = Gather([]string{"photos", "photos"})
	require.Empty(t, skipped)
}

// TestGatherNothing: folders without photos get one line each.
func TestGatherNothing(t *testing.T) {
	inFolder(t, map[string]string{"litter/.DS_Store": "x", "litter/desktop.ini": "x", "broken/x": ""})
	require.NoError(t, os.Mkdir("empty", 0o755))
	require.NoError(t, os.Remove("broken/x"))
	require.NoError(t, os.Symlink("nowhere", "broken/gone.jpg"))
	sources, skipped := Gather([]string{"empty", "litter", "broken", ""})
	require.Empty(t, sources)
	require.Equal(t, map[string]string{
		"empty": "there is no photo in the folder", "litter": "there is no photo in the folder",
		"broken/gone.jpg": "there is no such file", "": "there is no such file",
	}, reasons(skipped))
	sources, skipped = Gather(nil)
	require.Empty(t, sources)
	require.Empty(t, skipped)
}
