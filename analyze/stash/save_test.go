package stash

import (
	"bytes"
	"encoding/json"
	"errors"
	"math/rand/v2"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"greige/colorspace"
)

// full is a stash with a bit of everything in it.
func full(t testing.TB) *Stash {
	s := create(t)
	r := rand.New(rand.NewPCG(8, 8))
	for i := range 12 {
		p := photoOf(numbered(i))
		for j := range 1 + r.IntN(5) {
			f := drawn(r)
			f.Group = i % 3
			if j%2 == 0 {
				f.Swatch = swatch(24, f.Lab)
			}
			p.Fabrics = append(p.Fabrics, f)
		}
		p.WidthCM = float64(10 * (i % 2))
		add(t, s, p)
	}
	require.NoError(t, s.Use(ctx, "3", 12.5))
	_, err := s.Drop(ctx, []string{"2", "5"})
	require.NoError(t, err)
	return s
}

func saved(t testing.TB, s *Stash) string {
	t.Helper()
	var b bytes.Buffer
	_, err := s.Save(ctx, &b, "test")
	require.NoError(t, err)
	return b.String()
}

func TestSaveAndLoadAreTheSame(t *testing.T) {
	s := full(t)
	// A figure that this program does not know is kept too.
	_, err := s.db.Exec(`UPDATE cloths SET figures = json_set(figures, '$.drape', 4.25) WHERE id = 1`)
	require.NoError(t, err)
	first := saved(t, s)
	assert.True(t, json.Valid([]byte(first)))
	assert.Contains(t, first, `"drape":4.25`)
	other := create(t)
	l, err := other.Load(ctx, strings.NewReader(first))
	require.NoError(t, err)
	cloths, photos, err := s.Count(ctx)
	require.NoError(t, err)
	assert.Equal(t, Loaded{Cloths: cloths}, l)
	assert.Equal(t, first, saved(t, other))
	q := Query{Near: []Target{{Lab: colorspace.Lab{L: 60, A: 20, B: 20}}}}
	answers := func(s *Stash) *Answer {
		a, err := s.Answer(ctx, find(t, s, q), true)
		require.NoError(t, err)
		for i := range a.Fabrics {
			a.Fabrics[i].Swatch, err = a.Picture(a.Fabrics[i].ID)
			require.NoError(t, err)
		}
		a.Picture = nil // no two functions are equal
		return a
	}
	assert.Equal(t, answers(s), answers(other))

	// Once more into the same: nothing new.
	l, err = other.Load(ctx, strings.NewReader(first))
	require.NoError(t, err)
	assert.Equal(t, Loaded{Known: photos}, l)
	assert.Equal(t, first, saved(t, other))
	next := add(t, other, photoOf("new", plainCloth(50, 0, 0)))
	assert.Equal(t, add(t, s, photoOf("new", plainCloth(50, 0, 0))), next, "dropped numbers are not given again there either")
}

func TestSaveOfAnEmptyStash(t *testing.T) {
	s := create(t)
	_, err := create(t).Load(ctx, strings.NewReader(saved(t, s)))
	require.NoError(t, err)
}

// Where another cloth has the number, the loaded one gets a new one; footings
// are kept apart from those that are there.
func TestLoadBesideOthers(t *testing.T) {
	s := full(t)
	text := saved(t, s)
	other := create(t)
	mine := plainCloth(50, 0, 0)
	mine.Group = 1
	add(t, other, photoOf("mine", mine))
	l, err := other.Load(ctx, strings.NewReader(text))
	require.NoError(t, err)
	require.Len(t, l.Renumbered, 1)
	assert.Equal(t, "1", l.Renumbered[0][0])
	all, err := other.Cloths(ctx)
	require.NoError(t, err)
	groups := map[int]map[bool]bool{}
	for _, f := range all {
		if groups[f.Group] == nil {
			groups[f.Group] = map[bool]bool{}
		}
		groups[f.Group][f.Photo == "mine"] = true
	}
	for g, of := range groups {
		assert.Len(t, of, 1, "group %d holds both", g)
	}
}

func TestLoadRefusesInWords(t *testing.T) {
	good := saved(t, full(t))
	swap := func(old, new string) string {
		require.Contains(t, good, old)
		return strings.Replace(good, old, new, 1)
	}
	for says, text := range map[string]string{
		"cut short":                           good[:len(good)/2],
		"not JSON (byte 0":                    "shopping",
		"should be {":                         "[]",
		"does not begin with a \"schema\"":    `{"photos": []}`,
		"its schema is \"greige/1\"":          `{"schema": "greige/1"}`,
		"there are no \"photos\"":             `{"schema": "greige-stash/1"}`,
		"should be [":                         `{"schema": "greige-stash/1", "photos": {}}`,
		"photo 1: its \"sha256\"":             swap(`"sha256":"`, `"sha256":"zz`),
		"photo 1: it was added at \"noon":     swap(`"added":"2`, `"added":"noon 2`),
		"photo 1: cloth 1: lightness is":      swap(`"lightness":`, `"lightness":7`),
		"photo 1: cloth 1: its picture is":    swap(`"colour":"/9j/`, `"colour":"AAAA`),
		"photo 1: cloth 1: its id \"x1\"":     swap(`"id":"1"`, `"id":"x1"`),
		"its last number is -":                swap(`"last_number": `, `"last_number": -`),
		"the field \"sha256\" holds a number": swap(`"sha256":"`, `"sha256":7,"x":"`),
		"its outline cannot be read":          swap(`"outline":[[`, `"outline":[["a",`),
		"there is no cloth in it":             swap(`"fabrics":[`, `"fabrics":[],"x":[`),
	} {
		s := create(t)
		add(t, s, photoOf("mine", plainCloth(50, 0, 0)))
		before := saved(t, s)
		_, err := s.Load(ctx, strings.NewReader(text))
		var e *Error
		if assert.True(t, errors.As(err, &e), "%s: %v", says, err) {
			assert.Contains(t, e.Reason, says)
			assert.NotEmpty(t, e.Hint)
		}
		assert.Equal(t, before, saved(t, s), says)
	}
}

// Whatever bytes are loaded: they are refused with an *Error and nothing has
// changed, or what was loaded can be found, saved and loaded again.
func FuzzLoad(f *testing.F) {
	s, err := Create(filepath.Join(f.TempDir(), "seed.db"))
	require.NoError(f, err)
	p := plainCloth(50, 1, 2)
	p.Swatch = swatch(8, p.Lab)
	add(f, s, photoOf("a.jpg", p, printOf(colorspace.Lab{L: 80}, colorspace.Lab{L: 30}, .2)))
	f.Add([]byte(saved(f, s)))
	s.Close()
	f.Add([]byte(`{"schema": "greige-stash/1", "last_number": 3, "photos": []}`))
	f.Add([]byte(`{"schema": "greige-stash/1", "photos": [{"sha256": ""}]}`))
	f.Add([]byte(`{}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		s := create(t)
		if _, err := s.Load(ctx, bytes.NewReader(data)); err != nil {
			var e *Error
			require.True(t, errors.As(err, &e), "%v", err)
			n, _, err := s.Count(ctx)
			require.NoError(t, err)
			require.Zero(t, n)
			return
		}
		found, err := s.Find(ctx, Query{Near: []Target{{Lab: colorspace.Lab{L: 50}}}})
		require.NoError(t, err)
		_, err = s.Answer(ctx, found, true)
		require.NoError(t, err)
		first := saved(t, s)
		again := create(t)
		_, err = again.Load(ctx, strings.NewReader(first))
		require.NoError(t, err)
		require.Equal(t, first, saved(t, again))
	})
}
