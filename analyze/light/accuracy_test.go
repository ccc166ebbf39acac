package light_test

import (
	"context"
	"fmt"
	"image"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"greige/analyze/light"
	"greige/analyze/photo"
	"greige/analyze/scene"
	"greige/colorspace"
)

// How right the light comes out on photo-like scenes with known truth: weave
// and print, folds, curled edges and their shadows, lens, noise, JPEG. Pieces
// are measured by the mean of linear light over their true masks, so that
// what is left is the light's.

// figure is one piece as measured.
type figure struct {
	cloth       int
	truth, l    float64 // L*
	sigma       float64 // relative standard uncertainty of the luminance
	apart       float64 // the part of it that does not fall alike on all of the photo
	withinLight float64 // l with --light none
	light       colorspace.Linear
}

func open(tb testing.TB, s scene.Shot) *photo.Photo {
	tb.Helper()
	path := filepath.Join(tb.TempDir(), s.Name)
	require.NoError(tb, os.WriteFile(path, s.Data, 0o600))
	p, err := photo.Open(context.Background(), path, photo.Limits{})
	require.NoError(tb, err)
	return p
}

// measure is each piece's figure on an evened photo.
func measure(tb testing.TB, s scene.Shot, e *light.Even) []figure {
	tb.Helper()
	p := e.Photo
	k := max(p.Reduction, 1)
	ignored := func(x, y int) bool {
		return slices.ContainsFunc(e.Ignore, func(r image.Rectangle) bool { return image.Pt(x, y).In(r) })
	}
	type part struct {
		scene.Measure
		cloth int
		in    func(x, y int) bool // of the upright photo
	}
	var parts []part
	for i, q := range s.Truth.Pieces {
		mask := s.Mask(i)
		parts = append(parts, part{q.Measure, q.Cloth, func(x, y int) bool { return mask.GrayAt(x, y).Y == 255 }})
	}
	if g := s.Truth.Grid; g != nil {
		for _, q := range g.Patches { // well inside its seams
			parts = append(parts, part{q.Measure, q.Cloth, inside(q.Outline, .8)})
		}
	}
	var out []figure
	for _, t := range parts {
		var sum, raw colorspace.Linear
		var box image.Rectangle
		n, inner := 0.0, 0.0
		for y := range e.Picture.H {
			for x := range e.Picture.W {
				if !t.in(x*k, y*k) || !t.in(x*k+k-1, y*k+k-1) || ignored(x, y) {
					continue
				}
				n++
				// Beyond its rim, into which the lens mixes what lies beside it.
				const rim = 2
				if !t.in((x-rim)*k, (y-rim)*k) || !t.in((x+rim)*k, (y+rim)*k) || !t.in((x-rim)*k, (y+rim)*k) || !t.in((x+rim)*k, (y-rim)*k) {
					continue
				}
				inner++
				a, b := e.Picture.At(x, y), p.Picture.At(x, y)
				for c := range 3 {
					sum[c] += a[c]
					raw[c] += b[c]
				}
				box = box.Union(image.Rect(x, y, x+1, y+1))
			}
		}
		if n < 100 || inner < .8*n { // a sliver, most of which is blur
			continue
		}
		for c := range 3 {
			sum[c] /= inner
			raw[c] /= inner
		}
		common, apart := e.SigmaOver(box)
		out = append(out, figure{
			cloth: t.cloth, truth: t.Lab.L, l: colorspace.Lightness(sum.Y()), light: sum, withinLight: colorspace.Lightness(raw.Y()),
			sigma: math.Hypot(common, apart), apart: apart,
		})
	}
	return out
}

