package report

import (
	"bytes"
	"cmp"
	"fmt"
	"html/template"
	"image"
	"image/color"
	"image/png"
	"math"
	"slices"
	"strconv"
	"strings"

	"greige/analyze"
	"greige/analyze/layout"
	"greige/analyze/raster"
)

// sightView is one picture of the page in all its views, with its marks.
// Marks are drawn in two ways: lines in shares of the picture (0..1000 each
// way), numbers at shares of it but in their own size.
type sightView struct {
	ID      string
	W, H    int
	Caption string
	Alt     string            // the finding; it stands with Base in every view
	Base    template.HTMLAttr // src, in colour: always there, and covered by the others
	Views   []viewImage
	Veils   []template.HTMLAttr // src, by colour of a palette
	Lines   []markLine
	Discs   []disc
	Hits    []hit
	Rows    []edgeLabel // numbers along the edges
	Cols    []edgeLabel

	// What the page's script computes views with: pixels to a degree of sight
	// from a metre away ("" when not known), and where few values are cut.
	Scale            string
	Two, Three, Five string
}

// viewImage is one view, by its position of the switch.
type viewImage struct {
	Key     string
	Picture template.HTMLAttr // src
}

// hit is a piece or a seam where it lies in a picture: what can be pointed at,
// stepped to and chosen there.
type hit struct {
	Piece string
	Seam  bool
	Path  string // SVG path data in 0..1000
	Says  string // its figures in words
}

// markLine is a line or an outline over a picture, in 0..1000.
type markLine struct {
	Kind  string // "lost", "soft", "misplaced", "doubtful"
	Piece string
	Path  string // SVG path data
}

// disc is a number over a picture, at shares of it in percent.
type disc struct {
	X, Y  string
	Text  string
	W     float64 // of the disc, in CSS pixels; 26 high
	Piece string
}

type edgeLabel struct {
	At   string // percent
	Text string
}

const discHeight = 26

// picture makes the views of s; a view that could not be made is left to the picture
// in colour, which lies under all. nil when there is none.
func picture(s *analyze.Sight, alt string, cuts valueCuts, distance float64) *sightView {
	if s.W <= 0 || s.H <= 0 || len(s.Colour) == 0 {
		return nil
	}
	v := &sightView{W: s.W, H: s.H, Alt: alt, Base: address("src", s.Colour), Two: cutWords(cuts.Two), Three: cutWords(cuts.Three), Five: cutWords(cuts.Five)}
	for _, view := range []viewImage{{"grey", address("src", s.Grey)}, {"squint", address("src", s.Squint)}, {"three", address("src", s.Values)}} {
		if view.Picture != "" {
			v.Views = append(v.Views, view)
		}
	}
	if ppd := Finite(s.PixelsPerDegree); ppd > 0 && distance > 0 {
		v.Scale = strconv.FormatFloat(ppd/distance, 'g', 6, 64)
	}
	return v
}

// outlines are the corners of each piece of a picture, by its id.
func outlines(s *analyze.Sight) map[string][][2]float64 {
	out := map[string][][2]float64{}
	if s != nil {
		for _, m := range s.Marks {
			out[m.ID] = m.Outline
		}
	}
	return out
}

// hit makes a piece answer where it lies.
func (v *sightView) hit(outline [][2]float64, piece, says string) {
	if len(outline) >= 3 {
		v.Hits = append(v.Hits, hit{Piece: piece, Path: closed(thousand(outline)), Says: says})
	}
}

