package report

import (
	"cmp"
	"html/template"
	"iter"
	"math"
	"slices"
	"strconv"

	"greige/colorspace"
)

// The value line: a scale of lightness from 100 on the left to 0 on the
// right, drawn as the greys themselves, with Munsell value under it. Cloths
// hang from it at their own lightness, each with its grey twin under it and
// its uncertainty as a thin bar. It is laid out for four widths of page, so
// that numbers keep their size; the style sheet shows the one that fits.

// hung is one piece to hang.
type hung struct {
	Chip      chipRef
	Label     string // its number; "" for none
	Piece     string // the names it shares with marks and rows, with spaces between
	Says      string // its figures in words
	Lightness float64
	Unsure    float64   // half interval of lightness; 0: no bar
	Reach     []float64 // cuts that it could fall on either side of
	Mark      bool      // misplaced: corner ticks
	Above     bool
	Lane      int // below: 0 next to the line, 1 under lane 0
}

// lineOf says what to draw.
type lineOf struct {
	Items     []hung
	Cuts      []float64
	Sections  []string // words over the parts between the cuts
	AboveWord string
	LaneWords []string // of the lanes below
	Label     string   // the finding, for those who do not see it
}

// The drawing, in units that are near a CSS pixel at the width it is made for.
type valueLine struct {
	Class         string
	Width, Height float64
	Label         string
	StripX        float64
	StripY        float64
	StripW        float64
	StripH        float64
	Lightness     []tick
	Munsell       []tick
	MunsellY      float64
	Sections      []tick
	SectionY      float64
	Cuts          []cutLine
	Threads       []template.HTMLAttr
	Items         []placed
	Words         []tick // of the lanes; X and Y
}

type tick struct {
	X, Y float64
	Text string
}

type cutLine struct{ X, Y1, Y2 float64 }

type placed struct {
	hung
	X, Y, W, H      float64 // of the texture
	TwinY           float64
	Mid             float64
	BarX1, BarX2    float64 // the uncertainty; equal: none
	BarY            float64
	ReachX1, ReachX float64 // a fine line across the cut it swings over
	LabelX, LabelY  float64
	LabelW          float64
	Ticks           string

	// The same as attributes, since the page has hundreds of them.
	Texture, Twin, Bar, Over, Disc, Number template.HTMLAttr
}

// The widths that the style sheet chooses from.
var lineWidths = []struct {
	class  string
	width  float64
	margin float64
	size   float64 // of a cut-out when there are few
}{
	{"wide", 1200, 30, 50},
	{"mid", 800, 26, 44},
	{"small", 480, 20, 38},
	{"narrow", 300, 16, 30},
}

// crowded is how large a cut-out may be for n of them in all.
func crowded(size float64, n int) float64 {
	switch {
	case n > 150:
		return max(size*.36, 13)
	case n > 60:
		return max(size*.48, 15)
	case n > 36:
		return size * .72
	}
	return size
}

// drawLines draws the line for each width, one at a time.
func drawLines(of lineOf) iter.Seq[valueLine] {
	return func(give func(valueLine) bool) {
		for _, w := range lineWidths {
			if !give(drawLine(of, w.class, w.width, w.margin, crowded(w.size, len(of.Items)))) {
				return
			}
		}
	}
}

