package report

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"encoding/xml"
	"fmt"
	"image"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"greige/analyze"
	"greige/analyze/border"
	"greige/analyze/cloth"
	"greige/analyze/layout"
	"greige/analyze/light"
	"greige/analyze/photo"
	"greige/analyze/piles"
	"greige/analyze/raster"
	"greige/colorspace"
)

// TestPagesToLookAt writes the pages where `go test -artifacts` keeps them.
func TestPagesToLookAt(t *testing.T) {
	dir := t.ArtifactDir()
	for _, r := range everyResult() {
		require.NoError(t, os.WriteFile(filepath.Join(dir, r.Command+".html"), []byte(pageOf(t, r)), 0o644))
	}
	require.NoError(t, os.WriteFile(filepath.Join(dir, "onpoint.html"), []byte(pageOf(t, onPointResult())), 0o644))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "demo.html"), []byte(demoOf(t)), 0o644))
}

func everyResult() []*analyze.Result {
	return []*analyze.Result{sortResult(), layoutResult(), borderResult(), planResult()}
}

// tiny are the results with next to no pictures, where many pages are made.
func tiny() []*analyze.Result {
	dot := jpegOf(image.NewGray(image.Rect(0, 0, 2, 2)))
	all := everyResult()
	for _, r := range all {
		less := func(c *cloth.Cloth) {
			if c.Swatch != nil {
				c.Swatch = &cloth.Swatch{W: 2, H: 2, Colour: dot, Grey: dot, Shape: c.Swatch.Shape}
			}
		}
		fabrics := r.Stash
		if r.Sort != nil {
			fabrics = r.Sort.Fabrics
		}
		if r.Border != nil {
			fabrics = r.Border.Stash
		}
		for i := range fabrics {
			less(&fabrics[i].Cloth)
		}
		if r.Layout != nil {
			for i := range r.Layout.Patches {
				less(&r.Layout.Patches[i].Cloth)
			}
		}
		if r.Plan != nil {
			for i := range r.Plan.Chosen {
				less(&r.Plan.Chosen[i].Cloth)
			}
		}
		for i := range r.Sights {
			v := &r.Sights[i].Views
			v.Colour, v.Grey, v.Squint, v.Values = dot, dot, dot, dot
		}
	}
	return all
}

func demoOf(t *testing.T) string {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, WriteDemo(&b, Demo{Title: "The raffle top of the community hall",
		Intro:    "An invented scene: a table of scraps, a top on the wall with mistakes in it, and a border print.",
		Chapters: everyResult()}, "1.2.3"))
	return b.String()
}

// element is one element of a parsed page.
type element struct {
	name     string
	attr     map[string]string
	text     string // its own and that of all within
	parent   *element
	children []*element
}

func (e *element) all(match func(*element) bool) []*element {
	var out []*element
	if match(e) {
		out = append(out, e)
	}
	for _, c := range e.children {
		out = append(out, c.all(match)...)
	}
	return out
}

func (e *element) named(names ...string) []*element {
	return e.all(func(e *element) bool { return slices.Contains(names, e.name) })
}

func (e *element) classed(class string) []*element {
	return e.all(func(e *element) bool { return slices.Contains(strings.Fields(e.attr["class"]), class) })
}

func (e *element) byID(id string) *element {
	for _, f := range e.all(func(e *element) bool { return e.attr["id"] == id }) {
		return f
	}
	return nil
}

var rawParts = regexp.MustCompile(`(?s)<(style|script)>(.*?)</(style|script)>`)

// parse reads a page as XML, which it also is: nothing in it is left to a
// browser's guess. The style and the script, which are no markup, are taken
// out before.
func parse(t *testing.T, page string) *element {
	t.Helper()
	page = rawParts.ReplaceAllString(page, "<$1></$3>")
	d := xml.NewDecoder(strings.NewReader(page))
	root := &element{name: "#page", attr: map[string]string{}}
	at := root
	var text strings.Builder
	begins := map[*element]int{root: 0}
	for {
		token, err := d.Token()
		if token == nil {
			require.Equal(t, "EOF", err.Error())
			break
		}
		switch k := token.(type) {
		case xml.StartElement:
			e := &element{name: k.Name.Local, attr: map[string]string{}, parent: at}
			for _, a := range k.Attr {
				require.NotContains(t, e.attr, a.Name.Local, "an attribute twice")
				e.attr[a.Name.Local] = a.Value
			}
			at.children = append(at.children, e)
			begins[e] = text.Len()
			at = e
		case xml.EndElement:
			at.text = text.String()[begins[at]:]
			at = at.parent
		case xml.CharData:
			text.Write(k)
		case xml.Comment:
			t.Fatalf("a comment in the page: %q", k)
		}
	}
	require.Same(t, root, at)
	root.text = text.String()
	return root
}

var wordSpace = regexp.MustCompile(`\s+`)

func words(s string) string { return strings.TrimSpace(wordSpace.ReplaceAllString(s, " ")) }

