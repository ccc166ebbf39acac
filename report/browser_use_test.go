//go:build browser

package report

import (
	"encoding/csv"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/browser"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"greige/analyze/photo"
)

func TestBrowserChoosingGoesBothWays(t *testing.T) {
	b := open(t, pageOf(t, sortResult()), 1280, 900)
	rings := func() int { return eval[int](b, `document.querySelectorAll("#sort-sight-1 .ring.picked").length`) }
	says := func() string {
		return eval[string](b, `document.querySelector("#sort-sight-1 .slip span").textContent`)
	}
	// From a row to the picture.
	eval[bool](b, `(function () { document.querySelectorAll("details").forEach(function (d) { d.open = true; }); return true; })()`)
	table := eval[string](b, `document.querySelector('tr[data-piece="sort-3"] .pickrow').closest("table").getAttribute("data-name")`)
	require.NotEmpty(t, table)
	row := fmt.Sprintf(`table[data-name="%s"] tr[data-piece="sort-3"] .pickrow`, table)
	b.Do(chromedp.Focus(row))
	b.Press(kb.Enter)
	assert.Equal(t, 1, rings())
	assert.Contains(t, says(), "Number 3: ")
	assert.Equal(t, "true", eval[string](b, `document.querySelector('#sort-sight-1 .hit[data-piece="sort-3"]').getAttribute("aria-pressed")`))
	assert.Equal(t, 1, eval[int](b, `document.querySelectorAll("li.cutout.chosen").length`), "its cut-out too")
	eval[bool](b, `(function () {
		const e = Array.from(document.querySelectorAll("button")).find(function (e) { return e.textContent === "Show it in the picture" && !e.hidden; });
		e.focus();
		return true;
	})()`)
	b.Press(kb.Enter)
	assert.Equal(t, "sort-3", eval[string](b, `document.activeElement.getAttribute("data-piece")`))
	assert.True(t, eval[bool](b, `document.activeElement.classList.contains("hit")`))
	// From the picture to a row: by the mouse.
	p := b.Where("#sort-sight-1 .stack")
	m := sortResult().Sights[0].Marks[6].Outline
	c := centroid(m)
	b.Do(chromedp.MouseClickXY(p.X+p.W*c[0], p.Y+p.H*(c[1]+.05)))
	assert.Contains(t, says(), "Number 7: ")
	assert.Equal(t, 1, rings())
	b.click("#sort-sight-1 .slip button")
	assert.True(t, eval[bool](b, `document.activeElement.classList.contains("pickrow") && document.activeElement.closest("tr").getAttribute("data-piece") === "sort-7"`))
	b.Press(kb.Escape)
	assert.Equal(t, 0, rings())
	// Pointing is enough to read the figures.
	p = b.Where("#sort-sight-1 .stack")
	c = centroid(sortResult().Sights[0].Marks[0].Outline)
	b.Do(chromedp.MouseEvent("mouseMoved", p.X+p.W*c[0], p.Y+p.H*(c[1]+.05)))
	b.Until(`document.querySelector("#sort-sight-1 .slip span").textContent.startsWith("Number 1: ")`)
}

func TestBrowserChoosingByTouch(t *testing.T) {
	b := open(t, pageOf(t, sortResult()), 1280, 900)
	b.Do(chromedp.EmulateViewport(390, 844, chromedp.EmulateMobile, chromedp.EmulateTouch))
	p := b.Where("#sort-sight-1 .stack")
	c := centroid(sortResult().Sights[0].Marks[1].Outline)
	b.Do(chromedp.TapXY(p.X+p.W*c[0], p.Y+p.H*c[1]))
	b.Until(`document.querySelector("#sort-sight-1 .slip span").textContent.startsWith("Number 2: ")`)
	assert.Equal(t, 1, eval[int](b, `document.querySelectorAll("#sort-sight-1 .ring.picked").length`))
	p = b.Where(`label[for="view-grey"]`)
	b.Do(chromedp.TapXY(p.X+p.W/2, p.Y+p.H/2))
	b.shows("#sort-sight-1", "grey")
}

