package grid_test

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"image/jpeg"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"greige/analyze/grid"
	"greige/analyze/photo"
	"greige/analyze/scene"
	"greige/colorspace"
)

// counts are the top's rows and columns.
func (t *top) counts() (rows, cols int) {
	if t.setting == grid.OnPoint {
		return t.m + t.n + 1, t.m + t.n + 1
	}
	return len(t.rows), len(t.cols)
}

// right is whether rows, columns, setting and corners are those of the top:
// the corners within 1 % of the photo's width.
func (t *top) right(g *grid.Grid) bool {
	rows, cols := t.counts()
	return g.Rows == rows && g.Cols == cols && g.Setting == t.setting && furthest(t.outer[:], g.Corners[:]) <= .01*float64(t.w)
}

// furthest is the largest distance between points that belong together.
func furthest(a, b []grid.Point) float64 {
	worst := 0.0
	for i := range a {
		worst = max(worst, math.Hypot(a[i][0]-b[i][0], a[i][1]-b[i][1]))
	}
	return worst
}

// Tops of each kind, with nothing given: most are found, and none is called
// sure whose counts are wrong or whose corners are off by an eighth of a patch: as
// far from their seams patches are measured.
func TestFindWithoutHints(t *testing.T) {
	found := 0
	for i, kind := range topKinds {
		tp := newTop(kind, uint64(i+1), 720, 540)
		g, err := grid.Find(tp.draw(), grid.Hints{})
		if err != nil {
			continue
		}
		if tp.right(g) {
			found++
		} else if rows, cols := tp.counts(); g.Rows != rows || g.Cols != cols || furthest(tp.outer[:], g.Corners[:]) > math.Hypot(tp.outer[0][0]-tp.outer[1][0], tp.outer[0][1]-tp.outer[1][1])/float64(8*cols) {
			assert.False(t, g.Found, "%s: %d x %d %s found, %d x %d is true; corners off by %.1f pixels", kind, g.Rows, g.Cols, g.Setting, rows, cols, furthest(tp.outer[:], g.Corners[:]))
		}
		assert.Equal(t, g.Found, len(g.Messages) == 0, "%s: a doubt is said, and nothing else: %v", kind, g.Messages)
	}
	assert.GreaterOrEqual(t, found, len(topKinds)-3)
}

// With the corners given the rows and columns are counted; with the counts
// given too every crossing of the seams is found to a tenth of a patch.
func TestFindBetweenCorners(t *testing.T) {
	for _, kind := range []string{"scrappy", "sashed", "on point"} {
		tp := newTop(kind, 3, 720, 540)
		p := tp.draw()
		rows, cols := tp.counts()
		for _, hints := range []grid.Hints{{Corners: tp.outer[:]}, {Corners: tp.outer[:], Rows: rows, Cols: cols, Setting: tp.setting}} {
			g, err := grid.Find(p, hints)
			require.NoError(t, err, kind)
			require.True(t, tp.right(g), "%s: %d x %d %s found, %d x %d is true", kind, g.Rows, g.Cols, g.Setting, rows, cols)
			off := tp.crossingErrors(g)
			assert.Less(t, off[len(off)*19/20], .1, kind)
		}
	}
}

// crossingErrors are how far the patches' corners are from the true crossings
// of the seams, in patches, from the least to the largest.
func (t *top) crossingErrors(g *grid.Grid) []float64 {
	var out []float64
	w, h := t.size()
	side := math.Sqrt(signedArea(t.outer[:]) / (w * h))
	for _, p := range g.Patches {
		if p.Triangle {
			continue
		}
		var truth [4]grid.Point
		whole := true
		for k := range truth {
			di, dj := (k+1)/2%2, k/2
			if t.setting == grid.Straight {
				truth[k] = t.node(p.Col-1+di, p.Row-1+dj)
				continue
			}
			// From the top of the square: u grows down to the right, v up to the right.
			var ok bool
			truth[k], ok = t.latticeNode(p.Row-1+[4]int{0, 1, 1, 0}[k], p.Col-1+[4]int{1, 1, 0, 0}[k])
			whole = whole && ok
		}
		if !whole {
			continue
		}
		for _, q := range truth {
			near := math.Inf(1)
			for _, o := range p.Outline {
				near = min(near, math.Hypot(q[0]-o[0], q[1]-o[1]))
			}
			out = append(out, near/side)
		}
	}
	slices.Sort(out)
	return out
}