// sound checks what holds for every page.
func sound(t *testing.T, page string) *element {
	t.Helper()
	root := parse(t, page)

	// It asks nothing of anybody, and lets nothing in.
	raw := rawParts.FindAllStringSubmatch(page, -1)
	require.Len(t, raw, 2, "one style, one script")
	policy := ""
	for _, m := range root.named("meta") {
		if m.attr["http-equiv"] == "Content-Security-Policy" {
			policy = m.attr["content"]
		}
	}
	for i, kind := range []string{"style-src", "script-src"} {
		sum := sha256.Sum256([]byte(raw[i][2]))
		assert.Contains(t, policy, kind+" 'sha256-"+base64.StdEncoding.EncodeToString(sum[:])+"'")
	}
	assert.True(t, strings.HasPrefix(policy, "default-src 'none'; img-src data:; "), policy)
	assert.NotContains(t, policy, "unsafe")
	lacks(t, raw[0][2], `(?i)https?:|@import|url\(|expression`)
	lacks(t, raw[1][2], `(?i)https?:|fetch\(|XMLHttp|WebSocket|sendBeacon|\beval\(|Function\(|innerHTML|outerHTML|document\.write|Storage|cookie`)

	ids := map[string]bool{}
	for _, e := range root.all(func(*element) bool { return true }) {
		for a, v := range e.attr {
			assert.False(t, strings.HasPrefix(a, "on") || a == "style" || a == "srcdoc", "%s has %s", e.name, a)
			switch a {
			case "id":
				assert.False(t, ids[v], "the id %s twice", v)
				assert.Regexp(t, `^[a-z0-9-]+$`, v, "no outside text in an id")
				ids[v] = true
			case "src":
				assert.True(t, strings.HasPrefix(v, "data:image/"), "%s", v[:min(len(v), 40)])
			}
		}
	}
	for _, e := range root.all(func(*element) bool { return true }) {
		for _, a := range []string{"for", "aria-labelledby"} {
			if v, ok := e.attr[a]; ok {
				assert.True(t, ids[v], "%s of %s points to %s", a, e.name, v)
			}
		}
		if v, ok := e.attr["href"]; ok {
			switch {
			case strings.HasPrefix(v, "#"):
				assert.True(t, ids[v[1:]], "%s points to %s", e.name, v)
			default:
				assert.True(t, strings.HasPrefix(v, "data:"), "%s goes to %s", e.name, v[:min(len(v), 40)])
			}
		}
		if v := e.attr["clip-path"]; v != "" {
			assert.True(t, ids[strings.TrimSuffix(strings.TrimPrefix(v, "url(#"), ")")], v)
		}
	}
	assert.Len(t, root.named("script"), 1)
	assert.Len(t, root.named("style"), 1)
	for _, name := range []string{"iframe", "object", "embed", "form", "base", "foreignObject"} {
		assert.Empty(t, root.named(name))
	}

	// It can be read aloud.
	assert.Equal(t, "en", root.named("html")[0].attr["lang"])
	assert.NotEmpty(t, words(root.named("title")[0].text))
	for _, landmark := range []string{"header", "main", "footer", "h1"} {
		assert.Len(t, root.named(landmark), 1, landmark)
	}
	level := 0
	for _, h := range root.named("h1", "h2", "h3", "h4") {
		n := int(h.name[1] - '0')
		assert.LessOrEqual(t, n, level+1, "%s %q leaves out a level", h.name, words(h.text))
		assert.NotEmpty(t, words(h.text))
		level = n
	}
	for _, e := range root.named("img") {
		_, ok := e.attr["alt"]
		assert.True(t, ok)
	}
	for _, e := range root.named("svg") {
		inner := e.parent != nil && len(e.parent.all(func(*element) bool { return true })) > 0 && within(e, "svg")
		assert.True(t, inner || e.attr["aria-hidden"] == "true" || e.attr["role"] == "img" && e.attr["aria-label"] != "", "a drawing without words")
	}
	for _, table := range root.named("table") {
		heads := table.named("thead")[0].named("th")
		assert.NotEmpty(t, words(table.named("caption")[0].text))
		for _, h := range heads {
			assert.Equal(t, "col", h.attr["scope"])
		}
		for _, r := range table.named("tbody")[0].named("tr") {
			assert.Len(t, r.named("th", "td"), len(heads))
			assert.Equal(t, "row", r.children[0].attr["scope"])
		}
	}
	for _, d := range root.named("details") {
		assert.NotContains(t, d.attr, "open", "the figures are folded away")
	}
	return root
}

// lacks is assert.NotRegexp without the whole page in its message.
func lacks(t *testing.T, text, pattern string) {
	t.Helper()
	assert.Empty(t, regexp.MustCompile(pattern).FindString(text), "should not match %s", pattern)
}

func within(e *element, name string) bool {
	for p := e.parent; p != nil; p = p.parent {
		if p.name == name {
			return true
		}
	}
	return false
}

func TestEveryPageIsSound(t *testing.T) {
	for _, r := range everyResult() {
		t.Run(r.Command, func(t *testing.T) {
			page := pageOf(t, r)
			root := sound(t, page)
			assert.Equal(t, page, pageOf(t, r), "the same result gives the same bytes")
			a := AnswerOf(r)
			assert.Equal(t, a.Question, words(root.named("h1")[0].text))
			assert.Equal(t, words(a.Headline), words(root.named("h2")[0].text))
			// The order of a page.
			order := []string{"What to do next", "About the light", "The figures", "Before you cut"}
			var h3 []string
			for _, h := range root.named("h3") {
				h3 = append(h3, words(h.text))
			}
			assert.Equal(t, order, h3[len(h3)-4:])
			for _, say := range root.classed("more") {
				assert.Contains(t, words(strings.Join(a.More, " ")), words(say.text))
			}
			assert.True(t, strings.Contains(root.text, "Screens and printers differ"), "Screens and printers differ")
			lacks(t, root.text, "!")
		})
	}
	root := sound(t, demoOf(t))
	assert.Len(t, root.named("article"), 4)
	assert.Len(t, root.classed("switch"), 1, "one switch for all the pictures")
	assert.Len(t, root.named("nav")[0].named("a"), 4)
}

