//go:build browser

package open

import (
	"path/filepath"
	"strconv"
	"testing"

	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/require"

	"greige/analyze"
	"greige/analyze/scene"
)

// keys presses Tab to what the selector says and then the keys.
func (b *tab) keys(selector string, keys ...string) {
	b.Helper()
	b.tabTo(selector)
	b.Press(keys...)
}

// radio goes by Tab to a group of radio buttons and by the arrow keys to one value
// of it, answer by answer.
func (b *tab) radio(name, value string) {
	b.Helper()
	b.tabTo(`input[name="` + name + `"]`)
	for range 4 {
		if eval[bool](b, `document.activeElement.value === %s`, value) {
			return
		}
		b.Press(kb.ArrowRight)
		b.settled()
		b.Until(`document.activeElement.matches(%s)`, `input[name="`+name+`"]`)
	}
	require.True(b, eval[bool](b, `document.activeElement.value === %s`, value), "the arrow keys reach %s of %s", value, name)
}

// Everything that can be put right in a photo of scraps, without a mouse.
func TestBrowserScrapsByKeyboardAlone(t *testing.T) {
	dir := basket(t, 1200)
	address, _, _ := serve(t, Options{Folder: dir})
	b := openTab(t, address, 1280, 1000)
	require.Equal(t, "1 2 3 4 5 6", numbers(b))

	// These are one.
	b.keys(key("piece1"), " ")
	b.Until(`document.activeElement.matches(%s)`, key("piece1"))
	for _, k := range []string{kb.ArrowRight, kb.ArrowDown} { // whichever lies there
		if eval[string](b, `document.activeElement.dataset.key`) == "piece1" {
			b.Press(k)
		}
	}
	other := eval[string](b, `document.activeElement.dataset.key.slice(5)`)
	require.NotEqual(t, "1", other)
	b.Press(" ", "o")
	b.Until(`!document.querySelector(%s)`, key("piece"+other))
	b.settled()
	require.Len(t, corrections(t, dir).Photos[0].Pieces, 1)
	b.chord("z")
	b.Until(`document.querySelector(%s)`, key("piece"+other))
	b.settled()

	// A box round one that was missed: moved by the arrow keys, made larger by its
	// corner, taken.
	b.keys(key("b-box"), kb.Enter)
	b.Until(`document.activeElement.matches('[data-key="h-Middle of the box"]')`)
	for range 60 {
		b.Press(kb.ArrowRight)
	}
	for range 46 {
		b.Press(kb.ArrowDown)
	}
	b.keys(key("h-Lower right corner of the box"), kb.ArrowRight, kb.ArrowDown)
	b.keys(key("b-take"), kb.Enter)
	b.Until(`document.querySelector('[data-key="piece7"]')`)
	b.settled()
	given := corrections(t, dir).Photos[0].Pieces
	require.Len(t, given, 1)
	require.Len(t, given[0].Outline, 4)
	require.True(t, given[0].Cloth)
	b.chord("z")
	b.Until(`!document.querySelector('[data-key="piece7"]')`)
	b.settled()

	// The whole photo is one cloth; several again.
	b.radio("scraps", "one")
	b.settled()
	b.Until(`document.querySelectorAll("#stage .disc").length === 1`)
	require.Equal(t, analyze.ScrapsOne, corrections(t, dir).Photos[0].Scraps)
	b.radio("scraps", "many")
	b.settled()
	b.Until(`document.querySelectorAll("#stage .disc").length === 6`)

	// The card's place, and away with it; two piles.
	b.keys(key("b-card"), kb.Enter)
	b.Until(`document.activeElement.matches('[data-key="h-Middle of the box"]')`)
	for range 70 {
		b.Press(kb.ArrowLeft)
	}
	b.keys(key("b-take"), kb.Enter)
	b.Until(`document.querySelector('[data-key="b-nocard"]')`)
	b.settled()
	require.NotNil(t, corrections(t, dir).Photos[0].Card)
	b.keys(key("b-nocard"), kb.Enter)
	b.Until(`!document.querySelector('[data-key="b-nocard"]')`)
	b.settled()
	require.Nil(t, corrections(t, dir).Photos[0].Card)
	b.radio("piles", "2")
	b.settled()
	require.Equal(t, 2, now(t, address).Question.Piles)
}

