//go:build browser

package open

import (
	"context"
	"crypto/sha256"
	"fmt"
	"math"
	"path/filepath"
	"testing"
	"time"

	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/require"

	"greige/analyze/cloth"
	"greige/analyze/photo"
	"greige/analyze/piles"
	"greige/analyze/stash"
	"greige/colorspace"
)

// wallNumbers are the numbers on the wall, in its order.
func wallNumbers(b *tab) string {
	b.Helper()
	return eval[string](b, `[...document.querySelectorAll('#stage [data-key^="kept"]')].map((d) => d.dataset.key.slice(4)).join(" ")`)
}

// changesTheStash: something is cut from number 5, number 3 is taken out, and both are
// taken back and done again; the wall hangs with the newest first.
func changesTheStash(b *tab, address string) {
	b.Helper()
	left := func(id string) float64 {
		for _, c := range wallOf(b.TB, address, keptQuestion{}).Cloths {
			if c.ID == id {
				return *c.Left
			}
		}
		return math.NaN()
	}
	was := left("5")
	b.Press(kb.Escape) // what was chosen before
	b.keys(`#wall [tabindex="0"]`, kb.Home, kb.ArrowRight)
	require.Equal(b, "kept5", eval[string](b, `document.activeElement.dataset.key`), "the arrow keys walk over the wall")
	b.Press(kb.Enter)
	b.keys(key("patches"), "2")
	b.keys(key("side"), kb.Delete, kb.Delete, kb.Delete, "3")
	b.keys(key("b-use"), kb.Enter)
	b.Until(`document.querySelector("#tools").textContent.includes("18 square centimetres cut from number 5")`)
	require.InDelta(b, was-18, left("5"), 1e-6)
	b.chord("z")
	b.Until(`document.querySelector("#tools").textContent.includes("Taken back")`)
	require.InDelta(b, was, left("5"), 1e-6)
	b.keys(key("b-redo"), kb.Enter)
	b.Until(`document.querySelector("#tools").textContent.includes("Done again")`)
	require.InDelta(b, was-18, left("5"), 1e-6)
	b.Press(kb.Escape)
	b.keys(`#wall [tabindex="0"]`, kb.End, kb.ArrowLeft, kb.ArrowLeft, kb.Enter)
	b.Shot("stash-chosen")
	b.keys(key("b-drop"), kb.Enter)
	b.Until(`document.querySelectorAll('#stage [data-key^="kept"]').length === 5`)
	require.Equal(b, "6 5 4 2 1", wallNumbers(b))
	b.Until(`document.activeElement.dataset.key === "kept2"`) // what hangs there now
	b.Shot("stash-dropped")
	b.keys(key("b-undo"), kb.Enter)
	b.Until(`document.querySelectorAll('#stage [data-key^="kept"]').length === 6`)
	require.Equal(b, "6 5 4 3 2 1", wallNumbers(b))
	require.NotEmpty(b, eval[string](b, `document.activeElement.dataset.key`), "nobody is thrown out")
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
	b.Until(`document.querySelector('#stage [data-key^="kept"]').dataset.key === "kept6"`)
	require.Equal(t, "6 5 4 3 2 1", wallNumbers(b))
	changesTheStash(b, address)
	b.radio("order", "light")
	b.Until(`document.querySelector('#stage .pile')`)
	for _, width := range []int64{1280, 768, 390} {
		b := openTab(t, address, width, 900)
		b.click(key("qwall"))
		b.Until(`document.querySelectorAll('#stage [data-key^="kept"]').length === 6`)
		b.settled()
		b.click(key("kept2"))
		require.LessOrEqual(t, eval[float64](b, `document.documentElement.scrollWidth`), float64(width), "nothing is wider than the window")
		b.Until(`document.querySelector('[data-key="b-drop"]')`)
		b.Shot(fmt.Sprintf("stash-%d", width))
	}
	b.radio("question", "sort")
	b.settled()
	b.Until(`document.querySelector('[data-key="piece1"]')`)
}

