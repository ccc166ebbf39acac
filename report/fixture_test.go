package report

import (
	"bytes"
	"fmt"
	"image"
	"image/jpeg"
	"math"
	"slices"
	"strconv"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"greige/analyze"
	"greige/analyze/border"
	"greige/analyze/cloth"
	"greige/analyze/eye"
	"greige/analyze/layout"
	"greige/analyze/light"
	"greige/analyze/photo"
	"greige/analyze/piles"
	"greige/analyze/raster"
	"greige/colorspace"
)

// Results made by hand, as like real ones as the page needs: an invented
// community hall's raffle top. The pictures are drawn here in linear light.

type record = light.Record

// look is how an invented cloth is printed.
type look struct {
	kind           string // solid, tone, dots, stripe, plaid, flower, check
	ground, figure colorspace.Lab
	share          float64 // of the figure, for the mean
	name           string
}

var looks = []look{
	{"solid", lab(92, 0, 4), lab(92, 0, 4), 0, "yellowish white"},
	{"dots", lab(90, 2, 6), lab(62, 45, 18), .16, "pinkish white"},
	{"tone", lab(86, -6, 16), lab(82, -7, 20), .4, "pale yellow green"},
	{"flower", lab(84, 9, 4), lab(56, 40, 8), .22, "pale pink"},
	{"stripe", lab(88, -3, -6), lab(66, -6, -24), .33, "very pale blue"},
	{"solid", lab(80, 4, 44), lab(80, 4, 44), 0, "light yellow"},
	{"tone", lab(76, -2, 12), lab(72, -2, 14), .4, "yellowish gray"},
	{"check", lab(86, 0, 2), lab(52, 10, -28), .5, "light purplish blue"},
	{"flower", lab(62, -18, 8), lab(84, -4, 20), .2, "moderate yellowish green"},
	{"solid", lab(61, 34, 30), lab(61, 34, 30), 0, "moderate reddish orange"},
	{"plaid", lab(60, 8, 20), lab(38, 20, 18), .4, "light brown"},
	{"tone", lab(57, -8, -18), lab(52, -8, -20), .4, "moderate blue"},
	{"dots", lab(52, 40, 6), lab(88, 4, 2), .12, "strong purplish pink"},
	{"solid", lab(50, 3, 14), lab(50, 3, 14), 0, "grayish yellowish brown"},
	{"stripe", lab(44, -22, 12), lab(66, -14, 20), .3, "moderate green"},
	{"flower", lab(42, 14, -26), lab(70, 22, -8), .2, "moderate violet"},
	{"solid", lab(44, 52, 30), lab(44, 52, 30), 0, "strong red"},
	{"tone", lab(34, 30, 8), lab(29, 30, 6), .4, "dark purplish red"},
	{"dots", lab(28, -2, -22), lab(80, 0, 0), .1, "dark blue"},
	{"plaid", lab(30, -12, 4), lab(18, -6, 0), .4, "dark grayish green"},
	{"flower", lab(22, 16, -22), lab(58, 30, 2), .18, "deep purple"},
	{"solid", lab(20, 1, -4), lab(20, 1, -4), 0, "dark gray"},
	{"tone", lab(17, 8, 6), lab(14, 8, 6), .4, "dark brown"},
	{"stripe", lab(14, 2, -14), lab(34, 4, -22), .25, "blackish blue"},
}

func lab(l, a, b float64) colorspace.Lab { return colorspace.Lab{L: l, A: a, B: b} }

// mean is the light of the whole cloth (Murray-Davies).
func (k look) mean() colorspace.Lab {
	g, f := k.ground.Linear(), k.figure.Linear()
	var m colorspace.Linear
	for i := range m {
		m[i] = (1-k.share)*g[i] + k.share*f[i]
	}
	return m.Lab()
}

var linearOf sync.Map // of looks, so that a pixel costs no conversion

func linears(k look) *[2]colorspace.Linear {
	if v, ok := linearOf.Load(k); ok {
		return v.(*[2]colorspace.Linear)
	}
	v := &[2]colorspace.Linear{k.ground.Linear(), k.figure.Linear()}
	linearOf.Store(k, v)
	return v
}

