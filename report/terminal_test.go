package report

import (
	"regexp"
	"strings"
	"testing"
	"unicode"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"greige/analyze"
)

func terminalText(t *testing.T, r *analyze.Result, o TerminalOptions) string {
	t.Helper()
	var b strings.Builder
	require.NoError(t, Terminal(&b, r, o))
	return b.String()
}

func TestTerminalInPlainText(t *testing.T) {
	s := terminalText(t, sortResult(), TerminalOptions{Width: 100, Files: []string{"greige-sort.html", "figures.json"}})
	lines := strings.Split(s, "\n")
	assert.Equal(t, "Twenty-four cloths: eight lights, nine mediums, seven darks.", lines[0])
	assert.Equal(t, "Numbers 3 and 19 could go either way.", lines[1])
	assert.NotContains(t, s, "\x1b")
	assert.True(t, strings.HasSuffix(s, "page  greige-sort.html\nalso  figures.json\n"))
	assert.Contains(t, s, "dark (swings)")
	assert.Contains(t, s, "and one thing that is probably no cloth: see the page")
	first := strings.Index(s, "hall table.jpg")
	assert.Contains(t, s[:first], "yellowish white", "the lightest comes first")
	for _, l := range lines {
		assert.Equal(t, strings.TrimRight(l, " "), l)
		assert.LessOrEqual(t, len([]rune(l)), 100)
	}
}

func TestTerminalFitsItsWidth(t *testing.T) {
	for _, r := range []*analyze.Result{sortResult(), layoutResult(), borderResult()} {
		for _, width := range []int{40, 60, 80, 132} {
			for _, l := range strings.Split(terminalText(t, r, TerminalOptions{Width: width}), "\n") {
				if strings.HasPrefix(l, "  --rows") {
					continue // it is there to be copied, whole
				}
				assert.LessOrEqual(t, columns(l), width, "%s at %d: %q", r.Command, width, l)
			}
		}
	}
}

var chipPattern = regexp.MustCompile(`\x1b\[48;(2;\d{1,3};\d{1,3};\d{1,3}|5;\d{1,3})m  \x1b\[0m`)

func TestTerminalChips(t *testing.T) {
	for _, d := range []Depth{TrueColor, Colour256} {
		s := terminalText(t, sortResult(), TerminalOptions{Depth: d, Width: 100})
		assert.Len(t, chipPattern.FindAllString(s, -1), 2*24, "each cloth in colour and in grey")
		assert.NotContains(t, chipPattern.ReplaceAllString(s, ""), "\x1b", "and no other escape")
	}
	s := terminalText(t, borderResult(), TerminalOptions{Depth: TrueColor})
	g := greyOf(24)
	assert.Contains(t, s, "\x1b[48;2;"+num(float64(g[0]))+";"+num(float64(g[1]))+";"+num(float64(g[2]))+"m", "the grey of deep purple is that of its L*")
	assert.Equal(t, 196, nearest256([3]uint8{255, 0, 0}))
	assert.Equal(t, 244, nearest256([3]uint8{128, 128, 128}))
}

func TestTerminalAnswersForEachCommand(t *testing.T) {
	s := terminalText(t, layoutResult(), TerminalOptions{Width: 120})
	assert.Contains(t, s, "row 3, patch 5")
	assert.Contains(t, s, "swap with row 6, patch 4")
	assert.Contains(t, s, "misplaced; runs into two neighbours")
	assert.NotContains(t, s, "...", "no sentence is cut")
	s = terminalText(t, borderResult(), TerminalOptions{Width: 120})
	assert.Contains(t, s, "deep purple")
	assert.Contains(t, s, "Numbers 2, 21, 8 and 14 go in the middle, from light to dark.")
}

