package main

import (
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"greige/analyze/scene"
	"greige/colorspace"
)

// figures runs the command on a photo and reads its JSON into v.
func figures(t *testing.T, v any, args ...string) {
	t.Helper()
	dir := t.TempDir()
	name := filepath.Join(dir, "figures.json")
	args = append(args, "--quiet", "--json", name, "--out", filepath.Join(dir, "page.html"))
	var said strings.Builder
	require.Equal(t, statusDone, run(context.Background(), args, io.Discard, &said), said.String())
	data, err := os.ReadFile(name)
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(data, v))
}

type topFigures struct {
	Rows, Cols int
	Patches    []struct {
		Row, Col  int
		Lab       colorspace.Lab
		Lightness float64
	}
}

// The 24-patch chart (McCamy, Marcus and Davidson 1976), painted with its
// published 2005 values, photographed by a phone and measured by greige
// layout: every L* within 1.0 of the published value, its greys in order.
func TestChartAsAPhoto(t *testing.T) {
	file, err := os.Open("../../testdata/published/04_colour_rendition_chart.csv")
	require.NoError(t, err)
	defer file.Close()
	r := csv.NewReader(file)
	r.FieldsPerRecord, r.Comment = -1, '#'
	rows, err := r.ReadAll()
	require.NoError(t, err)
	var published []colorspace.Lab
	for _, row := range rows {
		if _, err := strconv.Atoi(row[0]); err != nil {
			continue
		}
		var lab [3]float64
		for i := range lab {
			lab[i], err = strconv.ParseFloat(row[10+i], 64)
			require.NoError(t, err)
		}
		published = append(published, colorspace.Lab{L: lab[0], A: lab[1], B: lab[2]})
	}
	require.Len(t, published, 24)

	// The camera's white balance puts the lamp's white where the file has its
	// own, so the chart's values under the lamp are its values in the file.
	shot, err := scene.Chart{
		Take: scene.Take{Name: "chart.jpg", Width: 1500, Height: 1100, Seed: 5, Camera: scene.Camera{Blur: .8, Noise: 1, Space: colorspace.DisplayP3}, View: scene.View{Tilt: 8, Side: -5}},
		Rows: 4, Cols: 6, Labs: published, Gap: .12, Rim: .1, Margin: .06, Frame: colorspace.Lab{L: 8},
	}.Shoot()
	require.NoError(t, err)
	dir := t.TempDir()
	require.NoError(t, scene.Write(dir, shot))
	var corners []string
	for _, c := range shot.Truth.Grid.Corners {
		corners = append(corners, fmt.Sprintf("%.1f,%.1f", c[0], c[1]))
	}
	var top topFigures
	figures(t, &top, "layout", filepath.Join(dir, "chart.jpg"), "--light", "none", "--rows", "4", "--cols", "6", "--corners", strings.Join(corners, " "))
	require.Len(t, top.Patches, 24)
	for _, p := range top.Patches {
		n := (p.Row-1)*6 + p.Col
		want := published[n-1]
		assert.InDelta(t, want.L, p.Lightness, 1.0, "patch %d", n)
		assert.Less(t, colorspace.CIEDE2000(want, p.Lab), 2.0, "patch %d", n)
		if n > 19 {
			assert.Less(t, p.Lightness, top.Patches[n-2].Lightness, "the greys run from white to black")
		}
	}
}

// One cloth photographed in Display P3 and in sRGB measures the same.
func TestDisplayP3AndItsTwin(t *testing.T) {
	cloth := scene.NewCloth("rust", scene.Solid, colorspace.Lab{L: 46, A: 40, B: 36})
	cloth.Weave = 0
	var lab [2]colorspace.Lab
	for i, space := range []colorspace.Space{colorspace.SRGB, colorspace.DisplayP3} {
		shot, err := scene.Closeup{Take: scene.Take{Name: "cloth.jpg", Width: 600, Height: 450, Camera: scene.Camera{Space: space}}, Cloth: cloth}.Shoot()
		require.NoError(t, err)
		dir := t.TempDir()
		require.NoError(t, scene.Write(dir, shot))
		var sorted struct {
			Fabrics []struct{ Lab colorspace.Lab }
		}
		figures(t, &sorted, "sort", filepath.Join(dir, "cloth.jpg"), "--light", "none", "--scraps", "one")
		require.Len(t, sorted.Fabrics, 1)
		lab[i] = sorted.Fabrics[0].Lab
	}
	assert.Less(t, colorspace.CIEDE2000(lab[0], lab[1]), .5)
	assert.Less(t, math.Abs(lab[0].L-lab[1].L), .3)
}

// One picture in eight files, one for each EXIF orientation (CIPA DC-008,
// tag 0x0112): one answer, from the whole program.
func TestEightOrientationsOneAnswer(t *testing.T) {
	plan := scene.Design{Seed: 3, Repeat: scene.NinePatch, Rows: 3, Cols: 6, Lights: []int{0}, Darks: []int{1}}.Plan()
	cloths := []scene.Cloth{
		scene.NewCloth("cream", scene.Solid, colorspace.Lab{L: 88, A: 1, B: 12}),
		scene.NewCloth("ink", scene.Solid, colorspace.Lab{L: 24, A: 4, B: -22}),
	}
	var first topFigures
	for orientation := 1; orientation <= 8; orientation++ {
		camera := scene.Phone()
		camera.Orientation = orientation
		shot, err := scene.Top{Take: scene.Take{Name: "top.jpg", Width: 720, Height: 400, Camera: camera}, Plan: plan, Cloths: cloths, Margin: .05}.Shoot()
		require.NoError(t, err)
		dir := t.TempDir()
		require.NoError(t, scene.Write(dir, shot))
		var corners []string
		for _, c := range shot.Truth.Grid.Corners {
			corners = append(corners, fmt.Sprintf("%.0f,%.0f", c[0], c[1]))
		}
		var top topFigures
		figures(t, &top, "layout", filepath.Join(dir, "top.jpg"), "--light", "none", "--rows", "3", "--cols", "6", "--corners", strings.Join(corners, " "))
		require.Len(t, top.Patches, 18)
		if orientation == 1 {
			first = top
			continue
		}
		for i, p := range top.Patches {
			// JPEG blocks lie otherwise in a turned file: no more than that.
			assert.InDelta(t, first.Patches[i].Lightness, p.Lightness, .3, "orientation %d, patch %d,%d", orientation, p.Row, p.Col)
		}
	}
}
