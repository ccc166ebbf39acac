package report

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"reflect"
	"strings"

	"greige/analyze"
	"greige/analyze/border"
	"greige/analyze/layout"
	"greige/analyze/light"
	"greige/analyze/photo"
	"greige/analyze/piles"
	"greige/analyze/plan"
	"greige/analyze/stash"
)

// Schema names the shape of the JSON that WriteJSON writes.
const Schema = "greige/1"

// header is what every command's object begins with.
type header struct {
	Schema  string          `json:"schema"`
	Command string          `json:"command"`
	Version string          `json:"version"`
	Skipped []photo.Skipped `json:"skipped"`
	Light   []light.Record  `json:"light"`
	Notes   []string        `json:"notes,omitempty"`
	// How the spread, the clarity and the verdicts were judged.
	Distance     float64 `json:"distance,omitempty"` // metres
	WidthCM      float64 `json:"width_cm,omitempty"`
	WidthAssumed bool    `json:"width_assumed,omitempty"`
}

// One object a command. Each embeds the header and its own answer, whose
// field names differ, so that encoding/json drops none.
type (
	sortObject struct {
		header
		*piles.Sorted
	}
	layoutObject struct {
		header
		*layout.Layout
		Stash []piles.Fabric `json:"stash,omitempty"`
	}
	borderObject struct {
		header
		*border.Border
	}
	stashObject struct {
		header
		*stash.Answer
	}
	planObject struct {
		header
		*plan.Plan
	}
)

// WriteJSON writes r as the one object of the schema "greige/1". Lists are
// never null, what does not apply is left out, and figures are rounded: to a
// hundredth of a pixel, a thousandth of an L* or of a colour difference, a
// hundred thousandth of a share. A figure that is no number is an error that
// names it, and nothing is written; of an answer out of the stash, which is written
// as it is read, what comes before it is.
func WriteJSON(w io.Writer, r *analyze.Result, version string) error {
	var t tidier
	object := objectOf(&t, r, version)
	if object == nil {
		return &Error{Reason: "there is nothing to write: no command has an answer"}
	}
	if err := t.err(); err != nil {
		return err
	}
	var b bytes.Buffer
	if err := encoder(&b, "").Encode(object); err != nil {
		return err
	}
	if r.Kept != nil {
		return writeKept(w, b.Bytes(), r.Kept)
	}
	_, err := w.Write(b.Bytes())
	return err
}

// encoder writes JSON whose lines begin with prefix, but for the first.
func encoder(w io.Writer, prefix string) *json.Encoder {
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	enc.SetIndent(prefix, " ")
	return enc
}

// noCloths is the list of cloths of an answer out of the stash that holds none.
const noCloths = "\n \"fabrics\": []"

// writeKept writes an answer out of the stash: the object without its cloths, and
// these in the place of the empty list in it, as they are read.
func writeKept(w io.Writer, object []byte, k *stash.Answer) error {
	before, after, _ := bytes.Cut(object, []byte(noCloths))
	if _, err := w.Write(append(before, noCloths[:len(noCloths)-1]...)); err != nil {
		return err
	}
	between, end := "\n  ", "]"
	var b bytes.Buffer
	enc := encoder(&b, "  ")
	err := k.Each(func(some []stash.FoundCloth) error {
		for i := range some {
			var t tidier
			f := tidied(&t, some[i])
			if err := t.err(); err != nil {
				return err
			}
			b.Reset()
			b.WriteString(between)
			if err := enc.Encode(&f); err != nil {
				return err
			}
			if _, err := w.Write(bytes.TrimSuffix(b.Bytes(), []byte("\n"))); err != nil {
				return err
			}
			between, end = ",\n  ", "\n ]"
		}
		return nil
	})
	if err != nil {
		return err
	}
	_, err = w.Write(append([]byte(end), after...))
	return err
}

