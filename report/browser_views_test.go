//go:build browser

package report

import (
	"image"
	"image/color"
	"math"
	"slices"
	"strconv"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"greige/analyze"
	"greige/analyze/eye"
	"greige/analyze/photo"
	"greige/colorspace"
)

// The picture that the views are looked at with: pure red on the left, a check
// of single white and black pixels on the right, and between them every code
// of each channel.
const knownW, knownH = 600, 400

// knownDegree is how many of its pixels cover a degree of sight.
const knownDegree = 20.

func known() *image.NRGBA {
	img := image.NewNRGBA(image.Rect(0, 0, knownW, knownH))
	for y := range knownH {
		for x := range knownW {
			c := color.NRGBA{255, 0, 0, 255}
			switch {
			case x >= 400:
				v := uint8(255 * ((x + y) % 2))
				c = color.NRGBA{v, v, v, 255}
			case x >= 200:
				c = color.NRGBA{uint8((x - 200) * 255 / 199), uint8(y * 255 / 399), uint8((x*7 + y*13) % 256), 255}
			}
			img.SetNRGBA(x, y, c)
		}
	}
	return img
}

// knownResult is a sort whose photo is known.
func knownResult(t *testing.T) *analyze.Result {
	t.Helper()
	r := sortResult()
	r.Sights[0].Views = eye.Views{W: knownW, H: knownH, Colour: pngOf(t, known()), PixelsPerDegree: knownDegree}
	return r
}

// lightOf is an image in linear light (IEC 61966-2-1).
func lightOf(img *image.NRGBA) *photo.Picture {
	p := photo.New(img.Rect.Dx(), img.Rect.Dy())
	for y := range p.H {
		for x := range p.W {
			c := img.NRGBAAt(x, y)
			set(p, x, y, colorspace.Linear{colorspace.DecodeSRGB(float64(c.R) / 255), colorspace.DecodeSRGB(float64(c.G) / 255), colorspace.DecodeSRGB(float64(c.B) / 255)})
		}
	}
	return p
}

// codeOfY is the 8-bit grey of a luminance.
func codeOfY(y float64) int { return int(math.Round(255 * colorspace.EncodeSRGB(min(max(y, 0), 1)))) }

const knownFigure = "#sort-sight-1"

// The grey of pure red is that of its Y, 0.2126 (IEC 61966-2-1), which is code
// 127; half the light of white is code 188, and the mean of its codes, 128, is
// wrong.
func TestBrowserEveryViewOnTheScreen(t *testing.T) {
	b := open(t, pageOf(t, knownResult(t)), 1280, 900)
	stack := knownFigure + " .stack"
	red, check := func() color.NRGBA { return b.seenAt(stack, .15, .5) }, func() color.NRGBA { return b.seenAt(stack, .85, .5) }
	grey := func(want int, got color.NRGBA, slack float64) {
		t.Helper()
		assert.True(t, got.R == got.G && got.G == got.B, "%v is no grey", got)
		assert.InDelta(t, want, got.R, slack)
	}
	assert.Equal(t, color.NRGBA{255, 0, 0, 255}, red())
	b.show("grey", knownFigure)
	grey(127, red(), 1)
	b.show("squint", knownFigure)
	grey(127, red(), 1)
	grey(188, check(), 1)
	b.click(`label[for="keep-colours"]`)
	b.shows(knownFigure, "squint")
	b.Until(`document.documentElement.hasAttribute("data-keeps")`)
	b.Until(`!document.querySelector("#sort-sight-1 canvas.now").hidden`)
	b.shows(knownFigure, "squint")
	c := red()
	assert.Greater(t, c.R, uint8(250))
	assert.Less(t, c.G, uint8(16), "squinting keeps the colours when asked")
	for view, n := range map[string]int{"two": 2, "three": 3, "five": 5} {
		b.show(view, knownFigure)
		img := b.drawn(knownFigure + " canvas.now")
		require.Equal(t, image.Rect(0, 0, knownW, knownH), img.Bounds())
		var greys, want []int
		for i := 0; i < len(img.Pix); i += 4 {
			if v := int(img.Pix[i]); !slices.Contains(greys, v) {
				greys = append(greys, v)
			}
		}
		slices.Sort(greys)
		for _, l := range eye.ValueGreys(n) {
			want = append(want, codeOfY(colorspace.LuminanceOf(l)))
		}
		slices.Sort(want)
		for _, v := range greys {
			assert.Contains(t, want, v, "%s values", view)
		}
		assert.GreaterOrEqual(t, len(greys), 2, view)
	}
	// Half the light of white is L* 76, lighter than the upper cut, 69.5; red is
	// L* 53, between the cuts.
	b.show("three", knownFigure)
	greys := eye.ValueGreys(3)
	grey(codeOfY(colorspace.LuminanceOf(greys[0])), check(), 0)
	grey(codeOfY(colorspace.LuminanceOf(greys[1])), red(), 0)
	for _, cone := range []struct {
		name string
		is   colorspace.Deficiency
	}{{"deutan", colorspace.Deutan}, {"protan", colorspace.Protan}} {
		b.show("weak", knownFigure)
		b.click("#cone-" + cone.name)
		b.shows(knownFigure, "weak")
		want := colorspace.Simulate(colorspace.Linear{1, 0, 0}, cone.is)
		b.Until(`Math.abs(document.querySelector("#sort-sight-1 canvas.now").getContext("2d").getImageData(50, 50, 1, 1).data[0] - %s) <= 1`, codeOfY(want[0]))
		c := red()
		for i, v := range []uint8{c.R, c.G, c.B} {
			assert.InDelta(t, codeOfY(want[i]), v, 1, cone.name)
		}
	}
	b.show("colour", knownFigure)
	assert.Equal(t, color.NRGBA{255, 0, 0, 255}, red())
}

