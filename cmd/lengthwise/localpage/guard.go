package localpage

import (
	"crypto/subtle"
	"net"
	"net/http"
	"strings"
)

// guard lets through only what comes from the browser that has the token.
type guard struct {
	token string
	host  string // address and port
	next  http.Handler
}

// policy is what the page itself may load and do.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

func (g guard) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	h := w.Header()
	h.Set("Content-Security-Policy", policy)
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("X-Frame-Options", "DENY")
	h.Set("Referrer-Policy", "same-origin") // with none at all, forms send no origin to check
	h.Set("Cross-Origin-Opener-Policy", "same-origin")
	h.Set("Cross-Origin-Resource-Policy", "same-origin")
	h.Set("Cache-Control", "no-store")
	if r.Host != g.host && r.Host != g.named() {
		http.Error(w, "This page is served to its own machine only.", http.StatusForbidden)
		return
	}
	if given := r.URL.Query().Get("token"); given != "" && r.Method == http.MethodGet && r.URL.Path == "/" {
		if !same(given, g.token) {
			g.locked(w)
			return
		}
		http.SetCookie(w, &http.Cookie{Name: g.cookie(), Value: g.token, Path: "/", HttpOnly: true, SameSite: http.SameSiteStrictMode})
		http.Redirect(w, r, "/", http.StatusSeeOther)
		return
	}
	cookie, err := r.Cookie(g.cookie())
	if err != nil || !same(cookie.Value, g.token) {
		g.locked(w)
		return
	}
	if r.Method != http.MethodGet && r.Method != http.MethodHead {
		if origin := r.Header.Get("Origin"); origin != "http://"+r.Host {
			http.Error(w, "Changes are taken from the page itself only.", http.StatusForbidden)
			return
		}
	}
	g.next.ServeHTTP(w, r)
}

func (g guard) locked(w http.ResponseWriter) {
	http.Error(w, "Open the whole address that the program printed: it holds the key to this page.", http.StatusForbidden)
}

// named is the host under the machine's own name for itself.
func (g guard) named() string {
	_, port, err := net.SplitHostPort(g.host)
	if err != nil {
		return g.host
	}
	return net.JoinHostPort("localhost", port)
}

// cookie is a name of this server's own: cookies do not tell ports apart.
func (g guard) cookie() string {
	_, port, _ := strings.Cut(g.host, ":")
	return "lengthwise-" + port
}

func same(a, b string) bool { return subtle.ConstantTimeCompare([]byte(a), []byte(b)) == 1 }
