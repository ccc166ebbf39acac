//go:build browser

package open

import (
	"fmt"
	"path/filepath"
	"testing"

	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/require"
)

// wallNumbers are the numbers on the wall, in its order.
func wallNumbers(b *tab) string {
	b.Helper()
	return eval[string](b, `[...document.querySelectorAll('#stage [data-key^="kept"]')].map((d) => d.dataset.key.slice(4)).join(" ")`)
}

// A sort is kept, and found again on the wall: by keyboard alone.
func TestBrowserStashByKeyboardAlone(t *testing.T) {
	dir, file := basket(t, 900), filepath.Join(t.TempDir(), "stash.db")
	address, _, _ := serve(t, Options{Folder: dir, Stash: file})
	b := openTab(t, address, 1280, 1000)
	b.keys(key("width"), "6", "0", kb.Tab)
	b.keys(key("b-keepthese"), kb.Enter)
	b.Until(`document.querySelector("#below").textContent.includes("six cloths")`)
	b.Until(`document.querySelector('[data-key="b-seestash"]')`)
	b.radio("question", "wall")
	b.Until(`document.querySelectorAll('#stage [data-key^="kept"]').length === 6`)
	b.settled()
	all := wallNumbers(b)
	require.Len(t, wallOf(t, address, keptQuestion{To: 100}).Cloths, 6)

	// Piles, lightness, what is left, kind and colour: each leaves what the program
	// says, and all of it comes back.
	shows := func(q keptQuestion) {
		t.Helper()
		want := wallOf(t, address, q)
		b.Until(`document.querySelectorAll('#stage [data-key^="kept"]').length === %s`, len(want.Cloths))
		require.ElementsMatch(t, onWall(want), eval[[]string](b, `[...document.querySelectorAll('#stage [data-key^="kept"]')].map((d) => d.dataset.key.slice(4))`))
	}
	b.keys(key("pilelight"), " ")
	shows(keptQuestion{Piles: []string{"light"}})
	b.keys(key("b-all"), kb.Enter)
	shows(keptQuestion{})
	b.keys(key("from"), kb.Delete, kb.Delete, "4", "0", kb.Enter)
	shows(keptQuestion{From: 40, To: 100})
	b.keys(key("b-all"), kb.Enter)
	shows(keptQuestion{})
	b.keys(key("left"), kb.Delete, "5", "0", kb.Enter)
	shows(keptQuestion{AtLeast: 50})
	b.keys(key("b-all"), kb.Enter)
	b.keys(key("character"), kb.ArrowDown)
	shows(keptQuestion{Character: "solid"})
	b.keys(key("b-all"), kb.Enter)
	shows(keptQuestion{})
	require.Equal(t, all, wallNumbers(b))

	// Nearest to one of them.
	b.keys(`#stage [data-key^="kept"]`, kb.Enter)
	b.Until(`document.querySelector('[data-key="b-near"]')`)
	first := eval[string](b, `document.querySelector('[aria-pressed="true"][data-key^="kept"]').dataset.key.slice(4)`)
	b.keys(key("b-near"), kb.Enter)
	b.Until(`document.querySelector('[data-key="b-notnear"]')`)
	near := wallOf(t, address, keptQuestion{Near: first})
	require.Equal(t, fmt.Sprint(onWall(near)), "["+wallNumbers(b)+"]")
	b.keys(key("b-notnear"), kb.Enter)
	b.Until(`!document.querySelector('[data-key="b-notnear"]')`)
	b.radio("order", "number")
	require.Equal(t, "6 5 4 3 2 1", wallNumbers(b))
	b.radio("order", "light")
	for _, width := range []int64{1280, 768, 390} {
		b := openTab(t, address, width, 900)
		b.click(key("qwall"))
		b.Until(`document.querySelectorAll('#stage [data-key^="kept"]').length === 6`)
		b.settled()
		require.LessOrEqual(t, eval[float64](b, `document.documentElement.scrollWidth`), float64(width), "nothing is wider than the window")
		b.Shot(fmt.Sprintf("stash-%d", width))
	}
	b.radio("question", "sort")
	b.settled()
	b.Until(`document.querySelector('[data-key="piece1"]')`)
}