// manyKept is a stash of n cloths, from light to dark, each of a colour of its own.
func manyKept(t testing.TB, n int) (file string) {
	t.Helper()
	file = filepath.Join(t.TempDir(), "stash.db")
	s, err := stash.Create(file)
	require.NoError(t, err)
	defer s.Close()
	var pictures []*cloth.Swatch
	for i := range 40 {
		p := photo.New(160, 120)
		for j := range p.Pix {
			p.Pix[j] = .02 + .9*float32((j/3+7*i)%(10+i))/float32(10+i)
		}
		pictures = append(pictures, cloth.NewSwatch(p, nil, 176))
	}
	var photos []stash.Photo
	for i := range n {
		l := colorspace.Lab{L: 95 - 85*float64(i)/float64(n), A: 20 * math.Cos(float64(i)), B: 20 * math.Sin(float64(i))}
		f := piles.Fabric{Scrap: i%5 + 1, AreaCM2: 50 + float64(i*37%400), Cloth: cloth.Cloth{Lab: l, Lightness: l.L, Uncertainty: 2, Apart: .5, MunsellValue: l.L / 10,
			Character: cloth.Solid, Name: colorspace.Name(l), Swatch: pictures[i%len(pictures)], Colours: []cloth.Colour{{Lab: l, Hex: l.Linear().Hex(), Share: 1}}}}
		if i%5 == 0 {
			photos = append(photos, stash.Photo{Hash: sha256.Sum256(fmt.Append(nil, i)), Name: fmt.Sprintf("photo-%d.jpg", i), Added: time.Unix(1.7e9, 0)})
		}
		p := &photos[len(photos)-1]
		p.Fabrics = append(p.Fabrics, f)
	}
	_, err = s.Add(context.Background(), photos)
	require.NoError(t, err)
	return file
}

const onTheWall = `document.querySelectorAll('#wall [data-key^="kept"]').length`

// A long wall hangs some screens full, and the rest as she comes to it, in the order
// of the whole stash; what is done to a cloth far down leaves her there.
func TestBrowserALongWall(t *testing.T) {
	const n = 500
	address, _, _ := serve(t, Options{Folder: t.TempDir(), Stash: manyKept(t, n)})
	b := openTab(t, address, 1280, 900)
	b.radio("question", "wall")
	b.Until(onTheWall+` >= %s`, atOnce)
	b.settled()
	require.Less(t, eval[float64](b, onTheWall), float64(n))
	require.Contains(t, b.text("#headline"), "500 cloths")
	b.Shot("wall-long")
	for eval[float64](b, onTheWall) < n {
		was := eval[float64](b, onTheWall)
		eval[any](b, `window.scrollTo(0, document.documentElement.scrollHeight)`)
		b.Until(onTheWall+` > %s`, was)
	}
	require.Equal(t, float64(n), eval[float64](b, `new Set([...document.querySelectorAll('#wall [data-key^="kept"]')].map((e) => e.dataset.key)).size`), "each hangs once")
	require.Equal(t, "kept1", eval[string](b, `document.querySelector('#wall [data-key^="kept"]').dataset.key`), "the lightest first")
	require.Empty(t, b.text("#wallend"))
	require.Equal(t, eval[float64](b, `document.querySelectorAll("#wall .pile:first-child li").length`), eval[float64](b, `Number(document.querySelector("#wall .pile h2").textContent.match(/\d+/)[0])`), "a pile says how many it has")

	eval[any](b, `document.querySelector('[data-key="kept400"]').focus()`)
	b.Press(kb.ArrowLeft, kb.ArrowDown, kb.ArrowUp, kb.Enter)
	b.keys(key("b-drop"), kb.Enter)
	b.Until(onTheWall+` === %s && document.activeElement.dataset.key === "kept400"`, n-1)
	require.True(t, eval[bool](b, `(function () { const r = document.activeElement.getBoundingClientRect(); return r.top >= 0 && r.bottom <= innerHeight; })()`), "she is where she was")
	b.chord("z")
	b.Until(onTheWall+` >= %s && document.querySelector('[data-key="kept399"]')`, atOnce)

	// The order is that of all of them, not of those that hang already.
	b.radio("order", "number")
	b.Until(`document.querySelector('#wall [data-key^="kept"]').dataset.key === "kept500"`)
	b.radio("order", "left")
	b.Until(`document.querySelector('#wall [data-key^="kept"]').getAttribute("aria-label").includes("449")`)
	b.keys(key("b-more"), kb.Enter)
	b.Until(onTheWall+` > %s`, atOnce)
}

