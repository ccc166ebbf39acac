package report

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strconv"

	"greige/analyze/piles"
)

// Bounds of what an earlier run may hold. A real sort has some 2 kB a cloth.
const (
	figureBytes  = 64 << 20
	stashFabrics = 20000
)

// ReadStash reads the fabrics out of what an earlier `greige sort --json`
// wrote, at most 64 MiB. Where the uncertainty against cloths of the same
// photo is not given it is the whole one, the safe side; Swatch is nil. Every error
// is an *Error without a file name: not JSON, another schema, another
// command's figures, no fabrics, or a figure out of its range. widthCM is how wide
// the scenes were said to be: 0 where the figures do not say, or only assume it.
func ReadStash(r io.Reader) (fabrics []piles.Fabric, widthCM float64, err error) {
	var o struct {
		Fabrics []piles.Fabric `json:"fabrics"`
		WidthCM float64        `json:"width_cm"`
		Assumed bool           `json:"width_assumed"`
	}
	if err := sortFigures.read(r, &o); err != nil {
		return nil, 0, err
	}
	fabrics, wrong := o.Fabrics, sortFigures.wrong
	if len(fabrics) == 0 {
		return nil, 0, wrong("there is no fabric in it")
	}
	if len(fabrics) > stashFabrics {
		return nil, 0, wrong("%d fabrics in it; at most %d are read", len(fabrics), stashFabrics)
	}
	seen := map[string]bool{}
	for i := range fabrics {
		f := &fabrics[i]
		if err := f.Check(); err != nil {
			return nil, 0, wrong("fabric %d: %v", i+1, err)
		}
		if seen[f.ID] {
			return nil, 0, wrong("two fabrics have the id %s", strconv.Quote(f.ID))
		}
		seen[f.ID] = true
		if f.Apart == 0 {
			f.Apart = f.Uncertainty
		}
	}
	if !o.Assumed && o.WidthCM > 0 && o.WidthCM <= 100000 {
		widthCM = o.WidthCM
	}
	return fabrics, widthCM, nil
}

// figuresOf are what a command wrote as JSON, to be read again.
type figuresOf struct {
	command string
	holds   string // what other figures do not hold
	is      string // what something too large cannot be
	hint    string
}

var (
	sortFigures   = figuresOf{"sort", "sorted stash", "list of cloths", "give what `greige sort --json FILE` wrote, or the photos themselves"}
	layoutFigures = figuresOf{"layout", "top", "top", "give what `greige layout PHOTO --json FILE` wrote"}
)

func (f figuresOf) wrong(format string, args ...any) error {
	return &Error{Reason: plain(fmt.Sprintf(format, args...)), Hint: f.hint}
}

// read reads figures, at most figureBytes of them; the error says what they are not.
func (f figuresOf) read(r io.Reader, into any) error {
	data, err := io.ReadAll(io.LimitReader(r, figureBytes+1))
	if err != nil {
		return &Error{Reason: "cannot be read: " + plain(err.Error()), Hint: f.hint, Err: err}
	}
	if len(data) > figureBytes {
		return f.wrong("larger than %d MiB, so no %s", figureBytes>>20, f.is)
	}
	data = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf")) // some editors put it there
	var head struct {
		Schema  *string `json:"schema"`
		Command string  `json:"command"`
	}
	if err := json.Unmarshal(data, &head); err != nil {
		return f.notJSON(err)
	}
	switch {
	case head.Schema == nil:
		return f.wrong("JSON, but not from greige: it has no \"schema\"")
	case *head.Schema != Schema:
		return f.wrong("its schema is %s, and this program reads %q", strconv.Quote(piles.Short(*head.Schema)), Schema)
	case head.Command != f.command:
		return f.wrong("the figures of %s, which hold no %s", strconv.Quote("greige "+piles.Short(head.Command)), f.holds)
	}
	if err := json.Unmarshal(data, into); err != nil {
		return f.notJSON(err)
	}
	return nil
}

func (f figuresOf) notJSON(err error) error {
	var kind *json.UnmarshalTypeError
	switch {
	case errors.As(err, &kind) && kind.Field == "":
		return f.wrong("JSON, but not from greige: it is one %s", kind.Value)
	case kind != nil:
		return f.wrong("the field %s holds a %s, not what a %s writes there", strconv.Quote(piles.Short(kind.Field)), kind.Value, f.command)
	}
	var syntax *json.SyntaxError
	if errors.As(err, &syntax) {
		return f.wrong("not JSON (byte %d: %v)", syntax.Offset, syntax)
	}
	return f.wrong("not JSON: %v", err)
}