func TestPagesOfNextToNothing(t *testing.T) {
	for name, r := range map[string]*analyze.Result{
		"empty sort":   {Command: "sort", Sort: &piles.Sorted{}},
		"empty layout": {Command: "layout", Layout: &layout.Layout{}},
		"empty border": {Command: "border", Border: &border.Border{}},
		"one cloth":    sorted(nil, 40),
		"all alike":    sorted(nil, 40, 40, 40),
		"two piles":    sorted([]float64{50}, 80, 20),
		"one patch":    laidOut(1, 1),
		"no stash":     printOf([]string{"red", "blue"}, .5, .5),
	} {
		t.Run(name, func(t *testing.T) {
			if r.Border != nil && len(r.Border.Palette) > 0 {
				r.Border.Stash, r.Border.Choice = nil, nil
			}
			root := sound(t, pageOf(t, r))
			assert.Contains(t, root.text, "What to do next", "whatever came of it")
			assert.Contains(t, root.text, "Judge by daylight before you cut")
		})
	}
	require.Error(t, WritePage(&bytes.Buffer{}, &analyze.Result{}, "v"))
	require.Error(t, WriteDemo(&bytes.Buffer{}, Demo{Chapters: []*analyze.Result{sortResult(), sortResult()}}, "v"))
	require.ErrorIs(t, WritePage(&full{}, sorted(nil), "v"), errFull)
}

// Whatever stands in a figure, the page is drawn and stays well formed.
func TestPagesOfFiguresThatAreNone(t *testing.T) {
	for _, bad := range []float64{math.NaN(), math.Inf(1), math.Inf(-1), -1e300} {
		for _, r := range tiny() {
			spoil(reflect.ValueOf(r).Elem(), func(v reflect.Value) {
				if v.Kind() == reflect.Float64 {
					v.SetFloat(bad)
				}
			})
			root := sound(t, pageOf(t, r))
			for _, e := range root.all(func(*element) bool { return true }) {
				for a, v := range e.attr {
					if a != "href" && a != "src" && a != "content" {
						assert.NotRegexp(t, `NaN|Inf`, v)
					}
				}
			}
		}
	}
}

// spoil calls change on every value of a result that is no picture.
func spoil(v reflect.Value, change func(reflect.Value)) {
	switch v.Kind() {
	case reflect.Pointer:
		if !v.IsNil() {
			if v.Type() == reflect.TypeFor[*cloth.Swatch]() || v.Type() == reflect.TypeFor[*analyze.Inks]() {
				return
			}
			c := reflect.New(v.Type().Elem())
			c.Elem().Set(v.Elem())
			v.Set(c)
			spoil(v.Elem(), change)
		}
	case reflect.Slice:
		if v.Type().Elem().Kind() == reflect.Uint8 {
			return
		}
		c := reflect.MakeSlice(v.Type(), v.Len(), v.Len())
		reflect.Copy(c, v)
		v.Set(c)
		for i := range v.Len() {
			spoil(v.Index(i), change)
		}
	case reflect.Array:
		for i := range v.Len() {
			spoil(v.Index(i), change)
		}
	case reflect.Struct:
		for i := range v.NumField() {
			spoil(v.Field(i), change)
		}
	default:
		change(v)
	}
}

// Every text of a result, wherever it stands, is hostile.
func TestNothingFromOutsideActs(t *testing.T) {
	for _, text := range []string{
		`"><img src=x onerror=alert(1)>.jpg`,
		`</script><script>alert(1)</script>`,
		`</style><style>*{display:none}</style>`,
		`'onload='alert(1)' {{.}} ${1} --> ]]> <!--`,
		"javascript:alert(1)//\u202e\u2066gpj.exe\x00\x1b[31m\xff",
		strings.Repeat("寝", 200),
	} {
		for _, r := range tiny() {
			clean := sound(t, pageOf(t, r))
			spoil(reflect.ValueOf(r).Elem(), func(v reflect.Value) {
				// The ids of pieces tie the parts of a result together; they are
				// made hostile too, each in its own way.
				if v.Kind() == reflect.String && v.Type().PkgPath() == "" && v.String() != "none" && v.String() != "" {
					if _, err := strconv.Atoi(v.String()); err == nil {
						v.SetString(v.String() + text)
					} else if !isCell(v.String()) {
						v.SetString(text)
					}
				}
			})
			page := pageOf(t, r)
			dirty := sound(t, page)
			for _, name := range []string{"img", "script", "style", "svg", "table", "tr", "figure"} {
				assert.Len(t, dirty.named(name), len(clean.named(name)), "%s: as many %s as without", r.Command, name)
			}
			assert.True(t, strings.Contains(dirty.text, plain(text)[:8]), "it is shown as text")
			lacks(t, page, "[\x00\x1b\u202e\u2066]")
			var b bytes.Buffer
			require.NoError(t, WriteJSON(&b, r, text))
			require.NoError(t, WriteCSV(&b, r))
			require.NoError(t, Terminal(&b, r, TerminalOptions{}))
		}
	}
}

