package grid_test

import (
	"flag"
	"math"
	"slices"
	"testing"

	"greige/analyze/grid"
	"greige/analyze/scene"
)

// The accuracy of the grid on photo-like scenes with known truth, of every
// kind that scene.AnyTop draws. The shares are of scenes, the errors are in
// patches.
var (
	scenes = flag.Int("scenes", 12, "scenes for the accuracy benchmark")
	first  = flag.Uint64("seed", 2000, "the first scene's seed")
)

// share is a part of a whole.
type share struct{ part, whole float64 }

func (s *share) add(ok bool) {
	s.whole++
	if ok {
		s.part++
	}
}

func (s share) report(b *testing.B, unit string) {
	if s.whole > 0 {
		b.ReportMetric(s.part/s.whole, unit)
	}
}

// BenchmarkAccuracy: nothing given, the counts, the corners, and both, by
// cameras as real ones are and by exact ones. Right is a grid with the true
// rows, columns and setting, its corners within 1 % of the photo's width.
func BenchmarkAccuracy(b *testing.B) {
	b.Run("real", func(b *testing.B) { accuracy(b, func(c scene.Camera) scene.Camera { return c }) })
	b.Run("exact", func(b *testing.B) { accuracy(b, scene.Camera.Exact) })
}

func accuracy(b *testing.B, camera func(scene.Camera) scene.Camera) {
	var shots []scene.Shot
	var tops []scene.Top
	for i := range *scenes {
		top := scene.AnyTop(*first + uint64(i))
		top.Camera = camera(top.Camera)
		shot, err := top.Shoot()
		if err != nil {
			b.Fatal(err)
		}
		shots, tops = append(shots, shot), append(tops, top)
	}
	for _, given := range []string{"nothing", "counts", "corners", "both"} {
		b.Run(given, func(b *testing.B) {
			for b.Loop() {
				var counts, corners, sure, sureWrong share
				right := map[string]*share{"straight": {}, "on-point": {}, "sashed": {}, "sagging": {}, "striped": {}}
				var centres, vertices []float64
				for i, shot := range shots {
					truth := shot.Truth.Grid
					var hints grid.Hints
					if given == "counts" || given == "both" {
						hints.Rows, hints.Cols = truth.Rows, truth.Cols
					}
					if given == "corners" || given == "both" {
						hints.Corners = truth.Corners
					}
					g, err := grid.Find(decode(b, shot.Data), hints)
					ok := false
					if err == nil {
						counted := g.Rows == truth.Rows && g.Cols == truth.Cols && (g.Setting == grid.OnPoint) == truth.OnPoint
						placed := furthest(truth.Corners, g.Corners[:]) <= .01*float64(shot.Truth.Width)
						counts.add(counted)
						corners.add(placed)
						sure.add(g.Found)
						ok = counted && placed
						if counted {
							c, v := patchErrors(truth, g)
							centres, vertices = append(centres, c...), append(vertices, v...)
						}
					}
					sureWrong.add(err == nil && g.Found && !ok)
					for kind, is := range map[string]bool{
						"straight": !truth.OnPoint, "on-point": truth.OnPoint, "sashed": tops[i].Plan.RowSizes != nil,
						"sagging": tops[i].Sag > .02, "striped": truth.Pattern == string(scene.Stripes),
					} {
						if is {
							right[kind].add(ok)
						}
					}
				}
				for kind, s := range right {
					s.report(b, kind+"-right")
				}
				counts.report(b, "counts-right")
				corners.report(b, "corners-right")
				sure.report(b, "sure")
				sureWrong.report(b, "sure-and-wrong")
				if len(centres) > 0 {
					slices.Sort(centres)
					slices.Sort(vertices)
					b.ReportMetric(centres[len(centres)/2], "centre-median")
					b.ReportMetric(centres[len(centres)*19/20], "centre-p95")
					b.ReportMetric(vertices[len(vertices)/2], "corner-median")
					b.ReportMetric(vertices[len(vertices)*19/20], "corner-p95")
				}
			}
		})
	}
}

// patchErrors are how far the patches' centres and corners are from the true
// ones, in sides of each patch.
func patchErrors(truth *scene.Grid, g *grid.Grid) (centres, corners []float64) {
	for _, p := range g.Patches {
		t := truth.Patch(p.Row, p.Col)
		if t == nil || len(t.Outline) != len(p.Outline) {
			continue
		}
		side := math.Sqrt(math.Abs(signedArea(t.Outline)))
		var c, d grid.Point
		for k, o := range t.Outline {
			near := math.Inf(1)
			for _, q := range p.Outline {
				near = min(near, math.Hypot(q[0]-o[0], q[1]-o[1]))
			}
			corners = append(corners, near/side)
			for a := range 2 {
				c[a] += o[a] / float64(len(t.Outline))
				d[a] += p.Outline[k][a] / float64(len(t.Outline))
			}
		}
		centres = append(centres, math.Hypot(c[0]-d[0], c[1]-d[1])/side)
	}
	return centres, corners
}

// BenchmarkFind: a top of 20 x 20 in a working picture of 2 megapixels, with
// nothing given.
func BenchmarkFind(b *testing.B) {
	var all []int
	top := scene.AnyTop(1)
	for i := range top.Cloths {
		all = append(all, i)
	}
	top.Plan = scene.Design{Seed: 1, Repeat: scene.Scattered, Lights: all, Mediums: all, Darks: all, Rows: 20, Cols: 20}.Plan()
	top.Border = nil
	shot, err := top.Shoot()
	if err != nil {
		b.Fatal(err)
	}
	p := decode(b, shot.Data)
	for b.Loop() {
		g, err := grid.Find(p, grid.Hints{})
		if err != nil {
			b.Fatal(err)
		}
		if g.Rows != 20 || g.Cols != 20 {
			b.Fatalf("%d x %d found", g.Rows, g.Cols)
		}
	}
}
