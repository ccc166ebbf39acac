package layout

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestParseChart(t *testing.T) {
	for name, c := range map[string]struct {
		text string
		want []string
	}{
		"plain":           {"DLD\nLDL\nDLD\n", []string{"DLD", "LDL", "DLD"}},
		"no last end":     {"DL\nLD", []string{"DL", "LD"}},
		"small letters":   {"dl.\nldM\n", []string{"DL.", "LDM"}},
		"dos, with a bom": {"\ufeffDL\r\nLD\r\n\r\n", []string{"DL", "LD"}},
		"old mac":         {"DL\rLD\r", []string{"DL", "LD"}},
		"blank round it":  {"\n\n D L \n\tL D\n \n\n", []string{"DL", "LD"}},
	} {
		got, err := ParseChart(strings.NewReader(c.text))
		require.NoError(t, err, name)
		assert.Equal(t, c.want, got.Rows, name)
	}
	for name, c := range map[string]struct{ text, want string }{
		"letter":       {"DLD\nLXL\n", `line 2: 'X'`},
		"short row":    {"\nDLD\nLD\n", "line 3: 2 letters where the first row has 3"},
		"blank inside": {"DL\n\nLD\n", "line 2: blank"},
		"empty":        {" \n\n", "no row"},
		"not utf-8":    {"D\xff\n", "line 1"},
		"too wide":     {strings.Repeat("D", MaxSide+1), "line 1: more than"},
		"too long":     {strings.Repeat("D\n", MaxSide+1), "more than"},
		"a photo":      {strings.Repeat("DLDL", 1<<20), "more than"},
	} {
		_, err := ParseChart(strings.NewReader(c.text))
		assert.ErrorContains(t, err, c.want, name)
	}
}

func FuzzParseChart(f *testing.F) {
	f.Add("DLD\nLDL\n")
	f.Add("\ufeffd l\r\n")
	f.Fuzz(func(t *testing.T, text string) {
		c, err := ParseChart(strings.NewReader(text))
		if err == nil {
			assert.NoError(t, c.check())
		}
	})
}

func TestChartByName(t *testing.T) {
	for _, name := range ChartNames() {
		c, err := ChartByName(name)
		require.NoError(t, err)
		assert.Equal(t, name, c.Name)
		assert.NoError(t, c.check())
		assert.NotContains(t, name, " ", "has to work in a shell")
	}
	c, err := ChartByName("Nine Patch, dark corners")
	require.NoError(t, err)
	assert.Equal(t, "nine-patch-dark-corners", c.Name)
	_, err = ChartByName("ten patch")
	assert.ErrorContains(t, err, "four-patch")
}

// Every name but "none" is that of at least one repeat.
func TestChartNamesMeanSomething(t *testing.T) {
	has := map[string]bool{"none": true}
	for _, r := range catalogue() {
		for _, k := range r.keys {
			has[k] = true
		}
	}
	for _, name := range ChartNames() {
		assert.True(t, has[name], name)
	}
}
