package report

import (
	"bytes"
	"encoding/csv"
	"errors"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"greige/analyze"
)

func csvOf(t *testing.T, r *analyze.Result) (rows []map[string]string, raw string) {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, WriteCSV(&b, r))
	all, err := csv.NewReader(bytes.NewReader(b.Bytes())).ReadAll()
	require.NoError(t, err)
	require.NotEmpty(t, all)
	for _, line := range all[1:] {
		row := map[string]string{}
		for i, h := range all[0] {
			row[h] = line[i]
		}
		rows = append(rows, row)
	}
	return rows, b.String()
}

func TestSortCSV(t *testing.T) {
	rows, raw := csvOf(t, sortResult())
	require.Len(t, rows, 25)
	assert.Equal(t, strings.Count(raw, "\n"), strings.Count(raw, "\r\n"), "RFC 4180 lines")
	assert.Equal(t, "3", rows[2]["number"])
	assert.Equal(t, "dark", rows[2]["pile"])
	assert.Equal(t, "yes", rows[2]["swing"])
	assert.Regexp(t, `^\d+\.\d\d$`, rows[2]["lightness"])
	assert.Equal(t, "", rows[24]["rank"])
	assert.Equal(t, "yes", rows[24]["doubtful"])
	assert.Equal(t, "stiff and all one colour, like card", rows[24]["note"])
	assert.True(t, strings.HasPrefix(rows[18]["b"], "-") || !strings.HasPrefix(rows[18]["b"], "'"), "numbers stay numbers")
}

func TestLayoutCSVIsItsPatches(t *testing.T) {
	rows, _ := csvOf(t, layoutResult())
	require.Len(t, rows, 81)
	r := rows[2*9+4]
	assert.Equal(t, []string{"3", "5", "dark", "light", "yes"}, []string{r["row"], r["patch"], r["reads"], r["meant"], r["misplaced"]})
	assert.Equal(t, "4", r["seams"])
	assert.Contains(t, r["runs_into"], "3,6")
}

func TestBorderCSVIsItsPalette(t *testing.T) {
	rows, _ := csvOf(t, borderResult())
	require.Len(t, rows, 7)
	assert.Equal(t, "A", rows[0]["colour"])
	assert.Equal(t, "ground", rows[0]["role"])
	assert.Equal(t, "deep purple", rows[0]["name"])
	assert.NotEmpty(t, rows[0]["nearest_fabric"])
	r := borderResult()
	r.Border.Matches = nil
	rows, _ = csvOf(t, r)
	assert.Empty(t, rows[0]["nearest_fabric"])
}

func TestCSVRunsNothing(t *testing.T) {
	for _, name := range []string{`=cmd|' /C calc'!A0`, "+1", "-2+3", "@SUM(A1)", "\t=1", "\r=1", "\n=1", "\uff1d1"} {
		r := sortResult()
		r.Sort.Fabrics[0].Photo = name
		rows, raw := csvOf(t, r)
		assert.True(t, strings.HasPrefix(rows[0]["photo"], "'"), "%q gives %q", name, rows[0]["photo"])
		assert.NotContains(t, raw, "\t")
	}
	r := sortResult()
	r.Sort.Fabrics[0].Photo = "a \"b\", c.jpg"
	r.Sort.Fabrics[1].Photo = "stóff/шёлк.jpg"
	rows, _ := csvOf(t, r)
	assert.Equal(t, "a \"b\", c.jpg", rows[0]["photo"])
	assert.Equal(t, "stóff/шёлк.jpg", rows[1]["photo"])
}

func TestCSVWithNothingInItHasItsHead(t *testing.T) {
	_, raw := csvOf(t, sorted(nil))
	assert.True(t, strings.HasPrefix(raw, "number,pile,"))
	require.Error(t, WriteCSV(&bytes.Buffer{}, &analyze.Result{}))
	require.ErrorIs(t, WriteCSV(&full{}, sortResult()), errFull)
}

var errFull = errors.New("the disk is full")

// full takes nothing.
type full struct{}

func (*full) Write([]byte) (int, error) { return 0, errFull }
