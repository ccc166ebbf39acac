package light_test

import (
	"context"
	"encoding/csv"
	"flag"
	"fmt"
	"image"
	"maps"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
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
	photos = flag.String("photos", "", "a folder of the real photos of testdata/real, for the ablation benchmark")
	scenes = flag.Int("scenes", 6, "drawn scenes of each kind, for the ablation benchmark")
)

// BenchmarkAblation leaves out one pass after the other. Of drawn tables and tops, and
// of real charts where a flag gives the photos, it tells the median of |dL*| with the
// photo's own median error taken out (off) and, where the level is known, without that
// (abs), the share of truths inside their intervals (in), of how many photos the level
// was known (known), and the time beside that with all passes.
func BenchmarkAblation(b *testing.B) {
	kinds := []string{"table", "top", "close-up", "chart", "chart, white card", "chart, grey card"}
	names := append([]string{"nothing"}, light.Passes...)
	tallies := map[string][]ablated{}
	for _, k := range kinds {
		tallies[k] = make([]ablated, len(names))
	}
	try := func(kind string, t target, opt light.Options, hint light.Hint) {
		for i, name := range names {
			start := time.Now()
			e, err := light.New(t.photo, light.Without(opt, name), hint)
			require.NoError(b, err, t.photo.Name)
			if hint == light.Top {
				e = e.LevelTop(t.outlines)
			}
			tallies[kind][i].spent += time.Since(start)
			tallies[kind][i].add(e, t.spots)
		}
	}
	for seed := range uint64(*scenes) {
		table, top := scene.AnyTable(2000+seed), scene.AnyTop(2000+seed)
		table.Width, top.Width = 900, 900
		if s, err := table.Shoot(); err == nil { // else no room for so many pieces
			try("table", drawnTarget(b, s), light.Options{}, light.ScrapsOnGround)
		}
		if s, err := top.Shoot(); err == nil {
			try("top", drawnTarget(b, s), light.Options{}, light.Top)
		}
		for _, c := range scene.AnyCloseups(2000+seed, 2, true) {
			c.Width = 700
			s, err := c.Shoot()
			require.NoError(b, err)
			try("close-up", drawnTarget(b, s), light.Options{}, light.OneCloth)
		}
	}
	eachChart(b, func(t target) {
		try("chart", t, light.Options{}, light.Top)
		try("chart, white card", t.without(18), light.Options{Cards: []light.Card{t.card(18)}}, light.Top)
		try("chart, grey card", t.without(21), light.Options{Cards: []light.Card{t.card(21)}}, light.Top)
	})
	for b.Loop() { // once: the work is done
	}
	for _, k := range kinds {
		fmt.Printf("%-24s %6s %6s %6s %6s %5s\n", k+", without", "off", "abs", "in", "known", "time")
		for i, name := range names {
			a, all := &tallies[k][i], &tallies[k][0]
			fmt.Printf("%-24s %6.3f %6.3f %6.3f %6d %5.2f\n", name, median(a.off), median(a.abs), a.inside/max(a.n, 1), a.known, a.spent.Seconds()/max(all.spent.Seconds(), 1e-9))
		}
	}
}

func median(v []float64) float64 {
	if len(v) == 0 {
		return math.NaN()
	}
	return quantile(v, .5)
}

// ablated is what is measured without a pass.
type ablated struct {
	off, abs  []float64
	inside, n float64
	known     int
	spent     time.Duration
}

func (a *ablated) add(e *light.Even, spots []spot) {
	var errs []float64
	for _, s := range spots {
		mean, l := s.mean(e)
		d, _ := e.Doubt(s.box, mean, 0, 0)
		errs = append(errs, l-s.truth)
		if a.n++; math.Abs(l-s.truth) < d.Half(e.References()) {
			a.inside++
		}
	}
	for _, v := range errs {
		a.off = append(a.off, math.Abs(v-quantile(errs, .5)))
		if e.LevelKnown {
			a.abs = append(a.abs, math.Abs(v))
		}
	}
	if e.LevelKnown {
		a.known++
	}
}

// spot is a surface of known lightness: pixels of the working picture.
type spot struct {
	truth float64
	in    []int
	box   image.Rectangle
}

// mean is the spot's mean light in an evened photo, and its L* as a cloth has it.
func (s *spot) mean(e *light.Even) (mean colorspace.Linear, l float64) {
	for _, i := range s.in {
		for k := range mean {
			mean[k] += float64(e.Picture.Pix[3*i+k]) / float64(len(s.in))
		}
	}
	return mean, colorspace.Lightness(e.Rendered(mean).Y())
}

