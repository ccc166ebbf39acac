package open

import (
	"bytes"
	"image/png"
	"net"
	"net/http"
	"net/url"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// otherAddress stands for the home network, which not every computer is in.
var otherAddress = net.IPv4(127, 0, 0, 1)

// A phone sends a photo and sees nothing; nobody comes in without the code, and
// what the phone has opens no other door.
func TestAPhoneSendsPhotosAndNothingElse(t *testing.T) {
	dir, from := t.TempDir(), t.TempDir()
	shot, err := os.ReadFile(write(t, from, "shot.jpg", closeup(1)))
	require.NoError(t, err)
	address, log, stop := serve(t, Options{Folder: dir, Phone: true, home: otherAddress})
	s := now(t, address)
	require.NotEmpty(t, s.Phone)
	require.Contains(t, log.String(), "until this program ends")
	phone, err := url.Parse(s.Phone)
	require.NoError(t, err)
	require.Equal(t, otherAddress.String(), phone.Hostname())
	require.Len(t, strings.Trim(phone.Path, "/"), 32, "128 random bits")
	require.NotContains(t, address, strings.Trim(phone.Path, "/"), "the page's own key is another one")

	r, err := http.Get(address + "phone.png")
	require.NoError(t, err)
	code, err := png.Decode(r.Body)
	r.Body.Close()
	require.NoError(t, err)
	require.Greater(t, code.Bounds().Dx(), 100)

	status, page, _ := asked{}.send(t, s.Phone)
	require.Equal(t, 200, status)
	require.Contains(t, page, "Send a photo of your cloths")
	status, _, err = try(s.Phone, "photos", "application/octet-stream", "shot.jpg", shot)
	require.NoError(t, err)
	require.Equal(t, 200, status)
	require.Len(t, now(t, address).Photos, 1, "it is on the working page")
	kept, err := os.ReadFile(dir + "/shot.jpg")
	require.NoError(t, err)
	require.True(t, bytes.Equal(shot, kept))

	for _, path := range []string{"state", "events", "greige.html", "photo/x/colour", "page/main.js", "phone.png"} {
		status, _, _ := asked{path: path}.send(t, s.Phone)
		assert.Equal(t, 404, status, path)
	}
	for _, path := range []string{"steps", "end", "keep", "undo"} {
		a := own(s.Phone, path, "application/json", []byte("{}"))
		status, _, _ := a.send(t, s.Phone)
		assert.Contains(t, []int{404, 405}, status, path)
	}
	u, _ := url.Parse(address)
	status, _, _ = asked{path: u.Path + "state"}.send(t, s.Phone)
	assert.Equal(t, 404, status, "the page's key does not open the phone's door")
	status, _, _ = asked{path: "/" + strings.Repeat("0", 32) + "/"}.send(t, s.Phone)
	assert.Equal(t, 404, status)
	status, _, _ = asked{host: "evil.example"}.send(t, s.Phone)
	assert.Equal(t, 403, status)
	stop()
	_, err = http.Get(s.Phone)
	require.Error(t, err, "it dies with the program")
}
