package httpapi_test

import (
	"bytes"
	"compress/gzip"
	"io"
	"net/http"
	"strings"
	"testing"

	"meniscus/internal/httpapi/docs"
)

// The reference page and its files come compressed to a browser, with a policy that
// lets them speak to nobody else, and need not come again while they are the same.
func TestReferencePage(t *testing.T) {
	t.Parallel()
	s := newService(t)
	files, err := docs.Files()
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		got := s.bare(http.MethodGet, f.Path, header{"Accept-Encoding", "gzip, br"})
		for name, want := range map[string]string{"Content-Security-Policy": docs.Policy, "Content-Type": f.MediaType, "X-Content-Type-Options": "nosniff", "Cache-Control": "no-cache"} {
			if got.Header.Get(name) != want {
				t.Errorf("%s: %s is %q, want %q", f.Path, name, got.Header.Get(name), want)
			}
		}
		if coding := got.Header.Get("Content-Encoding"); (coding == "gzip") != (len(f.Content) >= 1400) {
			t.Errorf("%s, %d bytes: got coding %q", f.Path, len(f.Content), coding)
		}
		if body := unpacked(t, got); !bytes.Equal(body, f.Content) {
			t.Errorf("%s: got %d bytes, want %d others", f.Path, len(body), len(f.Content))
		}
		if again := s.bare(http.MethodGet, f.Path, header{"If-None-Match", got.Header.Get("ETag")}); again.StatusCode != 304 {
			t.Errorf("%s, unchanged: got %d, want 304", f.Path, again.StatusCode)
		}
		if plain := s.bare(http.MethodGet, f.Path); plain.Header.Get("Content-Encoding") != "" || !bytes.Equal(unpacked(t, plain), f.Content) {
			t.Errorf("%s: got coding %q for who accepts none", f.Path, plain.Header.Get("Content-Encoding"))
		}
	}
	if got := s.bare(http.MethodGet, "/docs/"); got.StatusCode != 308 || got.Header.Get("Location") != "../docs" {
		t.Errorf("with a slash too many: got %d to %q, want 308 to ../docs", got.StatusCode, got.Header.Get("Location"))
	}
	s.do(http.MethodGet, "/docs/docs.go", nil).wantProblem(404, "path-unknown")
}

// The contract as YAML is compressed too.
func TestContractIsCompressed(t *testing.T) {
	t.Parallel()
	s := newService(t)
	plain, packed := s.bare(http.MethodGet, "/openapi.yaml"), s.bare(http.MethodGet, "/openapi.yaml", header{"Accept-Encoding", "gzip"})
	if packed.Header.Get("Content-Encoding") != "gzip" || !strings.HasSuffix(packed.Header.Get("ETag"), `-gzip"`) {
		t.Errorf("got %v", packed.Header)
	}
	if got, want := unpacked(t, packed), unpacked(t, plain); !bytes.Equal(got, want) {
		t.Errorf("got %d bytes, want %d others", len(got), len(want))
	}
}

// unpacked is an answer's body without its coding.
func unpacked(t *testing.T, r *http.Response) []byte {
	t.Helper()
	body := io.Reader(r.Body)
	if r.Header.Get("Content-Encoding") == "gzip" {
		z, err := gzip.NewReader(r.Body)
		if err != nil {
			t.Fatal(err)
		}
		body = z
	}
	all, err := io.ReadAll(body)
	if err != nil {
		t.Fatal(err)
	}
	return all
}
