package report

import (
	"bytes"
	"encoding/json"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"greige/analyze"
	"greige/analyze/cloth"
	"greige/analyze/layout"
	"greige/analyze/light"
	"greige/analyze/photo"
	"greige/analyze/piles"
)

func jsonOf(t *testing.T, r *analyze.Result) map[string]any {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, WriteJSON(&b, r, "1.2.3"))
	require.NotContains(t, b.String(), "null", "lists are never null")
	var o map[string]any
	require.NoError(t, json.Unmarshal(b.Bytes(), &o))
	return o
}

// object walks into o by keys and list positions.
func object(t *testing.T, o any, path ...any) any {
	t.Helper()
	for _, step := range path {
		switch k := step.(type) {
		case string:
			m, ok := o.(map[string]any)
			require.True(t, ok, "no object at %v of %v", k, path)
			require.Contains(t, m, k)
			o = m[k]
		case int:
			l, ok := o.([]any)
			require.True(t, ok, "no list at %v of %v", k, path)
			require.Less(t, k, len(l))
			o = l[k]
		}
	}
	return o
}

func hasFields(t *testing.T, o any, names string) {
	t.Helper()
	m, ok := o.(map[string]any)
	require.True(t, ok)
	for _, n := range strings.Fields(names) {
		assert.Contains(t, m, n)
	}
}

// The field names are those that the command promises to scripts.
func TestSortJSON(t *testing.T) {
	r := sortResult()
	r.Skipped = []photo.Skipped{{Photo: "b.jpg", Reason: "it is empty", Hint: "take it again"}}
	o := jsonOf(t, r)
	assert.Equal(t, "greige/1", o["schema"])
	assert.Equal(t, "sort", o["command"])
	assert.Equal(t, "1.2.3", o["version"])
	assert.Equal(t, map[string]any{"photo": "b.jpg", "reason": "it is empty"}, object(t, o, "skipped", 0))
	hasFields(t, object(t, o, "light", 0), "photo method cast unevenness clipped note")
	f := object(t, o, "fabrics", 2)
	hasFields(t, f, "id photo scrap outline lab lightness uncertainty munsell_value rank tied_with pile swing spread character temperature name colours")
	hasFields(t, object(t, f, "colours", 0), "lab hex share name")
	assert.NotContains(t, f, "doubtful")
	assert.NotContains(t, f, "note")
	assert.NotContains(t, f, "Swatch")
	odd := object(t, o, "fabrics", 24).(map[string]any)
	assert.Equal(t, true, odd["doubtful"])
	for _, n := range []string{"rank", "pile", "tied_with"} {
		assert.NotContains(t, odd, n, "what does not apply is left out")
	}
	hasFields(t, object(t, o, "piles"), "light medium dark")
	assert.Len(t, object(t, o, "cuts"), 2)
	hasFields(t, object(t, o, "pairs", 0), "light dark delta_l clarity")
	for _, f := range object(t, o, "fabrics").([]any)[:24] {
		assert.IsType(t, []any{}, object(t, f, "tied_with"), "a list, empty where nothing is tied")
		l := object(t, f, "lab").([]any)
		assert.InDelta(t, l[0], object(t, f, "lightness"), .0011)
	}
}

func TestTwoPilesHaveNoMedium(t *testing.T) {
	assert.NotContains(t, object(t, jsonOf(t, sorted([]float64{50}, 80, 20)), "piles"), "medium")
	assert.Equal(t, []any{}, object(t, jsonOf(t, sorted(nil, 50, 49)), "piles", "medium"))
	o := jsonOf(t, &analyze.Result{Command: "sort", Sort: &piles.Sorted{}})
	for _, n := range []string{"skipped", "light", "fabrics", "pairs"} {
		assert.Equal(t, []any{}, o[n], n)
	}
}

// What nothing is known of is left out of the figures: cloths that cannot be compared
// have no pile and no rank, and it is not said that they do not swing.
func TestFiguresOfWhatCannotBeCompared(t *testing.T) {
	r := sorted([]float64{65, 35}, 80, 50, 20)
	for i := range r.Sort.Fabrics {
		r.Sort.Fabrics[i].Group = i + 1
	}
	r.Sort = piles.Sort(r.Sort.Fabrics, 3)
	o := jsonOf(t, r)
	assert.NotContains(t, o, "piles")
	assert.NotContains(t, o, "cuts")
	rows, _ := csvOf(t, r)
	for i := range 3 {
		f := object(t, o, "fabrics", i)
		for _, n := range []string{"pile", "swing", "rank", "tied_with", "uncertainty_among"} {
			assert.NotContains(t, f, n)
		}
		assert.Equal(t, []string{"", "", "", ""}, []string{rows[i]["pile"], rows[i]["swing"], rows[i]["rank"], rows[i]["tied_with"]})
	}
	assert.Empty(t, o["pairs"])
	r.Sort.Fabrics[2].Group = 1
	assert.Equal(t, false, object(t, jsonOf(t, &analyze.Result{Command: "sort", Sort: piles.Sort(r.Sort.Fabrics, 3)}), "fabrics", 0, "swing"))
}

