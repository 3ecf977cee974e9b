package httpapi

import (
	"maps"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/google/go-cmp/cmp"

	"meniscus/api"
)

// ageing is the contract with one operation on its way out.
func ageing(t *testing.T, extensions map[string]any) *openapi3.T {
	t.Helper()
	doc, err := openapi3.NewLoader().LoadFromData(api.YAML)
	if err != nil {
		t.Fatal(err)
	}
	o := doc.Paths.Find("/livez").Get
	o.Deprecated = true
	maps.Copy(o.Extensions, extensions)
	return doc
}

func TestDeprecationIsSaid(t *testing.T) {
	t.Parallel()
	doc := ageing(t, map[string]any{"x-deprecated-at": "2023-06-30T23:59:59Z", "x-sunset": "2026-12-31T23:59:59Z", "x-successor": "/livez2"})
	s, err := newServer(Config{PublicURL: "https://meniscus.example"}, doc)
	if err != nil {
		t.Fatal(err)
	}
	w := httptest.NewRecorder()
	s.ServeHTTP(w, httptest.NewRequest(http.MethodGet, "/livez", nil))
	got := map[string]string{"Deprecation": w.Header().Get("Deprecation"), "Sunset": w.Header().Get("Sunset"), "Link": strings.Join(w.Header().Values("Link"), ", ")}
	want := map[string]string{
		"Deprecation": "@1688169599", // RFC 9745, section 2.1, gives this very moment
		"Sunset":      "Thu, 31 Dec 2026 23:59:59 GMT",
		"Link":        `<https://meniscus.example/docs>; rel="deprecation"; type="text/html", <https://meniscus.example/livez2>; rel="successor-version"`,
	}
	if diff := cmp.Diff(want, got); diff != "" || w.Code != 200 {
		t.Errorf("status %d, headers (-want +got):\n%s", w.Code, diff)
	}
	w = httptest.NewRecorder()
	s.ServeHTTP(w, httptest.NewRequest(http.MethodGet, "/openapi.json", nil))
	if w.Header().Get("Deprecation") != "" {
		t.Error("an operation that stays is said to be deprecated")
	}
}

func TestDeprecationThatCannotBe(t *testing.T) {
	t.Parallel()
	for name, extensions := range map[string]map[string]any{
		"without its moment":           {},
		"no moment":                    {"x-deprecated-at": "soon"},
		"ends before it is deprecated": {"x-deprecated-at": "2026-01-01T00:00:00Z", "x-sunset": "2025-01-01T00:00:00Z"},
	} {
		if _, err := newServer(Config{}, ageing(t, extensions)); err == nil {
			t.Errorf("%s: got a server, want a refusal", name)
		}
	}
}
