package analyze

import (
	"context"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"greige/analyze/light"
	"greige/analyze/photo"
	"greige/analyze/scene"
	"greige/colorspace"
)

// pebbles draws a cloth with dark figures on white that have soft rims and go
// on beyond the photo, as a print does that looks like scraps on a table.
func pebbles(t *testing.T, dir, name string) {
	const w, h = 640, 480
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			near, which := math.Inf(1), 0
			for r := range 5 {
				for c := range 7 {
					cx, cy := float64(96*c+10+20*(r%2)), float64(104*r+10)
					if d := math.Hypot(float64(x)-cx, 1.15*(float64(y)-cy)) - 22; d < near {
						near, which = d, 7*r+c
					}
				}
			}
			rgb := [3]float64{225, 222, 216}
			switch {
			case near < 0:
				k := float64(which)
				rgb = [3]float64{110 + 90*math.Sin(1.3*k), 110 + 90*math.Sin(2.1*k+1), 110 + 90*math.Sin(2.9*k+2)}
			case near < 10: // as if it lay there
				for i := range rgb {
					rgb[i] -= 25 * (1 - near/10)
				}
			}
			img.SetRGBA(x, y, color.RGBA{uint8(rgb[0]), uint8(rgb[1]), uint8(rgb[2]), 255})
		}
	}
	f, err := os.Create(filepath.Join(dir, name))
	require.NoError(t, err)
	require.NoError(t, png.Encode(f, img))
	require.NoError(t, f.Close())
}

// closeups draws photos of one plain cloth each.
func closeups(t *testing.T, dir string, n int) {
	for i := range n {
		s, err := scene.Closeup{
			Take:  scene.Take{Name: fmt.Sprintf("b%d.jpg", i), Seed: uint64(i + 1), Width: 320, Light: scene.Light{Ratio: 1.2}, Camera: scene.Phone()},
			Cloth: scene.NewCloth("plain", scene.Solid, colorspace.Lab{L: 30 + 12*float64(i), A: 10}), WidthCM: 20,
		}.Shoot()
		require.NoError(t, err)
		require.NoError(t, scene.Write(dir, s))
	}
}

// A print that looks like scraps on a table is one cloth among close-ups of one
// cloth each, and that is said before all else; by itself, or where she says
// so, it is what it looks like. A table of scraps among close-ups stays one, and
// is named.
func TestOnePhotoAgainstItsFellows(t *testing.T) {
	opt := SortOptions{Settings: Settings{Distance: 2.5}, Piles: 3, Scraps: ScrapsAuto}
	dir := t.TempDir()
	pebbles(t, dir, "a.png")
	sort := func(o SortOptions) *Result {
		r, err := Sort(context.Background(), []string{dir}, o)
		require.NoError(t, err)
		return r
	}
	require.Greater(t, len(sort(opt).Sort.Fabrics), 10) // or there would be nothing to show
	closeups(t, dir, 4)
	r := sort(opt)
	require.Len(t, r.Sort.Fabrics, 5)
	require.Contains(t, r.Notes[0], "a.png: it was taken for one cloth, as the other photos show one each")
	r, err := Border(context.Background(), filepath.Join(dir, "b0.jpg"), BorderOptions{Settings: opt.Settings, Choose: 2, Stash: []string{dir}})
	require.NoError(t, err)
	require.Len(t, r.Border.Stash, 4)
	r, err = Border(context.Background(), filepath.Join(dir, "b0.jpg"), BorderOptions{Settings: opt.Settings, Choose: 2, Stash: []string{filepath.Join(dir, "a.png")}, StashScraps: ScrapsOne})
	require.NoError(t, err)
	require.Len(t, r.Border.Stash, 1)

	table := scene.AnyTable(334)
	table.Width = 800
	s, err := table.Shoot()
	require.NoError(t, err)
	require.NoError(t, scene.Write(dir, s))
	r = sort(opt)
	require.Len(t, r.Sort.Fabrics, 5+len(s.Truth.Pieces))
	require.Contains(t, r.Notes[1], s.Name+": it shows scraps on a ground, where most of the other photos show one cloth each")
}

// What one photo of a run is taken for, by the others.
func TestWhatTheOthersShow(t *testing.T) {
	one, dots := clothPhoto{shows: shows{score: -6}}, clothPhoto{shows: shows{score: -1}}
	print, table := clothPhoto{shows: shows{pieces: 30, score: 1}}, clothPhoto{shows: shows{pieces: 12, score: 6}}
	skipped := clothPhoto{skipped: &photo.Skipped{}}
	for _, c := range []struct {
		got  []clothPhoto // the first is asked about
		flip bool
		says string
	}{
		{[]clothPhoto{print, one, one, one}, true, "taken for one cloth"},
		{[]clothPhoto{print, one, one, skipped}, false, ""},
		{[]clothPhoto{print, one, table, table, one}, false, ""},
		{[]clothPhoto{print, print, one, one, one, one}, true, "taken for one cloth"},
		{[]clothPhoto{table, one, one, one}, false, "shows scraps"},
		{[]clothPhoto{one, table, table, table}, false, "was taken for one cloth, where most"},
		{[]clothPhoto{dots, table, table, table}, true, "taken for scraps, as the other photos"},
		{[]clothPhoto{one, one, one, one}, false, ""},
		{[]clothPhoto{table, table, table, table}, false, ""},
	} {
		o, says := SortOptions{Scraps: ScrapsAuto}.otherwise(c.got, 0)
		require.Equal(t, c.flip, o != nil)
		require.Contains(t, says, c.says)
		require.Equal(t, c.says == "", says == "")
	}
}

// A sheet of paper that only one photo of a set has, or whose level is not that
// of the others, is not gone by.
func TestPaperAgainstItsFellows(t *testing.T) {
	footings := make([]light.Exposure, 6)
	for i := range footings {
		footings[i] = light.Exposure{Group: 1, Gain: 1 + .1*float64(i), Known: true}
	}
	set := func(levels ...float64) []clothPhoto {
		got := make([]clothPhoto, len(levels))
		for i, l := range levels {
			got[i].paper = l * footings[i].Gain
		}
		return got
	}
	require.Contains(t, disputed(set(1, 0, 0, 0, 0, 0), footings, 0), "hardly any of the photos")
	require.Contains(t, disputed(set(1.4, 1, 1.05, .96, 1, 1), footings, 0), "lighter or darker than the papers")
	require.Empty(t, disputed(set(1.4, 1, 1.05, .96, 1, 1), footings, 3))
	require.Empty(t, disputed(set(0, 1, 1, 1, 1, 1), footings, 0))
	footings[0].Known = false
	require.Empty(t, disputed(set(1, 0, 0, 0, 0, 0), footings, 0))
}

// What a table without paper would need is said once for all of a run.
func TestWhatTheTablesNeed(t *testing.T) {
	table := clothPhoto{shows: shows{pieces: 9}, adrift: true}
	level := clothPhoto{shows: shows{pieces: 9}}
	require.Contains(t, needs([]clothPhoto{table, level, table}), "two of the three photos show scraps on a table that does not tell how light it is")
	require.Empty(t, needs([]clothPhoto{table}))
	require.Empty(t, needs([]clothPhoto{level, level}))
	require.Empty(t, needs([]clothPhoto{{adrift: true}, {adrift: true}}), "close-ups have a note of their own")
	require.Empty(t, needs([]clothPhoto{table, {skipped: &photo.Skipped{}}}))
}
