//go:build browser

package open

import (
	"os"
	"os/exec"
	"testing"

	"github.com/stretchr/testify/require"
)

// The page works in another browser's engine too. Debian's firefox-esr is driven
// over WebDriver BiDi by puppeteer-core, which `make test-browser` installs.
func TestBrowserFirefox(t *testing.T) {
	if os.Getenv("GREIGE_NODE") == "" {
		t.Skip("GREIGE_NODE does not say where puppeteer-core is installed: make test-browser does, or says why it is not")
	}
	firefox, err := exec.LookPath("firefox-esr")
	require.NoError(t, err)
	dir := basket(t, 900)
	address, _, _ := serve(t, Options{Folder: dir})
	now(t, address)
	c := exec.Command("node", "testdata/firefox.mjs", address)
	c.Env = append(os.Environ(), "GREIGE_FIREFOX="+firefox)
	out, err := c.CombinedOutput()
	require.NoError(t, err, string(out))
	require.Contains(t, string(out), "cloths:")
	require.Len(t, corrections(t, dir).Photos[0].Pieces, 2)
}
