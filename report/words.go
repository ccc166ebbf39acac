package report

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"greige/analyze/border"
	"greige/analyze/layout"
	"greige/analyze/numerals"
	"greige/analyze/piles"
)

// inWords, alike, first and some write a count as the notes do.
func inWords(n int) string { return numerals.InWords(n) }

func alike(n ...int) func(int) string { return numerals.Alike(n...) }

func first(n int) string { return numerals.First(n) }

func some(n int, one, many string) string { return numerals.Some(n, one, many) }

// noun is the word for so many of a thing, without their count.
func noun(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}

// firstSome is some at the head of a sentence.
func firstSome(n int, one, many string) string { return first(n) + " " + noun(n, one, many) }

// plural is a count in figures and its noun, for tables, captions and labels.
func plural(n int, one, many string) string { return strconv.Itoa(n) + " " + noun(n, one, many) }

// lower is s to go on a sentence with.
func lower(s string) string {
	r, size := utf8.DecodeRuneInString(s)
	if size == 0 {
		return s
	}
	return string(unicode.ToLower(r)) + s[size:]
}

// Capital is s as a sentence begins.
func Capital(s string) string {
	r, size := utf8.DecodeRuneInString(s)
	if size == 0 {
		return s
	}
	return string(unicode.ToUpper(r)) + s[size:]
}

// sentence is s with a capital and a full stop, unless it ends already.
func sentence(s string) string {
	s = strings.TrimSpace(s)
	if s == "" {
		return ""
	}
	if !strings.ContainsAny(s[len(s)-1:], ".?!:") {
		s += "."
	}
	return Capital(s)
}

// List joins "a", "a and b", "a, b and c".
func List(items []string) string {
	switch len(items) {
	case 0:
		return ""
	case 1:
		return items[0]
	}
	return strings.Join(items[:len(items)-1], ", ") + " and " + items[len(items)-1]
}

// numbers names pieces by their ids: "number 4", "numbers 4 and 17".
func numbers(ids []string) string {
	clean := make([]string, len(ids))
	for i, id := range ids {
		clean[i] = plain(id)
	}
	if len(clean) == 1 {
		return "number " + clean[0]
	}
	return "numbers " + List(clean)
}

// listMost is list, cut after most items with the rest counted.
func listMost(items []string, most int) string {
	if len(items) <= most+1 {
		return List(items)
	}
	return strings.Join(items[:most], ", ") + " and " + inWords(len(items)-most) + " more"
}

// figure is a number for a table: with so many decimals, no "-0", and "" for
// what is no number.
func figure(v float64, decimals int) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return ""
	}
	p := math.Pow10(decimals)
	v = math.Round(v*p) / p
	if v == 0 {
		v = 0
	}
	return strconv.FormatFloat(v, 'f', decimals, 64)
}

// percent is a share, 0..1, in words a person reads: "46 %", "under 1 %".
func percent(share float64) string {
	p := math.Round(Finite(share) * 100)
	if p < 1 && share > 0 {
		return "under 1\u00a0%"
	}
	return fmt.Sprintf("%.0f\u00a0%%", p)
}

// outOf is a share as "97 in a hundred", never rounded up to all of them.
func outOf(share float64) string {
	n := int(math.Round(Finite(share) * 100))
	if n >= 100 && share < 1 {
		n = 99
	}
	return fmt.Sprintf("%d in a hundred", n)
}

// pileWord is a pile as she says it: "lights".
func pileWord(p piles.Pile, n int) string {
	if n == 1 {
		return string(p)
	}
	return string(p) + "s"
}

// Likeness of a cloth to a colour by CIEDE2000, in words. About 2.3 CIELAB
// is what can just be noticed (Mahy and others 1994); border's limits are for
// cloth that is to go together, not to match.
const (
	veryClose  = border.VeryClose
	sameFamily = border.SameFamily
	aStretch   = border.AStretch
)

func likeness(deltaE float64) string {
	switch {
	case !(deltaE >= 0): // also NaN
		return "unknown"
	case deltaE <= veryClose:
		return "very close"
	case deltaE <= sameFamily:
		return "same family"
	case deltaE <= aStretch:
		return "a stretch"
	}
	return "far off"
}

// pairStrength is a pair's clarity in words. Under a clarity of 2 or 20 of
// lightness a seam is only soft, under 8 it is lost, as in a layout.
func pairStrength(p piles.Pair) string {
	switch {
	case p.DeltaL < 8:
		return "runs together"
	case p.DeltaL < 20 || p.Clarity < 2:
		return "soft: look twice"
	case p.DeltaL >= 40 && p.Clarity >= 6:
		return "strong"
	}
	return "reads clearly"
}

// boundWord is put before a lightness that only bounds the cloth's own, because
// part of it is burnt out or black in the photo; "" before others.
func boundWord(bound string) string {
	switch bound {
	case "above":
		return "at least "
	case "below":
		return "at most "
	}
	return ""
}

// ColourName is a name of the ISCC-NBS system, or a sentence with such names, made
// harmless, in the spelling of the rest of the page: that system writes gray.
func ColourName(name string) string {
	return strings.NewReplacer("grayish", "greyish", "gray", "grey", "Grayish", "Greyish", "Gray", "Grey").Replace(plain(name))
}

// at names a patch: "row 3, patch 5".
func at(c layout.Cell) string { return fmt.Sprintf("row %d, patch %d", c[0], c[1]) }

// neighbour says on which side of the patch a its neighbour b lies.
func neighbour(s layout.Setting, a, b layout.Cell) string {
	side := [4]string{"right", "left", "lower", "upper"}
	if s == layout.OnPoint {
		// A row runs up to the right, a column down to the right.
		side = [4]string{"upper right", "lower left", "lower right", "upper left"}
	}
	switch {
	case b[1] > a[1]:
		return side[0]
	case b[1] < a[1]:
		return side[1]
	case b[0] > a[0]:
		return side[2]
	}
	return side[3]
}

// article puts "a" or "an" before a colour name or the like.
func article(s string) string {
	if s != "" && strings.ContainsAny(s[:1], "aeiouAEIOU") {
		return "an " + s
	}
	return "a " + s
}
