package main

import (
	"bytes"
	"math/rand/v2"
	"net/http"
	"os"
	"os/exec"
	"regexp"
	"runtime"
	"strconv"
	"strings"
	"testing"

	"github.com/getkin/kin-openapi/openapi3"

	"meniscus/api"
)

func contract(t *testing.T) *openapi3.T {
	t.Helper()
	doc, err := api.Document()
	if err != nil {
		t.Fatal(err)
	}
	return doc
}

func genOf(t *testing.T, seed uint64) *gen {
	t.Helper()
	p := newPool()
	p.keys, p.foreign = []string{"meniscus_own"}, []string{"meniscus_neighbour", "meniscus_empty"}
	for _, kind := range recordKinds {
		p.keep(kind, uuidOf(rand.New(rand.NewPCG(1, uint64(len(kind))))))
	}
	return &gen{rng: rand.New(rand.NewPCG(seed, 1)), pool: p, doc: contract(t), at: "http://127.0.0.1:9/hook"}
}

// A value made by a schema matches the schema, for each body and query of the contract,
// except for numbers and dates, which are sometimes extreme.
func TestWellFormedBodiesFollowTheContract(t *testing.T) {
	t.Parallel()
	judged, wrong := 0, 0
	for seed := range uint64(20) {
		g := genOf(t, seed)
		for _, op := range operations(g.doc) {
			if op.body == nil {
				continue
			}
			body := g.body(op, wellFormed)
			value := decoded(parse([]byte(body)))
			judged++
			if err := op.body.Value.VisitJSON(value); err != nil {
				if wrong++; wrong < 5 {
					t.Logf("%s: %.300v", op.id, err)
				}
			}
		}
	}
	if judged < 500 || wrong > judged/10 {
		t.Errorf("%d of %d bodies are not what the contract takes", wrong, judged)
	}
}

// decoded is the value as encoding/json would give it.
func decoded(v any) any {
	switch v := v.(type) {
	case object:
		m := map[string]any{}
		for _, x := range v {
			m[x.name] = decoded(x.value)
		}
		return m
	case list:
		l := make([]any, len(v))
		for i := range v {
			l[i] = decoded(v[i])
		}
		return l
	case number:
		f, _ := strconv.ParseFloat(string(v), 64)
		return f
	}
	return v
}

// The same seed makes the same requests, byte for byte, of all classes.
func TestASeedMakesTheSameRequests(t *testing.T) {
	t.Parallel()
	all := func(seed uint64) string {
		g := genOf(t, seed)
		var b bytes.Buffer
		for range 3 {
			for _, op := range operations(g.doc) {
				b.Write(g.request(op, g.class(), nil).bytes("host"))
			}
		}
		return b.String()
	}
	once := all(7)
	if once != all(7) {
		t.Error("the same seed made other requests")
	}
	if once == all(8) {
		t.Error("another seed made the same requests")
	}
}

func TestTextsMatchTheirPattern(t *testing.T) {
	t.Parallel()
	g := genOf(t, 3)
	for _, pattern := range []string{"^[a-z0-9]+(-[a-z0-9]+)*$", "^(H|EUH)[0-9]{3}[A-Za-z]{0,2}$",
		"^[0-9]{4}-[0-9]{3}[0-9X]$", "^whsec_[A-Za-z0-9+/]+=*$", "^[^\\x00-\\x1f\\x7f]+$", "^[1-7]$"} {
		for range 50 {
			if got := g.matching(pattern); !regexp.MustCompile(pattern).MatchString(got) {
				t.Errorf("%q does not match %s", got, pattern)
			}
		}
	}
}