// at is the cloth at a point, in units of which its repeat has 40.
func (k look) at(x, y float64) colorspace.Linear {
	u, v := math.Mod(math.Mod(x, 40)+40, 40), math.Mod(math.Mod(y, 40)+40, 40)
	figure := false
	switch k.kind {
	case "dots":
		figure = math.Hypot(u-20, v-20) < 9
	case "stripe":
		figure = math.Mod(u, 20) < 20*k.share
	case "check":
		figure = (u < 20) != (v < 20)
	case "plaid":
		figure = math.Mod(u, 20) < 6 || math.Mod(v, 40) < 8
	case "flower":
		r, a := math.Hypot(u-20, v-20), math.Atan2(v-20, u-20)
		figure = r < 10+5*math.Cos(5*a)
	case "tone":
		figure = math.Sin(x/5)+math.Sin(y/7+x/11) > .3
	}
	inks := linears(k)
	c := inks[0]
	if figure {
		c = inks[1]
	}
	// The weave, and a little unevenness of yarn that is the same every time.
	n := uint32(int(x*2)*73856093) ^ uint32(int(y*2)*19349663)
	n = (n ^ n>>13) * 1274126177
	f := 1 + .05*math.Sin(x*2.4)*math.Sin(y*2.4) + .06*(float64(n>>16&255)/255-.5)
	return colorspace.Linear{c[0] * f, c[1] * f, c[2] * f}
}

func (k look) draw(p *photo.Picture, outline [][2]float64, scale float64) {
	lo, hi := raster.Extremes(outline)
	for y := max(int(lo[1]), 0); y < min(int(hi[1])+1, p.H); y++ {
		for x := max(int(lo[0]), 0); x < min(int(hi[0])+1, p.W); x++ {
			if raster.Contains(outline, [2]float64{float64(x) + .5, float64(y) + .5}) {
				set(p, x, y, k.at(float64(x)*scale, float64(y)*scale))
			}
		}
	}
}

func set(p *photo.Picture, x, y int, c colorspace.Linear) {
	i := 3 * (y*p.W + x)
	p.Pix[i], p.Pix[i+1], p.Pix[i+2] = float32(c[0]), float32(c[1]), float32(c[2])
}

func jpegOf(img image.Image) []byte {
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, &jpeg.Options{Quality: 84}); err != nil {
		panic(err)
	}
	return b.Bytes()
}

// viewsOf makes the views as the program does, of a picture 60 cm wide seen
// from 2.5 metres.
func viewsOf(p *photo.Picture, cuts [2]float64) eye.Views {
	v := eye.NewViews(p, eye.PixelsPerDegree(60/float64(p.W), 2.5))
	if err := v.FewValues(cuts[:]); err != nil {
		panic(err)
	}
	return v
}

// swatch is a cut-out of a cloth in a ragged outline.
func (k look) swatch(seed int, side int, ragged bool) *cloth.Swatch {
	p := photo.New(side, side*5/6)
	white := lab(94, 0, 1).Linear()
	for y := range p.H {
		for x := range p.W {
			set(p, x, y, white)
		}
	}
	var shape [][2]float64
	outline := [][2]float64{{0, 0}, {float64(p.W), 0}, {float64(p.W), float64(p.H)}, {0, float64(p.H)}}
	if ragged {
		shape = raggedShape(seed)
		outline = outline[:0]
		for _, s := range shape {
			outline = append(outline, [2]float64{s[0] * float64(p.W), s[1] * float64(p.H)})
		}
	}
	k.draw(p, outline, 140/float64(side))
	return &cloth.Swatch{W: p.W, H: p.H, Colour: jpegOf(p.RGBA()), Grey: jpegOf(p.Grey()), Shape: shape}
}

func raggedShape(seed int) [][2]float64 {
	base := [][2]float64{{.03, .1}, {.3, .02}, {.62, .06}, {.97, .03}, {.95, .5}, {.98, .93}, {.55, .97}, {.3, .92}, {.05, .96}, {.02, .5}}
	out := make([][2]float64, len(base))
	for i, p := range base {
		a, b := math.Sin(float64(seed*7+i*3)), math.Sin(float64(seed*5+i*11))
		out[i] = [2]float64{min(max(p[0]+.05*a, 0), 1), min(max(p[1]+.05*b, 0), 1)}
	}
	return out
}