// spotOf is the spot of the pixels whose middles hold.
func spotOf(p *photo.Photo, truth float64, holds func(x, y int) bool) spot {
	s := spot{truth: truth}
	k := max(p.Reduction, 1)
	for y := range p.Picture.H {
		for x := range p.Picture.W {
			if holds(x*k+k/2, y*k+k/2) {
				s.in = append(s.in, y*p.Picture.W+x)
				s.box = s.box.Union(image.Rect(x, y, x+1, y+1))
			}
		}
	}
	return s
}

// target is a photo whose surfaces are known.
type target struct {
	photo    *photo.Photo
	spots    []spot
	outlines [][][2]float64 // of a top's patches, in working pixels
}

func drawnTarget(b *testing.B, s scene.Shot) target {
	t := target{photo: open(b, s)}
	k := float64(max(t.photo.Reduction, 1))
	for i, q := range s.Truth.Pieces {
		m := s.Mask(i)
		const rim = 3 // into which the lens mixes what lies beside it
		t.spots = append(t.spots, spotOf(t.photo, q.Lab.L, func(x, y int) bool {
			return m.GrayAt(x-rim, y).Y == 255 && m.GrayAt(x+rim, y).Y == 255 && m.GrayAt(x, y-rim).Y == 255 && m.GrayAt(x, y+rim).Y == 255
		}))
	}
	if s.Truth.Grid != nil {
		for _, q := range s.Truth.Grid.Patches {
			t.spots = append(t.spots, spotOf(t.photo, q.Lab.L, inside(q.Outline, .7)))
			var o [][2]float64
			for _, c := range q.Outline {
				o = append(o, [2]float64{c[0] / k, c[1] / k})
			}
			t.outlines = append(t.outlines, o)
		}
	}
	t.spots = slices.DeleteFunc(t.spots, func(s spot) bool { return len(s.in) < 60 }) // slivers
	return t
}

// without is t but for one of its spots.
func (t target) without(i int) target {
	t.spots = slices.Delete(slices.Clone(t.spots), i, i+1)
	return t
}

// card is spot i as a card of known lightness.
func (t target) card(i int) light.Card {
	k, r := max(t.photo.Reduction, 1), t.spots[i].box
	return light.Card{Place: image.Rect(k*r.Min.X, k*r.Min.Y, k*r.Max.X, k*r.Max.Y), Lightness: t.spots[i].truth}
}

// eachChart calls do for the real charts, one after the other, by where testdata/real
// says that the middles of their patches lie; not for those of linear code values, which
// no camera makes.
func eachChart(b *testing.B, do func(t target)) {
	if *photos == "" {
		return
	}
	f, err := os.Open("../../testdata/real/chart_patches.csv")
	require.NoError(b, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(b, err)
	places := map[string]*[24][2]float64{}
	for _, row := range rows[1:] {
		if places[row[0]] == nil {
			places[row[0]] = &[24][2]float64{}
		}
		n, err := strconv.Atoi(row[1])
		require.NoError(b, err)
		for k := range 2 {
			places[row[0]][n-1][k], err = strconv.ParseFloat(row[7+k], 64)
			require.NoError(b, err)
		}
	}
	for _, name := range slices.Sorted(maps.Keys(places)) {
		p, err := photo.Open(context.Background(), filepath.Join(*photos, name), photo.Limits{})
		if err != nil || strings.HasPrefix(name, "luimoli") {
			continue
		}
		do(chartTarget(p, places[name]))
	}
}

func chartTarget(p *photo.Photo, places *[24][2]float64) target {
	t := target{photo: p}
	w, h := float64(p.Width), float64(p.Height)
	k := float64(max(p.Reduction, 1))
	at := func(n int) [2]float64 { return [2]float64{w * places[n][0], h * places[n][1]} }
	for n, lab := range colorspace.ChartPatches() {
		m := at(n)
		// Half of the way to a neighbour along the row and down the column.
		half := func(step, within int) (d [2]float64) {
			other, sign := n+step, .5
			if within == 0 {
				other, sign = n-step, -.5
			}
			o := at(other)
			return [2]float64{sign * (o[0] - m[0]), sign * (o[1] - m[1])}
		}
		u, v := half(1, 5-n%6), half(6, 3-n/6)
		quad := func(by, scale float64) (o [][2]float64) {
			for _, s := range [4][2]float64{{-1, -1}, {1, -1}, {1, 1}, {-1, 1}} {
				o = append(o, [2]float64{(m[0] + by*(s[0]*u[0]+s[1]*v[0])) / scale, (m[1] + by*(s[0]*u[1]+s[1]*v[1])) / scale})
			}
			return o
		}
		o := quad(.5, 1) // well inside the patch
		if u[0]*v[1]-u[1]*v[0] < 0 {
			slices.Reverse(o)
		}
		t.spots = append(t.spots, spotOf(p, lab.L, inside(o, 1)))
		t.outlines = append(t.outlines, quad(.84, k))
	}
	return t
}
