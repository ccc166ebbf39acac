package colorspace

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// published is the text of a file of published figures; testdata/published's
// README says where each comes from and how it was verified.
func published(t *testing.T, name string) string {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("..", "testdata", "published", name))
	require.NoError(t, err)
	return string(text)
}

// ownTable is the text of one of the package's own tables.
func ownTable(t *testing.T, name string) string {
	t.Helper()
	text, err := tables.ReadFile("tables/" + name)
	require.NoError(t, err)
	return string(text)
}

// row is one line of a published table by column name.
type row map[string]string

// num is a figure of the row.
func (r row) num(t *testing.T, column string) float64 {
	t.Helper()
	text, ok := r[column]
	require.True(t, ok, "no column %q", column)
	v, err := strconv.ParseFloat(text, 64)
	require.NoError(t, err)
	return v
}

// lab is three columns of the row as CIELAB.
func (r row) lab(t *testing.T, l, a, b string) Lab {
	t.Helper()
	return Lab{r.num(t, l), r.num(t, a), r.num(t, b)}
}

// table reads comma separated figures whose first line names the columns.
func table(t *testing.T, text string) []row {
	t.Helper()
	reader := csv.NewReader(strings.NewReader(text))
	reader.Comment = '#'
	lines, err := reader.ReadAll()
	require.NoError(t, err)
	require.Greater(t, len(lines), 1)
	var rows []row
	for _, line := range lines[1:] {
		r := row{}
		for i, name := range lines[0] {
			r[name] = line[i]
		}
		rows = append(rows, r)
	}
	return rows
}

var number = regexp.MustCompile(`-?\d*\.?\d+`)

// after are the first n numbers that follow a heading in a published text.
func after(t *testing.T, text, heading string, n int) []float64 {
	t.Helper()
	rest := past(t, text, heading)
	var out []float64
	for _, s := range number.FindAllString(rest, n) {
		v, err := strconv.ParseFloat(s, 64)
		require.NoError(t, err)
		out = append(out, v)
	}
	require.Len(t, out, n)
	return out
}

// matrixAfter are the nine numbers after a heading.
func matrixAfter(t *testing.T, text, heading string) Matrix {
	t.Helper()
	v := after(t, text, heading, 9)
	return Matrix{{v[0], v[1], v[2]}, {v[3], v[4], v[5]}, {v[6], v[7], v[8]}}
}

// requireMatrix compares matrices element by element.
func requireMatrix(t *testing.T, want, have Matrix, delta float64) {
	t.Helper()
	for i := range 3 {
		require.InDeltaSlice(t, want[i][:], have[i][:], delta)
	}
}

// requireLab compares colours number by number.
func requireLab(t *testing.T, want, have Lab, delta float64) {
	t.Helper()
	require.InDeltaSlice(t, []float64{want.L, want.A, want.B}, []float64{have.L, have.A, have.B}, delta, "want %v have %v", want, have)
}

// cube calls f with n x n x n colours of the sRGB gamut, corners included.
func cube(n int, f func(Linear)) {
	at := func(i int) float64 { return DecodeSRGB(float64(i%n) / float64(n-1)) }
	for i := range n * n * n {
		f(Linear{at(i), at(i / n), at(i / n / n)})
	}
}

// past is the text that follows a heading.
func past(t *testing.T, text, heading string) string {
	t.Helper()
	_, rest, found := strings.Cut(text, heading)
	require.True(t, found, heading)
	return rest
}
