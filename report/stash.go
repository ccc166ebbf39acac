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

// Bounds of what an earlier sort may hold. A real one has some 2 kB a cloth.
const (
	stashBytes   = 64 << 20
	stashFabrics = 20000
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
		if err := f.Check(); err != nil {
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
