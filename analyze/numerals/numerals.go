// Package numerals writes counts inside sentences: in words up to twenty, in figures
// above, and alike within a sentence. It is one way for notes, messages and page.
// Figures stay what is no count in a sentence: the number of a row or of a cloth, how
// many rows and columns a grid has (they are copied into flags), measures, ranges that
// a flag has, shares in a hundred, tables and labels, progress, and what is cut by.
package numerals

import (
	"strconv"
	"strings"
)

var small = [...]string{"no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten",
	"eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen", "twenty"}

var tens = [...]string{"", "", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"}

// InWords is a number inside a sentence: in words up to twenty, in figures
// above. 0 is "no".
func InWords(n int) string {
	if n < 0 || n >= len(small) {
		return strconv.Itoa(n)
	}
	return small[n]
}

// Some is a count and its noun: "no cloths", "one cloth", "two cloths".
func Some(n int, one, many string) string {
	if n == 1 {
		return InWords(n) + " " + one
	}
	return InWords(n) + " " + many
}

// Alike says how to write numbers that stand in one sentence: all in words, or
// all in figures where one of them is beyond words.
func Alike(n ...int) func(int) string {
	for _, v := range n {
		if v < 0 || v >= len(small) {
			return strconv.Itoa
		}
	}
	return InWords
}

// First is a number that opens a sentence: in words up to ninety-nine.
func First(n int) string {
	s := strconv.Itoa(n)
	switch {
	case n < 0 || n > 99:
		return s
	case n < len(small):
		s = small[n]
	case n%10 == 0:
		s = tens[n/10]
	default:
		s = tens[n/10] + "-" + small[n%10]
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
