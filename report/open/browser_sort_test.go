//go:build browser

package open

import (
	"bytes"
	"fmt"
	"path/filepath"
	"testing"

	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"greige/analyze"
	"greige/analyze/scene"
	"greige/report"
)

func TestBrowserShowsABasket(t *testing.T) {
	dir := basket(t, 1600)
	address, _, _ := serve(t, Options{Folder: dir})
	for _, width := range []int64{1280, 768, 390} {
		b := openTab(t, address, width, 900)
		require.Contains(t, b.text("#headline"), "cloths:")
		require.LessOrEqual(t, eval[float64](b, `document.documentElement.scrollWidth`), float64(width), "nothing is wider than the window")
		b.Shot(fmt.Sprintf("basket-%d", width))
	}
}

// numbers are those that lie over the photo.
func numbers(b *tab) string {
	b.Helper()
	return eval[string](b, `[...document.querySelectorAll("#stage .disc")].map((d) => d.textContent).join(" ")`)
}

// inTerminal is what the terminal gives for a folder, with its corrections: the
// figures to the byte.
func inTerminal(t testing.TB, dir string) []byte {
	t.Helper()
	r, err := analyze.Sort(t.Context(), []string{dir}, analyze.SortOptions{Settings: analyze.Settings{Corrections: corrections(t, dir)}})
	require.NoError(t, err)
	var figures, page bytes.Buffer
	require.NoError(t, report.WriteJSON(&figures, r, "v"))
	require.NoError(t, report.WritePage(&page, r, "v"))
	return append(figures.Bytes(), page.Bytes()...)
}

func TestBrowserPutsPiecesRightByTouch(t *testing.T) {
	dir := basket(t, 1200)
	address, _, _ := serve(t, Options{Folder: dir, Version: "v"})
	b := openTab(t, address, 1280, 1400)
	require.Equal(t, "1 2 3 4 5 6", numbers(b))

	// Two touches take a wrong one away; the other numbers stay.
	b.click(key("piece2"))
	b.click(key("b-not"))
	b.Until(`!document.querySelector('[data-key="piece2"]')`)
	b.settled()
	require.Equal(t, "1 3 4 5 6", numbers(b))
	require.Len(t, corrections(t, dir).Photos[0].Pieces, 1, "it is kept at once")
	b.Shot("sort-gone")

	// A touch brings it back, and a step back takes it away again.
	b.click(key("gone0"))
	b.Until(`document.querySelector('[data-key="piece2"]')`)
	b.click(key("b-undo"))
	b.Until(`!document.querySelector('[data-key="piece2"]')`)
	b.click(key("b-redo"))
	b.Until(`document.querySelector('[data-key="piece2"]')`)

	// These are one.
	b.click(key("piece4"))
	b.click(key("piece5"))
	b.Shot("sort-chosen")
	b.click(key("b-one"))
	b.Until(`!document.querySelector('[data-key="piece5"]')`)
	require.Equal(t, "1 2 3 4 6", numbers(b))

	// This is two: a line lies ready across it.
	b.click(key("piece3"))
	b.click(key("b-two"))
	b.Until(`document.querySelector('[data-key="h-One end of the line"]')`)
	b.Shot("sort-two")
	b.click(key("b-take"))
	b.Until(`document.querySelector('[data-key="piece7"]')`)

	// One that was missed: a box, drawn over the photo.
	b.click(key("b-box"))
	p := b.Where(`#stage .picture`)
	b.drag(p.X+p.W*.82, p.Y+p.H*.7, p.X+p.W*.95, p.Y+p.H*.9)
	b.click(key("b-take"))
	b.Until(`document.querySelector('[data-key="piece8"]')`)
	b.settled()

	// The whole photo is one cloth, and is not.
	b.click(`input[name="scraps"][value="one"]`)
	b.Until(`document.querySelectorAll("#stage .disc").length === 1`)
	b.click(key("b-undo"))
	b.Until(`document.querySelector('[data-key="piece8"]')`)
	b.settled()
	b.Shot("sort-put-right")

	// The terminal gives the same, to the byte, as what is kept on the page.
	b.click(key("b-keep"))
	b.Until(`document.querySelector("#answer").textContent.includes("kept as")`)
	kept := readFileOf(t, filepath.Join(dir, "greige-sort.html"))
	r := inTerminal(t, dir)
	require.True(t, bytes.HasSuffix(r, kept), "the page is the one that the command writes")
}