func drawLine(of lineOf, class string, width, margin, size float64) valueLine {
	v := valueLine{Class: class, Width: width, Label: of.Label, StripX: margin, StripW: width - 2*margin, StripH: 30}
	x := func(lightness float64) float64 {
		return v.StripX + v.StripW*(100-min(max(Finite(lightness), 0), 100))/100
	}
	labelled := slices.ContainsFunc(of.Items, func(h hung) bool { return h.Label != "" })

	// What hangs above is laid out first: it says where the strip lies.
	lanes := map[int][]hung{}
	for _, h := range of.Items {
		lane := h.Lane
		if h.Above {
			lane = -1
		}
		lanes[lane] = append(lanes[lane], h)
	}
	const sectionRoom, numbersRoom, munsellRoom, laneWord = 26, 18, 24, 22
	y := 6.
	if len(of.Sections) > 0 {
		v.SectionY = y + 16
		y += sectionRoom
	}
	if up := lanes[-1]; len(up) > 0 || of.AboveWord != "" {
		g := hang(up, x, size, labelled)
		if of.AboveWord != "" {
			v.Words = append(v.Words, tick{X: v.StripX, Y: y + 15, Text: of.AboveWord})
			y += laneWord
		}
		bottom := y + g.height()
		for i, h := range up {
			top := bottom - float64(g.row[i]+1)*g.pitch
			v.place(h, x, top, g.level[i], g.bars, size)
			// The thread runs from the strip up to the foot of the cut-out.
			v.Threads = append(v.Threads, fromto(x(h.Lightness), top+g.bars+size, x(h.Lightness), bottom+numbersRoom+4))
		}
		y = bottom + 4
	}
	y += numbersRoom
	v.StripY = y
	for l := 100; l >= 0; l -= 10 {
		v.Lightness = append(v.Lightness, tick{X: x(float64(l)), Y: y - 5, Text: strconv.Itoa(l)})
	}
	y += v.StripH
	v.MunsellY = y
	for m := 0; m <= 10; m++ {
		l := colorspace.Lightness(colorspace.MunsellLuminance(float64(m)))
		v.Munsell = append(v.Munsell, tick{X: x(l), Y: y + 18, Text: strconv.Itoa(m)})
	}
	y += munsellRoom
	for lane := 0; lane < 4; lane++ {
		down := lanes[lane]
		if len(down) == 0 {
			continue
		}
		if lane < len(of.LaneWords) && of.LaneWords[lane] != "" {
			v.Words = append(v.Words, tick{X: v.StripX, Y: y + 16, Text: of.LaneWords[lane]})
			y += laneWord
		}
		y += 10
		g := hang(down, x, size, labelled)
		for i, h := range down {
			top := y + float64(g.row[i])*g.pitch
			v.place(h, x, top, g.level[i], g.bars, size)
			v.Threads = append(v.Threads, fromto(x(h.Lightness), v.StripY+v.StripH, x(h.Lightness), top+g.bars-2))
		}
		y += g.height()
	}
	v.Height = math.Ceil(y + 8)
	for _, c := range of.Cuts {
		v.Cuts = append(v.Cuts, cutLine{X: x(c), Y1: 2, Y2: v.Height - 2})
	}
	v.sections(of, x)
	return v
}

// hanging is where the pieces of a lane hang: the row of each, on which level
// of its row its uncertainty bar lies, and what a row takes up.
type hanging struct {
	row, level []int
	bars       float64 // height of the bars over a row's cut-outs
	pitch      float64 // height of a row
}

const (
	barLevels = 4 // so many bars may lie over each other in a row
	barPitch  = 5.
)

// hang gives each piece the row nearest to the line where it crowds nobody.
// Cut-outs never overlap; bars that are wider than those lie over each other,
// each on its own level. The result does not depend on the order given.
func hang(items []hung, x func(float64) float64, size float64, labelled bool) hanging {
	order := make([]int, len(items))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(items[b].Lightness, items[a].Lightness) })
	g := hanging{row: make([]int, len(items)), level: make([]int, len(items))}
	type rowEnds struct {
		cut float64
		bar [barLevels]float64
	}
	var ends []rowEnds
	levels := 1
	const gap = 4
	for _, i := range order {
		h := items[i]
		mid := x(h.Lightness)
		bar := max(size/2, x(h.Lightness-h.Unsure)-mid)
		half := size / 2
		if h.Label != "" {
			half = max(half, labelWidth(h.Label, labelHeight)/2)
		}
		row, level := 0, 0
		for ; row < len(ends); row++ {
			level = slices.IndexFunc(ends[row].bar[:], func(end float64) bool { return end+gap <= mid-bar })
			if level >= 0 && ends[row].cut+gap <= mid-half {
				break
			}
		}
		if row == len(ends) {
			ends = append(ends, rowEnds{})
			level = 0
		}
		ends[row].cut, ends[row].bar[level] = mid+half, mid+bar
		g.row[i], g.level[i] = row, level
		levels = max(levels, level+1)
	}
	g.bars = 8 + barPitch*float64(levels-1)
	g.pitch = g.bars + 2*size + 8
	if labelled {
		g.pitch += labelHeight / 2
	}
	return g
}

