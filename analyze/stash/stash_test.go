package stash

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"greige/analyze/cloth"
	"greige/analyze/piles"
	"greige/colorspace"
)

// A cloth comes out as it went in, from another opening of the file.
func TestKeptAsMeasured(t *testing.T) {
	path := filepath.Join(t.TempDir(), "new", "folders", "stash.db")
	s, err := Create(path)
	require.NoError(t, err)
	f := printOf(colorspace.Lab{L: 80, A: 2, B: 10}, colorspace.Lab{L: 30, A: 20, B: -30}, .3)
	spread := 1.25
	f.AreaCM2, f.PatchSpread, f.Remark, f.Swatch = 120, &spread, "part of it shines", swatch(40, f.Lab)
	f.Group, f.Rank, f.Pile, f.ID = 7, 3, piles.Light, "9"
	p := photoOf("a/table.jpg", f)
	p.WidthCM = 60
	assert.Equal(t, []Added{{Name: "a/table.jpg", IDs: []string{"1"}}}, add(t, s, p))
	require.NoError(t, s.Close())

	s, err = Open(path)
	require.NoError(t, err)
	defer s.Close()
	got, err := s.Get(ctx, []string{"1"})
	require.NoError(t, err)
	want := f
	want.ID, want.Photo, want.Group, want.Rank, want.Pile, want.Swatch = "1", "a/table.jpg", 1, 0, "", nil
	assert.Equal(t, want, got[0].Fabric)
	assert.Equal(t, "2026-03-01T12:00:00Z", got[0].Added)
	assert.Equal(t, 120., *got[0].LeftCM2)
	picture, err := s.Picture(ctx, "1")
	require.NoError(t, err)
	assert.Equal(t, f.Swatch, picture)
	all, err := s.Cloths(ctx)
	require.NoError(t, err)
	want.Outline = nil
	assert.Equal(t, []piles.Fabric{want}, all)
}

// A photo is known by its bytes, whatever it is called; photos that are called
// the same are told apart.
func TestKnownByItsBytes(t *testing.T) {
	s := create(t)
	a := photoOf("table.jpg", plainCloth(80, 0, 0), plainCloth(20, 0, 0))
	add(t, s, a)
	renamed := a
	renamed.Name = "copy of table.jpg"
	other := photoOf("other bytes", plainCloth(50, 0, 0))
	other.Name = "table.jpg"
	assert.Equal(t, []Added{
		{Name: "copy of table.jpg", As: "table.jpg", IDs: []string{"1", "2"}, Known: true},
		{Name: "table.jpg (2)", IDs: []string{"3"}},
		{Name: "table.jpg", As: "table.jpg (2)", IDs: []string{"3"}, Known: true},
	}, add(t, s, renamed, other, other))
	known, err := s.Known(ctx, []Hash{a.Hash, {1}})
	require.NoError(t, err)
	assert.Equal(t, map[Hash]Added{a.Hash: {Name: "table.jpg", As: "table.jpg", IDs: []string{"1", "2"}, Known: true}}, known)
}

func TestDoubtfulPiecesAreNotKept(t *testing.T) {
	s := create(t)
	odd := plainCloth(40, 0, 0)
	odd.Doubtful = true
	a := add(t, s, photoOf("a", plainCloth(80, 0, 0), odd), photoOf("b", odd))
	assert.Equal(t, []Added{{Name: "a", IDs: []string{"1"}, Left: 1}, {Name: "b", IDs: []string{}, Left: 1}}, a)
	cloths, photos, err := s.Count(ctx)
	require.NoError(t, err)
	assert.Equal(t, [2]int{1, 1}, [2]int{cloths, photos}, "a photo of nothing else is looked at again")
}

// Groups of one run do not mix with those of another, and stay apart from
// level 0.
func TestGroupsOfEachRunAreTheirOwn(t *testing.T) {
	s := create(t)
	in := func(name string, group int) Photo {
		f := plainCloth(50, 0, 0)
		f.Group = group
		return photoOf(name, f)
	}
	add(t, s, in("a", 1), in("b", 1), in("c", 2), in("d", 0))
	add(t, s, in("e", 1), in("f", 0))
	all, err := s.Cloths(ctx)
	require.NoError(t, err)
	var groups []int
	for _, f := range all {
		groups = append(groups, f.Group)
	}
	assert.Equal(t, []int{1, 1, 2, 0, 3, 0}, groups)
}

