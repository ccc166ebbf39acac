//go:build browser

package report

import (
	"fmt"
	"image"
	"image/color"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"greige/analyze"
	"greige/analyze/eye"
	"greige/analyze/piles"
)

// printed are the pages of a page on paper, at 50 dots an inch.
func (b *tab) printed(paper chromedp.PaperSize) []*image.NRGBA {
	b.Helper()
	pages, _ := b.printedWithWords(paper)
	return pages
}

// printedWithWords is printed with the words of each page.
func (b *tab) printedWithWords(paper chromedp.PaperSize) (pages []*image.NRGBA, words []string) {
	b.Helper()
	data, err := chromedp.Run(b.Ctx, chromedp.PrintToPDF(chromedp.PDFPaper(paper), chromedp.PDFPrintBackground()))
	require.NoError(b, err)
	dir := b.TempDir()
	file := filepath.Join(dir, "page.pdf")
	require.NoError(b, os.WriteFile(file, data, 0o644))
	out, err := exec.Command("pdftoppm", "-r", "50", "-png", file, filepath.Join(dir, "p")).CombinedOutput()
	require.NoError(b, err, "this test needs pdftoppm (Debian: apt-get install poppler-utils): %s", out)
	names, err := filepath.Glob(filepath.Join(dir, "p*.png"))
	require.NoError(b, err)
	slices.Sort(names)
	require.Len(b, names, len(regexp.MustCompile(`/Type\s*/Page\b[^s]`).FindAll(data, -1)), "every page is looked at")
	for i, n := range names {
		png, err := os.ReadFile(n)
		require.NoError(b, err)
		pages = append(pages, asNRGBA(b, png))
		at := strconv.Itoa(i + 1)
		text, err := exec.Command("pdftotext", "-f", at, "-l", at, file, "-").Output()
		require.NoError(b, err)
		words = append(words, string(text))
	}
	return pages, words
}

// plainSight is a picture all of one colour that is nowhere else on a page.
func plainSight(t *testing.T, s analyze.Sight, c color.NRGBA, w, h int) analyze.Sight {
	t.Helper()
	img := image.NewNRGBA(image.Rect(0, 0, w, h))
	for i := 0; i < len(img.Pix); i += 4 {
		img.Pix[i], img.Pix[i+1], img.Pix[i+2], img.Pix[i+3] = c.R, c.G, c.B, 255
	}
	s.Views = eye.Views{W: w, H: h, Colour: pngOf(t, img)}
	return s
}

// withSwatches gives cloths their own swatches, where they would show parts of
// a plain sight.
func withSwatches(r *analyze.Result) *analyze.Result {
	for i := range r.Sort.Fabrics {
		r.Sort.Fabrics[i].Swatch = looks[i%len(looks)].swatch(i+1, 150, true)
	}
	return r
}

// extent is where a colour lies on a page.
func extent(img *image.NRGBA, c color.NRGBA) image.Rectangle {
	near := func(a, b uint8) bool { return max(a, b)-min(a, b) < 24 }
	var r image.Rectangle
	for y := range img.Rect.Dy() {
		for x := range img.Rect.Dx() {
			if p := img.NRGBAAt(x, y); near(p.R, c.R) && near(p.G, c.G) && near(p.B, c.B) {
				r = r.Union(image.Rect(x, y, x+1, y+1))
			}
		}
	}
	return r
}

// On paper there is no dark ground, no picture is cut, and it takes no more
// sheets than it must.
func TestBrowserOnPaper(t *testing.T) {
	magenta, lime, cyan := color.NRGBA{255, 0, 255, 255}, color.NRGBA{0, 255, 0, 255}, color.NRGBA{0, 255, 255, 255}
	table, top, print := withSwatches(sortResult()), layoutResult(), borderResult()
	for _, tall := range []bool{false, true} {
		w, h, extra := 800, 600, 0
		if tall {
			w, h, extra = h, w, 1
		}
		table.Sights[0] = plainSight(t, table.Sights[0], magenta, w, h)
		top.Sights[0], top.Sights[1] = plainSight(t, top.Sights[0], magenta, w, h), plainSight(t, top.Sights[1], lime, w, h)
		print.Sights[0] = plainSight(t, print.Sights[0], cyan, w, h)
		for _, paper := range []struct {
			name string
			size chromedp.PaperSize
			tall bool
		}{{"A4", chromedp.PaperA4, false}, {"Letter", chromedp.PaperLetter, true}} {
			if paper.tall != tall {
				continue
			}
			for _, of := range []struct {
				r      *analyze.Result
				shows  []color.NRGBA
				sheets int
			}{{table, []color.NRGBA{magenta}, 5}, {top, []color.NRGBA{magenta, lime}, 5}, {print, []color.NRGBA{cyan}, 6}} {
				t.Run(fmt.Sprintf("%s on %s, %dx%d", of.r.Command, paper.name, w, h), func(t *testing.T) {
					b := open(t, pageOf(t, of.r), 1280, 900)
					do(b, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: "print"})
					assert.Empty(t, eval[[]string](b, `Array.from(document.querySelectorAll("button, input, select, .slip")).filter(function (e) {
						return e.getClientRects().length && !e.matches(".ink input, .pickrow");
					}).map(function (e) { return e.outerHTML.slice(0, 80); })`), "there is nothing to press on paper")
					do(b, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{})
					pages := b.printed(paper.size)
					t.Logf("%d sheets", len(pages))
					assert.LessOrEqual(t, len(pages), of.sheets+extra)
					for i, p := range pages {
						white, dark := 0, 0
						for y := range p.Rect.Dy() {
							for x := range p.Rect.Dx() {
								c := p.NRGBAAt(x, y)
								if c.R > 250 && c.G > 250 && c.B > 250 {
									white++
								} else if x < 12 || y < 12 || x >= p.Rect.Dx()-12 || y >= p.Rect.Dy()-12 {
									dark++
								}
							}
						}
						assert.Zero(t, dark, "sheet %d is printed to its edge", i+1)
						assert.Greater(t, float64(white)/float64(p.Rect.Dx()*p.Rect.Dy()), .4, "sheet %d", i+1)
					}
					for _, c := range of.shows {
						var found []image.Rectangle
						for _, p := range pages {
							if r := extent(p, c); r.Dx() > 20 && r.Dy() > 5 {
								found = append(found, r)
							}
						}
						if assert.Len(t, found, 1, "the picture is on one sheet") {
							assert.InDelta(t, float64(w)/float64(h), float64(found[0].Dx())/float64(found[0].Dy()), .03, "all of it")
							assert.Greater(t, found[0].Dx(), 100, "and large enough: two inches")
						}
					}
				})
			}
		}
	}
}

