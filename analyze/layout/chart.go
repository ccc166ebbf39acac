package layout

import (
	"fmt"
	"io"
	"slices"
	"strings"
)

// Chart is what the patches are meant to be: either Rows, or the Name of a
// pattern whose place in the top is then found.
type Chart struct {
	// Rows are of equal length, of the letters L, M, D and '.' (anything).
	// The first letter stands for row 1, column 1; a chart smaller than the
	// top repeats over it.
	Rows []string
	Name string // one of ChartNames
}

// maxChart bounds the bytes of a chart: MaxSide rows of MaxSide letters with
// their line ends, and some room for spaces and blank lines.
const maxChart = 4 * MaxSide * (MaxSide + 2)

// ParseChart reads a chart: plain text, a line a row and a letter a patch, L
// light, M medium, D dark, '.' anything. Small letters, spaces within a line,
// any line ends, a byte order mark, and blank lines before and after are let
// pass. Errors name the line: a letter that is none of these, a row of another
// length, a blank line in the middle, no row at all, more than MaxSide rows or
// columns.
func ParseChart(r io.Reader) (Chart, error) {
	data, err := io.ReadAll(io.LimitReader(r, maxChart+1))
	if err != nil {
		return Chart{}, fmt.Errorf("chart: %w", err)
	}
	if len(data) > maxChart {
		return Chart{}, fmt.Errorf("chart: more than %d rows of %d letters: give one repeat of the pattern", MaxSide, MaxSide)
	}
	text := strings.TrimPrefix(string(data), "\ufeff")
	text = strings.ReplaceAll(text, "\r\n", "\n")
	text = strings.ReplaceAll(text, "\r", "\n")
	var c Chart
	blank := 0 // the first blank line after a row
	for i, line := range strings.Split(text, "\n") {
		n := i + 1
		row, err := chartRow(line, n)
		if err != nil {
			return Chart{}, err
		}
		switch {
		case row == "" && len(c.Rows) == 0:
			continue
		case row == "":
			if blank == 0 {
				blank = n
			}
			continue
		case blank > 0:
			return Chart{}, fmt.Errorf("chart, line %d: blank between two rows: put a letter for each patch, or '.' for anything", blank)
		case len(c.Rows) > 0 && len(row) != len(c.Rows[0]):
			return Chart{}, fmt.Errorf("chart, line %d: %d letters where the first row has %d", n, len(row), len(c.Rows[0]))
		case len(row) > MaxSide || len(c.Rows) == MaxSide:
			return Chart{}, fmt.Errorf("chart, line %d: more than %d rows or letters in a row: give one repeat of the pattern", n, MaxSide)
		}
		c.Rows = append(c.Rows, row)
	}
	if len(c.Rows) == 0 {
		return Chart{}, fmt.Errorf("chart: no row in it: write a line for each row, with L, M, D or '.' for each patch")
	}
	return c, nil
}

// chartRow is the letters of a line in capitals.
func chartRow(line string, n int) (string, error) {
	var b strings.Builder
	for _, r := range line {
		switch r {
		case 'L', 'M', 'D', '.':
			b.WriteRune(r)
		case 'l', 'm', 'd':
			b.WriteRune(r - 'a' + 'A')
		case ' ', '\t':
		default:
			return "", fmt.Errorf("chart, line %d: %q is no letter of a chart: use L light, M medium, D dark, '.' anything", n, r)
		}
	}
	return b.String(), nil
}

// check guards against a Chart that was not made by ParseChart.
func (c *Chart) check() error {
	if len(c.Rows) == 0 {
		if !slices.Contains(chartNames, c.Name) {
			_, err := ChartByName(c.Name)
			return err
		}
		return nil
	}
	for i, row := range c.Rows {
		if len(row) != len(c.Rows[0]) || row == "" || len(row) > MaxSide || i == MaxSide {
			return fmt.Errorf("chart, row %d: rows have one length, from 1 to %d", i+1, MaxSide)
		}
	}
	return nil
}

// letters are the roles in the order of their codes.
const letters = ".LMD"

// A tone is a chart's letter as a small number: its place in letters.
type tone uint8

const (
	toneAny tone = iota
	toneLight
	toneMedium
	toneDark
	// In a fit only: of cloths of their own, whose tone is settled afterwards.
	toneOwn   // plain blocks, sashing
	tonePost  // posts, where strips of sashing cross
	toneCount // how many there are
)

func toneOf(letter byte) tone { return tone(max(strings.IndexByte(letters, letter), 0)) }

func (n tone) role() Role { return [...]Role{Any, Light, Medium, Dark, Any, Any}[n] }

// contrastOf is what a seam between two tones is for: patches of one tone are
// to run together, those of two are to be told apart.
func contrastOf(a, b tone) Meaning {
	switch {
	case a == toneAny || b == toneAny:
		return Either
	case a == b:
		return Blend
	}
	return Contrast
}