func (g hanging) height() float64 { return float64(depth(g.row)) * g.pitch }

func depth(rows []int) int {
	n := 0
	for _, r := range rows {
		n = max(n, r+1)
	}
	return n
}

// labelHeight is the height of the disc round a number.
const labelHeight = 20

// place puts a piece with its top at y: its uncertainty bar on a level of the
// room for bars, and under that its cut-out.
func (v *valueLine) place(h hung, x func(float64) float64, y float64, level int, bars, size float64) {
	mid := x(h.Lightness)
	p := placed{hung: h, Mid: mid, Y: y + bars, W: size, H: size, BarY: y + 4 + barPitch*float64(level)}
	if a := h.Chip.Aspect; a > 1 {
		p.W = size / a
	} else if a > 0 {
		p.H = size * a
	}
	p.X, p.TwinY = mid-p.W/2, p.Y+p.H
	if h.Unsure > 0 {
		p.BarX1, p.BarX2 = x(h.Lightness+h.Unsure), x(h.Lightness-h.Unsure)
	}
	for _, c := range h.Reach {
		// Past the cut by a little, so that it straddles it.
		past := 11.
		if x(c) < mid {
			past = -past
		}
		p.ReachX1, p.ReachX = mid, x(c)+past
	}
	p.LabelX, p.LabelY = mid, p.TwinY+p.H
	p.LabelW = labelWidth(h.Label, labelHeight)
	if h.Mark {
		p.Ticks = cornerTicks([][2]float64{{p.X - 2, p.Y - 2}, {p.X + p.W + 2, p.Y - 2},
			{p.X + p.W + 2, p.TwinY + p.H + 2}, {p.X - 2, p.TwinY + p.H + 2}}, .22)
	}
	p.Texture, p.Twin = box(p.X, p.Y, p.W, p.H), box(p.X, p.TwinY, p.W, p.H)
	p.Bar, p.Over = fromto(p.BarX1, p.BarY, p.BarX2, p.BarY), fromto(p.ReachX1, p.BarY, p.ReachX, p.BarY)
	p.Disc, p.Number = round(p.LabelX, p.LabelY, p.LabelW, labelHeight), xy(p.LabelX, p.LabelY)
	v.Items = append(v.Items, p)
}

// labelWidth is the width of the disc round a number, wider for long ones.
func labelWidth(text string, height float64) float64 {
	n := len([]rune(text))
	if n <= 2 {
		return height
	}
	return height + float64(n-2)*height*.36
}

// sections puts the words over the parts between the cuts.
func (v *valueLine) sections(of lineOf, x func(float64) float64) {
	if len(of.Sections) != len(of.Cuts)+1 {
		return
	}
	ends := append([]float64{100}, of.Cuts...)
	ends = append(ends, 0)
	for i, s := range of.Sections {
		v.Sections = append(v.Sections, tick{X: (x(ends[i]) + x(ends[i+1])) / 2, Y: v.SectionY, Text: s})
	}
}

// greyStep is one step of the strip.
type greyStep struct {
	X   int
	Hex string
}

// greySteps are the greys of L* 99.5, 98.5 and so on down to 0.5: the strip
// of the value line, 100 wide.
func greySteps() []greyStep {
	out := make([]greyStep, 100)
	for i := range out {
		out[i] = greyStep{X: i, Hex: GreyHex(99.5 - float64(i))}
	}
	return out
}
