package analyze_test

import (
	"cmp"
	"context"
	"errors"
	"flag"
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"greige/analyze"
	"greige/analyze/border"
	"greige/analyze/cloth"
	"greige/analyze/layout"
	"greige/analyze/piles"
	"greige/analyze/scene"
	"greige/colorspace"
)

// The accuracy of the three jobs from the photo to the figure, on photo-like
// scenes with known truth: every kind that scene.Any* draws. Seeds from 1000
// on are kept for this; the rooms' own tests use lower ones.
var (
	scenes    = flag.Int("scenes", 12, "scenes of each kind for the accuracy benchmarks")
	firstSeed = flag.Uint64("first", 1000, "the seed of the first scene")
	wide      = flag.Int("wide", 0, "the width of the photos of tables, in pixels; 0: what the scene says")
)

// shoot takes photos into a folder of their own and returns their paths: none
// where there is no room for what was drawn.
func shoot(b *testing.B, shots ...interface{ Shoot() (scene.Shot, error) }) ([]scene.Shot, []string) {
	b.Helper()
	dir := b.TempDir()
	var taken []scene.Shot
	var paths []string
	for i, s := range shots {
		shot, err := s.Shoot()
		if errors.Is(err, scene.ErrNoRoom) {
			return nil, nil
		}
		if err != nil {
			b.Fatal(err)
		}
		shot.Name = fmt.Sprintf("%02d%s", i, filepath.Ext(shot.Name))
		if err := scene.Write(dir, shot); err != nil {
			b.Fatal(err)
		}
		taken, paths = append(taken, shot), append(paths, filepath.Join(dir, shot.Name))
	}
	return taken, paths
}

func settings() analyze.Settings {
	s := analyze.Settings{Distance: 2.5}
	s.Light.CardLightness = 95
	return s
}

// errs collects absolute errors.
type errs []float64

func (e errs) at(share float64) float64 {
	if len(e) == 0 {
		return math.NaN()
	}
	v := slices.Sorted(slices.Values(e))
	return v[min(int(share*float64(len(v))), len(v)-1)]
}

func (e errs) mean() float64 {
	sum := 0.0
	for _, v := range e {
		sum += v
	}
	return sum / float64(len(e))
}

// ratio is a part of a whole, 1 of nothing.
type ratio struct{ part, whole float64 }

func (r *ratio) add(ok bool) {
	r.whole++
	if ok {
		r.part++
	}
}
func (r ratio) value() float64 {
	if r.whole == 0 {
		return 1
	}
	return r.part / r.whole
}

// claims are absolute errors over the halves of the intervals of 95 % that were
// said of them. Where the intervals are right, 95 of 100 lie under 1 and the
// 95th percentile is 1.
type claims struct{ errs }

func (c *claims) add(off, half float64) { c.errs = append(c.errs, off/max(half, 1e-9)) }

func (c claims) report(b *testing.B) {
	held := 0.0
	for _, v := range c.errs {
		if v <= 1 {
			held++
		}
	}
	b.ReportMetric(held/float64(len(c.errs)), "inside-u")
	b.ReportMetric(c.at(.95), "p95-of-u")
}

