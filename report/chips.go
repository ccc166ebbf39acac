package report

import (
	"bytes"
	"encoding/base64"
	"fmt"
	"html/template"
	"math"
	"slices"
	"strconv"
	"strings"

	"greige/analyze"
	"greige/analyze/cloth"
	"greige/analyze/raster"
	"greige/colorspace"
)

// chip is a cut-out of a cloth for the page: its texture in its own outline,
// defined once and used wherever that cloth is shown. A cloth without a
// picture (from figures read back) is a flat square of its colour.
type chip struct {
	ID   string // of the symbol; "g" added: its grey twin; "f" added: filling a patch
	W, H int
	// Size is W and H as a picture of it has them, Area where it lies in what it
	// shows, as a shape has it, and Box the same as a viewBox.
	Size, Area, Box template.HTMLAttr
	Shows           string // whose pictures; "" for a flat chip
	colour, grey    []byte // its pictures; none where it shows another's
	Points          string // the outline in pixels of the chip; "" for the whole
	Inner           string // where it fills patches: a box of nothing but cloth, as a viewBox
	Flat            string // the colour of a flat chip
	FlatGrey        string // the grey of its lightness: what squinting leaves of it
	// Its grey in two, three and five values.
	Two, Three, Five string
	Fill             bool // may be cut to fill its place
	at               [2]int
	shape            [][2]float64
}

// waiting is a chip of a book. What it looks like is worked out, and its picture read,
// when it is written: there may be thousands, and they are most of a page.
type waiting struct {
	chipRef
	w, h  int
	fills bool // patches too
	look  func() (chip, error)
}

// Colour and Grey are its pictures as their addresses. They are made as they are
// written: there may be hundreds, and they are most of a page.
func (k chip) Colour() template.HTMLAttr { return address("href", k.colour) }

func (k chip) Grey() template.HTMLAttr { return address("href", k.grey) }

// chipRef is a chip to be used: its symbol, and its height for a width of 1.
type chipRef struct {
	ID     string
	Aspect float64
}

// chipBook collects the chips of one page. The order is that of first use.
type chipBook struct {
	prefix string
	cuts   valueCuts
	photos []chip // what cut-outs show parts of
	chips  []waiting
}

// GreyHex is the grey of a lightness, for a screen, as #rrggbb.
func GreyHex(lightness float64) string { return hexOf(greyOf(lightness)) }

func hexOf(c [3]uint8) string { return fmt.Sprintf("#%02x%02x%02x", c[0], c[1], c[2]) }

// cloth adds a cut-out and says how to use it.
func (b *chipBook) cloth(c *cloth.Cloth) chipRef {
	s := c.Swatch
	if s == nil || len(s.Colour) == 0 {
		return b.colour(c.Lab)
	}
	return b.kept(c, func() (*cloth.Swatch, error) { return s, nil })
}

// kept adds a cut-out of which so far no more is known than how large it is; read
// gives all of it.
func (b *chipBook) kept(c *cloth.Cloth, read func() (*cloth.Swatch, error)) chipRef {
	if s := c.Swatch; s == nil || s.W <= 0 || s.H <= 0 {
		return b.colour(c.Lab)
	}
	lab, w, h := c.Lab, c.Swatch.W, c.Swatch.H
	return b.add(w, h, func() (chip, error) {
		k := b.flat(lab)
		s, err := read()
		if s != nil {
			k.colour, k.grey = s.Colour, s.Grey
		}
		if s != nil && len(s.Shape) >= 3 {
			k.shape, k.Points = s.Shape, points(s.Shape, float64(w), float64(h))
		}
		return k, err
	})
}

// photo adds the picture of several cloths and gives its place in the book; -1
// where there is none.
func (b *chipBook) photo(s *analyze.Sight) int {
	if s.W <= 0 || s.H <= 0 || len(s.Colour) == 0 {
		return -1
	}
	b.photos = append(b.photos, chip{ID: fmt.Sprintf("%sp%d", b.prefix, len(b.photos)+1), W: s.W, H: s.H, Size: sizeOf(s.W, s.H),
		colour: s.Colour, grey: s.Grey})
	return len(b.photos) - 1
}

// part adds what lies within an outline of a photo of the book, in shares of
// it.
func (b *chipBook) part(c *cloth.Cloth, photo int, outline [][2]float64) chipRef {
	lab, of := c.Lab, b.photos[photo]
	lo, hi := raster.Extremes(outline)
	var at, size [2]int
	for a, side := range [2]int{of.W, of.H} {
		at[a] = int(min(max(lo[a], 0), 1) * float64(side))
		size[a] = max(int(math.Ceil(min(max(hi[a], 0), 1)*float64(side)))-at[a], 1)
	}
	return b.add(size[0], size[1], func() (chip, error) {
		k := b.flat(lab)
		k.at, k.Shows, k.shape = at, of.ID, make([][2]float64, len(outline))
		for i, p := range outline { // as shares of the chip
			k.shape[i] = [2]float64{(p[0]*float64(of.W) - float64(at[0])) / float64(size[0]), (p[1]*float64(of.H) - float64(at[1])) / float64(size[1])}
		}
		k.Points = points(outline, float64(of.W), float64(of.H))
		return k, nil
	})
}

// flatSide is the side of a chip that shows no picture.
const flatSide = 60

// colour adds a flat chip.
func (b *chipBook) colour(l colorspace.Lab) chipRef {
	return b.add(flatSide, flatSide, func() (chip, error) { return b.flat(l), nil })
}

