package scraps

import (
	"context"
	"flag"
	"math"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"greige/analyze/light"
	"greige/analyze/photo"
	"greige/analyze/scene"
	"greige/colorspace"
)

var scenes = flag.Int("scenes", 8, "tables, and sets of close-ups, for the accuracy benchmark")

// Scenes from this seed on are kept for the benchmark.
const firstScene = 1000

// taken is the photo of a scene, read back from its file.
func taken(b *testing.B, shot scene.Shot) (*light.Even, time.Duration) {
	b.Helper()
	path := filepath.Join(b.TempDir(), filepath.Base(shot.Name))
	require.NoError(b, os.WriteFile(path, shot.Data, 0o666))
	start := time.Now()
	p, err := photo.Open(context.Background(), path, photo.Limits{})
	decode := time.Since(start)
	require.NoError(b, err)
	e, err := light.New(p, light.Options{}, light.Unknown)
	require.NoError(b, err)
	return e, decode
}

// BenchmarkAccuracy finds the pieces of scenes with known truth: every kind of
// table and close-up that scene draws. "found" pieces overlap their truth by
// at least 0.8 (intersection over union); "false" is the share of what is
// counted as cloth that overlaps no piece so far; "doubted" the share of cloth
// that is not counted; "iou" the median overlap of what was found; "alike-lost"
// the share of cloth of nearly the ground's colour that was neither found nor
// warned of; "wrong" the share of photos taken for the other kind. Cameras are
// as real ones are, and exact.
func BenchmarkAccuracy(b *testing.B) {
	b.Run("real", func(b *testing.B) { accuracy(b, func(c scene.Camera) scene.Camera { return c }) })
	b.Run("exact", func(b *testing.B) { accuracy(b, scene.Camera.Exact) })
}

func accuracy(b *testing.B, camera func(scene.Camera) scene.Camera) {
	for b.Loop() {
		var found, lost, counted, extra, doubted, alike, alikeLost, photos, wrong float64
		var overlaps []float64
		for i := range *scenes {
			table := scene.AnyTable(firstScene + uint64(i))
			table.Camera = camera(table.Camera)
			shot, err := table.Shoot()
			if err != nil {
				continue // no room for so many pieces
			}
			e, _ := taken(b, shot)
			f := Find(e, nil, How{})
			photos++
			if len(f.Pieces) == 0 {
				wrong++
			}
			w, h, k := e.Picture.W, e.Picture.H, float64(e.Photo.Reduction)
			used := make([]bool, len(f.Pieces))
			for _, t := range shot.Truth.Pieces {
				outline := make([]point, len(t.Outline))
				for n, q := range t.Outline {
					outline[n] = point{q[0] / k, q[1] / k}
				}
				best, at := 0.0, 0
				for n := range f.Pieces {
					if v := overlap(outline, f.Pieces[n].Outline, w, h); v > best {
						best, at = v, n
					}
				}
				is := best >= .8
				if is {
					used[at] = true
				}
				if t.Covered || t.FromEdge {
					continue
				}
				if is {
					found++
					overlaps = append(overlaps, best)
					if f.Pieces[at].Doubtful {
						doubted++
					}
				} else {
					lost++
				}
				if table.Cloths[t.Cloth].Name == "like the ground" {
					alike++
					if !is && len(f.Notes) < 2 {
						alikeLost++
					}
				}
			}
			for n, p := range f.Pieces {
				if !p.Doubtful {
					counted++
					if !used[n] {
						extra++
					}
				}
			}
		}
		for i := range *scenes {
			for _, c := range scene.AnyCloseups(firstScene+uint64(i), 6, i%2 == 0) {
				c.Camera = camera(c.Camera)
				shot, err := c.Shoot()
				require.NoError(b, err)
				e, _ := taken(b, shot)
				photos++
				if len(Find(e, nil, How{}).Pieces) > 0 {
					wrong++
				}
			}
		}
		slices.Sort(overlaps)
		b.ReportMetric(found/max(found+lost, 1), "found")
		b.ReportMetric(extra/max(counted, 1), "false")
		b.ReportMetric(doubted/max(found, 1), "doubted")
		b.ReportMetric(overlaps[len(overlaps)/2], "iou")
		b.ReportMetric(alikeLost/math.Max(alike, 1), "alike-lost")
		b.ReportMetric(wrong/photos, "wrong")
	}
}

// BenchmarkFind is the time that sixty pieces in a photo of 12 megapixels
// take, beside that of decoding it.
func BenchmarkFind(b *testing.B) {
	table := scene.Table{
		Take: scene.Take{Name: "table.jpg", Seed: 60, Width: 4000, Height: 3000, Light: scene.Light{Ratio: 1.6}, Camera: scene.Phone()},
		Gap:  .012, WidthCM: 110, Cloths: scene.AnyCloths(60, 60),
	}
	shot, err := table.Shoot()
	require.NoError(b, err)
	e, decode := taken(b, shot)
	for b.Loop() {
		Find(e, nil, How{})
	}
	b.ReportMetric(b.Elapsed().Seconds()/float64(b.N)/decode.Seconds(), "decodes/op")
}

// BenchmarkIsItScraps is the time that it takes to tell a close-up of a cloth
// from a table, beside that of decoding it.
func BenchmarkIsItScraps(b *testing.B) {
	cloth := scene.NewCloth("leaves on rust", scene.Sprigs, colorspace.Lab{L: 45, A: 32, B: 30},
		scene.Ink{Lab: colorspace.Lab{L: 85, A: 2, B: 14}, Share: .2})
	shot, err := scene.Closeup{
		Take:  scene.Take{Name: "closeup.jpg", Width: 4032, Height: 3024, Camera: scene.Phone(), Light: scene.Light{Lamp: scene.Window, Ratio: 1.3}, Seed: 12},
		Cloth: cloth,
	}.Shoot()
	require.NoError(b, err)
	e, decode := taken(b, shot)
	for b.Loop() {
		if len(Find(e, nil, How{}).Pieces) > 0 {
			b.Fatal("taken for a table")
		}
	}
	b.ReportMetric(b.Elapsed().Seconds()/float64(b.N)/decode.Seconds(), "decodes/op")
}
