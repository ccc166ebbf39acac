//go:build browser

package report

import (
	"math"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// The page of sixty pieces: how long from opening it until it can be used, and
// how long a view takes to follow the switch. Wanted: under a second.
func BenchmarkPageOpens(b *testing.B) {
	page := open(b, pageOf(b, sixtyPieces()), 1280, 900)
	best := math.Inf(1)
	for b.Loop() {
		page.do(chromedp.Reload())
		best = min(best, eval[float64](page, `performance.getEntriesByType("navigation")[0].loadEventEnd`))
	}
	b.ReportMetric(best, "ms-until-usable-at-best")
}

func BenchmarkViewFollowsTheSwitch(b *testing.B) {
	page := open(b, pageOf(b, sixtyPieces()), 1280, 900)
	page.shows("#sort-sight-1", "colour")
	for _, v := range views[1:] {
		b.Run(v.Key, func(b *testing.B) {
			for b.Loop() {
				b.StopTimer()
				require.True(b, eval[bool](page, `(document.getElementById("view-colour").click(), true)`))
				page.until(`document.querySelector("#sort-sight-1").getAttribute("data-shows").startsWith("colour ")`)
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
