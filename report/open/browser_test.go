//go:build browser

package open

// Tests of the working page in a real browser: headless Chromium, found on the
// path. They are behind the build tag browser, as those of the page that is kept.

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/cdproto/log"
	cdppage "github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// chromium is the browser that all tests open their pages in.
var chromium context.Context

func TestMain(m *testing.M) {
	code := 1
	func() {
		alloc, stop := chromedp.NewExecAllocator(context.Background(), append(chromedp.DefaultExecAllocatorOptions[:],
			chromedp.NoSandbox, chromedp.DisableGPU, chromedp.Flag("disable-component-update", true),
			chromedp.Flag("disable-quic", true), chromedp.Flag("hide-scrollbars", true),
			chromedp.Flag("force-prefers-reduced-motion", true))...)
		defer stop()
		ctx, cancel := chromedp.NewContext(alloc)
		defer cancel()
		if err := chromedp.Do(ctx, chromedp.Navigate("about:blank")); err != nil {
			fmt.Fprintln(os.Stderr, "these tests need Chromium on the path (Debian: apt-get install chromium):", err)
			return
		}
		chromium = ctx
		code = m.Run()
	}()
	os.Exit(code)
}

// tab is the working page in the browser. What it complains of fails the test.
type tab struct {
	testing.TB
	ctx      context.Context
	mu       sync.Mutex
	protests []string
	may      string // what it may complain of
}

func openTab(t testing.TB, address string, width, height int64) *tab {
	t.Helper()
	b := &tab{TB: t}
	ctx, cancel := chromedp.NewContext(chromium, chromedp.WithListener(b.listen))
	ctx, late := context.WithTimeout(ctx, 3*time.Minute)
	b.ctx = ctx
	t.Cleanup(func() {
		b.mu.Lock()
		assert.Empty(t, b.protests)
		b.mu.Unlock()
		late()
		cancel()
	})
	b.do(chromedp.EmulateViewport(width, height), chromedp.Navigate(address))
	b.settled()
	return b
}

func (b *tab) listen(ev any) {
	say := ""
	switch e := ev.(type) {
	case *runtime.EventExceptionThrown:
		say = "exception: " + e.ExceptionDetails.Text
		if e.ExceptionDetails.Exception != nil {
			say += " " + e.ExceptionDetails.Exception.Description
		}
	case *runtime.EventConsoleAPICalled:
		say = "console: " + fmt.Sprint(e.Type)
	case *log.EventEntryAdded:
		say = "log: " + e.Entry.Text
	case *cdppage.EventJavascriptDialogOpening:
		say = "dialog: " + e.Message
	}
	if say != "" && (b.may == "" || say != b.may) {
		b.mu.Lock()
		b.protests = append(b.protests, say)
		b.mu.Unlock()
	}
}

func (b *tab) do(steps ...chromedp.Action[chromedp.Void]) {
	b.Helper()
	require.NoError(b, chromedp.Do(b.ctx, steps...))
}

// eval is the value of a JavaScript expression in the page.
func eval[T any](b *tab, expression string, args ...any) T {
	b.Helper()
	words := make([]any, len(args))
	for i, a := range args {
		data, err := json.Marshal(a)
		require.NoError(b, err)
		words[i] = string(data)
	}
	if len(args) > 0 {
		expression = fmt.Sprintf(expression, words...)
	}
	out, err := chromedp.Run(b.ctx, chromedp.Evaluate[T](expression, chromedp.EvalAwaitPromise))
	require.NoError(b, err, expression)
	return out
}

// until waits for a JavaScript condition.
func (b *tab) until(condition string, args ...any) {
	b.Helper()
	for end := time.Now().Add(40 * time.Second); ; {
		if eval[bool](b, "Boolean("+condition+")", args...) {
			return
		}
		if time.Now().After(end) {
			b.shot("failed")
			require.Fail(b, "it did not come true", "%s %v", condition, args)
		}
		time.Sleep(15 * time.Millisecond)
	}
}

// settled waits until the page shows the answer to what it shows, with all of
// its pictures.
func (b *tab) settled() {
	b.Helper()
	b.until(`document.querySelector("#headline") && !document.querySelector("#answer progress") && !document.documentElement.classList.contains("waiting")`)
	b.until(`[...document.images].every((i) => i.loading === "lazy" || i.complete)`)
}

type rect struct{ X, Y, W, H float64 }

func (b *tab) where(selector string) rect {
	b.Helper()
	b.until(`document.querySelector(%s)`, selector)
	return eval[rect](b, `(function () {
		const e = document.querySelector(%s);
		e.scrollIntoView({ block: "center", behavior: "instant" });
		const r = e.getBoundingClientRect();
		return { X: r.left, Y: r.top, W: r.width, H: r.height };
	})()`, selector)
}

// click clicks what the selector says once it lies still and nothing covers it: the
// page above it may grow while pictures come in.
func (b *tab) click(selector string) {
	b.Helper()
	var p rect
	for end := time.Now().Add(40 * time.Second); ; {
		p = b.where(selector)
		if eval[bool](b, `(async function () {
			await new Promise((next) => requestAnimationFrame(() => requestAnimationFrame(next)));
			const e = document.querySelector(%s), r = e && e.getBoundingClientRect();
			const hit = r && document.elementFromPoint(r.left + r.width / 2, r.top + r.height / 2);
			return Boolean(hit) && r.left === %s && r.top === %s && (e.contains(hit) || hit.contains(e));
		})()`, selector, p.X, p.Y) {
			break
		}
		if time.Now().After(end) {
			b.shot("failed")
			require.Fail(b, "it cannot be clicked", selector)
		}
	}
	b.do(chromedp.MouseClickXY(p.X+p.W/2, p.Y+p.H/2))
}

// press types keys, each a key of package kb or a letter.
func (b *tab) press(keys ...string) {
	b.Helper()
	for _, k := range keys {
		b.do(chromedp.KeyEvent(k))
	}
}

// tabTo presses Tab until what has the focus answers to the selector.
func (b *tab) tabTo(selector string) {
	b.Helper()
	for range 300 {
		if eval[bool](b, `document.activeElement.matches(%s)`, selector) {
			return
		}
		b.press("\t")
	}
	b.shot("failed")
	require.Fail(b, "the Tab key does not reach it", selector)
}

func key(name string) string { return `[data-key="` + name + `"]` }

// text is what an element says.
func (b *tab) text(selector string) string {
	b.Helper()
	return eval[string](b, `(document.querySelector(%s) || { textContent: "" }).textContent`, selector)
}

// shot keeps what is on the screen, where GREIGE_SHOTS names a folder.
func (b *tab) shot(name string) {
	b.Helper()
	dir := os.Getenv("GREIGE_SHOTS")
	if dir == "" {
		return
	}
	data, err := chromedp.Run(b.ctx, chromedp.FullScreenshot(100))
	require.NoError(b, err)
	require.NoError(b, os.WriteFile(filepath.Join(dir, name+".png"), data, 0o644))
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
	b.do(append(steps, chromedp.MouseEvent(input.DispatchMouseEventTypeMouseReleased, x1, y1, left, chromedp.ClickCount(1)))...)
}

// chord presses a key with Control.
func (b *tab) chord(key string) {
	b.Helper()
	b.do(chromedp.KeyEvent(key, chromedp.KeyModifiers(chromedp.ModifierCtrl)))
}

func readFileOf(t testing.TB, path string) []byte {
	t.Helper()
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	return data
}
