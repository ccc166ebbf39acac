//go:build browser

package report

import (
	"math"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/performance"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"greige/analyze"
)

// How long from opening a page until it can be used. Wanted: under a second.
func BenchmarkPageOpens(b *testing.B) {
	for name, r := range map[string]*analyze.Result{"sixty pieces": sixtyPieces(), "81 patches": layoutResult()} {
		b.Run(name, func(b *testing.B) {
			page := open(b, pageOf(b, r), 1280, 900)
			best := math.Inf(1)
			for b.Loop() {
				page.Do(chromedp.Reload())
				best = min(best, eval[float64](page, `performance.getEntriesByType("navigation")[0].loadEventEnd`))
			}
			b.ReportMetric(best, "ms-until-usable-at-best")
		})
	}
}

// The page is styled a few times while it opens, and not once for each patch
// and seam, which takes seconds in a large top.
func TestBrowserStylesThePageAFewTimes(t *testing.T) {
	r := layoutResult()
	require.Greater(t, len(r.Layout.Seams), 100)
	page := open(t, pageOf(t, r), 1280, 900)
	do(page, performance.Enable, performance.EnableParams{})
	count := func() float64 {
		for _, m := range do(page, performance.GetMetrics, cdp.Empty{}).Metrics {
			if m.Name == "RecalcStyleCount" {
				return m.Value
			}
		}
		t.Fatal("the browser does not say")
		return 0
	}
	was := count()
	page.Do(chromedp.Reload())
	styled := count() - was
	t.Logf("styled %v times", styled)
	assert.Positive(t, styled)
	assert.Less(t, styled, 60.)
}

// How long a view takes to follow the switch.
func BenchmarkViewFollowsTheSwitch(b *testing.B) {
	html := pageOf(b, sixtyPieces())
	for _, v := range views[1:] {
		b.Run(v.Key, func(b *testing.B) {
			page := open(b, html, 1280, 900)
			page.shows("#sort-sight-1", "colour")
			for b.Loop() {
				b.StopTimer()
				require.True(b, eval[bool](page, `(document.getElementById("view-colour").click(), true)`))
				page.Until(`document.querySelector("#sort-sight-1").getAttribute("data-shows").startsWith("colour ")`)
				b.StartTimer()
				took := eval[float64](page, `new Promise(function (done) {
					const figure = document.querySelector("#sort-sight-1"), since = performance.now();
					new MutationObserver(function (_, o) { o.disconnect(); done(performance.now() - since); }).observe(figure, { attributes: true, attributeFilter: ["data-shows"] });
					document.getElementById("view-" + %s).click();
				})`, v.Key)
				require.Less(b, took, float64(time.Minute/time.Millisecond))
			}
		})
	}
}