func TestBrowserGreyIsTheYOfEachPixel(t *testing.T) {
	b := open(t, pageOf(t, knownResult(t)), 1280, 900)
	b.show("grey", knownFigure)
	got, want := b.drawn(knownFigure+" canvas.now"), lightOf(known())
	require.Equal(t, image.Rect(0, 0, knownW, knownH), got.Bounds())
	worst := 0.
	w := colorspace.LuminanceWeights()
	for i := range knownW * knownH {
		y := 0.
		for c := range 3 {
			y += w[c] * float64(want.Pix[3*i+c])
		}
		require.Equal(t, got.Pix[4*i], got.Pix[4*i+1])
		require.Equal(t, got.Pix[4*i], got.Pix[4*i+2])
		worst = max(worst, math.Abs(float64(got.Pix[4*i])-255*colorspace.EncodeSRGB(min(max(y, 0), 1))))
	}
	t.Logf("grey against Y: at most %.2f of 255", worst)
	assert.LessOrEqual(t, worst, 1.)
}

// The page squints with the numbers of package eye, though by another way: a
// copy that it shrinks first. Both work on linear light.
func TestBrowserSquintAgreesWithTheEye(t *testing.T) {
	b := open(t, pageOf(t, knownResult(t)), 1280, 900)
	b.show("squint", knownFigure)
	for _, metres := range []float64{1, 2.5, 5} {
		eval[bool](b, `(function () {
			const d = document.getElementById("distance");
			d.value = %s;
			d.dispatchEvent(new Event("input"));
			return true;
		})()`, metres)
		b.Until(`document.querySelector("#sort-sight-1").getAttribute("data-shows") === "squint " + %s`, metres)
		got := b.drawn(knownFigure + " canvas.now")
		want := eye.Squint(lightOf(known()), knownDegree*metres/2.5).Grey()
		grey := image.NewNRGBA(want.Rect)
		for i, v := range want.Pix {
			grey.Pix[4*i], grey.Pix[4*i+3] = v, 255
		}
		sum, worst := 0., 0.
		for y := range knownH {
			for x := range knownW {
				d := math.Abs(shareGrey(got, (float64(x)+.5)/knownW, (float64(y)+.5)/knownH) - shareGrey(grey, (float64(x)+.5)/knownW, (float64(y)+.5)/knownH))
				sum, worst = sum+d, max(worst, d)
			}
		}
		t.Logf("squinting at %v m: drawn %dx%d, off by %.2f on average and at most %.1f of 255", metres, got.Rect.Dx(), got.Rect.Dy(), sum/(knownW*knownH), worst)
		assert.Less(t, sum/(knownW*knownH), .6)
		assert.Less(t, worst, 8.)
	}
}

