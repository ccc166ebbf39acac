// Package report turns the outcome of a run, an analyze.Result, into what a
// person or a script takes away: an offline HTML page, JSON, CSV, and the
// terminal's answer and table. It measures nothing: what it draws is what the
// figures say, and the same result gives the same bytes. It also reads back
// the JSON of an earlier sort, as a stash.
package report

import (
	"math"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"greige/analyze"
	"greige/analyze/piles"
)

// Error is something that could not be written or read. Its text is the
// quoted file name, if there is one, a colon and the reason; Hint says what
// to do about it.
type Error struct {
	File   string
	Reason string
	Hint   string
	Err    error // what the system said; may be nil
}

func (e *Error) Error() string {
	if e.File == "" {
		return e.Reason
	}
	return quote(e.File) + ": " + e.Reason
}

func (e *Error) Unwrap() error { return e.Err }

// quote is a name in plain double quotes, fit for a terminal.
func quote(name string) string { return `"` + plain(name) + `"` }

// fileName is the last part of a path, made harmless: what she calls a photo.
// The figures give the whole path.
func fileName(path string) string { return plain(path[strings.LastIndexAny(path, `/\`)+1:]) }

// plain is text that came from outside (a file name, a camera's record), made
// harmless wherever characters can act: control characters, characters that
// turn the direction of writing or break lines, and bytes that are no text
// become the replacement character.
func plain(s string) string {
	s = strings.ToValidUTF8(s, string(utf8.RuneError))
	return strings.Map(func(r rune) rune {
		if acts(r) {
			return utf8.RuneError
		}
		return r
	}, s)
}

// acts: the character does something other than be seen. The two joiners
// that some scripts spell with are let through.
func acts(r rune) bool {
	switch {
	case r == '\u200c', r == '\u200d':
		return false
	case r == '\u2028', r == '\u2029':
		return true
	}
	return unicode.IsControl(r) || unicode.Is(unicode.Cf, r)
}

// Finite is v, or 0 where v is no number: for drawing only. Figures that are
// no numbers are refused where figures are written.
func Finite(v float64) float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return 0
	}
	return v
}

// ranked are the fabrics that are cloth and have a rank, lightest first.
func ranked(fabrics []piles.Fabric) []piles.Fabric {
	var out []piles.Fabric
	for _, f := range fabrics {
		if !f.Doubtful && f.Rank > 0 {
			out = append(out, f)
		}
	}
	slices.SortStableFunc(out, func(a, b piles.Fabric) int { return a.Rank - b.Rank })
	return out
}

// doubtful are the pieces that may be no cloth.
func doubtful(fabrics []piles.Fabric) []piles.Fabric {
	var out []piles.Fabric
	for _, f := range fabrics {
		if f.Doubtful {
			out = append(out, f)
		}
	}
	return out
}

// notes are what the user should know besides, as sentences.
func notes(r *analyze.Result) []string {
	all := r.Notes
	if r.Layout != nil {
		all = slices.Concat(all, r.Layout.Remarks)
	}
	var out []string
	for _, n := range all {
		if s := sentence(plain(n)); s != "" {
			out = append(out, s)
		}
	}
	return out
}

// Describe is a cloth of a sort in words, for those who do not see the picture:
// its number, colour, lightness, kind and pile.
func Describe(f *piles.Fabric, s *piles.Sorted) string { return describe(f) + pileSay(f, s) }