// inside tells whether a pixel lies in a convex outline, clockwise, drawn in
// towards its middle.
func inside(outline [][2]float64, by float64) func(x, y int) bool {
	var mx, my float64
	for _, p := range outline {
		mx, my = mx+p[0]/float64(len(outline)), my+p[1]/float64(len(outline))
	}
	return func(x, y int) bool {
		u, v := (float64(x)+.5-mx)/by+mx, (float64(y)+.5-my)/by+my
		for i, a := range outline {
			b := outline[(i+1)%len(outline)]
			if (b[0]-a[0])*(v-a[1])-(b[1]-a[1])*(u-a[0]) < 0 {
				return false
			}
		}
		return true
	}
}

func quantile(v []float64, q float64) float64 {
	v = slices.Clone(v)
	slices.Sort(v)
	return v[min(int(q*float64(len(v))), len(v)-1)]
}

// perShare is dL* for a share of the luminance.
func perShare(l float64) float64 { return 116. / 3 * math.Cbrt(max(colorspace.LuminanceOf(l), .009)) }

// half is half of its interval of 95 %, in L*.
func (f figure) half() float64 { return 1.96 * perShare(f.l) * f.sigma }

// misses are |dL*|, and the share of them inside their intervals.
func misses(fs []figure) (miss []float64, inside float64) {
	for _, f := range fs {
		d := math.Abs(f.l - f.truth)
		miss = append(miss, d)
		if d < f.half() {
			inside += 1 / float64(len(fs))
		}
	}
	return miss, inside
}

// level takes out what all figures of one photo have in common, as a factor of
// light.
func level(fs []figure) []figure {
	out := levelSet(fs)
	for i := range out {
		out[i].sigma = out[i].apart
	}
	return out
}

// levelSet is the same for cloths that have a photo each: auto-exposure puts
// them all at one place of the camera's tone curve.
func levelSet(fs []figure) []figure {
	var r []float64
	for _, f := range fs {
		r = append(r, colorspace.LuminanceOf(f.l)/colorspace.LuminanceOf(f.truth))
	}
	mid := quantile(r, .5)
	out := slices.Clone(fs)
	for i := range out {
		out[i].l = colorspace.Lightness(colorspace.LuminanceOf(out[i].l) / mid)
		out[i].sigma = out[i].apart
	}
	return out
}

// shareLight takes the colour of the light out that all figures share.
func shareLight(fs []figure) {
	var cloths []colorspace.Linear
	for _, f := range fs {
		cloths = append(cloths, f.light)
	}
	set := light.LightOfSet(cloths)
	gain := set.Gain()
	for i := range fs {
		f := &fs[i]
		for k := range f.light {
			f.light[k] *= gain[k]
		}
		f.l = colorspace.Lightness(f.light.Y())
		doubt := set.Doubt(f.light)
		f.sigma, f.apart = math.Hypot(f.sigma, doubt), math.Hypot(f.apart, doubt)
	}
}

// recordSet are the figures of close-ups under one lamp by one phone, its white
// balance held fast, that stand on the camera's record.
func recordSet(tb testing.TB, cloths []scene.Cloth, kelvin float64) []figure {
	tb.Helper()
	var records []photo.Record
	var photos []*photo.Photo
	var shots []scene.Shot
	for i, c := range cloths {
		phone := scene.Phone()
		phone.Tone, phone.FixedWhite = 0, true
		s := closeupShot(tb, i+1, 400, c, scene.Light{Lamp: scene.Bulb, Ratio: 1.6, From: 30, Kelvin: kelvin, Vignette: .1}, phone)
		p := open(tb, s)
		shots, photos, records = append(shots, s), append(photos, p), append(records, p.Record)
	}
	var set []figure
	for i, f := range light.Exposures(records) {
		e := evened(tb, photos[i], light.Options{}, light.OneCloth)
		e, ok := e.Stand(f).WithoutCast()
		require.True(tb, f.OneWhite && ok)
		set = append(set, measure(tb, shots[i], e)...)
	}
	shareLight(set)
	return levelSet(set)
}

