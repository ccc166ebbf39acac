package analyze_test

import (
	"context"
	"encoding/csv"
	"encoding/json"
	"flag"
	"fmt"
	"image"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"greige/analyze"
	"greige/analyze/camera"
	"greige/analyze/cloth"
	"greige/analyze/grid"
	"greige/analyze/light"
	"greige/analyze/photo"
	"greige/colorspace"
)

// The accuracy on photos that other people took (testdata/real/README.md).
// The photos are no part of the project: without their folder the benchmarks
// of them say so and measure nothing.
var (
	realPhotos = flag.String("real", "", "folder of the photos named in testdata/real/photos.json, for the benchmarks of real photos")
	realOnly   = flag.String("real-only", "", "only the real photos whose names begin so")
)

// annotated is a photo in testdata/real/photos.json. Which fields it has
// depends on what it shows.
type annotated struct {
	name       string
	Repo       string
	Class      string // "phone", "camera", "webcam", "stock"
	Main       bool
	Rows, Cols int
	Corners    [][2]float64
	Order      string // how a chart lies
	Sheet      []int  // x, y, width, height of white paper beside a chart
	Alt        []int  // rows and columns of a board's whole squares
	Checker    int
	Pieces     [][]*float64 // x, y, area
}

// annotatedPhotos are the photos of one part ("charts", "grids", "loose",
// "cloths") in order of their names, those that are in the folder.
func annotatedPhotos(b *testing.B, part string) []annotated {
	b.Helper()
	if *realPhotos == "" {
		b.Skip("no folder of photos: make bench-real PHOTOS=DIR (testdata/real/README.md says which)")
	}
	data, err := os.ReadFile("../testdata/real/photos.json")
	if err != nil {
		b.Fatal(err)
	}
	var parts map[string]map[string]annotated
	if err := json.Unmarshal(data, &parts); err != nil {
		b.Fatal(err)
	}
	var out []annotated
	missing := 0
	for name, a := range parts[part] {
		if !strings.HasPrefix(name, *realOnly) {
			continue
		}
		if _, err := os.Stat(filepath.Join(*realPhotos, name)); err != nil {
			missing++
			continue
		}
		a.name = name
		out = append(out, a)
	}
	if missing > 0 {
		fmt.Printf("%s: %d of %d photos are not in the folder\n", part, missing, missing+len(out))
	}
	if len(out) == 0 {
		b.Fatalf("%s: none of the photos is in the folder that was given (testdata/real/README.md says which)", *realPhotos)
	}
	slices.SortFunc(out, func(a, b annotated) int { return strings.Compare(a.name, b.name) })
	return out
}

func (a *annotated) path() string { return filepath.Join(*realPhotos, a.name) }

// patch is the number, 1 to 24, of a chart's patch in a row and a column from
// 1; orders as testdata/real/README.md has them.
func (a *annotated) patch(r, c int) int {
	switch a.Order {
	case "LIE180":
		return 25 - (6*(r-1) + c)
	case "LIEM":
		return 6*(r-1) + 7 - c
	case "STAND":
		return 6*(c-1) + 7 - r
	case "STANDCW":
		return 6*(4-c) + r
	case "STANDMCW":
		return 6*(c-1) + r
	}
	return 6*(r-1) + c
}

// square is a place well inside a patch, in pixels of the upright photo: .42
// of a patch wide, as the chart's sides are long in the photo.
func (a *annotated) square(number int) image.Rectangle {
	g, err := grid.FromCorners(math.MaxInt32, math.MaxInt32, a.Corners, a.Rows, a.Cols, grid.Straight)
	if err != nil {
		return image.Rectangle{}
	}
	to := a.Corners
	side := .42 * min(math.Hypot(to[1][0]-to[0][0], to[1][1]-to[0][1])/float64(a.Cols), math.Hypot(to[3][0]-to[0][0], to[3][1]-to[0][1])/float64(a.Rows))
	for _, p := range g.Patches {
		if a.patch(p.Row, p.Col) != number {
			continue
		}
		mid := crossing(p.Outline[0], p.Outline[2], p.Outline[1], p.Outline[3])
		x, y, n := int(math.Round(mid[0]-side/2)), int(math.Round(mid[1]-side/2)), max(3, int(side))
		return image.Rect(x, y, x+n, y+n)
	}
	return image.Rectangle{}
}

// crossing is where the line from a to b meets that from c to d: of a patch's diagonals
// the middle, whichever way it is seen from.
func crossing(a, b, c, d grid.Point) grid.Point {
	u, v := grid.Point{b[0] - a[0], b[1] - a[1]}, grid.Point{d[0] - c[0], d[1] - c[1]}
	t := ((c[0]-a[0])*v[1] - (c[1]-a[1])*v[0]) / (u[0]*v[1] - u[1]*v[0])
	return grid.Point{a[0] + t*u[0], a[1] + t*u[1]}
}

// readTable is a CSV as maps from the heads of its columns.
func readTable(b *testing.B, path string) []map[string]string {
	b.Helper()
	f, err := os.Open(path)
	if err != nil {
		b.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		b.Fatal(err)
	}
	var out []map[string]string
	for _, row := range rows[1:] {
		m := map[string]string{}
		for i, head := range rows[0] {
			m[head] = row[i]
		}
		out = append(out, m)
	}
	return out
}