func TestBrowserSeamsTellTheirFigures(t *testing.T) {
	b := open(t, pageOf(t, layoutResult()), 1280, 1200)
	p := b.Where("#layout-top .stack")
	b.Do(chromedp.MouseEvent("mouseMoved", p.X+p.W*5/9, p.Y+p.H*2.5/9))
	b.Until(`document.querySelector("#layout-top .slip span").textContent.startsWith("Row 3, patch 5 and its right neighbour: lost")`)
	b.Do(chromedp.MouseClickXY(p.X+p.W*5/9, p.Y+p.H*2.5/9))
	assert.Equal(t, "true", eval[string](b, `document.querySelector('table[data-name="seams"] tr.chosen .pickrow').getAttribute("aria-pressed")`))
	assert.Equal(t, 1, eval[int](b, `document.querySelectorAll("#layout-top .ring.picked").length`))
}

// All of the page by the keyboard alone: what can be stepped to is seen, has
// a mark of where it is and a name, and is not hidden under what sticks to the
// window (WCAG 2.2: 2.1.1, 2.4.3, 2.4.7, 2.4.11, 4.1.2).
func TestBrowserByKeyboardAlone(t *testing.T) {
	// The demo's chapters are all the pages there are.
	for name, html := range map[string]string{"demo": demoOf(t), "on point": pageOf(t, onPointResult())} {
		t.Run(name, func(t *testing.T) {
			b := open(t, html, 1280, 900)
			type stop struct {
				What, Name             string
				Marked, Inside, Hidden bool
				Again                  bool
			}
			var path []stop
			for range 400 {
				b.Press(kb.Tab)
				s := eval[stop](b, `(function () {
					const e = document.activeElement;
					if (e === document.body) { return { What: "end" }; }
					const shown = e.matches(".choice input, .ink input") ? e.nextElementSibling : e, style = getComputedStyle(shown);
					const around = e.closest(".ink") ? getComputedStyle(e.closest(".ink")) : style;
					const r = e.getBoundingClientRect();
					const ring = e.closest("svg.hits") && e.closest("svg.hits").querySelector(".ring.pointed");
					const x = Math.min(Math.max(r.left + r.width / 2, 1), innerWidth - 2), y = r.top + Math.min(r.height / 2, 60);
					const top = document.elementFromPoint(x, y);
					const again = Boolean(e.stepped);
					e.stepped = true;
					return {
						What: e.tagName + (e.id ? "#" + e.id : ""),
						Name: (e.getAttribute("aria-label") || e.textContent || (e.labels && e.labels[0] && e.labels[0].textContent) || "").trim(),
						Marked: Boolean(ring) || style.outlineStyle !== "none" || around.outlineStyle !== "none",
						Inside: r.bottom > 0 && r.top < innerHeight && r.right > 0 && r.left < innerWidth,
						Hidden: Boolean(top) && !e.contains(top) && !(e.closest("svg.hits, label, figure") || e).contains(top) && Boolean(top.closest(".switch, .slip")) && !e.closest(".switch, .slip"),
						Again: again
					};
				})()`)
				if s.What == "end" || s.Again {
					break
				}
				path = append(path, s)
			}
			assert.Greater(t, len(path), 6)
			for _, s := range path {
				assert.True(t, s.Marked, "%s %q has no mark of focus", s.What, s.Name)
				assert.NotEmpty(t, s.Name, s.What)
				assert.True(t, s.Inside, "%s %q is out of the window", s.What, s.Name)
				assert.False(t, s.Hidden, "%s %q is covered", s.What, s.Name)
			}
			t.Logf("%d stops of the Tab key", len(path))
		})
	}
}

func TestBrowserTheSwitchByKeyboard(t *testing.T) {
	b := open(t, pageOf(t, layoutResult()), 1280, 1200)
	b.Do(chromedp.Focus("#view-colour"))
	for _, v := range views[1:] {
		b.Press(kb.ArrowRight)
		assert.Equal(t, v.Key, eval[string](b, `document.documentElement.getAttribute("data-view")`))
		says := eval[string](b, `Array.from(document.querySelectorAll(".says > span")).filter(function (e) { return e.getClientRects().length; }).map(function (e) { return e.textContent; }).join("|")`)
		assert.True(t, strings.HasPrefix(says, v.Says), says)
		assert.NotContains(t, says, "|", "one thing is said at a time")
	}
	// Patches by the arrow keys.
	b.Do(chromedp.Focus(`#layout-top .hit[tabindex="0"]`))
	at := func() string { return eval[string](b, `document.activeElement.getAttribute("data-piece")`) }
	b.Press(kb.Home)
	assert.Equal(t, "layout-1-1", at())
	b.Press(kb.ArrowRight)
	assert.NotEqual(t, "layout-1-1", at())
	b.Press(kb.Enter)
	assert.Equal(t, 1, eval[int](b, `document.querySelectorAll("#layout-top .ring.picked").length`))
	b.Press(kb.Escape)
	assert.Equal(t, 0, eval[int](b, `document.querySelectorAll(".ring.picked").length`))
}