// strip adds a piece of a print that may be cut to fill its place.
func (b *chipBook) strip(s *cloth.Swatch) chipRef {
	return b.add(s.W, s.H, func() (chip, error) {
		return chip{colour: s.Colour, grey: s.Grey, Fill: true, Flat: "#8b8b8b", FlatGrey: "#8b8b8b"}, nil
	})
}

func (b *chipBook) flat(l colorspace.Lab) chip {
	return chip{Flat: l.Linear().Hex(), FlatGrey: GreyHex(l.L),
		Two: valueHex(l.L, b.cuts.Two), Three: valueHex(l.L, b.cuts.Three), Five: valueHex(l.L, b.cuts.Five)}
}

func (b *chipBook) add(w, h int, look func() (chip, error)) chipRef {
	ref := chipRef{b.prefix + strconv.Itoa(len(b.chips)+1), float64(h) / float64(w)}
	b.chips = append(b.chips, waiting{chipRef: ref, w: w, h: h, look: look})
	return ref
}

// Drawn is the chip itself.
func (c waiting) Drawn() (chip, error) {
	k, err := c.look()
	k.ID, k.W, k.H = c.ID, c.w, c.h
	if len(k.colour) > 0 {
		k.Shows = k.ID
	}
	k.Size, k.Area = sizeOf(k.W, k.H), box(float64(k.at[0]), float64(k.at[1]), float64(k.W), float64(k.H))
	of := fmt.Sprintf("%d %d %d %d", k.at[0], k.at[1], k.W, k.H)
	k.Box = template.HTMLAttr(`viewBox="` + of + `"`)
	switch {
	case c.fills && k.shape != nil:
		k.Inner = innerBox(k.shape, k.at, float64(k.W), float64(k.H))
	case c.fills:
		k.Inner = of
	}
	return k, err
}

// sizeOf is the width and the height of a picture.
func sizeOf(w, h int) template.HTMLAttr {
	return template.HTMLAttr(fmt.Sprintf(`width="%d" height="%d"`, w, h))
}

// filling makes chips ready to fill patches too.
func (b *chipBook) filling(refs ...chipRef) {
	for _, r := range refs {
		if i := slices.IndexFunc(b.chips, func(k waiting) bool { return k.ID == r.ID }); i >= 0 {
			b.chips[i].fills = true
		}
	}
}

// innerBox is the largest square round the middle of an outline that lies
// inside it, as a viewBox in pixels; at is where the outline's own w x h begin.
func innerBox(shape [][2]float64, at [2]int, w, h float64) string {
	outline := scaled(shape, w, h)
	c := centroid(outline)
	half := min(c[0], c[1], w-c[0], h-c[1])
	// A square is inside when points all along its sides are.
	fits := func(half float64) bool {
		for t := -1.; t <= 1; t += .25 {
			for _, p := range [][2]float64{{t, -1}, {t, 1}, {-1, t}, {1, t}} {
				if !raster.Contains(outline, [2]float64{c[0] + p[0]*half, c[1] + p[1]*half}) {
					return false
				}
			}
		}
		return true
	}
	for half > 3 && !fits(half) {
		half *= .95
	}
	return fmt.Sprintf("%s %s %s %s", num(float64(at[0])+c[0]-half), num(float64(at[1])+c[1]-half), num(2*half), num(2*half))
}

// address is a picture, a JPEG or a PNG, as a data: address in the attribute
// of this name; "" for none. It needs no escaping, and there is much of it.
func address(name string, data []byte) template.HTMLAttr {
	if len(data) == 0 {
		return ""
	}
	kind := "jpeg"
	if bytes.HasPrefix(data, []byte("\x89PNG")) {
		kind = "png"
	}
	b := make([]byte, 0, len(name)+30+base64.StdEncoding.EncodedLen(len(data)))
	b = fmt.Appendf(b, `%s="data:image/%s;base64,`, name, kind)
	b = base64.StdEncoding.AppendEncode(b, data)
	return template.HTMLAttr(append(b, '"'))
}

// points is an outline of shares of w and h as SVG has it.
func points(outline [][2]float64, w, h float64) string {
	var s strings.Builder
	for i, p := range outline {
		if i > 0 {
			s.WriteByte(' ')
		}
		s.WriteString(num(p[0]*w) + "," + num(p[1]*h))
	}
	return s.String()
}

// Where shapes lie, as the attributes that SVG has for it. They are numbers
// alone: nothing in them needs escaping.

// xy is a point.
func xy(x, y float64) template.HTMLAttr {
	return template.HTMLAttr(`x="` + num(x) + `" y="` + num(y) + `"`)
}

// box is a box by its left upper corner.
func box(x, y, w, h float64) template.HTMLAttr {
	return xy(x, y) + template.HTMLAttr(` width="`+num(w)+`" height="`+num(h)+`"`)
}

// round is a box with round ends by its middle.
func round(x, y, w, h float64) template.HTMLAttr {
	return box(x-w/2, y-h/2, w, h) + template.HTMLAttr(` rx="`+num(h/2)+`"`)
}

// fromto is a line.
func fromto(x1, y1, x2, y2 float64) template.HTMLAttr {
	return template.HTMLAttr(`x1="` + num(x1) + `" y1="` + num(y1) + `" x2="` + num(x2) + `" y2="` + num(y2) + `"`)
}

// num is a coordinate, to a hundredth, as short as it goes.
func num(v float64) string {
	s := strconv.FormatFloat(Finite(v), 'f', 2, 64)
	s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	if s == "-0" || s == "" {
		return "0"
	}
	return s
}
