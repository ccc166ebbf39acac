//go:build browser

package report

// Tests of the page in a real browser: headless Chromium, found on the path.
// They are behind the build tag browser, so that the other tests need nothing
// that is not in this repository. Without a browser they fail.

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
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

// tab is a page in the browser. Whatever it complains of and whatever it asks
// for fails the test.
type tab struct {
	testing.TB
	ctx context.Context

	mu       sync.Mutex
	protests []string
}

// open shows html in a new tab of so many CSS pixels.
func open(t testing.TB, html string, width, height int64) *tab {
	t.Helper()
	name := "a page's \"own\" näme, 100 % # 寝具 " + strings.Repeat("x", 160) + ".html"
	file := filepath.Join(t.TempDir(), name)
	require.NoError(t, os.WriteFile(file, []byte(html), 0o644))
	address := (&url.URL{Scheme: "file", Path: filepath.ToSlash(file)}).String()
	b := &tab{TB: t}
	ctx, cancel := chromedp.NewContext(chromium, chromedp.WithListener(func(ev any) { b.listen(ev, address) }))
	ctx, late := context.WithTimeout(ctx, 3*time.Minute)
	b.ctx = ctx
	t.Cleanup(func() {
		b.mu.Lock()
		assert.Empty(t, b.protests)
		b.mu.Unlock()
		late()
		cancel()
	})
	do(b, network.Enable, network.EnableParams{})
	b.do(chromedp.EmulateViewport(width, height), chromedp.Navigate(address))
	b.until(`Promise.all(Array.from(document.images).map(function (i) { return i.decode(); })).then(function () { return true; })`)
	return b
}

func (b *tab) listen(ev any, address string) {
	say := ""
	switch e := ev.(type) {
	case *network.EventRequestWillBeSent:
		if u := e.Request.URL; u != address && !strings.HasPrefix(u, "data:") && !strings.HasPrefix(u, "blob:") {
			say = "asked for " + u
		}
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
	if say != "" {
		b.mu.Lock()
		b.protests = append(b.protests, say)
		b.mu.Unlock()
	}
}

func (b *tab) do(steps ...chromedp.Action[chromedp.Void]) {
	b.Helper()
	require.NoError(b, chromedp.Do(b.ctx, steps...))
}

// do sends a command of the browser's protocol.
func do[P, R any](b *tab, c cdp.Command[P, R], params P) R {
	b.Helper()
	out, err := chromedp.Run(b.ctx, func(ctx context.Context, t *chromedp.Target) (R, error) { return cdp.Call(ctx, t, c, params) })
	require.NoError(b, err)
	return out
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
	for end := time.Now().Add(20 * time.Second); ; {
		if eval[bool](b, "Boolean("+condition+")", args...) {
			return
		}
		if time.Now().After(end) {
			require.Fail(b, "it did not come true", "%s %v", condition, args)
		}
		time.Sleep(15 * time.Millisecond)
	}
}

type rect struct{ X, Y, W, H float64 }

// where is the place of an element in the window, after it was scrolled to the
// middle.
func (b *tab) where(selector string) rect {
	b.Helper()
	return eval[rect](b, `(function () {
		const e = document.querySelector(%s);
		e.scrollIntoView({ block: "center", behavior: "instant" });
		const r = e.getBoundingClientRect();
		return { X: r.left, Y: r.top, W: r.width, H: r.height };
	})()`, selector)
}

// click presses the mouse on the middle of an element.
func (b *tab) click(selector string) {
	b.Helper()
	p := b.where(selector)
	b.do(chromedp.MouseClickXY(p.X+p.W/2, p.Y+p.H/2))
}

// press types keys of package kb.
func (b *tab) press(keys ...string) {
	b.Helper()
	for _, k := range keys {
		b.do(chromedp.KeyEvent(k))
	}
}

// show sets the switch by a click and waits for the picture to follow.
func (b *tab) show(view, figure string) {
	b.Helper()
	b.click("#view-" + view)
	b.shows(figure, view)
}

// shows waits until a figure shows a view. Only pictures near the window
// follow the switch at once, so it is scrolled to.
func (b *tab) shows(figure, view string) {
	b.Helper()
	b.where(figure)
	b.until(`(document.querySelector(%s).getAttribute("data-shows") || "").startsWith(%s)`, figure, view+" ")
	b.until(`new Promise(function (r) { requestAnimationFrame(function () { requestAnimationFrame(function () { r(true); }); }); })`)
}

// drawn are the pixels that the page's script drew on a canvas.
func (b *tab) drawn(canvas string) *image.NRGBA {
	b.Helper()
	return decode(b, eval[string](b, `document.querySelector(%s).toDataURL("image/png").split(",")[1]`, canvas))
}

func decode(t testing.TB, base64 string) *image.NRGBA {
	t.Helper()
	var data []byte
	require.NoError(t, json.Unmarshal([]byte(`"`+base64+`"`), &data))
	return asNRGBA(t, data)
}

func asNRGBA(t testing.TB, data []byte) *image.NRGBA {
	t.Helper()
	img, err := png.Decode(bytes.NewReader(data))
	require.NoError(t, err)
	out := image.NewNRGBA(img.Bounds())
	draw.Draw(out, out.Rect, img, img.Bounds().Min, draw.Src)
	return out
}

// seen is what is on the screen.
func (b *tab) seen() *image.NRGBA {
	b.Helper()
	data, err := chromedp.Run(b.ctx, chromedp.CaptureScreenshot())
	require.NoError(b, err)
	return asNRGBA(b, data)
}

// seenAt is the colour on the screen at shares of an element.
func (b *tab) seenAt(selector string, x, y float64) color.NRGBA {
	b.Helper()
	p := b.where(selector)
	return b.seen().NRGBAAt(int(p.X+p.W*x), int(p.Y+p.H*y))
}

func pngOf(t testing.TB, img image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, png.Encode(&b, img))
	return b.Bytes()
}
