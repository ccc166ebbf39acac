package analyze_test

import (
	"fmt"
	"image"
	"math"
	"slices"
	"strings"
	"testing"

	"greige/analyze"
	"greige/analyze/camera"
	"greige/analyze/cloth"
	"greige/analyze/layout"
	"greige/analyze/light"
	"greige/colorspace"
)

// chartKeys are the columns of a table of charts, in order:
//
//	abs_med, abs_95, off_med, off_95   |dL*|, median and 95th percentile; off: the photo's median error taken out
//	tau                                Kendall's rank correlation of measured and published L*
//	seam_ok                            neighbours over 8 apart that are in order and called neither lost nor same cloth
//	seam_wrong                         neighbours over 8 apart that are called clear or soft in the wrong order
//	sure_ok, sure                      the same where the program is sure at 4 to 1 or better, and the share of those
//	near_lost                          neighbours under 4 apart that are called lost
//	u_med                              median half interval
//	cover, cover_off                   share of patches whose interval holds the published L*
//	need, need_off                     95th percentile of |error| / half: what intervals would have to be multiplied by
//	same_wrong                         seams over 8 apart called same cloth (a sum, not a mean)
var chartKeys = []string{"abs_med", "abs_95", "off_med", "off_95", "tau", "seam_ok", "seam_wrong", "sure_ok", "sure", "near_lost", "u_med", "cover", "cover_off", "need", "need_off", "same_wrong"}

// chartMode is one way of measuring a chart.
type chartMode struct {
	name  string
	light light.Mode
	cards []int // patches of the chart that are given; 0 is the paper beside it
}

var chartModes = []chartMode{
	{"none", light.None, nil}, {"auto", light.Auto, nil},
	{"auto+19", light.Auto, []int{19}}, {"auto+22", light.Auto, []int{22}},
	{"auto+19+22", light.Auto, []int{19, 22}}, {"auto+19+22+24", light.Auto, []int{19, 22, 24}},
	{"auto+sheet", light.Auto, []int{0}}, {"sheet", light.Sheet, nil},
}

// naiveModes divide the file's linear light by a reference's, and no more.
var naiveModes = []chartMode{{"naive", "", nil}, {"naive+19", "", []int{19}}, {"naive+22", "", []int{22}}, {"naive+sheet", "", []int{0}}}

// paperL is the L* of plain white paper, as the program takes it.
const paperL = 95.0

// measuredChart is what one way of measuring says of a chart.
type measuredChart struct {
	lightness map[layout.Cell]float64
	cloths    map[layout.Cell]*cloth.Cloth // nil for the naive ways
	verdicts  map[[2]layout.Cell]layout.Verdict
}

// BenchmarkRealCharts measures the 24-patch chart with its corners given, in
// every way of telling the light, beside naive figures of the same files.
func BenchmarkRealCharts(b *testing.B) {
	photos := annotatedPhotos(b, "charts")
	t := &chartTables{published: publishedChart(b), file: filePatches(b, photos), rows: map[string]map[string]chartFigures{}, orders: map[string]*order{}}
	for b.Loop() {
		weight := map[string]float64{}
		for _, a := range photos {
			if a.Main {
				weight[a.Repo]++
			}
		}
		for _, a := range photos {
			for _, mode := range naiveModes {
				t.naive(&a, mode)
			}
			for _, mode := range chartModes {
				t.measure(b, &a, mode, 1/max(weight[a.Repo], 1))
			}
		}
		t.print(photos)
	}
	for _, mode := range []string{"auto", "auto+19", "auto+22"} {
		for _, key := range []string{"cover", "need", "seam_ok"} {
			if v := t.mean(photos, mode, key, func(a *annotated) bool { return a.Main }); !math.IsNaN(v) {
				b.ReportMetric(v, mode+"-"+key)
			}
		}
	}
	b.ReportMetric(0, "ns/op")
}

// chartFigures are a photo's figures by the names of chartKeys.
type chartFigures map[string]float64

type chartTables struct {
	published []float64
	file      map[string]*[25]colorspace.Linear
	rows      map[string]map[string]chartFigures // way, photo
	orders    map[string]*order                  // way; main photos, sources alike
	failed    []string
}

func (t *chartTables) put(mode string, a *annotated, f chartFigures) {
	if t.rows[mode] == nil {
		t.rows[mode] = map[string]chartFigures{}
	}
	t.rows[mode][a.name] = f
}

// naive reckons from the table of the files' figures.
func (t *chartTables) naive(a *annotated, mode chartMode) {
	file := t.file[a.name]
	if file == nil || slices.Contains(mode.cards, 0) && a.Sheet == nil {
		return
	}
	m := measuredChart{lightness: map[layout.Cell]float64{}}
	for r := 1; r <= a.Rows; r++ {
		for c := 1; c <= a.Cols; c++ {
			n := a.patch(r, c)
			if slices.Contains(mode.cards, n) {
				continue
			}
			v := file[n]
			for _, k := range mode.cards {
				known := paperL
				if k > 0 {
					known = t.published[k-1]
				}
				for j := range v {
					v[j] *= colorspace.LuminanceOf(known) / max(file[k][j], 1e-4)
				}
			}
			m.lightness[layout.Cell{r, c}] = colorspace.Lightness(v.Y())
		}
	}
	t.put(mode.name, a, t.judge(a, &m))
}

