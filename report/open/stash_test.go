package open

import (
	"bytes"
	"encoding/json"
	"net/http"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"greige/analyze"
	"greige/analyze/scene"
	"greige/analyze/stash"
	"greige/report"
)

// wallOf is what the page is told that fits q.
func wallOf(t testing.TB, address string, q keptQuestion) (v wallState) {
	t.Helper()
	data, err := json.Marshal(q)
	require.NoError(t, err)
	status, said, err := try(address, "stash", "application/json", "", data)
	require.NoError(t, err)
	require.Equal(t, 200, status, said)
	require.NoError(t, json.Unmarshal([]byte(said), &v))
	return v
}

func onWall(v wallState) (ids []string) {
	for _, c := range v.Cloths {
		ids = append(ids, c.ID)
	}
	return ids
}

// The cloths of a sort are kept as the command keeps them, found again by the page
// as by the command, and chosen for a border as by the command.
func TestTheStashOnThePage(t *testing.T) {
	dir, file := basket(t, 700), filepath.Join(t.TempDir(), "data", "stash.db")
	print := scene.AnyBorder(5)
	print.Width = 500
	write(t, dir, "border.jpg", print)
	border := idOf(filepath.Join(dir, "border.jpg"))
	address, _, stop := serve(t, Options{Folder: dir, Stash: file, Version: "v"})
	s := now(t, address)
	require.True(t, s.Stash.There)
	require.Zero(t, s.Stash.Kept)
	require.NoFileExists(t, file, "looking makes no stash")
	require.Empty(t, wallOf(t, address, keptQuestion{}).Cloths)
	require.NoFileExists(t, file)

	send(t, address, "question", Question{Kind: "sort", Out: []string{border}})
	send(t, address, "steps", Step{Kind: "not-cloth", Photo: idOf(filepath.Join(dir, "basket.jpg")), Pieces: []string{"2"}})
	keep := func(body string) (int, string) {
		status, said, err := try(address, "stash/keep", "application/json", "", []byte(body))
		require.NoError(t, err)
		return status, said
	}
	status, said := keep(`{"width":-1}`)
	require.Equal(t, 409, status)
	require.Contains(t, said, "centimetres")
	status, said = keep(`{"width":60}`)
	require.Equal(t, 200, status, said)
	require.Contains(t, said, "five cloths")
	status, said = keep(`{}`)
	require.Equal(t, 200, status, said)
	require.Equal(t, 5, now(t, address).Stash.Kept, "no photo is kept twice")

	kept, err := stash.Open(file)
	require.NoError(t, err)
	defer kept.Close()
	asksTheStash(t, address, kept)
	takesTheStash(t, address, dir, kept)
	stop()

	// A file that is no stash is named, left alone, and nothing else suffers.
	require.NoError(t, kept.Close())
	require.NoError(t, os.WriteFile(file, []byte("this is no stash at all"), 0o600))
	address, _, _ = serve(t, Options{Folder: dir, Stash: file})
	s = send(t, address, "question", Question{Kind: "sort", Out: []string{border}})
	require.Contains(t, s.Stash.Trouble, "no stash of greige's")
	require.Len(t, s.Pieces, 5)
	status, said = keep(`{}`)
	require.Equal(t, 409, status)
	require.Contains(t, said, "no stash of greige's")
}

// asksTheStash: the wall and the command ask the same file.
func asksTheStash(t *testing.T, address string, kept *stash.Stash) {
	t.Helper()
	all := wallOf(t, address, keptQuestion{To: 100})
	require.Len(t, all.Cloths, 5)
	for _, q := range []keptQuestion{{Piles: []string{"light"}}, {Piles: []string{"medium", "dark"}}, {From: 40, To: 70}, {Near: "2"}, {Near: "#3050a0"}, {Character: "print"}, {Name: "blue"}, {AtLeast: 30}} {
		asked, err := q.query(t.Context(), kept)
		require.NoError(t, err)
		found, err := kept.Find(t.Context(), asked)
		require.NoError(t, err)
		var want []string
		for _, h := range found.Hits {
			want = append(want, h.ID())
		}
		require.Equal(t, want, onWall(wallOf(t, address, q)), q)
		if q.AtLeast == 0 && q.Name == "" {
			require.NotEmpty(t, want, q)
		}
	}
	for _, bad := range []string{`{"piles":["tiny"]}`, `{"near":"99"}`, `{"near":"#12"}`, `{"near":"../a.jpg"}`, `{"from":-1}`, `{"at_least":-1}`} {
		status, said, err := try(address, "stash", "application/json", "", []byte(bad))
		require.NoError(t, err)
		require.Equal(t, 409, status, bad+said)
		require.NotContains(t, said, "--")
	}
	r, err := http.Get(address + "stash/1/colour")
	require.NoError(t, err)
	require.Equal(t, "image/jpeg", r.Header.Get("Content-Type"))
	r.Body.Close()
}