func (k look) cloth(uncertainty float64) cloth.Cloth {
	m := k.mean()
	c := cloth.Cloth{Lab: m, Lightness: m.L, Uncertainty: uncertainty, Apart: uncertainty / 2,
		MunsellValue: colorspace.MunsellValue(m.XYZ().Y), Spread: 1 + 30*k.share*math.Abs(k.ground.L-k.figure.L)/100,
		Name: k.name, Temperature: colorspace.Neutral, LooksLike: colorspace.PerceivedLightness(m)}
	switch {
	case m.A > 8:
		c.Temperature = colorspace.Warm
	case m.B < -4:
		c.Temperature = colorspace.Cool
	}
	switch diff := math.Abs(k.ground.L - k.figure.L); {
	case k.share == 0:
		c.Character = cloth.Solid
	case diff < 8:
		c.Character = cloth.ToneOnTone
	case diff < 30:
		c.Character = cloth.Print
	default:
		c.Character = cloth.HighContrastPrint
	}
	c.Colours = []cloth.Colour{{Lab: k.ground, Hex: k.ground.Linear().Hex(), Share: 1 - k.share, Name: k.name}}
	if k.share > 0 {
		c.Colours = append(c.Colours, cloth.Colour{Lab: k.figure, Hex: k.figure.Linear().Hex(), Share: k.share, Name: "its figure"})
	}
	return c
}

// sortResult is a table of 24 scraps and a bit of a cardboard tag.
func sortResult() *analyze.Result { return copyOf(madeSort()) }

var (
	madeSort   = sync.OnceValue(makeSort)
	madeLayout = sync.OnceValue(makeLayout)
	madeBorder = sync.OnceValue(makeBorder)
)

// copyOf is deep enough that a test may change figures and names.
func copyOf(r *analyze.Result) *analyze.Result {
	c := *r
	c.Light = slices.Clone(r.Light)
	c.Stash = slices.Clone(r.Stash)
	c.Sights = slices.Clone(r.Sights)
	for i := range c.Sights {
		c.Sights[i].Marks = slices.Clone(c.Sights[i].Marks)
	}
	if r.Sort != nil {
		s := *r.Sort
		s.Fabrics, s.Pairs, s.Cuts = slices.Clone(s.Fabrics), slices.Clone(s.Pairs), slices.Clone(s.Cuts)
		c.Sort = &s
	}
	if r.Layout != nil {
		l := *r.Layout
		l.Patches, l.Seams, l.Changes, l.Fabrics = slices.Clone(l.Patches), slices.Clone(l.Seams), slices.Clone(l.Changes), slices.Clone(l.Fabrics)
		c.Layout = &l
	}
	if r.Border != nil {
		b := *r.Border
		b.Palette, b.Stash, b.Matches = slices.Clone(b.Palette), slices.Clone(b.Stash), slices.Clone(b.Matches)
		b.Missing, b.OtherChoices = slices.Clone(b.Missing), slices.Clone(b.OtherChoices)
		if b.Choice != nil {
			ch := *b.Choice
			ch.Fabrics = slices.Clone(ch.Fabrics)
			b.Choice = &ch
		}
		c.Border = &b
	}
	return &c
}

func layoutResult() *analyze.Result { return copyOf(madeLayout()) }

func borderResult() *analyze.Result { return copyOf(madeBorder()) }