// tau is Kendall's rank correlation of measured and true lightness, over the
// pairs that differ by more than half an L*.
func tau(fs []figure) float64 {
	same, n := 0.0, 0.0
	for i := range fs {
		for j := range i {
			if math.Abs(fs[i].truth-fs[j].truth) < .5 {
				continue
			}
			n++
			if (fs[i].truth > fs[j].truth) == (fs[i].l > fs[j].l) {
				same++
			} else {
				same--
			}
		}
	}
	return same / max(n, 1)
}

// within is the standard deviation of L* within cloths.
func within(fs []figure, of func(figure) float64) float64 {
	by := map[int][]float64{}
	for _, f := range fs {
		by[f.cloth] = append(by[f.cloth], of(f)-f.truth)
	}
	sq, n := 0.0, 0.0
	for i := range fs {
		v := by[fs[i].cloth]
		m := 0.0
		for _, x := range v {
			m += x / float64(len(v))
		}
		d := of(fs[i]) - fs[i].truth - m
		sq, n = sq+d*d, n+1
	}
	return math.Sqrt(sq / n)
}

// basket is n cloths of all lightnesses, hues and patterns.
func basket(n int, seed float64) []scene.Cloth {
	patterns := []scene.Pattern{scene.Solid, scene.ToneOnTone, scene.Dots, scene.Sprigs, scene.LargeFigures, scene.HighContrast, scene.Stripe, scene.Plaid, scene.Gingham, scene.Check}
	lab := func(i, k float64) colorspace.Lab {
		h := 2.4*i + 2*k + seed
		c := 4 + math.Mod(17*i+11*k+5*seed, 34)
		return colorspace.Lab{L: 16 + math.Mod(53*i+37*k+13*seed, 76), A: c * math.Cos(h), B: c * math.Sin(h)}
	}
	var out []scene.Cloth
	for i := range n {
		f := float64(i)
		p := patterns[i%len(patterns)]
		name := fmt.Sprint("cloth ", i, " ", seed)
		switch p {
		case scene.Solid:
			out = append(out, scene.NewCloth(name, p, lab(f, 0)))
		case scene.Gingham, scene.Check:
			out = append(out, scene.NewCloth(name, p, lab(f, 0), scene.Ink{Lab: lab(f, 1), Share: .5}))
		default:
			out = append(out, scene.NewCloth(name, p, lab(f, 0), scene.Ink{Lab: lab(f, 1), Share: .25}, scene.Ink{Lab: lab(f, 2), Share: .12}))
		}
	}
	return out
}

// lamps are the lights of the benchmark: casts of 2856 to 7000 K, unevenness
// of up to 2:1.
func lamps(i int) scene.Light {
	return scene.Light{
		Lamp: []scene.Lamp{scene.Bulb, scene.Window}[i%2], Ratio: []float64{1, 1.5, 2}[i%3], From: float64(77 * i % 360),
		Kelvin: []float64{2856, 3400, 5000, 7000}[(i*5)%4], Vignette: .1,
	}
}

// mixing are lamps that, one in four, mix colours as the cones' signals do
// (scene.Light.Bradford) and not component by component. Between the two lie
// real dyes: for 13 coloured patches of the colour-rendition chart (spectra of
// Ohta 1997) under black bodies of 2856 to 5000 K, the luminance is off by half
// of what the two are apart, as a root mean square, and so it is here.
func mixing(i int) scene.Light {
	l := lamps(i)
	l.Bradford = i/4%4 == 1
	return l
}

func camera() scene.Camera { return scene.Camera{Blur: .7, Noise: 1, Gain: .45} }

// phones bend the tone curve, from not at all to as an ordinary one does.
func phones() []scene.Camera {
	var all []scene.Camera
	for i := range 6 {
		c := camera()
		c.Tone = scene.Phone().Tone * float64(i) / 5
		all = append(all, c)
	}
	return all
}

func tableShot(tb testing.TB, i, width int, ground scene.Ground, cards ...scene.Paper) scene.Shot {
	tb.Helper()
	return tableBy(tb, camera(), lamps(i), i, width, scene.Backdrop{Ground: ground}, cards...)
}