func TestBrowserNothingScrollsSideways(t *testing.T) {
	hostile := sortResult()
	long := strings.Repeat("Wandbehangfoto", 14) + "ende.jpg"
	hostile.Sights[0].Photo, hostile.Light[0].Photo = long, long
	hostile.Skipped = append(hostile.Skipped, photo.Skipped{Photo: strings.Repeat("寝", 200), Reason: strings.Repeat("x", 200)})
	pages := map[string]string{"demo": demoOf(t), "on point": pageOf(t, onPointResult()), "long names": pageOf(t, hostile)}
	for name, html := range pages {
		t.Run(name, func(t *testing.T) {
			b := open(t, html, 320, 700)
			for _, width := range []int64{320, 390, 768, 1280, 2560} {
				b.Do(chromedp.EmulateViewport(width, 900))
				for _, compare := range []bool{false, true} {
					if compare {
						eval[bool](b, `(document.getElementById("compare").click(), true)`)
					}
					wide := eval[[]string](b, `Array.from(document.querySelectorAll("body *")).filter(function (e) {
						return e.getBoundingClientRect().right > innerWidth + 1 && !e.closest(".scroll, .close, .unseen, svg");
					}).map(function (e) { return e.tagName + "." + e.className; }).slice(0, 5)`)
					assert.LessOrEqual(t, eval[int](b, `document.documentElement.scrollWidth`), int(width), "%d pixels wide, comparing: %v; too wide: %v", width, compare, wide)
				}
				eval[bool](b, `(document.getElementById("compare").click(), true)`)
			}
		})
	}
}

// axe-core finds nothing against WCAG 2.2 AA, nor against its own best
// practices, in any state of any page.
func TestBrowserAxeFindsNothing(t *testing.T) {
	for name, html := range map[string]string{"sort": pageOf(t, sortResult()), "layout": pageOf(t, layoutResult()),
		"border": pageOf(t, borderResult()), "on point": pageOf(t, onPointResult())} {
		t.Run(name, func(t *testing.T) {
			b := open(t, html, 1280, 900)
			b.Axe()
			if name == "on point" {
				eval[bool](b, `(document.querySelector(".base").removeAttribute("alt"), true)`)
				require.NotEmpty(t, b.AxeFinds(), "what is wrong is found")
				eval[bool](b, `(document.querySelector(".base").setAttribute("alt", "the top"), true)`)
			}
			assert.Empty(t, b.AxeFinds(), "as it opens")
			// Everything at once: figures unfolded, one chosen, comparing, enlarged.
			// What the layout has here is what the top on point has, but longer.
			if name == "layout" {
				return
			}
			eval[bool](b, `(document.querySelectorAll("details").forEach(function (d) { d.open = true; }), true)`)
			b.show("squint", ".sight")
			eval[bool](b, `(function () {
				const row = document.querySelector("tr[data-piece] .pickrow");
				if (row) { row.click(); }
				document.getElementById("compare").click();
				document.querySelector(".zoom button:last-child").click();
				return true;
			})()`)
			b.shows(".sight", "squint")
			assert.Empty(t, b.AxeFinds(), "with everything open")
			if name != "sort" && name != "border" {
				return // they have nothing on a phone that these two have not
			}
			b.Do(chromedp.EmulateViewport(390, 800))
			b.click("#by-side")
			b.show("weak", ".sight")
			eval[bool](b, `(document.querySelectorAll("details").forEach(function (d) { d.open = false; }), true)`)
			assert.Empty(t, b.AxeFinds(), "on a phone, red-green weak, two views side by side")
		})
	}
}

