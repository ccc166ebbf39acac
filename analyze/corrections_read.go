package analyze

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"reflect"
	"strconv"
	"strings"

	"github.com/go-json-experiment/json"
	"github.com/go-json-experiment/json/jsontext"

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
	var file struct {
		Schema *string            `json:"schema"`
		Photos []PhotoCorrections `json:"photos"`
	}
	dec := jsontext.NewDecoder(bytes.NewReader(data))
	if err := json.UnmarshalDecode(dec, &file, json.RejectUnknownMembers(true)); err != nil {
		return nil, unfit(data, err)
	}
	if _, err := dec.ReadToken(); !errors.Is(err, io.EOF) {
		return nil, &CorrectionsError{lineAt(data, dec.InputOffset()), "something follows the end of the object"}
	}
	wrong := func(at, reason string) error { return &CorrectionsError{lineOf(data, jsontext.Pointer(at)), reason} }
	switch {
	case file.Schema == nil:
		return nil, wrong("", fmt.Sprintf("it has no field \"schema\": %q", CorrectionsSchema))
	case *file.Schema != CorrectionsSchema:
		return nil, wrong("/schema", fmt.Sprintf("the schema is %q, not %q", CorrectionsSchema, *file.Schema))
	}
	c := &Corrections{}
	for i, f := range file.Photos {
		f.SHA256 = strings.ToLower(f.SHA256)
		if at, reason := f.fault(); reason != "" {
			return nil, wrong(fmt.Sprintf("/photos/%d%s", i, at), reason)
		}
		if c.Of(f.SHA256).SHA256 != "" {
			return nil, wrong(fmt.Sprintf("/photos/%d", i), "this photo stands in the file twice: what was put right in it belongs together")
		}
		c.Photos = append(c.Photos, f)
	}
	return c, nil
}

// fault is what is wrong with what stands in the file of a photo, and where in it, as
// a JSON pointer; "" where all fits.
func (p *PhotoCorrections) fault() (at, reason string) {
	switch {
	case p.SHA256 == "":
		return "", "the photo has no field \"sha256\", by which it is known"
	case len(p.SHA256) != 64 || strings.Trim(p.SHA256, "0123456789abcdef") != "":
		return "/sha256", "sha256 is 64 hexadecimal digits"
	case p.Scraps != "" && p.Scraps != ScrapsOne && p.Scraps != ScrapsMany:
		return "/scraps", fmt.Sprintf("scraps is \"one\" or \"many\", not %q", string(p.Scraps))
	case !(p.CardLightness >= 0 && p.CardLightness <= 100):
		return "/card_lightness", fmt.Sprintf("card_lightness is 0 to 100, not %g", p.CardLightness)
	}
	if reason = faultOfRectangle("card", p.Card); reason != "" {
		return "/card", reason
	}
	if reason = faultOfRectangle("at", p.At); reason != "" {
		return "/at", reason
	}
	for i, g := range p.Pieces {
		at := fmt.Sprintf("/pieces/%d", i)
		if inside, reason := faultOfPoints(g.Outline, 3, maxPoints); reason != "" {
			return at + "/outline" + inside, "the outline " + reason
		}
		if area(g.Outline) < 1 {
			return at, "the outline encloses nothing"
		}
	}
	if p.Grid != nil {
		at, reason = p.Grid.fault()
		at = "/grid" + at
	}
	return at, reason
}

func (g *GivenGrid) fault() (at, reason string) {
	if inside, reason := faultOfPoints(g.Corners, 4, 4); g.Corners != nil && reason != "" {
		return "/corners" + inside, "the list of the corners " + reason
	}
	switch {
	case g.Rows < 0 || g.Rows > layout.MaxSide:
		return "/rows", fmt.Sprintf("rows is 1 to %d, not %d", layout.MaxSide, g.Rows)
	case g.Cols < 0 || g.Cols > layout.MaxSide:
		return "/cols", fmt.Sprintf("cols is 1 to %d, not %d", layout.MaxSide, g.Cols)
	case g.Setting != "" && g.Setting != layout.Straight && g.Setting != layout.OnPoint:
		return "/setting", fmt.Sprintf("setting is %q or %q, not %q", layout.Straight, layout.OnPoint, string(g.Setting))
	}
	return "", ""
}

// faultOfRectangle is what is wrong with x, y, width and height.
func faultOfRectangle(name string, r *[4]float64) string {
	switch {
	case r == nil:
	case !withinPixels(r[:]):
		return name + " lies outside of any photo"
	case rectangleOf(*r).Empty():
		return name + " is x, y, width and height, and neither width nor height is less than 1"
	}
	return ""
}

// faultOfPoints is what is wrong with a list of points.
func faultOfPoints(points [][2]float64, least, most int) (at, reason string) {
	switch n := len(points); {
	case n < least:
		return "", fmt.Sprintf("has %d points or more, not %d", least, n)
	case n > most:
		return "", fmt.Sprintf("has %d points at most, not %d", most, n)
	}
	for i, q := range points {
		if !withinPixels(q[:]) {
			return fmt.Sprintf("/%d", i), fmt.Sprintf("has a point outside of any photo, at %g, %g", q[0], q[1])
		}
	}
	return "", ""
}