func isCell(s string) bool { return regexp.MustCompile(`^\d+,\d+$`).MatchString(s) }

func TestSortPage(t *testing.T) {
	r := sortResult()
	root := sound(t, pageOf(t, r))
	var rows [][]string
	for _, p := range root.classed("pile") {
		var labels []string
		for _, d := range p.classed("disc") {
			labels = append(labels, words(d.text))
		}
		rows = append(rows, labels)
	}
	assert.Equal(t, [][]string{r.Sort.Piles.Light, r.Sort.Piles.Medium, r.Sort.Piles.Dark, {"25"}}, rows)
	sight := root.byID("sort-sight-1")
	require.NotNil(t, sight)
	var onPhoto []string
	for _, d := range sight.classed("digit") {
		onPhoto = append(onPhoto, d.text)
	}
	assert.Equal(t, fabricsNamed(25), onPhoto, "every piece has its number on the photo")
	assert.Len(t, sight.classed("doubtful"), 1)
	// Choosing a piece later needs the same name in all places.
	piece := sight.classed("doubtful")[0].attr["data-piece"]
	assert.Len(t, root.all(func(e *element) bool { return e.attr["data-piece"] == piece }), 6, "outline, number, place in the photo, cut-out, row of cloths, row of colours")
	assert.True(t, strings.Contains(root.text, "Number 3: dark blue, lightness"), "Number 3: dark blue, lightness")
	assert.True(t, strings.Contains(root.text, "Could go either way: 3, 19"), "Could go either way: 3, 19")
	assert.True(t, strings.Contains(root.text, "Press the seams towards 10."), "Press the seams towards 10.")
	assert.True(t, strings.Contains(words(root.text), "almost twice the light of the left"), "almost twice the light of the left")
	assert.True(t, strings.Contains(root.text, "Move the table away from the lamp"), "Move the table away from the lamp")
}

func TestLayoutPage(t *testing.T) {
	r := layoutResult()
	n := count(r.Layout)
	root := sound(t, pageOf(t, r))
	top := root.byID("layout-top")
	assert.Len(t, top.classed("lost"), n.lost)
	assert.Len(t, top.classed("soft"), n.soft)
	assert.Len(t, top.classed("misplaced"), 2)
	assert.NotNil(t, root.byID("layout-after"))
	assert.True(t, strings.Contains(root.text, "Row 3, patch 5 runs into its upper and right neighbours."), "Row 3, patch 5 runs into its upper and right neighbours.")
	assert.True(t, strings.Contains(root.text, "Row 3, patch 5 hangs as a dark where the pattern asks for a light."), "Row 3, patch 5 hangs as a dark where the pattern asks for a light.")
	changes := root.classed("change")
	require.Len(t, changes, 2)
	assert.Contains(t, changes[0].text, "Row 3, patch 5: swap with row 6, patch 4.")
	assert.Contains(t, changes[0].text, "A dark hangs in a light's place, and a light in a dark's.")
	assert.Contains(t, changes[1].text, "Row 9, patch 2: hang number 2 instead.")
	assert.Contains(t, changes[1].text, "Then every seam that should show is clear")
	assert.Len(t, root.classed("diagram")[0].named("polygon"), 81)
	assert.Contains(t, root.classed("line")[0].attr["aria-label"], "they overlap")
	assert.True(t, strings.Contains(root.text, "as no width was given"), "as no width was given")
}

func TestPageOfATopOnPoint(t *testing.T) {
	r := onPointResult()
	root := sound(t, pageOf(t, r))
	lost := root.byID("layout-top").classed("lost")
	require.Len(t, lost, 2)
	// Row 4, patch 4 has its middle at 3/8 and 1/2 of the top; its upper right
	// side runs between (3/8, 3/8) and (4/8, 4/8).
	assert.Equal(t, "M383.75 383.75L491.25 491.25", lost[0].named("path")[0].attr["d"])
	assert.True(t, strings.Contains(root.text, "Row 4, patch 4 runs into its upper right and lower right neighbours."))
	assert.Len(t, root.classed("diagram")[0].named("polygon"), len(r.Layout.Patches))
	assert.Empty(t, root.classed("edged"), "diagonals have no numbers along the edges")
}

func TestBlocksThatTurn(t *testing.T) {
	r := layoutResult()
	r.Layout.Changes = []layout.Change{{Patch: layout.Cell{4, 1}, Move: layout.Turn, Instead: "turn the block [4,1] to [6,3] a quarter to the right", Why: "it lies turned: its lights are where darks are meant.",
		Reads: .97, Placements: []layout.Placement{{To: layout.Cell{4, 1}}, {To: layout.Cell{4, 2}}}}}
	r.Layout.Remarks = []string{"how much there is of a cloth a photo cannot say"}
	r.Layout.RedGreen = []layout.RedGreen{{}, {}}
	root := sound(t, pageOf(t, r))
	assert.True(t, strings.Contains(root.text, "Row 4, patch 1: turn the block from here to row 6, patch 3 a quarter to the right."))
	assert.Len(t, root.byID("layout-after").classed("digit"), 2, "each place that changes carries the number of the change")
	assert.True(t, strings.Contains(root.text, "How much there is of a cloth a photo cannot say."))
	assert.Contains(t, AnswerOf(r).More, "One change would bring it from 93 to 97 in a hundred seams.")
	assert.Contains(t, AnswerOf(r).More, "Two seams are there by colour alone, and not for those who see red and green weakly.")
}

