//go:build browser

package report

import (
	"bytes"
	"image/jpeg"
	"os"
	"path/filepath"
	"testing"

	cdppage "github.com/chromedp/cdproto/page"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The pictures of the README: the upper parts of the chapters of a demo's
// page. make pictures names the page and the folder; without them, a page of
// invented results is taken, and the pictures go where go test -artifacts
// keeps them.
func TestBrowserPicturesOfTheReadme(t *testing.T) {
	html, dir := demoOf(t), t.ArtifactDir()
	if demo := os.Getenv("GREIGE_DEMO"); demo != "" {
		data, err := os.ReadFile(demo)
		require.NoError(t, err)
		html, dir = string(data), os.Getenv("GREIGE_PICTURES")
		require.NoError(t, os.MkdirAll(dir, 0o755))
	}
	b := open(t, html, 1240, 900)
	eval[bool](b, `(document.querySelectorAll(".switch, .slip, .zoom, .notes").forEach(function (e) { e.style[e.className === "zoom" ? "visibility" : "display"] = e.className === "zoom" ? "hidden" : "none"; }), true)`)
	for _, of := range []struct{ chapter, until string }{
		{"sort", ".pile:nth-of-type(2)"}, {"layout", ".sights"}, {"border", ".colour:nth-child(1)"}, {"plan", ".sights"},
	} {
		type part struct{ Top, Bottom float64 }
		p := eval[part](b, `(function () {
			const c = document.getElementById(%s), from = c.querySelector(".answer .question").getBoundingClientRect(), to = c.querySelector(%s).getBoundingClientRect();
			return { Top: from.top + scrollY - 20, Bottom: to.bottom + scrollY + 20 };
		})()`, of.chapter, of.until)
		var data []byte
		for quality := int64(86); quality > 40; quality -= 6 {
			beyond := true
			shot := do(b, cdppage.CaptureScreenshot, cdppage.CaptureScreenshotParams{
				Format: cdppage.CaptureScreenshotFormatJpeg, Quality: &quality, CaptureBeyondViewport: &beyond,
				Clip: &cdppage.Viewport{X: 0, Y: p.Top, Width: 1240, Height: p.Bottom - p.Top, Scale: 1}})
			if data = shot.Data; len(data) < 200_000 {
				break
			}
		}
		assert.Less(t, len(data), 200_000)
		img, err := jpeg.Decode(bytes.NewReader(data))
		require.NoError(t, err)
		assert.Equal(t, 1240, img.Bounds().Dx())
		require.NoError(t, os.WriteFile(filepath.Join(dir, of.chapter+".jpg"), data, 0o644))
	}
}