// measure runs the program.
func (t *chartTables) measure(b *testing.B, a *annotated, mode chartMode, weight float64) {
	if (mode.light == light.Sheet || slices.Contains(mode.cards, 0)) && a.Sheet == nil {
		return
	}
	opt := analyze.LayoutOptions{Settings: settings(), Rows: a.Rows, Cols: a.Cols}
	for _, c := range a.Corners {
		opt.Corners = append(opt.Corners, [2]float64{math.Round(c[0]), math.Round(c[1])})
	}
	opt.Light.Mode = mode.light
	var cards []card
	for _, n := range mode.cards {
		if n == 0 {
			s := a.Sheet
			cards = append(cards, card{image.Rect(s[0], s[1], s[0]+s[2], s[1]+s[3]), paperL})
			continue
		}
		cards = append(cards, card{a.square(n), t.published[n-1]})
	}
	giveCards(&opt.Settings, cards)
	r := layoutOf(b, a.path(), opt)
	if r == nil {
		t.failed = append(t.failed, a.name+" "+mode.name)
		return
	}
	m := measuredChart{map[layout.Cell]float64{}, map[layout.Cell]*cloth.Cloth{}, map[[2]layout.Cell]layout.Verdict{}}
	for i := range r.Layout.Patches {
		p := &r.Layout.Patches[i]
		if slices.Contains(mode.cards, a.patch(p.Row, p.Col)) { // what was given is not judged
			continue
		}
		at := layout.Cell{p.Row, p.Col}
		m.lightness[at], m.cloths[at] = p.Lightness, &p.Cloth
	}
	for _, s := range r.Layout.Seams {
		m.verdicts[s.Between] = s.Verdict
	}
	t.put(mode.name, a, t.judge(a, &m))
	if a.Main {
		t.calibrate(a, mode.name, &m, weight/24)
	}
}

// calibrate counts all pairs of a chart's patches by the chance of their order.
func (t *chartTables) calibrate(a *annotated, mode string, m *measuredChart, weight float64) {
	if t.orders[mode] == nil {
		t.orders[mode] = &order{}
	}
	cells := a.cells(m)
	for i, p := range cells {
		for _, q := range cells[:i] {
			d := t.published[a.patch(p[0], p[1])-1] - t.published[a.patch(q[0], q[1])-1]
			t.orders[mode].add(chanceOfOrder(m.cloths[p], m.cloths[q]), (m.lightness[p]-m.lightness[q])*d > 0, weight)
		}
	}
}

// cells that were measured, in reading order.
func (a *annotated) cells(m *measuredChart) []layout.Cell {
	var out []layout.Cell
	for r := 1; r <= a.Rows; r++ {
		for c := 1; c <= a.Cols; c++ {
			if _, ok := m.lightness[layout.Cell{r, c}]; ok {
				out = append(out, layout.Cell{r, c})
			}
		}
	}
	return out
}

// judge compares a chart with what is published of it.
func (t *chartTables) judge(a *annotated, m *measuredChart) chartFigures {
	var e, half []float64
	var truth, got []float64
	for _, at := range a.cells(m) {
		l := t.published[a.patch(at[0], at[1])-1]
		truth, got = append(truth, l), append(got, m.lightness[at])
		e = append(e, m.lightness[at]-l)
		if m.cloths != nil {
			half = append(half, max(m.cloths[at].Uncertainty, 1e-9))
		}
	}
	common := quantile(e, .5)
	off := make([]float64, len(e))
	for i := range e {
		off[i] = e[i] - common
	}
	f := chartFigures{
		"abs_med": quantile(absolute(e), .5), "abs_95": quantile(absolute(e), .95),
		"off_med": quantile(absolute(off), .5), "off_95": quantile(absolute(off), .95), "tau": kendall(truth, got),
	}
	if half != nil {
		f["u_med"] = quantile(half, .5)
		f["cover"], f["need"] = coverage(e, half)
		f["cover_off"], f["need_off"] = coverage(off, half)
	}
	t.judgeSeams(a, m, f)
	return f
}

// coverage is the share of errors within the halves of their intervals, and
// the 95th percentile of the one over the other.
func coverage(e, half []float64) (cover, need float64) {
	var over []float64
	for i := range e {
		over = append(over, math.Abs(e[i])/half[i])
		if over[i] <= 1 {
			cover += 1 / float64(len(e))
		}
	}
	return cover, quantile(over, .95)
}

// kendall is the rank correlation of Kendall 1938, without ties.
func kendall(x, y []float64) float64 {
	sum, n := 0.0, 0.0
	for i := range x {
		for j := range i {
			d := (x[i] - x[j]) * (y[i] - y[j])
			switch {
			case d > 0:
				sum++
			case d < 0:
				sum--
			}
			n++
		}
	}
	return sum / n
}