func TestLostSeamLiesBetweenItsPatches(t *testing.T) {
	sq := func(x, y float64) [][2]float64 {
		return [][2]float64{{x, y}, {x + 100, y}, {x + 100, y + 100}, {x, y + 100}}
	}
	assert.Equal(t, "M100 7L100 93", seamLine(sq(0, 0), sq(100, 0)))
	assert.Equal(t, "M93 100L7 100", seamLine(sq(0, 0), sq(0, 100)))
	// On point, where the sides lie aslant, and at a gap as wide as sashing.
	diamond := func(x, y float64) [][2]float64 {
		return [][2]float64{{x, y - 50}, {x + 50, y}, {x, y + 50}, {x - 50, y}}
	}
	assert.Equal(t, "M96.5 103.5L53.5 146.5", seamLine(diamond(50, 100), diamond(100, 150)))
	assert.Equal(t, "M105 7L105 93", seamLine(sq(0, 0), sq(110, 0)))
	assert.Empty(t, seamLine(nil, sq(0, 0)))
}

func TestBorderPage(t *testing.T) {
	r := borderResult()
	root := sound(t, pageOf(t, r))
	assert.Len(t, root.classed("colour"), 7)
	assert.Len(t, root.classed("veil"), 7)
	assert.Len(t, root.classed("pick"), 8)
	bar := root.classed("tall")[0].named("use")
	require.Len(t, bar, 7)
	at := 0.
	for i, u := range bar {
		y, err := strconv.ParseFloat(strings.TrimSuffix(u.attr["y"], "%"), 64)
		require.NoError(t, err)
		assert.InDelta(t, at, y, .01, "each part begins where the last one ends")
		at += r.Border.Palette[i].Share * 100
	}
	assert.InDelta(t, 100, at, .1)
	assert.True(t, strings.Contains(root.text, "You have nothing dark enough near the very dark green."), "You have nothing dark enough near the very dark green.")
	assert.NotEmpty(t, root.classed("mock"))
	r.PrintStrip = nil
	assert.NotEmpty(t, sound(t, pageOf(t, r)).classed("mock"), "also without a piece of the print")
}

func TestTheViewsShareOneSwitch(t *testing.T) {
	r := sortResult()
	root := sound(t, pageOf(t, r))
	radios := root.all(func(e *element) bool { return e.attr["name"] == "view" })
	require.Len(t, radios, 7)
	for i, key := range []string{"colour", "grey", "squint", "two", "three", "five", "weak"} {
		assert.Equal(t, "radio", radios[i].attr["type"])
		assert.Equal(t, key, radios[i].attr["value"])
		// Without the page's script only what is prepared can be shown.
		assert.Equal(t, slices.Contains([]string{"two", "five", "weak"}, key), slices.Contains(strings.Fields(radios[i].parent.attr["class"]), "live"))
	}
	prepared := func(sight *element) (keys []string) {
		assert.Len(t, sight.classed("base"), 1)
		for _, img := range sight.classed("view") {
			for _, class := range strings.Fields(img.attr["class"]) {
				if key, ok := strings.CutPrefix(class, "in-"); ok {
					keys = append(keys, key)
				}
			}
		}
		slices.Sort(keys)
		return keys
	}
	assert.Equal(t, []string{"grey", "squint", "three"}, prepared(root.byID("sort-sight-1")), "the base is in colour")
	assert.True(t, strings.Contains(root.text, "from 2.5\u00a0metres"), "from 2.5\u00a0metres")
	// A view that was not made is left to the picture in colour, which is always there.
	r.Sights[0].Values = nil
	assert.Equal(t, []string{"grey", "squint"}, prepared(sound(t, pageOf(t, r)).byID("sort-sight-1")))
	r.Sights[0].Colour = nil
	assert.Nil(t, sound(t, pageOf(t, r)).byID("sort-sight-1"))
}

// The page has no colour of its own, its ground is L* 58 and its panels are
// L* 78, and text on each has a contrast of 4.5 to 1 or more, marks of 3 to 1
// (WCAG 2.2, success criteria 1.4.3 and 1.4.11; contrast ratio as defined
// there).
func TestTheLookIsNeutral(t *testing.T) {
	grey := func(l float64) string {
		y := colorspace.LuminanceOf(l)
		return colorspace.Linear{y, y, y}.Hex()
	}
	value := func(name string) string {
		m := regexp.MustCompile(name + `: (#[0-9a-f]{6});`).FindStringSubmatch(pageStyle)
		require.NotNil(t, m, name)
		return m[1]
	}
	ground, panel, ink, paper := value("--ground"), value("--panel"), value("--ink"), value("--paper")
	assert.Equal(t, grey(58), ground)
	assert.Equal(t, grey(78), panel)
	for _, m := range regexp.MustCompile(`#[0-9a-fA-F]{3,8}\b`).FindAllString(pageStyle, -1) {
		require.Len(t, m, 7, m)
		assert.True(t, m[1:3] == m[3:5] && m[3:5] == m[5:7], "%s is a colour", m)
	}
	lacks(t, pageStyle, `rgb|hsl|lab\(|lch|:\s*(red|blue|green|navy|orange|purple|teal|brown|pink|yellow)\b|gradient|@font-face`)
	luminance := func(hex string) float64 {
		v, err := strconv.ParseUint(hex[1:3], 16, 8)
		require.NoError(t, err)
		return colorspace.DecodeSRGB(float64(v) / 255)
	}
	contrast := func(a, b string) float64 {
		hi, lo := max(luminance(a), luminance(b)), min(luminance(a), luminance(b))
		return (hi + .05) / (lo + .05)
	}
	for _, under := range []string{ground, panel, paper} {
		assert.GreaterOrEqual(t, contrast(ink, under), 4.5, under)
	}
	assert.Greater(t, contrast(ink, paper), 3., "a mark and its edge")
	assert.Equal(t, 18., minFont(t))
}

