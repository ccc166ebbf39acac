//go:build browser

package open

import (
	"path/filepath"
	"testing"

	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/require"

	"greige/analyze/scene"
)

// wall is a folder with a photo of a top, and a basket of cloths.
func wall(t *testing.T) string {
	t.Helper()
	dir := basket(t, 900)
	top := scene.AnyTop(3)
	top.Width = 900
	write(t, dir, "wall.jpg", top)
	return dir
}

func TestBrowserPutsATopRight(t *testing.T) {
	dir := wall(t)
	address, _, _ := serve(t, Options{Folder: dir})
	b := openTab(t, address, 1280, 1300)
	b.click(key("qlayout"))
	b.settled()
	b.click(key("photo" + idOf(filepath.Join(dir, "wall.jpg"))))
	b.Until(`document.querySelectorAll('[data-key^="patch"]').length > 3`)
	b.settled()
	b.Shot("top-found")

	// Corners by mouse and by keyboard, rows by the steppers.
	b.click(key("b-grid"))
	b.Until(`document.querySelector('[data-key="h-Top left corner"]')`)
	p := b.Where(key("h-Top left corner"))
	b.drag(p.X+p.W/2, p.Y+p.H/2, p.X+p.W/2+20, p.Y+p.H/2+12)
	b.tabTo(key("h-Bottom right corner"))
	b.Press(kb.ArrowLeft, kb.ArrowUp)
	b.Shot("top-corners")
	b.click(`input[name="setting"][value="straight"]`)
	eval[any](b, `(document.querySelector('[data-key="n-Rows"]').value = 4, document.querySelector('[data-key="n-Rows"]').dispatchEvent(new Event("change")))`)
	eval[any](b, `(document.querySelector('[data-key="n-Columns"]').value = 3, document.querySelector('[data-key="n-Columns"]').dispatchEvent(new Event("change")))`)
	b.click(key("b-moreColumns"))
	b.click(key("b-take"))
	b.Until(`document.querySelectorAll('[data-key^="patch"]').length === 16`)
	b.settled()
	g := corrections(t, dir).Photos[0].Grid
	require.Equal(t, 4, g.Rows)
	require.Equal(t, 4, g.Cols)
	require.Len(t, g.Corners, 4)

	// What it is meant to be, painted: one by mouse, one by keyboard.
	b.click(key("b-paint"))
	b.click(`input[name="brush"][value="D"]`)
	b.click(key("patch1,1"))
	b.settled()
	b.Until(`document.querySelector('[data-key="patch1,1"]').getAttribute("aria-label").includes("meant dark")`)
	eval[any](b, `document.querySelector("#work").focus()`)
	b.tabTo(`[data-key^="patch"]`)
	b.Press(kb.ArrowRight, "l")
	b.Until(`document.querySelector('[data-key="patch1,2"]').getAttribute("aria-label").includes("meant light")`)
	b.settled()
	b.Shot("top-painted")
	chart := corrections(t, dir).Photos[0].Grid.Chart
	require.Equal(t, "DL", chart.Rows[0][:2])
	b.click(key("b-leave"))

	// Swap two, by keyboard; hang a cloth out of the other photos.
	b.click(key("b-hang"))
	before := eval[string](b, `document.querySelector("#stage img").src`)
	eval[any](b, `document.querySelector("#work").focus()`)
	b.tabTo(`[data-key^="patch"]`)
	b.Press(" ", kb.ArrowDown, " ")
	b.tabTo(key("b-swap"))
	b.Press(kb.Enter)
	b.Until(`document.querySelector("#stage img").src !== %s`, before)
	b.settled()
	b.click(key("stash"))
	b.Until(`!document.querySelector("#answer progress")`)
	b.settled()
	b.click(key("patch2,2"))
	b.Until(`document.querySelector('[data-key^="cloth"]')`)
	b.Shot("top-hang")
	b.click(`[data-key^="cloth"]`)
	b.settled()
	b.Until(`document.querySelector('[data-key="b-undo"]').getAttribute("aria-label").includes("another cloth in row 2, patch 2")`)
	for _, view := range []string{"grey", "squint", "colour"} {
		b.click(`input[name="view"][value="` + view + `"]`)
		b.Until(`document.querySelector("#stage img").complete && document.querySelector("#stage img").naturalWidth > 0`)
	}
	b.Press(kb.Escape)
	b.click(key("b-back"))
	b.settled()
	b.Until(`!document.querySelector('[data-key="b-back"]')`)
}

