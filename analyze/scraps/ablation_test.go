package scraps

import (
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"maps"
	"math"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"greige/analyze/photo"
	"greige/analyze/raster"
	"greige/analyze/scene"
)

var (
	photos  = flag.String("photos", "", "a folder of real photos, for the ablation benchmark")
	answers = flag.String("answers", "", "where their pieces lie: JSON with loose and cloths, each by file name, and in each of loose pieces, [x, y, area or null] in pixels")
)

// BenchmarkAblation leaves out one pass after the other. Of drawn tables it tells
// as BenchmarkAccuracy does; of real photos, where a flag gives them, how many
// pieces were found, false and merged when scraps are known to lie there, and of
// how many photos it is decided wrongly whether they show one cloth or many; and
// the time beside that with all passes.
func BenchmarkAblation(b *testing.B) {
	variants := []struct {
		name string
		off  passes
	}{
		{"all", passes{}}, {"climb", passes{climb: true}}, {"gaps", passes{gaps: true}}, {"split", passes{split: true}},
		{"smooth", passes{smooth: true}}, {"snap", passes{snap: true}}, {"edge", passes{edge: true}},
		{"shapes", passes{shapes: true}}, {"nets", passes{nets: true}}, {"rings", passes{rings: true}},
	}
	runs := make([]ablation, len(variants))
	try := func(see func(run *ablation)) {
		for i, v := range variants {
			runs[i].off = v.off
			see(&runs[i])
		}
	}
	for i := range *scenes {
		table := scene.AnyTable(firstScene + uint64(i))
		shot, err := table.Shoot()
		if err != nil {
			continue // no room for so many pieces
		}
		path := filepath.Join(b.TempDir(), shot.Name)
		require.NoError(b, os.WriteFile(path, shot.Data, 0o666))
		p, look := opened(b, path)
		t := truthOf(table, shot)
		try(func(run *ablation) {
			run.drawn.add(run.find(look, false), t, float64(p.Reduction), p.Picture.W, p.Picture.H)
		})
	}
	if *photos != "" {
		loose, cloths := annotated(b)
		for _, name := range slices.Sorted(maps.Keys(loose)) {
			p, look := opened(b, filepath.Join(*photos, name))
			try(func(run *ablation) {
				run.real.add(run.find(look, true), loose[name], float64(max(p.Reduction, 1)))
				run.decide(look, true)
			})
		}
		for _, name := range cloths {
			_, look := opened(b, filepath.Join(*photos, name))
			try(func(run *ablation) { run.decide(look, false) })
		}
	}
	for b.Loop() { // once: the work is done
	}
	table := fmt.Sprintf("%-8s %7s %7s %7s %7s | %5s %5s %6s %5s | %5s", "without", "found", "false", "doubted", "iou", "found", "false", "merged", "wrong", "time")
	for i, v := range variants {
		r, d := &runs[i], &runs[i].drawn
		table += fmt.Sprintf("\n%-8s %7.4f %7.4f %7.4f %7.4f | %5d %5d %6d %5d | %5.2f", v.name, d.found/max(d.found+d.lost, 1), d.extra/max(d.counted, 1), d.doubted/max(d.found, 1), d.iou(),
			r.real.found, r.real.extra, r.real.merged, r.wrong, r.spent.Seconds()/runs[0].spent.Seconds())
	}
	fmt.Println(table) // not logged: of a benchmark's log ten lines are shown
}

// ablation is what was found without a pass.
type ablation struct {
	off   passes
	drawn tally
	real  looseTally
	wrong int
	spent time.Duration
}

func (a *ablation) find(l *Look, known bool) Found {
	start := time.Now()
	l.how.Known = known
	if l.s != nil {
		l.s.off = a.off
		l.propose()
	}
	f := l.find()
	a.spent += time.Since(start)
	return f
}

func (a *ablation) decide(l *Look, many bool) {
	if (len(a.find(l, false).Pieces) > 0) != many {
		a.wrong++
	}
}

func opened(b *testing.B, path string) (*photo.Photo, *Look) {
	b.Helper()
	p, err := photo.Open(context.Background(), path, photo.Limits{Detail: photo.ForPieces})
	require.NoError(b, err)
	return p, LookAt(p, How{})
}

// annotated are the annotations of the real photos: the pieces of those of loose
// ones, and the names of those of one cloth.
func annotated(b *testing.B) (loose map[string][]looseTruth, cloths []string) {
	b.Helper()
	data, err := os.ReadFile(*answers)
	require.NoError(b, err)
	var all struct {
		Loose  map[string]struct{ Pieces [][3]*float64 }
		Cloths map[string]any
	}
	require.NoError(b, json.Unmarshal(data, &all))
	loose = map[string][]looseTruth{}
	for name, v := range all.Loose {
		for _, p := range v.Pieces {
			t := looseTruth{at: point{*p[0], *p[1]}}
			if p[2] != nil {
				t.area = *p[2]
			}
			loose[name] = append(loose[name], t)
		}
	}
	return loose, slices.Sorted(maps.Keys(all.Cloths))
}

// looseTruth is the middle and the area, 0 where it is not known, of a piece.
type looseTruth struct {
	at   point
	area float64
}

// looseTally counts as found a piece whose middle one counted outline goes round
// that goes round no other's, with .5 to 1.8 of its area.
type looseTally struct{ found, extra, merged int }

func (a *looseTally) add(f Found, truth []looseTruth, k float64) {
	got := map[int]bool{}
	for _, p := range f.Pieces {
		if p.Doubtful {
			continue
		}
		var in []int
		for i, t := range truth {
			if raster.Contains(p.Outline, point{t.at[0] / k, t.at[1] / k}) {
				in = append(in, i)
			}
		}
		switch {
		case len(in) == 0:
			a.extra++
		case len(in) > 1:
			a.merged++
		default:
			share := math.Abs(raster.Area(p.Outline)) * k * k / truth[in[0]].area
			if truth[in[0]].area == 0 || share > .5 && share < 1.8 {
				got[in[0]] = true
			}
		}
	}
	a.found += len(got)
}
