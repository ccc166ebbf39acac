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
	"greige/analyze/light"
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

// cameras are those that the scenes are photographed by: as real ones are, one
// drawn for each scene (scene.AnyRendering), and exact, as none is. Places and
// pieces should be found alike by both; figures and their doubt are asked of
// the real ones.
var cameras = []struct {
	name string
	of   func(scene.Camera) scene.Camera
}{
	{"real", func(c scene.Camera) scene.Camera { return c }},
	{"exact", scene.Camera.Exact},
}

// byCamera runs a benchmark with each kind of camera.
func byCamera(b *testing.B, run func(b *testing.B, camera func(scene.Camera) scene.Camera)) {
	for _, c := range cameras {
		b.Run(c.name, func(b *testing.B) { run(b, c.of) })
	}
}

// claims are absolute errors over the halves of the intervals of 95 % that were
// said of them. Cover is the share that lies under 1, .95 where the intervals
// are right; need is the 95th percentile: what the intervals would have to be
// multiplied by. Both sides count: a need far under 1 is doubt that is not there.
type claims struct{ errs }

func (c *claims) add(off, half float64) { c.errs = append(c.errs, off/max(half, 1e-9)) }

func (c claims) report(b *testing.B, prefix string) {
	held := 0.0
	for _, v := range c.errs {
		if v <= 1 {
			held++
		}
	}
	b.ReportMetric(held/float64(len(c.errs)), prefix+"cover")
	b.ReportMetric(c.at(.95), prefix+"need")
}

// calibration is what the program says of its doubt in one kind of scene:
// intervals of the lightness itself, the same with the level taken out that
// all cloths of a photo share, differences of two cloths of one photo, and the
// chance of their order.
type calibration struct {
	whole, apart, differences claims
	order                     order
}

// add compares the cloths of one photo, each with its true L*, and each with
// the L* that it would have at the photo's own level.
func (c *calibration) add(cloths []*cloth.Cloth, truth, inPhoto []float64) {
	for i, p := range cloths {
		c.whole.add(math.Abs(p.Lightness-truth[i]), p.Uncertainty)
		c.apart.add(math.Abs(p.Lightness-inPhoto[i]), p.Uncertainty)
	}
	// A top of 1600 patches would outweigh all the rest by its million pairs:
	// no more than 20 to 40 cloths of a photo are compared with each other.
	step := 1 + len(cloths)/40
	n := float64((len(cloths) + step - 1) / step)
	for i := 0; i < len(cloths); i += step {
		for j := 0; j < i; j += step {
			p, q := cloths[i], cloths[j]
			d := inPhoto[i] - inPhoto[j]
			c.differences.add(math.Abs(p.Lightness-q.Lightness-d), 2.447*doubtOfDifference(p, q))
			c.order.add(chanceOfOrder(p, q), (p.Lightness-q.Lightness)*d > 0, 2/(n*(n-1)))
		}
	}
}

func (c *calibration) report(b *testing.B) {
	c.whole.report(b, "")
	c.apart.report(b, "apart-")
	c.differences.report(b, "difference-")
	b.Logf("order: %s", &c.order)
}

// BenchmarkAccuracyCloseups: sets of close-ups, each beside a card whose place
// is given; beside a card that has to be found; and by the camera's record.
func BenchmarkAccuracyCloseups(b *testing.B) {
	for _, how := range []string{"card", "paper", "record"} {
		b.Run(how, func(b *testing.B) {
			byCamera(b, func(b *testing.B, camera func(scene.Camera) scene.Camera) {
				for b.Loop() {
					var s closeupScore
					for i := range *scenes {
						s.set(b, how, scene.AnyCloseups(*firstSeed+uint64(i), 6, how != "record"), camera)
					}
					b.ReportMetric(s.dL.at(.5), "median-dL")
					b.ReportMetric(s.dL.at(.95), "p95-dL")
					b.ReportMetric(2*s.order.value()-1, "tau")
					s.said.report(b)
				}
			})
		})
	}
}

type closeupScore struct {
	dL    errs
	order ratio
	said  calibration
}

