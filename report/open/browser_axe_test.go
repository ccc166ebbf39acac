//go:build browser

package open

import (
	"os"
	"path/filepath"

	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"greige/analyze"
	"greige/analyze/scene"
)

// axe-core finds nothing in any state of the page, against WCAG 2.2 AA and its own best
// practices.
func TestBrowserAxeFindsNothing(t *testing.T) {
	check := func(b *tab, state string) {
		t.Helper()
		b.settled()
		b.Axe()
		assert.Empty(t, b.AxeFinds(), state)
	}
	empty, _, _ := serve(t, Options{Folder: t.TempDir()})
	b := openTab(t, empty, 1280, 900)
	b.Shot("empty")
	check(b, "no photo")

	dir := basket(t, 700)
	top := scene.AnyTop(3)
	top.Width = 700
	write(t, dir, "wall.jpg", top)
	print := scene.AnyBorder(5)
	print.Width = 700
	write(t, dir, "border.jpg", print)
	require.NoError(t, os.WriteFile(filepath.Join(dir, "cut.jpg"), []byte("\xff\xd8\xff\xe0 cut"), 0o600))
	troubles(t, check)
	data := t.TempDir()
	address, _, _ := serve(t, Options{Folder: dir, Stash: filepath.Join(data, "stash.db"), Cameras: filepath.Join(data, "cameras")})
	lesson := write(t, data, "chart.jpg", drawnChart(drawnPhone()))
	for _, width := range []int64{1280, 390} {
		b := openTab(t, address, width, 900)
		b.Until(`document.querySelector('[data-key="piece1"]')`)
		check(b, "found")
		b.click(key("piece1"))
		check(b, "chosen")
		b.click(key("b-two"))
		check(b, "a line across")
		b.click(key("b-leave"))
		for _, tool := range []string{"box", "outline", "card"} {
			b.click(key("b-" + tool))
			check(b, tool)
			b.click(key("b-leave"))
		}
		b.click(key("qlayout"))
		b.settled()
		b.click(key("photo" + idOf(filepath.Join(dir, "wall.jpg"))))
		b.Until(`document.querySelector('[data-key^="patch"]')`)
		check(b, "a top")
		for _, mode := range []string{"grid", "paint", "hang", "card"} {
			b.click(key("b-" + mode))
			check(b, mode)
			b.click(`[data-key="b-leave"], [data-key="b-none"]`)
		}
		b.click(key("qborder"))
		b.settled()
		b.click(key("photo" + idOf(filepath.Join(dir, "border.jpg"))))
		b.Until(`document.querySelector('[data-key="b-colour0"]')`)
		check(b, "a border")
		b.click(key("b-at"))
		check(b, "the print's part")
		b.click(key("b-leave"))
		b.click(key("b-card"))
		check(b, "the print's card")
		b.click(key("b-leave"))
		b.click(key("qsort"))
		b.settled()
		wallAndSchool(b, lesson, check)
		b.click(key("qsort"))
		b.settled()
	}
	b = openTab(t, address, 1280, 900)
	b.click(key("b-end"))
	b.Until(`document.querySelector("h1").textContent.includes("has ended")`)
	check(b, "ended")
}

// troubles are the states in which something is wrong, and the phone's page.
func troubles(t *testing.T, check func(b *tab, state string)) {
	t.Helper()
	odd := t.TempDir()
	doubtful := scene.AnyTable(4)
	doubtful.Width = 900
	write(t, odd, "table.jpg", doubtful)
	asks, _, _ := serve(t, Options{Folder: odd, Phone: true, home: otherAddress})
	b := openTab(t, asks, 1280, 900)
	b.Until(`!document.querySelector("#asking").hidden`)
	check(b, "a doubt is asked about")
	require.NoError(t, os.Mkdir(filepath.Join(odd, analyze.CorrectionsFile), 0o700)) // nothing can be kept there
	b.click(key("b-askno"))
	b.Until(`document.querySelector("#trouble").textContent.includes("not kept")`)
	check(b, "what is put right cannot be kept")
	for _, width := range []int64{1280, 390} {
		check(openTab(t, now(t, asks).Phone, width, 800), "the phone's page")
	}
}

// wallAndSchool are the states of the kept stash and of teaching a phone.
func wallAndSchool(b *tab, lesson string, check func(b *tab, state string)) {
	b.Helper()
	b.click(key("b-keepthese"))
	b.Until(`document.querySelector("#below").textContent.includes("cloths")`)
	b.click(key("qwall"))
	b.Until(`document.querySelector('[data-key^="kept"]')`)
	check(b, "the stash")
	b.click(`#stage [data-key^="kept"]`)
	check(b, "a cloth of the stash")
	b.click(key("b-drop"))
	b.Until(`document.body.textContent.includes("taken out of your stash")`)
	check(b, "a cloth taken out")
	b.click(key("b-undo"))
	b.Until(`document.body.textContent.includes("Taken back")`)
	check(b, "and taken back")
	b.click(key("qschool"))
	b.Until(`document.querySelector('[data-key="b-learn"]')`)
	check(b, "teaching")
	b.Do(chromedp.SetUploadFiles(`#lessons`, []string{lesson}))
	b.Until(`document.querySelector('#stage .photos img')`)
	for _, tool := range []string{"white", "grey"} {
		b.click(key("b-" + tool))
		check(b, "where a card lies")
		b.click(key("b-take"))
	}
	check(b, "ready to learn")
	b.click(`input[name="way"][value="chart"]`)
	b.click(key("b-corners"))
	check(b, "where the chart lies")
	b.click(key("b-leave"))
	b.click(key("b-learn"))
	b.Until(`document.querySelector("#tools h2")`)
	check(b, "what came of it")
}
