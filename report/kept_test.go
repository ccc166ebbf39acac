package report

import (
	"bytes"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"greige/analyze"
	"greige/analyze/cloth"
	"greige/analyze/stash"
)

// keptResult is what was found in a stash: the cloths of the sort, of which the
// last cannot be told.
func keptResult() *analyze.Result {
	s := sortResult().Sort
	k := &stash.Answer{Action: stash.ToFind, Kept: 40, Photos: 3, Cuts: s.Cuts, Retake: []stash.Retake{{Photo: "d/close.jpg", Cloths: 1}}}
	for _, f := range ranked(s.Fabrics) {
		left := 120.
		c := stash.FoundCloth{Kept: stash.Kept{Fabric: f, SHA256: strings.Repeat("0f", 32), Added: "2026-03-01T12:00:00Z", LeftCM2: &left, UsedCM2: 30}}
		c.AreaCM2 = 150
		k.Fabrics = append(k.Fabrics, c)
	}
	last := &k.Fabrics[len(k.Fabrics)-1]
	last.Untold, last.Pile, last.Rank, last.LeftCM2 = true, "", 0, nil
	return &analyze.Result{Command: "stash", Distance: 2.5, Kept: k}
}

func TestKeptPage(t *testing.T) {
	r := keptResult()
	page := pageOf(t, r)
	root := sound(t, page)
	assert.Equal(t, page, pageOf(t, r), "the same result gives the same bytes")
	var h3 []string
	for _, h := range root.named("h3") {
		h3 = append(h3, words(h.text))
	}
	assert.Equal(t, []string{"The value line", "The piles", "What cannot be told", "By colour", "The prints", "What to do next", "The figures", "Before you cut"}, h3)
	prints := 0
	for _, f := range r.Kept.Fabrics {
		if f.Character == cloth.Print || f.Character == cloth.HighContrastPrint {
			prints++
		}
	}
	require.Positive(t, prints)
	assert.Len(t, root.classed("entry"), prints)
	assert.Contains(t, words(root.named("h2")[0].text), "cloths: ")
	for _, e := range root.classed("entry") {
		assert.NotContains(t, strings.ToLower(words(e.text)), "gray", "grey is spelt one way")
	}
	for i := range 25 { // counts are written alike, also where one is beyond words
		f := r.Kept.Fabrics[0]
		f.ID = "more" + strconv.Itoa(i)
		r.Kept.Fabrics = append(r.Kept.Fabrics, f)
	}
	assert.Regexp(t, `^\d+ cloths: \d+ \w+, \d+ \w+, \d+ \w+\.$`, AnswerOf(r).Headline)
	r = keptResult()

	// Where nearness was asked for, the nearest come first and not by pile.
	for i := range r.Kept.Fabrics {
		d := float64(i)
		r.Kept.Fabrics[i].DeltaE = &d
	}
	r.Kept.Asked = "near <b>pink</b>"
	page = pageOf(t, r)
	sound(t, page)
	assert.Contains(t, page, "The nearest first")
	assert.NotContains(t, page, "<b>pink")

	// Nothing was found.
	r.Kept.Fabrics, r.Kept.Retake = []stash.FoundCloth{}, nil
	sound(t, pageOf(t, r))
}

func TestKeptInWords(t *testing.T) {
	say := func(k *stash.Answer) string {
		a := AnswerOf(&analyze.Result{Command: "stash", Kept: k})
		return strings.Join(append([]string{a.Headline}, a.More...), " ")
	}
	for want, k := range map[string]*stash.Answer{
		"Three cloths were added from two photos. One photo was in the stash already and was not measured again: c.jpg. To measure one anew, drop it first: greige stash drop PHOTO. One piece that may be no cloth was left out. The stash holds four cloths from three photos.": {
			Action: stash.ToAdd, Kept: 4, Photos: 3, Added: []stash.Added{{Name: "a.jpg", IDs: []string{"1", "2"}, Left: 1}, {Name: "b.jpg", IDs: []string{"3"}}, {Name: "x/c.jpg", IDs: []string{"4"}, Known: true}}},
		"There is no cloth in the stash yet.":                                   {Action: stash.ToFind},
		"None of your seven cloths fits (dark).":                                {Action: stash.ToFind, Kept: 7, Asked: "dark"},
		"One cloth was taken out: 4. The stash holds no cloths from no photos.": {Action: stash.ToDrop, Dropped: []string{"4"}},
		"Two cloths were saved, with their pictures.":                           {Action: stash.ToSave, Copied: 2, Kept: 2},
		"Two cloths were put in. One of them has a new number, because another cloth had it: 1 is now 9. The stash holds three cloths from one photo.": {
			Action: stash.ToLoad, Copied: 2, Kept: 3, Photos: 1, Renumbered: [][2]string{{"1", "9"}}},
	} {
		assert.Equal(t, want, say(k))
	}
	r := keptResult()
	all := say(r.Kept)
	assert.Contains(t, all, "One of them cannot be ranked: nothing in its photo shows how bright the light was. Worth taking again first, with a sheet of white paper in it: close.jpg.")
	r.Kept.Asked = "light"
	assert.Contains(t, say(r.Kept), "cloths fit (light).")
}