// set sorts a set of close-ups.
func (s *closeupScore) set(b *testing.B, how string, set []scene.Closeup, camera func(scene.Camera) scene.Camera) {
	var shots []interface{ Shoot() (scene.Shot, error) }
	for _, c := range set {
		c.Camera = camera(c.Camera)
		shots = append(shots, c)
	}
	taken, paths := shoot(b, shots...)
	if how == "paper" && taken[0].Truth.Cards[0].Lab.L < 90 {
		return // a grey card is no paper that could be found
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
	var cloths []*cloth.Cloth
	var truth, inPhoto []float64
	var logs errs
	for j := range r.Sort.Fabrics {
		f := &r.Sort.Fabrics[j]
		cloths, truth = append(cloths, &f.Cloth), append(truth, taken[j].Truth.Pieces[0].Lab.L)
		logs = append(logs, math.Log(colorspace.LuminanceOf(f.Lightness)/taken[j].Truth.Pieces[0].Reflectance.Y()))
	}
	level := 0.0
	if how == "record" { // the record fixes exposures against each other only
		level = logs.at(.5)
	}
	for j, f := range cloths {
		l := colorspace.Lightness(taken[j].Truth.Pieces[0].Reflectance.Y() * math.Exp(level))
		inPhoto = append(inPhoto, l)
		s.dL = append(s.dL, math.Abs(f.Lightness-l))
		for k, g := range cloths[:j] {
			s.order.add((f.Lightness-g.Lightness)*(truth[j]-truth[k]) > 0)
		}
	}
	s.said.add(cloths, truth, inPhoto)
}

// BenchmarkAccuracyTables: photos of scraps, nothing given. Beside it, where
// Python has OpenCV, what a segmentation by that finds in the same photos.
func BenchmarkAccuracyTables(b *testing.B) {
	python := pythonWithOpenCV()
	if python == "" {
		b.Log("no python3 with OpenCV and NumPy here: the peer is left out")
	}
	byCamera(b, func(b *testing.B, camera func(scene.Camera) scene.Camera) {
		for b.Loop() {
			s := tableScore{python: python}
			for i := range *scenes {
				table := scene.AnyTable(*firstSeed + uint64(i))
				table.Camera = camera(table.Camera)
				if *wide > 0 {
					table.Take.Width = *wide
				}
				s.table(b, table)
			}
			s.report(b)
		}
	})
}

type tableScore struct {
	python                                           string
	found, extra, pile, sheets, peerFound, peerExtra ratio
	dL, neutral, coloured                            errs // neutral, coloured: by the ground
	said                                             calibration
}

func (s *tableScore) report(b *testing.B) {
	b.ReportMetric(s.found.value(), "found")
	b.ReportMetric(s.extra.value(), "false")
	if s.python != "" {
		b.ReportMetric(s.peerFound.value(), "opencv-found")
		b.ReportMetric(s.peerExtra.value(), "opencv-false")
	}
	b.ReportMetric(s.dL.at(.5), "median-dL")
	b.ReportMetric(s.dL.at(.95), "p95-dL")
	b.ReportMetric(s.neutral.at(.95), "p95-dL-neutral")
	b.ReportMetric(s.coloured.at(.95), "p95-dL-coloured")
	b.ReportMetric(s.pile.value(), "pile-right")
	b.ReportMetric(s.sheets.value(), "white-sheets-known")
	s.said.report(b)
}

// table sorts the scraps of one photo.
func (s *tableScore) table(b *testing.B, table scene.Table) {
	taken, paths := shoot(b, table)
	if taken == nil {
		return
	}
	truth := taken[0].Truth
	r, err := analyze.Sort(context.Background(), paths, analyze.SortOptions{Settings: settings(), Piles: 3, Scraps: analyze.ScrapsAuto})
	if err != nil {
		b.Fatal(err)
	}
	match := s.match(truth.Pieces, r.Sort.Fabrics)
	if s.python != "" {
		s.peer(b, paths[0], truth.Pieces)
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
	if table.Ground.Ground == scene.Sheet {
		s.sheets.add(set)
	}
	s.figures(r.Sort.Fabrics, truth.Pieces, match, func(p *scene.Piece) float64 {
		if set { // the program says that it knows
			return p.Lab.L
		}
		return colorspace.Lightness(p.Reflectance.Y() * level)
	}, neutralGround(table.Ground))
}

// match tells for each piece which of the fabrics it is, -1 for none.
func (s *tableScore) match(pieces []scene.Piece, fabrics []piles.Fabric) []int {
	match := make([]int, len(pieces))
	used := map[int]bool{}
	for j, p := range pieces {
		match[j] = -1
		for k, f := range fabrics {
			if !used[k] && overlap(p.Outline, f.Outline) >= .8 {
				match[j], used[k] = k, true
				break
			}
		}
		if !p.Covered && !p.FromEdge {
			s.found.add(match[j] >= 0)
		}
	}
	for k, f := range fabrics {
		if !f.Doubtful {
			s.extra.add(!used[k])
		}
	}
	return match
}

// peer is what a segmentation by OpenCV finds in the same photo.
func (s *tableScore) peer(b *testing.B, path string, pieces []scene.Piece) {
	outlines := segmented(b, s.python, path)
	used := map[int]bool{}
	for _, p := range pieces {
		at := slices.IndexFunc(outlines, func(o [][2]float64) bool { return overlap(p.Outline, o) >= .8 })
		if at >= 0 {
			used[at] = true
		}
		if !p.Covered && !p.FromEdge {
			s.peerFound.add(at >= 0)
		}
	}
	for k := range outlines {
		s.peerExtra.add(!used[k])
	}
}

// figures compares the lightnesses and piles of what was found. seen is the L*
// that a piece has at the level of the photo.
func (s *tableScore) figures(fabrics []piles.Fabric, pieces []scene.Piece, match []int, seen func(*scene.Piece) float64, neutral bool) {
	var all []float64
	for _, p := range pieces {
		all = append(all, p.Lab.L)
	}
	cuts := piles.Cuts(all, 3)
	var cloths []*cloth.Cloth
	var truth, inPhoto []float64
	for j, k := range match {
		if k < 0 {
			continue
		}
		f, t := &fabrics[k], pieces[j].Lab.L
		cloths, truth, inPhoto = append(cloths, &f.Cloth), append(truth, t), append(inPhoto, seen(&pieces[j]))
		off := math.Abs(f.Lightness - inPhoto[len(inPhoto)-1])
		s.dL = append(s.dL, off)
		if neutral {
			s.neutral = append(s.neutral, off)
		} else {
			s.coloured = append(s.coloured, off)
		}
		near := slices.ContainsFunc(cuts, func(c float64) bool { return math.Abs(c-t) <= 3 })
		if near || f.Doubtful || len(cuts) != 2 {
			continue
		}
		want := piles.Medium
		if t > cuts[0] {
			want = piles.Light
		} else if t < cuts[1] {
			want = piles.Dark
		}
		s.pile.add(f.Pile == want)
	}
	s.said.add(cloths, truth, inPhoto)
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
			byCamera(b, func(b *testing.B, camera func(scene.Camera) scene.Camera) {
				for b.Loop() {
					var s topScore
					for i := range *scenes {
						top := scene.AnyTop(*firstSeed + uint64(i))
						top.Camera = camera(top.Camera)
						s.top(b, top, how == "given")
					}
					s.report(b)
				}
			})
		})
	}
}