// An answer is a failure exactly if the contract does not document it.
func TestJudged(t *testing.T) {
	t.Parallel()
	doc := contract(t)
	byID := map[string]*operation{}
	for _, op := range operations(doc) {
		byID[op.id] = op
	}
	problem := `{"type":"tag:meniscus.example,2026:problem/database-unavailable","code":"database-unavailable","title":"t","status":503,"detail":"d","instance":"urn:uuid:0193a5b4-7c1e-7d2f-9a64-3c2f1f0f7a10"}`
	head := func(pairs ...string) http.Header {
		h := http.Header{}
		for i := 0; i < len(pairs); i += 2 {
			h.Set(pairs[i], pairs[i+1])
		}
		return h
	}
	live := byID["checkLive"]
	long := "/livez?x=" + strings.Repeat("x", mostHead)
	longer := long + strings.Repeat("x", headSlack)
	for name, c := range map[string]struct {
		op     *operation
		target string
		answer reply
		want   string // part of the failure; empty for none
	}{
		"documented":           {live, "/livez", reply{200, head("Content-Type", "application/json"), []byte(`{"status":"up"}`)}, ""},
		"500":                  {live, "/livez", reply{500, head("Content-Type", "application/problem+json"), []byte(problem)}, "status is 500"},
		"502":                  {live, "/livez", reply{502, head(), nil}, "status is 502"},
		"undocumented status":  {live, "/livez", reply{409, head("Content-Type", "application/problem+json"), []byte(problem)}, "not documented"},
		"another media type":   {live, "/livez", reply{200, head("Content-Type", "text/plain"), []byte("up")}, "media type"},
		"another body":         {live, "/livez", reply{200, head("Content-Type", "application/json"), []byte(`{"state":"up"}`)}, "status"},
		"no JSON":              {live, "/livez", reply{200, head("Content-Type", "application/json"), []byte(`{`)}, "JSON"},
		"undocumented header":  {live, "/livez", reply{200, head("Content-Type", "application/json", "X-Powered-By", "x"), []byte(`{"status":"up"}`)}, "X-Powered-By"},
		"503 with Retry-After": {byID["listPeople"], "/v1/people", reply{503, head("Content-Type", "application/problem+json", "Retry-After", "1"), []byte(problem)}, ""},
		"503 without":          {byID["listPeople"], "/v1/people", reply{503, head("Content-Type", "application/problem+json"), []byte(problem)}, "Retry-After"},
		"Retry-After no number": {byID["listPeople"], "/v1/people",
			reply{503, head("Content-Type", "application/problem+json", "Retry-After", "soon"), []byte(problem)}, "Retry-After"},
		"a code of another's": {byID["listPeople"], "/v1/people",
			reply{503, head("Content-Type", "application/problem+json", "Retry-After", "1"),
				[]byte(strings.ReplaceAll(problem, "database-unavailable", "streams-full"))}, "not listed for listPeople 503"},
		"201 without Location": {byID["createPerson"], "/v1/people", reply{201, head("ETag", `"1"`), nil}, "Location"},
		"no HTTP, taken":       {live, "/livez%zz", reply{200, head(), nil}, "no HTTP request"},
		"a head too long":      {live, longer, reply{431, head("Content-Type", "text/plain; charset=utf-8"), []byte("431")}, ""},
		"taken all the same":   {live, longer, reply{200, head("Content-Type", "application/json"), []byte(`{"status":"up"}`)}, "answered 200"},
		"just too long":        {live, long, reply{431, head("Content-Type", "text/plain; charset=utf-8"), []byte("431")}, ""},
		"not too long":         {live, "/livez?x=" + strings.Repeat("x", mostHead/2), reply{431, head("Content-Type", "text/plain"), nil}, "not documented"},
		"no HTTP, refused":     {live, "/livez%zz", reply{400, head("Content-Type", "text/plain"), []byte("400 Bad Request")}, ""},
	} {
		t.Run(name, func(t *testing.T) {
			r := &request{op: c.op, method: c.op.method, target: c.target}
			err := judged(doc, r, &c.answer)
			if c.want == "" && err != nil || c.want != "" && (err == nil || !strings.Contains(err.Error(), c.want)) {
				t.Errorf("got %v, want %q", err, c.want)
			}
		})
	}
}

// A command line sends the same body, whatever is in it.
func TestCurlBringsTheSameBody(t *testing.T) {
	t.Parallel()
	for _, body := range []string{`{"a":"it's"}`, "\xff\x00\"", `{"a":"\u202e $HOME ` + "`id`" + `"}`} {
		r := &request{method: "POST", target: "/v1/people?a='b'", body: body, header: [][2]string{{"If-Match", `"a'b"`}}}
		command := strings.NewReplacer("curl ", "arguments ").Replace(r.curl("http://127.0.0.1:1"))
		script := "arguments() { for last; do :; done; if [ \"$last\" = @- ]; then cat; else printf %s " +
			"\"$last\"; fi; }\n" + command
		got, err := exec.Command("bash", "-c", script).Output()
		if err != nil || string(got) != body {
			t.Errorf("got %q, %v; want %q", got, err, body)
		}
	}
}

// The processor time of this process grows with its work.
func TestProcessorTimeIsCounted(t *testing.T) {
	t.Parallel()
	before, err := family(os.Getpid())
	switch {
	case err != nil && runtime.GOOS == "linux":
		t.Fatal(err)
	case err != nil:
		t.Skip("only Linux has this account")
	}
	n := 0
	for {
		for range 1000000 {
			n++
		}
		now, err := family(os.Getpid())
		if err != nil {
			t.Fatal(err)
		}
		if now > before {
			return
		}
		if n > 1e11 {
			t.Fatal("the account does not grow")
		}
	}
}

// A failure says how to reproduce it, and similar ones are only counted.
func TestFailuresAreToldOnce(t *testing.T) {
	t.Parallel()
	var out bytes.Buffer
	p := newReport(&out, 7, 10, func() string { return "http://127.0.0.1:1" })
	for n := range 3 {
		p.fail(&request{n: 100 + n, method: "GET", target: "/v1/people"}, &reply{status: 500, header: http.Header{}},
			"answer", "the status is 500", nil)
	}
	if p.failures != 3 || strings.Count(out.String(), "FAILED") != 1 ||
		!strings.Contains(out.String(), "-seed 7 -only 100") || !strings.Contains(out.String(), "curl ") {
		t.Errorf("got %d failures told as %s", p.failures, out.String())
	}
	if p.finish(nil) {
		t.Error("the run passed")
	}
}
