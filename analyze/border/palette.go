package border

import (
	"greige/analyze/cloth"
	"greige/colorspace"
)

// edgeWidth is how many pixels of no one ink may lie between two inks that
// touch: the blur of the photo.
const edgeWidth = 6

// palette is the print's inks with their roles.
func palette(inks Inks) []Colour {
	ground := groundOf(inks)
	colours := make([]Colour, len(inks.Colours))
	for i, k := range inks.Colours {
		colours[i] = Colour{
			Colour:       k,
			Role:         Print,
			MunsellValue: colorspace.MunsellValue(colorspace.LuminanceOf(k.Lab.L)),
			Temperature:  colorspace.TemperatureOf(k.Lab),
		}
		if i == ground {
			colours[i].Role = Ground
		}
	}
	return colours
}

// groundOf is the ink that lies behind the figures: not always the one with
// the most cloth, but one that covers much and that the others touch. Both are
// shares, and the ground has the largest product. -1 without inks.
func groundOf(inks Inks) int {
	n := len(inks.Colours)
	touch := make([]float64, n*n)
	meet := func(a, b int) {
		if a != b {
			touch[a*n+b]++
			touch[b*n+a]++
		}
	}
	var runs []run
	line := func(start, step, count int) {
		runs = inks.runs(runs[:0], start, step, count)
		for i, r := range runs {
			if i > 0 && r.near {
				meet(runs[i-1].ink, r.ink)
			}
			// An outline lies between a figure and its ground, not behind either.
			if i > 1 && r.near && runs[i-1].near && outline*runs[i-1].length <= min(runs[i-2].length, r.length) {
				meet(runs[i-2].ink, r.ink)
			}
		}
	}
	if len(inks.Of) == inks.W*inks.H {
		for y := range inks.H {
			line(y*inks.W, 1, inks.W)
		}
		for x := range inks.W {
			line(x, inks.W, inks.H)
		}
	}
	best, ground := -1.0, -1
	for i := range n {
		// How much of each other ink's edge is an edge with this one.
		var touched float64
		for j := range n {
			var all float64
			for k := range n {
				all += touch[j*n+k]
			}
			if j != i && all > 0 {
				touched += touch[j*n+i] / all
			}
		}
		score := inks.Colours[i].Share
		if n > 1 {
			score *= .1 + touched/float64(n-1)
		}
		if score > best {
			best, ground = score, i
		}
	}
	return ground
}

// outline is how many times longer than an outline what it parts has to be.
const outline = 3

// run is a stretch of one ink along a line of the map.
type run struct {
	ink, length int
	near        bool // no more than the blur of an edge from the run before it
}

// runs appends the runs of count pixels, step apart. Pixels of no ink within
// a run do not end it.
func (k Inks) runs(runs []run, start, step, count int) []run {
	gap := edgeWidth + 1
	for i := range count {
		ink := int(k.Of[start+i*step])
		if ink >= len(k.Colours) {
			gap++
			continue
		}
		if last := len(runs) - 1; last >= 0 && runs[last].ink == ink && gap <= edgeWidth {
			runs[last].length++
		} else {
			runs = append(runs, run{ink, 1, gap <= edgeWidth})
		}
		gap = 0
	}
	return runs
}

// hueOnly is the CIEDE2000 of two colours made equally light.
func hueOnly(a, b colorspace.Lab) float64 {
	l := (a.L + b.L) / 2
	a.L, b.L = l, l
	return colorspace.CIEDE2000(a, b)
}

// likeness is how near a cloth comes to a colour by its mean or, where that
// is nearer, by an ink that covers enough of it to be seen in the middle of a
// block.
func likeness(f *cloth.Cloth, colour colorspace.Lab) (deltaE float64, byFigure bool) {
	deltaE = colorspace.CIEDE2000(f.Lab, colour)
	if f.Character == cloth.Solid {
		return deltaE, false
	}
	for _, k := range f.Colours {
		if k.Share < showing || colorspace.Beyond(k.Lab, colour, min(deltaE, SameFamily)) {
			continue
		}
		if d := colorspace.CIEDE2000(k.Lab, colour); d < deltaE && d <= SameFamily {
			deltaE, byFigure = d, true
		}
	}
	return deltaE, byFigure
}

// showing is the share of a cloth from which an ink carries its colour across
// a block (common practice, no source).
const showing = 0.1

// fade is 1 up to whole, 0 from none on, and a straight line between.
func fade(v, whole, none float64) float64 {
	return min(max((none-v)/(none-whole), 0), 1)
}
