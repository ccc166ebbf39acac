package analyze_test

import (
	"context"
	"fmt"
	"image"
	"math"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"greige/analyze"
	"greige/analyze/layout"
	"greige/analyze/light"
	"greige/colorspace"
)

// BenchmarkRealGrids: charts and boards with nothing given: is the grid right,
// and is the program sure of it? Chessboards whose corners are known with the
// counts and corners given too: is each square on its right side?
func BenchmarkRealGrids(b *testing.B) {
	for _, part := range []string{"charts", "grids"} {
		b.Run(part, func(b *testing.B) {
			photos := annotatedPhotos(b, part)
			for b.Loop() {
				said := map[string][]string{}
				var hint boardScore
				for _, a := range photos {
					word := a.gridWord(layoutOf(b, a.path(), analyze.LayoutOptions{Settings: settings()}))
					said[word] = append(said[word], a.name)
					if a.Checker != 0 && a.Corners != nil {
						hint.add(b, &a)
					}
				}
				fmt.Printf("\n%s without a hint\n", part)
				for _, word := range []string{"right, sure", "right, unsure", "wrong, unsure", "wrong, sure", "nothing"} {
					fmt.Printf("  %-14s %2d", word, len(said[word]))
					if strings.HasPrefix(word, "wrong") || word == "nothing" {
						fmt.Print("  ", strings.Join(said[word], ", "))
					}
					fmt.Println()
					b.ReportMetric(float64(len(said[word])), strings.ReplaceAll(word, ", ", "-"))
				}
				if hint.boards > 0 {
					fmt.Printf("chessboards with the hint: %d boards, order right in %.4f of %.0f pairs, lost or same cloth %.4f, called checkerboard %d\n",
						hint.boards, hint.right.value(), hint.right.whole, hint.gone.value(), hint.named)
				}
			}
			b.ReportMetric(0, "ns/op")
		})
	}
}

// gridWord says whether a layout's grid is the annotated one. A corner may lie
// .6 of a patch off: a board's rim.
func (a *annotated) gridWord(r *analyze.Result) string {
	if r == nil || len(r.Layout.Patches) == 0 {
		return "nothing"
	}
	l := r.Layout
	placed := true
	if a.Corners != nil {
		nearest := math.Inf(1)
		for turn := range 4 {
			far := 0.0
			for i, t := range a.Corners {
				c := l.Corners[(i+turn)%4]
				far = max(far, math.Hypot(c[0]-t[0], c[1]-t[1]))
			}
			nearest = min(nearest, far)
		}
		side := math.Hypot(a.Corners[1][0]-a.Corners[0][0], a.Corners[1][1]-a.Corners[0][1]) / float64(a.Cols)
		placed = nearest < .6*side
	}
	is := func(rows, cols int) bool { return l.Rows == rows && l.Cols == cols }
	right := placed && (is(a.Rows, a.Cols) || is(a.Cols, a.Rows))
	if !right && len(a.Alt) == 2 {
		right = is(a.Alt[0], a.Alt[1])
	}
	word := map[bool]string{true: "right", false: "wrong"}[right]
	if l.GridFound {
		return word + ", sure"
	}
	return word + ", unsure"
}

// boardScore is what was said of chessboards whose grid was given.
type boardScore struct {
	boards, named int
	right, gone   ratio // of pairs of neighbours
}

func (s *boardScore) add(b *testing.B, a *annotated) {
	opt := analyze.LayoutOptions{Settings: settings(), Rows: a.Rows, Cols: a.Cols}
	for _, c := range a.Corners {
		opt.Corners = append(opt.Corners, [2]float64{math.Round(c[0]), math.Round(c[1])})
	}
	r := layoutOf(b, a.path(), opt)
	if r == nil {
		fmt.Println("nothing measured with the hint:", a.name)
		return
	}
	s.boards++
	if strings.Contains(r.Layout.Pattern.Name, "checkerboard") {
		s.named++
	}
	at := map[layout.Cell]float64{}
	for _, p := range r.Layout.Patches {
		at[layout.Cell{p.Row, p.Col}] = p.Lightness
	}
	var steps []float64
	for _, seam := range r.Layout.Seams {
		p, q := seam.Between[0], seam.Between[1]
		d := at[p] - at[q]
		if (p[0]+p[1])%2 == 0 {
			d = -d
		}
		steps = append(steps, d)
		s.gone.add(seam.Verdict == layout.Lost || seam.Verdict == layout.SameCloth)
	}
	side := math.Copysign(1, errs(steps).at(.5)) // either colour may lie in the corner
	for _, d := range steps {
		s.right.add(d*side > 0)
	}
}