// The 24 colours of a rendition chart, black between them: four rows of six.
// Values: D50 CIELAB of 2005 (testdata/published), Bradford-adapted by scene.
func TestFindChart(t *testing.T) {
	p := chart(t)
	g, err := grid.Find(p, grid.Hints{})
	require.NoError(t, err)
	assert.Equal(t, [2]int{4, 6}, [2]int{g.Rows, g.Cols})
	assert.Equal(t, grid.Straight, g.Setting)
	assert.True(t, g.Found, "%v", g.Messages)
}

func chart(t *testing.T) *photo.Picture {
	t.Helper()
	f, err := os.Open(filepath.Join("..", "..", "testdata", "published", "04_colour_rendition_chart.csv"))
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	var labs []colorspace.Lab
	for _, r := range rows[1:] {
		var v [3]float64
		for i, name := range []string{"L_D50_2005", "a_D50_2005", "b_D50_2005"} {
			v[i], err = strconv.ParseFloat(r[slices.Index(rows[0], name)], 64)
			require.NoError(t, err)
		}
		labs = append(labs, colorspace.Lab{L: v[0], A: v[1], B: v[2]})
	}
	shot, err := scene.Chart{
		Take: scene.Take{Seed: 4, Width: 900, Camera: scene.Phone(), Light: scene.Light{Lamp: scene.Bulb, Ratio: 1.4}, View: scene.View{Tilt: 9, Side: -4, Roll: 3}},
		Rows: 4, Cols: 6, Labs: labs, Gap: .14, Frame: colorspace.Lab{L: 12}, Rim: .25, Margin: .1, Ground: scene.Backdrop{Ground: scene.Wall},
	}.Shoot()
	require.NoError(t, err)
	return decode(t, shot.Data)
}

// decode is a JPEG file as a picture.
func decode(t testing.TB, data []byte) *photo.Picture {
	t.Helper()
	img, err := jpeg.Decode(bytes.NewReader(data))
	require.NoError(t, err)
	p := photo.New(img.Bounds().Dx(), img.Bounds().Dy())
	for y := range p.H {
		for x := range p.W {
			r, g, b, _ := img.At(x, y).RGBA()
			for k, v := range [3]uint32{r, g, b} {
				p.Pix[3*(y*p.W+x)+k] = decoded[v>>8]
			}
		}
	}
	return p
}

func TestFindWarnsOfWrongCounts(t *testing.T) {
	tp := &top{setting: grid.Straight, cols: ones(6), rows: ones(9), w: 480, h: 640, margin: .1, noise: .004, ground: "wall"}
	tp.cloths = []cloth{{kind: "solid", inks: [3][3]float64{{.6, .55, .5}}}, {kind: "solid", inks: [3][3]float64{{.1, .12, .3}}}}
	for j := range tp.rows {
		tp.which = append(tp.which, nil)
		for i := range tp.cols {
			tp.which[j] = append(tp.which[j], (i+j)%2)
		}
	}
	tp.ready()
	p := tp.draw()
	g, err := grid.Find(p, grid.Hints{Rows: 5, Cols: 6, Corners: tp.outer[:]})
	require.NoError(t, err)
	assert.Equal(t, 5, g.Rows, "what is given is taken")
	assert.False(t, g.Found)
	require.NotEmpty(t, g.Messages)
	assert.Contains(t, g.Messages[0], "5 rows were given")
	assert.Contains(t, g.Messages[0], "9")
	assert.Contains(t, g.Messages[0], "--rows")

	g, err = grid.Find(p, grid.Hints{Rows: 9, Cols: 6, Corners: tp.outer[:]})
	require.NoError(t, err)
	assert.True(t, g.Found)
	assert.Empty(t, g.Messages)

	g, err = grid.Find(p, grid.Hints{Rows: 9, Cols: 6})
	require.NoError(t, err)
	assert.True(t, tp.right(g))

	for _, wrong := range []grid.Hints{{Setting: "diagonal"}, {Setting: grid.OnPoint, Rows: 9, Cols: 6}} {
		_, err := grid.Find(p, wrong)
		var e *grid.Error
		require.True(t, errors.As(err, &e))
		assert.Contains(t, e.Hint, "--setting")
	}
	for _, corners := range [][]grid.Point{
		tp.outer[:3],
		{tp.outer[0], tp.outer[1], tp.outer[3], tp.outer[2]},
		{tp.outer[0], {9000, 10}, tp.outer[2], tp.outer[3]},
	} {
		_, err := grid.Find(p, grid.Hints{Corners: corners})
		var e *grid.Error
		require.True(t, errors.As(err, &e))
		assert.Contains(t, e.Hint, "--corners")
	}
}

