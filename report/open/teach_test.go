package open

import (
	"encoding/json"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"greige/analyze/photo"
	"greige/analyze/scene"
	"greige/colorspace"
)

// drawnPhone is one drawn camera, as real ones are.
func drawnPhone() scene.Camera {
	c := scene.Phone().Real(3)
	c.Model, c.Lens, c.Taken = "Drawn 3", "wide", "2024:03:09 19:41:07"
	c.Protect = .02
	return c
}

// lessonTable is a table with plain cloths from light to dark, and cards on it.
func lessonTable(c scene.Camera, cards ...scene.Paper) scene.Table {
	t := scene.Table{Take: scene.Take{Width: 700, Seed: 3, Camera: c}, WidthCM: 60, Ground: scene.Backdrop{Lab: colorspace.Lab{L: 62}}, Flat: true, Cards: cards}
	for i, l := range []float64{92, 80, 68, 50, 38, 28, 20} {
		t.Cloths = append(t.Cloths, scene.Cloth{Name: fmt.Sprint(i), Pattern: scene.Solid, Inks: []scene.Ink{{Lab: colorspace.Lab{L: l, A: 3, B: 4}, Share: 1}}})
	}
	return t
}

func twoCards() []scene.Paper {
	return []scene.Paper{{X: .2, Y: .2, W: 12, H: 9, Lab: colorspace.Lab{L: 95}}, {X: .8, Y: .25, W: 12, H: 9, Lab: scene.GreyCard()}}
}

// drawnChart is a photo of the 24-patch chart on a grey table.
func drawnChart(c scene.Camera) scene.Chart {
	labs := colorspace.ChartPatches()
	return scene.Chart{Take: scene.Take{Width: 700, Seed: 3, Camera: c, Light: scene.Light{Ratio: 1.05, From: 30}},
		Rows: 4, Cols: 6, Labs: labs[:], Gap: .12, Rim: .2, Margin: .08, Frame: colorspace.Lab{L: 22}, Ground: scene.Backdrop{Lab: colorspace.Lab{L: 60}}}
}

// bringLesson puts a photo in that is to teach, and gives its id.
func bringLesson(t *testing.T, address, path string) string {
	t.Helper()
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	status, said, err := try(address, "teach/photos", "application/octet-stream", filepath.Base(path), data)
	require.NoError(t, err)
	require.Equal(t, 200, status, said)
	var v teachState
	require.NoError(t, json.Unmarshal([]byte(said), &v))
	return v.Photos[len(v.Photos)-1].ID
}

func teachIt(t *testing.T, address string, how map[string]any) (v learnt, status int, said string) {
	t.Helper()
	data, err := json.Marshal(how)
	require.NoError(t, err)
	status, said, err = try(address, "teach/learn", "application/json", "", data)
	require.NoError(t, err)
	if status == 200 {
		require.NoError(t, json.Unmarshal([]byte(said), &v))
	}
	return v, status, said
}

