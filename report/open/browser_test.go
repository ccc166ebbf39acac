//go:build browser

package open

// Tests of the working page in a real browser, see package browsertest.

import (
	"os"
	"testing"
	"time"

	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"greige/report/browsertest"
)

func TestMain(m *testing.M) { browsertest.Main(m) }

// tab is the working page in the browser. What it complains of fails the test.
type tab struct{ *browsertest.Tab }

func openTab(t testing.TB, address string, width, height int64) *tab {
	t.Helper()
	b := &tab{browsertest.New(t, nil)}
	b.Do(chromedp.EmulateViewport(width, height), chromedp.Navigate(address))
	b.settled()
	return b
}

// eval is the value of a JavaScript expression in the page.
func eval[T any](b *tab, expression string, args ...any) T {
	b.Helper()
	return browsertest.Eval[T](b.Tab, expression, args...)
}

// settled waits until the page shows the answer to what it shows, with all of
// its pictures.
func (b *tab) settled() {
	b.Helper()
	b.Until(`document.querySelector("#headline") && !document.querySelector("#answer progress") && !document.documentElement.classList.contains("waiting")`)
	b.Until(`[...document.images].every((i) => i.loading === "lazy" || i.complete)`)
}

// click clicks what the selector says once it lies still and nothing covers it: the
// page above it may grow while pictures come in.
func (b *tab) click(selector string) {
	b.Helper()
	var p browsertest.Rect
	for end := time.Now().Add(40 * time.Second); ; {
		p = b.Where(selector)
		if eval[bool](b, `(async function () {
			await new Promise((next) => requestAnimationFrame(() => requestAnimationFrame(next)));
			const e = document.querySelector(%s), r = e && e.getBoundingClientRect();
			const hit = r && document.elementFromPoint(r.left + r.width / 2, r.top + r.height / 2);
			return Boolean(hit) && r.left === %s && r.top === %s && (e.contains(hit) || hit.contains(e));
		})()`, selector, p.X, p.Y) {
			break
		}
		if time.Now().After(end) {
			b.Shot("failed")
			require.Fail(b, "it cannot be clicked", selector)
		}
	}
	b.Do(chromedp.MouseClickXY(p.X+p.W/2, p.Y+p.H/2))
}

// tabTo presses Tab until what has the focus answers to the selector.
func (b *tab) tabTo(selector string) {
	b.Helper()
	for range 300 {
		if eval[bool](b, `document.activeElement.matches(%s)`, selector) {
			return
		}
		b.Press("\t")
	}
	b.Shot("failed")
	require.Fail(b, "the Tab key does not reach it", selector)
}

func key(name string) string { return `[data-key="` + name + `"]` }

// text is what an element says.
func (b *tab) text(selector string) string {
	b.Helper()
	return eval[string](b, `(document.querySelector(%s) || { textContent: "" }).textContent`, selector)
}

// drag draws with the mouse.
func (b *tab) drag(x0, y0, x1, y1 float64) {
	b.Helper()
	left := chromedp.ButtonType(input.MouseButtonLeft)
	steps := []chromedp.Action[chromedp.Void]{chromedp.MouseEvent(input.DispatchMouseEventTypeMousePressed, x0, y0, left, chromedp.ClickCount(1))}
	for i := range 5 {
		t := float64(i+1) / 5
		steps = append(steps, chromedp.MouseEvent(input.DispatchMouseEventTypeMouseMoved, x0+(x1-x0)*t, y0+(y1-y0)*t, left))
	}
	b.Do(append(steps, chromedp.MouseEvent(input.DispatchMouseEventTypeMouseReleased, x1, y1, left, chromedp.ClickCount(1)))...)
}

// chord presses a key with Control.
func (b *tab) chord(key string) {
	b.Helper()
	b.Do(chromedp.KeyEvent(key, chromedp.KeyModifiers(chromedp.ModifierCtrl)))
}

func readFileOf(t testing.TB, path string) []byte {
	t.Helper()
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	return data
}