// judgeSeams adds the figures of neighbouring patches. The naive ways call a
// seam lost that is under the program's own limit.
func (t *chartTables) judgeSeams(a *annotated, m *measuredChart, f chartFigures) {
	var right, wrong, sureRight, nearLost ratio
	same := 0.0
	for _, p := range a.cells(m) {
		for _, q := range []layout.Cell{{p[0], p[1] + 1}, {p[0] + 1, p[1]}} {
			if _, ok := m.lightness[q]; !ok {
				continue
			}
			d := t.published[a.patch(p[0], p[1])-1] - t.published[a.patch(q[0], q[1])-1]
			seen := m.lightness[p] - m.lightness[q]
			gone := math.Abs(seen) < layout.DefaultLost
			if m.verdicts != nil {
				v := m.verdicts[[2]layout.Cell{p, q}]
				gone = v == layout.Lost || v == layout.SameCloth
				if v == layout.SameCloth && math.Abs(d) > layout.DefaultLost {
					same++
				}
			}
			switch {
			case math.Abs(d) > layout.DefaultLost:
				right.add(seen*d > 0 && !gone)
				wrong.add(seen*d < 0 && !gone)
				if m.cloths != nil && sureOfSeam(m.cloths[p], m.cloths[q]) {
					sureRight.add(seen*d > 0 && !gone)
				}
			case math.Abs(d) < 4: // half of the limit: nobody would call it a seam
				nearLost.add(gone)
			}
		}
	}
	f["seam_ok"], f["seam_wrong"] = right.value(), wrong.value()
	if nearLost.whole > 0 {
		f["near_lost"] = nearLost.value()
	}
	if m.cloths != nil {
		f["same_wrong"] = same
		f["sure"] = sureRight.whole / max(right.whole, 1)
		if sureRight.whole > 0 {
			f["sure_ok"] = sureRight.value()
		}
	}
}

// sureOfSeam tells whether the chances that a seam is lost, or is not, stand
// at 4 to 1 or better.
func sureOfSeam(p, q *cloth.Cloth) bool {
	lost := camera.Within(p.Lightness-q.Lightness, doubtOfDifference(p, q), layout.DefaultLost)
	return max(lost, 1-lost) >= .8
}

// mean of a figure over the repositories of the mean over their photos.
func (t *chartTables) mean(photos []annotated, mode, key string, which func(*annotated) bool) float64 {
	var sources, sums, counts []float64
	index := map[string]int{}
	for i := range photos {
		a := &photos[i]
		v, ok := t.rows[mode][a.name][key]
		if !ok || !which(a) {
			continue
		}
		k, seen := index[a.Repo]
		if !seen {
			k = len(sums)
			index[a.Repo], sums, counts = k, append(sums, 0), append(counts, 0)
		}
		sums[k] += v
		counts[k]++
	}
	for k := range sums {
		sources = append(sources, sums[k]/counts[k])
	}
	if len(sources) == 0 {
		return math.NaN()
	}
	if key == "same_wrong" {
		return errs(sums).mean() * float64(len(sums))
	}
	return errs(sources).mean()
}

func (t *chartTables) table(photos []annotated, title string, which func(*annotated) bool) {
	n := 0
	for i := range photos {
		if which(&photos[i]) {
			n++
		}
	}
	if n == 0 {
		return
	}
	fmt.Printf("\n%s, %d photos (means over repositories of the means over their photos)\n%-14s", title, n, "")
	for _, k := range chartKeys {
		fmt.Printf(" %10s", k)
	}
	fmt.Println()
	for _, mode := range append(slices.Clone(naiveModes), chartModes...) {
		if math.IsNaN(t.mean(photos, mode.name, "abs_med", which)) {
			continue
		}
		fmt.Printf("%-14s", mode.name)
		for _, k := range chartKeys {
			if v := t.mean(photos, mode.name, k, which); math.IsNaN(v) {
				fmt.Printf(" %10s", ".")
			} else {
				fmt.Printf(" %10.3f", v)
			}
		}
		fmt.Println()
	}
}

func (t *chartTables) print(photos []annotated) {
	t.table(photos, "charts, main photos", func(a *annotated) bool { return a.Main })
	t.table(photos, "with white paper beside the chart", func(a *annotated) bool { return a.Main && a.Sheet != nil })
	for _, class := range []string{"phone", "camera", "webcam", "stock"} {
		t.table(photos, class, func(a *annotated) bool { return a.Main && a.Class == class })
	}
	t.table(photos, "hostile: linear code values, no white balance", func(a *annotated) bool { return !a.Main })
	fmt.Println("\npairs said to be in order with a chance, and how many were (main photos, sources alike)")
	for _, mode := range chartModes {
		if o := t.orders[mode.name]; o != nil {
			fmt.Printf("%-14s %s\n", mode.name, o)
		}
	}
	var sources []string
	for _, a := range photos {
		if !slices.Contains(sources, a.Repo) {
			sources = append(sources, a.Repo)
		}
	}
	slices.Sort(sources)
	for _, s := range sources {
		t.table(photos, s, func(a *annotated) bool { return a.Repo == s })
	}
	if t.failed != nil {
		fmt.Println("\nnothing measured:", strings.Join(t.failed, ", "))
	}
}
