package analyze

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"greige/analyze/layout"
)

// CorrectionsError says what is wrong in a file of corrections, and where.
type CorrectionsError struct {
	Line   int // from 1; 0: of the file as a whole
	Reason string
}

func (e *CorrectionsError) Error() string {
	if e.Line == 0 {
		return e.Reason
	}
	return fmt.Sprintf("line %d: %s", e.Line, e.Reason)
}

// What one file may hold: far more than a person puts right, and little enough
// that none can run the program out of memory.
const (
	maxCorrections = 64 << 20 // bytes
	maxPoints      = 10000    // of an outline
	maxPixels      = 1e6      // a side of any photo that is read
)

// ReadCorrections reads a file of corrections. One that does not fit the
// schema is refused as a whole, with a *CorrectionsError that names the line.
func ReadCorrections(r io.Reader) (*Corrections, error) {
	data, err := io.ReadAll(io.LimitReader(r, maxCorrections+1))
	switch {
	case err != nil:
		return nil, err
	case len(data) > maxCorrections:
		return nil, &CorrectionsError{0, fmt.Sprintf("the file is larger than %d MiB", maxCorrections>>20)}
	}
	p := &lineParser{dec: json.NewDecoder(bytes.NewReader(data)), data: data}
	p.dec.UseNumber()
	c := &Corrections{}
	p.document(c)
	if p.err != nil {
		return nil, p.err
	}
	return c, nil
}

// lineParser reads JSON of a known shape token by token, so that it can say in
// which line a wrong value stands. After the first error it reads no further.
type lineParser struct {
	dec  *json.Decoder
	data []byte
	at   int // bytes counted in line
	line int // line feeds before at
	err  error
}

// fail keeps the first error, at the line of the last token that was read.
func (p *lineParser) fail(format string, args ...any) {
	if p.err == nil {
		p.err = &CorrectionsError{p.lineAt(p.dec.InputOffset()), fmt.Sprintf(format, args...)}
	}
}

// lineAt is the number of the line of an offset, which never runs backwards.
func (p *lineParser) lineAt(offset int64) int {
	end := min(int(offset), len(p.data))
	if end > p.at {
		p.line += bytes.Count(p.data[p.at:end], []byte{'\n'})
		p.at = end
	}
	return p.line + 1
}

// token is the next token; nil after an error.
func (p *lineParser) token() json.Token {
	if p.err != nil {
		return nil
	}
	t, err := p.dec.Token()
	if err == nil {
		return t
	}
	if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		p.err = &CorrectionsError{p.lineAt(int64(len(p.data))), "the file ends too early"}
		return nil
	}
	// Behind the last token that was read, and what parts tokens.
	at := p.dec.InputOffset()
	for at < int64(len(p.data)) && strings.IndexByte(" \t\r\n,:", p.data[at]) >= 0 {
		at++
	}
	p.err = &CorrectionsError{p.lineAt(at), "this is no JSON: " + err.Error()}
	return nil
}

// opens reads the bracket that begins a list or an object.
func (p *lineParser) opens(bracket json.Delim, what string) bool {
	if t := p.token(); p.err == nil && t != bracket {
		kind := "a list in [ ]"
		if bracket == '{' {
			kind = "an object in { }"
		}
		p.fail("%s is %s", what, kind)
	}
	return p.err == nil
}

// object reads an object; field reads the value of the field of a name and
// tells whether there is such a field.
func (p *lineParser) object(what string, field func(name string) bool) {
	if !p.opens('{', what) {
		return
	}
	var seen []string
	for p.err == nil && p.dec.More() {
		name, ok := p.token().(string)
		switch {
		case p.err != nil:
		case !ok:
			p.fail("%s has a field without a name", what)
		case slices.Contains(seen, name):
			p.fail("the field %q stands twice in %s", name, what)
		case !field(name):
			p.fail("%s has no field %q", what, name)
		}
		seen = append(seen, name)
	}
	p.token()
}

// list reads a list of at most most members.
func (p *lineParser) list(what string, most int, member func()) {
	if !p.opens('[', what) {
		return
	}
	for n := 0; p.err == nil && p.dec.More(); n++ {
		if n == most {
			p.fail("%s has more than %d members", what, most)
			return
		}
		member()
	}
	p.token()
}

func (p *lineParser) text(what string) string {
	s, ok := p.token().(string)
	if !ok {
		p.fail("%s is a text in quotes", what)
	}
	return s
}

// number reads a number of lo to hi.
func (p *lineParser) number(what string, lo, hi float64) float64 {
	n, ok := p.token().(json.Number)
	if !ok {
		p.fail("%s is a number", what)
		return 0
	}
	v, err := strconv.ParseFloat(string(n), 64)
	if err != nil || !(v >= lo && v <= hi) {
		p.fail("%s is %g to %g, not %s", what, lo, hi, n)
	}
	return v
}

func (p *lineParser) whole(what string, lo, hi int) int {
	v := p.number(what, float64(lo), float64(hi))
	if v != math.Trunc(v) {
		p.fail("%s is a whole number", what)
	}
	return int(v)
}

// numbers reads a list of exactly len(to) pixels.
func (p *lineParser) numbers(what string, to []float64) {
	n := 0
	p.list(what, len(to), func() {
		to[n] = p.number(what, -maxPixels, maxPixels)
		n++
	})
	if n != len(to) {
		p.fail("%s has %d numbers, not %d", what, len(to), n)
	}
}