// A photo is on the sheet with its heading and its caption, wherever the piles
// before it end.
func TestBrowserKeepsAPhotoWithItsHeading(t *testing.T) {
	magenta := color.NRGBA{255, 0, 255, 255}
	for _, extra := range []int{0, 8, 16, 24} {
		r := sortResult()
		for i := range extra {
			f := r.Sort.Fabrics[i%4]
			f.ID = strconv.Itoa(100 + i)
			r.Sort.Fabrics = append(r.Sort.Fabrics, f)
			if f.Pile == piles.Dark {
				r.Sort.Piles.Dark = append(r.Sort.Piles.Dark, f.ID)
			} else {
				r.Sort.Piles.Light = append(r.Sort.Piles.Light, f.ID)
			}
		}
		r = withSwatches(r)
		r.Sights[0] = plainSight(t, r.Sights[0], magenta, 800, 600)
		b := open(t, pageOf(t, r), 1280, 900)
		pages, words := b.printedWithWords(chromedp.PaperLetter)
		for i, p := range pages {
			if e := extent(p, magenta); e.Dx() > 100 && e.Dy() > 100 {
				assert.True(t, strings.Contains(words[i], "The photo"), "%d more cloths, sheet %d", extra, i+1)
			}
		}
	}
}

// Under the photo of a top on point the diagrams of how it is counted, and what to copy,
// are on one sheet each, whatever room the photo leaves.
func TestBrowserCutsNothingUnderThePhotoOfATop(t *testing.T) {
	magenta := color.NRGBA{255, 0, 255, 255}
	r := onPointResult()
	wall := analyze.Sight{Kind: analyze.WallSight, Photo: "wall.jpg", Marks: sightOf(r, analyze.TopSight).Marks}
	r.Sights = append(r.Sights, plainSight(t, wall, magenta, 800, 1000))
	b := open(t, pageOf(t, r), 1280, 900)
	require.Equal(t, 2, eval[int](b, `document.querySelectorAll(".undersight .diagram").length`))
	// Each is drawn in a colour of its own, on its whole box.
	eval[bool](b, `(document.querySelectorAll(".undersight .diagram svg").forEach(function (e, i) { e.style.background = i ? "#00ff00" : "#00ffff"; e.replaceChildren(); }), true)`)
	pages := b.printed(chromedp.PaperA4)
	for _, c := range []color.NRGBA{{0, 255, 255, 255}, {0, 255, 0, 255}} {
		n := 0
		for _, p := range pages {
			if !extent(p, c).Empty() {
				n++
			}
		}
		assert.Equal(t, 1, n, "%v", c)
	}
}

// What is printed is the view that the switch stands at, also of pictures that
// were never scrolled to.
func TestBrowserPrintsTheViewThatIsShown(t *testing.T) {
	magenta := color.NRGBA{255, 0, 255, 255}
	r := withSwatches(sortResult())
	r.Sights[0] = plainSight(t, r.Sights[0], magenta, 800, 600)
	b := open(t, pageOf(t, r), 1280, 900)
	eval[bool](b, `(document.getElementById("view-grey").click(), true)`)
	// The Y of magenta is 0.2126 + 0.0722 (IEC 61966-2-1).
	grey := uint8(codeOfY(.2126 + .0722))
	most := 0
	for _, p := range b.printed(chromedp.PaperA4) {
		assert.Zero(t, extent(p, magenta))
		n := 0
		for i := 0; i < len(p.Pix); i += 4 {
			if max(p.Pix[i], grey)-min(p.Pix[i], grey) <= 1 {
				n++
			}
		}
		most = max(most, n)
	}
	assert.Greater(t, most, 20_000, "the picture is there, in grey")
}