// minFont is the least size of the body text in CSS pixels.
func minFont(t *testing.T) float64 {
	m := regexp.MustCompile(`--text: clamp\((\d+)px`).FindStringSubmatch(pageStyle)
	require.NotNil(t, m)
	v, err := strconv.ParseFloat(m[1], 64)
	require.NoError(t, err)
	return v
}

func TestGreysOfTheStripAreThoseOfTheirLightness(t *testing.T) {
	steps := greySteps()
	require.Len(t, steps, 100)
	for _, i := range []int{0, 21, 49, 80, 99} {
		var v int
		_, err := fmt.Sscanf(steps[i].Hex[1:3], "%x", &v)
		require.NoError(t, err)
		y := colorspace.DecodeSRGB(float64(v) / 255)
		assert.InDelta(t, 99.5-float64(i), colorspace.Lightness(y), .3, "to within half a step of 8 bits")
	}
}

func TestValueLine(t *testing.T) {
	r := sortResult()
	cloths := ranked(r.Sort.Fabrics)
	for v := range drawLines(sortLine(r.Sort, cloths, newCloths())) {
		t.Run(v.Class, func(t *testing.T) {
			x := func(l float64) float64 { return v.StripX + v.StripW*(100-l)/100 }
			require.Len(t, v.Items, 24)
			for i, p := range v.Items {
				assert.InDelta(t, x(cloths[i].Lightness), p.Mid, 1e-9, "each hangs at its own lightness")
				assert.InDelta(t, 4*p.Unsure/2, (p.BarX2-p.BarX1)/v.StripW*100*1, 1e-6, "the bar is as long as it is unsure, both ways")
				assert.GreaterOrEqual(t, p.TwinY, p.Y+p.H-1e-9, "the twin is under it")
				assert.LessOrEqual(t, p.TwinY+p.H, v.Height)
				assert.GreaterOrEqual(t, p.Y, v.StripY+v.StripH)
				for _, q := range v.Items[:i] {
					apart := p.X >= q.X+q.W || q.X >= p.X+p.W || p.Y >= q.TwinY+q.H || q.Y >= p.TwinY+p.H
					assert.True(t, apart, "%s lies on %s", p.Label, q.Label)
				}
				if p.Reach != nil {
					cut := x(p.Reach[0])
					assert.True(t, (p.ReachX1-cut)*(p.ReachX-cut) < 0, "a swinging cloth straddles its cut")
				}
			}
			require.Len(t, v.Cuts, 2)
			assert.InDelta(t, x(69.5), v.Cuts[0].X, 1e-9)
			// Munsell value 5 stands at L* 51.00 (ASTM D1535-08 eq. 2).
			assert.InDelta(t, x(51.0037), v.Munsell[5].X, .01)
			assert.Equal(t, "5", v.Munsell[5].Text)
		})
	}
}

// Sixty cloths that are each unsure by ten either way still make a drawing of a
// screen or two, in which no cut-out and no bar lies on another.
func TestValueLineOfUnsureCloths(t *testing.T) {
	r := sixtyPieces()
	for i := range r.Sort.Fabrics {
		r.Sort.Fabrics[i].Among, r.Sort.Fabrics[i].Uncertainty = 10, 10
	}
	for v := range drawLines(sortLine(r.Sort, ranked(r.Sort.Fabrics), newCloths())) {
		require.Len(t, v.Items, 60)
		if v.Width > 1000 {
			assert.Less(t, v.Height, 1500., v.Class)
		}
		for i, p := range v.Items {
			for _, q := range v.Items[:i] {
				assert.True(t, p.X >= q.X+q.W || q.X >= p.X+p.W || p.Y >= q.TwinY+q.H || q.Y >= p.TwinY+p.H, "%s lies on %s", p.Label, q.Label)
				assert.True(t, p.BarX1 > q.BarX2 || q.BarX1 > p.BarX2 || math.Abs(p.BarY-q.BarY) >= 4.5, "the bar of %s lies on that of %s", p.Label, q.Label)
			}
		}
	}
}

func TestValueLineOfALayoutPartsLightsFromDarks(t *testing.T) {
	r := layoutResult()
	_, book := chapterOf(r)
	require.NotEmpty(t, book)
	k := newPatchChips(r, &chipBook{}, "layout")
	of := layoutLine(r.Layout, k)
	patches := 0
	for _, h := range of.Items {
		n := 1
		if strings.HasPrefix(h.Label, "×") {
			n, _ = strconv.Atoi(strings.TrimPrefix(h.Label, "×"))
		}
		patches += n
		if h.Mark {
			assert.Equal(t, h.Label == "3, 5", h.Above, "row 3, patch 5 is meant to be light: it hangs above, though dark")
		}
	}
	assert.Equal(t, 81, patches, "every patch is counted once")
	for v := range drawLines(of) {
		for _, p := range v.Items {
			assert.Equal(t, p.Above, p.Y < v.StripY)
		}
	}
}