// number puts a piece's number on it, or beside it where it is small.
func (v *sightView) number(outline [][2]float64, text, piece string) {
	if len(outline) < 3 {
		return
	}
	c := centroid(outline)
	lo, hi := raster.Extremes(outline)
	// On a page some 700 pixels wide the disc is 26: a piece under twice that
	// would be hidden by it.
	share := 2 * discHeight / 700.
	tall := share * float64(v.W) / float64(max(v.H, 1))
	if hi[0]-lo[0] < share || hi[1]-lo[1] < tall {
		c = [2]float64{hi[0] + share/4, (lo[1] + hi[1]) / 2}
		if c[0] > 1-share/4 {
			c[0] = lo[0] - share/4
		}
	}
	v.Discs = append(v.Discs, disc{
		X: percentOf(c[0]), Y: percentOf(c[1]), Text: text, W: labelWidth(text, discHeight), Piece: piece,
	})
}

func percentOf(share float64) string { return num(min(max(Finite(share), 0), 1)*100) + "%" }

func (v *sightView) line(kind, piece, path string) {
	if path != "" {
		v.Lines = append(v.Lines, markLine{Kind: kind, Piece: piece, Path: path})
	}
}

// thousand scales an outline to the units of the marks.
func thousand(outline [][2]float64) [][2]float64 { return scaled(outline, 1000, 1000) }

// scaled is an outline of shares in a picture w by h.
func scaled(outline [][2]float64, w, h float64) [][2]float64 {
	out := make([][2]float64, len(outline))
	for i, p := range outline {
		out[i] = [2]float64{p[0] * w, p[1] * h}
	}
	return out
}

// closed is a whole outline as a path.
func closed(outline [][2]float64) string {
	if len(outline) < 3 {
		return ""
	}
	var s strings.Builder
	for i, p := range outline {
		s.WriteString(map[bool]string{true: "M", false: "L"}[i == 0] + num(p[0]) + " " + num(p[1]))
	}
	return s.String() + "Z"
}

// cornerTicks are the corners of an outline only, each arm this share of its
// side.
func cornerTicks(outline [][2]float64, share float64) string {
	n := len(outline)
	if n < 3 {
		return ""
	}
	var s strings.Builder
	for i, p := range outline {
		before, after := outline[(i+n-1)%n], outline[(i+1)%n]
		a, b := between(p, before, share), between(p, after, share)
		fmt.Fprintf(&s, "M%s %sL%s %sL%s %s", num(a[0]), num(a[1]), num(p[0]), num(p[1]), num(b[0]), num(b[1]))
	}
	return s.String()
}

func between(a, b [2]float64, share float64) [2]float64 {
	return [2]float64{a[0] + (b[0]-a[0])*share, a[1] + (b[1]-a[1])*share}
}

// inset moves an outline towards its middle by a share.
func inset(outline [][2]float64, share float64) [][2]float64 {
	c := centroid(outline)
	out := make([][2]float64, len(outline))
	for i, p := range outline {
		out[i] = between(p, c, share)
	}
	return out
}

// seamLine is the line that two patches share: the sides of the two outlines
// that lie nearest to each other, averaged, and drawn in a little at its ends
// so that seams that meet stay apart.
func seamLine(a, b [][2]float64) string {
	if len(a) < 3 || len(b) < 3 {
		return ""
	}
	best, least := [2][2]float64{}, math.Inf(1)
	for i, a0 := range a {
		a1 := a[(i+1)%len(a)]
		for j, b1 := range b { // the neighbour's side runs the other way
			b0 := b[(j+1)%len(b)]
			if d := dist(a0, b0) + dist(a1, b1); d < least {
				least = d
				best = [2][2]float64{between(a0, b0, .5), between(a1, b1, .5)}
			}
		}
	}
	p, q := between(best[0], best[1], .07), between(best[0], best[1], .93)
	return "M" + num(p[0]) + " " + num(p[1]) + "L" + num(q[0]) + " " + num(q[1])
}

func dist(a, b [2]float64) float64 { return math.Hypot(a[0]-b[0], a[1]-b[1]) }