// BenchmarkAccuracyCloseups: sets of close-ups, each beside a card whose place
// is given; beside a card that has to be found; and by the camera's record.
func BenchmarkAccuracyCloseups(b *testing.B) {
	for _, how := range []string{"card", "paper", "record"} {
		b.Run(how, func(b *testing.B) {
			for b.Loop() {
				var dL errs
				var inside claims
				var order ratio
				for i := range *scenes {
					set := scene.AnyCloseups(*firstSeed+uint64(i), 6, how != "record")
					var shots []interface{ Shoot() (scene.Shot, error) }
					for _, c := range set {
						shots = append(shots, c)
					}
					taken, paths := shoot(b, shots...)
					if how == "paper" && taken[0].Truth.Cards[0].Lab.L < 90 {
						continue // a grey card is no paper that could be found
					}
					opt := analyze.SortOptions{Settings: settings(), Piles: 3, Scraps: analyze.ScrapsOne}
					if how == "card" {
						opt.Light.Cards = []light.Card{{Place: taken[0].Truth.Cards[0].Inside}}
						opt.Light.CardLightness = taken[0].Truth.Cards[0].Lab.L
					}
					r, err := analyze.Sort(context.Background(), paths, opt)
					if err != nil {
						b.Fatal(err)
					}
					// The record fixes exposures against each other only.
					offset := 0.0
					if how == "record" {
						var logs []float64
						for j, f := range r.Sort.Fabrics {
							logs = append(logs, math.Log(colorspace.LuminanceOf(f.Lightness)/taken[j].Truth.Pieces[0].Reflectance.Y()))
						}
						offset = errs(logs).at(.5)
					}
					for j, f := range r.Sort.Fabrics {
						truth := taken[j].Truth.Pieces[0].Lab.L
						l := colorspace.Lightness(colorspace.LuminanceOf(f.Lightness) * math.Exp(-offset))
						dL = append(dL, math.Abs(l-truth))
						u := f.Uncertainty
						if how == "record" { // what all share has been taken out
							u = f.Apart
						}
						inside.add(math.Abs(l-truth), u)
						for k, g := range r.Sort.Fabrics[:j] {
							d := truth - taken[k].Truth.Pieces[0].Lab.L
							order.add((f.Lightness-g.Lightness)*d > 0)
						}
					}
				}
				b.ReportMetric(dL.at(.5), "median-dL")
				b.ReportMetric(dL.at(.95), "p95-dL")
				b.ReportMetric(2*order.value()-1, "tau")
				inside.report(b)
			}
		})
	}
}

