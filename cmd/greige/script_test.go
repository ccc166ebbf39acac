package main

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"

	"greige/colorspace"
)

func TestMain(m *testing.M) {
	// No test reads or writes the stash of whoever runs it.
	if os.Getenv(stashVariable) == "" {
		os.Setenv(stashVariable, filepath.Join(os.TempDir(), "greige-tests-have-no-stash", "stash.db"))
	}
	// No test reads what the developer's own phones were learned as.
	if os.Getenv("GREIGE_CAMERAS") == "" {
		os.Setenv("GREIGE_CAMERAS", filepath.Join(os.TempDir(), "greige-no-cameras"))
	}
	testscript.Main(m, map[string]func(){"greige": main})
}

// Each script in testdata/script runs the command as a person would. Before
// it, the commands below paint the photos that it needs:
//
//	plain FILE L A B        one cloth of that CIELAB colour, edge to edge
//	carded FILE L A B       the same with a card of L* 95 in its corner, 80 pixels square
//	checks FILE SIZE        black and white checks of SIZE pixels
//	top FILE CHART L L      patches 80 pixels wide, dark and light of those L*, on a pale wall
//	break FILE HOW          a file that means harm, or has come to it
//	phone FILE WHAT SEED [BIAS [MODEL]]
//	                        a photo by a drawn phone, with its record: of a chart, cards,
//	                        a still scene, the same moved, or another scene; sets CORNERS
//	                        of the chart, CARD1 and CARD2 of the cards
//	strip FILE FILE         the same photo without its record
func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir: "testdata/script",
		Setup: func(e *testscript.Env) error {
			e.Setenv(stashVariable, filepath.Join(e.WorkDir, "stash.db"))
			return nil
		},
		Cmds: map[string]func(ts *testscript.TestScript, neg bool, args []string){
			"plain":  paintPlain,
			"carded": paintCarded,
			"checks": paintChecks,
			"top":    paintTop,
			"cut":    cutShort,
			"same":   sameBytes,
			"break":  breakPhoto,
			"phone":  takePhoto,
			"strip":  stripRecord,
		},
	})
}

func paintPlain(ts *testscript.TestScript, _ bool, args []string) {
	c := colour(number(ts, args[1]), number(ts, args[2]), number(ts, args[3]))
	save(ts, args[0], picture(360, 280, func(int, int) color.Color { return c }))
}

func paintCarded(ts *testscript.TestScript, _ bool, args []string) {
	c, card := colour(number(ts, args[1]), number(ts, args[2]), number(ts, args[3])), colour(95, 0, 0)
	save(ts, args[0], picture(360, 280, func(x, y int) color.Color {
		if x < 80 && y < 80 {
			return card
		}
		return c
	}))
}

func paintChecks(ts *testscript.TestScript, _ bool, args []string) {
	size := int(number(ts, args[1]))
	save(ts, args[0], picture(800, 640, func(x, y int) color.Color {
		if (x/size+y/size)%2 == 0 {
			return color.White
		}
		return color.Black
	}))
}

func paintTop(ts *testscript.TestScript, _ bool, args []string) {
	rows := strings.Split(args[1], "/")
	dark, light, wall := colour(number(ts, args[2]), 5, -20), colour(number(ts, args[3]), 0, 12), colour(80, 0, 2)
	const side, margin = 80, 40
	save(ts, args[0], picture(len(rows[0])*side+2*margin, len(rows)*side+2*margin, func(x, y int) color.Color {
		r, c := (y-margin)/side, (x-margin)/side
		switch {
		case x < margin || y < margin || r >= len(rows) || c >= len(rows[0]):
			return wall
		case rows[r][c] == 'D':
			return dark
		default:
			return light
		}
	}))
}

// cutShort keeps the first share of a file.
func cutShort(ts *testscript.TestScript, _ bool, args []string) {
	data, err := os.ReadFile(ts.MkAbs(args[0]))
	ts.Check(err)
	ts.Check(os.WriteFile(ts.MkAbs(args[1]), data[:len(data)*2/3], 0o644))
}

// sameBytes checks that two files are equal to the byte, or with ! that they
// are not.
func sameBytes(ts *testscript.TestScript, neg bool, args []string) {
	a, err := os.ReadFile(ts.MkAbs(args[0]))
	ts.Check(err)
	b, err := os.ReadFile(ts.MkAbs(args[1]))
	ts.Check(err)
	if bytes.Equal(a, b) == neg {
		ts.Fatalf("%s and %s: equal is %v", args[0], args[1], !neg)
	}
}

func picture(w, h int, at func(x, y int) color.Color) image.Image {
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			img.Set(x, y, at(x, y))
		}
	}
	return img
}

func colour(l, a, b float64) color.Color {
	c := colorspace.Lab{L: l, A: a, B: b}.Linear().SRGB8()
	return color.RGBA{c[0], c[1], c[2], 255}
}

func number(ts *testscript.TestScript, s string) float64 {
	v, err := strconv.ParseFloat(s, 64)
	ts.Check(err)
	return v
}

func save(ts *testscript.TestScript, name string, img image.Image) {
	path := ts.MkAbs(name)
	ts.Check(os.MkdirAll(filepath.Dir(path), 0o755))
	var b bytes.Buffer
	switch ext := filepath.Ext(name); ext {
	case ".jpg":
		ts.Check(jpeg.Encode(&b, img, &jpeg.Options{Quality: 95}))
	case ".png":
		ts.Check(png.Encode(&b, img))
	default:
		ts.Fatalf("%s", fmt.Sprintf("no pictures of kind %q", ext))
	}
	ts.Check(os.WriteFile(path, b.Bytes(), 0o644))
}