func makeSort() *analyze.Result {
	const w, h = 1500, 1100
	p := photo.New(w, h)
	sheet := lab(94, 0, 1).Linear()
	for y := range h {
		for x := range w {
			f := .8 + .2*float64(x)/w
			set(p, x, y, colorspace.Linear{sheet[0] * f, sheet[1] * f, sheet[2] * f})
		}
	}
	r := &analyze.Result{Command: "sort", Distance: 2.5, WidthCM: 70, Lost: 8, Soft: 20}
	s := &piles.Sorted{Cuts: []float64{69.5, 40.6}, Pairs: []piles.Pair{}}
	// Where each cloth lies: the order of the table is not that of lightness.
	order := []int{9, 0, 18, 14, 4, 21, 7, 12, 2, 23, 16, 5, 10, 20, 1, 13, 6, 17, 8, 22, 3, 11, 19, 15}
	var marks []analyze.Mark
	for n, i := range order {
		k := looks[i]
		id := strconv.Itoa(n + 1)
		cx, cy := float64(n%6)*240+40, float64(n/6)*260+45
		var outline, share [][2]float64
		for _, q := range raggedShape(n + 1) {
			pt := [2]float64{cx + q[0]*200, cy + q[1]*190}
			outline = append(outline, pt)
			share = append(share, [2]float64{pt[0] / w, pt[1] / h})
		}
		k.draw(p, outline, .7)
		marks = append(marks, analyze.Mark{ID: id, Outline: share})
		f := piles.Fabric{ID: id, Photo: "hall table.jpg", Scrap: n + 1, Outline: outline, Cloth: k.cloth(1.2 + .1*float64(n%7)), Group: 1}
		if n == 7 { // as one has that a card lies on; the others are shown in the photo
			f.Swatch = k.swatch(n+1, 150, true)
		}
		s.Fabrics = append(s.Fabrics, f)
	}
	tag := [][2]float64{{1385, 1030}, {1455, 1026}, {1460, 1070}, {1390, 1074}}
	look{kind: "solid", ground: lab(64, 6, 18)}.draw(p, tag, 1)
	odd := piles.Fabric{ID: "25", Photo: "hall table.jpg", Scrap: 25, Outline: tag, Doubtful: true, Note: "stiff and all one colour, like card", Group: 1,
		Cloth: look{kind: "solid", ground: lab(64, 6, 18), name: "light brown"}.cloth(2)}
	s.Fabrics = append(s.Fabrics, odd)
	var oddMark [][2]float64
	for _, q := range tag {
		oddMark = append(oddMark, [2]float64{q[0] / w, q[1] / h})
	}
	marks = append(marks, analyze.Mark{ID: "25", Outline: oddMark})
	rankAndCut(s)
	for _, pair := range [][2]string{{"2", "10"}, {"15", "20"}, {"21", "6"}, {"9", "14"}, {"5", "23"}, {"12", "18"}, {"17", "3"}, {"7", "4"}, {"19", "13"}} {
		a, b := find(s.Fabrics, pair[0]), find(s.Fabrics, pair[1])
		d := math.Abs(a.Lightness - b.Lightness)
		s.Pairs = append(s.Pairs, piles.Pair{Light: pair[0], Dark: pair[1], DeltaL: d, Clarity: d / math.Sqrt((a.Spread*a.Spread+b.Spread*b.Spread)/2+4)})
	}
	slices.SortStableFunc(s.Pairs, func(a, b piles.Pair) int { return int(b.Clarity*100) - int(a.Clarity*100) })
	r.Sort = s
	r.Light = []light.Record{{Photo: "hall table.jpg", Method: "sheet", Cast: []float64{1.08, .99, .84}, Unevenness: 1.9, Clipped: .002,
		Note:   "The white sheet shows that the right side had almost twice the light of the left, and that the lamp was warm; both were evened out",
		Advice: "Move the table away from the lamp, so that both sides are lit alike"}}
	r.Sights = []analyze.Sight{{Kind: analyze.TableSight, Photo: "hall table.jpg", Views: viewsOf(p, [2]float64{69.5, 40.6}), Marks: marks}}
	return r
}

func find(fabrics []piles.Fabric, id string) *piles.Fabric {
	for i := range fabrics {
		if fabrics[i].ID == id {
			return &fabrics[i]
		}
	}
	return nil
}