func TestNumbersStandOnOrBesideThePiece(t *testing.T) {
	v := &sightView{W: 1000, H: 800}
	big := [][2]float64{{.1, .1}, {.5, .1}, {.5, .5}, {.1, .5}}
	v.number(big, "7", "p")
	assert.Equal(t, "30%", v.Discs[0].X)
	small := [][2]float64{{.5, .5}, {.52, .5}, {.52, .52}, {.5, .52}}
	v.number(small, "8", "p")
	x, _ := strconv.ParseFloat(strings.TrimSuffix(v.Discs[1].X, "%"), 64)
	assert.Greater(t, x, 52., "beside it")
	edge := [][2]float64{{.97, .5}, {.99, .5}, {.99, .52}, {.97, .52}}
	v.number(edge, "9", "p")
	x, _ = strconv.ParseFloat(strings.TrimSuffix(v.Discs[2].X, "%"), 64)
	assert.Less(t, x, 97., "on the side where there is room")
}

// Preparing goes through all templates, and any number of times.
func TestPrepare(t *testing.T) {
	assert.NoError(t, prepare())
	assert.NoError(t, prepare())
}

// A cloth without a swatch is shown as the part of its photo within its
// outline; the photo is in the page's definitions once.
func TestCutOutsOfThePhoto(t *testing.T) {
	r := sortResult()
	_, book := chapterOf(r)
	require.Len(t, book.photos, 1)
	sight, marks := r.Sights[0], outlines(&r.Sights[0])
	root := parse(t, pageOf(t, r))
	byID := map[string]*element{}
	for _, e := range root.all(func(e *element) bool { return e.attr["id"] != "" }) {
		byID[e.attr["id"]] = e
	}
	for i, f := range r.Sort.Fabrics {
		id := book.chips[i].ID
		shown := byID[id].named("use")[0].attr["href"]
		if f.Swatch != nil {
			assert.Equal(t, "#"+id+"i", shown, "it has a swatch of its own")
			continue
		}
		photo := byID[strings.TrimPrefix(shown, "#")]
		require.NotNil(t, photo)
		assert.Equal(t, strconv.Itoa(sight.W), photo.attr["width"])
		var x, y, w, h float64
		_, err := fmt.Sscanf(byID[id].attr["viewBox"], "%f %f %f %f", &x, &y, &w, &h)
		require.NoError(t, err)
		lo, hi := raster.Extremes(marks[f.ID])
		assert.InDelta(t, lo[0]*float64(sight.W), x, 1)
		assert.InDelta(t, hi[1]*float64(sight.H), y+h, 1)
		cut := byID[id+"p"].named("polygon")[0].attr["points"]
		assert.Equal(t, points(marks[f.ID], float64(sight.W), float64(sight.H)), cut)
		for _, flat := range byID[id].named("rect") { // the other views cover it
			assert.Equal(t, []string{num(x), num(y), num(w), num(h)},
				[]string{flat.attr["x"], flat.attr["y"], flat.attr["width"], flat.attr["height"]})
		}
		if fill := byID[id+"f"]; fill != nil {
			var a, b, c, d float64
			_, err := fmt.Sscanf(fill.attr["viewBox"], "%f %f %f %f", &a, &b, &c, &d)
			require.NoError(t, err)
			assert.True(t, a >= x && b >= y && a+c <= x+w && b+d <= y+h, "what fills patches is a part of the part")
		}
	}
	// Without the photo there is still its colour.
	r.Sights = nil
	_, book = chapterOf(r)
	assert.Empty(t, book.photos)
	assert.Len(t, book.chips, len(r.Sort.Fabrics))
}

func TestPatchOfABlockIsAllCloth(t *testing.T) {
	shape := raggedShape(3)
	var x, y, w, h float64
	_, err := fmt.Sscanf(innerBox(shape, [2]int{}, 150, 125), "%f %f %f %f", &x, &y, &w, &h)
	require.NoError(t, err)
	assert.Greater(t, w, 60.)
	for i := range 11 {
		for j := range 11 {
			p := [2]float64{(x + w*float64(i)/10) / 150, (y + h*float64(j)/10) / 125}
			assert.True(t, raster.Contains(shape, [2]float64{min(max(p[0], .001), .999), min(max(p[1], .001), .999)}))
		}
	}
}

// sixtyPieces is a sort of sixty pieces in a photo that is as large as a page
// takes one.
func sixtyPieces() *analyze.Result {
	r := sortResult()
	one := r.Sort.Fabrics[:24]
	r.Sort.Fabrics = nil
	var marks []analyze.Mark
	for i := range 60 {
		f := one[i%24]
		f.ID = strconv.Itoa(i + 1)
		f.Swatch = looks[i%24].swatch(i, 176, true)
		r.Sort.Fabrics = append(r.Sort.Fabrics, f)
		x, y := float64(i%10)/10+.01, float64(i/10)/6+.02
		marks = append(marks, analyze.Mark{ID: f.ID, Outline: [][2]float64{{x, y}, {x + .08, y}, {x + .08, y + .13}, {x, y + .13}}})
	}
	rankAndCut(r.Sort)
	p := photo.New(1600, 1200)
	for y := range p.H {
		for x := range p.W {
			set(p, x, y, looks[(x/90+y/80)%24].at(float64(x), float64(y)))
		}
	}
	r.Sights[0].Views, r.Sights[0].Marks = viewsOf(p, [2]float64{69, 40}), marks
	return r
}