// BenchmarkAccuracyTables: photos of scraps, nothing given. Beside it, where
// Python has OpenCV, what a segmentation by that finds in the same photos.
func BenchmarkAccuracyTables(b *testing.B) {
	python := pythonWithOpenCV()
	if python == "" {
		b.Log("no python3 with OpenCV and NumPy here: the peer is left out")
	}
	for b.Loop() {
		var found, extra, pile, sheets, peerFound, peerExtra ratio
		var inside claims
		var dL, neutral, coloured errs // neutral, coloured: by the ground
		for i := range *scenes {
			table := scene.AnyTable(*firstSeed + uint64(i))
			if *wide > 0 {
				table.Take.Width = *wide
			}
			taken, paths := shoot(b, table)
			if taken == nil {
				continue
			}
			truth := taken[0].Truth
			r, err := analyze.Sort(context.Background(), paths, analyze.SortOptions{Settings: settings(), Piles: 3, Scraps: analyze.ScrapsAuto})
			if err != nil {
				b.Fatal(err)
			}
			match := make([]int, len(truth.Pieces))
			taken1 := map[int]bool{}
			for j, p := range truth.Pieces {
				match[j] = -1
				for k, f := range r.Sort.Fabrics {
					if !taken1[k] && overlap(p.Outline, f.Outline) >= .8 {
						match[j], taken1[k] = k, true
						break
					}
				}
				if !p.Covered && !p.FromEdge {
					found.add(match[j] >= 0)
				}
			}
			for k, f := range r.Sort.Fabrics {
				if !f.Doubtful {
					extra.add(!taken1[k])
				}
			}
			if python != "" {
				outlines := segmented(b, python, paths[0])
				used := map[int]bool{}
				for _, p := range truth.Pieces {
					at := slices.IndexFunc(outlines, func(o [][2]float64) bool { return overlap(p.Outline, o) >= .8 })
					if at >= 0 {
						used[at] = true
					}
					if !p.Covered && !p.FromEdge {
						peerFound.add(at >= 0)
					}
				}
				for k := range outlines {
					peerExtra.add(!used[k])
				}
			}
			// Where nothing of known lightness lies in the photo, how much light
			// the camera took is not known either: one factor for all.
			var levels errs
			for j, k := range match {
				if k >= 0 {
					levels = append(levels, math.Log(colorspace.LuminanceOf(r.Sort.Fabrics[k].Lightness)/truth.Pieces[j].Reflectance.Y()))
				}
			}
			level := math.Exp(levels.at(.5))
			set := slices.ContainsFunc([]string{"sheet", "card", "paper"}, func(m string) bool { return strings.Contains(r.Light[0].Method, m) })
			if set {
				level = 1 // the program says that it knows
			}
			if table.Ground.Ground == scene.Sheet {
				sheets.add(set)
			}
			var lightness []float64
			for _, p := range truth.Pieces {
				lightness = append(lightness, p.Lab.L)
			}
			cuts := piles.Cuts(lightness, 3)
			for j, k := range match {
				if k < 0 {
					continue
				}
				f, t := r.Sort.Fabrics[k], truth.Pieces[j].Lab.L
				seen := colorspace.Lightness(truth.Pieces[j].Reflectance.Y() * level)
				dL = append(dL, math.Abs(f.Lightness-seen))
				if neutralGround(table.Ground) {
					neutral = append(neutral, math.Abs(f.Lightness-seen))
				} else {
					coloured = append(coloured, math.Abs(f.Lightness-seen))
				}
				u := f.Apart
				if set {
					u = f.Uncertainty
				}
				inside.add(math.Abs(f.Lightness-seen), u)
				near := slices.ContainsFunc(cuts, func(c float64) bool { return math.Abs(c-t) <= 3 })
				if !near && !f.Doubtful && len(cuts) == 2 {
					want := piles.Medium
					if t > cuts[0] {
						want = piles.Light
					} else if t < cuts[1] {
						want = piles.Dark
					}
					pile.add(f.Pile == want)
				}
			}
		}
		b.ReportMetric(found.value(), "found")
		b.ReportMetric(extra.value(), "false")
		if python != "" {
			b.ReportMetric(peerFound.value(), "opencv-found")
			b.ReportMetric(peerExtra.value(), "opencv-false")
		}
		b.ReportMetric(dL.at(.5), "median-dL")
		b.ReportMetric(dL.at(.95), "p95-dL")
		b.ReportMetric(neutral.at(.95), "p95-dL-neutral")
		b.ReportMetric(coloured.at(.95), "p95-dL-coloured")
		b.ReportMetric(pile.value(), "pile-right")
		b.ReportMetric(sheets.value(), "white-sheets-known")
		inside.report(b)
	}
}

// neutralGround: a white sheet, a pale flannel, a cutting mat (grey, or green
// as most are), or anything else with next to no colour.
func neutralGround(b scene.Backdrop) bool {
	switch b.Ground {
	case scene.Sheet, scene.Flannel, scene.Mat:
		return true
	}
	l := b.Lab
	if l == (colorspace.Lab{}) {
		l = b.Ground.Usual()
	}
	return math.Hypot(l.A, l.B) < 8
}

// overlap is the intersection over union of two polygons, on a raster of
// some 100 lines over both.
func overlap(a, b [][2]float64) float64 {
	if apart(a, b) {
		return 0
	}
	y0, y1, x0, x1 := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
	for _, p := range slices.Concat(a, b) {
		x0, x1, y0, y1 = min(x0, p[0]), max(x1, p[0]), min(y0, p[1]), max(y1, p[1])
	}
	const n = 100
	var both, either float64
	for i := range n {
		for j := range n {
			x, y := x0+(x1-x0)*(float64(i)+.5)/n, y0+(y1-y0)*(float64(j)+.5)/n
			in, on := holds(a, x, y), holds(b, x, y)
			if in && on {
				both++
			}
			if in || on {
				either++
			}
		}
	}
	return both / max(either, 1)
}

