package light_test

import (
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"image"
	"maps"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"greige/analyze/grid"
	"greige/analyze/light"
	"greige/analyze/photo"
	"greige/analyze/scene"
	"greige/colorspace"
)

var (
	photos = flag.String("photos", "", "")
	scenes = flag.Int("scenes", 6, "")
	only   = flag.String("only", "", "")
)

type tally struct {
	off, abs, need []float64
	in, n          float64
	known, shadows int
	spent          time.Duration
}

type seenPiece struct{ l, truth, half float64 }

func (t *tally) add(fs []seenPiece, abs bool) {
	if len(fs) == 0 {
		return
	}
	var e []float64
	for _, f := range fs {
		e = append(e, f.l-f.truth)
	}
	mid := quantile(e, .5)
	for i, f := range fs {
		t.off = append(t.off, math.Abs(e[i]-mid))
		if abs {
			t.abs = append(t.abs, math.Abs(e[i]))
		}
		t.need = append(t.need, math.Abs(e[i])/f.half)
		if math.Abs(e[i]) < f.half {
			t.in++
		}
		t.n++
	}
}

func (t *tally) String() string {
	q := func(v []float64, p float64) float64 {
		if len(v) == 0 {
			return math.NaN()
		}
		return quantile(v, p)
	}
	return fmt.Sprintf("off %.3f %.2f abs %.3f %.2f in %.3f need %.2f known %d shadow %d %.2fs", q(t.off, .5), q(t.off, .95), q(t.abs, .5), q(t.abs, .95), t.in/t.n, q(t.need, .95), t.known, t.shadows, t.spent.Seconds())
}

type spot struct {
	truth float64
	in    []int // pixels
	box   image.Rectangle
}

func look(e *light.Even, spots []spot) []seenPiece {
	var out []seenPiece
	for _, s := range spots {
		var sum colorspace.Linear
		n := 0.
		for _, i := range s.in {
			v := e.Picture.Pix[3*i : 3*i+3]
			for k := range sum {
				sum[k] += float64(v[k])
			}
			n++
		}
		for k := range sum {
			sum[k] /= n
		}
		l := e.Rendered(sum)
		d, _ := e.Doubt(s.box, sum, 0, 0)
		out = append(out, seenPiece{colorspace.Lightness(l.Y()), s.truth, d.Half(1)})
	}
	return out
}

func spotsOf(p *photo.Photo, parts []outlined) []spot {
	k := float64(max(p.Reduction, 1))
	var out []spot
	for _, t := range parts {
		s := spot{truth: t.truth}
		for y := range p.Picture.H {
			for x := range p.Picture.W {
				if t.in(int((float64(x)+.5)*k), int((float64(y)+.5)*k)) {
					s.in = append(s.in, y*p.Picture.W+x)
					s.box = s.box.Union(image.Rect(x, y, x+1, y+1))
				}
			}
		}
		if len(s.in) > 60 {
			out = append(out, s)
		}
	}
	return out
}

type outlined struct {
	truth float64
	in    func(x, y int) bool
}

type chartNote struct {
	Main       bool
	Rows, Cols int
	Corners    [][2]float64
	Order      string
	Sheet      []int
}