// Sixty pieces and a picture as large as the page takes make a page under
// 5 MB.
func TestPageIsLight(t *testing.T) {
	page := pageOf(t, sixtyPieces())
	t.Logf("%.2f MB", float64(len(page))/1e6)
	assert.Less(t, len(page), 5_000_000)
}

// A patch without a picture of its own is shown as its part of the straightened top.
func TestPatchesAreCutOutOfTheTop(t *testing.T) {
	r := layoutResult()
	for i := range r.Layout.Patches {
		r.Layout.Patches[i].Swatch = nil
	}
	_, book := chapterOf(r)
	require.Len(t, book.photos, 1)
	top := sightOf(r, analyze.TopSight)
	side := float64(top.W) / float64(r.Layout.Cols)
	for i := range r.Layout.Patches {
		p := &r.Layout.Patches[i]
		k, err := book.chips[i].Drawn()
		require.NoError(t, err)
		require.Equal(t, book.photos[0].ID, k.Shows)
		x, y := float64(k.at[0]), float64(k.at[1])
		assert.GreaterOrEqual(t, x, side*float64(p.Col-1))
		assert.GreaterOrEqual(t, y, side*float64(p.Row-1))
		assert.LessOrEqual(t, x+float64(k.W), side*float64(p.Col))
		assert.LessOrEqual(t, y+float64(k.H), side*float64(p.Row))
		assert.Greater(t, float64(k.W*k.H), .6*side*side)
	}
}

func TestLargeTopSharesItsCutOuts(t *testing.T) {
	r := laidOut(20, 20)
	s := looks[0].swatch(1, 48, false)
	for i := range r.Layout.Patches {
		r.Layout.Patches[i].Swatch = s
	}
	_, book := chapterOf(r)
	assert.Len(t, book.chips, 2, "two cloths, so two cut-outs for four hundred patches")
	r = laidOut(9, 9)
	_, book = chapterOf(r)
	assert.Len(t, book.chips, 81)
}

func TestLightIsToldInWords(t *testing.T) {
	r := sortResult()
	r.Light = nil
	for i := range 9 {
		r.Light = append(r.Light, light.Record{Photo: fmt.Sprintf("%d.jpg", i), Method: "card + exposure record", Note: "Set by the card."})
	}
	r.Light[0].Clipped, r.Light[8].Clipped = .05, .02
	r.Light = append(r.Light, light.Record{Photo: "x.jpg", Method: "none", Note: "Left as it was.", Clipped: .12, Advice: "turn the flash off"})
	groups, tips := lightWords(r)
	require.Len(t, groups, 3, "said once for all the photos that it holds for")
	assert.Equal(t, []string{"0.jpg", "1.jpg", "2.jpg", "3.jpg"}, groups[0].Photos)
	assert.Equal(t, 5, groups[0].More)
	assert.Equal(t, []string{"Set by the card."}, groups[0].Says)
	assert.Equal(t, lightGroup{Photos: []string{"0.jpg", "8.jpg", "x.jpg"}, Says: []string{"Up to 12\u00a0% of each is blown out or black: nothing can be measured there."}}, groups[2])
	assert.Equal(t, []string{"Turn the flash off."}, tips)
	r.Light = r.Light[9:]
	groups, _ = lightWords(r)
	require.Len(t, groups, 1)
	assert.Equal(t, "12\u00a0% of it is blown out or black: nothing can be measured there.", groups[0].Says[1])
}

// A flag that a sentence names is not broken over two lines, and what a sentence holds
// besides stays text.
func TestFlagsAreNotBroken(t *testing.T) {
	assert.Equal(t, `Give <span class="flag">--rows</span>, <span class="flag">--card-lightness</span> &lt;b&gt; -- or not.`, string(flags("Give --rows, --card-lightness <b> -- or not.")))
}

func TestVeilsShowOneColour(t *testing.T) {
	k := &analyze.Inks{W: 3, H: 2, Of: []uint8{0, 1, 0, analyze.NoInk, 1, 0}}
	assert.Len(t, veils(k, 2), 2)
	assert.Nil(t, veils(&analyze.Inks{W: 3, H: 2, Of: []uint8{0}}, 2), "a map that does not fit is left out")
	assert.Nil(t, veils(nil, 2))
}

// The cautions stand once on a page, at its end, also where nothing has to
// change.
func TestCautionsOnceAPage(t *testing.T) {
	var b strings.Builder
	require.NoError(t, WriteDemo(&b, Demo{Title: "Three", Chapters: []*analyze.Result{sortResult(), layoutResult(), borderResult()}}, "1"))
	assert.Equal(t, 1, strings.Count(b.String(), "Rotary blades and hot irons hurt"))
	r := laidOut(3, 3)
	assert.Contains(t, cautions(r), "Rotary blades and hot irons hurt. Follow the makers' instructions.")
}