// centroid is the middle of an outline's area, or where that lies outside a
// hollow outline, or the outline has no area, the mean of its corners.
func centroid(outline [][2]float64) [2]float64 {
	if math.Abs(raster.Area(outline)) > 1e-12 {
		if c := raster.Centroid(outline); raster.Contains(outline, c) {
			return c
		}
	}
	var sum [2]float64
	for _, p := range outline {
		sum[0], sum[1] = sum[0]+p[0], sum[1]+p[1]
	}
	return [2]float64{sum[0] / float64(len(outline)), sum[1] / float64(len(outline))}
}

// cellID is a patch's id among the marks of a picture.
func cellID(c layout.Cell) string { return fmt.Sprintf("%d,%d", c[0], c[1]) }

// edges numbers the rows and columns of a straight set along its edges.
func (v *sightView) edges(at map[string][][2]float64, l *layout.Layout) {
	if l.Setting == layout.OnPoint {
		return
	}
	for _, p := range l.Patches {
		o := at[cellID(layout.Cell{p.Row, p.Col})]
		if len(o) < 3 {
			continue
		}
		c := centroid(o)
		if p.Col == 1 {
			v.Rows = append(v.Rows, edgeLabel{At: percentOf(c[1]), Text: fmt.Sprint(p.Row)})
		}
		if p.Row == 1 {
			v.Cols = append(v.Cols, edgeLabel{At: percentOf(c[0]), Text: fmt.Sprint(p.Col)})
		}
	}
}

// seams marks what does not show and should, soft ones under lost ones.
func (v *sightView) seams(at map[string][][2]float64, l *layout.Layout) {
	marked := slices.Clone(l.Seams)
	rank := func(d layout.Verdict) int { return map[layout.Verdict]int{layout.Soft: 1, layout.Lost: 2}[d] }
	slices.SortStableFunc(marked, func(a, b layout.Seam) int { return cmp.Compare(rank(a.Verdict), rank(b.Verdict)) })
	for _, m := range marked {
		if rank(m.Verdict) == 0 || !wantsToShow(l, m) {
			continue
		}
		a, b := at[cellID(m.Between[0])], at[cellID(m.Between[1])]
		v.line(string(m.Verdict), "", seamLine(thousand(a), thousand(b)))
	}
}

// seamsHit is up to how many seams each of them can be pointed at; in larger
// tops only those that are marked.
const seamsHit = 2000

// seamHits make the seams answer where they lie.
func (v *sightView) seamHits(at map[string][][2]float64, l *layout.Layout, piece func(int) string) {
	for i, m := range l.Seams {
		if len(l.Seams) > seamsHit && (!wantsToShow(l, m) || m.Verdict != layout.Lost && m.Verdict != layout.Soft) {
			continue
		}
		a, b := at[cellID(m.Between[0])], at[cellID(m.Between[1])]
		if path := seamLine(thousand(a), thousand(b)); path != "" {
			v.Hits = append(v.Hits, hit{Piece: piece(i), Seam: true, Path: path, Says: seamSays(l, m)})
		}
	}
}

// veils are one see-through picture a colour: clear where the colour lies,
// a veil of the page's own grey elsewhere.
func veils(k *analyze.Inks, colours int) []template.HTMLAttr {
	if k == nil || k.W <= 0 || k.H <= 0 || len(k.Of) != k.W*k.H {
		return nil
	}
	palette := color.Palette{color.NRGBA{}, color.NRGBA{R: 0x8b, G: 0x8b, B: 0x8b, A: 225}}
	var out []template.HTMLAttr
	for i := range min(colours, maxVeils) {
		img := image.NewPaletted(image.Rect(0, 0, k.W, k.H), palette)
		for j, of := range k.Of {
			if int(of) != i {
				img.Pix[j] = 1
			}
		}
		var b bytes.Buffer
		enc := png.Encoder{CompressionLevel: png.BestSpeed}
		if err := enc.Encode(&b, img); err != nil {
			return nil
		}
		out = append(out, address("src", b.Bytes()))
	}
	return out
}

// maxVeils is how many colours can be shown one by one, see veilStyle.
const maxVeils = 24