// rankAndCut fills in what the room of piles would.
func rankAndCut(s *piles.Sorted) {
	var order []int
	for i := range s.Fabrics {
		if !s.Fabrics[i].Doubtful {
			order = append(order, i)
		}
	}
	slices.SortStableFunc(order, func(a, b int) int {
		return int(1000 * (s.Fabrics[b].Lightness - s.Fabrics[a].Lightness))
	})
	s.Piles = piles.Piles{Light: []string{}, Medium: []string{}, Dark: []string{}}
	for r, i := range order {
		f := &s.Fabrics[i]
		f.Rank, f.TiedWith = r+1, []string{}
		for _, j := range order {
			if i != j && math.Abs(f.Lightness-s.Fabrics[j].Lightness) < 1 {
				f.TiedWith = append(f.TiedWith, s.Fabrics[j].ID)
			}
		}
		for _, c := range s.Cuts {
			swing := f.Swings() || math.Abs(f.Lightness-c) < 2.6
			f.Swing = &swing
		}
		switch {
		case f.Lightness >= s.Cuts[0]:
			f.Pile = piles.Light
			s.Piles.Light = append(s.Piles.Light, f.ID)
		case f.Lightness < s.Cuts[1]:
			f.Pile = piles.Dark
			s.Piles.Dark = append(s.Piles.Dark, f.ID)
		default:
			f.Pile = piles.Medium
			s.Piles.Medium = append(s.Piles.Medium, f.ID)
		}
	}
}

// layoutResult is a top of nine by nine, nine patches with dark corners, with
// two patches changed about and a corner that runs together.
func makeLayout() *analyze.Result {
	const n, side = 9, 90
	w := n * side
	p, q := photo.New(w, w), photo.New(w, w)
	lights, darks := []int{0, 1, 2, 3, 4, 5}, []int{17, 18, 19, 20, 21, 23}
	wants := func(row, col int) layout.Role {
		if (row%3+col%3)%2 == 0 {
			return layout.Dark
		}
		return layout.Light
	}
	hangs := map[layout.Cell]int{}
	for row := range n {
		for col := range n {
			set := lights
			if wants(row, col) == layout.Dark {
				set = darks
			}
			hangs[layout.Cell{row + 1, col + 1}] = set[(row/3*5+col/3*3+row+2*col)%len(set)]
		}
	}
	right := map[layout.Cell]int{}
	for c, k := range hangs {
		right[c] = k
	}
	a, b := layout.Cell{3, 5}, layout.Cell{6, 4} // a light place and a dark place
	hangs[a], hangs[b] = hangs[b], hangs[a]
	hangs[layout.Cell{9, 2}] = 16 // too dark for a light
	hangs[layout.Cell{9, 1}], hangs[layout.Cell{9, 3}] = 14, 15
	l := &layout.Layout{Rows: n, Cols: n, Setting: layout.Straight, GridFound: true,
		Corners: [][2]float64{{212.25, 180.5}, {1840.75, 205}, {1811, 1790}, {240, 1822.5}}}
	var marks []analyze.Mark
	index := map[layout.Cell]*layout.Patch{}
	for row := range n {
		for col := range n {
			cell := layout.Cell{row + 1, col + 1}
			k := looks[hangs[cell]]
			x, y := float64(col*side), float64(row*side)
			sq := [][2]float64{{x, y}, {x + side, y}, {x + side, y + side}, {x, y + side}}
			k.draw(p, sq, .8)
			looks[right[cell]].draw(q, sq, .8)
			share := make([][2]float64, 4)
			for i := range sq {
				share[i] = [2]float64{sq[i][0] / float64(w), sq[i][1] / float64(w)}
			}
			marks = append(marks, analyze.Mark{ID: cellID(cell), Outline: share})
			c := k.cloth(1.1)
			c.Swatch = k.swatch(1, 48, false)
			reads := layout.Dark
			if c.Lightness > 60 {
				reads = layout.Light
			}
			l.Patches = append(l.Patches, layout.Patch{Row: row + 1, Col: col + 1, Outline: sq, Cloth: c, Reads: reads, Meant: wants(row, col),
				Misplaced: cell == a || cell == b, Fabric: hangs[cell] + 1})
		}
	}
	for i := range l.Patches {
		index[layout.Cell{l.Patches[i].Row, l.Patches[i].Col}] = &l.Patches[i]
	}
	clear, all := 0, 0
	for i := range l.Patches {
		for _, d := range [][2]int{{0, 1}, {1, 0}} {
			o := &l.Patches[i]
			t := index[layout.Cell{o.Row + d[0], o.Col + d[1]}]
			if t == nil {
				continue
			}
			s := layout.Seam{Between: [2]layout.Cell{{o.Row, o.Col}, {t.Row, t.Col}}, DeltaL: math.Abs(o.Lightness - t.Lightness), Meant: layout.Blend}
			if o.Meant != t.Meant {
				s.Meant = layout.Contrast
			}
			s.DeltaE = math.Hypot(s.DeltaL, math.Hypot(o.Lab.A-t.Lab.A, o.Lab.B-t.Lab.B)) / 2
			s.Clarity = s.DeltaL / math.Sqrt((o.Spread*o.Spread+t.Spread*t.Spread)/2+4)
			switch {
			case o.Fabric == t.Fabric:
				s.Verdict = layout.SameCloth
			case s.DeltaL < 8:
				s.Verdict = layout.Lost
			case s.DeltaL < 20 || s.Clarity < 2:
				s.Verdict = layout.Soft
			default:
				s.Verdict = layout.Clear
			}
			s.OK = s.Meant == layout.Blend && s.Verdict != layout.Clear || s.Meant == layout.Contrast && s.Verdict == layout.Clear
			s.ColourAlone = s.Verdict == layout.Lost && s.DeltaE > 12
			if s.Meant == layout.Contrast {
				all++
				if s.Verdict == layout.Clear {
					clear++
				}
			}
			l.Seams = append(l.Seams, s)
		}
	}
	reads := float64(clear) / float64(all)
	l.Reads = &reads
	for i, k := range looks {
		f := layout.Fabric{ID: i + 1, Lab: k.mean()}
		for _, o := range l.Patches {
			if o.Fabric == i+1 {
				f.Patches = append(f.Patches, layout.Cell{o.Row, o.Col})
			}
		}
		if len(f.Patches) > 0 {
			l.Fabrics = append(l.Fabrics, f)
		}
	}
	l.Pattern = layout.Pattern{Name: "nine patch, dark corners", Fit: 79. / 81, Chart: []string{"DLD", "LDL", "DLD"}}
	l.Changes = []layout.Change{
		{Patch: a, With: &b, Instead: "swap with [6,4]", Why: "a dark hangs in a light's place, and a light in a dark's", Reads: reads + 5./float64(all)},
		{Patch: layout.Cell{9, 2}, Instead: "2", Why: "number 2 is far lighter than its neighbours", Reads: reads + 8./float64(all)},
	}
	stash := sortResult().Sort.Fabrics
	return &analyze.Result{Command: "layout", Layout: l, Distance: 2.5, WidthCM: 45, WidthAssumed: true, Lost: 8, Soft: 20, Stash: stash[:4],
		Light: []light.Record{{Photo: "wall.jpg", Method: "repeated cloths", Note: "Patches of one cloth in different places showed how uneven the light was.", Unevenness: 1.4, Clipped: 0}},
		Sights: []analyze.Sight{
			{Kind: analyze.TopSight, Photo: "wall.jpg", Views: viewsOf(p, [2]float64{60, 60}), Marks: marks},
			{Kind: analyze.AfterSight, Photo: "wall.jpg", Views: viewsOf(q, [2]float64{60, 60}), Marks: marks},
		}}
}

