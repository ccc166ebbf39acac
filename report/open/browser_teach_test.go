//go:build browser

package open

import (
	"fmt"
	"path/filepath"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/require"

	"greige/analyze/scene"
)

// A phone is taught by keyboard alone, once its photos are chosen: by a chart that is
// found by itself, then by two cards that are shown; and what teaches nothing is said.
func TestBrowserTeachingByKeyboardAlone(t *testing.T) {
	dir, from, cameras := t.TempDir(), t.TempDir(), filepath.Join(t.TempDir(), "cameras")
	c := drawnPhone()
	chart := write(t, from, "chart.jpg", drawnChart(c))
	shot, err := lessonTable(c, twoCards()...).Shoot()
	require.NoError(t, err)
	shot.Name = "cards.jpg"
	require.NoError(t, scene.Write(from, shot))
	write(t, dir, "table.jpg", lessonTable(c))
	address, _, _ := serve(t, Options{Folder: dir, Cameras: cameras})
	b := openTab(t, address, 1280, 1200)
	b.radio("question", "school")
	b.Until(`document.querySelector('[data-key="b-learn"]')`)
	b.radio("way", "chart")
	b.tabTo(key("b-lesson"))
	b.Do(chromedp.SetUploadFiles(`#lessons`, []string{chart}))
	b.Until(`document.querySelector('#stage .photos img')`)
	b.keys(key("b-learn"), kb.Enter)
	b.Until(`document.querySelector("#headline").textContent.includes("Your phone is learned")`)
	b.Shot("teach-learned")
	require.Len(t, now(t, address).Photos, 1)

	// The same again teaches nothing new.
	b.keys(key("b-learn"), kb.Enter)
	b.Until(`document.querySelector("#tools").textContent.includes("has learned from this photo already")`)

	// Two cards: a box in each.
	b.Do(chromedp.SetUploadFiles(`#lessons`, []string{filepath.Join(from, "cards.jpg")}))
	b.radio("way", "cards")
	b.Until(`document.querySelector('#stage .photos').textContent.includes("cards.jpg")`)
	place := func(tool, sideways string, across, up int) {
		t.Helper()
		b.keys(key("b-"+tool), kb.Enter)
		b.Until(`document.activeElement.matches('[data-key="h-Middle of the box"]')`)
		for range across {
			b.Press(sideways)
		}
		for range up {
			b.Press(kb.ArrowUp)
		}
		b.Shot("teach-" + tool)
		b.keys(key("b-take"), kb.Enter)
		b.Until(`document.querySelector('[data-key="b-learn"]')`)
	}
	// A key moves by a two-hundredth of the photo's width, which is 4:3.
	place("white", kb.ArrowLeft, 52, 39)
	place("grey", kb.ArrowRight, 52, 33)
	b.keys(key("b-learn"), kb.Enter)
	b.Until(`document.querySelector("#tools").textContent.includes("from two photos")`)
	b.keys(`[data-key^="b-forget"]`, kb.Enter)
	b.Until(`!document.querySelector('[data-key^="b-forget"]')`)
	for _, width := range []int64{1280, 768, 390} {
		b := openTab(t, address, width, 900)
		b.click(key("qschool"))
		b.Until(`document.querySelector('[data-key="b-learn"]')`)
		b.settled()
		require.LessOrEqual(t, eval[float64](b, `document.documentElement.scrollWidth`), float64(width), "nothing is wider than the window")
		b.Shot(fmt.Sprintf("teach-%d", width))
	}
}

// The phone alone teaches itself: three photos of one still scene, darker, as usual and
// lighter, are chosen, and the page says what was gained; two of them are too few, and
// photos of two scenes are refused with what helps.
func TestBrowserTeachingByThreeExposures(t *testing.T) {
	dir, from, cameras := t.TempDir(), t.TempDir(), filepath.Join(t.TempDir(), "cameras")
	c := drawnPhone()
	var stills []string
	for i, bias := range []float64{-1.5, 0, 1.2} { // stops
		still := lessonTable(c)
		still.Camera.Bias, still.Camera.Protect = bias, 0
		stills = append(stills, write(t, from, fmt.Sprintf("still%d.jpg", i), still))
	}
	other := lessonTable(c)
	other.Seed = 8
	other.Cloths = other.Cloths[2:]
	stranger := write(t, from, "other.jpg", other)
	write(t, dir, "table.jpg", lessonTable(c))
	address, _, _ := serve(t, Options{Folder: dir, Cameras: cameras})
	b := openTab(t, address, 1280, 1200)
	before := now(t, address)
	b.radio("question", "school")
	b.Until(`document.querySelector('[data-key="b-learn"]')`)
	b.radio("way", "scene")
	b.Do(chromedp.SetUploadFiles(`#lessons`, stills[:2]))
	b.Until(`document.querySelectorAll('#stage .photos img').length === 2`)
	require.True(t, eval[bool](b, `document.querySelector('[data-key="b-learn"]').disabled`))
	require.Contains(t, b.text("#stage"), "there are two")

	b.Do(chromedp.SetUploadFiles(`#lessons`, []string{stranger}))
	b.Until(`document.querySelectorAll('#stage .photos img').length === 3`)
	b.keys(key("b-learn"), kb.Enter)
	b.Until(`document.querySelector("#tools h2")`)
	require.Contains(t, b.text("#tools"), "Why nothing is kept")
	require.Contains(t, b.text("#tools"), "Keep the phone still on a stand")
	b.Shot("teach-scenes-differ")
	b.keys(`[aria-label="Take it away: other.jpg"]`, kb.Enter)
	b.Until(`document.querySelectorAll('#stage .photos img').length === 2`)

	b.Do(chromedp.SetUploadFiles(`#lessons`, stills[2:]))
	b.Until(`document.querySelectorAll('#stage .photos img').length === 3`)
	b.keys(key("b-learn"), kb.Enter)
	b.Until(`document.querySelector("#headline").textContent.includes("Your phone is learned")`)
	b.Shot("teach-exposures")
	require.Contains(t, b.text("#tools"), "from three photos")
	kept, err := filepath.Glob(filepath.Join(cameras, "*.json"))
	require.NoError(t, err)
	require.Len(t, kept, 1)
	require.NotEqual(t, before.Pieces, now(t, address).Pieces, "and is used at once")
}
