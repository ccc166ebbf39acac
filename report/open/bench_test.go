package open

import (
	"context"

	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"greige/analyze/layout"
	"greige/analyze/photo"
	"greige/analyze/scene"
)

// BenchmarkSpeedCorrection tells how long the page waits for its answer after
// something is put right, beside decoding that photo, of 12 megapixels: the
// median and the worst of 20 steps. Nothing is decoded again.
func BenchmarkSpeedCorrection(b *testing.B) {
	b.Run("60 pieces", func(b *testing.B) {
		table := scene.Table{Take: scene.Take{Name: "basket.jpg", Width: 4032, Height: 3024, Seed: 1000, Camera: scene.Phone()}, WidthCM: 120, Cloths: scene.AnyCloths(1000, 60), Gap: .015}
		for range b.N {
			dir := b.TempDir()
			path := write(b, dir, "", table)
			times(b, dir, path, Question{Kind: "sort"}, func(w *workspace, id string, i int) Step {
				f := w.result.Sort.Fabrics[i%len(w.result.Sort.Fabrics)]
				if i%4 == 3 { // one that was missed
					x := float64(100 + 10*i)
					return Step{Kind: "draw", Photo: id, Outline: [][2]float64{{x, 5}, {x + 60, 5}, {x + 60, 65}, {x, 65}}}
				}
				return Step{Kind: "not-cloth", Photo: id, Pieces: []string{f.ID}}
			}, func(w *workspace) int { return len(w.result.Sort.Fabrics) })
		}
	})
	for name, kind := range map[string]string{"400 patches, what is meant": "chart", "400 patches, swapped": "hang", "400 patches, corners": "grid"} {
		b.Run(name, func(b *testing.B) {
			top := scene.AnyTop(1000)
			top.Width, top.Height = 4032, 3024
			for range b.N {
				dir := b.TempDir()
				path := write(b, dir, "", top)
				times(b, dir, path, Question{Kind: "layout"}, func(w *workspace, id string, i int) Step {
					l := w.result.Layout
					switch kind {
					case "chart":
						rows := slices.Repeat([]string{"LD", "DL"}, 10)
						rows[i] = "DD"
						return Step{Kind: "chart", Photo: id, Chart: rows}
					case "hang":
						return Step{Kind: "hang", To: &layout.Cell{1, 1 + i%l.Cols}, From: &layout.Cell{2, 1 + (i+3)%l.Cols}}
					}
					corners := slices.Clone(l.Corners)
					corners[0][0]++
					return Step{Kind: "grid", Photo: id, Corners: corners, Rows: 20, Cols: 20, Setting: "straight"}
				}, func(w *workspace) int { return len(w.result.Layout.Patches) })
			}
		})
	}
}

// times takes 20 steps and tells how long each took, as a share of decoding.
func times(b *testing.B, dir, path string, q Question, next func(w *workspace, id string, i int) Step, count func(*workspace) int) {
	b.Helper()
	ctx := context.Background()
	decode := time.Duration(1<<63 - 1)
	for range 5 {
		began := time.Now()
		_, err := photo.Open(ctx, path, photo.Limits{})
		require.NoError(b, err)
		decode = min(decode, time.Since(began))
	}
	w, err := newWorkspace(ctx, Options{Folder: dir})
	require.NoError(b, err)
	defer w.close()
	w.settled(ctx)
	q.Photo = idOf(w.photos[0].Name)
	require.NoError(b, w.ask(b.Context(), q))
	w.settled(ctx)
	if q.Kind == "layout" { // so many as are asked for
		size := 900.
		c := [][2]float64{{size, size}, {4032 - size, size}, {4032 - size, 3024 - size}, {size, 3024 - size}}
		if w.result != nil && w.result.Layout != nil {
			c = w.result.Layout.Corners
		}
		require.NoError(b, w.do(ctx, Step{Kind: "grid", Photo: q.Photo, Corners: c, Rows: 20, Cols: 20, Setting: "straight"}))
		w.settled(ctx)
	}
	if w.answered() == nil {
		b.Fatal(w.failed, w.result)
	}
	n := count(w)
	var took []time.Duration
	for i := range 20 {
		s := next(w, q.Photo, i)
		began := time.Now()
		require.NoError(b, w.do(ctx, s))
		w.settled(ctx)
		w.state()
		took = append(took, time.Since(began))
	}
	slices.Sort(took)
	b.ReportMetric(float64(took[10])/float64(decode), "median/decode")
	b.ReportMetric(float64(took[19])/float64(decode), "worst/decode")
	b.ReportMetric(float64(took[10])/float64(time.Millisecond), "median-ms")
	b.ReportMetric(float64(n), "pieces")
	b.ReportMetric(0, "ns/op")
}