// borderResult is a print of seven colours and the stash of the sort.
func makeBorder() *analyze.Result {
	inks := []struct {
		lab  colorspace.Lab
		name string
	}{
		{lab(24, 22, -26), "deep purple"}, {lab(58, 36, 6), "moderate purplish pink"}, {lab(84, 8, 6), "pale pink"}, {lab(48, -20, 18), "moderate yellow green"},
		{lab(16, -10, 4), "very dark green"}, {lab(74, 10, 48), "brilliant orange yellow"}, {lab(93, 0, 3), "white"},
	}
	const w, h = 1200, 620
	p := photo.New(w, h)
	of := make([]uint8, w*h/4)
	share := make([]float64, len(inks))
	light := make([]colorspace.Linear, len(inks))
	for i, k := range inks {
		light[i] = k.lab.Linear()
	}
	for y := range h {
		for x := range w {
			i := inkAt(float64(x), float64(y))
			share[i] += 1. / (w * h)
			c := light[i]
			f := 1 + .06*math.Sin(float64(x)*1.3)*math.Sin(float64(y)*1.3)
			set(p, x, y, colorspace.Linear{c[0] * f, c[1] * f, c[2] * f})
			of[y/2*(w/2)+x/2] = uint8(i)
		}
	}
	b := &border.Border{}
	order := make([]int, len(inks))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, c int) int { return int(1e6 * (share[c] - share[a])) })
	place := make([]uint8, len(inks))
	for at, i := range order {
		place[i] = uint8(at)
		role := border.Print
		if at == 0 {
			role = border.Ground
		}
		l := inks[i].lab
		b.Palette = append(b.Palette, border.Colour{Colour: cloth.Colour{Lab: l, Hex: l.Linear().Hex(), Share: share[i], Name: inks[i].name}, Role: role,
			MunsellValue: colorspace.MunsellValue(l.XYZ().Y), Temperature: "neutral"})
	}
	for i := range of {
		of[i] = place[of[i]]
	}
	b.Stash = sortResult().Sort.Fabrics
	for i, k := range b.Palette {
		m := border.Match{Colour: i}
		for _, f := range b.Stash {
			if f.Doubtful {
				continue
			}
			d := math.Hypot(k.Lab.L-f.Lab.L, math.Hypot(k.Lab.A-f.Lab.A, k.Lab.B-f.Lab.B)) * .6
			m.Fabrics = append(m.Fabrics, border.Near{ID: f.ID, DeltaE: d})
		}
		slices.SortStableFunc(m.Fabrics, func(a, c border.Near) int { return int(1e4 * (a.DeltaE - c.DeltaE)) })
		m.Fabrics = m.Fabrics[:4]
		b.Matches = append(b.Matches, m)
	}
	b.Choice = &border.Choice{Covers: .81, Range: [2]float64{26, 92}, Fabrics: []border.Chosen{
		{ID: "2", Role: piles.Light, Why: "lightest of yours that has the print's white in it", Background: true},
		{ID: "21", Role: piles.Light, Why: "very close to the pale pink"},
		{ID: "8", Role: piles.Medium, Why: "same family as the pink of the petals"},
		{ID: "14", Role: piles.Dark, Why: "very close to the ground of the print"}}}
	b.OtherChoices = []border.Choice{{Name: "quiet", Covers: .62, Range: [2]float64{30, 84}, Fabrics: []border.Chosen{
		{ID: "17", Role: piles.Light, Why: "a soft ground that lets the print speak", Background: true},
		{ID: "24", Role: piles.Medium, Why: "between the purple and the pink"},
		{ID: "18", Role: piles.Dark, Why: "same family as the purple"}}}}
	green := slices.IndexFunc(b.Palette, func(c border.Colour) bool { return c.Name == "very dark green" })
	b.Missing = []border.Missing{{Colour: green, Say: "nothing dark enough near the very dark green", Hex: "#16291f"}}
	strip := photo.New(w, w/4)
	copy(strip.Pix, p.Pix[:len(strip.Pix)])
	strip = strip.Within(640)
	return &analyze.Result{Command: "border", Border: b, Distance: 2.5,
		PrintStrip: &cloth.Swatch{W: strip.W, H: strip.H, Colour: jpegOf(strip.RGBA()), Grey: jpegOf(strip.Grey())},
		Light: []record{{Photo: "border.jpg", Method: "paper", Note: "The paper in the corner shows a bluish window light; it was taken out"},
			{Photo: "hall table.jpg", Method: "sheet", Unevenness: 1.9}},
		Sights: []analyze.Sight{{Kind: analyze.PrintSight, Photo: "border.jpg", Views: viewsOf(p, [2]float64{68, 38}), Inks: &analyze.Inks{W: w / 2, H: h / 2, Of: of}}}}
}