func TestBrowserPutsABorderRight(t *testing.T) {
	dir := basket(t, 900)
	print := scene.AnyBorder(5)
	print.Width = 900
	write(t, dir, "a-border.jpg", print)
	address, _, _ := serve(t, Options{Folder: dir})
	b := openTab(t, address, 1280, 1300)
	b.click(key("qborder"))
	b.settled()
	b.Until(`document.querySelector('[data-key="colour0"], [data-key="b-colour0"]')`)
	b.click(key("stash"))
	b.Until(`document.querySelector('[data-key^="cloth"]')`)
	b.settled()
	b.Shot("border-found")

	b.click(key("b-colour0"))
	b.settled()
	b.Until(`document.querySelector('[data-key="b-colour0"]').textContent === "Keep"`)
	b.tabTo(key("b-colour0"))
	b.Press(kb.Enter)
	b.Until(`document.querySelector('[data-key="b-colour0"]').textContent === "Drop"`)
	b.settled()
	on := eval[int](b, `document.querySelectorAll('[data-key^="cloth"][aria-pressed="true"]').length`)
	b.click(`[data-key^="cloth"][aria-pressed="true"]`)
	b.settled()
	b.Until(`document.querySelectorAll('[data-key^="cloth"][aria-pressed="true"]').length === %s`, on-1)
	b.click(key("b-own"))
	b.settled()

	// The part that is the print, by keyboard.
	b.tabTo(key("b-at"))
	b.Press(kb.Enter)
	b.Until(`document.activeElement.matches('[data-key="h-Middle of the box"]')`)
	b.Press(kb.ArrowDown)
	b.Press("\t")
	b.Press(kb.ArrowRight, kb.ArrowDown)
	b.Shot("border-at")
	b.tabTo(key("b-take"))
	b.Press(kb.Enter)
	b.settled()
	b.Until(`document.querySelector('[data-key="b-at"]')`)
	require.NotNil(t, corrections(t, dir).Photos[0].At)
}

// A card is shown in the photo of a top and of a print as in that of scraps: its box is
// dragged, what lies under it is said, and by keyboard it is taken.
func TestBrowserShowsTheCardOfATopAndOfAPrint(t *testing.T) {
	dir := t.TempDir()
	top := scene.AnyTop(3)
	top.Width = 700
	write(t, dir, "a-wall.jpg", top)
	print := scene.AnyBorder(5)
	print.Width = 700
	write(t, dir, "border.jpg", print)
	address, _, _ := serve(t, Options{Folder: dir})
	b := openTab(t, address, 1280, 1200)
	for _, kind := range []string{"layout", "border"} {
		name := map[string]string{"layout": "a-wall.jpg", "border": "border.jpg"}[kind]
		b.radio("question", kind)
		b.settled()
		b.click(key("photo" + idOf(filepath.Join(dir, name))))
		b.Until(`document.querySelector('[data-key="b-card"]')`)
		b.settled()
		b.keys(key("b-card"), kb.Enter)
		b.Until(`document.querySelector(".under").textContent.includes("lightness about")`)
		was := b.text(".under")
		p := b.Where(".picture img")
		b.drag(p.X+.05*p.W, p.Y+.05*p.H, p.X+.12*p.W, p.Y+.1*p.H)
		b.Until(`document.querySelector(".under").textContent !== %s`, was)
		b.Shot("card-" + kind)
		b.keys(key("cardlight"), kb.Backspace, kb.Backspace, "6", "0")
		b.keys(key("b-take"), kb.Enter)
		b.settled()
		given := false
		for _, c := range corrections(t, dir).Photos {
			if c.Photo == filepath.Join(dir, name) && c.Card != nil {
				given = true
				require.Equal(t, 60., c.CardLightness)
				require.InDelta(t, .05*700, c.Card[0], 8)
			}
		}
		require.True(t, given, kind)
		b.Until(`document.querySelector('[data-key="b-nocard"]') || document.querySelector("#trouble, #tools").textContent`)
		b.chord("z")
		b.Until(`!document.querySelector('[data-key="b-nocard"]')`)
		b.settled()
	}
}

// Where no top is found in a photo she is not at its end: she shows where the patches
// are, by touch, and has her answer.
func TestBrowserShowsWhereATopIsThatWasNotFound(t *testing.T) {
	dir := t.TempDir()
	write(t, dir, "plain.jpg", scene.Closeup{Take: scene.Take{Width: 500, Height: 400, Seed: 4, Camera: scene.Phone()}, Cloth: scene.AnyCloths(4, 1)[0]})
	address, _, _ := serve(t, Options{Folder: dir})
	b := openTab(t, address, 1280, 1100)
	b.click(key("qlayout"))
	b.settled()
	b.Until(`document.querySelector('[data-key="b-grid"]')`)
	b.Shot("top-not-found")
	b.click(key("b-grid"))
	b.Until(`document.querySelector('[data-key="h-Top left corner"]')`)
	b.click(key("b-lessRows"))
	b.click(key("b-take"))
	b.settled()
	b.Until(`document.querySelector('[data-key="patch3,4"]')`)
	require.Nil(t, eval[any](b, `document.querySelector('[data-key="patch4,1"]')`))
	require.Equal(t, 3, corrections(t, dir).Photos[0].Grid.Rows)
}
