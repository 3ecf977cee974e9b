package httpapi_test

import (
	"bufio"
	"fmt"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"meniscus/api"
	"meniscus/internal/httpapi"
)

// A query string that cannot be read is refused by every operation and every page,
// by HEAD like by GET, with and without a key; nothing of it is repeated.
func TestQueriesThatCannotBeRead(t *testing.T) {
	t.Parallel()
	s := newService(t)
	doc, err := api.Document()
	if err != nil {
		t.Fatal(err)
	}
	paths := []string{"/docs", "/docs/docs.js", "/openapi.yaml", "/", "/.well-known/api-catalog", "/problems/validation"}
	for path, item := range doc.Paths.Map() {
		if item.Get != nil {
			paths = append(paths, strings.NewReplacer("{", "", "}", "").Replace(path))
		}
	}
	many := strings.Repeat("x=1&", 10_000)
	person := s.create("/v1/people", object{"name": "Tomas Brandl"}).id()
	calendar := s.makeKey(s.key, object{"name": "calendar", "person": object{"id": person}, "scopes": array{"calendar"}})
	for _, path := range paths {
		key := s.key
		if path == "/v1/due.ics" {
			key = calendar.at("secret").(string)
		}
		for _, query := range []string{"limit=1%zz", "%", "a;b", "limit=5;q=secret", "q=%ff", "q=%00", "%zz=secret", many} {
			got := send(t, s.url, key, http.MethodGet, path+"?"+query, nil)
			if said := string(got.body); got.status != 400 || !strings.Contains(said, "query-malformed") ||
				strings.Contains(said, "secret") {
				t.Errorf("GET %s?%.20s: got %d %.300s", path, query, got.status, got.body)
			}
			if got := send(t, s.url, key, http.MethodHead, path+"?"+query, nil); got.status != 400 {
				t.Errorf("HEAD %s?%.20s: got %d, want 400", path, query, got.status)
			}
		}
	}
	send(t, s.url, "", http.MethodPost, "/v1/compute/make-up?%zz", object{}).wantProblem(400, "query-malformed")
}

// A parameter that is none of the operation's is told by its number: its name may
// be a key.
func TestUnknownParametersAreNotRepeated(t *testing.T) {
	t.Parallel()
	s := newService(t)
	got := s.do(http.MethodGet, "/v1/treatments?limit=5&"+s.key+"=1", nil).wantProblem(400, "malformed-request")
	if strings.Contains(string(got.body), s.key[:20]) || got.at("errors", 0, "code") != "parameter-unknown" || got.at("errors", 0, "parameter") != "number 2" {
		t.Errorf("got %s, want the second parameter and no name", got.body)
	}
}

// A parameter with nothing after its sign, as from a file that is empty, is told so.
func TestParametersHaveAValue(t *testing.T) {
	t.Parallel()
	s := newService(t)
	for _, path := range []string{"/v1/changes?cursor=", "/v1/treatments?limit=", "/v1/treatments?specimen", "/v1/treatments?from="} {
		got := s.do(http.MethodGet, path, nil).wantProblem(400, "malformed-request")
		if detail := got.at("errors", 0, "detail"); detail != "Nothing is written for this parameter: give it a value, or leave it out." {
			t.Errorf("%s: got %q", path, detail)
		}
	}
}

// No page of ours is shown inside a page of others.
func TestNothingIsFramed(t *testing.T) {
	t.Parallel()
	s := newService(t)
	for _, path := range []string{"/docs", "/docs/docs.js", "/", "/openapi.yaml", "/problems/validation", "/v1/institution", "/nowhere", "/livez", "/terms/action/cleaning"} {
		got := s.bare(http.MethodGet, path)
		if !strings.Contains(got.Header.Get("Content-Security-Policy"), "frame-ancestors 'none'") || got.Header.Get("X-Frame-Options") != "DENY" {
			t.Errorf("%s can be framed: %v", path, got.Header)
		}
	}
}

// Whatever is answered, nothing in it is loaded or run and no browser guesses its type: answers,
// problems, redirects and preflights. Where the service itself encrypts, it says so for a year.
func TestEveryAnswerIsGuarded(t *testing.T) {
	t.Parallel()
	s := newService(t)
	for path, method := range map[string]string{"/v1/institution": "GET", "/nowhere": "GET", "/": "GET", "/openapi.yaml": "GET",
		"/livez": "HEAD", "/v1/people": "OPTIONS", "/v1/treatments": "TRACE"} {
		r := httptest.NewRequest(method, "https://meniscus.example"+path, nil) // it has TLS
		r.Header.Set("Origin", "https://catalogue.example")
		r.Header.Set("Access-Control-Request-Method", "GET")
		w := httptest.NewRecorder()
		mustServe(t, httpapi.Config{Store: s.store, PublicURL: "https://meniscus.example",
			Origins: []string{"https://catalogue.example"}}).ServeHTTP(w, r)
		h := w.Result().Header
		if !strings.Contains(h.Get("Content-Security-Policy"), "default-src 'none'") || h.Get("X-Content-Type-Options") != "nosniff" ||
			h.Get("Strict-Transport-Security") == "" {
			t.Errorf("%s %s: got %v", method, path, h)
		}
	}
	if h := s.bare(http.MethodGet, "/livez").Header; h.Get("Strict-Transport-Security") != "" {
		t.Errorf("without TLS: got %v", h)
	}
}