// inkAt draws a run of flowers between two bands.
func inkAt(x, y float64) int {
	if y < 40 || y > 580 {
		return 4
	}
	if y < 54 || y > 566 {
		return 5
	}
	u := math.Mod(x, 300) - 150
	v := y - 310
	r, a := math.Hypot(u, v), math.Atan2(v, u)
	switch {
	case r < 26:
		return 5
	case r < 70+26*math.Cos(6*a):
		return 2
	case r < 112+34*math.Cos(6*a):
		return 1
	}
	for k := range 6 {
		b := float64(k)*math.Pi/3 + math.Pi/6
		du, dv := u-170*math.Cos(b), v-170*math.Sin(b)
		along, over := du*math.Cos(b)+dv*math.Sin(b), -du*math.Sin(b)+dv*math.Cos(b)
		if math.Hypot(along/48, over/20) < 1 {
			if math.Abs(over) < 3 {
				return 4
			}
			return 3
		}
	}
	if math.Hypot(math.Mod(x+20, 60)-30, math.Mod(y+10, 60)-30) < 5 {
		return 6
	}
	return 0
}

// page writes r and gives the page back.
func pageOf(t testing.TB, r *analyze.Result) string {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, WritePage(&b, r, "1.2.3"))
	return b.String()
}

func fabricsNamed(n int) []string {
	out := make([]string, n)
	for i := range out {
		out[i] = fmt.Sprint(i + 1)
	}
	return out
}

