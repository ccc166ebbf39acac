package camera

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// kept is a camera that was learned from one chart.
func kept(t *testing.T) *Kept {
	l, err := Nothing().FromGreys(charts(t)[0].known(published(t)))
	require.NoError(t, err)
	return &Kept{Name: "pocket-3", Identity: Identity{"Invented", "Pocket 3", "wide"},
		Photos: []Taught{{"chart.jpg", strings.Repeat("a", 64), "2024-03-09", "chart"}}, Learned: l}
}

func TestKeptCameraComesBackTheSame(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "new", "cameras")
	k := kept(t)
	require.NoError(t, k.Write(dir))
	require.NoError(t, k.Write(dir), "written over")
	s, problems := ReadShelf(dir)
	require.Empty(t, problems)
	require.Len(t, s.Cameras, 1)
	assert.Equal(t, k, s.Cameras[0])
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	assert.Len(t, entries, 1, "no temporary file is left")
	assert.Same(t, s.Cameras[0], s.For(k.Identity))
	assert.Nil(t, s.For(Identity{"Invented", "Pocket 3", "tele"}), "another lens")
	assert.Nil(t, s.For(Identity{}), "no record")
	assert.True(t, k.From(strings.Repeat("a", 64)))
	assert.False(t, k.From(strings.Repeat("b", 64)))
	s.All = k
	assert.Same(t, k, s.For(Identity{}))
}

func TestBadFilesAreLeftAloneAndSaid(t *testing.T) {
	data, err := kept(t).Encode()
	require.NoError(t, err)
	change := func(of func(m map[string]any)) []byte {
		var m map[string]any
		require.NoError(t, json.Unmarshal(data, &m))
		of(m)
		out, err := json.Marshal(m)
		require.NoError(t, err)
		return out
	}
	for want, bad := range map[string][]byte{
		"cut short":                    data[:len(data)/2],
		"another version of greige":    change(func(m map[string]any) { m["schema"] = "greige-camera/2" }),
		"no camera that greige has":    change(func(m map[string]any) { m["schema"] = "greige/1" }),
		"another version of the model": change(func(m map[string]any) { m["basis"] = basisVersion + 1 }),
		"a field of it":                change(func(m map[string]any) { m["more"] = 1 }),
		"figures are missing":          change(func(m map[string]any) { m["weights"] = []float64{1} }),
		"out of range":                 change(func(m map[string]any) { m["covariance"].([]any)[3].([]any)[3] = -1 }),
		"does not name":                change(func(m map[string]any) { m["name"] = "../x" }),
	} {
		dir := t.TempDir()
		path := filepath.Join(dir, "pocket-3.json")
		require.NoError(t, os.WriteFile(path, bad, 0o644))
		s, problems := ReadShelf(dir)
		assert.Empty(t, s.Cameras)
		require.Len(t, problems, 1)
		assert.ErrorContains(t, problems[0], want)
		after, err := os.ReadFile(path)
		require.NoError(t, err)
		assert.Equal(t, bad, after)
	}
	s, problems := ReadShelf(filepath.Join(t.TempDir(), "none"))
	assert.Empty(t, s.Cameras)
	assert.Empty(t, problems)
}

func TestPlace(t *testing.T) {
	env := map[string]string{"HOME": "/h", "LocalAppData": "/l"}
	get := func(name string) string { return env[name] }
	at := func(s string) string { return filepath.FromSlash(s) }
	assert.Equal(t, at("/h/.local/share/greige/cameras"), Place(get, "linux"))
	assert.Equal(t, at("/h/Library/Application Support/greige/cameras"), Place(get, "darwin"))
	assert.Equal(t, at("/l/greige/cameras"), Place(get, "windows"))
	env["XDG_DATA_HOME"] = "relative"
	assert.Equal(t, at("/h/.local/share/greige/cameras"), Place(get, "linux"))
	env["GREIGE_CAMERAS"] = "/own"
	assert.Equal(t, "/own", Place(get, "linux"))
	assert.Empty(t, Place(func(string) string { return "" }, "linux"))
}

func TestNames(t *testing.T) {
	assert.Equal(t, "pocket-3", NameFor(Identity{"Invented", "Pocket 3", "wide"}))
	assert.Equal(t, "camera", NameFor(Identity{"", "影", ""}))
	assert.Equal(t, "Pocket 3", Identity{"Pocket", "Pocket 3", ""}.String())
	for _, bad := range []string{"", "auto", "none", "../x", "A b", strings.Repeat("a", 41)} {
		assert.False(t, GoodName(bad), bad)
	}
}