func (a *chartNote) patch(r, c int) int {
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

var chartL = []float64{37.986, 65.711, 49.927, 43.139, 55.112, 70.719, 62.661, 40.020, 51.124, 30.325, 72.532, 71.941, 28.778, 55.261, 42.101, 81.733, 51.935, 51.038, 96.539, 81.257, 66.766, 50.867, 35.656, 20.461}

func BenchmarkAblation(b *testing.B) {
	cases := append([]string{"all"}, light.Passes...)
	now := ""
	if *only != "" {
		cases = strings.Split(*only, ",")
	}
	kinds := []string{"table", "top", "closeup", "chart auto", "chart 19", "chart 22", "false"}
	all := map[string]map[string]*tally{}
	for _, k := range kinds {
		all[k] = map[string]*tally{}
		for _, c := range cases {
			all[k][c] = &tally{}
		}
	}
	try := func(kind string, see func(t *tally)) {
		for _, c := range cases {
			now = c
			start := time.Now()
			see(all[kind][c])
			all[kind][c].spent += time.Since(start)
		}
	}
	shadowed := func(t *tally, e *light.Even) {
		if strings.Contains(e.Record.Note, "shadow") {
			t.shadows++
		}
		if e.LevelKnown {
			t.known++
		}
	}
	for i := range *scenes {
		seed := uint64(2000 + i)
		tb := scene.AnyTable(seed)
		tb.Width = 900
		if s, err := tb.Shoot(); err == nil {
			p := open(b, s)
			var parts []outlined
			for j, q := range s.Truth.Pieces {
				m := s.Mask(j)
				parts = append(parts, outlined{q.Lab.L, func(x, y int) bool {
					return m.GrayAt(x, y).Y == 255 && m.GrayAt(x-3, y).Y == 255 && m.GrayAt(x+3, y).Y == 255 && m.GrayAt(x, y-3).Y == 255 && m.GrayAt(x, y+3).Y == 255
				}})
			}
			sp := spotsOf(p, parts)
			try("table", func(t *tally) {
				e, err := light.New(p, light.Without(light.Options{}, now), light.ScrapsOnGround)
				require.NoError(b, err)
				shadowed(t, e)
				t.add(look(e, sp), e.LevelKnown)
			})
		}
		tp := scene.AnyTop(seed)
		tp.Width = 900
		if s, err := tp.Shoot(); err == nil {
			p := open(b, s)
			var parts []outlined
			var outlines [][][2]float64
			k := float64(max(p.Reduction, 1))
			for _, q := range s.Truth.Grid.Patches {
				parts = append(parts, outlined{q.Lab.L, inside(q.Outline, .7)})
				var o [][2]float64
				for _, c := range q.Outline {
					o = append(o, [2]float64{c[0] / k, c[1] / k})
				}
				outlines = append(outlines, o)
			}
			sp := spotsOf(p, parts)
			try("top", func(t *tally) {
				e, err := light.New(p, light.Without(light.Options{}, now), light.Top)
				require.NoError(b, err)
				e = e.LevelTop(outlines)
				shadowed(t, e)
				t.add(look(e, sp), e.LevelKnown)
			})
		}
		for _, cl := range scene.AnyCloseups(seed, 3, true) {
			cl.Width = 700
			if s, err := cl.Shoot(); err == nil {
				p := open(b, s)
				m := s.Mask(0)
				sp := spotsOf(p, []outlined{{s.Truth.Pieces[0].Lab.L, func(x, y int) bool { return m.GrayAt(x, y).Y == 255 }}})
				for j := range sp { // whoever lays a card there knows where it lies
					sp[j].in = slices.DeleteFunc(sp[j].in, func(i int) bool { return false })
				}
				try("closeup", func(t *tally) {
					e, err := light.New(p, light.Without(light.Options{}, now), light.OneCloth)
					require.NoError(b, err)
					shadowed(t, e)
					fs := look(e, sp)
					t.add(fs, e.LevelKnown)
				})
			}
		}
	}
	if *photos != "" {
		data, err := os.ReadFile("../../testdata/real/photos.json")
		require.NoError(b, err)
		var notes struct {
			Charts map[string]chartNote
			Grids  map[string]any
			Loose  map[string]any
			Cloths map[string]any
		}
		require.NoError(b, json.Unmarshal(data, &notes))
		for _, name := range slices.Sorted(maps.Keys(notes.Charts)) {
			a := notes.Charts[name]
			if !a.Main {
				continue
			}
			p, err := photo.Open(context.Background(), filepath.Join(*photos, name), photo.Limits{})
			if err != nil {
				continue
			}
			k := float64(max(p.Reduction, 1))
			w, h := float64(a.Cols), float64(a.Rows)
			var to [4]grid.Point
			for i, c := range a.Corners {
				to[i] = grid.Point{c[0], c[1]}
			}
			onto, ok := grid.Through([4]grid.Point{{0, 0}, {w, 0}, {w, h}, {0, h}}, to)
			require.True(b, ok)
			quad := func(r, c int, half float64) (o [][2]float64) {
				for _, d := range [4][2]float64{{-1, -1}, {1, -1}, {1, 1}, {-1, 1}} {
					q := onto.Map(grid.Point{float64(c) - .5 + half*d[0], float64(r) - .5 + half*d[1]})
					o = append(o, [2]float64{q[0], q[1]})
				}
				return o
			}
			var outlines [][][2]float64
			var parts []outlined
			var num []int
			cards := map[int]image.Rectangle{}
			for r := 1; r <= a.Rows; r++ {
				for c := 1; c <= a.Cols; c++ {
					o := quad(r, c, .42)
					for i := range o {
						o[i][0] /= k
						o[i][1] /= k
					}
					outlines = append(outlines, o)
					q := quad(r, c, .25)
					n := a.patch(r, c)
					num = append(num, n)
					parts = append(parts, outlined{chartL[n-1], inside(q, 1)})
					mx, my := (q[0][0]+q[2][0])/2, (q[0][1]+q[2][1])/2
					d := min(math.Hypot(q[1][0]-q[0][0], q[1][1]-q[0][1]), math.Hypot(q[2][0]-q[1][0], q[2][1]-q[1][1])) * .4
					cards[n] = image.Rect(int(mx-d), int(my-d), int(mx+d), int(my+d))
				}
			}
			sp := spotsOf(p, parts)
			if len(sp) != 24 {
				b.Log(name, len(sp))
				continue
			}
			for mode, card := range map[string]int{"chart auto": 0, "chart 19": 19, "chart 22": 22} {
				opt := light.Options{}
				if card > 0 {
					opt.Cards = []light.Card{{Place: cards[card], Lightness: chartL[card-1]}}
				}
				try(mode, func(t *tally) {
					e, err := light.New(p, light.Without(opt, now), light.Top)
					if err != nil {
						b.Log(name, err)
						return
					}
					e = e.LevelTop(outlines)
					shadowed(t, e)
					fs := look(e, sp)
					var left []seenPiece
					for i, f := range fs {
						if num[i] != card {
							left = append(left, f)
						}
					}
					t.add(left, e.LevelKnown)
				})
			}
		}
		for name, hint := range map[string]light.Hint{} {
			_, _ = name, hint
		}
		for hint, set := range map[light.Hint]map[string]any{light.Top: notes.Grids, light.ScrapsOnGround: notes.Loose} {
			for _, name := range slices.Sorted(maps.Keys(set)) {
				p, err := photo.Open(context.Background(), filepath.Join(*photos, name), photo.Limits{})
				if err != nil {
					continue
				}
				try("false", func(t *tally) {
					e, err := light.New(p, light.Without(light.Options{}, now), hint)
					require.NoError(b, err)
					shadowed(t, e)
					if now == "all" && strings.Contains(e.Record.Note, "shadow") {
						b.Log(name, e.Record.Note)
					}
				})
			}
		}
	}
	for b.Loop() {
	}
	for _, k := range kinds {
		fmt.Println(k)
		for _, c := range cases {
			if all[k][c].String() != "" {
				fmt.Printf("  %-10s %s\n", c, all[k][c])
			}
		}
	}
}