// onPointResult is a top on point, three squares to a side, with the
// triangles that fill its edges.
func onPointResult() *analyze.Result {
	const squares, unit = 4, 90.
	const w = 2 * squares * unit
	l := &layout.Layout{Setting: layout.OnPoint, GridFound: true, Pattern: layout.Pattern{Name: "checkerboard", Fit: 1},
		Corners: [][2]float64{{0, 0}, {w, 0}, {w, w}, {0, w}}}
	p := photo.New(int(w), int(w))
	var marks []analyze.Mark
	at := map[layout.Cell]int{}
	// A row runs up to the right and a column down to the right, so a step
	// along a row goes right and up by one unit, one along a column right and
	// down.
	for row := 1; row <= 2*squares; row++ {
		for col := 1; col <= 2*squares; col++ {
			x, y := float64(row+col-squares-1)*unit, float64(row-col+squares)*unit
			if x < -.5 || y < -.5 || x > w+.5 || y > w+.5 {
				continue
			}
			var o [][2]float64
			for _, q := range [][2]float64{{x, y - unit}, {x + unit, y}, {x, y + unit}, {x - unit, y}} {
				if q[0] > -.5 && q[1] > -.5 && q[0] < w+.5 && q[1] < w+.5 {
					o = append(o, q)
				}
			}
			if len(o) < 3 {
				continue
			}
			k, role := 2+row%3, layout.Light
			if (row+col)%2 == 0 {
				k, role = 17+col%4, layout.Dark
			}
			if row == 4 && col == 4 {
				k = 15
			}
			looks[k].draw(p, o, .8)
			patch := layout.Patch{Row: row, Col: col, Outline: o, Cloth: looks[k].cloth(1), Reads: role, Meant: role, Fabric: k + 1}
			if len(o) == 3 {
				patch.Shape = "triangle"
			}
			cell := layout.Cell{row, col}
			at[cell] = len(l.Patches)
			l.Patches = append(l.Patches, patch)
			l.Rows, l.Cols = max(l.Rows, row), max(l.Cols, col)
			var share [][2]float64
			for _, q := range o {
				share = append(share, [2]float64{q[0] / w, q[1] / w})
			}
			marks = append(marks, analyze.Mark{ID: cellID(cell), Outline: share})
		}
	}
	lost := 0
	for _, a := range l.Patches {
		for _, d := range []layout.Cell{{0, 1}, {1, 0}} {
			j, ok := at[layout.Cell{a.Row + d[0], a.Col + d[1]}]
			if !ok {
				continue
			}
			b := l.Patches[j]
			s := layout.Seam{Between: [2]layout.Cell{{a.Row, a.Col}, {b.Row, b.Col}}, DeltaL: math.Abs(a.Lightness - b.Lightness), Verdict: layout.Clear, Meant: layout.Contrast, OK: true}
			if a.Row == 4 && a.Col == 4 {
				s.Verdict, s.OK = layout.Lost, false
				lost++
			}
			l.Seams = append(l.Seams, s)
		}
	}
	reads := 1 - float64(lost)/float64(len(l.Seams))
	l.Reads = &reads
	return &analyze.Result{Command: "layout", Layout: l, Distance: 2.5,
		Sights: []analyze.Sight{{Kind: analyze.TopSight, Photo: "wall.jpg", Views: viewsOf(p, [2]float64{60, 60}), Marks: marks}}}
}
