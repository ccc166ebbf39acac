package grid

import (
	"bytes"
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"image/jpeg"
	"maps"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"greige/analyze/light"
	"greige/analyze/photo"
	"greige/analyze/scene"
	"greige/colorspace"
)

var (
	photos  = flag.String("photos", "", "a folder of real photos, for the ablation benchmark")
	answers = flag.String("answers", "", "where their patches lie: JSON with charts and grids, each by file name, and in each rows, cols, corners in pixels, and alt, the counts of a board's whole squares")
	tops    = flag.Int("tops", 6, "drawn tops for the ablation benchmark, half of them from -fresh on")
	fresh   = flag.Uint64("fresh", 9100, "the first seed of tops that nobody has looked at, for the ablation benchmark")
	only    = flag.String("only", "", "the passes to leave out in the ablation benchmark, each by itself, with commas between")
)

// ablated is a picture whose grid is known.
type ablated struct {
	set        string
	p          *photo.Picture
	rows, cols int
	alt        []int
	onPoint    bool
	corners    []Point // in pixels of p
	far        float64 // as far from them, in pixels, a corner may lie
}

// right tells whether a grid is the true one, seen from any side.
func (a *ablated) right(g *Grid) bool {
	is := func(rows, cols int) bool {
		return g.Rows == rows && g.Cols == cols || g.Rows == cols && g.Cols == rows
	}
	if len(a.alt) == 2 && is(a.alt[0], a.alt[1]) {
		return true
	}
	nearest := 0.0
	if a.corners != nil {
		nearest = math.Inf(1)
		for turn := range 4 {
			most := 0.0
			for i, c := range a.corners {
				d := g.Corners[(i+turn)%4]
				most = max(most, math.Hypot(c[0]-d[0], c[1]-d[1]))
			}
			nearest = min(nearest, most)
		}
	}
	return is(a.rows, a.cols) && nearest < a.far && (g.Setting == OnPoint) == a.onPoint
}

// BenchmarkAblation leaves out one pass after the other, with nothing given: how many
// grids are right, sure, and wrong and sure, of drawn tops and, where flags give them,
// of real charts and boards; and the time beside that with all passes.
func BenchmarkAblation(b *testing.B) {
	variants := []struct {
		name string
		off  passes
	}{
		{"nothing", passes{}}, {"outline", passes{outline: true}}, {"divide", passes{divide: true}}, {"rings", passes{rings: true}},
		{"squares", passes{squares: true}}, {"strings", passes{strings: true}}, {"pencils", passes{pencils: true}},
		{"early", passes{early: true}}, {"again", passes{again: true}}, {"gaps", passes{gaps: true}},
		{"bend", passes{bend: true}}, {"trim", passes{trim: true}}, {"extend", passes{extend: true}}, {"lead", passes{lead: true}},
		{"curvature", passes{curvature: true}}, {"further", passes{further: true}},
	}
	all := append(drawnTops(b), realGrids(b)...)
	var sets []string
	for _, a := range all {
		if !slices.Contains(sets, a.set) {
			sets = append(sets, a.set)
		}
	}
	for b.Loop() { // once
		whole := time.Duration(0)
		for _, v := range variants {
			if *only != "" && v.name != "nothing" && !slices.Contains(strings.Split(*only, ","), v.name) {
				continue
			}
			type tally struct{ n, right, sure, wrong int }
			of := map[string]*tally{}
			start := time.Now()
			for _, a := range all {
				if of[a.set] == nil {
					of[a.set] = &tally{}
				}
				t := of[a.set]
				t.n++
				g, err := Find(a.p, Hints{off: v.off})
				if err != nil {
					continue
				}
				right := a.right(g)
				for n, is := range map[*int]bool{&t.right: right, &t.sure: g.Found, &t.wrong: g.Found && !right} {
					if is {
						*n++
					}
				}
			}
			spent := time.Since(start)
			if v.name == "nothing" {
				whole = spent
			}
			line := fmt.Sprintf("without %-10s", v.name)
			for _, set := range sets {
				t := of[set]
				line += fmt.Sprintf(" | %s of %d: right %d, sure %d, wrong and sure %d", set, t.n, t.right, t.sure, t.wrong)
			}
			fmt.Printf("%s | time %.2f\n", line, spent.Seconds()/whole.Seconds()) // b.Log keeps ten lines only
		}
	}
}

// drawnTops are drawn tops, half of them of the seeds of BenchmarkAccuracy.
func drawnTops(b *testing.B) (out []*ablated) {
	var light [256]float32
	for i := range light {
		light[i] = float32(colorspace.DecodeSRGB(float64(i) / 255))
	}
	for i := range *tops {
		a := &ablated{set: "drawn"}
		seed := 2000 + uint64(i/2)
		if i%2 == 1 {
			a.set, seed = "fresh", *fresh+uint64(i/2)
		}
		shot, err := scene.AnyTop(seed).Shoot()
		require.NoError(b, err)
		img, err := jpeg.Decode(bytes.NewReader(shot.Data))
		require.NoError(b, err)
		a.p = photo.New(img.Bounds().Dx(), img.Bounds().Dy())
		for k := range a.p.W * a.p.H {
			r, g, bl, _ := img.At(k%a.p.W, k/a.p.W).RGBA()
			a.p.Pix[3*k], a.p.Pix[3*k+1], a.p.Pix[3*k+2] = light[r>>8], light[g>>8], light[bl>>8]
		}
		g := shot.Truth.Grid
		a.rows, a.cols, a.onPoint, a.corners, a.far = g.Rows, g.Cols, g.OnPoint, g.Corners, .01*float64(shot.Truth.Width)
		out = append(out, a)
	}
	return out
}

// realGrids are the real charts and boards; none without the flags. A corner may lie .6
// of a patch off: a board's rim.
func realGrids(b *testing.B) (out []*ablated) {
	if *photos == "" {
		return nil
	}
	data, err := os.ReadFile(*answers)
	require.NoError(b, err)
	var sets map[string]json.RawMessage
	require.NoError(b, json.Unmarshal(data, &sets))
	for _, set := range []string{"charts", "grids"} {
		var named map[string]struct {
			Rows, Cols int
			Corners    []Point
			Alt        []int
		}
		require.NoError(b, json.Unmarshal(sets[set], &named))
		for _, name := range slices.Sorted(maps.Keys(named)) {
			t := named[name]
			p, err := photo.Open(context.Background(), filepath.Join(*photos, name), photo.Limits{})
			require.NoError(b, err)
			even, err := light.New(p, light.Options{}, light.Top)
			require.NoError(b, err)
			a := &ablated{set: set, p: even.Picture, rows: t.Rows, cols: t.Cols, alt: t.Alt}
			k := float64(max(p.Reduction, 1))
			for _, c := range t.Corners {
				a.corners = append(a.corners, Point{c[0] / k, c[1] / k})
			}
			if a.corners != nil {
				a.far = .6 * math.Hypot(a.corners[1][0]-a.corners[0][0], a.corners[1][1]-a.corners[0][1]) / float64(t.Cols)
			} else {
				a.far = 1 // nothing to be far from
			}
			out = append(out, a)
		}
	}
	return out
}