// Everything that can be put right and tried with a top, without a mouse.
func TestBrowserTopByKeyboardAlone(t *testing.T) {
	dir := wall(t)
	address, _, _ := serve(t, Options{Folder: dir})
	b := openTab(t, address, 1280, 1300)
	b.radio("question", "layout")
	b.settled()
	b.keys(key("photo"+idOf(filepath.Join(dir, "wall.jpg"))), kb.Enter)
	b.Until(`document.querySelectorAll('[data-key^="patch"]').length > 3`)
	b.settled()
	before := now(t, address).Top

	// Corners, rows and columns, on point and straight.
	b.keys(key("b-grid"), kb.Enter)
	b.keys(key("h-Top left corner"), kb.ArrowRight, kb.ArrowDown)
	b.keys(key("b-moreRows"), kb.Enter)
	b.Until(`document.querySelector('[data-key="n-Rows"]').value === %s`, strconv.Itoa(before.Rows+1))
	b.keys(key("b-lessRows"), kb.Enter)
	b.keys(key("n-Columns"), kb.ArrowUp)
	b.Until(`document.querySelector('[data-key="n-Columns"]').value === %s`, strconv.Itoa(before.Cols+1))
	b.keys(key("b-lessColumns"), kb.Enter)
	b.radio("setting", "on-point")
	b.Shot("top-on-point")
	b.radio("setting", "straight")
	for name, want := range map[string]int{"Rows": before.Rows, "Columns": before.Cols} {
		for range 40 { // on point they were made alike
			has := eval[int](b, `Number(document.querySelector('[data-key="n-'+%s+'"]').value)`, name)
			if has == want {
				break
			}
			b.keys(key(map[bool]string{true: "b-more", false: "b-less"}[has < want]+name), kb.Enter)
		}
	}
	b.keys(key("b-take"), kb.Enter)
	b.settled()
	b.Until(`document.querySelector('[data-key="b-paint"]')`)
	g := corrections(t, dir).Photos[0].Grid
	require.Equal(t, [2]int{before.Rows, before.Cols}, [2]int{g.Rows, g.Cols})
	require.Greater(t, g.Corners[0][0], before.Corners[0][0])
	require.Equal(t, "straight", string(g.Setting))

	// What patches are meant to be.
	b.keys(key("b-paint"), kb.Enter)
	for _, p := range []struct{ key, meant string }{{"d", "dark"}, {"l", "light"}, {"m", "medium"}, {".", "as anything"}} {
		b.tabTo(`[data-key="patch1,1"]`)
		b.Press(p.key)
		b.Until(`document.querySelector('[data-key="patch1,1"]').getAttribute("aria-label").includes(%s)`, "meant "+p.meant)
		b.settled()
	}
	b.Press(kb.ArrowRight, "d")
	b.Until(`document.querySelector('[data-key="patch1,2"]').getAttribute("aria-label").includes("meant dark")`)
	b.settled()
	require.Equal(t, ".D", corrections(t, dir).Photos[0].Grid.Chart.Rows[0][:2])
	b.keys(key("b-nochart"), kb.Enter)
	b.settled()
	require.Nil(t, corrections(t, dir).Photos[0].Grid.Chart)
	b.Press(kb.Escape)
	b.Until(`document.querySelector('[data-key="b-hang"]')`)

	// Swap two, and hang another cloth.
	b.keys(key("b-hang"), kb.Enter)
	b.tabTo(`[data-key="patch1,1"]`)
	b.Press(" ", kb.ArrowDown, " ")
	b.keys(key("b-swap"), kb.Enter)
	b.settled()
	b.Until(`document.querySelector('[data-key="b-undo"]').getAttribute("aria-label").includes("changed places")`)
	b.keys(key("stash"), " ")
	b.settled()
	b.tabTo(`[data-key="patch1,1"]`)
	b.Press(kb.ArrowRight, " ")
	b.Until(`document.querySelector('[data-key^="cloth"]')`)
	b.keys(`[data-key^="cloth"]`, kb.Enter)
	b.settled()
	b.Until(`document.querySelector('[data-key="b-undo"]').getAttribute("aria-label").includes("another cloth in row 1, patch 2")`)
	b.Press(kb.Escape)
	b.radio("view", "squint")
	b.keys(key("b-back"), kb.Enter)
	b.settled()
	require.Zero(t, now(t, address).Top.Tried)
}

// Everything that can be put right and tried with a border print, without a mouse.
func TestBrowserBorderByKeyboardAlone(t *testing.T) {
	dir := basket(t, 900)
	print := scene.AnyBorder(5)
	print.Width = 900
	write(t, dir, "a-border.jpg", print)
	address, _, _ := serve(t, Options{Folder: dir})
	b := openTab(t, address, 1280, 1300)
	b.radio("question", "border")
	b.settled()
	b.keys(key("stash"), " ")
	b.settled()
	b.Until(`document.querySelector('[data-key^="cloth"]')`)

	// Drop a colour and keep it.
	b.keys(key("b-colour0"), kb.Enter)
	b.settled()
	b.Until(`document.querySelector('[data-key="b-colour0"]').textContent === "Keep"`)
	require.True(t, now(t, address).Print.Colours[0].Out)
	b.keys(key("b-colour0"), kb.Enter)
	b.settled()
	b.Until(`document.querySelector('[data-key="b-colour0"]').textContent === "Drop"`)

	// Other cloths in the middle, and the program's own choice again.
	own := now(t, address).Print.Chosen
	b.keys(`[data-key^="cloth"][aria-pressed="false"]`, kb.Enter)
	b.settled()
	require.Len(t, now(t, address).Print.Chosen, len(own)+1)
	require.True(t, now(t, address).Print.Own)
	b.keys(`[data-key^="cloth"][aria-pressed="true"]`, " ")
	b.settled()
	require.Len(t, now(t, address).Print.Chosen, len(own))
	b.keys(key("b-own"), kb.Enter)
	b.settled()
	require.Equal(t, own, now(t, address).Print.Chosen)

	// The part that is the print.
	b.keys(key("b-at"), kb.Enter)
	b.Until(`document.activeElement.matches('[data-key="h-Middle of the box"]')`)
	b.keys(key("h-Lower right corner of the box"), kb.ArrowLeft, kb.ArrowUp)
	b.keys(key("b-take"), kb.Enter)
	b.settled()
	b.Until(`document.querySelector('[data-key="b-at"]')`)
	require.NotNil(t, corrections(t, dir).Photos[0].At)
}