func figure(b *testing.B, s string) float64 {
	b.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		b.Fatal(err)
	}
	return v
}

// publishedChart is the L* of patches 1 to 24 (index 0 is patch 1).
func publishedChart(b *testing.B) []float64 {
	var out []float64
	for _, row := range readTable(b, "../testdata/published/04_colour_rendition_chart.csv") {
		out = append(out, figure(b, row["L_D50_2005"]))
	}
	return out
}

// filePatches are the means of the patches' middles in linear light, as the
// files say them. Index 0 is the paper beside the chart, which is measured
// here, and 0 where there is none.
func filePatches(b *testing.B, photos []annotated) map[string]*[25]colorspace.Linear {
	out := map[string]*[25]colorspace.Linear{}
	for _, row := range readTable(b, "../testdata/real/chart_patches.csv") {
		if out[row["photo"]] == nil {
			out[row["photo"]] = &[25]colorspace.Linear{}
		}
		out[row["photo"]][int(figure(b, row["patch"]))] = colorspace.Linear{figure(b, row["r"]), figure(b, row["g"]), figure(b, row["b"])}
	}
	for _, a := range photos {
		if s := a.Sheet; s != nil && out[a.name] != nil {
			out[a.name][0] = meanLight(b, a.path(), image.Rect(s[0], s[1], s[0]+s[2], s[1]+s[3]))
		}
	}
	return out
}

// meanLight is the mean of a file's linear light over a place in pixels of the
// upright photo; over all of it when the place is empty.
func meanLight(b *testing.B, path string, in image.Rectangle) colorspace.Linear {
	b.Helper()
	p, err := photo.Open(context.Background(), path, photo.Limits{})
	if err != nil {
		b.Fatal(err)
	}
	k, whole := p.Reduction, image.Rect(0, 0, p.Picture.W, p.Picture.H)
	in = image.Rect(in.Min.X/k, in.Min.Y/k, in.Max.X/k, in.Max.Y/k).Intersect(whole)
	if in.Empty() {
		in = whole
	}
	var sum colorspace.Linear
	n := float64(in.Dx() * in.Dy())
	for y := in.Min.Y; y < in.Max.Y; y++ {
		for x := in.Min.X; x < in.Max.X; x++ {
			for j, v := range p.Picture.Pix[3*(y*p.Picture.W+x):][:3] {
				sum[j] += float64(v) / n
			}
		}
	}
	return sum
}

// card is a surface of known L* in a photo.
type card struct {
	at        image.Rectangle
	lightness float64
}

// giveCards puts the cards into the settings.
func giveCards(s *analyze.Settings, cards []card) {
	for _, c := range cards {
		s.Light.Cards = append(s.Light.Cards, light.Card{Place: c.at, Lightness: c.lightness})
	}
}

// chanceOfOrder is the chance, .5 to 1, that two cloths of one photo are in
// the order in which they were measured, as the program says it.
func chanceOfOrder(p, q *cloth.Cloth) float64 {
	return camera.Order(math.Abs(p.Lightness-q.Lightness), doubtOfDifference(p, q))
}

// doubtOfDifference is the scale of the difference of two cloths' L* in one photo.
func doubtOfDifference(p, q *cloth.Cloth) float64 {
	return max(camera.Difference(p.Doubt, q.Doubt), 1e-6)
}

// order is how often pairs that are said to be in order with some chance are:
// by chances from .5, .6, .7, .8 and .95 on.
type order struct{ pairs, said, kept [5]float64 }

var orderFrom = [5]float64{.5, .6, .7, .8, .95}

func (o *order) add(chance float64, right bool, weight float64) {
	k := 0
	for k < 4 && chance >= orderFrom[k+1] {
		k++
	}
	o.pairs[k] += weight
	o.said[k] += weight * chance
	if right {
		o.kept[k] += weight
	}
}

// String is for each class the chance that was said, the share that was kept,
// and the class's share of all pairs.
func (o *order) String() string {
	var out []string
	all := 0.0
	for _, n := range o.pairs {
		all += n
	}
	for k, n := range o.pairs {
		if n > 0 {
			out = append(out, fmt.Sprintf("said %.2f kept %.2f (%2.0f%%)", o.said[k]/n, o.kept[k]/n, 100*n/all))
		}
	}
	return strings.Join(out, "  ")
}

// quantile is that of NumPy: linear between the neighbours.
func quantile(v []float64, share float64) float64 {
	s := slices.Sorted(slices.Values(v))
	if len(s) == 0 {
		return math.NaN()
	}
	at := share * float64(len(s)-1)
	i := min(int(at), len(s)-1)
	j := min(i+1, len(s)-1)
	return s[i] + (at-float64(i))*(s[j]-s[i])
}

func absolute(v []float64) []float64 {
	out := make([]float64, len(v))
	for i, x := range v {
		out[i] = math.Abs(x)
	}
	return out
}

// layoutOf is the layout of a real photo, nil where nothing could be measured.
func layoutOf(b *testing.B, path string, opt analyze.LayoutOptions) *analyze.Result {
	b.Helper()
	r, err := analyze.Layout(context.Background(), path, opt)
	if err != nil || r.Layout == nil {
		return nil
	}
	return r
}
