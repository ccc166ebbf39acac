package open

import (
	"bytes"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// asked is a request as anybody might send it: whatever Host, Origin and path.
type asked struct {
	method, path, host, origin, site, kind, name string
	body                                         []byte
}

func (a asked) send(t testing.TB, address string) (status int, body string, header http.Header) {
	t.Helper()
	u, err := url.Parse(address)
	require.NoError(t, err)
	if a.method == "" {
		a.method = "GET"
	}
	if !strings.HasPrefix(a.path, "/") {
		a.path = u.Path + a.path
	}
	if a.host == "" {
		a.host = u.Host
	}
	var head strings.Builder
	fmt.Fprintf(&head, "%s %s HTTP/1.1\r\nHost: %s\r\nConnection: close\r\nContent-Length: %d\r\n", a.method, a.path, a.host, len(a.body))
	for name, value := range map[string]string{"Origin": a.origin, "Sec-Fetch-Site": a.site, "Content-Type": a.kind, "X-Name": a.name} {
		if value != "" {
			fmt.Fprintf(&head, "%s: %s\r\n", name, value)
		}
	}
	c, err := net.Dial("tcp", u.Host)
	require.NoError(t, err)
	defer c.Close()
	require.NoError(t, c.SetDeadline(time.Now().Add(time.Minute)))
	_, err = c.Write(append([]byte(head.String()+"\r\n"), a.body...))
	require.NoError(t, err)
	r, err := http.ReadResponse(newReader(c), nil)
	require.NoError(t, err)
	data, err := io.ReadAll(io.LimitReader(r.Body, 1<<20))
	require.NoError(t, err)
	return r.StatusCode, string(data), r.Header
}

// own is a request that the page itself sends.
func own(address, path, kind string, body []byte) asked {
	u, _ := url.Parse(address)
	return asked{method: "POST", path: path, origin: "http://" + u.Host, site: "same-origin", kind: kind, body: body}
}

func TestOnlyThisComputerAndThisPage(t *testing.T) {
	dir := basket(t, 400)
	require.NoError(t, os.WriteFile(filepath.Join(dir, "secret.txt"), []byte("a secret"), 0o600))
	address, _, _ := serve(t, Options{Folder: dir})
	u, err := url.Parse(address)
	require.NoError(t, err)
	require.Equal(t, "127.0.0.1", u.Hostname(), "bound to this computer")
	status, page, header := asked{}.send(t, address)
	require.Equal(t, 200, status)
	require.Contains(t, page, "greige")
	require.NotContains(t, header.Get("Content-Security-Policy"), "unsafe")
	require.Equal(t, "nosniff", header.Get("X-Content-Type-Options"))
	require.Equal(t, "no-referrer", header.Get("Referrer-Policy"))
	require.NotRegexp(t, `(?i)<script(>| [^>]*[^c]>)[^<]+|\son\w+=|<style|style=`, page, "nothing inline")
	status, _, _ = asked{path: "state", host: "localhost:" + u.Port()}.send(t, address)
	require.Equal(t, 200, status)

	// No other computer reaches the port.
	addresses, err := net.InterfaceAddrs()
	require.NoError(t, err)
	for _, a := range addresses {
		if ip, ok := a.(*net.IPNet); ok && ip.IP.To4() != nil && !ip.IP.IsLoopback() {
			c, err := net.DialTimeout("tcp", net.JoinHostPort(ip.IP.String(), u.Port()), time.Second)
			if !assert.Error(t, err, "%s", ip.IP) {
				c.Close()
			}
		}
	}

	step := []byte(`{"kind":"anew","photo":"x"}`)
	for name, a := range map[string]asked{
		"a name that points here (DNS rebinding)": {path: "state", host: "evil.example:" + u.Port()},
		"the same on another port":                {path: "state", host: "127.0.0.1:80"},
		"no port":                                 {path: "state", host: "127.0.0.1"},
		"another site's page reads":               {path: "state", origin: "http://evil.example"},
		"another site's page, by its own word":    {path: "state", site: "cross-site"},
		"another port of this computer":           {path: "state", site: "same-site"},
		"another site's page acts":                {method: "POST", path: "steps", origin: "http://evil.example", kind: "application/json", body: step},
		"nobody says who acts":                    {method: "POST", path: "steps", kind: "application/json", body: step},
		"null acts (a file, a sandbox)":           {method: "POST", path: "steps", origin: "null", kind: "application/json", body: step},
		"rebinding with the origin to it":         {method: "POST", path: "steps", host: "evil.example:" + u.Port(), origin: "http://evil.example:" + u.Port(), kind: "application/json", body: step},
	} {
		status, body, _ := a.send(t, address)
		assert.Equal(t, 403, status, name)
		assert.NotContains(t, body, "basket", name)
	}
	// A form of another site can send text, but not what is taken here.
	a := own(address, "steps", "text/plain", step)
	status, _, _ = a.send(t, address)
	require.Equal(t, 400, status)

	// Without the key, or by another path, nothing of the disk comes out.
	for _, path := range []string{"/", "/state", "/" + strings.Repeat("0", 32) + "/state", "../state", "page/../../state", "page/%2e%2e%2fsecret.txt", "page/..%5c..%5csecret.txt",
		"page/secret.txt", "page//etc/passwd", "photo/secret.txt/colour", "photo/..%2f..%2fsecret.txt/colour", "photo/" + idOf("secret.txt") + "/colour", "photo/" + idOf(filepath.Join(dir, "secret.txt")) + "/colour",
		"sight/-1/colour", "sight/99/colour", "sight/..%2fsecret/colour", "cloth/1/colour", "secret.txt", "%00", "phone.png", "page/phone.js%00.css"} {
		status, body, _ := asked{path: path}.send(t, address)
		assert.NotEqual(t, 200, status, path)
		assert.NotContains(t, body, "a secret", path)
		assert.NotContains(t, body, "basket", path)
	}
}

func TestWhatIsTooLargeIsRefusedBeforeItIsTaken(t *testing.T) {
	dir := basket(t, 400)
	address, _, _ := serve(t, Options{Folder: dir})
	a := own(address, "steps", "application/json", append([]byte(`{"kind":"draw","photo":"`), bytes.Repeat([]byte("x"), mostJSON)...))
	status, _, _ := a.send(t, address)
	require.Equal(t, 400, status)
	// A photo that says it is too large is not waited for.
	u, err := url.Parse(address)
	require.NoError(t, err)
	c, err := net.Dial("tcp", u.Host)
	require.NoError(t, err)
	defer c.Close()
	fmt.Fprintf(c, "POST %sphotos HTTP/1.1\r\nHost: %s\r\nOrigin: http://%s\r\nContent-Type: application/octet-stream\r\nContent-Length: %d\r\n\r\n", u.Path, u.Host, u.Host, int64(mostBytes)+1)
	r, err := http.ReadResponse(newReader(c), nil)
	require.NoError(t, err)
	require.Equal(t, http.StatusRequestEntityTooLarge, r.StatusCode)
	left, err := filepath.Glob(filepath.Join(dir, ".*"))
	require.NoError(t, err)
	require.Empty(t, left)
}

func TestNamesAreHarmless(t *testing.T) {
	for sent, want := range map[string]string{
		"a.jpg": "a.jpg", "../../etc/passwd": "passwd.jpg", `C:\x\b.JPG`: "b.jpg", "": "photo.jpg", "..": "photo.jpg", ".hidden.png": "hidden.png",
		"nul.jpg": "photo-nul.jpg", "COM1.png": "photo-COM1.png", "a\x00b\n.jpg": "ab.jpg", "evil\u202egpj.jpg": "evilgpj.jpg", `<img src=x>.jpg`: "img src=x.jpg",
		"greige-corrections.json": "photo-greige-corrections.json", "Körbchen 3.heic": "Körbchen 3.heic", "a.": "a.jpg", "\xff.jpg": "photo.jpg", "x.tar.gz.verylong": "x.tar.gz.verylong.jpg",
	} {
		assert.Equal(t, want, safeName(sent), "%q", sent)
	}
	assert.LessOrEqual(t, len(safeName(strings.Repeat("é", 4000)+".jpg")), mostName+4)
}
