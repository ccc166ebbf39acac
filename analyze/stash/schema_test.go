package stash

import (
	"context"
	"database/sql"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"greige/colorspace"
)

// testdata/schema-1.sql is a stash as the first version wrote it, frozen: the
// text of a whole file. Today's program opens it, brings it up to date and finds
// in it what was there.
func TestFirstVersionOpens(t *testing.T) {
	path := filepath.Join(t.TempDir(), "stash.db")
	frozen(t, path, "testdata/schema-1.sql")
	s, err := Open(path)
	require.NoError(t, err)
	defer s.Close()
	f := find(t, s, Query{Near: []Target{{Lab: colorspace.Lab{L: 30, A: 20, B: -30}}}})
	told, untold := hitIDs(f)
	assert.Equal(t, []string{"2", "1"}, told)
	assert.Equal(t, []string{"5"}, untold)
	got, err := s.Get(ctx, []string{"1", "2", "5"})
	require.NoError(t, err)
	assert.Equal(t, 80., got[0].Lightness)
	assert.Equal(t, "table.jpg", got[1].Photo)
	assert.Equal(t, 75., *got[1].LeftCM2)
	assert.Len(t, got[1].Colours, 2)
	assert.Equal(t, 1, got[2].Group)
	// What the second version keeps beside the keys is taken from the figures.
	slim, err := s.Candidates(ctx)
	require.NoError(t, err)
	all, err := s.Cloths(ctx)
	require.NoError(t, err)
	require.Len(t, slim, len(all))
	for i := range all {
		assert.Equal(t, all[i].Spread, slim[i].Spread)
	}
	picture, err := s.Picture(ctx, "2")
	require.NoError(t, err)
	assert.Equal(t, swatch(8, colorspace.Lab{L: 65, A: 7.4, B: -2}).Shape, picture.Shape)
	a := add(t, s, photoOf("new", plainCloth(50, 0, 0)))
	assert.Equal(t, []string{"6"}, a[0].IDs, "4 was dropped, and is not given again")
	assertVersion(t, s, len(steps))
}

func frozen(t *testing.T, path, text string) {
	t.Helper()
	statements, err := os.ReadFile(text)
	require.NoError(t, err)
	db, err := sql.Open("sqlite", path)
	require.NoError(t, err)
	defer db.Close()
	_, err = db.Exec(string(statements))
	require.NoError(t, err)
}

func assertVersion(t *testing.T, s *Stash, want int) {
	t.Helper()
	var version, id int
	require.NoError(t, s.db.QueryRow("PRAGMA user_version").Scan(&version))
	require.NoError(t, s.db.QueryRow("PRAGMA application_id").Scan(&id))
	assert.Equal(t, want, version)
	assert.Equal(t, applicationID, id)
}

// Steps go one by one, from whichever version; one that fails leaves the file as
// it was.
func TestStepsAllOrNothing(t *testing.T) {
	more := append(append([]string{}, steps...),
		"ALTER TABLE cloths ADD COLUMN kept_in TEXT NOT NULL DEFAULT ''",
		"UPDATE cloths SET kept_in = 'box ' || id")
	path := filepath.Join(t.TempDir(), "stash.db")
	s, err := Create(path)
	require.NoError(t, err)
	add(t, s, photoOf("a", plainCloth(50, 0, 0), plainCloth(60, 0, 0)))
	require.NoError(t, s.Close())

	before, err := os.ReadFile(path)
	require.NoError(t, err)
	_, err = open(path, false, options{wait: patience, steps: append(append([]string{}, more...), "UPDATE no_such_table SET x = 1")})
	assert.ErrorContains(t, err, "cannot be used")
	after, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, before, after)

	s, err = open(path, false, options{wait: patience, steps: more})
	require.NoError(t, err)
	assertVersion(t, s, len(more))
	var box string
	require.NoError(t, s.db.QueryRowContext(context.Background(), "SELECT kept_in FROM cloths WHERE id = 2").Scan(&box))
	assert.Equal(t, "box 2", box)
	require.NoError(t, s.Close())

	// What a newer program wrote is named and left alone.
	before, err = os.ReadFile(path)
	require.NoError(t, err)
	for _, open := range []func(string) (*Stash, error){Open, Create} {
		_, err = open(path)
		assert.EqualError(t, err, fmt.Sprintf("a newer greige wrote this stash (version %d of its kind; this program knows %d)", len(more), len(steps)))
	}
	after, err = os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, before, after)
}

// Files that are no stash, or a damaged one, are named and left as they are.
func TestBadFilesAreLeftAlone(t *testing.T) {
	dir := t.TempDir()
	good := filepath.Join(dir, "good.db")
	s, err := Create(good)
	require.NoError(t, err)
	for i := range 30 {
		f := plainCloth(50, 0, 0)
		f.Swatch = swatch(60, f.Lab)
		add(t, s, photoOf(numbered(i), f))
	}
	require.NoError(t, s.Close())
	data, err := os.ReadFile(good)
	require.NoError(t, err)
	another := filepath.Join(dir, "another.db")
	db, err := sql.Open("sqlite", another)
	require.NoError(t, err)
	_, err = db.Exec("CREATE TABLE recipes (name TEXT)")
	require.NoError(t, err)
	require.NoError(t, db.Close())
	recipes, err := os.ReadFile(another)
	require.NoError(t, err)

	spoiled := func(from, to int) []byte {
		out := append([]byte{}, data...)
		for i := from; i < to; i++ {
			out[i] = 0xa5
		}
		return out
	}
	for name, c := range map[string]struct {
		data []byte
		says string
	}{
		"text":        {[]byte("a shopping list"), "this file is no stash of greige's"},
		"longer text": {make([]byte, 5000), "this file is no stash of greige's"},
		"recipes":     {recipes, "this file is no stash of greige's"},
		"cut short":   {data[:len(data)/2], "the stash's file is damaged"},
		"only a head": {data[:50], "the stash's file is damaged"},
		"schema gone": {spoiled(100, 4096), "the stash's file is damaged"},
		"pages gone":  {spoiled(4096, len(data)), "the stash's file is damaged"},
	} {
		path := filepath.Join(dir, name)
		require.NoError(t, os.WriteFile(path, c.data, 0o644))
		for _, open := range []func(string) (*Stash, error){Open, Create} {
			s, err := open(path)
			if err == nil { // then the first use of it says so
				_, err = s.Find(ctx, Query{})
				assert.EqualError(t, err, c.says, name)
				_, err = s.Add(ctx, []Photo{photoOf("new", plainCloth(1, 0, 0))})
				s.Close()
			}
			assert.EqualError(t, err, c.says, name)
		}
		after, err := os.ReadFile(path)
		require.NoError(t, err)
		assert.Equal(t, c.data, after, name)
	}
	_, err = Open(dir)
	assert.EqualError(t, err, "this is not a file, so it is no stash")
	_, err = Create(filepath.Join(good, "stash.db"))
	assert.Error(t, err)
}
