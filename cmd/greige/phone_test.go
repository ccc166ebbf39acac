package main

import (
	"bytes"
	"fmt"
	"image"
	"image/jpeg"
	"os"

	"github.com/rogpeppe/go-internal/testscript"

	"greige/analyze/scene"
	"greige/colorspace"
)

// takePhoto takes a photo with a drawn phone, for the scripts on learning one.
func takePhoto(ts *testscript.TestScript, _ bool, args []string) {
	c := scene.Phone().Real(uint64(number(ts, args[2])))
	c.Lens, c.Taken, c.Protect = "wide", "2024:03:09 19:41:07", .02
	if len(args) > 3 {
		c.Bias, c.Protect = number(ts, args[3]), 0
	}
	if len(args) > 4 {
		c.Model = args[4]
	}
	var s scene.Shot
	var err error
	if what := args[1]; what == "chart" {
		labs := colorspace.ChartPatches()
		s, err = scene.Chart{Take: scene.Take{Width: 700, Seed: 3, Camera: c}, Rows: 4, Cols: 6, Labs: labs[:], Gap: .12, Rim: .2, Margin: .08,
			Frame: colorspace.Lab{L: 22}, Ground: scene.Backdrop{Lab: colorspace.Lab{L: 60}}}.Shoot()
		ts.Check(err)
		corners := ""
		for _, p := range s.Truth.Grid.Corners {
			corners += fmt.Sprintf("%.1f,%.1f ", p[0], p[1])
		}
		ts.Setenv("CORNERS", corners)
	} else {
		t := tableOf(c, what)
		s, err = t.Shoot()
		ts.Check(err)
		for i, k := range s.Truth.Cards {
			r := k.Inside
			ts.Setenv(fmt.Sprintf("CARD%d", i+1), fmt.Sprintf("%d,%d,%d,%d", r.Min.X, r.Min.Y, r.Dx(), r.Dy()))
		}
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), s.Data, 0o644))
}

// tableOf is a table with plain scraps.
func tableOf(c scene.Camera, what string) scene.Table {
	t := scene.Table{Take: scene.Take{Width: 700, Seed: 3, Camera: c}, WidthCM: 60, Ground: scene.Backdrop{Lab: colorspace.Lab{L: 62}}, Flat: true}
	for i, l := range []float64{92, 80, 68, 50, 38, 28, 20} {
		t.Cloths = append(t.Cloths, scene.Cloth{Name: fmt.Sprint(i), Pattern: scene.Solid, Inks: []scene.Ink{{Lab: colorspace.Lab{L: l, A: 3, B: 4}, Share: 1}}})
		x := .15 + .2*float64(i%4)
		if what == "moved" {
			x += .012
		}
		t.Scraps = append(t.Scraps, scene.Scrap{Cloth: i, Cut: scene.Square, X: x, Y: .6 + .25*float64(i/4), W: 9, H: 8})
	}
	switch what {
	case "cards":
		t.Cards = []scene.Paper{{X: .2, Y: .2, W: 12, H: 9, Lab: colorspace.Lab{L: 95}}, {X: .8, Y: .25, W: 12, H: 9, Lab: scene.GreyCard()}}
	case "other":
		t.Scraps = nil
		t.Seed = 4
	}
	return t
}

// stripRecord writes the photo anew as a messenger does, without its record.
func stripRecord(ts *testscript.TestScript, _ bool, args []string) {
	data, err := os.ReadFile(ts.MkAbs(args[0]))
	ts.Check(err)
	img, _, err := image.Decode(bytes.NewReader(data))
	ts.Check(err)
	var b bytes.Buffer
	ts.Check(jpeg.Encode(&b, img, &jpeg.Options{Quality: 92}))
	ts.Check(os.WriteFile(ts.MkAbs(args[1]), b.Bytes(), 0o644))
}