// A body that nobody reads is not waited for: the answer comes and the connection
// ends, though the body has hours left to come.
func TestBodiesThatNobodyReads(t *testing.T) {
	t.Parallel()
	s := newService(t)
	s.url = unjudged(t, httpapi.Config{Store: s.store, PublicURL: "https://meniscus.example", BodyWithin: 1 << 50})
	for name, tc := range map[string]struct {
		head string
		want string
	}{
		"bad key":       {"POST /v1/people HTTP/1.1\r\nAuthorization: Bearer meniscus_guess\r\nContent-Type: application/json\r\n", "401"},
		"bad query":     {"POST /v1/compute/make-up?%zz HTTP/1.1\r\nContent-Type: application/json\r\n", "400"},
		"no such media": {"POST /v1/compute/make-up HTTP/1.1\r\nContent-Type: text/plain\r\n", "415"},
		"none is taken": {"GET /livez HTTP/1.1\r\n", "200"},
		"of an import":  {"POST /v1/restorations HTTP/1.1\r\nAuthorization: Bearer meniscus_guess\r\nContent-Type: application/x-ndjson\r\n", "4"},
		"a page":        {"GET /docs HTTP/1.1\r\n", "200"},
		"nowhere":       {"POST /nowhere HTTP/1.1\r\n", "404"},
	} {
		connection, err := net.Dial("tcp", strings.TrimPrefix(s.url, "http://"))
		if err != nil {
			t.Fatal(err)
		}
		defer connection.Close()
		fmt.Fprint(connection, tc.head+"Host: meniscus.example\r\nContent-Length: 100000\r\n\r\n{")
		r := bufio.NewReader(connection)
		response, err := http.ReadResponse(r, nil)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		if got := fmt.Sprint(response.StatusCode); !strings.HasPrefix(got, tc.want) || !response.Close {
			t.Errorf("%s: got %s (closing %v), want %s and the end", name, got, response.Close, tc.want)
		}
	}
}

// Lists in headers and in `fields` that are as long as headers may be, and texts of
// odd forms in paths, cursors and request keys, are answered by the contract.
func TestOddHeadersAndPaths(t *testing.T) {
	t.Parallel()
	s := newService(t)
	long := func(part string) string { return strings.Repeat(part, 60<<10/len(part)) }
	id := s.create("/v1/specimens", specimen("LV.1")).id()
	for _, h := range []header{
		{"Accept", long("text/x;q=0.1,") + "*/*"}, {"Accept", long(",")}, {"If-None-Match", long(`"x",`)}, {"If-None-Match", long("W/")},
		{"Prefer", long("return=x;")}, {"Range", "bytes=" + long("0-1,")}, {"Accept-Encoding", long("br;q=0,")}, {"Last-Event-ID", long("A")},
	} {
		if got := s.do(http.MethodGet, "/v1/specimens/"+id, nil, h); got.status >= 500 {
			t.Errorf("%s: %.20s…: got %d", h.name, h.value, got.status)
		}
	}
	for _, path := range []string{
		"/v1/specimens/%00", "/v1/specimens/%ff", "/v1/specimens/" + long("x"), "/v1/materials/%00", "/v1/materials/%ff%fe", "/terms/%00/%ff",
		"/v1/specimens?fields=" + long("id,"), "/v1/specimens?fields=" + long("statement."), "/v1/specimens?cursor=" + long("A"), "/v1/changes?cursor=%20",
		"/v1/specimens?limit=9999999999999999999", "/v1/specimens?limit=-1", "/v1/specimen-lookup?number=%E2%80%8E", "/v1/treatments?specimen=" + id + "%zz",
	} {
		if got := s.do(http.MethodGet, path, nil); got.status >= 500 {
			t.Errorf("%.40s: got %d %.300s", path, got.status, got.body)
		}
	}
	for _, key := range []string{long("k"), "\u200e", "a,b"} {
		if got := s.do(http.MethodPost, "/v1/people", object{"statement": object{"name": "Ilse Varga"}}, header{"Idempotency-Key", key}); got.status >= 500 {
			t.Errorf("request key %.10q: got %d", key, got.status)
		}
		if got := s.do(http.MethodPost, "/v1/people/"+id+"/retraction", object{"reason": "x"}, header{"If-Match", key}); got.status >= 500 {
			t.Errorf("If-Match %.10q: got %d", key, got.status)
		}
	}
}