type topScore struct {
	grid, sureWrong, tone, named, misplacedFound, misplacedRight ratio
	lostHit, lostSaid, lostTrue                                  float64
	seamRight, seamSure                                          ratio // of the seams over the limit
	dL                                                           errs
	said                                                         calibration
}

func (s *topScore) report(b *testing.B) {
	b.ReportMetric(s.grid.value(), "grid-right")
	b.ReportMetric(s.sureWrong.value(), "sure-and-wrong")
	b.ReportMetric(s.dL.at(.5), "median-dL")
	b.ReportMetric(s.dL.at(.95), "p95-dL")
	s.said.report(b)
	b.ReportMetric(s.tone.value(), "light-dark-right")
	b.ReportMetric(2*s.lostHit/max(s.lostSaid+s.lostTrue, 1), "lost-F1")
	b.ReportMetric(s.seamRight.value(), "seam-right")
	b.ReportMetric(s.seamSure.value(), "seam-right-when-sure")
	b.ReportMetric(s.misplacedFound.value(), "misplaced-recall")
	b.ReportMetric(s.misplacedRight.value(), "misplaced-precision")
	b.ReportMetric(s.named.value(), "pattern-named")
}

// top judges one top.
func (s *topScore) top(b *testing.B, top scene.Top, given bool) {
	taken, paths := shoot(b, top)
	truth := taken[0].Truth.Grid
	opt := analyze.LayoutOptions{Settings: settings()}
	if given {
		opt.Rows, opt.Cols, opt.Corners = truth.Rows, truth.Cols, truth.Corners
		opt.Setting = layout.Straight
		if truth.OnPoint {
			opt.Setting = layout.OnPoint
		}
	}
	r, err := analyze.Layout(context.Background(), paths[0], opt)
	if err != nil {
		s.grid.add(false)
		return
	}
	l := r.Layout
	right := l.Rows == truth.Rows && l.Cols == truth.Cols
	for c := range l.Corners {
		right = right && math.Hypot(l.Corners[c][0]-truth.Corners[c][0], l.Corners[c][1]-truth.Corners[c][1]) <= .01*float64(taken[0].Truth.Width)
	}
	s.grid.add(right)
	s.sureWrong.add(!right && l.GridFound)
	if !right {
		return
	}
	s.named.add(sameRepeat(l.Pattern.Name, scene.Repeat(truth.Pattern)))
	level := s.patches(l, truth)
	s.seams(l, truth, level)
}