func withinPixels(v []float64) bool {
	for _, x := range v {
		if !(math.Abs(x) <= maxPixels) {
			return false
		}
	}
	return true
}

// UnmarshalJSON reads a piece, which has to say whether it is cloth.
func (g *GivenPiece) UnmarshalJSON(data []byte) error {
	var p struct {
		Outline [][2]float64 `json:"outline"`
		Cloth   *bool        `json:"cloth"`
	}
	if err := json.Unmarshal(data, &p, json.RejectUnknownMembers(true)); err != nil {
		return err
	}
	switch {
	case p.Outline == nil:
		return errors.New("the piece has no outline")
	case p.Cloth == nil:
		return errors.New("the piece does not say whether it is cloth: true or false")
	}
	g.Outline, g.Cloth = p.Outline, *p.Cloth
	return nil
}

// UnmarshalJSON reads the name of a chart, its rows in one text, or a list of them.
func (c *GivenChart) UnmarshalJSON(data []byte) error {
	var text string
	if json.Unmarshal(data, &text) == nil {
		if named, err := layout.ChartByName(text); err == nil {
			*c = GivenChart(named)
			return nil
		}
	} else {
		var rows []string
		if json.Unmarshal(data, &rows) != nil {
			return errors.New("the chart is a list of rows, or a name")
		}
		text = strings.Join(rows, "\n")
	}
	chart, err := layout.ParseChart(strings.NewReader(text))
	if err != nil {
		return errors.New(strings.TrimPrefix(err.Error(), "chart, "))
	}
	*c = GivenChart(chart)
	return nil
}

// unfit says in words, and with its line, why JSON could not be read as corrections.
func unfit(data []byte, err error) error {
	var syntax *jsontext.SyntacticError
	var fit *json.SemanticError
	switch {
	case errors.Is(err, io.EOF), errors.Is(err, io.ErrUnexpectedEOF):
		return &CorrectionsError{lineAt(data, int64(len(data))), "the file ends too early"}
	case errors.Is(err, jsontext.ErrDuplicateName):
		errors.As(err, &syntax)
		return &CorrectionsError{lineAt(data, syntax.ByteOffset), fmt.Sprintf("the field %q stands twice", syntax.JSONPointer.LastToken())}
	case errors.As(err, &fit):
		at, reason := fit.JSONPointer, ""
		for within := fit; errors.As(within.Err, &within); at += within.JSONPointer { // a piece was read by itself
			fit = within
		}
		if reason = ofKind(fit, at); reason == "" {
			reason = fit.Err.Error()
		}
		return &CorrectionsError{lineOf(data, at), reason}
	case errors.As(err, &syntax):
		return &CorrectionsError{lineAt(data, syntax.ByteOffset), "this is no JSON: " + syntax.Err.Error()}
	}
	return &CorrectionsError{0, err.Error()}
}

// ofKind says of which kind a value has to be; "" where that is not what is wrong.
func ofKind(e *json.SemanticError, at jsontext.Pointer) string {
	what := "the file"
	for name := range at.Tokens() {
		if _, err := strconv.Atoi(name); err != nil { // else a place in a list
			what = "the " + name
		}
	}
	switch {
	case errors.Is(e.Err, json.ErrUnknownName):
		return fmt.Sprintf("there is no field %q", at.LastToken())
	case e.JSONKind == ']':
		return fmt.Sprintf("%s has %d numbers, not more or fewer", what, e.GoType.Len())
	case e.Err != nil && !errors.Is(e.Err, strconv.ErrSyntax) && !errors.Is(e.Err, strconv.ErrRange): // of this file
		return ""
	}
	kinds := map[reflect.Kind]string{reflect.Bool: "true or false", reflect.String: "a text in quotes", reflect.Int: "a whole number",
		reflect.Float64: "a number", reflect.Slice: "a list in [ ]", reflect.Array: "a list in [ ]", reflect.Struct: "an object in { }"}
	return what + " is " + kinds[e.GoType.Kind()]
}

// lineAt is the number of the line of an offset, or of what follows it behind what
// parts values.
func lineAt(data []byte, offset int64) int {
	for offset < int64(len(data)) && strings.IndexByte(" \t\r\n,:", data[offset]) >= 0 {
		offset++
	}
	return 1 + bytes.Count(data[:offset], []byte{'\n'})
}

// lineOf is the number of the line in which a value ends.
func lineOf(data []byte, at jsontext.Pointer) int {
	dec := jsontext.NewDecoder(bytes.NewReader(data))
	end := int64(0)
	for {
		if _, err := dec.ReadToken(); err != nil {
			return 1 + bytes.Count(data[:end], []byte{'\n'})
		}
		if dec.StackPointer() == at {
			end = dec.InputOffset()
		}
	}
}