func tableBy(tb testing.TB, by scene.Camera, under scene.Light, i, width int, ground scene.Backdrop, cards ...scene.Paper) scene.Shot {
	tb.Helper()
	s, err := scene.Table{
		Take:   scene.Take{Seed: uint64(i), Width: width, Workers: 2, Light: under, Camera: by},
		Cloths: basket(14-6*len(cards), float64(i)), Ground: ground, WidthCM: 80 + 50*float64(len(cards)), Cards: cards,
	}.Shoot()
	require.NoError(tb, err)
	return s
}

func closeupShot(tb testing.TB, i, width int, cloth scene.Cloth, l scene.Light, c scene.Camera, cards ...scene.Paper) scene.Shot {
	tb.Helper()
	s, err := scene.Closeup{
		Take:  scene.Take{Seed: uint64(i), Width: width, Workers: 2, Light: l, Camera: c},
		Cloth: cloth, WidthCM: 20, Cards: cards, Wrinkle: .02,
	}.Shoot()
	require.NoError(tb, err)
	return s
}

func topShot(tb testing.TB, i, width int, ground scene.Ground, margin float64, repeat scene.Repeat) scene.Shot {
	tb.Helper()
	s, err := aTop(i, width, ground, margin, repeat).Shoot()
	require.NoError(tb, err)
	return s
}

func aTop(i, width int, ground scene.Ground, margin float64, repeat scene.Repeat) scene.Top {
	var cloths []scene.Cloth
	var piles [3][]int
	for k := range 9 {
		f := float64(k)
		h, c := 2.1*f+float64(i), 6+math.Mod(17*f+7*float64(i), 25)
		ground := colorspace.Lab{L: []float64{82, 55, 30}[k%3] + math.Mod(5*f+3*float64(i), 9) - 4, A: c * math.Cos(h), B: c * math.Sin(h)}
		figure := ground
		figure.L -= 10
		cloths = append(cloths, scene.NewCloth(fmt.Sprint("top ", i, k), []scene.Pattern{scene.ToneOnTone, scene.Sprigs}[k%2], ground, scene.Ink{Lab: figure, Share: .25}))
		piles[k%3] = append(piles[k%3], k)
	}
	return scene.Top{
		Take:   scene.Take{Seed: uint64(i), Width: width, Workers: 2, View: scene.View{Tilt: float64(i%3) * 6}, Light: lamps(i), Camera: camera()},
		Plan:   scene.Design{Repeat: repeat, Rows: 6, Cols: 8, Lights: piles[0], Mediums: piles[1], Darks: piles[2], Seed: uint64(i)}.Plan(),
		Cloths: cloths, Margin: margin, Ground: scene.Backdrop{Ground: ground},
	}
}

func evened(tb testing.TB, p *photo.Photo, opt light.Options, hint light.Hint) *light.Even {
	tb.Helper()
	if opt.Camera == nil {
		opt.Camera = light.Straight
	}
	e, err := light.New(p, opt, hint)
	require.NoError(tb, err)
	return e
}

// The targets hold for one scene of each kind; the benchmark below runs many.
func TestScenes(t *testing.T) {
	s := tableShot(t, 5, 640, scene.Sheet)
	fs := measure(t, s, evened(t, open(t, s), light.Options{}, light.ScrapsOnGround))
	miss, inside := misses(fs)
	require.LessOrEqual(t, quantile(miss, .5), .5)
	require.LessOrEqual(t, quantile(miss, .95), 1.5)
	require.GreaterOrEqual(t, tau(fs), .99)
	require.Greater(t, inside, .7)

	s = closeupShot(t, 2, 640, basket(5, 1)[4], lamps(2), camera(), scene.Paper{X: .82, Y: .2, W: 5, H: 3.5, Angle: 12})
	p := open(t, s)
	for _, opt := range []light.Options{{Cards: []light.Card{{Place: s.Truth.Cards[0].Inside}}}, {}} { // given, and found
		e := evened(t, p, opt, light.OneCloth)
		require.True(t, e.LevelKnown, "%v: %s", opt, e.Record.Note)
		miss, _ = misses(measure(t, s, e))
		require.LessOrEqual(t, miss[0], .8)
	}

	s = topShot(t, 2, 640, scene.Wall, .04, scene.NinePatch)
	fs = measure(t, s, evened(t, open(t, s), light.Options{}, light.Top))
	require.LessOrEqual(t, within(fs, func(f figure) float64 { return f.l }), .2*within(fs, func(f figure) float64 { return f.withinLight }))
}