func TestUse(t *testing.T) {
	s := create(t)
	f := plainCloth(50, 0, 0)
	f.AreaCM2 = 100
	add(t, s, photoOf("a", f, plainCloth(60, 0, 0)))
	require.NoError(t, s.Use(ctx, "1", 60))
	require.NoError(t, s.Use(ctx, "2", 60))
	told, _ := hitIDs(find(t, s, Query{AtLeastCM2: 40}))
	assert.Equal(t, []string{"1"}, told)
	told, _ = hitIDs(find(t, s, Query{AtLeastCM2: 41}))
	assert.Empty(t, told)
	require.NoError(t, s.Use(ctx, "1", -10))
	told, _ = hitIDs(find(t, s, Query{AtLeastCM2: 50}))
	assert.Equal(t, []string{"1"}, told)
	require.NoError(t, s.Use(ctx, "1", 500), "her own eyes go before the figures")
	got, err := s.Get(ctx, []string{"1", "2"})
	require.NoError(t, err)
	assert.Zero(t, *got[0].LeftCM2)
	assert.Nil(t, got[1].LeftCM2, "its area is not known")
	assert.Equal(t, 60., got[1].UsedCM2)
	assert.ErrorContains(t, s.Use(ctx, "2", -61), "only 60 cm2 of number 2 were used")
	assert.ErrorContains(t, s.Use(ctx, "3", 1), `no number "3"`)
	assert.ErrorContains(t, s.Use(ctx, "x", 1), `no number "x"`)
}

func TestDrop(t *testing.T) {
	s := create(t)
	a, b := photoOf("a", plainCloth(50, 0, 0), plainCloth(60, 0, 0)), photoOf("b", plainCloth(70, 0, 0))
	add(t, s, a, b)
	_, err := s.Drop(ctx, []string{"1", "7"})
	assert.ErrorContains(t, err, `no number "7"`)
	cloths, _, err := s.Count(ctx)
	require.NoError(t, err)
	assert.Equal(t, 3, cloths, "all or none")
	_, err = s.Drop(ctx, []string{"3"})
	require.NoError(t, err)
	assert.Equal(t, []Added{{Name: "b", IDs: []string{"4"}}}, add(t, s, b), "its photo is new again, and no number comes back")
	_, err = s.Drop(ctx, []string{"1"})
	require.NoError(t, err)
	assert.True(t, add(t, s, a)[0].Known, "the photo of number 2 is there")
	for _, table := range []string{"keys", "pictures"} {
		var orphans int
		require.NoError(t, s.db.QueryRow("SELECT count(*) FROM "+table+" WHERE cloth NOT IN (SELECT id FROM cloths)").Scan(&orphans))
		assert.Zero(t, orphans)
	}
}

// What was dropped comes back as it was, number, pictures, what was used of it and
// all; a photo that was added anew meanwhile keeps it out.
func TestRestore(t *testing.T) {
	s := full(t)
	before := saved(t, s)
	all, err := s.Get(ctx, hitted(find(t, s, Query{})))
	require.NoError(t, err)
	var one []string // all cloths of a photo, and part of another's
	for _, k := range all {
		if k.Photo == all[0].Photo || k.ID == "3" {
			one = append(one, k.ID)
		}
	}
	for _, ids := range [][]string{one, {"3"}, hitted(find(t, s, Query{}))} {
		gone, err := s.Drop(ctx, ids)
		require.NoError(t, err)
		require.False(t, before == saved(t, s))
		require.NoError(t, s.Restore(ctx, gone))
		require.True(t, before == saved(t, s), "not the same without %v and with it again", ids)
		require.Error(t, s.Restore(ctx, gone), "it is there already")
		require.True(t, before == saved(t, s), "all or nothing")
	}
	a := photoOf("again", plainCloth(40, 0, 0))
	id := add(t, s, a)[0].IDs
	gone, err := s.Drop(ctx, id)
	require.NoError(t, err)
	a.Added = a.Added.Add(time.Hour)
	add(t, s, a)
	require.ErrorContains(t, s.Restore(ctx, gone), "added anew")
}

// A footing whose last photo was dropped gives its number away; what comes back must
// not stand on it.
func TestRestoreKeepsFootingsApart(t *testing.T) {
	s := create(t)
	alone, pair, other := photoOf("a", plainCloth(50, 0, 0)), photoOf("b", plainCloth(51, 0, 0)), photoOf("c", plainCloth(52, 0, 0))
	alone.Fabrics[0].Group, pair.Fabrics[0].Group, other.Fabrics[0].Group = 1, 1, 1
	add(t, s, alone, pair)
	gone, err := s.Drop(ctx, []string{"1", "2"})
	require.NoError(t, err)
	add(t, s, other)
	require.NoError(t, s.Restore(ctx, gone))
	groups := func() (out []int) {
		all, err := s.Cloths(ctx)
		require.NoError(t, err)
		for _, f := range all {
			out = append(out, f.Group)
		}
		return out
	}
	now := groups()
	require.Equal(t, now[0], now[1])
	require.NotEqual(t, now[0], now[2])
	gone, err = s.Drop(ctx, []string{"1"})
	require.NoError(t, err)
	require.NoError(t, s.Restore(ctx, gone))
	require.Equal(t, now, groups(), "its fellow tells its footing")
}

