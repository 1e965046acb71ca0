package localpage

import (
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
)

const testHost = "127.0.0.1:4711"

func TestGuardLetsInWhoHasTheToken(t *testing.T) {
	reached := 0
	g := guard{token: "secret", host: testHost, next: http.HandlerFunc(func(http.ResponseWriter, *http.Request) { reached++ })}
	key := g.cookie() + "=secret"
	for _, c := range []struct {
		name, method, target, host, cookie, origin string
		want                                       int
	}{
		{"no token", "GET", "/", testHost, "", "", 403},
		{"wrong token", "GET", "/?token=guess", testHost, "", "", 403},
		{"token", "GET", "/?token=secret", testHost, "", "", 303},
		{"token elsewhere than at the door", "GET", "/progress?token=secret", testHost, "", "", 403},
		{"token does not stand in for the page's own address", "POST", "/?token=secret", testHost, "", "http://" + testHost, 403},
		{"cookie", "GET", "/", testHost, key, "", 200},
		{"cookie, by name", "GET", "/", "localhost:4711", key, "", 200},
		{"cookie of another server", "GET", "/", testHost, "lengthwise-4712=secret", "", 403},
		{"wrong cookie", "GET", "/", testHost, g.cookie() + "=secreT", "", 403},
		{"another name for this machine", "GET", "/", "evil.example:4711", key, "", 403},
		{"another port", "GET", "/", "127.0.0.1:4712", key, "", 403},
		{"change from the page", "POST", "/run", testHost, key, "http://" + testHost, 200},
		{"change from elsewhere", "POST", "/run", testHost, key, "http://evil.example", 403},
		{"change from a file", "POST", "/run", testHost, key, "null", 403},
		{"change from nowhere", "POST", "/run", testHost, key, "", 403},
		{"file from elsewhere", "PUT", "/file?path=a.csv", testHost, key, "http://127.0.0.1:4712", 403},
	} {
		before := reached
		r := httptest.NewRequest(c.method, c.target, nil)
		r.Host = c.host
		if c.cookie != "" {
			r.Header.Set("Cookie", c.cookie)
		}
		if c.origin != "" {
			r.Header.Set("Origin", c.origin)
		}
		w := httptest.NewRecorder()
		g.ServeHTTP(w, r)
		if w.Code != c.want || (reached > before) != (c.want == 200) {
			t.Errorf("%s: status %d, want %d; reached %t", c.name, w.Code, c.want, reached > before)
		}
		if policy := w.Header().Get("Content-Security-Policy"); !strings.Contains(policy, "default-src 'none'") {
			t.Errorf("%s: policy %q", c.name, policy)
		}
		if c.want == 303 {
			set := w.Header().Get("Set-Cookie")
			if !strings.Contains(set, "HttpOnly") || !strings.Contains(set, "SameSite=Strict") || w.Header().Get("Location") != "/" {
				t.Errorf("%s: cookie %q, sent on to %q", c.name, set, w.Header().Get("Location"))
			}
		}
	}
}
