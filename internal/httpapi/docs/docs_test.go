package docs_test

import (
	"net/http"
	"net/http/httptest"
	"regexp"
	"strings"
	"testing"

	"meniscus/internal/httpapi/docs"
)

func ask(t *testing.T, path string, header ...string) *httptest.ResponseRecorder {
	t.Helper()
	h, err := docs.Handler()
	if err != nil {
		t.Fatal(err)
	}
	r := httptest.NewRequest(http.MethodGet, path, nil)
	for i := 0; i < len(header); i += 2 {
		r.Header.Set(header[i], header[i+1])
	}
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

// Every file that the page names is served, and with a type that a browser
// which was told not to sniff accepts.
func TestPageAndItsFiles(t *testing.T) {
	t.Parallel()
	page := ask(t, "/docs")
	if got, want := page.Header().Get("Content-Type"), "text/html; charset=utf-8"; got != want {
		t.Errorf("page: got type %q, want %q", got, want)
	}
	types := map[string]string{".js": "text/javascript; charset=utf-8", ".css": "text/css; charset=utf-8", ".png": "image/png"}
	named := regexp.MustCompile(`(?:src|href)="docs/([^"]+?)(\.[a-z]+)"`).FindAllStringSubmatch(page.Body.String(), -1)
	if len(named) != 5 {
		t.Errorf("the page names %d files, want 5", len(named))
	}
	for _, m := range named {
		w := ask(t, "/docs/"+m[1]+m[2])
		if w.Code != http.StatusOK || w.Body.Len() == 0 || w.Header().Get("Content-Type") != types[m[2]] {
			t.Errorf("%s: got %d, %d bytes of %q", m[1], w.Code, w.Body.Len(), w.Header().Get("Content-Type"))
		}
	}
}

// Our own files name no other host, and the policy would not let them speak to
// one.
func TestNothingComesFromOutside(t *testing.T) {
	t.Parallel()
	for _, path := range []string{"/docs", "/docs/docs.js", "/docs/docs.css"} {
		w := ask(t, path)
		if strings.Contains(w.Body.String(), "//") && regexp.MustCompile(`https?://|[("']//`).MatchString(w.Body.String()) {
			t.Errorf("%s names another host", path)
		}
		policy := w.Header().Get("Content-Security-Policy")
		if !strings.HasPrefix(policy, "default-src 'none'; script-src 'self';") || strings.Contains(policy, "http") {
			t.Errorf("%s: policy %q", path, policy)
		}
	}
}

func TestUnknownAndUnchangedFiles(t *testing.T) {
	t.Parallel()
	for path, want := range map[string]int{
		"/docs/":                         http.StatusPermanentRedirect,
		"/docs/docs.go":                  http.StatusNotFound,
		"/docs/swagger-ui-bundle.js.map": http.StatusNotFound,
	} {
		if got := ask(t, path).Code; got != want {
			t.Errorf("%s: got %d, want %d", path, got, want)
		}
	}
	if got := ask(t, "/docs/").Header().Get("Location"); got != "/docs" {
		t.Errorf("with a slash too many: sent to %q, want /docs", got)
	}
	tag := ask(t, "/docs").Header().Get("ETag")
	if got := ask(t, "/docs", "If-None-Match", tag).Code; got != http.StatusNotModified {
		t.Errorf("unchanged page: got %d, want 304", got)
	}
}
