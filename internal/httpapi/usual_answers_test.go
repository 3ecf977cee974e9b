package httpapi_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"meniscus/api"
)

// usual is a computation that a document of the project shows.
type usual struct{ name, path, body string }

// usualRequests are the computations of the contract's examples and of the README, of
// which the shell makes requests as a reader's would.
func usualRequests(t *testing.T) []usual {
	t.Helper()
	return append(contractsRequests(t), readmesRequests(t)...)
}

func contractsRequests(t *testing.T) []usual {
	t.Helper()
	doc, err := api.Document()
	if err != nil {
		t.Fatal(err)
	}
	var all []usual
	for path, item := range doc.Paths.Map() {
		if !strings.HasPrefix(path, "/v1/compute/") {
			continue
		}
		for name, example := range item.Post.RequestBody.Value.Content[jsonMedia].Examples {
			body, err := json.Marshal(example.Value.Value)
			if err != nil {
				t.Fatal(err)
			}
			all = append(all, usual{strings.TrimPrefix(path, "/v1/compute/") + ", example " + name, path, string(body)})
		}
	}
	slices.SortFunc(all, func(a, b usual) int { return strings.Compare(a.name, b.name) })
	return all
}

const jsonMedia = "application/json"

// readmesRequests has the shell read the README's sections on computations, with a curl
// that says what it was asked.
func readmesRequests(t *testing.T) []usual {
	t.Helper()
	readme, err := os.ReadFile(filepath.Join("..", "..", "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	script := "AT=\ncurl() { for word; do printf '%s\\0' \"$word\"; done; }\n"
	for _, section := range []string{"## Mixing and diluting\n", "## Solvents, air and containers\n"} {
		_, after, found := strings.Cut(string(readme), section)
		_, after, begun := strings.Cut(after, "```sh\n")
		block, _, ended := strings.Cut(after, "\n```")
		if !found || !begun || !ended {
			t.Fatalf("the README has no commands under %q", section)
		}
		script += block + "\n"
	}
	shell := exec.CommandContext(t.Context(), "sh", "-euc", script)
	said, err := shell.Output()
	if err != nil {
		t.Fatalf("reading the README's commands: %v", err)
	}
	var all []usual
	for words := bytes.Split(said, []byte{0}); len(words) > 1; words = words[1:] {
		path := string(words[0])
		if strings.HasPrefix(path, "/v1/compute/") && string(words[1]) == "-d" {
			path, _, _ = strings.Cut(path, "?")
			name := fmt.Sprintf("%s, README %d", strings.TrimPrefix(path, "/v1/compute/"), len(all)+1)
			all = append(all, usual{name, path, string(words[2])})
		}
	}
	// A question that is asked in several ways counts once.
	return slices.CompactFunc(all, func(a, b usual) bool { return a.path == b.path && a.body == b.body })
}

// most is how many bytes a usual answer has at most, in brief.
const most = 3000

// A person at the bench reads ten seconds. With -v the bytes of each usual answer are
// printed, as DEVELOPERS.md lists them.
func TestUsualAnswersAreShort(t *testing.T) {
	t.Parallel()
	s := open(t)
	asked := 0
	for _, u := range usualRequests(t) {
		if !answers(t, u.path) {
			continue
		}
		brief := s.do(http.MethodPost, u.path, u.body)
		if brief.status == http.StatusUnprocessableEntity { // the README shows what is refused, too
			continue
		}
		full := s.do(http.MethodPost, u.path+"?detail=full", u.body).want(http.StatusOK)
		text := s.do(http.MethodPost, u.path, u.body, header{"Accept", "text/plain"}).want(http.StatusOK)
		t.Logf("| %s | %d | %d | %d |", u.name, len(brief.want(http.StatusOK).body), len(full.body), len(text.body))
		if len(brief.body) > most {
			t.Errorf("%s: got %d bytes in brief, want %d at most", u.name, len(brief.body), most)
		}
		if !strings.HasPrefix(string(brief.body), `{"answer":`) {
			t.Errorf("%s: got %.60s, want the answer first", u.name, brief.body)
		}
		if lines := strings.Count(string(text.body), "\n"); lines > 20 {
			t.Errorf("%s: got %d lines, want 20 at most:\n%s", u.name, lines, text.body)
		}
		asked++
	}
	if asked < 25 {
		t.Errorf("got %d usual answers, want those of all computations", asked)
	}
}

// answers tells whether an operation answers in brief or in full.
func answers(t *testing.T, path string) bool {
	t.Helper()
	doc, err := api.Document()
	if err != nil {
		t.Fatal(err)
	}
	return doc.Paths.Value(path).Post.Parameters.GetByInAndName("query", "detail") != nil
}

// An answer is had in brief, in full, in part and as text, and nothing else is.
func TestAnswersInEveryWay(t *testing.T) {
	t.Parallel()
	s := open(t)
	const path = "/v1/compute/ethanol-water"
	const body = `{"dilution":{"stock":{"value":96,"unit":"%","basis":"volume-fraction"},
		"target":{"value":70,"unit":"%","basis":"volume-fraction"},"amount":{"stock":{"value":1,"unit":"L"}}}}`
	ask := func(query string, headers ...header) reply {
		return s.do(http.MethodPost, path+query, body, headers...)
	}
	asText := header{"Accept", "text/plain, application/json;q=0.5"}
	brief, full := ask("").want(http.StatusOK), ask("?detail=full").want(http.StatusOK)
	if string(ask("?detail=brief").body) != string(brief.body) || brief.at("advice", "sources") != nil {
		t.Errorf("got %s, want what is had without the parameter, and no texts of sources", brief.body)
	}
	if full.at("advice", "sources", 0, "citation") == nil || full.at("dilution", "contraction") == nil {
		t.Errorf("got %s in full", full.body)
	}
	text, whole := ask("", asText).want(http.StatusOK), ask("?detail=full", asText).want(http.StatusOK)
	if got := text.header.Get("Content-Type"); got != "text/plain; charset=utf-8" || text.header.Get("Vary") == "" {
		t.Errorf("got %q, Vary %q", got, text.header.Get("Vary"))
	}
	if sentence := fmt.Sprint(brief.at("answer")); !strings.HasPrefix(unwrapped(text), sentence) ||
		!strings.HasPrefix(unwrapped(whole), sentence) {
		t.Errorf("got\n%s and\n%s, want both to begin with %q", text.body, whole.body, sentence)
	}
	if cited := fmt.Sprint(full.at("advice", "sources", 0, "citation")); !strings.Contains(unwrapped(whole), cited) {
		t.Errorf("got\n%s, want the source %q at the end", whole.body, cited)
	}
	part := ask("?fields=dilution.contraction&detail=full").want(http.StatusOK)
	if part.at("dilution", "contraction") == nil || part.at("referenceTemperature") == nil || len(part.body) >= len(full.body) {
		t.Errorf("got %s, want a part of the full answer", part.body)
	}
	ask("?fields=answer", asText).wantProblem(http.StatusBadRequest, "malformed-request")
	ask("?detail=everything").wantProblem(http.StatusBadRequest, "malformed-request")
	ask("", header{"Accept", "image/png"}).wantProblem(http.StatusNotAcceptable, "media-type-not-given")
	s.do(http.MethodGet, "/v1/materials/acetone?detail=full", nil).wantProblem(http.StatusBadRequest, "malformed-request")
}

// unwrapped is a text with its lines joined.
func unwrapped(r reply) string { return strings.Join(strings.Fields(string(r.body)), " ") }

// Every source that an answer names by its id is told in full at its end, one text for
// each id.
func TestSourcesOfAnswersAreTold(t *testing.T) {
	t.Parallel()
	s := open(t)
	citations := map[string]string{}
	for _, u := range usualRequests(t) {
		if !answers(t, u.path) {
			continue
		}
		full := s.do(http.MethodPost, u.path+"?detail=full", u.body)
		if full.status != http.StatusOK {
			continue
		}
		told := map[string]bool{}
		sources, _ := full.at("advice", "sources").([]any)
		for _, source := range sources {
			id, citation := source.(object)["id"].(string), source.(object)["citation"].(string)
			if other, said := citations[id]; said && other != citation {
				t.Errorf("%s: the source %s is %q and %q", u.name, id, citation, other)
			}
			citations[id], told[id] = citation, true
		}
		for _, id := range sourcesNamed(full.at()) {
			if !told[id] {
				t.Errorf("%s: the source %s is named and not told", u.name, id)
			}
		}
	}
}

// sourcesNamed are the ids of the sources that a value of JSON names.
func sourcesNamed(v any) (ids []string) {
	switch v := v.(type) {
	case []any:
		for _, item := range v {
			ids = append(ids, sourcesNamed(item)...)
		}
	case object:
		for name, item := range v {
			if id, ok := item.(string); ok && name == "source" {
				ids = append(ids, id)
			}
			ids = append(ids, sourcesNamed(item)...)
		}
	}
	return ids
}
