//go:build browser

package report

// Tests of the page in a real browser, see package browsertest.

import (
	"bytes"
	"context"
	"encoding/json"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"greige/report/browsertest"
)

func TestMain(m *testing.M) { browsertest.Main(m) }

// tab is a page in the browser. Whatever it complains of and whatever it asks
// for fails the test.
type tab struct{ *browsertest.Tab }

// open shows html in a new tab of so many CSS pixels.
func open(t testing.TB, html string, width, height int64) *tab {
	t.Helper()
	name := "a page's \"own\" näme, 100 % # 寝具 " + strings.Repeat("x", 160) + ".html"
	file := filepath.Join(t.TempDir(), name)
	require.NoError(t, os.WriteFile(file, []byte(html), 0o644))
	address := (&url.URL{Scheme: "file", Path: filepath.ToSlash(file)}).String()
	b := &tab{browsertest.New(t, func(ev any) string {
		e, ok := ev.(*network.EventRequestWillBeSent)
		if !ok || e.Request.URL == address || strings.HasPrefix(e.Request.URL, "data:") || strings.HasPrefix(e.Request.URL, "blob:") {
			return ""
		}
		return "asked for " + e.Request.URL
	})}
	do(b, network.Enable, network.EnableParams{})
	b.Do(chromedp.EmulateViewport(width, height), chromedp.Navigate(address))
	b.Until(`Promise.all(Array.from(document.images).map(function (i) { return i.decode(); })).then(function () { return true; })`)
	return b
}

// do sends a command of the browser's protocol.
func do[P, R any](b *tab, c cdp.Command[P, R], params P) R {
	b.Helper()
	out, err := chromedp.Run(b.Ctx, func(ctx context.Context, t *chromedp.Target) (R, error) { return cdp.Call(ctx, t, c, params) })
	require.NoError(b, err)
	return out
}

// eval is the value of a JavaScript expression in the page.
func eval[T any](b *tab, expression string, args ...any) T {
	b.Helper()
	return browsertest.Eval[T](b.Tab, expression, args...)
}

// click presses the mouse on the middle of an element.
func (b *tab) click(selector string) {
	b.Helper()
	p := b.Where(selector)
	b.Do(chromedp.MouseClickXY(p.X+p.W/2, p.Y+p.H/2))
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
	b.Where(figure)
	b.Until(`(document.querySelector(%s).getAttribute("data-shows") || "").startsWith(%s)`, figure, view+" ")
	b.Until(`new Promise(function (r) { requestAnimationFrame(function () { requestAnimationFrame(function () { r(true); }); }); })`)
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
	data, err := chromedp.Run(b.Ctx, chromedp.CaptureScreenshot())
	require.NoError(b, err)
	return asNRGBA(b, data)
}

// seenAt is the colour on the screen at shares of an element, once that stays where it
// is while the screen is looked at.
func (b *tab) seenAt(selector string, x, y float64) color.NRGBA {
	b.Helper()
	for p, tries := b.Where(selector), 0; ; tries++ {
		screen := b.seen()
		q := b.Where(selector)
		if p == q || tries == 20 { // as many screens as a slow page takes to come to rest
			return screen.NRGBAAt(int(p.X+p.W*x), int(p.Y+p.H*y))
		}
		p = q
	}
}

func pngOf(t testing.TB, img image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, png.Encode(&b, img))
	return b.Bytes()
}
