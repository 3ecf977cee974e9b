package httpapi_test

import (
	"compress/gzip"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"
)

// bare sends a request without a body and without what a client adds by itself.
func (s *service) bare(method, path string, headers ...header) *http.Response {
	s.t.Helper()
	r, err := http.NewRequestWithContext(s.t.Context(), method, s.url+path, nil)
	if err != nil {
		s.t.Fatal(err)
	}
	r.Header.Set("Authorization", "Bearer "+s.key)
	r.Header.Set("Accept-Encoding", "identity")
	for _, h := range headers {
		r.Header.Set(h.name, h.value)
	}
	response, err := http.DefaultTransport.RoundTrip(r)
	if err != nil {
		s.t.Fatal(err)
	}
	s.t.Cleanup(func() { response.Body.Close() })
	return response
}

func TestReturnMinimal(t *testing.T) {
	t.Parallel()
	s := newService(t)
	post := func(preference string) reply {
		return s.do(http.MethodPost, "/v1/specimens", object{"statement": specimen("LV.1")},
			header{"Idempotency-Key", uuid.NewString()}, header{"Prefer", preference}).want(201)
	}
	for preference, want := range map[string]struct {
		applied string
		body    bool
	}{
		`return=minimal`:                       {"return=minimal", false},
		`respond-async, return="minimal"; x=1`: {"return=minimal", false},
		`return=representation`:                {"return=representation", true},
		`wait=5`:                               {"", true},
		`return=nothing`:                       {"", true},
	} {
		got := post(preference)
		if got.header.Get("Preference-Applied") != want.applied || (len(got.body) > 0) != want.body {
			t.Errorf("%s: got %q applied and %d bytes", preference, got.header.Get("Preference-Applied"), len(got.body))
		}
		if got.header.Get("Location") == "" || got.header.Get("ETag") == "" || !slices.Contains(got.header.Values("Vary"), "Prefer") {
			t.Errorf("%s: got %v, want Location, ETag and Vary", preference, got.header)
		}
		s.do(http.MethodGet, got.header.Get("Location"), nil).want(200)
	}
	kept := s.do(http.MethodPost, "/v1/webhooks", hookTo("https://catalogue.museum.example/"), header{"Idempotency-Key", "x"}, header{"Prefer", "return=minimal"}).want(201)
	if kept.at("secret") == nil {
		t.Errorf("got %s, want the secret that is shown once", kept.body)
	}
}

// A partial answer holds what was asked for and what the contract requires, so
// that it is a valid one, digits and all.
func TestFields(t *testing.T) {
	t.Parallel()
	s := newService(t)
	made := s.create("/v1/specimens", specimen("LV.1"))
	path := "/v1/specimens/" + made.id()
	members := func(v any) []string {
		var names []string
		for name := range v.(map[string]any) {
			names = append(names, name)
		}
		slices.Sort(names)
		return names
	}
	envelope := []string{"act", "id", "kind", "recordedAt", "recordedBy", "revision"}
	partial := s.do(http.MethodGet, path+"?fields=statement.bodyKind", nil).want(200)
	if diff := cmp.Diff(append(slices.Clone(envelope), "statement"), members(partial.at())); diff != "" {
		t.Errorf("members (-want +got):\n%s", diff)
	}
	if diff := cmp.Diff([]string{"bodyKind", "identifiers"}, members(partial.at("statement"))); diff != "" {
		t.Errorf("members of the statement, identifiers being required (-want +got):\n%s", diff)
	}
	if partial.header.Get("ETag") == made.header.Get("ETag") {
		t.Error("got the whole record's ETag for a part of it")
	}
	if diff := cmp.Diff(envelope, members(s.do(http.MethodGet, path+"?fields=id", nil).want(200).at())); diff != "" {
		t.Errorf("members (-want +got):\n%s", diff)
	}
	s.create("/v1/specimens", specimen("LV.2"))
	list := s.do(http.MethodGet, "/v1/specimens?limit=1&fields=id,statement.collection,statement", nil).want(200)
	if list.at("items", 0, "statement", "collection") == nil || list.at("items", 0, "statement", "bodyKind") == nil {
		t.Errorf("got %s, want the whole statement, which is named beside one of its members", list.body)
	}
	if href := fmt.Sprint(list.at("next", "href")); !strings.Contains(href, "fields=") {
		t.Errorf("got next %s, want it partial too", href)
	}
	s.do(http.MethodGet, path+"?fields=statement.colour", nil).wantProblem(400, "malformed-request")
	s.do(http.MethodGet, path+"?fields=id.x", nil).wantProblem(400, "malformed-request")
	s.do(http.MethodGet, path+"?fields=id,,kind", nil).wantProblem(400, "malformed-request")
}

// TestAPartKeepsTheMemberOfAChoice: without it the answer would have a choice of nothing.
func TestAPartKeepsTheMemberOfAChoice(t *testing.T) {
	t.Parallel()
	s := newService(t)
	coat := treatment(s.create("/v1/specimens", specimen("LV.1")).id(), "coating", "2001")
	coat["materials"] = array{object{"used": object{"material": object{"id": "shellac"}}, "role": "coating"}}
	path := "/v1/treatments/" + s.create("/v1/treatments", coat).id()
	part := s.do(http.MethodGet, path+"?fields=statement.materials.used.batch.id", nil).want(200)
	if part.at("statement", "materials", 0, "used", "material", "id") != "shellac" {
		t.Errorf("got %s, want what was used", part.body)
	}
}

