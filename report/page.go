package report

// Output rules of the page
//
//   - One file that asks nothing of anybody: style, script and pictures are in
//     it, and its content security policy lets nothing else in. The style and
//     the script are let in by their own hashes; there is no inline style and
//     no inline handler.
//   - Everything goes through html/template. The only values that skip its
//     escaping are the style and the script of this package, data: addresses
//     that this package encodes, attributes of nothing but numbers (where a
//     shape lies), and parts of the page that it made itself. Text from outside
//     goes through plain first, so that nothing in it acts, and is never part
//     of an id, a class or a path.
//   - The page has no colour of its own: greys of which r = g = b, black and
//     white. The ground is L* 58 (ISO 3664 asks for a neutral surround), panels
//     that hold text L* 78. Cloth lies on the ground, text on panels.
//   - Marks differ by shape and line, each black with a white edge: a lost seam
//     a heavy double line, a soft seam dashed, a misplaced patch four corner
//     ticks and its number, a doubtful piece dotted.
//   - The answer first, then the picture, what to do next, the light, the
//     figures folded away, the cautions. Every picture has its finding in words.
//   - The page works without its script, in the views that the program made.
//     The script computes the other views on linear light with the numbers
//     that this program uses (eyeNumbers), compares, enlarges, chooses, and
//     sorts, copies and saves tables. Where it may not read pictures back, it
//     leaves the prepared views be.
//   - The markup is also well-formed XML, which the tests hold it to.

import (
	"crypto/sha256"
	"embed"
	"encoding/base64"
	"errors"
	"fmt"
	"html/template"
	"io"
	"regexp"
	"sync"

	"greige/analyze"
	"greige/analyze/stash"
)

//go:embed page
var pageFiles embed.FS

var (
	// BaseStyle is what the page and the working page have in common, as CSS.
	BaseStyle  = mustRead("page/base.css")
	pageStyle  = BaseStyle + mustRead("page/page.css") + veilStyle()
	pageScript = "(function () {\n\"use strict\";\n\n" + mustRead("page/light.js") + "\n" + mustRead("page/views.js") +
		"\n" + mustRead("page/choose.js") + "\n" + mustRead("page/tables.js") + "})();\n"
	pageTree = sync.OnceValue(func() *template.Template {
		return template.Must(template.New("").Funcs(template.FuncMap{
			"n": num, "add": func(a, b float64) float64 { return a + b }, "words": inWords, "flags": flags, "xy": xy, "box": box, "round": round, "fromto": fromto,
		}).ParseFS(pageFiles, "page/*.tmpl"))
	})
)

// Prepare makes ready what all pages have in common, which takes longer than
// to write one: html/template works out where in the page each value will
// stand when a template is first used. It may be called beside anything else,
// such as the measuring; without it the first page takes the time.
func Prepare() {
	_ = prepare() // what is wrong with the templates is said with the page
}

func prepare() error { return pageTree().ExecuteTemplate(io.Discard, "page", page{}) }

// veilStyle shows the veil of the colour of a print that is chosen.
func veilStyle() string {
	s := "\n/* One colour of the print at a time. */\n"
	for i := range maxVeils {
		s += fmt.Sprintf(":root:has(.pick-%d:checked) .veil-%d { display: block; }\n", i, i)
	}
	return s
}

func mustRead(name string) string {
	data, err := pageFiles.ReadFile(name)
	if err != nil {
		panic(err) // it is in the program: this cannot fail for a user
	}
	return string(data)
}

// Demo is a report of several runs as the chapters of one page.
type Demo struct {
	Title    string
	Intro    string
	Chapters []*analyze.Result // each of another command
}

// WritePage writes the report of one run.
func WritePage(w io.Writer, r *analyze.Result, version string) error {
	return writePage(w, []*analyze.Result{r}, nil, version)
}

// WriteDemo writes the runs of d as one page with a list of contents.
func WriteDemo(w io.Writer, d Demo, version string) error {
	return writePage(w, d.Chapters, &d, version)
}

// page is all that the template is given.
type page struct {
	Title    string
	Intro    string
	Demo     bool
	Policy   string
	Style    template.CSS
	Script   template.JS
	Version  string
	Switch   viewSwitch
	Steps    []greyStep
	Photos   []chip      // that chips are parts of
	Chips    [][]waiting // of each chapter
	Chapters []*chapter
}

func writePage(w io.Writer, results []*analyze.Result, d *Demo, version string) error {
	p := page{
		Policy: policy(), Style: template.CSS(pageStyle), Script: template.JS(pageScript),
		Version: plain(version), Steps: greySteps(),
	}
	distance, seen := 0., map[string]bool{}
	for _, r := range results {
		distance = max(distance, r.Distance)
		c, book := chapterOf(r)
		if c == nil {
			return &Error{Reason: "there is nothing to write: no command has an answer"}
		}
		if seen[c.ID] {
			return &Error{Reason: "a page holds each command's answer once"}
		}
		seen[c.ID] = true
		if n := len(p.Chapters); n > 0 {
			p.Chapters[n-1].Cautions = nil // once a page, at its end
		}
		p.Chapters = append(p.Chapters, c)
		p.Photos, p.Chips = append(p.Photos, book.photos...), append(p.Chips, book.chips)
	}
	if d != nil {
		p.Demo, p.Title, p.Intro = true, plain(d.Title), plain(d.Intro)
	} else if len(p.Chapters) > 0 {
		p.Title = p.Chapters[0].Answer.Headline
	}
	p.Switch = newSwitch(distance)
	err := pageTree().ExecuteTemplate(w, "page", p)
	var torn *stash.Error // where a picture was to be read, without the template's own words
	if errors.As(err, &torn) {
		return torn
	}
	return err
}

// flag is a flag of a command, as sentences name it.
var flag = regexp.MustCompile(`--[a-z][a-z-]*`)

// flags is a sentence for the page whose flags are not broken over two lines.
func flags(s string) template.HTML {
	return template.HTML(flag.ReplaceAllString(template.HTMLEscapeString(s), `<span class="flag">$0</span>`))
}

// policy lets in the page's own style and script by their hashes, pictures
// out of the page itself, and nothing else.
func policy() string {
	hash := func(s string) string {
		sum := sha256.Sum256([]byte(s))
		return "'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'"
	}
	return fmt.Sprintf("default-src 'none'; img-src data:; style-src %s; script-src %s; base-uri 'none'; form-action 'none'",
		hash(pageStyle), hash(pageScript))
}
