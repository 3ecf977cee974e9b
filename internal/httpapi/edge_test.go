package httpapi_test

import (
	"bufio"
	"fmt"
	"net"
	"net/http"
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
	for _, path := range paths {
		for _, query := range []string{"limit=1%zz", "%", "a;b", "limit=5;q=secret", "q=%ff", "q=%00", "%zz=secret", many} {
			if got := s.do(http.MethodGet, path+"?"+query, nil); got.status != 400 || !strings.Contains(string(got.body), "query-malformed") || strings.Contains(string(got.body), "secret") {
				t.Errorf("GET %s?%.20s: got %d %.300s", path, query, got.status, got.body)
			}
			if got := s.do(http.MethodHead, path+"?"+query, nil); got.status != 400 {
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