func TestBrowserPutsPiecesRightByKeyboard(t *testing.T) {
	dir := basket(t, 1200)
	address, _, _ := serve(t, Options{Folder: dir})
	b := openTab(t, address, 1280, 1000)
	at := func(piece string) { // to a piece by Tab and the arrow keys
		b.tabTo(`[data-key^="piece"]`)
		for _, k := range []string{kb.ArrowDown, kb.ArrowDown, kb.ArrowUp, kb.ArrowRight, kb.ArrowRight, kb.ArrowLeft, kb.ArrowUp, kb.ArrowLeft, kb.ArrowDown, kb.ArrowDown} {
			if eval[bool](b, `document.activeElement.matches(%s)`, key("piece"+piece)) {
				return
			}
			b.Press(k)
		}
		require.True(t, eval[bool](b, `document.activeElement.matches(%s)`, key("piece"+piece)), "the arrow keys reach number %s", piece)
	}
	at("2")
	b.Press(" ", "n")
	b.Until(`!document.querySelector('[data-key="piece2"]')`)
	b.settled()
	eval[any](b, `document.querySelector("#work").focus()`)
	b.tabTo(key("gone0"))
	b.Press(kb.Enter)
	b.Until(`document.querySelector('[data-key="piece2"]')`)
	b.settled()
	b.chord("z")
	b.Until(`!document.querySelector('[data-key="piece2"]')`)
	b.settled()

	eval[any](b, `document.querySelector("#work").focus()`)
	at("3")
	b.Press(" ", "t")
	b.tabTo(key("h-One end of the line"))
	b.Press(kb.ArrowRight, kb.ArrowRight)
	eval[any](b, `document.querySelector("#work").focus()`)
	b.tabTo(key("b-take"))
	b.Press(kb.Enter)
	b.Until(`document.querySelector('[data-key="piece7"]')`)
	b.settled()

	eval[any](b, `document.querySelector("#work").focus()`)
	b.tabTo(key("b-outline"))
	b.Press(kb.Enter)
	b.Until(`document.activeElement.matches('[data-key="h-Cross for the next point"]')`)
	for range 20 {
		b.Press(kb.ArrowRight)
	}
	for _, k := range []string{kb.ArrowRight, kb.ArrowDown, kb.ArrowLeft} {
		b.Press(" ")
		for range 25 {
			b.Press(k)
		}
	}
	b.Press(" ", kb.Enter)
	b.Until(`document.querySelector("#tools h2").textContent === "Is this its edge?"`)
	b.Shot("sort-snapped")
	b.tabTo(key("b-take"))
	b.Press(kb.Enter)
	b.Until(`document.querySelectorAll("#stage .disc").length > 6`)
	b.settled()

	eval[any](b, `document.querySelector("#work").focus()`)
	b.tabTo(key("b-box"))
	b.Press(kb.Enter)
	b.Until(`document.activeElement.matches('[data-key="h-Middle of the box"]')`)
	b.Press(kb.ArrowLeft, kb.Escape)
	b.Until(`document.querySelector('[data-key="b-box"]')`)

	showsTheCard(b, dir)
}

// showsTheCard shows where the card lies, with what lies under it told.
func showsTheCard(b *tab, dir string) {
	b.Helper()
	b.tabTo(key("b-card"))
	b.Press(kb.Enter)
	b.Until(`document.querySelector(".under").textContent.includes("lightness about")`)
	for range 70 {
		b.Press(kb.ArrowLeft)
	}
	b.Shot("sort-card")
	b.tabTo(key("b-take"))
	b.Press(kb.Enter)
	b.Until(`document.querySelector('[data-key="b-nocard"]')`)
	b.settled()
	c := corrections(b, dir)
	require.NotNil(b, c.Photos[0].Card)
	require.InDelta(b, 95, c.Photos[0].CardLightness, 0)
	for _, p := range c.Photos[0].Pieces {
		assert.GreaterOrEqual(b, len(p.Outline), 3)
	}
}

// The most doubtful is asked about first, one at a time; it can be answered by
// keyboard alone, and skipped.
func TestBrowserAsksWhatIsDoubtful(t *testing.T) {
	dir := t.TempDir()
	table := scene.AnyTable(4)
	table.Width = 900
	write(t, dir, "table.jpg", table)
	address, _, _ := serve(t, Options{Folder: dir})
	s := now(t, address)
	require.Len(t, s.Asks, 3)
	b := openTab(t, address, 1280, 900)
	require.Contains(t, b.text("#asking h2"), "Is number "+s.Asks[0].Piece+" a piece of cloth?")
	b.Shot("asking")
	b.tabTo(key("b-askno"))
	b.Press(kb.Enter)
	b.settled()
	require.Contains(t, b.text("#asking h2"), "Is number "+s.Asks[1].Piece)
	eval[any](b, `document.querySelector("#work").focus()`)
	b.tabTo(key("b-askyes"))
	b.Press(kb.Enter)
	b.settled()
	require.Contains(t, b.text("#asking h2"), "Is number "+s.Asks[2].Piece)
	b.click(key("b-askskip"))
	b.Until(`document.querySelector("#asking").hidden`)
	pieces := corrections(t, dir).Photos[0].Pieces
	require.Len(t, pieces, 2)
	require.False(t, pieces[0].Cloth)
	require.True(t, pieces[1].Cloth)
	require.NotContains(t, ids(now(t, address)), s.Asks[0].Piece)
}
