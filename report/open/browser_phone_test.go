//go:build browser

package open

import (
	"path/filepath"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

func TestBrowserTakesPhotosAndThePhonesToo(t *testing.T) {
	dir, from := t.TempDir(), t.TempDir()
	first := write(t, from, "first.jpg", closeup(1))
	second := write(t, from, "second.jpg", closeup(2))
	address, _, _ := serve(t, Options{Folder: dir, Phone: true, home: otherAddress})
	b := openTab(t, address, 1280, 900)
	b.Shot("phone-code")
	b.Do(chromedp.SetUploadFiles(`input[type="file"]`, []string{first}))
	b.Until(`document.querySelectorAll('[data-key^="photo"]').length === 1`)
	b.settled()

	p := openTab(t, now(t, address).Phone, 390, 800)
	p.Shot("phone")
	p.Do(chromedp.SetUploadFiles(`#roll`, []string{second}))
	p.Until(`document.querySelector("#sent").textContent.includes("Sent")`)
	b.Until(`document.querySelectorAll('[data-key^="photo"]').length === 2`)
	b.settled()
	require.FileExists(t, filepath.Join(dir, "second.jpg"))
}