// report prints the errors, how many lie inside their intervals, and the 95th
// percentile of error over half of the interval: it is 1 where intervals are
// right.
func report(b *testing.B, fs []figure) {
	b.Helper()
	miss, inside := misses(fs)
	var of []float64
	for i, f := range fs {
		of = append(of, miss[i]/f.half())
	}
	b.ReportMetric(quantile(of, .95), "p95-of-u")
	b.ReportMetric(quantile(miss, .5), "median-dL")
	b.ReportMetric(quantile(miss, .95), "p95-dL")
	b.ReportMetric(100*inside, "%inside")
	b.ReportMetric(0, "ns/op")
}

// BenchmarkAccuracy prints what is left of an L* for each way of knowing the
// light. Run it with -benchtime 1x.
func BenchmarkAccuracy(b *testing.B) {
	const scenes, width = 6, 1000
	b.Run("sheet", func(b *testing.B) {
		for b.Loop() {
			var all []figure
			worst := 1.0
			for i := range scenes {
				s := tableShot(b, i+1, width, scene.Sheet)
				fs := measure(b, s, evened(b, open(b, s), light.Options{}, light.ScrapsOnGround))
				all, worst = append(all, fs...), min(worst, tau(fs))
			}
			report(b, all)
			b.ReportMetric(worst, "least-tau")
		}
	})
	b.Run("sheet, mode sheet", func(b *testing.B) {
		for b.Loop() {
			var all []figure
			for i := range scenes {
				s := tableShot(b, i+21, width, scene.Sheet)
				all = append(all, measure(b, s, evened(b, open(b, s), light.Options{Mode: light.Sheet}, light.ScrapsOnGround))...)
			}
			report(b, all)
		}
	})
	b.Run("paper on a mat", func(b *testing.B) {
		for b.Loop() {
			var all []figure
			found := 0.0
			for i := range scenes {
				s := tableShot(b, i+41, width, scene.Mat, scene.Paper{X: .84, Y: .8, W: 14.8, H: 10.5, Angle: float64(9*i - 20)})
				e := evened(b, open(b, s), light.Options{}, light.ScrapsOnGround)
				if e.LevelKnown {
					found++
					all = append(all, measure(b, s, e)...)
				}
			}
			report(b, all)
			b.ReportMetric(found/scenes, "found")
		}
	})
	// Papers as they are sold, L* 93 to 97, and nobody says which.
	b.Run("some paper on a mat", func(b *testing.B) {
		for b.Loop() {
			var all []figure
			const papers = 9
			for i := range papers {
				paper := scene.Paper{X: .84, Y: .8, W: 14.8, H: 10.5, Angle: float64(9*i - 20), Lab: colorspace.Lab{L: 93 + 4*float64(i)/(papers-1)}}
				s := tableBy(b, phones()[i%3], lamps(i+41), i+41, width, scene.Backdrop{Ground: scene.Mat}, paper)
				e := evened(b, open(b, s), light.Options{}, light.ScrapsOnGround)
				if e.LevelKnown {
					all = append(all, measure(b, s, e)...)
				}
			}
			report(b, all)
		}
	})
	for _, ground := range []scene.Ground{scene.Mat, scene.Wood, scene.Carpet, scene.Colour} {
		b.Run("level unknown on "+string(ground), func(b *testing.B) {
			for b.Loop() {
				var all []figure
				for i := range scenes {
					s := tableShot(b, i+61, width, ground)
					all = append(all, level(measure(b, s, evened(b, open(b, s), light.Options{}, light.ScrapsOnGround)))...)
				}
				report(b, all)
			}
		})
	}
	b.Run("card beside one cloth", func(b *testing.B) {
		for b.Loop() {
			var all []figure
			for i, c := range basket(36, 3) {
				s := closeupShot(b, i+1, 600, c, lamps(i), camera(), scene.Paper{X: .85, Y: .15, W: 5, H: 4, Angle: float64(7*i - 30)})
				all = append(all, measure(b, s, evened(b, open(b, s), light.Options{Cards: []light.Card{{Place: s.Truth.Cards[0].Inside}}}, light.OneCloth))...)
			}
			report(b, all)
			b.ReportMetric(tau(all), "tau")
		}
	})
	for _, kelvin := range []float64{2856, 4000, 5500, 7000} {
		b.Run(fmt.Sprintf("camera's record, %.0f K", kelvin), func(b *testing.B) {
			for b.Loop() {
				var all []figure
				least := 1.
				for seed := range 3 { // a lamp's colour is told by the whole set
					set := recordSet(b, basket(14, float64(7+seed)), kelvin)
					all, least = append(all, set...), min(least, tau(set))
				}
				report(b, all)
				b.ReportMetric(least, "least-tau")
			}
		})
	}
	// What the intervals allow for and the rows above do not have: phones that
	// bend the tone curve, some as much as an ordinary one of package scene, lamps
	// that mix colours in another way, and sheets of paper as they are sold.
	b.Run("phones, lamps and sheets as they come", func(b *testing.B) {
		for b.Loop() {
			var all []figure
			const sheets = 16
			for i := range sheets {
				sheet := scene.Backdrop{Ground: scene.Sheet, Lab: colorspace.Lab{L: 93 + 4*float64(i*7%sheets)/(sheets-1)}}
				s := tableBy(b, phones()[i%len(phones())], mixing(i), i+1, 800, sheet)
				all = append(all, measure(b, s, evened(b, open(b, s), light.Options{}, light.ScrapsOnGround))...)
			}
			report(b, all)
		}
	})
	// And cards whose lightness is stated to the nearest whole L*.
	b.Run("phones, lamps and cards as they come, beside one cloth", func(b *testing.B) {
		for b.Loop() {
			var all []figure
			for i, c := range basket(72, 3) {
				card := scene.Paper{X: .85, Y: .15, W: 5, H: 4, Angle: float64(7*i - 30), Lab: colorspace.Lab{L: 95 + float64(i*7%11-5)/10}}
				s := closeupShot(b, i+1, 600, c, mixing(i), phones()[i%len(phones())], card)
				all = append(all, measure(b, s, evened(b, open(b, s), light.Options{Cards: []light.Card{{Place: s.Truth.Cards[0].Inside}}}, light.OneCloth))...)
			}
			report(b, all)
		}
	})
	spread := func(b *testing.B, ground []scene.Ground, margin float64, repeat scene.Repeat, itself bool) {
		for b.Loop() {
			var before, after []figure
			for i := range 9 {
				s := topShot(b, i+1, 1000, ground[i%len(ground)], margin, repeat)
				e := evened(b, open(b, s), light.Options{}, light.Top)
				if itself {
					k := float64(max(e.Photo.Reduction, 1))
					var outlines [][][2]float64
					for _, q := range s.Truth.Grid.Patches {
						var o [][2]float64
						for _, c := range q.Outline {
							o = append(o, [2]float64{c[0] / k, c[1] / k})
						}
						outlines = append(outlines, o)
					}
					e = e.LevelTop(outlines)
				}
				fs := measure(b, s, e)
				for j := range fs { // each scene has cloths of its own
					fs[j].cloth += 100 * i
				}
				before, after = append(before, fs...), append(after, level(fs)...)
			}
			report(b, after)
			b.ReportMetric(within(after, func(f figure) float64 { return f.l })/within(before, func(f figure) float64 { return f.withinLight }), "spread-left")
		}
	}
	// Any top and any table, with half of it in a sharp shadow, with an arm's
	// across it, and with none: is it said?
	b.Run("sharp shadows", func(b *testing.B) {
		for b.Loop() {
			said := map[string]float64{}
			const n = 10
			for i := range uint64(n) {
				angle := 37 * float64(i)
				for name, shadows := range map[string][]scene.Shadow{
					"half-said":   {{X: .5, Y: .5, Angle: angle, Depth: .4, Soft: .008, Half: true}},
					"arm-said":    {{X: .45, Y: .55, W: 1.2, H: .22, Angle: angle, Depth: .35, Soft: .01}},
					"false-alarm": nil,
				} {
					top, table := scene.AnyTop(500+i), scene.AnyTable(500+i)
					top.Width, top.Light.Shadows = width, shadows
					table.Width, table.Light.Shadows = width, shadows
					for k, shoot := range []func() (scene.Shot, error){top.Shoot, table.Shoot} {
						s, err := shoot()
						require.NoError(b, err)
						e := evened(b, open(b, s), light.Options{}, []light.Hint{light.Top, light.ScrapsOnGround}[k])
						if strings.Contains(e.Record.Note, "sharp edge of a shadow") || strings.Contains(e.Record.Note, "two lights") {
							said[name] += 1. / (2 * n)
						}
					}
				}
			}
			for name, share := range said {
				b.ReportMetric(share, name)
			}
			b.ReportMetric(said["false-alarm"], "false-alarm")
			b.ReportMetric(0, "ns/op")
		}
	})
	plain, grained := []scene.Ground{scene.Wall, scene.Flannel}, []scene.Ground{scene.Floor, scene.Carpet, scene.Grass}
	b.Run("top, 4 % of plain margin", func(b *testing.B) { spread(b, plain, .04, scene.NinePatch, false) })
	b.Run("top, 4 % of grained margin", func(b *testing.B) { spread(b, grained, .04, scene.NinePatch, false) })
	b.Run("top, 4 % of grained margin, and by itself", func(b *testing.B) { spread(b, grained, .04, scene.NinePatch, true) })
	for _, repeat := range []scene.Repeat{scene.NinePatch, scene.Scattered, scene.Gradation} {
		b.Run("top by itself, "+string(repeat), func(b *testing.B) { spread(b, grained, 0, repeat, true) })
	}
}

// BenchmarkNew tells the time for a working picture of 3 megapixels, as a
// photo of 12 has.
func BenchmarkNew(b *testing.B) {
	for _, c := range []struct {
		name string
		shot scene.Shot
		hint light.Hint
	}{
		{"one cloth", closeupShot(b, 1, 1000, basket(5, 1)[3], lamps(2), camera()), light.OneCloth},
		{"scraps on a sheet", tableShot(b, 2, 1000, scene.Sheet), light.ScrapsOnGround},
		{"scraps on a mat", tableShot(b, 3, 1000, scene.Mat), light.ScrapsOnGround},
		{"top", topShot(b, 2, 1000, scene.Wall, .04, scene.NinePatch), light.Top},
	} {
		p := open(b, c.shot)
		small := p.Picture
		big := photo.New(2*small.W, 2*small.H)
		for y := range big.H {
			for x := range big.W {
				copy(big.Pix[3*(y*big.W+x):][:3], small.Pix[3*(y/2*small.W+x/2):][:3])
			}
		}
		p.Picture = big
		b.Run(c.name, func(b *testing.B) {
			for b.Loop() {
				evened(b, p, light.Options{}, c.hint)
			}
		})
	}
}
