package analyze_test

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"greige/analyze"
	"greige/analyze/light"
	"greige/analyze/photo"
	"greige/analyze/scene"
	"greige/colorspace"
)

// photographed is a photo, in memory, of a plain cloth.
func photographed(name string, lab colorspace.Lab) analyze.Source {
	shot, err := scene.Closeup{
		Take:  scene.Take{Name: name, Width: 320, Seed: 1},
		Cloth: scene.NewCloth(name, scene.Solid, lab),
	}.Shoot()
	if err != nil {
		panic(err)
	}
	dir, err := os.MkdirTemp("", "")
	if err != nil {
		panic(err)
	}
	defer os.RemoveAll(dir)
	if err := scene.Write(dir, shot); err != nil {
		panic(err)
	}
	data, err := os.ReadFile(filepath.Join(dir, shot.Name))
	if err != nil {
		panic(err)
	}
	return photo.SourceOf(name, data)
}

// Photos need not be files: a Source is a name and its bytes. Single close-ups can be
// compared where their light is taken as it is.
func ExampleSortPhotos() {
	photos := []analyze.Source{
		photographed("plum.jpg", colorspace.Lab{L: 28, A: 22, B: -14}),
		photographed("straw.jpg", colorspace.Lab{L: 82, A: 2, B: 24}),
	}
	r, err := analyze.SortPhotos(context.Background(), photos, analyze.SortOptions{Settings: analyze.Settings{Light: light.Options{Mode: light.None}},
		Scraps: analyze.ScrapsOne, Piles: 2})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, f := range r.Sort.Fabrics {
		fmt.Println(f.Photo, f.Pile)
	}
	// Output:
	// plum.jpg dark
	// straw.jpg light
}

// A session measures a photo once, however often something is put right.
func ExampleSession() {
	table := photographed("table.jpg", colorspace.Lab{L: 50, A: 10, B: 10})
	session := analyze.NewSession(0)
	sort := func(c *analyze.Corrections) {
		opt := analyze.SortOptions{Settings: analyze.Settings{Corrections: c}}
		r, err := session.SortPhotos(context.Background(), []analyze.Source{table}, opt)
		if err != nil {
			fmt.Println(err)
			return
		}
		fmt.Println(len(r.Sort.Fabrics), "cloth")
	}
	sort(nil)
	sum, _ := table.Sum(photo.Limits{})
	var right *analyze.Corrections
	sort(right.With(analyze.PhotoCorrections{Photo: table.Name, SHA256: sum, Pieces: []analyze.GivenPiece{
		{Outline: [][2]float64{{20, 20}, {120, 20}, {120, 120}, {20, 120}}, Cloth: true},
		{Outline: [][2]float64{{180, 20}, {280, 20}, {280, 120}, {180, 120}}, Cloth: true},
	}}))
	// Output:
	// 1 cloth
	// 2 cloth
}

// A file that does not fit is refused with the line.
func ExampleReadCorrections() {
	_, err := analyze.ReadCorrections(strings.NewReader(`{
  "schema": "greige-corrections/1",
  "photos": [{"photo": "table.jpg", "sha256": "12"}]
}`))
	fmt.Println(err)
	// Output: line 3: sha256 is 64 hexadecimal digits
}

func ExampleCorrections_Write() {
	var c *analyze.Corrections
	c = c.With(analyze.PhotoCorrections{Photo: "table.jpg", SHA256: strings.Repeat("0", 64), Scraps: analyze.ScrapsMany})
	var file bytes.Buffer
	if err := c.Write(&file); err != nil {
		fmt.Println(err)
	}
	fmt.Print(file.String())
	// Output:
	// {
	//  "schema": "greige-corrections/1",
	//  "photos": [
	//   {
	//    "photo": "table.jpg",
	//    "sha256": "0000000000000000000000000000000000000000000000000000000000000000",
	//    "scraps": "many"
	//   }
	//  ]
	// }
}