// What the trade and the maker of the photos write is text, whatever is in it.
func TestBrowserHostileNamesAreHarmless(t *testing.T) {
	names := []string{`"><img src=x onerror=alert(1)>.jpg`, `'"</script><script>alert(1)</script>.jpg`, "\u202egpj.exe\u2066.jpg", strings.Repeat("ف", 200) + ".jpg"}
	r := sortResult()
	clean := open(t, pageOf(t, r), 1280, 900)
	r.Sights[0].Photo, r.Light[0].Photo = names[0], names[1]
	for _, name := range names {
		r.Skipped = append(r.Skipped, photo.Skipped{Photo: name, Reason: name})
		r.Notes = append(r.Notes, name)
	}
	for i := range r.Sort.Fabrics {
		r.Sort.Fabrics[i].Photo, r.Sort.Fabrics[i].Note, r.Sort.Fabrics[i].Name = names[i%4], names[(i+1)%4], names[(i+2)%4]
	}
	b := open(t, pageOf(t, r), 1280, 900)
	b.show("grey", knownFigure)
	eval[bool](b, `(document.querySelectorAll(".hit").forEach(function (e) { e.focus(); }), document.getElementById("compare").click(), true)`)
	b.shows(knownFigure, "grey grey")
	eval[bool](b, `(document.getElementById("compare").click(), true)`)
	count := `["img", "script", "style", "iframe", "svg", "table"].map(function (n) { return document.getElementsByTagName(n).length; }).join(" ")`
	assert.Equal(t, eval[string](clean, count), eval[string](b, count))
	for _, name := range names {
		assert.Contains(t, eval[string](b, `document.body.textContent`), plain(name))
	}
}

func (b *tab) prefer(name, value string) {
	b.Helper()
	do(b, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: name, Value: value}}})
}

func TestBrowserWhatTheReaderPrefersIsHonoured(t *testing.T) {
	b := open(t, pageOf(t, sortResult()), 1280, 900)
	b.prefer("prefers-reduced-motion", "no-preference")
	assert.Equal(t, "smooth", eval[string](b, `getComputedStyle(document.documentElement).scrollBehavior`))
	b.prefer("prefers-reduced-motion", "reduce")
	assert.Equal(t, "auto", eval[string](b, `getComputedStyle(document.documentElement).scrollBehavior`))
	assert.Equal(t, 0, eval[int](b, `document.getAnimations().length`))
	b.prefer("prefers-contrast", "more")
	assert.Equal(t, "rgb(255, 255, 255)", eval[string](b, `getComputedStyle(document.querySelector(".panel")).backgroundColor`))
	assert.Equal(t, "rgb(0, 0, 0)", eval[string](b, `getComputedStyle(document.body).color`))
	// The ground stays the neutral grey that cloth is judged on.
	assert.Equal(t, "rgb(139, 139, 139)", eval[string](b, `getComputedStyle(document.body).backgroundColor`))
}

func TestBrowserThePilesAreTakenAway(t *testing.T) {
	r := sortResult()
	b := open(t, pageOf(t, r), 1280, 900)
	dir := t.TempDir()
	do(b, browser.SetDownloadBehavior, browser.SetDownloadBehaviorParams{Behavior: browser.SetDownloadBehaviorBehaviorAllow, DownloadPath: dir})
	press := func(text string) {
		t.Helper()
		eval[bool](b, `(function () {
			const e = Array.from(document.querySelectorAll("button")).find(function (e) { return e.textContent === %s; });
			e.focus();
			return true;
		})()`, text)
		b.Press(kb.Enter)
	}
	// What the page gives to the clipboard, whichever way it does.
	eval[bool](b, `(function () {
		window.taken = "";
		if (navigator.clipboard) { navigator.clipboard.writeText = function (t) { window.taken = t; return Promise.resolve(); }; }
		document.addEventListener("copy", function () { window.taken = document.activeElement.value; });
		return true;
	})()`)
	press("Copy the piles as a list")
	b.Until(`window.taken !== ""`)
	list := eval[string](b, `window.taken`)
	for _, ids := range [][]string{r.Sort.Piles.Light, r.Sort.Piles.Medium, r.Sort.Piles.Dark} {
		assert.Contains(t, list, strings.Join(ids, ", "))
	}
	press("Save the piles as CSV")
	file := filepath.Join(dir, "greige-piles.csv")
	for end := time.Now().Add(10 * time.Second); ; time.Sleep(20 * time.Millisecond) {
		if data, err := os.ReadFile(file); err == nil && len(data) > 0 {
			rows, err := csv.NewReader(strings.NewReader(string(data))).ReadAll()
			require.NoError(t, err)
			assert.Len(t, rows, 25)
			break
		}
		require.True(t, time.Now().Before(end), "no file was saved")
	}
}