func TestTerminalNeutralisesNames(t *testing.T) {
	r := sortResult()
	r.Notes = []string{"\x1b]0;owned\x07 note"}
	for i := range r.Sort.Fabrics {
		f := &r.Sort.Fabrics[i]
		f.Photo = "\x1b[2J\r\n\x9b31m\u202egpj.\u2066exe\xff\x00" + strings.Repeat("寝巻き", 60) + ".jpg"
		f.Name, f.Note = "\x1bname", "\x1bnote"
	}
	s := terminalText(t, r, TerminalOptions{Width: 80, Files: []string{"\x1b[31m.html"}})
	for _, c := range s {
		if c != '\n' {
			assert.False(t, unicode.IsControl(c) || unicode.Is(unicode.Cf, c), "%q", c)
		}
	}
	for _, l := range strings.Split(s, "\n") {
		assert.LessOrEqual(t, columns(l), 80)
	}
	assert.Contains(t, s, ".jpg", "the end of a long name is kept")
}

// However long the path to a photo is, colour and kind are in the table.
func TestTerminalKeepsColourAndKind(t *testing.T) {
	r := sortResult()
	for i := range r.Sort.Fabrics {
		r.Sort.Fabrics[i].Photo = "/home/her/" + strings.Repeat("pictures of the phone/", 6) + "IMG_20260114_193000123.jpg"
	}
	r.Sort.Fabrics[0].Bound = "above"
	for _, width := range []int{80, 120} {
		s := terminalText(t, r, TerminalOptions{Width: width})
		head := s[strings.Index(s, "no."):]
		head = head[:strings.Index(head, "\n")]
		assert.Contains(t, head, "colour", "%d", width)
		assert.Contains(t, head, "kind", "%d", width)
		assert.NotContains(t, s, "/home/her")
		assert.Contains(t, s, "solid")
		assert.Contains(t, s, "at least ")
	}
}

func TestShorten(t *testing.T) {
	assert.Equal(t, "short.jpg", shorten("short.jpg", 20))
	s := shorten(strings.Repeat("a", 100)+"IMG_0042.jpg", 30)
	assert.Len(t, s, 30)
	assert.True(t, strings.HasSuffix(s, "IMG_0042.jpg"))
	assert.LessOrEqual(t, columns(shorten(strings.Repeat("布", 50), 21)), 21)
	assert.Equal(t, "..", shorten("long name", 2))
	assert.Equal(t, 2, columns("e\u0301e"), "a mark over a letter takes no room")
	assert.Equal(t, 4, columns("寝巻"))
}

func TestColourDepth(t *testing.T) {
	for _, c := range []struct {
		env      string
		terminal bool
		want     Depth
	}{
		{"COLORTERM=truecolor TERM=xterm-256color", true, TrueColor},
		{"COLORTERM=24bit", true, TrueColor},
		{"COLORTERM=truecolor", false, NoColour},
		{"COLORTERM=truecolor NO_COLOR=1", true, NoColour},
		{"COLORTERM=truecolor TERM=dumb", true, NoColour},
		{"TERM=xterm-256color", true, Colour256},
		{"TERM=xterm-direct", true, TrueColor},
		{"TERM=vt100", true, NoColour},
		{"WT_SESSION=x", true, TrueColor},
		{"", true, NoColour},
	} {
		env := map[string]string{}
		for _, f := range strings.Fields(c.env) {
			k, v, _ := strings.Cut(f, "=")
			env[k] = v
		}
		assert.Equal(t, c.want, ColourDepth(func(k string) string { return env[k] }, c.terminal), c.env)
	}
}

// The doubt about a cloth that was photographed apart stands beside the advice
// to hang it.
func TestDoubtStandsBesideTheAdvice(t *testing.T) {
	r := layoutResult()
	says := "Against the patches the lightness of number 2 is unsure by about 14 either way"
	assert.NotContains(t, terminalText(t, r, TerminalOptions{Width: 200}), says)
	for i := range r.Stash {
		r.Stash[i].Uncertainty = 14
	}
	s := terminalText(t, r, TerminalOptions{Width: 200})
	assert.Greater(t, strings.Index(s, says), strings.Index(s, "hang number 2 instead"))
	assert.Contains(t, pageOf(t, r), says)
}