// Whoever accepts gzip gets it, with a tag of its own, which is as good as the
// other for asking and for changing.
func TestCompression(t *testing.T) {
	t.Parallel()
	s := newService(t)
	large := specimen("LV.1")
	areas := array{}
	for n := range 50 {
		areas = append(areas, object{"path": fmt.Sprintf("skull/left-orbit/part-%d", n)})
	}
	large["areas"] = areas
	path := "/v1/specimens/" + s.create("/v1/specimens", large).id()
	plain := s.bare(http.MethodGet, path)
	packed := s.bare(http.MethodGet, path, header{"Accept-Encoding", "br, gzip;q=0.5"})
	if packed.Header.Get("Content-Encoding") != "gzip" || plain.Header.Get("Content-Encoding") != "" {
		t.Fatalf("got codings %q and %q", packed.Header.Get("Content-Encoding"), plain.Header.Get("Content-Encoding"))
	}
	if plain.Header.Get("ETag") == packed.Header.Get("ETag") {
		t.Error("got one strong tag for different bytes")
	}
	for _, r := range []*http.Response{plain, packed} {
		if !slices.Contains(r.Header.Values("Vary"), "Accept-Encoding") {
			t.Errorf("got Vary %q", r.Header.Values("Vary"))
		}
	}
	z, err := gzip.NewReader(packed.Body)
	if err != nil {
		t.Fatal(err)
	}
	want, _ := io.ReadAll(plain.Body)
	if got, err := io.ReadAll(z); err != nil || string(got) != string(want) {
		t.Errorf("got %s unpacked (%v), want %s", got, err, want)
	}
	for _, tag := range []string{plain.Header.Get("ETag"), packed.Header.Get("ETag"), "W/" + packed.Header.Get("ETag")} {
		if got := s.bare(http.MethodGet, path, header{"If-None-Match", tag}); got.StatusCode != 304 {
			t.Errorf("%s: got %d, want 304", tag, got.StatusCode)
		}
	}
	if got := s.bare(http.MethodHead, path, header{"Accept-Encoding", "gzip"}); got.Header.Get("ETag") != packed.Header.Get("ETag") {
		t.Errorf("got tag %s of a HEAD, want %s", got.Header.Get("ETag"), packed.Header.Get("ETag"))
	}
	for accepts, want := range map[string]string{"gzip;q=0": "", "*": "gzip", "*;q=0, gzip": "gzip", "identity": "", "gzip;q=0, *": ""} {
		if got := s.bare(http.MethodGet, path, header{"Accept-Encoding", accepts}).Header.Get("Content-Encoding"); got != want {
			t.Errorf("%s: got %q, want %q", accepts, got, want)
		}
	}
	id := path[strings.LastIndex(path, "/")+1:]
	s.do(http.MethodPost, "/v1/records/"+id+"/retraction", object{"reason": "Twice."}, header{"If-Match", packed.Header.Get("ETag")}).want(201)
	if got := s.bare(http.MethodGet, "/v1/changes/stream", header{"Accept-Encoding", "gzip"}, header{"Accept", "text/event-stream"}, header{"Last-Event-ID", "AAAAAAAAAAEAAAAAAAAAAAAAAAAAAAAA"}); got.Header.Get("Content-Encoding") != "" {
		t.Error("got a compressed stream of events")
	}
}

// The catalogue of interfaces says where everything is.
func TestDiscovery(t *testing.T) {
	t.Parallel()
	s := newService(t)
	got := s.bare(http.MethodGet, "/.well-known/api-catalog")
	if got.StatusCode != 200 || got.Header.Get("Content-Type") != `application/linkset+json; profile="https://www.rfc-editor.org/info/rfc9727"` {
		t.Fatalf("got %d %q", got.StatusCode, got.Header.Get("Content-Type"))
	}
	var set struct{ Linkset []map[string]any }
	if err := json.NewDecoder(got.Body).Decode(&set); err != nil {
		t.Fatal(err)
	}
	for _, relation := range []string{"service-desc", "service-doc", "status"} {
		for _, link := range set.Linkset[0][relation].([]any) {
			href := strings.TrimPrefix(link.(map[string]any)["href"].(string), "https://meniscus.example")
			if got := s.bare(http.MethodGet, href); got.StatusCode != 200 {
				t.Errorf("%s: got %d at %s", relation, got.StatusCode, href)
			}
		}
	}
	if got := s.bare(http.MethodHead, "/.well-known/api-catalog").Header.Get("Link"); got != `<https://meniscus.example/.well-known/api-catalog>; rel="api-catalog"` {
		t.Errorf("got Link %q of a HEAD", got)
	}
	if got := s.bare(http.MethodGet, "/"); got.StatusCode != http.StatusFound || !strings.Contains(got.Header.Get("Link"), `rel="service-desc"`) {
		t.Errorf("got %d with Link %q at the root", got.StatusCode, got.Header.Get("Link"))
	}
}