// apart: no upright box round the one polygon meets that round the other.
func apart(a, b [][2]float64) bool {
	for k := range 2 {
		lo := func(p [][2]float64) float64 {
			return slices.MinFunc(p, func(q, r [2]float64) int { return cmp.Compare(q[k], r[k]) })[k]
		}
		hi := func(p [][2]float64) float64 {
			return slices.MaxFunc(p, func(q, r [2]float64) int { return cmp.Compare(q[k], r[k]) })[k]
		}
		if lo(a) >= hi(b) || lo(b) >= hi(a) {
			return true
		}
	}
	return false
}

// holds tells whether a polygon holds a point (even-odd).
func holds(p [][2]float64, x, y float64) bool {
	in := false
	for i := range p {
		a, b := p[i], p[(i+1)%len(p)]
		if (a[1] > y) != (b[1] > y) && x < a[0]+(y-a[1])/(b[1]-a[1])*(b[0]-a[0]) {
			in = !in
		}
	}
	return in
}

// BenchmarkAccuracyTops: tops of every kind, with the corners and counts given
// and with nothing given.
func BenchmarkAccuracyTops(b *testing.B) {
	for _, how := range []string{"given", "found"} {
		b.Run(how, func(b *testing.B) {
			for b.Loop() {
				var grid, sureWrong, tone, named, misplacedFound, misplacedRight ratio
				var inside claims
				var lostHit, lostSaid, lostTrue float64
				var dL errs
				for i := range *scenes {
					top := scene.AnyTop(*firstSeed + uint64(i))
					taken, paths := shoot(b, top)
					truth := taken[0].Truth.Grid
					opt := analyze.LayoutOptions{Settings: settings()}
					if how == "given" {
						opt.Rows, opt.Cols, opt.Corners = truth.Rows, truth.Cols, truth.Corners
						opt.Setting = layout.Straight
						if truth.OnPoint {
							opt.Setting = layout.OnPoint
						}
					}
					r, err := analyze.Layout(context.Background(), paths[0], opt)
					if err != nil {
						grid.add(false)
						continue
					}
					l := r.Layout
					right := l.Rows == truth.Rows && l.Cols == truth.Cols
					for c := range l.Corners {
						right = right && math.Hypot(l.Corners[c][0]-truth.Corners[c][0], l.Corners[c][1]-truth.Corners[c][1]) <= .01*float64(taken[0].Truth.Width)
					}
					grid.add(right)
					sureWrong.add(!right && l.GridFound)
					if !right {
						continue
					}
					named.add(sameRepeat(l.Pattern.Name, scene.Repeat(truth.Pattern)))
					at := map[layout.Cell]*layout.Patch{}
					// A top hangs on no sheet: how much light the camera took is
					// not known, and lightnesses are those of the photo.
					var levels errs
					for j := range l.Patches {
						p := &l.Patches[j]
						at[layout.Cell{p.Row, p.Col}] = p
						if t := truth.Patch(p.Row, p.Col); t != nil {
							levels = append(levels, math.Log(colorspace.LuminanceOf(p.Lightness)/t.Reflectance.Y()))
						}
					}
					level := math.Exp(levels.at(.5))
					for j := range l.Patches {
						p := &l.Patches[j]
						t := truth.Patch(p.Row, p.Col)
						if t == nil {
							continue
						}
						off := math.Abs(p.Lightness - inLight(t, level))
						dL = append(dL, off)
						inside.add(off, p.Apart)
						if repeats(scene.Repeat(truth.Pattern)) && (t.Meant == "L" || t.Meant == "D") && !t.Misplaced {
							tone.add(p.Reads == map[string]layout.Role{"L": layout.Light, "D": layout.Dark}[t.Meant])
						}
						if t.Misplaced {
							misplacedFound.add(p.Misplaced)
						}
						if p.Misplaced {
							misplacedRight.add(t.Misplaced)
						}
					}
					for _, s := range l.Seams {
						p, q := truth.Patch(s.Between[0][0], s.Between[0][1]), truth.Patch(s.Between[1][0], s.Between[1][1])
						if p == nil || q == nil || p.Cloth == q.Cloth {
							continue
						}
						lost, said := math.Abs(inLight(p, level)-inLight(q, level)) < layout.DefaultLost, s.Verdict == layout.Lost || s.Verdict == layout.SameCloth
						if lost {
							lostTrue++
						}
						if said {
							lostSaid++
						}
						if lost && said {
							lostHit++
						}
					}
				}
				b.ReportMetric(grid.value(), "grid-right")
				b.ReportMetric(sureWrong.value(), "sure-and-wrong")
				b.ReportMetric(dL.at(.5), "median-dL")
				b.ReportMetric(dL.at(.95), "p95-dL")
				inside.report(b)
				b.ReportMetric(tone.value(), "light-dark-right")
				b.ReportMetric(2*lostHit/max(lostSaid+lostTrue, 1), "lost-F1")
				b.ReportMetric(misplacedFound.value(), "misplaced-recall")
				b.ReportMetric(misplacedRight.value(), "misplaced-precision")
				b.ReportMetric(named.value(), "pattern-named")
			}
		})
	}
}