func TestLayoutJSON(t *testing.T) {
	o := jsonOf(t, layoutResult())
	hasFields(t, o, "schema command version skipped light rows cols setting corners grid_found patches fabrics seams pattern reads changes stash")
	p := object(t, o, "patches", 22)
	hasFields(t, p, "row col outline lab lightness uncertainty spread reads meant misplaced fabric")
	assert.NotContains(t, p, "shape", "only triangles say so")
	hasFields(t, object(t, o, "fabrics", 0), "id lab patches")
	hasFields(t, object(t, o, "seams", 0), "between delta_l delta_e clarity verdict meant ok")
	hasFields(t, object(t, o, "pattern"), "name fit chart")
	hasFields(t, object(t, o, "changes", 0), "patch why instead reads_after")
	assert.Equal(t, "swap with [6,4]", object(t, o, "changes", 0, "instead"))
	assert.Equal(t, []any{212.25, 180.5}, object(t, o, "corners", 0))

	r := layoutResult()
	r.Layout.Pattern, r.Layout.Changes, r.Layout.Corners = layout.Pattern{Name: "none"}, nil, nil
	o = jsonOf(t, r)
	assert.Equal(t, map[string]any{"name": "none"}, o["pattern"])
	assert.Equal(t, []any{}, o["changes"])
	assert.Equal(t, []any{}, o["corners"])
}

func TestBorderJSON(t *testing.T) {
	o := jsonOf(t, borderResult())
	hasFields(t, o, "schema command version skipped light palette stash matches choice other_choices")
	hasFields(t, object(t, o, "palette", 0), "lab hex share name role")
	sum := 0.
	for _, c := range object(t, o, "palette").([]any) {
		sum += object(t, c, "share").(float64)
	}
	assert.InDelta(t, 1, sum, 1e-4, "shares add up to 1 also after rounding")
	hasFields(t, object(t, o, "matches", 0, "fabrics", 0), "id delta_e")
	hasFields(t, object(t, o, "choice"), "fabrics covers range")
	hasFields(t, object(t, o, "choice", "fabrics", 0), "id role why")
	hasFields(t, object(t, o, "stash", 0), "id lightness rank tied_with")
}

func TestFiguresAreRounded(t *testing.T) {
	r := sorted([]float64{65, 35}, 80, 50, 20)
	f := &r.Sort.Fabrics[0]
	f.Lightness, f.Lab.L, f.Spread = 80.123456789, 80.123456789, -1e-9
	f.Outline = [][2]float64{{1.23456, 2}}
	f.Colours = []cloth.Colour{{Share: 1. / 3}}
	r.Light = []light.Record{{Unevenness: 1.23456789, Clipped: .000123456}}
	var b bytes.Buffer
	require.NoError(t, WriteJSON(&b, r, "v"))
	o := jsonOf(t, r)
	assert.Equal(t, 80.123, object(t, o, "fabrics", 0, "lightness"))
	assert.Equal(t, 80.123, object(t, o, "fabrics", 0, "lab", 0))
	assert.Equal(t, 1.23, object(t, o, "fabrics", 0, "outline", 0, 0))
	assert.Equal(t, .33333, object(t, o, "fabrics", 0, "colours", 0, "share"))
	assert.Equal(t, 1.23457, object(t, o, "light", 0, "unevenness"))
	assert.Equal(t, .00012, object(t, o, "light", 0, "clipped"))
	assert.NotContains(t, b.String(), "-0,", "no minus zero")
	assert.Equal(t, 80.123456789, f.Lightness, "the result itself is not changed")
}

func TestWhatIsNoNumberIsRefusedByName(t *testing.T) {
	for _, v := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
		r := sortResult()
		r.Sort.Fabrics[3].Spread = v
		var b bytes.Buffer
		err := WriteJSON(&b, r, "v")
		require.ErrorContains(t, err, "fabrics[3].spread")
		assert.Zero(t, b.Len(), "nothing is half written")
	}
	r := layoutResult()
	r.Layout.Seams[5].Clarity = math.NaN()
	require.ErrorContains(t, WriteJSON(&bytes.Buffer{}, r, "v"), "seams[5].clarity")
	require.Error(t, WriteJSON(&bytes.Buffer{}, &analyze.Result{}, "v"))
}

func TestJSONKeepsNamesAsTheyAre(t *testing.T) {
	r := sortResult()
	r.Sort.Fabrics[0].Photo = "<b>\"stóff & шёлк\"</b>\u202e.jpg"
	assert.Equal(t, r.Sort.Fabrics[0].Photo, object(t, jsonOf(t, r), "fabrics", 0, "photo"))
}

