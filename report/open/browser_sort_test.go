//go:build browser

package open

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestBrowserShowsABasket(t *testing.T) {
	dir := basket(t, 1600)
	address, _, _ := serve(t, Options{Folder: dir})
	for _, width := range []int64{1280, 768, 390} {
		b := openTab(t, address, width, 900)
		require.Contains(t, b.text("#headline"), "cloths:")
		b.shot("basket-" + map[int64]string{1280: "1280", 768: "768", 390: "390"}[width])
	}
}