func hitted(f *Found) []string {
	told, untold := hitIDs(f)
	return append(told, untold...)
}

func TestOpenOfNothing(t *testing.T) {
	path := filepath.Join(t.TempDir(), "no", "stash.db")
	_, err := Open(path)
	assert.ErrorIs(t, err, ErrNone)
	assert.NoFileExists(t, path)
	assert.NoDirExists(t, filepath.Dir(path))
	// An empty file, as a program leaves that was stopped at the very start.
	path = filepath.Join(t.TempDir(), "stash.db")
	require.NoError(t, os.WriteFile(path, nil, 0o644))
	s, err := Open(path)
	require.NoError(t, err)
	assert.Empty(t, find(t, s, Query{}).Hits)
	known, err := s.Known(ctx, []Hash{{}})
	require.NoError(t, err)
	assert.Empty(t, known)
	assert.Error(t, s.Use(ctx, "1", 1))
	_, err = s.Drop(ctx, []string{"1"})
	assert.ErrorIs(t, err, ErrNone)
	_, err = s.Get(ctx, []string{"1"})
	assert.ErrorContains(t, err, "no number")
	require.NoError(t, s.Close())
	s, err = Create(path)
	require.NoError(t, err)
	add(t, s, photoOf("a", plainCloth(50, 0, 0)))
	require.NoError(t, s.Close())
}

func TestPlace(t *testing.T) {
	env := func(pairs ...string) func(string) string {
		return func(name string) string {
			for i := 0; i < len(pairs); i += 2 {
				if pairs[i] == name {
					return pairs[i+1]
				}
			}
			return ""
		}
	}
	for _, c := range []struct {
		system string
		env    func(string) string
		want   string
	}{
		{"linux", env("HOME", "/home/ann"), "/home/ann/.local/share/greige/stash.db"},
		{"linux", env("HOME", "/home/ann", "XDG_DATA_HOME", "/data"), "/data/greige/stash.db"},
		{"linux", env("HOME", "/home/ann", "XDG_DATA_HOME", "data"), "/home/ann/.local/share/greige/stash.db"},
		{"darwin", env("HOME", "/Users/ann"), "/Users/ann/Library/Application Support/greige/stash.db"},
		{"windows", env("LocalAppData", "/c/ann"), "/c/ann/greige/stash.db"},
		{"linux", env(), ""},
		{"windows", env(), ""},
	} {
		got, err := Place(c.env, c.system)
		assert.Equal(t, c.want, filepath.ToSlash(got))
		assert.Equal(t, c.want == "", err != nil)
	}
}

// Candidates have what a choice goes by, and Fill gives the rest: then they are as
// Cloths has them.
func TestCandidatesAreFilled(t *testing.T) {
	s := create(t)
	busy := plainCloth(60, 10, 5)
	busy.Spread, busy.Character, busy.Name = 9, cloth.Print, "moderate pink"
	busy.Colours = []cloth.Colour{{Lab: colorspace.Lab{L: 70, A: 8}, Hex: "#c8a4a0", Share: .7, Name: "pink"}, {Lab: colorspace.Lab{L: 30}, Share: .3}}
	add(t, s, photoOf("a", plainCloth(50, 0, 0), busy), photoOf("b", plainCloth(80, 3, 4)))
	all, err := s.Cloths(ctx)
	require.NoError(t, err)
	slim, err := s.Candidates(ctx)
	require.NoError(t, err)
	require.Len(t, slim, 3)
	for i := range all {
		a, b := all[i], slim[i]
		assert.Equal(t, []any{a.ID, a.Photo, a.Group, a.Lab, a.Lightness, a.Uncertainty, a.Apart, a.Spread, a.Name, a.Character},
			[]any{b.ID, b.Photo, b.Group, b.Lab, b.Lightness, b.Uncertainty, b.Apart, b.Spread, b.Name, b.Character})
		require.Len(t, b.Colours, len(a.Colours))
		for j := range a.Colours {
			assert.Equal(t, a.Colours[j].Lab, b.Colours[j].Lab)
			assert.Equal(t, a.Colours[j].Share, b.Colours[j].Share)
		}
	}
	assert.Empty(t, slim[1].Temperature)
	require.NoError(t, s.Fill(ctx, slim, map[string]bool{"1": true, "2": true}))
	assert.Equal(t, all[:2], slim[:2])
	assert.Empty(t, slim[2].Temperature, "was not named")
}