// inLight is the lightness of a patch in a photo that took that much light.
func inLight(p *scene.Patch, level float64) float64 {
	return colorspace.Lightness(p.Reflectance.Y() * level)
}

// repeats tells whether a design has a repeat of lights and darks.
func repeats(r scene.Repeat) bool {
	return r != scene.Gradation && r != scene.Picture && r != scene.Scattered
}

// sameRepeat tells whether a pattern's name says the design. Side by side
// without plain blocks, four and sixteen patches make the same checkerboard.
func sameRepeat(name string, design scene.Repeat) bool {
	says := func(words ...string) bool {
		return slices.ContainsFunc(words, func(w string) bool { return strings.Contains(name, w) })
	}
	switch design {
	case scene.FourPatch, scene.SixteenPatch, scene.Checkerboard:
		return says("checkerboard", string(design))
	case scene.NinePatch:
		return says("nine patch, dark corners", "nine patch, dark and light corners")
	case scene.NinePatchLight:
		return says("nine patch, light corners", "nine patch, dark and light corners")
	case scene.Gradation, scene.Picture, scene.Scattered:
		return name == "none"
	}
	return says(string(design))
}

// BenchmarkAccuracyBorders: prints with a card, filling the photo or lying
// beside other cloth, where --at tells the print's place.
func BenchmarkAccuracyBorders(b *testing.B) {
	for b.Loop() {
		var found, count, ground ratio
		var dE, share errs
		for i := range *scenes {
			taken, paths := shoot(b, scene.AnyBorder(*firstSeed+uint64(i)))
			truth := taken[0].Truth
			opt := analyze.BorderOptions{Settings: settings(), Choose: 4, At: truth.Print}
			if len(truth.Cards) > 0 {
				opt.Light.Cards = []light.Card{{Place: truth.Cards[0].Inside, Lightness: truth.Cards[0].Lab.L}}
			}
			r, err := analyze.Border(context.Background(), paths[0], opt)
			if err != nil {
				b.Fatal(err)
			}
			is := truth.Pieces[0].Measure
			if !truth.Print.Empty() {
				is = truth.PrintIs
			}
			telling := 0
			for j, k := range is.Inks {
				if k.Share >= .005 {
					telling++
				}
				if k.Share < .03 {
					continue
				}
				best, at := math.Inf(1), -1
				for m, p := range r.Border.Palette {
					if d := colorspace.CIEDE2000(p.Lab, k.Lab); d < best {
						best, at = d, m
					}
				}
				found.add(best <= 3)
				dE = append(dE, best)
				if best <= 3 {
					share = append(share, math.Abs(r.Border.Palette[at].Share-k.Share))
					if j == 0 {
						ground.add(r.Border.Palette[at].Role == border.Ground)
					}
				}
			}
			count.add(math.Abs(float64(len(r.Border.Palette)-telling)) <= 1)
		}
		b.ReportMetric(found.value(), "inks-found")
		b.ReportMetric(dE.mean(), "mean-dE")
		b.ReportMetric(dE.at(.95), "p95-dE")
		b.ReportMetric(dE.at(1), "worst-dE")
		b.ReportMetric(100*share.mean(), "mean-share-points")
		b.ReportMetric(count.value(), "count-within-one")
		b.ReportMetric(ground.value(), "ground-right")
	}
}

