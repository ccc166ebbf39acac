package scraps

import (
	"context"
	"flag"
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

// truth is where the pieces of a photo lie.
type truth struct {
	outlines [][]point // in pixels of the photo
	hidden   []bool    // covered or cut: found or not, it does not count
	alike    []bool    // of nearly the ground's colour
}

// truthOf is the truth of a drawn table.
func truthOf(table scene.Table, shot scene.Shot) (t truth) {
	for _, p := range shot.Truth.Pieces {
		t.outlines = append(t.outlines, p.Outline)
		t.hidden = append(t.hidden, p.Covered || p.FromEdge)
		t.alike = append(t.alike, table.Cloths[p.Cloth].Name == "like the ground")
	}
	return t
}

// tally is what was found of the pieces of some photos.
type tally struct {
	found, lost, counted, extra, doubted, alike, alikeLost, photos, wrong float64
	overlaps                                                              []float64
}

// add adds what was found in a photo of w x h working pixels, each of k pixels.
func (a *tally) add(f Found, t truth, k float64, w, h int) {
	a.photos++
	if len(f.Pieces) == 0 {
		a.wrong++
	}
	used := make([]bool, len(f.Pieces))
	for i, o := range t.outlines {
		outline := make([]point, len(o))
		for n, q := range o {
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
		if t.hidden[i] {
			continue
		}
		a.piece(is, best, is && f.Pieces[at].Doubtful)
		if t.alike[i] {
			a.alike++
			if !is && len(f.Notes) < 2 {
				a.alikeLost++
			}
		}
	}
	for n, p := range f.Pieces {
		if !p.Doubtful {
			a.counted++
			if !used[n] {
				a.extra++
			}
		}
	}
}

func (a *tally) piece(found bool, overlap float64, doubted bool) {
	if !found {
		a.lost++
		return
	}
	a.found++
	a.overlaps = append(a.overlaps, overlap)
	if doubted {
		a.doubted++
	}
}

// iou is the median overlap of what was found.
func (a *tally) iou() float64 {
	if len(a.overlaps) == 0 {
		return 0
	}
	slices.Sort(a.overlaps)
	return a.overlaps[len(a.overlaps)/2]
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
		var a tally
		for i := range *scenes {
			table := scene.AnyTable(firstScene + uint64(i))
			table.Camera = camera(table.Camera)
			shot, err := table.Shoot()
			if err != nil {
				continue // no room for so many pieces
			}
			e, _ := taken(b, shot)
			a.add(Find(e, How{}), truthOf(table, shot), float64(e.Photo.Reduction), e.Picture.W, e.Picture.H)
		}
		for i := range *scenes {
			for _, c := range scene.AnyCloseups(firstScene+uint64(i), 6, i%2 == 0) {
				c.Camera = camera(c.Camera)
				shot, err := c.Shoot()
				require.NoError(b, err)
				e, _ := taken(b, shot)
				a.photos++
				if len(Find(e, How{}).Pieces) > 0 {
					a.wrong++
				}
			}
		}
		b.ReportMetric(a.found/max(a.found+a.lost, 1), "found")
		b.ReportMetric(a.extra/max(a.counted, 1), "false")
		b.ReportMetric(a.doubted/max(a.found, 1), "doubted")
		b.ReportMetric(a.iou(), "iou")
		b.ReportMetric(a.alikeLost/max(a.alike, 1), "alike-lost")
		b.ReportMetric(a.wrong/a.photos, "wrong")
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
		Find(e, How{})
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
		if len(Find(e, How{}).Pieces) > 0 {
			b.Fatal("taken for a table")
		}
	}
	b.ReportMetric(b.Elapsed().Seconds()/float64(b.N)/decode.Seconds(), "decodes/op")
}