func TestKeptFigures(t *testing.T) {
	r := keptResult()
	d, ink := 3.14159, 1
	r.Kept.Fabrics[0].DeltaE, r.Kept.Fabrics[0].ByInk = &d, &ink
	var b bytes.Buffer
	require.NoError(t, WriteJSON(&b, r, "test"))
	var o struct {
		Schema, Command, Action string
		Kept                    int
		Retake                  []map[string]any
		Fabrics                 []map[string]any
	}
	require.NoError(t, json.Unmarshal(b.Bytes(), &o))
	assert.Equal(t, []any{Schema, "stash", "find", 40}, []any{o.Schema, o.Command, o.Action, o.Kept})
	assert.Equal(t, []map[string]any{{"photo": "d/close.jpg", "cloths": 1.}}, o.Retake)
	first, last := o.Fabrics[0], o.Fabrics[len(o.Fabrics)-1]
	assert.Equal(t, []any{3.142, 1., 150., 30., 120., "2026-03-01T12:00:00Z"},
		[]any{first["delta_e"], first["by_ink"], first["area_cm2"], first["used_cm2"], first["left_cm2"], first["added"]})
	assert.Equal(t, true, last["untold"])
	assert.NotContains(t, last, "left_cm2")
	assert.NotContains(t, last, "pile")

	b.Reset()
	require.NoError(t, WriteCSV(&b, r))
	lines := strings.Split(strings.TrimSpace(b.String()), "\r\n")
	assert.Len(t, lines, 1+len(o.Fabrics))
	assert.True(t, strings.HasSuffix(lines[0], ",delta_e,untold,area_cm2,used_cm2,left_cm2,added,sha256"))
	assert.Contains(t, lines[1], ",3.14,no,150.0,30.0,120.00,2026-03-01T12:00:00Z,")

	b.Reset()
	require.NoError(t, Terminal(&b, r, TerminalOptions{NoPage: true, Files: []string{"out.json"}}))
	assert.Contains(t, b.String(), "cannot be told")
	assert.Contains(t, b.String(), "also  out.json")
	assert.Contains(t, b.String(), "* by a colour of its own print")
}

// Pictures that are read as they are written make the same page as those that are held,
// and one that cannot be read leaves no page.
func TestKeptPicturesAreReadAsTheyAreWritten(t *testing.T) {
	r := keptResult()
	held := map[string]*cloth.Swatch{}
	for i := range r.Kept.Fabrics {
		f := &r.Kept.Fabrics[i]
		f.Swatch = looks[i].swatch(i, 64, i%2 == 0)
		held[f.ID] = f.Swatch
	}
	want := pageOf(t, r)
	for i := range r.Kept.Fabrics {
		s := r.Kept.Fabrics[i].Swatch
		r.Kept.Fabrics[i].Swatch = &cloth.Swatch{W: s.W, H: s.H}
	}
	var page bytes.Buffer
	before := ""
	r.Kept.Picture = func(id string) (*cloth.Swatch, error) {
		assert.Contains(t, page.String(), before, "no picture is read before the last one is written")
		before = base64.StdEncoding.EncodeToString(held[id].Colour)
		return held[id], nil
	}
	require.NoError(t, WritePage(&page, r, "1.2.3"))
	assert.True(t, want == page.String())

	last := r.Kept.Fabrics[len(r.Kept.Fabrics)-1].ID
	wrong := &stash.Error{Reason: "this one is torn"}
	r.Kept.Picture = func(id string) (*cloth.Swatch, error) {
		if id == last {
			return nil, wrong
		}
		return held[id], nil
	}
	dir := t.TempDir()
	err := WriteFile(filepath.Join(dir, "page.html"), func(w io.Writer) error { return WritePage(w, r, "test") })
	assert.Equal(t, wrong, err)
	left, err := os.ReadDir(dir)
	require.NoError(t, err)
	assert.Empty(t, left)
}

// An answer that is read as it is written gives the same figures as a whole one, and
// its page says how many it leaves out.
func TestKeptLongAnswers(t *testing.T) {
	whole, long := keptResult(), keptResult()
	k := long.Kept
	all, piled, untold := k.Count()
	rest := k.Fabrics[2:]
	k.Fabrics = k.Fabrics[:2]
	k.More = &stash.More{All: piled, Untold: untold, Shown: []stash.FoundCloth{whole.Kept.Fabrics[0], rest[1]}, Rest: func(give func([]stash.FoundCloth) error) error {
		for len(rest) > 0 {
			n := min(2, len(rest))
			if err := give(rest[:n]); err != nil {
				return err
			}
			rest = rest[n:]
		}
		rest = whole.Kept.Fabrics[2:]
		return nil
	}}
	for name, write := range map[string]func(io.Writer, *analyze.Result) error{
		"json": func(w io.Writer, r *analyze.Result) error { return WriteJSON(w, r, "test") }, "csv": WriteCSV,
	} {
		var want, got bytes.Buffer
		require.NoError(t, write(&want, whole))
		require.NoError(t, write(&got, long))
		assert.Equal(t, want.String(), got.String(), name)
	}
	assert.Equal(t, AnswerOf(whole), AnswerOf(long))
	page := pageOf(t, long)
	sound(t, page)
	assert.Contains(t, words(page), fmt.Sprintf("2 of the %d cloths are on this page, taken evenly", all))
	assert.Contains(t, page, " shown")
	var b bytes.Buffer
	require.NoError(t, Terminal(&b, long, TerminalOptions{NoPage: true}))
	assert.Contains(t, words(b.String()), fmt.Sprintf("These are the first 2 of %d.", all))
}
