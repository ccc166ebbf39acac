package main

import (
	"bytes"
	"context"
	"encoding/json"
	"image"
	"image/color"
	"image/png"
	"os"
	"testing"

	"github.com/stretchr/testify/require"
)

// A scrap with a hole keeps it from the photo over the sort's figures to the plan:
// no patch is drawn across it, and fewer come out of the piece than out of its
// like without one.
func TestNoPatchAcrossAHole(t *testing.T) {
	t.Chdir(t.TempDir())
	hole := image.Rect(230, 250, 290, 310)
	save := func(name string, holed bool) {
		p := image.NewRGBA(image.Rect(0, 0, 1000, 700))
		for y := range 700 {
			for x := range 1000 {
				c := color.RGBA{236, 236, 232, 255}
				switch at := image.Pt(x, y); {
				case holed && at.In(hole):
				case at.In(image.Rect(100, 120, 420, 440)):
					c = color.RGBA{200, 150, 120, 255}
				case at.In(image.Rect(560, 130, 880, 450)):
					c = color.RGBA{40, 60, 110, 255}
				}
				p.SetRGBA(x, y, c)
			}
		}
		f, err := os.Create(name)
		require.NoError(t, err)
		require.NoError(t, png.Encode(f, p))
		require.NoError(t, f.Close())
	}
	type scraps struct {
		Scraps []struct {
			ID      string
			Yields  int
			Patches [][][2]float64
		}
	}
	planned := func(photo string) (p scraps) {
		for _, args := range [][]string{
			{"sort", photo, "--scraps", "many", "--width", "100", "--json", "s.json", "--out", "s.html", "--quiet"},
			{"plan", "--stash", "s.json", "--light", "1", "--dark", "2", "--patch", "4cm", "--blocks", "1x1", "--json", "p.json", "--out", "p.html", "--quiet"},
		} {
			var stdout, stderr bytes.Buffer
			require.Zero(t, run(context.Background(), args, &stdout, &stderr), stderr.String())
		}
		data, err := os.ReadFile("p.json")
		require.NoError(t, err)
		require.NoError(t, json.Unmarshal(data, &p))
		require.Len(t, p.Scraps, 2)
		return p
	}
	save("whole.png", false)
	save("holed.png", true)
	whole, holed := planned("whole.png"), planned("holed.png")
	require.Equal(t, whole.Scraps[1].Yields, holed.Scraps[1].Yields)
	require.Less(t, holed.Scraps[0].Yields, whole.Scraps[0].Yields)
	require.Positive(t, holed.Scraps[0].Yields)
	for _, o := range holed.Scraps[0].Patches {
		x0, y0, x1, y1 := o[0][0], o[0][1], o[0][0], o[0][1]
		for _, q := range o {
			x0, y0, x1, y1 = min(x0, q[0]), min(y0, q[1]), max(x1, q[0]), max(y1, q[1])
		}
		clear := x1 <= float64(hole.Min.X) || x0 >= float64(hole.Max.X) || y1 <= float64(hole.Min.Y) || y0 >= float64(hole.Max.Y)
		require.True(t, clear, "%v", o) // the pieces lie upright
	}
}