// Pictures that show no top: no panic, and never a sure grid.
func TestFindInOddPictures(t *testing.T) {
	plain := func(w, h int, light func(x, y int) float32) *photo.Picture {
		p := photo.New(w, h)
		for y := range h {
			for x := range w {
				for k := range 3 {
					p.Pix[3*(y*w+x)+k] = light(x, y)
				}
			}
		}
		return p
	}
	nan := float32(math.NaN())
	noise := func(x, y int) float32 { return float32(hash2(7, x, y)) }
	pictures := map[string]*photo.Picture{
		"empty":     photo.New(0, 0),
		"one pixel": plain(1, 1, noise),
		"thread":    plain(3, 2000, noise),
		"ribbon":    plain(2000, 3, noise),
		"tiny":      plain(9, 7, noise),
		"black":     plain(96, 72, func(x, y int) float32 { return 0 }),
		"grey":      plain(96, 72, func(x, y int) float32 { return .2 }),
		"noise":     plain(96, 72, noise),
		"dazzling":  plain(96, 72, func(x, y int) float32 { return 1e6 * noise(x, y) }),
		"nothing":   plain(96, 72, func(x, y int) float32 { return nan }),
	}
	for name, p := range pictures {
		w, h := float64(p.W), float64(p.H)
		corners := []grid.Point{{.1 * w, .1 * h}, {.9 * w, .1 * h}, {.9 * w, .9 * h}, {.1 * w, .9 * h}}
		for _, hints := range []grid.Hints{
			{}, {Setting: grid.OnPoint}, {Rows: 4, Cols: 4}, {Rows: 4}, {Rows: 5, Cols: 5, Setting: grid.OnPoint},
			{Corners: corners}, {Corners: corners, Setting: grid.OnPoint}, {Corners: corners, Rows: 3, Cols: 3}, {Corners: corners, Rows: 5, Cols: 5, Setting: grid.OnPoint},
		} {
			g, err := grid.Find(p, hints)
			if err != nil {
				var e *grid.Error
				assert.True(t, errors.As(err, &e), name)
				assert.Contains(t, e.Hint, "--", name)
				continue
			}
			// All that is given is taken for right.
			if hints.Corners == nil || hints.Rows == 0 {
				assert.False(t, g.Found, "%s %+v: %d x %d", name, hints, g.Rows, g.Cols)
				assert.NotEmpty(t, g.Messages, name)
				assert.True(t, strings.Contains(strings.Join(g.Messages, " "), "--"), name)
			}
			for _, q := range g.Patches {
				for _, o := range q.Outline {
					require.False(t, math.IsNaN(o[0]+o[1]) || math.IsInf(o[0]+o[1], 0), fmt.Sprint(name, hints))
				}
			}
		}
	}
}

// The same picture gives the same grid.
func TestFindIsSteady(t *testing.T) {
	p := newTop("few", 2, 480, 360).draw()
	a, err := grid.Find(p, grid.Hints{})
	require.NoError(t, err)
	b, err := grid.Find(p, grid.Hints{})
	require.NoError(t, err)
	assert.Equal(t, a, b)
}