// What is cut and what is taken out is taken back to the same
// stash, step by step; no step fits, where none is left.
func TestWallStepsAreTakenBack(t *testing.T) {
	dir, file := basket(t, 700), filepath.Join(t.TempDir(), "stash.db")
	address, _, _ := serve(t, Options{Folder: dir, Stash: file})
	post := func(where, body string) (int, string) {
		t.Helper()
		status, said, err := try(address, where, "application/json", "", []byte(body))
		require.NoError(t, err)
		return status, said
	}
	status, said := post("stash/drop", `{"ids":["1"]}`)
	require.Equal(t, 409, status, said)
	require.Contains(t, said, "no stash yet")
	status, said = post("stash/keep", `{"width":60}`)
	require.Equal(t, 200, status, said)
	whole := func() string {
		kept, err := stash.Open(file)
		require.NoError(t, err)
		defer kept.Close()
		var b bytes.Buffer
		_, err = kept.Save(t.Context(), &b, "v")
		require.NoError(t, err)
		return b.String()
	}
	was := []string{whole()}
	for _, step := range [][2]string{{"stash/use", `{"id":"2","patches":3,"side":2}`}, {"stash/drop", `{"ids":["2","4"]}`}, {"stash/use", `{"id":"3","area":7.5}`}, {"stash/drop", `{"ids":["1","3","5","6"]}`}} {
		status, said = post(step[0], step[1])
		require.Equal(t, 200, status, said)
		was = append(was, whole())
	}
	require.NotContains(t, now(t, address).Stash.Redo, "number")
	turn := func(by, want int) {
		t.Helper()
		status, said := post("stash/turn", map[int]string{-1: `{"by":-1}`, 1: `{"by":1}`}[by])
		require.Equal(t, 200, status, said)
		require.True(t, was[want] == whole(), "step %d is another", want)
	}
	for i := len(was) - 2; i >= 0; i-- {
		turn(-1, i)
	}
	require.Empty(t, now(t, address).Stash.Undo)
	for i := 1; i < len(was); i++ {
		turn(1, i)
	}
	for _, bad := range [][2]string{{"stash/turn", `{"by":1}`}, {"stash/use", `{"id":"3"}`}, {"stash/use", `{"id":"3","area":-4}`}, {"stash/use", `{"id":"3","patches":1e9,"side":1e9}`}, {"stash/drop", `{"ids":[]}`}, {"stash/drop", `{"ids":["99"]}`}, {"stash/use", `{"id":"99","area":3}`}} {
		status, said = post(bad[0], bad[1])
		require.Equal(t, 409, status, bad[1]+said)
		require.NotContains(t, said, "--")
		require.True(t, was[len(was)-1] == whole())
	}
}

// takesTheStash: a border takes it by itself where there are no other cloths.
func takesTheStash(t *testing.T, address, dir string, kept *stash.Stash) {
	t.Helper()
	border := idOf(filepath.Join(dir, "border.jpg"))
	b := send(t, address, "question", Question{Kind: "border", Photo: border})
	require.True(t, b.Stash.Used)
	require.Len(t, b.Cloths, 5)
	require.NotContains(t, b.Command, "--stash")
	answered, err := analyze.Border(t.Context(), filepath.Join(dir, "border.jpg"), analyze.BorderOptions{Kept: kept, Settings: analyze.Settings{Corrections: corrections(t, dir)}})
	require.NoError(t, err)
	var page bytes.Buffer
	require.NoError(t, report.WritePage(&page, answered, "v"))
	status, _, err := try(address, "keep", "application/json", "", []byte("{}"))
	require.NoError(t, err)
	require.Equal(t, 200, status)
	written, err := os.ReadFile(filepath.Join(dir, "greige-border.html"))
	require.NoError(t, err)
	require.True(t, bytes.Equal(page.Bytes(), written), "the page is the one that the command writes")
	both := send(t, address, "question", Question{Kind: "border", Photo: border, Stash: true, Kept: true})
	require.Contains(t, both.Command, "--stash kept")
	require.Len(t, both.Cloths, 10)
}