// BenchmarkRealLoose: a piece is found when one outline that is not doubtful
// goes round its middle and no other's, with .5 to 1.8 of its area.
func BenchmarkRealLoose(b *testing.B) {
	photos := annotatedPhotos(b, "loose")
	for _, mode := range []analyze.ScrapsMode{analyze.ScrapsMany, analyze.ScrapsAuto} {
		b.Run(string(mode), func(b *testing.B) {
			for b.Loop() {
				var found ratio
				var extra, merged, doubtful int
				fmt.Printf("\nloose pieces, --scraps %s\n", mode)
				for _, a := range photos {
					f, x, m, d := a.pieces(b, mode)
					found.part += f
					found.whole += float64(len(a.Pieces))
					extra, merged, doubtful = extra+x, merged+m, doubtful+d
					if int(f) < len(a.Pieces) || x+m > 0 {
						fmt.Printf("  %-44.44s %2.0f of %d, %d false, %d merged\n", a.name, f, len(a.Pieces), x, m)
					}
				}
				fmt.Printf("found %.0f of %.0f, %d false, %d merged, %d doubtful\n", found.part, found.whole, extra, merged, doubtful)
				b.ReportMetric(found.value(), "found")
				b.ReportMetric(float64(extra), "false")
				b.ReportMetric(float64(merged), "merged")
			}
			b.ReportMetric(0, "ns/op")
		})
	}
}

// pieces counts what is found in a photo: pieces, outlines round nothing,
// outlines round several, doubtful ones.
func (a *annotated) pieces(b *testing.B, mode analyze.ScrapsMode) (found float64, extra, merged, doubtful int) {
	b.Helper()
	r, err := analyze.Sort(context.Background(), []string{a.path()}, analyze.SortOptions{Settings: settings(), Piles: 3, Scraps: mode})
	if err != nil {
		return
	}
	got := map[int]bool{}
	for _, f := range r.Sort.Fabrics {
		if f.Doubtful {
			doubtful++
			continue
		}
		var round []int
		for i, p := range a.Pieces {
			if holds(f.Outline, *p[0], *p[1]) {
				round = append(round, i)
			}
		}
		switch {
		case len(round) == 0:
			extra++
		case len(round) > 1:
			merged++
		case !got[round[0]]:
			area := a.Pieces[round[0]][2]
			share := 1.0
			if area != nil {
				share = areaOf(f.Outline) / *area
			}
			got[round[0]] = .5 < share && share < 1.8
			if got[round[0]] {
				found++
			}
		}
	}
	return
}

// areaOf is the area of a polygon.
func areaOf(p [][2]float64) float64 {
	sum := 0.0
	for i := range p {
		q := p[(i+1)%len(p)]
		sum += p[i][0]*q[1] - q[0]*p[i][1]
	}
	return math.Abs(sum) / 2
}

// BenchmarkRealCloseups: one cloth edge to edge: is it taken for one, alone
// and in the set of its fellows, and is its lightness the file's own linear
// mean where nothing is known of the light?
func BenchmarkRealCloseups(b *testing.B) {
	photos := annotatedPhotos(b, "cloths")
	for b.Loop() {
		fmt.Println()
		for _, mode := range []light.Mode{light.None, light.Auto} {
			var off errs
			var many []string
			for _, a := range photos {
				opt := analyze.SortOptions{Settings: settings(), Piles: 3, Scraps: analyze.ScrapsAuto}
				opt.Light.Mode = mode
				r, err := analyze.Sort(context.Background(), []string{a.path()}, opt)
				if err != nil || len(r.Sort.Fabrics) != 1 {
					many = append(many, a.name)
					continue
				}
				off = append(off, math.Abs(r.Sort.Fabrics[0].Lightness-colorspace.Lightness(meanLight(b, a.path(), image.Rectangle{}).Y())))
			}
			fmt.Printf("close-ups, light %s: %d taken for one; |L* - the file's own mean| median %.2f, 95th percentile %.2f\n", mode, len(off), off.at(.5), off.at(.95))
			for _, n := range many {
				fmt.Println("  taken for many:", n)
			}
			b.ReportMetric(float64(len(many)), "many-"+string(mode))
		}
		closeupSets(b, photos)
	}
	b.ReportMetric(0, "ns/op")
}

// closeupSets sorts the close-ups of each repository in one run.
func closeupSets(b *testing.B, photos []annotated) {
	sets := map[string][]string{}
	for _, a := range photos {
		sets[a.Repo] = append(sets[a.Repo], a.path())
	}
	var repos []string
	for r := range sets {
		repos = append(repos, r)
	}
	slices.Sort(repos)
	for _, repo := range repos {
		r, err := analyze.Sort(context.Background(), sets[repo], analyze.SortOptions{Settings: settings(), Piles: 3, Scraps: analyze.ScrapsAuto})
		if err != nil {
			fmt.Printf("  set of %s: nothing measured\n", repo)
			continue
		}
		by := map[string]int{}
		for _, f := range r.Sort.Fabrics {
			by[filepath.Base(f.Photo)]++
		}
		fmt.Printf("  set of %s: %d cloths in %d photos", repo, len(r.Sort.Fabrics), len(sets[repo]))
		for _, n := range sets[repo] {
			if k := by[filepath.Base(n)]; k != 1 {
				fmt.Printf("; %s: %d", filepath.Base(n), k)
			}
		}
		fmt.Println()
	}
}