// shareGrey is a grey at shares of a picture: both ways of squinting give as
// many pixels as the blur needs, and not the same number.
func shareGrey(img *image.NRGBA, x, y float64) float64 {
	w, h := img.Rect.Dx(), img.Rect.Dy()
	x, y = min(max(x*float64(w)-.5, 0), float64(w-1)), min(max(y*float64(h)-.5, 0), float64(h-1))
	i, j := int(x), int(y)
	at := func(i, j int) float64 { return float64(img.NRGBAAt(min(i, w-1), min(j, h-1)).R) }
	fx, fy := x-float64(i), y-float64(j)
	return (at(i, j)*(1-fx)+at(i+1, j)*fx)*(1-fy) + (at(i, j+1)*(1-fx)+at(i+1, j+1)*fx)*fy
}

func TestBrowserDistanceByKeyboard(t *testing.T) {
	b := open(t, pageOf(t, knownResult(t)), 1280, 900)
	b.show("squint", knownFigure)
	b.Do(chromedp.Focus("#distance"))
	b.Press(kb.Home)
	b.Until(`document.querySelector("#sort-sight-1").getAttribute("data-shows") === "squint 1"`)
	near := b.drawn(knownFigure + " canvas.now")
	assert.Equal(t, "As half closed eyes see it, from 1\u00a0metre.", eval[string](b, `document.querySelector(".says .in-squint").textContent`))
	b.Press(kb.End)
	b.Until(`document.querySelector("#sort-sight-1").getAttribute("data-shows") === "squint 5"`)
	far := b.drawn(knownFigure + " canvas.now")
	assert.Equal(t, "from 5\u00a0metres", eval[string](b, `document.getElementById("distance").getAttribute("aria-valuetext")`))
	// The edge between red and the rest is softer from afar.
	slope := func(img *image.NRGBA) (steepest float64) {
		for x := 200.; x < 500; x++ {
			steepest = max(steepest, math.Abs(shareGrey(img, x/knownW, .01)-shareGrey(img, (x+1)/knownW, .01)))
		}
		return steepest
	}
	assert.Less(t, 2*slope(far), slope(near))
}

func TestBrowserTwoViewsUnderASlidingEdge(t *testing.T) {
	r := knownResult(t)
	b := open(t, pageOf(t, r), 1280, 900)
	b.click("#compare")
	b.shows(knownFigure, "colour grey")
	stack := knownFigure + " .stack"
	// All red on the left 200 of 600: the edge at 17 of 100 parts it.
	slider := knownFigure + " .edgeslider input"
	b.Do(chromedp.Focus(slider))
	b.Press(kb.Home)
	grey := b.seenAt(stack, .05, .5)
	assert.InDelta(t, 127, grey.R, 1)
	assert.Equal(t, grey.R, grey.G)
	for range 20 {
		b.Press(kb.ArrowRight)
	}
	assert.Equal(t, "20", eval[string](b, `document.querySelector(%s).value`, slider))
	assert.Equal(t, color.NRGBA{255, 0, 0, 255}, b.seenAt(stack, .05, .5))
	assert.InDelta(t, 127, b.seenAt(stack, .29, .5).R, 1)
	// The edge by the mouse.
	p := b.Where(stack)
	b.Do(chromedp.DragAndDropXY(p.X+.2*p.W, p.Y+.3*p.H, p.X+.05*p.W, p.Y+.3*p.H))
	v, err := strconv.ParseFloat(eval[string](b, `document.querySelector(%s).value`, slider), 64)
	require.NoError(t, err)
	assert.InDelta(t, 5, v, 1.5)
	// Another view beside it, each in its own frame.
	eval[bool](b, `(function () { const o = document.getElementById("other"); o.value = "weak"; o.dispatchEvent(new Event("change")); return true; })()`)
	b.shows(knownFigure, "colour weak")
	b.click("#by-side")
	b.shows(knownFigure, "colour weak")
	assert.Equal(t, 2, eval[int](b, `document.querySelectorAll("#sort-sight-1 .frame").length`))
	assert.Equal(t, color.NRGBA{255, 0, 0, 255}, b.seenAt(stack, .15, .5))
	want := colorspace.Simulate(colorspace.Linear{1, 0, 0}, colorspace.Deutan)
	assert.InDelta(t, codeOfY(want[0]), b.seenAt(knownFigure+" .second .stack", .15, .5).R, 1)
	b.click("#compare")
	b.Until(`document.querySelectorAll("#sort-sight-1 .frame").length === 1`)
	assert.Equal(t, 0, eval[int](b, `document.querySelectorAll(".edgehandle, .tag, .over").length`))
}