// On a narrow screen what is known of a cloth in the middle of a long wall is in sight.
func TestBrowserALongWallOnANarrowScreen(t *testing.T) {
	address, _, _ := serve(t, Options{Folder: t.TempDir(), Stash: manyKept(t, 300)})
	b := openTab(t, address, 390, 800)
	b.click(key("qwall"))
	b.Until(onTheWall+` >= %s`, atOnce)
	b.click(key("kept60"))
	b.Until(`document.querySelector('#sheet [data-key="b-drop"]')`)
	require.True(t, eval[bool](b, `(function () { const r = document.querySelector("#sheet").getBoundingClientRect(); return r.top > 0 && r.bottom <= innerHeight + 1; })()`))
	b.click(key("b-drop"))
	b.Until(`!document.querySelector('[data-key="kept60"]') && document.querySelector("#sheet").textContent.includes("Undo")`)
	b.Shot("wall-390")
}

// BenchmarkBrowserWall tells how long a wall of 10,000 cloths takes, in ms: until it can
// be used, to another order, to a filter, to the next ones, and the longest time that
// one frame takes while it is scrolled.
func BenchmarkBrowserWall(b *testing.B) {
	address, _, _ := serve(b, Options{Folder: b.TempDir(), Stash: manyKept(b, 10_000)})
	page := openTab(b, address, 1280, 900)
	page.Until(`document.querySelector('[data-key="qwall"]')`)
	took := func(what, act, done string) {
		b.Helper()
		ms := eval[float64](page, `new Promise((ready) => { const since = performance.now(); (`+act+`); (function look() { if (`+done+`) requestAnimationFrame(() => ready(performance.now() - since)); else setTimeout(look, 4); })(); })`)
		b.ReportMetric(ms, "ms-"+what)
	}
	for range b.N {
		took("open", `document.querySelector('[data-key="qwall"]').click()`, onTheWall+` >= 120`)
		took("order", `document.querySelector('input[name="order"][value="number"]').click()`, `document.querySelector('#wall [data-key^="kept"]').dataset.key === "kept10000"`)
		took("filter", `document.querySelector('[data-key="piledark"]').click()`, `document.querySelector('#wall [data-key^="kept"]').dataset.key === "kept10000" && document.querySelector("#headline").textContent.includes(" of your ")`)
		took("all-again", `document.querySelector('[data-key="b-all"]').click()`, `document.querySelector("#headline").textContent.startsWith("All your")`)
		took("next-120", `document.querySelector('[data-key="b-more"]').click()`, onTheWall+` >= 240`)
		took("scroll-3000", `scrollTo(0, 1e9)`, `(scrollTo(0, document.documentElement.scrollHeight), `+onTheWall+` >= 3000)`)
		longest := eval[float64](page, `new Promise((ready) => { let last = performance.now(), longest = 0, n = 0; (function frame(now) { longest = Math.max(longest, now - last); last = now; scrollTo(0, document.documentElement.scrollHeight * n / 120); if (n++ < 120) requestAnimationFrame(frame); else ready(longest); })(last); })`)
		b.ReportMetric(longest, "ms-longest-frame")
		took("choose", `document.querySelectorAll('#wall [data-key^="kept"]')[1500].click()`, `document.querySelector('[data-key="b-near"]')`)
		page.Until(`document.querySelector('[data-key="b-near"]')`)
		took("nearest", `document.querySelector('[data-key="b-near"]').click()`, `document.querySelector('[data-key="b-notnear"]')`)
	}
	b.ReportMetric(0, "ns/op")
}