func TestStashComesBack(t *testing.T) {
	r := sortResult()
	var b bytes.Buffer
	require.NoError(t, WriteJSON(&b, r, "1.2.3"))
	got, _, err := ReadStash(bytes.NewReader(append([]byte("\xef\xbb\xbf"), b.Bytes()...)))
	require.NoError(t, err)
	require.Len(t, got, len(r.Sort.Fabrics))
	for i, f := range r.Sort.Fabrics {
		g := got[i]
		assert.Equal(t, []any{f.ID, f.Photo, f.Scrap, f.Rank, f.Pile, f.Swing, f.Doubtful, f.Note, f.Group, f.Character, f.Temperature, f.Name},
			[]any{g.ID, g.Photo, g.Scrap, g.Rank, g.Pile, g.Swing, g.Doubtful, g.Note, g.Group, g.Character, g.Temperature, g.Name})
		assert.InDelta(t, f.Lightness, g.Lightness, .0006)
		assert.InDelta(t, f.Lab.A, g.Lab.A, .0006)
		assert.InDelta(t, f.Spread, g.Spread, .0006)
		assert.InDelta(t, f.Apart, g.Apart, 1e-5)
		assert.Equal(t, f.TiedWith, g.TiedWith)
		require.Len(t, g.Colours, len(f.Colours))
		assert.Equal(t, f.Colours[0].Hex, g.Colours[0].Hex)
		assert.Nil(t, g.Swatch)
	}
}

func TestStashRefuses(t *testing.T) {
	good := `{"id":"1","photo":"a.jpg","lab":[50,0,0],"lightness":50,"uncertainty":1}`
	file := func(fabrics string) string {
		return `{"schema":"greige/1","command":"sort","fabrics":[` + fabrics + `]}`
	}
	_, _, err := ReadStash(strings.NewReader(file(good)))
	require.NoError(t, err)
	for name, c := range map[string]struct{ text, says string }{
		"empty":            {"", "not JSON"},
		"a photo":          {"\xff\xd8\xff\xe0 JFIF", "not JSON"},
		"cut short":        {file(good)[:60], "not JSON"},
		"something after":  {file(good) + "x", "not JSON"},
		"a list":           {"[1,2]", "it is one array"},
		"other JSON":       {`{"name":"x"}`, "no \"schema\""},
		"another schema":   {`{"schema":"greige/2","command":"sort"}`, "\"greige/2\""},
		"hostile schema":   {`{"schema":"\u001b[31m","command":"sort"}`, "schema"},
		"a layout":         {`{"schema":"greige/1","command":"layout","fabrics":[{"id":2}]}`, "greige layout"},
		"no fabrics":       {file(""), "no fabric"},
		"fabrics missing":  {`{"schema":"greige/1","command":"sort"}`, "no fabric"},
		"fabrics a number": {`{"schema":"greige/1","command":"sort","fabrics":3}`, "number"},
		"an id a number":   {file(`{"id":1,"lab":[50,0,0],"lightness":50}`), "the field \"fabrics.id\" holds a number"},
		"no id":            {file(`{"lab":[50,0,0],"lightness":50}`), "fabric 1: it needs an id"},
		"the same id":      {file(good + "," + good), "two fabrics have the id \"1\""},
		"too light":        {file(`{"id":"1","lab":[150,0,0],"lightness":150}`), "lightness is 150, outside 0 to 100"},
		"negative":         {file(`{"id":"1","lab":[50,0,0],"lightness":50,"uncertainty":-1}`), "uncertainty"},
		"two lightnesses":  {file(`{"id":"1","lab":[50,0,0],"lightness":90}`), "lab says 50"},
		"no lab":           {file(`{"id":"1","lightness":90}`), "lab says 0"},
		"a short lab":      {file(`{"id":"1","lab":[50],"lightness":50}`), "lab"},
		"wild colour":      {file(`{"id":"1","lab":[50,900,0],"lightness":50}`), "lab is"},
		"wild share":       {file(`{"id":"1","lab":[50,0,0],"lightness":50,"colours":[{"lab":[50,0,0],"share":7}]}`), "share"},
		"no such pile":     {file(`{"id":"1","lab":[50,0,0],"lightness":50,"pile":"grey"}`), "there is no pile \"grey\""},
		"a long note":      {file(`{"id":"1","lab":[50,0,0],"lightness":50,"note":"` + strings.Repeat("x", 5000) + `"}`), "5000 bytes"},
		"huge number":      {file(`{"id":"1","lab":[50,0,0],"lightness":1e999}`), "lightness"},
	} {
		t.Run(name, func(t *testing.T) {
			_, _, err := ReadStash(strings.NewReader(c.text))
			require.ErrorContains(t, err, c.says)
			var e *Error
			require.ErrorAs(t, err, &e)
			assert.NotEmpty(t, e.Hint)
			assert.NotContains(t, err.Error(), "\x1b")
		})
	}
	_, _, err = ReadStash(&endless{})
	require.ErrorContains(t, err, "larger than 64 MiB")
}

// endless is a file without an end.
type endless struct{}

func (*endless) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = ' '
	}
	return len(p), nil
}