func TestBrowserBeforeAndAfterUnderASlidingEdge(t *testing.T) {
	b := open(t, pageOf(t, layoutResult()), 1280, 1200)
	eval[bool](b, `(function () {
		const e = Array.from(document.querySelectorAll("button")).find(function (e) { return e.textContent === "Under a sliding edge"; });
		e.id = "test-edge";
		return true;
	})()`)
	// Row 3, patch 5 is a dark before, and a light after.
	patch := func() color.NRGBA { return b.seenAt("#layout-top .stack", 4.2/9, 2.25/9) }
	before := patch()
	b.click("#test-edge")
	b.Until(`document.querySelector("#layout-after").hidden`)
	slider := "#layout-top .edgeslider input"
	b.Do(chromedp.Focus(slider))
	b.Press(kb.Home)
	after := patch()
	assert.Greater(t, int(after.G), int(before.G)+80, "%v becomes %v", before, after)
	b.Press(kb.End)
	assert.Equal(t, before, patch())
}

func TestBrowserLookingClosely(t *testing.T) {
	b := open(t, pageOf(t, knownResult(t)), 1280, 900)
	fit := b.Where(knownFigure + " .stack")
	b.Do(chromedp.Focus(knownFigure + " .zoom button:last-child"))
	b.Press(kb.Enter, kb.Enter)
	near := b.Where(knownFigure + " .stack")
	assert.InDelta(t, 2*fit.W, near.W, 1)
	frame := b.Where(knownFigure + " .frame")
	assert.LessOrEqual(t, frame.W, fit.W+1, "it grows inside its frame")
	b.Do(chromedp.Focus(knownFigure + " .frame"))
	was := eval[float64](b, `document.querySelector("#sort-sight-1 .frame").scrollLeft`)
	b.Press(kb.ArrowRight)
	b.Until(`document.querySelector("#sort-sight-1 .frame").scrollLeft > %s`, was)
	// At either end the button stays where the focus is.
	b.Do(chromedp.Focus(knownFigure + " .zoom button:last-child"))
	b.Press(kb.Enter, kb.Enter, kb.Enter)
	assert.InDelta(t, 4*fit.W, b.Where(knownFigure+" .stack").W, 1)
	assert.Equal(t, "true", eval[string](b, `document.activeElement.getAttribute("aria-disabled")`))
	b.Do(chromedp.Focus(knownFigure + " .zoom button:first-child"))
	b.Press(kb.Enter, kb.Enter, kb.Enter, kb.Enter)
	assert.InDelta(t, fit.W, b.Where(knownFigure+" .stack").W, 1)
}

// Without its script the page shows the views that the program made.
func TestBrowserThePageWithoutItsScript(t *testing.T) {
	page := rawParts.ReplaceAllStringFunc(pageOf(t, sortResult()), func(s string) string {
		if s[:7] == "<script" {
			return "<script></script>"
		}
		return s
	})
	b := open(t, page, 1280, 900)
	b.Protests() // the empty script is not the one that is let in
	colour := b.seenAt("#sort-sight-1 .stack", .11, .13)
	assert.NotEqual(t, colour.R, colour.B)
	b.click("#view-grey")
	grey := b.seenAt("#sort-sight-1 .stack", .11, .13)
	assert.True(t, grey.R == grey.G && grey.G == grey.B)
	assert.Equal(t, 0, eval[int](b, `Array.from(document.querySelectorAll(".live")).filter(function (e) { return e.getClientRects().length; }).length`),
		"what needs the script is not there")
}
