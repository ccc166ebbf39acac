package open

import (
	"crypto/subtle"
	"net/http"
	"path"
	"strings"
)

// policy lets the page load its own parts and nothing else. Scripts and styles
// are files; there is none in the page itself.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:; connect-src 'self'; " +
	"base-uri 'none'; form-action 'none'; frame-ancestors 'none'"

func secure(h http.Header) {
	h.Set("Content-Security-Policy", policy)
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("Referrer-Policy", "no-referrer")
	h.Set("Cross-Origin-Opener-Policy", "same-origin")
	h.Set("Cross-Origin-Resource-Policy", "same-origin")
	h.Set("Cache-Control", "no-store")
}

// guard lets through only what this computer's own page asks for:
//   - the Host is this server's address in figures or as localhost, so that a
//     name that another site points here (DNS rebinding) gets nothing;
//   - the Origin, where the browser tells one, is this server's, and what
//     changes something must tell one; no other site's page can act here;
//   - the path begins with the key of this start.
//
// Whoever is kept out learns nothing but that.
func (s *server) guard(inner http.Handler) http.Handler {
	_, port, _ := strings.Cut(s.host, ":")
	return keep([]string{s.host, "localhost:" + port}, s.key, inner)
}

func keep(hosts []string, key string, inner http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		secure(w.Header())
		if !allowed(r, hosts) {
			http.Error(w, "this page is for this computer only", http.StatusForbidden)
			return
		}
		given, rest, _ := strings.Cut(strings.TrimPrefix(r.URL.Path, "/"), "/")
		if subtle.ConstantTimeCompare([]byte(given), []byte(key)) != 1 || path.Clean("/"+rest) != "/"+strings.TrimSuffix(rest, "/") {
			http.NotFound(w, r)
			return
		}
		http.StripPrefix("/"+key, inner).ServeHTTP(w, r)
	})
}

func allowed(r *http.Request, hosts []string) bool {
	for _, host := range hosts {
		if r.Host != host {
			continue
		}
		origin := r.Header.Get("Origin")
		acts := r.Method != http.MethodGet && r.Method != http.MethodHead
		switch site := r.Header.Get("Sec-Fetch-Site"); {
		case site != "" && site != "same-origin" && site != "none":
			return false
		case origin == "":
			return !acts
		}
		return origin == "http://"+host
	}
	return false
}