func (p *lineParser) points(what string, least, most int) (out [][2]float64) {
	p.list(what, most, func() {
		var q [2]float64
		p.numbers("a point of "+what, q[:])
		out = append(out, q)
	})
	if len(out) < least {
		p.fail("%s has %d points or more, not %d", what, least, len(out))
	}
	return out
}

// rectangle reads x, y, width and height.
func (p *lineParser) rectangle(what string) *[4]float64 {
	var r [4]float64
	p.numbers(what, r[:])
	if rectangleOf(r).Empty() {
		p.fail("%s is x, y, width and height, and neither width nor height is less than 1", what)
	}
	return &r
}

func (p *lineParser) document(c *Corrections) {
	schema := false
	p.object("the file", func(name string) bool {
		switch name {
		case "schema":
			schema = true
			if s := p.text("the schema"); s != CorrectionsSchema {
				p.fail("the schema is %q, not %q", CorrectionsSchema, s)
			}
		case "photos":
			p.list("photos", math.MaxInt, func() { p.photo(c) })
		default:
			return false
		}
		return true
	})
	if p.err != nil {
		return
	}
	if !schema {
		p.fail("it has no field \"schema\": %q", CorrectionsSchema)
	}
	if _, err := p.dec.Token(); !errors.Is(err, io.EOF) {
		p.fail("something follows the end of the object")
	}
}

func (p *lineParser) photo(c *Corrections) {
	var f PhotoCorrections
	p.object("a photo", func(name string) bool {
		switch name {
		case "photo":
			f.Photo = p.text(name)
		case "sha256":
			f.SHA256 = strings.ToLower(p.text(name))
			if len(f.SHA256) != 64 || strings.Trim(f.SHA256, "0123456789abcdef") != "" {
				p.fail("sha256 is 64 hexadecimal digits")
			}
			if c.Of(f.SHA256).SHA256 != "" {
				p.fail("this photo stands in the file twice: what was put right in it belongs together")
			}
		case "scraps":
			f.Scraps = ScrapsMode(p.text(name))
			if f.Scraps != ScrapsOne && f.Scraps != ScrapsMany {
				p.fail("scraps is \"one\" or \"many\", not %q", string(f.Scraps))
			}
		case "card":
			f.Card = p.rectangle(name)
		case "card_lightness":
			if f.CardLightness = p.number(name, 0, 100); f.CardLightness == 0 {
				p.fail("card_lightness is above 0")
			}
		case "at":
			f.At = p.rectangle(name)
		case "pieces":
			p.list(name, maxPoints, func() { f.Pieces = append(f.Pieces, p.piece()) })
		case "grid":
			f.Grid = p.grid()
		default:
			return false
		}
		return true
	})
	if f.SHA256 == "" {
		p.fail("the photo has no field \"sha256\", by which it is known")
	}
	c.Photos = append(c.Photos, f)
}

func (p *lineParser) piece() (g GivenPiece) {
	said := false
	p.object("a piece", func(name string) bool {
		switch name {
		case "outline":
			g.Outline = p.points("an outline", 3, maxPoints)
			if p.err == nil && area(g.Outline) < 1 {
				p.fail("the outline encloses nothing")
			}
		case "cloth":
			var ok bool
			if g.Cloth, ok = p.token().(bool); !ok {
				p.fail("cloth is true or false")
			}
			said = true
		default:
			return false
		}
		return true
	})
	switch {
	case g.Outline == nil:
		p.fail("the piece has no outline")
	case !said:
		p.fail("the piece does not say whether it is cloth: true or false")
	}
	return g
}

func (p *lineParser) grid() *GivenGrid {
	g := &GivenGrid{}
	p.object("a grid", func(name string) bool {
		switch name {
		case "corners":
			g.Corners = p.points("the corners", 4, 4)
		case "rows":
			g.Rows = p.whole(name, 1, layout.MaxSide)
		case "cols":
			g.Cols = p.whole(name, 1, layout.MaxSide)
		case "setting":
			if g.Setting = layout.Setting(p.text(name)); g.Setting != layout.Straight && g.Setting != layout.OnPoint {
				p.fail("setting is %q or %q, not %q", layout.Straight, layout.OnPoint, string(g.Setting))
			}
		case "chart":
			g.Chart = p.chart()
		default:
			return false
		}
		return true
	})
	return g
}

// chart reads the name of a chart, its rows in one text, or a list of them.
func (p *lineParser) chart() *GivenChart {
	var rows []string
	switch t := p.token().(type) {
	case string:
		if named, err := layout.ChartByName(t); err == nil {
			c := GivenChart(named)
			return &c
		}
		rows = []string{t}
	case json.Delim:
		if t != '[' {
			p.fail("the chart is a list of rows, or a name")
			return nil
		}
		for p.err == nil && p.dec.More() {
			rows = append(rows, p.text("a row of the chart"))
		}
		p.token()
	default:
		p.fail("the chart is a list of rows, or a name")
	}
	if p.err != nil {
		return nil
	}
	chart, err := layout.ParseChart(strings.NewReader(strings.Join(rows, "\n")))
	if err != nil {
		p.fail("%s", strings.TrimPrefix(err.Error(), "chart, "))
		return nil
	}
	c := GivenChart(chart)
	return &c
}