func objectOf(t *tidier, r *analyze.Result, version string) any {
	h := tidied(t, header{
		Schema: Schema, Command: r.Command, Version: version, Skipped: r.Skipped, Light: r.Light,
		Notes: r.Notes, Distance: r.Distance, WidthCM: r.WidthCM, WidthAssumed: r.WidthAssumed,
	})
	switch {
	case r.Sort != nil:
		s := tidied(t, *r.Sort)
		withTies(s.Fabrics)
		if s.Piles.Light != nil && s.Piles.Medium == nil && len(s.Cuts) != 1 {
			s.Piles.Medium = []string{} // three piles were wanted
		}
		return sortObject{h, &s}
	case r.Layout != nil:
		l, stash := tidied(t, *r.Layout), tidied(t, r.Stash)
		withTies(stash)
		return layoutObject{h, &l, stash}
	case r.Border != nil:
		b := tidied(t, *r.Border)
		withTies(b.Stash)
		return borderObject{h, &b}
	case r.Kept != nil:
		a := *r.Kept
		a.Fabrics = nil // see writeKept
		a = tidied(t, a)
		return stashObject{h, &a}
	case r.Plan != nil:
		p := tidied(t, *r.Plan)
		return planObject{h, &p}
	}
	return nil
}

// withTies gives every ranked fabric a list of ties, empty where it has none.
func withTies(fabrics []piles.Fabric) {
	for i := range fabrics {
		if f := &fabrics[i]; f.TiedWith == nil && f.Rank > 0 {
			f.TiedWith = []string{}
		}
	}
}

// Decimals by what a figure is. An L* is known to a few tenths at best; a
// thousandth is kept so that midpoints and differences still agree.
const (
	hundredth         = 2
	thousandth        = 3
	hundredThousandth = 5
)

func decimalsOf(field string, otherwise int) int {
	switch field {
	case "outline", "holes", "corners":
		return hundredth
	case "share", "covers", "reads", "reads_after", "gain", "fit", "clipped", "cast", "unevenness":
		return hundredThousandth
	}
	return otherwise
}

// tidier copies values with their floats rounded and their nil lists made
// empty, and remembers the first figure that is no number.
type tidier struct {
	path []step // to the value that is being copied
	bad  string
}

// step is one step of a path: a field, or an index where the field is "".
type step struct {
	field string
	index int
}

// err names the figure that is no number; nil: all are.
func (t *tidier) err() error {
	if t.bad == "" {
		return nil
	}
	return &Error{Reason: fmt.Sprintf("the figure %s is no number", t.bad), Hint: "this is a fault of the program: please report it, with the photo"}
}

func (t *tidier) where() string {
	var b strings.Builder
	for _, s := range t.path {
		if s.field == "" {
			fmt.Fprintf(&b, "[%d]", s.index)
		} else {
			b.WriteString("." + s.field)
		}
	}
	return strings.TrimPrefix(b.String(), ".")
}

func tidied[T any](t *tidier, v T) T {
	var out T
	t.copy(reflect.ValueOf(&out).Elem(), reflect.ValueOf(&v).Elem(), thousandth)
	return out
}

// copy copies v to out, which is empty.
func (t *tidier) copy(out, v reflect.Value, decimals int) {
	switch v.Kind() {
	case reflect.Float64:
		f := v.Float()
		if (math.IsNaN(f) || math.IsInf(f, 0)) && t.bad == "" {
			t.bad = t.where()
		}
		p := math.Pow10(decimals)
		f = math.Round(f*p) / p
		if f == 0 {
			f = 0 // not -0
		}
		out.SetFloat(f)
	case reflect.Pointer:
		if !v.IsNil() {
			out.Set(reflect.New(v.Type().Elem()))
			t.copy(out.Elem(), v.Elem(), decimals)
		}
	case reflect.Slice:
		out.Set(reflect.MakeSlice(v.Type(), v.Len(), v.Len()))
		t.items(v, out, decimals)
	case reflect.Array:
		t.items(v, out, decimals)
	case reflect.Struct:
		for i := range v.NumField() {
			f := v.Type().Field(i)
			name, options, _ := strings.Cut(f.Tag.Get("json"), ",")
			omit := strings.Contains(options, "omit") && v.Field(i).IsZero()
			if name == "-" || omit {
				continue // not written, so not copied
			}
			depth := len(t.path)
			if !f.Anonymous {
				t.path = append(t.path, step{field: name})
			}
			t.copy(out.Field(i), v.Field(i), decimalsOf(name, decimals))
			t.path = t.path[:depth]
		}
	default:
		out.Set(v)
	}
}

// items copies the values of a list.
func (t *tidier) items(v, out reflect.Value, decimals int) {
	t.path = append(t.path, step{})
	for i := range v.Len() {
		t.path[len(t.path)-1].index = i
		t.copy(out.Index(i), v.Index(i), decimals)
	}
	t.path = t.path[:len(t.path)-1]
}
