//go:build browser

package browsertest

import (
	"context"
	_ "embed"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/log"
	cdppage "github.com/chromedp/cdproto/page"
	cdpruntime "github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// chromium is the browser that all tests of a package open their pages in.
var chromium context.Context

// Main runs the tests of a package with a browser, for its TestMain.
func Main(m *testing.M) {
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

// Tab is a page in the browser. What it complains of fails the test.
type Tab struct {
	testing.TB
	Ctx context.Context
	May string // what it may complain of

	also     func(ev any) string
	mu       sync.Mutex
	protests []string
}

// New is an empty tab for the length of a test. also, if not nil, says of an event of
// the browser what is wrong with it, "" for nothing.
func New(t testing.TB, also func(ev any) string) *Tab {
	b := &Tab{TB: t, also: also}
	ctx, cancel := chromedp.NewContext(chromium, chromedp.WithListener(b.listen))
	ctx, late := context.WithTimeout(ctx, 3*time.Minute)
	b.Ctx = ctx
	t.Cleanup(func() {
		b.mu.Lock()
		assert.Empty(t, b.protests)
		b.mu.Unlock()
		late()
		cancel()
	})
	return b
}

func (b *Tab) listen(ev any) {
	say := ""
	switch e := ev.(type) {
	case *cdpruntime.EventExceptionThrown:
		say = "exception: " + e.ExceptionDetails.Text
		if e.ExceptionDetails.Exception != nil {
			say += " " + e.ExceptionDetails.Exception.Description
		}
	case *cdpruntime.EventConsoleAPICalled:
		say = "console: " + fmt.Sprint(e.Type)
	case *log.EventEntryAdded:
		say = "log: " + e.Entry.Text
	case *cdppage.EventJavascriptDialogOpening:
		say = "dialog: " + e.Message
	default:
		if b.also != nil {
			say = b.also(ev)
		}
	}
	if say != "" && say != b.May {
		b.mu.Lock()
		b.protests = append(b.protests, say)
		b.mu.Unlock()
	}
}

// Protests are what the page complained of so far, which is then forgotten.
func (b *Tab) Protests() []string {
	b.mu.Lock()
	defer b.mu.Unlock()
	p := b.protests
	b.protests = nil
	return p
}

// Do takes steps in the page.
func (b *Tab) Do(steps ...chromedp.Action[chromedp.Void]) {
	b.Helper()
	require.NoError(b, chromedp.Do(b.Ctx, steps...))
}

// Eval is the value of a JavaScript expression in the page, with args put in for its
// %s as JSON.
func Eval[T any](b *Tab, expression string, args ...any) T {
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
	out, err := chromedp.Run(b.Ctx, chromedp.Evaluate[T](expression, chromedp.EvalAwaitPromise))
	require.NoError(b, err, expression)
	return out
}

// Until waits for a JavaScript condition.
func (b *Tab) Until(condition string, args ...any) {
	b.Helper()
	for end := time.Now().Add(40 * time.Second); ; {
		if Eval[bool](b, "Boolean("+condition+")", args...) {
			return
		}
		if time.Now().After(end) {
			b.Shot("failed")
			require.Fail(b, "it did not come true", "%s %v", condition, args)
		}
		time.Sleep(15 * time.Millisecond)
	}
}

// Rect is a place in the window, in CSS pixels.
type Rect struct{ X, Y, W, H float64 }

// Where is the place of an element in the window, once it is there and was scrolled to
// the middle.
func (b *Tab) Where(selector string) Rect {
	b.Helper()
	b.Until(`document.querySelector(%s)`, selector)
	return Eval[Rect](b, `(function () {
		const e = document.querySelector(%s);
		e.scrollIntoView({ block: "center", behavior: "instant" });
		const r = e.getBoundingClientRect();
		return { X: r.left, Y: r.top, W: r.width, H: r.height };
	})()`, selector)
}

// Press types keys, each a key of package kb or a letter.
func (b *Tab) Press(keys ...string) {
	b.Helper()
	for _, k := range keys {
		b.Do(chromedp.KeyEvent(k))
	}
}

// Shot keeps what is on the screen, where GREIGE_SHOTS names a folder.
func (b *Tab) Shot(name string) {
	b.Helper()
	dir := os.Getenv("GREIGE_SHOTS")
	if dir == "" {
		return
	}
	data, err := chromedp.Run(b.Ctx, chromedp.FullScreenshot(100))
	require.NoError(b, err)
	require.NoError(b, os.WriteFile(filepath.Join(dir, name+".png"), data, 0o644))
}

// axeTags are the rules of WCAG 2.2, A and AA, and the best practices that axe-core has
// besides.
const axeTags = `["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]`

// axe is axe-core (Deque; MPL 2.0, see its folder).
//
//go:embed testdata/axe/axe-core-4.14.1.txt
var axe string

// Axe puts axe-core into the page.
func (b *Tab) Axe() {
	b.Helper()
	b.Do(chromedp.EvaluateAsDevTools[chromedp.Void](axe + ";undefined"))
}

// AxeFinds is what axe-core has to say against the page as it is.
func (b *Tab) AxeFinds() []string {
	b.Helper()
	return Eval[[]string](b, `axe.run(document, { resultTypes: ["violations"], runOnly: `+axeTags+` })
		.then((r) => r.violations.map((v) => v.id + ": " + v.nodes.map((n) => n.target.join(" ") + " " + n.failureSummary).slice(0, 3).join(" | ")))`)
}
