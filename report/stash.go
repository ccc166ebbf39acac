package report

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"

	"greige/analyze/piles"
	"greige/colorspace"
)

// Bounds of what an earlier sort may hold. A real one has some 2 kB a cloth.
const (
	stashBytes   = 64 << 20
	stashFabrics = 20000
	stashText    = 4096 // bytes of one name or note
	stashColours = 256
	stashPoints  = 100000
)

const stashHint = "give what `greige sort --json FILE` wrote, or the photos themselves"

// ReadStash reads the fabrics out of what an earlier `greige sort --json`
// wrote, at most 64 MiB. Where the uncertainty against cloths of the same
// photo is not given it is the whole one, the safe side; Swatch is nil. Every error
// is an *Error without a file name: not JSON, another schema, another
// command's figures, no fabrics, or a figure out of its range.
func ReadStash(r io.Reader) ([]piles.Fabric, error) {
	data, err := io.ReadAll(io.LimitReader(r, stashBytes+1))
	if err != nil {
		return nil, &Error{Reason: "cannot be read: " + plain(err.Error()), Hint: stashHint, Err: err}
	}
	if len(data) > stashBytes {
		return nil, stashError("larger than %d MiB, so no list of cloths", stashBytes>>20)
	}
	data = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf")) // some editors put it there
	var o struct {
		Schema  *string         `json:"schema"`
		Command string          `json:"command"`
		Fabrics json.RawMessage `json:"fabrics"`
	}
	if err := json.Unmarshal(data, &o); err != nil {
		return nil, notJSON(err)
	}
	switch {
	case o.Schema == nil:
		return nil, stashError("JSON, but not from greige: it has no \"schema\"")
	case *o.Schema != Schema:
		return nil, stashError("its schema is %s, and this program reads %q", strconv.Quote(short(*o.Schema)), Schema)
	case o.Command != "sort":
		return nil, stashError("the figures of %s, which hold no sorted stash", strconv.Quote("greige "+short(o.Command)))
	}
	var fabrics []piles.Fabric
	if len(o.Fabrics) > 0 {
		if err := json.Unmarshal(o.Fabrics, &fabrics); err != nil {
			return nil, notJSON(err)
		}
	}
	if len(fabrics) == 0 {
		return nil, stashError("there is no fabric in it")
	}
	if len(fabrics) > stashFabrics {
		return nil, stashError("%d fabrics in it; at most %d are read", len(fabrics), stashFabrics)
	}
	seen := map[string]bool{}
	for i := range fabrics {
		f := &fabrics[i]
		if err := checkFabric(f); err != nil {
			return nil, stashError("fabric %d: %v", i+1, err)
		}
		if seen[f.ID] {
			return nil, stashError("two fabrics have the id %s", strconv.Quote(f.ID))
		}
		seen[f.ID] = true
		if f.Apart == 0 {
			f.Apart = f.Uncertainty
		}
	}
	return fabrics, nil
}

func stashError(format string, args ...any) error {
	return &Error{Reason: plain(fmt.Sprintf(format, args...)), Hint: stashHint}
}

func notJSON(err error) error {
	var kind *json.UnmarshalTypeError
	if errors.As(err, &kind) {
		return stashError("the field %s holds a %s, not what a sort writes there", strconv.Quote(short(kind.Field)), kind.Value)
	}
	var syntax *json.SyntaxError
	if errors.As(err, &syntax) {
		return stashError("not JSON (byte %d: %v)", syntax.Offset, syntax)
	}
	return stashError("not JSON: %v", err)
}

// short is text from a file, short enough for a message.
func short(s string) string {
	if r := []rune(s); len(r) > 40 {
		return string(r[:40]) + "..."
	}
	return s
}

// checkFabric refuses what no sort can have written.
func checkFabric(f *piles.Fabric) error {
	if f.ID == "" || len(f.ID) > 64 {
		return errors.New("it needs an id of 1 to 64 bytes")
	}
	for _, s := range []string{f.Photo, f.Note, f.Name, f.Remark, string(f.Character), string(f.Temperature)} {
		if len(s) > stashText {
			return fmt.Errorf("a text of %d bytes; at most %d are read", len(s), stashText)
		}
	}
	switch f.Pile {
	case "", piles.Light, piles.Medium, piles.Dark:
	default:
		return fmt.Errorf("there is no pile %s", strconv.Quote(short(string(f.Pile))))
	}
	ranges := []struct {
		name           string
		value, low, up float64
	}{
		{"lightness", f.Lightness, 0, 100},
		{"uncertainty", f.Uncertainty, 0, 100},
		{"uncertainty_apart", f.Apart, 0, 100},
		{"munsell_value", f.MunsellValue, 0, 10},
		{"spread", f.Spread, 0, 100},
		{"looks_like", f.LooksLike, 0, 150},
		{"clipped", f.Clipped, 0, 1},
		{"rank", float64(f.Rank), 0, stashFabrics},
		{"scrap", float64(f.Scrap), 0, 1e6},
	}
	for _, r := range ranges {
		if !(r.value >= r.low && r.value <= r.up) {
			return fmt.Errorf("%s is %v, outside %v to %v", r.name, r.value, r.low, r.up)
		}
	}
	if err := checkLab(f.Lab); err != nil {
		return err
	}
	// Rounded figures may differ in the last digit; a file made by hand that
	// says two things is another matter.
	if math.Abs(f.Lab.L-f.Lightness) > .05 {
		return fmt.Errorf("lightness is %v, but lab says %v", f.Lightness, f.Lab.L)
	}
	if len(f.Colours) > stashColours || len(f.Outline) > stashPoints || len(f.TiedWith) > stashFabrics {
		return errors.New("longer lists than a sort writes")
	}
	for _, c := range f.Colours {
		if err := checkLab(c.Lab); err != nil {
			return err
		}
		if !(c.Share >= 0 && c.Share <= 1) {
			return fmt.Errorf("the share of a colour is %v, outside 0 to 1", c.Share)
		}
		if len(c.Hex) > 16 || len(c.Name) > stashText {
			return errors.New("a colour with too long a name")
		}
	}
	return nil
}

func checkLab(l colorspace.Lab) error {
	// The a* and b* of real surfaces stay well within 130; wide gamuts reach 200.
	if !(l.L >= 0 && l.L <= 100.0001 && math.Abs(l.A) <= 200 && math.Abs(l.B) <= 200) {
		return fmt.Errorf("lab is [%v, %v, %v], outside 0 to 100 and -200 to 200", l.L, l.A, l.B)
	}
	return nil
}