// A phone is learned on the page as `greige camera learn` learns it, what is gained
// is said, its later photos are measured by it, and it can be forgotten.
func TestAPhoneIsTaughtOnThePage(t *testing.T) {
	dir, from, cameras := t.TempDir(), t.TempDir(), filepath.Join(t.TempDir(), "cameras")
	t.Setenv("TMPDIR", t.TempDir())
	c := drawnPhone()
	write(t, dir, "table.jpg", lessonTable(c))
	address, _, stop := serve(t, Options{Folder: dir, Cameras: cameras})
	before := now(t, address)
	require.True(t, before.Teach)
	id := bringLesson(t, address, write(t, from, "chart.jpg", drawnChart(c)))
	require.Len(t, now(t, address).Photos, 1, "what teaches is no cloth")
	r, err := http.Get(address + "teach/photos/" + id)
	require.NoError(t, err)
	r.Body.Close()
	require.Equal(t, "image/jpeg", r.Header.Get("Content-Type"))
	v, status, said := teachIt(t, address, map[string]any{"way": "chart", "photos": []string{id}})
	require.Equal(t, 200, status, said)
	require.True(t, v.Kept, said)
	require.Contains(t, v.Headline, "surer")
	require.Len(t, v.Teach.Cameras, 1)
	require.FileExists(t, filepath.Join(cameras, v.Teach.Cameras[0].Name+".json"))
	after := now(t, address)
	require.Contains(t, after.Photos[0].Note, "was learned")
	require.NotEqual(t, before.Pieces[0].Lightness, after.Pieces[0].Lightness)

	// The same photo teaches nothing new, and says so without a flag.
	v, status, said = teachIt(t, address, map[string]any{"way": "chart", "photos": []string{id}})
	require.Equal(t, 200, status, said)
	require.False(t, v.Kept)
	require.Contains(t, said, "has learned from this photo already")
	require.NotContains(t, said, "--")

	// Two cards of another photo add up.
	table := lessonTable(c, twoCards()...)
	shot, err := table.Shoot()
	require.NoError(t, err)
	shot.Name = "cards.jpg"
	require.NoError(t, scene.Write(from, shot))
	id = bringLesson(t, address, filepath.Join(from, "cards.jpg"))
	k := 700 / 60. // pixels a cm
	p, err := photo.Open(t.Context(), filepath.Join(from, "cards.jpg"), photo.Limits{})
	require.NoError(t, err)
	at := func(x, y, l float64) map[string]any {
		w, h := 6*k, 5*k
		return map[string]any{"box": []float64{x*float64(p.Width) - w/2, y*float64(p.Height) - h/2, w, h}, "light": l}
	}
	v, status, said = teachIt(t, address, map[string]any{"way": "cards", "photos": []string{id}, "cards": []any{at(.2, .2, 95), at(.8, .25, 49.5)}})
	require.Equal(t, 200, status, said)
	require.True(t, v.Kept, said)
	require.Contains(t, said, "from two photos")

	refusesToTeach(t, address, id, at)

	// A damaged file is named and left alone.
	file := filepath.Join(cameras, "other.json")
	require.NoError(t, os.WriteFile(file, []byte("{"), 0o600))
	status, said, err = try(address, "teach/forget", "application/json", "", []byte(`{"name":"`+v.Teach.Cameras[0].Name+`"}`))
	require.NoError(t, err)
	require.Equal(t, 200, status, said)
	require.Contains(t, said, "damaged")
	require.FileExists(t, file)
	require.Equal(t, before.Pieces[0].Lightness, now(t, address).Pieces[0].Lightness, "it is forgotten")
	stop()
	left, err := os.ReadDir(os.Getenv("TMPDIR"))
	require.NoError(t, err)
	require.Empty(t, left, "photos that taught are not kept")
}

// refusesToTeach: what makes no sense is refused in words, and no path comes in.
func refusesToTeach(t *testing.T, address, id string, at func(x, y, l float64) map[string]any) {
	t.Helper()
	for says, how := range map[string]map[string]any{
		"two cards":         {"way": "cards", "photos": []string{id}},
		"up to 100":         {"way": "cards", "photos": []string{id}, "cards": []any{at(.2, .2, 950), at(.8, .2, 50)}},
		"three photos":      {"way": "scene", "photos": []string{id}},
		"no such photo":     {"way": "chart", "photos": []string{"../chart.jpg"}},
		"no such way":       {"way": "magic", "photos": []string{id}},
		"one photo of the":  {"way": "chart", "photos": []string{}},
		"is no step of the": {"way": "chart", "photos": []string{id}, "file": "x"},
	} {
		_, status, said := teachIt(t, address, how)
		require.GreaterOrEqual(t, status, 400, says)
		require.Contains(t, said, says)
	}
	status, said, err := try(address, "teach/forget", "application/json", "", []byte(`{"name":"../table"}`))
	require.NoError(t, err)
	require.Equal(t, 409, status, said)
}