// patches compares the figures of a top's patches, and gives the light that
// the camera took: a top hangs on no sheet, so that this is not known, and
// lightnesses are those of the photo.
func (s *topScore) patches(l *layout.Layout, truth *scene.Grid) (level float64) {
	var cloths []*cloth.Cloth
	var levels errs
	var whole, inPhoto []float64
	var patches []*scene.Patch
	for j := range l.Patches {
		p := &l.Patches[j]
		t := truth.Patch(p.Row, p.Col)
		if t == nil {
			continue
		}
		levels = append(levels, math.Log(colorspace.LuminanceOf(p.Lightness)/t.Reflectance.Y()))
		cloths, patches, whole = append(cloths, &p.Cloth), append(patches, t), append(whole, t.Lab.L)
		if repeats(scene.Repeat(truth.Pattern)) && (t.Meant == "light" || t.Meant == "dark") && !t.Misplaced {
			s.tone.add(string(p.Reads) == t.Meant)
		}
		if t.Misplaced {
			s.misplacedFound.add(p.Misplaced)
		}
		if p.Misplaced {
			s.misplacedRight.add(t.Misplaced)
		}
	}
	level = math.Exp(levels.at(.5))
	for j, p := range cloths {
		inPhoto = append(inPhoto, inLight(patches[j], level))
		s.dL = append(s.dL, math.Abs(p.Lightness-inPhoto[j]))
	}
	s.said.add(cloths, whole, inPhoto)
	return level
}

// seams compares what is said of the seams between different cloths.
func (s *topScore) seams(l *layout.Layout, truth *scene.Grid, level float64) {
	at := map[layout.Cell]*layout.Patch{}
	for j := range l.Patches {
		p := &l.Patches[j]
		at[layout.Cell{p.Row, p.Col}] = p
	}
	for _, seam := range l.Seams {
		p, q := truth.Patch(seam.Between[0][0], seam.Between[0][1]), truth.Patch(seam.Between[1][0], seam.Between[1][1])
		if p == nil || q == nil || p.Cloth == q.Cloth {
			continue
		}
		d := inLight(p, level) - inLight(q, level)
		lost, said := math.Abs(d) < layout.DefaultLost, seam.Verdict == layout.Lost || seam.Verdict == layout.SameCloth
		if lost {
			s.lostTrue++
		}
		if said {
			s.lostSaid++
		}
		if lost && said {
			s.lostHit++
		}
		if lost {
			continue
		}
		one, other := &at[seam.Between[0]].Cloth, &at[seam.Between[1]].Cloth
		right := !said && (one.Lightness-other.Lightness)*d > 0
		s.seamRight.add(right)
		if sureOfSeam(one, other) {
			s.seamSure.add(right)
		}
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
	byCamera(b, borders)
}

func borders(b *testing.B, camera func(scene.Camera) scene.Camera) {
	for b.Loop() {
		var found, count, ground ratio
		var dE, share errs
		for i := range *scenes {
			print := scene.AnyBorder(*firstSeed + uint64(i))
			print.Camera = camera(print.Camera)
			taken, paths := shoot(b, print)
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
	byCamera(b, matches)
}

func matches(b *testing.B, camera func(scene.Camera) scene.Camera) {
	for b.Loop() {
		var right, near ratio
		var cost errs
		for i := range *scenes {
			seed := *firstSeed + uint64(i)
			var shots []interface{ Shoot() (scene.Shot, error) }
			for _, c := range scene.AnyCloseups(seed, 8, true) {
				c.Camera = camera(c.Camera)
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
			print := scene.AnyBorder(seed)
			print.Camera = camera(print.Camera)
			prints, at := shoot(b, print)
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
				want := border.Find(border.Inks{Colours: []cloth.Colour{{Lab: k.Lab, Share: 1}}}, stash, 1, border.Wishes{}).Matches[0].Fabrics
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