// BenchmarkAccuracyMatches: is the cloth that is named as the nearest to a
// colour of the print the nearest in truth, and if not, how much farther is
// it? The stash are close-ups beside a card, sorted before.
func BenchmarkAccuracyMatches(b *testing.B) {
	for b.Loop() {
		var right, near ratio
		var cost errs
		for i := range *scenes {
			seed := *firstSeed + uint64(i)
			var shots []interface{ Shoot() (scene.Shot, error) }
			for _, c := range scene.AnyCloseups(seed, 8, true) {
				shots = append(shots, c)
			}
			taken, paths := shoot(b, shots...)
			sort := analyze.SortOptions{Settings: settings(), Piles: 3, Scraps: analyze.ScrapsOne}
			sort.Light.Cards = []light.Card{{Place: taken[0].Truth.Cards[0].Inside, Lightness: taken[0].Truth.Cards[0].Lab.L}}
			sorted, err := analyze.Sort(context.Background(), paths, sort)
			if err != nil {
				b.Fatal(err)
			}
			var stash []piles.Fabric
			for j, t := range taken {
				m := t.Truth.Pieces[0].Measure
				f := piles.Fabric{ID: fmt.Sprint(j + 1), Cloth: cloth.Cloth{Lab: m.Lab, Character: cloth.Print}}
				for _, k := range m.Inks {
					f.Colours = append(f.Colours, cloth.Colour{Lab: k.Lab, Share: k.Share})
				}
				stash = append(stash, f)
			}
			prints, at := shoot(b, scene.AnyBorder(seed))
			truth := prints[0].Truth
			opt := analyze.BorderOptions{Settings: settings(), Choose: 4, At: truth.Print, StashKnown: sorted.Sort.Fabrics}
			opt.Light.Cards = []light.Card{{Place: truth.Cards[0].Inside, Lightness: truth.Cards[0].Lab.L}}
			r, err := analyze.Border(context.Background(), at[0], opt)
			if err != nil {
				b.Fatal(err)
			}
			is := truth.Pieces[0].Measure
			if !truth.Print.Empty() {
				is = truth.PrintIs
			}
			for _, k := range is.Inks {
				if k.Share < .03 {
					continue
				}
				said := -1
				for m, p := range r.Border.Palette {
					if said < 0 || colorspace.CIEDE2000(p.Lab, k.Lab) < colorspace.CIEDE2000(r.Border.Palette[said].Lab, k.Lab) {
						said = m
					}
				}
				want := border.Find(border.Inks{Colours: []cloth.Colour{{Lab: k.Lab, Share: 1}}}, stash, 1).Matches[0].Fabrics
				got := r.Border.Matches[said].Fabrics[0].ID
				best := slices.IndexFunc(want, func(n border.Near) bool { return n.ID == got })
				right.add(best == 0)
				cost = append(cost, want[best].DeltaE-want[0].DeltaE)
				near.add(best == 0 || want[best].DeltaE-want[0].DeltaE < 1)
			}
		}
		b.ReportMetric(right.value(), "nearest-right")
		b.ReportMetric(near.value(), "right-or-within-1")
		b.ReportMetric(cost.at(1), "worst-cost-dE")
	}
}
